//! Builds anew when a file is added under `rules/`: `include_dir` alone only follows files that it has seen.

#![expect(clippy::print_stdout, reason = "cargo reads a build script's stdout")]

fn main() {
    println!("cargo::rerun-if-changed=rules");
}

//! Builds anew when a file is added under `rules/`: `include_dir` alone only follows files that it has seen.

fn main() {
    println!("cargo::rerun-if-changed=rules");
}

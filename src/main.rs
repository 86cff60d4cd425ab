//! The `ohmward` program: a thin edge around the library.

mod cli;

use std::process::ExitCode;

fn main() -> ExitCode {
    cli::main()
}

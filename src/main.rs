//! The `ohmward` program.

fn main() {}

#![no_main]

#[allow(dead_code)]
#[path = "../mod.rs"]
mod fuzz;

libfuzzer_sys::fuzz_target!(|data: &[u8]| fuzz::wiring_file(data));

#![no_main]
#[path = "../../hostile/checks.rs"]
#[allow(dead_code, reason = "each target uses one check")]
mod checks;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| checks::pieces(bytes));

#![no_main]
#[path = "../../hostile/checks.rs"]
#[allow(dead_code, reason = "each target uses one check")]
mod checks;

libfuzzer_sys::fuzz_target!(|text: &str| checks::description(text));

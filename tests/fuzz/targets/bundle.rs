//! Fuzzes `bundle` of the bodies.
#![no_main]

#[path = "../bodies.rs"]
mod bodies;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    bodies::bundle(bytes);
});

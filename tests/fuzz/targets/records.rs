//! Records and the bodies they lie in.
#![no_main]

#[path = "../parsers/records.rs"]
mod parser;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| parser::try_one(bytes));

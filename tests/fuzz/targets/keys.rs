//! Keys as they are typed, printed or kept: what is read is written so that it reads the same.
#![no_main]

#[path = "../parsers/keys.rs"]
mod parser;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| parser::try_one(bytes));

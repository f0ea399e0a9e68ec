//! A package of any bytes: the check ends, and is never satisfied.
#![no_main]

#[path = "../parsers/package.rs"]
mod parser;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| parser::try_one(bytes));

//! A package with any list, and nothing else in it.
#![no_main]

#[path = "../parsers/manifest.rs"]
mod parser;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| parser::try_one(bytes));

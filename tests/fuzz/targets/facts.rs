//! A facts document: refused, or answered in the same way each time.
#![no_main]

#[path = "../parsers/facts.rs"]
mod parser;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| parser::try_one(bytes));

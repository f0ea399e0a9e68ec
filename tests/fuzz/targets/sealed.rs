//! A sealed file of any bytes: it does not open, and what is said of it beforehand ends.
#![no_main]

#[path = "../parsers/sealed.rs"]
mod parser;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| parser::try_one(bytes));

//! Dates, moments, months and numbers as they are typed: what is read is printed so that it reads the same.
#![no_main]

#[path = "../parsers/moments.rs"]
mod parser;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| parser::try_one(bytes));

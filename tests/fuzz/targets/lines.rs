//! A line of a note: what is read is printed so that it reads the same.
#![no_main]

#[path = "../parsers/lines.rs"]
mod parser;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| parser::try_one(bytes));

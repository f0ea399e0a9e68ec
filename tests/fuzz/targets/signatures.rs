//! Strokes of a signature: what is read is written so that it reads the same, and its picture is the same each time.
#![no_main]

#[path = "../parsers/signatures.rs"]
mod parser;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| parser::try_one(bytes));

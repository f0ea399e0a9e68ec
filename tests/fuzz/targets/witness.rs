//! What a witness answers: one byte for the status, then the answer.
#![no_main]

#[path = "../parsers/witness.rs"]
mod parser;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| parser::try_one(bytes));

//! Answers to questions: refused in words, or read so that what is written of them reads the same.
#![no_main]

#[path = "../parsers/answers.rs"]
mod parser;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| parser::try_one(bytes));

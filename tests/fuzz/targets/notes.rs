//! Signed notes and leaves: what is read is written back byte for byte.
#![no_main]

#[path = "../parsers/notes.rs"]
mod parser;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| parser::try_one(bytes));

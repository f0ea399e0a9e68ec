//! A rules file: what is wrong is said, and what is accepted can be used.
#![no_main]

#[path = "../parsers/rules.rs"]
mod parser;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| parser::try_one(bytes));

//! What is typed from a slip or a receipt.
#![no_main]

#[path = "../parsers/slips.rs"]
mod parser;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| parser::try_one(bytes));

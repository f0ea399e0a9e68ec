//! Motion segments and the short words of the table-side commands.
#![no_main]

#[path = "../parsers/segments.rs"]
mod parser;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| parser::try_one(bytes));

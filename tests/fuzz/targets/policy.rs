//! C2SP tlog-policy files: what is read and written reads the same.
#![no_main]

#[path = "../parsers/policy.rs"]
mod parser;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| parser::try_one(bytes));

//! A ledger of one segment of any bytes: reading it ends, and however it is read, the same is found.
#![no_main]

#[path = "../disk.rs"]
mod held;
#[path = "../parsers/frames.rs"]
mod parser;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| parser::try_one(bytes));

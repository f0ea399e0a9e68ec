//! Checkpoints: what is read strictly is written back byte for byte, and nothing unsigned is believed.
#![no_main]

#[path = "../parsers/checkpoints.rs"]
mod parser;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| parser::try_one(bytes));

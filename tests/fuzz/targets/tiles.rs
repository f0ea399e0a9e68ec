//! Names of tiles, and hashes in them: what is read is written back letter for letter.
#![no_main]

#[path = "../parsers/tiles.rs"]
mod parser;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| parser::try_one(bytes));

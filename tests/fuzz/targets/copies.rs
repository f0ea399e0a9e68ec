//! What a safe copy says of itself: its mark in a folder, and the list in a store of objects, both refused or used
//! within bounds; and the answer of that store to what lies in it.
#![no_main]

#[path = "../disk.rs"]
mod held;
#[path = "../parsers/copies.rs"]
mod parser;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| parser::try_one(bytes));

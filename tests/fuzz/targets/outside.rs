//! What lies in the folder outside the store: nothing unsigned counts as a checkpoint, and a slip or note that does not
//! belong to the ledger counts for nothing. Three files, with a zero byte between them.
#![no_main]

#[path = "../disk.rs"]
mod held;
#[path = "../parsers/outside.rs"]
mod parser;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| parser::try_one(bytes));

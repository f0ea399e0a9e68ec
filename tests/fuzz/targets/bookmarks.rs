//! How far a ledger was read, and where its entries lie: unreadable, or of use without a panic. The line that is
//! signed, a zero byte, and a stretch behind eight bytes that say where in it its spine lies.
#![no_main]

#[path = "../disk.rs"]
mod held;
#[path = "../parsers/bookmarks.rs"]
mod parser;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| parser::try_one(bytes));

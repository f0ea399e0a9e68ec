//! What a browser, or a program that poses as one, sends to the page: headers and a form. A head of lines, an empty
//! line, and the body.
#![no_main]

#[path = "../parsers/calls.rs"]
mod parser;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| parser::try_one(bytes));

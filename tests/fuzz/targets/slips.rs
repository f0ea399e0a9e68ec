//! What is typed from a slip.
#![no_main]

use inkfast::verify::slip::read_typed;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|text: &str| {
    let _ = read_typed(text);
});

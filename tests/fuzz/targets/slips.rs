//! What is typed from a slip or a receipt.
#![no_main]

use inkfast::verify::pin::What;
use inkfast::verify::slip::read_typed;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|text: &str| {
    let _ = read_typed(What::Slip, text);
    let _ = read_typed(What::Receipt, text);
});

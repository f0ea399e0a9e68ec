//! What is typed from a slip or a receipt.

use inkfast::verify::pin::What;
use inkfast::verify::slip::read_typed;

/// Tries one input.
pub fn try_one(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    let _ = read_typed(What::Slip, text);
    let _ = read_typed(What::Receipt, text);
}

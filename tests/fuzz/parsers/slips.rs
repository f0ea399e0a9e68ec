//! What is typed from a slip or a receipt.

use inkfast::seal::note::Signer;
use inkfast::verify::pin::What;
use inkfast::verify::slip::{read_receipt, read_slip, read_typed};

/// Tries one input.
pub fn try_one(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    let _ = read_typed(What::Slip, text);
    let _ = read_typed(What::Receipt, text);
    let key = Signer::from_seed("ledger-00112233445566778899aabbccddeeff", &[7; 32]).unwrap();
    // What names a file is read as one, which is not tried here.
    if !text.contains(['/', '.']) && !std::path::Path::new(text).exists() {
        let _ = read_slip(text, key.verifier());
    }
    let _ = read_receipt(text, key.verifier());
}

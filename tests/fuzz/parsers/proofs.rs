//! C2SP tlog-proof files: what is read is written back byte for byte.

use inkfast::ledger::proof::TlogProof;

/// Tries one input.
pub fn try_one(bytes: &[u8]) {
    if let Ok(proof) = TlogProof::parse(bytes) {
        assert_eq!(proof.to_string().as_bytes(), bytes);
    }
}

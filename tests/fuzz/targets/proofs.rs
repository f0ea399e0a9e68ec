//! C2SP tlog-proof files: what is read is written back byte for byte.
#![no_main]

use inkfast::ledger::proof::TlogProof;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    if let Ok(proof) = TlogProof::parse(bytes) {
        assert_eq!(proof.to_string().as_bytes(), bytes);
    }
});

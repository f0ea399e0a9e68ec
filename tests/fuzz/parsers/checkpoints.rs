//! Checkpoints: what is read strictly is written back byte for byte, and nothing unsigned is believed.

use inkfast::ledger::checkpoint::Checkpoint;
use inkfast::seal::note::Signer;

/// Tries one input.
pub fn try_one(bytes: &[u8]) {
    if let Ok(text) = std::str::from_utf8(bytes) {
        if let Ok(checkpoint) = Checkpoint::parse_text(text) {
            assert_eq!(checkpoint.to_text(), text);
            assert_eq!(Checkpoint::parse_text_lenient(text), Ok((checkpoint, Vec::new())));
        }
        let _ = Checkpoint::parse_text_lenient(text);
    }
    let signer = Signer::from_seed("ledger-00112233445566778899aabbccddeeff", &[9; 32]).unwrap();
    assert!(Checkpoint::open(bytes, signer.verifier()).is_err(), "nobody signed this");
}

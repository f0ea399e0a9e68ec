//! Signed notes and leaves: what is read is written back byte for byte.

use inkfast::ledger::leaf::Leaf;
use inkfast::seal::note::Note;

/// Tries one input.
pub fn try_one(bytes: &[u8]) {
    if let Ok(note) = Note::parse(bytes) {
        assert_eq!(note.to_string().as_bytes(), bytes);
    }
    if let Ok((_, note)) = Leaf::read(bytes) {
        assert_eq!(note.to_string().as_bytes(), bytes);
    }
}

//! For tests: the example of each kind, one file a kind in `tests/data/records`, of the demonstration's own charts. Each is
//! sound, and valid by its schema (`tests/records.rs`).

use super::envelope::Record;

/// The example of a kind.
pub(crate) fn example(kind: &str) -> Record {
    let path = format!("{}/tests/data/records/{kind}.json", env!("CARGO_MANIFEST_DIR"));
    Record::from_bytes(&std::fs::read(path).unwrap()).unwrap()
}

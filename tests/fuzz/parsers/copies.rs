//! What a safe copy says of itself: its mark in a folder, and the list in a store of objects, both refused or used
//! within bounds; and the answer of that store to what lies in it.

use crate::held::Held;
use inkfast::practice::copies::{FILE, bring_bucket, label_in_bucket, read};
use inkfast::practice::objects::{Objects, Put, listed};
use inkfast::trouble::Outcome;
use jiff::Timestamp;
use std::path::Path;

const LEDGER: &str = "ledger-00112233445566778899aabbccddeeff";

/// A store of objects with one list in it; any other object is these bytes too.
struct One<'a>(&'a [u8]);

impl Objects for One<'_> {
    fn put_new(&self, _: &str, _: &[u8], _: Option<Timestamp>) -> Outcome<Put> {
        Ok(Put::Exists)
    }
    fn get(&self, _: &str) -> Outcome<Option<Vec<u8>>> {
        Ok(Some(self.0.to_vec()))
    }
    fn list(&self, prefix: &str) -> Outcome<Vec<String>> {
        let digest = blake3::hash(self.0).to_hex();
        Ok(vec![format!("{}/copies/{:020}-{digest}", prefix.split('/').next().unwrap_or_default(), 12)])
    }
}

/// Tries one input.
pub fn try_one(bytes: &[u8]) {
    let root = Path::new("/copy");
    let disk = Held([(root.join(FILE), bytes.to_vec())].into());
    if let Ok(mark) = read(&disk, root) {
        assert_eq!(mark.map(|mark| mark.inkfast_safecopy), Some(1));
    }
    let _ = label_in_bucket(&One(bytes), LEDGER);
    assert!(
        bring_bucket(&disk, &One(bytes), Some(LEDGER), root, &mut |_| ()).is_err(),
        "nothing can be written"
    );
    if let Ok(text) = std::str::from_utf8(bytes) {
        let _ = listed(text, "our/");
    }
}

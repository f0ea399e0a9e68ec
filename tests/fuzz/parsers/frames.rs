//! A ledger of one segment of any bytes: reading it ends, and however it is read, the same is found.

use crate::held::Held;
use inkfast::ledger::scan::{Scan, scan, scan_to_newest, scan_together};
use inkfast::ledger::segment;
use inkfast::seal::note::{Signer, Verifier};
use std::path::Path;

fn key() -> Verifier {
    Signer::from_seed("ledger-00112233445566778899aabbccddeeff", &[7; 32]).unwrap().verifier().clone()
}

fn found(scan: &Scan) -> impl PartialEq + std::fmt::Debug {
    (scan.entries.clone(), scan.end, scan.damage.clone(), scan.unfinished.clone())
}

/// Tries one input.
pub fn try_one(bytes: &[u8]) {
    let dir = Path::new("/ledger");
    // The length that the head gives, so that more than the first check is reached.
    let mut bytes = bytes.to_vec();
    bytes.resize(bytes.len().next_multiple_of(4096).min(1 << 16), 0);
    let disk = Held([(segment::path(dir, 1), bytes)].into());
    let key = key();
    let whole = scan(&disk, dir, &key, &mut |_| (), &mut |_, _, _, _| Ok(())).unwrap();
    if let Some(together) = scan_together(&disk, dir, &key, &mut |_| (), &mut |_, _, _, _| Ok(())).unwrap() {
        assert_eq!(found(&together), found(&whole));
    }
    let quick = scan_to_newest(&disk, dir, &key).unwrap();
    assert_eq!((quick.entries, quick.end), (whole.entries, whole.end));
}

//! Promise: reading for daily work, which checks one checkpoint's signature, finds what reading with every
//! signature finds. Only a bent signature of an earlier checkpoint is left to a check of the store, which checks
//! them together and finds what each by itself gives.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // In a test a panic is the report.

mod common;

use common::{Small, long};
use inkfast::ledger::scan::{DamageKind, Scan, scan, scan_to_newest, scan_together};
use inkfast::world::{Disk, RealDisk};

fn both(small: &Small) -> (Scan, Scan) {
    let (dir, key) = (small.root().join("ledger"), &small.practice.place.key);
    let whole = scan(&RealDisk, &dir, key, &mut |_| (), &mut |_, _, _, _| Ok(())).unwrap();
    // Together, every signature holds or none is relied on.
    let together = scan_together(&RealDisk, &dir, key, &mut |_| (), &mut |_, _, _, _| Ok(())).unwrap();
    if let Some(together) = together {
        assert_eq!((&together.entries, &together.damage), (&whole.entries, &whole.damage));
        assert_eq!((&together.end, &together.unfinished), (&whole.end, &whole.unfinished));
        assert_eq!(together.checkpoint, whole.checkpoint);
    } else {
        let found = whole.damage.iter().chain(&whole.unfinished.damage);
        assert!(found.into_iter().any(|d| d.what == DamageKind::Checkpoint), "no signature is bent");
    }
    (scan_to_newest(&RealDisk, &dir, key).unwrap(), whole)
}

#[test]
fn one_signature_checked_finds_what_all_of_them_find() {
    let mut small = Small::new(64 << 10, 1);
    small.say(0, "the second to last");
    small.say(0, "the last");
    let path = small.root().join("ledger").join("000001.seg");
    let sound = RealDisk.read(&path).unwrap();
    let (quick, whole) = both(&small);
    assert!(quick.damage.is_empty() && quick.entries == whole.entries && quick.end == whole.end);
    let end = whole.end.unwrap().offset as usize;
    let (mut left, mut behind) = (0, 0);
    for at in (0..end + 40).step_by(if long() { 1 } else { 29 }) {
        let mut bent = sound.clone();
        bent[at] ^= 1 << (at % 8);
        std::fs::write(&path, &bent).unwrap();
        let (quick, whole) = both(&small);
        assert_eq!(quick.entries, whole.entries, "byte {at}");
        assert_eq!(quick.end, whole.end, "byte {at}");
        assert_eq!(quick.checkpoint, whole.checkpoint, "byte {at}");
        assert_eq!(quick.unfinished, whole.unfinished, "byte {at}");
        if quick.damage != whole.damage {
            let bent_earlier = |d: &inkfast::ledger::scan::Damage| d.what == DamageKind::Checkpoint;
            assert!(quick.damage.is_empty() && whole.damage.iter().all(bent_earlier), "byte {at}");
            left += 1;
        }
        behind += usize::from(whole.unfinished.at.is_some());
    }
    assert!(left > 0 && behind > 0, "nothing was bent that matters: {left}, {behind}");
}

//! Promise: whatever bytes somebody else made, reading them ends, and never in a panic. The same parsers as
//! scripts/fuzz, which is guided by coverage and finds more; here each begins with the kept corpus and bends it at random,
//! for a moment by default and for ten seconds in the long run.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // In a test a panic is the report.

mod common;

#[path = "fuzz/parsers/answers.rs"]
mod answers;
#[path = "fuzz/parsers/bookmarks.rs"]
mod bookmarks;
#[path = "fuzz/parsers/calls.rs"]
mod calls;
#[path = "fuzz/parsers/checkpoints.rs"]
mod checkpoints;
#[path = "fuzz/parsers/copies.rs"]
mod copies;
#[path = "fuzz/parsers/facts.rs"]
mod facts;
#[path = "fuzz/parsers/frames.rs"]
mod frames;
#[path = "fuzz/disk.rs"]
mod held;
#[path = "fuzz/parsers/keys.rs"]
mod keys;
#[path = "fuzz/parsers/lines.rs"]
mod lines;
#[path = "fuzz/parsers/manifest.rs"]
mod manifest;
#[path = "fuzz/parsers/moments.rs"]
mod moments;
#[path = "fuzz/parsers/notes.rs"]
mod notes;
#[path = "fuzz/parsers/outside.rs"]
mod outside;
#[path = "fuzz/parsers/package.rs"]
mod package;
#[path = "fuzz/parsers/policy.rs"]
mod policy;
#[path = "fuzz/parsers/proofs.rs"]
mod proofs;
#[path = "fuzz/parsers/records.rs"]
mod records;
#[path = "fuzz/parsers/rules.rs"]
mod rules;
#[path = "fuzz/parsers/sealed.rs"]
mod sealed;
#[path = "fuzz/parsers/segments.rs"]
mod segments;
#[path = "fuzz/parsers/signatures.rs"]
mod signatures;
#[path = "fuzz/parsers/slips.rs"]
mod slips;
#[path = "fuzz/parsers/tiles.rs"]
mod tiles;
#[path = "fuzz/parsers/witness.rs"]
mod witness;

use common::{Dice, long};
use std::path::Path;
use std::time::{Duration, Instant};

/// Words and bytes that parsers look for.
const TELLING: [&[u8]; 12] = [
    b"\n",
    b"\n\n",
    b"\0",
    b" ",
    b"-",
    b"\xe2\x80\x94 ",
    b"{",
    b"}",
    b"\"",
    b"999999999999999999999",
    b"\xff",
    b"/",
];

/// Bends an input a little, now and then with a piece of another one.
fn bend(bytes: &mut Vec<u8>, other: &[u8], dice: &mut Dice) {
    let len = bytes.len() as u64;
    let at = dice.below(len + 1) as usize;
    match dice.below(7) {
        0 if at < bytes.len() => bytes[at] ^= 1 << dice.below(8),
        1 if at < bytes.len() => bytes[at] = dice.next() as u8,
        2 => bytes.truncate(at),
        3 => drop(bytes.drain(at..(at + 1 + dice.below(9) as usize).min(bytes.len()).max(at))),
        4 => drop(bytes.splice(at..at, TELLING[dice.below(12) as usize].iter().copied())),
        5 if !other.is_empty() => {
            let from = dice.below(other.len() as u64) as usize;
            let upto = (from + 1 + dice.below(64) as usize).min(other.len());
            bytes.splice(at..at, other[from..upto].iter().copied());
        }
        _ => {
            let again = bytes[at..(at + dice.below(32) as usize).min(bytes.len())].to_vec();
            bytes.splice(at..at, again);
        }
    }
}

fn try_all(name: &str, try_one: fn(&[u8])) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fuzz/corpus").join(name);
    let mut kept: Vec<(String, Vec<u8>)> = std::fs::read_dir(&folder)
        .unwrap()
        .map(|item| item.unwrap().path())
        .map(|path| (path.display().to_string(), std::fs::read(&path).unwrap()))
        .collect();
    kept.sort();
    assert!(!kept.is_empty(), "no corpus in {}", folder.display());
    kept.iter().for_each(|(_, bytes)| try_one(bytes));
    let lasts = if long() { Duration::from_secs(10) } else { Duration::from_millis(300) };
    let (began, mut round) = (Instant::now(), 0);
    while began.elapsed() < lasts {
        round += 1;
        let mut dice = Dice::new(round);
        let (path, bytes) = &kept[dice.below(kept.len() as u64) as usize];
        let mut bytes = bytes.clone();
        let other = &kept[dice.below(kept.len() as u64) as usize].1;
        for _ in 0..=dice.below(6) {
            bend(&mut bytes, other, &mut dice);
        }
        let tried = std::panic::catch_unwind(|| try_one(&bytes));
        assert!(tried.is_ok(), "{path}, bent in round {round}: {:?}", String::from_utf8_lossy(&bytes));
    }
}

macro_rules! parsers {
    ($($name:ident,)*) => {
        mod reads_or_refuses {
            $(#[test] fn $name() { super::try_all(stringify!($name), super::$name::try_one); })*
        }
    };
}

parsers! {
    answers,
    bookmarks,
    calls,
    checkpoints,
    copies,
    facts,
    frames,
    keys,
    lines,
    manifest,
    moments,
    notes,
    outside,
    package,
    policy,
    proofs,
    records,
    rules,
    sealed,
    segments,
    signatures,
    slips,
    tiles,
    witness,
}

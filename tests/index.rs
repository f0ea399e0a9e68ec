//! Promise: the index is derived. Gone, spoiled or another store's, it changes no answer.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // In a test a panic is the report.

mod common;

use common::{Dice, Small, copy_folder, long};
use inkfast::index::{Grown, Index, folder, proofs, throw_away};
use inkfast::ledger::tree::{Hash, LeafHashes, inclusion_proof, verify_inclusion};
use std::path::{Path, PathBuf};

/// The proofs of every entry, as the ledger alone gives them.
fn from_the_ledger(small: &Small) -> Vec<Vec<Hash>> {
    let leaves: Vec<Hash> = small.practice.scan().entries.iter().map(|e| e.tree_hash).collect();
    let size = leaves.len() as u64;
    (0..size).map(|n| inclusion_proof(n, size, &LeafHashes(&leaves)).unwrap()).collect()
}

fn ask(small: &Small, dir: &Path) -> Vec<Vec<Hash>> {
    let scan = small.practice.scan();
    let all: Vec<u64> = (0..scan.entries.len() as u64).collect();
    proofs(dir, small.practice.place.key.name(), Grown::whole(scan), &all)
}

fn store(entries: usize) -> Small {
    let mut small = Small::new(64 << 10, 1);
    for n in 0..entries {
        small.say(0, &format!("number {n}"));
    }
    small
}

fn files(dir: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    for item in std::fs::read_dir(dir).unwrap() {
        let path = item.unwrap().path();
        if path.is_dir() { found.extend(files(&path)) } else { found.push(path) }
    }
    found.sort();
    found
}

#[test]
fn a_proof_is_the_same_with_an_index_without_one_and_after_growing() {
    let mut small = store(4);
    let dir = folder(&small.root());
    for n in 0..3 {
        let right = from_the_ledger(&small);
        assert_eq!(ask(&small, &dir), right);
        assert_eq!(ask(&small, &dir), right, "a second time");
        throw_away(&dir);
        assert!(!dir.exists());
        assert_eq!(ask(&small, &dir), right, "without an index");
        let scan = small.practice.scan();
        for (n, path) in right.iter().enumerate() {
            let leaf = scan.entries[n].tree_hash;
            let size = scan.entries.len() as u64;
            verify_inclusion(&leaf, n as u64, size, path, &scan.frontier.root()).unwrap();
        }
        small.say(0, &format!("and {n}"));
    }
    assert_eq!(ask(&small, &dir), from_the_ledger(&small));
}

#[test]
fn a_spoiled_index_changes_no_answer() {
    let small = store(3);
    let right = from_the_ledger(&small);
    let good = tempfile::tempdir().unwrap();
    assert_eq!(ask(&small, &good.path().join("index")), right);
    // A panic inside the index is caught there; its message would only be noise here.
    std::panic::set_hook(Box::new(|info| {
        if !inkfast::index::is_guarding() {
            eprintln!("{info}");
        }
    }));
    let mut dice = Dice::new(5);
    for round in 0..if long() { 300 } else { 30 } {
        let copy = tempfile::tempdir().unwrap();
        let dir = copy.path().join("index");
        copy_folder(&good.path().join("index"), &dir);
        let all = files(&dir);
        let path = &all[dice.below(all.len() as u64) as usize];
        let mut bytes = std::fs::read(path).unwrap();
        let used = bytes.iter().rposition(|b| *b != 0).map_or(1, |last| last + 1) as u64;
        let what = match round % 5 {
            0 => {
                bytes.truncate(dice.below(bytes.len() as u64) as usize);
                "cut"
            }
            1 => {
                let from = dice.below(used) as usize;
                bytes.iter_mut().skip(from).take(64).for_each(|b| *b = 0xA5);
                "scribbled on"
            }
            _ => {
                for _ in 0..=round % 7 {
                    let at = dice.below(used) as usize;
                    if let Some(byte) = bytes.get_mut(at) {
                        *byte ^= 1 << dice.below(8);
                    }
                }
                "flipped"
            }
        };
        std::fs::write(path, bytes).unwrap();
        assert_eq!(ask(&small, &dir), right, "round {round}: {} {what}", path.display());
        assert_eq!(ask(&small, &dir), right, "round {round}, again");
    }
    for path in files(&good.path().join("index")) {
        let copy = tempfile::tempdir().unwrap();
        let dir = copy.path().join("index");
        copy_folder(&good.path().join("index"), &dir);
        std::fs::remove_file(dir.join(path.strip_prefix(good.path().join("index")).unwrap())).unwrap();
        assert_eq!(ask(&small, &dir), right, "without {}", path.display());
    }
    let _ = std::panic::take_hook();
}

#[test]
fn the_index_of_another_store_or_of_an_older_state_changes_no_answer() {
    let (mut small, other) = (store(2), store(5));
    let dir = folder(&small.root());
    let theirs = folder(&other.root());
    ask(&other, &theirs);
    copy_folder(&theirs, &dir);
    assert_eq!(ask(&small, &dir), from_the_ledger(&small));
    // An index that is ahead of the ledger, as after a copy was put back.
    let ahead = tempfile::tempdir().unwrap();
    let copy = small.copy();
    small.say(0, "later lost");
    ask(&small, &dir);
    copy_folder(&dir, ahead.path());
    small.let_go();
    let back = inkfast::world::World::real();
    let practice =
        common::open_store(&back, &copy.path().join("store"), common::OWNER, common::PASSPHRASE).unwrap();
    small.practice = practice;
    assert_eq!(ask(&small, ahead.path()), from_the_ledger(&small));
}

#[test]
fn no_index_at_all_where_none_can_be_is_fine() {
    let small = store(1);
    let right = from_the_ledger(&small);
    let dir = tempfile::tempdir().unwrap();
    let file = dir.path().join("a-file");
    std::fs::write(&file, b"not a folder").unwrap();
    assert_eq!(ask(&small, &file), right);
    assert_eq!(ask(&small, &file.join("below")), right);
    // Somebody else has it open.
    let shared = dir.path().join("shared");
    let held = Index::open(&shared, small.practice.place.key.name(), Grown::whole(small.practice.scan()));
    assert!(held.is_some());
    assert_eq!(ask(&small, &shared), right);
}

#[test]
fn an_entry_that_is_not_there_has_no_proof() {
    let small = store(1);
    let size = small.practice.scan().entries.len() as u64;
    let dir = folder(&small.root());
    let answers = proofs(
        &dir,
        small.practice.place.key.name(),
        Grown::whole(small.practice.scan()),
        &[size, u64::MAX, 0],
    );
    assert!(answers[0].is_empty() && answers[1].is_empty() && !answers[2].is_empty());
}

//! Promise: a cut tail, an older copy put back and a second ledger are found with what is kept outside;
//! an older copy is read but not written before the owner says why; one writer at a time.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // In a test a panic is the report.

mod common;

use common::{OWNER, PASSPHRASE, Small, add, check, contact_saying, copy_folder, ids, open_store};
use inkfast::ledger::outside::{self, Outside};
use inkfast::ledger::write::{Remark, Writer};
use inkfast::practice::open::Practice;
use inkfast::record::kinds::Data;
use inkfast::record::kinds::register::BehindOutsideCopy;
use inkfast::trouble::Kind;
use inkfast::world::World;
use std::path::{Path, PathBuf};

/// A store, and the copy of it that was made before the last `lost` entries.
fn restored(lost: usize) -> (Small, u64) {
    let mut small = Small::new(64 << 10, 1);
    let safe = tempfile::tempdir().unwrap();
    copy_folder(&small.root(), safe.path());
    for n in 0..lost {
        small.say(0, &format!("lost {n}"));
    }
    let ahead = small.practice.size();
    small.let_go();
    std::fs::remove_dir_all(small.root()).unwrap();
    copy_folder(safe.path(), &small.root());
    (small, ahead)
}

fn open(small: &Small) -> Practice {
    small.open_as(OWNER, PASSPHRASE).unwrap()
}

fn outside_files(small: &Small) -> Vec<PathBuf> {
    let dir = small.dir.path().join("outside");
    let mut files: Vec<_> = std::fs::read_dir(dir).unwrap().map(|i| i.unwrap().path()).collect();
    files.sort();
    files
}

/// What `slip behind` does.
fn go_on(practice: &mut Practice, kept: u64) -> u64 {
    let mine = practice.size();
    practice.begin_writing_behind().unwrap();
    let data = BehindOutsideCopy {
        store_entries: mine,
        outside_entries: kept,
        because: "the newer copy burnt".into(),
        lost: Vec::new(),
        found_by: OWNER.into(),
    };
    add(practice, None, data.into()).unwrap().seq
}

#[test]
fn an_older_copy_is_read_but_not_written() {
    let (small, ahead) = restored(3);
    let mut practice = open(&small);
    assert_eq!(practice.chart(&small.charts[0]).unwrap().len(), 2);
    let mine = practice.size();
    let trouble = add(&mut practice, Some(&small.charts[0]), contact_saying("no")).unwrap_err();
    assert_eq!(trouble.kind, Kind::Behind);
    assert!(
        trouble.what.contains(&mine.to_string()) && trouble.what.contains(&ahead.to_string()),
        "{trouble}"
    );
    assert!(trouble.safe.contains("can still be read") && trouble.next.contains("slip behind"), "{trouble}");
    assert_eq!(open(&small).size(), mine, "something was written");
    let report = check(&small.root());
    assert!(!report.sound && ids(&report) == ["behind-outside-copy"], "{:?}", ids(&report));
}

#[test]
fn once_the_owner_said_why_every_command_writes_again() {
    for lost in 1..=5 {
        let (small, ahead) = restored(lost);
        let seq = go_on(&mut open(&small), ahead);
        // Each of these is a command of its own.
        for n in 1..=6 {
            let mut practice = open(&small);
            let receipt = add(&mut practice, Some(&small.charts[0]), contact_saying("on it goes"))
                .unwrap_or_else(|t| panic!("{lost} lost, command {n}: {t}"));
            assert_eq!(receipt.seq, seq + n);
            assert!(practice.take_remarks().is_empty());
        }
        let practice = open(&small);
        let Some(Data::BehindOutsideCopy(said)) = practice.entry_by_seq(seq).unwrap().data() else {
            panic!()
        };
        assert_eq!((said.store_entries, said.outside_entries), (seq - 1, ahead));
        let report = check(&small.root());
        assert!(report.sound && report.findings.is_empty(), "{lost} lost: {:?}", report.findings);
        // The checkpoints that were ahead are still there as evidence, under another name.
        let lost_ones = outside_files(&small);
        assert!(
            lost_ones.iter().any(|p| p.to_str().unwrap().contains(&format!("lost-{ahead}"))),
            "{lost_ones:?}"
        );
    }
}

#[test]
fn a_ledger_that_is_not_behind_is_not_opened_as_if_it_were() {
    let (small, ahead) = restored(2);
    go_on(&mut open(&small), ahead);
    // The lost copy comes back after all: now the two have gone apart.
    let other = Small::new(64 << 10, 1);
    let place = &small.practice.place;
    let mut location = place.location();
    location.outside = other.dir.path().join("outside");
    std::fs::create_dir_all(&location.outside).unwrap();
    let evidence = outside_files(&small).into_iter().find(|p| p.to_str().unwrap().contains("lost-")).unwrap();
    std::fs::copy(evidence, location.outside.join(format!("{}.1.checkpoint", place.key.name()))).unwrap();
    let mut practice = open(&small);
    for _ in 0..3 {
        add(&mut practice, Some(&small.charts[0]), contact_saying("further")).unwrap();
    }
    drop(practice);
    for even_if_behind in [false, true] {
        let Err(trouble) = Writer::open(&small.world, &location, even_if_behind).map(drop) else {
            panic!("a rewritten ledger was opened for writing ({even_if_behind})")
        };
        assert_eq!(trouble.kind, Kind::Damaged, "{trouble}");
    }
}

#[test]
fn a_missing_or_unreadable_copy_outside_is_remarked_once_and_begins_anew() {
    let mut small = Small::new(64 << 10, 1);
    small.let_go();
    for (spoil, remark, id) in [
        (remove as fn(&Path), Remark::OutsideMissing, "outside-missing"),
        (scribble, Remark::OutsideUnreadable, "outside-unreadable"),
    ] {
        outside_files(&small).iter().for_each(|p| spoil(p));
        let report = check(&small.root());
        assert!(report.sound && ids(&report) == [id], "{:?}", ids(&report));
        let mut practice = open(&small);
        assert_eq!(practice.begin_writing().unwrap(), [remark]);
        add(&mut practice, Some(&small.charts[0]), contact_saying("anew")).unwrap();
        drop(practice);
        assert!(open(&small).begin_writing().unwrap().is_empty());
        let report = check(&small.root());
        assert!(report.sound && report.witnesses.len() == 1, "{:?}", report.findings);
    }
    // One of the two spoiled is no matter: the other is at most one step behind.
    for n in 0..2 {
        scribble(&outside_files(&small)[n]);
        let mut practice = open(&small);
        assert!(practice.begin_writing().unwrap().is_empty());
        add(&mut practice, Some(&small.charts[0]), contact_saying("and again")).unwrap();
        add(&mut practice, Some(&small.charts[0]), contact_saying("and again")).unwrap();
    }
}

fn remove(path: &Path) {
    std::fs::remove_file(path).unwrap();
}

fn scribble(path: &Path) {
    std::fs::write(path, b"tea").unwrap();
}

#[test]
fn the_copy_outside_is_the_newest_checkpoint_after_every_entry() {
    let mut small = Small::new(64 << 10, 1);
    for n in 0..4 {
        let seq = small.say(0, "one more");
        let place = &small.practice.place;
        let Outside::Newest(kept, _) = outside::read(&*small.world.disk, &place.outside, &place.key) else {
            panic!("entry {n}: no copy outside")
        };
        assert_eq!(kept.size, seq);
    }
}

#[test]
fn an_outside_folder_that_is_gone_is_said_and_stops_nobody() {
    let mut small = Small::new(64 << 10, 1);
    let outside = small.dir.path().join("outside");
    std::fs::remove_dir_all(&outside).unwrap();
    std::fs::write(&outside, b"a file where the folder was").unwrap();
    let seq = small.say(0, "kept all the same");
    let remarks = small.practice.take_remarks();
    assert!(matches!(&remarks[..], [Remark::OutsideNotReplaced(t)] if t.kind == Kind::Disk), "{remarks:?}");
    small.let_go();
    assert_eq!(open(&small).size(), seq);
}

#[test]
fn a_second_writer_is_told_who_is_writing() {
    let mut small = Small::new(64 << 10, 1);
    // The first still holds the ledger; reading goes on beside it.
    let mut second = open_store(&World::real(), &small.root(), OWNER, PASSPHRASE).unwrap();
    assert_eq!(second.chart(&small.charts[0]).unwrap().len(), 2);
    let before = small.practice.size();
    let trouble = add(&mut second, Some(&small.charts[0]), contact_saying("no")).unwrap_err();
    assert_eq!(trouble.kind, Kind::Busy);
    assert!(trouble.what.contains(&format!("process {}", std::process::id())), "{trouble}");
    assert!(trouble.safe.contains("Nothing was written") && trouble.next.contains("Wait"), "{trouble}");
    let seq = small.say(0, "the first goes on");
    assert_eq!(seq, before + 1);
    small.let_go();
    let receipt = add(&mut second, Some(&small.charts[0]), contact_saying("now the second")).unwrap();
    assert_eq!(receipt.seq, seq + 1, "the second did not see what the first had added");
    assert!(check(&small.root()).sound);
}

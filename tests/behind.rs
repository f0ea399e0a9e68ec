//! Promise: a cut tail, an older copy put back and a second ledger are found with what is kept outside;
//! an older copy is read but not written before the owner says why; one writer at a time.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // In a test a panic is the report.

mod common;

use common::disk::{Fault, MemDisk};
use common::{
    OWNER, PASSPHRASE, Small, add, check, check_with, contact_saying, copy_folder, ids, open_store, step,
};
use inkfast::ledger::outside::{self, Outside};
use inkfast::ledger::write::{Location, NewEntry, Remark, Writer};
use inkfast::practice::open::Practice;
use inkfast::record::kinds::Data;
use inkfast::record::kinds::register::BehindOutsideCopy;
use inkfast::trouble::{Kind, Outcome};
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
    add(practice, None, explained(mine, kept).into()).unwrap().seq
}

fn explained(mine: u64, kept: u64) -> BehindOutsideCopy {
    BehindOutsideCopy {
        store_entries: mine,
        outside_entries: kept,
        because: "the newer copy burnt".into(),
        lost: Vec::new(),
        found_by: OWNER.into(),
    }
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

/// Whichever call fails, and wherever the program ends, while the owner says why: the store is behind as before, or it
/// goes on; never is it left as one that seems rewritten.
#[test]
fn saying_why_may_be_cut_off_at_every_call() {
    let (small, ahead) = restored(1);
    let disk = MemDisk::load(small.dir.path());
    let open = |disk: &MemDisk| open_store(&disk.world(&small.world), &small.root(), OWNER, PASSPHRASE);
    let say_why = |disk: &MemDisk| {
        let mut practice = open(disk)?;
        practice.begin_writing_behind()?;
        let mine = practice.size();
        add(&mut practice, None, explained(mine, ahead).into())
    };
    let (mut before, mut between) = (0, 0);
    for fault in [Fault::Once, Fault::Dead, Fault::Full] {
        for n in (1..).step_by(step(2, 1)) {
            let disk = disk.fork();
            disk.fail(n, fault);
            let said = say_why(&disk);
            let call = disk.last_call();
            let calls = disk.heal();
            let context = format!("{fault:?} at call {n} of {calls} ({call})");
            let report = check_with(&disk.world(&small.world), &small.root(), &[]).unwrap();
            // What was never confirmed is moved aside by the next command.
            let mut found = ids(&report);
            found.retain(|id| *id != "unfinished-write");
            match found[..] {
                ["behind-outside-copy"] => {
                    before += 1;
                    assert!(said.is_err(), "{context}: acknowledged, and behind as before");
                    say_why(&disk).unwrap_or_else(|t| panic!("{context}: {t}"));
                }
                ["outside-missing"] => between += 1,
                _ => assert!(found.is_empty(), "{context}: {found:?}"),
            }
            let mut practice = open(&disk).unwrap_or_else(|t| panic!("{context}: {t}"));
            for said in ["on", "it goes"] {
                add(&mut practice, Some(&small.charts[0]), contact_saying(said))
                    .unwrap_or_else(|t| panic!("{context}: {t}"));
            }
            let report = check_with(&disk.world(&small.world), &small.root(), &[]).unwrap();
            assert!(report.sound && report.findings.is_empty(), "{context}: {:?}", ids(&report));
            if calls < n {
                assert!(said.is_ok(), "{context}");
                break;
            }
        }
    }
    assert!(before > 10 && between > 1, "the faults were too gentle: {before} before, {between} between");
}

/// Nothing is explained by a note alone, or by an entry alone, or by a note about another copy.
#[test]
fn only_the_copies_that_were_said_to_be_lost_count_as_lost() {
    let (mut small, ahead) = restored(1);
    let (outside, key) = (small.dir.path().join("outside"), small.practice.place.key.clone());
    let of_before: Vec<_> =
        outside_files(&small).into_iter().map(|path| (path.clone(), std::fs::read(path).unwrap())).collect();
    let mine = open(&small).size();
    outside::note_lost(&*small.world.disk, &outside, &key, mine).unwrap();
    let trouble = open(&small).begin_writing().unwrap_err();
    assert_eq!(trouble.kind, Kind::Behind, "a note without the entry");
    let note = std::fs::read(outside.join(format!("{}.lost", key.name()))).unwrap();
    go_on(&mut open(&small), ahead);
    let put_back = |note: &[u8]| {
        outside_files(&small).iter().for_each(|path| remove(path));
        of_before.iter().for_each(|(path, bytes)| std::fs::write(path, bytes).unwrap());
        std::fs::write(outside.join(format!("{}.lost", key.name())), note).unwrap();
    };
    let seems = |note: &[u8]| {
        put_back(note);
        let report = check(&small.root());
        assert_eq!(open(&small).begin_writing().is_ok(), report.sound, "{:?}", ids(&report));
        ids(&report).into_iter().map(str::to_string).collect::<Vec<_>>()
    };
    assert_eq!(seems(&note), ["outside-missing"]);
    let text = String::from_utf8(note).unwrap();
    let code = text.lines().last().unwrap().split_once(' ').unwrap().1;
    for other in [
        String::new(),
        text.replace("inkfast-lost/v1", "inkfast-lost/v2"),
        text.replace(&format!("\n{mine}\n"), &format!("\n{}\n", mine - 1)),
        text.replace(&format!("\n{mine}\n"), "\n0\n"),
        text.replace(key.name(), "ledger-00112233445566778899aabbccddeeff"),
        text.replace(code, &code.chars().rev().collect::<String>()),
    ] {
        assert_ne!(other, text);
        assert_eq!(seems(other.as_bytes()), ["rewritten-outside-copy"], "{other}");
    }
    small.let_go();
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

/// Another place for a ledger of the same key.
fn begun_at(small: &Small, root: &Path) -> Location {
    let part = |name: &str| root.join(name);
    Location {
        dir: part("ledger"),
        set_aside: part("set-aside"),
        outside: part("outside"),
        lock: part("lock"),
        ..small.practice.place.location()
    }
}

/// Appends an entry with a body of this length, and gives its number.
fn put(small: &Small, writer: &mut Writer, bytes: usize) -> Outcome<u64> {
    let session = &small.practice.session;
    let entry = NewEntry {
        chart: None,
        kind: "clock-remark".into(),
        written: small.practice.now(),
        signers: vec![&session.me.signer],
        body: vec![7; bytes],
        commit: [3; 32],
    };
    Ok(writer.commit(vec![entry], session.vouch.as_ref().unwrap())?[0].seq)
}

#[test]
fn a_ledger_without_an_entry_lacks_no_copy_outside() {
    let (small, begun) = (Small::new(64 << 10, 1), tempfile::tempdir().unwrap());
    let location = begun_at(&small, begun.path());
    drop(Writer::create(&small.world, &location, 64 << 10).unwrap());
    assert!(Writer::open(&small.world, &location, false).unwrap().take_remarks().is_empty());
    // Begun it is all the same, and not to be begun once more.
    let again = Writer::create(&small.world, &location, 64 << 10).map(drop).unwrap_err();
    assert_eq!(again.kind, Kind::Refused);
    // Its first entry may also come later.
    let mut writer = Writer::open(&small.world, &location, false).unwrap();
    assert_eq!(put(&small, &mut writer, 1).unwrap(), 1);
    drop(writer);
    assert_eq!(Writer::open(&small.world, &location, false).unwrap().scan().size(), 1);
}

/// FORMAT.md: a body is at most 4 MiB. What does not fit is refused before anything is written, and work goes on.
#[test]
fn a_body_is_as_long_as_one_may_be_and_no_longer() {
    let (small, begun) = (Small::new(64 << 10, 1), tempfile::tempdir().unwrap());
    let mut writer = Writer::create(&small.world, &begun_at(&small, begun.path()), 64 << 10).unwrap();
    assert_eq!(put(&small, &mut writer, (4 << 20) + 1).unwrap_err().kind, Kind::BadInput);
    assert_eq!(put(&small, &mut writer, 4 << 20).unwrap(), 1);
    assert_eq!(put(&small, &mut writer, 1).unwrap(), 2);
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

//! Promises: what was acknowledged is there, whatever failed when; what was not is never shown in
//! part; and what a power cut left behind is moved aside and said, never dropped.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // In a test a panic is the report.

mod common;

use common::disk::{Fault, MemDisk};
use common::{
    Dice, OWNER, PASSPHRASE, Small, add, attachment, check, check_with, contact_saying, example_data, ids,
    long, open_store, reaction_saying, step,
};
use inkfast::ledger::frame::{self, FrameKind, HEADER};
use inkfast::ledger::segment::{self, Head};
use inkfast::ledger::write::{Receipt, Remark};
use inkfast::practice::attach::attach;
use inkfast::practice::drafts::Kept;
use inkfast::practice::open::{Draft, Practice};
use inkfast::practice::release::{ReleaseOrder, SealTo, release};
use inkfast::record::kinds::Data;
use inkfast::trouble::{Kind, Outcome};
use inkfast::world::{Disk, RealDisk, World};
use std::collections::BTreeMap;
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::Arc;
use std::time::Duration;

/// A store on a disk in memory, at rest.
struct Base {
    small: Small,
    disk: MemDisk,
}

impl Base {
    fn new(segment_bytes: u64) -> Base {
        let disk = MemDisk::default();
        let mut small = Small::on(Some(Arc::new(disk.clone())), segment_bytes, 1).unwrap();
        small.attach(0, "a paper", b"held up to the light");
        small.say(0, "before anything failed");
        small.let_go();
        disk.settle();
        Base { small, disk }
    }

    fn open(&self, disk: &MemDisk) -> Outcome<Practice> {
        open_store(&disk.world(&self.small.world), &self.small.root(), OWNER, PASSPHRASE)
    }

    fn release_file(&self) -> PathBuf {
        self.small.dir.path().join("package.age")
    }
}

/// Digest of every entry, by number.
fn shown(practice: &Practice) -> BTreeMap<u64, String> {
    practice
        .all()
        .map(|at| at.and_then(|at| practice.entry(&at)).unwrap())
        .map(|e| (e.at.seq, e.digest))
        .collect()
}

fn draft(practice: &Practice, tag: &str, data: Data) -> Draft {
    Draft::new(Some(tag), data, practice.now())
}

type Operation = fn(&Base, &mut Practice) -> Outcome<Vec<Receipt>>;

fn one(base: &Base, practice: &mut Practice) -> Outcome<Vec<Receipt>> {
    add(practice, Some(&base.small.charts[0]), contact_saying("one more")).map(|r| vec![r])
}

fn group(base: &Base, practice: &mut Practice) -> Outcome<Vec<Receipt>> {
    let tag = &base.small.charts[0];
    let drafts = vec![
        draft(practice, tag, contact_saying("the first of two")),
        draft(practice, tag, reaction_saying("the second of two")),
    ];
    practice.append_group(drafts, None)
}

fn paper(base: &Base, practice: &mut Practice) -> Outcome<Vec<Receipt>> {
    let now = practice.now();
    let data = attachment("another paper");
    attach(practice, &base.small.charts[0], &mut &[7u8; 3000][..], data, now).map(|r| vec![r])
}

fn roster(_: &Base, practice: &mut Practice) -> Outcome<Vec<Receipt>> {
    add(practice, None, example_data("wording")).map(|r| vec![r])
}

fn given_out(base: &Base, practice: &mut Practice) -> Outcome<Vec<Receipt>> {
    let Data::Release(data) = example_data("release") else { panic!() };
    let order = ReleaseOrder::new(
        *data,
        SealTo::Recipients(vec![base.small.recovery.recipient()]),
        base.release_file(),
        practice.now(),
    );
    release(practice, &base.small.charts[0], order).map(|_| Vec::new())
}

/// Lets every call of an operation fail in turn. After each: everything acknowledged is there, at most
/// the whole group of the failed operation was added, the store is sound, and work goes on.
/// How many entries an operation makes, and whether all or none of them are there after a failure.
#[derive(Clone, Copy)]
enum Makes {
    Together(u64),
    OneByOne(u64),
}

fn every_call(base: &Base, what: &str, operation: Operation, makes: Makes, stride: usize) {
    let before = shown(&base.open(&base.disk).unwrap());
    let mut number = 0;
    for fault in [Fault::Once, Fault::Dead, Fault::Full] {
        for n in (1..).step_by(step(stride, (stride / 6).max(1))) {
            let disk = base.disk.fork();
            disk.fail(n, fault);
            let outcome = base.open(&disk).and_then(|mut p| operation(base, &mut p));
            let call = disk.last_call();
            let calls = disk.heal();
            let context = format!("{what}: {fault:?} at call {n} of {calls} ({call})");
            after_failure(base, &disk, &before, &outcome, makes, &context);
            number += 1;
            if calls < n {
                assert!(outcome.is_ok(), "{context}: {}", outcome.unwrap_err());
                break;
            }
        }
    }
    assert!(number > 6, "{what}: nothing was made to fail");
}

fn after_failure(
    base: &Base,
    disk: &MemDisk,
    before: &BTreeMap<u64, String>,
    outcome: &Outcome<Vec<Receipt>>,
    makes: Makes,
    context: &str,
) {
    let world = disk.world(&base.small.world);
    let report = check_with(&world, &base.small.root(), &[]).unwrap();
    assert!(report.sound, "{context}: {:?}", report.findings);
    let mut practice = base.open(disk).unwrap();
    let after = shown(&practice);
    assert!(
        before.iter().all(|(seq, digest)| after.get(seq) == Some(digest)),
        "{context}: something is gone"
    );
    let more = (after.len() - before.len()) as u64;
    match outcome {
        Ok(receipts) => {
            assert!(receipts.iter().all(|r| after.get(&r.seq) == Some(&r.leaf)), "{context}: not there");
            let (Makes::Together(most) | Makes::OneByOne(most)) = makes;
            assert_eq!(more, most, "{context}");
        }
        Err(trouble) => {
            match makes {
                Makes::Together(most) => {
                    assert!(more == 0 || more == most, "{context}: {more} of a group of {most} are shown");
                }
                Makes::OneByOne(most) => assert!(more <= most, "{context}: {more} of {most}"),
            }
            assert!(!trouble.safe.is_empty() && !trouble.next.is_empty(), "{context}: {trouble}");
        }
    }
    let receipt = add(&mut practice, Some(&base.small.charts[0]), contact_saying("and on"))
        .unwrap_or_else(|t| panic!("{context}: the next append: {t}"));
    drop(practice);
    let report = check_with(&world, &base.small.root(), &[]).unwrap();
    assert!(report.sound, "{context}, after the next: {:?}", report.findings);
    assert_eq!(report.entries, receipt.seq, "{context}");
}

#[test]
fn any_call_of_an_append_may_fail() {
    let base = Base::new(64 << 10);
    every_call(&base, "append", one, Makes::Together(1), 3);
    every_call(&base, "append outside any chart", roster, Makes::Together(1), 7);
    every_call(&base, "group", group, Makes::Together(2), 5);
}

#[test]
fn any_call_of_an_attachment_or_a_release_may_fail() {
    let base = Base::new(64 << 10);
    every_call(&base, "attach", paper, Makes::Together(2), 7);
    // The release is on record before the package is made, and what was made after it.
    every_call(&base, "release", given_out, Makes::OneByOne(2), 37);
}

#[test]
fn any_call_of_beginning_a_segment_may_fail() {
    let mut base = Base::new(20 << 10);
    // Fill the segment up to where the next entry does not fit any more.
    let mut practice = base.small.open_as(OWNER, PASSPHRASE).unwrap();
    let segment = |p: &Practice| p.scan().head.as_ref().unwrap().number;
    let first = segment(&practice);
    let previous = loop {
        let before = base.disk.fork();
        one(&base, &mut practice).unwrap();
        if segment(&practice) != first {
            break before;
        }
    };
    drop(practice);
    base.disk = previous;
    every_call(&base, "new segment", one, Makes::Together(1), 7);
}

/// A group never spans two segments (FORMAT.md). A stop right behind the head of a new one leaves it empty: a group that
/// fits is written there, and only one that does not begins another.
#[test]
fn a_segment_that_was_only_prepared_is_written_to() {
    let base = Base::new(20 << 10);
    let mut practice = base.small.open_as(OWNER, PASSPHRASE).unwrap();
    let segment = |p: &Practice| p.scan().head.as_ref().unwrap().number;
    let first = segment(&practice);
    while segment(&practice) == first {
        one(&base, &mut practice).unwrap();
    }
    drop(practice);
    let (root, tag) = (base.small.root(), &base.small.charts[0]);
    let prepared = base.disk.fork();
    prepared.change(&segment::path(&root.join("ledger"), first + 1), |bytes| {
        let head = Head::from_text(&bytes[HEADER..head_len(bytes)]).unwrap();
        let short = Head { bytes: 20 << 10, ..head };
        bytes.clear();
        frame::write(bytes, FrameKind::Segment, short.to_text().as_bytes(), &[]);
        bytes.resize(20 << 10, 0);
    });
    for copy in prepared.files(&root.join("../outside")) {
        prepared.drop_file(&copy);
    }
    for (entries, last) in [(1, first + 1), (20, first + 2)] {
        let disk = prepared.fork();
        let mut practice = base.open(&disk).unwrap();
        assert_eq!(segment(&practice), first + 1);
        let drafts = (0..entries).map(|_| draft(&practice, tag, contact_saying("one more"))).collect();
        practice.append_group(drafts, None).unwrap();
        assert_eq!(segment(&practice), last, "{entries} entries");
        drop(practice);
        let report = check_with(&disk.world(&base.small.world), &root, &[]).unwrap();
        assert!(report.sound, "{:?}", report.findings);
    }
}

#[test]
fn any_call_of_setting_up_may_fail() {
    let whole = MemDisk::default();
    whole.fail(u64::MAX, Fault::Once);
    drop(Small::on(Some(Arc::new(whole.clone())), 64 << 10, 0).unwrap());
    let calls = whole.heal();
    for n in (1..=calls).step_by(step(3, 1)) {
        for fault in [Fault::Once, Fault::Dead] {
            let disk = MemDisk::default();
            disk.fail(n, fault);
            // Only the copy outside the store may fail without set-up failing; it is remarked.
            match Small::on(Some(Arc::new(disk.clone())), 64 << 10, 0) {
                Err(trouble) => assert!(!trouble.next.is_empty(), "call {n}: {trouble}"),
                Ok(mut small) => {
                    disk.heal();
                    let remarks = small.practice.take_remarks();
                    assert!(
                        fault == Fault::Dead || matches!(remarks[..], [] | [Remark::OutsideNotReplaced(_)]),
                        "call {n}: {remarks:?}"
                    );
                    let report = check_with(&small.world, &small.root(), &[]).unwrap();
                    assert!(report.sound && report.entries == 3, "call {n}: {:?}", ids(&report));
                }
            }
        }
    }
}

#[test]
fn after_a_failed_sync_nothing_is_acknowledged_any_more() {
    let base = Base::new(64 << 10);
    let disk = base.disk.fork();
    let mut practice = base.open(&disk).unwrap();
    one(&base, &mut practice).unwrap();
    let before = shown(&practice);
    disk.fail(1, Fault::Syncs(1));
    let first = one(&base, &mut practice).unwrap_err();
    assert_eq!(first.kind, Kind::Disk);
    assert!(first.next.contains("look whether the entry is there"), "{first}");
    // Written it may be and durable it may not: neither is claimed.
    assert!(first.safe.contains("Whether this entry was kept will show"), "{first}");
    // The disk would say yes now, but what it said no to may be lost.
    for _ in 0..3 {
        let again = one(&base, &mut practice).unwrap_err();
        assert!(again.what.contains("An earlier write failed"), "{again}");
    }
    drop(practice);
    disk.heal();
    // The power goes: the bytes of the failed sync are lost, whatever was read meanwhile.
    for seed in 0..8 {
        let disk = disk.cut(&mut Dice::new(seed));
        let mut practice = base.open(&disk).unwrap();
        assert_eq!(shown(&practice), before);
        one(&base, &mut practice).unwrap();
    }
}

#[test]
fn a_power_cut_at_any_call_keeps_what_was_acknowledged() {
    for (name, base) in [("one segment", Base::new(64 << 10)), ("rolling", Base::new(20 << 10))] {
        let (mut aside, mut torn) = (0, 0);
        for seed in 0..if long() { 150 } else { 50 } {
            let mut dice = Dice::new(seed);
            let disk = base.disk.fork();
            let fault = if dice.below(3) == 0 { Fault::Dead } else { Fault::Power };
            disk.fail(1 + dice.below(170), fault);
            let mut acknowledged = shown(&base.open(&base.disk).unwrap());
            if let Ok(mut practice) = base.open(&disk) {
                for operation in [one, group, paper, group, one, group, group] as [Operation; 7] {
                    match operation(&base, &mut practice) {
                        Ok(receipts) => acknowledged.extend(receipts.into_iter().map(|r| (r.seq, r.leaf))),
                        Err(_) => break,
                    }
                }
            }
            let cut = disk.cut(&mut dice);
            let moved = reopened(&base, &cut, &acknowledged, &format!("{name}, seed {seed}"));
            aside += u32::from(moved > 0);
            torn += u32::from(moved > 600);
        }
        assert!(aside > 4 && torn > 2, "{name}: the cuts were too gentle: {aside} moved aside, {torn} torn");
    }
}

/// Opens what a power cut left, and returns how many bytes were moved aside.
fn reopened(base: &Base, disk: &MemDisk, acknowledged: &BTreeMap<u64, String>, context: &str) -> usize {
    let root = base.small.root();
    let before: BTreeMap<PathBuf, Vec<u8>> = disk
        .files(&root.join("ledger"))
        .into_iter()
        .map(|p| (p.clone(), disk.get_file(&p).unwrap()))
        .collect();
    let mut practice = base.open(disk).unwrap();
    let after = shown(&practice);
    for (seq, digest) in acknowledged {
        assert_eq!(after.get(seq), Some(digest), "{context}: entry {seq} was acknowledged");
    }
    let end = practice.scan().end.unwrap();
    let remarks = practice.begin_writing().unwrap_or_else(|t| panic!("{context}: {t}"));
    // Every byte behind the durable end is in a file that a remark names.
    let mut kept = Vec::new();
    for remark in &remarks {
        match remark {
            Remark::SetAside { file, .. } => kept.extend(disk.get_file(file).unwrap()),
            // The copy outside is not synced: where both are torn it begins anew, and says so.
            Remark::OutsideMissing | Remark::OutsideUnreadable => {}
            other => panic!("{context}: {other:?}"),
        }
    }
    let mut behind = Vec::new();
    for (path, bytes) in before.iter().filter(|(p, _)| p.extension().is_some_and(|e| e == "seg")) {
        let number: u32 = path.file_stem().unwrap().to_str().unwrap().parse().unwrap();
        if number >= end.segment {
            let from = if number == end.segment { end.offset as usize } else { head_len(bytes) };
            let tail = &bytes[from..];
            behind.extend_from_slice(&tail[..tail.iter().rposition(|b| *b != 0).map_or(0, |last| last + 1)]);
        }
    }
    assert_eq!(kept.len(), behind.len(), "{context}: not everything is kept aside: {remarks:?}");
    assert!(kept == behind, "{context}: what is kept aside is not what was there");
    one(base, &mut practice).unwrap_or_else(|t| panic!("{context}: the next append: {t}"));
    drop(practice);
    let report = check_with(&disk.world(&base.small.world), &root, &[]).unwrap();
    assert!(report.sound, "{context}: {:?}", report.findings);
    kept.len()
}

/// A write that stopped leaves whole entries and at most one cut short; only the whole ones are counted.
#[test]
fn how_many_whole_entries_were_set_aside_is_said() {
    let base = Base::new(64 << 10);
    let written = base.disk.fork();
    let mut practice = base.open(&written).unwrap();
    let end = practice.scan().end.unwrap();
    group(&base, &mut practice).unwrap();
    drop(practice);
    let path = segment::path(&base.small.root().join("ledger"), end.segment);
    let bytes = written.get_file(&path).unwrap();
    let behind = |at: usize| at + head_len(&bytes[at..]);
    let first = end.offset as usize;
    let (second, checkpoint) = (behind(first), behind(behind(first)));
    for (cut, whole) in [(checkpoint, 2), (checkpoint - 40, 1), (second, 1), (second - 40, 0)] {
        let disk = written.fork();
        disk.change(&path, |bytes| bytes[cut..].fill(0));
        for copy in disk.files(&base.small.root().join("../outside")) {
            disk.drop_file(&copy);
        }
        let remarks = base.open(&disk).unwrap().begin_writing().unwrap();
        let counted = |remark: &Remark| match remark {
            Remark::SetAside { entries, .. } => Some(*entries),
            _ => None,
        };
        let said: Vec<u64> = remarks.iter().filter_map(counted).collect();
        assert_eq!(said, [whole], "cut at {cut}: {remarks:?}");
    }
}

fn head_len(segment: &[u8]) -> usize {
    inkfast::ledger::frame::Header::read(segment).unwrap().frame_len()
}

/// Runs this test program again as a writer of the store in `root`.
fn writer(root: &Path, rounds: u64) -> Command {
    let mut command = Command::new(std::env::current_exe().unwrap());
    command
        .args(["--exact", "a_writer_on_its_own", "--nocapture", "--test-threads=1"])
        .env("INKFAST_TEST_STORE", root)
        .env("INKFAST_TEST_ROUNDS", rounds.to_string())
        .stdout(Stdio::piped())
        .stderr(Stdio::null());
    command
}

/// Lines `ack NUMBER DIGEST` of a writer.
fn acknowledgements(out: impl std::io::Read) -> Vec<(u64, String)> {
    let lines = BufReader::new(out).lines().map_while(Result::ok);
    lines
        .filter_map(|l| {
            let at = l.find("ack ")?;
            let mut words = l[at..].split(' ').skip(1);
            let (seq, digest) = (words.next()?.parse().ok()?, words.next()?.to_string());
            // A line cut by the kill was not said to anybody.
            (digest.len() == 64).then_some((seq, digest))
        })
        .collect()
}

/// Run by other tests as a process of its own; without the store they name it has nothing to do.
#[test]
fn a_writer_on_its_own() {
    use std::io::Write;
    let Some(root) = std::env::var_os("INKFAST_TEST_STORE").map(PathBuf::from) else { return };
    let rounds: u64 = std::env::var("INKFAST_TEST_ROUNDS").unwrap().parse().unwrap();
    let world = World::real();
    for n in 0..rounds {
        // Opened anew each time, as the command does.
        let mut practice = open_store(&world, &root, OWNER, PASSPHRASE).unwrap();
        let tag = practice.chart_tags().unwrap()[0].clone();
        let mut drafts = vec![draft(&practice, &tag, contact_saying("from a process of its own"))];
        if n % 3 == 2 {
            drafts.push(draft(&practice, &tag, reaction_saying("two at once")));
        }
        let receipts = match practice.append_group(drafts, None) {
            Ok(receipts) => receipts,
            Err(t) if t.kind == Kind::Busy => continue,
            Err(t) => panic!("{t}"),
        };
        let mut out = std::io::stdout().lock();
        for receipt in receipts {
            writeln!(out, "ack {} {}", receipt.seq, receipt.leaf).unwrap();
        }
        out.flush().unwrap();
    }
}

#[test]
fn a_writer_killed_at_any_moment_lost_nothing_it_had_acknowledged() {
    let mut small = Small::new(64 << 10, 1);
    small.let_go();
    let mut acknowledged = BTreeMap::new();
    let mut dice = Dice::new(11);
    for round in 0..if long() { 50 } else { 10 } {
        let mut child = writer(&small.root(), 10_000).spawn().unwrap();
        let out = child.stdout.take().unwrap();
        let reader = std::thread::spawn(move || acknowledgements(out));
        std::thread::sleep(Duration::from_millis(120 + dice.below(260)));
        child.kill().unwrap();
        child.wait().unwrap();
        acknowledged.extend(reader.join().unwrap());
        let report = check(&small.root());
        let right = report.sound || report.findings.iter().all(|f| f.id == "bytes-behind-end");
        assert!(right, "round {round}: {:?}", report.findings);
        let practice = small.open_as(OWNER, PASSPHRASE).unwrap();
        let after = shown(&practice);
        assert!(acknowledged.iter().all(|(seq, digest)| after.get(seq) == Some(digest)), "round {round}");
    }
    assert!(acknowledged.len() > 5, "the writers were killed before they wrote: {}", acknowledged.len());
    let mut practice = small.open_as(OWNER, PASSPHRASE).unwrap();
    let tag = small.charts[0].clone();
    add(&mut practice, Some(&tag), contact_saying("at last")).unwrap();
    assert!(check(&small.root()).sound);
}

#[test]
fn two_writers_take_turns_and_lose_nothing() {
    let mut small = Small::new(64 << 10, 1);
    small.let_go();
    let before = small.practice.size();
    let children: Vec<_> = (0..2).map(|_| writer(&small.root(), 6).spawn().unwrap()).collect();
    let mut seen = BTreeMap::new();
    for mut child in children {
        for (seq, digest) in acknowledgements(child.stdout.take().unwrap()) {
            assert!(seen.insert(seq, digest).is_none(), "two entries were acknowledged as number {seq}");
        }
        assert!(child.wait().unwrap().success());
    }
    let practice = small.open_as(OWNER, PASSPHRASE).unwrap();
    let after = shown(&practice);
    assert_eq!(after.len() as u64, before + seen.len() as u64);
    assert!(seen.iter().all(|(seq, digest)| after.get(seq) == Some(digest)));
    assert!(seen.len() >= 12, "{}", seen.len());
    assert!(check(&small.root()).sound);
    assert!(RealDisk.there(&small.root().join("lock")).unwrap());
}

/// What is half written is there or can't be looked at; never is it taken for nothing, since the next words would then be
/// written over it.
#[test]
fn a_draft_is_there_whichever_call_fails() {
    let base = Base::new(64 << 10);
    let kept = |practice: &Practice| Kept {
        kind: "visit".to_string(),
        chart: Some(base.small.charts[0].clone()),
        by: OWNER.to_string(),
        begun: practice.now(),
        data: serde_json::json!({ "words": "tender on the right" }),
    };
    let open =
        |disk: &MemDisk| open_store(&disk.world(&base.small.world), &base.small.root(), OWNER, PASSPHRASE);
    let first = open(&base.disk).unwrap();
    first.keep_draft(&kept(&first)).unwrap();
    base.disk.settle();
    let (mut refused, tag) = (0, Some(&*base.small.charts[0]));
    for n in 1.. {
        let disk = base.disk.fork();
        disk.fail(n, Fault::Once);
        let found = open(&disk).and_then(|practice| practice.draft("visit", tag));
        let call = disk.last_call();
        match found {
            Ok(draft) => {
                assert!(draft.is_some(), "call {n} ({call}) failed, and the draft seemed not to be there")
            }
            Err(_) => refused += 1,
        }
        if disk.heal() < n {
            break;
        }
    }
    assert!(refused > 2, "the faults were too gentle: {refused}");
}

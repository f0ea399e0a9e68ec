//! Promise: any changed, moved, removed, added, swapped or cut byte of truth is found and named, and
//! a rebuilt ledger is found with anything that was kept outside.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // In a test a panic is the report.

mod common;

use common::disk::MemDisk;
use common::room::Room;
use common::{DAY, Small, check_with, contact_saying, each, ids, moment, step};
use inkfast::ledger::checkpoint::Checkpoint;
use inkfast::ledger::frame::{self, FrameKind, HEADER, Header};
use inkfast::ledger::leaf::{Leaf, chart_tag};
use inkfast::ledger::segment::{self, Head};
use inkfast::ledger::tree::{Frontier, leaf_hash};
use inkfast::ledger::write::{Location, NewEntry, Writer, read_entry};
use inkfast::record::envelope::Record;
use inkfast::seal::age_file::{To, seal};
use inkfast::seal::body::Body;
use inkfast::seal::note::Signer;
use inkfast::verify::finding::{FindingId, Report, Severity, Where};
use inkfast::verify::slip::{code, read_slip};
use std::path::{Path, PathBuf};
use zeroize::Zeroizing;

/// A store of two charts, several segments and two attachments, loaded into memory.
struct Kept {
    small: Small,
    disk: MemDisk,
}

impl Kept {
    fn new() -> Kept {
        let mut small = Small::new(22 << 10, 2);
        small.attach(0, "a paper", &[1; 700]);
        small.say(0, "the first thing");
        small.say(1, "the second thing");
        small.attach(1, "another paper", b"short");
        let disk = MemDisk::load(small.dir.path());
        let kept = Kept { small, disk };
        assert!(kept.segments().len() >= 3, "{:?}", kept.segments());
        let report = kept.check(&kept.disk);
        assert!(report.sound && report.entries >= 12, "{:?}", report.findings);
        kept
    }

    fn segments(&self) -> Vec<PathBuf> {
        self.disk.files(&self.small.root().join("ledger"))
    }

    fn check(&self, disk: &MemDisk) -> Report {
        check_with(&disk.world(&self.small.world), &self.small.root(), &[]).unwrap()
    }

    /// The report on a store in which one thing was changed.
    fn changed(&self, change: impl FnOnce(&MemDisk)) -> Report {
        let disk = self.disk.fork();
        change(&disk);
        self.check(&disk)
    }
}

/// True when something is wrong, and every wrong thing has words and a place.
fn named(report: &Report) -> bool {
    let wrong = || report.findings.iter().filter(|f| f.severity == Severity::Wrong);
    !report.sound
        && wrong().next().is_some()
        && wrong().all(|f| !f.what.is_empty() && !f.still_provable.is_empty() && !f.next.is_empty())
        && wrong().all(|f| f.place.segment.is_some() || f.place.file.is_some() || f.place.seq.is_some())
}

/// True when a finding points at the file.
fn points_at(report: &Report, path: &Path) -> bool {
    let name = path.file_name().unwrap().to_str().unwrap();
    report.findings.iter().filter(|f| f.severity == Severity::Wrong).any(|f| {
        f.place.segment.is_some_and(|n| segment::file_name(n) == name)
            || f.place.file.as_deref().is_some_and(|file| file.ends_with(name))
    })
}

/// Where the frames of a segment end.
fn used(bytes: &[u8]) -> usize {
    bytes.iter().rposition(|b| *b != 0).map_or(0, |last| last + 1)
}

fn flip(path: &Path, bit: usize) -> impl FnOnce(&MemDisk) {
    move |disk| disk.change(path, |bytes| bytes[bit / 8] ^= 1 << (bit % 8))
}

#[test]
fn every_flipped_bit_of_the_ledger_is_found_and_named() {
    let kept = Kept::new();
    let mut tried = 0;
    for path in kept.segments() {
        let bytes = kept.disk.get_file(&path).unwrap();
        let written = used(&bytes) * 8;
        // Every bit of the first header; then a stride without a common divisor with the bits of a byte.
        let zeros = (written..bytes.len() * 8).step_by(step(9_973, 997));
        let bits = (0..HEADER * 8).chain((HEADER * 8..written).step_by(step(199, 13))).chain(zeros);
        let bits: Vec<usize> = bits.collect();
        each(&bits, |bit| {
            let report = kept.changed(flip(&path, bit));
            let context =
                || format!("{} bit {bit} (byte {}): {:?}", path.display(), bit / 8, report.findings);
            assert!(named(&report), "{}", context());
            assert!(points_at(&report, &path), "{}", context());
        });
        tried += bits.len();
    }
    assert!(tried > 800, "{tried}");
}

#[test]
fn a_flipped_bit_is_named_with_its_entry_kind_and_chart() {
    let kept = Kept::new();
    let at = kept.small.practice.scan().entries.iter().find(|e| e.chart.is_some()).unwrap().clone();
    let path = segment::path(&kept.small.root().join("ledger"), at.at.segment);
    let in_body = at.at.offset as usize + HEADER + at.leaf_len as usize + 100;
    let report = kept.changed(flip(&path, in_body * 8 + 3));
    let found = report.findings.iter().find(|f| f.id == FindingId::BodyChanged.id()).unwrap();
    assert_eq!(found.place.seq, Some(at.seq));
    assert_eq!(found.place.kind.as_deref(), Some("chart-opened"));
    assert_eq!(found.place.chart.as_deref().and_then(chart_tag), at.chart);
    assert_eq!((found.place.segment, found.place.offset), (Some(at.at.segment), Some(at.at.offset)));
}

#[test]
fn every_flipped_bit_and_every_cut_of_an_attachment_is_found_and_named() {
    let kept = Kept::new();
    let files = kept.disk.files(&kept.small.root().join("files"));
    assert_eq!(files.len(), 2);
    for path in files {
        let bytes = kept.disk.get_file(&path).unwrap();
        for bit in (0..bytes.len() * 8).step_by(step(83, 7)) {
            let report = kept.changed(flip(&path, bit));
            assert_eq!(ids(&report), ["file-changed"], "bit {bit}");
            assert!(points_at(&report, &path) && report.findings[0].place.seq.is_some());
        }
        for len in (0..bytes.len()).step_by(step(29, 3)) {
            assert!(points_at(&kept.changed(|d| d.change(&path, |b| b.truncate(len))), &path), "{len} bytes");
        }
        let report = kept.changed(|d| d.drop_file(&path));
        assert_eq!(ids(&report), ["file-missing"]);
        let report = kept.changed(|d| d.put_file(&path.with_file_name("letter.pdf"), vec![1]));
        assert_eq!(ids(&report), ["stranger-file"]);
        // Whole and under its own name, but in a folder in which nobody looks for it.
        let elsewhere = path.parent().unwrap().with_file_name("zz").join(path.file_name().unwrap());
        let report = kept.changed(|d| {
            d.drop_file(&path);
            d.put_file(&elsewhere, bytes.clone());
        });
        assert_eq!(ids(&report), ["stranger-file", "file-missing"]);
    }
}

#[test]
fn a_segment_cut_at_any_length_is_found() {
    let kept = Kept::new();
    for path in kept.segments() {
        let len = kept.disk.get_file(&path).unwrap().len();
        for cut in (0..len).step_by(step(331, 29)) {
            let report = kept.changed(|d| d.change(&path, |b| b.truncate(cut)));
            assert!(named(&report), "{} cut to {cut}: {:?}", path.display(), report.findings);
            assert!(points_at(&report, &path), "{} cut to {cut}", path.display());
        }
        let report = kept.changed(|d| d.change(&path, |b| b.extend_from_slice(&[0; 64])));
        assert!(ids(&report).contains(&"segment-length"), "{:?}", ids(&report));
    }
}

#[test]
fn the_beginning_of_a_ledger_and_each_of_its_groups_cut_off_is_found_with_the_copy_outside() {
    let kept = Kept::new();
    let root = kept.small.root();
    // Cut behind each checkpoint, with zeros where something stood: sound in itself but for the length.
    for path in kept.segments() {
        let bytes = kept.disk.get_file(&path).unwrap();
        let number: u32 = path.file_stem().unwrap().to_str().unwrap().parse().unwrap();
        for (at, header) in frames(&bytes) {
            if header.kind != FrameKind::Checkpoint {
                continue;
            }
            let disk = kept.disk.fork();
            disk.change(&path, |b| b[at + header.frame_len()..].fill(0));
            for later in kept.segments().iter().filter(|p| **p > path) {
                disk.drop_file(later);
            }
            let cut_nothing =
                disk.get_file(&path).unwrap() == bytes && number as usize == kept.segments().len();
            let report = kept.check(&disk);
            assert_eq!(report.sound, cut_nothing, "{:?}", report.findings);
            assert!(cut_nothing || ids(&report)[0] == "behind-outside-copy", "{:?}", ids(&report));
            // Without anything kept outside nobody can tell, and the report says so.
            for outside in disk.files(&root.join("../outside")) {
                disk.drop_file(&outside);
            }
            let report = kept.check(&disk);
            assert!(report.sound && ids(&report).contains(&"outside-missing"), "{:?}", report.findings);
            assert!(report.limits.iter().any(|l| l.contains("shortened")));
        }
    }
}

#[test]
fn segments_swapped_removed_doubled_or_added_are_found() {
    let kept = Kept::new();
    let all = kept.segments();
    let bytes: Vec<Vec<u8>> = all.iter().map(|p| kept.disk.get_file(p).unwrap()).collect();
    let wrong = |what: String, change: &dyn Fn(&MemDisk)| {
        let report = kept.changed(change);
        assert!(named(&report), "{what}: {:?}", report.findings);
    };
    for i in 0..all.len() {
        wrong(format!("without {}", i + 1), &|d| d.drop_file(&all[i]));
        for j in (0..all.len()).filter(|j| *j != i) {
            wrong(format!("{} in the place of {}", i + 1, j + 1), &|d| d.put_file(&all[j], bytes[i].clone()));
            wrong(format!("{} and {} swapped", i + 1, j + 1), &|d| {
                d.put_file(&all[j], bytes[i].clone());
                d.put_file(&all[i], bytes[j].clone());
            });
        }
        let next = segment::path(&kept.small.root().join("ledger"), all.len() as u32 + 1);
        wrong(format!("{} once more at the end", i + 1), &|d| d.put_file(&next, bytes[i].clone()));
        wrong("a file of another name".into(), &|d| {
            d.put_file(&all[i].with_extension("bak"), bytes[i].clone())
        });
    }
    wrong("moved up".into(), &|d| {
        d.drop_file(&all[0]);
        for (to, from) in all.iter().zip(&bytes[1..]) {
            d.put_file(to, from.clone());
        }
        d.drop_file(&all[all.len() - 1]);
    });
}

/// The frames of a segment and where they lie.
fn frames(bytes: &[u8]) -> Vec<(usize, Header)> {
    let mut at = 0;
    let mut found = Vec::new();
    while let Some(header) = Header::read(&bytes[at..]) {
        found.push((at, header));
        at += header.frame_len();
    }
    found
}

/// A segment with its frames in another order, or other frames; the length stays.
fn rebuilt(bytes: &[u8], frames: &[&[u8]]) -> Vec<u8> {
    let mut out = frames.concat();
    assert!(out.len() <= bytes.len(), "no room");
    out.resize(bytes.len(), 0);
    out
}

/// Each segment says which entry it begins with and which leaf lies before it (FORMAT.md): either shows that something
/// was taken out between two, though the head itself is whole.
#[test]
fn a_segment_that_does_not_follow_the_one_before_it_is_named() {
    let kept = Kept::new();
    let path = &kept.segments()[1];
    let bytes = kept.disk.get_file(path).unwrap();
    let length = Header::read(&bytes).unwrap().frame_len();
    let head = Head::from_text(&bytes[HEADER..length]).unwrap();
    for other in
        [Head { first_seq: head.first_seq + 1, ..head.clone() }, Head { prev: Some([7; 32]), ..head }]
    {
        let mut frame = Vec::new();
        frame::write(&mut frame, FrameKind::Segment, other.to_text().as_bytes(), &[]);
        let report = kept.changed(|d| d.change(path, |b| drop(b.splice(..length, frame))));
        assert_eq!(ids(&report), ["segment-head"]);
        let place = Where { segment: Some(2), offset: Some(0), ..Where::default() };
        assert_eq!(report.findings[0].place, place);
    }
}

/// A file that is no segment lies in the folder, and at no place in any segment.
#[test]
fn a_strange_file_among_the_segments_is_named_by_its_folder() {
    let kept = Kept::new();
    let report = kept.changed(|d| d.put_file(&kept.segments()[0].with_extension("bak"), vec![1]));
    assert_eq!(ids(&report), ["stranger-file"]);
    let folder = Where { file: Some("ledger/".to_string()), ..Where::default() };
    assert_eq!(report.findings[0].place, folder);
}

/// What a power cut left behind the end is no fault, and is shown where it lies.
#[test]
fn an_unfinished_write_is_named_with_its_place() {
    let kept = Kept::new();
    let end = kept.small.practice.scan().end.unwrap();
    let path = segment::path(&kept.small.root().join("ledger"), end.segment);
    let mut half = Vec::new();
    frame::write(&mut half, FrameKind::Entry, &[b'a'; 300], &[b'b'; 300]);
    let begin = end.offset as usize;
    let report = kept.changed(|d| d.change(&path, |b| b[begin..begin + 9].copy_from_slice(&half[..9])));
    assert!(report.sound);
    assert_eq!(ids(&report), ["unfinished-write"]);
    let place = Where { segment: Some(end.segment), offset: Some(end.offset), ..Where::default() };
    assert_eq!(report.findings[0].place, place);
}

#[test]
fn frames_removed_swapped_doubled_or_taken_from_another_store_are_found() {
    let kept = Kept::new();
    let other = Kept::new();
    let stranger = other.disk.get_file(&other.segments()[0]).unwrap();
    let strange: Vec<&[u8]> =
        frames(&stranger).iter().map(|(at, h)| &stranger[*at..at + h.frame_len()]).collect();
    for path in kept.segments() {
        let bytes = kept.disk.get_file(&path).unwrap();
        let own: Vec<&[u8]> = frames(&bytes).iter().map(|(at, h)| &bytes[*at..at + h.frame_len()]).collect();
        let mut variants: Vec<(String, Vec<&[u8]>)> = Vec::new();
        for i in 1..own.len() {
            let mut without = own.clone();
            without.remove(i);
            // A checkpoint in the middle that is gone takes no entry with it: the next one vouches for all.
            if frames(&bytes)[i].1.kind == FrameKind::Entry {
                variants.push((format!("frame {i} removed"), without));
            }
            let mut moved = own.clone();
            moved.swap(i, if i + 1 < own.len() { i + 1 } else { 1 });
            variants.push((format!("frame {i} swapped"), moved));
            let mut doubled = own.clone();
            doubled.insert(i, own[i]);
            if doubled.concat().len() <= bytes.len() {
                variants.push((format!("frame {i} doubled"), doubled));
            }
            for (n, frame) in strange.iter().enumerate() {
                let mut replaced = own.clone();
                replaced[i] = frame;
                if replaced.concat().len() <= bytes.len() {
                    variants.push((format!("frame {i} replaced by {n} of another store"), replaced));
                }
            }
        }
        for (what, variant) in variants.iter().step_by(step(3, 1)) {
            let same_checkpoint = variant.concat() == own.concat();
            let report = kept.changed(|d| d.put_file(&path, rebuilt(&bytes, variant)));
            assert!(same_checkpoint || named(&report), "{}: {what}: {:?}", path.display(), report.findings);
        }
    }
}

/// Where a ledger is written that is to take another one's place.
fn workshop(dir: &Path, key: &Signer) -> Location {
    Location {
        dir: dir.join("ledger"),
        set_aside: dir.join("set-aside"),
        outside: dir.join("outside"),
        lock: dir.join("lock"),
        key: key.verifier().clone(),
    }
}

/// Gives an entry of this number another body and commitment, or the same.
type Change<'a> = dyn Fn(u64, &Leaf, Vec<u8>, [u8; 32]) -> (Vec<u8>, [u8; 32]) + 'a;

/// Writes the ledger again, each entry as `change` gives it, and puts it in place of the first.
fn write_again(kept: &Kept, author: &Signer, vouch: &Signer, change: &Change<'_>) -> MemDisk {
    let (small, dir) = (&kept.small, tempfile::tempdir().unwrap());
    let mut writer = Writer::create(&small.world, &workshop(dir.path(), vouch), 22 << 10).unwrap();
    for at in &small.practice.scan().entries {
        let (leaf, body) = read_entry(&small.world, &small.root().join("ledger"), at).unwrap();
        let (leaf, _) = Leaf::read(&leaf).unwrap();
        let commit = inkfast::seal::body::unhex32(&leaf.commit).unwrap();
        let (body, commit) = change(at.seq, &leaf, body, commit);
        let entry = NewEntry {
            chart: leaf.chart.clone(),
            kind: leaf.kind.clone(),
            written: leaf.written,
            signers: vec![author],
            body,
            commit,
        };
        writer.commit(vec![entry], vouch).unwrap();
    }
    drop(writer);
    let disk = kept.disk.fork();
    for path in kept.segments() {
        disk.drop_file(&path);
    }
    for item in std::fs::read_dir(dir.path().join("ledger")).unwrap() {
        let item = item.unwrap();
        disk.put_file(
            &small.root().join("ledger").join(item.file_name()),
            std::fs::read(item.path()).unwrap(),
        );
    }
    disk
}

fn as_it_was(_: u64, _: &Leaf, body: Vec<u8>, commit: [u8; 32]) -> (Vec<u8>, [u8; 32]) {
    (body, commit)
}

#[test]
fn a_ledger_written_again_by_a_stranger_is_found() {
    let kept = Kept::new();
    let own = &kept.small.practice.session;
    let (author, vouch) = (&own.me.signer, own.vouch.as_ref().unwrap());
    // Somebody with neither key, who took over the names.
    let stranger = Signer::from_seed(author.name(), &[5; 32]).unwrap();
    let forged = Signer::from_seed(vouch.name(), &[6; 32]).unwrap();
    let report = kept.check(&write_again(&kept, &stranger, &forged, &as_it_was));
    assert!(named(&report) && ids(&report).contains(&"checkpoint-broken"), "{:?}", ids(&report));
    assert!(
        ids(&report).contains(&"behind-outside-copy") || ids(&report).contains(&"rewritten-outside-copy")
    );
    // Somebody who got hold of the checkpoint key, but not of the author's.
    let report = kept.check(&write_again(&kept, &stranger, vouch, &as_it_was));
    assert!(named(&report) && ids(&report).contains(&"signer-not-listed"), "{:?}", ids(&report));
    // The author's key, but not the ledger's.
    let report = kept.check(&write_again(&kept, author, &forged, &as_it_was));
    assert!(named(&report) && ids(&report).contains(&"checkpoint-broken"), "{:?}", ids(&report));
}

/// The store with its last leaf changed and signed anew by its author, under the old checkpoint or a new one.
fn last_leaf_changed(kept: &Kept, change: impl FnOnce(&mut Leaf), vouch: Option<&Signer>) -> MemDisk {
    let (scan, dir) = (kept.small.practice.scan(), kept.small.root().join("ledger"));
    let (at, end) = (scan.entries.last().unwrap(), scan.end.unwrap().offset as usize);
    let (bytes, body) = read_entry(&kept.small.world, &dir, at).unwrap();
    let (mut leaf, _) = Leaf::read(&bytes).unwrap();
    change(&mut leaf);
    let leaf = leaf.to_note(&[&kept.small.practice.session.me.signer]).unwrap();
    let mut frames = Vec::new();
    frame::write(&mut frames, FrameKind::Entry, &leaf, &body);
    if let Some(vouch) = vouch {
        let mut tree = Frontier::new();
        scan.entries[..scan.entries.len() - 1].iter().for_each(|before| tree.push(before.tree_hash));
        tree.push(leaf_hash(&leaf));
        let checkpoint =
            Checkpoint { origin: vouch.name().to_string(), size: tree.size(), root: tree.root() };
        frame::write(&mut frames, FrameKind::Checkpoint, checkpoint.sign(vouch).unwrap().as_bytes(), &[]);
    }
    let disk = kept.disk.fork();
    disk.change(&segment::path(&dir, at.at.segment), |segment| {
        let begin = at.at.offset as usize;
        segment[begin..begin + frames.len()].copy_from_slice(&frames);
        // Something was written behind it, so it was once on the disk as it should be.
        segment[end..end + 4].copy_from_slice(b"IFe1");
    });
    disk
}

/// With the author's key alone, and not the ledger's: the checkpoint that stands there vouches for the leaf that was.
#[test]
fn a_leaf_signed_anew_under_the_old_checkpoint_is_found() {
    let kept = Kept::new();
    let report = kept.check(&last_leaf_changed(&kept, |leaf| leaf.commit = "7".repeat(64), None));
    assert!(named(&report) && ids(&report).contains(&"checkpoint-disagrees"), "{:?}", ids(&report));
}

/// What can't be read as a leaf is vouched for like any other, and is no leaf all the same.
#[test]
fn a_leaf_that_cannot_be_read_is_named_though_it_is_vouched_for() {
    let kept = Kept::new();
    let vouch = kept.small.practice.session.vouch.as_ref();
    let at = kept.small.practice.scan().entries.last().unwrap();
    let disk = last_leaf_changed(&kept, |leaf| leaf.v = 2, vouch);
    disk.files(&kept.small.root().join("../outside")).iter().for_each(|copy| disk.drop_file(copy));
    let report = kept.check(&disk);
    let found = report.findings.iter().find(|f| f.severity == Severity::Wrong).unwrap();
    assert_eq!(found.id, "leaf-of-later-edition");
    let place = (found.place.segment, found.place.offset, found.place.seq);
    assert_eq!(place, (Some(at.at.segment), Some(at.at.offset), Some(at.seq)));
}

#[test]
fn an_entry_added_by_a_stranger_with_the_ledgers_key_is_found() {
    let mut kept = Kept::new();
    let place = kept.small.practice.place.clone();
    kept.small.let_go();
    let author = kept.small.practice.session.me.signer.name().to_string();
    let vouch = kept.small.practice.session.vouch.as_ref().unwrap();
    for name in [author.as_str(), "XX"] {
        let copy = kept.small.copy();
        let location = Location {
            dir: copy.path().join("store/ledger"),
            outside: copy.path().join("outside"),
            lock: copy.path().join("store/lock"),
            ..place.location()
        };
        let stranger = Signer::from_seed(name, &[9; 32]).unwrap();
        let mut writer = Writer::open(&kept.small.world, &location, false).unwrap();
        let entry = NewEntry {
            chart: Some(kept.small.charts[0].clone()),
            kind: "contact".into(),
            written: moment(DAY),
            signers: vec![&stranger],
            body: b"age-encryption.org/v1 and so on".to_vec(),
            commit: [3; 32],
        };
        let receipt = writer.commit(vec![entry], vouch).unwrap().remove(0);
        drop(writer);
        let report = common::check(&copy.path().join("store"));
        assert_eq!(ids(&report), ["signer-not-listed"]);
        assert_eq!(report.findings[0].place.seq, Some(receipt.seq));
    }
}

#[test]
fn a_ledger_rebuilt_by_the_keeper_of_the_keys_is_found_with_what_was_kept_outside() {
    let kept = Kept::new();
    let small = &kept.small;
    let own = &small.practice.session;
    let target = small.practice.scan().entries.iter().rev().find(|e| e.chart.is_some()).unwrap().seq - 2;
    let changed = |seq: u64, leaf: &Leaf, body: Vec<u8>, commit: [u8; 32]| {
        let at = small.practice.scan().entries.iter().find(|e| e.seq == seq).unwrap();
        let entry = small.practice.entry(at).unwrap();
        let Some((Some(tag), Some(record))) = (seq >= target).then(|| (leaf.chart.clone(), entry.record))
        else {
            return (body, commit);
        };
        // The same head with other words, sealed and committed to as it must be.
        let data = contact_saying("as it should have been").to_value().unwrap();
        let record =
            Record { data: if leaf.kind == "contact" { data } else { record.data.clone() }, ..record };
        let body = Body { opening: [8; 32], record: Zeroizing::new(record.to_bytes().unwrap()) };
        let (desk, _) = small
            .practice
            .session
            .chart_recipients(&small.world, &small.practice.place, small.practice.keys(), &tag)
            .unwrap();
        (seal(&To::Recipients(&[desk]), &body.to_bytes()).unwrap(), body.commitment())
    };
    let vouch = own.vouch.as_ref().unwrap();
    let disk = write_again(&kept, &own.me.signer, vouch, &changed);
    let world = disk.world(&small.world);
    // With the copy kept outside.
    let report = kept.check(&disk);
    assert!(!report.sound && ids(&report) == ["rewritten-outside-copy"], "{:?}", ids(&report));
    // With a slip alone, written before.
    let place = &small.practice.place;
    for path in disk.files(&place.outside) {
        disk.drop_file(&path);
    }
    let alone = check_with(&world, &small.root(), &[]).unwrap();
    assert!(alone.sound && ids(&alone) == ["outside-missing"], "{:?}", alone.findings);
    assert!(alone.limits.iter().any(|l| l.contains("could have rewritten")), "{:?}", alone.limits);
    let (checkpoint, _) = small.practice.scan().checkpoint.as_ref().unwrap();
    let slip = format!("{}:{}", checkpoint.size, code(&checkpoint.root));
    let witness = read_slip(&slip, &place.key).unwrap();
    let report = check_with(&world, &small.root(), &[witness]).unwrap();
    assert!(!report.sound && ids(&report).contains(&"rewritten-outside-copy"), "{:?}", ids(&report));
    // The same slip agrees with the true ledger.
    let witness = read_slip(&slip, &place.key).unwrap();
    let report = check_with(&kept.disk.world(&small.world), &small.root(), &[witness]).unwrap();
    assert!(report.sound && report.witnesses.len() == 2, "{:?}", report.findings);
}

#[test]
fn every_flipped_bit_of_the_store_file_is_found() {
    let kept = Kept::new();
    let path = kept.small.root().join("store.json");
    let len = kept.disk.get_file(&path).unwrap().len();
    for bit in 0..len * 8 {
        let disk = kept.disk.fork();
        flip(&path, bit)(&disk);
        match check_with(&disk.world(&kept.small.world), &kept.small.root(), &[]) {
            Err(trouble) => assert!(!trouble.next.is_empty()),
            // A change of the place where the outside copy is looked for: there is none there.
            Ok(report) => {
                assert_eq!(ids(&report), ["outside-missing"], "byte {} bit {}", bit / 8, bit % 8);
            }
        }
    }
}

/// Without the key in `store.json` nothing else can be judged; which file it is is said.
#[test]
fn a_store_file_that_cannot_be_read_is_named() {
    let room = Room::new();
    room.write("store/store.json", "{");
    let said = room.run(&["verify", "--json"]);
    let report: serde_json::Value = serde_json::from_str(&said.out).unwrap();
    assert_eq!((said.code(), &report["sound"]), (1, &false.into()), "{report}");
    let found = &report["findings"][0];
    assert_eq!(
        (&found["id"], &found["where"]["file"]),
        (&"store-file".into(), &"store.json".into()),
        "{report}"
    );
}

#[test]
fn a_frame_with_lengths_beyond_the_file_is_no_way_out() {
    let kept = Kept::new();
    let path = &kept.segments()[0];
    // A header that is whole but promises more bytes than there are, in place of each frame.
    for (at, _) in frames(&kept.disk.get_file(path).unwrap()) {
        let mut huge = Vec::new();
        frame::write(&mut huge, FrameKind::Entry, &[7; 60_000], &vec![7; 4 << 20]);
        let report =
            kept.changed(|d| d.change(path, |b| b[at..at + HEADER].copy_from_slice(&huge[..HEADER])));
        assert!(named(&report), "at {at}: {:?}", report.findings);
    }
}

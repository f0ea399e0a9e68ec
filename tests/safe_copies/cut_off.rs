//! Copies and restores cut off at every call to the disk: what was there before is there, or what was to come;
//! and the same command goes on.

use super::common::disk::{Fault, MemDisk};
use super::common::{DAY, Dice, Small, check_with, moment, step};
use inkfast::practice::copies::{self, Copied, CopyOrder, bring_folder};
use inkfast::practice::lists::gather;
use inkfast::practice::open::Practice;
use inkfast::practice::place::Place;
use inkfast::record::kinds::copies::CopyOn;
use inkfast::record::open_items::ItemKind;
use inkfast::trouble::{Kind, Outcome};
use inkfast::world::Disk;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// A store on a disk in memory, in several small segments, and where its copy goes. Its writer stays open: a copy
/// is made beside it.
struct Base {
    small: Small,
    disk: MemDisk,
    to: PathBuf,
}

impl Base {
    fn new() -> Base {
        let disk = MemDisk::default();
        let mut small = Small::on(Some(Arc::new(disk.clone())), 20 << 10, 1).unwrap();
        small.attach(0, "a paper", b"held up to the light");
        for n in 0..8 {
            small.say(0, &format!("before the first copy {n}"));
        }
        disk.settle();
        let to = small.dir.path().join("stick");
        Base { small, disk, to }
    }

    /// More entries, a new chart with its keys, and a new paper.
    fn grow(&mut self) {
        self.small.open_chart("PM-0200");
        self.small.clock.set(moment(DAY));
        self.small.attach(1, "another paper", &[7; 5000]);
        for n in 0..12 {
            self.small.say(1, &format!("after the first copy {n}"));
        }
        self.disk.settle();
    }

    fn copy(&self, disk: &MemDisk) -> Outcome<Copied> {
        let world = disk.world(&self.small.world);
        let place = Place::open(&world, &self.small.root(), None)?;
        let order = CopyOrder { to: &self.to, drafts: false, resealed: &|_, _| false };
        copies::copy_to_folder(&world, &place, &order, &mut |_| ())
    }

    /// The files of the store, but for the lock.
    fn store(&self, disk: &MemDisk) -> BTreeMap<PathBuf, Vec<u8>> {
        let root = self.small.root();
        disk.files(&root).into_iter().map(|path| (path.clone(), disk.get_file(&path).unwrap())).collect()
    }

    /// What a copy says it holds, after a check that it does. None before the first was finished.
    fn held(&self, disk: &MemDisk, context: &str) -> Option<u64> {
        let said = copies::read(disk, &self.to).unwrap_or_else(|t| panic!("{context}: {t}"))?;
        if said.entries == 0 {
            return None;
        }
        let world = disk.world(&self.small.world);
        let place = Place::open(&world, &self.to, None).unwrap();
        let report = copies::check_copy(&world, &place, &[], &mut |_| ()).unwrap();
        assert!(report.sound, "{context}: {:?}", report.findings);
        assert!(report.entries >= said.entries, "{context}: {} of {}", report.entries, said.entries);
        Some(said.entries)
    }
}

/// Fails every call of a copying, then lets the same copying go on.
fn every_call(base: &Base, from: &MemDisk, before: Option<u64>, after: u64, what: &str) {
    let mut trials = 0;
    for fault in [Fault::Once, Fault::Dead, Fault::Full] {
        for n in (1..).step_by(step(3, 1)) {
            let disk = from.fork();
            disk.fail(n, fault);
            let outcome = base.copy(&disk);
            let call = disk.last_call();
            let calls = disk.heal();
            let context = format!("{what}: {fault:?} at call {n} of {calls} ({call})");
            assert!(base.store(&disk) == base.store(from), "{context}: the store was touched");
            let held = base.held(&disk, &context);
            match &outcome {
                Ok(copied) if copied.is_whole() => assert_eq!(held, Some(after), "{context}"),
                // A folder of sealed files that could not be listed is a finding of the check.
                Ok(_) => assert_eq!(held, before, "{context}"),
                Err(trouble) => {
                    assert!(held == before || held == Some(after), "{context}: {held:?}");
                    assert!(!trouble.safe.is_empty() && !trouble.next.is_empty(), "{context}: {trouble}");
                    assert_ne!(trouble.kind, Kind::Refused, "{context}: {trouble}");
                }
            }
            let again = base.copy(&disk).unwrap_or_else(|t| panic!("{context}, again: {t}"));
            assert!(again.is_whole() && again.entries == after, "{context}, again");
            assert_eq!(base.held(&disk, &context), Some(after), "{context}, again");
            trials += 1;
            if calls < n {
                assert!(outcome.is_ok(), "{context}: {}", outcome.err().unwrap());
                break;
            }
        }
    }
    assert!(trials > 60, "{what}: only {trials} trials");
}

#[test]
fn a_copy_cut_off_at_any_call_is_the_old_or_the_new_and_goes_on() {
    let mut base = Base::new();
    let first = base.disk.fork();
    let copied = base.copy(&base.disk).unwrap();
    assert!(
        copied.is_whole() && copied.before == 0 && copied.travelled.segments >= 2,
        "{:?}",
        copied.travelled
    );
    every_call(&base, &first, None, copied.entries, "the first copy");
    base.grow();
    let second = base.disk.fork();
    let grown = base.copy(&base.disk.fork()).unwrap();
    let travelled = grown.travelled;
    assert!(travelled.segments >= 2 && travelled.files == 1 && travelled.keys == 3, "{travelled:?}");
    every_call(&base, &second, Some(copied.entries), grown.entries, "the second copy");
}

#[test]
fn after_a_power_cut_the_old_or_the_new_copy_is_there() {
    let mut base = Base::new();
    let before = base.copy(&base.disk).unwrap().entries;
    base.disk.settle();
    base.grow();
    let whole = base.disk.fork();
    whole.fail(u64::MAX, Fault::Power);
    base.copy(&whole).unwrap();
    let calls = whole.heal();
    let mut finished = 0;
    let seeds = if super::common::long() { 200 } else { 60 };
    for seed in 0..seeds {
        let mut dice = Dice::new(seed);
        let disk = base.disk.fork();
        // Some are cut off after the last call.
        disk.fail(1 + dice.below(calls + calls / 5), Fault::Power);
        let outcome = base.copy(&disk);
        let after = disk.cut(&mut dice);
        let context = format!("seed {seed}");
        let held = base.held(&after, &context).unwrap();
        match outcome {
            Ok(copied) => assert_eq!(held, copied.entries, "{context}: what was confirmed is there"),
            Err(_) => assert!(held >= before, "{context}"),
        }
        assert!(base.store(&after) == base.store(&base.disk), "{context}: the store was touched");
        assert!(base.copy(&after).unwrap().is_whole(), "{context}");
        finished += u64::from(held > before);
    }
    assert!(finished > 3 && finished < 55.min(seeds / 2), "the cuts were too gentle or too hard: {finished}");
}

#[test]
fn a_restore_cut_off_at_any_call_is_no_store_to_work_in_and_goes_on() {
    let base = Base::new();
    let entries = base.copy(&base.disk).unwrap().entries;
    base.disk.settle();
    let into = base.small.dir.path().join("new");
    let outside = base.small.dir.path().join("outside-of-new");
    let restore = |disk: &MemDisk| {
        let world = disk.world(&base.small.world);
        let mut bring = |into: &Path| bring_folder(disk, &base.to, into, &mut |_| ());
        copies::restore(&world, &mut bring, &into, Some(&outside), &[], false, &mut |_| ())
    };
    for fault in [Fault::Once, Fault::Dead, Fault::Full] {
        for n in (1..).step_by(step(3, 1)) {
            let disk = base.disk.fork();
            disk.fail(n, fault);
            let outcome = restore(&disk);
            let call = disk.last_call();
            let calls = disk.heal();
            let context = format!("{fault:?} at call {n} of {calls} ({call})");
            // A check that could not read something ends without a store to work in, as an error does.
            if outcome.as_ref().map_or(true, |done| !done.finished) {
                let begun = disk.there(&into.join("ledger")).unwrap();
                assert!(
                    !begun
                        || disk.there(&into.join(copies::UNFINISHED)).unwrap()
                        || whole(&base, &disk, &into, entries),
                    "{context}: half a store looks like a whole one"
                );
                // Either it goes on, or it was finished and is not restored over.
                match restore(&disk) {
                    Ok(restored) => assert!(restored.finished, "{context}"),
                    Err(trouble) => assert_eq!(trouble.kind, Kind::Refused, "{context}: {trouble}"),
                }
            }
            assert!(whole(&base, &disk, &into, entries), "{context}: {:?}", outcome.as_ref().err());
            if calls < n {
                assert!(outcome.is_ok_and(|done| done.finished), "{context}");
                break;
            }
        }
    }
}

fn whole(base: &Base, disk: &MemDisk, into: &Path, entries: u64) -> bool {
    let report = check_with(&disk.world(&base.small.world), into, &[]).unwrap();
    report.sound && report.entries == entries && !disk.there(&into.join(copies::UNFINISHED)).unwrap()
}

/// The rules of the example ask for a copy every seven days.
#[test]
fn a_copy_is_asked_for_until_one_is_made_and_again_when_it_is_old_or_gone() {
    let mut base = Base::new();
    let due = |small: &Small| {
        let list = gather(&small.practice, None, small.practice.now().local_date()).unwrap();
        let at_closing = list.left_at_closing().iter().any(|l| l.item.kind == ItemKind::SafeCopy);
        let mut items = list.items.iter().filter(|listed| listed.item.kind == ItemKind::SafeCopy);
        let words = items.next().map(|listed| listed.item.words.clone());
        assert_eq!(words.is_some(), at_closing);
        words
    };
    assert!(due(&base.small).unwrap().contains("no safe copy was made yet"));
    let copied = base.copy(&base.disk).unwrap();
    copies::record_made(&mut base.small.practice, &copied, CopyOn::Folder, "blue stick", false, None)
        .unwrap();
    assert_eq!(due(&base.small), None);
    let still = |practice: &Practice| -> Vec<String> {
        let known = copies::known(practice).unwrap().into_iter();
        known.filter(|copy| copy.gone.is_none()).map(|copy| copy.place).collect()
    };
    assert_eq!(still(&base.small.practice), ["blue stick"]);
    base.small.clock.set(moment("2025-09-28T23:00:00-04:00"));
    assert_eq!(due(&base.small), None, "on the sixth day");
    base.small.clock.set(moment("2025-09-29T08:00:00-04:00"));
    assert!(due(&base.small).unwrap().contains("blue stick"), "on the seventh");
    let known = copies::known(&base.small.practice).unwrap();
    copies::record_gone(&mut base.small.practice, &known[0], "lost").unwrap();
    assert!(due(&base.small).unwrap().contains("no safe copy"));
    assert!(still(&base.small.practice).is_empty());
}

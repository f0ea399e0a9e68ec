//! A destruction that is cut off at any moment leaves the chart whole, or an order that every command speaks of
//! and that can be finished.

use super::gone::{dispose, planted};
use crate::common::disk::{Fault, MemDisk};
use crate::common::{Dice, OWNER, PASSPHRASE, Small, check_with, ids, long, open_store, step};
use inkfast::practice::disposal::destroy::finish;
use inkfast::practice::disposal::standing::{disposed, refuse_disposed, unfinished};
use inkfast::practice::open::Practice;
use inkfast::trouble::Outcome;

fn open(small: &Small, disk: &MemDisk) -> Outcome<Practice> {
    open_store(&disk.world(&small.world), &small.root(), OWNER, PASSPHRASE)
}

/// What may be left: all of it, or an order; and then it can be finished. True where there was an order.
fn looked_at(small: &Small, disk: &MemDisk, finished: bool, context: &str) -> bool {
    let tag = &small.charts[0];
    let world = disk.world(&small.world);
    let mut practice = open(small, disk).unwrap_or_else(|t| panic!("{context}: {t}"));
    // What was never confirmed is moved aside, as with any write that was cut off.
    practice.begin_writing().unwrap_or_else(|t| panic!("{context}: {t}"));
    let orders = disposed(&practice).unwrap();
    let report = check_with(&world, &small.root(), &[]).unwrap();
    assert!(report.sound, "{context}: {:?}", ids(&report));
    let Some(one) = orders.first() else {
        assert!(!finished, "{context}: it was said to be done");
        let all = practice.chart(tag).unwrap();
        assert!(all.iter().all(|entry| entry.record.is_some()), "{context}: a chart that stays is whole");
        return false;
    };
    // Whatever is left of it, nobody adds to it or reads it as if nothing had happened.
    let said = refuse_disposed(&practice, tag).unwrap_err();
    let open_still = unfinished(&practice).unwrap();
    match one.done {
        Some(_) => {
            assert!(open_still.is_empty() && said.what.contains("disposed of"), "{context}: {said}");
            assert!(!ids(&report).contains(&"disposal-unfinished"), "{context}: done means gone");
        }
        None => {
            assert!(!finished, "{context}: it was said to be done");
            assert_eq!(open_still.len(), 1, "{context}");
            assert!(
                said.what.contains("not finished") && said.next.contains("dispose finish"),
                "{context}: {said}"
            );
            assert!(ids(&report).contains(&"disposal-unfinished"), "{context}: {:?}", ids(&report));
            // Every other chart opens as ever, also while keys of this one are half gone.
            let faces = inkfast::practice::chart::faces(&practice).unwrap();
            assert!(faces.iter().any(|face| face.tag == small.charts[1]), "{context}");
        }
    }
    finish(&mut practice, one.order).unwrap_or_else(|t| panic!("{context}: {t}"));
    assert!(unfinished(&practice).unwrap().is_empty(), "{context}");
    drop(practice);
    let practice = open(small, disk).unwrap();
    assert!(practice.chart(tag).unwrap().iter().all(|entry| entry.record.is_none()), "{context}");
    let left: Vec<_> = disk
        .files(&small.root())
        .into_iter()
        .filter(|path| {
            path.to_string_lossy().contains(tag.as_str()) || path.to_string_lossy().contains("destroyed")
        })
        .collect();
    assert!(left.is_empty(), "{context}: {left:?}");
    assert_eq!(
        disk.files(&small.root().join("drafts")).len(),
        1,
        "{context}: the draft of another chart stays"
    );
    assert_eq!(disk.files(&small.root().join("files")).len(), 1, "{context}: the other chart's paper stays");
    let report = check_with(&world, &small.root(), &[]).unwrap();
    assert!(report.sound && !ids(&report).contains(&"disposal-unfinished"), "{context}: {:?}", ids(&report));
    true
}

#[test]
fn every_call_of_a_destruction_may_fail() {
    let disk = MemDisk::default();
    let small = planted(Some(disk.clone()));
    let (mut without, mut with) = (0, 0);
    for fault in [Fault::Once, Fault::Dead, Fault::Full] {
        for n in (1..).step_by(step(5, 1)) {
            let disk = disk.fork();
            disk.fail(n, fault);
            let outcome =
                open(&small, &disk).and_then(|mut practice| dispose(&mut practice, &small.charts[0]));
            let call = disk.last_call();
            let calls = disk.heal();
            let context = format!("{fault:?} at call {n} of {calls} ({call})");
            match looked_at(&small, &disk, outcome.is_ok(), &context) {
                true => with += 1,
                false => without += 1,
            }
            if calls < n {
                assert!(outcome.is_ok(), "{context}");
                break;
            }
        }
    }
    assert!(
        with > 10 && without > 10,
        "the faults were too gentle: {without} without an order, {with} with one"
    );
}

#[test]
fn the_power_may_go_during_a_destruction() {
    let disk = MemDisk::default();
    let small = planted(Some(disk.clone()));
    let mut with = 0;
    for seed in 0..if long() { 200 } else { 40 } {
        let mut dice = Dice::new(seed);
        let disk = disk.fork();
        disk.fail(1 + dice.below(260), if dice.below(2) == 0 { Fault::Power } else { Fault::Dead });
        let outcome = open(&small, &disk).and_then(|mut practice| dispose(&mut practice, &small.charts[0]));
        let cut = disk.cut(&mut dice);
        with += u32::from(looked_at(&small, &cut, outcome.is_ok(), &format!("seed {seed}")));
    }
    assert!(with > 3, "the cuts were too gentle: {with} with an order");
}

/// That it is done counts when it is kept: the same words behind the durable end say nothing.
#[test]
fn a_done_that_was_cut_off_is_not_done() {
    let disk = MemDisk::default();
    let small = planted(Some(disk.clone()));
    let last = {
        let disk = disk.fork();
        disk.fail(u64::MAX, Fault::Once);
        let mut practice = open(&small, &disk).unwrap();
        dispose(&mut practice, &small.charts[0]).unwrap();
        disk.heal()
    };
    let mut seen = 0;
    // The last calls are those of the entry that says it is done.
    for n in last.saturating_sub(14)..=last {
        let disk = disk.fork();
        disk.fail(n, Fault::Dead);
        let outcome = open(&small, &disk).and_then(|mut practice| dispose(&mut practice, &small.charts[0]));
        disk.heal();
        if outcome.is_ok() {
            continue;
        }
        let report = check_with(&disk.world(&small.world), &small.root(), &[]).unwrap();
        let practice = open(&small, &disk).unwrap();
        let kept = disposed(&practice).unwrap().first().is_some_and(|one| one.done.is_some());
        assert_eq!(ids(&report).contains(&"disposal-unfinished"), !kept, "call {n}: {:?}", ids(&report));
        seen += u32::from(!kept);
    }
    assert!(seen > 2, "{seen} cuts before it was done");
}

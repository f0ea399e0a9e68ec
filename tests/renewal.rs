//! Promise: after new keys, whoever left opens nothing of the store, and everybody else opens everything; killed or
//! failing at any call on the way, everything still opens to who is here, and beginning again finishes it.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // In a test a panic is the report.

mod common;

use common::disk::{Fault, MemDisk};
use common::reach::reach;
use common::{
    DAY, Dice, OWNER, PASSPHRASE, Small, add, attachment, check, check_with, contact_saying, copy_folder,
    example_data, moment, open_store, reaction_saying, step,
};
use inkfast::practice::attach::{attach, open_into};
use inkfast::practice::open::Practice;
use inkfast::practice::renewal::{renew, unfinished};
use inkfast::practice::session::Session;
use inkfast::practice::staff;
use inkfast::record::kinds::Data;
use inkfast::record::kinds::register::KeyRole;
use inkfast::record::moment::parse_date;
use inkfast::seal::age_file::Identity;
use inkfast::trouble::{Kind, Outcome};
use inkfast::world::{RealDisk, World};
use std::path::Path;
use std::sync::Arc;

const LEAVER: &str = "DS";
const STAYS: &str = "PQ";
const OTHER: &str = "seven tin larks";

fn hire(practice: &mut Practice, code: &str, roles: &[KeyRole]) {
    let Data::Staff(mut line) = example_data("staff") else { panic!() };
    line.code = code.into();
    line.on_roster_last_day = None;
    staff::add(practice, *line, roles.to_vec(), OTHER, 4).unwrap();
}

fn retire(practice: &mut Practice) {
    let today = practice.now().local_date();
    staff::retire(practice, LEAVER, today, "dismissed").unwrap();
}

/// A store with entries of every class, somebody who stays and somebody who will leave.
fn fill(small: &mut Small) {
    hire(&mut small.practice, STAYS, &[KeyRole::Desk, KeyRole::Clinical]);
    hire(&mut small.practice, LEAVER, &[KeyRole::Desk, KeyRole::Clinical]);
    for tag in small.charts.clone() {
        write_in(&mut small.practice, &tag);
    }
}

fn write_in(practice: &mut Practice, tag: &str) {
    add(practice, Some(tag), contact_saying("rang in the morning")).unwrap();
    add(practice, Some(tag), reaction_saying("dizzy for an hour")).unwrap();
    let now = practice.now();
    attach(practice, tag, &mut &b"a paper"[..], attachment("a paper"), now).unwrap();
}

/// Everything in the ledger and every attachment opens.
fn opens_all(practice: &Practice, context: &str) {
    for seq in 1..=practice.size() {
        let entry = practice.entry_by_seq(seq).unwrap_or_else(|t| panic!("{context}: entry {seq}: {t}"));
        assert!(entry.record.is_some(), "{context}: entry {seq}, {} stays shut", entry.leaf.kind);
        if let (Some(tag), Some(Data::Attachment(data))) = (&entry.leaf.chart, entry.data()) {
            open_into(practice, tag, &data, &mut Vec::new())
                .unwrap_or_else(|t| panic!("{context}: the attachment of entry {seq}: {t}"));
        }
    }
}

#[test]
fn whoever_left_opens_nothing_and_everybody_else_everything() {
    let mut small = Small::new(64 << 10, 2);
    fill(&mut small);
    let leaver = Session::unlock(&small.world, &small.practice.place, LEAVER, OTHER).unwrap();
    let mut kept: Vec<Identity> = vec![leaver.me.identity.clone()];
    let before = small.copy();
    assert!(reach(&small.world, &small.root(), &kept).opened.len() > 20);
    // The leaver kept not only their own identity but everything it opened.
    kept.extend(leaver.role_identities());
    for tag in &small.charts {
        let keys = leaver.chart_keys(&small.world, &small.practice.place, tag).unwrap();
        kept.extend(keys.desk.into_iter().chain(keys.clinical));
    }

    retire(&mut small.practice);
    let mut done = 0;
    let renewed = renew(&mut small.practice, None, &mut |n| done = n).unwrap();
    assert_eq!((renewed.charts, done, renewed.finished), (2, 2, false));
    assert_eq!(renewed.holders, [STAYS, OWNER]);
    assert!(!unfinished(&small.practice));
    let written_before = small.practice.size();
    let files_before = reach(&small.world, &small.root(), &[]).all;
    for tag in small.charts.clone() {
        write_in(&mut small.practice, &tag);
    }
    add(&mut small.practice, None, example_data("wording")).unwrap();
    let newer = small.open_chart("PM-0900");
    small.clock.set(moment(DAY));
    write_in(&mut small.practice, &newer);
    small.let_go();
    assert!(check(&small.root()).sound);

    // Nor is anything sealed to them again on the same day, when somebody else comes.
    small.practice.begin_writing().unwrap();
    hire(&mut small.practice, "NN", &[KeyRole::Desk]);
    small.let_go();
    // With what is their own: nothing at all. On the day itself, too.
    let root = small.root();
    let alone = reach(&small.world, &root, &kept[..1]);
    assert!(alone.opened.is_empty(), "{:?}", alone.opened);
    let session = Session::unlock(&small.world, &small.practice.place, LEAVER, OTHER).unwrap();
    assert!(session.roles.is_empty() && session.vouch.is_none());
    // With everything they kept: what was known can't be made unknown, and nothing that was written since.
    let all = reach(&small.world, &root, &kept);
    let news = |name: &&String| match name.strip_prefix("entry ") {
        Some(rest) => rest[..4].parse::<u64>().unwrap() > written_before,
        None => !files_before.contains(*name),
    };
    assert!(all.all.iter().filter(news).count() > 9);
    assert_eq!(all.opened.iter().find(news), None);
    assert!(
        all.opened.iter().all(|name| name.starts_with("entry ") || name.starts_with("files/")),
        "{:?}",
        all.opened
    );
    let old = reach(&small.world, &before.path().join("store"), &kept[..1]);
    assert!(old.opened.len() > 20, "a copy made before still opens, as is said");

    for (code, secret) in [(OWNER, PASSPHRASE), (STAYS, OTHER)] {
        let practice = small.open_as(code, secret).unwrap();
        opens_all(&practice, code);
    }
    let paper = reach(&small.world, &root, std::slice::from_ref(&small.recovery));
    assert!(
        paper
            .all
            .iter()
            .filter(|name| !paper.opened.contains(*name))
            .all(|name| name.starts_with("keys/staff-"))
    );
    // A second time does no harm, and the person who stays writes on.
    small.practice.begin_writing().unwrap();
    renew(&mut small.practice, None, &mut |_| ()).unwrap();
    small.let_go();
    opens_all(&small.open_as(STAYS, OTHER).unwrap(), "after the second time");
    assert!(check(&root).sound);
}

#[test]
fn a_new_sheet_takes_the_place_of_the_old_one() {
    let mut small = Small::new(64 << 10, 1);
    let sheet = Identity::generate();
    renew(&mut small.practice, Some(&sheet), &mut |_| ()).unwrap();
    small.let_go();
    let root = small.root();
    let old = reach(&small.world, &root, std::slice::from_ref(&small.recovery));
    assert!(old.opened.is_empty(), "{:?}", old.opened);
    let new = reach(&small.world, &root, std::slice::from_ref(&sheet));
    assert!(new.opened.contains("keys/recovery.age") && new.opened.len() > 8);
    assert!(check(&root).sound);
    let old = Session::recovered(&small.world, &small.practice.place, &small.recovery).err().unwrap();
    assert_eq!(old.kind, Kind::Refused);
    assert!(Session::recovered(&small.world, &small.practice.place, &sheet).is_ok());
}

#[test]
fn only_the_keeper_renews_and_somebody_always_keeps() {
    let mut small = Small::new(64 << 10, 1);
    fill(&mut small);
    small.let_go();
    let mut other = small.open_as(STAYS, OTHER).unwrap();
    assert_eq!(renew(&mut other, None, &mut |_| ()).unwrap_err().kind, Kind::Refused);
    drop(other);
    small.practice.begin_writing().unwrap();
    let today = small.practice.now().local_date();
    let refused = staff::retire(&mut small.practice, OWNER, today, "retires").unwrap_err();
    assert!(refused.kind == Kind::Refused && refused.next.contains("hand-over"), "{refused}");
    let line = small.practice.staff_line(OWNER).unwrap().clone();
    let refused = staff::change(&mut small.practice, line, Some(vec![KeyRole::Desk])).unwrap_err();
    assert_eq!(refused.kind, Kind::Refused);
}

#[test]
fn new_keys_for_somebody_open_with_the_new_passphrase_only() {
    let mut small = Small::new(64 << 10, 1);
    fill(&mut small);
    let old = Session::unlock(&small.world, &small.practice.place, STAYS, OTHER).unwrap();
    let refused = staff::new_keys(&mut small.practice, OWNER, "seen", "nine tin larks", 4).unwrap_err();
    assert_eq!(refused.kind, Kind::Refused);
    staff::new_keys(&mut small.practice, STAYS, "forgotten", "nine tin larks", 4).unwrap();
    small.let_go();
    assert_eq!(small.open_as(STAYS, OTHER).err().unwrap().kind, Kind::Locked);
    let mut practice = small.open_as(STAYS, "nine tin larks").unwrap();
    opens_all(&practice, "new keys");
    add(&mut practice, Some(&small.charts[0]), contact_saying("signed with the new key")).unwrap();
    drop(practice);
    assert!(reach(&small.world, &small.root(), std::slice::from_ref(&old.me.identity)).opened.is_empty());
    assert!(check(&small.root()).sound);
}

#[test]
fn a_leaver_whose_day_is_over_is_let_go_of_the_next_morning() {
    let mut small = Small::new(64 << 10, 1);
    fill(&mut small);
    let leaver = Session::unlock(&small.world, &small.practice.place, LEAVER, OTHER).unwrap();
    let own = [leaver.me.identity.clone()];
    retire(&mut small.practice);
    assert!(!staff::seal_out_leavers(&mut small.practice).unwrap(), "the day is not over");
    assert!(!reach(&small.world, &small.root(), &own).opened.is_empty());
    small.clock.set(moment("2025-09-23T08:00:00-04:00"));
    assert!(staff::seal_out_leavers(&mut small.practice).unwrap());
    assert!(!staff::seal_out_leavers(&mut small.practice).unwrap(), "done once is done");
    assert!(reach(&small.world, &small.root(), &own).opened.is_empty());
    opens_all(&small.practice, "the next morning");
    let last_day = parse_date("2025-09-22").unwrap();
    assert_eq!(small.practice.keys().newest(LEAVER).unwrap().until, Some(last_day));
}

/// A store on a disk in memory, with somebody retired and new keys not yet made.
struct Base {
    small: Small,
    disk: MemDisk,
    leaver: Identity,
}

impl Base {
    fn new() -> Base {
        let disk = MemDisk::default();
        let mut small = Small::on(Some(Arc::new(disk.clone())), 64 << 10, 2).unwrap();
        fill(&mut small);
        retire(&mut small.practice);
        let leaver = Session::unlock(&small.world, &small.practice.place, LEAVER, OTHER).unwrap().me.identity;
        small.let_go();
        disk.settle();
        Base { small, disk, leaver }
    }

    fn open(&self, disk: &MemDisk, code: &str, secret: &str) -> Outcome<Practice> {
        open_store(&disk.world(&self.small.world), &self.small.root(), code, secret)
    }

    fn renew(&self, disk: &MemDisk) -> Outcome<()> {
        let mut practice = self.open(disk, OWNER, PASSPHRASE)?;
        renew(&mut practice, None, &mut |_| ()).map(drop)
    }

    /// Everything opens to who is here; what is left is finished; then nothing opens to the leaver.
    fn still_whole(&self, disk: &MemDisk, context: &str) -> bool {
        let world = disk.world(&self.small.world);
        let root = self.small.root();
        let report = check_with(&world, &root, &[]).unwrap();
        assert!(report.sound, "{context}: {:?}", report.findings);
        for (code, secret) in [(OWNER, PASSPHRASE), (STAYS, OTHER)] {
            let practice = self.open(disk, code, secret).unwrap_or_else(|t| panic!("{context}: {code}: {t}"));
            opens_all(&practice, &format!("{context}, {code}"));
        }
        // Work goes on in this state, and what is written now opens as well.
        let mut practice = self.open(disk, OWNER, PASSPHRASE).unwrap();
        let half = unfinished(&practice);
        for tag in &self.small.charts {
            add(&mut practice, Some(tag), reaction_saying("in between"))
                .unwrap_or_else(|t| panic!("{context}: {t}"));
        }
        add(&mut practice, None, example_data("wording")).unwrap();
        opens_all(&practice, context);
        let renewed =
            renew(&mut practice, None, &mut |_| ()).unwrap_or_else(|t| panic!("{context}, again: {t}"));
        assert_eq!(renewed.finished, half, "{context}");
        assert!(!unfinished(&practice), "{context}");
        drop(practice);
        opens_all(&self.open(disk, STAYS, OTHER).unwrap(), &format!("{context}, finished"));
        assert!(check_with(&world, &root, &[]).unwrap().sound, "{context}, finished");
        self.leaver_opens_nothing(disk, context);
        half
    }

    fn leaver_opens_nothing(&self, disk: &MemDisk, context: &str) {
        let out = tempfile::tempdir().unwrap();
        let root = self.small.root();
        write_out(disk, &root, out.path());
        let reached = reach(&World::real(), out.path(), std::slice::from_ref(&self.leaver));
        assert!(reached.opened.is_empty(), "{context}: {:?}", reached.opened);
        assert!(reached.all.len() > 20);
    }
}

/// Writes a folder of a disk in memory out to a real one.
fn write_out(disk: &MemDisk, root: &Path, to: &Path) {
    for path in disk.files(root) {
        let target = to.join(path.strip_prefix(root).unwrap());
        std::fs::create_dir_all(target.parent().unwrap()).unwrap();
        std::fs::write(target, disk.get_file(&path).unwrap()).unwrap();
    }
}

#[test]
fn any_call_of_making_new_keys_may_fail() {
    let base = Base::new();
    let (mut half, mut number) = (0, 0);
    for fault in [Fault::Once, Fault::Dead, Fault::Full] {
        for n in (1..).step_by(step(5, 1)) {
            let disk = base.disk.fork();
            disk.fail(n, fault);
            let outcome = base.renew(&disk);
            let call = disk.last_call();
            let calls = disk.heal();
            let context = format!("{fault:?} at call {n} of {calls} ({call})");
            if let Err(trouble) = &outcome {
                assert!(!trouble.safe.is_empty() && !trouble.next.is_empty(), "{context}: {trouble}");
            }
            half += usize::from(base.still_whole(&disk, &context));
            number += 1;
            if calls < n {
                assert!(outcome.is_ok(), "{context}: {}", outcome.unwrap_err());
                break;
            }
        }
    }
    assert!(number > 20 && half > 6, "{number} failures, {half} of them half way");
}

#[test]
fn the_power_may_go_at_any_sync_of_making_new_keys() {
    let base = Base::new();
    let mut dice = Dice::new(49);
    let mut half = 0;
    for n in (1..).step_by(step(7, 1)) {
        let disk = base.disk.fork();
        disk.fail(n, Fault::Power);
        let outcome = base.renew(&disk);
        let calls = disk.heal();
        if calls < n {
            assert!(outcome.is_ok());
            break;
        }
        let after = disk.cut(&mut dice);
        // The group that was being written may be torn in any way; whoever adds next moves it aside.
        base.open(&after, OWNER, PASSPHRASE).unwrap().begin_writing().unwrap();
        half += usize::from(base.still_whole(&after, &format!("power gone from call {n} of {calls} on")));
    }
    assert!(half > 3, "{half} half way");
}

#[test]
fn a_store_copied_half_way_goes_on_elsewhere() {
    // What a safe copy made in the middle holds is a store like any other.
    let base = Base::new();
    let disk = base.disk.fork();
    disk.fail(70, Fault::Dead);
    assert!(base.renew(&disk).is_err());
    disk.heal();
    let out = tempfile::tempdir().unwrap();
    write_out(&disk, &base.small.root(), &out.path().join("store"));
    let moved = tempfile::tempdir().unwrap();
    copy_folder(out.path(), moved.path());
    let practice = open_store(
        &World { disk: Arc::new(RealDisk), ..base.small.world.clone() },
        &moved.path().join("store"),
        OWNER,
        PASSPHRASE,
    )
    .unwrap();
    opens_all(&practice, "copied half way");
}

//! Copies in a store of objects: nothing is ever replaced; cut off at any request the old or the new copy is there;
//! what was changed there is named. A store of objects that S3 is spoken to is in `outside_objects.rs`.

use super::common::{DAY, Small, check, moment, step};
use inkfast::practice::copies::{self, BucketOrder, Copied, bring_bucket};
use inkfast::practice::objects::{Objects, Put};
use inkfast::trouble::{Kind, Outcome, Trouble};
use std::cell::{Cell, RefCell};
use std::collections::BTreeMap;
use std::path::Path;

/// A store of objects in memory that fails at a chosen request: before it did anything, or after it did.
#[derive(Default)]
pub struct Kept {
    objects: RefCell<BTreeMap<String, Vec<u8>>>,
    calls: Cell<u64>,
    fault: Cell<Option<(u64, bool)>>,
    replaces: Cell<bool>,
}

impl Kept {
    fn fails(&self, after: bool) -> Outcome<()> {
        if !after {
            self.calls.set(self.calls.get() + 1);
        }
        match self.fault.get() {
            Some((at, done)) if self.calls.get() >= at && (done == after || self.calls.get() > at) => {
                Err(Trouble::new(Kind::Disk, "no answer", "nothing", "again"))
            }
            _ => Ok(()),
        }
    }

    fn fail(&self, at: u64, after: bool) {
        self.calls.set(0);
        self.fault.set(Some((at, after)));
    }

    fn heal(&self) -> u64 {
        self.fault.set(None);
        self.calls.take()
    }

    fn fork(&self) -> Kept {
        Kept { objects: RefCell::new(self.objects.borrow().clone()), ..Kept::default() }
    }
}

impl Objects for Kept {
    fn put_new(&self, name: &str, bytes: &[u8], _: Option<jiff::Timestamp>) -> Outcome<Put> {
        self.fails(false)?;
        let taken = self.objects.borrow().contains_key(name);
        if !taken || self.replaces.get() {
            self.objects.borrow_mut().insert(name.to_string(), bytes.to_vec());
        }
        self.fails(true)?;
        Ok(if taken && !self.replaces.get() { Put::Exists } else { Put::Created })
    }

    fn get(&self, name: &str) -> Outcome<Option<Vec<u8>>> {
        self.fails(false)?;
        self.fails(true)?;
        Ok(self.objects.borrow().get(name).cloned())
    }

    fn list(&self, prefix: &str) -> Outcome<Vec<String>> {
        self.fails(false)?;
        self.fails(true)?;
        Ok(self.objects.borrow().keys().filter(|name| name.starts_with(prefix)).cloned().collect())
    }
}

fn store() -> Small {
    let mut small = Small::new(20 << 10, 1);
    small.attach(0, "a paper", b"held up to the light");
    for n in 0..8 {
        small.say(0, &format!("before the first copy {n}"));
    }
    small
}

fn grow(small: &mut Small) {
    small.open_chart("PM-0200");
    small.clock.set(moment(DAY));
    small.attach(1, "another paper", &[7; 5000]);
    for n in 0..12 {
        small.say(1, &format!("after the first copy {n}"));
    }
}

fn copy(small: &Small, objects: &dyn Objects) -> Outcome<Copied> {
    let order = BucketOrder { objects, drafts: false, locked_until: None, resealed: &|_, _| false };
    copies::copy_to_bucket(&small.world, &small.practice.place, &order, &mut |_| ())
}

/// Brings the newest copy back; how many entries it has, checked.
fn held(small: &Small, objects: &dyn Objects, context: &str) -> Option<u64> {
    let dir = tempfile::tempdir().unwrap();
    let into = dir.path().join("new");
    let mut bring = |into: &Path| bring_bucket(&*small.world.disk, objects, None, into, &mut |_| ());
    let outside = dir.path().join("outside");
    match copies::restore(&small.world, &mut bring, &into, Some(&outside), &[], false, &mut |_| ()) {
        Ok(restored) => {
            assert!(restored.report.sound && restored.finished, "{context}: {:?}", restored.report.findings);
            assert!(check(&into).sound, "{context}");
            Some(restored.report.entries)
        }
        Err(trouble) => {
            assert_eq!(trouble.kind, Kind::NotFound, "{context}: {trouble}");
            None
        }
    }
}

#[test]
fn a_copy_cut_off_at_any_request_is_the_old_or_the_new_and_nothing_is_ever_replaced() {
    let mut small = store();
    let objects = Kept::default();
    let mut before = None;
    for round in ["the first copy", "the second copy"] {
        let whole = objects.fork();
        let copied = copy(&small, &whole).unwrap();
        assert!(copied.is_whole() && copied.travelled.segments >= 2, "{round}: {:?}", copied.travelled);
        let mut trials = 0;
        for after in [false, true] {
            for n in (1..).step_by(step(4, 1)) {
                let tried = objects.fork();
                tried.fail(n, after);
                let outcome = copy(&small, &tried);
                let calls = tried.heal();
                let context = format!("{round}: request {n} of {calls} fails, {after}");
                for (name, bytes) in objects.objects.borrow().iter() {
                    assert_eq!(tried.objects.borrow().get(name), Some(bytes), "{context}: {name}");
                }
                let there = held(&small, &tried, &context);
                match &outcome {
                    Ok(_) => assert_eq!(there, Some(copied.entries), "{context}"),
                    Err(_) => {
                        assert!(there == before || there == Some(copied.entries), "{context}: {there:?}")
                    }
                }
                assert!(copy(&small, &tried).unwrap().is_whole(), "{context}");
                assert_eq!(held(&small, &tried, &context), Some(copied.entries), "{context}");
                trials += 1;
                if calls < n {
                    assert!(outcome.is_ok(), "{context}");
                    break;
                }
            }
        }
        assert!(trials > 10, "{round}: {trials}");
        *objects.objects.borrow_mut() = whole.objects.take();
        if before.replace(copied.entries).is_none() {
            grow(&mut small);
        }
    }
}

#[test]
fn only_what_is_new_travels_and_long_rows_of_lists_begin_anew() {
    let mut small = store();
    let objects = Kept::default();
    let first = copy(&small, &objects).unwrap().travelled;
    assert_eq!(copy(&small, &objects).unwrap().travelled.bytes, 0);
    for n in 0..40 {
        small.say(0, &format!("day {n}"));
        let travelled = copy(&small, &objects).unwrap().travelled;
        assert!(travelled.bytes < 8_000 && travelled.files == 0 && travelled.keys == 0, "{travelled:?}");
    }
    assert!(first.bytes > 8_000);
    let lists = objects.list(&format!("{}/copies/", small.practice.place.key.name())).unwrap();
    let since = |name: &String| {
        let text = String::from_utf8(objects.get(name).unwrap().unwrap()).unwrap();
        text.lines().find_map(|line| line.strip_prefix("since ").map(str::to_string)).unwrap()
    };
    assert_eq!(lists.iter().filter(|name| since(name) == "-").count(), 2, "of {}", lists.len());
    let entries = check(&small.root()).entries;
    assert_eq!(held(&small, &objects, "after 40 days"), Some(entries));
}

#[test]
fn what_was_changed_or_lost_in_the_store_of_objects_is_named() {
    let small = store();
    let objects = Kept::default();
    copy(&small, &objects).unwrap();
    let names: Vec<String> = objects.objects.borrow().keys().cloned().collect();
    for name in names.iter().filter(|name| !name.contains("/probe/")) {
        for lost in [true, false] {
            let bent = objects.fork();
            if lost {
                bent.objects.borrow_mut().remove(name);
            } else {
                let mut all = bent.objects.borrow_mut();
                let bytes = all.get_mut(name).unwrap();
                let middle = bytes.len() / 2;
                bytes[middle] ^= 1;
            }
            let dir = tempfile::tempdir().unwrap();
            let brought = bring_bucket(&*small.world.disk, &bent, None, dir.path(), &mut |_| ());
            let trouble = brought.err().unwrap_or_else(|| panic!("{name}, lost {lost}: not noticed"));
            let only_list = lost && name.contains("/copies/");
            let kind = if only_list { Kind::NotFound } else { Kind::Damaged };
            assert_eq!(trouble.kind, kind, "{name}: {trouble}");
        }
    }
}

#[test]
fn a_store_of_objects_that_replaces_and_a_store_that_differs_are_refused() {
    let mut small = store();
    let careless = Kept::default();
    careless.replaces.set(true);
    let refused = copy(&small, &careless).err().unwrap();
    assert!(refused.kind == Kind::Refused && refused.what.contains("replaces what is there"), "{refused}");
    assert!(careless.objects.borrow().keys().all(|name| name.contains("/probe/")), "something was sent");
    // A key file that was bent here: what is there stays, and is not joined by the bent one.
    let objects = Kept::default();
    copy(&small, &objects).unwrap();
    small.say(0, "one more");
    let key = small.root().join(format!("keys/chart-{}-desk.age", small.charts[0]));
    let good = std::fs::read(&key).unwrap();
    std::fs::write(&key, [&good[..300], &[good[300] ^ 1], &good[301..]].concat()).unwrap();
    let there = objects.objects.borrow().clone();
    let refused = copy(&small, &objects).err().unwrap();
    assert!(refused.kind == Kind::Refused && refused.what.contains("is not the store's"), "{refused}");
    assert_eq!(*objects.objects.borrow(), there);
    std::fs::write(&key, good).unwrap();
    // A store set back to an older one.
    let older = small.copy();
    small.say(0, "and another");
    copy(&small, &objects).unwrap();
    let root = older.path().join("store");
    let place = inkfast::practice::place::Place::open(&small.world, &root, None).unwrap();
    let order = BucketOrder { objects: &objects, drafts: false, locked_until: None, resealed: &|_, _| false };
    let refused = copies::copy_to_bucket(&small.world, &place, &order, &mut |_| ()).err().unwrap();
    assert_eq!(refused.kind, Kind::Behind, "{refused}");
}

/// The page says how a stranger puts a copy together from the names of the objects alone.
#[test]
fn the_ledger_can_be_put_together_from_the_names_of_objects_alone() {
    let mut small = store();
    let objects = Kept::default();
    copy(&small, &objects).unwrap();
    grow(&mut small);
    copy(&small, &objects).unwrap();
    let dir = tempfile::tempdir().unwrap();
    for (name, bytes) in objects.objects.borrow().iter() {
        let parts: Vec<&str> = name.split('/').collect();
        let (Some(piece), path) = (parts.last(), parts[1..parts.len() - 1].join("/")) else { panic!() };
        if path == "copies" || path == "probe" {
            continue;
        }
        let words: Vec<&str> = piece.split('-').collect();
        assert_eq!(words[1].parse::<usize>().unwrap(), bytes.len(), "{name}");
        assert_eq!(words[2], blake3::hash(bytes).to_hex().as_str(), "{name}");
        let (at, file) = (words[0].parse::<usize>().unwrap(), dir.path().join(&path));
        std::fs::create_dir_all(file.parent().unwrap()).unwrap();
        let mut all = std::fs::read(&file).unwrap_or_default();
        all.resize(all.len().max(at + bytes.len()), 0);
        all[at..at + bytes.len()].copy_from_slice(bytes);
        std::fs::write(&file, all).unwrap();
    }
    // A segment is zeros up to the length that its head says.
    for item in std::fs::read_dir(dir.path().join("ledger")).unwrap() {
        let path = item.unwrap().path();
        let mut bytes = std::fs::read(&path).unwrap();
        let head = String::from_utf8_lossy(&bytes[..bytes.len().min(400)]).into_owned();
        let len = head.split_once("\nbytes ").unwrap().1.lines().next().unwrap().parse().unwrap();
        bytes.resize(len, 0);
        std::fs::write(&path, bytes).unwrap();
    }
    let report = check(dir.path());
    assert!(report.sound && report.entries == check(&small.root()).entries, "{:?}", report.findings);
}

//! A ledger that several clinics write to at once, on nothing but a store of objects that creates and never
//! replaces: the smallest prototype of `schema/SCALE.md`. A group is the object `<origin>/group/<number>`; whoever
//! creates it has that number. Its bytes are the frames of FORMAT.md, section 2, so all groups behind one another
//! are the content of a segment, and `verify` reads them as it does any ledger.
#![allow(dead_code, clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use super::common::Dice;
use inkfast::ledger::checkpoint::Checkpoint;
use inkfast::ledger::frame::{self, FrameKind, HEADER, Header};
use inkfast::ledger::leaf::{Digest, Leaf, leaf_digest, leaf_digest_hex};
use inkfast::ledger::tree::{Frontier, leaf_hash};
use inkfast::ledger::write::{NewEntry, Receipt};
use inkfast::practice::objects::{Objects, Put};
use inkfast::seal::body::hex;
use inkfast::seal::note::{Signer, Verifier};
use inkfast::trouble::{Kind, Outcome, Trouble};
use std::cell::RefCell;
use std::io::{ErrorKind, Write};
use std::path::PathBuf;
use std::time::Duration;

/// How often it is looked again whose a number became.
const PATIENCE: u32 = 400;

/// Name of a group's object.
pub fn group(origin: &str, number: u64) -> String {
    format!("{origin}/group/{number:020}")
}

/// A writer of a shared ledger. It keeps nothing but how far it has read.
pub struct Shared<'a> {
    objects: &'a dyn Objects,
    vouch: &'a Signer,
    key: &'a Verifier,
    /// Number of the next group.
    pub next: u64,
    frontier: Frontier,
    last: Option<Digest>,
}

impl<'a> Shared<'a> {
    pub fn new(objects: &'a dyn Objects, vouch: &'a Signer, key: &'a Verifier) -> Shared<'a> {
        Shared { objects, vouch, key, next: 1, frontier: Frontier::new(), last: None }
    }

    /// Reads what others have written since; hands each entry on.
    pub fn catch_up(&mut self, each: &mut dyn FnMut(&Leaf, &[u8])) -> Outcome<()> {
        while let Some(bytes) = self.objects.get(&group(self.key.name(), self.next))? {
            self.take(&bytes, each)?;
        }
        Ok(())
    }

    /// Takes a group over if it follows on what was read: numbers, links, and a signed root over everything.
    fn take(&mut self, bytes: &[u8], each: &mut dyn FnMut(&Leaf, &[u8])) -> Outcome<()> {
        let damaged = |why: &str| Trouble::damaged(format!("Group {} does not follow on: {why}.", self.next));
        let (mut frontier, mut last, mut at) = (self.frontier.clone(), self.last, 0);
        let mut signed = false;
        while at < bytes.len() {
            let header = Header::read(&bytes[at..]).ok_or_else(|| damaged("no frame"))?;
            let whole = bytes.get(at..at + header.frame_len()).ok_or_else(|| damaged("a frame is cut"))?;
            let (first, body) = (&whole[HEADER..HEADER + header.first], &whole[HEADER + header.first..]);
            at += header.frame_len();
            signed = header.kind == FrameKind::Checkpoint;
            if signed {
                let checkpoint = Checkpoint::open(first, self.key).map_err(|e| damaged(&e.to_string()))?;
                if (checkpoint.size, checkpoint.root) != (frontier.size(), frontier.root()) {
                    return Err(damaged("its root"));
                }
                continue;
            }
            let (leaf, _) = Leaf::read(first).map_err(|e| damaged(&e.to_string()))?;
            if leaf.seq != frontier.size() + 1 || leaf.prev != last.map(|d| hex(&d)) {
                return Err(damaged("its number or link"));
            }
            each(&leaf, body);
            frontier.push(leaf_hash(first));
            last = Some(leaf_digest(first));
        }
        if !signed {
            return Err(damaged("no checkpoint at its end"));
        }
        (self.frontier, self.last, self.next) = (frontier, last, self.next + 1);
        Ok(())
    }

    /// Appends a group of entries outside any chart, all or none. Where another was faster, the same entries are
    /// put behind theirs.
    ///
    /// # Errors
    /// When it can't be known whether the group became part of the ledger: it was not acknowledged, and may be there.
    pub fn commit(&mut self, entries: &[NewEntry<'_>]) -> Outcome<Vec<Receipt>> {
        self.patiently(|me| me.catch_up(&mut |_, _| ()))?;
        loop {
            let (bytes, receipts) = self.build(entries);
            let lies = self.offer(&bytes)?;
            // What lies there decides, never what was answered: an answer may be lost, a request may come late.
            self.take(&lies, &mut |_, _| ())?;
            if lies == bytes {
                return Ok(receipts);
            }
            self.patiently(|me| me.catch_up(&mut |_, _| ()))?;
        }
    }

    /// Offers these bytes for the next number until something lies there. Never other bytes for the same number: one
    /// of the requests may still be under way, and whichever comes first has to be this group.
    fn offer(&self, bytes: &[u8]) -> Outcome<Vec<u8>> {
        let name = group(self.key.name(), self.next);
        for _ in 0..PATIENCE {
            let _ = self.objects.put_new(&name, bytes, None);
            match self.objects.get(&name) {
                Ok(Some(lies)) => return Ok(lies),
                Ok(None) | Err(_) => std::thread::sleep(Duration::from_millis(5)),
            }
        }
        Err(Trouble::new(
            Kind::Disk,
            format!("It is not known whether group {} was written.", self.next),
            "It was not acknowledged; it may be there whole, or not at all.",
            "Look whether it is there before it is recorded again.",
        ))
    }

    fn patiently(&mut self, mut once: impl FnMut(&mut Self) -> Outcome<()>) -> Outcome<()> {
        for _ in 0..PATIENCE {
            match once(self) {
                Err(trouble) if trouble.kind == Kind::Disk => std::thread::sleep(Duration::from_millis(5)),
                done => return done,
            }
        }
        once(self)
    }

    fn build(&self, entries: &[NewEntry<'_>]) -> (Vec<u8>, Vec<Receipt>) {
        let (mut out, mut receipts) = (Vec::new(), Vec::new());
        let (mut frontier, mut last) = (self.frontier.clone(), self.last);
        for entry in entries {
            let leaf = Leaf {
                v: 1,
                ledger: self.key.name().to_string(),
                seq: frontier.size() + 1,
                prev: last.map(|d| hex(&d)),
                chart: None,
                chart_seq: None,
                chart_prev: None,
                kind: entry.kind.clone(),
                written: entry.written,
                author: entry.signers[0].name().to_string(),
                body: hex(blake3::hash(&entry.body).as_bytes()),
                size: entry.body.len() as u64,
                commit: hex(&entry.commit),
            };
            let note = leaf.to_note(&entry.signers).unwrap();
            frontier.push(leaf_hash(&note));
            last = Some(leaf_digest(&note));
            receipts.push(Receipt { seq: leaf.seq, leaf: leaf_digest_hex(&note), chart_seq: None });
            frame::write(&mut out, FrameKind::Entry, &note, &entry.body);
        }
        let (origin, size) = (self.key.name().to_string(), frontier.size());
        let checkpoint = Checkpoint { origin, size, root: frontier.root() };
        frame::write(&mut out, FrameKind::Checkpoint, checkpoint.sign(self.vouch).unwrap().as_bytes(), &[]);
        (out, receipts)
    }
}

/// A folder as a store of objects: a name is given to whole bytes, once.
pub struct Folder(pub PathBuf);

impl Objects for Folder {
    fn put_new(&self, name: &str, bytes: &[u8], _: Option<jiff::Timestamp>) -> Outcome<Put> {
        let path = self.0.join(name.replace('/', "_"));
        let mut file = tempfile::NamedTempFile::new_in(&self.0).unwrap();
        file.write_all(bytes).unwrap();
        match std::fs::hard_link(file.path(), path) {
            Ok(()) => Ok(Put::Created),
            Err(e) if e.kind() == ErrorKind::AlreadyExists => Ok(Put::Exists),
            Err(e) => panic!("{e}"),
        }
    }

    fn get(&self, name: &str) -> Outcome<Option<Vec<u8>>> {
        match std::fs::read(self.0.join(name.replace('/', "_"))) {
            Ok(bytes) => Ok(Some(bytes)),
            Err(e) if e.kind() == ErrorKind::NotFound => Ok(None),
            Err(e) => panic!("{e}"),
        }
    }

    fn list(&self, _: &str) -> Outcome<Vec<String>> {
        panic!("a writer lists nothing")
    }
}

/// A bad way to a store of objects: answers are lost, and requests come late, some long after they were given up.
pub struct BadWay<'a> {
    objects: &'a dyn Objects,
    dice: RefCell<Dice>,
    late: RefCell<Vec<(String, Vec<u8>)>>,
    /// How many requests were held up so far, and how many answers lost.
    pub held_up: RefCell<(u32, u32)>,
}

impl<'a> BadWay<'a> {
    pub fn new(objects: &'a dyn Objects, seed: u64) -> BadWay<'a> {
        let (dice, late) = (RefCell::new(Dice::new(seed)), RefCell::default());
        BadWay { objects, dice, late, held_up: RefCell::default() }
    }

    fn dice(&self, of: u64) -> u64 {
        self.dice.borrow_mut().below(of)
    }

    /// A request that was held up comes through after all.
    fn one_arrives(&self) {
        let held: usize = self.late.borrow().len();
        if held > 0 {
            let (name, bytes) = self.late.borrow_mut().swap_remove(self.dice(held as u64) as usize);
            let _ = self.objects.put_new(&name, &bytes, None);
        }
    }

    /// All that were held up come through.
    pub fn all_arrive(&self) {
        while !self.late.borrow().is_empty() {
            self.one_arrives();
        }
    }

    fn no_answer<T>() -> Outcome<T> {
        Err(Trouble::new(Kind::Disk, "no answer", "nothing is known", "again"))
    }
}

impl Objects for BadWay<'_> {
    fn put_new(&self, name: &str, bytes: &[u8], until: Option<jiff::Timestamp>) -> Outcome<Put> {
        if self.dice(3) == 0 {
            self.one_arrives();
        }
        match self.dice(4) {
            0 => {
                self.held_up.borrow_mut().0 += 1;
                self.late.borrow_mut().push((name.to_string(), bytes.to_vec()));
                BadWay::no_answer()
            }
            1 => {
                self.held_up.borrow_mut().1 += 1;
                self.objects.put_new(name, bytes, until).and_then(|_| BadWay::no_answer())
            }
            _ => self.objects.put_new(name, bytes, until),
        }
    }

    fn get(&self, name: &str) -> Outcome<Option<Vec<u8>>> {
        if self.dice(6) == 0 { BadWay::no_answer() } else { self.objects.get(name) }
    }

    fn list(&self, prefix: &str) -> Outcome<Vec<String>> {
        self.objects.list(prefix)
    }
}

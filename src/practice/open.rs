//! An unlocked practice: reading entries through the roles a person holds, and adding entries
//! as that person.

use super::place::Place;
use super::session::{Session, chart_recipients};
use crate::ledger::leaf::{Leaf, leaf_digest_hex};
use crate::ledger::scan::{EntryAt, Scan, scan_to_newest};
use crate::ledger::write::{NewEntry, Receipt, Remark, Writer, read_entry, read_leaf};
use crate::record::envelope::{Happened, Label, Meaning, Person, Record, RefWhy, Reference, Signature};
use crate::record::kinds::register::{KeyRole, Keys, Rules, Staff};
use crate::record::kinds::{Class, Data, Level, Problem, class_of, info};
use crate::record::moment::Moment;
use crate::record::rulebook::RuleBook;
use crate::seal::age_file::{self, OpenError, Recipient, To, With};
use crate::seal::body::{Body, unhex32};
use crate::seal::identity::StaffIdentity;
use crate::seal::keybook::KeyBook;
use crate::seal::note::Note;
use crate::trouble::{Kind, Outcome, Trouble};
use crate::world::World;
use std::sync::{Arc, Mutex, PoisonError};
use zeroize::Zeroizing;

/// An entry as far as this person may read it.
#[derive(Clone)]
pub struct Entry {
    /// Its place.
    pub at: EntryAt,
    /// Its leaf.
    pub leaf: Leaf,
    /// The leaf as stored.
    pub leaf_bytes: Vec<u8>,
    /// BLAKE3 of the leaf, hex.
    pub digest: String,
    /// The body, opened; none where the person's roles do not open it or its key was destroyed.
    pub body: Option<Body>,
    /// The record in it.
    pub record: Option<Record>,
}

impl Entry {
    /// The data of its kind, if it was opened and is of a known kind.
    pub fn data(&self) -> Option<Data> {
        let record = self.record.as_ref()?;
        Data::read(&record.kind, record.edition, &record.data).ok()
    }

    /// The name it has in facts and answers: `e` and its number.
    pub fn id(&self) -> String {
        format!("e{}", self.leaf.seq)
    }
}

/// Something to be recorded.
pub struct Draft {
    /// Chart tag; none outside any chart.
    pub chart: Option<String>,
    /// What happened, in the layout of its kind.
    pub data: Data,
    /// When.
    pub happened: Happened,
    /// Labels, computed.
    pub labels: Vec<Label>,
    /// Entries it refers to, by number, and why.
    pub refers: Vec<(u64, RefWhy)>,
    /// Staff code of whoever typed it, if not the author.
    pub entered_by: Option<String>,
}

impl Draft {
    /// A draft with no labels or references.
    pub fn new(chart: Option<&str>, data: Data, start: Moment) -> Draft {
        Draft {
            chart: chart.map(str::to_string),
            data,
            happened: Happened { start, end: None, about: false },
            labels: Vec::new(),
            refers: Vec::new(),
            entered_by: None,
        }
    }
}

/// Kinds outside any chart that say who is here and which rules hold.
const PEOPLE_AND_RULES: [&str; 3] = ["keys", "rules", "staff"];

/// Fewer entries than this for each core are opened sooner than a thread begins.
const WORTH_A_THREAD: usize = 4;

enum Ledger {
    Reading(Box<Scan>),
    Writing(Box<Writer>),
}

/// An unlocked practice.
pub struct Practice {
    /// The seams.
    pub world: World,
    /// The store folder.
    pub place: Place,
    /// Who is here, and what they open.
    pub session: Session,
    /// Where this is: desk, room 1, laptop.
    pub station: String,
    ledger: Ledger,
    keys: KeyBook,
    staff: Vec<Staff>,
    rules: Vec<Rules>,
    /// The rules that were read last, and which of the adopted ones they are.
    book: Mutex<Option<(Option<usize>, Arc<RuleBook>)>>,
    staff_upto: u64,
    memory: std::sync::Mutex<super::memory::Memory>,
}

impl Practice {
    /// Opens for reading. The ledger is read from its first byte; nothing is taken from an index.
    pub fn open(world: &World, place: &Place, session: Session, station: &str) -> Outcome<Practice> {
        let scan = scan_to_newest(&*world.disk, &place.root.join("ledger"), &place.key)?;
        Practice::with(world, place, session, station, Ledger::Reading(Box::new(scan)))
    }

    /// Opens for writing at once: the ledger is read a single time, with nobody else writing.
    pub fn open_writing(world: &World, place: &Place, session: Session, station: &str) -> Outcome<Practice> {
        session.vouch()?;
        let writer = Writer::open(world, &place.location(), false)?;
        Practice::with(world, place, session, station, Ledger::Writing(Box::new(writer)))
    }

    /// Takes over a writer, for setting up and for work that writes much.
    pub fn with_writer(
        world: &World,
        place: &Place,
        session: Session,
        station: &str,
        writer: Writer,
    ) -> Outcome<Practice> {
        Practice::with(world, place, session, station, Ledger::Writing(Box::new(writer)))
    }

    fn with(
        world: &World,
        place: &Place,
        session: Session,
        station: &str,
        ledger: Ledger,
    ) -> Outcome<Practice> {
        let kit = session.kit();
        let (staff, rules) = (kit.map(|k| k.staff().to_vec()), kit.and_then(|k| k.rules().cloned()));
        let mut practice = Practice {
            world: world.clone(),
            place: place.clone(),
            session,
            station: station.to_string(),
            ledger,
            keys: KeyBook::default(),
            staff: staff.unwrap_or_default(),
            rules: rules.into_iter().collect(),
            book: Mutex::default(),
            staff_upto: 0,
            memory: std::sync::Mutex::default(),
        };
        practice.refresh()?;
        // The role files stay sealed to a leaver until they are next sealed anew.
        if practice.has_left() {
            practice.session.lock();
        }
        Ok(practice)
    }

    /// True when the last day of the person who is here is over.
    pub fn has_left(&self) -> bool {
        let today = self.now().local_date();
        let mine = self.keys.newest(&self.session.me.code);
        mine.and_then(|key| key.until).is_some_and(|last_day| last_day < today)
    }

    /// Opens for writing if it is not yet; from then on nobody else writes until this is dropped.
    pub fn begin_writing(&mut self) -> Outcome<Vec<Remark>> {
        if let Ledger::Reading(_) = self.ledger {
            self.session.vouch()?;
            let writer = Writer::open(&self.world, &self.place.location(), false)?;
            self.ledger = Ledger::Writing(Box::new(writer));
            self.refresh()?;
        }
        Ok(self.take_remarks())
    }

    /// Opens for writing although the ledger is behind the outside copy; the caller records why.
    pub fn begin_writing_behind(&mut self) -> Outcome<()> {
        let writer = Writer::open(&self.world, &self.place.location(), true)?;
        self.ledger = Ledger::Writing(Box::new(writer));
        self.refresh()
    }

    /// What opening and committing had to remark.
    pub fn take_remarks(&mut self) -> Vec<Remark> {
        match &mut self.ledger {
            Ledger::Writing(writer) => writer.take_remarks(),
            Ledger::Reading(_) => Vec::new(),
        }
    }

    /// What was read of the ledger.
    pub fn scan(&self) -> &Scan {
        match &self.ledger {
            Ledger::Reading(scan) => scan,
            Ledger::Writing(writer) => writer.scan(),
        }
    }

    /// The keys listed in the ledger.
    pub fn keys(&self) -> &KeyBook {
        &self.keys
    }

    /// The roster as far as it is recorded; the newest line of each person.
    pub fn staff(&self) -> &[Staff] {
        &self.staff
    }

    /// The roster line of a person.
    pub fn staff_line(&self, code: &str) -> Option<&Staff> {
        self.staff.iter().find(|s| s.code == code)
    }

    /// The rules that apply today: of those in effect the ones that took effect last, and of two on one
    /// day the ones adopted last.
    pub fn rules(&self) -> Option<&Rules> {
        self.rules_in_force().map(|n| &self.rules[n])
    }

    /// Every edition of the rules, in the order in which they were adopted.
    pub fn editions(&self) -> &[Rules] {
        &self.rules
    }

    fn rules_in_force(&self) -> Option<usize> {
        let today = self.now().local_date();
        let effective = self.rules.iter().enumerate().filter(|(_, r)| r.effective.0 <= today);
        effective.max_by_key(|(_, r)| r.effective).map(|(n, _)| n)
    }

    /// The rules in force today, section by section, read once; the shipped example where none are
    /// adopted, or where an early edition lacks the section.
    ///
    /// # Errors
    /// When the adopted document can't be used.
    pub fn rulebook(&self) -> Outcome<Arc<RuleBook>> {
        let which = self.rules_in_force();
        let mut read = self.book.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((of, book)) = &*read
            && *of == which
        {
            return Ok(book.clone());
        }
        let book = match which {
            Some(n) => RuleBook::read(&self.rules[n].document),
            None => RuleBook::example(),
        };
        let book = book.map(Arc::new).map_err(|why| {
            Trouble::new(
                Kind::Refused,
                format!("The adopted rules can't be used: {why}."),
                "Nothing was recorded or changed.",
                "Correct the rules file and adopt it again with `inkfast rules adopt`.",
            )
        })?;
        *read = Some((which, book.clone()));
        Ok(book)
    }

    /// Now, by the station's clock.
    pub fn now(&self) -> Moment {
        self.world.clock.now()
    }

    /// Takes in `keys` and `staff` entries added since last time.
    fn refresh(&mut self) -> Outcome<()> {
        let new: Vec<EntryAt> = self
            .scan()
            .entries
            .iter()
            .filter(|e| e.chart.is_none() && e.seq > self.staff_upto && PEOPLE_AND_RULES.contains(&&*e.kind))
            .cloned()
            .collect();
        for (at, entry) in new.iter().zip(self.open_all(&new)?) {
            match entry.data() {
                Some(Data::Keys(keys)) => self.take_keys(&entry, &keys)?,
                Some(Data::Rules(rules)) => self.rules.push(*rules),
                Some(Data::Staff(line)) => {
                    self.staff.retain(|s| s.code != line.code);
                    self.staff.push(*line);
                }
                _ => {}
            }
            self.staff_upto = at.seq;
        }
        Ok(())
    }

    /// Opens entries as [`Practice::entry`] does, in this order, on as many cores as there are.
    fn open_all(&self, all: &[EntryAt]) -> Outcome<Vec<Entry>> {
        let cores = std::thread::available_parallelism().map_or(1, usize::from);
        let share = all.len().div_ceil(cores);
        if cores == 1 || share < WORTH_A_THREAD {
            return all.iter().map(|at| self.entry(at)).collect();
        }
        let open = |part: &[EntryAt]| part.iter().map(|at| self.entry(at)).collect::<Outcome<Vec<_>>>();
        let parts: Vec<_> = std::thread::scope(|scope| {
            let begun: Vec<_> = all.chunks(share).map(|part| scope.spawn(move || open(part))).collect();
            begun.into_iter().map(|thread| thread.join()).collect()
        });
        let mut entries = Vec::with_capacity(all.len());
        for part in parts {
            entries.extend(part.unwrap_or_else(|panic| std::panic::resume_unwind(panic))?);
        }
        Ok(entries)
    }

    /// Takes over listed keys if whoever listed them might: otherwise anybody who can add an entry could
    /// have what comes after sealed to a key of their own. A check of the store names such entries.
    fn take_keys(&mut self, entry: &Entry, keys: &Keys) -> Outcome<()> {
        let unusable = || Trouble::damaged("An entry of public keys holds no usable keys.");
        if entry.at.seq == 1 {
            self.keys.take(keys).ok_or_else(unusable)?;
        }
        let note = Note::parse(&entry.leaf_bytes).map_err(|_| unusable())?;
        let day = entry.leaf.written.local_date();
        match self.keys.check(&note, &entry.leaf.author, day, true) {
            Ok(()) => self.keys.take(keys).ok_or_else(unusable),
            Err(_) => Ok(()),
        }
    }

    /// Reads one entry, checks it against its leaf, and opens it as far as the roles allow.
    pub fn entry(&self, at: &EntryAt) -> Outcome<Entry> {
        let (leaf_bytes, stored) = read_entry(&self.world, &self.place.root.join("ledger"), at)?;
        let damaged =
            || Trouble::damaged(format!("Entry {} is not what its number in the ledger says.", at.seq));
        let (leaf, _) = Leaf::read(&leaf_bytes).map_err(|_| damaged())?;
        if crate::ledger::tree::leaf_hash(&leaf_bytes) != at.tree_hash
            || unhex32(&leaf.body) != Some(*blake3::hash(&stored).as_bytes())
        {
            return Err(damaged());
        }
        let body = self.open_body(&leaf, &stored)?;
        let record = match &body {
            Some(body) if unhex32(&leaf.commit) != Some(body.commitment()) => return Err(damaged()),
            Some(body) => Some(Record::from_bytes(&body.record).map_err(|_| damaged())?),
            None => None,
        };
        let digest = leaf_digest_hex(&leaf_bytes);
        Ok(Entry { at: at.clone(), leaf, leaf_bytes, digest, body, record })
    }

    fn open_body(&self, leaf: &Leaf, stored: &[u8]) -> Outcome<Option<Body>> {
        if stored.starts_with(crate::seal::body::MARKER) {
            return Ok(Body::from_bytes(stored));
        }
        let held = match &leaf.chart {
            Some(tag) => {
                // The key that most likely fits is tried alone first: trying one costs as much as opening.
                let desk_first = info(&leaf.kind).is_some_and(|row| row.class == Class::Desk);
                let (first, then) = match desk_first {
                    true => (KeyRole::Desk, KeyRole::Clinical),
                    false => (KeyRole::Clinical, KeyRole::Desk),
                };
                let key = |role| self.session.chart_key(&self.world, &self.place, tag, role);
                let likely = key(first)?;
                let opened = likely.map(|key| age_file::open(&With::Identities(&[key]), stored));
                match opened {
                    Some(Ok(plain)) => return whole(leaf.seq, &plain).map(Some),
                    None | Some(Err(OpenError::NoKey)) => {}
                    Some(Err(e)) => return Err(e.about(&format!("Entry {}", leaf.seq))),
                }
                key(then)?.into_iter().collect()
            }
            None => self.session.role_identities(),
        };
        match age_file::open(&With::Identities(&held), stored) {
            Ok(plain) => whole(leaf.seq, &plain).map(Some),
            Err(OpenError::NoKey) => Ok(None),
            Err(e) => Err(e.about(&format!("Entry {}", leaf.seq))),
        }
    }

    /// An entry's leaf alone: what it is, not what it says.
    pub fn leaf(&self, at: &EntryAt) -> Outcome<Leaf> {
        self.leaf_of(at).map(|(leaf, _)| leaf)
    }

    /// An entry's leaf and its digest in hex, checked to be the one that was read with the ledger.
    fn leaf_of(&self, at: &EntryAt) -> Outcome<(Leaf, String)> {
        let bytes = read_leaf(&self.world, &self.place.root.join("ledger"), at)?;
        let same = crate::ledger::tree::leaf_hash(&bytes) == at.tree_hash;
        let read = Leaf::read(&bytes).ok().filter(|_| same);
        read.map(|(leaf, _)| (leaf, leaf_digest_hex(&bytes))).ok_or_else(|| {
            Trouble::damaged(format!("Entry {} is not what its number in the ledger says.", at.seq))
        })
    }

    /// The kind of an entry, known from its leaf alone.
    pub fn kind_of(&self, at: &EntryAt) -> Outcome<String> {
        match at.kind.is_empty() {
            true => self.leaf(at).map(|leaf| leaf.kind),
            false => Ok(at.kind.to_string()),
        }
    }

    /// The entry with this number.
    pub fn entry_by_seq(&self, seq: u64) -> Outcome<Entry> {
        self.entry(self.at_seq(seq)?)
    }

    fn at_seq(&self, seq: u64) -> Outcome<&EntryAt> {
        let found = self.scan().entries.binary_search_by_key(&seq, |e| e.seq).ok();
        match found {
            Some(index) => Ok(&self.scan().entries[index]),
            None => Err(Trouble::new(
                Kind::NotFound,
                format!("There is no entry number {seq}; the ledger ends at {}.", self.scan().entries.len()),
                "Nothing was changed.",
                "Look the number up with `inkfast print`.",
            )),
        }
    }

    /// All entries of a chart, in order, found by reading the ledger itself and checked to be
    /// gapless up to the chart's newest: what is not among them was not recorded.
    pub fn chart(&self, tag: &str) -> Outcome<Vec<Entry>> {
        let bytes = crate::ledger::leaf::chart_tag(tag);
        let mine = |e: &&EntryAt| e.chart.is_some() && e.chart == bytes;
        let all: Vec<EntryAt> = self.scan().entries.iter().filter(mine).cloned().collect();
        let entries = self.open_all(&all)?;
        let gapless = entries.iter().zip(1..).all(|(e, n)| e.leaf.chart_seq == Some(n));
        let head = bytes.and_then(|b| self.scan().charts.get(&b).copied());
        if !gapless || head.is_some_and(|h| h.count != entries.len() as u64) {
            return Err(Trouble::damaged(
                "This chart's numbers have a gap, so it can't be said what is missing.",
            ));
        }
        self.memory().keep(self, tag, &entries);
        Ok(entries)
    }

    /// What is remembered of the charts, for labels.
    pub(super) fn memory(&self) -> std::sync::MutexGuard<'_, super::memory::Memory> {
        // What a panic left half done is at worst a chart read again.
        self.memory.lock().unwrap_or_else(std::sync::PoisonError::into_inner)
    }

    /// All entries outside any chart.
    pub fn register(&self) -> Outcome<Vec<Entry>> {
        let all: Vec<EntryAt> = self.scan().entries.iter().filter(|e| e.chart.is_none()).cloned().collect();
        self.open_all(&all)
    }

    /// The entries of these kinds outside any chart. No other is opened.
    pub fn register_of(&self, kinds: &[&str]) -> Outcome<Vec<Entry>> {
        let wanted = |e: &&EntryAt| e.chart.is_none() && kinds.contains(&&*e.kind);
        let all: Vec<EntryAt> = self.scan().entries.iter().filter(wanted).cloned().collect();
        self.open_all(&all)
    }

    /// The tags of all charts, in the order in which they were opened.
    pub fn chart_tags(&self) -> Vec<String> {
        let mut seen = std::collections::HashSet::new();
        let tags = self.scan().entries.iter().filter_map(|e| e.chart).filter(|t| seen.insert(*t));
        tags.map(|t| data_encoding::HEXLOWER.encode(&t)).collect()
    }

    /// The person who is here, as named on an entry.
    pub fn me(&self) -> Person {
        self.person(&self.session.me.code)
    }

    /// A member of staff, as named on an entry.
    pub fn person(&self, code: &str) -> Person {
        match self.staff_line(code) {
            Some(line) => {
                Person { code: line.code.clone(), name: line.name.clone(), role: line.role.clone() }
            }
            None => Person { code: code.to_string(), name: code.to_string(), role: "staff".to_string() },
        }
    }

    /// Records one thing as the person who is here.
    pub fn append(&mut self, draft: Draft) -> Outcome<Receipt> {
        self.append_group(vec![draft], None)?.pop().ok_or_else(|| Trouble::damaged("Nothing was recorded."))
    }

    /// Records several things together, all or none, with a second signer where a rule asks for one.
    pub fn append_group(
        &mut self,
        drafts: Vec<Draft>,
        second: Option<&StaffIdentity>,
    ) -> Outcome<Vec<Receipt>> {
        self.begin_writing()?;
        self.refresh()?;
        let written = self.now();
        let mut prepared = Vec::with_capacity(drafts.len());
        // Keys listed in this very group already seal what follows them in it.
        let mut book = self.keys.clone();
        for draft in drafts {
            if let Data::Keys(keys) = &draft.data {
                book.take(keys);
            }
            prepared.push(self.prepare(draft, written, second, &book)?);
        }
        let Practice { session, ledger, .. } = self;
        let mut signers = vec![&session.me.signer];
        signers.extend(second.map(|s| &s.signer));
        let entries = prepared
            .into_iter()
            .map(|p| NewEntry {
                chart: p.chart,
                kind: p.kind,
                written,
                signers: signers.clone(),
                body: p.body,
                commit: p.commit,
            })
            .collect();
        let vouch = session.vouch()?;
        let Ledger::Writing(writer) = ledger else {
            return Err(Trouble::damaged("The ledger is not open for writing."));
        };
        let receipts = writer.commit(entries, vouch)?;
        // What is durable is acknowledged, even if reading it again fails; the next append reads it first.
        let _ = self.refresh();
        Ok(receipts)
    }

    fn prepare(
        &self,
        draft: Draft,
        written: Moment,
        second: Option<&StaffIdentity>,
        book: &KeyBook,
    ) -> Outcome<Prepared> {
        let record = self.record(draft, written, second)?;
        let data = Data::read(&record.kind, record.edition, &record.data).map_err(|e| {
            Trouble::input(format!("This can't be recorded: {e}."), "Correct it and do it again.")
        })?;
        refuse(&data.validate(&record))?;
        self.refuse_impossible(&record)?;
        let bytes = Zeroizing::new(
            record.to_bytes().map_err(|e| Trouble::input(e.to_string(), "Correct it and do it again."))?,
        );
        let opening = self
            .world
            .random32()
            .map_err(|e| Trouble::disk("get random numbers for", &self.place.root, &e))?;
        let body = Body { opening, record: bytes };
        let plain = body.to_bytes();
        let stored = match self.recipients(&record, book)? {
            None => plain.to_vec(),
            Some(to) => age_file::seal(&To::Recipients(&to), &plain)
                .map_err(|e| Trouble::disk("seal an entry for", &self.place.root, &e))?,
        };
        Ok(Prepared { chart: record.chart, kind: record.kind, body: stored, commit: body.commitment() })
    }

    /// Refuses values that can't be by the limits of the adopted rules. A rules document that can't be used
    /// stops nothing here: what was done must be recordable, and the rules say so where they are asked.
    fn refuse_impossible(&self, record: &Record) -> Outcome<()> {
        if !["visit", "measure"].contains(&record.kind.as_str()) {
            return Ok(());
        }
        let Ok(book) = self.rulebook() else { return Ok(()) };
        let found = crate::record::measured::impossible(&record.data, &book.tables.trade);
        let Some((place, why)) = found.first() else { return Ok(()) };
        Err(Trouble::input(
            format!("A value can't be taken at {place}: {why}."),
            "Read it again, and type it again. What the limits are is for the practice's rules to say.",
        ))
    }

    fn record(&self, draft: Draft, written: Moment, second: Option<&StaffIdentity>) -> Outcome<Record> {
        let draft = super::labels::complete(self, draft)?;
        // What is never sealed names people by their code alone.
        let open = info(draft.data.kind()).is_some_and(|row| row.class == Class::Open);
        let named = |person: Person| match open {
            true => Person { name: person.code.clone(), role: "staff".to_string(), ..person },
            false => person,
        };
        let me = named(self.me());
        let mut labels = super::labels::labels(self, &draft, written)?;
        if let Some(kit) = self.session.kit() {
            let of = |tag: &str| super::adding::of_kind(self, tag, "hold").map(|e| e.seq).collect();
            let holds: Vec<u64> = draft.chart.as_deref().map(of).unwrap_or_default();
            kit.relabel(draft.chart.as_deref(), &holds, &mut labels);
        }
        labels.extend(draft.labels);
        labels.sort();
        labels.dedup();
        let sign = |person: &Person, meaning| Signature {
            by: person.code.clone(),
            name: person.name.clone(),
            role: person.role.clone(),
            at: written,
            meaning,
        };
        let refers = draft
            .refers
            .iter()
            .map(|(seq, why)| {
                let digest = self.leaf_of(self.at_seq(*seq)?)?.1;
                Ok(Reference { seq: *seq, leaf: digest, why: why.clone() })
            })
            .collect::<Outcome<Vec<_>>>()?;
        Ok(Record {
            kind: draft.data.kind().to_string(),
            edition: draft.data.edition(),
            ledger: self.place.key.name().to_string(),
            chart: draft.chart,
            happened: draft.happened,
            written,
            station: if open { "-".to_string() } else { self.station.clone() },
            signed: sign(&me, Meaning::Wrote),
            author: me,
            entered_by: draft.entered_by.as_deref().map(|code| named(self.person(code))),
            second: second.map(|s| sign(&named(self.person(&s.code)), Meaning::Checked)),
            labels,
            refers,
            data: draft
                .data
                .to_value()
                .map_err(|e| Trouble::input(e.to_string(), "Correct it and do it again."))?,
        })
    }

    /// Whom a record is sealed to; none for what stays open.
    fn recipients(&self, record: &Record, book: &KeyBook) -> Outcome<Option<Vec<Recipient>>> {
        let missing = || Trouble::damaged("The ledger lists no recipient for a role.");
        Ok(match (&record.chart, class_of(record)) {
            (_, Class::Open) => None,
            (Some(tag), class) => {
                let (desk, clinical) = chart_recipients(&self.world, &self.place, book, tag)?;
                Some(vec![if class == Class::Desk { desk } else { clinical }])
            }
            (None, _) => Some(vec![
                book.role(KeyRole::Desk).ok_or_else(missing)?,
                book.role(KeyRole::Clinical).ok_or_else(missing)?,
            ]),
        })
    }
}

/// An opened body taken apart.
fn whole(seq: u64, plain: &[u8]) -> Outcome<Body> {
    Body::from_bytes(plain)
        .ok_or_else(|| Trouble::damaged(format!("Entry {seq} opens to something that is no record.")))
}

struct Prepared {
    chart: Option<String>,
    kind: String,
    body: Vec<u8>,
    commit: [u8; 32],
}

/// Refuses a record with impossible contents, with every reason at once.
fn refuse(problems: &[Problem]) -> Outcome<()> {
    let refused: Vec<_> =
        problems.iter().filter(|p| p.level == Level::Refuse).map(|p| format!("- {}", p.text)).collect();
    if refused.is_empty() {
        return Ok(());
    }
    Err(Trouble::new(
        Kind::BadInput,
        format!("This can't be recorded as it stands:\n{}", refused.join("\n")),
        "Nothing was written. What you typed is kept as a draft where the command keeps drafts.",
        "Correct these points and do it again.",
    ))
}

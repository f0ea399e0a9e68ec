//! An unlocked practice: reading entries through the roles a person holds, and adding entries
//! as that person.

mod append;
mod found;
mod read;
mod then;

pub(super) use found::mark;

use super::place::Place;
use super::session::Session;
use crate::index::bookmark::Bookmark;
use crate::ledger::leaf::Leaf;
use crate::ledger::scan::{EntryAt, Scan};
use crate::ledger::write::{Remark, Writer};
use crate::record::envelope::{Happened, Label, Person, Record, RefWhy};
use crate::record::kinds::Data;
use crate::record::kinds::register::{Keys, Rules, Staff};
use crate::record::moment::Moment;
use crate::record::rulebook::RuleBook;
use crate::seal::body::Body;
use crate::seal::keybook::KeyBook;
use crate::seal::note::Note;
use crate::trouble::{Kind, Outcome, Trouble};
use crate::world::World;
use std::sync::{Arc, Mutex, PoisonError};

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
    mark: Option<Arc<Bookmark>>,
    keys: KeyBook,
    staff: Vec<Staff>,
    rules: Vec<Rules>,
    /// The rules that were read last, and which of the adopted ones they are.
    book: Mutex<Option<(Option<usize>, Arc<RuleBook>)>>,
    /// The number of the last entry up to which people and rules were looked for.
    looked: u64,
    /// Whose view this is, where it is not that of the person who is here.
    as_whom: Option<String>,
    memory: std::sync::Mutex<super::memory::Memory>,
}

impl Practice {
    /// Opens for reading. The ledger is read from its first byte, or from where the signed bookmark of an earlier
    /// reading lies.
    pub fn open(world: &World, place: &Place, session: Session, station: &str) -> Outcome<Practice> {
        let mark = found::mark(world, place);
        let scan = found::read(world, place, &mark)?;
        let practice = Practice::with(world, place, session, station, Ledger::Reading(Box::new(scan)), mark)?;
        practice.set_mark();
        Ok(practice)
    }

    /// Opens for writing at once: the ledger is read a single time, with nobody else writing.
    pub fn open_writing(world: &World, place: &Place, session: Session, station: &str) -> Outcome<Practice> {
        session.vouch()?;
        let mark = found::mark(world, place);
        let writer = found::write(world, place, false, &mark)?;
        let practice =
            Practice::with(world, place, session, station, Ledger::Writing(Box::new(writer)), mark)?;
        practice.set_mark();
        Ok(practice)
    }

    /// Takes over a writer, for setting up and for work that writes much.
    pub fn with_writer(
        world: &World,
        place: &Place,
        session: Session,
        station: &str,
        writer: Writer,
    ) -> Outcome<Practice> {
        Practice::with(world, place, session, station, Ledger::Writing(Box::new(writer)), None)
    }

    fn with(
        world: &World,
        place: &Place,
        session: Session,
        station: &str,
        ledger: Ledger,
        mark: found::Mark,
    ) -> Outcome<Practice> {
        let kit = session.kit();
        let (staff, rules) = (kit.map(|k| k.staff().to_vec()), kit.and_then(|k| k.rules().cloned()));
        let mut practice = Practice {
            world: world.clone(),
            place: place.clone(),
            session,
            station: station.to_string(),
            ledger,
            mark: mark.map(|(mark, _)| mark),
            keys: KeyBook::default(),
            staff: staff.unwrap_or_default(),
            rules: rules.into_iter().collect(),
            book: Mutex::default(),
            looked: 0,
            as_whom: None,
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
        if self.is_reading() {
            self.session.vouch()?;
            self.write_on(false)?;
        }
        Ok(self.take_remarks())
    }

    /// Opens for writing although the ledger is behind the outside copy; the caller records why.
    pub fn begin_writing_behind(&mut self) -> Outcome<()> {
        self.write_on(true)
    }

    fn write_on(&mut self, even_if_behind: bool) -> Outcome<()> {
        let mark = found::mark(&self.world, &self.place);
        let writer = found::write(&self.world, &self.place, even_if_behind, &mark)?;
        self.ledger = Ledger::Writing(Box::new(writer));
        self.mark = mark.map(|(mark, _)| mark);
        self.refresh()
    }

    /// What opening and committing had to remark.
    pub fn take_remarks(&mut self) -> Vec<Remark> {
        match &mut self.ledger {
            Ledger::Writing(writer) => writer.take_remarks(),
            Ledger::Reading(_) => Vec::new(),
        }
    }

    /// What was read of the ledger now: everything, or what lies behind the bookmark.
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
    /// adopted.
    ///
    /// # Errors
    /// When the adopted document can't be used, for example because it lacks a section.
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
        let (new, upto) = (self.outside(&PEOPLE_AND_RULES, self.looked)?, self.size());
        for entry in self.open_all(&new)? {
            match entry.data() {
                Some(Data::Keys(keys)) => self.take_keys(&entry, &keys)?,
                Some(Data::Rules(rules)) => self.rules.push(*rules),
                Some(Data::Staff(line)) => {
                    self.staff.retain(|s| s.code != line.code);
                    self.staff.push(*line);
                }
                _ => {}
            }
            // What was taken over is not taken over again should a later one not open.
            self.looked = entry.at.seq;
        }
        self.looked = upto;
        Ok(())
    }

    /// Takes over listed keys if whoever listed them might. A check of the store names those that are not taken over.
    fn take_keys(&mut self, entry: &Entry, keys: &Keys) -> Outcome<()> {
        let day = entry.leaf.written.local_date();
        Note::parse(&entry.leaf_bytes)
            .ok()
            .and_then(|note| self.keys.take_signed(entry.at.seq, &note, &entry.leaf.author, day, keys))
            .ok_or_else(|| Trouble::damaged("An entry of public keys holds no usable keys."))
    }

    /// What is remembered of the charts, for labels.
    pub(super) fn memory(&self) -> std::sync::MutexGuard<'_, super::memory::Memory> {
        // What a panic left half done is at worst a chart read again.
        self.memory.lock().unwrap_or_else(std::sync::PoisonError::into_inner)
    }

    /// The person who is here, as named on an entry; in a view of an earlier entry, its author.
    pub fn me(&self) -> Person {
        self.person(self.as_whom.as_deref().unwrap_or(&self.session.me.code))
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
}

//! What a document is made from, and how its entries read: as corrected, and as first written.

use super::ids::Ids;
use super::systems::identifier;
use super::types::{Identifier, Reference};
use crate::record::envelope::{Person, Record};
use crate::record::kinds::Data;
use crate::record::kinds::register::{RegisterOpened, Staff};
use crate::record::measures::Key;
use crate::record::moment::Moment;
use crate::render::corrected::{Mend, Written, current, mends_from};
use crate::render::set::PrintedEntry;
use std::cell::RefCell;
use std::collections::{BTreeMap, BTreeSet};

/// Everything a document is made from: plain data, already opened, for one patient.
#[derive(Debug, Clone)]
pub struct DocumentSet {
    /// Random label of the register.
    pub ledger: String,
    /// The practice, if its opening of the register can be read.
    pub practice: Option<RegisterOpened>,
    /// Roster lines, newest last.
    pub staff: Vec<Staff>,
    /// The chart's entries, in any order.
    pub entries: Vec<PrintedEntry>,
    /// Number of the release this document belongs to; none for a working copy.
    pub release: Option<u64>,
    /// When it was put together: when the release, or the newest entry, was written.
    pub at: Moment,
    /// Who put it together.
    pub by: Person,
    /// True when the files of the attachments lie beside it, as in a package.
    pub with_files: bool,
}

/// One entry that may be read.
#[derive(Debug, Clone)]
pub(super) struct Seen<'a> {
    /// The entry.
    pub entry: &'a PrintedEntry,
    /// The record as it was written.
    pub was: &'a Record,
    /// The record with every correction made.
    pub now: Record,
    /// The corrected data.
    pub data: Data,
}

impl Seen<'_> {
    /// Its number in the register.
    pub(super) fn seq(&self) -> u64 {
        self.entry.seq
    }
}

/// A chart, looked through once.
pub(super) struct Chart<'a> {
    /// What it is made from.
    pub set: &'a DocumentSet,
    /// Gives names.
    pub ids: Ids<'a>,
    /// What may be read, in the order written.
    pub seen: Vec<Seen<'a>>,
    /// Corrections by the entry they reach.
    pub mends: BTreeMap<u64, Vec<Mend>>,
    /// Measures taken before treatment.
    pub before: Befores,
    /// Numbers of the visit openings among what may be read.
    visits: BTreeSet<u64>,
    /// Codes of the people of the practice that were pointed to.
    codes: RefCell<BTreeSet<String>>,
}

/// The name of each measure taken before treatment, by its visit and by what makes it comparable.
pub(super) type Befores = BTreeMap<(u64, Key), String>;

impl<'a> Chart<'a> {
    /// Looks a set through.
    pub(super) fn new(set: &'a DocumentSet) -> Chart<'a> {
        let mut ordered: Vec<&PrintedEntry> = set.entries.iter().collect();
        ordered.sort_by_key(|entry| entry.seq);
        let mends = mends_from(ordered.iter().filter_map(|entry| {
            let (on, by) = (entry.written.local_date(), entry.author.clone());
            Some(Written { seq: entry.seq, on, by, record: entry.shown()? })
        }));
        let seen: Vec<Seen<'a>> = ordered.into_iter().filter_map(|entry| seen(entry, &mends)).collect();
        let visits = seen.iter().filter(|s| matches!(s.data, Data::VisitOpened(_))).map(Seen::seq).collect();
        let ids = Ids { ledger: &set.ledger };
        let before = super::measure::befores(&seen, |seq, role| ids.entry(seq, role));
        Chart { set, ids, seen, mends, before, visits, codes: RefCell::default() }
    }

    /// Entries that may not be read, with the reason.
    pub(super) fn unseen(&self) -> Vec<(&'a PrintedEntry, String)> {
        let mut out: Vec<(&PrintedEntry, String)> =
            self.set.entries.iter().filter_map(|e| Some((e, e.not_shown()?))).collect();
        out.sort_by_key(|(entry, _)| entry.seq);
        out
    }

    /// The patient.
    pub(super) fn patient(&self) -> Reference {
        Reference::to(&self.ids.urn("patient"))
    }

    /// The practice.
    pub(super) fn practice(&self) -> Reference {
        Reference::to(&self.ids.urn("organization"))
    }

    /// Somebody of the practice, by code.
    pub(super) fn staff(&self, code: &str) -> Reference {
        self.codes.borrow_mut().insert(code.to_string());
        Reference::to(&self.ids.urn(&format!("practitioner {code}")))
    }

    /// Codes of everybody of the practice who was pointed to so far.
    pub(super) fn codes(&self) -> BTreeSet<String> {
        self.codes.borrow().clone()
    }

    /// The visit, where its opening may be read.
    pub(super) fn encounter(&self, visit: Option<u64>) -> Option<Reference> {
        let visit = visit.filter(|seq| self.visits.contains(seq))?;
        Some(Reference::to(&self.ids.entry(visit, "encounter")))
    }

    /// The identifier of what an entry is told in: the number of the entry, and which part of it.
    pub(super) fn of_entry(&self, seq: u64, role: &str) -> Identifier {
        identifier("entry", format!("{}#{role}", self.ids.number(seq)))
    }

    /// The data of an entry that may be read.
    pub(super) fn data(&self, seq: u64) -> Option<&Data> {
        self.seen.iter().find(|seen| seen.seq() == seq).map(|seen| &seen.data)
    }

    /// The newest roster line of a person.
    pub(super) fn line(&self, code: &str) -> Option<&'a Staff> {
        self.set.staff.iter().rev().find(|line| line.code == code)
    }
}

fn seen<'a>(entry: &'a PrintedEntry, mends: &BTreeMap<u64, Vec<Mend>>) -> Option<Seen<'a>> {
    let was = entry.shown()?;
    let now = current(was, mends.get(&entry.seq).map_or(&[], Vec::as_slice));
    let data = now.read_data().unwrap_or_else(|_| Data::Unknown {
        kind: now.kind.clone(),
        edition: now.edition,
        value: now.data.clone(),
    });
    Some(Seen { entry, was, now, data })
}

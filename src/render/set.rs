//! What goes into a printed record: plain data, already opened, for one patient.
//!
//! Nothing here reads a clock or a file. The moment of printing comes in as data, so that the
//! same set gives the same bytes.

use crate::record::envelope::{Person, Record};
use crate::record::kinds::Data;
use crate::record::kinds::common::Day;
use crate::record::kinds::identity::{Birth, Identity};
use crate::record::kinds::register::{RegisterOpened, Staff, Wording};
use crate::record::moment::{Moment, plain_date};
use crate::record::tables::trade::TradeTables;
use std::collections::BTreeMap;

/// Edition of the layout of the printed page. It is printed on the page; a change of what is
/// printed, or in which order, is a new edition.
pub const LAYOUT_EDITION: u32 = 2;

/// Kind of the papers of the office: letters of counsel, incident reports, staff matters.
const OFFICE: &str = "office-file";

/// Everything the printed record of one patient is made from.
#[derive(Debug, Clone)]
pub struct PrintedSet {
    /// The practice, if the copy holds the opening of the register.
    pub practice: Option<RegisterOpened>,
    /// Whose record it is.
    pub patient: Patient,
    /// Random label of the ledger.
    pub ledger: String,
    /// Up to where the ledger is vouched for.
    pub checkpoint: CheckpointWords,
    /// When it was printed, by the station's clock.
    pub printed_at: Moment,
    /// Who printed it.
    pub printed_by: Person,
    /// For whom it was printed.
    pub for_whom: String,
    /// What for.
    pub purpose: String,
    /// The lawful basis, in words.
    pub basis: String,
    /// What was chosen for this copy: the whole chart, or which part of it and by what rule.
    pub extent: String,
    /// Telephone or address for questions, if another than the practice's address.
    pub contact: Option<String>,
    /// The entries of the chart, and of the register where they concern it, in any order.
    pub entries: Vec<PrintedEntry>,
    /// Roster lines, newest last.
    pub staff: Vec<Staff>,
    /// Editions of wording that were used.
    pub wordings: Vec<Wording>,
    /// The thresholds of change that the changes are held against.
    pub trade: Thresholds,
    /// What came along of the attachments.
    pub attachments: Vec<PrintedAttachment>,
    /// Result of the check of this copy, line by line in plain words; none when it was not checked.
    pub verification: Option<Vec<String>>,
    /// Differences from an earlier copy of the same span; none when there was no earlier copy.
    pub differences: Option<Vec<String>>,
}

/// Which thresholds of change a page shows.
#[derive(Debug, Clone)]
pub enum Thresholds {
    /// Those of the rules in force at the practice.
    Adopted(Box<TradeTables>),
    /// Those that the program brings along, because the practice's could not be had; why, in words. The
    /// page says so.
    Shipped(String),
}

/// Who the patient is, as every page says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Patient {
    /// Legal name, as it stands now.
    pub name: String,
    /// Earlier legal names in this chart, oldest first.
    pub earlier_names: Vec<String>,
    /// Birth date in words: `14 Jun 2007`, or an estimate.
    pub birth: String,
    /// Chart number.
    pub chart_no: String,
}

/// Up to where the ledger is vouched for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CheckpointWords {
    /// Number of entries of the whole ledger.
    pub size: u64,
    /// Short check words, as a day slip shows them.
    pub check_words: String,
    /// Digest in full.
    pub digest: String,
}

/// One entry as it is printed.
#[derive(Debug, Clone)]
pub struct PrintedEntry {
    /// Number in the register.
    pub seq: u64,
    /// Number in the chart; none outside any chart.
    pub chart_seq: Option<u64>,
    /// Kind word.
    pub kind: String,
    /// When it was written, from the leaf.
    pub written: Moment,
    /// Code of the author, from the leaf.
    pub author: String,
    /// BLAKE3 of the leaf, hex.
    pub digest: String,
    /// The opened record; none when it is withheld or could not be opened.
    pub record: Option<Record>,
    /// Why it is withheld; its contents are then never printed.
    pub withheld: Option<String>,
    /// Whether the contents are there.
    pub state: EntryState,
}

/// Whether the contents of an entry are there.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum EntryState {
    /// Opened.
    Opened,
    /// Sealed, and not opened for this copy.
    Sealed,
    /// The contents were disposed of; the entry itself still verifies.
    Disposed,
    /// The contents could not be read.
    Unreadable,
}

/// What came along of an attachment.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PrintedAttachment {
    /// Number of the attachment's entry.
    pub seq: u64,
    /// In words: "on the disc, file 3", "printed behind this record", "not in this copy because ...".
    pub came_along: String,
}

impl Patient {
    /// Who the patient is, from the opening of the chart and the changes of identity after it.
    /// None when the opening is not among the entries.
    pub fn from_entries(entries: &[PrintedEntry]) -> Option<Patient> {
        let mut ordered: Vec<&PrintedEntry> = entries.iter().filter(|e| e.withheld.is_none()).collect();
        ordered.sort_by_key(|entry| entry.seq);
        let mut patient: Option<Patient> = None;
        for record in ordered.iter().filter_map(|entry| entry.record.as_ref()) {
            match record.read_data() {
                Ok(Data::ChartOpened(opened)) if patient.is_none() => {
                    patient = Some(Patient {
                        name: opened.identity.legal_name.clone(),
                        earlier_names: Vec::new(),
                        birth: birth_words(&opened.identity.birth_date),
                        chart_no: opened.chart_no.clone(),
                    });
                }
                Ok(Data::IdentityChanged(changed)) => {
                    if let Some(known) = &mut patient {
                        known.take(&changed.identity);
                    }
                }
                _ => {}
            }
        }
        patient
    }

    fn take(&mut self, identity: &Identity) {
        if identity.legal_name != self.name {
            let earlier = std::mem::replace(&mut self.name, identity.legal_name.clone());
            self.earlier_names.push(earlier);
        }
        self.birth = birth_words(&identity.birth_date);
    }
}

/// A birth date in words.
pub fn birth_words(birth: &Birth) -> String {
    match (birth.date, birth.estimated_year) {
        (Some(Day(date)), _) => plain_date(date),
        (None, Some(year)) => format!("about {year} (estimated)"),
        (None, None) => "not recorded".to_string(),
    }
}

impl PrintedEntry {
    /// The record, unless it is withheld: what a printed page may show. A paper of the office
    /// file is never shown, whatever the set says: it is no part of any patient's record.
    pub fn shown(&self) -> Option<&Record> {
        if self.withheld.is_some() || self.is_office() { None } else { self.record.as_ref() }
    }

    fn is_office(&self) -> bool {
        let inner = self.record.as_ref().map(|record| record.kind.as_str());
        self.kind == OFFICE || inner == Some(OFFICE)
    }

    /// Why the contents are not shown; none when they are.
    pub fn not_shown(&self) -> Option<String> {
        if let Some(reason) = &self.withheld {
            return Some(format!("withheld: {reason}"));
        }
        if self.is_office() {
            return Some("a paper of the office, no part of the patient's record".to_string());
        }
        match (self.state, &self.record) {
            (_, Some(_)) => None,
            (EntryState::Disposed, None) => {
                Some("the contents were disposed of; the entry still verifies".to_string())
            }
            (EntryState::Unreadable, None) => Some("the contents could not be read".to_string()),
            (EntryState::Sealed | EntryState::Opened, None) => {
                Some("sealed, and not opened for this copy".to_string())
            }
        }
    }
}

impl PrintedSet {
    /// The entries in the order written.
    pub fn in_order(&self) -> Vec<&PrintedEntry> {
        let mut ordered: Vec<&PrintedEntry> = self.entries.iter().collect();
        ordered.sort_by_key(|entry| entry.seq);
        ordered
    }

    /// BLAKE3, hex, of what this copy holds: for each entry in the order of its number one line with the
    /// number, the digest of the sealed entry, and `printed` or `not-printed`. Two copies with another
    /// entry more, less, or withheld have different digests; printing the same set again gives the same.
    pub fn digest(&self) -> String {
        let mut hasher = blake3::Hasher::new();
        for entry in self.in_order() {
            let shown = if entry.shown().is_some() { "printed" } else { "not-printed" };
            hasher.update(format!("{} {} {shown}\n", entry.seq, entry.digest).as_bytes());
        }
        hasher.finalize().to_hex().to_string()
    }

    /// The first sixteen signs of [`PrintedSet::digest`] in fours, short enough for the foot of a page.
    pub fn short_digest(&self) -> String {
        let digest = self.digest();
        let fours: Vec<&str> = (0..4).filter_map(|n| digest.get(n * 4..n * 4 + 4)).collect();
        fours.join("-")
    }

    /// The entries by number.
    pub fn by_seq(&self) -> BTreeMap<u64, &PrintedEntry> {
        self.entries.iter().map(|entry| (entry.seq, entry)).collect()
    }

    /// Initials as written on paper; the code itself where the roster has no such line.
    pub fn initials<'a>(&'a self, code: &'a str) -> &'a str {
        self.staff_line(code).map_or(code, |line| line.initials.as_str())
    }

    /// The newest roster line of a person.
    pub fn staff_line(&self, code: &str) -> Option<&Staff> {
        self.staff.iter().rev().find(|line| line.code == code)
    }
}

//! The office file: papers that never belong in a chart. Attorneys' letters, incident and insurers' reports,
//! staff matters. They lie outside every chart, are sealed to the clinical role alone, and no package holds
//! them: a package is made from the entries of one chart.

use super::attach::{keep, open_sealed};
use super::chart::access;
use super::open::{Draft, Entry, Practice};
use crate::ledger::write::Receipt;
use crate::record::envelope::{Happened, RefWhy};
use crate::record::kinds::Data;
use crate::record::kinds::register::{FileKept, KeyRole, OfficeFile, OfficePaper};
use crate::record::kinds::release::{Access, AccessWhy, Opened};
use crate::record::moment::Moment;
use crate::seal::age_file::To;
use crate::trouble::{Kind, Outcome, Trouble};
use std::io::{Read, Write};

/// A scan that comes with an office paper.
pub struct Scan<'a> {
    /// Its title.
    pub title: String,
    /// Its media type.
    pub media_type: String,
    /// What it is read from.
    pub source: &'a mut dyn Read,
}

/// Only who holds the clinical role keeps or reads the office file: it speaks of colleagues and of claims.
///
/// # Errors
/// When the person who is here does not hold it.
pub fn allowed(practice: &Practice) -> Outcome<()> {
    match practice.session.holds(KeyRole::Clinical) {
        true => Ok(()),
        false => Err(Trouble::new(
            Kind::Locked,
            "The office file does not open to your role.",
            "Nothing was shown or recorded.",
            "Give the paper to the keeper of the records.",
        )),
    }
}

/// Keeps a paper in the office file, with its scan where there is one. The scan is sealed while it streams by,
/// as attachments are, to the role instead of a chart.
///
/// # Errors
/// When it can't be recorded; then nothing is kept.
pub fn add(
    practice: &mut Practice,
    mut data: OfficeFile,
    scan: Option<Scan<'_>>,
    happened: Happened,
) -> Outcome<Receipt> {
    allowed(practice)?;
    practice.begin_writing()?;
    let mut drafts = Vec::new();
    let mut kept_file = None;
    if let Some(scan) = scan {
        let role = practice
            .keys()
            .role(KeyRole::Clinical)
            .ok_or_else(|| Trouble::damaged("The ledger lists no recipient for a role."))?;
        let kept = keep(
            &practice.world,
            &practice.place.root,
            scan.source,
            &To::Recipients(std::slice::from_ref(&role)),
        )?;
        data.attachments.push(OfficePaper {
            title: scan.title,
            plain_digest: kept.plain_digest,
            sealed_digest: kept.sealed_digest.clone(),
            size: kept.size,
            media_type: scan.media_type,
        });
        let listed = FileKept { sealed_digest: kept.sealed_digest.clone(), sealed_size: kept.sealed_size };
        drafts.push(Draft::new(None, Data::FileKept(Box::new(listed)), happened.start));
        kept_file = Some(kept.sealed_digest);
    }
    let of = data.of;
    let mut record = Draft::new(None, Data::OfficeFile(Box::new(data)), happened.start);
    record.happened = happened;
    record.refers = of.map(|seq| (seq, RefWhy::AddsTo)).into_iter().collect();
    drafts.push(record);
    let receipts = practice.append_group(drafts, None);
    // After a failing disk the entries may be kept all the same, and then the file must be there too.
    let nothing_written = |t: &Trouble| !matches!(t.kind, Kind::Disk | Kind::Damaged);
    if let (true, Some(digest)) = (receipts.as_ref().is_err_and(nothing_written), kept_file) {
        let _ = practice.world.disk.remove(&practice.place.attachment(&digest));
    }
    receipts?.pop().ok_or_else(|| Trouble::damaged("Nothing was recorded."))
}

/// The papers of the office file, in the order kept.
///
/// # Errors
/// When the role does not open them.
pub fn papers(practice: &Practice) -> Outcome<Vec<(Entry, OfficeFile)>> {
    allowed(practice)?;
    let entries = practice.register_of(&["office-file"])?;
    Ok(entries
        .into_iter()
        .filter_map(|entry| match entry.data() {
            Some(Data::OfficeFile(data)) => Some((entry, *data)),
            _ => None,
        })
        .collect())
}

/// The paper with this number.
///
/// # Errors
/// When there is none.
pub fn paper(practice: &Practice, seq: u64) -> Outcome<(Entry, OfficeFile)> {
    papers(practice)?.into_iter().find(|(entry, _)| entry.leaf.seq == seq).ok_or_else(|| {
        Trouble::new(
            Kind::NotFound,
            format!("Entry {seq} is no paper of the office file."),
            "Nothing was changed.",
            "Look the number up with `inkfast office list`.",
        )
    })
}

/// One reading of papers of the office file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Reading {
    /// Number of the entry that says so.
    pub entry: u64,
    /// Staff code of who read.
    pub by: String,
    /// When.
    pub at: Moment,
    /// Numbers of the papers.
    pub papers: Vec<u64>,
    /// True when a scan was taken out.
    pub taken_out: bool,
}

/// Every reading of the office file, the earliest first.
///
/// # Errors
/// When an entry can't be read.
pub fn readings(practice: &Practice) -> Outcome<Vec<Reading>> {
    let entries = practice.register_of(&["access"])?;
    let read = entries.iter().filter_map(|entry| match entry.data() {
        Some(Data::Access(access)) if access.why != AccessWhy::Emergency => Some(Reading {
            entry: entry.leaf.seq,
            by: entry.leaf.author.clone(),
            at: entry.leaf.written,
            papers: access.entries,
            taken_out: access.exported,
        }),
        _ => None,
    });
    Ok(read.collect())
}

/// Leaves an entry that these papers were read: outside every chart, once a day for each person and the same papers.
/// It says numbers and no contents, so that the desk may see that something was read.
///
/// # Errors
/// When it can't be recorded; then nothing may be shown.
pub fn note_reading(practice: &mut Practice, numbers: Vec<u64>, taken_out: bool) -> Outcome<()> {
    let now = practice.now();
    let known = readings(practice)?.iter().any(|reading| {
        reading.by == practice.session.me.code
            && reading.at.local_date() == now.local_date()
            && reading.papers == numbers
            && reading.taken_out == taken_out
    });
    if known || numbers.is_empty() {
        return Ok(());
    }
    let read = Access {
        opened: Opened::Entries,
        entries: numbers,
        exported: taken_out,
        ..access(AccessWhy::Review, Some("the office file".to_string()))
    };
    practice.append(Draft::new(None, Data::Access(Box::new(read)), now)).map(drop)
}

/// Opens a scan and streams it into `out`.
///
/// # Errors
/// When the sealed file is missing, was changed, or is not the one the entry names. `out` may have received
/// a part by then and must be thrown away.
pub fn open_scan(practice: &Practice, paper: &OfficePaper, out: &mut dyn Write) -> Outcome<()> {
    allowed(practice)?;
    let held = practice.session.role_identities();
    open_sealed(practice, &held, (&paper.sealed_digest, &paper.plain_digest, paper.size), out)
}

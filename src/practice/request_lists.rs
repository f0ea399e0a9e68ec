//! Requests of all charts, and what the notes of the days an audit asks for lack.

use super::chart::faces;
use super::open::{Entry, Practice};
use super::reading::ChartReading;
use super::request::{Dealing, of_chart};
use super::review::remarks;
use crate::ledger::leaf::chart_tag;
use crate::record::kinds::request::Lacking;
use crate::record::kinds::{Data, Day};
use crate::record::request::standing::Standing;
use crate::record::review::{Level, Remark};
use crate::trouble::{Kind, Outcome, Trouble};

/// A request with its chart.
pub struct OfChart {
    /// Number of the chart.
    pub chart_no: String,
    /// Name of the patient.
    pub name: String,
    /// How it stands.
    pub standing: Standing,
}

/// Kinds that a request and its steps are kept in, and what can change how they read.
const KINDS: [&str; 5] = ["request", "request-step", "release", "correction", "misfiled"];

/// Every request of every chart that this person's roles open, in the order received.
///
/// # Errors
/// When an entry can't be read.
pub fn all(practice: &Practice) -> Outcome<Vec<OfChart>> {
    let mut picked = Vec::new();
    for at in practice.all() {
        let at = at?;
        if at.chart.is_some() && KINDS.contains(&practice.kind_of(&at)?.as_str()) {
            picked.push(at);
        }
    }
    let charts = practice.by_chart(&picked)?;
    let mut found = Vec::new();
    for face in faces(practice)? {
        let Some(entries) = chart_tag(&face.tag).and_then(|tag| charts.get(&tag)) else { continue };
        let name = &face.identity.legal_name;
        found.extend(of_chart(practice, entries).into_iter().map(|standing| OfChart {
            chart_no: face.chart_no.clone(),
            name: name.clone(),
            standing,
        }));
    }
    found.sort_by_key(|one| (one.standing.request.received_on, one.standing.seq));
    Ok(found)
}

/// A visit of the days asked for, and what its note lacks.
pub struct VisitLacks {
    /// What is kept of it in the step: day and numbers.
    pub kept: Lacking,
    /// What the list before signing names, for whoever treats.
    pub remarks: Vec<Remark>,
}

/// Looks through the visits of the days a request asks for: which have no signed note, and what the notes
/// lack by the same list that is looked at before signing. Visits that lack nothing are left out. Gives the
/// number of visits looked at as well.
///
/// # Errors
/// When the person's role does not open the notes.
pub fn lacking(practice: &Practice, dealing: &Dealing) -> Outcome<(usize, Vec<VisitLacks>)> {
    if dealing.entries.iter().any(|entry| entry.record.is_none()) {
        return Err(Trouble::new(
            Kind::Locked,
            "Your role does not open the notes of this chart, so what they lack can't be told.",
            "Nothing was recorded.",
            "Ask somebody with the clinical role.",
        ));
    }
    let scope = dealing.standing.request.asked();
    let reading = ChartReading::new(practice, &dealing.entries);
    let (mut seen, mut found) = (0, Vec::new());
    for entry in dealing.entries.iter().filter(|entry| entry.leaf.kind == "visit-opened") {
        let Some(record) = entry.record.as_ref().filter(|_| !reading.is_misfiled(entry.leaf.seq)) else {
            continue;
        };
        let day = Day(record.happened.start.local_date());
        if !scope.has_day(day) {
            continue;
        }
        seen += 1;
        let note = note_of(&dealing.entries, &reading, entry.leaf.seq);
        let unsigned = note.is_none();
        let remarks = match note {
            Some(note) => note_lacks(practice, dealing, &reading, entry.leaf.seq, note)?,
            None => Vec::new(),
        };
        if unsigned || !remarks.is_empty() {
            let items = u32::try_from(remarks.len()).unwrap_or(u32::MAX);
            let kept = Lacking { visit: entry.leaf.seq, day, unsigned, items };
            found.push(VisitLacks { kept, remarks });
        }
    }
    Ok((seen, found))
}

/// The signed note of a visit.
fn note_of<'e>(entries: &'e [Entry], reading: &ChartReading, visit: u64) -> Option<&'e Entry> {
    entries.iter().find(|entry| {
        !reading.is_misfiled(entry.leaf.seq)
            && matches!(entry.data(), Some(Data::Visit(note)) if note.visit == visit)
    })
}

/// What a signed note lacks, read as it stands now, beside what was in the chart when it was signed.
fn note_lacks(
    practice: &Practice,
    dealing: &Dealing,
    reading: &ChartReading,
    visit: u64,
    note: &Entry,
) -> Outcome<Vec<Remark>> {
    let Some(record) = &note.record else { return Ok(Vec::new()) };
    let now = reading.now(note.leaf.seq, record);
    // The note itself is the draft the list is made for, so it is no entry beside it.
    let beside: Vec<Entry> =
        dealing.entries.iter().filter(|entry| entry.leaf.seq < note.leaf.seq).cloned().collect();
    let found = remarks(practice, &beside, visit, &now.data, now.happened)?;
    Ok(found
        .into_iter()
        .filter(|remark| remark.level == Level::Missing && remark.answered.is_none())
        .collect())
}

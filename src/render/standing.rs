//! What a reader should know first: whatever stands out in this copy, counted and named before anybody
//! has to find it. What a practice tells by itself can't be held against it as hidden.

use super::entry::Desk;
use super::html::esc;
use super::set::EntryState;
use super::words;
use crate::record::envelope::{Label, Record};
use crate::record::kinds::Data;
use std::collections::BTreeMap;

/// What stands out, each with the numbers of the entries.
struct Outstanding {
    rows: Vec<(&'static str, Vec<u64>)>,
}

/// Labels that are told here, in this order.
const TOLD: [(Label, &str); 12] = [
    (Label::LateEntry, "written late, and marked as a late entry"),
    (Label::FinishedNextDay, "finished on a later day than it happened"),
    (Label::AfterNotice, "written after notice of a claim or complaint"),
    (Label::AfterHold, "written under a legal hold"),
    (Label::AfterRequest, "about the past, and written after a request for records came in"),
    (Label::ProcedureBeforeConsent, "note with a procedure before its consent or asking"),
    (Label::ProcedureAfterWithdrawal, "note with a procedure after a withdrawal that covers it"),
    (Label::ProcedureNotCovered, "note with a procedure that was not covered at its time"),
    (Label::ConsentAfterVisit, "consent written after its visit had ended"),
    (Label::ClockBehind, "clock behind the entry before"),
    (Label::ClockRemarked, "the clock was remarked on as wrong"),
    (Label::CarriedForward, "note with parts carried forward from an earlier one"),
];

impl Outstanding {
    fn of(desk: &Desk<'_>) -> Outstanding {
        let mut by_label: BTreeMap<usize, Vec<u64>> = BTreeMap::new();
        let (mut amendments, mut late) = (Vec::new(), Vec::new());
        for entry in desk.set.in_order() {
            let Some(record) = entry.shown() else { continue };
            for (place, (label, _)) in TOLD.iter().enumerate() {
                if record.labels.contains(label) {
                    by_label.entry(place).or_default().push(entry.seq);
                }
            }
            match record.kind.as_str() {
                "amendment-request" | "amendment-decision" | "disagreement" | "rebuttal" => {
                    amendments.push(entry.seq);
                }
                "late-entry" if !record.labels.contains(&Label::LateEntry) => late.push(entry.seq),
                _ => {}
            }
        }
        by_label.entry(0).or_default().extend(late);
        let corrected = desk.mends.iter().filter(|(_, mends)| !mends.is_empty()).map(|(seq, _)| *seq);
        let mut rows = vec![
            ("corrected: the first words are printed struck, the new ones beneath", corrected.collect()),
            ("added to later", desk.additions.keys().copied().collect()),
            ("marked as belonging to another chart", desk.misfiled.keys().copied().collect()),
            (
                "disputed by the patient: the papers stand beside it and go along with every copy of it",
                desk.disputes.keys().copied().collect(),
            ),
            ("paper of such a dispute: request, decision, disagreement, rebuttal", amendments),
        ];
        rows.extend(TOLD.iter().enumerate().map(|(place, (_, words))| {
            let mut seqs = by_label.remove(&place).unwrap_or_default();
            seqs.sort_unstable();
            (*words, seqs)
        }));
        rows.push(("remark that a clock of the practice was wrong", clock_remarks(desk)));
        rows.retain(|(_, seqs): &(&str, Vec<u64>)| !seqs.is_empty());
        Outstanding { rows }
    }
}

fn clock_remarks(desk: &Desk<'_>) -> Vec<u64> {
    let remark = |record: &&Record| matches!(record.read_data(), Ok(Data::ClockRemark(_)));
    let all = desk.set.in_order();
    all.iter().filter(|entry| entry.shown().as_ref().is_some_and(remark)).map(|entry| entry.seq).collect()
}

/// The list for the cover slip.
pub fn section(desk: &Desk<'_>) -> String {
    let found = Outstanding::of(desk);
    let mut out = String::from("<h3>What a reader should know first</h3>\n");
    if found.rows.is_empty() {
        out.push_str(
            "<p>Nothing stands out: no entry in this copy is late, corrected, disputed, or marked in any other \
             way.</p>\n",
        );
        return out;
    }
    out.push_str("<ul class=\"tight\">\n");
    for (words, seqs) in found.rows {
        let links: Vec<String> = seqs.iter().map(|seq| desk.link(*seq)).collect();
        out.push_str(&format!("<li>{} - {}: {}</li>\n", seqs.len(), esc(words), links.join(", ")));
    }
    out.push_str("</ul>\n");
    out
}

/// One sentence of counts for the statement.
pub fn counts(desk: &Desk<'_>) -> String {
    let all = desk.set.entries.len();
    let printed = desk.set.entries.iter().filter(|entry| entry.shown().is_some()).count();
    let disposed = desk.set.entries.iter().filter(|entry| entry.state == EntryState::Disposed).count();
    format!(
        "{}: {printed} printed in full, {} listed without their contents (of these, {disposed} disposed of).",
        words::count(all, "entry is in this copy", "entries are in this copy"),
        all - printed
    )
}

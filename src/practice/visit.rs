//! The visit that is open in a chart, and what a note of it can take from the entries made in it.

use super::open::Entry;
use crate::record::kinds::Data;

/// Number of the opening of the visit that is open: opened, and neither closed nor signed.
pub fn open_visit(entries: &[Entry]) -> Option<u64> {
    let mut open: Vec<u64> = Vec::new();
    for entry in entries {
        match entry.leaf.kind.as_str() {
            "visit-opened" => open.push(entry.leaf.seq),
            "visit-closed" | "visit" => {
                let ended = match entry.data() {
                    Some(Data::VisitClosed(closed)) => Some(closed.visit),
                    Some(Data::Visit(note)) => Some(note.visit),
                    // A note that this role does not open still ends the visit it was written for,
                    // which can only be the one opened last.
                    _ => open.last().copied(),
                };
                open.retain(|seq| Some(*seq) != ended);
            }
            _ => {}
        }
    }
    open.last().copied()
}

/// What was done inside a visit, by number, for the note's pointers.
#[derive(Debug, Default, Clone, PartialEq, Eq)]
pub struct InVisit {
    /// Screens.
    pub screens: Vec<u64>,
    /// Asked-today lines.
    pub asked: Vec<u64>,
    /// Kept coverage answers.
    pub coverage: Vec<u64>,
    /// Consents in the chart that cover care, newest last.
    pub consents: Vec<u64>,
    /// Whether an earlier visit note is in the chart.
    pub later: bool,
}

/// Gathers what belongs to a visit.
pub fn in_visit(entries: &[Entry], visit: u64) -> InVisit {
    let mut found = InVisit::default();
    for entry in entries {
        let seq = entry.leaf.seq;
        match entry.data() {
            Some(Data::Screen(screen)) if screen.visit == Some(visit) => found.screens.push(seq),
            Some(Data::Asked(asked)) if asked.visit == visit => found.asked.push(seq),
            Some(Data::CoverageAnswer(_)) if seq > visit => found.coverage.push(seq),
            Some(Data::Consent(consent)) if consent.is_for_care() => found.consents.push(seq),
            Some(Data::Visit(_)) => found.later = true,
            _ => {}
        }
    }
    found
}

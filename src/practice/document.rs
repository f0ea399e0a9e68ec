//! From a chart to its FHIR document: what `render/fhir` needs, gathered.

use super::open::{Entry, Practice};
use super::printed::{opened, printed_entry, staff_line};
use crate::render::fhir::{DocumentSet, document};
use crate::trouble::{Kind, Outcome, Trouble};

/// The chart as a FHIR R4 document. `release` is the number of the release it belongs to; the moment
/// and the person are then those of that entry, so that a second export gives the same bytes.
///
/// # Errors
/// When the entry that opens the chart can't be read by whoever is here.
pub fn fhir_document(
    practice: &Practice,
    entries: &[Entry],
    withheld: &[(u64, String)],
    release: Option<u64>,
) -> Outcome<Vec<u8>> {
    let register = practice.register_of(&["register-opened", "staff"])?;
    let why = |seq: u64| withheld.iter().find(|(n, _)| *n == seq).map(|(_, why)| why.clone());
    let last = entries.iter().rfind(|e| release.is_none_or(|seq| e.leaf.seq == seq));
    let of_release = release.and(last).and_then(|e| e.record.as_ref()).map(|record| record.author.clone());
    let set = DocumentSet {
        ledger: practice.place.key.name().to_string(),
        practice: register.iter().find_map(opened),
        staff: register.iter().filter_map(staff_line).collect(),
        entries: entries.iter().map(|e| printed_entry(e, why(e.leaf.seq))).collect(),
        release,
        at: last.map_or_else(|| practice.now(), |e| e.leaf.written),
        by: of_release.unwrap_or_else(|| practice.me()),
        with_files: release.is_some(),
    };
    document(&set).map_err(|error| {
        Trouble::new(
            Kind::Locked,
            format!("No FHIR document can be made: {error}."),
            "Nothing was written.",
            "Ask somebody whose role opens this chart.",
        )
    })
}

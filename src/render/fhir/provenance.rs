//! Provenance: who wrote what is told here, when, and in which sealed entry it stands; and who put it
//! right.

use super::resources::{Provenance, ProvenanceAgent, ProvenanceEntity};
use super::set::{Chart, Seen};
use super::systems::{hl7, identifier, own};
use super::types::{CodeableConcept, Period, Reference, date_time, said};
use crate::record::kinds::amend::Correction;
use crate::record::labels::meaning;

/// That an entry was written, and what of this document tells it.
pub(super) fn written(chart: &Chart<'_>, seen: &Seen<'_>, target: Vec<Reference>) -> Provenance {
    let record = seen.was;
    let happened = record.happened;
    let end = happened.end.filter(|end| *end >= happened.start);
    let label =
        |label| CodeableConcept { text: said(&meaning(label, record)), ..own("label", label.word()).into() };
    let mut agent = vec![agent(chart, "author", &record.author.code)];
    agent.extend(record.entered_by.as_ref().map(|by| self::agent(chart, "enterer", &by.code)));
    agent.extend(record.second.as_ref().map(|by| self::agent(chart, "attester", &by.by)));
    Provenance {
        target,
        occurred_period: end
            .map(|end| Period { start: Some(date_time(happened.start)), end: Some(date_time(end)) }),
        occurred_date_time: end.is_none().then(|| date_time(happened.start)),
        recorded: date_time(record.written),
        reason: record.labels.iter().map(label).collect(),
        activity: Some(hl7("v3-DataOperation", "CREATE").into()),
        agent,
        entity: vec![entity(chart, "source", seen)],
        ..Provenance::default()
    }
}

/// That an entry was put right: what it was stands in the entry that is named as revised.
pub(super) fn corrected(
    chart: &Chart<'_>,
    seen: &Seen<'_>,
    data: &Correction,
    reached: &Seen<'_>,
    target: Vec<Reference>,
) -> Provenance {
    let mut one = written(chart, seen, target);
    one.activity = Some(hl7("v3-DataOperation", "UPDATE").into());
    one.reason.extend(said(&data.reason).map(|text| CodeableConcept::words(&text)));
    one.entity.push(entity(chart, "revision", reached));
    one
}

fn agent(chart: &Chart<'_>, word: &str, code: &str) -> ProvenanceAgent {
    ProvenanceAgent { r#type: Some(hl7("provenance-participant-type", word).into()), who: chart.staff(code) }
}

/// The sealed entry, by its number; its digest lets a reader find it in the package.
fn entity(chart: &Chart<'_>, role: &str, seen: &Seen<'_>) -> ProvenanceEntity {
    let what = Reference {
        identifier: Some(identifier("entry", chart.ids.number(seen.seq()))),
        display: Some(format!("Entry no. {}, digest of its leaf {}", seen.seq(), seen.entry.digest)),
        ..Reference::default()
    };
    ProvenanceEntity { role: role.to_string(), what }
}

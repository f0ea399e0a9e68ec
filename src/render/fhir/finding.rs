//! Observation of what hands and eyes found.

use super::measure::observation;
use super::part::Part;
use super::resources::Observation;
use super::set::Chart;
use super::systems::{Place, concept, hl7};
use super::types::{CodeableConcept, date_time, said};
use super::visit::remark;
use crate::record::envelope::Record;
use crate::record::kinds::finding::Finding;
use crate::record::kinds::visit::Visit;
use crate::record::measures::{Reading, Source, readings};
use crate::render::words;

/// Every finding of a note.
pub(super) fn findings(chart: &Chart<'_>, seq: u64, record: &Record, visit: &Visit) -> Vec<Part> {
    let mut measured = readings(record).into_iter().filter(|reading| reading.key.source == Source::Found);
    let all = visit.findings.value().map_or(&[][..], Vec::as_slice);
    let mut parts = Vec::new();
    for (index, finding) in all.iter().enumerate() {
        // Readings come in the order of the findings that have a measure.
        let reading = finding.measured.as_ref().and_then(|_| measured.next());
        parts.push(one(chart, seq, record, visit, (index, finding, reading.as_ref())));
    }
    parts
}

fn one(
    chart: &Chart<'_>,
    seq: u64,
    record: &Record,
    visit: &Visit,
    (index, finding, reading): (usize, &Finding, Option<&Reading>),
) -> Part {
    let role = format!("finding-{}", index + 1);
    let mut found = match reading {
        Some(reading) => observation(chart, seq, &role, record, reading),
        None => plain(chart, seq, &role, record, visit, finding),
    };
    if reading.is_some() {
        found.code.coding.push(super::systems::own("finding", finding.kind.word()));
    }
    let mut notes: Vec<String> = finding.words.clone().into_iter().collect();
    notes.extend(finding.refers_to.as_ref().map(|to| format!("Refers to: {to}")));
    if reading.is_some() {
        notes.extend(finding.result.map(|result| format!("Result: {result}")));
    }
    found.note.extend(notes.iter().filter_map(|text| said(text)).map(|text| remark(&text)));
    let place = found.body_site.as_ref().and_then(|site| site.text.clone()).unwrap_or_default();
    let said_value = reading.map(|r| format!(": {} {}", r.text, r.key.unit_words())).unwrap_or_default();
    let graded = finding.grade.map(|grade| format!(", grade {grade}")).unwrap_or_default();
    let result = finding.result.map(|result| format!(", {result}")).unwrap_or_default();
    let kind = words::capital(&words::spaced(finding.kind.word()));
    Part::new(role, format!("{kind}, {place}{said_value}{graded}{result}"), found)
}

fn plain(
    chart: &Chart<'_>,
    seq: u64,
    role: &str,
    record: &Record,
    visit: &Visit,
    finding: &Finding,
) -> Observation {
    let mut code = concept("finding", finding.kind.word());
    code.text = finding.method.as_deref().and_then(said).or(code.coding[0].display.clone());
    let mut notes: Vec<String> = Vec::new();
    notes.extend(finding.instrument.iter().map(|t| format!("Instrument: {t}")));
    notes.extend(finding.position.iter().map(|t| format!("Position: {t}")));
    Observation {
        identifier: vec![chart.of_entry(seq, role)],
        status: "final".to_string(),
        category: vec![hl7("observation-category", "exam").into()],
        code,
        subject: Some(chart.patient()),
        encounter: chart.encounter(Some(visit.visit)),
        effective_date_time: Some(date_time(record.happened.start)),
        performer: vec![chart.staff(&record.author.code)],
        value_codeable_concept: value(finding),
        note: notes.iter().map(|text| remark(text)).collect(),
        body_site: Place {
            region: Some(finding.region),
            structure: finding.structure.as_deref().or(finding.level.as_deref()),
            segment: finding.segment,
            side: finding.side,
        }
        .concept(),
        method: finding.method.as_deref().and_then(said).map(|text| CodeableConcept::words(&text)),
        ..Observation::default()
    }
}

/// The result of a test, or the grade; a finding with neither is told by its words: it was found.
fn value(finding: &Finding) -> Option<CodeableConcept> {
    match (finding.result, finding.grade) {
        (Some(result), _) => Some(concept("test-result", result.word())),
        (None, Some(grade)) => Some(concept("grade", &grade.to_string())),
        (None, None) => Some(CodeableConcept::words(finding.words.as_deref().unwrap_or("found"))),
    }
}

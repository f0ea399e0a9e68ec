//! Encounter, Procedure and Condition: a visit, what was done in it, and what was thought.

use super::finding::findings;
use super::measure;
use super::part::{Part, Section, Told};
use super::resources::{Condition, Encounter, Participant, Performer, Procedure};
use super::set::{Chart, Seen};
use super::systems::{Place, concept, hl7, technique};
use super::types::{Annotation, CodeableConcept, Coding, Period, Reference, date_time, said};
use crate::record::envelope::Record;
use crate::record::kinds::Data;
use crate::record::kinds::attendance::{VisitClosed, VisitEnd, VisitOpened};
use crate::record::kinds::procedure::{Deferred, Procedure as Done};
use crate::record::kinds::visit::{Diagnosis, Visit};
use crate::record::moment::Moment;
use crate::record::vocab::{Region, Segment, Side};
use crate::render::words;

/// A visit: its opening, with what its note and its closing add.
pub(super) fn encounter(chart: &Chart<'_>, seen: &Seen<'_>, opened: &VisitOpened) -> Told {
    let visit = seen.seq();
    let (mut closed, mut note) = (None::<(&VisitClosed, Moment)>, None::<(&Visit, &Record)>);
    for other in &chart.seen {
        match &other.data {
            Data::VisitClosed(data) if data.visit == visit => closed = Some((data, other.now.happened.start)),
            Data::Visit(data) if data.visit == visit => note = Some((data, &other.now)),
            _ => {}
        }
    }
    let status = match closed {
        Some((data, _)) if data.ended == VisitEnd::NotSeen => "cancelled",
        Some(_) => "finished",
        None if note.is_some() => "finished",
        None => "in-progress",
    };
    let end = closed.map(|(_, at)| at).or(note.and_then(|(_, record)| record.happened.end));
    let mut codes = opened.practitioners.clone();
    codes.extend(note.iter().flat_map(|(data, _)| data.practitioners.clone()));
    codes.sort();
    codes.dedup();
    let one = Encounter {
        identifier: vec![chart.of_entry(visit, "encounter")],
        status: status.to_string(),
        class: Coding { display: Some("ambulatory".to_string()), ..hl7("v3-ActCode", "AMB") },
        subject: Some(chart.patient()),
        participant: codes.iter().map(|code| Participant { individual: chart.staff(code) }).collect(),
        period: Some(period(seen.now.happened.start, end)),
        reason_code: opened
            .reason
            .as_deref()
            .and_then(said)
            .map(|t| CodeableConcept::words(&t))
            .into_iter()
            .collect(),
        service_provider: Some(chart.practice()),
        ..Encounter::default()
    };
    let title = format!("Visit of {}", seen.now.happened.start.plain());
    Told::parts(Section::Visit(visit), vec![Part::new("encounter", title, one)])
}

/// An end before the start is left out: the standard does not know it (invariant per-1).
fn period(start: Moment, end: Option<Moment>) -> Period {
    let end = end.filter(|end| *end >= start);
    Period { start: Some(date_time(start)), end: end.map(date_time) }
}

/// The note of a visit: procedures, diagnoses, findings, measures.
pub(super) fn note(chart: &Chart<'_>, seq: u64, record: &Record, visit: &Visit) -> Told {
    let mut parts = Vec::new();
    let diagnoses = visit.assessment.value().map_or(&[][..], |found| &found.diagnoses);
    parts.extend(diagnoses.iter().enumerate().map(|(n, one)| condition(chart, seq, record, visit, (n, one))));
    parts.extend(measure::observations(chart, seq, record));
    parts.extend(findings(chart, seq, record, visit));
    parts.extend(visit.procedures.iter().enumerate().map(|(n, one)| procedure(chart, seq, visit, n, one)));
    parts.extend(
        visit.deferred.iter().enumerate().map(|(n, one)| deferred(chart, seq, record, visit, (n, one))),
    );
    let shared = chart.encounter(Some(visit.visit)).into_iter().collect();
    Told { section: Section::Visit(visit.visit), parts, shared }
}

fn condition(
    chart: &Chart<'_>,
    seq: u64,
    record: &Record,
    visit: &Visit,
    (index, diagnosis): (usize, &Diagnosis),
) -> Part {
    let role = format!("diagnosis-{}", index + 1);
    let place = Place { region: diagnosis.region, side: diagnosis.side, ..Place::default() };
    let one = Condition {
        identifier: vec![chart.of_entry(seq, &role)],
        verification_status: Some(hl7("condition-ver-status", "provisional").into()),
        category: vec![hl7("condition-category", "encounter-diagnosis").into()],
        code: Some(CodeableConcept::words(&diagnosis.words)),
        body_site: place.concept().into_iter().collect(),
        subject: chart.patient(),
        encounter: chart.encounter(Some(visit.visit)),
        recorded_date: Some(date_time(record.written)),
        recorder: Some(chart.staff(&record.author.code)),
        note: said(&diagnosis.basis).map(|t| remark(&format!("Rests on: {t}"))).into_iter().collect(),
        ..Condition::default()
    };
    Part::new(role, format!("Working diagnosis: {}", diagnosis.words), one)
}

fn procedure(chart: &Chart<'_>, seq: u64, visit: &Visit, index: usize, done: &Done) -> Part {
    let role = format!("procedure-{}", index + 1);
    let stopped = done.stopped_at.filter(|at| *at >= done.at);
    let was_stopped = done.stopped_at.is_some() || done.stopped_because.is_some();
    let mut used: Vec<CodeableConcept> = Vec::new();
    used.extend(done.gloves.as_ref().map(|gloves| {
        let fresh = if gloves.fresh_pair { ", a fresh pair" } else { "" };
        let text = format!("{} gloves{fresh}", gloves.material);
        CodeableConcept { text: Some(text), ..concept("glove", gloves.material.word()) }
    }));
    used.extend(
        done.instrument
            .iter()
            .chain(&done.products)
            .filter_map(|t| said(t))
            .map(|t| CodeableConcept::words(&t)),
    );
    let one = Procedure {
        identifier: vec![chart.of_entry(seq, &role)],
        status: if was_stopped { "stopped" } else { "completed" }.to_string(),
        status_reason: done.stopped_because.as_deref().and_then(said).map(|t| CodeableConcept::words(&t)),
        code: Some(technique(done.technique)),
        subject: chart.patient(),
        encounter: chart.encounter(Some(visit.visit)),
        performed_date_time: stopped.is_none().then(|| date_time(done.at)),
        performed_period: stopped.map(|end| period(done.at, Some(end))),
        performer: vec![Performer { actor: chart.staff(&done.done_by) }],
        body_site: sites(done.region, done.structure.as_deref(), &done.segments, done.side),
        note: how(done).iter().map(|text| remark(text)).collect(),
        used_code: used,
        ..Procedure::default()
    };
    let place = one.body_site.iter().filter_map(|site| site.text.clone()).collect::<Vec<_>>().join("; ");
    Part::new(role, format!("{}: {place}", words::capital(&words::technique(done.technique))), one)
}

/// Everything else that the line of a procedure says, each in words.
fn how(done: &Done) -> Vec<String> {
    let mut out = Vec::new();
    let mut put = |name: &str, value: Option<String>| {
        out.extend(value.as_deref().and_then(said).map(|value| format!("{name}: {value}")));
    };
    put("Levels", done.span.as_ref().map(|span| format!("{} to {}", span.from, span.to)));
    put("Direction", done.direction.clone());
    put("Contact", done.contact.clone());
    put("Grade", done.grade.clone());
    put("Passes", done.passes.map(|n| n.to_string()));
    put("Seconds", done.seconds.map(|n| n.to_string()));
    put("Position", done.position.clone());
    put("Gloves not recorded, because", done.gloves_not_recorded_because.clone());
    put("Joint sound", done.cavitation_heard.map(|yes| if yes { "heard" } else { "not heard" }.to_string()));
    put("Rests on consent", done.consent.map(|seq| words::numbers(&[seq])));
    put("Asked on the day", done.asked.map(|seq| words::numbers(&[seq])));
    let response = match (done.response.value(), done.response.because()) {
        (Some(response), _) => {
            let mut parts = vec![words::spaced(response.word.word())];
            parts.extend(response.pain_before.map(|n| format!("pain before {n} of 10")));
            parts.extend(response.pain.map(|n| format!("pain afterwards {n} of 10")));
            parts.extend(response.words.clone());
            Some(parts.join(", "))
        }
        (None, reason) => reason.map(words::because),
    };
    put("Response", response);
    out
}

fn deferred(
    chart: &Chart<'_>,
    seq: u64,
    record: &Record,
    visit: &Visit,
    (index, left): (usize, &Deferred),
) -> Part {
    let role = format!("not-done-{}", index + 1);
    let one = Procedure {
        identifier: vec![chart.of_entry(seq, &role)],
        status: "not-done".to_string(),
        status_reason: said(&left.because).map(|text| CodeableConcept::words(&text)),
        code: Some(technique(left.technique)),
        subject: chart.patient(),
        encounter: chart.encounter(Some(visit.visit)),
        performed_date_time: Some(date_time(record.happened.start)),
        body_site: sites(left.region, None, &left.segments, left.side),
        ..Procedure::default()
    };
    Part::new(role, format!("Not done: {}", words::technique(left.technique)), one)
}

/// One place for each segment; the region alone where none is named.
fn sites(
    region: Region,
    structure: Option<&str>,
    segments: &[Segment],
    side: Option<Side>,
) -> Vec<CodeableConcept> {
    let of = |segment| Place { region: Some(region), structure, segment, side }.concept();
    if segments.is_empty() {
        return of(None).into_iter().collect();
    }
    segments.iter().filter_map(|segment| of(Some(*segment))).collect()
}

/// A remark.
pub(super) fn remark(text: &str) -> Annotation {
    Annotation { text: said(text).unwrap_or_default() }
}

/// What is told in the visit alone.
pub(super) fn of_visit(chart: &Chart<'_>, visit: u64) -> Told {
    let shared: Vec<Reference> = chart.encounter(Some(visit)).into_iter().collect();
    Told::shared(Section::Visit(visit), shared)
}

//! Labels: what the program says about an entry by itself. Computed from the clock and from what is
//! recorded, never typed, and kept with the entry for ever. Here the facts are gathered; what follows
//! from them is worked out in [`crate::record::labels`].

mod note;

use super::disposal::standing::refuse_disposed;
use super::memory;
use super::open::{Draft, Entry, Practice};
use crate::record::envelope::{Label, RefWhy};
use crate::record::kinds::register::ClockState;
use crate::record::kinds::visit::Visit;
use crate::record::kinds::{Class, Data, info};
use crate::record::labels::{
    ConsentFacts, Done, VisitSpan, about_the_past, is_carried, lateness, of_consent, of_procedures,
    regions_without_finding, target_of, withdrawn_before,
};
use crate::record::likeness::percent;
use crate::record::moment::{Date, Moment};
use crate::trouble::Outcome;
use serde_json::Value;

/// Hours after which an entry is late where the adopted rules do not say [practice's own choice].
const LATE_AFTER_HOURS: i64 = 24;
/// Likeness with the last note, in percent, above which a note is said to be carried forward where the
/// adopted rules do not say [practice's own choice].
const CARRIED_ABOVE_PERCENT: u8 = 90;

/// Kinds that the desk opens and that take a licence all the same: what is agreed, asked and begun.
const SIGNED_BY_LICENCE: [&str; 4] = ["consent", "asked", "own-answer", "visit-opened"];

/// Puts into an entry about to be sealed what is worked out and kept as data: how much of a note is the
/// same as the last one, and whether a release belongs in an accounting of disclosures.
///
/// # Errors
/// When the chart can't be read, or was disposed of.
pub fn complete(practice: &Practice, mut draft: Draft) -> Outcome<Draft> {
    if let Some(tag) = &draft.chart {
        refuse_disposed(practice, tag)?;
    }
    if let (Data::Visit(note), Some(tag)) = (&mut draft.data, &draft.chart) {
        let entries = memory::chart(practice, tag)?;
        let last = last_note(&entries, draft.happened.start);
        note.same_as_last_percent = last.and_then(|last| percent(note, &last));
    }
    if let Data::Release(release) = &mut draft.data {
        release.counts_for_accounting = super::accounting::counts(practice, release.basis);
    }
    Ok(draft)
}

/// The patient's last note before this moment.
fn last_note(entries: &[Entry], before: Moment) -> Option<Visit> {
    let misfiled: Vec<u64> = entries
        .iter()
        .filter_map(|entry| match entry.data() {
            Some(Data::Misfiled(mark)) => Some(mark.entry),
            _ => None,
        })
        .collect();
    let notes = entries.iter().filter(|entry| entry.leaf.kind == "visit");
    let mine = notes.filter(|entry| !misfiled.contains(&entry.leaf.seq));
    let dated = mine.filter_map(|entry| Some((entry.record.as_ref()?.happened.start, entry)));
    let newest = dated.filter(|(at, _)| *at < before).max_by_key(|(at, entry)| (*at, entry.leaf.seq));
    match newest?.1.data() {
        Some(Data::Visit(note)) => Some(*note),
        _ => None,
    }
}

/// The labels of an entry about to be sealed.
///
/// # Errors
/// When what the chart holds can't be read.
pub fn labels(practice: &Practice, draft: &Draft, written: Moment) -> Outcome<Vec<Label>> {
    let mut labels = Vec::new();
    let ended = draft.happened.end.unwrap_or(draft.happened.start);
    labels.extend(lateness(draft.data.kind(), ended, written, late_after_hours(practice)));
    let late = labels.contains(&Label::LateEntry);
    if practice.scan().last_written.is_some_and(|last| written < last) {
        labels.push(Label::ClockBehind);
    }
    if clock_is_remarked(practice)? && !matches!(draft.data, Data::ClockRemark(_)) {
        labels.push(Label::ClockRemarked);
    }
    if draft.entered_by.is_some() {
        labels.push(Label::EnteredByScribe);
    }
    if draft.refers.iter().any(|(_, why)| *why == RefWhy::ReEnteredFrom) {
        labels.push(Label::ReEntered);
    }
    if let Data::Correction(correction) = &draft.data
        && correction.by_custodian_because.is_some()
    {
        labels.push(Label::WithCustodiansReason);
    }
    if licence_over(practice, draft, written) {
        labels.push(Label::LicenceOver);
    }
    if let Some(tag) = &draft.chart {
        let target = target_of(&draft.data);
        let target = target.and_then(|seq| happened_at(practice, seq));
        let about = about_the_past(&draft.data, draft.happened.start, target, late);
        labels.extend(memory::standing(practice, tag)?.labels(about));
        labels.extend(of_kind(practice, tag, draft, written)?);
    }
    Ok(labels)
}

/// What is signed about care when a licence is over: the author's on the day of signing, or on the day of a visit
/// that of somebody who treated in it.
fn licence_over(practice: &Practice, draft: &Draft, written: Moment) -> bool {
    let of_care = info(draft.data.kind()).is_some_and(|row| row.class == Class::Clinical);
    if draft.chart.is_none() || !of_care && !SIGNED_BY_LICENCE.contains(&draft.data.kind()) {
        return false;
    }
    let over = |code: &str, day: Date| {
        let last = practice.staff_line(code).and_then(|line| line.licence_last_day);
        last.is_some_and(|last| last.0 < day)
    };
    let treated = match &draft.data {
        Data::Visit(note) => note.practitioners.clone(),
        Data::VisitOpened(visit) => visit.practitioners.clone(),
        _ => Vec::new(),
    };
    let day = draft.happened.start.local_date();
    over(&practice.me().code, written.local_date()) || treated.iter().any(|code| over(code, day))
}

/// When an entry happened; when it was written where this person's roles do not open it.
fn happened_at(practice: &Practice, seq: u64) -> Option<Moment> {
    let entry = practice.entry_by_seq(seq).ok()?;
    Some(entry.record.as_ref().map_or(entry.leaf.written, |record| record.happened.start))
}

/// The labels that depend on what the entry is and on the rest of its chart.
fn of_kind(practice: &Practice, tag: &str, draft: &Draft, written: Moment) -> Outcome<Vec<Label>> {
    let said = draft.happened.start;
    match &draft.data {
        Data::Visit(note) => {
            let chart = memory::chart(practice, tag)?;
            let mut labels = of_procedures(&note::covered(practice, &chart, note, written)?);
            if !regions_without_finding(note).is_empty() {
                labels.push(Label::NoFindingForRegion);
            }
            if is_carried(note, carried_above(practice)) {
                labels.push(Label::CarriedForward);
            }
            Ok(labels)
        }
        Data::Consent(consent) => {
            let facts = consent_facts(practice, &memory::chart(practice, tag)?);
            Ok(of_consent(consent, said, written, &facts))
        }
        Data::Withdrawal(taken) => {
            let chart = memory::chart(practice, tag)?;
            let given: Vec<Moment> = chart.iter().filter_map(consent_given).collect();
            let before = withdrawn_before(taken, said, &visits(&chart), &given);
            // A note that this role does not open may tell of a procedure after it.
            let closed = chart.iter().any(|e| {
                e.leaf.kind == "visit" && e.record.is_none() && e.leaf.written.minute() > said.minute()
            });
            let rows = [(before, Label::ProcedureAfterWithdrawal), (closed, Label::CoverageUnknown)];
            Ok(rows.into_iter().filter(|(holds, _)| *holds).map(|(_, label)| label).collect())
        }
        _ => Ok(Vec::new()),
    }
}

fn consent_given(entry: &Entry) -> Option<Moment> {
    match entry.data() {
        Some(Data::Consent(consent)) if consent.is_for_care() => Some(entry.record.as_ref()?.happened.start),
        _ => None,
    }
}

/// What a consent is measured by.
fn consent_facts(practice: &Practice, chart: &[Entry]) -> ConsentFacts {
    let language = chart.iter().rev().find_map(|entry| match entry.data() {
        Some(Data::ChartOpened(opened)) => Some(opened.identity.interpreter_language),
        Some(Data::IdentityChanged(changed)) => Some(changed.identity.interpreter_language),
        _ => None,
    });
    ConsentFacts {
        visits: visits(chart),
        interpreter_language: language.flatten(),
        staff: practice.staff().iter().map(|line| (line.code.clone(), line.name.clone())).collect(),
    }
}

/// The visits of a chart, each with its end and what is signed as done in it.
fn visits(chart: &[Entry]) -> Vec<VisitSpan> {
    let mut spans: Vec<VisitSpan> = Vec::new();
    for entry in chart {
        let Some(record) = &entry.record else { continue };
        let end = |spans: &mut Vec<VisitSpan>, visit: u64, at: Moment| {
            if let Some(span) = spans.iter_mut().find(|span| span.visit == visit) {
                span.ended = Some(span.ended.map_or(at, |known| known.min(at)));
            }
        };
        match entry.data() {
            Some(Data::VisitOpened(opened)) => spans.push(VisitSpan {
                visit: entry.leaf.seq,
                began: record.happened.start,
                ended: None,
                practitioners: opened.practitioners,
                procedures: Vec::new(),
            }),
            Some(Data::VisitClosed(closed)) => end(&mut spans, closed.visit, record.happened.start),
            Some(Data::Visit(note)) => {
                if let Some(at) = record.happened.end {
                    end(&mut spans, note.visit, at);
                }
                if let Some(span) = spans.iter_mut().find(|span| span.visit == note.visit) {
                    span.procedures.extend(note.procedures.iter().map(|line| Done {
                        at: line.at,
                        technique: line.technique,
                        region: line.region,
                        side: line.side,
                    }));
                    span.practitioners.extend(note.practitioners.iter().cloned());
                }
            }
            _ => {}
        }
    }
    spans
}

/// True while a remark says that the clock of this station is wrong and no later one settles it.
fn clock_is_remarked(practice: &Practice) -> Outcome<bool> {
    let remarks = memory::clock_remarks(practice)?;
    let settled = |seq: u64| remarks.iter().any(|(_, later)| later.of == Some(seq));
    Ok(remarks.iter().any(|(seq, remark)| {
        let here = remark.at_station.trim().eq_ignore_ascii_case(practice.station.trim());
        here && remark.state == ClockState::Opened && !settled(*seq)
    }))
}

/// A whole number of the adopted rules.
fn rule(practice: &Practice, pointer: &str) -> Option<i64> {
    practice.rules()?.document.pointer(pointer).and_then(Value::as_i64)
}

fn late_after_hours(practice: &Practice) -> i64 {
    rule(practice, "/coverage/late_after_hours").unwrap_or(LATE_AFTER_HOURS)
}

fn carried_above(practice: &Practice) -> u8 {
    let adopted = rule(practice, "/questions/same_as_last_percent").and_then(|p| u8::try_from(p).ok());
    adopted.unwrap_or(CARRIED_ABOVE_PERCENT)
}

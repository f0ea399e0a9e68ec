//! What the program says about an entry by itself, worked out from what is recorded. Nobody types a
//! label and nobody takes one away. Which ones there are, and for what, follows the practice's list
//! of what is kept and flagged for ever; that a late entry, a correction and an addendum must be
//! "clearly and permanently identified" is CMS Pub. 100-08 ch. 3, 3.3.2.5.

use super::coverage::side_touches;
use super::envelope::{Label, Record};
use super::kinds::Data;
use super::kinds::consent::{AllowedKind, Consent};
use super::kinds::visit::Visit;
use super::kinds::withdrawal::Withdrawal;
use super::moment::Moment;
use super::vocab::{Region, Side, Technique};

/// Kinds that report on the past by their nature: for these, writing later is not late.
const NEVER_LATE: [&str; 15] = [
    "chart-opened",
    "identity-changed",
    "attachment",
    "paper-chart",
    "paper-original",
    "staff",
    "keys",
    "rules",
    "wording",
    "clock-remark",
    "correction",
    "addendum",
    "day-close",
    "misfiled",
    "package-made",
];

/// The label for the time between what happened and its writing: late after so many hours, or
/// finished on a later day. A late entry is late by what it is, however soon it is written.
pub fn lateness(kind: &str, ended: Moment, written: Moment, late_after_hours: i64) -> Option<Label> {
    if kind == "late-entry" {
        return Some(Label::LateEntry);
    }
    if NEVER_LATE.contains(&kind) {
        return None;
    }
    if written.unix() - ended.unix() > late_after_hours * 3600 {
        return Some(Label::LateEntry);
    }
    let next_day = written.local_date() > ended.date_at_offset(written.offset_seconds());
    next_day.then_some(Label::FinishedNextDay)
}

/// What stands in a chart when something is written in it.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Standing {
    /// A notice of a claim or complaint came in.
    pub noticed: bool,
    /// A legal hold stands.
    pub held: bool,
    /// When each request for records came in.
    pub requests: Vec<Moment>,
}

impl Standing {
    /// The labels of an entry that is written while this stands. `about` is when what it is about
    /// happened, where it adds to or changes the past: such an entry is written after the request
    /// if the request came in between.
    pub fn labels(&self, about: Option<Moment>) -> Vec<Label> {
        let asked = about.is_some_and(|past| self.requests.iter().any(|came| *came > past));
        let rows =
            [(self.noticed, Label::AfterNotice), (self.held, Label::AfterHold), (asked, Label::AfterRequest)];
        rows.into_iter().filter(|(holds, _)| *holds).map(|(_, label)| label).collect()
    }
}

/// What the coverage question answered for one procedure, at the procedure's own time.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Covered {
    /// False when the question could not be answered.
    pub known: bool,
    /// What was agreed covered it, or would have after asking.
    pub agreed: bool,
    /// A withdrawal said before it touches it.
    pub withdrawn: bool,
    /// What it lacked then (a consent, the asking, the explanation) stood in the chart when the note was written.
    pub later: bool,
}

/// The labels of a note for its procedures.
pub fn of_procedures(procedures: &[Covered]) -> Vec<Label> {
    let any = |holds: fn(&Covered) -> bool| procedures.iter().any(holds);
    let rows = [
        (any(|p| p.known && p.later), Label::ProcedureBeforeConsent),
        (any(|p| p.known && p.withdrawn), Label::ProcedureAfterWithdrawal),
        (any(|p| p.known && !p.agreed), Label::ProcedureNotCovered),
        (any(|p| !p.known), Label::CoverageUnknown),
    ];
    rows.into_iter().filter(|(holds, _)| *holds).map(|(_, label)| label).collect()
}

/// The regions a note treats without a finding there that day. Work inside the mouth rests on findings of
/// the jaw as well.
pub fn regions_without_finding(note: &Visit) -> Vec<Region> {
    let none = Vec::new();
    let findings = note.findings.value().unwrap_or(&none);
    let found = |region: Region| {
        findings.iter().any(|finding| {
            let jaw = region.is_in_mouth() && finding.region.is_within(Region::Jaw);
            finding.region.overlaps(region) || jaw
        })
    };
    let mut without: Vec<Region> = Vec::new();
    for procedure in &note.procedures {
        let treats = procedure.technique != Technique::Examination;
        if treats && !found(procedure.region) && !without.contains(&procedure.region) {
            without.push(procedure.region);
        }
    }
    without
}

/// True when a note holds parts taken over, or reads so much like the last one that it may have been.
pub fn is_carried(note: &Visit, threshold_percent: u8) -> bool {
    !note.carried_forward.is_empty() || note.same_as_last_percent.is_some_and(|same| same > threshold_percent)
}

/// A visit, as far as a consent or a withdrawal is measured by it.
#[derive(Debug, Clone, PartialEq)]
pub struct VisitSpan {
    /// Number of its opening.
    pub visit: u64,
    /// When it began.
    pub began: Moment,
    /// When it ended; none while it is open.
    pub ended: Option<Moment>,
    /// Codes of who practised in it.
    pub practitioners: Vec<String>,
    /// What hands did, as far as it is signed.
    pub procedures: Vec<Done>,
}

/// One procedure done.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Done {
    /// When.
    pub at: Moment,
    /// Technique.
    pub technique: Technique,
    /// Region.
    pub region: Region,
    /// Side; none where none was stated.
    pub side: Option<Side>,
}

/// What a consent is measured by.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ConsentFacts {
    /// The visits of the chart.
    pub visits: Vec<VisitSpan>,
    /// The language an interpreter is needed for.
    pub interpreter_language: Option<String>,
    /// Codes and full names of everybody on the roster.
    pub staff: Vec<(String, String)>,
}

/// The labels of a consent that was given at `given` and is written at `written`.
pub fn of_consent(consent: &Consent, given: Moment, written: Moment, facts: &ConsentFacts) -> Vec<Label> {
    let rows = [
        (after_visit(consent, given, written, facts), Label::ConsentAfterVisit),
        (lacks_interpreter(consent, facts), Label::InterpreterMissing),
        (witness_practises(consent, facts), Label::WitnessIsPractitioner),
    ];
    rows.into_iter().filter(|(holds, _)| *holds).map(|(_, label)| label).collect()
}

/// Written, or given, when the visit it belongs to had ended. It belongs to the visit it names, to the one
/// it was given in, or to an earlier one of that day in which what it allows was done.
fn after_visit(consent: &Consent, given: Moment, written: Moment, facts: &ConsentFacts) -> bool {
    facts.visits.iter().any(|visit| {
        let Some(ended) = visit.ended.filter(|ended| ended.minute() < written.minute()) else { return false };
        let named = consent.visit == Some(visit.visit);
        let afterwards = ended.minute() < given.minute();
        let within = visit.began.minute() <= given.minute() && !afterwards;
        let allows = |done: &Done| consent.techniques.contains(&done.technique);
        let same_day = afterwards
            && ended.local_date() == given.date_at_offset(ended.offset_seconds())
            && visit.procedures.iter().any(allows);
        named || within || same_day
    })
}

fn lacks_interpreter(consent: &Consent, facts: &ConsentFacts) -> bool {
    let Some(needed) = facts.interpreter_language.as_deref() else { return false };
    let language = consent.interpreter.as_ref().map(|interpreter| interpreter.language.trim());
    consent.is_for_care() && language.is_none_or(|language| !language.eq_ignore_ascii_case(needed.trim()))
}

/// The witness is who explained it, who may do it by name, or who practised in its visit.
fn witness_practises(consent: &Consent, facts: &ConsentFacts) -> bool {
    let Some(witness) = &consent.witness else { return false };
    let mut practise: Vec<&str> = consent.explained.iter().map(|explained| explained.by.as_str()).collect();
    if consent.practitioners_allowed.kind == AllowedKind::Named {
        practise.extend(consent.practitioners_allowed.values.iter().map(String::as_str));
    }
    let visits = facts.visits.iter().filter(|visit| consent.visit == Some(visit.visit));
    practise.extend(visits.flat_map(|visit| &visit.practitioners).map(String::as_str));
    practise.iter().any(|code| {
        let by_code = witness.code.as_deref().is_some_and(|own| own.eq_ignore_ascii_case(code));
        let by_name = facts.staff.iter().any(|(known, name)| {
            known.eq_ignore_ascii_case(code) && name.trim().eq_ignore_ascii_case(witness.name.trim())
        });
        by_code || by_name
    })
}

/// True when a withdrawal said at `said`, however late it is written, comes before a procedure that is signed
/// already and that it touches. A consent given in between, one of `given`, leaves that procedure alone.
pub fn withdrawn_before(taken: &Withdrawal, said: Moment, visits: &[VisitSpan], given: &[Moment]) -> bool {
    let touches = |done: &Done| {
        let technique = taken.techniques.as_ref().is_none_or(|all| all.contains(&done.technique));
        let region =
            taken.regions.as_ref().is_none_or(|all| all.iter().any(|region| region.overlaps(done.region)));
        technique && region && side_touches(taken.side, done.side.unwrap_or(Side::Both))
    };
    visits.iter().flat_map(|visit| &visit.procedures).any(|done| {
        let renewed = given.iter().any(|at| *at > said && *at <= done.at);
        done.at > said && touches(done) && !renewed
    })
}

/// What a label on this record means, in plain words and with its numbers.
pub fn meaning(label: &Label, record: &Record) -> String {
    let text = match label {
        Label::LateEntry => return late_words(record),
        Label::FinishedNextDay => "finished on a later day",
        Label::AfterNotice => "WRITTEN AFTER NOTICE of a claim or complaint",
        Label::AfterHold => "written under a legal hold",
        Label::DeskLocked => "added at a locked desk, without reading the chart",
        Label::AfterRequest => "written after a request for records came in",
        Label::ProcedureBeforeConsent => "PROCEDURE BEFORE its consent or asking",
        Label::ProcedureAfterWithdrawal => "PROCEDURE AFTER A WITHDRAWAL that covers it",
        Label::ProcedureNotCovered => "PROCEDURE NOT COVERED by what was agreed at its time",
        Label::CoverageUnknown => "what was agreed could not be looked up when this was signed",
        Label::ConsentAfterVisit => "CONSENT WRITTEN AFTER the visit it belongs to had ended",
        Label::InterpreterMissing => "no interpreter in the language this chart asks for",
        Label::WitnessIsPractitioner => "the witness is the practitioner",
        Label::NoFindingForRegion => return no_finding_words(record),
        Label::ReEntered => "written again from another chart, where it did not belong",
        Label::CarriedForward => return carried_words(record),
        Label::EnteredByScribe => "typed by another than the author",
        Label::ClockBehind => "clock behind the entry before",
        Label::ClockRemarked => "the clock was remarked on as wrong: see the remark on the clock",
        Label::Imported => "brought in from an earlier record",
        Label::LicenceOver => "SIGNED WHEN A LICENCE WAS OVER, by the roster of that day",
        Label::WithCustodiansReason => "signed with the custodian's reason",
        Label::Other(word) => return word.replace(['-', '_'], " "),
    };
    text.to_string()
}

fn late_words(record: &Record) -> String {
    let ended = record.happened.end.unwrap_or(record.happened.start);
    match (record.written.unix() - ended.unix()) / 3600 {
        hours if hours >= 48 => format!("LATE ENTRY, written {} days afterwards", hours / 24),
        hours if hours >= 2 => format!("LATE ENTRY, written {hours} hours afterwards"),
        _ => "LATE ENTRY".to_string(),
    }
}

fn note_of(record: &Record) -> Option<Visit> {
    match record.read_data() {
        Ok(Data::Visit(note)) => Some(*note),
        _ => None,
    }
}

fn no_finding_words(record: &Record) -> String {
    let regions = note_of(record).map(|note| regions_without_finding(&note)).unwrap_or_default();
    let named: Vec<String> = regions.iter().map(|region| region.word().replace('-', " ")).collect();
    match named.is_empty() {
        true => "no finding that day for a region treated".to_string(),
        false => format!("no finding that day for a region treated: {}", named.join(", ")),
    }
}

fn carried_words(record: &Record) -> String {
    let Some(note) = note_of(record) else { return "holds parts carried forward".to_string() };
    let parts = match note.carried_forward.len() {
        0 => "reads nearly as the last note".to_string(),
        1 => "holds 1 part carried forward".to_string(),
        many => format!("holds {many} parts carried forward"),
    };
    match note.same_as_last_percent {
        Some(percent) => format!("{parts}; the same as last time: {percent} %"),
        None => parts,
    }
}

/// When what an entry adds to or changes happened: what it is about, or itself where it is written late.
/// `target` is when the entry it names happened, if it names one.
pub fn about_the_past(data: &Data, happened: Moment, target: Option<Moment>, late: bool) -> Option<Moment> {
    match data {
        Data::Correction(_) | Data::Addendum(_) | Data::LateEntry(_) => Some(target.unwrap_or(happened)),
        _ if late => Some(happened),
        _ => None,
    }
}

/// Number of the entry that this one adds to or changes.
pub fn target_of(data: &Data) -> Option<u64> {
    match data {
        Data::Correction(correction) => Some(correction.target),
        Data::Addendum(addendum) => Some(addendum.target),
        Data::LateEntry(late) => late.target.or(late.visit),
        _ => None,
    }
}

#[cfg(test)]
mod tests;

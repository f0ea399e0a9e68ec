//! Who says yes: minors, decision-makers, capacity (C1 to C5).

use super::answer::{Findings, Level, RuleId};
use super::case::Case;
use super::consents::Finding;
use super::facts::{Basis, Consent, DecisionMaker, GiverRole, YesNo};
use super::time::{birthday, is_minor, lacks_capacity, place, reached};
use super::words;
use crate::record::moment::Moment;

/// Who decides for the patient at some moment.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Decides {
    Patient,
    ForMinor,
    ForAdult,
}

impl Decides {
    fn at(case: &Case, at: Moment) -> Decides {
        let patient = &case.facts.chart.patient;
        if is_minor(patient, case.rules(), at.local_date()) {
            Decides::ForMinor
        } else if lacks_capacity(patient, at) {
            Decides::ForAdult
        } else {
            Decides::Patient
        }
    }

    /// True when this authority reaches: on file, for consent, and of the right kind. Dates apart.
    fn accepts(self, maker: &DecisionMaker) -> bool {
        let basis = match self {
            Decides::Patient => return false,
            Decides::ForMinor => matches!(maker.basis, Basis::Parent | Basis::CourtOrder),
            Decides::ForAdult => matches!(maker.basis, Basis::CourtOrder | Basis::PowerForHealthCare),
        };
        basis && maker.authority_on_file && maker.may_consent
    }

    fn words(self) -> &'static str {
        match self {
            Decides::Patient => "the patient decides alone",
            Decides::ForMinor => "a parent or guardian with authority to consent on file decides",
            Decides::ForAdult => "a person with authority on file to consent for the patient decides",
        }
    }
}

/// True when the patient is an adult who can decide, at the moment asked about.
pub fn decides_alone(case: &Case) -> bool {
    Decides::at(case, case.now.moment) == Decides::Patient
}

/// C1, C2 and C5: whether the right person gave this consent.
pub fn giver(case: &Case, consent: &Consent) -> Vec<Finding> {
    let name = words::Named(consent);
    let now = case.now.moment;
    let by_other = consent.given_by.role == GiverRole::DecisionMaker;
    let (then, today) = (Decides::at(case, consent.given_at), Decides::at(case, now));
    let listed: Vec<&DecisionMaker> = case
        .facts
        .chart
        .decision_makers
        .iter()
        .filter(|m| by_other && consent.given_by.person_id.as_ref() == Some(&m.person_id))
        .collect();
    let mut found = Vec::new();
    if by_other && then == Decides::ForMinor && today != Decides::ForMinor {
        found.push(Finding {
            rule: RuleId::C2,
            text: format!("{name} was given for a minor by another person; the patient is of age now."),
        });
    } else {
        let right = |decides: Decides| match decides {
            Decides::Patient => !by_other,
            _ => listed.iter().any(|m| decides.accepts(m)),
        };
        for (decides, when) in [(then, "When it was given"), (today, "At the moment asked about")] {
            if !right(decides) {
                let giver = words::giver(consent);
                let text = format!("{name} was given by {giver}. {when}, {}.", decides.words());
                found.push(Finding { rule: RuleId::C1, text });
                break;
            }
        }
    }
    found.extend(authority(consent, &listed, then, today, now));
    found
}

/// C5: the giver's authority is on file; did it run when the consent was given, and does it run now?
fn authority(
    consent: &Consent,
    listed: &[&DecisionMaker],
    then: Decides,
    today: Decides,
    now: Moment,
) -> Option<Finding> {
    let on_file: Vec<&DecisionMaker> = listed.iter().copied().filter(|m| m.authority_on_file).collect();
    if on_file.is_empty() {
        return None;
    }
    let running = |decides: Decides, at: Moment| {
        let fitting = on_file.iter().filter(|m| decides.accepts(m));
        let any_fits = on_file.iter().any(|m| decides.accepts(m));
        if any_fits { fitting.copied().any(|m| runs(m, at)) } else { on_file.iter().any(|m| runs(m, at)) }
    };
    let when = if !running(then, consent.given_at) {
        format!("on {}, when it was given", consent.given_at.plain())
    } else if !running(today, now) {
        format!("on {}, the moment asked about", now.plain())
    } else {
        return None;
    };
    let (name, giver) = (words::Named(consent), words::giver(consent));
    let text = format!("{name} was given by {giver}, whose authority did not run {when}.");
    Some(Finding { rule: RuleId::C5, text })
}

fn runs(maker: &DecisionMaker, at: Moment) -> bool {
    maker.authority_starts_at.is_some_and(|start| reached(start, at))
        && maker.authority_last_day.is_none_or(|last| at.local_date() <= last)
        && !maker.superseded_at.is_some_and(|end| reached(end, at))
}

/// C3: the minor's own answer in the visit. C4: a capacity doubt that nobody resolved.
pub fn rules(case: &Case, findings: &mut Findings) {
    let (chart, rules) = (&case.facts.chart, case.rules());
    if is_minor(&chart.patient, rules, case.now.date) {
        let answers = case.visit.into_iter().flat_map(|visit| &visit.own_answers);
        let counting = answers.filter(|a| match a.answer {
            YesNo::Yes => case.now.allows(a.at, a.sequence_no),
            YesNo::No => case.now.reached(a.at),
        });
        let asked_from =
            birthday(chart.patient.birth_date, rules.own_answer_from_age_years, rules.leap_day_birthday);
        match counting.max_by_key(|a| place(a.at, a.sequence_no)) {
            Some(answer) if answer.answer == YesNo::No => findings.reason(
                RuleId::C3,
                Level::No,
                format!("The patient, a minor, said no on {}.", case.now.plain(answer.at)),
                "Not today: the minor's own no holds for this visit.",
            ),
            None if case.now.date >= asked_from => findings.reason(
                RuleId::C3,
                Level::AskFirst,
                "The patient, a minor, was not asked in this visit.".to_owned(),
                "Ask the minor and record the answer.",
            ),
            _ => {}
        }
    }
    for doubt in chart.capacity_doubts.iter().filter(|d| case.now.restricts(d.raised_at, d.resolved_at)) {
        findings.reason(
            RuleId::C4,
            Level::No,
            format!(
                "A doubt whether the patient can decide is open since {}.",
                case.now.plain(doubt.raised_at)
            ),
            "Resolve the doubt first, and record how.",
        );
    }
}

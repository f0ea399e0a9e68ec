//! One side of a question: which consent governs, or why none covers, and everything that hangs on it
//! (D0, E3, E4, the F reports, conditions, what was asked today).

use super::answer::{CautionCode, Findings, Level, RuleId};
use super::case::{Candidate, Case};
use super::consents::{Finding, Tested, test_all};
use super::{conditions, refusals, today, words};
use crate::record::vocab::Side;

/// What was found for one side.
pub struct Half {
    /// Reasons and cautions.
    pub findings: Findings,
    /// The consent relied on.
    pub governing: Option<String>,
    /// Where nothing covers: the consent that comes nearest.
    pub nearest: Option<String>,
    /// True when a consent covers, or a good yes of today stands in for one.
    pub covered: bool,
}

/// Judges one side: left, right or midline.
pub fn judge(case: &Case, side: Side) -> Half {
    let tested = test_all(case, side);
    let mut half = Half { findings: Findings::default(), governing: None, nearest: None, covered: true };
    if let Some(governs) = governing(&tested) {
        half.governing = Some(governs.id().to_owned());
        governed(case, side, governs, &tested, &mut half.findings);
    } else if rest_withdrawn(&tested).next().is_some() || !today::stands_in(case, side) {
        half.covered = false;
        half.nearest = nearest(&tested).map(|n| n.id().to_owned());
        uncovered(case, side, &tested, &mut half.findings);
    }
    if side == Side::Midline && !case.request().region.spans_midline() {
        let region = case.request().region;
        half.findings.reason(
            RuleId::E4,
            Level::No,
            format!("{region} has no midline."),
            format!("Restate the side: {region} is left, right or both."),
        );
    }
    today::rules(case, side, &mut half.findings);
    half
}

/// The newest consent that passes outright; if there is none, the newest that passes with a question.
fn governing<'t, 'c>(tested: &'t [Tested<'c>]) -> Option<&'t Tested<'c>> {
    let passing = || tested.iter().filter(|t| t.passes());
    passing()
        .filter(|t| t.asks.is_empty())
        .max_by_key(|t| t.given())
        .or_else(|| passing().max_by_key(|t| t.given()))
}

/// Consents that fail nothing but that their rest was withdrawn.
fn rest_withdrawn<'t, 'c>(tested: &'t [Tested<'c>]) -> impl Iterator<Item = &'t Tested<'c>> {
    tested.iter().filter(|t| t.fails_only(&[RuleId::D11]))
}

/// The consent with the fewest failed tests, questions not counted; of several, the newest.
pub fn nearest<'t, 'c>(tested: &'t [Tested<'c>]) -> Option<&'t Tested<'c>> {
    tested.iter().min_by_key(|t| (t.failed.len_by_rule(), std::cmp::Reverse(t.given())))
}

trait CountRules {
    fn len_by_rule(&self) -> usize;
}

impl CountRules for Vec<Finding> {
    /// How many different tests: one that fails twice over is one.
    fn len_by_rule(&self) -> usize {
        let first = |(at, f): &(usize, &Finding)| !self[..*at].iter().any(|other| other.rule == f.rule);
        self.iter().enumerate().filter(first).count()
    }
}

/// A consent governs: its questions, its conditions and those of newer consents that only a
/// withdrawal, refusal or decline stops.
fn governed(case: &Case, side: Side, governs: &Tested, tested: &[Tested], findings: &mut Findings) {
    for ask in &governs.asks {
        findings.reason(ask.rule, Level::AskFirst, ask.text.clone(), cure(case, side, ask.rule));
    }
    let stopped_only = [RuleId::F1, RuleId::F2, RuleId::F4];
    let also_bind = tested.iter().filter(|t| t.given() > governs.given() && t.fails_only(&stopped_only));
    for binding in std::iter::once(governs).chain(also_bind) {
        conditions::rules(case, &binding.candidate.consent, findings);
    }
    cautions(case, governs.candidate, findings);
}

fn cautions(case: &Case, candidate: &Candidate, findings: &mut Findings) {
    let consent = &candidate.consent;
    let name = words::Named(consent);
    let late = consent.written_at.unix().saturating_sub(consent.given_at.unix());
    let hours = case.rules().late_after_hours;
    if u64::try_from(late).is_ok_and(|late| late > hours.saturating_mul(3600)) {
        let (given, written) = (consent.given_at.plain(), case.now.plain(consent.written_at));
        let text = format!("{name} is dated {given} and was written only on {written}.");
        findings.caution(CautionCode::ConsentWrittenLate, text);
    }
    if candidate.corrected {
        let text = format!("{name} is read with its correction.");
        findings.caution(CautionCode::ConsentCorrected, text);
    }
    if candidate.corrected_later {
        let text = format!("{name} was corrected after the moment asked about.");
        findings.caution(CautionCode::AnsweredOnAConsentSinceCorrected, text);
    }
}

/// No consent covers this side.
fn uncovered(case: &Case, side: Side, tested: &[Tested], findings: &mut Findings) {
    let asked = case.asked(side);
    let mut no = |found: &Finding| {
        findings.reason(found.rule, Level::No, found.text.clone(), cure(case, side, found.rule));
    };
    no(&Finding { rule: RuleId::D0, text: format!("No consent covers {asked}.") });
    let nearest = nearest(tested);
    nearest.into_iter().flat_map(|n| &n.failed).for_each(&mut no);
    refusals::reported(case, tested, side).iter().for_each(&mut no);
    rest_withdrawn(tested).flat_map(|t| &t.failed).for_each(&mut no);
    let one_sided = |t: &&Tested| {
        matches!(t.candidate.consent.side, Side::Left | Side::Right) && t.fails_only(&[RuleId::D6])
    };
    if let Some(only) = tested.iter().filter(|_| side == Side::Midline).find(one_sided) {
        let (name, agreed) =
            (words::Named(&only.candidate.consent), words::side(only.candidate.consent.side));
        no(&Finding {
            rule: RuleId::E3,
            text: format!("{name} is for {agreed} only; that never makes the midline."),
        });
    }
    for ask in nearest.into_iter().flat_map(|n| &n.asks) {
        findings.reason(ask.rule, Level::AskFirst, ask.text.clone(), cure(case, side, ask.rule));
    }
}

/// What settles a failed test of a consent.
fn cure(case: &Case, side: Side, rule: RuleId) -> String {
    let asked = case.asked(side);
    match rule {
        RuleId::B3 => "Another practitioner, or a new consent that allows this one.".to_owned(),
        RuleId::C1 | RuleId::C2 | RuleId::C5 => "Take consent from whoever decides now.".to_owned(),
        RuleId::D7 => "Name the segment, within the limit of the consent.".to_owned(),
        RuleId::D9 => "Explain (procedure, alternatives, risks, questions) and record it first.".to_owned(),
        RuleId::D10 => "Take the consent again with an interpreter, and record the language.".to_owned(),
        RuleId::D11 => {
            "Ask whether the rest of the earlier consent is withdrawn, and record the answer.".to_owned()
        }
        RuleId::E3 => format!("State the side, or leave one out: {asked}."),
        _ => format!("Take a new consent that names {asked}, or leave that part out."),
    }
}

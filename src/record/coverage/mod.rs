//! The coverage question: may I do this technique, here, on this side, to this patient, now?
//!
//! A pure function over the [`facts::Facts`]: same facts, same answer; no clock and no other source is
//! read. Silence is never yes, the worst reason wins, and every failing reason is reported.
//! The check never blocks an emergency and never prevents recording what was in fact done.

pub mod answer;
mod case;
mod conditions;
mod consents;
pub mod facts;
mod halves;
pub mod narrower;
mod people;
mod refusals;
mod rules_chart;
mod rules_checks;
mod sides;
mod strict;
pub(crate) mod time;
mod today;
pub mod words;

pub use answer::{Answer, Caution, CautionCode, Level, Line, Reason, RuleId, Verdict};
pub use facts::{Facts, FactsError};
pub(crate) use refusals::restores;
pub(crate) use sides::touches as side_touches;
pub use words::plain;

use crate::record::vocab::Side;
use answer::Findings;
use case::Case;
use facts::RequestedSide;
use halves::{Half, judge};

/// Answers the coverage question. Evaluates every rule, not only the first that fails.
///
/// Facts that were not read by [`Facts::from_json`] should pass [`Facts::check`] first: a document
/// that contradicts itself has no answer worth keeping.
pub fn answer(facts: &Facts) -> Answer {
    let case = Case::new(facts);
    let mut common = Findings::default();
    rules_chart::rules(&case, &mut common);
    people::rules(&case, &mut common);
    rules_checks::rules(&case, &mut common);
    match facts.request.side {
        RequestedSide::Left => one(&case, common, Side::Left),
        RequestedSide::Right => one(&case, common, Side::Right),
        RequestedSide::Midline => one(&case, common, Side::Midline),
        RequestedSide::Both => both(&case, common),
        RequestedSide::NotStated if case.is_for_both() => both(&case, common),
        RequestedSide::NotStated => not_stated(&case, common),
    }
}

/// True when the patient of these facts is a minor at the moment asked about.
pub fn is_of_a_minor(facts: &Facts) -> bool {
    time::is_minor(&facts.chart.patient, &facts.rules, facts.now.local_date())
}

fn one(case: &Case, mut findings: Findings, side: Side) -> Answer {
    let half = judge(case, side);
    findings.join(half.findings);
    findings.answer(half.governing.into_iter().collect(), half.nearest)
}

/// Left and right, each with its own consent; the worse wins and the reasons are joined.
fn both(case: &Case, mut findings: Findings) -> Answer {
    let halves: [Half; 2] = [judge(case, Side::Left), judge(case, Side::Right)];
    if halves[0].covered != halves[1].covered {
        let (covered, missing) = if halves[0].covered { ("left", "right") } else { ("right", "left") };
        findings.reason(
            RuleId::E2,
            Level::No,
            format!("Both sides were asked; the {covered} side is covered and the {missing} side is not."),
            format!("Ask for the {covered} side alone, or take a consent for the {missing} side."),
        );
    }
    let (mut governing, mut nearest) = (Vec::new(), None);
    for half in halves {
        findings.join(half.findings);
        governing.extend(half.governing.filter(|id| !governing.contains(id)));
        nearest = nearest.or(half.nearest);
    }
    findings.answer(governing, nearest)
}

/// No side where one is needed: the best of the sides, and never better than ask-first.
fn not_stated(case: &Case, common: Findings) -> Answer {
    let region = case.request().region;
    let midline = region.spans_midline().then_some(Side::Midline);
    let of_side = |side| {
        let answer = one(case, common.clone(), side);
        ((answer.answer, answer.agreed, answer.checked), side)
    };
    let (_, best) = [Side::Left, Side::Right]
        .into_iter()
        .chain(midline)
        .map(of_side)
        .min_by_key(|(verdicts, _)| *verdicts)
        .unwrap_or_else(|| of_side(Side::Left));
    let mut findings = common.clone();
    findings.reason(
        RuleId::E1,
        Level::AskFirst,
        format!("The side is not stated, and {} on {region} needs one.", case.request().technique),
        "State the side.",
    );
    one(case, findings, best)
}

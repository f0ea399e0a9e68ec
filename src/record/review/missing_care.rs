//! What is missing around what hands did: screens, findings, responses, measures before and after, and what
//! belongs to work inside the mouth.

use super::{About, Review, ReviewId as R, VisitClass, said, sides_meet};
use crate::record::kinds::Given;
use crate::record::kinds::consent::ConsentKind;
use crate::record::kinds::finding::{Finding, FindingKind};
use crate::record::kinds::procedure::{Procedure, ResponseWord};
use crate::record::kinds::screening::{ItemAnswer, MeasureKind, Measured, Phase};
use crate::record::kinds::visit::Severity;
use crate::record::labels::regions_without_finding;
use crate::record::vocab::{Region, Technique};
use std::collections::BTreeSet;

pub(super) fn look(review: &mut Review<'_>) {
    screens(review);
    found(review);
    agreed(review);
    done(review);
    before_and_after(review);
    adverse(review);
    if review.classes.contains(&VisitClass::MouthWork) {
        mouth(review);
    }
}

/// True when a rule that names techniques and regions speaks of this procedure.
fn speaks_of(techniques: Option<&Vec<Technique>>, regions: Option<&Vec<Region>>, p: &Procedure) -> bool {
    techniques.is_none_or(|all| all.contains(&p.technique))
        && regions.is_none_or(|all| all.iter().any(|r| p.region.overlaps(*r)))
}

fn screens(review: &mut Review<'_>) {
    let (sheet, rules) = (review.sheet, &review.rules.coverage);
    let mut called_for = BTreeSet::new();
    for rule in &rules.screens_needed {
        let (techniques, regions) = (rule.techniques.as_ref(), rule.regions.as_ref());
        if review.care().any(|p| speaks_of(techniques, regions, p)) {
            called_for.insert(rule.screen.as_str());
        }
    }
    for name in called_for {
        let newest = sheet.screens.iter().filter(|s| s.data.screen == name).max_by_key(|s| (s.at, s.seq));
        review.want(R::ScreenToday, About::name(name), newest.is_some());
        let Some(screen) = newest else { continue };
        let asked = |item: &String| {
            let answers = screen.data.answers.iter();
            answers.filter(|a| a.item == *item).any(|a| a.answer != ItemAnswer::NotAsked)
        };
        let items = rules.screen_items.get(name).into_iter().flat_map(|items| items.keys());
        let left: Vec<String> =
            items.filter(|item| !asked(item)).map(|item| item.replace('-', " ")).collect();
        if !left.is_empty() && review.needs(R::ScreenNotWhole) {
            review.tell(R::ScreenNotWhole, About::name(name), left.join(", "));
        }
    }
}

/// The findings of the note.
pub(super) fn findings<'a>(review: &Review<'a>) -> impl Iterator<Item = &'a Finding> + use<'a> {
    review.sheet.note.findings.value().into_iter().flatten()
}

fn found(review: &mut Review<'_>) {
    for region in regions_without_finding(&review.sheet.note) {
        review.want(R::FindingForRegion, About::name(region.word()), false);
    }
}

fn agreed(review: &mut Review<'_>) {
    let sheet = review.sheet;
    let needed = &review.rules.coverage.same_visit_asking_needed;
    for procedure in review.care() {
        let about = About::procedure(procedure.no);
        let said_today = sheet.asked.iter().any(|asked| {
            asked.data.technique == procedure.technique
                && procedure.region.is_within(asked.data.region)
                && sides_meet(Some(asked.data.side), procedure.side)
        });
        let rests = procedure.consent.is_some()
            || procedure.asked.is_some()
            || said_today
            || review.covering(procedure).next().is_some();
        review.want(R::AgreedPointer, about.clone(), rests);
        let must_ask = needed.iter().any(|r| speaks_of(r.techniques.as_ref(), r.regions.as_ref(), procedure));
        if must_ask {
            review.want(R::AskedToday, about, said_today || procedure.asked.is_some());
        }
    }
}

fn done(review: &mut Review<'_>) {
    let note = &review.sheet.note;
    for procedure in review.care() {
        let about = About::procedure(procedure.no);
        review.want(R::Response, about, procedure.response.value().is_some());
    }
    review.want(R::InVisitCheck, About::note(), !note.checks.is_empty());
}

/// Measures of pain; everything else is a measure of function.
fn is_pain(kind: MeasureKind) -> bool {
    matches!(kind, MeasureKind::PainNow | MeasureKind::PainWorst | MeasureKind::PainBest)
}

/// Vital signs say nothing about function.
pub(super) fn is_vital(kind: MeasureKind) -> bool {
    use MeasureKind as M;
    matches!(kind, M::BloodPressure | M::Pulse | M::Respiration | M::Temperature | M::OxygenSaturation)
}

fn same_measure(one: &Measured, other: &Measured) -> bool {
    one.kind == other.kind
        && one.side == other.side
        && one.name == other.name
        && one.segment == other.segment
        && one.active == other.active
}

fn before_and_after(review: &mut Review<'_>) {
    let note = &review.sheet.note;
    let pain = |phase| review.measures().any(|(p, m)| p == Some(phase) && m.kind == MeasureKind::PainNow);
    // The intensity of a complaint is pain before; what was said after a procedure is pain after.
    let before = pain(Phase::Before) || note.complaints.iter().any(|c| c.pain_now.value().is_some());
    let answer = |p: &Procedure| p.response.value().is_some_and(|r| r.pain.is_some());
    let after = pain(Phase::After) || review.care().any(answer);
    review.want(R::PainBeforeAndAfter, About::note(), before && after);
    let of = |phase| {
        let all = review.measures().filter(move |(p, _)| *p == Some(phase)).map(|(_, m)| m);
        all.filter(|m| !is_pain(m.kind) && !is_vital(m.kind)).collect::<Vec<_>>()
    };
    let (before, after) = (of(Phase::Before), of(Phase::After));
    let function = before.iter().any(|b| after.iter().any(|a| same_measure(a, b)));
    review.want(R::FunctionBeforeAndAfter, About::note(), function);
}

fn adverse(review: &mut Review<'_>) {
    let sheet = review.sheet;
    for procedure in review.care() {
        let Given::Value(response) = &procedure.response else { continue };
        let bad = matches!(response.word, ResponseWord::Worse | ResponseWord::Dizzy);
        let described = sheet
            .note
            .adverse
            .iter()
            .any(|a| a.procedures.is_empty() || a.procedures.contains(&procedure.no));
        review.want(R::AdverseResponse, About::procedure(procedure.no), !bad || described);
    }
    for (index, adverse) in (1u32..).zip(&sheet.note.adverse) {
        let followed =
            adverse.closed_at.is_some() || adverse.follow_up_due.is_some() || adverse.reaction.is_some();
        let about = About::name(format!("adverse response {index}"));
        review.want(R::AdverseFollowUp, about, adverse.severity == Severity::Mild || followed);
    }
}

fn mouth(review: &mut Review<'_>) {
    let sheet = review.sheet;
    let screen = || sheet.screens.iter().filter(|s| s.data.screen == "mouth");
    let latex = screen()
        .flat_map(|s| &s.data.answers)
        .any(|a| a.item == "latex-or-glove-reaction" && a.answer != ItemAnswer::NotAsked);
    review.want(R::LatexAnswer, About::note(), latex || sheet.patient.latex_answered);
    let signal = screen().any(|s| said(s.data.stop_signal.as_ref()));
    let (mut consented, mut stop, mut chaperone) = (true, signal, false);
    for procedure in review.care().filter(|p| p.is_in_mouth()) {
        let covering: Vec<_> = review.covering(procedure).collect();
        consented &= covering.iter().any(|c| c.data.kind == ConsentKind::InsideMouth);
        stop |= covering.iter().any(|c| said(c.data.stop_signal.as_ref()));
        chaperone |= covering.iter().any(|c| c.data.chaperone.is_some());
        let fresh = procedure.gloves.as_ref().is_none_or(|gloves| gloves.fresh_pair);
        review.want(R::FreshPair, About::procedure(procedure.no), fresh);
    }
    let named = |word: &String| word.contains("chaperone");
    chaperone |= sheet.opening.present.iter().chain(&sheet.conditions_met).any(named);
    review.want(R::MouthConsent, About::note(), consented);
    review.want(R::StopSignal, About::note(), stop);
    review.want(R::ChaperoneOffered, About::note(), chaperone);
    let looked = findings(review).any(|f| f.region.is_in_mouth() && is_a_look(f));
    review.want(R::OralInspection, About::note(), looked);
}

/// What is seen rather than felt.
fn is_a_look(finding: &Finding) -> bool {
    use FindingKind::{Asymmetry, Normal, Other, Skin, Swelling};
    matches!(finding.kind, Skin | Normal | Swelling | Asymmetry | Other)
}

//! What is worth a question about the care itself: sides, findings, pain, and what stands against a thrust.

use super::asks::OPENINGS;
use super::missing_care::findings;
use super::part::counting_region;
use super::sheet::alert_numbers;
use super::{About, Review, ReviewId as R, is_thrust, sides_meet};
use crate::record::kinds::finding::{FindingKind, TestResult};
use crate::record::kinds::procedure::{Procedure, ResponseWord};
use crate::record::kinds::screening::{ChangeKind, ItemAnswer, MeasureKind, Phase};
use crate::record::kinds::visit::Plan;
use crate::record::vocab::{Region, Side, Technique};

pub(super) fn look(review: &mut Review<'_>) {
    sides(review);
    not_followed(review);
    tolerated(review);
    explained(review);
    arms(review);
    thrusts(review);
    pregnancy(review);
    small_opening(review);
}

fn sides(review: &mut Review<'_>) {
    for thrust in review.care().filter(|p| is_thrust(p)) {
        if !matches!(thrust.side, Some(Side::Left | Side::Right)) {
            continue;
        }
        let there =
            findings(review).filter(|f| f.region.overlaps(thrust.region) && f.kind != FindingKind::Normal);
        let sided: Vec<_> =
            there.filter(|f| matches!(f.side, Some(Side::Left | Side::Right | Side::Both))).collect();
        if !sided.is_empty() && !sided.iter().any(|f| sides_meet(f.side, thrust.side)) {
            review.add(R::ThrustSideOpposite, About::procedure(thrust.no));
        }
    }
}

/// A finding that nothing was done about, that no line says was left, and that the plan does not name.
fn not_followed(review: &mut Review<'_>) {
    let note = &review.sheet.note;
    let diagnosed: Vec<Region> =
        note.assessment.value().into_iter().flat_map(|a| &a.diagnoses).filter_map(|d| d.region).collect();
    let plan = note.plan.value();
    for finding in findings(review) {
        let of_note = finding.kind != FindingKind::Normal && finding.result != Some(TestResult::Negative);
        let region = finding.region;
        // Muscles and joints of one part of the body are followed together.
        let near = |other: Region| {
            other.overlaps(region)
                || (counting_region(other).is_some() && counting_region(other) == counting_region(region))
        };
        let treated = review.care().any(|p| near(p.region)) || note.deferred.iter().any(|d| near(d.region));
        let planned = plan.is_some_and(|plan| {
            plan.referral.is_some()
                || diagnosed.iter().any(|d| near(*d))
                || names(plan, region, finding.structure.as_deref())
        });
        if of_note && !treated && !planned {
            review.tell(R::FindingNotFollowed, About::finding(finding.no), region.word().to_string());
        }
    }
}

/// True when the plan's words name the region, what holds it, or the structure.
fn names(plan: &Plan, region: Region, structure: Option<&str>) -> bool {
    let mut words = vec![plan.next_step.to_lowercase()];
    words.extend(plan.goals.iter().map(|goal| goal.words.to_lowercase()));
    let regions = std::iter::successors(Some(region), |r| r.parent()).map(|r| r.word().replace('-', " "));
    let mut wanted: Vec<String> = regions.collect();
    wanted.extend(structure.map(str::to_lowercase));
    wanted.iter().any(|name| words.iter().any(|text| text.contains(name.as_str())))
}

fn tolerated(review: &mut Review<'_>) {
    let note = &review.sheet.note;
    let most = f64::from(review.rules.questions.pain_rise_when_tolerated);
    let pain = |phase| {
        let all = review.measures().filter(|(p, m)| *p == Some(phase) && m.kind == MeasureKind::PainNow);
        all.map(|(_, m)| m.value.get()).last()
    };
    let told = note.complaints.iter().filter_map(|c| c.pain_now.value()).max().map(|p| f64::from(*p));
    let Some(before) = pain(Phase::Before).or(told) else { return };
    let last = pain(Phase::After);
    for procedure in review.care() {
        let Some(response) = procedure.response.value() else { continue };
        if response.word != ResponseWord::Tolerated {
            continue;
        }
        if let Some(after) = response.pain.map(f64::from).or(last)
            && after - before >= most
        {
            let more = format!("from {before} to {after}");
            review.tell(R::ToleratedWithMorePain, About::procedure(procedure.no), more);
        }
    }
}

/// A first thrust soon after its explanation.
fn explained(review: &mut Review<'_>) {
    let sheet = review.sheet;
    let thrust_before = sheet.earlier.iter().any(|visit| visit.note.procedures.iter().any(is_thrust));
    if thrust_before {
        return;
    }
    let least = review.rules.questions.explained_at_least_minutes.saturating_mul(60);
    for thrust in review.care().filter(|p| is_thrust(p)) {
        let short: Vec<u64> = review
            .covering(thrust)
            .filter(|consent| {
                let at = consent.data.explained.as_ref().map(|e| e.at);
                at.is_some_and(|at| {
                    let until = if consent.at >= at { consent.at } else { thrust.at };
                    until.unix() - at.unix() < least
                })
            })
            .map(|consent| consent.seq)
            .collect();
        for seq in short {
            review.add(R::ExplainedShortly, About::entry(seq));
        }
    }
}

/// True when a screen of this visit says yes to an item.
fn screened_yes(review: &Review<'_>, item: &str) -> bool {
    let answers = review.sheet.screens.iter().flat_map(|s| &s.data.answers);
    answers.into_iter().any(|a| a.item == item && a.answer == ItemAnswer::Yes)
}

fn arms(review: &mut Review<'_>) {
    let note = &review.sheet.note;
    let neck = |p: &&Procedure| is_thrust(p) && p.region.overlaps(Region::Cervical);
    let Some(thrust) = review.care().find(neck) else { return };
    let both = |c: &crate::record::kinds::visit::Complaint| {
        let arm = c.region.is_some_and(|r| r.is_within(Region::UpperLimb));
        let spreads = c.radiation.as_deref().unwrap_or_default().to_lowercase();
        (arm && c.side == Some(Side::Both)) || spreads.contains("both arms") || spreads.contains("both hands")
    };
    let told = note.complaints.iter().any(both);
    if !told && !screened_yes(review, "symptoms-in-both-arms-or-legs") {
        return;
    }
    let tested = findings(review).any(|f| {
        use FindingKind::{NeuroTest, Reflex, Sensation, Strength};
        matches!(f.kind, NeuroTest | Reflex | Sensation | Strength)
    });
    let measured =
        review.measures().any(|(_, m)| matches!(m.kind, MeasureKind::Strength | MeasureKind::Reflex));
    if !tested && !measured {
        review.add(R::ArmsWithoutNeuro, About::procedure(thrust.no));
    }
}

fn thrusts(review: &mut Review<'_>) {
    let sheet = review.sheet;
    let Some(thrust) = review.care().find(|p| is_thrust(p)) else { return };
    // A reason written against the alert in this visit is the answer already.
    let alert = alert_numbers(&sheet.patient).get("anticoagulant").copied();
    let answered = alert.is_some_and(|seq| sheet.reasons_against.contains(&seq));
    if (alert.is_some() || screened_yes(review, "anticoagulant")) && !answered {
        review.add(R::AnticoagulantAndThrust, About::procedure(thrust.no));
    }
    let floor = i32::from(review.rules.questions.thrust_age_floor_years);
    let by_hand = review.care().find(|p| p.technique == Technique::Thrust);
    if let (Some(age), Some(thrust)) = (sheet.age().filter(|age| *age < floor), by_hand) {
        review.tell(R::ThrustUnderAge, About::procedure(thrust.no), format!("{age} years old"));
    }
}

fn pregnancy(review: &mut Review<'_>) {
    let sheet = review.sheet;
    let known = alert_numbers(&sheet.patient).contains_key("pregnancy")
        || sheet.changes.iter().any(|c| c.data.kind == ChangeKind::Pregnancy);
    if !known {
        return;
    }
    for procedure in &sheet.note.procedures {
        let position = procedure.position.as_deref().unwrap_or_default().to_lowercase();
        if position.contains("face-down") || position.contains("face down") || position.contains("prone") {
            review.add(R::PregnancyFaceDown, About::procedure(procedure.no));
        }
    }
}

fn small_opening(review: &mut Review<'_>) {
    let least = review.rules.questions.mouth_work_opening_below_mm;
    let Some(work) = review.care().find(|p| p.is_in_mouth()) else { return };
    let before = review
        .measures()
        .filter(|(phase, m)| *phase != Some(Phase::After) && OPENINGS.contains(&m.kind))
        .map(|(_, m)| m.value.get())
        .reduce(f64::max);
    if let Some(opening) = before.filter(|mm| *mm < least) {
        review.tell(R::MouthWorkSmallOpening, About::procedure(work.no), format!("{opening} mm"));
    }
}

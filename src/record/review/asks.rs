//! What is worth a question about the visit as a whole: its times, its numbers, its words.

use super::missing_care::{findings, is_vital};
use super::{About, Review, ReviewId as R};
use crate::record::decimal::Decimal;
use crate::record::kinds::finding::FindingKind;
use crate::record::kinds::register::{OpeningHours, Weekday};
use crate::record::kinds::screening::{MeasureKind, Measured, Phase, PlusMinus};
use crate::record::likeness::percent;
use crate::record::reckon::pairs;
use crate::record::reckon::plausibility::{Judged, Outcome as Plausible};
use crate::record::vocab::{Region, Segment, Side};
use std::collections::{BTreeMap, BTreeSet};

pub(super) fn look(review: &mut Review<'_>) {
    opening_gain(review);
    pain_jump(review);
    jaw_sides(review);
    reflexes(review);
    weak(review);
    weight(review);
    identical_vitals(review);
    same_as_last(review);
    overlap(review);
    hours(review);
    for reaction in &review.sheet.open_reactions {
        review.tell(R::ReactionOpen, About::entry(reaction.seq), reaction.data.what.clone());
    }
}

/// Every way in which mouth opening is measured.
pub(super) const OPENINGS: [MeasureKind; 4] = [
    MeasureKind::MouthOpening,
    MeasureKind::MouthOpeningPainFree,
    MeasureKind::MouthOpeningUnassisted,
    MeasureKind::MouthOpeningAssisted,
];

fn opening_gain(review: &mut Review<'_>) {
    let most = review.rules.questions.opening_gain_mm;
    for kind in OPENINGS {
        let of = |phase| {
            let all = review.measures().filter(|(p, m)| *p == Some(phase) && m.kind == kind);
            all.map(|(_, m)| m.value.get()).last()
        };
        if let (Some(before), Some(after)) = (of(Phase::Before), of(Phase::After))
            && after - before > most
        {
            let about = About::name(kind.word());
            review.tell(R::OpeningGain, about, format!("from {before} to {after} mm"));
        }
    }
}

fn number(measured: &Measured) -> Option<Decimal> {
    Decimal::from_f64(measured.value.get()).ok()
}

/// Asks what the published pairs of limits ask.
fn worth_asking(review: &mut Review<'_>, id: R, about: About, judged: &Judged) {
    if judged.outcome == Plausible::Ask {
        review.tell(id, about, judged.why.join("; "));
    }
}

/// Where something was measured: region, segment, side, name.
type Spot = (Option<Region>, Option<Segment>, Option<Side>, Option<String>);

fn spot(measured: &Measured) -> Spot {
    (measured.region, measured.segment, measured.side, measured.name.clone())
}

/// Pain now, before and after, each at its own spot.
fn pain_jump(review: &mut Review<'_>) {
    let all: Vec<(Phase, Spot, Decimal)> = review
        .measures()
        .filter(|(_, m)| m.kind == MeasureKind::PainNow)
        .filter_map(|(phase, m)| Some((phase?, spot(m), number(m)?)))
        .collect();
    let mut judged_at: Vec<&Spot> = Vec::new();
    for (_, at, _) in &all {
        if judged_at.contains(&at) {
            continue;
        }
        judged_at.push(at);
        let last = |wanted| {
            let mut here = all.iter().filter(|(phase, other, _)| *phase == wanted && other == at);
            here.next_back().map(|(.., value)| *value)
        };
        if let (Some(before), Some(after)) = (last(Phase::Before), last(Phase::After)) {
            let judged = pairs::pain_change(before, after, &review.rules.tables.trade);
            let about = at.0.map_or(About::note(), |region| About::name(region.word()));
            worth_asking(review, R::PainJump, about, &judged);
        }
    }
}

/// The last value on a side, in one phase of the visit.
fn on_side(review: &Review<'_>, kind: MeasureKind, phase: Option<Phase>, side: Side) -> Option<Measured> {
    let all = review.measures().filter(|(p, m)| *p == phase && m.kind == kind && m.side == Some(side));
    all.map(|(_, m)| m.clone()).last()
}

/// Phases in which a pair of sides can be compared.
const PHASES: [Option<Phase>; 4] = [None, Some(Phase::Before), Some(Phase::During), Some(Phase::After)];

fn jaw_sides(review: &mut Review<'_>) {
    for phase in PHASES {
        let of = |side| on_side(review, MeasureKind::JawLateral, phase, side).as_ref().and_then(number);
        if let (Some(left), Some(right)) = (of(Side::Left), of(Side::Right)) {
            let judged = pairs::lateral_gap(left, right, &review.rules.tables.trade);
            let about = About::name(phase.map_or("jaw-lateral", Phase::word));
            worth_asking(review, R::JawSidesDiffer, about, &judged);
        }
    }
}

/// A grade: what was tested, on which side, in which phase of the visit.
struct Graded {
    name: String,
    side: Option<Side>,
    phase: Option<Phase>,
    grade: String,
}

/// Every grade of one kind: of the measures, and of the findings, which were made before anything was done.
fn grades(review: &Review<'_>, kind: MeasureKind, found: FindingKind) -> Vec<Graded> {
    let mut all: Vec<Graded> = review
        .measures()
        .filter(|(_, m)| m.kind == kind)
        .filter_map(|(phase, m)| {
            let (name, side) = (m.name.clone().unwrap_or_default(), m.side);
            Some(Graded { name, side, phase, grade: graded(m)? })
        })
        .collect();
    for finding in findings(review).filter(|finding| finding.kind == found) {
        // Half a grade stands in the measured value, not in the whole number beside it.
        let measured = finding.measured.as_ref().filter(|m| m.kind == kind).and_then(graded);
        let grade = measured.or_else(|| finding.grade.map(|grade| grade.to_string()));
        let (name, side) = (finding.structure.clone().unwrap_or_default(), finding.side);
        all.extend(grade.map(|grade| Graded { name, side, phase: None, grade }));
    }
    all
}

/// A grade as it is typed: `3-`.
fn graded(measured: &Measured) -> Option<String> {
    let sign = match measured.plus_minus {
        Some(PlusMinus::Plus) => "+",
        Some(PlusMinus::Minus) => "-",
        None => "",
    };
    number(measured).map(|grade| format!("{grade}{sign}"))
}

fn reflexes(review: &mut Review<'_>) {
    let all = grades(review, MeasureKind::Reflex, FindingKind::Reflex);
    let tested: BTreeSet<(&String, usize)> = all
        .iter()
        .filter_map(|one| Some((&one.name, PHASES.iter().position(|phase| *phase == one.phase)?)))
        .collect();
    for (name, phase) in tested {
        let of = |wanted| {
            let here =
                |one: &&Graded| one.name == *name && one.phase == PHASES[phase] && one.side == Some(wanted);
            all.iter().rfind(here).map(|one| &one.grade)
        };
        if let (Some(left), Some(right)) = (of(Side::Left), of(Side::Right))
            && pairs::unlike(left, right)
        {
            let about = About::name(if name.is_empty() { "reflex" } else { name });
            review.tell(R::ReflexesUnlike, about, format!("left {left}, right {right}"));
        }
    }
}

/// Weakness that nobody says anything about sending on.
fn weak(review: &mut Review<'_>) {
    let referral = speaks_of_referral(review);
    let mut weak: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    for Graded { name, side, grade, .. } in grades(review, MeasureKind::Strength, FindingKind::Strength) {
        let judged = pairs::strength(&grade, referral, &review.rules.tables.trade);
        if judged.outcome == Plausible::Ask {
            let name = if name.is_empty() { "strength".to_string() } else { name };
            let side = side.map_or(String::new(), |side| format!("{side}, "));
            weak.entry(name).or_default().insert(format!("{side}grade {grade}"));
        }
    }
    for (name, all) in weak {
        let all: Vec<String> = all.into_iter().collect();
        review.tell(R::WeakWithoutReferral, About::name(name), all.join("; "));
    }
}

/// True when the plan names a referral, or says a word about one; that none is needed is said so too.
fn speaks_of_referral(review: &Review<'_>) -> bool {
    review.sheet.note.plan.value().is_some_and(|plan| {
        let words = plan.next_step.split(|c: char| !c.is_alphabetic()).map(str::to_lowercase);
        let about = ["refer", "refers", "referred", "referring", "referral", "referrals"];
        plan.referral.is_some() || words.into_iter().any(|word| about.contains(&word.as_str()))
    })
}

/// Against the newest earlier weight of the chart.
fn weight(review: &mut Review<'_>) {
    let sheet = review.sheet;
    let today = review.measures().filter(|(_, m)| m.kind == MeasureKind::Weight);
    let Some(today) = today.filter_map(|(_, m)| number(m)).last() else { return };
    let before = sheet.earlier.iter().rev().find_map(|visit| {
        let noted = visit.note.measures.iter().map(|line| &line.measured);
        let all = noted.chain(&visit.measures).filter(|m| m.kind == MeasureKind::Weight);
        all.filter_map(number).next_back().map(|kg| (visit.at, kg))
    });
    let Some((at, before)) = before else { return };
    let days = crate::record::calendar::days_between(at.local_date(), sheet.happened.start.local_date());
    let judged = pairs::weight_change(before, today, Decimal::from(days), &review.rules.tables.trade);
    worth_asking(review, R::WeightChanged, About::note(), &judged);
}

/// Vital signs as comparable words, in any order.
fn vitals<'m>(measures: impl Iterator<Item = &'m Measured>) -> BTreeSet<String> {
    let vital = measures.filter(|m| is_vital(m.kind));
    vital
        .map(|m| {
            let second = m.second_value.as_ref().map(|v| v.get().to_string()).unwrap_or_default();
            format!("{} {} {second}", m.kind.word(), m.value.get())
        })
        .collect()
}

fn identical_vitals(review: &mut Review<'_>) {
    let sheet = review.sheet;
    let running = review.rules.questions.identical_vitals_visits;
    let today = vitals(review.measures().map(|(_, m)| m));
    if today.is_empty() || running < 2 {
        return;
    }
    let before = sheet.earlier.iter().rev().take(running - 1);
    let same = before
        .filter(|visit| {
            vitals(visit.note.measures.iter().map(|m| &m.measured).chain(&visit.measures)) == today
        })
        .count();
    if same + 1 == running {
        review.tell(R::IdenticalVitals, About::note(), format!("{running} visits running"));
    }
}

fn same_as_last(review: &mut Review<'_>) {
    let sheet = review.sheet;
    let Some(last) = sheet.earlier.last() else { return };
    let Some(alike) = percent(&sheet.note, &last.note) else { return };
    if alike > review.rules.questions.same_as_last_percent {
        review.tell(R::SameAsLast, About::entry(last.seq), format!("{alike} percent the same"));
    }
}

fn overlap(review: &mut Review<'_>) {
    let sheet = review.sheet;
    let most = review.rules.questions.rooms_overlap_minutes;
    let Some(room) = &sheet.opening.place else { return };
    for other in &sheet.others {
        let mine =
            other.practitioner == sheet.signer || sheet.note.practitioners.contains(&other.practitioner);
        let elsewhere = other.room.as_ref().is_some_and(|r| !r.trim().eq_ignore_ascii_case(room.trim()));
        let (from, until) = (other.from.max(sheet.happened.start), other.until.min(sheet.ended()));
        let minutes = (until.unix() - from.unix()) / 60;
        if mine && elsewhere && minutes > most {
            let there = other.room.as_deref().unwrap_or_default();
            let more = format!("{minutes} minutes, {} in {there}", other.practitioner);
            review.tell(R::VisitsOverlap, About::note(), more);
        }
    }
}

fn hours(review: &mut Review<'_>) {
    let (sheet, questions) = (review.sheet, &review.rules.questions);
    let spans: Vec<(String, String)> = match sheet.hours.is_empty() {
        // Where the practice stated no hours by day, the rules' own hold for every day.
        true => vec![(questions.open_from.clone(), questions.open_until.clone())],
        false => sheet
            .hours
            .iter()
            .filter(|h| is_day(h, sheet))
            .map(|h| (h.from.clone(), h.until.clone()))
            .collect(),
    };
    let (start, end) = (sheet.happened.start.clock(), sheet.ended().clock());
    let inside = |(from, until): &(String, String)| *from <= start && end <= *until;
    let same_day = sheet.ended().local_date() == sheet.day();
    if !same_day || !spans.iter().any(inside) {
        review.tell(R::OutsideHours, About::note(), format!("{start} to {end}"));
    }
}

fn is_day(hours: &OpeningHours, sheet: &super::VisitSheet) -> bool {
    use jiff::civil::Weekday as W;
    let day = match sheet.day().weekday() {
        W::Monday => Weekday::Monday,
        W::Tuesday => Weekday::Tuesday,
        W::Wednesday => Weekday::Wednesday,
        W::Thursday => Weekday::Thursday,
        W::Friday => Weekday::Friday,
        W::Saturday => Weekday::Saturday,
        W::Sunday => Weekday::Sunday,
    };
    hours.day == day
}

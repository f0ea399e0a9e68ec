//! What a payer asks for, where the rules switch it on: the items of a first and of a later visit
//! (CMS Pub. 100-02 ch. 15, 240.1.2), the test of the findings, the X-ray, and the count of regions.

use super::missing_care::findings;
use super::part::{counting_region, found};
use super::{About, Review, ReviewId as R, said};
use crate::record::kinds::Day;
use crate::record::kinds::visit::{Complaint, History, VisitSort};
use crate::record::moment::Date;
use crate::record::reckon::{part, xray};
use crate::record::vocab::Region;
use std::collections::BTreeSet;

pub(super) fn look(review: &mut Review<'_>) {
    if !review.rules.payer.switched_on {
        return;
    }
    match review.sheet.note.sort {
        VisitSort::Later => later_visit(review),
        VisitSort::First | VisitSort::ReExamination => first_visit(review),
    }
    tests(review);
}

/// Adds a payer's item that is not there.
fn want(review: &mut Review<'_>, id: R, there: bool) {
    if !there {
        review.add(id, About::note());
    }
}

fn first_visit(review: &mut Review<'_>) {
    let note = &review.sheet.note;
    let asked = |h: &History| {
        !h.sources.is_empty()
            || ((said(h.illness.as_ref()) || said(h.injuries.as_ref())) && said(h.medicines.as_ref()))
    };
    let whole = note.history.as_ref().is_some_and(asked);
    want(review, R::PayerHistory, whole);
    let described = |c: &Complaint| {
        (c.region.is_some() || said(c.site.as_ref()))
            && said(c.onset.as_ref())
            && said(c.quality.as_ref())
            && said(c.frequency.as_ref())
            && c.pain_now.value().is_some()
    };
    want(review, R::PayerPresentIllness, note.complaints.iter().any(described));
    let examined = findings(review).next().is_some();
    want(review, R::PayerExamination, examined);
    want(review, R::PayerDiagnosisLevel, has_level(review));
    let plan = note.plan.value().is_some_and(|p| {
        said(p.frequency.as_ref())
            && said(p.duration.as_ref())
            && p.goals.iter().any(|goal| said(goal.measure.as_ref()))
    });
    want(review, R::PayerPlan, plan);
    let started = note.payer.as_ref().is_some_and(|p| p.treatment_started_on.is_some());
    want(review, R::PayerTreatmentStart, started || review.sheet.course_start.is_some());
}

/// A level of the spine: ticked for the payer, or the segment of a finding of the spine.
fn has_level(review: &Review<'_>) -> bool {
    let ticked = review.sheet.note.payer.as_ref().is_some_and(|p| !p.level.is_empty());
    ticked || findings(review).any(|f| f.segment.is_some() || said(f.level.as_ref()))
}

fn later_visit(review: &mut Review<'_>) {
    let note = &review.sheet.note;
    let changed = note.changed_since_last.value().is_some_and(|w| !w.trim().is_empty());
    want(review, R::PayerLaterHistory, changed && !note.complaints.is_empty());
    let assessment = note.assessment.value();
    let area = |region: Region| findings(review).any(|f| f.region.overlaps(region));
    let diagnosed: Vec<Region> =
        assessment.iter().flat_map(|a| &a.diagnoses).filter_map(|d| d.region).collect();
    let in_area = match diagnosed.is_empty() {
        true => findings(review).next().is_some(),
        false => diagnosed.into_iter().any(area),
    };
    let compared = assessment.is_some_and(|a| said(a.change_since_last.as_ref()));
    want(review, R::PayerLaterExamination, in_area && compared);
    let level = |p: &crate::record::kinds::procedure::Procedure| {
        !p.segments.is_empty() || !p.region.is_within(Region::Spine)
    };
    let treated = review.care().next().is_some() && review.care().all(level);
    want(review, R::PayerTreatmentToday, treated);
}

fn tests(review: &mut Review<'_>) {
    let (sheet, payer) = (review.sheet, &review.rules.payer);
    let items = sheet.note.payer.as_ref();
    let taken = items.and_then(|p| p.xray_on).map(|day| day.0);
    let start = items.and_then(|p| p.treatment_started_on).map(|day| day.0).or(sheet.course_start);
    let trade = &review.rules.tables.trade;
    let inside = |taken: Date| {
        let question = |start| xray::Question {
            course_start: Day(start),
            taken: Day(taken),
            condition_months: None,
            judged_permanent: None,
        };
        let judged = start.and_then(|start| xray::judge(&question(start), &trade.xray_window).ok());
        judged.is_some_and(|judged| judged.accepted == xray::Accepted::Yes)
    };
    // An X-ray kept with the chart counts as well as one typed for the payer.
    let x_ray = payer.xray_window && taken.into_iter().chain(sheet.x_rays.iter().copied()).any(inside);
    if payer.xray_window && taken.is_some() && !x_ray {
        review.add(R::PayerXRayWindow, About::note());
    }
    let letters = found(review);
    let test = match payer.findings_test.as_str() {
        "medicare" => Some(&trade.part.medicare),
        "oregon" => Some(&trade.part.oregon),
        _ => None,
    };
    if test.is_some_and(|test| !part::meets(test, &letters, x_ray)) {
        let list: Vec<&str> = letters.iter().map(String::as_str).collect();
        let has = if list.is_empty() { "none".to_string() } else { list.join(", ") };
        review.tell(R::PayerFindingsTest, About::note(), format!("found: {has}"));
    }
    if payer.region_count {
        let shown: BTreeSet<&str> = findings(review).filter_map(|f| counting_region(f.region)).collect();
        let treated: BTreeSet<&str> = review.care().filter_map(|p| counting_region(p.region)).collect();
        let without: Vec<&str> = treated.difference(&shown).copied().collect();
        if !without.is_empty() {
            review.tell(R::PayerRegions, About::note(), without.join(", "));
        }
    }
}

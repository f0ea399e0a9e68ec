//! What is missing in what was told, found, thought, advised and planned.

use super::{About, Review, ReviewId as R, said};
use crate::record::kinds::Given;
use crate::record::kinds::screening::MeasureKind;
use crate::record::kinds::visit::Complaint;

pub(super) fn look(review: &mut Review<'_>) {
    head(review);
    told(review);
    complaints(review);
    history(review);
    thought(review);
    advised(review);
    planned(review);
}

fn head(review: &mut Review<'_>) {
    let sheet = review.sheet;
    review.want(R::IdentityConfirmed, About::note(), sheet.opening.identity_confirmed);
    let placed = sheet.opening.no_place_because || said(sheet.opening.place.as_ref());
    review.want(R::Place, About::note(), placed);
    review.want(R::VisitTimes, About::note(), sheet.happened.end.is_some());
    for (part, words) in called_for(review) {
        let there = |word: &String| words.iter().any(|w| word.to_ascii_lowercase().contains(w));
        let met = sheet.opening.present.iter().chain(&sheet.conditions_met).any(there);
        review.want(R::WhoWasInTheRoom, About::name(part), met);
    }
}

/// Who belongs into the room: nobody beyond patient and practitioner, unless a chaperone was accepted, the
/// patient is a minor, or the chart asks for an interpreter. Who else came is asked when a visit is opened,
/// and a blank there says nobody.
fn called_for(review: &Review<'_>) -> Vec<(&'static str, &'static [&'static str])> {
    use crate::record::kinds::consent::ChaperoneAnswer;
    let mut parts: Vec<(&str, &[&str])> = Vec::new();
    let accepted = review.care().flat_map(|p| review.covering(p)).any(|consent| {
        let offer = consent.data.chaperone.as_ref();
        offer.is_some_and(|offer| offer.answer == Some(ChaperoneAnswer::Accepted))
    });
    if accepted {
        parts.push(("chaperone", &["chaperone"]));
    }
    let majority = i32::try_from(review.rules.coverage.majority_age_years).unwrap_or(i32::MAX);
    if review.sheet.age().is_some_and(|age| age < majority) {
        parts.push(("guardian", &["guardian", "parent", "mother", "father"]));
    }
    if review.sheet.patient.interpreter_needed {
        parts.push(("interpreter", &["interpreter"]));
    }
    parts
}

/// True when an answer stands there, or a reason that says something.
fn given<T>(given: &Given<T>, holds: impl FnOnce(&T) -> bool) -> bool {
    given.value().is_some_and(holds)
}

fn told(review: &mut Review<'_>) {
    let note = &review.sheet.note;
    let changed = given(&note.changed_since_last, |words| !words.trim().is_empty());
    review.want(R::ChangedSinceLast, About::note(), changed);
    review.want(R::Complaint, About::note(), !note.complaints.is_empty());
    let measured = review.measures().any(|(_, m)| m.kind == MeasureKind::PainNow);
    if note.complaints.is_empty() {
        review.want(R::PainIntensity, About::note(), measured);
    }
    for complaint in &note.complaints {
        let there = measured || complaint.pain_now.value().is_some();
        review.want(R::PainIntensity, About::complaint(complaint.no), there);
    }
    review.want(R::AllergyReviewed, About::note(), review.sheet.patient.allergies_reviewed);
}

/// The parts of a complaint, and whether they are there.
fn parts(c: &Complaint) -> [(R, bool); 10] {
    [
        (R::PainWorst, c.pain_worst.is_some()),
        (R::ComplaintSite, c.region.is_some() || said(c.site.as_ref())),
        (R::ComplaintSide, c.side.is_some() || c.region.is_some_and(|r| r.spans_midline())),
        (R::ComplaintQuality, said(c.quality.as_ref())),
        (R::ComplaintFrequency, said(c.frequency.as_ref())),
        (R::ComplaintRadiation, said(c.radiation.as_ref())),
        (R::ComplaintOnset, said(c.onset.as_ref())),
        (R::ComplaintMechanism, said(c.mechanism.as_ref()) || said(c.onset.as_ref())),
        (R::ComplaintAggravating, said(c.aggravating.as_ref())),
        (R::ComplaintRelieving, said(c.relieving.as_ref())),
    ]
}

fn complaints(review: &mut Review<'_>) {
    let note = &review.sheet.note;
    let worst = review.measures().any(|(_, m)| m.kind == MeasureKind::PainWorst);
    for complaint in &note.complaints {
        for (id, there) in parts(complaint) {
            review.want(id, About::complaint(complaint.no), there || (id == R::PainWorst && worst));
        }
    }
}

fn history(review: &mut Review<'_>) {
    let note = &review.sheet.note;
    let history = note.history.as_ref();
    // A sheet in the patient's own hand, pointed to, holds what the questions would ask.
    let sheet = history.is_some_and(|h| !h.sources.is_empty());
    let has = |words: Option<&String>| sheet || said(words);
    let earlier = has(history.and_then(|h| h.earlier_care.as_ref()))
        || note.complaints.iter().any(|c| said(c.earlier_care.as_ref()));
    let health =
        has(history.and_then(|h| h.illness.as_ref())) || said(history.and_then(|h| h.injuries.as_ref()));
    let medicines = has(history.and_then(|h| h.medicines.as_ref())) || said(note.medicines_changed.as_ref());
    review.want(R::EarlierCare, About::note(), earlier);
    review.want(R::PastHealth, About::note(), health);
    review.want(R::Medicines, About::note(), medicines);
    review.want(R::FamilyHistory, About::note(), has(history.and_then(|h| h.family.as_ref())));
}

fn thought(review: &mut Review<'_>) {
    let note = &review.sheet.note;
    review.want(R::Findings, About::note(), given(&note.findings, |all| !all.is_empty()));
    let empty = |a: &crate::record::kinds::visit::Assessment| {
        a.diagnoses.is_empty()
            && a.considered.is_empty()
            && !said(a.change_since_last.as_ref())
            && !said(a.tolerance.as_ref())
            && !said(a.risk_remark.as_ref())
    };
    let there = given(&note.assessment, |a| !empty(a));
    review.want(R::Assessment, About::note(), there);
    let based = given(&note.assessment, |a| {
        !a.diagnoses.is_empty() && a.diagnoses.iter().all(|d| !d.basis.trim().is_empty())
    });
    review.want(R::DiagnosisWithBasis, About::note(), based);
    let of = |text: fn(&crate::record::kinds::visit::Assessment) -> bool| given(&note.assessment, text);
    review.want(R::Considered, About::note(), of(|a| !a.considered.is_empty()));
    review.want(R::ComparedWithLast, About::note(), of(|a| said(a.change_since_last.as_ref())));
    review.want(R::Tolerance, About::note(), of(|a| said(a.tolerance.as_ref())));
    review.want(R::RiskRemark, About::note(), of(|a| said(a.risk_remark.as_ref())));
}

fn advised(review: &mut Review<'_>) {
    let note = &review.sheet.note;
    let there = given(&note.advice, |a| {
        let words = [&a.words, &a.heat_or_ice, &a.activity, &a.diet];
        !a.sheets.is_empty() || words.into_iter().any(|w| said(w.as_ref()))
    });
    review.want(R::Advice, About::note(), there);
    let watch = given(&note.advice, |a| a.watch_for.value().is_some_and(|words| !words.trim().is_empty()));
    review.want(R::WatchFor, About::note(), watch);
    if !there && !review.needs(R::Advice) && note.advice.because().is_none_or(|why| why.trim().is_empty()) {
        review.add(R::NoAdvice, About::note());
    }
}

fn planned(review: &mut Review<'_>) {
    let note = &review.sheet.note;
    let step = given(&note.plan, |p| !p.next_step.trim().is_empty());
    review.want(R::NextStep, About::note(), step);
    review.want(R::PlanFrequency, About::note(), given(&note.plan, |p| said(p.frequency.as_ref())));
    review.want(R::PlanDuration, About::note(), given(&note.plan, |p| said(p.duration.as_ref())));
    let whole = |g: &crate::record::kinds::visit::Goal| said(g.measure.as_ref()) && g.by.is_some();
    review.want(R::PlanGoals, About::note(), given(&note.plan, |p| p.goals.iter().any(whole)));
    let day = given(&note.plan, |p| p.re_examine_on.is_some());
    review.want(R::ReExaminationDate, About::note(), day);
    let open = note.plan.because().is_none_or(|why| why.trim().is_empty());
    if !step && open && !review.needs(R::NextStep) {
        review.add(R::NoPlan, About::note());
    }
}

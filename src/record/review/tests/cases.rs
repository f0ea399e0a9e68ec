//! The case of each item: what is changed in the whole visit so that it is remarked, and what is changed so
//! that it just is not.

use super::super::{ReviewId, RuleBook, VisitSheet};
use super::{Change, at, cases_care, of};
use crate::record::kinds::Given;
use crate::record::kinds::visit::{Assessment, Complaint, Plan, VisitSort};
use crate::record::moment::parse_date;
use serde_json::json;

fn whole(_: &mut VisitSheet, _: &mut RuleBook) {}

fn complaint(sheet: &mut VisitSheet) -> &mut Complaint {
    &mut sheet.note.complaints[0]
}

fn assessment(sheet: &mut VisitSheet) -> &mut Assessment {
    match &mut sheet.note.assessment {
        Given::Value(assessment) => assessment,
        Given::Absent(_) => panic!("no assessment"),
    }
}

fn plan(sheet: &mut VisitSheet) -> &mut Plan {
    match &mut sheet.note.plan {
        Given::Value(plan) => plan,
        Given::Absent(_) => panic!("no plan"),
    }
}

/// What brings an item, and what comes close without bringing it.
pub fn case(id: ReviewId) -> (Change, Change) {
    use ReviewId as R;
    match id {
        R::IdentityConfirmed => (|s, _| s.opening.identity_confirmed = false, whole),
        R::Place => (
            |s, _| s.opening.place = None,
            |s, _| (s.opening.place, s.opening.no_place_because) = (None, true),
        ),
        R::WhoWasInTheRoom => (
            |s, _| s.patient.interpreter_needed = true,
            |s, _| {
                s.patient.interpreter_needed = true;
                s.opening.present = vec!["interpreter".to_string()];
            },
        ),
        R::VisitTimes => (|s, _| s.happened.end = None, whole),
        R::ChangedSinceLast => (
            |s, _| s.note.changed_since_last = Given::absent(" "),
            |s, _| s.note.changed_since_last = "worse".to_string().into(),
        ),
        R::Complaint => (
            |s, _| s.note.complaints.clear(),
            |s, _| {
                s.note.complaints.clear();
                s.note.sort = VisitSort::Later;
            },
        ),
        R::PainIntensity => (
            |s, _| complaint(s).pain_now = Given::absent(""),
            |s, _| {
                complaint(s).pain_now = Given::absent("a child of two");
            },
        ),
        R::PainWorst => (
            |s, _| complaint(s).pain_worst = None,
            |s, _| {
                complaint(s).pain_worst = None;
                s.note.sort = VisitSort::Later;
            },
        ),
        R::ComplaintSite => (
            |s, _| (complaint(s).site, s.note.complaints[0].region) = (None, None),
            |s, _| {
                complaint(s).site = None;
            },
        ),
        R::ComplaintSide => (
            |s, _| complaint(s).side = None,
            |s, _| {
                complaint(s).side = None;
                complaint(s).region = Some(of(json!("lumbar")));
            },
        ),
        R::ComplaintQuality => (|s, _| complaint(s).quality = Some(" ".to_string()), whole),
        R::ComplaintFrequency => (|s, _| complaint(s).frequency = None, whole),
        R::ComplaintRadiation => (|s, _| complaint(s).radiation = None, whole),
        R::ComplaintOnset => (|s, _| complaint(s).onset = None, whole),
        R::ComplaintMechanism => (
            |s, _| (complaint(s).mechanism, s.note.complaints[0].onset) = (None, None),
            |s, _| complaint(s).mechanism = None,
        ),
        R::ComplaintAggravating => (|s, _| complaint(s).aggravating = None, whole),
        R::ComplaintRelieving => (|s, _| complaint(s).relieving = None, whole),
        R::EarlierCare => (
            |s, _| {
                complaint(s).earlier_care = None;
                s.note.history.as_mut().unwrap().earlier_care = None;
            },
            |s, _| complaint(s).earlier_care = None,
        ),
        R::PastHealth => (
            |s, _| s.note.history = None,
            |s, _| {
                s.note.history = Some(of(json!({ "sources": [12] })));
            },
        ),
        R::Medicines => (|s, _| s.note.history.as_mut().unwrap().medicines = None, whole),
        R::FamilyHistory => (|s, _| s.note.history.as_mut().unwrap().family = None, whole),
        R::AllergyReviewed => (|s, _| s.patient.allergies_reviewed = false, whole),
        R::Assessment => (
            |s, _| s.note.assessment = Given::absent(""),
            |s, _| s.note.assessment = Given::absent("as last time"),
        ),
        R::DiagnosisWithBasis => (|s, _| assessment(s).diagnoses[0].basis = String::new(), whole),
        R::Considered => (
            |s, _| assessment(s).considered.clear(),
            |s, _| {
                assessment(s).considered.clear();
                s.note.sort = VisitSort::Later;
            },
        ),
        R::ComparedWithLast => (
            |s, _| {
                s.note.sort = VisitSort::ReExamination;
                assessment(s).change_since_last = None;
            },
            |s, _| s.note.sort = VisitSort::ReExamination,
        ),
        R::Tolerance => (
            |s, _| {
                s.note.sort = VisitSort::ReExamination;
                assessment(s).tolerance = None;
            },
            |s, _| assessment(s).tolerance = None,
        ),
        R::RiskRemark => (
            |s, _| {
                s.note.sort = VisitSort::ReExamination;
                assessment(s).risk_remark = None;
            },
            |s, _| assessment(s).risk_remark = None,
        ),
        R::Advice => (
            |s, _| s.note.advice = Given::absent(""),
            |s, _| {
                s.note.advice = of(json!({ "sheets": [{ "sheet": "J2", "edition": "1" }], "watch_for": "x" }))
            },
        ),
        R::WatchFor => (
            |s, _| s.note.advice = of(json!({ "words": "rest", "watch_for": { "not_done_because": "" } })),
            |s, _| {
                s.note.advice = of(json!({ "words": "rest", "watch_for": { "not_done_because": "deaf" } }))
            },
        ),
        R::NextStep => {
            (|s, _| plan(s).next_step = String::new(), |s, _| s.note.plan = Given::absent("discharged"))
        }
        R::PlanFrequency => (
            |s, _| plan(s).frequency = None,
            |s, _| {
                plan(s).frequency = None;
                s.note.sort = VisitSort::Later;
            },
        ),
        R::PlanDuration => (|s, _| plan(s).duration = None, whole),
        R::PlanGoals => (|s, _| plan(s).goals[0].measure = None, whole),
        R::ReExaminationDate => (|s, _| plan(s).re_examine_on = None, whole),
        R::NoAdvice => (
            |s, r| {
                r.note.needed.remove("advice");
                s.note.advice = Given::absent("");
            },
            |s, _| s.note.advice = Given::absent(""),
        ),
        R::NoPlan => (
            |s, r| {
                r.note.needed.remove("next-step");
                s.note.plan = Given::absent("");
            },
            |s, r| {
                r.note.needed.remove("next-step");
                s.note.plan = Given::absent("discharged");
            },
        ),
        _ if id.is_payers() => payer(id),
        _ => cases_care::case(id, whole),
    }
}

fn payer(id: ReviewId) -> (Change, Change) {
    use ReviewId as R;
    match id {
        R::PayerHistory => (
            |s, r| {
                r.payer.switched_on = true;
                s.note.history.as_mut().unwrap().medicines = None;
            },
            |s, _| s.note.history.as_mut().unwrap().medicines = None,
        ),
        R::PayerPresentIllness => (
            |s, r| {
                r.payer.switched_on = true;
                complaint(s).quality = None;
            },
            |s, _| complaint(s).quality = None,
        ),
        R::PayerExamination => (
            |s, r| {
                r.payer.switched_on = true;
                s.note.findings = Given::absent("");
            },
            |s, _| s.note.findings = Given::absent(""),
        ),
        R::PayerDiagnosisLevel => (
            |s, r| {
                r.payer.switched_on = true;
                s.note.payer.as_mut().unwrap().level.clear();
                if let Given::Value(findings) = &mut s.note.findings {
                    findings[0].segment = None;
                }
            },
            |s, r| {
                r.payer.switched_on = true;
                s.note.payer.as_mut().unwrap().level.clear();
            },
        ),
        R::PayerPlan => (
            |s, r| {
                r.payer.switched_on = true;
                plan(s).goals.clear();
            },
            |s, _| plan(s).goals.clear(),
        ),
        R::PayerTreatmentStart => (
            |s, r| {
                r.payer.switched_on = true;
                s.note.payer = None;
            },
            |s, r| {
                r.payer.switched_on = true;
                s.note.payer = None;
                s.course_start = parse_date("2025-09-01");
            },
        ),
        R::PayerLaterHistory => (
            |s, r| later(s, r),
            |s, r| {
                later(s, r);
                s.note.changed_since_last = "better".to_string().into();
            },
        ),
        R::PayerLaterExamination => (
            |s, r| {
                later(s, r);
                assessment(s).change_since_last = None;
            },
            |s, r| later(s, r),
        ),
        R::PayerTreatmentToday => (
            |s, r| {
                later(s, r);
                s.note.procedures[0].segments.clear();
            },
            |s, r| later(s, r),
        ),
        R::PayerFindingsTest => (
            |s, r| {
                r.payer.switched_on = true;
                tender_only(s);
            },
            // An X-ray within the window stands in for the findings.
            |s, r| {
                r.payer.switched_on = true;
                tender_only(s);
                s.x_rays = vec![parse_date("2025-03-01").unwrap()];
            },
        ),
        R::PayerXRayWindow => (
            |s, r| {
                r.payer.switched_on = true;
                s.note.payer.as_mut().unwrap().xray_on = Some(of(json!("2024-09-21")));
            },
            |s, r| {
                r.payer.switched_on = true;
                s.note.payer.as_mut().unwrap().xray_on = Some(of(json!("2024-09-22")));
            },
        ),
        _ => (
            |s, r| {
                r.payer.switched_on = true;
                s.note.procedures[0].region = of(json!("lumbar"));
            },
            |s, r| {
                r.payer.switched_on = true;
                r.payer.region_count = false;
                s.note.procedures[0].region = of(json!("lumbar"));
            },
        ),
    }
}

fn later(sheet: &mut VisitSheet, rules: &mut RuleBook) {
    rules.payer.switched_on = true;
    sheet.note.sort = VisitSort::Later;
    sheet.now = at("10:45");
}

/// Tenderness in every region treated: P alone passes no test.
fn tender_only(sheet: &mut VisitSheet) {
    sheet.note.findings = of(json!([
        { "no": 1, "region": "neck-joints", "segment": "C5-C6", "side": "right", "kind": "tenderness" },
        { "no": 2, "region": "inside-cheek", "side": "right", "kind": "normal" }
    ]));
}

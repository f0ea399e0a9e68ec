//! One case that brings each remark, and one beside it that does not.

mod cases;
mod cases_care;
mod done;
mod marked;
mod payers;
mod questions;
mod questions_care;
mod refused;
mod told;

use super::sheet::Dated;
use super::*;
use crate::record::envelope::Happened;
use crate::record::kinds::Given;
use crate::record::kinds::consent::Consent;
use crate::record::kinds::register::Staff;
use crate::record::kinds::screening::{Measured, Screen};
use crate::record::kinds::withdrawal::Asked;
use crate::record::moment::{Moment, parse_date};
use serde::de::DeserializeOwned;
use serde_json::{Value, json};
use std::sync::OnceLock;

/// What is changed in the whole visit before it is looked through.
type Change = fn(&mut VisitSheet, &mut RuleBook);

pub(super) fn at(time: &str) -> Moment {
    Moment::parse(&format!("2025-09-22T{time}:00-04:00")).unwrap()
}

pub(super) fn of<T: DeserializeOwned>(value: Value) -> T {
    serde_json::from_value(value).unwrap()
}

pub(super) fn dated<T>(seq: u64, time: &str, data: T) -> Dated<T> {
    Dated { seq, at: at(time), written: at(time), data }
}

pub(super) fn measured(kind: &str, value: f64) -> Measured {
    of(json!({ "kind": kind, "value": value, "unit": "mm" }))
}

/// The note of a first visit that lacks nothing: the neck is thrust, the inside of the cheek is worked.
fn whole_note() -> Value {
    json!({
        "visit": 18, "sort": "first", "practitioners": ["IV"],
        "changed_since_last": { "not_done_because": "first visit" },
        "complaints": [{
            "no": 1, "words": "jaw and neck ache", "region": "jaw-joint", "side": "right",
            "site": "in front of the ear", "quality": "dull", "pain_now": 5, "pain_worst": 7,
            "frequency": "daily", "radiation": "nowhere", "onset": "six weeks ago, slowly",
            "mechanism": "long practice", "aggravating": "playing", "relieving": "warmth",
            "earlier_care": "none"
        }],
        "history": { "illness": "none", "injuries": "none", "medicines": "none", "family": "none",
                     "social": "bass trombone", "earlier_care": "none" },
        "screens": [19, 20],
        "findings": [
            { "no": 1, "region": "neck-joints", "segment": "C5-C6", "side": "right",
              "kind": "motion-restriction", "words": "side-bending" },
            { "no": 2, "region": "neck-back", "side": "right", "kind": "tenderness", "grade": 2 },
            { "no": 3, "region": "inside-cheek", "side": "right", "kind": "normal", "words": "looked at" },
            { "no": 4, "region": "inside-cheek", "side": "right", "kind": "tenderness", "grade": 2 }
        ],
        "assessment": {
            "diagnoses": [{ "words": "stiff joint", "basis": "restriction", "region": "neck-joints" }],
            "considered": [{ "what": "locked disc", "ruled_out_by": "opening grows" }],
            "change_since_last": "none yet", "tolerance": "good", "risk_remark": "none beyond the usual"
        },
        "agreed": { "consents": [16, 17], "asked": [21, 22] },
        "procedures": [
            { "no": 1, "at": "2025-09-22T10:20:00-04:00", "technique": "thrust", "region": "neck-joints",
              "segments": ["C5-C6"], "side": "right", "position": "face-up", "done_by": "IV",
              "response": { "word": "tolerated", "pain": 4 } },
            { "no": 2, "at": "2025-09-22T10:25:00-04:00", "technique": "intraoral", "region": "inside-cheek",
              "side": "right", "done_by": "IV", "gloves": { "material": "nitrile", "fresh_pair": true },
              "response": { "word": "relieved", "pain": 3 } }
        ],
        "checks": [{ "at": "2025-09-22T10:26:00-04:00", "question": "comfort", "words": "fine" }],
        "measures": [
            { "phase": "before", "measured": { "kind": "mouth-opening-unassisted", "value": 34, "unit": "mm" } },
            { "phase": "after", "measured": { "kind": "mouth-opening-unassisted", "value": 38, "unit": "mm" } },
            { "phase": "before", "measured": { "kind": "pulse", "value": 64, "unit": "per-minute" } }
        ],
        "advice": { "words": "shorter practice", "watch_for": "dizziness: call 555 0199" },
        "plan": {
            "next_step": "again in one week", "frequency": "weekly", "duration": "three visits",
            "goals": [{ "words": "a sandwich", "measure": "mouth opening", "target": "40 mm", "by": "2025-11-01" }],
            "re_examine_on": "2025-11-01"
        },
        "payer": { "treatment_started_on": "2025-09-22", "level": ["C5-C6"] }
    })
}

fn consent(kind: &str, technique: &str, region: &str, risks: &[&str]) -> Consent {
    of(json!({
        "kind": kind, "status": "signed", "form": "written-signed", "wording": "F1",
        "techniques": [technique], "regions": [region], "side": "both",
        "practitioners_allowed": { "kind": "any" },
        "explained": {
            "by": "IV", "at": "2025-09-22T09:50:00-04:00", "procedures": "as named",
            "alternatives": "exercise, or nothing", "risks": risks, "questions": "none"
        },
        "given_by": { "role": "self" }, "paper": 15, "valid_from": "2025-09-22",
        "rest_of_earlier": "not-applicable", "stop_signal": "raised hand",
        "chaperone": { "offered": true, "answer": "declined" }
    }))
}

fn asked(technique: &str, region: &str) -> Asked {
    of(json!({ "visit": 18, "technique": technique, "region": region, "side": "right",
               "asked_by": "IV", "answer": "yes" }))
}

fn screen(rules: &RuleBook, name: &str) -> Screen {
    let items = rules.coverage.screen_items[name].keys();
    let answers: Vec<Value> = items.map(|item| json!({ "item": item, "answer": "no" })).collect();
    of(json!({ "visit": 18, "screen": name, "answers": answers, "done_by": "IV",
               "stop_signal": (name == "mouth").then_some("raised hand") }))
}

/// A first visit that brings no remark at all.
pub(super) fn whole() -> (VisitSheet, RuleBook) {
    static RULES: OnceLock<RuleBook> = OnceLock::new();
    let rules = RULES.get_or_init(|| RuleBook::example().unwrap()).clone();
    let happened = Happened { start: at("10:00"), end: Some(at("10:40")), about: false };
    let note = draft(&whole_note()).unwrap();
    let mut sheet = VisitSheet::bare(at("10:45"), "IV", happened, note);
    let staff: Staff = of(json!({
        "code": "IV", "name": "Ingrith Valsamo", "role": "chiropractor", "initials": "IV",
        "licence_last_day": "2026-12-31", "on_roster_from": "2022-01-01",
        "techniques_permitted": ["thrust", "intraoral"]
    }));
    sheet.roster = Some(staff);
    sheet.opening.place = Some("room 1".to_string());
    sheet.opening.identity_confirmed = true;
    sheet.patient.name = "Bettony Craske".to_string();
    sheet.patient.born = parse_date("1988-07-23");
    sheet.patient.allergies_reviewed = true;
    sheet.patient.latex_answered = true;
    let neck = ["soreness", "neck-artery-event", "stroke"];
    let mouth = ["jaw-ache", "gag", "bite-reflex", "mouth-abrasion"];
    sheet.consents = vec![
        dated(16, "09:55", consent("treatment", "thrust", "cervical", &neck)),
        dated(17, "09:56", consent("inside-mouth", "intraoral", "mouth", &mouth)),
    ];
    sheet.asked = vec![
        dated(21, "10:15", asked("thrust", "neck-joints")),
        dated(22, "10:16", asked("intraoral", "inside-cheek")),
    ];
    sheet.screens =
        vec![dated(19, "10:05", screen(&rules, "neck")), dated(20, "10:06", screen(&rules, "mouth"))];
    (sheet, rules)
}

pub(super) fn after(change: Change) -> Vec<Remark> {
    let (mut sheet, mut rules) = whole();
    change(&mut sheet, &mut rules);
    review(&sheet, &rules)
}

/// A line of the measures of a note.
pub(super) fn line(phase: &str, kind: &str, value: f64) -> Value {
    json!({ "phase": phase, "measured": { "kind": kind, "value": value, "unit": "mm" } })
}

/// The whole note, changed in these places (JSON Pointer): null takes one away, and the place behind the last line
/// of a list adds one.
pub(super) fn note_with(changes: &Value) -> Value {
    let mut note = whole_note();
    for (pointer, value) in changes.as_object().unwrap() {
        let (parent, name) = pointer.rsplit_once('/').unwrap();
        match note.pointer_mut(parent).unwrap() {
            Value::Object(members) if value.is_null() => drop(members.shift_remove(name)),
            Value::Object(members) => drop(members.insert(name.to_string(), value.clone())),
            Value::Array(lines) => match name.parse::<usize>().unwrap() {
                at if value.is_null() => drop(lines.remove(at)),
                at if at == lines.len() => lines.push(value.clone()),
                at => lines[at] = value.clone(),
            },
            other => panic!("{pointer}: {other}"),
        }
    }
    note
}

/// What stands open, by its name and in the order of the names, when the whole note is changed in these places and
/// something around it.
pub(super) fn opens(changes: &Value, around: impl FnOnce(&mut VisitSheet, &mut RuleBook)) -> Vec<String> {
    let (mut sheet, mut rules) = whole();
    sheet.note = draft(&note_with(changes)).unwrap_or_else(|error| panic!("{changes}: {error}"));
    around(&mut sheet, &mut rules);
    let mut items: Vec<String> = review(&sheet, &rules)
        .into_iter()
        .filter(|remark| remark.answered.is_none())
        .map(|remark| remark.item)
        .collect();
    items.sort();
    items
}

/// Nothing around the note is changed.
pub(super) fn none(_: &mut VisitSheet, _: &mut RuleBook) {}

/// Each line: the places of the whole note that are changed, and all that then stands open.
pub(super) fn try_all(lines: &[(Value, &[&str])]) {
    for (changes, expected) in lines {
        assert_eq!(opens(changes, none), *expected, "{changes}");
    }
}

fn open(remarks: &[Remark], id: ReviewId) -> bool {
    remarks.iter().any(|remark| remark.id == id && remark.answered.is_none())
}

#[test]
fn a_whole_visit_brings_no_remark() {
    // That nothing can have changed before a first visit is an answer, and the only one.
    let plain = after(|_, _| ());
    assert!(plain.iter().all(|remark| remark.answered.is_some()) && plain.len() == 1, "{plain:#?}");
    let payer = after(|_, rules| rules.payer.switched_on = true);
    assert!(payer.iter().all(|remark| remark.answered.is_some()), "{payer:#?}");
}

#[test]
fn every_item_is_brought_by_a_case_and_not_by_its_neighbor() {
    for id in ReviewId::ALL {
        let (with, without) = cases::case(*id);
        let found = after(with);
        assert!(open(&found, *id), "{id}: not remarked in {found:#?}");
        let remark = found.iter().find(|r| r.id == *id).unwrap();
        assert_eq!(remark.level, id.level(), "{id}");
        assert!(!open(&after(without), *id), "{id}: remarked where it should not be");
    }
}

#[test]
fn values_are_compared_only_where_they_can_be() {
    let found = after(|sheet, _| cases_care::pain_elsewhere(sheet));
    assert!(!open(&found, ReviewId::PainJump), "pain of two regions is no change: {found:#?}");
    let found = after(|sheet, _| cases_care::sides_in_two_phases(sheet));
    assert!(!open(&found, ReviewId::ReflexesUnlike), "before and after are no two sides: {found:#?}");
}

/// What the layout does not leave empty takes a reason, and the reason is read from where it was put.
#[test]
fn a_reason_for_what_was_not_done_stands_in_its_own_place() {
    use ReviewId as R;
    for (id, place) in [
        (R::ChangedSinceLast, "/changed_since_last"),
        (R::PainIntensity, "/complaints/#/pain_now"),
        (R::Findings, "/findings"),
        (R::Assessment, "/assessment"),
        (R::Response, "/procedures/#/response"),
        (R::Advice, "/advice"),
        (R::WatchFor, "/advice/watch_for"),
        (R::NextStep, "/plan"),
    ] {
        assert_eq!(id.absence(), Some(format!("{place}/not_done_because").as_str()), "{id}");
        let (mut sheet, mut rules) = whole();
        cases::case(id).0(&mut sheet, &mut rules);
        let found = review(&sheet, &rules);
        let about = &found.iter().find(|r| r.id == id).unwrap().about;
        let line = about.procedure.or(about.complaint).unwrap_or(1) - 1;
        let mut note = serde_json::to_value(&sheet.note).unwrap();
        let value = note.pointer_mut(&place.replace('#', &line.to_string())).unwrap();
        *value = json!({ "not_done_because": "she fell asleep" });
        sheet.note = of(note);
        let found = review(&sheet, &rules);
        let remark = found.iter().find(|r| r.id == id).unwrap();
        assert_eq!(remark.answered.as_deref(), Some("not done, because she fell asleep"), "{id}");
    }
}

#[test]
fn a_reason_for_the_whole_assessment_answers_for_its_parts() {
    let found = after(|sheet, _| {
        sheet.note.sort = VisitSort::ReExamination;
        sheet.note.assessment = Given::absent("left early");
    });
    use ReviewId as R;
    for id in [R::Assessment, R::DiagnosisWithBasis, R::ComparedWithLast, R::Tolerance, R::RiskRemark] {
        let remark = found.iter().find(|r| r.id == id).unwrap();
        assert_eq!(remark.answered.as_deref(), Some("not done, because left early"), "{id}");
    }
}

#[test]
fn a_procedure_that_names_its_question_is_held_against_that_one() {
    let named = |seq: Option<u64>| {
        let (mut sheet, rules) = whole();
        sheet.asked.push(dated(24, "10:30", asked("thrust", "neck-joints")));
        sheet.note.procedures[0].asked = seq;
        open(&review(&sheet, &rules), ReviewId::ProcedureBeforeAsked)
    };
    assert_eq!([named(None), named(Some(21)), named(Some(24))], [false, false, true]);
}

#[test]
fn a_consent_given_after_a_withdrawal_stands_again() {
    let given = |seq: u64, time: &str| {
        let (mut sheet, rules) = whole();
        sheet.withdrawals = vec![cases_care::withdrawal("10:12")];
        let again = sheet.consents[0].data.clone();
        sheet.consents.push(dated(seq, time, again));
        !open(&review(&sheet, &rules), ReviewId::ProcedureAfterWithdrawal)
    };
    assert!(given(24, "10:14") && given(24, "10:12") && given(24, "10:20"));
    assert!(!given(24, "10:11") && !given(24, "10:21"), "before the withdrawal, or after the procedure");
    // However late a withdrawal is written, it works from when it was said (coverage rule F1); within one minute the
    // numbers tell.
    assert!(given(22, "10:14") && !given(22, "10:12"));
}

#[test]
fn a_complaint_of_both_arms_is_told_by_its_region_and_side() {
    let asked = |region: &str, side: &str| {
        let (mut sheet, rules) = whole();
        sheet.note.complaints[0].region = Some(of(json!(region)));
        sheet.note.complaints[0].side = Some(of(json!(side)));
        open(&review(&sheet, &rules), ReviewId::ArmsWithoutNeuro)
    };
    assert!(asked("hand", "both") && asked("upper-limb", "both"));
    assert!(!asked("hand", "left") && !asked("knee", "both"));
}

/// The sign stands in the measured value, and the whole number beside it.
#[test]
fn half_a_grade_of_strength_is_told() {
    let found = after(|sheet, _| {
        let weak = of(json!({ "no": 5, "region": "shoulder", "side": "right", "structure": "deltoid",
            "kind": "strength", "grade": 2,
            "measured": { "kind": "strength", "value": 2, "unit": "grade", "plus_minus": "plus" } }));
        match &mut sheet.note.findings {
            Given::Value(findings) => findings.push(weak),
            Given::Absent(_) => panic!("no findings"),
        }
    });
    let remark = found.iter().find(|r| r.id == ReviewId::WeakWithoutReferral).unwrap();
    assert!(remark.words.ends_with("(right, grade 2+)"), "{}", remark.words);
}

#[test]
fn what_cannot_be_is_put_down_to_its_line() {
    let found = after(|sheet, _| match &mut sheet.note.findings {
        Given::Value(findings) => findings[3].side = None,
        Given::Absent(_) => panic!("no findings"),
    });
    let remark = found.iter().find(|r| r.id == ReviewId::SideMissing).unwrap();
    assert_eq!((remark.item.as_str(), remark.about.words().as_str()), ("side-missing:4", "finding 4"));
    // A stretch of levels for a thrust is a thrust on what is no pair.
    let stretch = |technique: &str| {
        let (mut sheet, rules) = whole();
        sheet.note.procedures[0].span = Some(of(json!({ "from": "C3", "to": "C6" })));
        sheet.note.procedures[0].technique = of(json!(technique));
        let found = review(&sheet, &rules);
        [ReviewId::ThrustNotAdjacent, ReviewId::CannotBe].map(|id| open(&found, id))
    };
    assert_eq!(stretch("thrust"), [true, false]);
    assert_eq!(stretch("mobilization"), [false, true]);
}

#[test]
fn every_item_has_words_and_a_remedy() {
    for id in ReviewId::ALL {
        assert!(id.words().ends_with('.') && id.words().len() > 15, "{id}");
        assert!(id.remedy().ends_with('.') && id.remedy().len() > 10, "{id}");
        assert!(id.place().is_none_or(|place| place.starts_with('/')), "{id}");
        // What can't be signed names a way to record what was in fact so.
        if id.level() == Level::Refuse {
            let ways = ["orrect", "Write", "keeper of the records", "Record"];
            assert!(ways.iter().any(|way| id.remedy().contains(way)), "{id}");
        }
    }
}

#[test]
fn the_rules_list_every_item_and_no_other() {
    let rules = RuleBook::example().unwrap();
    for id in ReviewId::ALL.iter().filter(|id| id.in_rules()) {
        assert!(rules.note.needed.contains_key(id.word()), "{id} is not in [note.needed]");
    }
    assert_eq!(check_needed(&rules.note), Ok(()));
    let mut note = rules.note.clone();
    note.needed.insert("blood-type".to_string(), vec!["always".to_string()]);
    assert!(check_needed(&note).unwrap_err().contains("blood-type"));
    let mut note = rules.note.clone();
    note.needed.insert("advice".to_string(), vec!["sundays".to_string()]);
    assert!(check_needed(&note).unwrap_err().contains("sundays"));
    let text = crate::record::rulebook::EXAMPLE.replace("\nadvice = ", "\nadvise = ");
    assert!(crate::record::rulebook::read::file(&text).unwrap_err().contains("advise"));
}

/// The three lists of what is refused, kept and marked, and asked before signing, each in its own words,
/// with the item it became. They are the practice's own proposal.
#[test]
fn the_three_lists_map_to_items() {
    use ReviewId as R;
    let refused: [(&str, &[R]); 11] = [
        ("visit or signature in the future", &[R::InFuture]),
        ("consent until before from", &[R::ConsentUntilBeforeFrom]),
        ("birth after visit", &[R::BirthAfterVisit]),
        ("guardian = patient or a minor", &[R::GuardianIsPatient, R::GuardianIsMinor]),
        ("inside-mouth procedure with no glove entry", &[R::GloveMissing]),
        ("glove material = recorded allergy", &[R::GloveIsAllergy]),
        ("side missing on a sided structure", &[R::SideMissing]),
        ("thrust on a non-adjacent pair", &[R::ThrustNotAdjacent]),
        ("signer not on roster that day", &[R::SignerNotOnRoster]),
        ("author signing another's hands-on part", &[R::AnothersHands]),
        ("expiry of licence before visit", &[R::LicenceExpired]),
    ];
    let marked: [(&str, &[R]); 8] = [
        ("procedure before its consent or asked time", &[R::ProcedureBeforeConsent, R::ProcedureBeforeAsked]),
        ("procedure after a withdrawal that covers it", &[R::ProcedureAfterWithdrawal]),
        ("consent written after the visit ended", &[R::ConsentAfterVisit]),
        ("witness = practitioner", &[R::WitnessIsPractitioner]),
        ("entry written after notice of claim", &[R::AfterNotice]),
        ("procedure region with no finding today", &[R::NoFindingForRegion]),
        ("event > 24 h before writing", &[R::Late]),
        ("chart opened right before a late entry after a request", &[R::OpenedBeforeLateEntry]),
    ];
    let asked: [(&str, &[R]); 17] = [
        (
            "pairs of values",
            &[R::PainJump, R::JawSidesDiffer, R::ReflexesUnlike, R::WeakWithoutReferral, R::WeightChanged],
        ),
        ("thrust side opposite to the finding side", &[R::ThrustSideOpposite]),
        ("finding in a region with no procedure and no plan", &[R::FindingNotFollowed]),
        ("tolerated well with pain up", &[R::ToleratedWithMorePain]),
        ("opening gain in a visit", &[R::OpeningGain]),
        ("identical vitals visits running", &[R::IdenticalVitals]),
        ("note same as last", &[R::SameAsLast]),
        ("consent explained shortly for first thrust", &[R::ExplainedShortly]),
        ("two visits overlapping in different rooms", &[R::VisitsOverlap]),
        ("visit outside opening hours", &[R::OutsideHours]),
        ("both-sided arm symptoms and neck thrust without neuro findings", &[R::ArmsWithoutNeuro]),
        ("anticoagulant and thrust", &[R::AnticoagulantAndThrust]),
        ("thrust under the age floor", &[R::ThrustUnderAge]),
        ("pregnancy and face-down", &[R::PregnancyFaceDown]),
        ("small opening and mouth work", &[R::MouthWorkSmallOpening]),
        ("no advice; no plan", &[R::NoAdvice, R::NoPlan]),
        ("adverse response still open", &[R::ReactionOpen]),
    ];
    let all = |list: &[(&str, &'static [R])], level: Level| {
        let mapped: Vec<R> = list.iter().flat_map(|(_, ids)| ids.iter().copied()).collect();
        assert!(mapped.iter().all(|id| id.level() == level));
        let of_level = ReviewId::ALL.iter().filter(|id| id.level() == level);
        // The layout's own checks bring what no list names.
        let rest: Vec<&R> = of_level.filter(|id| !mapped.contains(id)).collect();
        assert!(rest.iter().all(|id| matches!(id, R::CannotBe | R::Unusual)), "{rest:?}");
    };
    all(&refused, Level::Refuse);
    all(&marked, Level::Flag);
    all(&asked, Level::Ask);
}

#[test]
fn what_the_note_answers_is_no_longer_open() {
    let missing = after(|sheet, _| {
        sheet.opening.identity_confirmed = false;
        sheet.note.not_done = of(json!([{ "item": "identity-confirmed", "because": "known for years" }]));
    });
    let identity = missing.iter().find(|r| r.id == ReviewId::IdentityConfirmed).unwrap();
    assert_eq!(identity.answered.as_deref(), Some("not done, because known for years"));
    let acknowledged = after(|sheet, _| {
        sheet.opening.identity_confirmed = false;
        sheet.note.missing_acknowledged = vec!["identity-confirmed".to_string()];
    });
    assert!(acknowledged.iter().all(|remark| !remark.is_open()));
    let answered = after(|sheet, _| {
        sheet.note.procedures[0].side = Some(Side::Left);
        sheet.asked[0].data.side = Side::Left;
        sheet.note.answered = of(json!([{ "item": "thrust-side-opposite:1", "answer": "as taught" }]));
    });
    assert!(answered.iter().all(|remark| !remark.is_open()), "{answered:#?}");
    // An answer for one procedure is none for another.
    let other = after(|sheet, _| {
        sheet.note.procedures[0].side = Some(Side::Left);
        sheet.note.answered = of(json!([{ "item": "thrust-side-opposite:2", "answer": "as taught" }]));
    });
    assert!(open(&other, ReviewId::ThrustSideOpposite));
    // Only what the keeper of the records may let pass is answered among what is refused.
    let licence = after(|sheet, _| {
        sheet.roster.as_mut().unwrap().licence_last_day = Some(of(json!("2025-09-21")));
        sheet.note.answered = of(json!([{ "item": "licence-expired", "answer": "renewal was on its way" }]));
    });
    assert!(licence.iter().all(|remark| !remark.is_open()), "{licence:#?}");
}

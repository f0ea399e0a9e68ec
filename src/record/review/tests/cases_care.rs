//! The cases of what hands did, of what was agreed, and of what is refused, marked or asked.

use super::super::sheet::{Dated, EarlierVisit, OtherVisit};
use super::super::{ReviewId, VisitSheet};
use super::{Change, at, dated, measured, of};
use crate::record::kinds::Given;
use crate::record::kinds::finding::Finding;
use crate::record::kinds::screening::Measured;
use crate::record::kinds::visit::NoteMeasure;
use crate::record::kinds::withdrawal::Withdrawal;
use crate::record::moment::{Moment, parse_date};
use crate::record::vocab::{Region, Segment, Side, Technique};
use serde_json::json;

fn findings(sheet: &mut VisitSheet) -> &mut Vec<Finding> {
    match &mut sheet.note.findings {
        Given::Value(findings) => findings,
        Given::Absent(_) => panic!("no findings"),
    }
}

fn adverse(severity: &str) -> serde_json::Value {
    json!([{ "what": "faint", "severity": severity, "action": "lay down", "outcome": "well" }])
}

fn alert(kind: &str) -> (u64, crate::record::kinds::identity::Alert) {
    (9, of(json!({ "kind": kind, "from": "2024-01-01" })))
}

/// Thrusts are taken back.
pub fn withdrawal(time: &str) -> Dated<Withdrawal> {
    dated(
        23,
        time,
        of(json!({ "said_by": { "role": "self" }, "how": "words", "patient_words": "enough",
                   "techniques": ["thrust"] })),
    )
}

fn guardian(sheet: &mut VisitSheet, name: &str, born: &str) {
    sheet.consents[0].data.given_by = of(json!({ "role": "decision-maker", "person_id": "p1" }));
    sheet.patient.decision_makers = vec![of(json!({
        "person_id": "p1", "name": name, "relation": "mother", "birth_date": born, "basis": "parent",
        "authority_on_file": true, "may_consent": true, "may_receive_records": true
    }))];
}

fn earlier(sheet: &mut VisitSheet, visits: usize) {
    for day in 0..visits {
        let at = at("10:00").plus_seconds(-86_400 * (10 - day as i64));
        let note = sheet.note.clone();
        sheet.earlier.push(EarlierVisit { seq: 3 + day as u64, at, note, measures: Vec::new() });
    }
}

fn opening_after(sheet: &mut VisitSheet, mm: f64) {
    sheet.note.measures[1].measured = measured("mouth-opening-unassisted", mm);
}

/// Adds a measure to the note.
fn add(sheet: &mut VisitSheet, phase: &str, one: Measured) {
    sheet.note.measures.push(NoteMeasure { phase: of(json!(phase)), at: None, measured: one });
}

fn pain(sheet: &mut VisitSheet, before: f64, after: f64) {
    sheet.note.measures.retain(|m| m.measured.kind.word() != "pain-now");
    add(sheet, "before", measured("pain-now", before));
    add(sheet, "after", measured("pain-now", after));
}

/// Pain before in one region and after in another: nothing that can be compared.
pub fn pain_elsewhere(sheet: &mut VisitSheet) {
    pain(sheet, 9.0, 2.0);
    for (at, region) in [("before", Region::Cervical), ("after", Region::Lumbar)] {
        let pains = sheet.note.measures.iter_mut();
        for one in pains.filter(|m| m.measured.kind.word() == "pain-now" && m.phase.word() == at) {
            one.measured.region = Some(region);
        }
    }
}

/// A reflex on the left before, on the right after: nothing that can be compared.
pub fn sides_in_two_phases(sheet: &mut VisitSheet) {
    for (phase, side, value) in [("before", Side::Left, 2.0), ("after", Side::Right, 1.0)] {
        let mut one = measured("reflex", value);
        one.side = Some(side);
        add(sheet, phase, one);
    }
}

fn sides(sheet: &mut VisitSheet, kind: &str, left: f64, right: f64) {
    for (side, value) in [(Side::Left, left), (Side::Right, right)] {
        let mut one = measured(kind, value);
        one.side = Some(side);
        add(sheet, "before", one);
    }
}

/// Ten days ago, and today.
fn weight(sheet: &mut VisitSheet, before: f64, now: f64) {
    earlier(sheet, 1);
    sheet.earlier[0].measures.push(measured("weight", before));
    add(sheet, "before", measured("weight", now));
}

fn late(sheet: &mut VisitSheet, hours: i64) {
    sheet.now = sheet.ended().plus_seconds(hours * 3600);
}

/// As [`super::cases::case`]; `whole` changes nothing.
pub fn case(id: ReviewId, whole: Change) -> (Change, Change) {
    match id.level() {
        super::super::Level::Missing => missing(id, whole),
        super::super::Level::Refuse => refused(id, whole),
        super::super::Level::Flag => marked(id),
        super::super::Level::Ask => asked(id),
    }
}

fn missing(id: ReviewId, whole: Change) -> (Change, Change) {
    use ReviewId as R;
    match id {
        R::ScreenToday => (
            |s, _| s.screens.truncate(1),
            |s, _| {
                s.screens.truncate(1);
                s.note.screens_not_done_because = Some("patient left".to_string());
            },
        ),
        R::ScreenNotWhole => (
            |s, _| s.screens[0].data.answers[0].answer = of(json!("not-asked")),
            // A second screen with every item stands in its place.
            |s, _| {
                let mut first = s.screens[0].clone();
                first.at = at("10:01");
                first.data.answers.clear();
                s.screens.push(first);
            },
        ),
        R::Findings => (
            |s, _| s.note.findings = Given::absent(""),
            |s, _| {
                s.note.findings = Given::absent("as last time");
            },
        ),
        R::FindingForRegion => (|s, _| findings(s).truncate(2), |s, _| findings(s).truncate(3)),
        R::AgreedPointer => (
            |s, _| {
                s.consents.clear();
                s.asked.clear();
            },
            |s, _| s.asked.clear(),
        ),
        R::AskedToday => (
            |s, _| s.asked.truncate(1),
            |s, _| {
                s.asked.truncate(1);
                s.note.procedures[1].asked = Some(22);
            },
        ),
        R::ConsentExplained => (
            |s, _| s.consents[0].data.explained = None,
            |s, _| {
                // An earlier note rested on it: it was looked through then.
                earlier(s, 1);
                s.consents[0].data.explained = None;
            },
        ),
        R::ConsentProcedures => {
            (|s, _| s.consents[0].data.explained.as_mut().unwrap().procedures = None, whole)
        }
        R::ConsentAlternatives => {
            (|s, _| s.consents[0].data.explained.as_mut().unwrap().alternatives = None, whole)
        }
        R::ConsentRisks => (
            |s, _| s.consents[0].data.explained.as_mut().unwrap().risks.truncate(2),
            |s, r| {
                r.note.risks.clear();
                s.consents[0].data.explained.as_mut().unwrap().risks.clear();
            },
        ),
        R::ConsentQuestions => {
            (|s, _| s.consents[1].data.explained.as_mut().unwrap().questions = None, whole)
        }
        R::ConsentInterpreter => (
            |s, _| s.patient.interpreter_needed = true,
            |s, _| {
                s.patient.interpreter_needed = true;
                for consent in &mut s.consents {
                    consent.data.interpreter = of(json!({ "name_or_number": "4711", "language": "fr" }));
                }
            },
        ),
        R::ConsentSignature => (
            |s, _| s.consents[0].data.paper = None,
            |s, _| {
                s.consents[0].data.paper = None;
                s.consents[0].data.signature_image = Some("ab".repeat(32));
            },
        ),
        R::Response => (
            |s, _| s.note.procedures[0].response = Given::absent(""),
            |s, _| {
                s.note.procedures[0].response = Given::absent("left at once");
            },
        ),
        R::InVisitCheck => (
            |s, r| {
                r.note.needed.insert("in-visit-check".into(), vec!["mouth-work".into()]);
                s.note.checks.clear();
            },
            |s, _| s.note.checks.clear(),
        ),
        R::PainBeforeAndAfter => (
            |s, _| {
                for procedure in &mut s.note.procedures {
                    if let Given::Value(response) = &mut procedure.response {
                        response.pain = None;
                    }
                }
            },
            |s, _| {
                if let Given::Value(response) = &mut s.note.procedures[0].response {
                    response.pain = None;
                }
            },
        ),
        R::FunctionBeforeAndAfter => (
            |s, _| drop(s.note.measures.remove(1)),
            |s, _| {
                s.note.measures.remove(1);
                s.note.reassessment_not_done_because = Some("alarm in the building".to_string());
            },
        ),
        R::AdverseResponse => (
            |s, _| s.note.procedures[0].response = of(json!({ "word": "dizzy", "pain": 4 })),
            |s, _| {
                s.note.procedures[0].response = of(json!({ "word": "dizzy", "pain": 4 }));
                s.note.adverse = of(adverse("mild"));
            },
        ),
        R::AdverseFollowUp => {
            (|s, _| s.note.adverse = of(adverse("severe")), |s, _| s.note.adverse = of(adverse("mild")))
        }
        R::MouthConsent => (|s, _| s.consents[1].data.kind = of(json!("treatment")), whole),
        R::LatexAnswer => (
            |s, _| {
                s.patient.latex_answered = false;
                s.screens.truncate(1);
            },
            |s, _| s.patient.latex_answered = false,
        ),
        R::OralInspection => (|s, _| drop(findings(s).remove(2)), whole),
        R::StopSignal => (
            |s, _| {
                s.screens[1].data.stop_signal = None;
                s.consents[1].data.stop_signal = None;
            },
            |s, _| s.screens[1].data.stop_signal = None,
        ),
        R::ChaperoneOffered => (
            |s, _| s.consents[1].data.chaperone = None,
            |s, _| {
                s.consents[1].data.chaperone = None;
                s.conditions_met = vec!["chaperone-present".to_string()];
            },
        ),
        R::FreshPair => (|s, _| s.note.procedures[1].gloves.as_mut().unwrap().fresh_pair = false, whole),
        other => panic!("{other} has no case"),
    }
}

fn refused(id: ReviewId, whole: Change) -> (Change, Change) {
    use ReviewId as R;
    match id {
        R::InFuture => {
            (|s, _| s.note.procedures[0].at = at("10:50"), |s, _| s.note.procedures[0].at = at("10:45"))
        }
        R::ConsentUntilBeforeFrom => (
            |s, _| s.consents[0].data.valid_until = Some(of(json!("2025-09-21"))),
            |s, _| s.consents[0].data.valid_until = Some(of(json!("2025-09-22"))),
        ),
        R::BirthAfterVisit => (
            |s, _| s.patient.born = parse_date("2025-09-23"),
            |s, _| {
                s.patient.born = parse_date("2025-09-22");
            },
        ),
        R::GuardianIsPatient => (
            |s, _| guardian(s, "Bettony Craske", "1988-07-23"),
            |s, _| guardian(s, "Bettony Craske", "1958-07-23"),
        ),
        R::GuardianIsMinor => {
            (|s, _| guardian(s, "Ann Craske", "2007-09-23"), |s, _| guardian(s, "Ann Craske", "2007-09-22"))
        }
        R::GloveMissing => (
            |s, _| s.note.procedures[1].gloves = None,
            |s, _| {
                s.note.procedures[1].gloves = None;
                s.note.procedures[1].gloves_not_recorded_because = Some("nobody remembers".to_string());
            },
        ),
        R::GloveIsAllergy => (
            |s, _| s.patient.allergic_to = vec!["Nitrile".to_string()],
            |s, _| {
                s.patient.allergic_to = vec!["latex".to_string()];
            },
        ),
        R::SideMissing => (
            |s, _| s.note.procedures[1].side = None,
            |s, _| {
                s.note.procedures[1].side = Some(Side::Both);
            },
        ),
        R::ThrustNotAdjacent => (
            |s, _| s.note.procedures[0].segments = vec![Segment::C3C4, Segment::C5C6],
            |s, _| {
                s.note.procedures[0].technique = Technique::SoftTissue;
                s.note.procedures[0].segments = vec![Segment::C3C4, Segment::C5C6];
            },
        ),
        R::SignerNotOnRoster => (
            |s, _| s.roster.as_mut().unwrap().on_roster_last_day = Some(of(json!("2025-09-21"))),
            |s, _| s.roster.as_mut().unwrap().on_roster_last_day = Some(of(json!("2025-09-22"))),
        ),
        R::AnothersHands => (|s, _| s.note.procedures[0].done_by = "OM".to_string(), whole),
        R::LicenceExpired => (
            |s, _| s.roster.as_mut().unwrap().licence_last_day = Some(of(json!("2025-09-21"))),
            |s, _| s.roster.as_mut().unwrap().licence_last_day = Some(of(json!("2025-09-22"))),
        ),
        R::CannotBe => (
            |s, _| s.note.complaints[0].pain_now = 11.into(),
            |s, _| {
                s.note.complaints[0].pain_now = 7.into();
            },
        ),
        other => panic!("{other} has no case"),
    }
}

fn marked(id: ReviewId) -> (Change, Change) {
    use ReviewId as R;
    match id {
        R::ProcedureBeforeConsent => {
            (|s, _| s.consents[0].at = at("10:21"), |s, _| s.consents[0].at = at("10:20"))
        }
        R::ProcedureBeforeAsked => (|s, _| s.asked[0].at = at("10:21"), |s, _| s.asked[0].at = at("10:20")),
        R::ProcedureAfterWithdrawal => (
            |s, _| s.withdrawals = vec![withdrawal("10:18")],
            |s, _| s.withdrawals = vec![withdrawal("10:22")],
        ),
        R::ConsentAfterVisit => {
            (|s, _| s.consents[0].written = at("10:41"), |s, _| s.consents[0].written = at("10:40"))
        }
        R::WitnessIsPractitioner => (
            |s, _| s.consents[0].data.witness = of(json!({ "name": "Ingrith Valsamo", "code": "IV" })),
            |s, _| s.consents[0].data.witness = of(json!({ "name": "Hattie Lorch", "code": "HL" })),
        ),
        R::AfterNotice => (|s, _| s.notices = vec![8], |s, _| s.notices = Vec::new()),
        R::NoFindingForRegion => (|s, _| findings(s).truncate(2), |s, _| findings(s).truncate(3)),
        R::Late => (|s, _| late(s, 25), |s, _| late(s, 24)),
        R::OpenedBeforeLateEntry => (
            |s, _| {
                late(s, 72);
                s.requests = vec![s.now.plus_seconds(-86_400)];
                s.openings_for_reading = vec![s.now.plus_seconds(-600)];
            },
            |s, _| {
                late(s, 72);
                s.openings_for_reading = vec![s.now.plus_seconds(-600)];
            },
        ),
        other => panic!("{other} has no case"),
    }
}

fn asked(id: ReviewId) -> (Change, Change) {
    use ReviewId as R;
    match id {
        R::ThrustSideOpposite => (
            |s, _| s.note.procedures[0].side = Some(Side::Left),
            |s, _| {
                s.note.procedures[0].side = Some(Side::Left);
                findings(s)[0].side = Some(Side::Both);
            },
        ),
        R::FindingNotFollowed => (
            |s, _| findings(s)[1].region = Region::Lumbar,
            |s, _| {
                findings(s)[1].region = Region::Lumbar;
                if let Given::Value(plan) = &mut s.note.plan {
                    plan.next_step = "look at the lumbar spine next time".to_string();
                }
            },
        ),
        R::ToleratedWithMorePain => (
            |s, _| s.note.procedures[0].response = of(json!({ "word": "tolerated", "pain": 8 })),
            |s, _| s.note.procedures[0].response = of(json!({ "word": "tolerated", "pain": 7 })),
        ),
        R::OpeningGain => (|s, _| opening_after(s, 50.0), |s, _| opening_after(s, 49.0)),
        R::PainJump => (|s, _| pain(s, 9.0, 2.0), |s, _| pain(s, 8.0, 2.0)),
        R::JawSidesDiffer => {
            (|s, _| sides(s, "jaw-lateral", 12.0, 7.5), |s, _| sides(s, "jaw-lateral", 12.0, 8.0))
        }
        R::ReflexesUnlike => (|s, _| sides(s, "reflex", 2.0, 1.0), |s, _| sides(s, "reflex", 2.0, 2.0)),
        R::WeakWithoutReferral => (
            |s, _| sides(s, "strength", 2.0, 5.0),
            |s, _| {
                sides(s, "strength", 2.0, 5.0);
                let Given::Value(plan) = &mut s.note.plan else { panic!() };
                plan.next_step = "again in one week; referred to a neurologist".into();
            },
        ),
        R::WeightChanged => (|s, _| weight(s, 80.0, 89.0), |s, _| weight(s, 80.0, 88.0)),
        R::IdenticalVitals => (|s, _| earlier(s, 2), |s, _| earlier(s, 1)),
        R::SameAsLast => (
            |s, _| earlier(s, 1),
            |s, _| {
                earlier(s, 1);
                s.note.complaints[0].words =
                    "nothing new in the shoulder, quite another thing today".to_string();
                s.note.assessment =
                    of(json!({ "tolerance": "another, described in other words than before" }));
                s.note.plan = Given::absent("discharged");
            },
        ),
        R::ExplainedShortly => (
            |s, _| s.consents[0].data.explained.as_mut().unwrap().at = at("09:55"),
            |s, _| s.consents[0].data.explained.as_mut().unwrap().at = at("09:54"),
        ),
        R::VisitsOverlap => (|s, _| overlap(s, "10:34", "room 2"), |s, _| overlap(s, "10:35", "room 2")),
        R::OutsideHours => (
            |s, _| s.happened.start = before_opening(),
            |s, _| {
                s.hours = vec![of(json!({ "day": "monday", "from": "10:00", "until": "12:00" }))];
            },
        ),
        R::ArmsWithoutNeuro => (
            |s, _| s.note.complaints[0].radiation = Some("both arms".to_string()),
            |s, _| {
                s.note.complaints[0].radiation = Some("both arms".to_string());
                findings(s)[1].kind = of(json!("reflex"));
            },
        ),
        R::AnticoagulantAndThrust => (
            |s, _| s.patient.alerts = vec![alert("anticoagulant")],
            |s, _| {
                s.patient.alerts = vec![alert("anticoagulant")];
                s.reasons_against = vec![9];
            },
        ),
        R::ThrustUnderAge => (
            |s, _| s.patient.born = parse_date("2009-09-23"),
            |s, _| {
                s.patient.born = parse_date("2009-09-22");
            },
        ),
        R::PregnancyFaceDown => (
            |s, _| {
                s.patient.alerts = vec![alert("pregnancy")];
                s.note.procedures[0].position = Some("face-down".to_string());
            },
            |s, _| s.patient.alerts = vec![alert("pregnancy")],
        ),
        R::MouthWorkSmallOpening => (
            |s, _| s.note.measures[0].measured = measured("mouth-opening-unassisted", 19.0),
            |s, _| s.note.measures[0].measured = measured("mouth-opening-unassisted", 20.0),
        ),
        R::ReactionOpen => (
            |s, _| {
                s.open_reactions = vec![dated(
                    7,
                    "09:00",
                    of(json!({ "what": "headache", "onset_at": "2025-09-20T09:00:00-04:00",
                               "technique": "thrust", "region": "cervical", "severity": "mild",
                               "action": "rest" })),
                )];
            },
            |s, _| s.open_reactions = Vec::new(),
        ),
        R::Unusual => (
            |s, _| s.note.complaints[0].pain_worst = Some(4),
            |s, _| {
                s.note.complaints[0].pain_worst = Some(5);
            },
        ),
        other => panic!("{other} has no case"),
    }
}

fn overlap(sheet: &mut VisitSheet, from: &str, room: &str) {
    sheet.others = vec![OtherVisit {
        practitioner: "IV".to_string(),
        room: Some(room.to_string()),
        from: at(from),
        until: at("11:10"),
    }];
}

fn before_opening() -> Moment {
    at("06:50")
}

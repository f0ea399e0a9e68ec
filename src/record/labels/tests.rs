use super::*;
use crate::record::vocab::Region;
use serde_json::{Value, json};

fn at(time: &str) -> Moment {
    Moment::parse(&format!("2025-03-11T{time}:00-04:00")).unwrap()
}

fn visit(ended: Option<&str>) -> VisitSpan {
    let done = Done {
        at: at("10:20"),
        technique: Technique::Thrust,
        region: Region::Cervical,
        side: Some(Side::Left),
    };
    VisitSpan {
        visit: 40,
        began: at("10:00"),
        ended: ended.map(at),
        practitioners: vec!["IV".to_string()],
        procedures: vec![done],
    }
}

fn consent(changes: Value) -> Consent {
    let mut data = json!({"kind": "treatment", "status": "signed", "form": "written-signed", "wording": "F1",
        "techniques": ["thrust"], "regions": ["cervical"], "side": "both", "practitioners_allowed": {"kind": "any"},
        "given_by": {"role": "self"}, "valid_from": "2025-03-11", "rest_of_earlier": "not-applicable"});
    if let (Value::Object(data), Value::Object(changes)) = (&mut data, changes) {
        data.extend(changes);
    }
    serde_json::from_value(data).unwrap()
}

fn facts(ended: Option<&str>) -> ConsentFacts {
    let staff = vec![("IV".to_string(), "Ingrith Valsamo".to_string())];
    ConsentFacts { visits: vec![visit(ended)], interpreter_language: None, staff }
}

fn note(findings: Value, procedures: Value) -> Visit {
    serde_json::from_value(json!({
        "visit": 40, "sort": "later", "changed_since_last": "easier", "findings": findings,
        "assessment": {"not_done_because": "as last time"}, "agreed": {}, "procedures": procedures,
        "advice": {"not_done_because": "none"}, "plan": {"next_step": "once more"}
    }))
    .unwrap()
}

fn procedure(technique: &str, region: &str) -> Value {
    json!({"no": 1, "at": "2025-03-11T10:20:00-04:00", "technique": technique, "region": region,
           "done_by": "IV", "response": {"word": "tolerated"}})
}

#[test]
fn late_by_the_clock_and_late_by_what_it_is() {
    let happened = at("10:00");
    let later = |seconds| happened.plus_seconds(seconds);
    assert_eq!(lateness("contact", happened, later(24 * 3600), 24), Some(Label::FinishedNextDay));
    assert_eq!(lateness("contact", happened, later(24 * 3600 + 1), 24), Some(Label::LateEntry));
    assert_eq!(lateness("contact", happened, later(600), 24), None);
    assert_eq!(lateness("contact", happened, later(-600), 24), None, "a clock set back is another label");
    // CMS Pub. 100-08 ch. 3, 3.3.2.5: a delayed entry is to be identified as such; no number of days is set.
    assert_eq!(lateness("late-entry", happened, later(60), 24), Some(Label::LateEntry));
    assert_eq!(lateness("correction", happened, later(90 * 24 * 3600), 24), None);
}

#[test]
fn what_was_asked_for_before_it_was_added_to() {
    let standing = Standing { noticed: true, held: false, requests: vec![at("12:00")] };
    assert_eq!(standing.labels(None), [Label::AfterNotice]);
    assert_eq!(standing.labels(Some(at("10:00"))), [Label::AfterNotice, Label::AfterRequest]);
    assert_eq!(standing.labels(Some(at("13:00"))), [Label::AfterNotice], "it happened after the request");
    assert_eq!(
        standing.labels(Some(at("12:00"))),
        [Label::AfterNotice],
        "the request did not come in between"
    );
    let held = Standing { held: true, ..Standing::default() };
    assert_eq!(held.labels(Some(at("10:00"))), [Label::AfterHold]);
}

#[test]
fn a_note_says_what_its_procedures_lacked() {
    let fine = Covered { known: true, agreed: true, ..Covered::default() };
    assert!(of_procedures(&[fine, fine]).is_empty());
    let bare = Covered { known: true, ..Covered::default() };
    assert_eq!(of_procedures(&[fine, bare]), [Label::ProcedureNotCovered]);
    let early = Covered { later: true, ..bare };
    assert_eq!(of_procedures(&[early]), [Label::ProcedureBeforeConsent, Label::ProcedureNotCovered]);
    let stopped = Covered { withdrawn: true, ..bare };
    assert_eq!(of_procedures(&[stopped]), [Label::ProcedureAfterWithdrawal, Label::ProcedureNotCovered]);
    // Where the question could not be put nothing is claimed but that.
    let unknown = Covered::default();
    for one in [unknown, Covered { later: true, ..unknown }, Covered { withdrawn: true, ..unknown }] {
        assert_eq!(of_procedures(&[one]), [Label::CoverageUnknown]);
    }
}

#[test]
fn a_region_is_found_where_it_or_what_holds_it_was_found() {
    let found = |region: &str| json!([{"no": 1, "region": region, "kind": "tenderness"}]);
    let without = |findings: Value, technique: &str, region: &str| {
        regions_without_finding(&note(findings, json!([procedure(technique, region)])))
    };
    assert!(without(found("neck-back"), "thrust", "cervical").is_empty());
    assert!(without(found("cervical"), "soft-tissue", "suboccipital").is_empty());
    assert_eq!(without(found("lumbar"), "thrust", "cervical"), [Region::Cervical]);
    assert_eq!(without(json!({"not_done_because": "as last time"}), "thrust", "lumbar"), [Region::Lumbar]);
    assert!(without(found("jaw-muscles"), "intraoral", "inside-cheek").is_empty());
    // Only the jaw stands in for the inside of the mouth, and for nothing else.
    assert_eq!(without(found("lumbar"), "intraoral", "inside-cheek"), [Region::InsideCheek]);
    assert_eq!(without(found("jaw-muscles"), "soft-tissue", "lumbar"), [Region::Lumbar]);
    assert!(
        without(found("lumbar"), "examination", "cervical").is_empty(),
        "looking is how a finding is made"
    );
    // Each region once, however often it was treated.
    let three = json!([
        procedure("thrust", "cervical"),
        procedure("taping", "cervical"),
        procedure("thrust", "ribs")
    ]);
    assert_eq!(regions_without_finding(&note(found("lumbar"), three)), [Region::Cervical, Region::Ribs]);
}

#[test]
fn a_consent_after_the_visit_it_belongs_to() {
    let of = |consent: &Consent, given: &str, written: &str, ended: Option<&str>| {
        of_consent(consent, at(given), at(written), &facts(ended))
    };
    let plain = consent(json!({}));
    let named = consent(json!({"visit": 40}));
    assert!(of(&named, "10:05", "10:06", None).is_empty());
    assert!(of(&named, "10:05", "10:06", Some("10:45")).is_empty());
    // Said to have been given in the visit, written when that had ended.
    assert_eq!(of(&plain, "10:05", "11:30", Some("10:45")), [Label::ConsentAfterVisit]);
    assert_eq!(of(&named, "11:00", "11:00", Some("10:45")), [Label::ConsentAfterVisit]);
    // Given later that day for what was done that morning.
    assert_eq!(of(&plain, "11:00", "11:00", Some("10:45")), [Label::ConsentAfterVisit]);
    let other = consent(json!({"techniques": ["taping"]}));
    assert!(of(&other, "11:00", "11:00", Some("10:45")).is_empty(), "that is for next time");
    assert!(of(&plain, "09:00", "09:00", Some("10:45")).is_empty());
    assert!(of(&plain, "09:59", "11:30", Some("10:45")).is_empty(), "given before the visit began");
    // The first and the last minute belong to the visit, and the last is no time after it.
    assert_eq!(of(&other, "10:00", "11:30", Some("10:45")), [Label::ConsentAfterVisit]);
    assert_eq!(of(&other, "10:45", "11:30", Some("10:45")), [Label::ConsentAfterVisit]);
    assert!(of(&named, "10:45", "10:45", Some("10:45")).is_empty());
    assert_eq!(of(&named, "10:45", "10:46", Some("10:45")), [Label::ConsentAfterVisit]);
    // On the next day it is for next time.
    let tomorrow = at("11:00").plus_seconds(24 * 3600);
    assert!(of_consent(&plain, tomorrow, tomorrow, &facts(Some("10:45"))).is_empty());
    let elsewhere = consent(json!({"visit": 41, "techniques": ["taping"]}));
    assert!(of(&elsewhere, "11:00", "11:00", Some("10:45")).is_empty(), "another visit");
}

#[test]
fn a_witness_who_practises_and_an_interpreter_who_was_not_there() {
    let of =
        |changes: Value, facts: &ConsentFacts| of_consent(&consent(changes), at("10:05"), at("10:06"), facts);
    let open = facts(None);
    let by_code = json!({"witness": {"name": "I. V.", "code": "IV"}, "visit": 40});
    let by_name =
        json!({"witness": {"name": "Ingrith Valsamo"}, "explained": {"by": "IV", "at": at("10:01")}});
    for changes in [by_code, by_name] {
        assert_eq!(of(changes, &open), [Label::WitnessIsPractitioner]);
    }
    assert!(of(json!({"witness": {"name": "Somebody Else", "code": "DK"}, "visit": 40}), &open).is_empty());
    let by_name_allowed = |kind: &str| {
        json!({"witness": {"name": "ingrith valsamo ", "code": "iv"},
               "practitioners_allowed": {"kind": kind, "values": ["IV"]}})
    };
    assert_eq!(of(by_name_allowed("named"), &open), [Label::WitnessIsPractitioner], "who may do it by name");
    assert!(of(by_name_allowed("role"), &open).is_empty(), "a role is nobody's code");
    assert!(
        of(json!({"witness": {"name": "Ingrith Valsamo"}}), &open).is_empty(),
        "in no visit of this consent"
    );
    assert!(of(json!({"visit": 40}), &open).is_empty(), "no witness");
    let needs = ConsentFacts { interpreter_language: Some("uk".to_string()), ..facts(None) };
    assert_eq!(of(json!({}), &needs), [Label::InterpreterMissing]);
    let through = |language: &str| json!({"interpreter": {"name_or_number": "17", "language": language}});
    assert_eq!(of(through("fr"), &needs), [Label::InterpreterMissing]);
    assert!(of(through("UK"), &needs).is_empty());
    assert!(of(json!({"kind": "message-channel"}), &needs).is_empty(), "that is no consent to care");
}

#[test]
fn a_withdrawal_counts_from_when_it_was_said() {
    let taken = |changes: Value| -> Withdrawal {
        let mut data = json!({"said_by": {"role": "self"}, "how": "telephone", "patient_words": "no more"});
        if let (Value::Object(data), Value::Object(changes)) = (&mut data, changes) {
            data.extend(changes);
        }
        serde_json::from_value(data).unwrap()
    };
    let before = |changes: Value, said: &str, given: &[Moment]| {
        withdrawn_before(&taken(changes), at(said), &[visit(Some("10:45"))], given)
    };
    assert!(before(json!({}), "10:10", &[]));
    assert!(!before(json!({}), "10:30", &[]), "said after it was done");
    assert!(before(json!({"techniques": ["thrust"], "regions": ["neck-joints"]}), "10:10", &[]));
    assert!(!before(json!({"techniques": ["taping"]}), "10:10", &[]));
    assert!(!before(json!({"regions": ["lumbar"]}), "10:10", &[]));
    assert!(!before(json!({"side": "right"}), "10:10", &[]));
    assert!(!before(json!({}), "10:20", &[]), "said when it was done");
    assert!(!before(json!({}), "10:10", &[at("10:15")]), "agreed to again before it was done");
    assert!(!before(json!({}), "10:10", &[at("10:20")]), "agreed to again when it was done");
    assert!(before(json!({}), "10:10", &[at("10:21")]), "agreed to again afterwards");
    assert!(before(json!({}), "10:10", &[at("10:10")]), "nothing was agreed to after it was said");
    assert!(before(json!({}), "10:10", &[at("09:00")]), "that consent is what was taken back");
}

#[test]
fn a_label_says_what_it_means_with_its_numbers() {
    let mut record: Record = serde_json::from_value(json!({
        "kind": "visit", "edition": 1, "ledger": "l", "chart": "c",
        "happened": {"start": "2025-03-11T10:00:00-04:00"}, "written": "2025-03-13T11:00:00-04:00", "station": "desk",
        "author": {"code": "IV", "name": "Ingrith Valsamo", "role": "chiropractor"},
        "signed": {"by": "IV", "name": "Ingrith Valsamo", "role": "chiropractor", "at": "2025-03-13T11:00:00-04:00",
                   "meaning": "wrote"},
        "data": {}
    }))
    .unwrap();
    assert_eq!(meaning(&Label::Other("seen-by-owl".to_string()), &record), "seen by owl");
    // How long afterwards: in whole hours, from two days on in days, counted from when it ended.
    for (hours, words) in [
        (1, "LATE ENTRY"),
        (2, "LATE ENTRY, written 2 hours afterwards"),
        (47, "LATE ENTRY, written 47 hours afterwards"),
        (48, "LATE ENTRY, written 2 days afterwards"),
        (71, "LATE ENTRY, written 2 days afterwards"),
        (72, "LATE ENTRY, written 3 days afterwards"),
    ] {
        record.happened.end = None;
        record.written = record.happened.start.plus_seconds(hours * 3600);
        assert_eq!(meaning(&Label::LateEntry, &record), words);
        record.happened.end = Some(record.happened.start.plus_seconds(1));
        record.written = record.written.plus_seconds(3600);
        assert_eq!(meaning(&Label::LateEntry, &record), words, "a second short of another hour");
    }
    assert_eq!(meaning(&Label::CarriedForward, &record), "holds parts carried forward", "no note");
    assert_eq!(meaning(&Label::NoFindingForRegion, &record), "no finding that day for a region treated");
    let treated = json!([procedure("thrust", "neck-joints"), procedure("thrust", "ribs")]);
    let mut note = note(json!({"not_done_because": "none"}), treated);
    let part = |field: &str| {
        serde_json::from_value(json!({"from_entry": 7, "field": field, "checked": true})).unwrap()
    };
    assert!(!is_carried(&note, 90));
    note.same_as_last_percent = Some(92);
    assert!(is_carried(&note, 90) && !is_carried(&note, 92));
    let mut says = |note: &Visit, words: &str| {
        record.data = serde_json::to_value(note).unwrap();
        assert_eq!(meaning(&Label::CarriedForward, &record), words);
    };
    says(&note, "reads nearly as the last note; the same as last time: 92 %");
    note.carried_forward = vec![part("/advice")];
    assert!(is_carried(&note, 92));
    says(&note, "holds 1 part carried forward; the same as last time: 92 %");
    note.same_as_last_percent = None;
    assert!(is_carried(&note, 90));
    note.carried_forward.push(part("/plan"));
    says(&note, "holds 2 parts carried forward");
    assert_eq!(
        meaning(&Label::NoFindingForRegion, &record),
        "no finding that day for a region treated: neck joints, ribs"
    );
}

/// What changes or adds to the past is measured by what it is about; what is written late, by itself.
#[test]
fn an_addition_is_about_the_time_of_what_it_adds_to() {
    let read = |kind: &str, data: Value| Data::read(kind, 1, &data).unwrap();
    let correction = read(
        "correction",
        json!({"target": 7, "field": "/side", "was": "left", "is": "right", "reason": "slip",
        "care_affected": false, "patient_told": {"not_done_because": "next visit"}}),
    );
    let addendum = read("addendum", json!({"target": 8, "text": "report came", "learned_at": at("09:00")}));
    let late = |more: Value| {
        let mut data = json!({"text": "advice was given", "because": "forgotten", "source": "memory"});
        data.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
        read("late-entry", data)
    };
    let contact = read("handout", json!({"title": "Jaw at rest"}));
    assert_eq!(target_of(&correction), Some(7));
    assert_eq!(target_of(&addendum), Some(8));
    assert_eq!(target_of(&late(json!({"target": 9, "visit": 40}))), Some(9));
    assert_eq!(target_of(&late(json!({"visit": 40}))), Some(40));
    assert_eq!(target_of(&late(json!({}))), None);
    assert_eq!(target_of(&contact), None);
    let (past, now) = (at("10:00"), at("12:00"));
    for data in [&correction, &addendum, &late(json!({}))] {
        assert_eq!(about_the_past(data, now, Some(past), false), Some(past));
        assert_eq!(about_the_past(data, now, None, false), Some(now));
    }
    assert_eq!(about_the_past(&contact, now, Some(past), true), Some(now));
    assert_eq!(about_the_past(&contact, now, Some(past), false), None);
}

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
    assert_eq!(of_procedures(&[Covered { agreed: false, ..Covered::default() }]), [Label::CoverageUnknown]);
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
    assert!(
        without(found("lumbar"), "examination", "cervical").is_empty(),
        "looking is how a finding is made"
    );
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
    assert!(!before(json!({}), "10:10", &[at("10:15")]), "agreed to again before it was done");
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
    let mut note = note(json!({"not_done_because": "none"}), json!([procedure("thrust", "neck-joints")]));
    note.same_as_last_percent = Some(92);
    assert!(is_carried(&note, 90) && !is_carried(&note, 92));
    record.data = serde_json::to_value(&note).unwrap();
    assert_eq!(
        meaning(&Label::CarriedForward, &record),
        "reads nearly as the last note; the same as last time: 92 %"
    );
    assert_eq!(meaning(&Label::LateEntry, &record), "LATE ENTRY, written 2 days afterwards");
    assert_eq!(
        meaning(&Label::NoFindingForRegion, &record),
        "no finding that day for a region treated: neck joints"
    );
    assert_eq!(meaning(&Label::Other("seen-by-owl".to_string()), &record), "seen by owl");
}

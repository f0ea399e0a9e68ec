//! Every sentence of the rule of authorizations (45 CFR 164.508), tried.

use super::*;
use crate::record::moment::Moment;
use proptest::prelude::*;

fn ask(input: Value) -> Result<Value, ReckonError> {
    answer(&input, Tables::shipped().unwrap())
}

fn form(more: Value) -> Value {
    let mut form = json!({ "information": "visit notes", "discloser": "the practice", "recipient": "an attorney",
        "purpose": "injury claim", "initiated_by_person": false, "research": false,
        "expiry": { "date": "2025-06-17" }, "signed_by": "a patient", "signed_on": "2024-06-17",
        "signer": "person", "authority": "",
        "revoke": { "right": true, "how_and_exceptions": true, "points_to_notice": false },
        "conditioning": true, "redisclosure": true, "sought_by_practice": false, "copy_given": false });
    form.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
    form
}

fn lacks(more: Value) -> Value {
    ask(json!({ "ask": "complete", "form": form(more) })).unwrap()["missing"].clone()
}

#[test]
fn six_elements_and_three_statements() {
    assert_eq!(lacks(json!({})), json!([]));
    let empty = ask(json!({ "ask": "complete", "form": {} })).unwrap();
    assert_eq!(
        empty,
        json!({ "complete": false, "also_due": [], "missing": ["conditioning", "discloser", "expiry",
        "information", "purpose", "recipient", "redisclosure", "right_to_revoke", "signature"] })
    );
    let nulls: serde_json::Map<_, _> =
        form(json!({})).as_object().unwrap().keys().map(|key| (key.clone(), Value::Null)).collect();
    assert_eq!(ask(json!({ "ask": "complete", "form": nulls })).unwrap(), empty);
    // The codes are those of the table.
    let table = AuthorizationTable::of(Tables::shipped().unwrap()).unwrap();
    let mut words: Vec<_> = table.core.iter().chain(&table.statements).cloned().collect();
    words.sort();
    assert_eq!(empty["missing"], json!(words));
    for field in ["information", "discloser", "recipient", "purpose"] {
        assert_eq!(lacks(json!({ field: " \t" })), json!([field]));
    }
    for field in ["conditioning", "redisclosure"] {
        assert_eq!(lacks(json!({ field: false })), json!([field]));
    }
}

#[test]
fn at_the_request_of_the_individual_only_where_the_person_started_it() {
    let purpose =
        |text: &str, started: bool| lacks(json!({ "purpose": text, "initiated_by_person": started }));
    assert_eq!(purpose("at the request of the individual", true), json!([]));
    assert_eq!(purpose("at the request of the individual", false), json!(["purpose"]));
    assert_eq!(purpose(" At the request of the individual. ", false), json!(["purpose"]));
    assert_eq!(purpose("", true), json!(["purpose"]));
}

#[test]
fn the_end() {
    let end = |expiry: Value, research: bool| lacks(json!({ "expiry": expiry, "research": research }));
    assert_eq!(end(json!({ "event": "claim settled" }), false), json!([]));
    assert_eq!(end(json!({ "none": true }), true), json!([]));
    for none in [json!({ "none": true }), json!({}), Value::Null, json!({ "date": " ", "event": " " })] {
        assert_eq!(end(none, false), json!(["expiry"]));
    }
    assert_eq!(end(json!({ "none": false }), true), json!(["expiry"]));
}

#[test]
fn the_signature() {
    assert_eq!(lacks(json!({ "signed_by": " " })), json!(["signature"]));
    assert_eq!(lacks(json!({ "signed_on": null })), json!(["signature"]));
    assert_eq!(lacks(json!({ "signer": "representative" })), json!(["signature"]));
    assert_eq!(lacks(json!({ "signer": "representative", "authority": "executor" })), json!([]));
}

#[test]
fn the_right_to_revoke() {
    let revoke = |right: bool, how: bool, notice: bool| {
        lacks(json!({ "revoke": { "right": right, "how_and_exceptions": how, "points_to_notice": notice } }))
    };
    let missing = json!(["right_to_revoke"]);
    assert_eq!(revoke(true, false, true), json!([]));
    assert_eq!(revoke(true, false, false), missing);
    assert_eq!(revoke(false, true, true), missing);
}

#[test]
fn a_copy_is_due_where_the_practice_asked_for_it() {
    let due = |sought: bool, given: bool| {
        let form = form(json!({ "sought_by_practice": sought, "copy_given": given }));
        ask(json!({ "ask": "complete", "form": form })).unwrap()["also_due"].clone()
    };
    assert_eq!(due(true, false), json!(["copy_to_person"]));
    assert_eq!((due(true, true), due(false, false)), (json!([]), json!([])));
}

fn against(more: Value) -> Value {
    let mut input = json!({ "ask": "usable", "disclosed_at": "2025-06-17T23:59:59-04:00",
        "expiry": { "date": "2025-06-17" } });
    input.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
    ask(input).unwrap()["defects"].clone()
}

#[test]
fn good_through_the_whole_of_its_last_day_there() {
    assert_eq!(against(json!({})), json!([]));
    assert_eq!(against(json!({ "disclosed_at": "2025-06-18T00:00:00-04:00" })), json!(["expired"]));
    // The same instant, written where the day has already turned.
    assert_eq!(against(json!({ "disclosed_at": "2025-06-18T03:59:59Z" })), json!(["expired"]));
}

#[test]
fn an_event_ends_it_on_its_day() {
    let event =
        |on: Value| against(json!({ "expiry": { "event": "claim settled" }, "event_happened_on": on }));
    assert_eq!(event(json!("2025-06-18")), json!([]));
    assert_eq!(event(json!("2025-06-17")), json!(["expired"]));
    assert_eq!(event(json!("2025-01-01")), json!(["expired"]));
    assert_eq!(event(Value::Null), json!([]));
    assert_eq!(against(json!({ "expiry": { "none": true } })), json!([]));
}

#[test]
fn a_revocation_counts_from_its_instant() {
    let revoked = |at: &str| against(json!({ "revoked_at": at }));
    assert_eq!(revoked("2025-06-17T23:59:59-04:00"), json!(["revoked"]));
    assert_eq!(revoked("2025-06-18T03:59:59Z"), json!(["revoked"]));
    assert_eq!(revoked("2025-06-18T04:00:00Z"), json!([]));
}

#[test]
fn the_other_defects_and_all_at_once() {
    assert_eq!(against(json!({ "conditioned_on": "payment" })), json!(["improper_conditioning"]));
    for exception in ["research_treatment", "plan_enrollment", "exam_for_third_party"] {
        assert_eq!(against(json!({ "conditioned_on": "treatment", "exception": exception })), json!([]));
    }
    let all = against(json!({ "disclosed_at": "2026-01-01T00:00:00Z", "revoked_at": "2025-12-01T00:00:00Z",
        "conditioned_on": "enrollment", "improperly_combined": true, "known_false": true,
        "missing": ["signature", "expiry"] }));
    let mut words = AuthorizationTable::of(Tables::shipped().unwrap()).unwrap().defects;
    words.sort();
    assert_eq!(all, json!(words));
}

#[test]
fn what_cannot_be_read_is_told() {
    for (input, word) in [
        (json!({ "ask": "complete", "form": { "signed_on": "17 June" } }), "17 June"),
        (json!({ "ask": "complete", "form": { "signer": "friend" } }), "friend"),
        (json!({ "ask": "complete", "form": { "purpos": "x" } }), "purpos"),
        (json!({ "ask": "usable", "disclosed_at": "2025-06-17" }), "2025-06-17"),
        (json!({ "ask": "usable", "disclosed_at": "2025-06-17T10:00:00Z", "missing": ["seal"] }), "seal"),
        (
            json!({ "ask": "usable", "disclosed_at": "2025-06-17T10:00:00Z", "conditioned_on": "luck" }),
            "luck",
        ),
        (json!({ "ask": "valid" }), "valid"),
    ] {
        let why = ask(input).unwrap_err().to_string();
        assert!(why.contains(word), "{why}");
    }
}

#[test]
fn in_words() {
    let said = words(
        &ask(json!({ "ask": "complete", "form": form(json!({ "sought_by_practice": true })) })).unwrap(),
    );
    assert_eq!(said, ["The authorization is complete.", "Also due: a copy to the person."]);
    let said = words(&json!({ "usable": false, "defects": ["expired", "revoked"] }));
    assert_eq!(said, ["The authorization may not be used: it has ended; it was revoked."]);
}

proptest! {
    #[test]
    fn once_ended_or_revoked_it_stays_so(revoked in 0i64..1000, early in 0i64..1000, later in 0i64..1000) {
        let at = |hours: i64| Instant::from(Moment::from_unix(1_700_000_000 + hours * 3600, -18_000).unwrap());
        let used = |disclosed: i64| Use {
            disclosed_at: at(disclosed), expiry: Expiry { date: Some(Day(at(500).local_date())), ..Expiry::default() },
            event_happened_on: None, revoked_at: Some(at(revoked)), conditioned_on: None, exception: None,
            improperly_combined: false, known_false: false, missing: BTreeSet::new(),
        };
        prop_assert!(defects(&used(early)).is_subset(&defects(&used(early + later))));
    }
}

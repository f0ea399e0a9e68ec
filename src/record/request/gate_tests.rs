//! Who may receive what: each asker with too little, and with enough.

use super::*;
use crate::record::kinds::release::{Request, RequestStep};
use crate::record::request::standing::Standing;
use serde_json::{Value, json};

fn standing(asker: &str, request: Value, steps: &[Value]) -> Standing {
    let mut data = json!({ "kind": "other", "asker": asker, "from": "x", "relation": "x",
        "received_on": "2025-03-03", "text": "x", "identity_checked": "seen" });
    data.as_object_mut().unwrap().extend(request.as_object().unwrap().clone());
    let request: Request = serde_json::from_value(data).unwrap();
    let steps = steps.iter().zip(20..).map(|(more, seq)| {
        let mut step = json!({ "request": 10, "step": "outcome", "on": "2025-03-04", "words": "x" });
        step.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
        (seq, serde_json::from_value::<RequestStep>(step).unwrap())
    });
    Standing { seq: 10, request, steps: steps.collect(), releases: Vec::new() }
}

fn ids(standing: &Standing, known: &Known) -> Vec<&'static str> {
    stops(standing, known).iter().map(|stop| stop.id).collect()
}

fn held(what: &str) -> Value {
    let step = match what {
        "assurance" => "assurance-received",
        "missing-list" => "missing-list-run",
        "identity" => "identity-checked",
        _ => "authority-checked",
    };
    json!({ "step": step, "checked": what, "holds": true })
}

#[test]
fn whoever_asks_is_somebody() {
    let none = json!({ "identity_checked": { "not_done_because": "by letter" } });
    let known = Known::default();
    assert_eq!(ids(&standing("patient", none.clone(), &[]), &known), ["identity-not-checked"]);
    assert!(ids(&standing("patient", none.clone(), &[held("identity")]), &known).is_empty());
    let failed = json!({ "step": "identity-checked", "checked": "identity", "holds": false });
    assert_eq!(ids(&standing("patient", json!({}), &[failed]), &known), ["identity-not-checked"]);
    assert!(ids(&standing("clinician", json!({}), &[]), &known).is_empty());
}

#[test]
fn each_paper_for_each_asker() {
    let known = Known { patient_died: true, ..Known::default() };
    for (asker, paper, id) in [
        ("guardian", "authority", "authority-not-checked"),
        ("oversight", "authority", "authority-not-checked"),
        ("personal-representative", "authority", "authority-not-checked"),
        ("court-order", "order", "order-not-read"),
        ("subpoena", "order", "no-order-no-assurance"),
        ("subpoena", "assurance", "no-order-no-assurance"),
    ] {
        assert_eq!(ids(&standing(asker, json!({}), &[]), &known), [id], "{asker}");
        assert!(ids(&standing(asker, json!({}), &[held(paper)]), &known).is_empty(), "{asker} with {paper}");
    }
    // A paper for another asker is none: a letter that was believed is no order.
    assert_eq!(ids(&standing("court-order", json!({}), &[held("authority")]), &known), ["order-not-read"]);
    assert_eq!(
        ids(&standing("subpoena", json!({}), &[held("authority")]), &known),
        ["no-order-no-assurance"]
    );
    let alive = Known::default();
    let executor = standing("personal-representative", json!({}), &[held("authority")]);
    assert_eq!(ids(&executor, &alive), ["death-not-recorded"]);
}

#[test]
fn the_chart_says_whether_a_guardian_may_receive() {
    let file = |may_receive| Known {
        guardian: Some(OnFile { entry: 4, may_receive, why_not: Some("the patient is of age".into()) }),
        ..Known::default()
    };
    assert!(ids(&standing("guardian", json!({}), &[]), &file(true)).is_empty());
    // What was typed when the request came does not outdo the chart; a paper checked since does.
    let typed = standing("guardian", json!({ "authority_checked": "is the mother" }), &[]);
    assert_eq!(ids(&typed, &file(false)), ["guardian-may-not"]);
    assert!(stops(&typed, &file(false))[0].words.contains("the patient is of age"));
    assert!(ids(&standing("guardian", json!({}), &[held("authority")]), &file(false)).is_empty());
}

#[test]
fn an_authorization_is_read_and_without_fault() {
    let asked = standing("attorney", json!({}), &[]);
    assert_eq!(ids(&asked, &Known::default()), ["authorization-not-checked"]);
    let mut verdict = Verdict::default();
    let with = |verdict: &Verdict| Known { authorization: Some(verdict.clone()), ..Known::default() };
    assert!(ids(&asked, &with(&verdict)).is_empty());
    verdict.defects.insert(crate::record::reckon::authorization::Defect::Revoked);
    let found = stops(&asked, &with(&verdict));
    assert_eq!(found[0].id, "authorization-defective");
    assert!(found[0].words.contains("revoked") && found[0].next.contains("request return 10"));
}

#[test]
fn no_more_than_the_paper_names() {
    let names = |scope: Value| {
        let mut step = held("order");
        step["names"] = scope;
        step
    };
    let known = Known::default();
    let march = json!({ "first": "2025-03-01", "last": "2025-03-31" });
    let whole = standing("court-order", json!({}), &[names(march.clone())]);
    let found = stops(&whole, &known);
    assert_eq!((found[0].id, found[0].stops), ("more-than-named", Stops::Ask));
    assert_eq!(whole.may_go_out().unwrap().words(), "01 Mar 2025 to 31 Mar 2025");
    let one_day = json!({ "dates": ["2025-03-11"] });
    assert!(ids(&standing("court-order", one_day.clone(), &[names(march)]), &known).is_empty());
    let april = json!({ "first": "2025-04-01", "last": "2025-04-30" });
    assert_eq!(ids(&standing("court-order", one_day, &[names(april)]), &known), ["nothing-named"]);
}

#[test]
fn an_audit_is_answered_after_its_missing_list() {
    let known = Known::default();
    let asked = |steps: &[Value]| standing("insurer", json!({}), steps);
    assert_eq!(ids(&asked(&[held("authority")]), &known), ["missing-list-not-run"]);
    let run = asked(&[held("authority"), held("missing-list")]);
    assert!(ids(&run, &known).is_empty());
    let since = Known { written_since_list: true, ..Known::default() };
    assert_eq!(ids(&run, &since), ["written-since-list"]);
}

/// Whoever looks at the list sees first what nobody can go past.
#[test]
fn refusals_come_before_what_can_be_answered_for() {
    let unknown = json!({ "step": "identity-checked", "checked": "identity", "holds": false });
    let again = standing("patient", json!({}), &[json!({ "step": "answered" }), unknown]);
    let found = stops(&again, &Known::default());
    let order: Vec<_> = found.iter().map(|stop| (stop.id, stop.stops)).collect();
    assert_eq!(order, [("identity-not-checked", Stops::Refuse), ("answered-already", Stops::Ask)]);
}

#[test]
fn what_is_over_is_over_and_what_was_mended_is_open() {
    let known = Known::default();
    let after = |steps: &[Value]| ids(&standing("court-order", json!({}), steps), &known);
    assert_eq!(after(&[held("order"), json!({ "step": "answered" })]), ["answered-already"]);
    assert_eq!(after(&[held("order"), json!({ "step": "declined" })]), ["over"]);
    assert_eq!(after(&[held("order"), json!({ "step": "withdrawn" })]), ["over"]);
    assert_eq!(after(&[held("order"), json!({ "step": "returned" })]), ["returned"]);
    assert!(after(&[json!({ "step": "returned" }), held("order")]).is_empty());
}

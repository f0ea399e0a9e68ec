//! One command line each, with nobody to ask.

use super::*;

fn check(name: &str, args: &[&str]) -> Value {
    let asks = form_of(name);
    let data = by_flags(&asks.form, json!({}), args);
    let visit: &[(&str, Value)] = if name == "visit-open" { &[] } else { &[("/visit", json!(12))] };
    accepted(asks.kind, data.clone(), visit);
    data
}

fn missing(name: &str, args: &[&str]) -> Vec<&'static str> {
    let form = form_of(name).form;
    match run(&form, json!({}), args, ScriptedAsker::nobody()).0 {
        Err(FormError::Missing(missing)) => missing.iter().map(|missing| missing.flag).collect(),
        other => panic!("{name}: {other:?}"),
    }
}

#[test]
fn asked_in_one_line_and_never_answered_by_the_program() {
    let asked = ["--technique", "intraoral", "--region", "mouth", "--side", "right", "--asked-by", "SA"];
    let with = |more: &[&'static str]| asked.iter().copied().chain(more.iter().copied()).collect::<Vec<_>>();
    let data = check("asked", &with(&["--answer", "yes"]));
    assert_eq!(
        data,
        json!({"technique": "intraoral", "region": "mouth", "side": "right", "asked_by": "SA", "answer": "yes"})
    );
    check("asked", &with(&["--answer", "yes-with-limit", "--limit", "two minutes"]));
    assert_eq!(missing("asked", &with(&[])), ["answer"]);
    assert_eq!(missing("asked", &with(&["--answer", "yes-with-limit"])), ["limit"]);
    assert_eq!(missing("own-answer", &[]), ["answer"]);
}

#[test]
fn withdrawn_in_one_line() {
    let data = check("withdraw", &["--patient-words", "no more of my neck", "--regions", "cervical"]);
    assert_eq!((&data["regions"], &data["techniques"]), (&json!(["cervical"]), &Value::Null));
    assert_eq!(data["said_by"], json!({"role": "self"}));
    check("withdraw", &["--how", "raised-hand", "--no-words-because", "said nothing", "--side", "left"]);
    assert_eq!(missing("withdraw", &[]), ["no-words-because"]);
}

#[test]
fn paused_in_one_line() {
    let data = check("pause", &["--how", "raised-hand"]);
    assert_eq!(data["reason"]["not_done_because"], json!("not asked for"));
    check("pause", &["--kind", "resumed", "--of", "31", "--why", "said yes", "--yes-at", "10:13"]);
    assert_eq!(missing("pause", &["--kind", "resumed", "--why", "said yes"]), ["of"]);
}

#[test]
fn consented_in_one_line() {
    let line = [
        "--kind",
        "treatment",
        "--form",
        "written-signed",
        "--wording",
        "F1",
        "--techniques",
        "examination,soft-tissue,mobilization",
        "--regions",
        "neck-joints,shoulder-girdle,jaw",
        "--side",
        "both",
        "--explained-by",
        "IV",
        "--explained-at",
        "09:48",
        "--from",
        "2025-07-13",
    ];
    let data = check("consent", &line);
    assert_eq!((&data["valid_until"], &data["status"]), (&json!("2026-07-12"), &json!("signed")));
    assert_eq!(data["practitioners_allowed"], json!({"kind": "any"}));
    let missing = missing("consent", &["--kind", "treatment", "--form", "verbal-recorded"]);
    assert_eq!(missing, ["no-wording-because", "techniques", "regions", "side", "heard-by"]);
}

#[test]
fn a_visit_opened_in_one_line() {
    // Nobody was asked, so nobody said that identity was confirmed.
    let data = check("visit-open", &["--practitioners", "IV", "--room", "room 1"]);
    assert_eq!(data.get("identity_confirmed"), None);
    let data = check("visit-open", &["--practitioners", "IV", "--room", "room 1", "--identifiers", "-"]);
    assert_eq!(data.get("identity_confirmed"), None);
    let line = ["--practitioners", "IV", "--room", "room 1", "--identifiers", "full-name,birth-date"];
    let data = check("visit-open", &line);
    assert_eq!(data["identity_confirmed"]["identifiers"], json!(["full-name", "birth-date"]));
    assert_eq!(missing("visit-open", &[]), ["practitioners", "no-room-because"]);
}

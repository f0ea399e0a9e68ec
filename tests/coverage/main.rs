//! The coverage question against the given cases, and the facts against their schema.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod agreed;
mod borders;
mod clauses;
mod cures;
mod given;
mod printed;

use inkfast::record::coverage::{Answer, Facts, answer};
use serde_json::Value;
use std::sync::OnceLock;

const BASES: &str = include_str!("../data/coverage/base-facts.json");

/// Applies the operations add, replace and remove of RFC 6902.
fn apply(document: &mut Value, patch: &Value) {
    for operation in patch.as_array().unwrap() {
        let path = operation["path"].as_str().unwrap();
        let (parent, last) = path.rsplit_once('/').expect("no operation on the whole document");
        let last = last.replace("~1", "/").replace("~0", "~");
        let parent = document.pointer_mut(parent).unwrap_or_else(|| panic!("nothing at {path}"));
        match (operation["op"].as_str().unwrap(), parent) {
            ("add", Value::Array(list)) => {
                let at = if last == "-" { list.len() } else { last.parse().unwrap() };
                list.insert(at, operation["value"].clone());
            }
            ("add", Value::Object(map)) => drop(map.insert(last, operation["value"].clone())),
            ("replace", Value::Array(list)) => {
                list[last.parse::<usize>().unwrap()] = operation["value"].clone();
            }
            ("replace", Value::Object(map)) => {
                *map.get_mut(&last).unwrap_or_else(|| panic!("nothing at {path}")) =
                    operation["value"].clone();
            }
            ("remove", Value::Array(list)) => drop(list.remove(last.parse().unwrap())),
            ("remove", Value::Object(map)) => drop(map.shift_remove(&last).unwrap()),
            (op, _) => panic!("{op} {path}"),
        }
    }
}

fn parse(text: &str) -> Value {
    serde_json::from_str(text).unwrap()
}

/// The base facts of this name.
fn base_facts(base: &str) -> Value {
    static ALL: OnceLock<Value> = OnceLock::new();
    ALL.get_or_init(|| parse(BASES))[base].clone()
}

fn facts(base: &str, patch: &str) -> Result<Facts, String> {
    let mut document = base_facts(base);
    apply(&mut document, &parse(patch));
    Facts::from_json(&document.to_string()).map_err(|error| error.to_string())
}

/// A second consent, as a patch operation: con-a1 with some fields of its own.
fn consent_like(base: &str, fields: &str) -> String {
    let mut consent = base_facts(base)["chart"]["consents"][0].clone();
    for (key, value) in parse(fields).as_object().unwrap() {
        assert!(consent.get(key).is_some(), "{key}");
        consent[key] = value.clone();
    }
    format!(r#"{{"op":"add","path":"/chart/consents/-","value":{consent}}}"#)
}

/// What a clause of the rules says where the given cases do not try it.
#[track_caller]
fn clause(base: &str, patch: &[String], verdicts: [&str; 2], rules: &[&str], absent: &[&str]) {
    let facts = facts(base, &format!("[{}]", patch.join(","))).unwrap();
    let found = answer(&facts);
    let ids: Vec<&str> = found.reasons.iter().map(|r| r.rule.word()).collect();
    let codes: Vec<&str> = found.cautions.iter().map(|c| c.code.word()).collect();
    assert_eq!([found.agreed.word(), found.checked.word()], verdicts, "{ids:?} {codes:?}");
    for id in rules {
        assert!(ids.contains(id) || codes.contains(id), "{id} missing: {ids:?} {codes:?}");
    }
    for id in absent {
        assert!(!ids.contains(id) && !codes.contains(id), "{id} there: {ids:?} {codes:?}");
    }
}

fn set(path: &str, value: &str) -> String {
    format!(r#"{{"op":"replace","path":"{path}","value":{value}}}"#)
}

fn put(path: &str, value: &str) -> String {
    format!(r#"{{"op":"add","path":"{path}","value":{value}}}"#)
}

fn withdrawal(said_at: &str, techniques: &str, regions: &str, side: &str) -> String {
    let value = format!(
        r#"{{"withdrawal_id":"wd-9","sequence_no":90,"said_at":"{said_at}","written_at":"{said_at}",
        "techniques":{techniques},"regions":{regions},"side":{side}}}"#
    );
    put("/chart/withdrawals/-", &value)
}

fn asked(at: &str, number: u32, side: &str, answer: &str, limit: &str) -> String {
    let value = format!(
        r#"{{"at":"{at}","sequence_no":{number},"technique":"soft-tissue","region":"cervical","side":"{side}",
        "segments":[],"asked_by":"P1","answer":"{answer}","limit_words":{limit}}}"#
    );
    put("/chart/visits/0/asked/-", &value)
}

fn answered(base: &str, patch: &[String]) -> Answer {
    answer(&facts(base, &format!("[{}]", patch.join(","))).unwrap())
}

/// True when this is among the reasons or the cautions.
fn has(base: &str, patch: &[String], id: &str) -> bool {
    let found = answered(base, patch);
    found.reasons.iter().any(|r| r.rule.word() == id) || found.cautions.iter().any(|c| c.code.word() == id)
}

/// Each row: what is changed, and whether the rule or caution is there then.
#[track_caller]
fn rows(base: &str, common: &[String], id: &str, changes: &[(String, bool)]) {
    for (change, is) in changes {
        let patch = [common, std::slice::from_ref(change)].concat();
        assert_eq!(has(base, &patch, id), *is, "{id}: {change}\n{:?}", answered(base, &patch).reasons);
    }
}

fn text(word: &str) -> String {
    format!("\"{word}\"")
}

fn thrust() -> String {
    set("/request/technique", &text("thrust"))
}

fn clock(time: &str) -> String {
    format!("2025-03-11T{time}-04:00")
}

fn nothing() -> String {
    set("/request/position", "null")
}

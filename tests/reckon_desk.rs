//! The given checks of the topics of the desk, each compared exactly with what the program works out.

#![allow(clippy::unwrap_used)]

use inkfast::record::reckon;
use inkfast::record::tables::Tables;
use serde_json::Value;
use std::collections::BTreeMap;

const TOPICS: [&str; 6] =
    ["retention", "deadlines", "accounting", "authorization", "fees", "deidentification"];

fn checks() -> Vec<Value> {
    let document: Value = serde_json::from_str(include_str!("data/reckon/checks-given.json")).unwrap();
    let all = document["checks"].as_array().unwrap();
    all.iter().filter(|check| TOPICS.contains(&check["topic"].as_str().unwrap())).cloned().collect()
}

#[test]
fn every_given_check_comes_out_exactly() {
    let tables = Tables::shipped().unwrap();
    let (mut failed, mut tried) = (Vec::new(), BTreeMap::new());
    for check in checks() {
        let topic = check["topic"].as_str().unwrap().to_owned();
        let answer = (reckon::topic(&topic).unwrap().answer)(&check["input"], tables);
        *tried.entry(topic).or_insert(0) += 1;
        if answer.as_ref() != Ok(&check["expect"]) {
            failed.push(format!("{}: expected {}, got {answer:?}", check["id"], check["expect"]));
        }
    }
    assert!(failed.is_empty(), "{} failed:\n{}", failed.len(), failed.join("\n"));
    assert_eq!(tried.len(), TOPICS.len());
    assert_eq!(tried.values().sum::<usize>(), 144, "{tried:?}");
}

/// A field that is null says the same as a field that is not there.
#[test]
fn null_and_absent_say_the_same() {
    let tables = Tables::shipped().unwrap();
    for check in checks() {
        let topic = reckon::topic(check["topic"].as_str().unwrap()).unwrap();
        let mut without = check["input"].clone();
        without.as_object_mut().unwrap().retain(|_, value| !value.is_null());
        assert_eq!((topic.answer)(&without, tables).as_ref(), Ok(&check["expect"]), "{}", check["id"]);
    }
}

/// What is asked must be known: a word or a field that is not is told, never passed over.
#[test]
fn a_slip_is_told() {
    let tables = Tables::shipped().unwrap();
    for check in checks() {
        let topic = reckon::topic(check["topic"].as_str().unwrap()).unwrap();
        let mut asked = check["input"].clone();
        asked["ask"] = "whatever".into();
        assert!((topic.answer)(&asked, tables).is_err(), "{}", check["id"]);
        let mut more = check["input"].clone();
        more["one_more"] = 1.into();
        let why = (topic.answer)(&more, tables).unwrap_err().to_string();
        assert!(why.contains("one_more"), "{}: {why}", check["id"]);
    }
}

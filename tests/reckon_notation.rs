//! The given checks of spinal levels and of regions for counting, each with its source in the data.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // In a test a panic is the report.

use inkfast::record::reckon::topic;
use inkfast::record::tables::Tables;
use serde_json::{Value, json};

fn given() -> Value {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/data/reckon/checks-given.json");
    serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap()
}

/// Runs every given check of a topic; the answer must be the expected one exactly.
fn run(word: &str, at_least: usize) {
    let (given, tables) = (given(), Tables::shipped().unwrap());
    let answer = topic(word).unwrap().answer;
    let mut failing = Vec::new();
    let mut run = 0;
    for check in given["checks"].as_array().unwrap().iter().filter(|check| check["topic"] == word) {
        run += 1;
        let got = answer(&check["input"], tables);
        if got.as_ref().ok() != Some(&check["expect"]) {
            failing.push(format!("{}: {got:?}, expected {}", check["id"], check["expect"]));
        }
    }
    assert!(run >= at_least, "only {run} checks of {word} were found");
    assert!(failing.is_empty(), "{} of {run} fail:\n{}", failing.len(), failing.join("\n"));
}

#[test]
fn spinal_levels() {
    run("segments", 50);
}

#[test]
fn regions_for_counting() {
    run("regions", 10);
}

#[test]
fn what_is_no_question_is_said_to_be_none() {
    let tables = Tables::shipped().unwrap();
    let refused = |word: &str, input: Value, says: &str| {
        let why = (topic(word).unwrap().answer)(&input, tables).unwrap_err().to_string();
        assert!(why.contains(says), "{why}");
    };
    refused(
        "segments",
        json!({"text": "C5", "use": "thrust", "transitional": false}),
        "adjust, span or disc",
    );
    refused("segments", json!({"use": "adjust", "transitional": false}), "text");
    refused("regions", json!({"structures": ["C5", "gizzard"]}), "gizzard");
    refused("regions", json!({}), "structures");
}

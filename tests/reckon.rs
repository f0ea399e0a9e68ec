//! The given checks of the rules that are worked out without a store: every one through the library, and
//! every one through the real command. Each failing check is named, with its source.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // In a test a panic is the report.

use inkfast::record::reckon::{TOPICS, topic};
use inkfast::record::tables::Tables;
use serde_json::Value;
use std::collections::BTreeSet;
use std::process::Command;

const GIVEN: &str = include_str!("data/reckon/checks-given.json");

struct Check {
    id: String,
    input: Value,
    expect: Value,
    source: String,
}

/// The given checks of a topic.
fn checks(word: &str) -> Vec<Check> {
    let given: Value = serde_json::from_str(GIVEN).unwrap();
    let text = |check: &Value, field: &str| check[field].as_str().unwrap().to_string();
    let checks: Vec<Check> = given["checks"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|check| check["topic"] == word)
        .map(|check| Check {
            id: text(check, "id"),
            input: check["input"].clone(),
            expect: check["expect"].clone(),
            source: text(check, "source"),
        })
        .collect();
    assert!(!checks.is_empty(), "there are checks of {word}");
    checks
}

/// Compares every answer with what is expected, and names each that differs.
fn compare(word: &str, way: &str, checks: &[Check], answers: &[Result<Value, String>]) {
    assert_eq!(checks.len(), answers.len(), "{word}, {way}: one answer for each check");
    let wrong: Vec<String> = checks
        .iter()
        .zip(answers)
        .filter(|(check, answer)| answer.as_ref() != Ok(&check.expect))
        .map(|(check, answer)| {
            let said = match answer {
                Ok(answer) => answer.to_string(),
                Err(why) => format!("no answer: {why}"),
            };
            let Check { id, input, expect, source } = check;
            format!("{id}\n  input    {input}\n  expected {expect}\n  answered {said}\n  source   {source}")
        })
        .collect();
    assert!(
        wrong.is_empty(),
        "{word}, {way}: {} of {} differ\n{}",
        wrong.len(),
        checks.len(),
        wrong.join("\n")
    );
}

fn through_the_library(word: &str) {
    let checks = checks(word);
    let topic = topic(word).unwrap();
    let tables = Tables::shipped().unwrap();
    let answers: Vec<_> =
        checks.iter().map(|check| (topic.answer)(&check.input, tables).map_err(|e| e.0)).collect();
    compare(word, "library", &checks, &answers);
}

fn through_the_command(word: &str) {
    let checks = checks(word);
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("questions.json");
    let inputs: Vec<&Value> = checks.iter().map(|check| &check.input).collect();
    std::fs::write(&path, serde_json::to_vec(&inputs).unwrap()).unwrap();
    let output = Command::new(env!("CARGO_BIN_EXE_inkfast"))
        .args(["reckon", word, "--json", "--input"])
        .arg(&path)
        .current_dir(dir.path())
        .output()
        .unwrap();
    let said = String::from_utf8(output.stdout).unwrap();
    let answers: Vec<Result<Value, String>> = match output.status.code() {
        Some(0) => serde_json::from_str::<Vec<Value>>(&said).unwrap().into_iter().map(Ok).collect(),
        // One question that can't be worked out ends the run: then no check has its answer.
        code => checks.iter().map(|_| Err(format!("the command ended with {code:?}"))).collect(),
    };
    assert!(output.status.success() || said.contains("\"error\""), "{word}: {said}");
    compare(word, "command", &checks, &answers);
}

macro_rules! topics {
    ($($word:ident),+ $(,)?) => {
        const TRIED: &[&str] = &[$(stringify!($word)),+];
        $(mod $word {
            #[test]
            fn through_the_library() {
                super::through_the_library(stringify!($word));
            }
            #[test]
            fn through_the_command() {
                super::through_the_command(stringify!($word));
            }
        })+
    };
}

topics!(
    retention,
    deadlines,
    accounting,
    authorization,
    fees,
    part,
    xray,
    regions,
    segments,
    plausibility,
    change,
    age,
    late_entry,
    deidentification,
);

#[test]
fn every_topic_with_checks_is_tried_and_every_topic_has_checks() {
    let given: Value = serde_json::from_str(GIVEN).unwrap();
    let of = |list: &[&str]| list.iter().map(ToString::to_string).collect::<BTreeSet<String>>();
    let checked: BTreeSet<String> = given["checks"]
        .as_array()
        .unwrap()
        .iter()
        .map(|c| c["topic"].as_str().unwrap().to_string())
        .collect();
    let known: Vec<&str> = TOPICS.iter().map(|t| t.word).collect();
    assert_eq!(checked, of(TRIED));
    assert_eq!(of(&known), of(TRIED));
    let vocabulary = given["topics"]["plausibility"]["vocabulary"]["measure"].as_array().unwrap();
    let tables = Tables::shipped().unwrap();
    for measure in vocabulary {
        let question = serde_json::json!({ "measure": measure });
        assert!((topic("plausibility").unwrap().answer)(&question, tables).is_ok(), "{measure} is known");
    }
}

#[test]
fn a_broken_question_ends_the_run_and_nothing_is_half_printed() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("questions.json");
    let questions = r#"[{"found":["P","A"]},{"found":"P"}]"#;
    std::fs::write(&path, questions).unwrap();
    let run = |json: bool| {
        let mut command = Command::new(env!("CARGO_BIN_EXE_inkfast"));
        command.args(["reckon", "part", "--input"]).arg(&path).current_dir(dir.path());
        if json {
            command.arg("--json");
        }
        command.output().unwrap()
    };
    let plain = run(false);
    assert_eq!(plain.status.code(), Some(4));
    assert!(plain.stdout.is_empty(), "{}", String::from_utf8_lossy(&plain.stdout));
    assert!(String::from_utf8_lossy(&plain.stderr).contains("Question 2 of 2"));
    let json = run(true);
    assert_eq!(json.status.code(), Some(4));
    let said: Value = serde_json::from_slice(&json.stdout).unwrap();
    assert!(said["error"]["what"].as_str().unwrap().starts_with("Question 2 of 2"), "{said}");
}

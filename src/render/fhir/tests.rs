//! Whole documents, made from a chart that has nearly everything, and from one example of every kind.

use super::*;
use crate::record::envelope::{Person, Record};
use crate::record::kinds::KINDS;
use crate::record::moment::Moment;
use crate::render::set::{EntryState, PrintedEntry};
use serde_json::Value;
use std::collections::BTreeSet;
use std::path::Path;

fn data(path: &str) -> String {
    std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data").join(path)).unwrap()
}

fn entry(value: &Value) -> PrintedEntry {
    let text = |name: &str| value[name].as_str().unwrap().to_string();
    PrintedEntry {
        seq: value["seq"].as_u64().unwrap(),
        chart_seq: value["chart_seq"].as_u64(),
        kind: text("kind"),
        written: Moment::parse(&text("written")).unwrap(),
        author: text("author"),
        digest: text("digest"),
        record: value.get("record").map(|record| serde_json::from_value(record.clone()).unwrap()),
        withheld: value["withheld"].as_str().map(str::to_string),
        state: EntryState::Opened,
    }
}

fn set(entries: Vec<PrintedEntry>) -> DocumentSet {
    DocumentSet {
        ledger: "ledger-7f3a".to_string(),
        practice: None,
        staff: Vec::new(),
        entries,
        release: None,
        at: Moment::parse("2025-03-11T15:22:00-04:00").unwrap(),
        by: Person { code: "HL".into(), name: "Hattie Lorch".into(), role: "desk".into() },
        with_files: false,
    }
}

fn chart() -> DocumentSet {
    let list: Vec<Value> = serde_json::from_str(&data("printed/chart.json")).unwrap();
    set(list.iter().filter(|v| v["chart_seq"].is_u64()).map(entry).collect())
}

fn json(set: &DocumentSet) -> Value {
    serde_json::from_slice(&document(set).unwrap()).unwrap()
}

fn all<'v>(bundle: &'v Value, kind: &str) -> Vec<&'v Value> {
    let resources = bundle["entry"].as_array().unwrap().iter().map(|entry| &entry["resource"]);
    resources.filter(|one| one["resourceType"] == kind).collect()
}

/// Numbers of the entries that are told, listed, or held back.
fn accounted(bundle: &Value) -> (BTreeSet<u64>, BTreeSet<u64>, BTreeSet<u64>) {
    let number = |value: &Value| value.as_str().unwrap().rsplit('/').next().unwrap().parse().unwrap();
    let told = all(bundle, "Provenance")
        .iter()
        .map(|p| number(&p["entity"][0]["what"]["identifier"]["value"]))
        .collect();
    let (mut listed, mut held) = (BTreeSet::new(), BTreeSet::new());
    for section in all(bundle, "Composition")[0]["section"].as_array().unwrap() {
        match section["code"]["coding"][0]["code"].as_str() {
            Some("kept") => listed.extend(
                section["entry"].as_array().unwrap().iter().map(|e| number(&e["identifier"]["value"])),
            ),
            Some("not-in-this-copy") => {
                held.extend(section["section"].as_array().unwrap().iter().map(|one| {
                    one["title"].as_str().unwrap().rsplit(' ').next().unwrap().parse::<u64>().unwrap()
                }))
            }
            _ => {}
        }
    }
    (told, listed, held)
}

#[test]
fn every_entry_is_told_or_listed_or_held_back_and_none_twice() {
    let set = chart();
    let (told, listed, held) = accounted(&json(&set));
    let entries: BTreeSet<u64> = set.entries.iter().map(|e| e.seq).collect();
    let mut together: Vec<u64> = told.iter().chain(&listed).chain(&held).copied().collect();
    together.sort_unstable();
    assert_eq!(together, entries.iter().copied().collect::<Vec<u64>>());
    assert!(told.len() > listed.len(), "told {told:?}, listed {listed:?}");
}

#[test]
fn the_same_set_in_another_order_gives_the_same_bytes() {
    let (one, mut other) = (chart(), chart());
    other.entries.reverse();
    assert_eq!(document(&one).unwrap(), document(&other).unwrap());
}

#[test]
fn one_example_of_every_kind_is_accounted_for() {
    let mut entries = Vec::new();
    for (number, row) in KINDS.iter().enumerate() {
        let record: Record = serde_json::from_str(&data(&format!("records/{}.json", row.word))).unwrap();
        if record.chart.is_none() {
            continue;
        }
        entries.push(PrintedEntry {
            seq: number as u64 + 1,
            chart_seq: Some(number as u64 + 1),
            kind: row.word.to_string(),
            written: record.written,
            author: record.author.code.clone(),
            digest: "00".repeat(32),
            record: Some(record),
            withheld: None,
            state: EntryState::Opened,
        });
    }
    let count = entries.len();
    let (told, listed, held) = accounted(&json(&set(entries)));
    assert_eq!(told.len() + listed.len() + held.len(), count);
    assert!(told.is_disjoint(&listed));
}

#[test]
fn what_is_withheld_shows_its_reason_and_nothing_else() {
    let mut set = chart();
    let note = set.entries.iter_mut().find(|e| e.kind == "visit").unwrap();
    let (seq, record) = (note.seq, note.record.take().unwrap());
    note.withheld = Some("another person is named in it".to_string());
    let text = String::from_utf8(document(&set).unwrap()).unwrap();
    assert!(text.contains("another person is named in it"));
    let complaint = record.data["complaints"][0]["words"].as_str();
    assert!(complaint.is_none_or(|words| !text.contains(words)));
    let bundle: Value = serde_json::from_str(&text).unwrap();
    assert!(accounted(&bundle).2.contains(&seq));
    let mark = format!("/{seq}#");
    assert!(!text.contains(&mark), "something made from the withheld entry is in the document");
}

#[test]
fn a_chart_whose_opening_is_not_open_has_no_document() {
    let mut set = chart();
    set.entries.retain(|entry| entry.kind != "chart-opened");
    assert_eq!(document(&set), Err(DocumentError::NoPatient));
}

#[test]
fn a_corrected_value_stands_as_corrected_and_both_writings_are_named() {
    let set = chart();
    let bundle = json(&set);
    let corrections = set.entries.iter().filter(|e| e.kind == "correction" && e.withheld.is_none()).count();
    assert!(corrections > 0, "the chart of the test has no correction");
    let revised = all(&bundle, "Provenance")
        .into_iter()
        .filter(|p| p["entity"].as_array().unwrap().iter().any(|e| e["role"] == "revision"))
        .count();
    let (_, listed, held) = accounted(&bundle);
    let aside = set.entries.iter().filter(|e| {
        e.kind == "correction" && (listed.contains(&e.seq) || held.contains(&e.seq)) && e.withheld.is_none()
    });
    assert_eq!(revised + aside.count(), corrections);
    let tagged = bundle["entry"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|e| e["resource"]["meta"]["tag"][0]["code"] == "corrected");
    assert!(tagged.count() > 0);
}

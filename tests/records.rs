//! One example of every kind, from the invented practice: it is read, checked, written back
//! byte for byte, valid by its published schema, and shown in plain words.

// Helpers of a test may fail it; the allowance in clippy.toml reaches only the tests themselves.
#![allow(clippy::unwrap_used, clippy::panic)]

use inkfast::record::envelope::Record;
use inkfast::record::kinds::{Class, Data, KINDS, Level, class_of};
use inkfast::record::show::{NOT_RECORDED, lines};
use serde_json::{Value, json};
use std::fs;
use std::path::Path;

fn example(kind: &str) -> (Value, Record) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/records");
    let text = fs::read_to_string(folder.join(format!("{kind}.json"))).unwrap();
    let value: Value = serde_json::from_str(&text).unwrap();
    let record = Record::from_bytes(text.as_bytes()).unwrap_or_else(|error| panic!("{kind}: {error}"));
    (value, record)
}

fn problems(record: &Record) -> Vec<String> {
    let data = record.read_data().unwrap_or_else(|error| panic!("{}: {error}", record.kind));
    let refused = data.validate(record).into_iter().filter(|problem| problem.level == Level::Refuse);
    refused.map(|problem| format!("{} {}", problem.id, problem.field)).collect()
}

/// The first place where two texts part, for a message one can read.
fn parting(left: &str, right: &str) -> String {
    let at = left.bytes().zip(right.bytes()).take_while(|(a, b)| a == b).count();
    let around =
        |text: &str| text.get(at.saturating_sub(40)..(at + 40).min(text.len())).unwrap_or("").to_string();
    format!("...{} | ...{}", around(left), around(right))
}

#[test]
fn every_kind_comes_back_byte_for_byte() {
    let mut differing = Vec::new();
    for row in KINDS {
        let (value, record) = example(row.word);
        let data = record.read_data().unwrap_or_else(|error| panic!("{}: {error}", row.word));
        assert_eq!((data.kind(), data.edition()), (row.word, record.edition));
        assert!(record.edition <= row.edition, "{}", row.word);
        let (written, read) = (data.to_value().unwrap().to_string(), value["data"].to_string());
        if written != read {
            differing.push(format!("{}: {}", row.word, parting(&written, &read)));
        }
        let bytes = record.to_bytes().unwrap();
        assert_eq!(String::from_utf8_lossy(&bytes), value.to_string(), "{}", row.word);
        assert_eq!(Record::from_bytes(&bytes).unwrap(), record);
    }
    assert!(differing.is_empty(), "{differing:#?}");
}

/// A word that came later belongs to a later edition, and every entry is written in the earliest that holds it.
#[test]
fn an_opening_in_an_emergency_is_of_the_second_edition() {
    let (value, _) = example("access");
    let mut data = value["data"].clone();
    assert_eq!(Data::read("access", 2, &data).unwrap().edition(), 1);
    data["why"] = json!("emergency");
    assert_eq!(Data::read("access", 2, &data).unwrap().edition(), 2);
    assert!(Data::read("access", 1, &data).is_err());
    let schemas = inkfast::record::schemas::all();
    let valid = |edition: u32| {
        let name = format!("record-access-{edition}.schema.json");
        let schema = &schemas.iter().find(|(of, _)| *of == name).unwrap().1;
        jsonschema::validator_for(schema).unwrap().is_valid(&data)
    };
    assert!(valid(2) && !valid(1));
}

#[test]
fn every_example_is_sound_and_valid_by_its_schema() {
    let envelope = &inkfast::record::schemas::all()[0].1;
    let envelope = jsonschema::validator_for(envelope).unwrap();
    for row in KINDS {
        let (value, record) = example(row.word);
        assert_eq!(problems(&record), Vec::<String>::new(), "{}", row.word);
        assert!(envelope.is_valid(&value), "{} as a record", row.word);
        let schema = jsonschema::validator_for(&(row.schema)()).unwrap();
        let faults: Vec<String> = schema.iter_errors(&value["data"]).map(|e| e.to_string()).collect();
        assert!(faults.is_empty(), "{}: {faults:?}", row.word);
    }
}

#[test]
fn a_field_too_many_is_refused_by_reader_and_schema_alike() {
    for row in KINDS {
        let (value, _) = example(row.word);
        let mut data = value["data"].clone();
        data["x_later"] = json!(1);
        let error = Data::read(row.word, row.edition, &data).unwrap_err();
        assert_eq!(error.path, "/x_later", "{}", row.word);
        assert!(!jsonschema::validator_for(&(row.schema)()).unwrap().is_valid(&data), "{}", row.word);
    }
}

#[test]
fn a_required_field_too_few_is_named() {
    for row in KINDS {
        let (value, _) = example(row.word);
        let schema = (row.schema)();
        for name in schema["required"].as_array().into_iter().flatten().filter_map(Value::as_str) {
            let mut data = value["data"].clone();
            data.as_object_mut().unwrap().shift_remove(name);
            let error = Data::read(row.word, row.edition, &data).unwrap_err();
            assert_eq!(error.text, format!("missing: {name}"), "{}", row.word);
        }
    }
}

#[test]
fn every_kind_is_shown_in_plain_words() {
    for row in KINDS {
        let (_, record) = example(row.word);
        for line in lines(&record) {
            assert!(!line.label.contains('_'), "{}: {}", row.word, line.label);
            assert!(!line.value.contains("T00:00:00-"), "{}: {}", row.word, line.value);
            assert_ne!(line.label, "Cannot show", "{}: {}", row.word, line.value);
        }
    }
    let (_, withdrawal) = example("withdrawal");
    let shown: Vec<String> =
        lines(&withdrawal).into_iter().map(|line| format!("{}: {}", line.label, line.value)).collect();
    assert!(shown.contains(&"Happened: 06 Jun 2023 11:18".to_string()), "{shown:#?}");
    assert!(shown.contains(&"Patient words: No more on the neck today, nor after.".to_string()));
    assert!(shown.contains(&"Left at: 06 Jun 2023 11:45".to_string()));
}

#[test]
fn empty_and_absent_are_told_apart() {
    let (_, mut record) = example("consent");
    record.data["explained"] = Value::Null;
    record.data["wording"] = json!({"not_done_because": "verbal, no form"});
    let shown = lines(&record);
    let value = |label: &str| shown.iter().find(|line| line.label == label).map(|line| line.value.as_str());
    assert_eq!(value("Explained"), Some(NOT_RECORDED));
    assert_eq!(value("Wording"), Some("Not done or not asked, because: verbal, no form"));
    assert_eq!(value("Side"), Some("right"));
}

#[test]
fn a_later_kind_is_carried_and_said_so() {
    let (_, mut record) = example("consent");
    record.edition = 2;
    record.data = json!({"anything": "at all"});
    let shown = lines(&record);
    let line = shown.iter().find(|line| line.label == "Cannot show").unwrap();
    assert_eq!(line.value, "kind consent edition 2 (later program needed); the entry still verifies");
    assert_eq!(class_of(&record), Class::Desk);
    record.kind = "later-kind".to_string();
    assert_eq!(class_of(&record), Class::Clinical);
}

#[test]
fn the_desk_opens_only_papers_marked_for_it() {
    let (_, mut record) = example("attachment");
    assert_eq!(class_of(&record), Class::Clinical);
    record.data["for_desk"] = json!(true);
    assert_eq!(class_of(&record), Class::Desk);
    let (_, mut note) = example("visit");
    note.data["for_desk"] = json!(true);
    assert_eq!(class_of(&note), Class::Clinical);
}

/// Changes one place of an example; the problem named must then be found, and was not before.
fn spoiled(kind: &str, pointer: &str, value: Value, problem: &str) {
    let (_, mut record) = example(kind);
    let (parent, name) = pointer.rsplit_once('/').unwrap();
    let place = record.data.pointer_mut(parent).unwrap();
    match place {
        Value::Object(members) if value.is_null() => drop(members.shift_remove(name)),
        Value::Object(members) => drop(members.insert(name.to_string(), value)),
        Value::Array(items) => items[name.parse::<usize>().unwrap()] = value,
        other => panic!("{kind} {pointer}: {other}"),
    }
    let found = problems(&record);
    assert!(found.iter().any(|text| text.starts_with(problem)), "{kind} {pointer}: {found:?}");
}

/// Limits are in the tables of the rules, not in the layout. 80 mm: the project's own, in `trade.toml`.
#[test]
fn values_beyond_the_limits_of_the_tables_are_found() {
    use inkfast::record::measured::impossible;
    let trade = &inkfast::record::tables::Tables::shipped().unwrap().trade;
    for kind in ["measure", "visit"] {
        assert!(impossible(&example(kind).1.data, trade).is_empty(), "{kind}");
    }
    let mut data = example("measure").1.data;
    data["measures"][0]["value"] = json!(81);
    let found = impossible(&data, trade);
    assert_eq!(found.len(), 1);
    assert!(found[0].0 == "/measures/0/value" && found[0].1.contains("80 mm"), "{found:?}");
}

#[test]
fn what_cannot_be_is_refused() {
    let none = || Value::Null;
    spoiled("consent", "/valid_until", json!("2022-10-16"), "dates-order");
    spoiled("consent", "/side", none(), "side-missing");
    spoiled("consent", "/techniques", json!([]), "techniques-missing");
    spoiled("consent", "/given_by/role", json!("decision-maker"), "giver-missing");
    spoiled("consent", "/form", json!("verbal-recorded"), "heard-by-missing");
    spoiled("chart-opened", "/identity/birth_date/date", json!("2031-01-01"), "in-future");
    spoiled("chart-opened", "/identity/birth_date/date", json!("1900-01-01"), "age-over-120");
    spoiled("decision-maker", "/relation", json!("self"), "guardian-is-patient");
    spoiled("measure", "/measures/0/value", json!(36), "opening-order");
    spoiled("measure", "/measures/3/side", none(), "side-missing");
    spoiled("visit", "/complaints/0/pain_now", json!(11), "value-cannot-be");
    spoiled("visit", "/measures/0/measured/value", json!(4.5), "value-not-whole");
    spoiled("visit", "/procedures/0/side", none(), "side-missing");
    spoiled("visit", "/procedures/0/technique", json!("intraoral"), "glove-missing");
    spoiled("visit", "/procedures/1/span", json!({"from": "C3", "to": "C5"}), "span-not-for-joints");
    spoiled("visit", "/procedures/0/at", json!("2022-10-03T10:50:00-04:00"), "in-future");
    spoiled("visit", "/procedures/1/no", json!(1), "number-twice");
    spoiled(
        "visit",
        "/findings/2",
        json!({"no": 3, "region": "neck-joints", "segment": "C0-C1", "kind": "disc"}),
        "no-disc-there",
    );
    spoiled("screen", "/answers/0/decision", none(), "yes-needs-words");
    spoiled("screen", "/answers", json!([]), "answers-missing");
    spoiled("correction", "/is", json!("left"), "nothing-corrected");
    spoiled("amendment-decision", "/letter/says_complaint_route", json!(false), "letter-incomplete");
    spoiled("disposal", "/keep_until", json!("2030-01-01"), "keep-until");
    spoiled("attachment", "/plain_digest", json!("abc"), "not-a-digest");
    spoiled("withdrawal", "/regions", json!([]), "empty-list");
    spoiled("day-close", "/entries", json!(24), "count-mismatch");
    spoiled("coverage-answer", "/answer", json!("ask-first"), "answer-mismatch");
}

#[test]
fn the_head_is_checked_too() {
    let refuses = |change: &dyn Fn(&mut Record), id: &str| {
        let (_, mut record) = example("visit");
        change(&mut record);
        let found = problems(&record);
        assert!(found.iter().any(|text| text.starts_with(id)), "{id}: {found:?}");
    };
    refuses(&|r| r.happened.end = Some(r.happened.start.plus_seconds(-60)), "end-before-start");
    refuses(&|r| r.happened.start = r.written.plus_seconds(60), "in-future");
    refuses(&|r| r.signed.at = r.written.plus_seconds(1), "signed-in-future");
    refuses(&|r| r.signed.by = "HL".to_string(), "author-must-sign");
    refuses(&|r| r.second = Some(r.signed.clone()), "second-is-author");
    refuses(&|r| r.chart = None, "chart-missing");
    let (_, mut slip) = example("day-close");
    slip.chart = Some("k7q2m9x4t1".to_string());
    assert_eq!(problems(&slip), ["chart-given head/chart"]);
}

#[test]
fn bytes_that_are_no_record_are_refused_without_quoting_them() {
    let (value, _) = example("asked");
    let mut more = value.clone();
    more["secret_name"] = json!("Bettony");
    for bytes in [more.to_string(), "{".to_string(), "[]".to_string(), value.to_string() + "x"] {
        let error = Record::from_bytes(bytes.as_bytes()).unwrap_err().to_string();
        assert!(!error.contains("Bettony") && !error.contains("secret"), "{error}");
    }
}

//! The rules file: read, looked through, adopted by the keeper's signature; every edition kept; what was
//! answered by one edition stays as it was answered.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // In a test a panic is the report.

mod common;

use common::room::Room;
use inkfast::record::rulebook::EXAMPLE;
use inkfast::record::tables::toml_json;
use serde_json::Value;

/// A chart.
fn with_a_chart() -> Room {
    let room = Room::new();
    room.at("2025-03-10T09:00:00-04:00").patient("PM-0112", "Bettony Craske", "1988-07-23");
    room
}

fn adopt(room: &Room, text: &str) -> common::room::Shown {
    room.write("next.toml", text);
    room.run(&["rules", "adopt", &room.path("next.toml").display().to_string()])
}

#[test]
fn the_example_is_valid_by_its_published_schema() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/schema/rules-file.schema.json");
    let schema: Value = serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap();
    let schema = jsonschema::draft202012::new(&schema).unwrap();
    let example = toml_json::read(EXAMPLE).unwrap();
    let errors: Vec<String> =
        schema.iter_errors(&example).map(|e| format!("{} {e}", e.instance_path)).collect();
    assert!(errors.is_empty(), "{errors:?}");
    let demo = toml_json::read(inkfast::demo::RULES).unwrap();
    assert!(schema.is_valid(&demo));
    let broken = toml_json::read(&EXAMPLE.replace("idle_minutes = 15", "idle_minutes = \"long\"")).unwrap();
    assert!(!schema.is_valid(&broken));
}

#[test]
fn what_the_example_command_prints_can_be_looked_through_and_adopted() {
    let room = Room::new();
    let printed = room.ok(&["rules", "example"]);
    room.write("mine.toml", &printed);
    let path = room.path("mine.toml").display().to_string();
    assert!(room.ok(&["rules", "check", &path]).contains("edition example-1 can be adopted"));
    let shown = room.ok(&["rules", "show"]);
    for words in ["in force from 03 Oct 2022", "idle_minutes = 15   [practice's own choice]", "[coverage]"] {
        assert!(shown.contains(words), "{words}\n{shown}");
    }
    // The published tables come with it, and may be replaced by the practice's own edition of them.
    for table in ["trade", "deadlines", "retention"] {
        let text = room.ok(&["rules", "example", table]);
        assert!(toml_json::read(&text).unwrap()["edition"] == 1);
    }
}

#[test]
fn a_wrong_rules_file_is_refused_with_its_place_and_nothing_is_recorded() {
    let room = Room::new();
    let before = room.json(&["rules", "list"]).as_array().unwrap().len();
    for (good, bad, words) in [
        ("edition = \"example-1\"", "edition = \"x\"\nedition = \"y\"", "line"),
        ("default = 12", "default = 0", "coverage.consent_ceiling_months.default"),
        ("\"lists\" = \"practice's own choice\"", "", "lists.consent_lapses_within_days: no basis"),
        ("[payer]", "[prayer]", "the section [payer] is missing"),
        ("idle_minutes = 15", "idle_minutes = 15\nidle_hours = 1", "idle_hours"),
        ("edition = \"example-1\"", "edition = \"e2\"\neffective = 2022-10-02", "days gone by"),
        ("idle_minutes = 15", "idle_minutes = 20", "edition example-1 was adopted with other values"),
    ] {
        assert!(EXAMPLE.contains(good), "{good}");
        let refused = adopt(&room, &EXAMPLE.replacen(good, bad, 1));
        assert_eq!(refused.code(), 4, "{bad}: {}", refused.all());
        assert!(refused.all().contains(words), "{bad}: {}", refused.all());
    }
    assert_eq!(room.json(&["rules", "list"]).as_array().unwrap().len(), before);
}

/// The kept answers of the chart.
fn kept(room: &Room) -> Vec<Value> {
    let mut answers = room.json(&["print", "PM-0112", "--why", "review"]).as_array().unwrap().clone();
    answers.retain(|e| e["record"]["kind"] == "coverage-answer");
    answers
}

#[test]
fn a_changed_rule_never_changes_what_was_answered_before() {
    let room = with_a_chart();
    let question = [
        "may",
        "PM-0112",
        "--technique",
        "soft-tissue",
        "--region",
        "lumbar",
        "--side",
        "both",
        "--why",
        "visit",
    ];
    let edition = |more: &[&str]| -> Value {
        let words: Vec<&str> = question.iter().chain(more).chain(&["--keep"]).copied().collect();
        let shown = room.run(&words);
        assert_eq!(shown.code(), 1, "nothing is agreed: {}", shown.all());
        kept(&room).last().unwrap()["record"]["data"]["rules_edition"].clone()
    };
    room.at("2025-03-10T09:30:00-04:00");
    assert_eq!(edition(&[]), "example-1");
    let kept_then = kept(&room);
    assert_eq!(kept_then.len(), 1);

    room.at("2025-03-11T08:00:00-04:00");
    let stricter = EXAMPLE
        .replace("edition = \"example-1\"", "edition = \"example-2\"")
        .replace("same_visit_yes_minutes = 60", "same_visit_yes_minutes = 5");
    let adopted = adopt(&room, &stricter);
    assert_eq!(adopted.code(), 0, "{}", adopted.all());
    assert_eq!(kept(&room), kept_then, "the kept answer is as it was");
    assert_eq!(edition(&["--at", "2025-03-10T09:30:00-04:00"]), "example-1", "asked about then");
    room.at("2025-03-11T09:00:00-04:00");
    assert_eq!(edition(&[]), "example-2", "asked about now");
    assert_eq!(kept(&room)[..1], kept_then, "the kept answer is still as it was");
    let editions = room.json(&["rules", "list"]);
    let names: Vec<&Value> = editions.as_array().unwrap().iter().map(|e| &e["edition"]).collect();
    assert_eq!(names, ["example-1", "example-2"]);
    let old = room.ok(&["rules", "show", "--edition", "example-1"]);
    assert!(old.contains("same_visit_yes_minutes = 60"));
    // An edition for a later day waits for it.
    let later = stricter.replace("example-2\"", "example-3\"\neffective = 2025-04-01");
    assert_eq!(adopt(&room, &later).code(), 0);
    assert!(room.ok(&["rules", "show"]).contains("edition example-2"));
    room.at("2025-04-01T00:00:01-04:00");
    assert!(room.ok(&["rules", "show"]).contains("edition example-3"));
}

#[test]
fn what_changes_is_read_back_before_it_is_signed() {
    let room = Room::new();
    let changed = EXAMPLE
        .replace("edition = \"example-1\"", "edition = \"example-2\"")
        .replace("pin_tries = 3", "pin_tries = 5");
    room.write("next.toml", &changed);
    let path = room.path("next.toml").display().to_string();
    let shown = room.typed(&["rules", "adopt", &path], Some(&["no"]));
    assert_ne!(shown.code(), 0);
    assert!(shown.said.contains("station.pin_tries: 3 -> 5"), "{}", shown.said);
    let shown = room.typed(&["rules", "adopt", &path], Some(&["yes"]));
    assert_eq!(shown.code(), 0, "{}", shown.all());
}

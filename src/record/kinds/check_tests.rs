//! Each rule of what can't be, from both sides: the nearest entry that is refused, and the nearest that is not.

use super::{Data, Level};
use crate::record::envelope::Record;
use crate::record::examples::example;
use crate::record::moment::Moment;
use serde_json::{Value, json};

mod care;
mod head;
mod paper;
mod register;

/// `@written`, `@start`, `@today`, with `+1` or `-1` behind it: that time or day of the entry's head, a second or a
/// day off. `@author` and `@ledger` are the head's own.
fn meant(value: &Value, record: &Record) -> Value {
    let Some(text) = value.as_str().filter(|text| text.starts_with('@')) else { return value.clone() };
    let (name, off) = text.split_at(text.find(['+', '-']).unwrap_or(text.len()));
    let off: i64 = off.parse().unwrap_or(0);
    let moved = |from: Moment, by: i64| from.plus_seconds(off * by);
    match name {
        "@written" => json!(moved(record.written, 1).to_string()),
        "@start" => json!(moved(record.happened.start, 1).to_string()),
        "@today" => json!(moved(record.written, 86_400).local_date().to_string()),
        "@author" => json!(record.author.code),
        "@ledger" => json!(record.ledger),
        other => panic!("{other}"),
    }
}

/// What is found wrong with an example that is changed in these places of its data, or with a leading `head` of its
/// head: refused, and asked about with a `?`.
fn found(kind: &str, changes: &Value) -> Vec<String> {
    let example = example(kind);
    let mut whole = serde_json::to_value(&example).unwrap();
    for (pointer, value) in changes.as_object().unwrap() {
        let path = pointer.strip_prefix("head").map_or_else(|| format!("/data{pointer}"), String::from);
        let (parent, name) = path.rsplit_once('/').unwrap();
        let value = meant(value, &example);
        match whole.pointer_mut(parent).unwrap_or_else(|| panic!("{kind} {pointer}")) {
            Value::Object(members) if value.is_null() => drop(members.shift_remove(name)),
            Value::Object(members) => drop(members.insert(name.to_string(), value)),
            Value::Array(items) => items[name.parse::<usize>().unwrap()] = value,
            other => panic!("{kind} {pointer}: {other}"),
        }
    }
    let record: Record = serde_json::from_value(whole).unwrap();
    let data: Data = record.read_data().unwrap_or_else(|error| panic!("{kind} {changes}: {error}"));
    let problems = data.validate(&record).into_iter();
    problems.map(|p| format!("{}{}", if p.level == Level::Refuse { "" } else { "?" }, p.id)).collect()
}

/// Each line: the changes, and what is then found; nothing where the list is empty. The example itself is sound.
fn try_all(kind: &str, lines: &[(Value, &[&str])]) {
    for (changes, expected) in [(json!({}), &[][..])].iter().chain(lines) {
        assert_eq!(found(kind, changes), *expected, "{kind} {changes}");
    }
}

/// Each kind with its fields that hold words: none may be empty.
fn none_blank(rows: &[(&str, &[&str])]) {
    for (kind, fields) in rows {
        for field in *fields {
            try_all(kind, &[(json!({ *field: " " }), &["blank"])]);
        }
    }
}

/// Each kind with a field that may hold the reason for its absence: that one may not be empty either.
fn no_blank_reason(rows: &[(&str, &str)]) {
    for (kind, field) in rows {
        let because = |why: &str| json!({ *field: { "not_done_because": why } });
        try_all(kind, &[(because(" "), &["blank"]), (because("not asked"), &[])]);
    }
}

#[test]
fn a_consent_names_what_it_is_for_and_who_gave_it() {
    let treatment = json!({ "/kind": "treatment", "/techniques": ["mobilization"], "/regions": ["spine"] });
    let with = |more: Value| {
        let mut all = treatment.clone();
        all.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
        all
    };
    let limit = |high: Value, low: Value| json!({ "/segment_limits": [{ "highest_segment": high, "lowest_segment": low }] });
    try_all(
        "consent",
        &[
            (treatment.clone(), &[]),
            (with(json!({ "/techniques": [] })), &["techniques-missing"]),
            (with(json!({ "/regions": [] })), &["regions-missing"]),
            (with(json!({ "/side": null })), &["side-missing"]),
            (with(json!({ "/side": "midline" })), &[]),
            (with(json!({ "/side": "midline", "/regions": ["jaw-joint"] })), &["no-midline"]),
            (with(json!({ "/side": "midline", "/regions": ["jaw-joint", "spine"] })), &[]),
            (with(json!({ "/excluded_regions": ["spine"] })), &["agreed-and-excluded"]),
            (with(json!({ "/excluded_regions": ["cervical"] })), &[]),
            (with(limit(json!("C3-C4"), json!("C5-C6"))), &[]),
            (with(limit(json!("C3-C4"), json!("C3-C4"))), &[]),
            (with(limit(json!("C5-C6"), json!("C3-C4"))), &["limit-order"]),
            (with(limit(json!("C5-C6"), Value::Null)), &[]),
            (with(limit(Value::Null, json!("C5-C6"))), &[]),
            (with(limit(Value::Null, Value::Null)), &["empty-limit"]),
            (
                with(json!({ "/segment_limits": [{ "techniques": [], "highest_segment": "C3-C4" }] })),
                &["empty-limit"],
            ),
            (with(limit(json!("SI"), Value::Null)), &["limit-not-ordered"]),
            (with(limit(Value::Null, json!("rib-3"))), &["limit-not-ordered"]),
            (with(limit(json!("C3-C4"), json!("SI"))), &["limit-not-ordered"]),
            (json!({ "/techniques": ["soft-tissue"] }), &["techniques-missing"]),
            (json!({ "/kind": "observer" }), &["matter-missing"]),
            (json!({ "/kind": "observer", "/matter": "  " }), &["matter-missing"]),
            (
                json!({ "/kind": "observer", "/matter": "a student looks on", "/techniques": [], "/regions": [] }),
                &[],
            ),
            (json!({ "/valid_until": "2022-10-17" }), &[]),
            (json!({ "/valid_until": "2022-10-16" }), &["dates-order"]),
            (json!({ "/given_by": { "role": "self", "person_id": "dm-1" } }), &["giver-unclear"]),
            (json!({ "/given_by": { "role": "decision-maker" } }), &["giver-missing"]),
            (json!({ "/given_by": { "role": "decision-maker", "person_id": "dm-1" } }), &[]),
            (json!({ "/form": "verbal-recorded" }), &["heard-by-missing"]),
            (json!({ "/form": "verbal-recorded", "/heard_by": "HL" }), &[]),
            (json!({ "/form": "verbal-recorded", "/status": "declined" }), &[]),
            (json!({ "/practitioners_allowed": { "kind": "any" } }), &[]),
            (json!({ "/practitioners_allowed": { "kind": "any", "values": ["IV"] } }), &["allowed-unclear"]),
            (json!({ "/practitioners_allowed": { "kind": "role", "values": [] } }), &["allowed-unclear"]),
            (json!({ "/witness": { "name": "Orla Craske" } }), &[]),
            (json!({ "/witness": { "name": "Bettony Craske" } }), &["witness-is-giver"]),
            (json!({ "/witness": { "name": " " } }), &["blank"]),
            (json!({ "/explained/at": "@written" }), &[]),
            (json!({ "/explained/at": "@written+1" }), &["in-future"]),
        ],
    );
}

#[test]
fn what_is_said_in_a_visit_is_whole() {
    let giver = |role: &str, person: Value| json!({ "/said_by": { "role": role, "person_id": person } });
    for kind in ["withdrawal", "standing-refusal", "rest-of-earlier"] {
        try_all(
            kind,
            &[
                (giver("self", json!("dm-1")), &["giver-unclear"]),
                (giver("decision-maker", json!("dm-1")), &[]),
                (json!({ "/said_by": { "role": "decision-maker" } }), &["giver-missing"]),
            ],
        );
    }
    for kind in ["withdrawal", "standing-refusal"] {
        try_all(
            kind,
            &[
                (json!({ "/techniques": [] }), &["empty-list"]),
                (json!({ "/regions": [] }), &["empty-list"]),
                (json!({ "/techniques": null, "/regions": null }), &[]),
            ],
        );
    }
    try_all(
        "withdrawal",
        &[
            (json!({ "/stopped/at": "@written" }), &[]),
            (json!({ "/stopped/at": "@written+1" }), &["in-future"]),
        ],
    );
    try_all("end-event", &[(json!({ "/consents": [] }), &["consents-missing"])]);
    try_all(
        "pause",
        &[
            (json!({ "/kind": "resumed" }), &["nothing-to-close"]),
            (json!({ "/kind": "resumed", "/of": 3 }), &[]),
            (json!({ "/resumed_yes_at": "@start" }), &[]),
            (json!({ "/resumed_yes_at": "@start-1" }), &["dates-order"]),
            (json!({ "/resumed_yes_at": "@written+1" }), &["dates-order"]),
        ],
    );
    try_all(
        "asked",
        &[
            (json!({ "/answer": "yes-with-limit" }), &["limit-unclear"]),
            (json!({ "/answer": "yes-with-limit", "/limit_words": " " }), &["limit-unclear"]),
            (json!({ "/answer": "yes-with-limit", "/limit_words": "not deep" }), &[]),
            (json!({ "/limit_words": "not deep" }), &["limit-unclear"]),
            (json!({ "/region": "jaw-joint", "/side": "midline" }), &["no-midline"]),
            (json!({ "/region": "spine", "/side": "midline" }), &[]),
        ],
    );
    try_all(
        "condition-met",
        &[
            (json!({ "/until": "2023-02-06T16:41:00-05:00" }), &[]),
            (json!({ "/until": "2023-02-06T16:40:59-05:00" }), &["dates-order"]),
            (json!({ "/ends": 3 }), &["end-missing"]),
            (json!({ "/ends": 3, "/until": "2023-02-06T17:00:00-05:00" }), &[]),
        ],
    );
    try_all(
        "emergency",
        &[
            (json!({ "/of": null }), &["nothing-to-close"]),
            (json!({ "/state": "declared", "/of": null }), &[]),
        ],
    );
}

#[test]
fn who_was_seen_and_how_that_was_known_is_stated() {
    for (kind, opens) in [("visit-opened", true), ("identity-confirmed", false)] {
        try_all(
            kind,
            &[
                (json!({ "/identity_confirmed/at": "@written" }), &[]),
                (json!({ "/identity_confirmed/at": "@written+1" }), &["in-future"]),
                (json!({ "/identity_confirmed/identifiers": [" ", ""] }), &["identifiers-missing"]),
                (json!({ "/identity_confirmed/identifiers": [" ", "full-name"] }), &[]),
            ],
        );
        if opens {
            try_all(kind, &[(json!({ "/practitioners": [] }), &["practitioner-missing"])]);
        }
    }
    // The answer is the worse of its two lines.
    for (agreed, checked, answer, wrong) in [
        ("yes", "yes", "yes", false),
        ("no", "yes", "no", false),
        ("yes", "no", "no", false),
        ("yes", "ask-first", "yes", true),
        ("ask-first", "yes", "no", true),
    ] {
        let changes = json!({ "/agreed": agreed, "/checked": checked, "/answer": answer });
        let expected: &[&str] = if wrong { &["answer-mismatch"] } else { &[] };
        try_all("coverage-answer", &[(changes, expected)]);
    }
}

#[test]
fn an_identity_has_one_birth_date_within_a_life() {
    // The example was written on 3 October 2022.
    let born = |day: &str| json!({ "/identity/birth_date": { "date": day } });
    let year = |year: i32| json!({ "/identity/birth_date": { "estimated_year": year, "words": "told" } });
    try_all(
        "chart-opened",
        &[
            (born("2022-10-03"), &[]),
            (born("2022-10-04"), &["in-future"]),
            (born("1916-10-04"), &[]),
            (born("1916-10-03"), &["?age-over-105"]),
            (born("1901-10-04"), &["?age-over-105"]),
            (born("1901-10-03"), &["age-over-120"]),
            (year(2022), &[]),
            (year(2023), &["in-future"]),
            (year(1917), &[]),
            (year(1916), &["?age-over-105"]),
            (year(1901), &["age-over-120"]),
            (json!({ "/identity/birth_date": {} }), &["birth-date"]),
            (
                json!({ "/identity/birth_date": { "date": "1988-07-23", "estimated_year": 1988 } }),
                &["birth-date"],
            ),
            (json!({ "/same_name_looked_for": false }), &["not-looked-for"]),
        ],
    );
    try_all(
        "decision-maker",
        &[
            (json!({ "/relation": " Self " }), &["guardian-is-patient"]),
            (json!({ "/birth_date": "@today" }), &[]),
            (json!({ "/birth_date": "@today+1" }), &["in-future"]),
            (json!({ "/authority_last_day": "2019-05-06" }), &[]),
            (json!({ "/authority_last_day": "2019-05-05" }), &["dates-order"]),
            (json!({ "/superseded_at": "2019-05-06T00:00:00-04:00" }), &[]),
            (json!({ "/superseded_at": "2019-05-05T23:59:59-04:00" }), &["dates-order"]),
        ],
    );
    try_all(
        "capacity",
        &[
            (json!({ "/of": null }), &["nothing-to-close"]),
            (json!({ "/state": "doubt-raised", "/of": null }), &[]),
            (json!({ "/until": "@start" }), &[]),
            (json!({ "/until": "@start-1" }), &["dates-order"]),
        ],
    );
}

/// Blood pressure: record/tables/trade.toml, `limit_pairs`. A score above its maximum: the same.
#[test]
fn the_second_of_two_numbers_goes_with_the_first() {
    let pair = |kind: &str, unit: &str, first: Value, second: Value| {
        let mut one = json!({ "kind": kind, "value": first, "unit": unit });
        if !second.is_null() {
            one["second_value"] = second;
        }
        json!({ "/measures": [one] })
    };
    let pressure = |upper: u32, lower: Value| pair("blood-pressure", "mmHg", json!(upper), lower);
    let score = |score: u32, most: Value| pair("questionnaire", "score", json!(score), most);
    try_all(
        "measure",
        &[
            (pressure(120, json!(119)), &[]),
            (pressure(120, json!(120)), &["value-cannot-be"]),
            (pressure(120, json!(0)), &[]),
            (pressure(120, json!(-1)), &["value-cannot-be"]),
            (pressure(120, Value::Null), &["second-value-missing"]),
            (score(50, json!(50)), &[]),
            (score(51, json!(50)), &["value-cannot-be"]),
            (score(52, json!(50)), &["value-cannot-be"]),
            (score(52, Value::Null), &[]),
        ],
    );
}

#[test]
fn papers_and_copies_say_what_became_of_them() {
    try_all(
        "correction",
        &[
            (json!({ "/field": "side" }), &["not-a-pointer"]),
            (json!({ "/is": "left" }), &["nothing-corrected"]),
            (json!({ "/patient_told": "@written" }), &[]),
            (json!({ "/patient_told": "@written+1" }), &["in-future"]),
        ],
    );
    try_all(
        "paper-original",
        &[
            (json!({ "/on": "@today+1" }), &["in-future"]),
            (json!({ "/state": "checked" }), &["pages-missing"]),
            (json!({ "/state": "checked", "/pages": 3 }), &[]),
            (json!({ "/because": null }), &["blank"]),
            (json!({ "/method": " " }), &["blank"]),
            (json!({ "/state": "kept" }), &["blank"]),
            (json!({ "/state": "moved" }), &["blank"]),
            (json!({ "/state": "moved", "/at": "cabinet C2" }), &[]),
        ],
    );
    try_all(
        "paper-chart",
        &[
            (json!({ "/last_treated": "1949-02-11" }), &[]),
            (json!({ "/last_treated": "1949-02-10" }), &["dates-order"]),
            (json!({ "/keep_until": "2016-05-19" }), &[]),
            (json!({ "/keep_until": "2016-05-18" }), &["dates-order"]),
        ],
    );
    try_all(
        "safe-copy",
        &[
            (json!({ "/copy": "3f0c9a5be1d24776a0b8c3d94e5f6a7" }), &["copy-label"]),
            (json!({ "/copy": "3F0C9A5BE1D24776A0B8C3D94E5F6A71" }), &["copy-label"]),
            (json!({ "/copy": "3f0c9a5be1d24776a0b8c3d94e5f6a7100" }), &["copy-label"]),
            (json!({ "/entries": null }), &["copy-not-checked"]),
            (json!({ "/code": null }), &["copy-not-checked"]),
            (json!({ "/keep_until": "@today" }), &[]),
            (json!({ "/keep_until": "@today-1" }), &["copy-kept-until"]),
            (json!({ "/state": "gone", "/entries": null, "/code": null }), &["blank"]),
            (json!({ "/state": "gone", "/because": " " }), &["blank"]),
            (json!({ "/state": "gone", "/because": "lost" }), &[]),
        ],
    );
    let held = |reason: &str, made: Value| json!({ "/withheld": [{ "entry": 2400, "ground": "safety", "reason": reason, "slip": true, "determination": made }] });
    let determined = |on: &str| json!({ "by": "Ingrith Valsamo", "licence": "LM-C-0417", "on": on });
    try_all(
        "release",
        &[
            (held("likely-harm", Value::Null), &["determination-missing"]),
            (held("another-person", Value::Null), &[]),
            (held("likely-harm", determined("2025-09-12")), &[]),
            (held("likely-harm", determined("2099-01-01")), &["in-future"]),
            (json!({ "/sealed": "to-recipient-key" }), &["recipient-missing"]),
            (json!({ "/sealed": "not-sealed" }), &["unsealed-unclear"]),
            (json!({ "/what/digest": "0".repeat(63) }), &["not-a-digest"]),
            (json!({ "/what/digest": "A".repeat(64) }), &["not-a-digest"]),
            (json!({ "/checked_by": "@author" }), &["?checked-by-oneself"]),
        ],
    );
}

#[test]
fn what_must_be_said_is_not_left_blank() {
    none_blank(&[
        ("handout", &["/title"]),
        ("contact", &["/said"]),
        ("emergency", &["/words"]),
        ("condition-met", &["/kind"]),
        ("end-event", &["/event"]),
        ("late-entry", &["/text", "/because", "/source"]),
        ("addendum", &["/text"]),
        ("correction", &["/reason"]),
        ("paper-chart", &["/kept_at"]),
        ("paper-original", &["/by"]),
        ("safe-copy", &["/place"]),
    ]);
    no_blank_reason(&[
        ("consent", "/wording"),
        ("withdrawal", "/patient_words"),
        ("pause", "/reason"),
        ("correction", "/patient_told"),
    ]);
}

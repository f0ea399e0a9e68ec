//! What the head of an entry says of times and people, and that it is the head of these data.

use super::{example, found, try_all};
use crate::record::kinds::{Data, KINDS, Place};
use serde_json::{Value, json};

/// "Refuse to sign: visit or signature in the future." An end may be missing, but not lie before the start.
#[test]
fn nothing_happens_or_is_signed_after_it_is_written() {
    // It happened from 10:00 to 10:38 and was written at 10:46.
    try_all(
        "visit",
        &[
            (json!({ "head/happened/end": "@start" }), &[]),
            (json!({ "head/happened/end": "@start-1" }), &["end-before-start"]),
            (json!({ "head/happened/end": "@written" }), &[]),
            (json!({ "head/happened/end": "@written+1" }), &["in-future"]),
            (json!({ "head/happened/end": null }), &[]),
            (json!({ "head/signed/at": "@written+1" }), &["signed-in-future"]),
            (json!({ "head/signed/at": "@start" }), &[]),
            (json!({ "head/signed/at": "@start-1" }), &["?signed-before-it-happened"]),
        ],
    );
    try_all(
        "measure",
        &[
            (json!({ "head/happened/start": "@written" }), &[]),
            (json!({ "head/happened/start": "@written+1" }), &["in-future", "?signed-before-it-happened"]),
        ],
    );
}

#[test]
fn the_author_signs_and_another_checks() {
    let person = |code: &str| json!({ "code": code, "name": "Hattie Lorch", "role": "desk" });
    let second = |by: &str, at: &str| json!({ "head/second": { "by": by, "name": "Hattie Lorch", "role": "desk", "at": at, "meaning": "checked" } });
    try_all(
        "measure",
        &[
            (json!({ "head/author/code": " ", "head/signed/by": " " }), &["author-missing"]),
            (json!({ "head/author/name": " " }), &["author-missing"]),
            (json!({ "head/signed/by": "HL" }), &["author-must-sign"]),
            (json!({ "head/signed/meaning": "checked" }), &["author-must-sign"]),
            (second("HL", "2022-10-03T10:05:00-04:00"), &[]),
            (second("IV", "2022-10-03T10:05:00-04:00"), &["second-is-author"]),
            (second("HL", "2022-10-03T10:05:01-04:00"), &["signed-in-future"]),
            (second("HL", "2022-10-03T10:04:59-04:00"), &["?signed-before-it-happened"]),
            (json!({ "head/entered_by": person("HL") }), &[]),
            (json!({ "head/entered_by": person("IV") }), &["scribe-is-author"]),
            (json!({ "head/station": " " }), &["blank"]),
        ],
    );
}

/// By the table of kinds: always in a chart, never in one, or either.
#[test]
fn every_kind_stands_where_its_row_says() {
    for row in KINDS {
        let with = found(row.word, &json!({ "head/chart": "k7q2m9x4t1" }));
        let without = found(row.word, &json!({ "head/chart": null }));
        let (in_chart, outside): (&[&str], &[&str]) = match row.place {
            Place::Chart => (&[], &["chart-missing"]),
            Place::Nowhere => (&["chart-given"], &[]),
            Place::Either => (&[], &[]),
        };
        assert_eq!(
            (with, without),
            (
                in_chart.iter().map(ToString::to_string).collect(),
                outside.iter().map(ToString::to_string).collect()
            ),
            "{}",
            row.word
        );
    }
}

#[test]
fn a_head_is_that_of_its_data() {
    let refused = |record: &crate::record::envelope::Record, data: &Data| {
        let found = data.validate(record);
        found.iter().map(|problem| (problem.id, problem.field.clone())).collect::<Vec<_>>()
    };
    let mismatch = [("kind-mismatch", "head/kind".to_string())];
    let (measure, screen) = (example("measure"), example("screen"));
    assert!(refused(&measure, &measure.read_data().unwrap()).is_empty());
    assert_eq!(refused(&screen, &measure.read_data().unwrap()), mismatch);
    // Without an emergency an opening is of the first edition, whatever its head says.
    let mut access = example("access");
    access.edition = 2;
    assert_eq!(refused(&access, &access.read_data().unwrap()), mismatch);
    access.data["why"] = Value::from("emergency");
    assert!(refused(&access, &access.read_data().unwrap()).is_empty());
}

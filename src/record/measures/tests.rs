//! Gathering measures from charts made for it.

use super::*;
use proptest::prelude::*;
use serde_json::{Value, json};

/// A record of this kind, happened and written at this moment.
pub(crate) fn record(kind: &str, at: &str, data: Value) -> Record {
    let who = json!({ "code": "IV", "name": "Ingrith Valsamo", "role": "chiropractor" });
    serde_json::from_value(json!({
        "kind": kind, "edition": 1, "ledger": "ledger-0", "chart": "00", "happened": { "start": at },
        "written": at, "station": "room 1", "author": who,
        "signed": { "by": "IV", "name": "Ingrith Valsamo", "role": "chiropractor", "at": at, "meaning": "wrote" },
        "data": data,
    }))
    .unwrap()
}

/// A measure entry outside any visit.
pub(crate) fn measure(at: &str, measures: Value) -> Record {
    record("measure", at, json!({ "phase": "before", "measures": measures }))
}

/// A visit note with these measures, and a complaint.
pub(crate) fn note(visit: u64, at: &str, measures: Value) -> Record {
    let data = json!({
        "visit": visit, "sort": "later", "changed_since_last": "a little looser",
        "complaints": [{ "no": 1, "words": "tight jaw", "region": "jaw", "side": "right", "pain_now": 4 }],
        "findings": { "not_done_because": "as last time" },
        "assessment": { "not_done_because": "as last time" }, "agreed": {},
        "measures": measures,
        "advice": { "not_done_because": "as last time" }, "plan": { "not_done_because": "as last time" },
    });
    record("visit", at, data)
}

/// A correction of one field.
pub(crate) fn correction(at: &str, target: u64, field: &str, was: Value, is: Value) -> Record {
    let data = json!({
        "target": target, "field": field, "was": was, "is": is, "reason": "misread the ruler",
        "care_affected": false, "patient_told": { "not_done_because": "next visit" },
    });
    record("correction", at, data)
}

fn opening(phase: &str, value: f64) -> Value {
    json!({ "phase": phase, "measured": { "kind": "mouth-opening-unassisted", "value": value, "unit": "mm" } })
}

/// Two visits of a jaw patient, with a correction, a withdrawal and a consent.
pub(crate) fn chart() -> Vec<(u64, Record)> {
    let first = json!([opening("before", 34.0), opening("after", 36.0)]);
    let second = json!([opening("before", 24.0), opening("after", 45.0)]);
    let words = "stop for today";
    vec![
        (10, note(9, "2022-10-03T10:00:00-04:00", first)),
        (20, note(19, "2022-10-17T10:00:00-04:00", second)),
        (
            21,
            correction(
                "2022-10-18T09:00:00-04:00",
                20,
                "/measures/0/measured/value",
                json!(24.0),
                json!(42.0),
            ),
        ),
        (
            30,
            record(
                "withdrawal",
                "2022-10-17T10:20:00-04:00",
                json!({ "said_by": { "role": "self" }, "how": "words", "patient_words": words }),
            ),
        ),
    ]
}

pub(crate) fn gathered(entries: &[(u64, Record)]) -> Measures {
    let readable: Vec<Readable<'_>> =
        entries.iter().map(|(seq, record)| Readable { seq: *seq, record }).collect();
    gather(&readable)
}

fn series<'m>(measures: &'m Measures, words: &str) -> &'m Series {
    let found = measures.series.iter().find(|series| series.key.words() == words);
    found.unwrap_or_else(|| {
        let all: Vec<String> = measures.series.iter().map(|series| series.key.words()).collect();
        panic!("{words} is not among {all:?}")
    })
}

#[test]
fn like_is_put_with_like() {
    let measures = gathered(&chart());
    let opening = series(&measures, "mouth opening unassisted");
    assert_eq!(opening.code, "A");
    let texts: Vec<&str> = opening.points.iter().map(|point| point.reading.text.as_str()).collect();
    assert_eq!(texts, ["34.0", "36.0", "24.0", "42.0", "45.0"]);
    let told = series(&measures, "pain now, jaw, right side, as told");
    assert_eq!(told.points.len(), 2);
    assert_eq!(measures.rows.len(), 2);
}

#[test]
fn a_struck_value_stays_with_what_struck_it() {
    let measures = gathered(&chart());
    let points = &series(&measures, "mouth opening unassisted").points;
    let struck: Vec<&Point> = points.iter().filter(|point| !point.stands()).collect();
    assert_eq!(struck.len(), 1);
    assert_eq!((struck[0].reading.text.as_str(), struck[0].struck.unwrap().by), ("24.0", 21));
    let new = points.iter().find(|point| point.added.is_some()).unwrap();
    assert_eq!((new.reading.text.as_str(), new.entry), ("42.0", 20));
}

#[test]
fn another_method_begins_another_series_and_says_so() {
    let taken =
        |method: &str| json!([{ "kind": "mouth-opening", "value": 40, "unit": "mm", "method": method }]);
    let entries = [
        (1, measure("2025-03-04T10:00:00-05:00", taken("ruler"))),
        (2, measure("2025-03-11T10:00:00-04:00", taken("ruler, overlap added"))),
        (3, measure("2025-03-18T10:00:00-04:00", taken("ruler"))),
    ];
    let measures = gathered(&entries);
    assert_eq!(measures.series.len(), 2);
    assert_eq!(measures.series[0].points.len(), 2);
    assert_eq!(measures.series[0].other_methods, ["B"]);
    assert_eq!(measures.series[1].other_methods, ["A"]);
}

#[test]
fn an_entry_of_another_chart_is_struck() {
    let mut entries = chart();
    let data = json!({ "entry": 10, "found_at": "2022-10-19T09:00:00-04:00", "found_by": "IV", "because": "the wrong chart was open" });
    entries.push((40, record("misfiled", "2022-10-19T09:00:00-04:00", data)));
    let measures = gathered(&entries);
    assert!(measures.points().filter(|point| point.entry == 10).all(|point| point.struck.unwrap().misfiled));
}

#[test]
fn what_else_happened_is_marked() {
    let measures = gathered(&chart());
    let marks: Vec<(&str, u64)> = measures.marks.iter().map(|m| (m.kind.word(), m.entry)).collect();
    assert_eq!(marks, [("withdrawn", 30), ("corrected", 21)]);
}

/// The rest of an earlier consent ends only where an earlier one is named.
#[test]
fn a_consent_that_narrows_an_earlier_one_is_marked() {
    let example = crate::record::examples::example("consent");
    let narrowed = |rest: &str, earlier: Value| {
        let mut consent = example.clone();
        consent.data["rest_of_earlier"] = json!(rest);
        consent.data["narrower_than"] = earlier;
        let marks = gathered(&[(40, consent)]).marks;
        let found = marks.into_iter().filter(|mark| mark.kind == marks::MarkKind::ConsentNarrowed);
        found.map(|mark| mark.words).collect::<Vec<_>>()
    };
    assert_eq!(narrowed("withdrawn", json!([17, 18])), ["no. 17, no. 18 narrowed by no. 40"]);
    assert!(narrowed("withdrawn", json!([])).is_empty());
    assert!(narrowed("kept", json!([17])).is_empty());
}

/// What a measure is called in the tables: a kind by its own word, an answer within the visit by its question.
#[test]
fn each_measure_has_its_word() {
    assert_eq!(What::Measure(MeasureKind::MouthOpening).word(), "mouth-opening");
    assert_eq!(What::Check(CheckQuestion::Comfort).word(), "check-comfort");
}

/// In words as a reader says them (common practice); the parts in the order what, where, how.
#[test]
fn what_was_measured_is_said_in_plain_words() {
    let pain = Key {
        region: Some(Region::JawMuscles),
        side: Some(Side::Both),
        ..Key::new(What::Measure(MeasureKind::PainNow), Source::Response, Unit::Of10)
    };
    assert_eq!(pain.words(), "pain after a procedure, jaw muscles, both sides");
    let measured = Key { source: Source::Measured, ..pain };
    assert_eq!(measured.words(), "pain now, jaw muscles, both sides");
    let mut key = Key::new(What::Measure(MeasureKind::MouthOpening), Source::Measured, Unit::Mm);
    assert_eq!((key.how(), key.words().as_str()), (None, "mouth opening"));
    key.position = Some("seated".into());
    assert_eq!(key.how().as_deref(), Some("seated"));
    (key.method, key.instrument) = (Some("overlap added".into()), Some("steel ruler".into()));
    assert_eq!(key.how().as_deref(), Some("overlap added, steel ruler, seated"));
    assert_eq!(key.words(), "mouth opening, overlap added, steel ruler, seated");
    for (unit, most, words) in [
        (Unit::Score, Some("50"), "points of 50"),
        (Unit::Score, None, "points"),
        (Unit::Of10, None, "of 10"),
        (Unit::Deg, None, "degrees"),
        (Unit::Mm, None, "mm"),
        (Unit::PerMinute, None, "a minute"),
        (Unit::Celsius, None, "degrees C"),
        (Unit::Percent, None, "%"),
        (Unit::Grade, None, "grade"),
        (Unit::Count, None, "times"),
        (Unit::MmHg, None, "mmHg"),
    ] {
        let key = Key {
            out_of: most.map(str::to_string),
            ..Key::new(What::Measure(MeasureKind::Other), Source::Measured, unit)
        };
        assert_eq!(key.unit_words(), words, "{unit}");
    }
}

/// Method, instrument and position alone part these series; another side is another measure.
#[test]
fn series_that_differ_in_how_alone_name_each_other() {
    let taken = |more: Value| {
        let mut one = json!({ "kind": "jaw-lateral", "value": 9, "unit": "mm", "side": "right" });
        one.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
        one
    };
    let all = json!([
        taken(json!({})),
        taken(json!({ "method": "from the midline" })),
        taken(json!({ "instrument": "steel ruler" })),
        taken(json!({ "position": "face-up" })),
        taken(json!({ "side": "left" })),
    ]);
    let measures = gathered(&[(1, measure("2025-03-04T10:00:00-05:00", all))]);
    let (left, right): (Vec<&Series>, Vec<&Series>) =
        measures.series.iter().partition(|series| series.key.side == Some(Side::Left));
    assert_eq!((left.len(), right.len()), (1, 4));
    assert!(left[0].other_methods.is_empty());
    for one in &right {
        let others: Vec<&String> = right.iter().map(|o| &o.code).filter(|code| **code != one.code).collect();
        assert_eq!(one.other_methods.iter().collect::<Vec<_>>(), others, "{}", one.key.words());
    }
}

/// A row for each visit; a measure outside any visit joins the only visit of its day, and has a row of
/// its own where there was none, or more than one.
#[test]
fn a_measure_outside_a_visit_joins_the_only_visit_of_its_day() {
    let pulse = |at: &str| measure(at, json!([{ "kind": "pulse", "value": 70, "unit": "per-minute" }]));
    let entries = [
        (10, note(9, "2025-03-04T10:00:00-05:00", json!([]))),
        (11, pulse("2025-03-04T16:00:00-05:00")),
        (20, note(19, "2025-03-11T09:00:00-04:00", json!([]))),
        (30, note(29, "2025-03-11T15:00:00-04:00", json!([]))),
        (31, pulse("2025-03-11T16:00:00-04:00")),
        (40, pulse("2025-03-18T10:00:00-04:00")),
        (41, pulse("2025-03-25T10:00:00-04:00")),
    ];
    let measures = gathered(&entries);
    let row = |entry: u64| {
        let point = measures.points().find(|point| point.entry == entry).unwrap();
        let row = &measures.rows[measures.row_of(point).unwrap()];
        (row.visit, row.day.to_string(), row.sort)
    };
    let later = Some(VisitSort::Later);
    for (entry, visit, day, sort) in [
        (10, Some(9), "2025-03-04", later),
        (11, Some(9), "2025-03-04", later),
        (20, Some(19), "2025-03-11", later),
        (30, Some(29), "2025-03-11", later),
        (31, None, "2025-03-11", None),
        (40, None, "2025-03-18", None),
        (41, None, "2025-03-25", None),
    ] {
        assert_eq!(row(entry), (visit, day.to_string(), sort), "entry {entry}");
    }
    let days: Vec<String> = measures.rows.iter().map(|row| row.day.to_string()).collect();
    assert_eq!(
        days,
        ["2025-03-04", "2025-03-11", "2025-03-11", "2025-03-11", "2025-03-18", "2025-03-25"],
        "oldest first"
    );
    // One kind alone keeps its codes, and the rows that it stands in.
    let code = series(&measures, "pulse").code.clone();
    let only = measures.only("pulse");
    assert_eq!(only.series.iter().map(|one| &one.code).collect::<Vec<_>>(), [&code]);
    let visits: Vec<Option<u64>> = only.rows.iter().map(|row| row.visit).collect();
    assert_eq!(visits, [Some(9), None, None, None]);
}

/// What was measured most often comes first; questionnaires, and what no panel shows, keep their order.
#[test]
fn what_was_measured_most_often_comes_first_in_its_panel() {
    let at = |day: u32| format!("2025-03-{day:02}T10:00:00-04:00");
    let taken = |kind: &str, unit: &str| json!({ "kind": kind, "value": 40, "unit": unit });
    let asked = |name: &str| json!({ "kind": "questionnaire", "value": 20, "second_value": 50, "unit": "score", "name": name });
    let often = json!([
        taken("mouth-opening-assisted", "mm"),
        taken("neck-rotation", "deg"),
        asked("Second questions"),
        taken("weight", "kg"),
    ]);
    let once = json!([
        taken("mouth-opening", "mm"),
        taken("neck-flexion", "deg"),
        asked("First questions"),
        taken("pulse", "per-minute"),
    ]);
    let entries =
        [(1, measure(&at(10), often.clone())), (2, measure(&at(11), often)), (3, measure(&at(12), once))];
    let order: Vec<String> = gathered(&entries).series.iter().map(|one| one.key.words()).collect();
    assert_eq!(
        order,
        [
            "mouth opening assisted",
            "mouth opening",
            "neck rotation",
            "neck flexion",
            "questionnaire (First questions)",
            "questionnaire (Second questions)",
            "pulse",
            "weight"
        ]
    );
}

#[test]
fn a_long_gap_and_a_visit_without_the_measure_break_the_line() {
    let taken = |kind: &str| json!([{ "kind": kind, "value": 40, "unit": "mm" }]);
    let at = |day: &str| format!("{day}T10:00:00-05:00");
    let entries = [
        (1, measure(&at("2025-01-06"), taken("mouth-opening"))),
        (2, measure(&at("2025-01-13"), taken("mouth-opening"))),
        (3, measure(&at("2025-01-20"), taken("mouth-opening-assisted"))),
        (4, measure(&at("2025-01-27"), taken("mouth-opening"))),
        (5, measure(&at("2025-12-01"), taken("mouth-opening"))),
    ];
    let measures = gathered(&entries);
    let columns = panels::columns(&measures);
    assert_eq!(
        columns.iter().map(|c| c.since).collect::<Vec<_>>(),
        [None, Some(7), Some(7), Some(7), Some(308)]
    );
    let joins = panels::joins(&measures.series[0], &columns);
    assert_eq!(joins, [panels::Join { from: 0, to: 1, within: false }]);
}

/// How many measures a record holds, counted by hand over its JSON.
fn counted(record: &Record) -> usize {
    let data = &record.data;
    let list = |name: &str| data[name].as_array().map_or(&[][..], Vec::as_slice);
    if record.kind == "measure" {
        return list("measures").len();
    }
    let told = list("complaints").iter().map(|complaint| {
        usize::from(complaint["pain_now"].is_number()) + usize::from(complaint["pain_worst"].is_number())
    });
    told.sum::<usize>()
        + list("findings").iter().filter(|finding| finding["measured"].is_object()).count()
        + list("measures").len()
        + list("procedures").iter().filter(|done| done["response"]["pain"].is_number()).count()
        + list("checks").iter().filter(|check| check["number"].is_number()).count()
}

#[test]
fn every_measure_of_the_printed_example_is_a_point() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/data/printed/chart.json");
    let all: Vec<Value> = serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
    let entries: Vec<(u64, Record)> = all
        .iter()
        .filter_map(|entry| {
            let record = serde_json::from_value(entry.get("record")?.clone()).ok()?;
            Some((entry["seq"].as_u64().unwrap(), record))
        })
        .collect();
    let wanted: usize = entries.iter().map(|(_, record)| counted(record)).sum();
    let first = gathered(&entries).points().filter(|point| point.added.is_none()).count();
    assert!(wanted > 10);
    assert_eq!(first, wanted);
}

/// A chart of notes with drawn measures, some corrected.
pub(crate) fn drawn_chart() -> impl Strategy<Value = Vec<(u64, Record)>> {
    let kinds = prop::sample::select(vec![
        ("mouth-opening-unassisted", "mm", 80u32),
        ("jaw-lateral", "mm", 20),
        ("pain-now", "of-10", 10),
        ("neck-rotation", "deg", 120),
        ("straight-leg-raise", "deg", 130),
        ("pulse", "per-minute", 200),
    ]);
    let one = (kinds, 0u32..=200, prop::sample::select(vec!["before", "during", "after"]), any::<bool>());
    let visit = (0i64..900, prop::collection::vec(one, 0..6), any::<bool>());
    prop::collection::vec(visit, 1..12).prop_map(|visits| {
        let mut entries = Vec::new();
        for (index, (day, lines, mend)) in visits.into_iter().enumerate() {
            let seq = 100 + 10 * index as u64;
            let at = Moment::from_unix(1_660_000_000 + day * 86_400, -14_400).unwrap().to_string();
            let measures: Vec<Value> = lines
                .iter()
                .map(|(kind, number, phase, left)| {
                    let mut measured =
                        json!({ "kind": kind.0, "value": number % (kind.2 + 1), "unit": kind.1 });
                    if *left {
                        measured["side"] = json!("left");
                    }
                    json!({ "phase": phase, "measured": measured })
                })
                .collect();
            let was = measures.first().map(|first| first["measured"]["value"].clone());
            entries.push((seq, note(seq - 1, &at, Value::Array(measures))));
            if let (true, Some(was)) = (mend, was) {
                let is = json!(was.as_u64().unwrap() / 2 + 1);
                entries.push((seq + 5, correction(&at, seq, "/measures/0/measured/value", was, is)));
            }
        }
        entries
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn as_many_points_as_measures(entries in drawn_chart()) {
        let measures = gathered(&entries);
        let written: usize = entries.iter().map(|(_, record)| counted(record)).sum();
        let changed = measures.points().filter(|point| point.added.is_some()).count();
        prop_assert_eq!(measures.points().count(), written + changed);
        prop_assert_eq!(measures.points().filter(|point| !point.stands()).count(), changed);
        for point in measures.points() {
            prop_assert!(measures.row_of(point).is_some());
        }
        let shown: usize = panels::panels(&measures).iter().map(|panel| panel.series.len()).sum();
        prop_assert_eq!(shown + panels::not_drawn(&measures).len(), measures.series.len());
    }
}

//! Any record as lines of plain words, for the printed record and the terminal.
//!
//! The order is that of the layout. Fixed words, moments and days are put into plain words;
//! free text stands exactly as it was written.

use super::envelope::{Happened, Person, Record, Signature};
use super::kinds::layout::Layout;
use super::kinds::{Data, KindInfo, info, title};
use super::labels::meaning;
use super::moment::{Moment, parse_date, plain_date};
use super::vocab::Segment;
use serde_json::Value;
use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, PoisonError};

/// What stands where a required thing is empty.
pub const NOT_RECORDED: &str = "Not recorded";

/// What an entry can be signed without, but a reader must see is missing.
const EXPECTED: &[(&str, &str)] = &[
    ("consent", "explained"),
    ("visit-opened", "identity_confirmed"),
    ("visit", "complaints"),
    ("visit", "procedures"),
    ("visit", "measures"),
    ("reaction", "outcome"),
];

/// One line for reading.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Line {
    /// What it is.
    pub label: String,
    /// What was recorded; empty above a group of deeper lines.
    pub value: String,
    /// How deep it is indented.
    pub depth: u8,
}

/// The whole record, head and data.
pub fn lines(record: &Record) -> Vec<Line> {
    let mut out = head_lines(record);
    out.extend(data_lines(record));
    out
}

/// The head: what, when, who.
pub fn head_lines(record: &Record) -> Vec<Line> {
    let mut out = Vec::new();
    let mut put = |label: &str, value: String| out.push(Line { label: label.to_string(), value, depth: 0 });
    put("Entry", title(&record.kind).to_string());
    put("Happened", happened(&record.happened));
    put("Written", format!("{} at {}", record.written.plain(), record.station));
    put("Author", person(&record.author));
    if let Some(scribe) = &record.entered_by {
        put("Entered by", person(scribe));
    }
    put("Signed", signature(&record.signed));
    if let Some(second) = &record.second {
        put("Second signature", signature(second));
    }
    if !record.labels.is_empty() {
        let labels: Vec<String> = record.labels.iter().map(|label| meaning(label, record)).collect();
        put("Labels", labels.join("; "));
    }
    for reference in &record.refers {
        put("Refers to", format!("entry {} ({})", reference.seq, spaced(reference.why.word())));
    }
    out
}

/// The schema of a kind. Making one takes longer than showing a record, so each is made once.
fn schema_of(row: &KindInfo) -> Arc<Value> {
    static MADE: Mutex<BTreeMap<&'static str, Arc<Value>>> = Mutex::new(BTreeMap::new());
    let mut made = MADE.lock().unwrap_or_else(PoisonError::into_inner);
    made.entry(row.word).or_insert_with(|| Arc::new((row.schema)())).clone()
}

/// The data alone.
pub fn data_lines(record: &Record) -> Vec<Line> {
    let one = |label: &str, value: String| vec![Line { label: label.to_string(), value, depth: 0 }];
    match record.read_data() {
        Ok(Data::Unknown { kind, edition, .. }) => one(
            "Cannot show",
            format!("kind {kind} edition {edition} (later program needed); the entry still verifies"),
        ),
        Ok(data) => match (data.to_value(), info(&record.kind)) {
            (Ok(value), Some(row)) => {
                let schema = schema_of(row);
                let mut out = Vec::new();
                members(Layout::of(&schema), &value, 0, &mut out);
                for (kind, name) in EXPECTED {
                    if *kind == row.word && value.get(name).is_none_or(is_empty) {
                        out.push(Line { label: label(name), value: NOT_RECORDED.to_string(), depth: 0 });
                    }
                }
                out
            }
            _ => one("Cannot show", "the data holds a number that can't be written".to_string()),
        },
        Err(error) => one("Cannot show", format!("{error}; the entry still verifies")),
    }
}

fn happened(happened: &Happened) -> String {
    let about = if happened.about { "about " } else { "" };
    match happened.end {
        Some(end) if end.local_date() == happened.start.local_date() => {
            let (hour, minute) = end.local_time();
            format!("{about}{} to {hour:02}:{minute:02}", happened.start.plain())
        }
        Some(end) => format!("{about}{} to {}", happened.start.plain(), end.plain()),
        None => format!("{about}{}", happened.start.plain()),
    }
}

fn person(person: &Person) -> String {
    format!("{} ({}), {}", person.name, person.code, person.role)
}

fn signature(signature: &Signature) -> String {
    format!(
        "{} by {} ({}), {}, {}",
        signature.meaning,
        signature.name,
        signature.by,
        signature.role,
        signature.at.plain()
    )
}

/// The members of an object in their order, with the empty required ones.
fn members(layout: Layout<'_>, value: &Value, depth: u8, out: &mut Vec<Line>) {
    let Some(object) = value.as_object() else { return };
    for (name, member) in object {
        let empty = is_empty(member);
        if empty && !layout.requires(name) {
            continue;
        }
        let value_layout = layout.member(name).map(|inner| inner.settle(member));
        if empty {
            let value = NOT_RECORDED.to_string();
            out.push(Line { label: label(name), value, depth });
        } else {
            put(&label(name), value_layout, member, depth, out);
        }
    }
}

fn is_empty(value: &Value) -> bool {
    match value {
        Value::Null => true,
        Value::String(text) => text.trim().is_empty(),
        Value::Array(items) => items.is_empty(),
        Value::Object(members) => members.is_empty(),
        _ => false,
    }
}

fn put(label: &str, layout: Option<Layout<'_>>, value: &Value, depth: u8, out: &mut Vec<Line>) {
    let mut line = |value: String| out.push(Line { label: label.to_string(), value, depth });
    match value {
        Value::Object(object) => {
            if let Some(because) = object.get("not_done_because").and_then(Value::as_str) {
                let because = if because.trim().is_empty() { NOT_RECORDED } else { because };
                line(format!("Not done or not asked, because: {because}"));
                return;
            }
            line(String::new());
            match layout {
                Some(layout) => members(layout, value, depth.saturating_add(1), out),
                None => free_members(value, depth.saturating_add(1), out),
            }
        }
        Value::Array(items) if items.iter().all(|item| !item.is_object() && !item.is_array()) => {
            let inner = layout.and_then(Layout::items);
            let shown: Vec<String> =
                items.iter().map(|item| scalar(inner.map(|layout| layout.settle(item)), item)).collect();
            line(shown.join("; "));
        }
        Value::Array(items) => {
            let inner = layout.and_then(Layout::items);
            for (index, item) in items.iter().enumerate() {
                let numbered = format!("{label} {}", index + 1);
                put(&numbered, inner.map(|layout| layout.settle(item)), item, depth, out);
            }
        }
        _ => line(scalar(layout, value)),
    }
}

/// Members no layout describes: a rules document, or the parts of a corrected field.
fn free_members(value: &Value, depth: u8, out: &mut Vec<Line>) {
    for (name, member) in value.as_object().into_iter().flatten() {
        put(&label(name), None, member, depth, out);
    }
}

fn scalar(layout: Option<Layout<'_>>, value: &Value) -> String {
    match value {
        Value::Null => "none".to_string(),
        Value::Bool(true) => "yes".to_string(),
        Value::Bool(false) => "no".to_string(),
        Value::String(text) => text_value(layout, text),
        other => other.to_string(),
    }
}

fn text_value(layout: Option<Layout<'_>>, text: &str) -> String {
    let Some(layout) = layout else { return text.to_string() };
    if layout.is_moment() {
        return Moment::parse(text).map_or_else(|_| text.to_string(), Moment::plain);
    }
    if layout.is_day() {
        return parse_date(text).map_or_else(|| text.to_string(), plain_date);
    }
    if !layout.is_word(text) {
        return text.to_string();
    }
    match Segment::from_word(text) {
        Some(Segment::Si) => "sacroiliac (SI) joint".to_string(),
        Some(Segment::C0C1) => "occiput to C1 (C0-C1)".to_string(),
        Some(segment) if segment.order().is_some() => text.replace('-', " to ") + &format!(" ({text})"),
        _ if text == "both" => "left and right".to_string(),
        _ => spaced(text),
    }
}

/// `neck-joints` as `neck joints`.
fn spaced(word: &str) -> String {
    word.replace('-', " ")
}

/// `valid_until` as `Valid until`.
fn label(name: &str) -> String {
    let words = name.replace(['_', '-'], " ");
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::envelope::{Label, Meaning, RefWhy};
    use crate::record::examples::example;
    use serde_json::json;

    /// The lines of an example's data when these members are changed: indented by two for each depth.
    fn shown(kind: &str, changes: &Value) -> Vec<String> {
        let mut record = example(kind);
        for (name, value) in changes.as_object().unwrap() {
            record.data[name] = value.clone();
        }
        data_lines(&record).iter().map(written).collect()
    }

    fn written(line: &Line) -> String {
        format!("{:indent$}{}: {}", "", line.label, line.value, indent = 2 * usize::from(line.depth))
    }

    /// What, when, who, with the signature's name, role, time and meaning (as in 21 CFR 11.50, from memory).
    #[test]
    fn the_head_says_what_when_and_who() {
        let mut record = example("correction");
        let head = |record: &Record| head_lines(record).iter().map(written).collect::<Vec<_>>();
        let plain = [
            "Entry: Correction",
            "Happened: 09 May 2023 08:40",
            "Written: 09 May 2023 08:54 at room 1",
            "Author: Ingrith Valsamo (IV), chiropractor",
            "Signed: wrote by Ingrith Valsamo (IV), chiropractor, 09 May 2023 08:54",
            "Refers to: entry 700 (corrects)",
        ];
        assert_eq!(head(&record), plain);
        assert_eq!(lines(&record).iter().map(written).take(6).collect::<Vec<_>>(), plain);
        assert_eq!(lines(&record)[6..], data_lines(&record));
        record.entered_by =
            Some(Person { code: "HL".into(), name: "Hattie Lorch".into(), role: "desk".into() });
        record.second = Some(Signature { meaning: Meaning::Checked, ..record.signed.clone() });
        record.labels = vec![Label::AfterNotice, Label::AfterHold];
        record.refers[0].why = RefWhy::RestsOn;
        assert_eq!(
            head(&record)[4..],
            [
                "Entered by: Hattie Lorch (HL), desk",
                "Signed: wrote by Ingrith Valsamo (IV), chiropractor, 09 May 2023 08:54",
                "Second signature: checked by Ingrith Valsamo (IV), chiropractor, 09 May 2023 08:54",
                "Labels: WRITTEN AFTER NOTICE of a claim or complaint; written under a legal hold",
                "Refers to: entry 700 (rests on)",
            ]
        );
    }

    #[test]
    fn a_stretch_of_time_names_the_day_once_where_it_is_one() {
        let moment = |text: &str| Moment::parse(&format!("{text}:00-04:00")).unwrap();
        let of = |end: Option<&str>, about: bool| {
            happened(&Happened { start: moment("2023-06-06T09:05"), end: end.map(moment), about })
        };
        assert_eq!(of(None, false), "06 Jun 2023 09:05");
        assert_eq!(of(None, true), "about 06 Jun 2023 09:05");
        assert_eq!(of(Some("2023-06-06T11:08"), false), "06 Jun 2023 09:05 to 11:08");
        assert_eq!(of(Some("2023-06-07T00:10"), true), "about 06 Jun 2023 09:05 to 07 Jun 2023 00:10");
    }

    /// Empty is said where something had to be recorded or a reader must see its lack, and nowhere else.
    #[test]
    fn what_had_to_be_recorded_and_was_not_is_said() {
        let plain = shown("correction", &json!({}));
        assert_eq!(
            plain,
            [
                "Target: 700",
                "Field: /procedures/0/side",
                "Was: left",
                "Is: right",
                "Reason: slip in writing; asked-today and finding both say right",
                "Care affected: no",
                "Care words: the right side was treated",
                "Patient told: 09 May 2023 08:52",
            ]
        );
        for empty in [json!(null), json!(""), json!(" "), json!([]), json!({})] {
            assert_eq!(shown("correction", &json!({ "was": empty }))[2], "Was: Not recorded", "{empty}");
        }
        for (value, words) in
            [(json!(0), "0"), (json!(false), "no"), (json!(true), "yes"), (json!(4.5), "4.5")]
        {
            assert_eq!(shown("correction", &json!({ "was": value }))[2], format!("Was: {words}"));
        }
        assert_eq!(shown("correction", &json!({ "reason": " " }))[4], "Reason: Not recorded");
        assert!(
            !shown("correction", &json!({ "care_words": " " }))
                .iter()
                .any(|line| line.contains("Care words"))
        );
        let told =
            |because: &str| shown("correction", &json!({ "patient_told": { "not_done_because": because } }));
        assert_eq!(told("moved away")[7], "Patient told: Not done or not asked, because: moved away");
        assert_eq!(told(" ")[7], "Patient told: Not done or not asked, because: Not recorded");
        // An outcome is not required, and its lack is said all the same.
        let lacks = |kind: &str, changes: Value, label: &str| {
            let line = format!("{label}: {NOT_RECORDED}");
            shown(kind, &changes).iter().filter(|shown| **shown == line).count()
        };
        assert_eq!(lacks("reaction", json!({}), "Outcome"), 1);
        assert_eq!(lacks("reaction", json!({ "outcome": "well after a day" }), "Outcome"), 0);
        for part in ["complaints", "procedures", "measures"] {
            assert_eq!(lacks("visit", json!({}), &label(part)), 0);
            assert_eq!(lacks("visit", json!({ part: [] }), &label(part)), 1);
        }
        assert_eq!(lacks("consent", json!({ "explained": null }), "Explained"), 1);
        assert_eq!(lacks("visit-opened", json!({ "identity_confirmed": null }), "Identity confirmed"), 1);
    }

    #[test]
    fn groups_are_indented_and_lists_are_numbered_or_joined() {
        let corrected = |value: Value| {
            let mut all = shown("correction", &json!({ "is": value }));
            all.drain(..3);
            all.truncate(all.len() - 4);
            all
        };
        assert_eq!(
            corrected(json!({ "side": "both", "blank": "", "deep": { "word": "no-change", "left": null } })),
            ["Is: ", "  Side: both", "  Deep: ", "    Word: no-change", "    Left: none",]
        );
        assert_eq!(corrected(json!([1, "two", true])), ["Is: 1; two; yes"]);
        assert_eq!(corrected(json!([[1, 2], [3]])), ["Is 1: 1; 2", "Is 2: 3"]);
        assert_eq!(corrected(json!([1, [2]])), ["Is 1: 1", "Is 2: 2"]);
        assert_eq!(corrected(json!([{ "no": 1 }, 2])), ["Is 1: ", "  No: 1", "Is 2: 2"]);
    }

    /// Fixed words in plain words, free text as it was written.
    #[test]
    fn words_of_the_layout_are_put_plainly_and_free_text_is_left_alone() {
        let all = shown(
            "visit",
            &json!({
                "words": "both", "changed_since_last": "C5-C6", "practitioners": ["soft-tissue"],
                "procedures": [{
                    "no": 1, "at": "2022-10-03T10:15:00-04:00", "technique": "soft-tissue", "region": "neck-joints",
                    "segments": ["SI", "C0-C1", "C5-C6", "T12-L1", "rib-1"], "side": "both", "structure": "both",
                    "position": "face-up", "done_by": "IV", "cavitation_heard": true,
                    "response": { "word": "no-change", "pain": 0 }
                }]
            }),
        );
        let has = |line: &str| assert!(all.iter().any(|one| one == line), "{line} in {all:#?}");
        for line in [
            "Words: both",
            "Changed since last: C5-C6",
            "Practitioners: soft-tissue",
            "Procedures 1: ",
            "  At: 03 Oct 2022 10:15",
            "  Technique: soft tissue",
            "  Region: neck joints",
            "  Structure: both",
            "  Segments: sacroiliac (SI) joint; occiput to C1 (C0-C1); C5 to C6 (C5-C6); T12 to L1 (T12-L1); rib 1",
            "  Side: left and right",
            "  Position: face-up",
            "  Cavitation heard: yes",
            "  Response: ",
            "    Word: no change",
            "    Pain: 0",
        ] {
            has(line);
        }
        let reaction = shown("reaction", &json!({ "told_by": "2023-10-04" }));
        assert!(reaction.contains(&"Follow up due: 04 Oct 2023".to_string()), "{reaction:#?}");
        assert!(reaction.contains(&"Told by: 2023-10-04".to_string()));
    }

    #[test]
    fn what_cannot_be_shown_says_so_in_one_line() {
        let mut later = example("correction");
        later.edition = 9;
        let words = "Cannot show: kind correction edition 9 (later program needed); the entry still verifies";
        assert_eq!(data_lines(&later).iter().map(written).collect::<Vec<_>>(), [words]);
        let broken = shown("correction", &json!({ "target": "seven" }));
        assert!(broken.len() == 1 && broken[0].starts_with("Cannot show: "), "{broken:?}");
        assert!(broken[0].ends_with("; the entry still verifies"));
    }
}

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

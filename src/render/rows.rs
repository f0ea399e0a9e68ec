//! Any record as rows of a label and words, for the page. Kinds a reader meets most have a view
//! of their own; every other kind is shown in the order of its layout.

use super::corrected::{Laid, Mend, Reading, field_words, lay, value_words};
use super::html::{esc, said};
use super::words::{self, capital, given, giver, spaced};
use super::{agreed, moments, note, papers};
use crate::record::envelope::Record;
use crate::record::kinds::Data;
use crate::record::kinds::amend::{Addendum, Correction, LateEntry};
use crate::record::show;

/// One row for reading.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Row {
    /// Part of a visit note the row stands under; empty elsewhere.
    pub part: &'static str,
    /// What it is; may be empty.
    pub label: String,
    /// What was recorded.
    pub text: String,
    /// How deep it is indented.
    pub depth: u8,
}

impl Row {
    /// A row at the margin, under no part.
    pub fn new(label: &str, text: impl Into<String>) -> Row {
        Row { part: "", label: label.to_string(), text: text.into(), depth: 0 }
    }
}

/// The record's data as rows.
pub fn rows(record: &Record) -> Vec<Row> {
    match record.read_data() {
        Ok(Data::Visit(visit)) => note::rows(&visit),
        Ok(Data::Correction(correction)) => correction_rows(&correction),
        Ok(Data::Addendum(addendum)) => addendum_rows(&addendum),
        Ok(Data::LateEntry(late)) => late_rows(&late),
        Ok(Data::Consent(consent)) => agreed::rows(&consent),
        Ok(data) => {
            moments::rows(&data).or_else(|| papers::rows(&data)).unwrap_or_else(|| plain_rows(record))
        }
        Err(_) => plain_rows(record),
    }
}

/// In the order of the layout, by the plain view every kind has.
fn plain_rows(record: &Record) -> Vec<Row> {
    let line = |line: show::Line| Row { part: "", label: line.label, text: line.value, depth: line.depth };
    show::data_lines(record).into_iter().map(line).collect()
}

fn correction_rows(correction: &Correction) -> Vec<Row> {
    let mut rows = vec![
        Row::new("Corrects", format!("no. {}, {}", correction.target, field_words(&correction.field))),
        Row::new("It said", value_words(&correction.was)),
        Row::new("It should say", value_words(&correction.is)),
        Row::new("Why", words::or_not_recorded(&correction.reason)),
    ];
    let affected = if correction.care_affected { "yes" } else { "no" };
    rows.push(match &correction.care_words {
        Some(text) => Row::new("Was the care affected?", format!("{affected}: {text}")),
        None => Row::new("Was the care affected?", affected),
    });
    let told = match (correction.patient_told.value(), correction.patient_told.because()) {
        (Some(moment), _) => moment.plain(),
        (None, reason) => words::because(reason.unwrap_or_default()),
    };
    rows.push(Row::new("Patient told", told));
    if let Some(reason) = &correction.by_custodian_because {
        rows.push(Row::new("By the custodian, because", reason));
    }
    rows.extend(correction.amendment.map(|seq| Row::new("Answers the request", format!("no. {seq}"))));
    rows
}

fn addendum_rows(addendum: &Addendum) -> Vec<Row> {
    let mut rows = vec![
        Row::new("Adds to", format!("no. {}", addendum.target)),
        Row::new("New information", words::or_not_recorded(&addendum.text)),
    ];
    rows.extend(addendum.learned_at.map(|moment| Row::new("Became known", moment.plain())));
    if !addendum.attachments.is_empty() {
        rows.push(Row::new("Attachments", words::numbers(&addendum.attachments)));
    }
    rows
}

fn late_rows(late: &LateEntry) -> Vec<Row> {
    let mut rows = Vec::new();
    rows.extend(late.target.map(|seq| Row::new("Belongs to", format!("no. {seq}"))));
    rows.push(Row::new("Left out at the time", words::or_not_recorded(&late.text)));
    rows.push(Row::new("Why it was left out", words::or_not_recorded(&late.because)));
    rows.push(Row::new("Written from", words::or_not_recorded(&late.source)));
    rows
}

/// The rows of a record with its corrections laid over.
pub fn read_rows(record: &Record, mends: &[Mend]) -> Reading<Row> {
    lay(record, mends, rows)
}

/// A reading as a table of two columns, with the parts as headings.
pub fn table(reading: &Reading<Row>) -> String {
    let mut out = String::from("<table class=\"rows\"><tbody>\n");
    let mut part = "";
    for laid in &reading.lines {
        if laid.line.part != part {
            part = laid.line.part;
            out.push_str(&format!("<tr><th colspan=\"2\" class=\"part\">{}</th></tr>\n", esc(part)));
        }
        out.push_str(&row(laid));
    }
    for remark in &reading.remarks {
        out.push_str(&format!(
            "<tr><td class=\"l\">Remark</td><td><strong>{}</strong></td></tr>\n",
            said(remark)
        ));
    }
    out.push_str("</tbody></table>\n");
    out
}

fn row(laid: &Laid<Row>) -> String {
    let line = &laid.line;
    let depth = line.depth.min(4);
    let mut words = said(&line.text);
    if line.text.contains(words::NOT_RECORDED) {
        words = format!("<em>{words}</em>");
    }
    let mut label = said(&line.label);
    if let Some(mark) = &laid.struck_by {
        let nothing = if laid.nothing_beneath { "; nothing stands in its place" } else { "" };
        label = format!("<del>{label}</del>");
        words = format!(
            "<del>{words}</del> <span class=\"mark\">[struck by {}{nothing}]</span>",
            esc(&mark.words())
        );
    }
    if let Some(mark) = &laid.added_by {
        words = format!("<ins>{words}</ins>");
        words.push_str(&format!(" <span class=\"mark\">[new words, {}]</span>", esc(&mark.words())));
    }
    if line.label.is_empty() {
        return format!("<tr><td colspan=\"2\">{words}</td></tr>\n");
    }
    let group = if line.text.is_empty() { " class=\"g\"" } else { "" };
    format!("<tr{group}><td class=\"l d{depth}\">{label}</td><td>{words}</td></tr>\n")
}

/// A text that may be there.
pub fn maybe(out: &mut Vec<Row>, label: &str, text: Option<&String>) {
    if let Some(text) = text {
        out.push(Row::new(label, text));
    }
}

/// Who spoke, how, and the words.
pub fn spoken(out: &mut Vec<Row>, by: &crate::record::kinds::consent::GivenBy) {
    out.push(Row::new("Said by", giver(by)));
}

/// A given text under a label.
pub fn given_row(out: &mut Vec<Row>, label: &str, text: &crate::record::kinds::Given<String>) {
    out.push(Row::new(label, given(text)));
}

/// A fixed word as the start of a line.
pub fn word(word: &str) -> String {
    capital(&spaced(word))
}

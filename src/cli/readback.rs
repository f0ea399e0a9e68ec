//! Reading back what was answered, in plain words, before it is sealed.

use super::answer::AnswerKind;
use super::form::{Form, Question, is_reason};
use super::place;
use super::rows::RowSpec;
use super::table::shown;
use crate::record::moment::{Moment, parse_date, plain_date};
use crate::record::vocab::{Segment, Side};
use serde_json::Value;

impl Form {
    /// Every answer as a line "question: answer", in the order of the questions. What the data
    /// holds beyond the questions is read back too: nobody should sign what they were not shown.
    pub fn read_back(&self, answers: &Value) -> Vec<String> {
        let mut lines = Vec::new();
        let mut told: Vec<&str> = Vec::new();
        for question in &self.questions {
            let null_counts = question.kind.null_counts();
            if told.contains(&question.path) || !place::answered(answers, question.path, null_counts) {
                continue;
            }
            // Of two questions for one place, the one that applies is the one that was answered.
            let rival = |other: &Question| other.path == question.path && other.applies(answers);
            if !question.applies(answers) && self.questions.iter().any(rival) {
                continue;
            }
            // The reason why there is no value has its own question, or is read back with the rest.
            if place::get(answers, question.path).is_some_and(is_reason) {
                continue;
            }
            told.push(question.path);
            if let Some(value) = place::get(answers, question.path) {
                tell(question, value, &mut lines);
            }
        }
        for (path, value) in place::leaves(answers) {
            if !path.is_empty() && !value.is_null() && !told.iter().any(|told| is_within(&path, told)) {
                let name = path.trim_start_matches('/').replace('/', " / ").replace('_', " ");
                lines.push(shown(&format!("Also given, {name}: {}", any_plain(value))));
            }
        }
        lines
    }
}

fn is_within(path: &str, told: &str) -> bool {
    path.strip_prefix(told).is_some_and(|rest| rest.is_empty() || rest.starts_with('/'))
}

fn tell(question: &Question, value: &Value, lines: &mut Vec<String>) {
    let ask = question.ask.trim_end_matches(['?', ':', '.', ' ']);
    match (question.kind, value) {
        (AnswerKind::Rows(spec), Value::Array(rows)) => {
            for (index, row) in rows.iter().enumerate() {
                lines.push(shown(&format!("{ask} ({}): {}", index + 1, row_plain(spec, row))));
            }
            if rows.is_empty() {
                lines.push(format!("{ask}: none"));
            }
        }
        (kind, value) => lines.push(shown(&format!("{ask}: {}", plain(kind, value)))),
    }
}

fn row_plain(spec: &RowSpec, row: &Value) -> String {
    let mut told = Vec::new();
    for column in spec.columns {
        let Some(value) = place::get(row, column.path) else { continue };
        if value.is_null() && !column.kind.null_counts() {
            continue;
        }
        let value = plain(column.kind, value);
        // "between C5 and C6" needs no label before it.
        told.push(match column.kind {
            AnswerKind::Segment => value,
            AnswerKind::Segments { .. } if value != "all" => value,
            _ => format!("{} {value}", column.name.replace(['-', '_'], " ")),
        });
    }
    for (path, value) in place::leaves(row) {
        let known = spec.columns.iter().any(|column| is_within(&path, column.path));
        if !known && !value.is_null() {
            told.push(format!("{} {}", path.trim_start_matches('/'), any_plain(value)));
        }
    }
    told.join(", ")
}

/// One answer in plain words. What is not of the kind is given as JSON.
pub fn plain(kind: AnswerKind, value: &Value) -> String {
    match (kind, value) {
        (AnswerKind::Number { unit, .. }, Value::Number(number)) if !unit.is_empty() => {
            format!("{number} {unit}")
        }
        (AnswerKind::Date, Value::String(text)) => date_plain(text),
        (AnswerKind::Moment, Value::String(text)) => moment_plain(text),
        (AnswerKind::OneOf(choices), Value::String(word)) => word_plain(word, choices),
        (AnswerKind::ManyOf { choices, .. }, Value::Array(words)) => {
            joined(words, |word| word_plain(word, choices))
        }
        (AnswerKind::Segment, Value::String(word)) => segment_plain(word),
        (AnswerKind::Segments { .. }, Value::Array(words)) => joined(words, segment_plain),
        (AnswerKind::Each(words), Value::Object(map)) => map
            .iter()
            .map(|(name, word)| {
                let word = word.as_str().map_or_else(|| word.to_string(), |word| word_plain(word, words));
                format!("{} {word}", name.replace('-', " "))
            })
            .collect::<Vec<_>>()
            .join(", "),
        (AnswerKind::LongWords, Value::String(text)) => text.replace('\n', " / "),
        (kind, value) => kind.write(value),
    }
}

fn joined(words: &[Value], plain: impl Fn(&str) -> String) -> String {
    if words.is_empty() {
        return "none".to_owned();
    }
    let told: Vec<String> =
        words.iter().map(|word| word.as_str().map_or_else(|| word.to_string(), &plain)).collect();
    told.join(", ")
}

fn any_plain(value: &Value) -> String {
    value.as_str().map_or_else(|| value.to_string(), str::to_owned)
}

fn date_plain(text: &str) -> String {
    parse_date(text).map_or_else(|| text.to_owned(), plain_date)
}

fn moment_plain(text: &str) -> String {
    let Ok(moment) = Moment::parse(text) else { return text.to_owned() };
    let east = moment.offset_seconds() / 60;
    let sign = if east < 0 { '-' } else { '+' };
    let east = east.abs();
    format!("{} (UTC{sign}{:02}:{:02})", moment.plain(), east / 60, east % 60)
}

fn word_plain(word: &str, choices: &[&str]) -> String {
    let of_sides = choices.iter().all(|choice| Side::from_word(choice).is_some());
    match Side::from_word(word).filter(|_| of_sides) {
        Some(Side::Both) => "both sides".to_owned(),
        Some(Side::Midline) => "in the midline".to_owned(),
        _ => word.replace('-', " "),
    }
}

/// A segment in full words: `between C5 and C6`, `SI joint`, `rib 6`.
pub fn segment_plain(word: &str) -> String {
    match Segment::from_word(word) {
        Some(Segment::Si) => "SI joint".to_owned(),
        Some(segment) if segment.order().is_some() => {
            word.split_once('-').map_or_else(|| word.to_owned(), |(a, b)| format!("between {a} and {b}"))
        }
        Some(_) => word.replace('-', " "),
        None => word.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::super::rows::Column;
    use super::*;
    use crate::record::vocab::Technique;
    use serde_json::json;

    const ROW: RowSpec = RowSpec {
        what: "treatment",
        columns: &[
            Column {
                name: "technique",
                path: "/technique",
                kind: AnswerKind::OneOf(Technique::WORDS),
                required: true,
                help: "",
            },
            Column {
                name: "side",
                path: "/side",
                kind: AnswerKind::OneOf(Side::WORDS),
                required: false,
                help: "",
            },
            Column {
                name: "segment",
                path: "/segments",
                kind: AnswerKind::Segments { all: true },
                required: false,
                help: "",
            },
        ],
    };

    #[test]
    fn sides_segments_and_times_are_in_full_words() {
        let form = Form::new([
            Question::new("at", "When did it happen?", "/at", AnswerKind::Moment),
            Question::new("side", "Which side?", "/side", AnswerKind::OneOf(Side::WORDS)),
            Question::new("segments", "Where:", "/segments", AnswerKind::Segments { all: true }),
            Question::new(
                "opening",
                "Mouth opening",
                "/mm",
                AnswerKind::Number { min: 0.0, max: 80.0, unit: "mm" },
            ),
            Question::new("done", "What was done?", "/done", AnswerKind::Rows(&ROW)),
            Question::new("skipped", "Skipped?", "/skipped", AnswerKind::Words).optional(),
        ]);
        let answers = json!({
            "at": "2025-03-11T09:40:00-04:00", "side": "both", "segments": ["C5-C6", "SI", "rib-6"], "mm": 34,
            "done": [{"technique": "soft-tissue", "side": "left", "segments": ["C5-C6"], "grade": 3},
                     {"technique": "thrust", "segments": null}],
            "note": {"more": "from\u{1b}a file"}
        });
        assert_eq!(
            form.read_back(&answers),
            [
                "When did it happen: 11 Mar 2025 09:40 (UTC-04:00)",
                "Which side: both sides",
                "Where: between C5 and C6, SI joint, rib 6",
                "Mouth opening: 34 mm",
                "What was done (1): technique soft tissue, side left, between C5 and C6, grade 3",
                "What was done (2): technique thrust, segment all",
                "Also given, note / more: from<U+001B>a file",
            ]
        );
    }
}

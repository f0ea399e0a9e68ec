//! A topic for people: what its input looks like, and its answer in plain words.

use super::{
    ReckonError, Topic, accounting, age, authorization, change, deadlines, deidentification, fees,
    late_entry, part, plausibility, retention, segments, topic, xray,
};
use crate::record::tables::{Tables, toml_json};
use serde_json::Value;
use std::sync::OnceLock;

const TOPICS: &str = include_str!("topics.toml");

fn described(word: &str) -> Option<&'static Value> {
    static READ: OnceLock<Value> = OnceLock::new();
    READ.get_or_init(|| toml_json::read(TOPICS).unwrap_or_default()).get(word)
}

/// What a topic asks for and answers, as lines of text.
pub fn about(topic: &Topic) -> Vec<String> {
    let mut lines = vec![format!("{}: {}", topic.word, topic.question)];
    let Some(described) = described(topic.word) else { return lines };
    if let Some(tables) = described.get("tables").and_then(Value::as_str) {
        lines.push(format!("Figures from {tables}"));
    }
    for (part, title) in [("input", "Input:"), ("answer", "Answer:"), ("words", "Words:")] {
        let Some(fields) = described.get(part).and_then(Value::as_object) else { continue };
        lines.push(title.to_string());
        lines.extend(fields.iter().map(|(name, meaning)| format!("  {name}: {}", words(meaning))));
    }
    lines
}

/// The answer of a topic for a person.
///
/// # Errors
/// As the topic's own answer.
pub fn plain(word: &str, input: &Value, tables: &Tables) -> Result<Vec<String>, ReckonError> {
    match word {
        "age" => age::plain(input, tables),
        "change" => change::plain(input, tables),
        "late_entry" => late_entry::plain(input, tables),
        "part" => part::plain(input, tables),
        "plausibility" => plausibility::plain(input, tables),
        "segments" => segments::plain(input, tables),
        "xray" => xray::plain(input, tables),
        "retention" => Ok(retention::words(&retention::answer(input, tables)?)),
        "deadlines" => Ok(deadlines::words(&deadlines::answer(input, tables)?)),
        "accounting" => Ok(accounting::words(&accounting::answer(input, tables)?)),
        "authorization" => Ok(authorization::words(&authorization::answer(input, tables)?)),
        "fees" => Ok(fees::words(&fees::answer(input, tables)?)),
        "deidentification" => Ok(deidentification::words(&deidentification::answer(input, tables)?)),
        _ => {
            let topic = topic(word).ok_or_else(|| ReckonError(format!("there is no topic \"{word}\"")))?;
            Ok(lines_of(&(topic.answer)(input, tables)?))
        }
    }
}

/// Fields of an answer, one a line.
fn lines_of(answer: &Value) -> Vec<String> {
    match answer {
        Value::Object(fields) => fields
            .iter()
            .map(|(name, value)| format!("{}: {}", name.replace('_', " "), words(value)))
            .collect(),
        other => vec![words(other)],
    }
}

/// A value in plain words.
fn words(value: &Value) -> String {
    match value {
        Value::Null => "none".to_string(),
        Value::Bool(yes) => (if *yes { "yes" } else { "no" }).to_string(),
        Value::String(text) => text.clone(),
        Value::Array(items) if items.is_empty() => "none".to_string(),
        Value::Array(items) => {
            let parted = items.iter().map(words).collect::<Vec<_>>();
            parted.join(if items.iter().any(Value::is_object) { "; " } else { ", " })
        }
        Value::Object(fields) => fields
            .iter()
            .map(|(name, value)| format!("{name} {}", words(value)))
            .collect::<Vec<_>>()
            .join(", "),
        other => other.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::super::TOPICS as ALL;
    use super::*;
    use serde_json::json;

    #[test]
    fn every_topic_says_what_it_asks_for_and_no_other_is_described() {
        let read = toml_json::read(TOPICS).unwrap();
        for topic in ALL {
            let lines = about(topic);
            assert!(
                lines.iter().any(|l| l == "Input:") && lines.iter().any(|l| l == "Answer:"),
                "{}",
                topic.word
            );
        }
        assert_eq!(read.as_object().unwrap().len(), ALL.len());
    }

    #[test]
    fn a_level_is_told_in_a_sentence() {
        let tables = Tables::shipped().unwrap();
        for (text, told) in [
            ("C56", "C56 means the segment C5-C6."),
            ("T1-12", "T1-12 is not taken: a joint lies between two neighbors, like C5-C6."),
            ("L4", "L4 means the level L4."),
            ("T12", "T12 may mean the level T12, or the segment T1-T2. Write T12 or T1-T2."),
        ] {
            let asked = serde_json::json!({ "text": text, "use": "adjust" });
            assert_eq!(plain("segments", &asked, tables).unwrap(), [told]);
        }
    }

    /// One question of each topic that has a sentence of its own, as a person reads the answer.
    #[test]
    fn answers_are_told_in_sentences() {
        let tables = Tables::shipped().unwrap();
        let told = |topic: &str, asked: Value| plain(topic, &asked, tables).unwrap().join("\n");
        let born = json!({ "ask": "is_minor", "born": "2007-06-15", "on": "2025-06-14", "majority_age": 18 });
        assert_eq!(told("age", born.clone()), "Born 15 Jun 2007: a minor on 14 Jun 2025 (majority at 18).");
        let mut of_age = born;
        of_age["on"] = json!("2025-06-15");
        assert_eq!(told("age", of_age), "Born 15 Jun 2007: no minor on 15 Jun 2025 (majority at 18).");
        let attains = json!({ "ask": "attains", "born": "2007-06-15", "age": 18 });
        assert_eq!(told("age", attains), "Born 15 Jun 2007: attains 18 years at the start of 15 Jun 2025.");
        let age = json!({ "ask": "age", "born": "2007-06-15", "on": "2025-06-14" });
        assert_eq!(told("age", age), "Born 15 Jun 2007: 17 years old on 14 Jun 2025.");
        let late = |written: &str, notice: Option<&str>, hold: Option<&str>| {
            let asked = json!({ "ask": "timing", "event_at": "2024-05-06T09:00:00-04:00", "written_at": written,
                "limit_hours": 24, "notice_at": notice, "hold_at": hold });
            told("late_entry", asked)
        };
        assert_eq!(late("2024-05-06T15:35:00-04:00", None, None), "Written on the day it happened.");
        let next_day = "Written on a later day, within the limit of 24 hours.";
        assert_eq!(late("2024-05-07T09:00:00-04:00", None, None), next_day);
        let then = Some("2024-05-07T09:00:30-04:00");
        let much_later = "Late entry: written more than 24 hours after it happened.\nMarked: written after";
        let (notice, hold) = ("notice of a claim or complaint.", "a legal hold was placed.");
        assert_eq!(late("2024-05-07T09:01:00-04:00", then, None), format!("{much_later} {notice}"));
        assert_eq!(late("2024-05-07T09:01:00-04:00", None, then), format!("{much_later} {hold}"));
        assert_eq!(late("2024-05-06T08:00:00-04:00", None, None), "It can't be written before it happened.");
        let window = "An X-ray for a course begun 10 Mar 2024 counts when taken from 10 Mar 2023 through 10 Jun 2024.\n";
        let xray = |day: &str| told("xray", json!({ "course_start": "2024-03-10", "taken": day }));
        assert_eq!(xray("2023-03-10"), format!("{window}Taken 10 Mar 2023: it counts."));
        assert_eq!(xray("2023-03-09"), format!("{window}Taken 09 Mar 2023: it does not count."));
        let ndi = |answered: u32| json!({ "ask": "ndi_score", "sum": 12, "answered": answered });
        assert!(told("change", ndi(10)).starts_with("12 from 10 items answered: 24"));
        assert_eq!(told("change", ndi(2)), "12 from 2 items can't be scored.");
        let met = told("part", json!({ "found": ["a", "T"], "xray_in_window": false }));
        assert!(met.contains("\nMedicare: yes (2 of P, A, R, T") && met.contains("\nOregon: yes ("), "{met}");
        let met = told("part", json!({ "found": ["T"], "xray_in_window": false }));
        assert!(met.contains("\nMedicare: no (") && met.contains("\nOregon: no ("), "{met}");
        let empty = told("authorization", json!({ "ask": "complete", "form": {} }));
        assert!(empty.starts_with("The authorization lacks: ") && empty.contains("; to whom; "), "{empty}");
        // No sentence of its own: its fields, in words; and no such topic.
        assert!(plain("weather", &json!({}), tables).is_err());
        let fields = lines_of(
            &json!({ "may_go": true, "left": [], "days": [1, 2], "of": [{ "a": null }, { "b": "x" }] }),
        );
        assert_eq!(fields, ["may go: yes", "left: none", "days: 1, 2", "of: a none; b x"]);
        assert_eq!(lines_of(&json!(false)), ["no"]);
    }

    /// Questions of the given checks (tests/data/reckon, each with its source) in the topics of the desk.
    #[test]
    fn the_desk_is_told_in_sentences_too() {
        let tables = Tables::shipped().unwrap();
        for (topic, asked, first) in [
            (
                "retention",
                json!({ "ask": "chart", "rules": ["us-az-32-2936"], "born": "2010-06-15", "services": ["2024-03-10"] }),
                "Keep through Mon 10 Mar 2031 (by us-az-32-2936).",
            ),
            (
                "deadlines",
                json!({ "ask": "due", "clock": "us-hipaa-access", "received": "2025-02-14" }),
                "Due Sun 16 Mar 2025.",
            ),
            (
                "accounting",
                json!({ "ask": "classify", "disclosed_for": "court_or_tribunal" }),
                "It belongs in an accounting.",
            ),
            (
                "fees",
                json!({ "ask": "federal", "method": "flat", "amount_cents": 651, "held_electronically": true,
                    "copy": "electronic", "told_in_advance": true }),
                "The fee is not allowed.",
            ),
            (
                "deidentification",
                json!({ "ask": "zip", "zip": "22191" }),
                "Of the postal code may stay: 221.",
            ),
            ("plausibility", json!({ "measure": "pain", "value": 7, "unit": "0-10" }), "Taken."),
        ] {
            assert_eq!(plain(topic, &asked, tables).unwrap()[0], first, "{topic}");
        }
    }

    #[test]
    fn a_threshold_is_told_with_its_figure_and_unit() {
        use super::super::change::threshold_words;
        let tables = Tables::shipped().unwrap();
        let said: Vec<String> = tables.trade.threshold.iter().map(threshold_words).collect();
        let unit = |words: &str| said.iter().any(|line| line.contains(words));
        assert!(
            unit(" points: ") && unit(" mm: ") && unit(" deg: ") && unit(" percentage points: "),
            "{said:?}"
        );
        assert!(said.iter().any(|line| line.starts_with("more than ")), "{said:?}");
        assert!(said.iter().any(|line| line.starts_with(|c: char| c.is_ascii_digit())));
    }
}

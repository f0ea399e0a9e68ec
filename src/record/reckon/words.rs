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
}

//! One rule of the trade worked out by itself, without a store: input and answer are data.
//! Each topic is a pure function of its input and the published tables.

pub mod accounting;
pub mod age;
mod ask;
pub mod authorization;
pub mod change;
pub mod deadlines;
pub mod deidentification;
pub mod fees;
pub mod instant;
pub mod late_entry;
pub mod pairs;
pub mod part;
pub mod plausibility;
pub mod regions;
pub mod retention;
pub mod segments;
pub mod units;
pub mod words;
pub mod xray;

use crate::record::tables::Tables;
use serde::de::DeserializeOwned;
use serde_json::Value;

/// Why a question can't be worked out: the input is not one.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{0}")]
pub struct ReckonError(pub String);

/// One topic.
pub struct Topic {
    /// Its word.
    pub word: &'static str,
    /// The question it answers.
    pub question: &'static str,
    /// Works it out.
    pub answer: fn(&Value, &Tables) -> Result<Value, ReckonError>,
}

/// Every topic.
pub const TOPICS: &[Topic] = &[
    Topic {
        word: "retention",
        question: "Through which day must a record be kept, by which rule, and what stops its disposal?",
        answer: retention::answer,
    },
    Topic {
        word: "deadlines",
        question: "When is an answer due, when at the latest with an extension, and is an extension good?",
        answer: deadlines::answer,
    },
    Topic {
        word: "accounting",
        question: "Which disclosures must an accounting tell, for which period, and may a fee be asked?",
        answer: accounting::answer,
    },
    Topic {
        word: "authorization",
        question: "Is an authorization complete, and may it be used on a given day?",
        answer: authorization::answer,
    },
    Topic { word: "fees", question: "Is a fee for a copy allowed?", answer: fees::answer },
    Topic {
        word: "part",
        question: "Do the findings show what Medicare's test, and Oregon's, ask for?",
        answer: part::answer,
    },
    Topic { word: "xray", question: "Does an X-ray count for a course of treatment?", answer: xray::answer },
    Topic {
        word: "regions",
        question: "Which regions do the structures treated count to?",
        answer: regions::answer,
    },
    Topic { word: "segments", question: "What does a typed spinal level mean?", answer: segments::answer },
    Topic {
        word: "plausibility",
        question: "Is a typed value refused, asked about, or taken?",
        answer: plausibility::answer,
    },
    Topic {
        word: "change",
        question: "Which published thresholds does a change reach?",
        answer: change::answer,
    },
    Topic { word: "age", question: "How old is a person on a day?", answer: age::answer },
    Topic {
        word: "late_entry",
        question: "Is an entry late, what is it to be called, and would a reviewer take it?",
        answer: late_entry::answer,
    },
    Topic {
        word: "deidentification",
        question: "What may stay in data that no longer identify anybody?",
        answer: deidentification::answer,
    },
];

/// The topic of this word.
pub fn topic(word: &str) -> Option<&'static Topic> {
    TOPICS.iter().find(|t| t.word == word)
}

/// Reads the input of a topic.
fn input<T: DeserializeOwned>(value: &Value) -> Result<T, ReckonError> {
    serde_json::from_value(value.clone()).map_err(|e| ReckonError(e.to_string()))
}

/// Writes the answer of a topic.
fn output<T: serde::Serialize>(answer: &T) -> Result<Value, ReckonError> {
    serde_json::to_value(answer).map_err(|e| ReckonError(e.to_string()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    /// The first of the given checks of each topic; each names its source there. `tests/reckon.rs` tries them all.
    #[test]
    fn each_topic_is_found_by_its_word_and_answers() {
        let given: Value =
            serde_json::from_str(include_str!("../../../tests/data/reckon/checks-given.json")).unwrap();
        let mut seen = BTreeSet::new();
        for check in given["checks"].as_array().unwrap() {
            let word = check["topic"].as_str().unwrap();
            if seen.insert(word) {
                let answer = (topic(word).unwrap().answer)(&check["input"], Tables::shipped().unwrap());
                assert_eq!(answer.as_ref(), Ok(&check["expect"]), "{}", check["id"]);
            }
        }
        assert_eq!(seen.len(), TOPICS.len());
        assert!(topic("weather").is_none() && topic("").is_none());
    }
}

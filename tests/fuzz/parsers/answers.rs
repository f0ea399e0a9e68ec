//! Answers to questions: refused in words, or read so that what is written of them reads the same.

use inkfast::cli::answer::{AnswerKind, Given};
use inkfast::cli::clock::Now;
use inkfast::cli::rows::{Column, RowSpec};
use inkfast::record::moment::Moment;

const WORDS: &[&str] = &["left", "right", "both", "not-asked"];
const ROWS: RowSpec = RowSpec {
    what: "finding",
    columns: &[
        Column { name: "side", path: "/at/side", kind: AnswerKind::OneOf(WORDS), required: true, help: "" },
        Column {
            name: "pain",
            path: "/pain",
            kind: AnswerKind::Whole { min: 0, max: 10 },
            required: false,
            help: "",
        },
        Column { name: "words", path: "/words", kind: AnswerKind::Words, required: false, help: "" },
        Column { name: "on", path: "/on", kind: AnswerKind::Date, required: false, help: "" },
    ],
};
const KINDS: [AnswerKind; 16] = [
    AnswerKind::Words,
    AnswerKind::LongWords,
    AnswerKind::YesNo,
    AnswerKind::Whole { min: -3, max: 300 },
    AnswerKind::Number { min: 0.0, max: 400.5, unit: "mm" },
    AnswerKind::Amount,
    AnswerKind::Date,
    AnswerKind::Moment,
    AnswerKind::OneOf(WORDS),
    AnswerKind::ManyOf { choices: WORDS, all: true },
    AnswerKind::Segment,
    AnswerKind::Segments { all: true },
    AnswerKind::List { all: true },
    AnswerKind::Numbers,
    AnswerKind::Each(WORDS),
    AnswerKind::Rows(&ROWS),
];

/// Tries one input: one byte for the kind of answer, then what was typed.
pub fn try_one(bytes: &[u8]) {
    let Some((which, typed)) = bytes.split_first() else { return };
    let Ok(text) = std::str::from_utf8(typed) else { return };
    let now = Now::fixed(Moment::parse("2025-03-11T09:40:00-04:00").unwrap());
    let kind = KINDS[usize::from(*which) % KINDS.len()];
    for given in [Given::ByFlag, Given::ByHand] {
        match kind.read(text, &now, given) {
            Ok(value) => {
                let written = kind.write(&value);
                assert_eq!(
                    kind.read(&written, &now, Given::ByFlag),
                    Ok(value),
                    "{kind:?} written as {written:?}"
                );
            }
            Err(why) => assert!(!why.is_empty()),
        }
    }
    let _ = AnswerKind::Json.read(text, &now, Given::ByFlag);
}

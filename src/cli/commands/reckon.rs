//! `reckon`: one rule of the trade worked out by itself. No store is opened.

use crate::cli::context::Context;
use crate::cli::exit::Exit;
use crate::record::reckon::{TOPICS, Topic, topic, units, words};
use crate::record::rulebook::{RuleBook, read};
use crate::record::tables::Tables;
use crate::trouble::{Outcome, Trouble};
use clap::{Arg, Command};
use serde::Serialize;
use serde_json::{Map, Value, json};
use std::path::{Path, PathBuf};

/// Options of `reckon`.
pub fn command() -> Command {
    let path = |name: &'static str| {
        Arg::new(name).long(name).value_name("FILE").value_parser(clap::value_parser!(PathBuf))
    };
    Command::new("reckon")
        .about("Work out one rule of the trade from given figures: no store, no patient")
        .arg(Arg::new("topic").value_name("TOPIC").help("Which rule; none lists them"))
        .arg(
            Arg::new("words")
                .value_name("WORDS")
                .num_args(0..)
                .allow_negative_numbers(true)
                .help("A short question, or fields as NAME=VALUE; none tells what the topic asks for"),
        )
        .arg(
            path("input").help("The question as JSON: one object, or a list of them; - reads standard input"),
        )
        .arg(path("rules").help("A rules file whose tables are used [default: those shipped]"))
        .after_help(EXAMPLES)
}

const EXAMPLES: &str = "Examples:\n  \
    inkfast reckon segments T12\n  \
    inkfast reckon age 2007-02-28 2024-06-01\n  \
    inkfast reckon part P A\n  \
    inkfast reckon xray 2024-03-10 2023-05-01\n  \
    inkfast reckon plausibility mouth_opening 1.75in\n  \
    inkfast reckon change --input questions.json --json\n\
    A list of questions gives a list of answers in the same order. If one of them can't be worked out,\n\
    none is answered: the message says which, and the exit code is 4.";

/// Runs `reckon`.
pub fn run(context: &mut Context<'_>) -> Outcome<Exit> {
    let Some(word) = context.text("topic") else {
        let lines: Vec<String> = TOPICS.iter().map(|t| format!("{:<18} {}", t.word, t.question)).collect();
        context.say(&lines.join("\n"))?;
        return Ok(Exit::Done);
    };
    let topic = topic(&word).ok_or_else(|| {
        let known: Vec<&str> = TOPICS.iter().map(|t| t.word).collect();
        Trouble::input("There is no such topic.", format!("Use one of: {}.", known.join(", ")))
    })?;
    let typed: Vec<String> =
        context.matches.get_many::<String>("words").into_iter().flatten().cloned().collect();
    let question = match (context.path("input"), typed.is_empty()) {
        (Some(_), false) => {
            return Err(Trouble::input("Both --input and words were given.", "Give one of them."));
        }
        (Some(path), true) => read_input(&path)?,
        (None, false) => from_words(topic.word, &typed)?,
        (None, true) => {
            context.say(&words::about(topic).join("\n"))?;
            return Ok(Exit::Done);
        }
    };
    let tables = tables(context.path("rules").as_deref())?;
    if context.json() {
        let answer = all(topic, &question, |one| (topic.answer)(one, &tables).map_err(|e| e.0))?;
        context.say_json(&answer)?;
    } else {
        let plain = |one: &Value| words::plain(topic.word, one, &tables).map_err(|e| e.0);
        match all(topic, &question, |one| Ok(plain(one)?.join("\n")))? {
            Answers::One(text) => context.say(&text)?,
            Answers::Several(texts) => context.say(&texts.join("\n\n"))?,
        }
    }
    Ok(Exit::Done)
}

/// The answer to one question, or to each of a list in its order.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, schemars::JsonSchema)]
#[serde(untagged)]
pub enum Answers<T> {
    /// To one object.
    One(T),
    /// To a list of objects.
    Several(Vec<T>),
}

/// What `reckon` prints with `--json`: the fields of an answer are those its topic names.
pub type ReckonOutput = Answers<Map<String, Value>>;

/// Answers one question, or every question of a list; the first that can't be ends the run.
fn all<T>(
    topic: &Topic,
    question: &Value,
    mut answer: impl FnMut(&Value) -> Result<T, String>,
) -> Outcome<Answers<T>> {
    let cannot = |which: String, why: String| {
        Trouble::input(
            format!("{which} can't be worked out: {why}."),
            format!("`inkfast reckon {}` tells what the input looks like.", topic.word),
        )
    };
    match question {
        Value::Array(list) => {
            let mut answers = Vec::with_capacity(list.len());
            for (index, one) in list.iter().enumerate() {
                let which = || format!("Question {} of {}", index + 1, list.len());
                answers.push(answer(one).map_err(|why| cannot(which(), why))?);
            }
            Ok(Answers::Several(answers))
        }
        Value::Object(_) => {
            answer(question).map(Answers::One).map_err(|why| cannot("The question".to_string(), why))
        }
        _ => Err(cannot("The input".to_string(), "it is neither an object nor a list of them".to_string())),
    }
}

fn read_input(path: &Path) -> Outcome<Value> {
    let read = if path == Path::new("-") {
        std::io::read_to_string(std::io::stdin())
    } else {
        std::fs::read_to_string(path)
    };
    let text = read.map_err(|e| Trouble::disk("read", path, &e))?;
    serde_json::from_str(&text).map_err(|e| {
        let place = format!("line {}, column {}", e.line(), e.column());
        Trouble::input(format!("The input is not JSON: {place}."), "Write one object, or a list of them.")
    })
}

fn tables(path: Option<&Path>) -> Outcome<Tables> {
    let Some(path) = path else {
        return Tables::shipped().cloned().map_err(|why| {
            Trouble::input(format!("The shipped tables can't be read: {why}."), "Tell the makers.")
        });
    };
    let text = std::fs::read_to_string(path).map_err(|e| Trouble::disk("read", path, &e))?;
    read::file(&text).and_then(|rules| RuleBook::read(&rules.document)).map(|book| book.tables).map_err(
        |why| {
            Trouble::input(
                format!("The rules file can't be read: {why}."),
                "Compare it with `inkfast rules example`.",
            )
        },
    )
}

/// A short question as typed by a person, or fields as NAME=VALUE.
fn from_words(topic: &str, typed: &[String]) -> Outcome<Value> {
    if typed.iter().all(|word| word.contains('=')) {
        let fields = typed.iter().filter_map(|word| word.split_once('='));
        return Ok(Value::Object(fields.map(|(name, text)| (name.to_string(), field(text))).collect()));
    }
    let words: Vec<&str> = typed.iter().map(String::as_str).collect();
    Ok(match (topic, words.as_slice()) {
        ("age", [born, on]) => json!({ "ask": "age", "born": born, "on": on }),
        ("part", letters) => json!({ "found": letters }),
        ("segments", [text]) => json!({ "text": text, "use": "adjust" }),
        ("segments", [text, used]) => json!({ "text": text, "use": used }),
        ("regions", structures) => json!({ "structures": structures }),
        ("xray", [start, taken]) => json!({ "course_start": start, "taken": taken }),
        ("plausibility", ["blood_pressure", upper, lower]) => {
            json!({ "measure": "blood_pressure", "systolic": upper, "diastolic": lower })
        }
        ("plausibility", [measure @ ("strength" | "reflex"), grade]) => {
            json!({ "measure": measure, "grade": grade })
        }
        ("plausibility", [measure, value]) => {
            let (number, unit) = units::split(value);
            plausible(measure, number, unit)
        }
        ("plausibility", [measure, value, unit @ ..]) if !unit.is_empty() => {
            plausible(measure, value, &unit.join(" "))
        }
        _ => {
            return Err(Trouble::input(
                "These words are no short question of this topic.",
                format!("`inkfast reckon {topic}` tells what it asks for; give fields as NAME=VALUE."),
            ));
        }
    })
}

fn plausible(measure: &str, number: &str, unit: &str) -> Value {
    let mut question = Map::new();
    question.insert("measure".to_string(), json!(measure));
    question.insert("value".to_string(), json!(number));
    if !unit.is_empty() {
        question.insert("unit".to_string(), json!(unit));
    }
    Value::Object(question)
}

/// A field typed as text: JSON where it is JSON, else the text itself.
fn field(text: &str) -> Value {
    serde_json::from_str(text).unwrap_or_else(|_| json!(text))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn typed(topic: &str, words: &[&str]) -> Outcome<Value> {
        from_words(topic, &words.iter().map(|w| (*w).to_string()).collect::<Vec<_>>())
    }

    #[test]
    fn short_questions_become_the_input_of_their_topic() {
        let tables = Tables::shipped().unwrap();
        for (word, words, expected) in [
            ("age", &["2007-02-28", "2024-06-01"][..], json!({ "age": 17 })),
            ("part", &["P", "A"], json!({ "medicare": true, "oregon": true })),
            ("plausibility", &["pain", "11"], json!({ "outcome": "refuse" })),
            ("plausibility", &["mouth_opening", "1.75in"], json!({ "outcome": "ok", "base_value": 44.45 })),
            ("plausibility", &["temperature", "38.4", "deg", "C"], json!({ "outcome": "ask" })),
            ("plausibility", &["blood_pressure", "182", "96"], json!({ "outcome": "ask" })),
            ("plausibility", &["measure=reflex_pair", "left=2", "right=2+"], json!({ "outcome": "ok" })),
            (
                "xray",
                &["2024-03-10", "2023-05-01"],
                json!({ "from": "2023-03-10", "through": "2024-06-10", "accepted": "yes" }),
            ),
        ] {
            let question = typed(word, words).unwrap();
            assert_eq!((topic(word).unwrap().answer)(&question, tables), Ok(expected), "{word} {words:?}");
        }
        assert!(typed("change", &["5", "4"]).is_err());
        assert!(typed("age", &["2007-02-28"]).is_err());
    }

    #[test]
    fn one_question_that_cannot_be_worked_out_is_named_and_ends_the_run() {
        let topic = topic("age").unwrap();
        let tables = Tables::shipped().unwrap();
        let good = json!({ "ask": "age", "born": "2000-02-29", "on": "2018-03-01" });
        let bad = json!({ "ask": "age", "born": "2007-02-29", "on": "2024-06-01" });
        let answer = |q: &Value| all(topic, q, |one| (topic.answer)(one, tables).map_err(|e| e.0));
        let eighteen = json!({ "age": 18 });
        assert_eq!(
            answer(&json!([good, good])).unwrap(),
            Answers::Several(vec![eighteen.clone(), eighteen.clone()])
        );
        assert_eq!(answer(&good).unwrap(), Answers::One(eighteen));
        let trouble = answer(&json!([good, bad])).unwrap_err();
        assert!(trouble.what.starts_with("Question 2 of 2"), "{trouble}");
        assert!(answer(&json!(7)).is_err());
        assert_eq!(answer(&json!([])).unwrap(), Answers::Several(vec![]));
    }
}

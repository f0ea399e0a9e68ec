//! Every form, asked of a scripted person with answers from an invented practice.

use super::super::clock::Now;
use super::super::data::add_data_arg;
use super::super::form::FormError;
use super::super::place;
use super::super::prompt::ScriptedAsker;
use super::*;
use crate::record::envelope::Record;
use crate::record::kinds::{Data, Level, info};
use crate::record::moment::Moment;
use clap::Command;
use serde_json::{Value, json};
use std::collections::BTreeSet;
use std::convert::Infallible;

mod guided;
mod screens;
mod scripted;

/// Flags every command has, and those a command adds for the head of the entry.
const RESERVED: &[&str] = &[
    "store",
    "outside",
    "as",
    "json",
    "data",
    "passphrase-file",
    "passphrase-fd",
    "station",
    "help",
    "version",
    "file",
    "to",
    "passphrase",
    "chart",
    "visit",
    "at",
    "happened",
];

fn now() -> Now {
    Now::fixed(Moment::parse("2025-07-14T10:14:00-04:00").unwrap())
}

fn form_of(name: &str) -> Asks {
    every().into_iter().find(|asks| asks.name == name).unwrap_or_else(|| panic!("no form {name}"))
}

/// Runs a form with flags only (nobody to ask) or with lines typed at its questions.
fn run(
    form: &Form,
    start: Value,
    args: &[&str],
    mut asker: ScriptedAsker,
) -> (Result<Value, FormError>, String) {
    let cmd = add_data_arg(form.clap_args(Command::new("x")));
    let matches = cmd.try_get_matches_from(std::iter::once("x").chain(args.iter().copied())).unwrap();
    let result = form.fill(&matches, start, &mut asker, &now(), &mut |_| Ok::<(), Infallible>(()));
    let left: Vec<&String> = asker.lines.iter().collect();
    if result.is_ok() {
        assert!(left.is_empty(), "lines nobody asked for: {left:?}\n{}", asker.shown());
    }
    (result, asker.shown())
}

/// The form of this name filled by flags alone.
fn by_flags(form: &Form, start: Value, args: &[&str]) -> Value {
    let (result, shown) = run(form, start, args, ScriptedAsker::nobody());
    result.unwrap_or_else(|fault| panic!("{fault}\n{shown}"))
}

/// Asks at a terminal; each line of `lines` is "flag: what is typed". All else is Enter. So a
/// line says which question it answers, and one that is never asked fails the test.
fn by_hand(form: &Form, start: Value, answers: &[(&str, &str)]) -> Value {
    let mut typed: Vec<String> = Vec::new();
    let mut used: BTreeSet<&str> = BTreeSet::new();
    // The order of questions depends on the answers: each run goes one question further.
    for _ in 0..200 {
        let (result, shown) = run(form, start.clone(), &[], ScriptedAsker::new(typed.clone()));
        match result {
            Ok(data) => {
                let unused: Vec<_> = answers.iter().filter(|(flag, _)| !used.contains(flag)).collect();
                assert!(unused.is_empty(), "never asked: {unused:?}\n{shown}");
                return data;
            }
            Err(FormError::Stopped) => {}
            Err(fault) => panic!("{fault}\n{shown}"),
        }
        assert!(!shown.contains("Not taken"), "{shown}");
        let asked = shown.rsplit("\n\n").next().unwrap_or_default();
        let question = form
            .questions
            .iter()
            .filter(|question| {
                let ask = question.ask.split_whitespace().collect::<Vec<_>>().join(" ");
                asked.split_whitespace().collect::<Vec<_>>().join(" ").starts_with(&ask)
            })
            .max_by_key(|question| question.ask.len())
            .unwrap_or_else(|| panic!("no question is like this: {asked}"));
        let given: Vec<&str> =
            answers.iter().filter(|(flag, _)| *flag == question.flag).map(|(_, text)| *text).collect();
        let first_time = used.insert(question.flag);
        assert!(first_time, "asked twice: {}\n{shown}", question.flag);
        typed.extend(given.iter().map(|text| (*text).to_owned()));
        if given.is_empty() || question.kind.many_lines() {
            typed.push(String::new());
        }
    }
    panic!("the questions do not end");
}

/// Puts the computed fields in, reads the data as its kind and refuses what cannot be.
fn accepted(kind: &str, mut data: Value, computed: &[(&str, Value)]) {
    for (path, value) in computed {
        place::set(&mut data, path, value.clone()).unwrap();
    }
    let read = Data::read(kind, 1, &data).unwrap_or_else(|fault| panic!("{kind}: {fault}\n{data:#}"));
    assert!(!matches!(read, Data::Unknown { .. }), "{kind}");
    let refused: Vec<_> =
        read.validate(&head(kind)).into_iter().filter(|problem| problem.level == Level::Refuse).collect();
    assert!(refused.is_empty(), "{kind}: {refused:?}\n{data:#}");
}

fn head(kind: &str) -> Record {
    let at = "2025-07-14T10:14:00-04:00";
    let mut head = json!({
        "kind": kind, "edition": 1, "ledger": "ledger-7f3a", "happened": {"start": "2022-01-01T08:00:00-05:00"},
        "written": at, "station": "room 1",
        "author": {"code": "IV", "name": "Ingrith Valsamo", "role": "chiropractor"},
        "signed": {"by": "IV", "name": "Ingrith Valsamo", "role": "chiropractor", "at": at, "meaning": "wrote"},
        "data": {}
    });
    if info(kind).is_some_and(|row| row.place != crate::record::kinds::Place::Nowhere) {
        head["chart"] = json!("k7q2m9x4t1");
    }
    serde_json::from_value(head).unwrap()
}

#[test]
fn no_two_flags_of_a_form_are_the_same_and_none_is_taken() {
    for asks in every() {
        let mut seen = BTreeSet::new();
        for question in &asks.form.questions {
            assert!(seen.insert(question.flag), "{}: --{} twice", asks.name, question.flag);
            assert!(!RESERVED.contains(&question.flag), "{}: --{} is taken", asks.name, question.flag);
            let plain =
                question.flag.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-');
            assert!(plain, "{}: --{}", asks.name, question.flag);
        }
        // clap's own checks of the flags, among them short help and duplicate names.
        add_data_arg(asks.form.clap_args(Command::new("x"))).debug_assert();
    }
    super::screen::screen_args(Command::new("x")).debug_assert();
}

#[test]
fn every_form_has_a_name_of_its_own_and_a_kind_that_exists() {
    let names: BTreeSet<&str> = every().iter().map(|asks| asks.name).collect();
    assert_eq!(names.len(), every().len());
    assert_eq!(all().len(), every().len());
    for (name, kind, form) in all() {
        assert!(info(kind).is_some(), "{name}: {kind}");
        assert!(!form.questions.is_empty(), "{name}");
    }
}

/// Where a form could say it wrong: a question that leads nowhere, or a field nobody fills.
#[test]
fn questions_and_computed_fields_are_all_the_fields_of_a_kind() {
    for asks in every() {
        // Parts of a note, and a change of identity, have their layout elsewhere.
        if matches!(asks.name, "finding" | "procedure" | "recheck") {
            continue;
        }
        let schema = (info(asks.kind).unwrap().schema)();
        let fields: BTreeSet<String> =
            schema["properties"].as_object().unwrap().keys().map(|name| format!("/{name}")).collect();
        let first = |path: &str| format!("/{}", path.split('/').nth(1).unwrap_or_default());
        let filled: BTreeSet<String> = asks
            .form
            .questions
            .iter()
            .map(|question| first(question.path))
            .chain(asks.computed.iter().map(|path| first(path)))
            .collect();
        assert_eq!(filled, fields, "{}", asks.name);
    }
}

/// Every question whose answer a person gives says what it is about in a sentence of its own.
#[test]
fn questions_are_plain() {
    for asks in every() {
        for question in &asks.form.questions {
            let ask = question.ask;
            assert!(!question.help.is_empty(), "{}: {ask}", asks.name);
            assert!(ask.ends_with('?') || ask.contains("? "), "{}: {ask}", asks.name);
            for jargon in ["hash", "ledger", "JSON", "field name", "UTF", "null", "boolean"] {
                assert!(!ask.contains(jargon) && !question.help.contains(jargon), "{}: {ask}", asks.name);
            }
        }
    }
}

/// The places of a schema a path may lead to from here, through references and alternatives.
fn below<'a>(root: &'a Value, at: &'a Value, found: &mut Vec<&'a Value>) {
    found.push(at);
    if let Some(name) = at["$ref"].as_str() {
        let place = root.pointer(name.trim_start_matches('#'));
        below(root, place.unwrap_or_else(|| panic!("no {name}")), found);
    }
    for list in ["anyOf", "oneOf", "allOf"] {
        at[list].as_array().into_iter().flatten().for_each(|part| below(root, part, found));
    }
}

/// Everything the schema allows at `path`; a list is stepped into without its number.
fn allowed<'a>(root: &'a Value, from: &'a Value, path: &str) -> Vec<&'a Value> {
    let mut found = Vec::new();
    below(root, from, &mut found);
    for step in path.split('/').skip(1) {
        let mut next = Vec::new();
        for place in &found {
            let lists = place.get("items").into_iter();
            let member = match step {
                "-" => lists.collect(),
                _ => place["properties"].get(step).into_iter().collect::<Vec<_>>(),
            };
            member.into_iter().for_each(|member| below(root, member, &mut next));
        }
        found = next;
    }
    found
}

/// Every word a closed vocabulary of the schema has at these places.
fn vocabulary<'a>(places: &[&'a Value]) -> BTreeSet<&'a str> {
    let constants = places.iter().filter_map(|place| place["const"].as_str());
    let listed =
        places.iter().filter_map(|place| place["enum"].as_array()).flatten().filter_map(Value::as_str);
    constants.chain(listed).collect()
}

fn types<'a>(places: &[&'a Value]) -> BTreeSet<&'a str> {
    let named = |value: &'a Value| match value {
        Value::Array(names) => names.iter().filter_map(Value::as_str).collect(),
        value => value.as_str().into_iter().collect::<Vec<_>>(),
    };
    places.iter().flat_map(|place| named(&place["type"])).collect()
}

fn fits(root: &Value, from: &Value, path: &str, kind: AnswerKind, name: &str) {
    let places = allowed(root, from, path);
    assert!(!places.is_empty(), "{name}: {path} leads nowhere");
    let items = |path: &str| allowed(root, from, &format!("{path}/-"));
    let expected = match kind {
        // What a correction says may be anything, and the schema says so by asking nothing.
        _ if path == "/is" && types(&places).is_empty() => return,
        AnswerKind::Words | AnswerKind::LongWords | AnswerKind::Date | AnswerKind::Moment => "string",
        AnswerKind::OneOf(_) | AnswerKind::Segment => "string",
        AnswerKind::YesNo => "boolean",
        AnswerKind::Whole { .. } => "integer",
        // An amount with a unit is turned into the number before it is recorded.
        AnswerKind::Number { .. } | AnswerKind::Amount => "number",
        AnswerKind::Each(_) => "object",
        _ => "array",
    };
    let found = types(&places);
    assert!(
        found.contains(expected) || !vocabulary(&places).is_empty(),
        "{name}: {path} is {found:?}, not {expected}"
    );
    let same = |words: &[&str], places: &[&Value]| {
        let words: BTreeSet<&str> = words.iter().copied().collect();
        assert_eq!(words, vocabulary(places), "{name}: {path}");
    };
    let of_list = |expected: &str| {
        let places = items(path);
        assert!(types(&places).contains(expected), "{name}: {path} does not hold {expected}");
    };
    match kind {
        AnswerKind::OneOf(words) => same(words, &places),
        AnswerKind::Segment => same(crate::record::vocab::Segment::WORDS, &places),
        // The names of what changed are the record's own, and not a vocabulary of the schema.
        AnswerKind::ManyOf { .. } if path == "/changed" => of_list("string"),
        AnswerKind::ManyOf { choices, .. } => same(choices, &items(path)),
        AnswerKind::Segments { .. } => same(crate::record::vocab::Segment::WORDS, &items(path)),
        AnswerKind::Numbers => of_list("integer"),
        AnswerKind::List { .. } => of_list("string"),
        AnswerKind::Rows(spec) => {
            for column in spec.columns {
                let within = format!("{path}/-{}", column.path);
                fits(root, from, &within, column.kind, name);
            }
        }
        _ => {}
    }
    let all = matches!(
        kind,
        AnswerKind::ManyOf { all: true, .. }
            | AnswerKind::Segments { all: true }
            | AnswerKind::List { all: true }
    );
    assert!(!all || found.contains("null"), "{name}: {path} takes no null, which is what all is kept as");
}

/// A question that is never answered in a test can still not lead into a field that is not there,
/// or offer a word its field does not take.
#[test]
fn every_question_fits_its_field() {
    for asks in every() {
        let schema = (info(asks.kind).unwrap().schema)();
        let part = match asks.name {
            "finding" => "/findings/-",
            "procedure" => "/procedures/-",
            "recheck" => "/measures/-",
            _ => "",
        };
        for question in &asks.form.questions {
            fits(&schema, &schema, &format!("{part}{}", question.path), question.kind, asks.name);
        }
        for path in asks.computed {
            let places = allowed(&schema, &schema, &format!("{part}{path}"));
            assert!(!places.is_empty(), "{}: {path} leads nowhere", asks.name);
        }
    }
}

/// Forms that ask for a part of a kind lead into fields that are there, too.
#[test]
fn every_question_of_a_part_fits_its_field() {
    for asks in super::desk::short().into_iter().chain(super::request::short()).chain(super::keeping::short())
    {
        let schema = (info(asks.kind).unwrap().schema)();
        for question in &asks.form.questions {
            assert!(!question.help.is_empty() && question.ask.contains('?'), "{}", question.ask);
            assert!(!RESERVED.contains(&question.flag), "{}: --{} is taken", asks.name, question.flag);
            fits(&schema, &schema, question.path, question.kind, asks.name);
        }
        add_data_arg(asks.form.clap_args(Command::new("x"))).debug_assert();
    }
}

//! The whole way through a form, with a scripted person.

use super::super::data::add_data_arg;
use super::super::prompt::ScriptedAsker;
use super::super::rows::{Column, RowSpec};
use super::*;
use crate::record::moment::Moment;
use crate::record::vocab::{Region, Side, Technique};
use clap::Command;
use proptest::prelude::*;
use serde_json::json;
use std::convert::Infallible;

const DONE: RowSpec = RowSpec {
    what: "treatment",
    columns: &[
        Column {
            name: "technique",
            path: "/technique",
            kind: AnswerKind::OneOf(Technique::WORDS),
            required: true,
            help: "what was done",
        },
        Column {
            name: "region",
            path: "/region",
            kind: AnswerKind::OneOf(Region::WORDS),
            required: true,
            help: "",
        },
        Column {
            name: "side",
            path: "/side",
            kind: AnswerKind::OneOf(Side::WORDS),
            required: true,
            help: "",
        },
    ],
};

fn is_guardian(answers: &Value) -> bool {
    answers.pointer("/given_by/role") == Some(&json!("guardian"))
}

fn form() -> Form {
    Form::new([
        Question::new("at", "When was it asked?", "/at", AnswerKind::Moment)
            .or("now")
            .help("The moment itself, not the moment it is typed."),
        Question::new(
            "by",
            "Who answered?",
            "/given_by/role",
            AnswerKind::OneOf(&["patient", "guardian", "proxy"]),
        ),
        Question::new("guardian", "Name of the guardian?", "/given_by/name", AnswerKind::Words)
            .when(is_guardian),
        Question::new("done", "What was done?", "/done", AnswerKind::Rows(&DONE)),
        Question::new("pain", "Pain, 0 to 10?", "/pain", AnswerKind::Whole { min: 0, max: 10 }).optional(),
        Question::new("note", "Anything else?", "/note", AnswerKind::LongWords).optional(),
        Question::new("extra", "More, as JSON", "/extra", AnswerKind::Json).flag_only(),
    ])
}

struct Run {
    result: Result<Value, FormError>,
    asker: ScriptedAsker,
    kept: Vec<Value>,
}

fn run_from(start: Value, args: &[&str], mut asker: ScriptedAsker) -> Run {
    let form = form();
    let cmd = add_data_arg(form.clap_args(Command::new("x")));
    let matches = cmd.try_get_matches_from(std::iter::once("x").chain(args.iter().copied())).unwrap();
    let now = Now::fixed(Moment::parse("2025-03-11T09:40:00-04:00").unwrap());
    let mut kept = Vec::new();
    let result = form.fill(&matches, start, &mut asker, &now, &mut |answers| {
        kept.push(answers.clone());
        Ok::<(), Infallible>(())
    });
    Run { result, asker, kept }
}

fn run(args: &[&str], lines: &[&str]) -> Run {
    run_from(json!({}), args, ScriptedAsker::new(lines.iter().copied()))
}

const ROW: &str = "technique=thrust region=thoracic side=left";

fn row() -> Value {
    json!({"technique": "thrust", "region": "thoracic", "side": "left"})
}

#[test]
fn a_guided_run_fills_the_form_and_keeps_every_answer() {
    let run = run(&[], &["", "patient", ROW, "", "5", "first line", "second line", ""]);
    let filled = run.result.unwrap();
    assert_eq!(
        filled,
        json!({"at": "2025-03-11T09:40:00-04:00", "given_by": {"role": "patient"}, "done": [row()],
               "pain": 5, "note": "first line\nsecond line"})
    );
    assert_eq!(run.kept.first(), Some(&json!({})));
    assert_eq!(run.kept.last(), Some(&filled));
    let shown = run.asker.shown();
    assert!(shown.contains("[now] > ") && shown.contains("1 patient  2 guardian  3 proxy"), "{shown}");
    assert!(shown.contains("Pain, 0 to 10? (may be left out)"));
    assert!(!shown.contains("guardian?"), "asked though it does not apply: {shown}");
}

#[test]
fn a_wrong_answer_says_why_and_is_asked_again() {
    let run = run(&["--at", "08:05"], &["", "neighbour", "?", "patient", "thrust", ROW, "", "11", "-", ""]);
    let shown = run.asker.shown();
    assert_eq!(
        run.result.unwrap(),
        json!({"at": "2025-03-11T08:05:00-04:00", "given_by": {"role": "patient"}, "done": [row()]})
    );
    for says in [
        "this has to be answered",
        "accepted is one of: patient, guardian, proxy",
        "each value needs its name before it",
        "a whole number from 0 to 10",
    ] {
        assert!(shown.split_whitespace().collect::<Vec<_>>().join(" ").contains(says), "{says} in {shown}");
    }
}

#[test]
fn going_back_keeps_what_was_typed_and_drops_what_no_longer_applies() {
    // Guardian, name, back twice, patient instead, on; then back to guardian: the name is offered.
    let lines = ["", "g", "Ilse R.", "<", "<", "patient", "<", "guardian", "", ROW, "", "<", "", "", ""];
    let run = run(&[], &lines);
    let shown = run.asker.shown();
    assert!(shown.contains("Left out, since it no longer applies: Name of the guardian?"), "{shown}");
    assert!(shown.contains("[Ilse R.] > "), "{shown}");
    assert!(shown.contains("Written already"), "{shown}");
    assert_eq!(
        run.result.unwrap(),
        json!({"at": "2025-03-11T09:40:00-04:00", "given_by": {"role": "guardian", "name": "Ilse R."}, "done": [row()]})
    );
    let dropped = json!({"at": "2025-03-11T09:40:00-04:00", "given_by": {"role": "patient"}});
    assert!(run.kept.contains(&dropped), "{:?}", run.kept);
}

#[test]
fn back_from_the_first_question_stays_there() {
    let run = run(&["--by", "patient", "--done", ROW], &["<", "", "", ""]);
    assert!(run.asker.shown().contains("There is no question before this one."));
    assert!(run.result.is_ok());
}

#[test]
fn lines_may_be_taken_back_one_by_one() {
    let other = "technique=taping region=thoracic side=right";
    let run = run(&["--by", "patient"], &["", ROW, other, "<", "", "", "a", "-", "b", ""]);
    let filled = run.result.unwrap();
    assert_eq!(filled["done"], json!([row()]));
    assert_eq!(filled["note"], json!("b"));
}

#[test]
fn all_that_is_missing_is_named_where_nobody_can_be_asked() {
    let run = run_from(json!({}), &["--pain", "3"], ScriptedAsker::nobody());
    let fault = run.result.unwrap_err();
    let text = fault.to_string();
    let FormError::Missing(missing) = fault else { panic!("{text}") };
    let flags: Vec<&str> = missing.iter().map(|missing| missing.flag).collect();
    assert_eq!(flags, ["by", "done"]);
    assert!(text.contains("--by  Who answered?") && text.contains("--data FILE"), "{text}");
    assert!(run.asker.shown().is_empty());
}

#[test]
fn flags_win_over_data_and_data_over_the_draft() {
    let mut file = tempfile::NamedTempFile::new().unwrap();
    let data = json!({"given_by": {"role": "guardian", "name": "Ilse R."}, "pain": 4, "more": {"x": [1]}});
    std::io::Write::write_all(&mut file, data.to_string().as_bytes()).unwrap();
    let path = file.path().to_str().unwrap();
    let args = [
        "--data",
        path,
        "--pain",
        "7",
        "--done",
        ROW,
        "--done",
        ROW,
        "--extra",
        "{\"y\": null}",
        "--at",
        "now",
    ];
    let run = run_from(json!({"pain": 1, "note": "drafted"}), &args, ScriptedAsker::nobody());
    assert_eq!(
        run.result.unwrap(),
        json!({"pain": 7, "note": "drafted", "given_by": {"role": "guardian", "name": "Ilse R."}, "more": {"x": [1]},
               "done": [row(), row()], "extra": {"y": null}, "at": "2025-03-11T09:40:00-04:00"})
    );
}

#[test]
fn a_wrong_flag_names_itself_and_not_its_value() {
    for (args, says) in [
        (vec!["--by", "Umberlow"], "--by: accepted is one of: patient"),
        (vec!["--done", ROW, "--done", "technique=Umberlow"], "--done: number 2: technique: accepted"),
        (vec!["--extra", "{Umberlow"], "--extra: that is not JSON: line 1, column 2"),
    ] {
        let text = run_from(json!({}), &args, ScriptedAsker::nobody()).result.unwrap_err().to_string();
        assert!(text.contains(says) && !text.contains("Umberlow"), "{text}");
    }
}

#[test]
fn a_forgotten_value_does_not_swallow_the_next_flag() {
    let cmd = form().clap_args(Command::new("x"));
    assert!(cmd.clone().try_get_matches_from(["x", "--note", "--pain", "3"]).is_err());
    assert!(cmd.try_get_matches_from(["x", "--note=--pain"]).is_ok());
}

#[test]
fn a_stopped_run_goes_on_from_its_draft() {
    let stopped = run(&[], &["08:05", "patient", ROW]);
    assert!(matches!(stopped.result, Err(FormError::Stopped)));
    let draft = stopped.kept.last().unwrap().clone();
    assert_eq!(draft["done"], json!([row()]));
    let other = "technique=taping region=thoracic side=right";
    let resumed = run_from(draft, &[], ScriptedAsker::new([other, "", "", ""]));
    let shown = resumed.asker.shown();
    assert!(!shown.contains("Who answered?") && shown.contains("Written already"), "{shown}");
    let filled = resumed.result.unwrap();
    assert_eq!(filled["at"], json!("2025-03-11T08:05:00-04:00"));
    assert_eq!(filled["done"].as_array().unwrap().len(), 2);
}

#[test]
fn a_draft_that_cannot_be_kept_ends_the_questions() {
    let form = form();
    let matches = form.clap_args(Command::new("x")).try_get_matches_from(["x"]).unwrap();
    let now = Now::fixed(Moment::parse("2025-03-11T09:40:00-04:00").unwrap());
    let mut asker = ScriptedAsker::new(["now"]);
    let full = &mut |_: &Value| Err(io::Error::other("the disk is full"));
    let fault = form.fill(&matches, json!({}), &mut asker, &now, full).unwrap_err();
    assert!(fault.to_string().contains("the disk is full"), "{fault}");
}

#[test]
fn a_draft_with_no_room_for_an_answer_is_an_error() {
    let run = run_from(json!({"given_by": "patient"}), &["--by", "patient"], ScriptedAsker::nobody());
    assert!(matches!(run.result, Err(FormError::NoRoom(_))));
    let run = run_from(json!([]), &[], ScriptedAsker::nobody());
    assert!(matches!(run.result, Err(FormError::BadData(_))));
}

fn any_line() -> impl Strategy<Value = String> {
    prop_oneof![
        Just(String::new()),
        Just("<".to_owned()),
        Just("-".to_owned()),
        Just("?".to_owned()),
        Just("guardian".to_owned()),
        Just("patient".to_owned()),
        Just(ROW.to_owned()),
        Just("5".to_owned()),
        "\\PC{0,12}",
        any::<String>(),
        "(technique|side|region)=[a-z\"\\\\= ]{0,8}",
    ]
}

proptest! {
    #[test]
    fn any_lines_end_in_an_answer_or_an_error(lines in prop::collection::vec(any_line(), 0..40)) {
        let run = run_from(json!({}), &[], ScriptedAsker::new(lines));
        match run.result {
            Ok(filled) => {
                prop_assert!(filled.pointer("/at").is_some() && filled.pointer("/done/0/side").is_some());
                prop_assert_eq!(is_guardian(&filled), filled.pointer("/given_by/name").is_some());
                prop_assert_eq!(run.kept.last(), Some(&filled));
            }
            Err(fault) => prop_assert!(matches!(fault, FormError::Stopped), "{fault}"),
        }
    }

    #[test]
    fn any_text_is_read_or_refused_by_every_kind(text in any::<String>()) {
        let now = Now::fixed(Moment::parse("2025-03-11T09:40:00-04:00").unwrap());
        for kind in [
            AnswerKind::Words, AnswerKind::LongWords, AnswerKind::YesNo, AnswerKind::Date, AnswerKind::Moment,
            AnswerKind::Whole { min: i64::MIN, max: i64::MAX },
            AnswerKind::Number { min: f64::MIN, max: f64::MAX, unit: "mm" },
            AnswerKind::OneOf(Side::WORDS), AnswerKind::ManyOf { choices: Region::WORDS, all: true },
            AnswerKind::Segments { all: true }, AnswerKind::List { all: true }, AnswerKind::Json,
            AnswerKind::Rows(&DONE),
        ] {
            for given in [Given::ByHand, Given::ByFlag] {
                if let Ok(answer) = kind.read(&text, &now, given) {
                    // What is accepted can be proposed again: it reads back as itself.
                    let written = kind.write(&answer);
                    prop_assert_eq!(kind.read(&written, &now, Given::ByFlag), Ok(answer));
                }
            }
        }
    }
}

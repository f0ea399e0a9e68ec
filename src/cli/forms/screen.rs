//! A screen: every item of the adopted rules, asked one by one.
//!
//! The items are known only when the rules have been opened, so they cannot be flags. On the
//! command line an item is answered with `--answer "item=... answer=..."`, or all that are left
//! with `--all-no`. At a terminal every item is a question, and none has a default: an item
//! nobody asked about must not become a no by pressing Enter.

use super::super::answer::AnswerKind::OneOf;
use super::super::answer::Given;
use super::super::clock::Now;
use super::super::form::{Form, FormError, Question};
use super::super::place;
use super::after::ANSWERS;
use super::{ask, line};
use crate::record::kinds::screening::{ItemAnswer, ItemDecision, ScreenHow};
use clap::{Arg, ArgAction, ArgMatches, Command};
use serde_json::{Value, json};
use std::collections::BTreeSet;
use std::sync::{Mutex, OnceLock, PoisonError};

const ANSWER: &str = "answer";
const ALL_NO: &str = "all-no";

/// What is kept with a screen answered by `--all-no`.
pub const ALL_NO_WORDS: &str = "Every item was asked; each not answered otherwise here was answered no.";

/// The questions about a screen as a whole.
pub fn screen() -> Form {
    Form::new([
        line("screen", "Which screen?", "/screen").help("neck, mouth, general, or another of the rules."),
        line("done-by", "Code of who asked?", "/done_by").help("Staff code."),
        ask("how", "How was it asked?", "/how", OneOf(ScreenHow::WORDS))
            .optional()
            .or("in-person")
            .help("In person, by telephone, or on a sheet the patient filled in."),
        line("stop-signal", "Which stop signal was agreed?", "/stop_signal")
            .optional()
            .when_is("/screen", "mouth")
            .help("For example: raised left hand."),
        line("repeated-because", "Why was it repeated, if it was?", "/repeated_because")
            .optional()
            .help("For example: light-headed during treatment."),
        line("remark", "Anything else?", "/words").optional().help("Left out where there is nothing to add."),
    ])
}

/// Adds the flags of a screen: those of [`screen`], `--answer` and `--all-no`.
pub fn screen_args(cmd: Command) -> Command {
    let answer = Arg::new(ANSWER)
        .long(ANSWER)
        .value_name("NAME=VALUE ...")
        .action(ArgAction::Append)
        .num_args(1)
        .help("The answer to one item. May be given several times.")
        .long_help(format!(
            "The answer to one item.\n{}\nMay be given several times.",
            ANSWERS.help().join("\n")
        ));
    let all_no = Arg::new(ALL_NO).long(ALL_NO).action(ArgAction::SetTrue).help(
        "Every item was asked, and each one not named with --answer was answered no. Kept as an answer to each.",
    );
    screen().clap_args(cmd).arg(answer).arg(all_no)
}

/// What a screen begins with: the items in the order they are asked, with the answers given by
/// `--answer` and `--all-no`. Hand it to [`Form::fill`] with [`screen_of`] for the same items.
///
/// # Errors
/// When an `--answer` cannot be read, names no item of this screen, or answers one twice.
pub fn screen_start(
    screen: &str,
    items: &[String],
    matches: &ArgMatches,
    now: &Now,
) -> Result<Value, FormError> {
    let mut answers: Vec<Value> = items.iter().map(|item| json!({ "item": item })).collect();
    let bad = |why: String| FormError::BadAnswer { flag: ANSWER, why };
    let texts = matches.try_get_many::<String>(ANSWER).ok().flatten();
    for text in texts.into_iter().flatten() {
        let row = ANSWERS.read(text, now, Given::ByFlag).map_err(bad)?;
        let slot = answers
            .iter_mut()
            .find(|slot| slot["item"] == row["item"])
            .ok_or_else(|| bad(format!("it must name one of the items: {}", items.join(", "))))?;
        if slot.get("answer").is_some() {
            return Err(bad("one item is answered twice".to_owned()));
        }
        *slot = row;
    }
    let mut start = json!({ "screen": screen });
    if matches!(matches.try_get_one::<bool>(ALL_NO), Ok(Some(true))) {
        for slot in answers.iter_mut().filter(|slot| slot.get("answer").is_none()) {
            slot["answer"] = Value::from(ItemAnswer::No.word());
        }
        place::set(&mut start, "/words", Value::from(ALL_NO_WORDS))?;
    }
    place::set(&mut start, "/answers", Value::Array(answers))?;
    Ok(start)
}

/// The questions of a screen with these items: [`screen`], and each item with what a yes asks for.
pub fn screen_of(items: &[String]) -> Form {
    let (before, after): (Vec<Question>, Vec<Question>) =
        screen().questions.into_iter().partition(|question| matches!(question.path, "/screen" | "/done_by"));
    let mut questions = before;
    for (index, item) in items.iter().enumerate() {
        questions.extend(item_questions(index, item));
    }
    questions.extend(after);
    Form::new(questions)
}

fn item_questions(index: usize, item: &str) -> [Question; 3] {
    let at = |field: &str| kept(format!("/answers/{index}/{field}"));
    // What is missing is named by what would be typed on the command line.
    let flag = |rest: &str| kept(format!("{ANSWER} \"item={item} {rest}\""));
    let yes = ItemAnswer::Yes.word();
    let plain = item.replace('-', " ");
    [
        ask(
            flag("answer=..."),
            kept(format!("{}?", capital(&plain))),
            at("answer"),
            OneOf(ItemAnswer::WORDS),
        )
        .help("The patient's answer. not-asked where it was not asked; there is no default."),
        line(flag("answer=yes words=..."), kept(format!("{}: what was said?", capital(&plain))), at("words"))
            .when_is(at("answer"), yes),
        ask(
            flag("answer=yes words=... decision=..."),
            kept(format!("{}: what is decided?", capital(&plain))),
            at("decision"),
            OneOf(ItemDecision::WORDS),
        )
        .when_is(at("answer"), yes)
        .help("refer, defer treatment, or proceed; the words say why."),
    ]
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map(|first| first.to_uppercase().chain(letters).collect()).unwrap_or_default()
}

/// The same text, kept for as long as the program runs: questions hold texts that never go.
/// Each different text is kept once, so asking the same screens again takes no more room.
fn kept(text: String) -> &'static str {
    static KEPT: OnceLock<Mutex<BTreeSet<&'static str>>> = OnceLock::new();
    let kept = KEPT.get_or_init(Mutex::default);
    // A set of texts is whole whatever happened to whoever held it last.
    let mut kept = kept.lock().unwrap_or_else(PoisonError::into_inner);
    if let Some(known) = kept.get(text.as_str()) {
        return known;
    }
    let text: &'static str = Box::leak(text.into_boxed_str());
    kept.insert(text);
    text
}

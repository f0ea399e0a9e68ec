//! Forms: what a recording command asks, declared once and served as flags and as questions.

use super::answer::AnswerKind;
use super::clock::Now;
use super::place::{self, NoRoom};
use clap::{Arg, ArgAction, Command};
use serde_json::Value;
use std::io;

/// Whether a question has to be answered.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Need {
    /// Nothing is recorded without it.
    Required,
    /// Asked at a terminal, and may be passed over.
    Optional,
    /// Taken from its flag only; never asked at a terminal.
    FlagOnly,
}

/// The answer taken where none is given, written as it would be typed.
#[derive(Debug, Clone, Copy)]
pub enum DefaultAnswer {
    /// Always this text, like `now`.
    Text(&'static str),
    /// Worked out from the answers so far; none where there is nothing to propose.
    From(fn(&Value, &Now) -> Option<String>),
    /// Proposed to a person who is asked, and never taken where nobody is: it says that somebody did or
    /// saw something.
    Offered(&'static str),
}

/// On which answers so far it depends whether a question is asked.
#[derive(Debug, Clone, Copy)]
pub enum When {
    /// Where this holds of them.
    Holds(fn(&Value) -> bool),
    /// Where this word is the answer at this place.
    Is(&'static str, &'static str),
    /// Where the list at this place holds this word.
    Lists(&'static str, &'static str),
    /// Where something is answered at this place.
    Has(&'static str),
    /// Where nothing, or only the reason why there is nothing, is answered at this place.
    Lacks(&'static str),
}

impl When {
    fn holds(self, answers: &Value) -> bool {
        match self {
            When::Holds(holds) => holds(answers),
            When::Is(path, word) => place::get(answers, path).and_then(Value::as_str) == Some(word),
            When::Lists(path, word) => place::get(answers, path)
                .and_then(Value::as_array)
                .is_some_and(|list| list.iter().any(|item| item.as_str() == Some(word))),
            When::Has(path) => !lacks(answers, path),
            When::Lacks(path) => lacks(answers, path),
        }
    }
}

/// The member that holds the reason why there is no value.
pub const BECAUSE: &str = "not_done_because";

/// True of the reason why there is no value, standing in the value's place.
pub(super) fn is_reason(value: &Value) -> bool {
    value.as_object().is_some_and(|map| !map.is_empty() && map.keys().all(|name| name == BECAUSE))
}

/// True where nothing is answered at `path`, or only why there is nothing.
pub fn lacks(answers: &Value, path: &str) -> bool {
    match place::get(answers, path) {
        None | Some(Value::Null) => true,
        Some(Value::Object(map)) if map.is_empty() => true,
        Some(value) => is_reason(value),
    }
}

/// One question of a form.
#[derive(Debug, Clone, Copy)]
pub struct Question {
    /// The flag, without its dashes.
    pub flag: &'static str,
    /// The question as a person reads it.
    pub ask: &'static str,
    /// More about it: shown for `?` and in the command's help. May be empty.
    pub help: &'static str,
    /// JSON Pointer to the answer's place in the record's data.
    pub path: &'static str,
    /// What kind of answer it takes.
    pub kind: AnswerKind,
    /// Whether it has to be answered.
    pub need: Need,
    /// What is taken where nothing is given.
    pub default: Option<DefaultAnswer>,
    /// Asked only where this holds of the answers so far.
    pub when: Option<When>,
}

impl Question {
    /// A question that has to be answered, with no help, default or condition.
    pub const fn new(
        flag: &'static str,
        ask: &'static str,
        path: &'static str,
        kind: AnswerKind,
    ) -> Question {
        Question { flag, ask, help: "", path, kind, need: Need::Required, default: None, when: None }
    }

    /// May be passed over.
    pub const fn optional(mut self) -> Question {
        self.need = Need::Optional;
        self
    }

    /// Taken from its flag only.
    pub const fn flag_only(mut self) -> Question {
        self.need = Need::FlagOnly;
        self
    }

    /// With this help.
    pub const fn help(mut self, help: &'static str) -> Question {
        self.help = help;
        self
    }

    /// With this text as the default.
    pub const fn or(mut self, text: &'static str) -> Question {
        self.default = Some(DefaultAnswer::Text(text));
        self
    }

    /// With this text proposed where a person is asked. Where nobody is, nothing is taken for granted.
    pub const fn offer(mut self, text: &'static str) -> Question {
        self.default = Some(DefaultAnswer::Offered(text));
        self
    }

    /// With a default worked out from the answers so far.
    pub const fn or_from(mut self, default: fn(&Value, &Now) -> Option<String>) -> Question {
        self.default = Some(DefaultAnswer::From(default));
        self
    }

    /// Asked only where `when` holds of the answers so far.
    pub const fn when(mut self, when: fn(&Value) -> bool) -> Question {
        self.when = Some(When::Holds(when));
        self
    }

    /// Asked only where `word` is the answer at `path`.
    pub const fn when_is(mut self, path: &'static str, word: &'static str) -> Question {
        self.when = Some(When::Is(path, word));
        self
    }

    /// Asked only where the list at `path` holds `word`.
    pub const fn when_lists(mut self, path: &'static str, word: &'static str) -> Question {
        self.when = Some(When::Lists(path, word));
        self
    }

    /// Asked only where something is answered at `path`.
    pub const fn when_has(mut self, path: &'static str) -> Question {
        self.when = Some(When::Has(path));
        self
    }

    /// Asked only where nothing is answered at `path`, or only why there is nothing.
    pub const fn when_lacks(mut self, path: &'static str) -> Question {
        self.when = Some(When::Lacks(path));
        self
    }

    /// True when its condition, if it has one, holds.
    pub fn applies(&self, answers: &Value) -> bool {
        self.when.is_none_or(|when| when.holds(answers))
    }

    /// What is proposed to a person.
    pub(super) fn proposal(&self, answers: &Value, now: &Now) -> Option<String> {
        match self.default? {
            DefaultAnswer::Text(text) | DefaultAnswer::Offered(text) => Some(text.to_owned()),
            DefaultAnswer::From(from) => from(answers, now),
        }
    }

    /// What is taken where nobody was asked.
    pub(super) fn default_text(&self, answers: &Value, now: &Now) -> Option<String> {
        match self.default? {
            DefaultAnswer::Offered(_) => None,
            _ => self.proposal(answers, now),
        }
    }
}

/// The questions of one recording command, in the order they are asked.
#[derive(Debug, Clone)]
pub struct Form {
    /// The questions.
    pub questions: Vec<Question>,
}

impl Form {
    /// A form of these questions.
    pub fn new(questions: impl Into<Vec<Question>>) -> Form {
        Form { questions: questions.into() }
    }

    /// Adds one flag for each question. None is required of the command line: what is missing is
    /// asked for, or named all together by [`Form::fill`].
    pub fn clap_args(&self, cmd: Command) -> Command {
        self.questions.iter().fold(cmd, |cmd, question| cmd.arg(flag_of(question)))
    }
}

fn flag_of(question: &Question) -> Arg {
    let action = if question.kind.repeats() { ArgAction::Append } else { ArgAction::Set };
    let help = help_of(question);
    let arg = Arg::new(question.flag).long(question.flag);
    let arg = match question.kind {
        // The columns of a row are told in full with --help only.
        AnswerKind::Rows(spec) => {
            arg.long_help(format!("{help}\n{}\nMay be given several times.", spec.help().join("\n")))
        }
        _ => arg,
    };
    arg.help(help)
        .value_name(value_name(question.kind))
        .action(action)
        .num_args(1)
        // Only numbers may begin with a dash: a flag whose value was forgotten must not swallow
        // the flag behind it.
        .allow_negative_numbers(true)
}

fn value_name(kind: AnswerKind) -> &'static str {
    match kind {
        AnswerKind::Words | AnswerKind::LongWords => "WORDS",
        AnswerKind::YesNo => "YES|NO",
        AnswerKind::Whole { .. } | AnswerKind::Number { .. } | AnswerKind::Amount => "NUMBER",
        AnswerKind::Date => "DATE",
        AnswerKind::Moment => "WHEN",
        AnswerKind::OneOf(_) => "CHOICE",
        AnswerKind::ManyOf { .. } => "CHOICE,...",
        AnswerKind::Segment => "SEGMENT",
        AnswerKind::Segments { .. } => "SEGMENT,...",
        AnswerKind::Numbers => "NUMBER,...",
        AnswerKind::Each(_) => "NAME=CHOICE,...",
        AnswerKind::List { .. } => "WORDS,...",
        AnswerKind::Json => "JSON",
        AnswerKind::Rows(_) => "NAME=VALUE ...",
    }
}

fn help_of(question: &Question) -> String {
    let mut help = question.ask.to_owned();
    for part in [question.help.to_owned(), format!("Accepted: {}", question.kind.accepts())] {
        if !part.is_empty() {
            help.push_str(if help.ends_with(['?', '.', ':']) { " " } else { ". " });
            help.push_str(&part);
        }
    }
    if let Some(DefaultAnswer::Text(text)) = question.default {
        help.push_str(&format!(" [without it: {text}]"));
    }
    let nothing_taken = matches!(question.default, None | Some(DefaultAnswer::Offered(_)));
    if question.need == Need::Required && nothing_taken {
        help.push_str(if question.when.is_some() { " (needed in some cases)" } else { " (needed)" });
    }
    help
}

/// A required question that has no answer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unanswered {
    /// Its flag, without dashes.
    pub flag: &'static str,
    /// The question.
    pub ask: &'static str,
}

/// Why a form was not filled. No text in it repeats an answer.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum FormError {
    /// Required answers are missing and nobody is there to ask.
    #[error(
        "nothing was recorded: answers are missing and this is not a terminal where they could be asked.\n{}\n\
         Give these flags, run it at a terminal, or give the answers with --data FILE.",
        list_missing(.0)
    )]
    Missing(Vec<Unanswered>),
    /// A flag's value is not an answer to its question.
    #[error("nothing was recorded: --{flag}: {why}. Correct it and run the command again.")]
    BadAnswer {
        /// The flag, without dashes.
        flag: &'static str,
        /// What is accepted.
        why: String,
    },
    /// The data file could not be used.
    #[error(
        "nothing was recorded: the data given with --data cannot be used: {0}. Correct it and run the command again."
    )]
    BadData(String),
    /// An answer has no place in the data it should go into.
    #[error("nothing was recorded: {0}. Correct the data given with --data, or discard the draft.")]
    NoRoom(#[from] NoRoom),
    /// Input ended before the last question. What was answered was passed to be kept.
    #[error("stopped before the last question; nothing was recorded")]
    Stopped,
    /// An answer could not be kept as a draft.
    #[error(
        "the answers could not be kept as a draft, so the questions were stopped; nothing was recorded: {0}"
    )]
    NotKept(#[source] Box<dyn std::error::Error + Send + Sync>),
    /// The terminal failed.
    #[error("the terminal could not be read or written; nothing was recorded: {0}")]
    Terminal(#[from] io::Error),
}

fn list_missing(missing: &[Unanswered]) -> String {
    let lines: Vec<String> =
        missing.iter().map(|missing| format!("  --{}  {}", missing.flag, missing.ask)).collect();
    lines.join("\n")
}

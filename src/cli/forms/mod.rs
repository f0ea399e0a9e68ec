//! The questions of every recording command, one file for each family of commands.
//!
//! Each form's answers are the `data` of its kind, but for the fields [`Asks::computed`] names:
//! those the command works out (numbers of entries, counts, digests) and puts in before the data
//! is read. Where a field is the code of a person, and the author is meant unless somebody else
//! is named, the command may put it into the answers the form begins with; it is then not asked.

pub mod after;
pub mod agree;
pub mod amend;
mod authorization;
pub mod chart;
pub mod consent;
pub mod desk;
pub mod identity;
pub mod keeping;
pub mod note;
pub mod office;
pub mod register;
pub mod request;
pub mod screen;
pub mod visit;

#[cfg(test)]
mod tests;

use super::answer::AnswerKind;
use super::form::{Form, Question};
use super::rows::Column;
use std::sync::OnceLock;

/// One form, the kind of entry it is for, and what it leaves to the command.
#[derive(Debug, Clone)]
pub struct Asks {
    /// The name of the form.
    pub name: &'static str,
    /// The kind of entry its answers belong to.
    pub kind: &'static str,
    /// The questions.
    pub form: Form,
    /// JSON Pointers to the fields the command puts in. Those of them a kind may lack may be left out.
    pub computed: &'static [&'static str],
}

/// Every form with the kind of entry its answers belong to.
pub fn all() -> Vec<(&'static str, &'static str, Form)> {
    every().into_iter().map(|asks| (asks.name, asks.kind, asks.form)).collect()
}

/// Every form, with what it leaves to the command.
pub fn every() -> Vec<Asks> {
    let families = [
        chart::every(),
        agree::every(),
        visit::every(),
        note::every(),
        after::every(),
        amend::every(),
        desk::every(),
        register::every(),
        request::every(),
        office::every(),
        keeping::every(),
    ];
    families.into_iter().flatten().collect()
}

/// The form of this name: of those in [`every`], and of those that ask for a part of a kind only.
pub fn named(name: &str) -> Option<Asks> {
    // Every start builds the options of every command, and each looks its form up here.
    static FORMS: OnceLock<Vec<Asks>> = OnceLock::new();
    FORMS.get_or_init(with_parts).iter().find(|asks| asks.name == name).cloned()
}

/// Every form, those too that ask for a part of a kind only.
pub fn with_parts() -> Vec<Asks> {
    every().into_iter().chain(desk::short()).chain(request::short()).chain(keeping::short()).collect()
}

/// One of the lists of forms a family hands in.
fn asks(name: &'static str, kind: &'static str, form: Form, computed: &'static [&'static str]) -> Asks {
    Asks { name, kind, form, computed }
}

/// One line.
const WORDS: AnswerKind = AnswerKind::Words;
/// Numbers of entries.
const NUMBERS: AnswerKind = AnswerKind::Numbers;
/// The number of an entry. Entries are numbered from 1.
const NUMBER: AnswerKind = AnswerKind::Whole { min: 1, max: 999_999_999 };
/// A count that may be none.
const COUNT: AnswerKind = AnswerKind::Whole { min: 0, max: 99_999 };
/// Pain from 0 to 10.
const PAIN: AnswerKind = AnswerKind::Whole { min: 0, max: 10 };
/// Free words with commas between.
const LIST: AnswerKind = AnswerKind::List { all: false };
/// A measured value; what cannot be for its kind is refused when the entry is checked.
const VALUE: AnswerKind = AnswerKind::Number { min: -1000.0, max: 10_000.0, unit: "" };

const fn ask(flag: &'static str, ask: &'static str, path: &'static str, kind: AnswerKind) -> Question {
    Question::new(flag, ask, path, kind)
}

/// A question answered with one line.
const fn line(flag: &'static str, ask: &'static str, path: &'static str) -> Question {
    Question::new(flag, ask, path, AnswerKind::Words)
}

/// A question answered with several lines.
const fn lines(flag: &'static str, ask: &'static str, path: &'static str) -> Question {
    Question::new(flag, ask, path, AnswerKind::LongWords)
}

const fn yes_no(flag: &'static str, ask: &'static str, path: &'static str) -> Question {
    Question::new(flag, ask, path, AnswerKind::YesNo)
}

/// Asks why there is no value at `of`. A blank is neither a value nor a reason.
const fn because(flag: &'static str, ask: &'static str, path: &'static str, of: &'static str) -> Question {
    Question::new(flag, ask, path, AnswerKind::Words)
        .when_lacks(of)
        .help("Asked because the question before was left out: a reason is kept in the place of a blank.")
}

/// A column a row may have.
const fn may(name: &'static str, path: &'static str, kind: AnswerKind, help: &'static str) -> Column {
    Column { name, path, kind, required: false, help }
}

/// A column every row needs.
const fn must(name: &'static str, path: &'static str, kind: AnswerKind, help: &'static str) -> Column {
    Column { name, path, kind, required: true, help }
}

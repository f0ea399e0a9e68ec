//! Lines for what was asked while treating: `check comfort 3 done="less pressure"`.

use super::lex::What;
use super::words::Meaning;
use super::{Stop, Typed, misplaced, no_such_name, once, refuse};
use crate::record::kinds::visit::{CheckQuestion, InVisitCheck};

pub(super) fn read(typed: &Typed<'_>) -> Result<InVisitCheck, Stop> {
    let (mut at, mut question, mut number, mut action) = (None, None, None, None);
    let mut words: Vec<String> = Vec::new();
    for item in &typed.items[1..] {
        match &item.what {
            What::Known(meanings) => match meanings.iter().find_map(question_of) {
                Some(asked) => once(&mut question, asked, "question")?,
                None => return misplaced(typed, item, "check"),
            },
            What::Number(text, None) => match text.parse::<u8>().ok().filter(|n| *n <= 10) {
                Some(answer) => once(&mut number, answer, "number")?,
                None => return refuse("value-cannot-be", "the number goes from 0 to 10"),
            },
            What::Text(text) => words.push(text.clone()),
            What::At(Some(moment)) => once(&mut at, *moment, "time")?,
            What::Pair(name, value) if name == "words" => words.push(value.clone()),
            What::Pair(name, value) if name == "done" => once(&mut action, value.clone(), "action")?,
            What::Pair(name, _) => return no_such_name(name, "words, done"),
            _ => return misplaced(typed, item, "check"),
        }
    }
    let Some(question) = question else {
        return refuse(
            "question-missing",
            format!("say what was asked: {}", CheckQuestion::WORDS.join(", ")),
        );
    };
    let words = (!words.is_empty()).then(|| words.join(", "));
    Ok(InVisitCheck { at: at.unwrap_or(typed.setting.at), question, number, words, action })
}

fn question_of(meaning: &Meaning) -> Option<CheckQuestion> {
    match meaning {
        Meaning::Question(question) => Some(*question),
        _ => None,
    }
}

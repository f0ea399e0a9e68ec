//! Filling a form: the draft, then the data file over it, then the flags over both, then the
//! person at the terminal for what is still missing.

use super::answer::{AnswerKind, Given};
use super::clock::Now;
use super::data;
use super::form::{Form, FormError, Need, Question, Unanswered};
use super::guide::{Beginning, Guide};
use super::place;
use super::prompt::Asker;
use clap::ArgMatches;
use serde_json::{Map, Value};
use std::io;

impl Form {
    /// Fills the form and gives back the record's data.
    ///
    /// `start` is a draft or an empty object. `on_answer` is called with everything answered so
    /// far before the first question and after each accepted answer or line, so that the caller
    /// can keep a sealed draft; its error ends the questions. Given a draft, answers in it are
    /// not asked again, except those of several lines, which may have been cut short: these are
    /// shown, and Enter keeps them.
    ///
    /// Answers from `--data` are laid under the flags as they are; the record's own types check
    /// them. Where nobody can be asked, defaults are taken and all that is missing is named at
    /// once in [`FormError::Missing`].
    pub fn fill<E>(
        &self,
        matches: &ArgMatches,
        start: Value,
        asker: &mut dyn Asker,
        now: &Now,
        on_answer: &mut dyn FnMut(&Value) -> Result<(), E>,
    ) -> Result<Value, FormError>
    where
        E: Into<Box<dyn std::error::Error + Send + Sync>>,
    {
        let draft = match start {
            Value::Null => Value::Object(Map::new()),
            Value::Object(_) => start,
            _ => return Err(FormError::BadData("the draft is not one JSON object".to_owned())),
        };
        let given = data::load(matches, &mut io::stdin())?.unwrap_or_else(|| Value::Object(Map::new()));
        let mut answers = draft.clone();
        place::lay_over(&mut answers, given.clone());
        let by_flag = self.lay_flags(matches, &mut answers, now)?;
        if asker.interactive() {
            self.refuse_missing(&answers, |question| !question.askable())?;
            let mut keep =
                |answers: &Value| on_answer(answers).map_err(|fault| FormError::NotKept(fault.into()));
            let start = self.beginnings(&draft, &given, &answers, &by_flag);
            Guide::new(&self.questions, asker, now, &mut answers, &mut keep).run(&start)?;
            self.take_defaults(&mut answers, now, &by_flag, |question| !question.askable())?;
        } else {
            self.take_defaults(&mut answers, now, &by_flag, |_| true)?;
        }
        self.refuse_missing(&answers, |_| true)?;
        Ok(answers)
    }

    /// Reads answers that were typed all at once, each under its flag, and says what is wrong with them and
    /// what is still open. Nothing is asked; a question that does not apply is passed over.
    pub fn read_typed(&self, typed: &dyn Fn(&str) -> Vec<String>, now: &Now) -> Typed {
        let mut read = Typed {
            answers: Value::Object(Map::new()),
            wrong: Vec::new(),
            open: Vec::new(),
            asked: Vec::new(),
        };
        for question in &self.questions {
            if !question.askable() || !question.applies(&read.answers) {
                continue;
            }
            read.asked.push(question.flag);
            let texts: Vec<String> =
                typed(question.flag).into_iter().filter(|t| !t.trim().is_empty()).collect();
            let texts: Vec<&String> = texts.iter().collect();
            if texts.is_empty() {
                if question.need == Need::Required {
                    read.open.push(question.flag);
                }
                continue;
            }
            let answer = read_flags(question.kind, &texts, now).and_then(|answer| {
                place::set(&mut read.answers, question.path, answer).map_err(|e| e.to_string())
            });
            if let Err(why) = answer {
                read.wrong.push((question.flag, why));
            }
        }
        read
    }

    fn beginnings(&self, draft: &Value, given: &Value, answers: &Value, by_flag: &[bool]) -> Vec<Beginning> {
        let begin = |(question, by_flag): (&Question, &bool)| {
            let drafted = question.answered(draft) && place::get(given, question.path).is_none();
            match (by_flag, drafted) {
                (true, _) => Beginning::ByFlag,
                (false, true) if question.applies(answers) => Beginning::Drafted,
                _ => Beginning::Plain,
            }
        };
        self.questions.iter().zip(by_flag).map(begin).collect()
    }

    /// Lays the flags over the answers; says for each question whether its flag was given.
    fn lay_flags(
        &self,
        matches: &ArgMatches,
        answers: &mut Value,
        now: &Now,
    ) -> Result<Vec<bool>, FormError> {
        let mut by_flag = Vec::with_capacity(self.questions.len());
        for question in &self.questions {
            let texts: Vec<&String> = match matches.try_get_many::<String>(question.flag) {
                Ok(Some(texts)) => texts.collect(),
                _ => Vec::new(),
            };
            by_flag.push(!texts.is_empty());
            let left_out = question.need == Need::Optional && matches!(texts[..], [text] if text == "-");
            if !texts.is_empty() && !left_out {
                let answer = read_flags(question.kind, &texts, now)
                    .map_err(|why| FormError::BadAnswer { flag: question.flag, why })?;
                place::set(answers, question.path, answer)?;
            }
        }
        Ok(by_flag)
    }

    fn take_defaults(
        &self,
        answers: &mut Value,
        now: &Now,
        by_flag: &[bool],
        of: impl Fn(&Question) -> bool,
    ) -> Result<(), FormError> {
        for (question, by_flag) in self.questions.iter().zip(by_flag) {
            // One that is left out by its flag is left out.
            if *by_flag || !of(question) || question.answered(answers) || !question.applies(answers) {
                continue;
            }
            if let Some(text) = question.default_text(answers, now) {
                let answer = read_flags(question.kind, &[&text], now)
                    .map_err(|why| FormError::BadAnswer { flag: question.flag, why })?;
                place::set(answers, question.path, answer)?;
            }
        }
        Ok(())
    }

    fn refuse_missing(&self, answers: &Value, of: impl Fn(&Question) -> bool) -> Result<(), FormError> {
        let is_missing = |question: &&Question| {
            question.need == Need::Required
                && of(question)
                && question.applies(answers)
                && !question.answered(answers)
        };
        let missing: Vec<Unanswered> = self
            .questions
            .iter()
            .filter(is_missing)
            .map(|question| Unanswered { flag: question.flag, ask: question.ask })
            .collect();
        if missing.is_empty() { Ok(()) } else { Err(FormError::Missing(missing)) }
    }
}

/// What came of answers that were typed all at once.
#[derive(Debug, Clone)]
pub struct Typed {
    /// The answers that could be read, in their places.
    pub answers: Value,
    /// What is not accepted: the flag of its question, and why.
    pub wrong: Vec<(&'static str, String)>,
    /// Flags of the questions that have to be answered and are not.
    pub open: Vec<&'static str>,
    /// Flags of the questions that apply, in order.
    pub asked: Vec<&'static str>,
}

impl Question {
    /// What is proposed to a person, as it would be typed; none where there is nothing to propose.
    pub fn proposed(&self, answers: &Value, now: &Now) -> Option<String> {
        self.proposal(answers, now)
    }

    /// True when the question can be put to a person at a terminal.
    pub(super) fn askable(&self) -> bool {
        self.need != Need::FlagOnly && !matches!(self.kind, AnswerKind::Json)
    }

    /// True when there is an answer to it.
    pub fn answered(&self, answers: &Value) -> bool {
        place::answered(answers, self.path, self.kind.null_counts())
    }
}

/// Reads the texts of one flag, given once or several times, as one answer.
pub(super) fn read_flags(kind: AnswerKind, texts: &[&String], now: &Now) -> Result<Value, String> {
    let mut joined: Vec<Value> = Vec::new();
    let mut each = Map::new();
    let several = texts.len() > 1;
    for (index, text) in texts.iter().enumerate() {
        let answer = kind.read(text, now, Given::ByFlag).map_err(|why| match several {
            true => format!("number {}: {why}", index + 1),
            false => why,
        })?;
        match (kind, answer) {
            (AnswerKind::Rows(_), row) => joined.push(row),
            (AnswerKind::Each(_), Value::Object(more)) => {
                for (name, word) in more {
                    if each.insert(name, word).is_some() {
                        return Err(format!("number {}: a name in it was given before", index + 1));
                    }
                }
            }
            (_, Value::Array(words)) if kind.repeats() => {
                words.into_iter().for_each(|word| {
                    if !joined.contains(&word) {
                        joined.push(word);
                    }
                });
            }
            (_, Value::Null) if several => return Err("all stands alone; give it once".to_owned()),
            (_, single) => return Ok(single),
        }
    }
    Ok(match kind {
        AnswerKind::Each(_) => Value::Object(each),
        _ => Value::Array(joined),
    })
}

#[cfg(test)]
mod tests;

//! Guided questions: one after another at a terminal, with the way back open.

use super::answer::{AnswerKind, Given};
use super::clock::Now;
use super::fill::read_flags;
use super::form::{FormError, Need, Question, is_reason};
use super::place;
use super::prompt::Asker;
use super::readback::plain;
use super::table;
use serde_json::Value;

/// Where a question stands in this run.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Standing {
    /// Not put yet; put if it has no answer.
    Untouched,
    /// Answered, kept or passed over.
    Settled,
    /// Put again though it has an answer: the person went back to it.
    Reopened,
    /// Given by its flag; never put.
    Fixed,
}

/// Where the answer a question begins with came from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Beginning {
    /// It has none, or one from the data file.
    Plain,
    /// Its flag: it is not put again.
    ByFlag,
    /// The draft, so a person wrote it: it goes when its question stops applying, and one of
    /// several lines may have been cut short.
    Drafted,
}

/// What came of putting a question.
enum Outcome {
    Settled,
    Back,
}

/// Saves what has been answered so far.
type Keep<'a> = dyn FnMut(&Value) -> Result<(), FormError> + 'a;

/// One run through the questions.
pub(super) struct Guide<'a> {
    questions: &'a [Question],
    asker: &'a mut dyn Asker,
    now: &'a Now,
    answers: &'a mut Value,
    keep: &'a mut Keep<'a>,
    standing: Vec<Standing>,
    /// Answered by a person, now or in the draft: these, and only these, are taken out when they stop applying.
    by_hand: Vec<bool>,
    /// Answers taken out, offered again should their question come back.
    aside: Vec<Option<Value>>,
}

const KEYS: &str = "Enter takes what stands in brackets, or passes over what may be left out. ? explains, \
     < goes back one question, - leaves out. Ctrl-D stops.";

impl<'a> Guide<'a> {
    pub(super) fn new(
        questions: &'a [Question],
        asker: &'a mut dyn Asker,
        now: &'a Now,
        answers: &'a mut Value,
        keep: &'a mut Keep<'a>,
    ) -> Guide<'a> {
        let count = questions.len();
        Guide {
            questions,
            asker,
            now,
            answers,
            keep,
            standing: vec![Standing::Untouched; count],
            by_hand: vec![false; count],
            aside: vec![None; count],
        }
    }

    /// Puts every question that is open, until none is.
    pub(super) fn run(mut self, beginnings: &[Beginning]) -> Result<(), FormError> {
        for (at, beginning) in beginnings.iter().enumerate().take(self.questions.len()) {
            match beginning {
                Beginning::Plain => {}
                Beginning::ByFlag => self.standing[at] = Standing::Fixed,
                Beginning::Drafted => {
                    self.by_hand[at] = true;
                    if self.questions[at].kind.many_lines() {
                        self.standing[at] = Standing::Reopened;
                    }
                }
            }
        }
        if self.next().is_some() {
            (self.keep)(self.answers)?;
            self.asker.say(&table::wrap(KEYS, table::width()).join("\n"));
        }
        while let Some(at) = self.next() {
            let question = self.questions[at];
            self.introduce(&question);
            let outcome = match question.kind.many_lines() {
                true => self.put_lines(at, &question)?,
                false => self.put_line(at, &question)?,
            };
            match outcome {
                Outcome::Settled => self.standing[at] = Standing::Settled,
                Outcome::Back => self.reopen_before(at),
            }
        }
        Ok(())
    }

    fn next(&self) -> Option<usize> {
        (0..self.questions.len()).find(|at| {
            let question = &self.questions[*at];
            let open = match self.standing[*at] {
                Standing::Untouched => !question.answered(self.answers),
                Standing::Reopened => true,
                Standing::Settled | Standing::Fixed => false,
            };
            open && self.reachable(question)
        })
    }

    fn reachable(&self, question: &Question) -> bool {
        question.askable() && question.applies(self.answers)
    }

    fn reopen_before(&mut self, at: usize) {
        let before = (0..at).rev().find(|before| {
            self.standing[*before] != Standing::Fixed && self.reachable(&self.questions[*before])
        });
        match before {
            Some(before) => self.standing[before] = Standing::Reopened,
            None => self.asker.say("  There is no question before this one."),
        }
    }

    fn introduce(&mut self, question: &Question) {
        let width = table::width();
        let may = if question.need == Need::Optional { " (may be left out)" } else { "" };
        self.asker.say(&format!("\n{}", table::wrap(&format!("{}{may}", question.ask), width).join("\n")));
        match question.kind {
            AnswerKind::OneOf(choices) | AnswerKind::ManyOf { choices, .. } => {
                let numbered: Vec<String> =
                    choices.iter().enumerate().map(|(index, word)| format!("{} {word}", index + 1)).collect();
                let listed = wrap_items(&numbered, width.saturating_sub(2));
                self.asker.say(&listed);
            }
            AnswerKind::Rows(_) | AnswerKind::LongWords => {
                self.asker.say(&table::indented(
                    &format!("{}; an empty line ends", question.kind.accepts()),
                    width,
                    2,
                ));
            }
            _ => {}
        }
    }

    fn explain(&mut self, question: &Question) {
        let width = table::width();
        let mut lines = vec![question.help.to_owned(), format!("Accepted: {}", question.kind.accepts())];
        if let AnswerKind::Rows(spec) = question.kind {
            lines.extend(spec.help());
        }
        lines.push(KEYS.to_owned());
        for line in lines.iter().filter(|line| !line.is_empty()) {
            self.asker.say(&table::indented(line, width, 2));
        }
    }

    fn refuse(&mut self, why: &str) {
        self.asker.say(&table::indented(&format!("Not taken: {why}."), table::width(), 2));
    }

    /// What Enter would take: the present answer, the one set aside, or the default.
    fn proposal(&self, at: usize, question: &Question) -> Option<String> {
        let present = place::get(self.answers, question.path).filter(|_| question.answered(self.answers));
        // Enter keeps the reason why there is no value; nothing else may be shown as proposed.
        if present.is_some_and(is_reason) {
            return None;
        }
        let earlier = present.or(self.aside[at].as_ref());
        earlier.map(|value| question.kind.write(value)).or_else(|| question.proposal(self.answers, self.now))
    }

    fn put_line(&mut self, at: usize, question: &Question) -> Result<Outcome, FormError> {
        loop {
            let proposal = self.proposal(at, question);
            let prompt = match &proposal {
                Some(text) => format!("[{}] > ", table::shown(text)),
                None => "> ".to_owned(),
            };
            let line = self.asker.line(&prompt)?.ok_or(FormError::Stopped)?;
            let (text, given) = match line.trim() {
                "<" => return Ok(Outcome::Back),
                "?" => {
                    self.explain(question);
                    continue;
                }
                "-" => match self.leave_out(at, question)? {
                    Some(outcome) => return Ok(outcome),
                    None => continue,
                },
                "" if question.answered(self.answers) => return Ok(Outcome::Settled),
                "" => match proposal {
                    // What is proposed is a whole answer, not a shortened one.
                    Some(text) => (text, Given::ByFlag),
                    None if question.need == Need::Optional => return Ok(Outcome::Settled),
                    None => {
                        self.refuse("this has to be answered");
                        continue;
                    }
                },
                typed => (typed.to_owned(), Given::ByHand),
            };
            match question.kind.read(&text, self.now, given) {
                Ok(answer) => {
                    if question.kind.write(&answer) != line.trim() {
                        // Shortened or proposed: the person sees what was understood.
                        self.asker.say(&format!("  = {}", table::shown(&plain(question.kind, &answer))));
                    }
                    self.take(at, question, answer)?;
                    return Ok(Outcome::Settled);
                }
                Err(why) => self.refuse(&why),
            }
        }
    }

    /// Leaves an optional question without an answer. None where it has to be answered.
    fn leave_out(&mut self, at: usize, question: &Question) -> Result<Option<Outcome>, FormError> {
        if question.need == Need::Required {
            self.refuse("this has to be answered and cannot be left out");
            return Ok(None);
        }
        self.drop_answer(at, question)?;
        Ok(Some(Outcome::Settled))
    }

    fn drop_answer(&mut self, at: usize, question: &Question) -> Result<(), FormError> {
        self.by_hand[at] = false;
        self.aside[at] = None;
        if place::take(self.answers, question.path).is_some() {
            self.tidy();
            (self.keep)(self.answers)?;
        }
        Ok(())
    }

    fn take(&mut self, at: usize, question: &Question, answer: Value) -> Result<(), FormError> {
        place::set(self.answers, question.path, answer)?;
        for (other, by_hand) in self.by_hand.iter_mut().enumerate() {
            if self.questions[other].path == question.path {
                *by_hand = other == at;
            }
        }
        self.aside[at] = None;
        self.tidy();
        (self.keep)(self.answers)
    }

    /// Sets aside answers by hand whose question no longer applies, until nothing changes.
    fn tidy(&mut self) {
        loop {
            let stale = (0..self.questions.len())
                .find(|at| self.by_hand[*at] && !self.questions[*at].applies(self.answers));
            let Some(at) = stale else { return };
            let question = self.questions[at];
            self.aside[at] = place::take(self.answers, question.path);
            self.by_hand[at] = false;
            self.standing[at] = Standing::Untouched;
            self.asker.say(&format!("  Left out, since it no longer applies: {}", question.ask));
        }
    }

    fn put_lines(&mut self, at: usize, question: &Question) -> Result<Outcome, FormError> {
        let present = place::get(self.answers, question.path).or(self.aside[at].as_ref());
        let mut lines = Lines::of(question.kind, present);
        self.show_lines(&lines);
        loop {
            let line =
                self.asker.line(&format!("{} > ", lines.items.len() + 1))?.ok_or(FormError::Stopped)?;
            match line.trim() {
                "" => {
                    if let Some(outcome) = self.end_lines(at, question, &lines)? {
                        return Ok(outcome);
                    }
                }
                "?" => self.explain(question),
                "<" if lines.fresh() == 0 => return Ok(Outcome::Back),
                "<" => {
                    lines.items.pop();
                    self.asker.say("  The line before was taken back.");
                    self.take_lines(at, question, &lines)?;
                }
                "-" if lines.items.is_empty() => {
                    if let Some(outcome) = self.leave_out(at, question)? {
                        return Ok(outcome);
                    }
                }
                "-" => {
                    lines = Lines::of(question.kind, None);
                    self.drop_answer(at, question)?;
                    self.asker
                        .say("  All lines were taken out; write them anew, or - again to leave it out.");
                }
                _ => match question.kind.read(&line, self.now, Given::ByHand) {
                    Ok(item) => {
                        if let AnswerKind::Rows(spec) = question.kind {
                            self.asker.say(&format!("  = {}", table::shown(&spec.write(&item))));
                        }
                        lines.items.push(item);
                        self.take_lines(at, question, &lines)?;
                    }
                    Err(why) => self.refuse(&why),
                },
            }
        }
    }

    fn show_lines(&mut self, lines: &Lines) {
        if lines.items.is_empty() {
            return;
        }
        self.asker.say("  Written already; Enter keeps it, what you write is added, - takes it all out:");
        for (index, item) in lines.items.iter().enumerate() {
            self.asker.say(&format!("  {}: {}", index + 1, table::shown(&lines.kind.write(item))));
        }
    }

    /// An empty line: keeps what is written, or else takes the default or passes over.
    fn end_lines(
        &mut self,
        at: usize,
        question: &Question,
        lines: &Lines,
    ) -> Result<Option<Outcome>, FormError> {
        if !lines.items.is_empty() {
            self.take_lines(at, question, lines)?;
            return Ok(Some(Outcome::Settled));
        }
        if let Some(text) = question.proposal(self.answers, self.now) {
            match read_flags(question.kind, &[&text], self.now) {
                Ok(answer) => {
                    self.asker.say(&format!("  = {}", table::shown(&plain(question.kind, &answer))));
                    self.take(at, question, answer)?;
                    return Ok(Some(Outcome::Settled));
                }
                Err(why) => self.refuse(&why),
            }
            return Ok(None);
        }
        if question.need == Need::Optional {
            return Ok(Some(Outcome::Settled));
        }
        self.refuse("this has to be answered with at least one line");
        Ok(None)
    }

    fn take_lines(&mut self, at: usize, question: &Question, lines: &Lines) -> Result<(), FormError> {
        match lines.joined() {
            Some(answer) => self.take(at, question, answer),
            None => self.drop_answer(at, question),
        }
    }
}

/// The lines of one answer while it is being written.
struct Lines {
    kind: AnswerKind,
    items: Vec<Value>,
    earlier: usize,
}

impl Lines {
    fn of(kind: AnswerKind, present: Option<&Value>) -> Lines {
        let items: Vec<Value> = match present {
            Some(Value::Array(rows)) => rows.clone(),
            Some(Value::String(text)) => text.lines().map(Value::from).collect(),
            _ => Vec::new(),
        };
        Lines { kind, earlier: items.len(), items }
    }

    /// How many were written in this visit.
    fn fresh(&self) -> usize {
        self.items.len().saturating_sub(self.earlier)
    }

    fn joined(&self) -> Option<Value> {
        if self.items.is_empty() {
            return None;
        }
        Some(match self.kind {
            AnswerKind::LongWords => {
                let lines: Vec<&str> = self.items.iter().filter_map(Value::as_str).collect();
                Value::from(lines.join("\n"))
            }
            _ => Value::Array(self.items.clone()),
        })
    }
}

/// Items two spaces apart, as many on a line as fit, indented by two.
fn wrap_items(items: &[String], width: usize) -> String {
    let mut lines: Vec<String> = Vec::new();
    for item in items {
        match lines.last_mut() {
            Some(line) if line.chars().count() + 2 + item.chars().count() <= width => {
                line.push_str("  ");
                line.push_str(item);
            }
            _ => lines.push(item.clone()),
        }
    }
    lines.iter().map(|line| format!("  {line}")).collect::<Vec<_>>().join("\n")
}

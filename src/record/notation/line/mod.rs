//! The line form: one line for each finding, procedure, measure, check, thing not done, or part in words, as it
//! is typed at speed. `schema/LINES.md` is its grammar. A line that could mean two things is asked about, one that can't
//! be is refused with the reason; nothing is guessed.

mod check;
mod finding;
mod lex;
mod measure;
mod note_words;
mod place;
mod print;
mod procedure;
mod told;
mod words;

#[cfg(test)]
mod each_tests;
#[cfg(test)]
pub(super) mod tests;

pub use measure::{check_measure, usual_unit};
pub use note_words::{NoteWords, Part, split};
pub use print::print;
pub use told::read_back;

use crate::record::kinds::finding::Finding;
use crate::record::kinds::procedure::{Deferred, Procedure};
use crate::record::kinds::screening::MeasureKind;
use crate::record::kinds::visit::{InVisitCheck, NoteMeasure};
use crate::record::moment::Moment;
use crate::record::notation::level::Spine;
use crate::record::tables::levels::Levels;
use lex::{Item, What};
use words::Meaning;

/// Where and when a line is typed.
#[derive(Debug, Clone, Copy)]
pub struct Setting<'a> {
    /// Now; taken where a line names no time.
    pub at: Moment,
    /// Staff code of whoever types; taken where a procedure names nobody.
    pub done_by: &'a str,
    /// True where the chart flags a sixth lumbar vertebra.
    pub transitional: bool,
    /// The levels of the spine.
    pub levels: &'a Levels,
}

impl<'a> Setting<'a> {
    fn spine(&self) -> Spine<'a> {
        Spine::new(self.levels, self.transitional)
    }

    /// A time of today, by the clock as it stands now.
    fn at_time(&self, time: &str) -> Option<Moment> {
        let (hour, minute) = time.split_once(':')?;
        let digits = |part: &str| part.bytes().all(|b| b.is_ascii_digit());
        if !(1..=2).contains(&hour.len()) || minute.len() != 2 || !digits(hour) || !digits(minute) {
            return None;
        }
        let (hour, minute): (i64, i64) = (hour.parse().ok()?, minute.parse().ok()?);
        let offset = i64::from(self.at.offset_seconds());
        let midnight = (self.at.unix() + offset).div_euclid(86_400) * 86_400 - offset;
        let second = midnight + hour * 3600 + minute * 60;
        (hour < 24 && minute < 60).then(|| Moment::from_unix(second, self.at.offset_seconds())).flatten()
    }
}

/// What a line says. Numbers within the note are 0: the note gives them.
#[derive(Debug, Clone, PartialEq)]
pub enum Line {
    /// Something found.
    Finding(Box<Finding>),
    /// Something done.
    Procedure(Box<Procedure>),
    /// Something not done, and why.
    Deferred(Deferred),
    /// Something measured before, during or after.
    Measure(Box<NoteMeasure>),
    /// Something asked while treating.
    Check(InVisitCheck),
    /// Words for a part of the note.
    Words(NoteWords),
}

impl Line {
    /// The sort of line in a word, as people say it.
    pub fn sort(&self) -> &'static str {
        match self {
            Line::Finding(_) => "finding",
            Line::Procedure(_) => "procedure",
            Line::Deferred(_) => "thing not done",
            Line::Measure(_) => "measure",
            Line::Check(_) => "check",
            Line::Words(_) => "part in words",
        }
    }

    /// The list of a visit note it belongs to; for words, which are in no list, the part they are for.
    pub fn list(&self) -> &'static str {
        match self {
            Line::Finding(_) => "findings",
            Line::Procedure(_) => "procedures",
            Line::Deferred(_) => "deferred",
            Line::Measure(_) => "measures",
            Line::Check(_) => "checks",
            Line::Words(said) => said.part.word(),
        }
    }
}

/// What came of reading a line.
#[derive(Debug, Clone, PartialEq)]
pub enum Read {
    /// It reads so.
    Line(Line),
    /// It could be read in several ways.
    Ask(Question),
    /// It can't be.
    Refused(Refusal),
}

/// A line that could be read in several ways.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Question {
    /// What must be said.
    pub text: String,
    /// The line, written out for each reading. Each may have to be asked about again.
    pub readings: Vec<String>,
}

/// Why a line can't be taken.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Refusal {
    /// Stable id, for tests and translations.
    pub id: &'static str,
    /// In plain words.
    pub text: String,
}

impl Refusal {
    fn new(id: &'static str, text: impl Into<String>) -> Refusal {
        Refusal { id, text: text.into() }
    }
}

/// Why reading stopped.
enum Stop {
    Ask(Question),
    Refused(Refusal),
}

impl From<Refusal> for Stop {
    fn from(refusal: Refusal) -> Stop {
        Stop::Refused(refusal)
    }
}

fn refuse<T>(id: &'static str, text: impl Into<String>) -> Result<T, Stop> {
    Err(Stop::Refused(Refusal::new(id, text)))
}

/// A question whose readings put other words for a part of the line.
fn ask<T>(line: &str, item: &Item, text: impl Into<String>, instead: &[String]) -> Result<T, Stop> {
    let with = |words: &String| {
        let (before, after) = (line.get(..item.from), line.get(item.to..));
        format!("{}{words}{}", before.unwrap_or_default(), after.unwrap_or_default())
    };
    Err(Stop::Ask(Question { text: text.into(), readings: instead.iter().map(with).collect() }))
}

/// A question whose readings put more words behind a line.
fn ask_more<T>(line: &str, text: impl Into<String>, more: &[&str]) -> Result<T, Stop> {
    let readings = more.iter().map(|words| format!("{} {words}", line.trim_end())).collect();
    Err(Stop::Ask(Question { text: text.into(), readings }))
}

/// Reads a line.
pub fn read(line: &str, setting: &Setting<'_>) -> Read {
    match read_items(line, setting) {
        Ok(line) => Read::Line(line),
        Err(Stop::Ask(question)) => Read::Ask(question),
        Err(Stop::Refused(refusal)) => Read::Refused(refusal),
    }
}

fn read_items(line: &str, setting: &Setting<'_>) -> Result<Line, Stop> {
    if line.len() > LONGEST {
        return refuse("too-long", "a line has at most 2000 letters");
    }
    if let Some(said) = note_words::read(line)? {
        return Ok(Line::Words(said));
    }
    let items = lex::items(line, setting)?;
    let typed = Typed { line, items: &items, setting };
    match typed.sort() {
        None => refuse("empty", "nothing is written there"),
        Some(Sort::Check) => check::read(&typed).map(Line::Check),
        Some(Sort::Done) => procedure::read(&typed),
        Some(Sort::Measured) => measure::read(&typed).map(|taken| Line::Measure(Box::new(taken))),
        Some(Sort::Found) => finding::read(&typed).map(|found| Line::Finding(Box::new(found))),
    }
}

/// More than anybody types on a line.
const LONGEST: usize = 2000;

enum Sort {
    Check,
    Done,
    Measured,
    Found,
}

/// A line, its items, and where it is typed.
struct Typed<'a> {
    line: &'a str,
    items: &'a [Item],
    setting: &'a Setting<'a>,
}

impl Typed<'_> {
    fn any(&self, test: impl Fn(&Meaning) -> bool) -> bool {
        self.items.iter().any(|item| item.what.meanings().iter().any(&test))
    }

    /// Which sort of line it is: by its first word, by a technique, by what is found or measured.
    fn sort(&self) -> Option<Sort> {
        let first = self.items.first()?;
        if first.what.meanings().contains(&Meaning::Check) {
            return Some(Sort::Check);
        }
        if self.any(|m| matches!(m, Meaning::Technique(_) | Meaning::Adjust)) {
            return Some(Sort::Done);
        }
        let measures = |item: &&Item| item.what.meanings().iter().any(|m| measure_of(m).is_some());
        let finds = |item: &&Item| item.what.meanings().iter().any(|m| matches!(m, Meaning::Kind(..)));
        if self.items.iter().any(|item| finds(&item) && !measures(&item)) {
            return Some(Sort::Found);
        }
        if self.items.iter().any(|item| measures(&item) && !finds(&item)) {
            return Some(Sort::Measured);
        }
        let phase = self.any(|m| matches!(m, Meaning::Phase(_)));
        let graded = self.any(|m| matches!(measure_of(m), Some(MeasureKind::Strength | MeasureKind::Reflex)));
        // The number of a rib is no value.
        let of_rib = |at: usize| {
            let before = at.checked_sub(1).and_then(|before| self.items.get(before));
            before.is_some_and(|item| item.what.meanings().iter().any(|m| matches!(m, Meaning::Rib(_))))
        };
        let number = self
            .items
            .iter()
            .enumerate()
            .any(|(at, item)| matches!(item.what, What::Number(..) | What::Ratio(..)) && !of_rib(at));
        let measured = self.items.iter().any(|item| measures(&item)) && (phase || (number && !graded));
        Some(if measured { Sort::Measured } else { Sort::Found })
    }
}

fn measure_of(meaning: &Meaning) -> Option<MeasureKind> {
    match meaning {
        Meaning::Measure(kind) => Some(*kind),
        Meaning::Score(_) => Some(MeasureKind::Questionnaire),
        _ => None,
    }
}

/// Puts a value where there is none; two of a kind can't both be meant.
fn once<T: PartialEq>(slot: &mut Option<T>, value: T, what: &str) -> Result<(), Stop> {
    match slot {
        Some(known) if *known != value => {
            refuse("twice", format!("two things are said for the {what}; write one"))
        }
        _ => {
            *slot = Some(value);
            Ok(())
        }
    }
}

/// A word that is known, and has no place in this sort of line.
fn misplaced<T>(typed: &Typed<'_>, item: &Item, sort: &str) -> Result<T, Stop> {
    let word: String = typed.line.get(item.from..item.to).unwrap_or_default().chars().take(32).collect();
    refuse("out-of-place", format!("\"{word}\" says nothing in a line for a {sort}"))
}

/// A `name=` that is not known.
fn no_such_name<T>(name: &str, names: &str) -> Result<T, Stop> {
    let shown: String = name.chars().take(24).collect();
    refuse("unknown-name", format!("\"{shown}=\" is not known here; known are {names}"))
}

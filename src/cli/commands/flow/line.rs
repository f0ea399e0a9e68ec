//! The words of a short line: which chart they belong to, and what is asked where they leave a doubt.

use crate::cli::context::Context;
use crate::cli::form::{Form, Need};
use crate::cli::prompt::Asker;
use crate::practice::chart::{ChartFace, faces, find, tag_of};
use crate::practice::open::Practice;
use crate::practice::visit::open_here;
use crate::record::shortform::{Doubt, Grammar, Parsed, Reading, Short, parse};
use crate::trouble::{Kind, Outcome, Trouble};
use clap::ArgMatches;
use serde_json::Value;
use std::io;
use zeroize::Zeroizing;

/// Does something during which nobody is asked anything.
pub fn quietly<T>(context: &mut Context<'_>, work: impl FnOnce(&mut Context<'_>) -> T) -> T {
    let mut silent = Silent { asker: &mut *context.asker };
    let mut inner = Context {
        matches: context.matches,
        world: context.world.clone(),
        asker: &mut silent,
        out: &mut *context.out,
        opened: context.opened.clone(),
    };
    work(&mut inner)
}

/// Somebody who is there to read, and is asked nothing.
struct Silent<'a> {
    asker: &'a mut dyn Asker,
}

impl Asker for Silent<'_> {
    fn interactive(&self) -> bool {
        false
    }
    fn line(&mut self, prompt: &str) -> io::Result<Option<String>> {
        self.asker.line(prompt)
    }
    fn secret(&mut self, prompt: &str) -> io::Result<Option<Zeroizing<String>>> {
        self.asker.secret(prompt)
    }
    fn say(&mut self, text: &str) {
        self.asker.say(text);
    }
    fn can_ask_secret(&self) -> bool {
        self.asker.can_ask_secret()
    }
}

/// The chart a line belongs to, and the words behind its number.
#[derive(Clone)]
pub struct Whose {
    /// The chart's tag in the ledger.
    pub tag: String,
    /// The chart's number.
    pub chart_no: String,
    /// What stands at its head; none at a locked desk, where it is not read.
    pub face: Option<ChartFace>,
    /// The other words.
    pub words: Vec<String>,
}

impl Whose {
    fn of(face: ChartFace, words: Vec<String>) -> Whose {
        Whose { tag: face.tag.clone(), chart_no: face.chart_no.clone(), face: Some(face), words }
    }

    /// The chart's head, for what reads the chart.
    ///
    /// # Errors
    /// At a locked desk.
    pub fn open(&self) -> Outcome<&ChartFace> {
        self.face.as_ref().ok_or_else(|| {
            Trouble::new(
                Kind::Locked,
                "The desk is locked: nothing can be read.",
                "Nothing was recorded.",
                "Unlock it with `inkfast unlock`.",
            )
        })
    }
}

/// The words as typed.
pub fn typed(context: &Context<'_>) -> Vec<String> {
    context
        .matches
        .try_get_many::<String>("line")
        .ok()
        .flatten()
        .map(|words| words.cloned().collect())
        .unwrap_or_default()
}

/// Finds the chart: the first word, where it is a chart number; else the one with the only visit open here.
///
/// # Errors
/// When the first word is like a chart number and no chart has it, and when no or several visits are open here
/// and nobody can be asked which is meant.
pub fn whose(context: &mut Context<'_>, practice: &Practice, grammar: Grammar) -> Outcome<Whose> {
    let mut words = typed(context);
    if practice.session.kit().is_some() {
        return at_locked_desk(practice, words);
    }
    let faces = faces(practice)?;
    // A single number is what it says, even where a chart has that number.
    let may_be_chart = grammar != Grammar::Number || words.len() > 1 || !is_clear(grammar, &words);
    if let Some(first) = words.first().filter(|_| may_be_chart).map(|w| w.trim().to_string()) {
        let of_chart = |f: &&ChartFace| f.chart_no.eq_ignore_ascii_case(&first) || f.tag == first;
        if let Some(face) = faces.iter().find(of_chart) {
            words.remove(0);
            return Ok(Whose::of(face.clone(), words));
        }
        // What is like a chart number must never be taken for a word about somebody else.
        let like_a_number = first.chars().any(|c| c.is_ascii_digit()) && !first.contains(char::is_whitespace);
        if like_a_number && !is_clear(grammar, std::slice::from_ref(&first)) && !several(grammar, &first) {
            return find(practice, &first).map(|face| Whose::of(face, words));
        }
    }
    let face = chart_here(context, practice, &faces)?;
    Ok(Whose::of(face, words))
}

/// The chart that is named; else the one with the only visit open here.
///
/// # Errors
/// When no chart has that number, and when none is named and no or several visits are open here and nobody can
/// be asked which is meant.
pub fn the_chart(context: &mut Context<'_>, practice: &Practice, named: Option<&str>) -> Outcome<ChartFace> {
    match named {
        Some(number) => find(practice, number),
        None => chart_here(context, practice, &faces(practice)?),
    }
}

fn chart_here(context: &mut Context<'_>, practice: &Practice, faces: &[ChartFace]) -> Outcome<ChartFace> {
    let here: Vec<ChartFace> =
        open_here(practice)?.iter().filter_map(|tag| faces.iter().find(|f| f.tag == *tag).cloned()).collect();
    choose(context, practice, here)
}

/// At a locked desk the chart is named: which visit is open can't be looked up.
fn at_locked_desk(practice: &Practice, mut words: Vec<String>) -> Outcome<Whose> {
    let chart_no = if words.is_empty() { String::new() } else { words.remove(0).trim().to_string() };
    let tag = tag_of(practice, &chart_no)?;
    Ok(Whose { tag, chart_no, face: None, words })
}

fn is_clear(grammar: Grammar, words: &[String]) -> bool {
    !words.is_empty() && parse(grammar, words).is_clear()
}

fn several(grammar: Grammar, word: &str) -> bool {
    parse(grammar, &[word])
        .doubts
        .iter()
        .any(|d| matches!(d, Doubt::Several { .. } | Doubt::LevelOrSegment { .. }))
}

fn choose(context: &mut Context<'_>, practice: &Practice, mut here: Vec<ChartFace>) -> Outcome<ChartFace> {
    if here.len() == 1 {
        return Ok(here.remove(0));
    }
    let numbers: Vec<String> = here.iter().map(|f| f.chart_no.clone()).collect();
    if !here.is_empty() && context.asker.interactive() {
        let question = format!("Which chart: {}? ", numbers.join(", "));
        let typed = context.asker.line(&question).unwrap_or(None).unwrap_or_default();
        if let Some(face) = here.into_iter().find(|f| f.chart_no.eq_ignore_ascii_case(typed.trim())) {
            return Ok(face);
        }
    }
    let what = match numbers.as_slice() {
        [] => format!("No visit is open for you at {}.", practice.station),
        several => {
            format!("Several visits are open for you at {}: {}.", practice.station, several.join(", "))
        }
    };
    Err(Trouble::new(
        Kind::BadInput,
        what,
        "Nothing was recorded.",
        "Put the chart number before the words, or open the visit with `inkfast visit open CHART`.",
    ))
}

/// Has every doubt of a line settled: at a terminal by asking, else it is refused with the readings.
pub fn settle(context: &mut Context<'_>, grammar: Grammar, mut parsed: Parsed) -> Outcome<Short> {
    // A settled segment may leave a region to be settled, hardly more.
    for _ in 0..8 {
        let doubts = std::mem::take(&mut parsed.doubts);
        if doubts.is_empty() {
            return Ok(parsed.short);
        }
        let mut refused = Vec::new();
        for doubt in &doubts {
            match doubt {
                Doubt::Several { word, readings } if context.asker.interactive() => {
                    parsed.take(grammar, ask(context, word, readings)?);
                }
                other => refused.push(other.words()),
            }
        }
        if !refused.is_empty() {
            return Err(Trouble::input(
                refused.join("\n"),
                "Say it with one word of the list; `--help` names them. What was said goes in quotation marks, or behind `says`.",
            ));
        }
        parsed.infer(grammar);
    }
    Err(Trouble::input("The line stays unclear.", "Write it with the options that `--help` names."))
}

fn ask(context: &mut Context<'_>, word: &str, readings: &[Reading]) -> Outcome<Reading> {
    let list: Vec<String> =
        readings.iter().zip(1..).map(|(reading, n)| format!("{n} {}", reading.word())).collect();
    loop {
        let question =
            format!("\"{}\" could be: {}. Which? ", crate::cli::table::shown(word), list.join(", "));
        let Some(typed) = context.asker.line(&question).unwrap_or(None) else {
            return Err(Trouble::input("The question was not answered.", "Run the command again."));
        };
        let typed = typed.trim();
        let by_number = typed.parse::<usize>().ok().and_then(|n| readings.get(n.checked_sub(1)?));
        let chosen = by_number.or_else(|| readings.iter().find(|r| r.word() == typed));
        match chosen {
            Some(reading) => return Ok(reading.clone()),
            None => context.asker.say("Please answer with one of the numbers."),
        }
    }
}

/// Flags of the answers that are still missing.
pub fn lacking(form: &Form, start: &Value, matches: &ArgMatches) -> Vec<&'static str> {
    let by_flag = |flag: &str| matches.try_get_raw(flag).ok().flatten().is_some();
    form.questions
        .iter()
        .filter(|q| q.need == Need::Required && q.default.is_none() && q.applies(start))
        .filter(|q| !q.answered(start) && !by_flag(q.flag))
        .map(|q| q.flag)
        .collect()
}

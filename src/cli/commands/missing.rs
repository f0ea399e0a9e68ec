//! `missing`: what the note of the open visit lacks, at any time before it is signed.

use super::flow::the_chart;
use super::lines::note_draft;
use super::reason::{add_why_args, record_look};
use super::visit::{chart_here_arg, visit_in};
use crate::cli::context::Context;
use crate::cli::exit::Exit;
use crate::cli::record::{add_happened_args, happened};
use crate::cli::table::{indented, shown, width};
use crate::practice::chart::ChartFace;
use crate::practice::open::{Entry, Practice};
use crate::practice::review::remarks;
use crate::practice::visit::{complete, ended_by_now, in_visit};
use crate::record::envelope::Happened;
use crate::record::moment::Moment;
use crate::record::review::{Level, Remark};
use crate::trouble::Outcome;
use clap::Command;
use serde::Serialize;

/// What a note lacks, in `--json` output.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct MissingOutput {
    /// Number of the visit opening.
    pub visit: u64,
    /// How many remarks stand between the note and its signature.
    pub open: usize,
    /// Every remark, those already answered and those that only mark among them.
    pub remarks: Vec<Remark>,
}

/// A finished note that is held back, in `--json` output.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct HeldOutput {
    /// Number of the visit opening.
    pub visit: u64,
    /// Until when `inkfast sign` signs it without looking it through again.
    pub held_until: Moment,
}

/// Options of `missing`.
pub fn command() -> Command {
    add_why_args(add_happened_args(chart_here_arg(
        Command::new("missing").about("What the note of the open visit lacks, and what is worth a question"),
    )))
}

/// Shows the list.
pub fn run(context: &mut Context<'_>) -> Outcome<Exit> {
    let given = happened(context)?;
    let mut practice = context.practice()?;
    let named = context.text("chart");
    let face = the_chart(context, &practice, named.as_deref())?;
    let entries = practice.chart(&face.tag)?;
    let visit = visit_in(&entries)?;
    // What is missing tells what is there: whoever has no part in the visit says why they look.
    record_look(context, &mut practice, &face, &entries)?;
    let when = visit_time(context, &practice, &face, &entries, given)?;
    let mut data = note_draft(&practice, &face, visit, when.start)?.data;
    if let Some(fields) = data.as_object_mut() {
        complete(fields, visit, &in_visit(&entries, visit), &practice.session.me.code);
    }
    let found = remarks(&practice, &entries, visit, &data, when)?;
    show(context, visit, &found)?;
    Ok(Exit::Done)
}

/// A visit's note happened from the opening of the visit until now, unless other times were given. A note
/// finished on a later day, or long after the last thing known of the visit, says nothing about how long the
/// patient was there: then the visit ends with that last thing.
pub fn visit_time(
    context: &Context<'_>,
    practice: &Practice,
    face: &ChartFace,
    entries: &[Entry],
    given: Happened,
) -> Outcome<Happened> {
    let visit = visit_in(entries)?;
    let opened = practice.entry_by_seq(visit)?.record.map(|record| record.happened.start);
    let Some(opened) = opened.filter(|_| context.text("happened").is_none()) else { return Ok(given) };
    if let Some(end) = given.end {
        return Ok(Happened { start: opened, end: (end >= opened).then_some(end), about: false });
    }
    let draft = note_draft(practice, face, visit, given.start)?.data;
    let end = ended_by_now(practice, entries, visit, &draft, opened, given.start)?;
    Ok(Happened { start: opened, end: (end >= opened).then_some(end), about: false })
}

/// Shows remarks, those that stand in the way first.
pub fn show(context: &mut Context<'_>, visit: u64, remarks: &[Remark]) -> Outcome<()> {
    let open = remarks.iter().filter(|remark| remark.is_open()).count();
    if context.json() {
        return context.say_json(&MissingOutput { visit, open, remarks: remarks.to_vec() });
    }
    for text in lines(remarks) {
        context.say(&text)?;
    }
    Ok(())
}

/// The list in words.
pub fn lines(remarks: &[Remark]) -> Vec<String> {
    let mut lines = Vec::new();
    for (level, title) in [
        (Level::Refuse, "Can't be signed as it stands:"),
        (Level::Missing, "Missing:"),
        (Level::Ask, "Worth a question:"),
        (Level::Flag, "Will be marked for ever:"),
    ] {
        let of_level: Vec<&Remark> =
            remarks.iter().filter(|r| r.level == level && r.answered.is_none()).collect();
        if !of_level.is_empty() {
            lines.push(title.to_string());
        }
        for remark in of_level {
            lines.push(indented(&shown(&format!("{}: {}", remark.item, remark.words)), width(), 2));
            lines.push(indented(&remark.remedy, width(), 6));
        }
    }
    let answered: Vec<&Remark> = remarks.iter().filter(|r| r.answered.is_some()).collect();
    if !answered.is_empty() {
        lines.push("Answered in the note:".to_string());
    }
    for remark in answered {
        let answer = remark.answered.as_deref().unwrap_or_default();
        lines.push(indented(&shown(&format!("{}: {answer}", remark.item)), width(), 2));
    }
    if remarks.iter().all(|remark| !remark.is_open()) {
        lines.push("Nothing is missing.".to_string());
    }
    lines
}

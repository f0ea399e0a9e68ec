//! `today`: what matters on a day, across all charts, overdue first; on the screen, as JSON, or on paper.

use crate::cli::clock::Now;
use crate::cli::context::{Context, add_who_args};
use crate::cli::exit::Exit;
use crate::cli::table::{Table, shown, width};
use crate::practice::lists::{List, Listed, Section, due_words, gather};
use crate::practice::open::Practice;
use crate::record::calendar::with_weekday;
use crate::record::kinds::common::Day;
use crate::record::moment::Date;
use crate::record::open_items::ItemKind;
use crate::render::{DaySheet, SheetLine, SheetPart, day_sheet};
use crate::trouble::{Outcome, Trouble};
use clap::{Arg, Command};
use serde::Serialize;
use std::path::{Path, PathBuf};

/// A list in `--json` output.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct ListOutput {
    /// The day it is for.
    pub day: Day,
    /// Who was given this day for the next visit.
    pub expected: Vec<ExpectedOutput>,
    /// What is open, most pressing first.
    pub items: Vec<ItemOutput>,
    /// How many drafts other people keep.
    pub drafts_of_others: usize,
    /// How many charts the roles of whoever is here do not open.
    pub charts_not_opened: usize,
}

/// Somebody expected, in `--json` output.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct ExpectedOutput {
    /// Chart number.
    pub chart: String,
    /// Name.
    pub name: String,
}

/// One thing that is open, in `--json` output.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct ItemOutput {
    /// What sort of thing.
    pub kind: ItemKind,
    /// Chart number; null outside any chart.
    pub chart: Option<String>,
    /// Name of the patient; null outside any chart.
    pub name: Option<String>,
    /// Number of the entry it stems from; null for a draft.
    pub entry: Option<u64>,
    /// Day it is due; null where none is set.
    pub due: Option<Day>,
    /// True when that day is over.
    pub overdue: bool,
    /// In plain words.
    pub words: String,
    /// How it is closed.
    pub remedy: String,
}

/// Options of `today`.
pub fn command() -> Command {
    let cmd =
        Command::new("today").about("What matters today across all charts: overdue first, with the days");
    add_day_arg(add_who_args(cmd)).arg(
        Arg::new("print")
            .long("print")
            .value_name("FILE")
            .value_parser(clap::value_parser!(PathBuf))
            .help("Write it as one page for a browser or printer, in black and white"),
    )
}

/// Adds the day a list is for.
pub fn add_day_arg(cmd: Command) -> Command {
    cmd.arg(
        Arg::new("date").long("date").value_name("DATE").help("The day: 2025-03-11, today [default: today]"),
    )
}

/// The day a list is for.
pub fn day_of(context: &Context<'_>) -> Outcome<Date> {
    let now: Now = context.now();
    match context.text("date") {
        None => Ok(now.today()),
        Some(text) => now
            .read_date(text.trim())
            .map_err(|why| Trouble::input(format!("--date: {why}"), "Correct it and do it again.")),
    }
}

/// Shows what matters on a day.
pub fn run(context: &mut Context<'_>) -> Outcome<Exit> {
    let day = day_of(context)?;
    let practice = context.practice()?;
    let list = gather(&practice, None, day)?.of_the_day();
    if let Some(file) = context.path("print") {
        return write_sheet(context, &practice, &list, &file);
    }
    if context.json() {
        context.say_json(&output(&list))?;
        return Ok(Exit::Done);
    }
    context.say(&text(&list))?;
    Ok(Exit::Done)
}

/// A list as JSON.
pub fn output(list: &List) -> ListOutput {
    let expected = |e: &crate::practice::lists::Expected| ExpectedOutput {
        chart: e.chart.clone(),
        name: e.name.clone(),
    };
    ListOutput {
        day: Day(list.day),
        expected: list.expected.iter().map(expected).collect(),
        items: list.items.iter().map(|listed| item_output(listed, list.day)).collect(),
        drafts_of_others: list.drafts_of_others,
        charts_not_opened: list.charts_not_opened,
    }
}

/// One thing as JSON.
pub fn item_output(listed: &Listed, day: Date) -> ItemOutput {
    let item = &listed.item;
    ItemOutput {
        kind: item.kind,
        chart: item.chart.clone(),
        name: listed.name.clone(),
        entry: item.entry,
        due: item.due,
        overdue: item.is_overdue(day),
        words: item.words.clone(),
        remedy: item.remedy.clone(),
    }
}

fn text(list: &List) -> String {
    let mut lines = vec![format!("{}: what matters today", with_weekday(list.day))];
    if !list.expected.is_empty() {
        lines.push("\nEXPECTED TODAY".to_string());
        for one in &list.expected {
            lines.push(format!("  {}  {}", shown(&one.chart), shown(&one.name)));
        }
    }
    let (overdue, rest) = list.sections();
    for (heading, sections) in [("OVERDUE", overdue), ("DUE TODAY, AND AHEAD", rest)] {
        if !sections.is_empty() {
            lines.push(format!("\n{heading}"));
            lines.extend(sections.iter().map(|section| part(section, list)));
        }
    }
    if list.items.is_empty() {
        lines.push("\nNothing is open today.".to_string());
    }
    lines.extend(remarks(list));
    lines.push("\nHow each is closed: inkfast open".to_string());
    lines.join("\n")
}

/// A heading and its table.
pub fn part(section: &Section<'_>, list: &List) -> String {
    let mut table = Table::new(["Due", "Chart", "No.", "Name", "What"]);
    for listed in &section.items {
        let item = &listed.item;
        table.row([
            due(listed, list),
            item.chart.as_deref().map(shown).unwrap_or_default(),
            item.entry.map(|n| n.to_string()).unwrap_or_default(),
            listed.name.as_deref().map(shown).unwrap_or_default(),
            shown(&item.words),
        ]);
    }
    format!("\n{}\n{}", section.heading, table.render(width()))
}

/// The day it is due, in words.
pub fn due(listed: &Listed, list: &List) -> String {
    let day = list.day;
    match listed.item.due {
        None => "no day set".to_string(),
        Some(due) if due.0 == day => "today".to_string(),
        // Whoever is late anyway is not helped by the working day before.
        Some(due) if due.0 < day => with_weekday(due.0),
        Some(due) => due_words(due.0, &list.days_off),
    }
}

/// What is not on the list, in words.
pub fn remarks(list: &List) -> Vec<String> {
    let mut remarks = Vec::new();
    if list.drafts_of_others > 0 {
        remarks.push(format!(
            "\nOther people keep {} unsigned draft(s) at this store; each sees their own.",
            list.drafts_of_others
        ));
    }
    if list.charts_not_opened > 0 {
        remarks.push(format!("\n{} chart(s) do not open to you and are not listed.", list.charts_not_opened));
    }
    remarks
}

fn write_sheet(context: &mut Context<'_>, practice: &Practice, list: &List, file: &Path) -> Outcome<Exit> {
    let line = |listed: &&Listed| SheetLine {
        due: due(listed, list),
        chart: listed.item.chart.clone().unwrap_or_default(),
        name: listed.name.clone().unwrap_or_default(),
        words: listed.item.words.clone(),
    };
    let parts = |sections: Vec<Section<'_>>| -> Vec<SheetPart> {
        sections
            .iter()
            .map(|s| SheetPart { heading: s.heading.to_string(), lines: s.items.iter().map(line).collect() })
            .collect()
    };
    let (overdue, rest) = list.sections();
    let expected = list.expected.iter().map(|e| SheetLine {
        due: "today".to_string(),
        chart: e.chart.clone(),
        name: e.name.clone(),
        words: String::new(),
    });
    let sheet = DaySheet {
        day: with_weekday(list.day),
        printed: format!("printed {} by {}", practice.now().plain(), practice.session.me.code),
        expected: expected.collect(),
        overdue: parts(overdue),
        due: parts(rest),
        remarks: remarks(list).iter().map(|r| r.trim().to_string()).collect(),
    };
    std::fs::write(file, day_sheet(&sheet)).map_err(|e| Trouble::disk("write", file, &e))?;
    context.say(&format!(
        "Written: {}. It names people: keep it off the counter, and shred it when the day is over.",
        file.display()
    ))?;
    Ok(Exit::Done)
}

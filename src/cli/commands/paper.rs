//! `paper`: old paper charts: the index, what was scanned of them, and what became of the originals.

use super::CliCommand;
use super::entries::form;
use super::reason::{add_why_args, record_look};
use crate::cli::app::needs_word;
use crate::cli::context::{Context, add_who_args};
use crate::cli::data::add_data_arg;
use crate::cli::exit::Exit;
use crate::cli::record::{Recording, add_happened_args, done, happened, record};
use crate::cli::table::{Table, shown, width};
use crate::practice::chart::find;
use crate::practice::open::Practice;
use crate::practice::paper::{Paper, may_destroy, papers};
use crate::record::envelope::RefWhy;
use crate::record::kinds::papers::PaperOriginal;
use crate::record::moment::plain_date;
use crate::trouble::{Outcome, Trouble};
use clap::{Arg, Command};
use serde_json::{Value, json};

/// The command.
pub const COMMAND: CliCommand = CliCommand { word: "paper", build: command, run };

fn command() -> Command {
    let chart = || Arg::new("chart").value_name("CHART").required(true).help("Chart number");
    let with = |word: &'static str, name: &str, about: &'static str| {
        let cmd = add_data_arg(add_happened_args(add_who_args(Command::new(word).about(about)))).arg(chart());
        form(name).map(|asks| asks.form.clap_args(cmd.clone())).unwrap_or(cmd)
    };
    Command::new("paper")
        .about("Old paper charts: the index, their scans, and what became of the originals")
        .subcommand(with("index", "paper-chart", "A paper chart is entered: pages counted, and where it is kept").after_help(
            "A scan of it is checked in with `inkfast attach CHART FILE --pages N --entries NUMBER`; pages are compared.",
        ))
        .subcommand(with("original", "paper-original", "The originals were checked against the scan, moved or destroyed"))
        .subcommand(add_why_args(add_who_args(Command::new("list").about("The paper charts of a chart"))).arg(chart()))
}

fn run(context: &mut Context<'_>) -> Outcome<Exit> {
    let Some((word, matches)) = context.matches.subcommand() else {
        return needs_word("index, original, list");
    };
    let mut inner = context.under(matches);
    match word {
        "index" => keep(&mut inner, "paper-chart"),
        "original" => keep(&mut inner, "paper-original"),
        _ => list(&mut inner),
    }
}

fn keep(context: &mut Context<'_>, name: &str) -> Outcome<Exit> {
    let when = happened(context)?;
    let mut practice = context.writing()?;
    let face = find(&practice, &context.text("chart").unwrap_or_default())?;
    let entries = practice.chart(&face.tag)?;
    let mine = practice.session.me.code.clone();
    let mut recording = Recording::of(form(name)?, Some(&face.tag), when);
    recording.start = match name {
        "paper-chart" => json!({ "counted_by": mine }),
        _ => json!({ "by": mine }),
    };
    let receipt = record(context, &mut practice, recording, |data, _| {
        if name == "paper-chart" {
            return Ok(Vec::new());
        }
        let done: PaperOriginal = serde_json::from_value(Value::Object(data.clone())).map_err(|e| {
            Trouble::input(format!("This can't be recorded: {e}."), "Correct it and do it again.")
        })?;
        may_destroy(&papers(&entries), &done)?;
        Ok(vec![(done.paper, RefWhy::AddsTo)])
    })?;
    say_pages(context, &practice, &face.tag, &[])?;
    done(context, name, &receipt)
}

/// Names what does not agree between paper charts and their scans: of those `about` which something was recorded, of
/// all where none is named.
pub fn say_pages(context: &mut Context<'_>, practice: &Practice, tag: &str, about: &[u64]) -> Outcome<()> {
    for paper in papers(&practice.chart(tag)?) {
        if about.is_empty() || about.contains(&paper.entry) {
            for difference in &paper.differences {
                context.asker.say(&format!("Paper chart, entry {}: {difference}.", paper.entry));
            }
        }
    }
    Ok(())
}

fn list(context: &mut Context<'_>) -> Outcome<Exit> {
    let mut practice = context.writing()?;
    let face = find(&practice, &context.text("chart").unwrap_or_default())?;
    let entries = practice.chart(&face.tag)?;
    record_look(context, &mut practice, &face, &entries)?;
    let all = papers(&entries);
    if context.json() {
        context.say_json(&all)?;
        return Ok(Exit::Done);
    }
    if all.is_empty() {
        context.say("This chart has no paper chart on its index.")?;
        return Ok(Exit::Done);
    }
    let mut table = Table::new(["No.", "Pages", "Kept at", "Scans", "Checked", "Originals", "Keep until"]);
    for paper in &all {
        table.row(row(paper));
    }
    context.say(&table.render(width()))?;
    for paper in &all {
        for difference in &paper.differences {
            context.say(&format!("Entry {}: {difference}.", paper.entry))?;
        }
    }
    Ok(Exit::Done)
}

fn row(paper: &Paper) -> [String; 7] {
    let scans: Vec<String> = paper
        .scans
        .iter()
        .map(|scan| format!("{} ({} pp.)", scan.entry, scan.pages.map_or("?".to_string(), |n| n.to_string())))
        .collect();
    let fate = paper.fate.as_ref().map(|(seq, done)| {
        let checked = if done.unchecked_because.is_some() { ", NOT CHECKED BEFORE" } else { "" };
        format!(
            "{} {} by {}{checked}, entry {seq}",
            done.state.word(),
            plain_date(done.on.0),
            shown(&done.by)
        )
    });
    [
        paper.entry.to_string(),
        paper.index.pages.to_string(),
        shown(&paper.index.kept_at),
        scans.join(", "),
        paper.checked.map_or("no".to_string(), |seq| format!("entry {seq}")),
        fate.unwrap_or_else(|| "kept".to_string()),
        paper.index.keep_until.map_or(String::new(), |day| plain_date(day.0)),
    ]
}

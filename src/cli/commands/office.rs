//! `office`: papers that never belong in a chart, kept where no package reaches them.

use super::CliCommand;
use super::attach::{media_type, refuse_existing, write_whole};
use super::entries::form;
use crate::cli::app::needs_word;
use crate::cli::context::{Context, add_who_args};
use crate::cli::data::add_data_arg;
use crate::cli::exit::Exit;
use crate::cli::record::{add_happened_args, confirm, done, fill, happened};
use crate::cli::table::{Table, indented, shown, width};
use crate::practice::lists::{days_off, due_words};
use crate::practice::office::{
    Reading, Scan, add, allowed, note_reading, open_scan, paper, papers, readings,
};
use crate::record::calendar::Holidays;
use crate::record::kinds::Day;
use crate::record::kinds::register::OfficeFile;
use crate::record::moment::plain_date;
use crate::trouble::{Outcome, Trouble};
use clap::{Arg, Command};
use serde::Serialize;
use serde_json::json;
use std::fs::File;
use std::path::{Path, PathBuf};

/// The command.
pub const COMMAND: CliCommand = CliCommand { word: "office", build: command, run };

/// A paper of the office file, in `--json` output.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct OfficeOutput {
    /// Number of the entry.
    pub entry: u64,
    /// Day it was kept.
    pub kept: Day,
    /// Staff code of who kept it.
    pub by: String,
    /// The paper.
    pub paper: OfficeFile,
    /// Who read it before.
    pub read: Vec<OfficeReading>,
}

/// A reading of a paper of the office file.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct OfficeReading {
    /// Number of the entry that says so.
    pub entry: u64,
    /// Staff code of who read.
    pub by: String,
    /// When.
    pub at: String,
    /// True when the scan was taken out.
    pub taken_out: bool,
}

/// Who read a paper, from all readings.
fn read_by(all: &[Reading], number: u64) -> Vec<OfficeReading> {
    let mine = all.iter().filter(|reading| reading.papers.contains(&number));
    mine.map(|reading| OfficeReading {
        entry: reading.entry,
        by: reading.by.clone(),
        at: reading.at.to_string(),
        taken_out: reading.taken_out,
    })
    .collect()
}

fn command() -> Command {
    let path =
        |name: &'static str| Arg::new(name).value_name("FILE").value_parser(clap::value_parser!(PathBuf));
    let new = add_data_arg(add_happened_args(add_who_args(
        Command::new("add").about("Keep a paper outside every chart: attorney, insurer, incident, staff"),
    )))
    .arg(path("document").help("The scan to seal with it, where there is one"));
    let new = match form("office-add") {
        Ok(asks) => asks.form.clap_args(new),
        Err(_) => new,
    };
    Command::new("office")
        .about("The office file: papers that never belong in a chart, and are in no package")
        .subcommand(new)
        .subcommand(add_who_args(Command::new("list").about("What the office file holds")))
        .subcommand(
            add_who_args(Command::new("show").about("One paper; and its scan taken out"))
                .arg(
                    Arg::new("number")
                        .value_name("NUMBER")
                        .required(true)
                        .value_parser(clap::value_parser!(u64).range(1..))
                        .help("Number of the entry"),
                )
                .arg(path("into").long("into").help("Write the scan into this file; it is not sealed there")),
        )
}

fn run(context: &mut Context<'_>) -> Outcome<Exit> {
    let words = "add, list, show";
    let Some((word, matches)) = context.matches.subcommand() else { return needs_word(words) };
    let mut inner = context.under(matches);
    match word {
        "add" => keep(&mut inner),
        "list" => list(&mut inner),
        "show" => show(&mut inner),
        _ => needs_word(words),
    }
}

fn keep(context: &mut Context<'_>) -> Outcome<Exit> {
    let path = context.path("document");
    let mut file = path.as_deref().map(opened).transpose()?;
    let when = happened(context)?;
    let mut practice = context.writing()?;
    allowed(&practice)?;
    let form = form("office-add")?.form;
    let data = fill(context, &practice, &form, "office-file", None, json!({}))?;
    confirm(context, "office-file", &form.read_back(&data))?;
    let data: OfficeFile = serde_json::from_value(data).map_err(|e| {
        Trouble::input(format!("This can't be recorded: {e}."), "Correct it and do it again.")
    })?;
    if let Some(earlier) = data.of {
        paper(&practice, earlier)?;
    }
    let title = data.title.clone();
    let scan = file.as_mut().zip(path.as_deref()).map(|(file, path)| Scan {
        title,
        media_type: media_type(path).to_string(),
        source: file,
    });
    let receipt = add(&mut practice, data, scan, when)?;
    practice.drop_draft("office-file", None)?;
    context.remarks(&mut practice);
    done(context, "office-file", &receipt)
}

fn opened(path: &Path) -> Outcome<File> {
    let trouble = |e: std::io::Error| Trouble::disk("read", path, &e);
    let file = File::open(path).map_err(trouble)?;
    match file.metadata().map_err(trouble)?.is_file() {
        true => Ok(file),
        false => Err(Trouble::input(format!("{} is not a file.", path.display()), "Name a file.")),
    }
}

fn list(context: &mut Context<'_>) -> Outcome<Exit> {
    let mut practice = context.writing()?;
    let before = readings(&practice)?;
    let kept: Vec<OfficeOutput> = papers(&practice)?
        .into_iter()
        .map(|(entry, paper)| OfficeOutput {
            entry: entry.leaf.seq,
            kept: Day(entry.leaf.written.local_date()),
            by: entry.leaf.author.clone(),
            read: read_by(&before, entry.leaf.seq),
            paper,
        })
        .collect();
    note_reading(&mut practice, kept.iter().map(|one| one.entry).collect(), false)?;
    context.remarks(&mut practice);
    if context.json() {
        context.say_json(&kept)?;
        return Ok(Exit::Done);
    }
    if kept.is_empty() {
        context.say("The office file is empty.")?;
        return Ok(Exit::Done);
    }
    let off = days_off(&practice);
    let mut table = Table::new(["No.", "Kept", "What", "Title", "Due", "Scan"]);
    for one in &kept {
        let due = one.paper.due.map_or(String::new(), |due| due_words(due.0, &off));
        let due = if one.paper.closed == Some(true) { "closed".to_string() } else { due };
        table.row([
            one.entry.to_string(),
            plain_date(one.kept.0),
            one.paper.kind.word().to_string(),
            shown(&one.paper.title),
            due,
            if one.paper.attachments.is_empty() { "none".to_string() } else { "sealed".to_string() },
        ]);
    }
    context.say(&table.render(width()))?;
    Ok(Exit::Done)
}

fn show(context: &mut Context<'_>) -> Outcome<Exit> {
    let mut practice = context.writing()?;
    let (entry, kept) = paper(&practice, context.number("number").unwrap_or_default())?;
    let before = readings(&practice)?;
    note_reading(&mut practice, vec![entry.leaf.seq], context.path("into").is_some())?;
    context.remarks(&mut practice);
    if let Some(into) = context.path("into") {
        take_out(&practice, &kept, &into)?;
        context.say(&format!("Written to {}. It is not sealed: keep it safe.", into.display()))?;
        return Ok(Exit::Done);
    }
    let (seq, written) = (entry.leaf.seq, entry.leaf.written);
    if context.json() {
        let kept_on = Day(written.local_date());
        let read = read_by(&before, seq);
        context.say_json(&OfficeOutput {
            entry: seq,
            kept: kept_on,
            by: entry.leaf.author,
            paper: kept,
            read,
        })?;
        return Ok(Exit::Done);
    }
    context.say(&format!(
        "Office file no. {seq}: {} ({}), kept {} by {}",
        shown(&kept.title),
        kept.kind,
        written.plain(),
        entry.leaf.author
    ))?;
    for line in kept.words.lines() {
        context.say(&indented(&shown(line), width(), 2))?;
    }
    let read = before.iter().filter(|reading| reading.papers.contains(&seq));
    let read = read.map(|reading| {
        let out = if reading.taken_out { ", its scan taken out" } else { "" };
        format!("read {} by {}{out} (no. {})", reading.at.plain(), reading.by, reading.entry)
    });
    for line in details(&kept, &days_off(&practice)).into_iter().chain(read) {
        context.say(&indented(&shown(&line), width(), 2))?;
    }
    Ok(Exit::Done)
}

fn details(kept: &OfficeFile, off: &Holidays) -> Vec<String> {
    let mut lines = Vec::new();
    lines.extend(kept.received_on.map(|day| format!("received {}", plain_date(day.0))));
    lines.extend(kept.due.map(|due| format!("to be answered by {}", due_words(due.0, off))));
    lines.extend(kept.chart_no.as_ref().map(|number| format!("concerns chart {number}")));
    lines.extend(kept.request.map(|seq| format!("belongs to request {seq}")));
    lines.extend(kept.of.map(|seq| format!("goes on from no. {seq}")));
    lines.extend(kept.original_at.as_ref().map(|place| format!("the paper itself: {place}")));
    lines.extend(kept.attachments.iter().map(|scan| {
        format!(
            "scan: {} ({}, {} bytes), BLAKE3 {}",
            scan.title, scan.media_type, scan.size, scan.plain_digest
        )
    }));
    if kept.closed == Some(true) {
        lines.push("the matter is closed".to_string());
    }
    lines
}

fn take_out(practice: &crate::practice::open::Practice, kept: &OfficeFile, into: &Path) -> Outcome<()> {
    let Some(scan) = kept.attachments.first() else {
        return Err(Trouble::input("No scan is kept with it.", "The entry says where the paper itself is."));
    };
    refuse_existing(&*practice.world.disk, into)?;
    write_whole(into, |file| open_scan(practice, scan, file))
}

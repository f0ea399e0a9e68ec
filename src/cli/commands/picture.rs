//! `picture`: what was written when, over a month, a year or the whole ledger, as a page and as figures.

use super::CliCommand;
use crate::cli::context::{Context, add_who_args};
use crate::cli::exit::Exit;
use crate::cli::table::{Table, width};
use crate::desk::catalogue::Lang;
use crate::practice::over_time::look;
use crate::record::kinds::Day;
use crate::record::moment::{Date, plain_date};
use crate::record::over_time::{Busy, Column, Course, Group, Lane, Past, Span, month_word};
use crate::render::over_time::over_time_page;
use crate::trouble::{Outcome, Trouble};
use clap::{Arg, ArgAction, Command};
use serde::Serialize;
use std::path::PathBuf;

/// The command.
pub const COMMAND: CliCommand = CliCommand { word: "picture", build: command, run };

/// What was written when, in `--json` output.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct PictureOutput {
    /// First day.
    pub from: Day,
    /// Last day.
    pub until: Day,
    /// Entries written in these days.
    pub entries: u64,
    /// Days with an entry.
    pub days: u64,
    /// Entries of them that are about an earlier day.
    pub afterwards: AfterwardsOutput,
    /// Entries that bear the label of having been written after a notice, a hold or a request.
    pub after_notice: u64,
    /// Entries that may be late and were not read, because no role opens them or nothing sealed was to be read.
    pub not_read: u64,
    /// By month, the earliest first; months without an entry are not there.
    pub months: Vec<MonthOutput>,
    /// The days on which most was written about earlier days, the most first.
    pub busiest: Vec<BusyOutput>,
    /// Days in a row without an entry.
    pub gaps: Vec<GapOutput>,
}

/// Entries about earlier days, by what they are.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct AfterwardsOutput {
    /// Corrections, and entries said to belong to another chart.
    pub corrections: u64,
    /// Addenda.
    pub addenda: u64,
    /// Late entries.
    pub late: u64,
}

/// The entries of a month.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct MonthOutput {
    /// The month, YYYY-MM.
    pub month: String,
    /// Entries about their own day, by sort.
    pub entries: Vec<CountOutput>,
    /// Entries about earlier days.
    pub afterwards: AfterwardsOutput,
    /// What else is marked.
    pub marks: Vec<CountOutput>,
}

/// How many of a sort.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct CountOutput {
    /// The sort.
    pub what: &'static str,
    /// How many.
    pub count: u32,
}

/// A day on which much was written about earlier days.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct BusyOutput {
    /// The day.
    pub day: Day,
    /// Entries about earlier days.
    pub entries: u32,
    /// How many days back the farthest reaches; null where that is not known.
    pub farthest: Option<i64>,
    /// How many days later a notice, a hold or a request was written; null where none followed.
    pub before_notice: Option<i64>,
}

/// Days in a row without an entry.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct GapOutput {
    /// First of them.
    pub from: Day,
    /// Last of them.
    pub until: Day,
}

fn command() -> Command {
    let option = |name: &'static str, value: &'static str, help: &'static str| {
        Arg::new(name).long(name).value_name(value).help(help)
    };
    add_who_args(Command::new("picture").about(
        "What was written when: entries a day, corrections and late entries, and how far back they reach",
    ))
    .arg(option("month", "YYYY-MM", "One month [default: the whole ledger]").conflicts_with("year"))
    .arg(option("year", "YYYY", "One year"))
    .arg(
        Arg::new("html")
            .long("html")
            .value_name("FILE")
            .value_parser(clap::value_parser!(PathBuf))
            .help("Write the picture and its figures as one page for a browser or printer"),
    )
    .arg(
        Arg::new("headers-only")
            .long("headers-only")
            .action(ArgAction::SetTrue)
            .help("Read nothing that is sealed: then only corrections, addenda and late entries by their kind are told"),
    )
    .after_help("It names nobody and shows no contents, so it opens no chart. It states what is there and judges nothing.")
}

fn run(context: &mut Context<'_>) -> Outcome<Exit> {
    let practice = context.practice()?;
    let given = span(context)?;
    let (_, course) = look(&practice, |all| Ok(given.unwrap_or(all)), !context.flag("headers-only"))?;
    if let Some(file) = context.path("html") {
        let about =
            format!("{}, {} entries, {}", practice.place.key.name(), practice.size(), practice.now().plain());
        let page = over_time_page(&course, &about, &say);
        std::fs::write(&file, page).map_err(|e| Trouble::disk("write", &file, &e))?;
        context.asker.say(&format!("Written: {}.", file.display()));
    }
    if context.json() {
        context.say_json(&output(&course))?;
        return Ok(Exit::Done);
    }
    context.say(&words(&course))?;
    Ok(Exit::Done)
}

/// The words of the picture, in the language of the command line.
fn say(key: &str, put_in: &[(&str, String)]) -> String {
    let put_in: Vec<(&str, &str)> = put_in.iter().map(|(name, value)| (*name, value.as_str())).collect();
    Lang::En.text(&format!("audit-picture-{key}"), &put_in)
}

fn span(context: &Context<'_>) -> Outcome<Option<Span>> {
    let wrong =
        |what: &str| Trouble::input(format!("{what} can't be read."), "Give --month 2025-03 or --year 2025.");
    if let Some(text) = context.text("month") {
        return Span::read_month(&text).map(Some).ok_or_else(|| wrong("The month"));
    }
    let Some(text) = context.text("year") else { return Ok(None) };
    Span::read_year(&text).map(Some).ok_or_else(|| wrong("The year"))
}

fn afterwards([corrections, addenda, late]: [u64; 3]) -> AfterwardsOutput {
    AfterwardsOutput { corrections, addenda, late }
}

fn month(course: &Course, first: Date, column: &Column) -> MonthOutput {
    let sorts = Group::ALL.iter().zip(column.groups);
    let marked = |lane: &Lane| course.marks(*lane, first, first.last_of_month());
    MonthOutput {
        month: month_word(first),
        entries: sorts.map(|(group, count)| CountOutput { what: group.word(), count }).collect(),
        afterwards: afterwards(column.past.map(u64::from)),
        marks: Lane::ALL.iter().map(|lane| CountOutput { what: lane.word(), count: marked(lane) }).collect(),
    }
}

fn output(course: &Course) -> PictureOutput {
    let totals = course.totals;
    let busy = |b: &Busy| BusyOutput {
        day: Day(b.day),
        entries: b.entries,
        farthest: b.farthest,
        before_notice: b.before_notice,
    };
    PictureOutput {
        from: Day(course.span.from),
        until: Day(course.span.until),
        entries: totals.entries,
        days: totals.days,
        afterwards: afterwards(totals.past),
        after_notice: totals.after,
        not_read: totals.not_read,
        months: course.months.iter().map(|(first, column)| month(course, *first, column)).collect(),
        busiest: course.busiest.iter().map(busy).collect(),
        gaps: course
            .gaps
            .iter()
            .map(|gap| GapOutput { from: Day(gap.from), until: Day(gap.until) })
            .collect(),
    }
}

/// The figures for a screen.
fn words(course: &Course) -> String {
    let totals = course.totals;
    let mut heads = vec!["Month".to_string()];
    heads.extend(Group::ALL.iter().map(|group| say(&format!("strip_{group}"), &[])));
    heads.extend(Past::ALL.iter().map(|past| say(&format!("past_{past}"), &[])));
    let mut table = Table::new(heads.iter().map(String::as_str).collect::<Vec<_>>());
    for (first, column) in &course.months {
        let mut row = vec![month_word(*first)];
        row.extend(column.groups.iter().chain(&column.past).map(u32::to_string));
        table.row(row);
    }
    let mut out = vec![
        format!(
            "{} to {}: {} entries on {} days; about earlier days: corrections {}, addenda {}, late {}.",
            plain_date(course.span.from),
            plain_date(course.span.until),
            totals.entries,
            totals.days,
            totals.past[0],
            totals.past[1],
            totals.past[2]
        ),
        String::new(),
        table.render(width()),
    ];
    for busy in &course.busiest {
        let far =
            busy.farthest.map_or(String::new(), |days| format!(", the farthest about {days} days back"));
        let next = busy
            .before_notice
            .map_or(String::new(), |days| format!("; a notice, hold or request {days} days later"));
        out.push(format!("{}: {} about earlier days{far}{next}", plain_date(busy.day), busy.entries));
    }
    if totals.not_read > 0 {
        out.push(say("not_read", &[("count", totals.not_read.to_string())]));
    }
    out.join("\n")
}

//! `hold` and `notice`: what must be kept whatever its day, and what is said of everything written from then on.

use super::CliCommand;
use super::entries::form;
use crate::cli::app::needs_word;
use crate::cli::context::{Context, add_who_args};
use crate::cli::data::add_data_arg;
use crate::cli::exit::Exit;
use crate::cli::record::{Recording, add_happened_args, done, happened, record};
use crate::cli::table::{Table, shown, width};
use crate::practice::chart::{face, find};
use crate::practice::keeping::{HoldSeen, holds};
use crate::practice::open::{Entry, Practice};
use crate::record::envelope::RefWhy;
use crate::record::kinds::keeping::{Hold, HoldKind, NoticeState};
use crate::record::kinds::{Data, Day};
use crate::record::moment::plain_date;
use crate::trouble::{Outcome, Trouble};
use clap::{Arg, Command};
use serde::Serialize;
use serde_json::json;

/// `hold`.
pub const HOLD: CliCommand = CliCommand { word: "hold", build: hold_command, run: hold };
/// `notice`.
pub const NOTICE: CliCommand = CliCommand { word: "notice", build: notice_command, run: notice };

/// A hold, in `--json` output.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct HoldOutput {
    /// Number of the entry.
    pub entry: u64,
    /// Number of the chart; null where it stands outside every chart.
    pub chart: Option<String>,
    /// Day it was placed.
    pub placed_on: Day,
    /// The hold.
    pub hold: Hold,
    /// Number of the entry that lifted it.
    pub lifted: Option<u64>,
    /// True while nothing it covers may be destroyed: not lifted, or lifted without its letter on file.
    pub stands: bool,
}

fn recording(word: &'static str, about: &'static str, form_name: &str) -> Command {
    let cmd = add_data_arg(add_happened_args(add_who_args(Command::new(word).about(about))));
    form(form_name).map(|asks| asks.form.clap_args(cmd.clone())).unwrap_or(cmd)
}

fn maybe_chart(cmd: Command, without: &'static str) -> Command {
    cmd.arg(Arg::new("chart").value_name("CHART").help(without))
}

fn number() -> Arg {
    Arg::new("number")
        .value_name("ENTRY")
        .required(true)
        .value_parser(clap::value_parser!(u64).range(1..))
        .help("Number of the entry it is about")
}

fn hold_command() -> Command {
    let place = recording("place", "Nothing it covers is destroyed until it is lifted with a letter", "hold");
    Command::new("hold")
        .about("Legal holds: placed, lifted, listed")
        .subcommand(maybe_chart(
            place,
            "Chart number; left out: a hold on dates or on a practitioner across all charts",
        ))
        .subcommand(
            recording("lift", "A hold is lifted; its letter is on file", "hold-lifted")
                .mut_arg("hold", |arg| arg.required(false))
                .arg(number().required(false)),
        )
        .subcommand(add_who_args(Command::new("list").about("Every hold, and which of them stand")))
}

fn notice_command() -> Command {
    let received = recording("received", "Notice of a claim, complaint or audit came in", "notice");
    Command::new("notice")
        .about("Notices of claims, complaints and audits: what is written afterwards says so")
        .subcommand(maybe_chart(received, "Chart number; left out: it stands outside every chart"))
        .subcommand(
            recording("answered", "It was answered; the matter stays open", "notice-step").arg(number()),
        )
        .subcommand(recording("closed", "The matter is closed", "notice-step").arg(number()))
}

fn hold(context: &mut Context<'_>) -> Outcome<Exit> {
    let words = "place, lift, list";
    let Some((word, matches)) = context.matches.subcommand() else { return needs_word(words) };
    let mut inner = context.under(matches);
    match word {
        "place" => place(&mut inner),
        "lift" => lift(&mut inner),
        "list" => list(&mut inner),
        _ => needs_word(words),
    }
}

fn notice(context: &mut Context<'_>) -> Outcome<Exit> {
    let words = "received, answered, closed";
    let Some((word, matches)) = context.matches.subcommand() else { return needs_word(words) };
    let mut inner = context.under(matches);
    match word {
        "received" => received(&mut inner),
        "answered" => step(&mut inner, NoticeState::Answered),
        "closed" => step(&mut inner, NoticeState::Closed),
        _ => needs_word(words),
    }
}

/// The tag of the chart that was named, if one was.
fn named_chart(context: &Context<'_>, practice: &Practice) -> Outcome<Option<String>> {
    context.text("chart").map(|number| find(practice, &number).map(|face| face.tag)).transpose()
}

fn place(context: &mut Context<'_>) -> Outcome<Exit> {
    let when = happened(context)?;
    let mut practice = context.writing()?;
    let tag = named_chart(context, &practice)?;
    let asks = form("hold")?;
    let start = json!({ "placed_by": practice.session.me.code });
    let outside = tag.is_none();
    let recording = Recording { start, ..Recording::of(asks, tag.as_deref(), when) };
    let receipt = record(context, &mut practice, recording, |data, practice| {
        let whole =
            data.get("scope").and_then(|scope| scope["kind"].as_str()) == Some(HoldKind::Chart.word());
        if outside && whole {
            return Err(Trouble::input(
                "A hold on a whole chart needs the number of the chart.",
                "Name the chart, or give --scope dates or --scope practitioner.",
            ));
        }
        letter(practice, data.get("letter").and_then(serde_json::Value::as_u64), tag.as_deref())?;
        Ok(Vec::new())
    })?;
    done(context, "hold", &receipt)
}

/// Refuses a letter that is neither an attachment of the chart nor a paper of the office file.
fn letter(practice: &Practice, number: Option<u64>, tag: Option<&str>) -> Outcome<()> {
    let Some(number) = number else { return Ok(()) };
    let entry = practice.entry_by_seq(number)?;
    let fits = match &*entry.leaf.kind {
        "office-file" => true,
        "attachment" => tag.is_none() || entry.leaf.chart.as_deref() == tag,
        _ => false,
    };
    if fits {
        return Ok(());
    }
    Err(Trouble::input(
        format!("Entry {number} is no attachment of this chart and no paper of the office file."),
        "Keep the letter first (`inkfast office add`, `inkfast attach`), and give the number printed then.",
    ))
}

fn lift(context: &mut Context<'_>) -> Outcome<Exit> {
    let when = happened(context)?;
    let mut practice = context.writing()?;
    let asks = form("hold-lifted")?;
    // Where it goes follows from the hold, so that is asked first.
    let typed = || context.text("hold").and_then(|text| text.trim().parse().ok());
    let number: Option<u64> = match context.number("number").or_else(typed) {
        None if context.asker.interactive() => {
            let line = context.asker.line("Number of the hold? ").ok().flatten();
            line.and_then(|line| line.trim().parse().ok())
        }
        number => number,
    };
    let Some(number) = number else {
        return Err(Trouble::input(
            "The number of the hold is missing.",
            "Look it up with `inkfast hold list`.",
        ));
    };
    let placed = open_hold(&practice, number)?;
    let tag = placed.leaf.chart.clone();
    let recording =
        Recording { start: json!({ "hold": number }), ..Recording::of(asks, tag.as_deref(), when) };
    let receipt = record(context, &mut practice, recording, |data, practice| {
        letter(practice, data.get("letter").and_then(serde_json::Value::as_u64), tag.as_deref())?;
        Ok(vec![(number, RefWhy::Closes)])
    })?;
    done(context, "hold-lifted", &receipt)
}

fn open_hold(practice: &Practice, number: u64) -> Outcome<Entry> {
    let entry = practice.entry_by_seq(number)?;
    if entry.leaf.kind == "hold" {
        return Ok(entry);
    }
    Err(Trouble::input(format!("Entry {number} is no hold."), "Look the number up with `inkfast hold list`."))
}

fn list(context: &mut Context<'_>) -> Outcome<Exit> {
    let practice = context.practice()?;
    let all = holds(&practice)?;
    if context.json() {
        let all: Vec<HoldOutput> = all.into_iter().map(as_output).collect();
        context.say_json(&all)?;
        return Ok(Exit::Done);
    }
    if all.is_empty() {
        context.say("No hold was ever placed.")?;
        return Ok(Exit::Done);
    }
    let mut table = Table::new(["No.", "Chart", "Placed", "Covers", "From whom", "Stands"]);
    for one in &all {
        table.row([
            one.entry.to_string(),
            one.chart_no.clone().unwrap_or_else(|| "all".to_string()),
            plain_date(one.placed_on.0),
            covers(&one.hold),
            shown(&one.hold.from_whom),
            match (one.stands, one.lifted) {
                (true, None) => "yes".to_string(),
                (true, Some(seq)) => format!("yes: no letter with {seq}"),
                (false, seq) => format!("lifted, {}", seq.unwrap_or_default()),
            },
        ]);
    }
    context.say(&table.render(width()))?;
    Ok(Exit::Done)
}

fn as_output(one: HoldSeen) -> HoldOutput {
    HoldOutput {
        entry: one.entry,
        chart: one.chart_no,
        placed_on: one.placed_on,
        hold: one.hold,
        lifted: one.lifted,
        stands: one.stands,
    }
}

fn covers(hold: &Hold) -> String {
    let day = |day: Option<Day>, none: &str| day.map_or(none.to_string(), |day| plain_date(day.0));
    let days = match (hold.scope.from, hold.scope.until) {
        (None, None) => String::new(),
        (from, until) => format!(" {} to {}", day(from, "the beginning"), day(until, "any day")),
    };
    match hold.scope.kind {
        HoldKind::Chart => "the whole chart".to_string(),
        HoldKind::Dates => days.trim_start().to_string(),
        HoldKind::Practitioner => {
            format!("what {} did{days}", hold.scope.practitioner.as_deref().unwrap_or("?"))
        }
    }
}

fn received(context: &mut Context<'_>) -> Outcome<Exit> {
    let when = happened(context)?;
    let mut practice = context.writing()?;
    let tag = named_chart(context, &practice)?;
    let asks = form("notice")?;
    let recording = Recording {
        start: json!({ "state": NoticeState::Received }),
        ..Recording::of(asks, tag.as_deref(), when)
    };
    let receipt = record(context, &mut practice, recording, |data, practice| {
        office_paper(practice, data.get("office_file").and_then(serde_json::Value::as_u64))?;
        Ok(Vec::new())
    })?;
    done(context, "notice", &receipt)
}

fn office_paper(practice: &Practice, number: Option<u64>) -> Outcome<()> {
    let Some(number) = number else { return Ok(()) };
    match &*practice.entry_by_seq(number)?.leaf.kind {
        "office-file" => Ok(()),
        _ => Err(Trouble::input(
            format!("Entry {number} is no paper of the office file."),
            "Look the number up with `inkfast office list`, or leave it out.",
        )),
    }
}

fn step(context: &mut Context<'_>, state: NoticeState) -> Outcome<Exit> {
    let when = happened(context)?;
    let mut practice = context.writing()?;
    let number = context.number("number").unwrap_or_default();
    let first = practice.entry_by_seq(number)?;
    let no_notice = || {
        Trouble::input(
            format!("Entry {number} is no notice that came in, or your role does not open it."),
            "Look the number up with `inkfast print`.",
        )
    };
    let Some(Data::Notice(before)) = first.data().filter(|_| first.leaf.kind == "notice") else {
        return Err(no_notice());
    };
    if before.state != NoticeState::Received {
        return Err(no_notice());
    }
    if let Some(tag) = &first.leaf.chart {
        face(&practice, tag)?;
    }
    let asks = form("notice-step")?;
    let recording = Recording {
        start: json!({ "kind": before.kind, "from": before.from, "state": state, "of": number }),
        ..Recording::of(asks, first.leaf.chart.as_deref(), when)
    };
    let why = match state {
        NoticeState::Closed => RefWhy::Closes,
        _ => RefWhy::Answers,
    };
    let receipt = record(context, &mut practice, recording, |data, practice| {
        office_paper(practice, data.get("office_file").and_then(serde_json::Value::as_u64))?;
        Ok(vec![(number, why)])
    })?;
    done(context, "notice", &receipt)
}

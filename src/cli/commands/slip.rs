//! `slip`: the end of a day pinned down on paper; and what to do when the store is behind its outside copy.

pub mod stamp;
pub mod witness;

use super::entries::form;
use super::today::{ItemOutput, item_output, remarks};
use crate::cli::context::{Context, add_who_args};
use crate::cli::data::add_data_arg;
use crate::cli::exit::Exit;
use crate::cli::record::answers;
use crate::cli::table::{indented, width};
use crate::ledger::outside::{self, Outside};
use crate::practice::day::{close_day, slip_words};
use crate::practice::lists::{List, gather};
use crate::practice::open::{Draft, Practice};
use crate::record::kinds::register::BehindOutsideCopy;
use crate::render::slip_page;
use crate::seal::sheet::qr_svg;
use crate::trouble::{Kind, Outcome, Trouble};
use clap::{Arg, ArgAction, Command};
use serde::Serialize;
use serde_json::json;
use std::path::PathBuf;

/// A day slip in `--json` output.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct SlipOutput {
    /// Number of the last entry it pins down.
    pub number: u64,
    /// Its code: five groups of four letters or digits and two check letters.
    #[schemars(regex(pattern = "^([A-Z2-7]{4}-){5}[0-9A-Z*]{2}$"))]
    pub code: String,
    /// The same as twelve words, the last two of which are check words.
    #[schemars(length(equal = 12))]
    pub words: Vec<&'static str>,
    /// The text of its QR code.
    pub qr: String,
    /// Origin of the ledger.
    pub ledger: String,
    /// When it was made, in words.
    pub at: String,
    /// Number of the entry that closed the day; null when the slip was only shown.
    pub day_closed: Option<u64>,
    /// What is left open at the end of the day: unsigned drafts, open visits and pauses, calls that were due.
    pub left_open: Vec<ItemOutput>,
}

/// Options of `slip`.
pub fn command() -> Command {
    let cmd = add_who_args(
        Command::new("slip").about("Close the day and print its slip; compare later with `verify --slip`"),
    )
    .arg(
        Arg::new("show")
            .long("show")
            .action(ArgAction::SetTrue)
            .help("Only show the slip; do not close the day"),
    )
    .arg(
        Arg::new("page")
            .long("page")
            .value_name("FILE")
            .value_parser(clap::value_parser!(PathBuf))
            .help("Also write it as a page to print, with a QR code"),
    )
    .arg(
        Arg::new("checkpoint")
            .long("checkpoint")
            .value_name("FILE")
            .value_parser(clap::value_parser!(PathBuf))
            .help("Also write the newest checkpoint to this file"),
    );
    let cmd = add_data_arg(cmd);
    let cmd = form("day-close").map(|a| a.form.clap_args(cmd.clone())).unwrap_or(cmd);
    cmd.subcommand(witness::command()).subcommands(stamp::commands()).subcommand(
        add_who_args(
            Command::new("behind")
                .about("Record why the store is behind its outside copy, so that work can go on"),
        )
        .arg(Arg::new("because").long("because").value_name("TEXT").required(true).help("What happened"))
        .arg(
            Arg::new("lost")
                .long("lost")
                .value_name("TEXT")
                .action(ArgAction::Append)
                .help("What is known to be missing"),
        ),
    )
}

/// Runs `slip`.
pub fn run(context: &mut Context<'_>) -> Outcome<Exit> {
    if let Some((word, matches)) = context.matches.subcommand() {
        let inner = &mut context.under(matches);
        return match word {
            "witness" => witness::run(inner),
            "stamp-request" => stamp::run_request(inner),
            "stamp-keep" => stamp::run_keep(inner),
            "stamps" => stamp::run_check(inner),
            _ => behind(inner),
        };
    }
    let mut practice = if context.flag("show") { context.practice()? } else { context.writing()? };
    let list = gather(&practice, None, practice.now().local_date())?;
    tell_left_open(context, &list);
    let slip = slip_words(&practice)?;
    let mut closed = None;
    if !context.flag("show") {
        if !list.left_at_closing().is_empty() && !context.yes("Close the day all the same?", true)? {
            return Err(Trouble::new(
                Kind::Refused,
                "The day is not closed.",
                "Nothing was recorded.",
                "Finish what is listed (`inkfast open` says how), then run `inkfast slip` again.",
            ));
        }
        let answers = answers(context, &form("day-close")?.form, json!({}))?;
        closed = Some(close_day(&mut practice, answers)?.seq);
        context.remarks(&mut practice);
    }
    if let Some(path) = context.path("checkpoint") {
        write_checkpoint(&practice, &path)?;
    }
    if let Some(path) = context.path("page") {
        let page = slip_page(&slip.parts(), &qr_svg(slip.qr.as_bytes())?);
        std::fs::write(&path, page).map_err(|e| Trouble::disk("write", &path, &e))?;
        context.asker.say(&format!("Written: {}.", path.display()));
    }
    if context.json() {
        context.say_json(&SlipOutput {
            number: slip.number,
            code: slip.code,
            words: slip.words,
            qr: slip.qr,
            ledger: slip.ledger,
            at: slip.at,
            day_closed: closed,
            left_open: list.left_at_closing().iter().map(|l| item_output(l, list.day)).collect(),
        })?;
        return Ok(Exit::Done);
    }
    let text = slip.to_text();
    context.say(&text)?;
    Ok(Exit::Done)
}

/// Names what is left open, before the day is closed over it.
fn tell_left_open(context: &mut Context<'_>, list: &List) {
    let left = list.left_at_closing();
    if !left.is_empty() {
        context.asker.say("Left open at the end of this day:");
    }
    for listed in left {
        let item = &listed.item;
        let chart = item.chart.as_ref().map_or(String::new(), |chart| format!("chart {chart}, "));
        let line = format!("{}: {chart}{}", item.kind.heading(), item.words);
        context.asker.say(&indented(&line, width(), 2));
        context.asker.say(&indented(&format!("-> {}", item.remedy), width(), 6));
    }
    for remark in remarks(list) {
        context.asker.say(remark.trim());
    }
}

fn write_checkpoint(practice: &Practice, path: &std::path::Path) -> Outcome<()> {
    let (_, note) = practice
        .scan()
        .checkpoint
        .as_ref()
        .ok_or_else(|| Trouble::damaged("The ledger has no checkpoint."))?;
    std::fs::write(path, note).map_err(|e| Trouble::disk("write", path, &e))
}

fn behind(context: &mut Context<'_>) -> Outcome<Exit> {
    let mut practice = context.practice()?;
    let kept = outside::read(&*context.world.disk, &practice.place.outside, &practice.place.key);
    let mine = practice.size();
    let kept = match kept {
        Outside::Newest(checkpoint, _) if checkpoint.size > mine => checkpoint.size,
        _ => {
            return Err(Trouble::new(
                Kind::Refused,
                "The store is not behind its outside copy, so there is nothing to explain.",
                "Nothing was recorded.",
                "Go on working.",
            ));
        }
    };
    practice.begin_writing_behind()?;
    let data = BehindOutsideCopy {
        store_entries: mine,
        outside_entries: kept,
        because: context.text("because").unwrap_or_default(),
        lost: context.matches.get_many::<String>("lost").into_iter().flatten().cloned().collect(),
        found_by: practice.session.me.code.clone(),
    };
    let now = practice.now();
    let receipt = practice.append(Draft::new(None, data.into(), now))?;
    context.say(&format!(
        "Recorded as number {}. Work goes on from here; what was numbered {} to {kept} before stays missing, and every check will say so \
         with any slip from that time.",
        receipt.seq,
        mine + 1
    ))?;
    Ok(Exit::Done)
}

//! `stolen`: what was on a lost or stolen computer, how it is sealed and what could be open, without any name.

use super::CliCommand;
use super::restore::{slip_arg, slips};
use super::safecopy::size;
use crate::cli::context::{Context, add_who_args};
use crate::cli::exit::Exit;
use crate::cli::keeper;
use crate::cli::progress::Progress;
use crate::cli::table::{indented, labelled, width};
use crate::practice::copies::{self, Stolen, known};
use crate::practice::place::Place;
use crate::record::kinds::Day;
use crate::record::moment::{Date, plain_date};
use crate::record::vocab::words;
use crate::render::lost::{LostPage, NEXT, QUESTIONS, SEALED, SEEN, lost_page};
use crate::trouble::{Outcome, Trouble};
use crate::verify::finding::{FindingId, Report};
use crate::verify::slip::read_slip;
use crate::verify::store::{StorePaths, verify};
use clap::{Arg, Command};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::path::PathBuf;

/// The command.
pub const COMMAND: CliCommand = CliCommand { word: "stolen", build: command, run };

words! {
    /// How a computer was when it was lost.
    WasLost {
        /// Switched off.
        Off = "off",
        /// Running or asleep, with nobody unlocked.
        Locked = "locked",
        /// Running or asleep, with somebody unlocked.
        Unlocked = "unlocked",
        /// Nobody knows.
        Unknown = "unknown",
    }
}

impl WasLost {
    fn said(self) -> &'static str {
        match self {
            WasLost::Off => "As said, it was switched off: nothing of the store was open.",
            WasLost::Locked => "As said, nobody was unlocked on it: nothing of the store was open.",
            WasLost::Unlocked => {
                "As said, somebody was unlocked on it: what that person may read was open to whoever had it, until it locked itself."
            }
            WasLost::Unknown => {
                "Nobody knows whether somebody was unlocked on it: take it that everything was open until it locked itself."
            }
        }
    }
}

/// What was on a lost computer, in `--json` output.
#[derive(Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct StolenOutput {
    /// What was on it.
    pub held: Stolen,
    /// How it was when it was lost.
    pub was: Option<WasLost>,
    /// Slips that were compared and agreed, in words.
    pub slips_agreed: Vec<String>,
    /// Slips that did not agree, or vouch for more than there is here, in words.
    pub slips_not_agreed: Vec<String>,
    /// Safe copies on record; null where nobody is unlocked.
    pub copies: Option<Vec<String>>,
}

fn command() -> Command {
    let cmd = Command::new("stolen")
        .about("A computer is lost or stolen: what was on it, how sealed, what could be open")
        .arg(
            Arg::new("what")
                .value_name("STORE-OR-COPY")
                .value_parser(clap::value_parser!(PathBuf))
                .help("A store or a safe copy that holds what was on it [default: the store]"),
        )
        .arg(
            Arg::new("lost-on")
                .long("lost-on")
                .value_name("DATE")
                .help("Count only what was sealed up to this day [default: everything]"),
        )
        .arg(
            Arg::new("was")
                .long("was")
                .value_name("WORD")
                .value_parser(WasLost::WORDS.to_vec())
                .help("How it was when it was lost"),
        )
        .arg(slip_arg())
        .arg(
            Arg::new("page")
                .long("page")
                .value_name("FILE")
                .value_parser(clap::value_parser!(PathBuf))
                .help("Also write it as a page to print"),
        )
        .after_help(
            "It needs no passphrase. With somebody unlocked, the safe copies on record are named too.",
        );
    add_who_args(cmd)
}

fn run(context: &mut Context<'_>) -> Outcome<Exit> {
    let root = context.path("what").unwrap_or_else(|| context.root());
    let place = Place::open(&context.world, &root, context.path("outside").as_deref())?;
    let until = match context.text("lost-on") {
        None => None,
        Some(text) => Some(
            context
                .now()
                .read_date(text.trim())
                .map_err(|why| Trouble::input(format!("--lost-on: {why}"), "Correct it and do it again."))?,
        ),
    };
    let was = context.text("was").and_then(|word| WasLost::from_word(&word));
    let disk = context.world.disk.clone();
    let mut progress = Progress::start("Counting", None);
    let held = copies::what_was_on_it(&*disk, &place, until, &mut |n| progress.tick(n))?;
    let report = compared(context, &place, &mut |n| progress.tick(n))?;
    progress.done();
    let (copies, idle) = from_register(context, &place)?;
    let (agreed, not) = report.as_ref().map_or((Vec::new(), Vec::new()), slip_words);
    let exit = match (not.is_empty(), report.as_ref().is_none_or(|report| report.sound)) {
        (true, true) => Exit::Done,
        _ => Exit::Wrong,
    };
    if let Some(file) = context.path("page") {
        let made = format!(
            "made {} from {} of the ledger {}",
            context.world.clock.now().plain(),
            if copies::is_copy(&*disk, &root)? { "a safe copy" } else { "the store" },
            held.ledger
        );
        let page = LostPage {
            made,
            held: rows(&held).into_iter().map(|(label, value)| (label.to_string(), value)).collect(),
            kinds: held.kinds.iter().map(|kind| (kind.kind.clone(), kind.entries)).collect(),
            was: was.map(|was| was.said().to_string()),
            idle_minutes: idle,
            slips: agreed.iter().chain(&not).cloned().collect(),
            copies: copies.clone(),
        };
        std::fs::write(&file, lost_page(&page)).map_err(|e| Trouble::disk("write", &file, &e))?;
        context.asker.say(&format!("Written: {}.", file.display()));
    }
    if context.json() {
        let output = StolenOutput { held, was, slips_agreed: agreed, slips_not_agreed: not, copies };
        context.say_json(&output)?;
        return Ok(exit);
    }
    context.say(&text(&held, was, &agreed, &not, copies.as_deref()))?;
    Ok(exit)
}

/// The check of the ledger against the slips given; none where none was.
fn compared(context: &Context<'_>, place: &Place, progress: &mut dyn FnMut(u64)) -> Outcome<Option<Report>> {
    let slips = slips(context);
    if slips.is_empty() {
        return Ok(None);
    }
    let witnesses = slips.iter().map(|slip| read_slip(slip, &place.key)).collect::<Outcome<Vec<_>>>()?;
    let nowhere = place.root.join("nothing-outside");
    let paths = StorePaths { root: &place.root, outside: &nowhere, key: &place.key };
    verify(&*context.world.disk, &paths, &witnesses, progress).map(Some)
}

/// Slips that agree, and those that do not.
fn slip_words(report: &Report) -> (Vec<String>, Vec<String>) {
    let agreed = report.witnesses.iter().map(|name| format!("{name}: agrees with every entry up to there."));
    let not = report.findings.iter().filter_map(|finding| {
        let number = finding.place.seq?;
        match &finding.id {
            id if *id == FindingId::BehindOutside.id() => Some(format!(
                "slip {number}: newer than what is counted here, so the lost computer held more."
            )),
            id if *id == FindingId::RewrittenOutside.id() => Some(format!(
                "slip {number}: DOES NOT AGREE with what is counted here. Run `inkfast verify`."
            )),
            _ => None,
        }
    });
    (agreed.collect(), not.collect())
}

/// The safe copies on record and the idle minutes of the rules, where somebody is unlocked or named.
fn from_register(context: &mut Context<'_>, place: &Place) -> Outcome<(Option<Vec<String>>, Option<u32>)> {
    let somebody = context.text("as").is_some() || keeper::held(place).is_some();
    if !somebody || context.path("what").is_some() {
        return Ok((None, None));
    }
    let practice = context.practice()?;
    let words = known(&practice)?
        .into_iter()
        .filter(|copy| copy.gone.is_none())
        .map(|copy| format!("{}, made {} ({} entries)", copy.place, copy.made.plain(), copy.entries));
    let idle = practice.rulebook().map(|book| book.station.idle_minutes).ok();
    Ok((Some(words.collect()), idle))
}

fn rows(held: &Stolen) -> Vec<(&'static str, String)> {
    let day = |day: Option<crate::record::moment::Moment>| day.map_or("none".to_string(), |at| at.plain());
    let up_to = |day: Date| format!("what was sealed up to {}", plain_date(day));
    vec![
        ("Counted", held.until.map_or("everything".to_string(), |Day(until)| up_to(until))),
        ("Entries", held.entries.to_string()),
        ("Charts", held.charts.to_string()),
        ("First sealed", day(held.first)),
        ("Last sealed", day(held.last)),
        ("Attachments", format!("{}, {} together", held.attachments, size(held.attachment_bytes))),
        ("People with a key", held.people.to_string()),
        (
            "Unsigned drafts",
            format!("{} where this was counted; those on the lost computer may be others", held.drafts),
        ),
    ]
}

fn text(
    held: &Stolen,
    was: Option<WasLost>,
    agreed: &[String],
    not: &[String],
    copies: Option<&[String]>,
) -> String {
    let wide = width();
    let rows = rows(held);
    let pairs: Vec<(&str, &str)> = rows.iter().map(|(label, value)| (*label, value.as_str())).collect();
    let mut out = vec!["LOST OR STOLEN COMPUTER: WHAT WAS ON IT".to_string(), labelled(&pairs, wide)];
    let mut part = |heading: &str, lines: Vec<String>| {
        out.push(format!("\n{heading}"));
        out.extend(lines.iter().map(|line| indented(&format!("- {line}"), wide, 2)));
    };
    part("CAN BE SEEN WITHOUT OPENING ANYTHING", vec![SEEN.to_string()]);
    part("HOW THE REST IS SEALED", SEALED.iter().map(ToString::to_string).collect());
    let open = was.map(|was| was.said().to_string()).into_iter();
    part("WHAT COULD BE OPEN", open.chain(QUESTIONS.iter().map(ToString::to_string)).collect());
    let mut slips: Vec<String> = agreed.iter().chain(not).cloned().collect();
    if slips.is_empty() {
        slips.push("none was compared: --slip with the newest of the day book".to_string());
    }
    part("LAST SLIP THAT WAS COMPARED", slips);
    if let Some(copies) = copies {
        let none = || vec!["none".to_string()];
        part("SAFE COPIES ON RECORD", if copies.is_empty() { none() } else { copies.to_vec() });
    }
    part("WHAT NOW", NEXT.iter().map(ToString::to_string).collect());
    out.join("\n")
}

//! `restore`: a safe copy becomes a store to work in, on a new computer.

use super::CliCommand;
use super::off_site::{Spot, add_objects_args, ledger_arg};
use super::rehearse::from_arg;
use super::verify::words;
use crate::cli::context::{Context, add_who_args};
use crate::cli::exit::Exit;
use crate::cli::progress::Progress;
use crate::practice::copies::{self, Restored, record_check};
use crate::practice::open::Practice;
use crate::record::kinds::register::CheckKind;
use crate::trouble::{Kind, Outcome, Trouble};
use crate::verify::finding::Report;
use clap::{Arg, ArgAction, Command};
use serde::Serialize;
use std::path::{Path, PathBuf};

/// The command.
pub const COMMAND: CliCommand = CliCommand { word: "restore", build: command, run };

/// A restored store, in `--json` output.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct RestoreOutput {
    /// Folder of the new store.
    pub store: PathBuf,
    /// True when it is a store to work in.
    pub finished: bool,
    /// The highest number that a slip or the copy outside vouches for, where the store does not reach it; else null.
    pub behind: Option<u64>,
    /// The check of it.
    pub check: Report,
    /// Number of the entry that says that it was restored; null where none was made.
    pub recorded: Option<u64>,
}

fn command() -> Command {
    let cmd = Command::new("restore")
        .about("Bring a safe copy into a new folder, check it, and make it the store to work in")
        .arg(from_arg())
        .arg(
            Arg::new("into")
                .value_name("INTO")
                .required(true)
                .value_parser(clap::value_parser!(PathBuf))
                .help("New folder of the store; it must be empty or not be there"),
        )
        .arg(slip_arg())
        .arg(ledger_arg())
        .arg(
            Arg::new("although-damaged")
                .long("although-damaged")
                .action(ArgAction::SetTrue)
                .help("Finish although the copy is damaged: when it is the last there is"),
        )
        .after_help(
            "With --as, it is also recorded in the restored store. A copy that is older than a slip, or than the checkpoint \
             kept outside, can be read; it is written to after `inkfast slip behind` has recorded why.\n\
             Exit codes: 0 restored, 1 the copy is wrong, 7 the folder is used, 8 restored, and older than what is known.",
        );
    add_who_args(add_objects_args(cmd))
}

/// Slips to compare with.
pub fn slip_arg() -> Arg {
    Arg::new("slip")
        .long("slip")
        .value_name("SLIP")
        .action(ArgAction::Append)
        .help("Compare with a slip, typed as for `inkfast verify --slip`: the newest in the day book")
}

fn run(context: &mut Context<'_>) -> Outcome<Exit> {
    let into = context.path("into").unwrap_or_default();
    let slips = slips(context);
    let restored = bring(context, &into, &slips)?;
    let exit = match (&restored, restored.behind) {
        (Restored { finished: true, .. }, Some(_)) => Exit::Behind,
        (Restored { report, finished: true, .. }, None) if report.sound => Exit::Done,
        _ => Exit::Wrong,
    };
    let mut recorded = None;
    if exit == Exit::Done && context.text("as").is_some() {
        recorded = Some(record(context, &restored, slips.len() as u32)?);
    }
    if context.json() {
        context.say_json(&RestoreOutput {
            store: into,
            finished: restored.finished,
            behind: restored.behind,
            check: restored.report,
            recorded,
        })?;
        return Ok(exit);
    }
    let report = words(&restored.report);
    context.say(&report)?;
    context.say(&said(&restored, &into, slips.is_empty(), recorded))?;
    Ok(exit)
}

/// The slips as typed.
pub fn slips(context: &Context<'_>) -> Vec<String> {
    context.matches.get_many::<String>("slip").into_iter().flatten().cloned().collect()
}

fn bring(context: &Context<'_>, into: &Path, slips: &[String]) -> Outcome<Restored> {
    let from = Spot::of(context, "from")?.unwrap_or(Spot::Folder(PathBuf::new()));
    from.check(into)?;
    let progress = std::cell::RefCell::new(Progress::start("Restoring and checking", None));
    let restored = copies::restore(
        &context.world,
        &mut |into| from.bring(context, into, &mut |n| progress.borrow_mut().tick(n)),
        into,
        context.path("outside").as_deref(),
        slips,
        context.flag("although-damaged"),
        &mut |n| progress.borrow_mut().tick(n),
    );
    progress.into_inner().done();
    restored
}

/// What is brought from must hold a store, and not hold what it is brought into.
pub fn refuse_inside(from: &Path, into: &Path) -> Outcome<()> {
    if !from.join("store.json").is_file() {
        return Err(Trouble::new(
            Kind::NotFound,
            format!("There is no safe copy in {}.", from.display()),
            "Nothing was changed.",
            "Name the folder of the copy, the one with store.json in it.",
        ));
    }
    match copies::real(into).starts_with(copies::real(from)) {
        true => Err(Trouble::input("A copy can't be restored into itself.", "Name a folder elsewhere.")),
        false => Ok(()),
    }
}

fn record(context: &mut Context<'_>, restored: &Restored, slips: u32) -> Outcome<u64> {
    let session = context.session(&restored.place)?;
    let station = context.text("station").unwrap_or_else(|| "desk".to_string());
    let mut practice = Practice::open_writing(&context.world, &restored.place, session, &station)?;
    let (entries, found) =
        (restored.report.entries, "restored from a safe copy; every entry checked".to_string());
    let receipt = record_check(&mut practice, CheckKind::Restored, entries, slips, found, true)?;
    context.remarks(&mut practice);
    Ok(receipt.seq)
}

fn said(restored: &Restored, into: &Path, no_slip: bool, recorded: Option<u64>) -> String {
    let (into, entries) = (into.display(), restored.report.entries);
    if !restored.finished {
        return format!(
            "\nNOT RESTORED. What was brought lies in {into}, and no command works in it.\n\
             Try another copy, into another folder. If this is the last there is: the same command with --although-damaged."
        );
    }
    let mut lines = vec![format!("\nRestored into {into}: {entries} entries.")];
    if let Some(number) = restored.behind {
        lines.push(format!(
            "It is OLDER than what is known: number {number} was reached before, and this ends at {entries}. Look for a newer copy.\n\
             If there is none: lists and checks work as it is. Before a chart is opened or anything is written, its owner \
             records why:\n\
             inkfast slip behind --store {into} --because TEXT"
        ));
    } else if !restored.report.sound {
        lines.push(
            "It is DAMAGED, as said above. What is whole can be read; nothing is written to it.".to_string(),
        );
    }
    if no_slip {
        lines.push(
            "No slip was compared, so it can't be told whether later entries are missing: compare the newest one in the \
             day book with `inkfast verify --slip`."
                .to_string(),
        );
    }
    if restored.outside_begun {
        lines.push(format!("The newest checkpoint is now kept in {}.", restored.place.outside.display()));
    }
    if let Some(entry) = recorded {
        lines.push(format!("Recorded as number {entry}."));
    }
    lines.push(
        "Next: `inkfast unlock` there; a new safe copy; and write down where the old computer is. If it was stolen: \
         `inkfast stolen`."
            .to_string(),
    );
    lines.join("\n")
}

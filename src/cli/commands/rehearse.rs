//! `rehearse`: would a safe copy and the recovery sheet bring everything back? Tried in a scratch folder that is
//! removed afterwards; the store and the copy are only read.

use super::CliCommand;
use super::off_site::{Spot, add_objects_args, ledger_arg};
use super::restore::{slip_arg, slips};
use super::verify::words;
use crate::cli::context::{Context, add_who_args};
use crate::cli::exit::Exit;
use crate::cli::progress::Progress;
use crate::cli::secret::SecretFlags;
use crate::practice::copies::{self, Rehearsal, record_check};
use crate::record::kinds::register::CheckKind;
use crate::trouble::{Outcome, Trouble};
use crate::verify::finding::Report;
use crate::world::World;
use clap::{Arg, ArgAction, Command};
use serde::Serialize;
use std::path::{Path, PathBuf};

/// The command.
pub const COMMAND: CliCommand = CliCommand { word: "rehearse", build: command, run };

/// The flags by which the line of the recovery sheet may be given without a terminal.
const SHEET: SecretFlags = SecretFlags { file: "sheet-file", fd: "sheet-fd" };

/// What came of a rehearsal, in `--json` output.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct RehearseOutput {
    /// True when everything would come back.
    pub passed: bool,
    /// True when the recovery sheet opens what it must.
    pub sheet_opens: bool,
    /// What was opened with it alone.
    pub opened: Vec<OpenedOutput>,
    /// The highest number that a slip vouches for and the copy does not reach; else null.
    pub behind: Option<u64>,
    /// The check of the copy.
    pub check: Report,
    /// Number of the entry that says so; null where none was made.
    pub recorded: Option<u64>,
}

/// An entry or file that was opened, in `--json` output.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct OpenedOutput {
    /// Number of the entry.
    pub entry: u64,
    /// What it is.
    pub what: String,
    /// True when it opened and is what was sealed.
    pub fits: bool,
}

/// Where a copy is brought from.
pub fn from_arg() -> Arg {
    Arg::new("from")
        .value_name("FROM")
        .required(true)
        .value_parser(clap::value_parser!(PathBuf))
        .help("Folder of the safe copy, or s3://BUCKET/PREFIX")
}

fn command() -> Command {
    let cmd = Command::new("rehearse")
        .about("Try a safe copy and the recovery sheet: would everything come back? Changes nothing")
        .arg(from_arg())
        .arg(slip_arg())
        .arg(ledger_arg())
        .arg(
            Arg::new(SHEET.file)
                .long(SHEET.file)
                .value_name("FILE")
                .value_parser(clap::value_parser!(PathBuf))
                .conflicts_with(SHEET.fd)
                .help("Read the recovery sheet's line from this file instead of asking"),
        )
        .arg(
            Arg::new(SHEET.fd)
                .long(SHEET.fd)
                .value_name("NUMBER")
                .value_parser(clap::value_parser!(u16))
                .help("Read the recovery sheet's line from this open file descriptor instead of asking"),
        )
        .arg(
            Arg::new("all")
                .long("all")
                .action(ArgAction::SetTrue)
                .help("Open every entry with the sheet, not only the newest of each sort"),
        )
        .arg(
            Arg::new("in")
                .long("in")
                .value_name("FOLDER")
                .value_parser(clap::value_parser!(PathBuf))
                .help("Where the scratch folder is made [default: the system's, see TMPDIR]"),
        )
        .arg(
            Arg::new("record")
                .long("record")
                .action(ArgAction::SetTrue)
                .help("Record in the store that it was rehearsed, and what came of it"),
        )
        .after_help(
            "Nothing of what is opened is shown or kept.\n\
             Exit codes: 0 everything would come back, 1 something is wrong, 2 it could not be tried, 8 a slip is newer than \
             the copy.",
        );
    add_who_args(add_objects_args(cmd))
}

fn run(context: &mut Context<'_>) -> Outcome<Exit> {
    let from = Spot::of(context, "from")?.unwrap_or(Spot::Folder(PathBuf::new()));
    from.check(Path::new("/"))?;
    let sheet = context.recovery_sheet(SHEET)?;
    let scratch = Scratch::new(&context.world, context.path("in"))?;
    let mut progress = Progress::start("Rehearsing", None);
    let brought = from.bring(context, &scratch.0, &mut |n| progress.tick(n));
    let slips = slips(context);
    let tried = brought.and_then(|()| {
        copies::rehearse(&context.world, &scratch.0, &sheet, &slips, context.flag("all"), &mut |n| {
            progress.tick(n)
        })
    });
    progress.done();
    drop(sheet);
    let left = scratch.remove();
    let rehearsal = tried?;
    let exit = match (rehearsal.passed(), rehearsal.behind()) {
        (true, _) => Exit::Done,
        (false, Some(_)) if only_behind(&rehearsal) => Exit::Behind,
        _ => Exit::Wrong,
    };
    let recorded = if context.flag("record") { Some(record(context, &rehearsal, exit)?) } else { None };
    show(context, rehearsal, exit, recorded)?;
    left?;
    Ok(exit)
}

/// True when all that is wrong is that a slip is newer.
fn only_behind(rehearsal: &Rehearsal) -> bool {
    use crate::verify::finding::{FindingId, Severity};
    let wrong = rehearsal.report.findings.iter().filter(|finding| finding.severity == Severity::Wrong);
    let mut wrong = wrong.filter(|finding| finding.id != FindingId::BehindOutside.id());
    !rehearsal.cut
        && rehearsal.sheet_opens
        && rehearsal.opened.iter().all(|one| one.fits)
        && wrong.next().is_none()
}

fn record(context: &mut Context<'_>, rehearsal: &Rehearsal, exit: Exit) -> Outcome<u64> {
    let mut practice = context.writing()?;
    let found = match exit {
        Exit::Done => "a safe copy was restored into a scratch folder and opened with the recovery sheet",
        Exit::Behind => "a safe copy opens with the recovery sheet, and is older than a slip",
        _ => "a safe copy does not come back as it must",
    };
    let (entries, sound) = (rehearsal.report.entries, exit == Exit::Done);
    let what = CheckKind::RestoreTested;
    let receipt = record_check(&mut practice, what, entries, rehearsal.slips, found.to_string(), sound)?;
    context.remarks(&mut practice);
    Ok(receipt.seq)
}

fn show(context: &mut Context<'_>, rehearsal: Rehearsal, exit: Exit, recorded: Option<u64>) -> Outcome<()> {
    if context.json() {
        let opened = rehearsal.opened.iter().map(|one| OpenedOutput {
            entry: one.seq,
            what: one.what.clone(),
            fits: one.fits,
        });
        return context.say_json(&RehearseOutput {
            passed: rehearsal.passed(),
            sheet_opens: rehearsal.sheet_opens,
            opened: opened.collect(),
            behind: rehearsal.behind(),
            check: rehearsal.report,
            recorded,
        });
    }
    context.say(&words(&rehearsal.report))?;
    context.say(&tried(&rehearsal, exit, recorded))
}

fn tried(rehearsal: &Rehearsal, exit: Exit, recorded: Option<u64>) -> String {
    let mark = |fine: bool| if fine { "yes" } else { "NO " };
    let mut lines = vec!["\nOPENED WITH THE RECOVERY SHEET ALONE".to_string()];
    lines.push(format!("  {}  the keys of the roles, and the key for writing", mark(rehearsal.sheet_opens)));
    let (fine, wrong): (Vec<_>, Vec<_>) = rehearsal.opened.iter().partition(|one| one.fits);
    // With --all there are thousands; what is wrong is named one by one.
    let few = rehearsal.opened.len() <= 12;
    if !few {
        lines.push(format!("  yes  {} entries and files", fine.len()));
    }
    for one in if few { rehearsal.opened.iter().collect() } else { wrong } {
        lines.push(format!("  {}  number {}: {}", mark(one.fits), one.seq, one.what));
    }
    lines.push(String::new());
    lines.push(match exit {
        Exit::Done => format!(
            "REHEARSED: all {} entries would come back. Nothing was kept of what was opened; the store and the copy were \
             only read.",
            rehearsal.report.entries
        ),
        Exit::Behind => format!(
            "OLDER THAN A SLIP: what is in the copy would come back, up to number {}; a slip vouches for {}. Make a new safe \
             copy.",
            rehearsal.report.entries,
            rehearsal.behind().unwrap_or_default()
        ),
        _ if !rehearsal.sheet_opens => "WRONG: this sheet does not open this copy. Is it the sheet of this store? If it \
             is lost, make new keys while somebody can still unlock."
            .to_string(),
        _ if rehearsal.cut => "WRONG: the end of this copy was cut off since it was made. Make a new one.".to_string(),
        _ => "WRONG: do not rely on this copy. Make a new one, and rehearse that.".to_string(),
    });
    if rehearsal.slips == 0 {
        lines.push("No slip was compared: give --slip with the newest of the day book to see that nothing is missing.".to_string());
    }
    if let Some(entry) = recorded {
        lines.push(format!("Recorded as number {entry}."));
    }
    lines.join("\n")
}

/// A folder that only its owner reads, removed at the end.
struct Scratch(PathBuf);

impl Scratch {
    fn new(world: &World, within: Option<PathBuf>) -> Outcome<Scratch> {
        let within = within.unwrap_or_else(std::env::temp_dir);
        let trouble = |e: std::io::Error| Trouble::disk("make a scratch folder in", &within, &e);
        let random = world.random32().map_err(trouble)?;
        let path = within.join(format!("inkfast-rehearsal-{}", data_encoding::HEXLOWER.encode(&random[..8])));
        world.disk.create_dirs(&path).map_err(trouble)?;
        Ok(Scratch(path))
    }

    fn remove(self) -> Outcome<()> {
        std::fs::remove_dir_all(&self.0).map_err(|e| {
            Trouble::new(
                crate::trouble::Kind::Disk,
                format!("The scratch folder {} could not be removed: {e}.", self.0.display()),
                "What is in it is sealed, as in the copy.",
                "Remove it by hand.",
            )
        })
    }
}

impl Drop for Scratch {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

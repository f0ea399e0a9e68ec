//! `safecopy`: one word makes a sealed copy of the store and checks it; and which copies there are.

use super::CliCommand;
use super::off_site::{Spot, add_objects_args};
use crate::cli::context::{Context, add_who_args};
use crate::cli::exit::Exit;
use crate::cli::progress::Progress;
use crate::cli::record::done;
use crate::cli::table::{Table, indented, shown, width};
use crate::practice::copies::{
    self, BucketOrder, Copied, CopyOrder, Known, find, known, record_gone, record_made,
};
use crate::practice::lists::{days_off, due_words};
use crate::practice::open::Practice;
use crate::practice::place::Place;
use crate::record::calendar::{days_between, days_from};
use crate::record::kinds::Day;
use crate::record::kinds::copies::CopyOn;
use crate::record::moment::plain_date;
use crate::seal::age_file::{self, Identity, With};
use crate::trouble::{Outcome, Trouble};
use crate::verify::finding::{FindingOutput, Severity};
use clap::{Arg, ArgAction, Command};
use serde::Serialize;
use std::path::PathBuf;

/// The command.
pub const COMMAND: CliCommand = CliCommand { word: "safecopy", build: command, run };

/// A safe copy that was made and checked, in `--json` output.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct SafeCopyOutput {
    /// Label of the copy, as it stands in it.
    pub copy: String,
    /// Name of the place where it is kept; null where nothing is recorded.
    pub place: Option<String>,
    /// True when it holds everything and is sound.
    pub sound: bool,
    /// How many entries it held before.
    pub before: u64,
    /// How many entries it holds.
    pub entries: u64,
    /// The code of a slip over these.
    pub code: String,
    /// Segments of the ledger that travelled.
    pub segments: u64,
    /// Key files that travelled.
    pub keys: u64,
    /// Sealed files that travelled.
    pub files: u64,
    /// Other files that travelled.
    pub others: u64,
    /// Bytes that travelled.
    pub bytes: u64,
    /// What was taken out of the copy because the ledger says that it was destroyed.
    pub taken_out: Vec<String>,
    /// What the copy has and the store has lost.
    pub only_in_copy: Vec<String>,
    /// Sealed files that are damaged in the store and were not copied.
    pub damaged_in_store: Vec<String>,
    /// Unsigned drafts that are not in the copy.
    pub drafts_left: u64,
    /// What the check of the copy found.
    pub findings: Vec<FindingOutput>,
    /// Number of the entry that says so; null where nothing is recorded.
    pub recorded: Option<u64>,
}

/// A safe copy on record, in `--json` output.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct KnownCopyOutput {
    /// Its label.
    pub copy: String,
    /// Name of the place where it is kept.
    pub place: String,
    /// On what it lies.
    pub on: CopyOn,
    /// When it was last made.
    pub made: String,
    /// Number of the entry that says so.
    pub entry: u64,
    /// How many entries it holds.
    pub entries: u64,
    /// Last day on which it is kept; null where none was set.
    pub keep_until: Option<Day>,
    /// How and why it is gone; null while it is kept.
    pub gone: Option<String>,
}

fn command() -> Command {
    let name = |help: &'static str| Arg::new("name").value_name("NAME").required(true).help(help);
    let cmd = Command::new("safecopy")
        .about("Make a sealed copy of the store in a folder or on a stick, and check it")
        .arg(
            Arg::new("to")
                .value_name("FOLDER")
                .env("INKFAST_SAFECOPY")
                .value_parser(clap::value_parser!(PathBuf))
                .help("Folder of the copy: its own, for example one on the stick. Or s3://BUCKET/PREFIX, off site"),
        )
        .arg(
            Arg::new("called")
                .long("called")
                .value_name("NAME")
                .help("Your name for the place where it is kept (asked the first time)"),
        )
        .arg(
            Arg::new("keep-until")
                .long("keep-until")
                .value_name("DATE")
                .help("Last day on which this copy is kept: a chart is not disposed of before"),
        )
        .arg(
            Arg::new("with-drafts")
                .long("with-drafts")
                .action(ArgAction::SetTrue)
                .help("Copy unsigned drafts too; they are sealed, and no part of the record"),
        )
        .arg(
            Arg::new("unrecorded")
                .long("unrecorded")
                .action(ArgAction::SetTrue)
                .help("Record nothing, so that nobody has to be unlocked: for a copy made by a timer"),
        )
        .arg(
            Arg::new("lock-until")
                .long("lock-until")
                .value_name("DATE")
                .help("With s3://: nobody may remove what is sent now before this day, not even you (object lock)"),
        )
        .args_conflicts_with_subcommands(true)
        .after_help(
            "Only what is new travels; run again after a copy was cut off, it goes on where it stopped. What stands in a \
             copy is never written over with something else.\n\
             Exit codes: 0 copied and checked, 1 the copy is not sound, 7 what stands there is not this store's, 8 the copy \
             is ahead of the store.",
        );
    add_who_args(add_objects_args(cmd))
        .subcommand(add_who_args(Command::new("list").about("Which safe copies are on record")))
        .subcommand(
            add_who_args(Command::new("gone").about("Record that a copy is lost, destroyed or written over"))
                .arg(name("Its place, or its label"))
                .arg(
                    Arg::new("because")
                        .long("because")
                        .value_name("TEXT")
                        .required(true)
                        .help("How, and why"),
                ),
        )
}

fn run(context: &mut Context<'_>) -> Outcome<Exit> {
    if let Some((word, matches)) = context.matches.subcommand() {
        let inner = &mut context.under(matches);
        return if word == "list" { list(inner) } else { gone(inner) };
    }
    let to = Spot::of(context, "to")?.ok_or_else(|| {
        Trouble::input(
            "It was not said where to.",
            "Name a folder: `inkfast safecopy /media/stick/inkfast`, or set INKFAST_SAFECOPY once.",
        )
    })?;
    let (keep_until, locked) = (day(context, "keep-until")?, day(context, "lock-until")?);
    if locked.is_some() && matches!(to, Spot::Folder(_)) {
        return Err(Trouble::input(
            "A folder has no lock.",
            "Leave --lock-until out, or copy to s3://BUCKET/PREFIX.",
        ));
    }
    if context.flag("unrecorded") {
        let place = context.place()?;
        let copied = make(context, &place, &to, locked, &|_, _| false)?;
        return finish(context, &copied, None, None);
    }
    let mut practice = context.practice()?;
    practice.session.vouch()?;
    let place = practice.place.clone();
    let label = to.label(context, &place)?;
    let earlier = known(&practice)?.into_iter().find(|copy| Some(&copy.label) == label.as_ref());
    let name = name_of(context, earlier.as_ref())?;
    let held: Vec<Identity> = std::iter::once(practice.session.me.identity.clone())
        .chain(practice.session.role_identities())
        .collect();
    let copied = make(context, &place, &to, locked, &|name, bytes| resealed(&held, name, bytes))?;
    let mut recorded = None;
    if copied.is_whole() {
        let today = practice.now().local_date();
        let until = keep_until.max(locked).or(earlier.and_then(|copy| copy.keep_until));
        let until = until.filter(|day| day.0 >= today);
        let (on, drafts) = (to.on(), context.flag("with-drafts"));
        recorded = Some(record_made(&mut practice, &copied, on, &name, drafts, until)?.seq);
        context.remarks(&mut practice);
    }
    finish(context, &copied, Some((name, &practice)), recorded)
}

/// The day in an option.
fn day(context: &Context<'_>, name: &str) -> Outcome<Option<Day>> {
    let Some(text) = context.text(name) else { return Ok(None) };
    let read = context.now().read_date(text.trim());
    read.map(|day| Some(Day(day)))
        .map_err(|why| Trouble::input(format!("--{name}: {why}"), "Correct it and do it again."))
}

/// A key file that was sealed anew opens with what the person here holds. Another person's own file only they can
/// open: there its form has to do.
fn resealed(held: &[Identity], name: &str, bytes: &[u8]) -> bool {
    match name.starts_with("staff-") {
        true => age_file::wants_passphrase(bytes),
        false => name.ends_with(".age") && age_file::open(&With::Identities(held), bytes).is_ok(),
    }
}

fn name_of(context: &mut Context<'_>, earlier: Option<&Known>) -> Outcome<String> {
    let given = context.text("called").or(earlier.map(|copy| copy.place.clone()));
    if let Some(name) = given.map(|name| name.trim().to_string()).filter(|name| !name.is_empty()) {
        return Ok(name);
    }
    let asked = match context.asker.interactive() {
        true => context.asker.line("What do you call the place where this copy is kept? ").ok().flatten(),
        false => None,
    };
    asked.map(|name| name.trim().to_string()).filter(|name| !name.is_empty()).ok_or_else(|| {
        Trouble::input(
            "This copy has no name yet.",
            "Give --called with your name for the place where it is kept: --called \"blue stick, safe at home\".",
        )
    })
}

fn make(
    context: &Context<'_>,
    place: &Place,
    to: &Spot,
    locked: Option<Day>,
    resealed: &copies::Resealed<'_>,
) -> Outcome<Copied> {
    let drafts = context.flag("with-drafts");
    let mut progress = Progress::start("Copying and checking", None);
    let copied = match to {
        Spot::Folder(to) => {
            let order = CopyOrder { to, drafts, resealed };
            copies::copy_to_folder(&context.world, place, &order, &mut |n| progress.tick(n))
        }
        Spot::Objects(objects) => {
            let order =
                BucketOrder { objects: &**objects, drafts, locked_until: locked_until(locked)?, resealed };
            copies::copy_to_bucket(&context.world, place, &order, &mut |n| progress.tick(n))
        }
    };
    progress.done();
    copied
}

/// The end of a day, for a lock.
fn locked_until(day: Option<Day>) -> Outcome<Option<jiff::Timestamp>> {
    let Some(Day(day)) = day else { return Ok(None) };
    let days = days_between(jiff::civil::date(1970, 1, 1), day) + 1;
    jiff::Timestamp::from_second(days * 86_400)
        .map(Some)
        .map_err(|_| Trouble::input("--lock-until is no day that can be locked until.", "Correct it."))
}

fn finish(
    context: &mut Context<'_>,
    copied: &Copied,
    kept: Option<(String, &Practice)>,
    recorded: Option<u64>,
) -> Outcome<Exit> {
    let exit = if copied.is_whole() { Exit::Done } else { Exit::Wrong };
    if context.json() {
        let travelled = copied.travelled;
        context.say_json(&SafeCopyOutput {
            copy: copied.label.clone(),
            place: kept.map(|(name, _)| name),
            sound: copied.is_whole(),
            before: copied.before,
            entries: copied.entries,
            code: copied.code.clone(),
            segments: travelled.segments,
            keys: travelled.keys,
            files: travelled.files,
            others: travelled.others,
            bytes: travelled.bytes,
            taken_out: copied.taken_out.clone(),
            only_in_copy: copied.only_here.clone(),
            damaged_in_store: copied.damaged.clone(),
            drafts_left: copied.drafts_left,
            findings: copied.report.findings.clone(),
            recorded,
        })?;
        return Ok(exit);
    }
    let name = kept.as_ref().map_or("the copy".to_string(), |(name, _)| format!("\"{}\"", shown(name)));
    context.say(&words(copied, &name))?;
    match (recorded, &kept) {
        (Some(entry), Some((_, practice))) => {
            let next = practice.rulebook()?.lists.safe_copy_days;
            let off = days_off(practice);
            let day = next.map(|days| days_from(practice.now().local_date(), i64::from(days)));
            let next =
                day.map_or(String::new(), |day| format!(" The next one is due {}.", due_words(day, &off)));
            context.say(&format!("Recorded as number {entry}.{next}"))?;
        }
        (None, _) if exit == Exit::Done => context.say("Nothing was recorded in the store.")?,
        _ => {}
    }
    Ok(exit)
}

fn words(copied: &Copied, name: &str) -> String {
    let mut lines = Vec::new();
    let grown = match copied.before {
        0 => "all of them new".to_string(),
        before => format!("{before} before"),
    };
    match copied.is_whole() {
        true => lines.push(format!(
            "Safe copy {name}: {} entries ({grown}) and {} sealed files, copied and checked in the copy.",
            copied.entries, copied.report.files
        )),
        false => lines.push(format!("Safe copy {name} is NOT SOUND. Do not rely on it.")),
    }
    let (wrong, notices): (Vec<_>, Vec<_>) =
        copied.report.findings.iter().partition(|finding| finding.severity == Severity::Wrong);
    for finding in wrong {
        lines.push(indented(&format!("- {} {}", finding.what, finding.next), width(), 2));
    }
    if !notices.is_empty() {
        lines.push(format!("  {} remark(s) that are no fault: `inkfast verify` lists them.", notices.len()));
    }
    let travelled = copied.travelled;
    lines.push(match travelled.bytes {
        0 => "  Nothing new had to travel.".to_string(),
        bytes => format!(
            "  Travelled: {} of the ledger's files, {} key files, {} sealed files, {} others; {}.",
            travelled.segments,
            travelled.keys,
            travelled.files,
            travelled.others,
            size(bytes)
        ),
    });
    let mut more = |head: &str, names: &[String]| {
        if !names.is_empty() {
            lines.push(indented(&format!("{head}: {}", names.join(", ")), width(), 2));
        }
    };
    more("Taken out of the copy, because it was destroyed on order", &copied.taken_out);
    more("DAMAGED in the store, and not copied (`inkfast verify` says more)", &copied.damaged);
    more(
        "ONLY IN THE COPY: the store has lost this. Fetch it from the copy, then run `inkfast verify`",
        &copied.only_here,
    );
    if copied.drafts_left > 0 {
        lines.push(format!(
            "  Not in it: {} unsigned draft(s); --with-drafts copies them.",
            copied.drafts_left
        ));
    }
    lines.join("\n")
}

/// A length for people.
pub fn size(bytes: u64) -> String {
    match bytes {
        0..1_000 => format!("{bytes} bytes"),
        1_000..1_000_000 => format!("{} kB", bytes.div_ceil(1_000)),
        _ => format!("{:.1} MB", bytes as f64 / 1e6),
    }
}

fn list(context: &mut Context<'_>) -> Outcome<Exit> {
    let practice = context.practice()?;
    let known = known(&practice)?;
    if context.json() {
        let output = |copy: &Known| KnownCopyOutput {
            copy: copy.label.clone(),
            place: copy.place.clone(),
            on: copy.on,
            made: copy.made.to_string(),
            entry: copy.entry,
            entries: copy.entries,
            keep_until: copy.keep_until,
            gone: copy.gone.as_ref().map(|(_, why)| why.clone()),
        };
        context.say_json(&known.iter().map(output).collect::<Vec<_>>())?;
        return Ok(Exit::Done);
    }
    if known.is_empty() {
        context.say("No safe copy is on record.")?;
        return Ok(Exit::Done);
    }
    let mut table = Table::new(["Place", "Last made", "Entries", "Kept until", "Label", "Gone"]);
    for copy in &known {
        table.row([
            shown(&copy.place),
            copy.made.plain(),
            copy.entries.to_string(),
            copy.keep_until.map_or("not said".to_string(), |day| plain_date(day.0)),
            copy.label.get(..8).unwrap_or_default().to_string(),
            copy.gone
                .as_ref()
                .map_or(String::new(), |(when, why)| format!("{}: {}", when.plain(), shown(why))),
        ]);
    }
    context.say(&table.render(width()))?;
    Ok(Exit::Done)
}

fn gone(context: &mut Context<'_>) -> Outcome<Exit> {
    let mut practice = context.writing()?;
    let copy = find(&known(&practice)?, &context.text("name").unwrap_or_default())?;
    let receipt = record_gone(&mut practice, &copy, &context.text("because").unwrap_or_default())?;
    context.remarks(&mut practice);
    done(context, "safe-copy", &receipt)
}

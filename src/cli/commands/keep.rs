//! `keep`: through which day charts are kept and by which rule, which may be destroyed this month, which are
//! blocked and why, and what became of those that were destroyed.

use super::CliCommand;
use super::attach::{refuse_existing, write_whole};
use super::reason::{add_why_args, record_look};
use crate::cli::app::needs_word;
use crate::cli::context::{Context, add_who_args};
use crate::cli::exit::Exit;
use crate::cli::progress::Progress;
use crate::cli::table::{Table, indented, shown, width};
use crate::practice::chart::find;
use crate::practice::disposal::page;
use crate::practice::disposal::standing::{Certified, certificate, certificates};
use crate::practice::keeping::{List, Listed, of_all, of_chart};
use crate::practice::open::Practice;
use crate::record::calendar::with_weekday;
use crate::record::keep_until::KeepUntil;
use crate::record::kinds::disposing::DisposalCertificate;
use crate::record::kinds::{Data, Day};
use crate::record::moment::{Date, plain_date};
use crate::record::reckon::retention::refusal_words;
use crate::trouble::{Kind, Outcome, Trouble};
use clap::{Arg, Command};
use serde::Serialize;
use std::io::Write;
use std::path::{Path, PathBuf};

/// The command.
pub const COMMAND: CliCommand = CliCommand { word: "keep", build: command, run };

/// Through which day a chart is kept, in `--json` output.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct KeepOutput {
    /// Number of the chart.
    pub chart: String,
    /// Name of the patient.
    pub name: String,
    /// How it stands.
    pub kept: KeepUntil,
}

/// Charts on a list, in `--json` output.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct KeepListOutput {
    /// The month, YYYY-MM, with `keep due`.
    pub month: Option<String>,
    /// The charts.
    pub charts: Vec<KeepOutput>,
    /// How many charts the role does not open.
    pub not_opened: usize,
}

/// A destroyed chart, in `--json` output.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct DisposedOutput {
    /// Number of the certificate.
    pub certificate: u64,
    /// Day it was signed.
    pub on: Day,
    /// Code of the first signer.
    pub by: String,
    /// How it stands, in one sentence.
    pub verdict: String,
    /// True when it is finished and no copy is left that anybody knows of.
    pub disposed: bool,
    /// What the certificate says.
    pub says: DisposalCertificate,
    /// Copies that are not recorded as destroyed, by their number on it.
    pub copies_left: Vec<u64>,
}

fn command() -> Command {
    let path =
        |name: &'static str| Arg::new(name).value_name("FILE").value_parser(clap::value_parser!(PathBuf));
    let until = add_why_args(add_who_args(
        Command::new("until")
            .about("Through which day a chart is kept, by every adopted rule, and what blocks it"),
    ))
    .arg(Arg::new("number").value_name("CHART").help("Chart number"))
    .arg(
        Arg::new("chart")
            .long("chart")
            .value_name("CHART")
            .conflicts_with("number")
            .required_unless_present("number")
            .help("Chart number"),
    );
    Command::new("keep")
        .about("How long charts are kept: the day, the rule, the list of what is due, and what was destroyed")
        .subcommand(until)
        .subcommand(
            add_who_args(Command::new("due").about("Charts that may be destroyed by the end of the month"))
                .arg(
                    Arg::new("month")
                        .long("month")
                        .value_name("YYYY-MM")
                        .help("Another month [default: this one]"),
                ),
        )
        .subcommand(add_who_args(Command::new("blocked").about(
            "Charts that may not be destroyed although their day has passed, or that something holds",
        )))
        .subcommand(add_who_args(
            Command::new("disposed")
                .about("Charts that were destroyed: certificates, and copies still to go"),
        ))
        .subcommand(
            add_who_args(Command::new("certificate").about("Print the certificate of a destroyed chart"))
                .arg(
                    Arg::new("number")
                        .value_name("ENTRY")
                        .required(true)
                        .value_parser(clap::value_parser!(u64).range(1..))
                        .help("Number of the certificate, as `keep disposed` shows it"),
                )
                .arg(
                    path("into")
                        .long("into")
                        .help("Write it into this file, outside the store; it bears the patient's name"),
                ),
        )
}

fn run(context: &mut Context<'_>) -> Outcome<Exit> {
    let words = "until, due, blocked, disposed, certificate";
    let Some((word, matches)) = context.matches.subcommand() else { return needs_word(words) };
    let mut inner = context.under(matches);
    match word {
        "until" => until(&mut inner),
        "due" => due(&mut inner),
        "blocked" => blocked(&mut inner),
        "disposed" => disposed(&mut inner),
        "certificate" => print_certificate(&mut inner),
        _ => needs_word(words),
    }
}

fn until(context: &mut Context<'_>) -> Outcome<Exit> {
    let mut practice = context.writing()?;
    let number = context.text("number").or_else(|| context.text("chart")).unwrap_or_default();
    let face = find(&practice, &number)?;
    let entries = practice.chart(&face.tag)?;
    record_look(context, &mut practice, &face, &entries)?;
    let kept = of_chart(&practice, &face, &entries, None)?;
    let name = face.identity.legal_name.clone();
    if context.json() {
        context.say_json(&KeepOutput { chart: face.chart_no, name, kept })?;
        return Ok(Exit::Done);
    }
    context.say(&format!("Chart {}, {}", face.chart_no, shown(&name)))?;
    say_kept(context, &kept)?;
    Ok(Exit::Done)
}

/// Says how a chart stands, in full.
pub fn say_kept(context: &mut Context<'_>, kept: &KeepUntil) -> Outcome<()> {
    let mut lines = Vec::new();
    match (kept.keep_through, kept.may_go_on) {
        (Some(day), Some(next)) => {
            lines.push((0, format!("Keep through {} (by {}).", with_weekday(day.0), kept.set_by())));
            lines.push((0, format!("First day it may be destroyed: {}.", with_weekday(next.0))));
        }
        _ => lines.push((
            0,
            format!("No day can be said: {}", kept.problem.as_deref().unwrap_or("no rule gives one.")),
        )),
    }
    lines.push((0, "By the adopted rules:".to_string()));
    for rule in &kept.rules {
        let day = rule.keep_through.map_or("no day".to_string(), |day| plain_date(day.0));
        let sets = if rule.sets { "; this sets the day" } else { "" };
        lines.push((2, format!("{}: {day}{sets}", rule.rule)));
        lines.push((4, rule.reason.clone()));
        let source = rule.source.as_deref().unwrap_or("no source on record");
        let read = rule.read_on.map_or(String::new(), |day| format!("; read {}", plain_date(day.0)));
        lines.push((4, format!("Source: {source}{read}")));
        if rule.unsettled {
            let check = rule.check_first.as_deref().unwrap_or("read the text at its source");
            lines.push((4, format!("A person has to look at it before anything is destroyed: {check}")));
        }
    }
    match kept.refusals.is_empty() {
        true => lines.push((0, "Nothing stands against destroying it today.".to_string())),
        false => lines.push((0, "Against destroying it:".to_string())),
    }
    lines.extend(against(kept).into_iter().map(|words| (2, words)));
    lines.extend(kept.inputs.remarks.iter().map(|words| (0, format!("Note: {words}."))));
    for (indent, line) in lines {
        context.say(&indented(&shown(&line), width(), indent))?;
    }
    Ok(())
}

/// What stands against destroying a chart, a line each.
pub fn against(kept: &KeepUntil) -> Vec<String> {
    let blocks = kept.against.iter().map(|one| {
        let entry = one.entry.map_or(String::new(), |seq| format!(" (entry {seq})"));
        format!("{}{entry}", one.words)
    });
    // What stands there as a block is said with its entry; the rest by its word.
    let others = kept.refusals.iter().filter(|code| !kept.against.iter().any(|one| one.block == **code));
    blocks.chain(others.map(|code| refusal_words(code))).collect()
}

fn gather(context: &mut Context<'_>) -> Outcome<(Practice, List)> {
    let practice = context.practice()?;
    let mut progress = Progress::start("Looking through the charts", None);
    let list = of_all(&practice, &mut |n| progress.tick(n));
    progress.done();
    Ok((practice, list?))
}

/// The last day of the month that is asked for, and its word.
fn month(context: &Context<'_>, today: Date) -> Outcome<(String, Date)> {
    let word = context.text("month").unwrap_or_else(|| format!("{:04}-{:02}", today.year(), today.month()));
    let first = crate::record::moment::parse_date(&format!("{word}-01"))
        .ok_or_else(|| Trouble::input(format!("{word} is no month."), "Write it like 2026-11."))?;
    Ok((word, first.last_of_month()))
}

fn due(context: &mut Context<'_>) -> Outcome<Exit> {
    let now = context.now().at.local_date();
    let (word, last) = month(context, now)?;
    let (_, list) = gather(context)?;
    let due = |one: &Listed| one.kept.may_go_on.is_some_and(|day| day.0 <= last);
    let title = format!("May be destroyed by the end of {word}, if nothing stands against it:");
    show(context, list, due, (Some(word), &title, "No chart is due."))
}

fn blocked(context: &mut Context<'_>) -> Outcome<Exit> {
    let (_, list) = gather(context)?;
    let is_blocked = |one: &Listed| {
        let kept = &one.kept;
        !kept.against.is_empty() || kept.keep_through.is_none() || kept.has_passed() && !kept.may_go()
    };
    show(
        context,
        list,
        is_blocked,
        (None, "Something stands against destroying these:", "No chart is blocked."),
    )
}

fn show(
    context: &mut Context<'_>,
    list: List,
    wanted: impl Fn(&Listed) -> bool,
    (month, title, none): (Option<String>, &str, &str),
) -> Outcome<Exit> {
    let not_opened = list.not_opened;
    let mut charts: Vec<Listed> = list.charts.into_iter().filter(|one| wanted(one)).collect();
    charts.sort_by_key(|one| (one.kept.keep_through, one.face.chart_no.clone()));
    if context.json() {
        let charts = charts
            .into_iter()
            .map(|one| KeepOutput {
                chart: one.face.chart_no,
                name: one.face.identity.legal_name,
                kept: one.kept,
            })
            .collect();
        context.say_json(&KeepListOutput { month, charts, not_opened })?;
        return Ok(Exit::Done);
    }
    context.say(if charts.is_empty() { none } else { title })?;
    let mut table = Table::new(["Chart", "Name", "Keep through", "By", "Against it"]);
    for one in &charts {
        table.row([
            one.face.chart_no.clone(),
            shown(&one.face.identity.legal_name),
            one.kept.keep_through.map_or("no day".to_string(), |day| plain_date(day.0)),
            one.kept.set_by(),
            match against(&one.kept) {
                none if none.is_empty() => "nothing".to_string(),
                some => some.join("; "),
            },
        ]);
    }
    if !charts.is_empty() {
        context.say(&table.render(width()))?;
    }
    if not_opened > 0 {
        context.say(&format!("Your role does not open {not_opened} more charts."))?;
    }
    Ok(Exit::Done)
}

fn disposed(context: &mut Context<'_>) -> Outcome<Exit> {
    let practice = context.practice()?;
    let all = certificates(&practice)?;
    if context.json() {
        let all: Vec<DisposedOutput> = all.into_iter().map(as_output).collect();
        context.say_json(&all)?;
        return Ok(Exit::Done);
    }
    if all.is_empty() {
        context.say("No chart was ever destroyed.")?;
        return Ok(Exit::Done);
    }
    for one in &all {
        let what = &one.certificate;
        context.say(&format!(
            "Certificate {}: chart {}, {}, {} to {}",
            one.entry,
            what.chart_no,
            shown(&what.name),
            plain_date(what.period_from.0),
            plain_date(what.period_until.0)
        ))?;
        context.say(&indented(&shown(&one.verdict()), width(), 2))?;
        for copy in one.still() {
            let text = format!(
                "Copy {}: {}. When it is gone: inkfast dispose gone --certificate {} --copy {}",
                copy.number, copy.place, one.entry, copy.number
            );
            context.say(&indented(&shown(&text), width(), 2))?;
        }
    }
    Ok(Exit::Done)
}

/// A certificate as `--json` output.
pub fn as_output(one: Certified) -> DisposedOutput {
    let copies_left: Vec<u64> = one.still().iter().map(|copy| copy.number).collect();
    let finished =
        one.disposed.as_ref().is_some_and(|order| order.done.is_some()) && one.keys_here.is_empty();
    DisposedOutput {
        certificate: one.entry,
        on: Day(one.at.local_date()),
        by: one.by.0.clone(),
        verdict: one.verdict(),
        disposed: finished && copies_left.is_empty(),
        copies_left,
        says: one.certificate,
    }
}

fn print_certificate(context: &mut Context<'_>) -> Outcome<Exit> {
    let into = context.path("into");
    if let Some(into) = &into {
        refuse_place(context, into)?;
    }
    let practice = context.practice()?;
    let one = certificate(&practice, context.number("number").unwrap_or_default())?;
    match into {
        Some(into) => {
            write_certificate(&practice, &one, &into)?;
            context.say(&format!(
                "Written to {}. It bears the patient's name and is not sealed.",
                into.display()
            ))?;
        }
        None if context.json() => context.say_json(&as_output(one))?,
        None => {
            let text = page::certificate(&practice_name(&practice)?, &one);
            context.say(text.trim_end())?;
        }
    }
    Ok(Exit::Done)
}

/// Refuses a file that exists, and one within the store: no name may lie there unsealed.
pub fn refuse_place(context: &Context<'_>, into: &Path) -> Outcome<()> {
    refuse_existing(&*context.world.disk, into)?;
    let folder = crate::world::folder_of(into).canonicalize();
    let root = context.root().canonicalize();
    match (folder, root) {
        (Ok(folder), Ok(root)) if folder.starts_with(&root) => Err(Trouble::new(
            Kind::Refused,
            "The certificate bears the patient's name, so it may not lie in the store folder.",
            "Nothing was written.",
            "Name a file elsewhere.",
        )),
        (Ok(_), _) => Ok(()),
        (Err(e), _) => Err(Trouble::disk("write", into, &e)),
    }
}

/// Writes a certificate into a file.
pub fn write_certificate(practice: &Practice, one: &Certified, into: &Path) -> Outcome<()> {
    let text = page::certificate(&practice_name(practice)?, one);
    write_whole(into, |file| {
        let trouble = |e: std::io::Error| Trouble::disk("write", into, &e);
        file.write_all(text.as_bytes()).map_err(trouble)?;
        file.sync_all().map_err(trouble)
    })
}

fn practice_name(practice: &Practice) -> Outcome<String> {
    let name = |data: Option<Data>| match data {
        Some(Data::RegisterOpened(opened)) => Some(format!("{}, {}", opened.practice, opened.address)),
        _ => None,
    };
    let first = practice.register_of(&["register-opened"])?;
    Ok(first.iter().find_map(|entry| name(entry.data())).unwrap_or_else(|| "the practice".to_string()))
}

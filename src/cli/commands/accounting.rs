//! `accounting`: to whom something of a person's record was disclosed, for an accounting as in 45 CFR 164.528;
//! on the screen for whoever prepares it, as a page for the patient, and recorded when it is given.

use super::CliCommand;
use super::entries::form;
use super::reason::{add_why_args, opening_as};
use crate::cli::context::{Context, add_who_args};
use crate::cli::data::add_data_arg;
use crate::cli::exit::Exit;
use crate::cli::record::{Recording, add_happened_args, done, happened, record};
use crate::cli::table::{Table, indented, shown, width};
use crate::practice::accounting::{Giving, charts_of, give, work_out};
use crate::practice::chart::{ChartFace, find};
use crate::practice::open::{Entry, Practice};
use crate::practice::staff::keeper_line;
use crate::record::calendar::with_weekday;
use crate::record::disclosures::account::{Account, Asked};
use crate::record::disclosures::basis;
use crate::record::envelope::RefWhy;
use crate::record::kinds::release::Fee;
use crate::record::kinds::{Data, Day};
use crate::record::moment::{Date, plain_date};
use crate::render::{AccountingPage, accounting_page};
use crate::seal::body::hex;
use crate::trouble::{Kind, Outcome, Trouble};
use crate::world::{beside, must_be_new};
use clap::{Arg, ArgAction, Command};
use serde::Serialize;
use serde_json::Value;
use std::path::{Path, PathBuf};

/// The command.
pub const COMMAND: CliCommand = CliCommand { word: "accounting", build: command, run };

/// An accounting, in `--json` output.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct AccountingOutput {
    /// The account.
    pub account: Account,
    /// Number of the entry that it was given; null where it was only looked at.
    pub entry: Option<u64>,
    /// The page; null where none was written.
    pub page: Option<PathBuf>,
}

fn command() -> Command {
    let option = |name: &'static str, value: &'static str, help: &'static str| {
        Arg::new(name).long(name).value_name(value).help(help)
    };
    let about = "To whom something of the record was disclosed: an accounting for the patient";
    let cmd = add_who_args(Command::new("accounting").about(about))
        .arg(Arg::new("chart").value_name("CHART").required(true).help("Chart number"));
    add_why_args(cmd)
        .arg(option("from", "DATE", "A later first day, where the patient asks for less than six years"))
        .arg(option("until", "DATE", "An earlier last day"))
        .arg(option(
            "asked-on",
            "DATE",
            "The day it was asked for [default: that of the open request, else today]",
        ))
        .arg(
            option("request", "NUMBER", "Number of the request it answers")
                .value_parser(clap::value_parser!(u64)),
        )
        .arg(
            option(
                "page",
                "FILE",
                "Write the page for the patient, and record that the accounting was given",
            )
            .value_parser(clap::value_parser!(PathBuf)),
        )
        .arg(
            Arg::new("trial")
                .long("trial")
                .action(ArgAction::SetTrue)
                .requires("page")
                .help("Write the page to look at only: it says so, and nothing is recorded as given"),
        )
        .arg(option("given-to", "NAME", "To whom it is given [default: the patient]").requires("page"))
        .arg(option("fee", "AMOUNT", "Fee, where one may be asked").requires("page").requires("fee-told-on"))
        .arg(option("fee-told-on", "DATE", "The day the person was told of the fee").requires("fee"))
        .subcommand(suspend_command())
        .subcommand_negates_reqs(true)
        .args_conflicts_with_subcommands(false)
}

fn suspend_command() -> Command {
    let about = "An oversight agency or law officer asks that its disclosures be left out for a time";
    let cmd = add_who_args(Command::new("suspend").about(about))
        .arg(Arg::new("chart").value_name("CHART").required(true).help("Chart number"));
    let cmd = add_data_arg(add_happened_args(cmd));
    form("accounting-suspended").map(|asks| asks.form.clap_args(cmd.clone())).unwrap_or(cmd)
}

fn run(context: &mut Context<'_>) -> Outcome<Exit> {
    if let Some(("suspend", matches)) = context.matches.subcommand() {
        return suspend(&mut context.under(matches));
    }
    let asked = asked(context)?;
    let chart = context.text("chart").unwrap_or_default();
    if let Some(file) = context.path("page") {
        let untouched = "It was not touched, and nothing was recorded.";
        must_be_new(&*context.world.disk, &file, untouched, "Name another file with --page.")?;
    }
    let mut practice = context.writing()?;
    let face = find(&practice, &chart)?;
    let mut charts: Vec<(ChartFace, Vec<Entry>)> = Vec::new();
    for face in charts_of(&practice, &face)? {
        let entries = practice.chart(&face.tag)?;
        opening_as(context, &mut practice, &face, &entries, |opening| opening.request = asked.request)?;
        charts.push((face, entries));
    }
    check_request(&asked, &charts)?;
    let account = work_out(&practice, &charts, &asked)?;
    let file = context.path("page");
    let entry = match &file {
        Some(file) => write(context, &mut practice, &face, &account, file)?,
        None => None,
    };
    if context.json() {
        context.say_json(&AccountingOutput { account, entry, page: file })?;
        return Ok(Exit::Done);
    }
    context.say(&text(&account, &face))?;
    match (&file, entry) {
        (Some(file), Some(entry)) => context.say(&format!(
            "\nWritten to {}, and recorded as given: entry {entry}. It is not sealed: hand it over, or print and \
             remove it.",
            file.display()
        ))?,
        (Some(file), None) => {
            context.say(&format!("\nWritten to {} to look at. Nothing was recorded as given.", file.display()))?;
        }
        (None, _) => context.say("\nNothing was given yet. --page FILE writes the page and records it as given.")?,
    }
    Ok(Exit::Done)
}

fn asked(context: &Context<'_>) -> Outcome<Asked> {
    Ok(Asked {
        asked_on: day(context, "asked-on")?,
        from: day(context, "from")?,
        until: day(context, "until")?,
        request: context.number("request"),
    })
}

fn day(context: &Context<'_>, name: &str) -> Outcome<Option<Date>> {
    let now = context.now();
    let read = |text: String| {
        now.read_date(text.trim())
            .map_err(|why| Trouble::input(format!("--{name}: {why}"), "Correct it and do it again."))
    };
    let day = context.text(name).map(read).transpose()?;
    if name != "from" && day.is_some_and(|day| day > now.today()) {
        return Err(Trouble::input(format!("--{name} lies ahead."), "Give a day that has come."));
    }
    Ok(day)
}

/// The request named is one for an accounting, in one of the charts.
fn check_request(asked: &Asked, charts: &[(ChartFace, Vec<Entry>)]) -> Outcome<()> {
    use crate::record::kinds::release::RequestKind;
    let Some(number) = asked.request else { return Ok(()) };
    let found = charts.iter().flat_map(|(_, entries)| entries).find(|e| e.leaf.seq == number);
    match found.and_then(Entry::data) {
        Some(Data::Request(request)) if request.kind == RequestKind::Accounting => Ok(()),
        _ => Err(Trouble::input(
            format!("Entry {number} is no request for an accounting in this chart."),
            "Look the number up with `inkfast open`, or leave --request out.",
        )),
    }
}

/// Writes the page, and records that it is given unless it is only looked at. The file gets its name last, so
/// that no page is there that the record knows nothing of.
fn write(
    context: &mut Context<'_>,
    practice: &mut Practice,
    face: &ChartFace,
    account: &Account,
    file: &Path,
) -> Outcome<Option<u64>> {
    let fee = context.text("fee").map(|amount| Fee { amount, currency: None, words: None });
    if fee.is_some() && account.free {
        return Err(Trouble::new(
            Kind::Refused,
            "No fee may be asked for this accounting: none was asked for in the twelve months before.",
            "Nothing was recorded.",
            "Leave --fee out (45 CFR 164.528(c)(2)).",
        ));
    }
    let trial = context.flag("trial");
    let to = context.text("given-to").unwrap_or_else(|| "the patient".to_string());
    let page = page(practice, face, account, &to, fee.as_ref(), trial)?;
    let digest = hex(blake3::hash(page.as_bytes()).as_bytes());
    let part = beside(file);
    let trouble = |e: std::io::Error| Trouble::disk("write", file, &e);
    std::fs::write(&part, &page).map_err(trouble)?;
    let fee_told_on = day(context, "fee-told-on")?.map(Day);
    let mut entry = None;
    if !trial {
        let giving = Giving { to, fee, fee_told_on, digest };
        match give(practice, &face.tag, account, giving) {
            Ok(receipt) => entry = Some(receipt.seq),
            Err(failed) => {
                let _ = std::fs::remove_file(&part);
                return Err(failed);
            }
        }
        context.remarks(practice);
    }
    std::fs::rename(&part, file).map_err(trouble)?;
    Ok(entry)
}

fn page(
    practice: &Practice,
    face: &ChartFace,
    account: &Account,
    to: &str,
    fee: Option<&Fee>,
    trial: bool,
) -> Outcome<String> {
    let first = practice.register_of(&["register-opened"])?.into_iter().next();
    let opened = first.as_ref().and_then(Entry::data);
    let Some((Data::RegisterOpened(register), first)) = opened.zip(first) else {
        return Err(Trouble::damaged("The first entry of the register can't be read."));
    };
    let born = &face.identity.birth_date;
    let born = match (born.date, born.estimated_year) {
        (Some(day), _) => plain_date(day.0),
        (None, Some(year)) => format!("about {year}"),
        (None, None) => "on a day not known".to_string(),
    };
    let (me, keeper) = (practice.me(), keeper_line(practice, &register.custodian));
    Ok(accounting_page(&AccountingPage {
        practice: register.practice.clone(),
        address: register.address.clone(),
        contact: format!("{keeper}, who keeps the records,"),
        patient: face.identity.legal_name.clone(),
        born,
        given_to: to.to_string(),
        made_on: practice.now().local_date(),
        made_by: me.name,
        begins: first.leaf.written.local_date(),
        fee: fee.map(|fee| fee.amount.clone()),
        trial,
        account,
    }))
}

fn text(account: &Account, face: &ChartFace) -> String {
    let mut out = vec![format!(
        "Accounting of disclosures, chart {}: {}",
        face.chart_no,
        shown(&face.identity.legal_name)
    )];
    if !account.other_charts.is_empty() {
        out.push(format!("  with the joined charts: {}", shown(&account.other_charts.join(", "))));
    }
    out.push(format!(
        "  asked for on {}; covers {} to {}, both days included",
        with_weekday(account.asked_on.0),
        plain_date(account.from.0),
        plain_date(account.until.0)
    ));
    out.push(format!("  due by {}; rule: {}", with_weekday(account.due.0), account.rule));
    out.push(match account.free {
        true => "  free of charge: none was asked for in the twelve months before".to_string(),
        false => "  a fee may be asked, if the person is told first and may withdraw or change the request"
            .to_string(),
    });
    out.push(told(account));
    out.push(left_out(account));
    out.join("\n")
}

fn told(account: &Account) -> String {
    if account.lines.is_empty() {
        return "\nTOLD\n  Nothing to tell in these days.".to_string();
    }
    let mut table = Table::new(["When", "To whom", "What", "What for", "No."]);
    for line in &account.lines {
        let when = match line.count {
            1 => plain_date(line.first.0),
            n => format!("{n} times, {} to {}", plain_date(line.first.0), plain_date(line.last.0)),
        };
        let whom = format!("{}, {}", line.to, line.address.as_deref().unwrap_or("address not known"));
        let purpose = match line.purpose.is_empty() {
            true => line.basis.clone(),
            false => format!("{}: {}", line.basis, line.purpose),
        };
        let numbers: Vec<String> = line.entries.iter().map(u64::to_string).collect();
        table.row([when, shown(&whom), shown(&line.what), shown(&purpose), numbers.join(" ")]);
    }
    let mut out = format!("\nTOLD\n{}", table.render(width()));
    for line in account.lines.iter().filter(|line| !line.missing.is_empty()) {
        let lacks = format!(
            "Lacks: {} (entry {}). Correct the entry before the page is given.",
            line.missing.join(", "),
            line.entries.first().copied().unwrap_or_default()
        );
        out.push_str(&format!("\n{}", indented(&lacks, width(), 2)));
    }
    out
}

fn left_out(account: &Account) -> String {
    let mut out: Vec<String> = Vec::new();
    if !account.not_counted.is_empty() {
        let mut table = Table::new(["When", "To whom", "Why not", "By", "No."]);
        for one in &account.not_counted {
            table.row([
                plain_date(one.on.0),
                shown(&one.to),
                one.because.clone(),
                one.citation.clone(),
                one.entry.to_string(),
            ]);
        }
        out.push(format!("\nNOT COUNTED\n{}", table.render(width())));
    }
    if !account.left_out_for_a_time.is_empty() {
        out.push("\nLEFT OUT FOR A TIME, as an agency asked. DO NOT TELL THE PATIENT.".to_string());
        for one in &account.left_out_for_a_time {
            let words = format!(
                "{}, to {}, entry {}: left out through {}",
                plain_date(one.on.0),
                shown(&one.to),
                one.entry,
                with_weekday(one.through.0)
            );
            out.push(indented(&words, width(), 2));
        }
    }
    if !account.outside_the_period.is_empty() {
        let numbers: Vec<String> = account.outside_the_period.iter().map(u64::to_string).collect();
        out.push(format!("\nOUTSIDE THESE DAYS: entries {}", numbers.join(", ")));
    }
    if !account.to_look_at.is_empty() {
        out.push("\nLOOK AT THESE FIRST: they may be disclosures that nobody wrote down as such".to_string());
        for one in &account.to_look_at {
            out.push(indented(&shown(&format!("no. {}: {}", one.entry, one.words)), width(), 2));
            out.push(indented(&format!("-> {}", one.remedy), width(), 6));
        }
    }
    out.join("\n")
}

/// Records an agency's request that its disclosures be left out for a time.
fn suspend(context: &mut Context<'_>) -> Outcome<Exit> {
    let when = happened(context)?;
    let mut practice = context.writing()?;
    let face = find(&practice, &context.text("chart").unwrap_or_default())?;
    let entries = practice.chart(&face.tag)?;
    let asks = form("accounting-suspended")?;
    let kind = asks.kind;
    // Outside the chart: there its kind alone, which every copy shows, would tell the patient.
    let recording = Recording::of(asks, None, when);
    let receipt = record(context, &mut practice, recording, |data, _| {
        let named = data.get("disclosures").and_then(Value::as_array).cloned().unwrap_or_default();
        let mut refers = Vec::new();
        for number in named.iter().filter_map(Value::as_u64) {
            may_be_left_out(&entries, number)?;
            refers.push((number, RefWhy::AddsTo));
        }
        Ok(refers)
    })?;
    done(context, kind, &receipt)
}

/// Only what went to a health oversight agency or to law enforcement can be left out (45 CFR 164.528(a)(2)(i)).
fn may_be_left_out(entries: &[Entry], number: u64) -> Outcome<()> {
    let data = entries.iter().find(|e| e.leaf.seq == number).and_then(Entry::data);
    match data {
        Some(Data::Release(release)) if basis::may_be_left_out(release.basis) => Ok(()),
        Some(Data::Release(_)) => Err(Trouble::new(
            Kind::Refused,
            format!("Entry {number} is no disclosure to a health oversight agency or to law enforcement."),
            "Nothing was recorded.",
            "Only such a disclosure can be left out of an accounting for a time (45 CFR 164.528(a)(2)).",
        )),
        _ => Err(Trouble::input(
            format!("Entry {number} is no disclosure of this chart."),
            "Look the number up with `inkfast accounting`.",
        )),
    }
}

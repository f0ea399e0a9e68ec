//! `correct`, and what `addendum` and `late` are held to: four ways of putting right, kept apart. A
//! correction is for what was written wrongly, an addendum for what was not known then, a late entry
//! for what was left out. All original content stays, with the new words, the date and the author of
//! each change beside it (CMS Pub. 100-08 ch. 3, 3.3.2.5).

use super::CliCommand;
use super::entries::form;
use super::visit::chart_arg;
use crate::cli::context::Context;
use crate::cli::data::add_data_arg;
use crate::cli::exit::Exit;
use crate::cli::record::{Recording, add_happened_args, done, happened, record};
use crate::cli::table::{indented, shown, width};
use crate::practice::chart::{access, find, note_access, opened_today, treats_today};
use crate::practice::open::{Entry, Practice};
use crate::practice::reading::ChartReading;
use crate::practice::reckoned::anew;
use crate::practice::staff::is_custodian;
use crate::record::envelope::{Record, RefWhy};
use crate::record::fields::{Field, corrected, fields, pick, read_value};
use crate::record::kinds::release::AccessWhy;
use crate::record::kinds::{Class, Data, class_of};
use crate::record::moment::Moment;
use crate::trouble::{Kind, Outcome, Trouble};
use clap::{Arg, ArgAction, Command};
use serde_json::{Map, Value, json};

/// The command.
pub const COMMAND: CliCommand = CliCommand { word: "correct", build: command, run };

const ABOUT: &str = "Something was written wrongly: old words stay, new words beneath";

/// Options of `correct`.
fn command() -> Command {
    let cmd = chart_arg(Command::new("correct").about(ABOUT));
    let cmd = cmd
        .arg(
            Arg::new("which")
                .value_name("ENTRY")
                .value_parser(clap::value_parser!(u64))
                .help("Number of the entry that is wrong; its fields are then listed"),
        )
        .arg(
            Arg::new("list")
                .long("list")
                .action(ArgAction::SetTrue)
                .help("List the fields of the entry, numbered, and record nothing"),
        )
        .arg(Arg::new("nothing").long("nothing").action(ArgAction::SetTrue).conflicts_with("is").help(
            "What stands in the field should not be there at all; it stays readable, and nothing is put in its place",
        ));
    let cmd = add_data_arg(add_happened_args(cmd));
    form("correct").map(|asks| asks.form.clap_args(cmd.clone())).unwrap_or(cmd)
}

/// Corrects one field of one entry.
fn run(context: &mut Context<'_>) -> Outcome<Exit> {
    let when = happened(context)?;
    let mut practice = context.writing()?;
    let face = find(&practice, &context.text("chart").unwrap_or_default())?;
    let entries = practice.chart(&face.tag)?;
    let reading = ChartReading::new(&practice, &entries);
    let by_data = context.text("data").is_some();
    let mut start = json!({});
    let number =
        context.number("which").or_else(|| context.text("entry").and_then(|t| t.trim().parse().ok()));
    let number = match number {
        None if context.asker.interactive() && !by_data => Some(ask_number(context)?),
        number => number,
    };
    if let Some(number) = number {
        start["target"] = json!(number);
        let entry = target(&entries, number)?;
        let written = opened(entry)?;
        if context.flag("list") {
            note_reading(context, &mut practice, &face.tag, &entries, number)?;
            list(context, entry, &fields(&reading.now(number, written)), true)?;
            return Ok(Exit::Done);
        }
        may_correct(context, &practice, entry)?;
        if context.text("field").is_none() && !by_data {
            note_reading(context, &mut practice, &face.tag, &entries, number)?;
            choose(context, &reading, &entries, entry, &mut start)?;
        }
    }
    if context.flag("nothing") {
        start["is"] = Value::Null;
    }
    let chosen = start.get("is").cloned();
    let recording = Recording {
        form: questions(context)?,
        kind: "correction",
        draft: None,
        chart: Some(&face.tag),
        happened: when,
        start,
    };
    let typed = Typed {
        now: context.now(),
        as_json: context.text("is-json").is_some() || (by_data && context.text("is").is_none()),
        chosen,
    };
    let nothing = context.flag("nothing");
    let receipt = record(context, &mut practice, recording, |data, practice| {
        if nothing {
            data.insert("is".into(), Value::Null);
        }
        settle(data, &entries, practice, &typed)
    })?;
    for line in anew(&mut practice, &face.tag, receipt.seq)? {
        context.asker.say(&line);
    }
    done(context, "correction", &receipt)
}

/// The questions, without the new value where there is to be none.
fn questions(context: &Context<'_>) -> Outcome<crate::cli::form::Form> {
    let mut form = form("correct")?.form;
    if context.flag("nothing") {
        form.questions.retain(|question| question.path != "/is");
    }
    Ok(form)
}

/// How the new value was given.
struct Typed {
    now: crate::cli::clock::Now,
    /// In the form the record has it in: with --is-json or --data.
    as_json: bool,
    /// Chosen at the terminal, and read there.
    chosen: Option<Value>,
}

fn ask_number(context: &mut Context<'_>) -> Outcome<u64> {
    let missing = || Trouble::input("Which entry is wrong?", "Give its number: inkfast correct CHART ENTRY.");
    let typed =
        context.asker.line("Number of the entry that is wrong? ").ok().flatten().ok_or_else(missing)?;
    typed.trim().parse().map_err(|_| missing())
}

/// The entry of this chart with this number.
pub(super) fn target(entries: &[Entry], number: u64) -> Outcome<&Entry> {
    entries.iter().find(|entry| entry.leaf.seq == number).ok_or_else(|| {
        Trouble::input(
            format!("Entry {number} is not in this chart."),
            "Look the number up with `inkfast print`.",
        )
    })
}

/// The record of an entry that this role opens.
pub(super) fn opened(entry: &Entry) -> Outcome<&Record> {
    entry.record.as_ref().ok_or_else(|| {
        Trouble::new(
            Kind::Locked,
            "Your role does not open that entry, so you can't correct it.",
            "Nothing was recorded.",
            "Ask its author, or somebody with the clinical role.",
        )
    })
}

/// Who wrote it corrects it; the custodian may, and says why.
fn may_correct(context: &Context<'_>, practice: &Practice, entry: &Entry) -> Outcome<()> {
    let reason = context.text("custodian-because").is_some_and(|text| !text.trim().is_empty());
    allowed(practice, entry, reason || context.asker.interactive() || context.text("data").is_some())
}

fn allowed(practice: &Practice, entry: &Entry, reason_given: bool) -> Outcome<()> {
    if entry.leaf.author == practice.session.me.code {
        return Ok(());
    }
    let refused = |what: &str, next: &str| Trouble::new(Kind::Refused, what, "Nothing was recorded.", next);
    if !is_custodian(practice) {
        return Err(refused(
            "Another person wrote this entry, and a correction is its author's.",
            "Ask the author. If the author can't, the keeper of the records corrects it and says why.",
        ));
    }
    match reason_given {
        true => Ok(()),
        false => Err(refused(
            "Another person wrote this entry, so the correction needs the custodian's reason.",
            "Say with --custodian-because why the author does not correct it, for example: the author has left.",
        )),
    }
}

/// Writes down that the chart was read, unless it is known for today: the fields of an entry are its contents.
fn note_reading(
    context: &mut Context<'_>,
    practice: &mut Practice,
    tag: &str,
    entries: &[Entry],
    number: u64,
) -> Outcome<()> {
    if treats_today(practice, entries) || opened_today(practice, entries, None) {
        return Ok(());
    }
    note_access(practice, tag, access(AccessWhy::Review, Some(format!("to correct entry {number}"))))?;
    context.remarks(practice);
    Ok(())
}

/// The fields, numbered; the empty ones only where they are asked for.
fn list(context: &mut Context<'_>, entry: &Entry, all: &[Field], with_empty: bool) -> Outcome<()> {
    let name = crate::record::kinds::title(&entry.leaf.kind);
    context.say(&format!("No. {}, {name}, as it reads now:", entry.leaf.seq))?;
    for (index, field) in all.iter().enumerate().filter(|(_, field)| with_empty || field.recorded) {
        let text = format!("{:>3}  {}: {}", index + 1, field.words, shown(&field.says));
        context.say(&indented(&text, width(), 2))?;
    }
    let empty = all.iter().filter(|field| !field.recorded).count();
    if empty > 0 && !with_empty {
        context.say(&format!("  ({empty} more where nothing is recorded: `--list` shows them)"))?;
    }
    Ok(())
}

/// Asks which field is wrong and what it should say, each until it fits.
fn choose(
    context: &mut Context<'_>,
    reading: &ChartReading,
    entries: &[Entry],
    entry: &Entry,
    start: &mut Value,
) -> Outcome<()> {
    let now = reading.now(entry.leaf.seq, opened(entry)?);
    let all = fields(&now);
    list(context, entry, &all, false)?;
    if !context.asker.interactive() {
        return Err(Trouble::input(
            "Which field is wrong?",
            "Give --field with its number or its words, and --is with what it should say.",
        ));
    }
    let stopped = || Trouble::input("Stopped before the correction was whole.", "Run the command again.");
    let field = loop {
        let typed = context.asker.line("Which field is wrong? Number or words: ");
        let picked = pick(&all, &typed.ok().flatten().ok_or_else(stopped)?);
        match picked.and_then(|field| fixed(&now, &field.pointer).map(|()| field)) {
            Ok(field) => break field,
            Err(why) => context.asker.say(&format!("Not taken: {why}.")),
        }
    };
    start["field"] = json!(field.pointer);
    if context.flag("nothing") || context.text("is").is_some() || context.text("is-json").is_some() {
        return Ok(());
    }
    context.asker.say(&format!("It says now: {}", shown(&field.says)));
    let (record, place) = first_meant(reading, entries, entry.leaf.seq, &field.pointer)
        .unwrap_or((now.clone(), field.pointer.clone()));
    let clock = context.now();
    loop {
        let typed = context.asker.line("What should it say? ").ok().flatten().ok_or_else(stopped)?;
        let read = value_of(&record, &place, &typed, &clock);
        match read.and_then(|is| corrected(&record, &place, &is).map(|_| is)) {
            Ok(is) if record.data.pointer(&place) == Some(&is) => {
                context.asker.say("Not taken: it says so already.");
            }
            Ok(is) => {
                start["is"] = is;
                return Ok(());
            }
            Err(why) => context.asker.say(&format!("Not taken: {why}.")),
        }
    }
}

fn value_of(
    now: &Record,
    pointer: &str,
    typed: &str,
    clock: &crate::cli::clock::Now,
) -> Result<Value, String> {
    let moment = |text: &str| clock.read_moment(text);
    let day = |text: &str| clock.read_date(text);
    read_value(now, pointer, typed, &moment, &day)
}

/// Puts the field and the new value into the form the record has them in, quotes the old words, and makes
/// sure that the result can be read.
fn settle(
    data: &mut Map<String, Value>,
    entries: &[Entry],
    practice: &Practice,
    typed: &Typed,
) -> Outcome<Vec<(u64, RefWhy)>> {
    let number = data.get("target").and_then(Value::as_u64).unwrap_or_default();
    let entry = target(entries, number)?;
    let written = opened(entry)?;
    let reason = data.get("by_custodian_because").and_then(Value::as_str).unwrap_or_default();
    allowed(practice, entry, !reason.trim().is_empty())?;
    if entry.leaf.author == practice.session.me.code {
        data.shift_remove("by_custodian_because");
    }
    let reading = ChartReading::new(practice, entries);
    let now = reading.now(number, written);
    let named = data.get("field").and_then(Value::as_str).unwrap_or_default();
    let fault = |why: String| {
        let next = "List its fields with `inkfast correct CHART ENTRY --list`.";
        Trouble::input(format!("This can't be corrected so: {why}."), next)
    };
    let all = fields(&now);
    // A pointer may also name what is no single field: a whole list, or a group of fields.
    let pointer = match now.data.pointer(named).filter(|_| named.starts_with('/')) {
        Some(_) => named.to_string(),
        None => pick(&all, named).map_err(fault)?.pointer.clone(),
    };
    fixed(&now, &pointer).map_err(fault)?;
    let is = match data.get("is") {
        Some(is) if typed.as_json || typed.chosen.as_ref() == Some(is) => is.clone(),
        Some(Value::String(text)) => {
            let (record, place) =
                first_meant(&reading, entries, number, &pointer).unwrap_or((now.clone(), pointer.clone()));
            value_of(&record, &place, text, &typed.now).map_err(fault)?
        }
        Some(is) => is.clone(),
        None => Value::Null,
    };
    corrected(&now, &pointer, &is).map_err(fault)?;
    if let Some((record, place)) = first_meant(&reading, entries, number, &pointer) {
        corrected(&record, &place, &is).map_err(fault)?;
    }
    data.insert("was".into(), now.data.pointer(&pointer).cloned().unwrap_or(Value::Null));
    data.insert("field".into(), json!(pointer));
    data.insert("is".into(), is);
    // A correction of a consent must open for whoever opens the consent.
    if class_of(written) == Class::Desk {
        data.insert("for_desk".into(), json!(true));
    }
    let answers = data.get("amendment").and_then(Value::as_u64);
    if let Some(request) = answers
        && target(entries, request)?.leaf.kind != "amendment-request"
    {
        return Err(fault(format!("entry {request} is no request for amendment")));
    }
    let mut refers = vec![(number, RefWhy::Corrects)];
    refers.extend(answers.map(|request| (request, RefWhy::Answers)));
    Ok(refers)
}

/// Where a new value stands at last: a correction of what an earlier one put in place changes the entry first
/// meant. None where that one is not opened.
fn first_meant(
    reading: &ChartReading,
    entries: &[Entry],
    number: u64,
    pointer: &str,
) -> Option<(Record, String)> {
    let of = |number: u64| entries.iter().find(|entry| entry.leaf.seq == number);
    let (mut number, mut pointer) = (number, pointer.to_string());
    // Each step goes to an earlier entry, so this ends.
    while let Some(Data::Correction(earlier)) = of(number).and_then(Entry::data) {
        let Some(rest) = pointer.strip_prefix("/is").filter(|rest| rest.is_empty() || rest.starts_with('/'))
        else {
            break;
        };
        (number, pointer) = (earlier.target, format!("{}{rest}", earlier.field));
    }
    let record = of(number).and_then(|entry| entry.record.as_ref())?;
    Some((reading.now(number, record), pointer))
}

/// What nobody corrects: a kept answer stays as it was answered, what the program worked out stays so, and
/// what a correction corrects was its author's choice of then.
fn fixed(now: &Record, pointer: &str) -> Result<(), String> {
    let first = pointer.split('/').nth(1).unwrap_or_default();
    if now.kind == "coverage-answer" {
        return Err(
            "an answer that was kept stays as it was answered; ask again with `inkfast may`".to_string()
        );
    }
    if first == "same_as_last_percent" {
        return Err("the program works this out, and nobody types it".to_string());
    }
    match now.kind == "correction" && matches!(first, "target" | "field" | "was") {
        true => {
            Err("of a correction, only what it puts in place and its reasons can be corrected".to_string())
        }
        false => Ok(()),
    }
}

/// An addendum is what was not known when the entry was written: what was known then was left out, and
/// that is a late entry.
pub(super) fn check_addendum(data: &Map<String, Value>, entries: &[Entry], happened: Moment) -> Outcome<()> {
    let number = data.get("target").and_then(Value::as_u64).unwrap_or_default();
    let entry = target(entries, number)?;
    let learned = data.get("learned_at").and_then(Value::as_str).and_then(|text| Moment::parse(text).ok());
    if learned.unwrap_or(happened).minute() >= entry.leaf.written.minute() {
        return Ok(());
    }
    Err(Trouble::new(
        Kind::BadInput,
        format!(
            "This became known before entry {number} was written ({}), so it is no addendum: it was left out.",
            entry.leaf.written.plain()
        ),
        "Nothing was recorded.",
        "Use `inkfast late`, which asks why it was left out and what it is written from.",
    ))
}

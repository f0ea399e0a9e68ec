//! `misfiled`: an entry in this chart belongs to another. Nothing is moved or taken out: the entry is marked,
//! held back from every copy, and may be written again where it belongs, with a pointer to where it was.

use super::CliCommand;
use super::correct::target;
use super::entries::form;
use super::visit::chart_arg;
use crate::cli::context::Context;
use crate::cli::data::add_data_arg;
use crate::cli::exit::Exit;
use crate::cli::record::{add_happened_args, confirm, done, fill, happened, read};
use crate::practice::chart::{ChartFace, find};
use crate::practice::open::{Draft, Entry, Practice};
use crate::practice::reading::{ChartReading, misfiled};
use crate::practice::staff::is_custodian;
use crate::practice::visit::open_visit;
use crate::record::envelope::{Happened, RefWhy};
use crate::record::kinds::title;
use crate::trouble::{Kind, Outcome, Trouble};
use clap::{Arg, Command};
use serde_json::{Map, Value, json};

/// The command.
pub const COMMAND: CliCommand = CliCommand { word: "misfiled", build: command, run };

/// Kinds that stand on their own and may be written again word for word in another chart.
const RE_ENTERED: [&str; 15] = [
    "visit",
    "consent",
    "withdrawal",
    "standing-refusal",
    "asked",
    "allergy-review",
    "alert",
    "contact",
    "handout",
    "screen",
    "change",
    "measure",
    "reaction",
    "referral",
    "capacity",
];

/// Numbers of entries of the chart an entry was in: in another chart they would point at nothing, or at
/// something of another person.
const POINTERS: [&str; 17] = [
    "agreed",
    "screens",
    "carried_forward",
    "consent",
    "asked",
    "narrower_than",
    "consents",
    "paper",
    "letter",
    "about",
    "attachment",
    "ends",
    "of",
    "sources",
    "referral",
    "reaction",
    "same_as_last_percent",
];

/// Options of `misfiled`.
fn command() -> Command {
    let cmd = chart_arg(Command::new("misfiled").about("An entry here belongs to another chart"))
        .arg(
            Arg::new("re-enter")
                .long("re-enter")
                .value_name("CHART")
                .help("Write it again in this chart, where it belongs, with a pointer to where it was"),
        )
        .arg(
            Arg::new("visit")
                .long("visit")
                .value_name("NUMBER")
                .value_parser(clap::value_parser!(u64))
                .requires("re-enter")
                .help("Number of the visit it belongs to there [default: the visit open there, if any]"),
        );
    let cmd = add_data_arg(add_happened_args(cmd));
    form("misfiled").map(|asks| asks.form.clap_args(cmd.clone())).unwrap_or(cmd)
}

/// Marks an entry, and writes it again where it belongs if that is asked for.
fn run(context: &mut Context<'_>) -> Outcome<Exit> {
    let when = happened(context)?;
    let mut practice = context.writing()?;
    let face = find(&practice, &context.text("chart").unwrap_or_default())?;
    let entries = practice.chart(&face.tag)?;
    let mut form = form("misfiled")?.form;
    let chart = where_again(context);
    if chart.is_some() {
        // It is written again in the same moment, and whose chart that is stands nowhere in this one.
        form.questions.retain(|question| !["/belongs_to", "/re_entered"].contains(&question.path));
    }
    let start = json!({ "found_by": practice.session.me.code });
    let mut data = fill(context, &practice, &form, "misfiled", Some(&face.tag), start)?;
    let number = data["entry"].as_u64().unwrap_or_default();
    let entry = target(&entries, number)?;
    may_be_marked(entry, &entries)?;
    let again = match chart {
        Some(chart) => Some(re_entry(context, &practice, &face, &entries, entry, &chart)?),
        None => None,
    };
    if let (Some(_), Value::Object(fields)) = (&again, &mut data) {
        fields.insert("re_entered".into(), json!(true));
        // Whose chart it belongs to is said nowhere in this one; the entry there points here.
        fields.shift_remove("belongs_to");
    }
    confirm(context, "misfiled", &form.read_back(&data))?;
    let mut mark = Draft::new(Some(&face.tag), read("misfiled", &data)?, when.start);
    mark.happened = when;
    mark.refers = vec![(number, RefWhy::BelongsElsewhere)];
    let receipts = practice.append_group(again.into_iter().chain([mark]).collect(), None)?;
    practice.drop_draft("misfiled", Some(&face.tag))?;
    context.remarks(&mut practice);
    if let [again, _] = receipts.as_slice() {
        context.asker.say(&format!("Written again where it belongs, as number {}.", again.seq));
    }
    match receipts.last() {
        Some(receipt) => done(context, "misfiled", receipt),
        None => Err(Trouble::damaged("Nothing was recorded.")),
    }
}

/// The chart in which it is to be written again, if it is.
fn where_again(context: &mut Context<'_>) -> Option<String> {
    let given = context.text("re-enter");
    if given.is_some() || !context.asker.interactive() {
        return given;
    }
    let question = "Write it again now where it belongs? Number of that chart, or Enter for not now: ";
    let typed = context.asker.line(question).ok().flatten()?;
    Some(typed.trim().to_string()).filter(|chart| !chart.is_empty())
}

fn refused(what: impl Into<String>, next: &str) -> Trouble {
    Trouble::new(Kind::Refused, what, "Nothing was recorded.", next)
}

fn may_be_marked(entry: &Entry, entries: &[Entry]) -> Outcome<()> {
    let number = entry.leaf.seq;
    match entry.leaf.kind.as_str() {
        "chart-opened" | "misfiled" | "access" | "joined" | "chart-state" => Err(refused(
            format!("Entry {number} ({}) is about this chart itself.", title(&entry.leaf.kind)),
            "Where two charts are of one person, use `inkfast patient joined`.",
        )),
        _ if misfiled(entries).contains(&number) => {
            Err(refused(format!("Entry {number} is marked already."), "Look at it with `inkfast print`."))
        }
        _ => Ok(()),
    }
}

/// The entry as it is to be written again in the other chart.
fn re_entry(
    context: &Context<'_>,
    practice: &Practice,
    from: &ChartFace,
    entries: &[Entry],
    entry: &Entry,
    chart: &str,
) -> Outcome<Draft> {
    let there = find(practice, chart)?;
    if there.tag == from.tag {
        return Err(Trouble::input("That is the chart it is in.", "Give the chart it belongs to."));
    }
    super::joined::refuse_joined(&there)?;
    let kind = entry.leaf.kind.as_str();
    if !RE_ENTERED.contains(&kind) {
        return Err(refused(
            format!("An entry of this kind ({}) can't be written again by itself.", title(kind)),
            "Write it there with its own command first, then mark this one with --re-entered yes.",
        ));
    }
    let record = entry.record.as_ref().ok_or_else(|| {
        Trouble::new(
            Kind::Locked,
            "Your role does not open that entry, so you can't write it again.",
            "Nothing was recorded.",
            "Ask its author, or somebody with the clinical role.",
        )
    })?;
    if entry.leaf.author != practice.session.me.code && !is_custodian(practice) {
        return Err(refused(
            "Another person wrote this entry.",
            "Its author writes it again where it belongs, or the keeper of the records does.",
        ));
    }
    let now = ChartReading::new(practice, entries).now(entry.leaf.seq, record);
    let mut data = now.data.clone();
    without_pointers(&mut data);
    let visit = match context.number("visit") {
        Some(visit) => Some(visit),
        None => open_visit(&practice.chart(&there.tag)?),
    };
    let mut refers = vec![(entry.leaf.seq, RefWhy::ReEnteredFrom)];
    refers.extend(set_visit(kind, &mut data, visit)?);
    if let Some(visit) = visit {
        target(&practice.chart(&there.tag)?, visit)?;
    }
    Ok(Draft {
        chart: Some(there.tag),
        data: read(kind, &data)?,
        happened: Happened { ..record.happened },
        labels: Vec::new(),
        refers,
        entered_by: None,
    })
}

fn without_pointers(value: &mut Value) {
    match value {
        Value::Object(members) => {
            members.retain(|name, member| {
                let names_entries = POINTERS.contains(&name.as_str());
                // A consent's own techniques and a measure's value bear other names; only numbers and groups go.
                !(names_entries && (member.is_number() || member.is_array() || name == "agreed"))
            });
            members.values_mut().for_each(without_pointers);
        }
        Value::Array(items) => items.iter_mut().for_each(without_pointers),
        _ => {}
    }
}

/// Puts the visit of the right chart in the place of the one it was in.
fn set_visit(kind: &str, data: &mut Value, visit: Option<u64>) -> Outcome<Option<(u64, RefWhy)>> {
    let Value::Object(fields) = data else { return Ok(None) };
    restore_agreed(kind, fields);
    if kind == "reaction" {
        // The procedures it is linked to are lines of a note in the other chart.
        fields.shift_remove("procedures");
    }
    let needed = matches!(kind, "visit" | "asked");
    match (fields.contains_key("visit") || needed, visit) {
        (false, _) => Ok(None),
        (true, Some(visit)) => {
            fields.insert("visit".into(), json!(visit));
            Ok(Some((visit, RefWhy::Visit)))
        }
        (true, None) if needed => Err(refused(
            "This belongs into a visit, and none is open in the chart it belongs to.",
            "Give --visit with the number of the visit there, or open one with its times first.",
        )),
        (true, None) => {
            fields.shift_remove("visit");
            Ok(None)
        }
    }
}

/// A note has a place for what was agreed, even where it points to nothing.
fn restore_agreed(kind: &str, fields: &mut Map<String, Value>) {
    if kind == "visit" {
        fields.insert("agreed".into(), json!({}));
    }
}

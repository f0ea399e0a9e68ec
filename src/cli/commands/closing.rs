//! Closing what is on a list: `contact close`, `refer chase`, `reaction recheck` and `reaction close`. Each
//! takes the number of the entry it is about as a second word.

use super::entries::{self, check_pointers, complete, form, known, pointers};
use crate::cli::context::{Context, add_who_args};
use crate::cli::data::add_data_arg;
use crate::cli::exit::Exit;
use crate::cli::record::{Recording, add_happened_args, done, happened, record};
use crate::practice::chart::find;
use crate::practice::open::Entry;
use crate::practice::visit::open_visit;
use crate::record::envelope::RefWhy;
use crate::record::kinds::Data;
use crate::trouble::{Outcome, Trouble};
use clap::{Arg, Command};
use serde_json::{Map, Value, json};

/// A closing command.
struct Closing {
    word: &'static str,
    form: &'static str,
    about: &'static str,
    /// The field that holds the number it is about.
    field: &'static str,
}

const CONTACT: Closing = Closing {
    word: "close",
    form: "contact-close",
    about: "A call is made, or a no-show reached: it leaves the list",
    field: "about",
};
const CHASE: Closing = Closing {
    word: "chase",
    form: "refer-chase",
    about: "No answer came to a referral, and it was asked for again",
    field: "referral",
};
const RECHECK: Closing = Closing {
    word: "recheck",
    form: "reaction-recheck",
    about: "An adverse reaction was looked at again; it stays open",
    field: "reaction",
};
const CLOSE: Closing = Closing {
    word: "close",
    form: "reaction-closed",
    about: "An adverse reaction is over",
    field: "reaction",
};

fn options(closing: &Closing) -> Command {
    let cmd = add_who_args(Command::new(closing.word).about(closing.about))
        .arg(Arg::new("chart").value_name("CHART").required(true).help("Chart number"))
        .arg(
            Arg::new("number")
                .value_name("ENTRY")
                .value_parser(clap::value_parser!(u64))
                .help("Number of the entry it is about, as the list shows it"),
        );
    let cmd = add_data_arg(add_happened_args(cmd));
    form(closing.form).map(|asks| asks.form.clap_args(cmd.clone())).unwrap_or(cmd)
}

/// Options of `contact`.
pub fn contact_command() -> Command {
    entries::build("contact", "A call, message or no-show")
        .args_conflicts_with_subcommands(true)
        .subcommand_negates_reqs(true)
        .subcommand(options(&CONTACT))
}

/// Options of `refer`.
pub fn refer_command() -> Command {
    entries::build("refer", "Referrals and their answers").subcommand(options(&CHASE))
}

/// Options of `reaction`.
pub fn reaction_command() -> Command {
    entries::build("reaction", "Adverse reactions").subcommand(options(&RECHECK)).subcommand(options(&CLOSE))
}

/// Runs `contact`.
pub fn contact(context: &mut Context<'_>) -> Outcome<Exit> {
    run(context, "contact", &[CONTACT])
}

/// Runs `refer`.
pub fn refer(context: &mut Context<'_>) -> Outcome<Exit> {
    run(context, "refer", &[CHASE])
}

/// Runs `reaction`.
pub fn reaction(context: &mut Context<'_>) -> Outcome<Exit> {
    run(context, "reaction", &[RECHECK, CLOSE])
}

fn run(context: &mut Context<'_>, word: &'static str, own: &[Closing]) -> Outcome<Exit> {
    if let Some((sub, matches)) = context.matches.subcommand()
        && let Some(closing) = own.iter().find(|c| c.word == sub)
    {
        let mut inner = context.under(matches);
        return close(&mut inner, closing);
    }
    entries::run(context, word)
}

fn close(context: &mut Context<'_>, closing: &Closing) -> Outcome<Exit> {
    let when = happened(context)?;
    let mut practice = context.writing()?;
    let face = find(&practice, &context.text("chart").unwrap_or_default())?;
    let entries = practice.chart(&face.tag)?;
    let visit = open_visit(&entries);
    let asks = form(closing.form)?;
    let mut start = known(&asks, &practice);
    if let Some(number) = context.number("number") {
        start[closing.field] = if closing.field == "about" { json!([number]) } else { json!(number) };
    }
    if closing.form == "reaction-closed" && context.number("number").is_some() {
        start["closed_with"] = json!(if visit.is_some() { "visit" } else { "call" });
    }
    let recording = Recording {
        form: asks.form.clone(),
        kind: asks.kind,
        draft: None,
        chart: Some(&face.tag),
        happened: when,
        start,
    };
    let receipt = record(context, &mut practice, recording, |data, _| {
        complete(&asks, data, &entries, visit);
        let mut refers = match closing.form {
            "contact-close" => contact_refers(data, &entries)?,
            _ => pointers(asks.kind, data),
        };
        if closing.form == "refer-chase" {
            data.insert("outcome".into(), json!("none-chased"));
        }
        check_pointers(&refers, &entries)?;
        refers.dedup();
        fits(asks.kind, data, &entries)?;
        Ok(refers)
    })?;
    done(context, asks.kind, &receipt)
}

/// What the closing contact takes over: with whom it was, and that nothing is left to do.
fn contact_refers(data: &mut Map<String, Value>, entries: &[Entry]) -> Outcome<Vec<(u64, RefWhy)>> {
    let about: Vec<u64> =
        data.get("about").and_then(Value::as_array).into_iter().flatten().filter_map(Value::as_u64).collect();
    let first = about.first().and_then(|seq| entries.iter().find(|e| e.leaf.seq == *seq));
    let Some(Data::Contact(before)) = first.and_then(Entry::data) else {
        return Err(Trouble::input(
            "That entry is no contact of this chart.",
            "Look the number up with `inkfast open CHART`.",
        ));
    };
    let outcome = data.get("outcome").cloned().unwrap_or(Value::Null);
    data.entry("said").or_insert(outcome);
    data.insert("done".into(), json!(true));
    if !data.contains_key("with") {
        let with = match before.with.value() {
            Some(_) => serde_json::to_value(&before.with).unwrap_or(Value::Null),
            None => json!({ "not_done_because": "nobody was named when it was closed" }),
        };
        data.insert("with".into(), with);
    }
    Ok(about.into_iter().map(|seq| (seq, RefWhy::Closes)).collect())
}

/// Refuses to close what is of another kind than the command closes.
fn fits(kind: &str, data: &Map<String, Value>, entries: &[Entry]) -> Outcome<()> {
    let (field, wanted) = match kind {
        "referral-answer" => ("referral", "referral"),
        "reaction-rechecked" | "reaction-closed" => ("reaction", "reaction"),
        _ => return Ok(()),
    };
    let seq = data.get(field).and_then(Value::as_u64);
    let found = entries.iter().find(|e| Some(e.leaf.seq) == seq);
    if found.is_some_and(|e| e.leaf.kind == wanted) {
        return Ok(());
    }
    Err(Trouble::input(
        format!("That entry is no {wanted} of this chart."),
        "Look the number up with `inkfast open CHART`.",
    ))
}

//! `disclosure`: something of the record went out by another way than a sealed package: a letter, a call, a
//! paper copy handed over, an order complied with by mail.

use super::CliCommand;
use super::entries::{check_pointers, form};
use super::joined::say_joined;
use super::visit::chart_arg;
use crate::cli::context::Context;
use crate::cli::data::add_data_arg;
use crate::cli::exit::Exit;
use crate::cli::record::{Recording, add_happened_args, done, happened, record};
use crate::practice::accounting::counts;
use crate::practice::chart::find;
use crate::record::envelope::RefWhy;
use crate::record::kinds::Data;
use crate::trouble::{Outcome, Trouble};
use clap::Command;
use serde_json::{Map, Value, json};

/// The command.
pub const COMMAND: CliCommand = CliCommand { word: "disclosure", build: command, run };

fn command() -> Command {
    let about = "Something of the record went out otherwise than as a package: letter, call, paper, order";
    let cmd = add_data_arg(add_happened_args(chart_arg(Command::new("disclosure").about(about))));
    form("disclosure").map(|asks| asks.form.clap_args(cmd.clone())).unwrap_or(cmd)
}

fn run(context: &mut Context<'_>) -> Outcome<Exit> {
    let when = happened(context)?;
    let mut practice = context.writing()?;
    let face = find(&practice, &context.text("chart").unwrap_or_default())?;
    say_joined(context, &face);
    let entries = practice.chart(&face.tag)?;
    let asks = form("disclosure")?;
    let kind = asks.kind;
    let recording = Recording::of(asks, Some(&face.tag), when);
    let receipt = record(context, &mut practice, recording, |data, _| {
        let refers = complete(data);
        let mut named = refers.clone();
        named.extend(numbers(data.get("letter")).into_iter().map(|seq| (seq, RefWhy::AddsTo)));
        named.extend(listed(data).into_iter().map(|seq| (seq, RefWhy::AddsTo)));
        check_pointers(&named, &entries)?;
        let request = data.get("request").and_then(Value::as_u64);
        let is_request = |seq: u64| entries.iter().any(|e| e.leaf.seq == seq && e.leaf.kind == "request");
        match request.filter(|seq| !is_request(*seq)) {
            Some(seq) => Err(Trouble::input(
                format!("Entry {seq} is no request."),
                "Look its number up with `inkfast open`, or leave it out.",
            )),
            None => Ok(refers),
        }
    })?;
    if let Some(Data::Release(release)) = practice.entry_by_seq(receipt.seq)?.data() {
        context.asker.say(match counts(&practice, release.basis) {
            true => "It belongs in an accounting of disclosures, should the patient ask for one.",
            false => "An accounting of disclosures leaves it out, because of what it rests on.",
        });
    }
    done(context, kind, &receipt)
}

fn numbers(value: Option<&Value>) -> Vec<u64> {
    match value {
        Some(Value::Array(many)) => many.iter().filter_map(Value::as_u64).collect(),
        Some(one) => one.as_u64().into_iter().collect(),
        None => Vec::new(),
    }
}

fn listed(data: &Map<String, Value>) -> Vec<u64> {
    numbers(data.get("what").and_then(|what| what.get("entry_list")))
}

/// Puts in what nobody should have to type, and says what it answers.
fn complete(data: &mut Map<String, Value>) -> Vec<(u64, RefWhy)> {
    let entries = listed(data).len();
    if let Some(what) = data.entry("what").or_insert(json!({})).as_object_mut() {
        what.insert("entries".into(), json!(entries));
    }
    // Worked out from the basis when it is sealed.
    data.insert("counts_for_accounting".into(), json!(false));
    numbers(data.get("request")).into_iter().map(|seq| (seq, RefWhy::Answers)).collect()
}

//! `request take`: a request comes in. Every clock that runs is reckoned and kept with it.

use crate::cli::commands::entries::form;
use crate::cli::commands::visit::chart_arg;
use crate::cli::context::Context;
use crate::cli::data::add_data_arg;
use crate::cli::exit::Exit;
use crate::cli::record::{Recording, add_happened_args, done, happened, record};
use crate::practice::chart::find;
use crate::practice::lists::{days_off, due_words};
use crate::practice::open::{Entry, Practice};
use crate::practice::request::{Dealing, dealing, reckon};
use crate::record::envelope::RefWhy;
use crate::record::kinds::Data;
use crate::record::kinds::release::{Request, RequestKind};
use crate::record::request::clocks;
use crate::trouble::{Outcome, Trouble};
use clap::Command;
use serde_json::{Map, Value, json};

/// Options of `request take`.
pub fn command() -> Command {
    let cmd =
        Command::new("take").about("A request came in: who asks, for what, and by when it is to be answered");
    let cmd = add_data_arg(add_happened_args(chart_arg(cmd)));
    match form("request") {
        Ok(asks) => asks.form.clap_args(cmd),
        Err(_) => cmd,
    }
}

/// Takes a request.
pub fn run(context: &mut Context<'_>) -> Outcome<Exit> {
    let when = happened(context)?;
    let mut practice = context.writing()?;
    let face = find(&practice, &context.text("chart").unwrap_or_default())?;
    let entries = practice.chart(&face.tag)?;
    let asks = form("request")?;
    let kind = asks.kind;
    let recording = Recording::of(asks, Some(&face.tag), when);
    let receipt =
        record(context, &mut practice, recording, |data, practice| complete(data, practice, &entries))?;
    let taken = dealing(&practice, receipt.seq)?;
    for line in remarks(&practice, &taken)? {
        context.asker.say(&line);
    }
    done(context, kind, &receipt)
}

/// Puts in the clocks, and says which entries the request points to.
fn complete(
    data: &mut Map<String, Value>,
    practice: &Practice,
    entries: &[Entry],
) -> Outcome<Vec<(u64, RefWhy)>> {
    let number = |field: &str| data.get(field).and_then(Value::as_u64);
    let papers = [number("letter"), number("authority_paper")];
    let refers: Vec<(u64, RefWhy)> = papers
        .into_iter()
        .flatten()
        .chain(number("authority_entry"))
        .map(|seq| (seq, RefWhy::SeeAlso))
        .collect();
    for seq in papers.into_iter().flatten() {
        super::steps::attachment(entries, seq)?;
    }
    if let Some(seq) = number("authority_entry") {
        decision_maker(entries, seq)?;
    }
    let request: Request = serde_json::from_value(Value::Object(data.clone())).map_err(|e| {
        Trouble::input(format!("The request can't be recorded: {e}."), "Correct it and do it again.")
    })?;
    let (clocks, due) = reckon(practice, &request)?;
    if let Some(due) = due {
        data.insert("due".into(), json!(due));
    }
    let named = clocks::named(&clocks);
    if !named.is_empty() {
        data.insert("clock".into(), json!(named));
    }
    if !clocks.is_empty() {
        data.insert("clocks".into(), json!(clocks));
    }
    Ok(refers)
}

fn decision_maker(entries: &[Entry], seq: u64) -> Outcome<()> {
    let entry = entries.iter().find(|entry| entry.leaf.seq == seq);
    match entry.and_then(Entry::data) {
        Some(Data::DecisionMaker(_)) => Ok(()),
        _ => Err(Trouble::input(
            format!("Entry {seq} of this chart does not say who decides for the patient."),
            "Look its number up with `inkfast print`.",
        )),
    }
}

/// What is to be known after it is sealed: every clock, and what stands against answering.
fn remarks(practice: &Practice, taken: &Dealing) -> Outcome<Vec<String>> {
    let mut lines = Vec::new();
    let request = &taken.standing.request;
    match clocks::governing(&request.clocks) {
        None => lines.push(
            "No clock runs for it by the adopted rules, and the paper names no day: it stays on the list until it is \
             answered."
                .to_string(),
        ),
        Some((_, by)) => {
            let due = due_words(by[0].due.0, &days_off(practice));
            lines.push(format!("To be answered by {due}."));
            lines.extend(request.clocks.iter().map(|clock| format!("  {}", clocks::words(clock))));
        }
    }
    lines.push(format!("Rests on: {}.", taken.standing.asker().lawful_basis()));
    if request.kind == RequestKind::Accounting && taken.is_free_accounting(practice)? {
        lines.push("This accounting is free: the first in its time (45 CFR 164.528(c)(2)).".to_string());
    }
    lines.extend(super::show::stop_lines(&taken.stops(practice, practice.now())?));
    Ok(lines)
}

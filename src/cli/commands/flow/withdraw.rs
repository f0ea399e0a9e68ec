//! `withdraw`: what the patient takes back is sealed at once, at its widest reading. Everything else (what was
//! stopped, how the patient left, the next step) is asked afterwards, in an entry of its own.

use super::line::{Whose, quietly, typed, whose};
use super::{command, form};
use crate::cli::context::Context;
use crate::cli::exit::Exit;
use crate::cli::form::{Form, Need};
use crate::cli::forms::agree::withdraw_rest;
use crate::cli::record::{Recording, answers, done, fill, happened, seal};
use crate::cli::table::shown;
use crate::ledger::write::Receipt;
use crate::practice::chart::find;
use crate::practice::open::Practice;
use crate::practice::visit::open_visit;
use crate::record::envelope::{Happened, RefWhy};
use crate::record::kinds::Data;
use crate::record::kinds::withdrawal::How;
use crate::record::shortform::{Grammar, Parsed, Taken, parse, taken};
use crate::trouble::{Outcome, Trouble};
use clap::Command;
use serde_json::{Map, Value, json};

/// Options of `withdraw`.
pub fn withdraw_command() -> Command {
    command(
        "withdraw",
        Some("withdraw"),
        "A consent is taken back, in whole or in part: sealed at once, the rest added after",
        "all raised-hand; intraoral left \"says stop\"",
    )
}

/// The fields of the rest: what was stopped, how the patient left, the next step.
const REST: [&str; 4] = ["/under_way", "/stopped", "/on_leaving", "/offered_next_step"];

fn is_rest(path: &str) -> bool {
    REST.iter().any(|field| path.starts_with(field))
}

/// The same form, asking nothing of what can wait, or nothing but that.
fn asking(form: &Form, rest: bool) -> Form {
    let mut form = form.clone();
    for question in form.questions.iter_mut().filter(|q| is_rest(q.path) != rest) {
        question.need = Need::FlagOnly;
    }
    form
}

/// Records a withdrawal.
pub fn run(context: &mut Context<'_>) -> Outcome<Exit> {
    let when = happened(context)?;
    let mut practice = context.adding()?;
    if context.text("completes").is_some() {
        return completing(context, &mut practice);
    }
    let Whose { tag, chart_no, words, .. } = whose(context, &practice, Grammar::Withdraw)?;
    let parsed = parse(Grammar::Withdraw, &words);
    let scope = taken(&parsed);
    let start = if words.is_empty() { json!({}) } else { start(&parsed, &scope) };
    let form = asking(&form("withdraw")?.form, false);
    let data = match words.is_empty() {
        true => fill(context, &practice, &form, "withdrawal", Some(&tag), start)?,
        false => {
            quietly(context, |context| fill(context, &practice, &form, "withdrawal", Some(&tag), start))?
        }
    };
    let receipt = at_once(context, &mut practice, &tag, when, &form, data.clone())?;
    if !context.json() {
        let read = form.read_back(&data);
        context.say(&format!("Chart {chart_no}: {}", shown(&read.join("; "))))?;
    }
    if !scope.not_understood.is_empty() {
        context.asker.say(&format!(
            "Not understood: {}. So that nothing is missed, it was taken as everything, everywhere. If less was meant, a new consent says what is agreed to.",
            shown(&scope.not_understood.join(", "))
        ));
    }
    let exit = done(context, "withdrawal", &receipt)?;
    let sealed = Sealed { tag: &tag, chart_no: &chart_no, when, data: &data, seq: receipt.seq };
    offer_rest(context, &mut practice, &sealed)?;
    Ok(exit)
}

/// What a line says, as the answers of the form.
fn start(parsed: &Parsed, scope: &Taken) -> Value {
    let short = &parsed.short;
    let mut said: Vec<String> = short.said.iter().cloned().collect();
    if !scope.not_understood.is_empty() {
        said.push(format!("as typed: {}", scope.not_understood.join(" ")));
    }
    let how = short.how.unwrap_or(How::Words);
    let words = match (said.is_empty(), how) {
        (false, _) => json!(said.join("; ")),
        (true, How::Words) => json!({ "not_done_because": "not written down at once" }),
        (true, how) => json!({ "not_done_because": format!("no words: {}", how.word().replace('-', " ")) }),
    };
    let mut start = json!({
        "techniques": scope.techniques, "regions": scope.regions, "how": how, "patient_words": words,
        "said_by": { "role": "self" }
    });
    if let Some(side) = scope.side {
        start["side"] = json!(side);
    }
    if let Some(by) = &short.by {
        start["said_by"] = json!({ "role": "decision-maker", "person_id": by });
    }
    start
}

/// Seals without a question.
fn at_once(
    context: &mut Context<'_>,
    practice: &mut Practice,
    tag: &str,
    when: Happened,
    form: &Form,
    data: Value,
) -> Outcome<Receipt> {
    let entries = practice.chart(tag)?;
    let visit = open_visit(&entries);
    let what = Recording {
        form: form.clone(),
        kind: "withdrawal",
        draft: None,
        chart: Some(tag),
        happened: when,
        start: Value::Null,
    };
    let complete = |data: &mut Map<String, Value>, _: &Practice| {
        let mut refers = Vec::new();
        if let Some(visit) = visit {
            data.entry("visit").or_insert(json!(visit));
            refers.push((visit, RefWhy::Visit));
        }
        if let Some(first) = data.get("completes").and_then(Value::as_u64) {
            refers.push((first, RefWhy::AddsTo));
        }
        Ok(refers)
    };
    quietly(context, |context| seal(context, practice, what, data, complete))
}

/// A withdrawal that was sealed.
struct Sealed<'a> {
    tag: &'a str,
    chart_no: &'a str,
    when: Happened,
    data: &'a Value,
    seq: u64,
}

/// Asks, once the withdrawal is sealed, whether the rest is to be written now.
fn offer_rest(context: &mut Context<'_>, practice: &mut Practice, sealed: &Sealed<'_>) -> Outcome<()> {
    let Sealed { data, seq, .. } = sealed;
    let told = REST.iter().any(|field| data.pointer(field).is_some());
    if told {
        return Ok(());
    }
    let later = format!("inkfast withdraw {} --completes {seq}", sealed.chart_no);
    let question =
        format!("What was stopped, how the patient is, the next step: write it now? (Later: {later})");
    // Whoever walks away from this question has taken nothing back from what is sealed.
    let asked = context.asker.interactive() && !context.json();
    if !asked || !context.yes(&question, false).unwrap_or(false) {
        return Ok(());
    }
    let rest = answers(context, &withdraw_rest(), json!({}))?;
    if REST.iter().all(|field| rest.pointer(field).is_none()) {
        return Ok(());
    }
    let mut whole = (*data).clone();
    crate::cli::place::lay_over(&mut whole, rest);
    whole["completes"] = json!(seq);
    let form = form("withdraw")?.form;
    let receipt = at_once(context, practice, sealed.tag, sealed.when, &form, whole)?;
    done(context, "withdrawal", &receipt)?;
    Ok(())
}

/// Adds the rest to a withdrawal that was sealed before. Its scope and its moment are repeated.
fn completing(context: &mut Context<'_>, practice: &mut Practice) -> Outcome<Exit> {
    let number = context.text("completes").and_then(|n| n.trim().parse::<u64>().ok());
    let first =
        number.ok_or_else(|| Trouble::input("--completes takes the number of an entry.", "Correct it."))?;
    let words = typed(context);
    let face = match words.first() {
        Some(chart) => find(practice, chart)?,
        None => whose(context, practice, Grammar::Withdraw)?.open()?.clone(),
    };
    let entries = practice.chart(&face.tag)?;
    let target = entries.iter().find(|e| e.leaf.seq == first);
    let known = target.and_then(|e| Some((e.record.as_ref()?, e.data()?)));
    let Some((record, Data::Withdrawal(_))) = known else {
        return Err(Trouble::input(
            format!("Entry {first} is no withdrawal of this chart."),
            "Look the number up with `inkfast print CHART`.",
        ));
    };
    let mut data = record.data.clone();
    if let Value::Object(fields) = &mut data {
        for field in REST {
            fields.shift_remove(field.trim_start_matches('/'));
        }
        fields.insert("completes".into(), json!(first));
    }
    let when = match context.text("happened") {
        Some(_) => happened(context)?,
        None => record.happened,
    };
    let form = asking(&form("withdraw")?.form, true);
    let data = answers(context, &form, data)?;
    let receipt = at_once(context, practice, &face.tag, when, &form, data)?;
    done(context, "withdrawal", &receipt)
}

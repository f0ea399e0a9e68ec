//! Settling what a review remarks: answers given with flags, or asked one by one at a terminal. Where each
//! answer goes in the note is said by the table of items.

use super::answer::{AnswerKind, Given};
use super::clock::Now;
use super::commands::entries::form;
use super::context::Context;
use super::form::is_reason;
use super::place;
use super::table::{indented, shown, width};
use crate::record::review::sheet::fill_gaps;
use crate::record::review::{Level, Remark, ReviewId};
use crate::trouble::{Outcome, Trouble};
use clap::{Arg, ArgAction, Command};
use serde_json::{Value, json};

/// What stands where the layout wants an answer and the note was signed without it.
const KNOWN_MISSING: &str = "not recorded; known to be missing when signed";

/// Where the intensity of pain goes when no complaint is written: among the measures, as taken before.
const PAIN_BEFORE: &str = "/measures";
/// Pain from 0 to 10.
const PAIN: AnswerKind = AnswerKind::Whole { min: 0, max: 10 };

/// Adds the flags with which what is remarked is settled.
pub fn add_args(cmd: Command) -> Command {
    let pairs = |name: &'static str, help: &'static str| {
        Arg::new(name).long(name).value_name("ITEM=WORDS").action(ArgAction::Append).help(help)
    };
    cmd.arg(pairs("not-done", "Why an item of the list was not done; may be given several times"))
        .arg(pairs("answer", "The answer to a question of the list; may be given several times"))
        .arg(pairs(
            "custodians-reason",
            "Reason of the keeper of the records for signing in spite of a refusal; kept and marked",
        ))
        .arg(
            Arg::new("acknowledge-missing")
                .long("acknowledge-missing")
                .action(ArgAction::SetTrue)
                .help("Sign although items are missing: the note says for ever that they were known to be"),
        )
}

/// Lays the answers given with flags into the note, each beside the remark it is for.
///
/// # Errors
/// When a flag names nothing that is remarked, or says nothing.
pub fn by_flags(context: &Context<'_>, data: &mut Value, remarks: &[Remark]) -> Outcome<()> {
    for (flag, level) in
        [("not-done", Level::Missing), ("answer", Level::Ask), ("custodians-reason", Level::Refuse)]
    {
        for given in context.matches.get_many::<String>(flag).into_iter().flatten() {
            let (item, words) = split(flag, given)?;
            let fits = |r: &&Remark| {
                r.is_named(item)
                    && match level {
                        Level::Missing => r.level == level || r.id == ReviewId::GloveMissing,
                        Level::Refuse => r.level == level && r.id.custodian_may(),
                        _ => r.level == level,
                    }
            };
            let meant: Vec<&Remark> = remarks.iter().filter(fits).collect();
            // An answer to what is not asked today is no mistake; a word that names nothing is one.
            if meant.is_empty() && ReviewId::from_word(item.split(':').next().unwrap_or(item)).is_none() {
                return Err(nothing_of_that_name(flag, item, remarks));
            }
            for remark in meant {
                match level {
                    Level::Missing => not_done(data, remark, words),
                    _ => answered(data, remark, words),
                }
            }
        }
    }
    Ok(())
}

fn split<'t>(flag: &str, given: &'t str) -> Outcome<(&'t str, &'t str)> {
    let parts = given.split_once('=').map(|(item, words)| (item.trim(), words.trim().trim_matches('"')));
    parts.filter(|(item, words)| !item.is_empty() && !words.is_empty()).ok_or_else(|| {
        Trouble::input(
            format!("--{flag} takes an item of the list and words, like --{flag} ITEM=\"words\"."),
            "Look at the items with `inkfast missing CHART`, then do it again.",
        )
    })
}

fn nothing_of_that_name(flag: &str, item: &str, remarks: &[Remark]) -> Trouble {
    let known: Vec<&str> = remarks.iter().filter(|r| r.is_open()).map(|r| r.item.as_str()).collect();
    let open = if known.is_empty() { "nothing".to_string() } else { known.join(", ") };
    Trouble::input(
        format!("--{flag}: the list has no item \"{}\" for that. Open are: {open}.", shown(item)),
        "Name one of them, then do it again.",
    )
}

/// Keeps why an item was not done: in the place the layout has for it, or in the note's own list.
pub fn not_done(data: &mut Value, remark: &Remark, because: &str) {
    if let Some(path) = remark.id.absence().and_then(|path| resolve(data, path, remark)) {
        let parent = path.rsplit_once('/').map_or("", |(parent, _)| parent).to_string();
        let free = match place::get(data, &parent) {
            None | Some(Value::Null) => true,
            Some(_) if !path.ends_with("/not_done_because") => true,
            Some(Value::Object(map)) if map.is_empty() => true,
            Some(value) => is_reason(value),
        };
        if free && place::set(data, &path, json!(because)).is_ok() {
            return;
        }
    }
    keep(data, "not_done", json!({ "item": remark.item, "because": because }));
}

/// Keeps the answer to a question.
pub fn answered(data: &mut Value, remark: &Remark, answer: &str) {
    keep(data, "answered", json!({ "item": remark.item, "answer": answer }));
}

/// Puts a line into a list of the note in the place of an earlier one for the same item.
fn keep(data: &mut Value, list: &str, line: Value) {
    let Some(fields) = data.as_object_mut() else { return };
    let list = fields.entry(list).or_insert_with(|| json!([]));
    if let Some(lines) = list.as_array_mut() {
        lines.retain(|kept| kept["item"] != line["item"]);
        lines.push(line);
    }
}

/// Says that the items still missing are known to be, and fills the places the layout does not leave empty.
pub fn acknowledge(data: &mut Value, remarks: &[Remark]) {
    let missing = remarks.iter().filter(|r| r.level == Level::Missing && r.is_open());
    let items: Vec<Value> = missing.map(|r| json!(r.item)).collect();
    if !items.is_empty() {
        data["missing_acknowledged"] = Value::Array(items);
    }
    fill_gaps(data, KNOWN_MISSING);
}

/// A place in the note with the number of its line put in; none where there is no such line.
fn resolve(data: &Value, path: &str, remark: &Remark) -> Option<String> {
    let Some((list, rest)) = path.split_once("/#") else { return Some(path.to_string()) };
    let about = &remark.about;
    let no = about.procedure.or(about.complaint).or(about.finding)?;
    let lines = place::get(data, list)?.as_array()?;
    let index = lines
        .iter()
        .zip(1u64..)
        .position(|(line, n)| line.get("no").and_then(Value::as_u64).unwrap_or(n) == u64::from(no))?;
    Some(format!("{list}/{index}{rest}"))
}

/// What kind of answer goes to a place, from the forms that ask for it.
fn kind_at(path: &str) -> Option<AnswerKind> {
    let note = form("note").ok()?.form;
    let at =
        |form: &super::form::Form, path: &str| form.questions.iter().find(|q| q.path == path).map(|q| q.kind);
    if let Some(rest) = path.strip_prefix("/procedures/#") {
        return at(&form("procedure").ok()?.form, rest);
    }
    match path.split_once("/#") {
        None => at(&note, path),
        Some((list, rest)) => match at(&note, list)? {
            AnswerKind::Rows(spec) => spec.columns.iter().find(|c| c.path == rest).map(|c| c.kind),
            _ => None,
        },
    }
}

/// Asks one open remark at a terminal. True when something was answered.
///
/// # Errors
/// When input ends.
pub fn ask(context: &mut Context<'_>, data: &mut Value, remark: &Remark, custodian: bool) -> Outcome<bool> {
    let about = remark.about.words();
    let about = if about.is_empty() { about } else { format!(" [{about}]") };
    context.asker.say(&indented(&shown(&format!("{}{about}", remark.words)), width(), 0));
    context.asker.say(&indented(&remark.remedy, width(), 2));
    match remark.level {
        Level::Ask => ask_words(context, "  Answer, or Enter to leave it: ", |words| {
            answered(data, remark, words);
        }),
        Level::Refuse if remark.id.custodian_may() && custodian => {
            ask_words(context, "  Reason of the keeper of the records, or Enter to leave it: ", |words| {
                answered(data, remark, words);
            })
        }
        Level::Refuse if remark.id != ReviewId::GloveMissing => Ok(false),
        Level::Flag => Ok(false),
        Level::Missing | Level::Refuse => ask_value(context, data, remark),
    }
}

fn ask_words(context: &mut Context<'_>, prompt: &str, take: impl FnOnce(&str)) -> Outcome<bool> {
    let typed = line(context, prompt)?;
    let words = typed.trim();
    if !words.is_empty() {
        take(words);
    }
    Ok(!words.is_empty())
}

fn line(context: &mut Context<'_>, prompt: &str) -> Outcome<String> {
    context.asker.line(prompt).ok().flatten().ok_or_else(|| {
        Trouble::input(
            "Stopped before the list was gone through. What was typed is kept as a sealed draft.",
            "Run the command again to go on.",
        )
    })
}

/// Asks for a value, or for the reason why there is none: a dash and the reason.
fn ask_value(context: &mut Context<'_>, data: &mut Value, remark: &Remark) -> Outcome<bool> {
    let spot = match (remark.id, remark.about.complaint) {
        (ReviewId::PainIntensity, None) => Some((PAIN, PAIN_BEFORE.to_string())),
        _ => remark.id.place().and_then(|path| Some((kind_at(path)?, resolve(data, path, remark)?))),
    };
    let now = context.now();
    loop {
        let prompt = match &spot {
            Some(_) => "  Answer, or - and why it was not done, or Enter to leave it: ",
            None => "  Why was it not done? Enter to leave it: ",
        };
        let typed = line(context, prompt)?;
        let text = typed.trim();
        if text.is_empty() {
            return Ok(false);
        }
        let reason = text.strip_prefix('-').map(str::trim).filter(|_| spot.is_some());
        if text == "?" {
            let accepts = spot.as_ref().map_or_else(|| "words".to_string(), |(kind, _)| kind.accepts());
            context.asker.say(&format!("  Accepted: {accepts}"));
            continue;
        }
        match (reason, &spot) {
            (Some(""), _) => {
                return ask_words(context, "  Why was it not done? ", |why| not_done(data, remark, why));
            }
            (Some(why), _) => {
                not_done(data, remark, why);
                return Ok(true);
            }
            (None, None) => {
                not_done(data, remark, text);
                return Ok(true);
            }
            (None, Some((kind, path))) => match put(data, *kind, path, text, &now) {
                Ok(()) => return Ok(true),
                Err(why) => context.asker.say(&format!("  {}", shown(&why))),
            },
        }
    }
}

/// Puts a typed value in its place; one row joins those that are there.
fn put(data: &mut Value, kind: AnswerKind, path: &str, text: &str, now: &Now) -> Result<(), String> {
    let value = kind.read(text, now, Given::ByHand)?;
    if path == PAIN_BEFORE {
        let measured = json!({ "kind": "pain-now", "value": value, "unit": "of-10" });
        let mut all = place::get(data, path).and_then(Value::as_array).cloned().unwrap_or_default();
        all.push(json!({ "phase": "before", "measured": measured }));
        return place::set(data, path, Value::Array(all)).map_err(|why| why.to_string());
    }
    let value = match kind {
        AnswerKind::Rows(_) => {
            let mut rows = place::get(data, path).and_then(Value::as_array).cloned().unwrap_or_default();
            rows.push(value);
            Value::Array(rows)
        }
        _ => value,
    };
    // A reason why there is none gives way to the answer.
    let above: Vec<usize> = path.match_indices('/').map(|(at, _)| at).skip(1).collect();
    for at in above {
        if place::get(data, &path[..at]).is_some_and(is_reason) {
            place::take(data, &path[..at]);
        }
    }
    place::set(data, path, value).map_err(|why| why.to_string())
}

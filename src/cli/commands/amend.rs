//! `amend`: a patient asks that the record be changed. The request, the decision on each point, a
//! disagreement and the answer to it are papers of their own; what is accepted is changed by corrections, and
//! all of it stays linked (45 CFR 164.526).

use super::CliCommand;
use super::entries::form;
use super::visit::chart_arg;
use crate::cli::app::needs_word;
use crate::cli::context::Context;
use crate::cli::data::add_data_arg;
use crate::cli::exit::Exit;
use crate::cli::record::{Recording, add_happened_args, done, happened, record};
use crate::ledger::write::Receipt;
use crate::practice::amendment::{Matter, due, matter};
use crate::practice::chart::find;
use crate::practice::open::{Entry, Practice};
use crate::record::envelope::RefWhy;
use crate::record::kinds::Data;
use crate::record::moment::{Date, parse_date, plain_date};
use crate::trouble::{Kind, Outcome, Trouble};
use clap::Command;
use serde_json::{Map, Value, json};

/// The command.
pub const COMMAND: CliCommand = CliCommand { word: "amend", build: command, run };

/// A sub-word: its form, what it is for, and what the command works out itself.
struct Part {
    word: &'static str,
    form: &'static str,
    about: &'static str,
    complete: Complete,
}

/// Checks the answers against the chart, puts in what is worked out, and says which entries it refers to.
type Complete = fn(&mut Map<String, Value>, &Practice, &[Entry]) -> Outcome<Vec<(u64, RefWhy)>>;

const PARTS: [Part; 5] = [
    Part {
        word: "take",
        form: "amend-take",
        about: "A request came in: its points, and by when it is to be answered",
        complete: take,
    },
    Part {
        word: "extend",
        form: "amend-extend",
        about: "More time is taken, once, by a letter inside the first time",
        complete: extend,
    },
    Part {
        word: "decide",
        form: "amend-decide",
        about: "The decision on each point, and what the letter says",
        complete: decide,
    },
    Part {
        word: "disagree",
        form: "amend-disagree",
        about: "The patient's statement of disagreement with a refusal",
        complete: disagree,
    },
    Part {
        word: "rebut",
        form: "amend-rebut",
        about: "The practice's answer to a statement of disagreement",
        complete: rebut,
    },
];

/// Options of `amend`.
fn command() -> Command {
    let about = "A patient asks that the record be changed: the request and its papers";
    PARTS.iter().fold(Command::new("amend").about(about), |cmd, part| {
        let one = add_data_arg(add_happened_args(chart_arg(Command::new(part.word).about(part.about))));
        cmd.subcommand(form(part.form).map(|asks| asks.form.clap_args(one.clone())).unwrap_or(one))
    })
}

/// Runs the sub-word.
fn run(context: &mut Context<'_>) -> Outcome<Exit> {
    let words = PARTS.map(|part| part.word).join(", ");
    let Some((word, matches)) = context.matches.subcommand() else { return needs_word(&words) };
    let Some(part) = PARTS.iter().find(|part| part.word == word) else { return needs_word(&words) };
    one(&mut context.under(matches), part)
}

fn one(context: &mut Context<'_>, part: &Part) -> Outcome<Exit> {
    let when = happened(context)?;
    let mut practice = context.writing()?;
    let face = find(&practice, &context.text("chart").unwrap_or_default())?;
    let entries = practice.chart(&face.tag)?;
    let asks = form(part.form)?;
    let kind = asks.kind;
    let recording = Recording::of(asks, Some(&face.tag), when);
    let complete = part.complete;
    let receipt =
        record(context, &mut practice, recording, |data, practice| complete(data, practice, &entries))?;
    let sealed = practice.chart(&face.tag)?;
    if let Some(words) = remark(&practice, &sealed, &receipt)? {
        context.asker.say(&words);
    }
    done(context, kind, &receipt)
}

fn refused(what: impl Into<String>, next: impl Into<String>) -> Trouble {
    Trouble::new(Kind::Refused, what, "Nothing was recorded.", next)
}

fn number(data: &Map<String, Value>, field: &str) -> u64 {
    data.get(field).and_then(Value::as_u64).unwrap_or_default()
}

fn day(data: &Map<String, Value>, field: &str) -> Outcome<Date> {
    let text = data.get(field).and_then(Value::as_str);
    text.and_then(parse_date).ok_or_else(|| {
        Trouble::input(
            format!("The day in {} can't be read.", field.replace('_', " ")),
            "Write it like 2025-03-11.",
        )
    })
}

/// Every entry a paper names is in this chart.
fn known(entries: &[Entry], numbers: &Value) -> Outcome<()> {
    for seq in numbers.as_array().into_iter().flatten().filter_map(Value::as_u64) {
        super::correct::target(entries, seq)?;
    }
    Ok(())
}

fn points(data: &mut Map<String, Value>) -> &mut [Value] {
    data.get_mut("points").and_then(Value::as_array_mut).map_or(&mut [], Vec::as_mut_slice)
}

fn take(
    data: &mut Map<String, Value>,
    practice: &Practice,
    entries: &[Entry],
) -> Outcome<Vec<(u64, RefWhy)>> {
    for (index, point) in points(data).iter_mut().enumerate() {
        if let Value::Object(fields) = point {
            fields.entry("no").or_insert(json!(index + 1));
        }
        known(entries, &point["entries"])?;
    }
    let reckoned = due(practice, day(data, "received_on")?)?;
    data.insert("due".into(), json!(reckoned.on.to_string()));
    data.insert("clock".into(), json!(reckoned.clock));
    let disputed: Vec<u64> = points(data)
        .iter()
        .flat_map(|point| point["entries"].as_array().into_iter().flatten().filter_map(Value::as_u64))
        .collect();
    Ok(disputed.into_iter().map(|seq| (seq, RefWhy::SeeAlso)).collect())
}

/// One extension, by a letter dated inside the first time, to a day the clock allows: 45 CFR
/// 164.526(b)(2)(ii).
fn extend(
    data: &mut Map<String, Value>,
    practice: &Practice,
    entries: &[Entry],
) -> Outcome<Vec<(u64, RefWhy)>> {
    let matter = matter(entries, number(data, "request"))?;
    undecided(&matter)?;
    if let Some(seq) = matter.extended_by {
        return Err(refused(
            format!("This request was extended before (no. {seq}); it can be extended once."),
            format!("Decide it by {}.", plain_date(matter.due)),
        ));
    }
    if day(data, "letter_dated")? > matter.due {
        return Err(refused(
            format!(
                "The letter is dated after the answer was due ({}): the extension is void.",
                plain_date(matter.due)
            ),
            "Decide the request now.",
        ));
    }
    let latest = due(practice, matter.request.received_on.0)?.extended;
    match latest {
        Some(latest) if day(data, "new_due")? <= latest => {}
        Some(latest) => {
            return Err(refused(
                "That is later than the rules allow.",
                format!("The latest day is {}.", plain_date(latest)),
            ));
        }
        None => return Err(refused("The rules allow no extension here.", "Decide the request in time.")),
    }
    data.insert("step".into(), json!("extended"));
    Ok(vec![(matter.seq, RefWhy::Answers)])
}

fn undecided(matter: &Matter) -> Outcome<()> {
    match &matter.decision {
        None => Ok(()),
        Some((seq, _)) => Err(refused(
            format!("This request is decided already (no. {seq})."),
            "A slip in the decision is corrected with `inkfast correct`.",
        )),
    }
}

fn decide(
    data: &mut Map<String, Value>,
    _practice: &Practice,
    entries: &[Entry],
) -> Outcome<Vec<(u64, RefWhy)>> {
    let matter = matter(entries, number(data, "request"))?;
    undecided(&matter)?;
    every_point_once(&matter, points(data))?;
    let mut made: Vec<u64> = Vec::new();
    let single = matter.request.points.len() == 1;
    for point in points(data) {
        made.extend(decide_point(point, &matter, entries, single)?);
    }
    let refuses = points(data).iter().any(|point| point["decision"] != json!("accepted"));
    if refuses {
        letter_is_complete(&data["letter"])?;
    }
    let mut refers = vec![(matter.seq, RefWhy::Answers)];
    refers.extend(made.into_iter().map(|seq| (seq, RefWhy::SeeAlso)));
    Ok(refers)
}

fn every_point_once(matter: &Matter, points: &[Value]) -> Outcome<()> {
    let mut decided: Vec<u64> = points.iter().filter_map(|point| point["no"].as_u64()).collect();
    decided.sort_unstable();
    let mut asked: Vec<u64> = matter.request.points.iter().map(|point| u64::from(point.no)).collect();
    asked.sort_unstable();
    if decided == asked {
        return Ok(());
    }
    let list = |numbers: &[u64]| numbers.iter().map(u64::to_string).collect::<Vec<_>>().join(", ");
    Err(Trouble::input(
        format!("The request has the points {}; decided are {}.", list(&asked), list(&decided)),
        "Decide each point once.",
    ))
}

/// What a decision on a point needs: a ground for what is refused, and for what is accepted the corrections
/// that were made, for a change is linked to what it changes (164.526(c)(1)).
fn decide_point(point: &mut Value, matter: &Matter, entries: &[Entry], single: bool) -> Outcome<Vec<u64>> {
    let no = point["no"].as_u64().unwrap_or_default();
    let accepts = point["decision"] != json!("refused");
    if accepts && point["corrections"].as_array().is_none_or(Vec::is_empty) && single {
        point["corrections"] = json!(matter.corrections);
    }
    known(entries, &point["corrections"])?;
    known(entries, &point["evidence"])?;
    let numbers = point["corrections"].as_array().into_iter().flatten().filter_map(Value::as_u64);
    let made: Vec<u64> = numbers.collect();
    let is_change = |seq: &u64| {
        let entry = entries.iter().find(|entry| entry.leaf.seq == *seq);
        entry.is_some_and(|entry| matches!(entry.data(), Some(Data::Correction(_) | Data::Addendum(_))))
    };
    if let Some(seq) = made.iter().find(|seq| !is_change(seq)) {
        return Err(Trouble::input(
            format!("Entry {seq} is neither a correction nor an addendum."),
            "Name the corrections that carry out what is accepted.",
        ));
    }
    if accepts && made.is_empty() {
        return Err(refused(
            format!("Point {no} is accepted, but no correction carries it out."),
            format!("Make it with `inkfast correct CHART ENTRY --amendment {}`, then decide.", matter.seq),
        ));
    }
    if point["decision"] != json!("accepted") && point["ground"].is_null() {
        return Err(Trouble::input(
            format!("Point {no} is refused without a ground."),
            "One of: not-made-here, not-in-record-set, not-open-to-access, accurate-and-complete.",
        ));
    }
    if let Value::Object(fields) = point {
        fields.retain(|_, value| {
            !matches!(value, Value::Null) && !matches!(value, Value::Array(list) if list.is_empty())
        });
    }
    Ok(made)
}

/// The letter of a refusal states four things: 45 CFR 164.526(d)(1)(i) to (iv).
fn letter_is_complete(letter: &Value) -> Outcome<()> {
    let contact = letter["complaint_contact"].as_str().is_some_and(|text| !text.trim().is_empty());
    let needed = [
        (letter["says_ground"] == json!(true), "the ground, in plain words (d)(1)(i)"),
        (
            letter["says_right_to_disagree"] == json!(true),
            "the right to disagree in writing, and how (d)(1)(ii)",
        ),
        (
            letter["says_right_to_travel"] == json!(true),
            "the right to have request and refusal go along with the record (d)(1)(iii)",
        ),
        (letter["says_complaint_route"] == json!(true), "where to complain (d)(1)(iv)"),
        (contact, "the contact for a complaint: name or title, and telephone (d)(1)(iv)"),
    ];
    let missing: Vec<String> =
        needed.iter().filter(|(there, _)| !there).map(|(_, what)| format!("- {what}")).collect();
    match missing.is_empty() {
        true => Ok(()),
        false => Err(refused(
            format!("The letter of a refusal is not complete. It must state:\n{}", missing.join("\n")),
            "Write and send the letter anew, then record the decision (45 CFR 164.526(d)(1)).",
        )),
    }
}

fn disagree(
    data: &mut Map<String, Value>,
    _practice: &Practice,
    entries: &[Entry],
) -> Outcome<Vec<(u64, RefWhy)>> {
    let matter = matter(entries, number(data, "request"))?;
    match &matter.decision {
        Some((decision, _)) if matter.refuses() => {
            Ok(vec![(matter.seq, RefWhy::SeeAlso), (*decision, RefWhy::Answers)])
        }
        Some(_) => Err(refused(
            "Nothing was refused, so there is nothing to disagree with.",
            "If more is asked now, take a new request with `inkfast amend take`.",
        )),
        None => Err(refused("This request is not decided yet.", "Decide it with `inkfast amend decide`.")),
    }
}

fn rebut(
    data: &mut Map<String, Value>,
    _practice: &Practice,
    entries: &[Entry],
) -> Outcome<Vec<(u64, RefWhy)>> {
    let seq = number(data, "disagreement");
    match super::correct::target(entries, seq)?.data() {
        Some(Data::Disagreement(stated)) => {
            Ok(vec![(seq, RefWhy::Answers), (stated.request, RefWhy::SeeAlso)])
        }
        _ => Err(Trouble::input(
            format!("Entry {seq} is no statement of disagreement."),
            "Look its number up with `inkfast print`.",
        )),
    }
}

/// What is to be known after a paper is sealed: the day the answer is due, or that it came late.
fn remark(practice: &Practice, entries: &[Entry], receipt: &Receipt) -> Outcome<Option<String>> {
    let sealed = entries.iter().find(|entry| entry.leaf.seq == receipt.seq);
    Ok(match sealed.and_then(Entry::data) {
        Some(Data::AmendmentRequest(request)) => {
            let reckoned = due(practice, request.received_on.0)?;
            let latest =
                reckoned.extended.map(|day| format!("; extended once, {} at the latest", plain_date(day)));
            Some(format!(
                "To be answered by {}{}. Reckoned by {}.",
                plain_date(reckoned.on),
                latest.unwrap_or_default(),
                reckoned.clock
            ))
        }
        Some(Data::AmendmentDecision(decision)) => {
            let matter = matter(entries, decision.request)?;
            let late = decision.letter.dated.0 > matter.due;
            late.then(|| {
                format!("The letter is dated after the answer was due ({}).", plain_date(matter.due))
            })
        }
        _ => None,
    })
}

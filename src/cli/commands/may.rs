//! `may`: may I do this, here, on this side, for this patient, now?

use super::reason::{add_why_args, record_look};
use crate::cli::context::{Context, add_who_args};
use crate::cli::exit::Exit;
use crate::practice::chart::find;
use crate::practice::facts::{Ask, ask_entries, keep};
use crate::record::coverage::facts::{Facts, Request, RequestedSide};
use crate::record::coverage::{Answer, Verdict, answer, plain};
use crate::record::moment::Moment;
use crate::record::vocab::{Glove, Region, Segment, Technique};
use crate::trouble::{Outcome, Trouble};
use clap::{Arg, ArgAction, Command};
use std::io::Read;
use std::path::PathBuf;

/// Options of `may`.
pub fn command() -> Command {
    let option = |name: &'static str, value: &'static str, help: &'static str| {
        Arg::new(name).long(name).value_name(value).help(help)
    };
    add_why_args(add_who_args(
        Command::new("may")
            .about("Ask whether a technique is covered: here, on this side, for this patient, now"),
    ))
    .arg(Arg::new("chart").value_name("CHART").help("Chart number"))
    .arg(
        Arg::new("facts")
            .long("facts")
            .value_name("FILE")
            .value_parser(clap::value_parser!(PathBuf))
            .conflicts_with("chart")
            .help("Answer for a facts document instead of a chart (- reads standard input)"),
    )
    .arg(option("technique", "WORD", "What is to be done").value_parser(Technique::WORDS.to_vec()))
    .arg(option("region", "WORD", "Where").value_parser(Region::WORDS.to_vec()))
    .arg(option("side", "SIDE", "left, right, both or midline").value_parser([
        "left",
        "right",
        "both",
        "midline",
        "not-stated",
    ]))
    .arg(
        option("segment", "SEGMENT", "Segment, for example C5-C6; may be repeated")
            .action(ArgAction::Append)
            .value_parser(Segment::WORDS.to_vec()),
    )
    .arg(option("by", "CODE", "Who will do it [default: who is here]"))
    .arg(option("glove", "MATERIAL", "Glove material").value_parser(Glove::WORDS.to_vec()))
    .arg(option("position", "WORD", "Position of the patient, for example face-down"))
    .arg(option("product", "WORD", "Lotion, tape or the like; may be repeated").action(ArgAction::Append))
    .arg(option("at", "MOMENT", "The moment asked about [default: now]"))
    .arg(
        Arg::new("keep")
            .long("keep")
            .action(ArgAction::SetTrue)
            .help("Keep the answer as an entry in the chart"),
    )
    .after_help("Exit codes: 0 yes, 1 no, 3 ask first. Other codes: it could not be answered.")
}

/// Answers.
pub fn run(context: &mut Context<'_>) -> Outcome<Exit> {
    let (facts, answered) = match context.path("facts") {
        Some(path) => from_document(&path)?,
        None => from_chart(context)?,
    };
    if context.json() {
        context.say_json(&answered)?;
    } else {
        context.say(&plain(&answered, &facts))?;
    }
    Ok(match answered.answer {
        Verdict::Yes => Exit::Done,
        Verdict::AskFirst => Exit::AskFirst,
        Verdict::No => Exit::Wrong,
    })
}

fn from_document(path: &PathBuf) -> Outcome<(Facts, Answer)> {
    let mut text = String::new();
    let read = if path.as_os_str() == "-" {
        std::io::stdin().read_to_string(&mut text).map(|_| ())
    } else {
        std::fs::read_to_string(path).map(|t| text = t)
    };
    read.map_err(|e| Trouble::disk("read", path, &e))?;
    let facts = Facts::from_json(&text).map_err(|e| {
        Trouble::input(format!("The facts document can't be used at {}: {}", e.path, e.what), e.cure)
    })?;
    let answered = answer(&facts);
    Ok((facts, answered))
}

fn from_chart(context: &mut Context<'_>) -> Outcome<(Facts, Answer)> {
    let Some(chart) = context.text("chart") else {
        return Err(Trouble::input("Which chart is asked about?", "Give the chart number, or --facts FILE."));
    };
    let now = context.now();
    let at = match context.text("at") {
        Some(text) => now
            .read_moment(&text)
            .map_err(|why| Trouble::input(format!("--at: {why}"), "Correct it and ask again."))?,
        None => now.at,
    };
    let technique =
        choose(context, "technique", "What is to be done?", Technique::WORDS, Technique::from_word)?;
    let region = choose(context, "region", "Where?", Region::WORDS, Region::from_word)?;
    let side_words = ["left", "right", "both", "midline", "not-stated"];
    let side = choose(context, "side", "Which side?", &side_words, read_side)?;
    let segments = words(context, "segment").iter().filter_map(|w| Segment::from_word(w)).collect();
    let glove = context.text("glove").and_then(|w| Glove::from_word(&w));
    let products = words(context, "product");
    let (by, position) = (context.text("by"), context.text("position"));
    let mut practice = context.practice()?;
    let face = find(&practice, &chart)?;
    let request = Request {
        technique,
        region,
        side,
        segments,
        practitioner_id: by.unwrap_or_else(|| practice.session.me.code.clone()),
        glove_material: glove,
        position,
        products,
        sequence_no: None,
    };
    let question = Ask { request, now: at, reads_at: reads_at(&practice.now(), at) };
    let entries = practice.chart(&face.tag)?;
    let (facts, answered) = ask_entries(&practice, &entries, &question)?;
    // The answer tells what is in the chart, so asking is a reading like any other.
    record_look(context, &mut practice, &face, &entries)?;
    if context.flag("keep") {
        keep(&mut practice, &face.tag, &facts, &answered)?;
        context.remarks(&mut practice);
    }
    Ok((facts, answered))
}

/// What the clock says when the question is put; never before the moment asked about.
fn reads_at(now: &Moment, at: Moment) -> Moment {
    if *now < at { at } else { *now }
}

fn read_side(word: &str) -> Option<RequestedSide> {
    serde_json::from_value(serde_json::Value::String(word.to_string())).ok()
}

fn words(context: &Context<'_>, name: &str) -> Vec<String> {
    context.matches.get_many::<String>(name).into_iter().flatten().cloned().collect()
}

/// The option, or the answer of the person at the terminal.
fn choose<T>(
    context: &mut Context<'_>,
    name: &'static str,
    question: &str,
    choices: &[&str],
    read: impl Fn(&str) -> Option<T>,
) -> Outcome<T> {
    if let Some(value) = context.text(name).and_then(|w| read(&w)) {
        return Ok(value);
    }
    let missing = || {
        Trouble::input(format!("--{name} is missing: {question}"), format!("One of: {}.", choices.join(", ")))
    };
    if !context.asker.interactive() {
        return Err(missing());
    }
    context.asker.say(&format!("{question} One of: {}", choices.join(", ")));
    loop {
        let typed = context.asker.line("> ").ok().flatten().ok_or_else(missing)?;
        let typed = typed.trim().to_ascii_lowercase();
        let fitting: Vec<&&str> = choices.iter().filter(|c| c.starts_with(&typed)).collect();
        let word = choices.iter().find(|c| **c == typed).or(match fitting.as_slice() {
            [one] if !typed.is_empty() => Some(*one),
            _ => None,
        });
        match word.and_then(|w| read(w)) {
            Some(value) => return Ok(value),
            None => context.asker.say("That is none of them, or more than one begins so."),
        }
    }
}

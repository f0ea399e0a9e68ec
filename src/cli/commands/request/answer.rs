//! `request answer`, and what `release --request` shares with it: nothing goes out before everything that
//! stands against it is settled, and what went out is written down with the digest of the file.

use super::number;
use super::steps::{refused, say, step};
use crate::cli::commands::entries::form;
use crate::cli::commands::release;
use crate::cli::context::Context;
use crate::cli::exit::Exit;
use crate::practice::open::Practice;
use crate::practice::release::Released;
use crate::practice::request::{Dealing, dealing};
use crate::record::kinds::release::Step;
use crate::record::request::gate::{Stop, Stops};
use crate::trouble::{Outcome, Trouble};
use clap::{Arg, Command};

/// What a release that answers a request may do.
pub enum Gate {
    /// It goes out, with what is outside the request held back.
    Open(Box<Dealing>),
    /// Something is to be asked first; it has been said.
    AskFirst,
}

/// Options of `request answer`: those of `release`, or in words what was given without a package.
pub fn command() -> Command {
    let about = "Answer it: a package to whoever may receive it, or in words what was given or shown";
    let cmd =
        release::options(super::number_arg(Command::new("answer").about(about)), &["request", "despite"]);
    let asks = form("request-answer").map(|asks| asks.form.questions).unwrap_or_default();
    asks.iter().fold(cmd, |cmd, asked| {
        let help = format!("{} {}", asked.ask, asked.help);
        cmd.arg(Arg::new(asked.flag).long(asked.flag).value_name("WORDS").help(help))
    })
}

/// Answers.
pub fn run(context: &mut Context<'_>) -> Outcome<Exit> {
    if context.text("answered-with").is_some() {
        return in_words(context);
    }
    let seq = number(context);
    let practice = context.practice()?;
    let before = dealing(&practice, seq)?;
    // Looked at before anything is typed, and once more before it goes out.
    if let Some(questions) = open(&practice, &before, context.text("despite").as_deref())? {
        return say_first(context, &questions).map(|()| Exit::AskFirst);
    }
    let (chart, start) = (before.face.chart_no.clone(), before.release_start());
    drop(practice);
    release::release_chart(context, &chart, start)
}

/// It was answered without a package: looked at here, pages handed over, an account of disclosures.
fn in_words(context: &mut Context<'_>) -> Outcome<Exit> {
    let despite = context.text("despite");
    let mut ask_first = None;
    let recorded = step(context, "request-answer", |_, practice, dealing| {
        match open(practice, dealing, despite.as_deref())? {
            Some(questions) => {
                ask_first = Some(questions);
                Err(Trouble::input("To be asked first.", "Give --despite WORDS."))
            }
            None => Ok(Step::Answered),
        }
    });
    if let Some(questions) = ask_first {
        return say_first(context, &questions).map(|()| Exit::AskFirst);
    }
    let (practice, after, receipt) = recorded?;
    say(context, &practice, &after, &receipt, None)
}

/// Refuses where something refuses; gives what is to be asked first, unless somebody says why not.
fn open(practice: &Practice, dealing: &Dealing, despite: Option<&str>) -> Outcome<Option<Vec<Stop>>> {
    let stops = dealing.stops(practice, practice.now())?;
    let hard: Vec<&Stop> = stops.iter().filter(|stop| stop.stops == Stops::Refuse).collect();
    if !hard.is_empty() {
        let what: Vec<String> = hard.iter().map(|stop| format!("\n- {}: {}", stop.id, stop.words)).collect();
        let next: Vec<&str> = hard.iter().map(|stop| stop.next.as_str()).collect();
        return Err(refused(format!("Nothing goes out:{}", what.concat()), next.join("\n        ")));
    }
    let said = despite.is_some_and(|why| !why.trim().is_empty());
    Ok((!stops.is_empty() && !said).then_some(stops))
}

fn say_first(context: &mut Context<'_>, stops: &[Stop]) -> Outcome<()> {
    if context.json() {
        return context.say_json(&stops);
    }
    for line in super::show::stop_lines(stops) {
        context.say(&line)?;
    }
    context.say("Nothing was recorded or sent.")
}

/// Before a release that names a request: whether it may go out. What is outside the request is to be held
/// back by the release ([`Dealing::outside`]).
pub fn before_release(context: &mut Context<'_>, practice: &Practice, seq: u64, tag: &str) -> Outcome<Gate> {
    let before = dealing(practice, seq)?;
    if before.face.tag != tag {
        return Err(refused(
            format!("Request {seq} belongs to another chart."),
            "Look the number up with `inkfast request list`.",
        ));
    }
    let despite = context.text("despite");
    match open(practice, &before, despite.as_deref())? {
        Some(questions) => say_first(context, &questions).map(|()| Gate::AskFirst),
        None => Ok(Gate::Open(Box::new(before))),
    }
}

/// After it: the step that says what went out.
pub fn after_release(
    context: &mut Context<'_>,
    practice: &mut Practice,
    dealing: &Dealing,
    released: &Released,
) -> Outcome<()> {
    let receipt = dealing.answered(practice, released, context.text("despite"))?;
    if !context.json() {
        context.asker.say(&format!("Request {} is answered (entry {}).", dealing.standing.seq, receipt.seq));
    }
    Ok(())
}

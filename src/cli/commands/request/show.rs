//! `request list` and `request show`: what is asked for, by when, and how each stands.

use super::output::{listed, whole};
use super::{add_letter_args, add_letter_kind, give_letter, number, number_arg};
use crate::cli::context::{Context, add_who_args};
use crate::cli::exit::Exit;
use crate::cli::table::{Table, indented, shown, width};
use crate::practice::lists::{days_off, due_words};
use crate::practice::request::{Dealing, dealing};
use crate::practice::request_letters::newest;
use crate::practice::request_lists::all;
use crate::record::calendar::{Holidays, with_weekday};
use crate::record::kinds::Day;
use crate::record::kinds::release::RequestStep;
use crate::record::moment::plain_date;
use crate::record::request::clocks;
use crate::record::request::gate::{Stop, Stops};
use crate::record::request::letter::LetterKind;
use crate::record::request::standing::State;
use crate::trouble::{Outcome, Trouble};
use clap::{Arg, ArgAction, Command};

/// Options of `request list`.
pub fn list_command() -> Command {
    add_who_args(Command::new("list").about("Requests for records, with the day each answer is due"))
        .arg(Arg::new("chart").value_name("CHART").help("Only those of this chart"))
        .arg(Arg::new("all").long("all").action(ArgAction::SetTrue).help("Those that are over, too"))
}

/// Options of `request show`.
pub fn command() -> Command {
    let cmd =
        Command::new("show").about("A request with its steps, its clocks, and what stands against answering");
    add_letter_kind(add_letter_args(number_arg(cmd)))
}

/// Lists.
pub fn list(context: &mut Context<'_>) -> Outcome<Exit> {
    let practice = context.practice()?;
    let chart = context.text("chart").map(|number| number.trim().to_string());
    let every = context.flag("all");
    let mut found = all(&practice)?;
    found.retain(|one| {
        chart.as_ref().is_none_or(|number| one.chart_no.eq_ignore_ascii_case(number))
            && (every || matches!(one.standing.state(), State::Open | State::Returned))
    });
    found.sort_by_key(|one| (one.standing.due().is_none(), one.standing.due(), one.standing.seq));
    let (today, off) = (Day(practice.now().local_date()), days_off(&practice));
    if context.json() {
        let rows: Vec<_> = found.iter().map(|one| listed(one, today)).collect();
        context.say_json(&rows)?;
        return Ok(Exit::Done);
    }
    if found.is_empty() {
        context.say("No request is open.")?;
        return Ok(Exit::Done);
    }
    let mut table = Table::new(["Due", "No.", "Chart", "Name", "Who asks", "What", "Stands"]);
    for one in &found {
        let standing = &one.standing;
        let state = standing.state();
        let due = match standing.due() {
            None => "no day set".to_string(),
            Some(due) if state == State::Open && due < today => format!("OVERDUE {}", with_weekday(due.0)),
            Some(due) => due_words(due.0, &off),
        };
        table.row([
            due,
            standing.seq.to_string(),
            shown(&one.chart_no),
            shown(&one.name),
            shown(&format!("{} ({})", standing.request.from, standing.asker().word())),
            shown(&format!("{}: {}", standing.request.kind.word(), standing.request.asked().words())),
            state.word().to_string(),
        ]);
    }
    context.say(&table.render(width()))?;
    Ok(Exit::Done)
}

/// Shows one, or its letter.
pub fn run(context: &mut Context<'_>) -> Outcome<Exit> {
    let practice = context.practice()?;
    let seq = number(context);
    if let Some(word) = context.text("letter-kind") {
        let kind = match word.as_str() {
            "newest" => None,
            word => Some(LetterKind::from_word(word).ok_or_else(|| {
                Trouble::input(
                    "There is no letter of that name.",
                    format!("One of: newest, {}.", LetterKind::WORDS.join(", ")),
                )
            })?),
        };
        let letter = newest(&practice, seq, kind)?;
        if context.json() {
            context.say_json(&letter)?;
        }
        give_letter(context, &letter)?;
        return Ok(Exit::Done);
    }
    let dealing = dealing(&practice, seq)?;
    let stops = dealing.stops(&practice, practice.now())?;
    if context.json() {
        context.say_json(&whole(&dealing, stops))?;
        return Ok(Exit::Done);
    }
    for line in words(&dealing, &stops, &days_off(&practice)) {
        context.say(&line)?;
    }
    Ok(Exit::Done)
}

fn words(dealing: &Dealing, stops: &[Stop], off: &Holidays) -> Vec<String> {
    let standing = &dealing.standing;
    let request = &standing.request;
    let mut lines = vec![
        format!(
            "Request {}, chart {}: {} asked for by {} ({})",
            standing.seq,
            shown(&dealing.face.chart_no),
            request.kind.word(),
            shown(&request.from),
            standing.asker().plain()
        ),
        format!("  Received {}; stands: {}", with_weekday(request.received_on.0), standing.state()),
        format!("  Asked: {}", shown(&request.asked().words())),
        format!("  In words: {}", shown(&request.text)),
    ];
    match standing.due() {
        Some(due) => lines.push(format!("  Answer due: {}", due_words(due.0, off))),
        None => lines.push("  Answer due: no day set".to_string()),
    }
    lines.extend(request.clocks.iter().map(|clock| indented(&clocks::words(clock), width(), 4)));
    lines.push(format!("  Rests on: {}", standing.asker().lawful_basis()));
    if let Some(served) = &request.served {
        lines.push(format!("  Served: {}", shown(served)));
    }
    if let Some((seq, named)) = standing.named() {
        lines.push(format!("  The paper (entry {seq}) names: {}", shown(&named.words())));
    }
    lines.extend(standing.steps.iter().map(|(seq, step)| indented(&step_words(*seq, step), width(), 2)));
    if standing.state() == State::Open {
        lines.extend(stop_lines(stops));
        if stops.is_empty() {
            lines.push(format!("Nothing stands against answering: inkfast request answer {}", standing.seq));
        }
    }
    lines
}

fn step_words(seq: u64, step: &RequestStep) -> String {
    let mut text = format!("{} no. {seq} {}: {}", plain_date(step.on.0), step.step, shown(&step.words));
    if let Some(holds) = step.holds {
        text.push_str(if holds { " [holds]" } else { " [DOES NOT HOLD]" });
    }
    if !step.void_because.is_empty() {
        text.push_str(&format!(" [VOID: {}; the day due stays]", step.void_because.join(", ")));
    }
    if let Some(due) = step.new_due {
        text.push_str(&format!("; now due {}", with_weekday(due.0)));
    }
    if let Some(fee) = &step.fee {
        text.push_str(&format!("; fee {}", shown(&fee.worked_out)));
    }
    if let (Some(release), Some(digest)) = (step.release, &step.digest) {
        text.push_str(&format!("; release no. {release}, BLAKE3 {digest}"));
    }
    if let Some(why) = &step.despite {
        text.push_str(&format!("; although asked first, because: {}", shown(why)));
    }
    text
}

/// What stands against answering, one line each with what to do.
pub fn stop_lines(stops: &[Stop]) -> Vec<String> {
    let mut lines = Vec::new();
    for (hard, heading) in
        [(Stops::Refuse, "Nothing goes out before this is settled:"), (Stops::Ask, "To be asked first:")]
    {
        let mine: Vec<&Stop> = stops.iter().filter(|stop| stop.stops == hard).collect();
        if !mine.is_empty() {
            lines.push(heading.to_string());
        }
        for stop in mine {
            lines.push(format!("  {}: {}", stop.id, shown_lines(&stop.words)));
            lines.push(format!("      {}", stop.next));
        }
    }
    lines
}

/// Each line made safe by itself, so that lists stay lists.
fn shown_lines(text: &str) -> String {
    text.lines().map(shown).collect::<Vec<_>>().join("\n  ")
}

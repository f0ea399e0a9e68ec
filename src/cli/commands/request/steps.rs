//! The steps of a request that record something and may write a letter: more time, a fee, an authorization
//! sent back, a refusal, and the end.

use super::output::StepOutput;
use super::{give_letter, number};
use crate::cli::commands::entries::form;
use crate::cli::context::Context;
use crate::cli::exit::Exit;
use crate::cli::record::{Recording, happened, record};
use crate::ledger::write::Receipt;
use crate::practice::open::{Entry, Practice};
use crate::practice::request::{Dealing, dealing};
use crate::practice::request_letters::of_step;
use crate::record::envelope::RefWhy;
use crate::record::kinds::Day;
use crate::record::kinds::release::{RequestStep, Step};
use crate::record::moment::{parse_date, plain_date};
use crate::record::reckon::deadlines::ExtensionNotice;
use crate::record::reckon::fees::Method;
use crate::record::request::clocks;
use crate::record::request::fee::{Parts, cents, work_out};
use crate::record::request::standing::State;
use crate::trouble::{Kind, Outcome, Trouble};
use serde_json::{Map, Value, json};

/// A rule that refuses a step.
pub fn refused(what: impl Into<String>, next: impl Into<String>) -> Trouble {
    Trouble::new(Kind::Refused, what, "Nothing was recorded.", next)
}

/// The entry with this number is a paper of this chart.
pub fn attachment(entries: &[Entry], seq: u64) -> Outcome<()> {
    // What the desk can't open is known by its leaf all the same.
    match entries.iter().any(|entry| entry.leaf.seq == seq && entry.leaf.kind == "attachment") {
        true => Ok(()),
        false => Err(Trouble::input(
            format!("Entry {seq} is no attachment of this chart."),
            "Attach the paper first with `inkfast attach`, then give its number.",
        )),
    }
}

/// Records one step: asks its form, lets `complete` put in what is worked out, and seals it.
pub fn step(
    context: &mut Context<'_>,
    form_name: &str,
    complete: impl FnOnce(&mut Map<String, Value>, &Practice, &Dealing) -> Outcome<Step>,
) -> Outcome<(Practice, Dealing, Receipt)> {
    let when = happened(context)?;
    let mut practice = context.writing()?;
    let before = dealing(&practice, number(context))?;
    let (asks, tag, seq) = (form(form_name)?, before.face.tag.clone(), before.standing.seq);
    // Each step of each request has a draft of its own: answers about one are none about another.
    let draft = Some(format!("Request {seq}: {}", form_name.trim_start_matches("request-")));
    let recording = Recording { draft, ..Recording::of(asks, Some(&tag), when) };
    let receipt = record(context, &mut practice, recording, |data, practice| {
        data.insert("request".into(), json!(seq));
        let paper = data.get("attachment").and_then(Value::as_u64);
        if let Some(paper) = paper {
            attachment(&before.entries, paper)?;
        }
        let which = complete(data, practice, &before)?;
        data.insert("step".into(), json!(which.word()));
        let mut refers = vec![(seq, RefWhy::Answers)];
        refers.extend(paper.map(|paper| (paper, RefWhy::SeeAlso)));
        Ok(refers)
    })?;
    let after = dealing(&practice, seq)?;
    Ok((practice, after, receipt))
}

/// The step that was just recorded.
fn recorded<'d>(after: &'d Dealing, receipt: &Receipt) -> Outcome<&'d RequestStep> {
    let found = after.standing.steps.iter().find(|(seq, _)| *seq == receipt.seq);
    found.map(|(_, step)| step).ok_or_else(|| Trouble::damaged("The step can't be found again."))
}

/// Says what was recorded, gives its letter, and tells what stands against answering.
pub fn say(
    context: &mut Context<'_>,
    practice: &Practice,
    after: &Dealing,
    receipt: &Receipt,
    lacking: Option<Vec<super::output::LackingOutput>>,
) -> Outcome<Exit> {
    let step = recorded(after, receipt)?;
    let letter = of_step(practice, after, step).ok();
    let stops = after.stops(practice, practice.now())?;
    let standing = &after.standing;
    if context.json() {
        if let Some(letter) = &letter {
            give_letter(context, letter)?;
        }
        context.say_json(&StepOutput {
            entry: receipt.seq,
            request: standing.seq,
            state: standing.state(),
            due: standing.due(),
            stops,
            letter,
            fee: step.fee.clone(),
            lacking,
        })?;
        return Ok(Exit::Done);
    }
    context.say(&format!(
        "Sealed: {} of request {} is number {}. It stands: {}.",
        step.step,
        standing.seq,
        receipt.seq,
        standing.state()
    ))?;
    if let Some(letter) = &letter {
        give_letter(context, letter)?;
    }
    if standing.state() == State::Open {
        for line in super::show::stop_lines(&stops) {
            context.asker.say(&line);
        }
    }
    Ok(Exit::Done)
}

fn day(data: &Map<String, Value>, field: &str) -> Option<Day> {
    data.get(field).and_then(Value::as_str).and_then(parse_date).map(Day)
}

/// More time, once, from inside the first time. A letter that is void is refused; that it was sent may be
/// recorded, and is then called void for ever.
pub fn extend(context: &mut Context<'_>) -> Outcome<Exit> {
    let void_letter = context.flag("void-letter");
    let (practice, after, receipt) = step(context, "request-extend", |data, practice, dealing| {
        let standing = &dealing.standing;
        if standing.state() != State::Open {
            return Err(over(standing.state()));
        }
        let notice = ExtensionNotice {
            sent: day(data, "letter_dated"),
            in_writing: true,
            reasons: data.get("words").and_then(Value::as_str).map(str::to_string),
            new_date: day(data, "new_due"),
        };
        let earlier = u32::from(standing.extended_by().is_some());
        let book = practice.rulebook()?;
        let Some(judged) =
            clocks::extend(&book, &standing.request, &standing.request.clocks, &notice, earlier)
        else {
            return Err(refused(
                "There is nothing to extend: no clock that runs sets a day before the new one.",
                "Look at the clocks with `inkfast request show`.",
            ));
        };
        if judged.valid {
            return Ok(Step::Extended);
        }
        let stands = standing.due().unwrap_or(judged.due);
        if !void_letter {
            let why: Vec<String> = judged.words().iter().map(|line| format!("\n- {line}")).collect();
            return Err(refused(
                format!(
                    "The letter is void, and the answer stays due {}:{}",
                    plain_date(stands.0),
                    why.concat()
                ),
                "Answer in time. If the letter was sent all the same, record that with --void-letter.",
            ));
        }
        data.remove("new_due");
        data.insert("void_because".into(), json!(judged.codes()));
        Ok(Step::LetterSent)
    })?;
    say(context, &practice, &after, &receipt, None)
}

fn over(state: State) -> Trouble {
    refused(
        format!("This request is not open any more ({state})."),
        "Take a new one with `inkfast request take`.",
    )
}

/// The fee, worked out from its parts. What may not be asked for is refused by name.
pub fn fee(context: &mut Context<'_>) -> Outcome<Exit> {
    let (practice, after, receipt) = step(context, "request-fee", |data, practice, dealing| {
        let given = data.get("fee").cloned().unwrap_or_default();
        let parts = parts(&given, dealing.is_free_accounting(practice)?)?;
        let told = work_out(&parts, &practice.rulebook()?.tables).map_err(|wrong| {
            let lines: Vec<String> = wrong.iter().map(|why| format!("\n- {why}")).collect();
            refused(
                format!("This fee may not be asked for:{}", lines.concat()),
                "Leave that out, or ask for no fee. An unpaid fee or bill holds no copy back.",
            )
        })?;
        data.insert("fee".into(), json!(told));
        Ok(Step::FeeTold)
    })?;
    if let Some(told) = &recorded(&after, &receipt)?.fee
        && !context.json()
    {
        context.say(&format!("Fee: {}", told.worked_out))?;
        if let Some(ceiling) = &told.ceiling {
            context.say(&format!("Ceiling: {ceiling}"))?;
        }
    }
    say(context, &practice, &after, &receipt, None)
}

fn parts(given: &Value, free_accounting: bool) -> Outcome<Parts> {
    let method = match given["method"].as_str().map(str::trim) {
        Some("actual") => Some(Method::Actual),
        Some("average") => Some(Method::Average),
        Some("flat") => Some(Method::Flat),
        Some("none") => None,
        _ => {
            return Err(Trouble::input(
                "There is no such way to work a fee out.",
                "One of: actual, average, flat, none.",
            ));
        }
    };
    let amount = |text: &Value| {
        cents(text.as_str().unwrap_or_default())
            .ok_or_else(|| Trouble::input("An amount can't be read.", "Write it like 4.00, with a point."))
    };
    let rows = given["parts"].as_array().into_iter().flatten();
    let parts: Vec<(String, u64)> = rows
        .map(|row| {
            let name = row["name"].as_str().unwrap_or_default().trim().replace([' ', '-'], "_");
            Ok((name.to_lowercase(), amount(&row["amount"])?))
        })
        .collect::<Outcome<_>>()?;
    let mut names: Vec<&str> = parts.iter().map(|(name, _)| name.as_str()).collect();
    names.sort_unstable();
    if names.windows(2).any(|two| two[0] == two[1]) {
        return Err(Trouble::input("One part is named twice.", "Give each part once."));
    }
    let yes = |field: &str| given[field].as_bool().unwrap_or(false);
    Ok(Parts {
        flat_cents: if method == Some(Method::Flat) { amount(&given["total"])? } else { 0 },
        method,
        parts,
        on_paper: yes("on_paper"),
        pages: given["pages"].as_u64().unwrap_or(0),
        place: given["ceiling"].as_str().map(str::to_string),
        media_asked: yes("media_asked"),
        mailed: yes("mailed"),
        summary_agreed: yes("summary_agreed"),
        told: yes("told_beforehand"),
        currency: given["currency"].as_str().map(str::to_string),
        free_accounting,
    })
}

/// An authorization goes back, with what is missing and what would mend it.
pub fn give_back(context: &mut Context<'_>) -> Outcome<Exit> {
    let (practice, after, receipt) = step(context, "request-return", |_, practice, dealing| {
        let standing = &dealing.standing;
        if standing.state() != State::Open {
            return Err(over(standing.state()));
        }
        let stops = dealing.stops(practice, practice.now())?;
        if stops.iter().any(|stop| stop.id == "authorization-defective") {
            return Ok(Step::Returned);
        }
        Err(match standing.authorization() {
            Some(_) => refused(
                "Nothing is wrong with the authorization as it was read, so it is not sent back.",
                "Answer the request with `inkfast request answer`.",
            ),
            None => refused(
                "No authorization was looked through, so nothing can be said to be wrong with it.",
                format!("Look it through: inkfast request check {} --what authorization", standing.seq),
            ),
        })
    })?;
    say(context, &practice, &after, &receipt, None)
}

/// It is refused. Where only a part is, the request stays open for the rest.
pub fn decline(context: &mut Context<'_>) -> Outcome<Exit> {
    let (practice, after, receipt) = step(context, "request-decline", |data, practice, dealing| {
        let standing = &dealing.standing;
        if !matches!(standing.state(), State::Open | State::Returned) {
            return Err(over(standing.state()));
        }
        let denial = data.get("denial").cloned().unwrap_or_default();
        if let Some(code) = denial["judged_by"].as_str() {
            let line = practice.staff_line(code);
            if line.is_none_or(|line| line.licence_no.is_none()) {
                return Err(refused(
                    "Whoever judges that must be a licensed person of this practice.",
                    "Give the staff code of one; see `inkfast roster list`.",
                ));
            }
        }
        Ok(if denial["part"].is_null() { Step::Declined } else { Step::LetterSent })
    })?;
    say(context, &practice, &after, &receipt, None)
}

/// It is over.
pub fn close(context: &mut Context<'_>) -> Outcome<Exit> {
    let (practice, after, receipt) = step(context, "request-close", |data, _, dealing| {
        let how = data.get("step").and_then(Value::as_str).and_then(Step::from_word);
        let how = how.filter(|how| matches!(how, Step::Closed | Step::Withdrawn)).ok_or_else(|| {
            Trouble::input("A request ends closed or withdrawn.", "Everything else has a command of its own.")
        })?;
        match (dealing.standing.state(), how) {
            (State::Open, Step::Closed) => Err(refused(
                "It is not answered, so it is not closed.",
                "Answer it, decline it, or record that they took it back with --how withdrawn.",
            )),
            (State::Closed | State::Withdrawn, _) => Err(over(dealing.standing.state())),
            _ => Ok(how),
        }
    })?;
    say(context, &practice, &after, &receipt, None)
}

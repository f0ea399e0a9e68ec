//! What is said in the room, one short line each: `asked`, `pause`, `withdraw`, `now`, `mark`. The moment is
//! the present one, and where one visit is open here for whoever is here, its chart need not be named.

mod line;
mod withdraw;

pub use line::{quietly, the_chart};
pub use withdraw::{run as withdraw, withdraw_command};

use super::entries::{check_pointers, complete, form, known, pointers};
use super::lines::note_draft;
use super::visit::visit_in;
use crate::cli::context::{Context, add_who_args};
use crate::cli::data::add_data_arg;
use crate::cli::exit::Exit;
use crate::cli::forms::Asks;
use crate::cli::record::{Recording, add_happened_args, done, happened, record};
use crate::practice::chart::ChartFace;
use crate::practice::open::{Entry, Practice};
use crate::practice::visit::open_pauses;
use crate::record::envelope::Happened;
use crate::record::kinds::visit::{CheckQuestion, InVisitCheck};
use crate::record::kinds::withdrawal::{AskedAnswer, PauseKind};
use crate::record::moment::Moment;
use crate::record::shortform::{Grammar, Short, parse};
use crate::trouble::{Outcome, Trouble};
use clap::{Arg, Command};
use line::{Whose, lacking, settle, whose};
use serde::Serialize;
use serde_json::{Map, Value, json};
use std::rc::Rc;

/// A line put into the draft of the visit's note, in `--json` output.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct DraftLineOutput {
    /// Chart number.
    pub chart: String,
    /// Number of the visit opening.
    pub visit: u64,
    /// Which list of the note: checks.
    pub list: String,
    /// Number of the line in it.
    pub line: usize,
    /// The moment it is stamped with.
    pub at: Moment,
}

/// The options of a command that takes a short line.
fn command(
    word: &'static str,
    form_name: Option<&str>,
    about: &'static str,
    example: &'static str,
) -> Command {
    let cmd = add_who_args(Command::new(word).about(about)).arg(
        Arg::new("line").value_name("CHART|WORDS").num_args(0..).help(format!(
            "The chart number, where more than one visit is open, and the words in any order: {example}"
        )),
    );
    let cmd = add_happened_args(cmd);
    let Some(name) = form_name else { return cmd };
    let cmd = add_data_arg(cmd);
    form(name).map(|asks| asks.form.clap_args(cmd.clone())).unwrap_or(cmd)
}

/// Options of `asked`.
pub fn asked_command() -> Command {
    command(
        "asked",
        Some("asked"),
        "Asked just now: yes, no, or yes with a limit; several with commas between",
        "thrust cervical right yes; thrust L4-5 R yes, intraoral L yes",
    )
}

/// Options of `pause`.
pub fn pause_command() -> Command {
    command(
        "pause",
        Some("pause"),
        "The patient needs a moment, says stop, or goes on",
        "\"needs a minute\"; stop; resume yes",
    )
}

/// Options of `now`.
pub fn now_command() -> Command {
    command(
        "now",
        None,
        "A number from 0 to 10 given in the visit, kept in the draft of its note",
        "4; comfort 7",
    )
}

/// Options of `mark`.
pub fn mark_command() -> Command {
    command(
        "mark",
        None,
        "Mark this moment in the draft of the visit's note; words can follow later",
        "\"let go\"",
    )
    .arg(
        Arg::new("of")
            .long("of")
            .value_name("LINE")
            .value_parser(clap::value_parser!(u64))
            .help("Give the words to this line of the checks, marked before"),
    )
}

/// The short line of a command in the visit, with everything it belongs to.
struct InVisit {
    whose: Whose,
    entries: Rc<[Entry]>,
    visit: u64,
    short: Short,
}

/// Reads the line, finds the visit it belongs to, and has every doubt settled.
fn in_visit(context: &mut Context<'_>, practice: &Practice, grammar: Grammar) -> Outcome<InVisit> {
    let whose = whose(context, practice, grammar)?;
    let entries = practice.chart(&whose.tag)?.into();
    of_visit(context, grammar, whose, entries)
}

/// Reads the words of a line about a chart with these entries.
fn of_visit(
    context: &mut Context<'_>,
    grammar: Grammar,
    whose: Whose,
    entries: Rc<[Entry]>,
) -> Outcome<InVisit> {
    let visit = visit_in(&entries)?;
    let parsed = parse(grammar, &whose.words);
    let short = settle(context, grammar, parsed)?;
    Ok(InVisit { whose, entries, visit, short })
}

/// Records what was asked and answered.
pub fn asked(context: &mut Context<'_>) -> Outcome<Exit> {
    let when = happened(context)?;
    let mut practice = context.adding()?;
    let whose = whose(context, &practice, Grammar::Asked)?;
    let asks = form("asked")?;
    let entries: Rc<[Entry]> = practice.chart(&whose.tag)?.into();
    let mut lines = Vec::new();
    for words in questions(whose.words.clone()) {
        let whose = Whose { words, ..whose.clone() };
        let line = of_visit(context, Grammar::Asked, whose, Rc::clone(&entries))?;
        let start = answer_of(&asks, &practice, &line.short);
        lines.push((line, start));
    }
    // Of several, each must say everything: nothing is sealed of a line that breaks off in the middle.
    if lines.len() > 1 {
        for (line, start) in &lines {
            let missing = lacking(&asks.form, start, context.matches);
            if !missing.is_empty() {
                return Err(Trouble::input(
                    format!("\"{}\" does not say: {}.", line.whose.words.join(" "), missing.join(", ")),
                    "Say it with commas between the questions: thrust L4-5 R yes, intraoral L yes.",
                ));
            }
        }
    }
    let mut exit = Exit::Done;
    for (line, start) in &lines {
        exit = keep(context, &mut practice, &asks, when, line, start.clone())?;
    }
    Ok(exit)
}

/// The words of each question; a comma or semicolon behind a word ends one.
fn questions(words: Vec<String>) -> Vec<Vec<String>> {
    let mut all: Vec<Vec<String>> = vec![Vec::new()];
    for word in words {
        // What was said stands in one word with spaces in it, and keeps its commas.
        let plain =
            if word.contains(char::is_whitespace) { &word } else { word.trim_end_matches([',', ';']) };
        let ends = plain.len() < word.len();
        if let Some(last) = all.last_mut().filter(|_| !plain.is_empty()) {
            last.push(plain.to_string());
        }
        if ends {
            all.push(Vec::new());
        }
    }
    all.retain(|words| !words.is_empty());
    if all.is_empty() { vec![Vec::new()] } else { all }
}

/// What the words of a question say, laid into its answers.
fn answer_of(asks: &Asks, practice: &Practice, short: &Short) -> Value {
    let mut start = known(asks, practice);
    let put = |start: &mut Value, field: &str, value: Option<Value>| {
        if let Some(value) = value {
            start[field] = value;
        }
    };
    put(&mut start, "technique", short.techniques.first().map(|t| json!(t)));
    put(&mut start, "region", short.regions.first().map(|r| json!(r)));
    put(&mut start, "side", short.side.map(|s| json!(s)));
    put(&mut start, "answer", short.answer.map(|a| json!(a)));
    put(&mut start, "segments", (!short.segments.is_empty()).then(|| json!(short.segments)));
    let limited = short.answer == Some(AskedAnswer::YesWithLimit);
    put(&mut start, if limited { "limit_words" } else { "words" }, short.said.as_ref().map(|s| json!(s)));
    put(&mut start, "answered_by", answered_by(short));
    start
}

fn answered_by(short: &Short) -> Option<Value> {
    short.by.as_ref().map(|by| json!({ "role": "decision-maker", "person_id": by }))
}

/// Records a pause, a stop, or going on.
pub fn pause(context: &mut Context<'_>) -> Outcome<Exit> {
    let when = happened(context)?;
    let mut practice = context.adding()?;
    let line = in_visit(context, &practice, Grammar::Pause)?;
    let asks = form("pause")?;
    let short = &line.short;
    let mut start = json!({});
    if !line.whose.words.is_empty() {
        start["kind"] = json!(short.pause.unwrap_or(PauseKind::Pause));
    }
    if let Some(how) = short.how {
        start["how"] = json!(how);
    }
    if let Some(said) = &short.said {
        start["reason"] = json!(said);
    }
    if short.pause != Some(PauseKind::Resumed) {
        if short.answer.is_some() {
            return Err(Trouble::input(
                "A yes or no goes with going on again.",
                "Write `inkfast pause resume yes`; after a no, leave it at the pause or write `inkfast pause stop`.",
            ));
        }
        return keep(context, &mut practice, &asks, when, &line, start);
    }
    resume(context, &mut practice, &asks, when, &line, start)
}

/// Going on again ends every pause of the visit that still waits for the patient's yes.
fn resume(
    context: &mut Context<'_>,
    practice: &mut Practice,
    asks: &Asks,
    when: Happened,
    line: &InVisit,
    mut start: Value,
) -> Outcome<Exit> {
    match line.short.answer {
        Some(AskedAnswer::Yes) => start["resumed_yes_at"] = json!(when.start),
        Some(_) => {
            return Err(Trouble::input(
                "The patient said no, so nothing goes on.",
                "Leave it at the pause, or write `inkfast pause stop` or `inkfast withdraw`.",
            ));
        }
        None if !context.yes("Did the patient say yes to going on?", false)? => {
            return Err(Trouble::input(
                "Nothing goes on after a pause without the patient's yes.",
                "Ask, then write `inkfast pause resume yes`.",
            ));
        }
        None => start["resumed_yes_at"] = json!(when.start),
    }
    if context.text("of").is_some() {
        return keep(context, practice, asks, when, line, start);
    }
    let open = open_pauses(&line.entries, line.visit);
    if open.is_empty() {
        return Err(Trouble::input(
            "No pause of this visit waits for a yes.",
            "Look at the visit with `inkfast print CHART`.",
        ));
    }
    let mut exit = Exit::Done;
    for of in open {
        let mut one = start.clone();
        one["of"] = json!(of);
        exit = keep(context, practice, asks, when, line, one)?;
    }
    Ok(exit)
}

/// Seals the entry of a line. A line that says everything is sealed without a question and read back
/// afterwards; what it leaves out is asked for.
fn keep(
    context: &mut Context<'_>,
    practice: &mut Practice,
    asks: &Asks,
    when: Happened,
    line: &InVisit,
    start: Value,
) -> Outcome<Exit> {
    let quick = !line.whose.words.is_empty() && lacking(&asks.form, &start, context.matches).is_empty();
    let recording = Recording {
        form: asks.form.clone(),
        kind: asks.kind,
        draft: None,
        chart: Some(&line.whose.tag),
        happened: when,
        start,
    };
    let mut read_back = Vec::new();
    let completed = |data: &mut Map<String, Value>, _: &Practice| {
        read_back = asks.form.read_back(&Value::Object(data.clone()));
        complete(asks, data, &line.entries, Some(line.visit));
        let refers = pointers(asks.kind, data);
        check_pointers(&refers, &line.entries)?;
        Ok(refers)
    };
    let receipt = match quick {
        true => quietly(context, |context| record(context, practice, recording, completed)),
        false => record(context, practice, recording, completed),
    }?;
    if quick && !context.json() {
        let whole: Vec<&str> =
            read_back.iter().map(|l| l.split_once(": ").map_or(l.as_str(), |(_, answer)| answer)).collect();
        let read = crate::cli::table::shown(&whole.join(", "));
        context.say(&format!("Chart {}: {read}", line.whose.chart_no))?;
    }
    done(context, asks.kind, &receipt)
}

/// Keeps a number given in the visit.
pub fn now(context: &mut Context<'_>) -> Outcome<Exit> {
    let when = happened(context)?;
    let practice = context.practice()?;
    let line = in_visit(context, &practice, Grammar::Number)?;
    let short = line.short;
    let number = short.number.ok_or_else(|| {
        Trouble::input(
            "The number is missing.",
            "Write it like `inkfast now 4` or `inkfast now comfort 7`; 0 to 10.",
        )
    })?;
    let check = InVisitCheck {
        at: when.start,
        question: short.question.unwrap_or(CheckQuestion::Pain),
        number: Some(number),
        words: short.said,
        action: None,
    };
    let told = format!("{} {number}", check.question);
    let place = add_check(&practice, line.whose.open()?, line.visit, &check)?;
    told_draft(context, line.whose.open()?, line.visit, (place, when.start), &told)
}

/// Marks a moment, or gives words to one marked before.
pub fn mark(context: &mut Context<'_>) -> Outcome<Exit> {
    let when = happened(context)?;
    let practice = context.practice()?;
    let whose = whose(context, &practice, Grammar::Number)?;
    let words = Some(whose.words.join(" ").trim().to_string()).filter(|w| !w.is_empty());
    let visit = super::visit::visit_of(&practice, whose.open()?)?;
    let Some(of) = context.number("of") else {
        let check = InVisitCheck {
            at: when.start,
            question: CheckQuestion::Other,
            number: None,
            words,
            action: None,
        };
        let told = check.words.clone().unwrap_or_else(|| "marked; words can follow with --of".to_string());
        let place = add_check(&practice, whose.open()?, visit, &check)?;
        return told_draft(context, whose.open()?, visit, (place, when.start), &told);
    };
    let words = words.ok_or_else(|| {
        Trouble::input("The words are missing.", "Write them behind: `inkfast mark --of 2 \"let go\"`.")
    })?;
    let mut kept = note_draft(&practice, whose.open()?, visit, when.start)?;
    let index = usize::try_from(of).ok().and_then(|n| n.checked_sub(1));
    let check = index.and_then(|i| kept.data.get_mut("checks")?.get_mut(i));
    let Some(Value::Object(check)) = check else {
        return Err(Trouble::input(
            format!("The draft has no line {of} of checks."),
            "The number was printed when the moment was marked.",
        ));
    };
    if check.contains_key("words") {
        return Err(Trouble::input(
            format!("Line {of} of checks has words already."),
            "Mark another moment, or change the line in the draft when the note is signed.",
        ));
    }
    check.insert("words".into(), json!(words));
    let at =
        check.get("at").and_then(Value::as_str).and_then(|t| Moment::parse(t).ok()).unwrap_or(when.start);
    practice.keep_draft(&kept)?;
    told_draft(context, whose.open()?, visit, (usize::try_from(of).unwrap_or_default(), at), &words)
}

/// Adds a check to the draft of the visit's note; its number in the list.
fn add_check(practice: &Practice, face: &ChartFace, visit: u64, check: &InVisitCheck) -> Outcome<usize> {
    let mut kept = note_draft(practice, face, visit, check.at)?;
    let damaged = || Trouble::damaged("The draft of this note is damaged.");
    let value = serde_json::to_value(check).map_err(|_| damaged())?;
    let lines = kept.data.as_object_mut().map(|d| d.entry("checks").or_insert_with(|| json!([])));
    let Some(Value::Array(lines)) = lines else { return Err(damaged()) };
    lines.push(value);
    let place = lines.len();
    practice.keep_draft(&kept)?;
    Ok(place)
}

fn told_draft(
    context: &mut Context<'_>,
    face: &ChartFace,
    visit: u64,
    (line, at): (usize, Moment),
    words: &str,
) -> Outcome<Exit> {
    if context.json() {
        let chart = face.chart_no.clone();
        context.say_json(&DraftLineOutput { chart, visit, list: "checks".to_string(), line, at })?;
        return Ok(Exit::Done);
    }
    let (hour, minute) = at.local_time();
    let words = crate::cli::table::shown(words);
    context.say(&format!(
        "Chart {}: {hour:02}:{minute:02} {words} (line {line} of checks in the draft, not signed yet)",
        face.chart_no
    ))?;
    Ok(Exit::Done)
}

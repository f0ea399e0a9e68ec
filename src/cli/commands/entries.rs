//! Every command that records one entry from one form. What differs between them is in the table;
//! what the program works out itself is in [`complete`].

use super::CliCommand;
use super::correct::check_addendum;
use super::joined::say_joined;
use super::visit::visit_in;
use crate::cli::context::{Context, add_who_args};
use crate::cli::data::add_data_arg;
use crate::cli::exit::Exit;
use crate::cli::forms::{self, Asks};
use crate::cli::record::{Recording, add_happened_args, done, happened, record};
use crate::practice::chart::{face, find};
use crate::practice::keeping::of_chart;
use crate::practice::open::{Entry, Practice};
use crate::practice::visit::open_visit;
use crate::record::envelope::RefWhy;
use crate::record::kinds::{Class, Day, class_of};
use crate::trouble::{Outcome, Trouble};
use clap::{Arg, ArgMatches, Command};
use serde_json::{Map, Value, json};

/// One recording command.
pub struct EntryCommand {
    /// The words it is called by: one, or one and a sub-word.
    pub words: &'static [&'static str],
    /// Name of its form.
    pub form: &'static str,
    /// What it is for.
    pub about: &'static str,
    /// Whether it goes into a chart, and whether a visit must be open there.
    pub place: Place,
}

/// Forms that take nothing from the chart, so that a locked desk can still fill them.
const AT_LOCKED_DESK: [&str; 2] = ["contact", "emergency"];

impl EntryCommand {
    fn at_locked_desk(&self) -> bool {
        AT_LOCKED_DESK.contains(&self.form)
    }
}

/// Where an entry goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Place {
    /// Into a chart.
    Chart,
    /// Into a chart, in the visit that is open there.
    Visit,
    /// Outside any chart.
    Register,
}

use Place::{Chart, Register, Visit};

/// Every recording command.
pub const TABLE: &[EntryCommand] = &[
    row(&["patient", "identity"], "identity", "Name, address or another part of the identity changed", Chart),
    row(&["patient", "allergies"], "allergies", "Allergies and sensitivities were asked", Chart),
    row(
        &["patient", "alert"],
        "alert",
        "Something to be minded always: anticoagulant, osteoporosis, ...",
        Chart,
    ),
    row(&["patient", "capacity"], "capacity", "Doubt about capacity, raised or resolved", Chart),
    row(&["patient", "state"], "chart-state", "The chart is closed, or the patient has died", Chart),
    row(&["guardian"], "guardian", "Who decides for the patient, and on what authority", Chart),
    row(&["consent"], "consent", "A consent, given or declined", Chart),
    row(&["rest"], "rest", "The patient's answer about the rest of earlier, wider consents", Chart),
    row(&["refusal"], "refusal", "A standing refusal", Chart),
    row(
        &["visit", "identity"],
        "visit-identity",
        "Identity was confirmed after the visit was opened: how, and when",
        Visit,
    ),
    row(&["visit", "own-answer"], "own-answer", "A minor's own yes or no", Visit),
    row(
        &["visit", "condition"],
        "condition",
        "A condition of the consent is met: chaperone, guardian in the building",
        Visit,
    ),
    row(&["visit", "emergency"], "emergency", "An emergency in the room", Chart),
    row(&["visit", "measure"], "measure", "A measure taken now, for example mouth opening", Visit),
    row(&["visit", "change"], "change", "Something changed: accident, medicine, pregnancy, infection", Chart),
    row(&["visit", "reason"], "written-reason", "The reason for going on in spite of an alert", Visit),
    row(&["addendum"], "addendum", "New information that was not there at the time", Chart),
    row(&["late"], "late", "Something was left out at the time", Chart),
    row(&["contact"], "contact", "A call, message or no-show", Chart),
    row(&["refer", "out"], "refer", "Referred to somebody", Chart),
    row(&["refer", "answer"], "refer-answer", "The answer to a referral came, or was chased", Chart),
    row(&["reaction", "open"], "reaction", "An adverse reaction", Chart),
    row(&["handout"], "handout", "A sheet was given to take home: which, and in which edition", Chart),
    row(&["document"], "document", "A notice was given: about money, privacy, rights", Chart),
    row(&["wording"], "wording", "A text patients are given or sign is adopted, in one edition", Register),
    row(&["clock"], "clock", "A station's clock was wrong; nothing is re-stamped", Register),
];

const fn row(
    words: &'static [&'static str],
    form: &'static str,
    about: &'static str,
    place: Place,
) -> EntryCommand {
    EntryCommand { words, form, about, place }
}

/// The form of this name.
///
/// # Errors
/// When there is none, which a test rules out for the table.
pub fn form(name: &str) -> Outcome<Asks> {
    forms::named(name).ok_or_else(|| Trouble::input("This form is missing.", "Tell the makers."))
}

/// The options of one recording command.
fn options(command: &EntryCommand, word: &'static str) -> Command {
    let mut cmd = add_who_args(Command::new(word).about(command.about));
    if command.place != Register {
        cmd = cmd.arg(Arg::new("chart").value_name("CHART").required(true).help("Chart number"));
    }
    cmd = add_data_arg(add_happened_args(cmd));
    match form(command.form) {
        Ok(asks) => asks.form.clap_args(cmd),
        Err(_) => cmd,
    }
}

/// The command for a first word: the recording commands under it.
pub fn build(word: &'static str, about: &'static str) -> Command {
    let mine: Vec<&EntryCommand> = TABLE.iter().filter(|c| c.words[0] == word).collect();
    match mine.as_slice() {
        [one] if one.words.len() == 1 => options(one, word),
        _ => {
            mine.iter().fold(Command::new(word).about(about), |cmd, c| cmd.subcommand(options(c, c.words[1])))
        }
    }
}

/// Runs the recording command that was typed under a first word.
pub fn run(context: &mut Context<'_>, word: &str) -> Outcome<Exit> {
    let one = TABLE.iter().find(|c| c.words == [word]);
    if let Some(command) = one {
        return run_one(context, command);
    }
    let sub: Option<(&str, &ArgMatches)> = context.matches.subcommand();
    let Some((sub, matches)) = sub else {
        let words: Vec<&str> = TABLE.iter().filter(|c| c.words[0] == word).map(|c| c.words[1]).collect();
        return crate::cli::app::needs_word(&words.join(", "));
    };
    let command = TABLE.iter().find(|c| c.words[0] == word && c.words.get(1) == Some(&sub));
    let Some(command) = command else { return crate::cli::app::needs_word(sub) };
    let mut inner = context.under(matches);
    run_one(&mut inner, command)
}

fn run_one(context: &mut Context<'_>, command: &EntryCommand) -> Outcome<Exit> {
    let asks = form(command.form)?;
    let when = happened(context)?;
    let mut practice = match command.at_locked_desk() {
        true => context.adding()?,
        false => context.writing()?,
    };
    let tag = match command.place {
        Register => None,
        _ => {
            let chart_no = context.text("chart").unwrap_or_default();
            match practice.session.kit() {
                Some(kit) => Some(kit.tag_of(&chart_no)?),
                None => {
                    let face = find(&practice, &chart_no)?;
                    say_joined(context, &face);
                    Some(face.tag)
                }
            }
        }
    };
    let entries = tag.as_deref().map(|t| practice.chart(t)).transpose()?.unwrap_or_default();
    let visit = match command.place {
        Visit => Some(visit_in(&entries)?),
        _ => open_visit(&entries),
    };
    let recording = Recording {
        form: asks.form.clone(),
        kind: asks.kind,
        draft: None,
        chart: tag.as_deref(),
        happened: when,
        start: known(&asks, &practice),
    };
    let receipt = record(context, &mut practice, recording, |data, practice| {
        complete(&asks, data, &entries, visit);
        if asks.kind == "chart-state" {
            keep_until(data, practice, &entries)?;
        }
        if asks.kind == "addendum" {
            check_addendum(data, &entries, when.start)?;
        }
        let refers = pointers(asks.kind, data);
        check_pointers(&refers, &entries)?;
        Ok(refers)
    })?;
    done(context, asks.kind, &receipt)
}

/// What is known before anything is asked: who is here, where a form asks for the code of whoever did it.
pub(super) fn known(asks: &Asks, practice: &Practice) -> Value {
    let mut start = json!({});
    for field in ["asked_by", "found_by", "done_by", "taken_by", "counted_by"] {
        if asks.computed.iter().any(|path| path.strip_prefix('/') == Some(field))
            || asks.form.questions.iter().any(|q| q.path.strip_prefix('/') == Some(field))
        {
            start[field] = json!(practice.session.me.code);
        }
    }
    start
}

/// Puts in what the program knows and nobody should have to type.
pub(super) fn complete(asks: &Asks, data: &mut Map<String, Value>, entries: &[Entry], visit: Option<u64>) {
    if let (Some(visit), true) = (visit, asks.computed.contains(&"/visit")) {
        data.entry("visit").or_insert(json!(visit));
    }
    match asks.kind {
        "identity-changed" => {
            let before = entries.iter().rev().find_map(|e| {
                let record = e.record.as_ref()?;
                ["chart-opened", "identity-changed"]
                    .contains(&record.kind.as_str())
                    .then(|| record.data.get("identity").cloned())?
            });
            let mut answers = Value::Object(std::mem::take(data));
            forms::chart::with_identity(&mut answers, &before.unwrap_or(Value::Null));
            if let Value::Object(fields) = answers {
                *data = fields;
            }
        }
        "decision-maker" => parent_since_birth(data, entries),
        "addendum" | "late-entry" => {
            let target = data.get("target").or_else(|| data.get("entry")).and_then(Value::as_u64);
            let desk = target
                .and_then(|seq| entries.iter().find(|e| e.leaf.seq == seq))
                .and_then(|e| e.record.as_ref())
                .is_some_and(|r| class_of(r) == Class::Desk);
            // What adds to a consent must open for whoever opens the consent.
            if desk {
                data.insert("for_desk".into(), json!(true));
            }
        }
        _ => {}
    }
}

/// What becomes of a chart says through which day it is kept as of now; it is worked out anew whenever it is asked.
fn keep_until(data: &mut Map<String, Value>, practice: &Practice, entries: &[Entry]) -> Outcome<()> {
    let Some(tag) = entries.first().and_then(|entry| entry.leaf.chart.clone()) else { return Ok(()) };
    // Rules that can't be used stop nothing here: that somebody died must be recordable.
    let kept = face(practice, &tag).and_then(|face| of_chart(practice, &face, entries, None));
    let Ok(kept) = kept else { return Ok(()) };
    let mut put = |field: &str, day: Option<Day>| {
        if let Some(day) = day {
            data.entry(field).or_insert(json!(day));
        }
    };
    put("last_treated", kept.inputs.last_treated.map(|last| last.day));
    put("keep_until", kept.keep_through);
    Ok(())
}

/// A parent decides since the child was born, unless another start was given. An order or a power has to
/// name its own.
fn parent_since_birth(data: &mut Map<String, Value>, entries: &[Entry]) {
    if data.get("basis").and_then(Value::as_str) != Some("parent") {
        return;
    }
    let born = entries.iter().rev().find_map(|e| {
        let record = e.record.as_ref()?;
        record.data.pointer("/identity/birth_date/date")?.as_str().map(|b| (b.to_string(), record.written))
    });
    if let Some((born, written)) = born {
        let sign = if written.offset_seconds() < 0 { '-' } else { '+' };
        let minutes = written.offset_seconds().abs() / 60;
        let start = format!("{born}T00:00:00{sign}{:02}:{:02}", minutes / 60, minutes % 60);
        data.entry("authority_starts_at").or_insert(json!(start));
    }
}

/// The entries that this one points to, by what its fields say.
pub(super) fn pointers(kind: &str, data: &Map<String, Value>) -> Vec<(u64, RefWhy)> {
    let number = |field: &str| data.get(field).and_then(Value::as_u64);
    let mut refers: Vec<(u64, RefWhy)> = Vec::new();
    refers.extend(number("visit").map(|n| (n, RefWhy::Visit)));
    let own = match kind {
        "addendum" | "late-entry" => number("target").or(number("entry")).map(|n| (n, RefWhy::AddsTo)),
        "referral-answer" => number("referral").map(|n| (n, RefWhy::Answers)),
        "reaction-rechecked" => number("reaction").map(|n| (n, RefWhy::AddsTo)),
        "rest-of-earlier" => number("consent").map(|n| (n, RefWhy::AddsTo)),
        "reaction-closed" => number("reaction").map(|n| (n, RefWhy::Closes)),
        _ => number("of").map(|n| (n, RefWhy::Closes)),
    };
    refers.extend(own);
    refers
}

pub(super) fn check_pointers(refers: &[(u64, RefWhy)], entries: &[Entry]) -> Outcome<()> {
    for (seq, _) in refers {
        if !entries.is_empty() && !entries.iter().any(|e| e.leaf.seq == *seq) {
            return Err(Trouble::input(
                format!("Entry {seq} is not in this chart."),
                "Look the number up with `inkfast print`.",
            ));
        }
    }
    Ok(())
}

/// Makes a [`CliCommand`] of a first word whose recording commands are all in the table.
macro_rules! entry_command {
    ($word:literal, $about:literal) => {
        CliCommand { word: $word, build: || build($word, $about), run: |context| run(context, $word) }
    };
}

/// The commands that are nothing but their forms.
pub const COMMANDS: &[CliCommand] = &[
    entry_command!("guardian", "Who decides for the patient"),
    entry_command!("rest", "The rest of earlier consents"),
    entry_command!("refusal", "A standing refusal"),
    entry_command!("addendum", "New information"),
    entry_command!("late", "Something was left out"),
    entry_command!("handout", "A sheet given to take home"),
    entry_command!("document", "A notice given"),
    entry_command!("wording", "A text patients are given or sign"),
    entry_command!("clock", "A station's clock was wrong"),
];

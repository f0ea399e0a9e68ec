//! What all recording commands share: answers from flags, data or a person, kept as a sealed draft while
//! they come in; read back before signing; sealed as one entry.

use super::context::Context;
use super::exit::Exit;
use super::form::{Form, FormError};
use super::forms::Asks;
use super::table::{indented, shown, width};
use crate::ledger::write::Receipt;
use crate::practice::drafts::Kept;
use crate::practice::open::{Draft, Practice};
use crate::record::envelope::{Happened, RefWhy};
use crate::record::kinds::{Data, info, title};
use crate::record::moment::Moment;
use crate::trouble::{Kind, Outcome, Trouble};
use clap::{Arg, Command};
use serde::Serialize;
use serde_json::{Map, Value, json};

/// What a recording command sealed, in `--json` output.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct RecordedOutput {
    /// Kind of record.
    pub kind: String,
    /// Number in the ledger.
    pub entry: u64,
    /// Number in the chart; null outside any chart.
    pub chart_entry: Option<u64>,
    /// BLAKE3 of the leaf, hex.
    #[schemars(regex(pattern = "^[0-9a-f]{64}$"))]
    pub leaf: String,
}

/// Adds the option for when it happened.
pub fn add_happened_args(cmd: Command) -> Command {
    cmd.arg(
        Arg::new("happened")
            .long("happened")
            .value_name("MOMENT")
            .help("When it happened: 10:12, or 2025-03-11 10:12 [default: now]"),
    )
    .arg(Arg::new("happened-until").long("happened-until").value_name("MOMENT").help("Until when it took"))
}

/// When it happened, from the options.
pub fn happened(context: &Context<'_>) -> Outcome<Happened> {
    let now = context.now();
    let read = |name: &str| -> Outcome<Option<Moment>> {
        context
            .text(name)
            .map(|t| now.read_moment(&t))
            .transpose()
            .map_err(|why| Trouble::input(format!("--{name}: {why}"), "Correct it and do it again."))
    };
    Ok(Happened { start: read("happened")?.unwrap_or(now.at), end: read("happened-until")?, about: false })
}

/// Fills a form, beginning with what is known already. What was typed so far is kept as a sealed draft after every answer.
pub fn fill(
    context: &mut Context<'_>,
    practice: &Practice,
    form: &Form,
    kind: &str,
    chart: Option<&str>,
    start: Value,
) -> Outcome<Value> {
    let now = context.now();
    let mut kept = Kept {
        kind: kind.to_string(),
        chart: chart.map(str::to_string),
        by: practice.session.me.code.clone(),
        begun: now.at,
        data: start,
    };
    if context.asker.interactive()
        && practice.session.kit().is_none()
        && let Some(before) = practice.draft(kind, chart)?.filter(|before| before.data != kept.data)
    {
        let question = format!("A draft of this from {} is kept. Go on with it?", before.begun.plain());
        if context.yes(&question, true)? {
            kept = before;
        }
    }
    let start = kept.data.clone();
    // A locked desk opens no draft again, so it keeps none.
    let interactive = context.asker.interactive() && practice.session.kit().is_none();
    let mut keep = |answers: &Value| -> Result<(), String> {
        if !interactive {
            return Ok(());
        }
        kept.data = answers.clone();
        practice.keep_draft(&kept).map_err(|t| t.to_string())
    };
    let mut filled =
        form.fill(context.matches, start, context.asker, &now, &mut keep).map_err(form_trouble)?;
    super::forms::visit::fill_units(&mut filled);
    super::plausible::settle(context.asker, &practice.rulebook()?.tables.trade, &mut filled)?;
    Ok(filled)
}

/// Fills a form that is short enough to be answered again: no draft is kept.
pub fn answers(context: &mut Context<'_>, form: &Form, start: Value) -> Outcome<Value> {
    let now = context.now();
    let mut keep = |_: &Value| -> Result<(), String> { Ok(()) };
    form.fill(context.matches, start, context.asker, &now, &mut keep).map_err(form_trouble)
}

/// With a capital letter, as a sentence begins.
fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map(|c| c.to_uppercase().chain(letters).collect()).unwrap_or_default()
}

/// A form's error as a trouble.
pub fn form_trouble(error: FormError) -> Trouble {
    match error {
        FormError::Stopped => Trouble::new(
            Kind::BadInput,
            "Stopped before the last question.",
            "What was typed is kept as a sealed draft; nothing was recorded.",
            "Run the command again to go on.",
        ),
        other => {
            // The form's own sentence ends with what to do; here that has a place of its own.
            let text = other.to_string();
            let text = text.strip_prefix("nothing was recorded: ").unwrap_or(&text).to_string();
            let (what, next) = match text.strip_suffix(" Correct it and run the command again.") {
                Some(what) => (format!("Not accepted: {what}"), "Correct it and run the command again."),
                None => (capital(&text), "Give what is missing and run the command again."),
            };
            Trouble::new(Kind::BadInput, what, "Nothing was recorded.", next)
        }
    }
}

/// One thing to be recorded by a command.
pub struct Recording<'a> {
    /// Its questions.
    pub form: Form,
    /// Its kind.
    pub kind: &'a str,
    /// The name its draft is kept under, where several forms make entries of one kind; else the kind.
    pub draft: Option<String>,
    /// The chart, if in one.
    pub chart: Option<&'a str>,
    /// When it happened.
    pub happened: Happened,
    /// What is known before anything is asked.
    pub start: Value,
}

impl<'a> Recording<'a> {
    /// What a form asks, about a chart or none, with nothing known before.
    pub fn of(asks: Asks, chart: Option<&'a str>, happened: Happened) -> Recording<'a> {
        Recording { form: asks.form, kind: asks.kind, draft: None, chart, happened, start: json!({}) }
    }
}

/// Asks, reads back, signs and seals one record. `complete` adds what the program works out itself and
/// says which entries the record refers to.
pub fn record(
    context: &mut Context<'_>,
    practice: &mut Practice,
    what: Recording<'_>,
    complete: impl FnOnce(&mut Map<String, Value>, &Practice) -> Outcome<Vec<(u64, RefWhy)>>,
) -> Outcome<Receipt> {
    let draft = what.draft.as_deref().unwrap_or(what.kind);
    let data = fill(context, practice, &what.form, draft, what.chart, what.start.clone())?;
    seal(context, practice, what, data, complete)
}

/// Reads back, signs and seals what was answered.
pub fn seal(
    context: &mut Context<'_>,
    practice: &mut Practice,
    what: Recording<'_>,
    data: Value,
    complete: impl FnOnce(&mut Map<String, Value>, &Practice) -> Outcome<Vec<(u64, RefWhy)>>,
) -> Outcome<Receipt> {
    seal_by(context, practice, what, data, complete, Practice::append)
}

/// As [`seal`], with another way to record it, for what is recorded together with something else.
pub fn seal_by(
    context: &mut Context<'_>,
    practice: &mut Practice,
    what: Recording<'_>,
    mut data: Value,
    complete: impl FnOnce(&mut Map<String, Value>, &Practice) -> Outcome<Vec<(u64, RefWhy)>>,
    append: impl FnOnce(&mut Practice, Draft) -> Outcome<Receipt>,
) -> Outcome<Receipt> {
    let mut refers = Vec::new();
    if let Value::Object(fields) = &mut data {
        refers = complete(fields, practice)?;
    }
    let read_back = what.form.read_back(&data);
    let data = read(what.kind, &data)?;
    confirm(context, what.kind, &read_back)?;
    confirm_pin(context, practice, what.kind)?;
    let draft = Draft {
        chart: what.chart.map(str::to_string),
        data,
        happened: what.happened,
        labels: Vec::new(),
        refers,
        entered_by: None,
    };
    let receipt = append(practice, draft)?;
    if practice.session.kit().is_none() {
        practice.drop_draft(what.draft.as_deref().unwrap_or(what.kind), what.chart)?;
    }
    context.remarks(practice);
    Ok(receipt)
}

/// Kinds before whose signing the short number is asked again.
const ASKS_PIN: [&str; 7] = ["correction", "disposal", "keys", "release", "rules", "staff", "visit"];

/// Asks the short number again where this kind needs it.
pub fn confirm_pin(context: &mut Context<'_>, practice: &Practice, kind: &str) -> Outcome<()> {
    if ASKS_PIN.contains(&kind) { context.confirm_pin(practice) } else { Ok(()) }
}

/// Reads data as its kind.
pub fn read(kind: &str, data: &Value) -> Outcome<Data> {
    let edition = info(kind).map_or(1, |row| row.edition);
    Data::read(kind, edition, data).map_err(|e| {
        Trouble::new(
            Kind::BadInput,
            format!("This can't be recorded: {e}."),
            "Nothing was recorded. What was typed at a terminal is kept as a draft.",
            "Correct it and do it again.",
        )
    })
}

/// Shows what will be signed, in full words, and asks whether it is right.
pub fn confirm(context: &mut Context<'_>, kind: &str, read_back: &[String]) -> Outcome<()> {
    if !context.asker.interactive() {
        return Ok(());
    }
    context.asker.say(&format!("\nTo be signed: {}", title(kind)));
    for line in read_back {
        context.asker.say(&indented(&shown(line), width(), 2));
    }
    if context.yes("Is this right? Sign it?", true)? {
        return Ok(());
    }
    Err(Trouble::new(
        Kind::BadInput,
        "Not signed.",
        "What was typed is kept as a sealed draft.",
        "Run the command again to go on with it or change it.",
    ))
}

/// Says what was recorded.
pub fn done(context: &mut Context<'_>, kind: &str, receipt: &Receipt) -> Outcome<Exit> {
    if context.json() {
        context.say_json(&RecordedOutput {
            kind: kind.to_string(),
            entry: receipt.seq,
            chart_entry: receipt.chart_seq,
            leaf: receipt.leaf.clone(),
        })?;
        return Ok(Exit::Done);
    }
    let in_chart = receipt.chart_seq.map_or(String::new(), |n| format!(", {n} in this chart"));
    context.say(&format!("Sealed: {} is number {}{in_chart}.", title(kind), receipt.seq))?;
    Ok(Exit::Done)
}

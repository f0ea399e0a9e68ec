//! The visit: opened, written line by line as a sealed draft, signed.

use super::entries::{self, form};
use crate::cli::app::needs_word;
use crate::cli::context::{Context, add_who_args};
use crate::cli::data::add_data_arg;
use crate::cli::exit::Exit;
use crate::cli::forms;
use crate::cli::record::{
    Recording, add_happened_args, answers, confirm, done, fill, form_trouble, happened, read, record,
};
use crate::practice::chart::{ChartFace, find};
use crate::practice::drafts::Kept;
use crate::practice::open::{Draft, Practice};
use crate::practice::visit::{in_visit, open_visit};
use crate::record::envelope::{Happened, RefWhy};
use crate::record::kinds::finding::Finding;
use crate::record::kinds::procedure::Procedure;
use crate::record::kinds::visit::NoteMeasure;
use crate::record::moment::Moment;
use crate::trouble::{Kind, Outcome, Trouble};
use clap::{Arg, ArgMatches, Command};
use serde_json::{Map, Value, json};

fn chart_arg(cmd: Command) -> Command {
    add_who_args(cmd).arg(Arg::new("chart").value_name("CHART").required(true).help("Chart number"))
}

/// Options of `visit`: opening one, and what belongs into it.
pub fn command() -> Command {
    let open = add_data_arg(add_happened_args(chart_arg(
        Command::new("open").about("Open a visit: who the patient is, where, who is in the room"),
    )));
    let open = form("visit-open").map(|a| a.form.clap_args(open.clone())).unwrap_or(open);
    let close = add_data_arg(add_happened_args(chart_arg(
        Command::new("close").about("Close a visit without a note, for example when nobody was treated"),
    )));
    let close = form("visit-close").map(|a| a.form.clap_args(close.clone())).unwrap_or(close);
    entries::build("visit", "Open a visit, and record what belongs into it")
        .subcommand(open)
        .subcommand(close)
}

/// Runs `visit`.
pub fn run(context: &mut Context<'_>) -> Outcome<Exit> {
    match context.matches.subcommand() {
        Some(("open", matches)) => with(context, matches, open),
        Some(("close", matches)) => with(context, matches, close),
        Some(_) => entries::run(context, "visit"),
        None => needs_word("open, close, measure, condition, own-answer, change, reason, emergency"),
    }
}

fn with(
    context: &mut Context<'_>,
    matches: &ArgMatches,
    run: impl FnOnce(&mut Context<'_>) -> Outcome<Exit>,
) -> Outcome<Exit> {
    let mut inner = context.under(matches);
    run(&mut inner)
}

fn open(context: &mut Context<'_>) -> Outcome<Exit> {
    let when = happened(context)?;
    let mut practice = context.writing()?;
    let face = find(&practice, &context.text("chart").unwrap_or_default())?;
    let asks = form("visit-open")?;
    let me = practice.session.me.code.clone();
    let recording = Recording {
        form: asks.form,
        kind: "visit-opened",
        chart: Some(&face.tag),
        happened: when,
        start: json!({ "practitioners": [me] }),
    };
    let receipt = record(context, &mut practice, recording, |data, _| {
        if let Some(Value::Object(confirmed)) = data.get_mut("identity_confirmed") {
            confirmed.entry("at").or_insert(json!(when.start));
        }
        Ok(Vec::new())
    })?;
    done(context, "visit-opened", &receipt)
}

fn close(context: &mut Context<'_>) -> Outcome<Exit> {
    let when = happened(context)?;
    let mut practice = context.writing()?;
    let face = find(&practice, &context.text("chart").unwrap_or_default())?;
    let visit = visit_of(&practice, &face)?;
    let asks = form("visit-close")?;
    let recording = Recording {
        form: asks.form,
        kind: "visit-closed",
        chart: Some(&face.tag),
        happened: when,
        start: json!({}),
    };
    let receipt = record(context, &mut practice, recording, |data, _| {
        data.insert("visit".into(), json!(visit));
        Ok(vec![(visit, RefWhy::Visit)])
    })?;
    done(context, "visit-closed", &receipt)
}

/// The visit that is open in a chart.
fn visit_of(practice: &Practice, face: &ChartFace) -> Outcome<u64> {
    open_visit(&practice.chart(&face.tag)?).ok_or_else(|| {
        Trouble::new(
            Kind::Refused,
            "No visit is open in this chart.",
            "Nothing was recorded.",
            "Open it with `inkfast visit open CHART`, then do this again.",
        )
    })
}

/// Options of `finding`, `procedure` and `recheck`.
fn line_command(name: &'static str, form_name: &str, about: &'static str) -> Command {
    let cmd = add_data_arg(add_happened_args(chart_arg(Command::new(name).about(about))));
    form(form_name).map(|a| a.form.clap_args(cmd.clone())).unwrap_or(cmd)
}

/// Options of `finding`.
pub fn finding_command() -> Command {
    line_command("finding", "finding", "Add a finding to the note of the open visit")
}

/// Options of `procedure`.
pub fn procedure_command() -> Command {
    line_command("procedure", "procedure", "Add a procedure to the note of the open visit")
}

/// Options of `recheck`.
pub fn recheck_command() -> Command {
    line_command("recheck", "recheck", "Add a measure, before or after, to the note of the open visit")
}

/// Adds a finding.
pub fn finding(context: &mut Context<'_>) -> Outcome<Exit> {
    add_line(context, "finding", "findings")
}

/// Adds a procedure.
pub fn procedure(context: &mut Context<'_>) -> Outcome<Exit> {
    add_line(context, "procedure", "procedures")
}

/// Adds a measure.
pub fn recheck(context: &mut Context<'_>) -> Outcome<Exit> {
    add_line(context, "recheck", "measures")
}

/// Adds one line to the draft of the visit's note.
fn add_line(context: &mut Context<'_>, form_name: &str, list: &str) -> Outcome<Exit> {
    let when = happened(context)?;
    let practice = context.practice()?;
    let face = find(&practice, &context.text("chart").unwrap_or_default())?;
    let visit = visit_of(&practice, &face)?;
    let mut kept = note_draft(&practice, &face, visit, when.start)?;
    let form = form(form_name)?.form;
    let start = match list {
        "procedures" => json!({ "at": when.start, "done_by": practice.session.me.code }),
        _ => json!({}),
    };
    let mut filled = answers(context, &form, start)?;
    forms::visit::fill_units(&mut filled);
    let read_back = form.read_back(&filled);
    let Value::Object(line) = filled else {
        return Err(Trouble::input("Nothing was answered.", "Do it again."));
    };
    let lines = kept.data.as_object_mut().map(|d| d.entry(list).or_insert_with(|| json!([])));
    let Some(Value::Array(lines)) = lines else {
        return Err(Trouble::damaged("The draft of this note is damaged."));
    };
    let number = lines.len() + 1;
    check_line(list, number, &line)?;
    lines.push(Value::Object(line));
    practice.keep_draft(&kept)?;
    context.say(&format!("Line {number} of {list} in the draft (not signed yet):"))?;
    for line in read_back {
        context.say(&format!("  {line}"))?;
    }
    Ok(Exit::Done)
}

/// A line that can't be signed is refused when it is added, not at the end of the visit.
fn check_line(list: &str, number: usize, line: &Map<String, Value>) -> Outcome<()> {
    let mut numbered = line.clone();
    numbered.entry("no").or_insert(json!(number));
    let (line, numbered) = (Value::Object(line.clone()), Value::Object(numbered));
    if numbered.pointer("/measured/value").is_some() && numbered.pointer("/measured/kind").is_none() {
        return Err(Trouble::input(
            "A value needs the name of what was measured.",
            "Give --measured too; a grade from 0 to 5 is given with --grade.",
        ));
    }
    let read = match list {
        "findings" => serde_json::from_value::<Finding>(numbered).map(|_| ()),
        "procedures" => serde_json::from_value::<Procedure>(numbered).map(|_| ()),
        _ => serde_json::from_value::<NoteMeasure>(line).map(|_| ()),
    };
    read.map_err(|e| {
        Trouble::input(
            format!("This line can't be part of a note: {e}."),
            "Add it again with what is missing; `--help` explains each option.",
        )
    })
}

/// The draft of a visit's note, begun if there is none.
fn note_draft(practice: &Practice, face: &ChartFace, visit: u64, begun: Moment) -> Outcome<Kept> {
    let kept = practice.draft("visit", Some(&face.tag))?;
    Ok(kept.filter(|k| k.data.get("visit") == Some(&json!(visit))).unwrap_or(Kept {
        kind: "visit".to_string(),
        chart: Some(face.tag.clone()),
        by: practice.session.me.code.clone(),
        begun,
        data: json!({ "visit": visit, "practitioners": [practice.session.me.code] }),
    }))
}

/// Options of `sign`.
pub fn sign_command() -> Command {
    let cmd = add_data_arg(add_happened_args(chart_arg(
        Command::new("sign").about("Finish the note of the open visit, read it back, and sign it"),
    )));
    form("note").map(|a| a.form.clap_args(cmd.clone())).unwrap_or(cmd)
}

/// Signs the note of the open visit and closes the visit.
pub fn sign(context: &mut Context<'_>) -> Outcome<Exit> {
    let mut when = happened(context)?;
    let mut practice = context.writing()?;
    let face = find(&practice, &context.text("chart").unwrap_or_default())?;
    let visit = visit_of(&practice, &face)?;
    let opened = practice.entry_by_seq(visit)?;
    if let Some(record) = &opened.record {
        when = visit_time(context, record.happened.start, when);
    }
    // The lines added during the visit are in the draft; the remaining questions go on from there.
    let mut begun = note_draft(&practice, &face, visit, when.start)?;
    if let Value::Object(known) = &mut begun.data {
        known.entry("practitioners").or_insert(json!([practice.session.me.code]));
    }
    practice.keep_draft(&begun)?;
    let form = form("note")?.form;
    let mut data = fill(context, &practice, &form, "visit", Some(&face.tag), begun.data)?;
    let entries = practice.chart(&face.tag)?;
    let inside = in_visit(&entries, visit);
    if let Value::Object(fields) = &mut data {
        complete_note(fields, visit, &inside, &practice);
    }
    forms::note::finish_note(&mut data);
    let note = read("visit", &data)?;
    confirm(context, "visit", &form.read_back(&data))?;
    let closed = read("visit-closed", &json!({ "visit": visit, "ended": "as-planned" }))?;
    let mut note_draft = Draft::new(Some(&face.tag), note, when.start);
    note_draft.happened = when;
    note_draft.refers = vec![(visit, RefWhy::Visit)];
    let mut close_draft = Draft::new(Some(&face.tag), closed, when.end.unwrap_or(when.start));
    close_draft.refers = vec![(visit, RefWhy::Closes)];
    let receipts = practice.append_group(vec![note_draft, close_draft], None)?;
    practice.drop_draft("visit", Some(&face.tag))?;
    context.remarks(&mut practice);
    match receipts.first() {
        Some(receipt) => done(context, "visit", receipt),
        None => Err(Trouble::damaged("Nothing was recorded.")),
    }
}

/// A visit's note happened from the opening of the visit until now, unless other times were given.
fn visit_time(context: &Context<'_>, opened: Moment, given: Happened) -> Happened {
    if context.text("happened").is_some() {
        return given;
    }
    let end = given.end.unwrap_or(given.start);
    Happened { start: opened, end: (end >= opened).then_some(end), about: false }
}

/// What the note takes from the entries of the visit, so that nobody copies numbers.
fn complete_note(
    data: &mut Map<String, Value>,
    visit: u64,
    inside: &crate::practice::visit::InVisit,
    practice: &Practice,
) {
    data.insert("visit".into(), json!(visit));
    let sort = if inside.later { "later" } else { "first" };
    data.entry("sort").or_insert(json!(sort));
    data.entry("practitioners").or_insert(json!([practice.session.me.code]));
    data.entry("screens").or_insert(json!(inside.screens));
    data.entry("agreed").or_insert(json!({
        "consents": inside.consents, "asked": inside.asked, "coverage": inside.coverage,
    }));
    // An empty list is dropped rather than kept, as the layout has it.
    data.retain(|_, v| !matches!(v, Value::Array(list) if list.is_empty()));
}

/// Options of `screen`.
pub fn screen_command() -> Command {
    let cmd = chart_arg(Command::new("screen").about("Ask a screen item by item: neck, mouth, general"));
    let cmd =
        cmd.arg(Arg::new("which").value_name("SCREEN").required(true).help("Which: neck, mouth, general"));
    forms::screen::screen_args(add_data_arg(add_happened_args(cmd)))
}

/// Records a screen with the items of the adopted rules.
pub fn screen(context: &mut Context<'_>) -> Outcome<Exit> {
    let when = happened(context)?;
    let name = context.text("which").unwrap_or_default();
    let mut practice = context.writing()?;
    let face = find(&practice, &context.text("chart").unwrap_or_default())?;
    let visit = open_visit(&practice.chart(&face.tag)?);
    let items = practice.rules().and_then(|r| {
        r.document.pointer(&format!("/coverage/screen_items/{name}")).and_then(Value::as_object).cloned()
    });
    let Some(items) = items else {
        return Err(Trouble::new(
            Kind::NotFound,
            "The adopted rules name no screen of that kind.",
            "Nothing was recorded.",
            "Look at `inkfast rules show`.",
        ));
    };
    let items: Vec<String> = items.keys().cloned().collect();
    let mut start =
        forms::screen::screen_start(&name, &items, context.matches, &context.now()).map_err(form_trouble)?;
    start["done_by"] = json!(practice.session.me.code);
    let recording = Recording {
        form: forms::screen::screen_of(&items),
        kind: "screen",
        chart: Some(&face.tag),
        happened: when,
        start,
    };
    let receipt = record(context, &mut practice, recording, |data, _| {
        if let Some(visit) = visit {
            data.entry("visit").or_insert(json!(visit));
        }
        Ok(visit.map(|v| (v, RefWhy::Visit)).into_iter().collect())
    })?;
    done(context, "screen", &receipt)
}

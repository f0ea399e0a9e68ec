//! `sign`: the note of the open visit is finished, read back and signed.

use super::entries::form;
use super::lines::note_draft;
use super::visit::{chart_arg, visit_of};
use crate::cli::context::Context;
use crate::cli::data::add_data_arg;
use crate::cli::exit::Exit;
use crate::cli::forms;
use crate::cli::record::{add_happened_args, confirm, confirm_pin, done, fill, happened, read};
use crate::practice::chart::find;
use crate::practice::open::{Draft, Practice};
use crate::practice::visit::in_visit;
use crate::record::envelope::{Happened, RefWhy};
use crate::record::moment::Moment;
use crate::trouble::{Outcome, Trouble};
use clap::Command;
use serde_json::{Map, Value, json};

/// Options of `sign`.
pub fn command() -> Command {
    let cmd = add_data_arg(add_happened_args(chart_arg(
        Command::new("sign").about("Finish the note of the open visit, read it back, and sign it"),
    )));
    form("note").map(|a| a.form.clap_args(cmd.clone())).unwrap_or(cmd)
}

/// Signs the note of the open visit and closes the visit.
pub fn run(context: &mut Context<'_>) -> Outcome<Exit> {
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
    confirm_pin(context, &practice, "visit")?;
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

//! The lines of a note: findings, procedures and measures, added to a sealed draft while the visit is open.

use super::entries::form;
use super::visit::{chart_arg, visit_of};
use crate::cli::context::Context;
use crate::cli::data::add_data_arg;
use crate::cli::exit::Exit;
use crate::cli::forms;
use crate::cli::plausible;
use crate::cli::record::{add_happened_args, answers, happened};
use crate::practice::chart::{ChartFace, find};
use crate::practice::drafts::Kept;
use crate::practice::open::Practice;
use crate::record::kinds::finding::Finding;
use crate::record::kinds::procedure::Procedure;
use crate::record::kinds::visit::NoteMeasure;
use crate::record::moment::Moment;
use crate::trouble::{Outcome, Trouble};
use clap::Command;
use serde_json::{Map, Value, json};

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
    plausible::settle(context.asker, &practice.rulebook()?.tables.trade, &mut filled)?;
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
pub fn note_draft(practice: &Practice, face: &ChartFace, visit: u64, begun: Moment) -> Outcome<Kept> {
    let kept = practice.draft("visit", Some(&face.tag))?;
    Ok(kept.filter(|k| k.data.get("visit") == Some(&json!(visit))).unwrap_or(Kept {
        kind: "visit".to_string(),
        chart: Some(face.tag.clone()),
        by: practice.session.me.code.clone(),
        begun,
        data: json!({ "visit": visit, "practitioners": [practice.session.me.code] }),
    }))
}

//! `patient joined`: two charts turn out to be one person's. Nothing is moved: each chart gets an entry that
//! points to the other, and the one that is left is closed and says where it goes on.

use super::entries::form;
use super::visit::chart_arg;
use crate::cli::context::Context;
use crate::cli::data::add_data_arg;
use crate::cli::exit::Exit;
use crate::cli::record::{add_happened_args, confirm, done, fill, happened, read};
use crate::practice::chart::{ChartFace, find};
use crate::practice::open::{Draft, Practice};
use crate::record::kinds::identity::JoinDirection;
use crate::trouble::{Kind, Outcome, Trouble};
use clap::Command;
use serde_json::{Value, json};

/// Options of `patient joined`.
pub fn command() -> Command {
    let about = "Two charts are of one person: each points to the other, and one is closed";
    let cmd = add_data_arg(add_happened_args(chart_arg(Command::new("joined").about(about))));
    form("joined").map(|asks| asks.form.clap_args(cmd.clone())).unwrap_or(cmd)
}

/// Joins two charts.
pub fn run(context: &mut Context<'_>) -> Outcome<Exit> {
    let when = happened(context)?;
    let mut practice = context.writing()?;
    let face = find(&practice, &context.text("chart").unwrap_or_default())?;
    let form = form("joined")?.form;
    let mut here = fill(context, &practice, &form, "joined", Some(&face.tag), json!({}))?;
    let other = other_chart(&practice, &face, &here)?;
    let left = here["direction"] == json!(JoinDirection::ContinueAt);
    for chart in [&face, &other] {
        if let Some(at) = &chart.continue_at {
            return Err(refused(
                format!("Chart {} was joined before and goes on as chart {at}.", chart.chart_no),
                "Join the chart it goes on as, if that is of the same person too.",
            ));
        }
    }
    here["other_chart_no"] = json!(other.chart_no);
    here["other_chart"] = json!(other.tag);
    let mut there = here.clone();
    let back = if left { JoinDirection::ContinuedFrom } else { JoinDirection::ContinueAt };
    there["direction"] = json!(back);
    there["other_chart_no"] = json!(face.chart_no);
    there["other_chart"] = json!(face.tag);
    let (closed, goes_on) = if left { (&face, &other) } else { (&other, &face) };
    let state = json!({"status": "closed-continue-at", "continue_at": goes_on.chart_no});
    confirm(context, "joined", &form.read_back(&here))?;
    let mut drafts = vec![
        Draft::new(Some(&face.tag), read("joined", &here)?, when.start),
        Draft::new(Some(&other.tag), read("joined", &there)?, when.start),
        Draft::new(Some(&closed.tag), read("chart-state", &state)?, when.start),
    ];
    drafts.iter_mut().for_each(|draft| draft.happened = when);
    let receipts = practice.append_group(drafts, None)?;
    practice.drop_draft("joined", Some(&face.tag))?;
    context.remarks(&mut practice);
    context
        .asker
        .say(&format!("Chart {} is closed and goes on as chart {}.", closed.chart_no, goes_on.chart_no));
    match receipts.first() {
        Some(receipt) => done(context, "joined", receipt),
        None => Err(Trouble::damaged("Nothing was recorded.")),
    }
}

fn refused(what: String, next: &str) -> Trouble {
    Trouble::new(Kind::Refused, what, "Nothing was recorded.", next)
}

fn other_chart(practice: &Practice, face: &ChartFace, data: &Value) -> Outcome<ChartFace> {
    let other = find(practice, data["other_chart_no"].as_str().unwrap_or_default())?;
    if other.tag == face.tag {
        return Err(Trouble::input(
            "A chart can't be joined to itself.",
            "Give the number of the other chart.",
        ));
    }
    Ok(other)
}

/// Says that a chart is closed and where it goes on.
pub fn say_joined(context: &mut Context<'_>, face: &ChartFace) {
    if let Some(at) = &face.continue_at {
        context.asker.say(&format!("Chart {} is closed: it goes on as chart {at}.", face.chart_no));
    }
}

/// Refuses to go on in a chart that is closed because it goes on elsewhere.
pub fn refuse_joined(face: &ChartFace) -> Outcome<()> {
    match &face.continue_at {
        None => Ok(()),
        Some(at) => Err(refused(
            format!("Chart {} is closed: it goes on as chart {at}.", face.chart_no),
            "Use the chart it goes on as. What belongs to the past may still be added here.",
        )),
    }
}

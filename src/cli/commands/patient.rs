//! `patient`: opening charts, finding them, and who the patient is.

use super::entries::{self, form};
use crate::cli::app::needs_word;
use crate::cli::context::{Context, add_who_args};
use crate::cli::data::add_data_arg;
use crate::cli::exit::Exit;
use crate::cli::record::{add_happened_args, confirm, done, fill, happened};
use crate::cli::table::{Table, shown, width};
use crate::practice::chart::{ChartFace, faces, open_chart};
use crate::record::kinds::identity::ChartOpened;
use crate::trouble::{Outcome, Trouble};
use clap::Command;
use serde::Serialize;
use serde_json::{Value, json};

/// A chart in `--json` output.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct ChartOutput {
    /// Chart number.
    pub chart_no: String,
    /// Tag in the ledger.
    pub tag: String,
    /// Legal name.
    pub name: String,
    /// Birth date, or the estimated year.
    pub born: String,
    /// Entries.
    pub entries: u64,
}

/// Options of `patient`.
pub fn command() -> Command {
    let open = add_data_arg(add_happened_args(add_who_args(
        Command::new("open").about("Open a chart for a patient"),
    )));
    let open = form("patient").map(|a| a.form.clap_args(open.clone())).unwrap_or(open);
    let list = add_who_args(Command::new("list").about("The charts that are open to you"));
    entries::build("patient", "Open a chart, find one, and keep who the patient is up to date")
        .subcommand(open)
        .subcommand(list)
        .subcommand(super::joined::command())
}

/// Runs `patient`.
pub fn run(context: &mut Context<'_>) -> Outcome<Exit> {
    let Some((word, matches)) = context.matches.subcommand() else {
        return needs_word("open, list, identity, allergies, alert, capacity, state, joined");
    };
    if !["open", "list", "joined"].contains(&word) {
        return entries::run(context, "patient");
    }
    let mut inner = context.under(matches);
    match word {
        "open" => open(&mut inner),
        "joined" => super::joined::run(&mut inner),
        _ => list(&mut inner),
    }
}

fn born(face: &ChartFace) -> String {
    let birth = &face.identity.birth_date;
    match (birth.date, birth.estimated_year) {
        (Some(day), _) => crate::record::moment::plain_date(day.0),
        (None, Some(year)) => format!("about {year}"),
        (None, None) => "not recorded".to_string(),
    }
}

fn open(context: &mut Context<'_>) -> Outcome<Exit> {
    let when = happened(context)?;
    let mut practice = context.writing()?;
    let form = form("patient")?.form;
    // The program looks itself, below: nobody has to say that it was done.
    let start = json!({ "same_name_looked_for": true });
    let mut data = fill(context, &practice, &form, "chart-opened", None, start)?;
    let known = faces(&practice)?;
    let opened = |data: &Value| {
        serde_json::from_value::<ChartOpened>(data.clone()).map_err(|e| {
            Trouble::input(format!("This can't be recorded: {e}."), "Correct it and do it again.")
        })
    };
    let wanted = opened(&data)?;
    let alike: Vec<&ChartFace> = known.iter().filter(|f| same_person(f, &wanted)).collect();
    if !alike.is_empty() {
        for face in &alike {
            context.asker.say(&format!(
                "Another chart has this name or birth date: {}, {}, born {}.",
                face.chart_no,
                shown(&face.identity.legal_name),
                born(face)
            ));
        }
        let question = "Is the new patient somebody else? Open a new chart?";
        let numbers: Vec<&str> = alike.iter().map(|f| f.chart_no.as_str()).collect();
        let named = wanted.like_charts.iter().all(|c| numbers.contains(&c.as_str()))
            && !wanted.like_charts.is_empty();
        if !named && !context.yes(question, false)? {
            return Err(Trouble::new(
                crate::trouble::Kind::Refused,
                format!("Not opened: chart(s) {} look like the same person.", numbers.join(", ")),
                "Nothing was recorded.",
                "Use that chart. If it is another person, answer yes at the terminal, or name the charts with --other-than.",
            ));
        }
        if let Value::Object(fields) = &mut data {
            fields.insert("like_charts".into(), json!(numbers));
        }
    }
    confirm(context, "chart-opened", &form.read_back(&data))?;
    let (_, receipt) = open_chart(&mut practice, opened(&data)?, when.start)?;
    practice.drop_draft("chart-opened", None)?;
    context.remarks(&mut practice);
    done(context, "chart-opened", &receipt)
}

/// Same name in any spelling kept, or same birth date and a name that shares a word.
fn same_person(face: &ChartFace, wanted: &ChartOpened) -> bool {
    let names = |identity: &crate::record::kinds::identity::Identity| -> Vec<String> {
        identity.names().map(str::to_lowercase).collect()
    };
    let (theirs, mine) = (names(&face.identity), names(&wanted.identity));
    let same_name = theirs.iter().any(|n| mine.contains(n));
    let same_day = face.identity.birth_date.date.is_some()
        && face.identity.birth_date.date == wanted.identity.birth_date.date;
    same_name || same_day
}

fn list(context: &mut Context<'_>) -> Outcome<Exit> {
    let practice = context.practice()?;
    let faces = faces(&practice)?;
    if context.json() {
        let out: Vec<ChartOutput> = faces
            .iter()
            .map(|f| ChartOutput {
                chart_no: f.chart_no.clone(),
                tag: f.tag.clone(),
                name: f.identity.legal_name.clone(),
                born: born(f),
                entries: f.entries,
            })
            .collect();
        context.say_json(&out)?;
        return Ok(Exit::Done);
    }
    let mut table = Table::new(["Chart", "Name", "Born", "Entries"]);
    for face in &faces {
        table.row([
            face.chart_no.clone(),
            shown(&face.identity.legal_name),
            born(face),
            face.entries.to_string(),
        ]);
    }
    let text = if table.is_empty() { "No chart is open to you.".to_string() } else { table.render(width()) };
    context.say(&text)?;
    Ok(Exit::Done)
}

//! `visit`: a visit opened and closed, and what else belongs into it.

use super::entries::{self, form};
use super::flow::quietly;
use super::joined::refuse_joined;
use crate::cli::app::needs_word;
use crate::cli::context::{Context, add_who_args};
use crate::cli::data::add_data_arg;
use crate::cli::exit::Exit;
use crate::cli::record::{Recording, add_happened_args, done, happened, record};
use crate::practice::chart::{ChartFace, find};
use crate::practice::open::{Entry, Practice};
use crate::practice::visit::open_visit;
use crate::record::envelope::RefWhy;
use crate::trouble::{Kind, Outcome, Trouble};
use clap::{Arg, ArgAction, ArgMatches, Command};
use serde_json::{Value, json};

/// Adds the chart's number, and who is here.
pub fn chart_arg(cmd: Command) -> Command {
    add_who_args(cmd).arg(Arg::new("chart").value_name("CHART").required(true).help("Chart number"))
}

/// Adds the chart's number, which may be left out where one visit is open here, and who is here.
pub fn chart_here_arg(cmd: Command) -> Command {
    add_who_args(cmd).arg(
        Arg::new("chart")
            .value_name("CHART")
            .help("Chart number [default: the chart whose visit is open here]"),
    )
}

/// Options of `visit`: opening one, and what belongs into it.
pub fn command() -> Command {
    let open = add_data_arg(add_happened_args(chart_arg(
        Command::new("open").about("Open a visit: who the patient is, where, who is in the room"),
    )));
    let open = form("visit-open").map(|a| a.form.clap_args(open.clone())).unwrap_or(open).arg(
        Arg::new("usual").long("usual").action(ArgAction::SetTrue).conflicts_with_all(["identifiers", "present"]).help(
            "Full name and birth date were confirmed just now, and nobody else is in the room: nothing more is asked",
        ),
    );
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
        None => {
            needs_word("open, close, identity, measure, condition, own-answer, change, reason, emergency")
        }
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
    refuse_joined(&face)?;
    let asks = form("visit-open")?;
    let me = practice.session.me.code.clone();
    let usual = context.flag("usual");
    let mut start = json!({ "practitioners": [me], "room": room(&practice.station) });
    if usual {
        start["identity_confirmed"] = json!({ "identifiers": ["full-name", "birth-date"], "at": when.start });
    }
    let recording = Recording {
        form: asks.form,
        kind: "visit-opened",
        draft: None,
        chart: Some(&face.tag),
        happened: when,
        start,
    };
    let mut known = false;
    let open = |context: &mut Context<'_>| {
        record(context, &mut practice, recording, |data, _| {
            if let Some(Value::Object(confirmed)) = data.get_mut("identity_confirmed") {
                confirmed.entry("at").or_insert(json!(when.start));
                known = true;
            }
            Ok(Vec::new())
        })
    };
    let receipt = if usual { quietly(context, open) } else { open(context) }?;
    if usual && !context.json() {
        let name = crate::cli::table::shown(&face.identity.legal_name);
        context.say(&format!("Chart {}, {name}: full name and birth date confirmed.", face.chart_no))?;
    }
    if !known && !context.json() {
        let next = format!("`inkfast visit identity {}`", face.chart_no);
        context.say(&format!("Nothing says yet that identity was confirmed. Once it was: {next}"))?;
    }
    done(context, "visit-opened", &receipt)
}

/// The station is the room, but for the desk, where nobody is treated.
fn room(station: &str) -> Value {
    match station {
        "desk" => json!({ "not_done_because": "opened at the desk" }),
        room => json!(room),
    }
}

fn close(context: &mut Context<'_>) -> Outcome<Exit> {
    let when = happened(context)?;
    let mut practice = context.writing()?;
    let face = find(&practice, &context.text("chart").unwrap_or_default())?;
    let visit = visit_of(&practice, &face)?;
    let asks = form("visit-close")?;
    let kind = asks.kind;
    let recording = Recording::of(asks, Some(&face.tag), when);
    let receipt = record(context, &mut practice, recording, |data, _| {
        data.insert("visit".into(), json!(visit));
        Ok(vec![(visit, RefWhy::Visit)])
    })?;
    done(context, kind, &receipt)
}

/// The visit that is open in a chart.
pub fn visit_of(practice: &Practice, face: &ChartFace) -> Outcome<u64> {
    visit_in(&practice.chart(&face.tag)?)
}

/// The visit that is open among the entries of a chart.
pub fn visit_in(entries: &[Entry]) -> Outcome<u64> {
    open_visit(entries).ok_or_else(|| {
        Trouble::new(
            Kind::Refused,
            "No visit is open in this chart.",
            "Nothing was recorded.",
            "Open it with `inkfast visit open CHART`, then do this again.",
        )
    })
}

//! `screen`: one or more screens asked item by item.

use super::flow::{quietly, the_chart};
use crate::cli::context::{Context, add_who_args};
use crate::cli::data::add_data_arg;
use crate::cli::exit::Exit;
use crate::cli::forms;
use crate::cli::record::{Recording, add_happened_args, done, form_trouble, happened, record};
use crate::cli::table::{indented, shown, width};
use crate::practice::chart::ChartFace;
use crate::practice::open::Practice;
use crate::practice::visit::open_visit;
use crate::record::envelope::{Happened, RefWhy};
use crate::trouble::{Kind, Outcome, Trouble};
use clap::{Arg, ArgAction, Command};
use serde_json::json;

/// Options of `screen`.
pub fn command() -> Command {
    let about = "Ask a screen item by item, or several: neck, mouth, general";
    let cmd = add_who_args(Command::new("screen").about(about)).arg(
        Arg::new("which").value_name("CHART|SCREEN").action(ArgAction::Append).num_args(1..).required(true).help(
            "The chart number, where it is not the chart whose visit is open here, and which screens: neck mouth",
        ),
    );
    forms::screen::screen_args(add_data_arg(add_happened_args(cmd)))
}

/// A screen of the adopted rules.
struct Named {
    name: String,
    items: Vec<String>,
}

/// Records screens with the items of the adopted rules.
pub fn run(context: &mut Context<'_>) -> Outcome<Exit> {
    let when = happened(context)?;
    let mut practice = context.writing()?;
    let (named, screens) = named(context, &practice)?;
    let face = the_chart(context, &practice, named.as_deref())?;
    let given = |name: &str| context.matches.try_get_raw(name).ok().flatten().is_some();
    if screens.len() > 1 && (given("answer") || given("data")) {
        return Err(Trouble::input(
            "Answers to single items are given for one screen at a time.",
            "Run `inkfast screen` once for each screen that has such answers.",
        ));
    }
    let mut exit = Exit::Done;
    for screen in &screens {
        exit = one(context, &mut practice, &face, screen, when)?;
    }
    Ok(exit)
}

/// The chart that is named, if one is, and the screens. What is no screen of the rules is a chart number where
/// it stands first.
fn named(context: &Context<'_>, practice: &Practice) -> Outcome<(Option<String>, Vec<Named>)> {
    let words = context.matches.try_get_many::<String>("which").ok().flatten();
    let mut words: Vec<String> = words.map(|words| words.cloned().collect()).unwrap_or_default();
    let items = |name: &str| -> Option<Vec<String>> {
        let pointer = format!("/coverage/screen_items/{name}");
        let rules = practice.rules()?;
        rules.document.pointer(&pointer)?.as_object().map(|items| items.keys().cloned().collect())
    };
    let chart = words.first().filter(|first| items(first).is_none()).cloned();
    if chart.is_some() {
        words.remove(0);
    }
    let mut screens = Vec::new();
    for name in words {
        match items(&name) {
            Some(items) => screens.push(Named { name, items }),
            None => {
                return Err(Trouble::new(
                    Kind::NotFound,
                    format!("The adopted rules name no screen \"{}\".", shown(&name)),
                    "Nothing was recorded.",
                    "Look at `inkfast rules show`.",
                ));
            }
        }
    }
    match screens.is_empty() {
        true => Err(Trouble::new(
            Kind::NotFound,
            "No screen of the adopted rules is named.",
            "Nothing was recorded.",
            "Write it like `inkfast screen neck` or `inkfast screen CHART neck mouth`; `inkfast rules show` names them.",
        )),
        false => Ok((chart, screens)),
    }
}

fn one(
    context: &mut Context<'_>,
    practice: &mut Practice,
    face: &ChartFace,
    screen: &Named,
    when: Happened,
) -> Outcome<Exit> {
    let visit = open_visit(&practice.chart(&face.tag)?);
    let Named { name, items } = screen;
    let mut start =
        forms::screen::screen_start(name, items, context.matches, &context.now()).map_err(form_trouble)?;
    start["done_by"] = json!(practice.session.me.code);
    // Everything was asked and answered by word of mouth: nothing is left to ask about.
    let quick = context.flag("all-no");
    let answered = |word: &str| {
        let answers = start["answers"].as_array().map_or(&[][..], Vec::as_slice);
        answers
            .iter()
            .filter(|one| one["answer"] == json!(word))
            .filter_map(|one| one["item"].as_str())
            .map(|item| item.replace('-', " "))
            .collect::<Vec<_>>()
    };
    let (no, yes) = (answered("no").len(), answered("yes"));
    let recording = Recording {
        form: forms::screen::screen_of(items),
        kind: "screen",
        draft: None,
        chart: Some(&face.tag),
        happened: when,
        start,
    };
    let keep = |context: &mut Context<'_>| {
        record(context, practice, recording, |data, _| {
            if let Some(visit) = visit {
                data.entry("visit").or_insert(json!(visit));
            }
            Ok(visit.map(|v| (v, RefWhy::Visit)).into_iter().collect())
        })
    };
    let receipt = if quick { quietly(context, keep) } else { keep(context) }?;
    if quick && !context.json() {
        let yes = if yes.is_empty() { String::new() } else { format!("; yes: {}", yes.join(", ")) };
        let told = format!(
            "Chart {}: {name} screen, {} items asked, {no} answered no{yes}",
            face.chart_no,
            items.len()
        );
        context.say(&indented(&shown(&told), width(), 0))?;
    }
    done(context, "screen", &receipt)
}

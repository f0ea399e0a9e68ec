//! `screen`: a screen asked item by item.

use super::visit::chart_arg;
use crate::cli::context::Context;
use crate::cli::data::add_data_arg;
use crate::cli::exit::Exit;
use crate::cli::forms;
use crate::cli::record::{Recording, add_happened_args, done, form_trouble, happened, record};
use crate::practice::chart::find;
use crate::practice::visit::open_visit;
use crate::record::envelope::RefWhy;
use crate::trouble::{Kind, Outcome, Trouble};
use clap::{Arg, Command};
use serde_json::{Value, json};

/// Options of `screen`.
pub fn command() -> Command {
    let cmd = chart_arg(Command::new("screen").about("Ask a screen item by item: neck, mouth, general"));
    let cmd =
        cmd.arg(Arg::new("which").value_name("SCREEN").required(true).help("Which: neck, mouth, general"));
    forms::screen::screen_args(add_data_arg(add_happened_args(cmd)))
}

/// Records a screen with the items of the adopted rules.
pub fn run(context: &mut Context<'_>) -> Outcome<Exit> {
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

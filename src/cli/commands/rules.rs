//! `rules`: the practice's own rules, adopted by signature, every edition kept.

use crate::cli::app::needs_word;
use crate::cli::context::{Context, add_who_args};
use crate::cli::exit::Exit;
use crate::cli::record::{confirm_pin, done};
use crate::practice::open::Draft;
use crate::practice::rules::adopt;
use crate::record::moment::plain_date;
use crate::record::rulebook::EXAMPLE;
use crate::trouble::{Kind, Outcome, Trouble};
use clap::{Arg, Command};
use std::path::PathBuf;

/// Options of `rules`.
pub fn command() -> Command {
    let show = add_who_args(Command::new("show").about("The rules in force"));
    let example = Command::new("example").about("An example to edit; invented values, not advice");
    let adopt = add_who_args(Command::new("adopt").about("Adopt an edition of the rules by signing it")).arg(
        Arg::new("rules")
            .value_name("FILE")
            .required(true)
            .value_parser(clap::value_parser!(PathBuf))
            .help("The rules as TOML, as `inkfast rules example` prints them"),
    );
    Command::new("rules")
        .about("The practice's rules: every policy number, dated and signed")
        .subcommand(show)
        .subcommand(example)
        .subcommand(adopt)
}

/// Runs `rules`.
pub fn run(context: &mut Context<'_>) -> Outcome<Exit> {
    let Some((word, matches)) = context.matches.subcommand() else {
        return needs_word("show, example, adopt");
    };
    let mut inner = context.under(matches);
    match word {
        "show" => show(&mut inner),
        "example" => {
            inner.say(EXAMPLE.trim_end())?;
            Ok(Exit::Done)
        }
        _ => adopt_file(&mut inner),
    }
}

fn show(context: &mut Context<'_>) -> Outcome<Exit> {
    let practice = context.practice()?;
    let rules = practice.rules().cloned().ok_or_else(|| {
        Trouble::new(
            Kind::NotFound,
            "No rules are adopted.",
            "Nothing was changed.",
            "Edit the example (`inkfast rules example`) and adopt it with `inkfast rules adopt FILE`.",
        )
    })?;
    if context.json() {
        context.say_json(&rules)?;
        return Ok(Exit::Done);
    }
    context.say(&format!(
        "{} edition {}, in force from {}, adopted by {}",
        rules.name,
        rules.edition,
        plain_date(rules.effective.0),
        rules.adopted_by
    ))?;
    context.say_json(&rules.document)?;
    Ok(Exit::Done)
}

fn adopt_file(context: &mut Context<'_>) -> Outcome<Exit> {
    let Some(path) = context.path("rules") else { return needs_word("FILE") };
    let text = std::fs::read_to_string(&path).map_err(|e| Trouble::disk("read", &path, &e))?;
    let mut practice = context.writing()?;
    let rules = adopt(&text, &practice)?;
    confirm_pin(context, &practice, "rules")?;
    let now = practice.now();
    let receipt = practice.append(Draft::new(None, rules.into(), now))?;
    context.remarks(&mut practice);
    done(context, "rules", &receipt)
}

//! `rules`: the practice's own rules, adopted by signature, every edition kept.

use crate::cli::app::needs_word;
use crate::cli::context::{Context, add_who_args};
use crate::cli::exit::Exit;
use crate::cli::record::{confirm, confirm_pin, done};
use crate::cli::table::shown;
use crate::practice::open::Draft;
use crate::practice::rules::{adopt, not_adoptable};
use crate::record::kinds::register::Rules;
use crate::record::moment::plain_date;
use crate::record::rulebook::EXAMPLE;
use crate::record::rulebook::check::differences;
use crate::record::rulebook::read::file;
use crate::record::tables::{DEADLINES, RETENTION, TRADE};
use crate::trouble::{Kind, Outcome, Trouble};
use clap::{Arg, Command};
use serde_json::Value;
use std::path::PathBuf;

/// Options of `rules`.
pub fn command() -> Command {
    let file_arg = || {
        Arg::new("rules")
            .value_name("FILE")
            .required(true)
            .value_parser(clap::value_parser!(PathBuf))
            .help("The rules as TOML, as `inkfast rules example` prints them")
    };
    let show = add_who_args(Command::new("show").about("The rules in force, each value with its basis"))
        .arg(Arg::new("edition").long("edition").value_name("EDITION").help("An earlier edition"))
        .arg(
            Arg::new("section")
                .long("section")
                .value_name("SECTION")
                .help("One section: coverage, note, ..."),
        );
    let list = add_who_args(Command::new("list").about("Every edition, and when each was in force"));
    let example = Command::new("example").about("An example to edit; invented values, not advice").arg(
        Arg::new("which")
            .value_name("WHICH")
            .value_parser(["rules", "trade", "deadlines", "retention"])
            .default_value("rules")
            .help("The rules themselves, or one of the published tables that belong to them"),
    );
    let check = Command::new("check").about("Look through a rules file without adopting it").arg(file_arg());
    let adopt = add_who_args(Command::new("adopt").about("Adopt an edition of the rules by signing it"))
        .arg(file_arg());
    Command::new("rules")
        .about("The practice's rules: every policy number, dated, sourced and signed")
        .subcommand(show)
        .subcommand(list)
        .subcommand(example)
        .subcommand(check)
        .subcommand(adopt)
}

/// Runs `rules`.
pub fn run(context: &mut Context<'_>) -> Outcome<Exit> {
    let Some((word, matches)) = context.matches.subcommand() else {
        return needs_word("show, list, example, check, adopt");
    };
    let mut inner = context.under(matches);
    match word {
        "show" => show(&mut inner),
        "list" => list(&mut inner),
        "example" => {
            let text = match inner.text("which").as_deref() {
                Some("trade") => TRADE,
                Some("deadlines") => DEADLINES,
                Some("retention") => RETENTION,
                _ => EXAMPLE,
            };
            inner.say(text.trim_end())?;
            Ok(Exit::Done)
        }
        "check" => check_file(&mut inner),
        _ => adopt_file(&mut inner),
    }
}

fn none_adopted() -> Trouble {
    Trouble::new(
        Kind::NotFound,
        "No rules are adopted.",
        "Nothing was changed.",
        "Edit the example (`inkfast rules example`) and adopt it with `inkfast rules adopt FILE`.",
    )
}

fn show(context: &mut Context<'_>) -> Outcome<Exit> {
    let practice = context.practice()?;
    let rules = match context.text("edition") {
        Some(edition) => {
            practice.editions().iter().rev().find(|r| r.edition == edition).ok_or_else(|| {
                Trouble::new(
                    Kind::NotFound,
                    "No edition of that name was adopted.",
                    "Nothing was changed.",
                    "See the editions with `inkfast rules list`.",
                )
            })?
        }
        None => practice.rules().ok_or_else(none_adopted)?,
    }
    .clone();
    if context.json() {
        context.say_json(&rules)?;
        return Ok(Exit::Done);
    }
    context.say(&headline(&rules))?;
    if let Some(source) = &rules.source {
        context.say(&shown(source))?;
    }
    let only = context.text("section");
    let sections = rules.document.as_object().into_iter().flatten();
    let mut found = false;
    for (section, values) in sections {
        if section == "basis" || only.as_ref().is_some_and(|only| only != section) {
            continue;
        }
        found = true;
        context.say(&format!("\n[{section}]"))?;
        for line in section_lines(section, values, &rules.document, only.is_some()) {
            context.say(&shown(&line))?;
        }
    }
    if !found {
        return Err(Trouble::new(
            Kind::NotFound,
            "There is no section of that name in these rules.",
            "Nothing was changed.",
            "Run `inkfast rules show` to see them all.",
        ));
    }
    Ok(Exit::Done)
}

fn headline(rules: &Rules) -> String {
    format!(
        "{} edition {}, in force from {}, adopted by {}",
        shown(&rules.name),
        shown(&rules.edition),
        plain_date(rules.effective.0),
        rules.adopted_by
    )
}

/// The values of a section, one a line, each with its basis. Tables are summed up unless asked for alone.
fn section_lines(section: &str, values: &Value, document: &Value, whole: bool) -> Vec<String> {
    if section == "tables" && !whole {
        let tables = values.as_object().into_iter().flatten();
        return tables
            .map(|(name, table)| {
                let edition = table.get("edition").unwrap_or(&Value::Null);
                let read_on = table.get("read_on").and_then(Value::as_str).unwrap_or("not said");
                format!("{name}: edition {edition}, read on {read_on} (whole with --section tables)")
            })
            .collect();
    }
    let basis = |place: &str| {
        let named = document.get("basis").and_then(|b| b.get(place).or_else(|| b.get(section)));
        named.and_then(Value::as_str).map(|b| format!("   [{b}]")).unwrap_or_default()
    };
    let values = values.as_object().into_iter().flatten();
    values.map(|(name, value)| format!("{name} = {value}{}", basis(&format!("{section}.{name}")))).collect()
}

fn list(context: &mut Context<'_>) -> Outcome<Exit> {
    let practice = context.practice()?;
    let editions = practice.editions().to_vec();
    if context.json() {
        context.say_json(&editions)?;
        return Ok(Exit::Done);
    }
    if editions.is_empty() {
        return Err(none_adopted());
    }
    let now = practice.rules().map(|r| r.edition.clone());
    for rules in &editions {
        let mark = if now.as_ref() == Some(&rules.edition) { " (in force)" } else { "" };
        context.say(&format!("{}{mark}", headline(rules)))?;
    }
    Ok(Exit::Done)
}

fn read_file(context: &Context<'_>) -> Outcome<String> {
    let path = context.path("rules").unwrap_or_default();
    std::fs::read_to_string(&path).map_err(|e| Trouble::disk("read", &path, &e))
}

fn check_file(context: &mut Context<'_>) -> Outcome<Exit> {
    let text = read_file(context)?;
    let read = file(&text).map_err(not_adoptable)?;
    context.say(&format!(
        "{} edition {} can be adopted: every value is within reason and names its basis.",
        shown(&read.name),
        shown(&read.edition)
    ))?;
    Ok(Exit::Done)
}

fn adopt_file(context: &mut Context<'_>) -> Outcome<Exit> {
    let text = read_file(context)?;
    let mut practice = context.writing()?;
    let rules = adopt(&text, &practice)?;
    let now = practice.now();
    confirm(context, "rules", &read_back(&rules, practice.rules()))?;
    confirm_pin(context, &practice, "rules")?;
    let receipt = practice.append(Draft::new(None, rules.into(), now))?;
    context.remarks(&mut practice);
    done(context, "rules", &receipt)
}

/// What is signed: the edition, and what it changes.
fn read_back(rules: &Rules, before: Option<&Rules>) -> Vec<String> {
    let mut lines = vec![headline(rules)];
    let Some(before) = before else { return lines };
    let changed = differences(&before.document, &rules.document);
    lines.push(format!("Changes against edition {}: {}", before.edition, changed.len()));
    let word = |value: &Option<Value>| value.as_ref().map_or("not there".to_string(), Value::to_string);
    lines
        .extend(changed.iter().map(|(place, old, new)| format!("  {place}: {} -> {}", word(old), word(new))));
    lines
}

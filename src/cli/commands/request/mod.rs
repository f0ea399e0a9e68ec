//! `request`: records are asked for. Who asks decides what must be on file; clocks run from the day it came;
//! nothing goes out before both are looked at.

mod answer;
mod check;
mod output;
mod show;
mod steps;
mod take;

pub use answer::{Gate, after_release, before_release};
pub use output::{LackingOutput, RequestListed, RequestOutput, StepOutput, StepTaken};

use super::CliCommand;
use super::entries::form;
use crate::cli::app::needs_word;
use crate::cli::context::{Context, add_who_args};
use crate::cli::data::add_data_arg;
use crate::cli::exit::Exit;
use crate::cli::record::add_happened_args;
use crate::record::request::letter::{Letter, LetterKind};
use crate::render::letter_page;
use crate::trouble::{Outcome, Trouble};
use clap::{Arg, ArgAction, Command};
use std::path::PathBuf;

/// The command.
pub const COMMAND: CliCommand = CliCommand { word: "request", build: command, run };

const WORDS: &str = "take, list, show, check, extend, fee, return, answer, decline, close";

fn command() -> Command {
    Command::new("request")
        .about("Records are asked for: who may receive them, by when, and what went out")
        .subcommand(take::command())
        .subcommand(show::list_command())
        .subcommand(show::command())
        .subcommand(asking("check", "request-check", "Check who asks, their papers, or what the notes lack"))
        .subcommand(
            add_letter_args(asking(
                "extend",
                "request-extend",
                "More time is taken, once, by a letter inside the first time",
            ))
            .arg(
                Arg::new("void-letter")
                    .long("void-letter")
                    .action(ArgAction::SetTrue)
                    .help("Record that the letter was sent although it is void; the day that is due stays"),
            ),
        )
        .subcommand(asking("fee", "request-fee", "The fee, worked out from its parts and told beforehand"))
        .subcommand(add_letter_args(asking(
            "return",
            "request-return",
            "An authorization goes back as defective, with what would mend it",
        )))
        .subcommand(answer::command())
        .subcommand(add_letter_args(asking(
            "decline",
            "request-decline",
            "Refuse it, in whole or in part, with the letter that must say why",
        )))
        .subcommand(asking("close", "request-close", "It is over: closed, or taken back"))
}

fn run(context: &mut Context<'_>) -> Outcome<Exit> {
    let Some((word, matches)) = context.matches.subcommand() else { return needs_word(WORDS) };
    let mut inner = context.under(matches);
    match word {
        "take" => take::run(&mut inner),
        "list" => show::list(&mut inner),
        "show" => show::run(&mut inner),
        "check" => check::run(&mut inner),
        "extend" => steps::extend(&mut inner),
        "fee" => steps::fee(&mut inner),
        "return" => steps::give_back(&mut inner),
        "answer" => answer::run(&mut inner),
        "decline" => steps::decline(&mut inner),
        "close" => steps::close(&mut inner),
        _ => needs_word(WORDS),
    }
}

/// A step that asks a form about a request.
fn asking(word: &'static str, form_name: &str, about: &'static str) -> Command {
    let cmd = add_data_arg(add_happened_args(number_arg(Command::new(word).about(about))));
    match form(form_name) {
        Ok(asks) => asks.form.clap_args(cmd),
        Err(_) => cmd,
    }
}

/// Adds the number of the request, and who is here.
fn number_arg(cmd: Command) -> Command {
    add_who_args(cmd).arg(
        Arg::new("number")
            .value_name("NUMBER")
            .required(true)
            .value_parser(clap::value_parser!(u64).range(1..))
            .help("Number of the request, as in `request list`"),
    )
}

fn number(context: &Context<'_>) -> u64 {
    context.number("number").unwrap_or_default()
}

/// Adds where a letter is written to.
fn add_letter_args(cmd: Command) -> Command {
    cmd.arg(
        Arg::new("html")
            .long("html")
            .value_name("FILE")
            .value_parser(clap::value_parser!(PathBuf))
            .help("Write the letter as one page for a browser or printer"),
    )
}

/// Adds which letter is meant.
fn add_letter_kind(cmd: Command) -> Command {
    cmd.arg(
        Arg::new("letter-kind")
            .long("letter")
            .value_name("CHOICE")
            .num_args(0..=1)
            .default_missing_value("newest")
            .help(format!("Show its letter again: newest, {}", LetterKind::WORDS.join(", "))),
    )
}

/// Shows a letter, and writes it where a file was named.
fn give_letter(context: &mut Context<'_>, letter: &Letter) -> Outcome<()> {
    if let Some(file) = context.path("html") {
        std::fs::write(&file, letter_page(letter)).map_err(|e| Trouble::disk("write", &file, &e))?;
        if !context.json() {
            context.say(&format!("Written: {}. Print it, sign it, send it.", file.display()))?;
        }
    } else if !context.json() {
        context.say(&format!("\n{}", letter.text()))?;
    }
    if !letter.is_ready() {
        context.asker.say(&format!(
            "The letter is not ready: {} is not filled in. Put it into the rules, section [letters], or into the \
             letter itself.",
            letter.not_filled_in.join("; ")
        ));
    }
    Ok(())
}

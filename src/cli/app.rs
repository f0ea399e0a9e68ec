//! The command tree: which words there are, and how a run of one ends.

use super::commands;
use super::context::{Context, Opened, add_global_args, exit_of};
use super::exit::{ErrorOutput, Exit};
use super::keeper;
use super::prompt::TerminalAsker;
use super::table::Screen;
use crate::trouble::{Kind, Outcome, Trouble};
use crate::world::World;
use clap::{ArgMatches, Command};
use std::io::Write;
use std::process::ExitCode;

/// The whole command tree.
pub fn command() -> Command {
    let exits: Vec<String> = Exit::table().iter().map(|(n, _, what)| format!("  {n}  {what}")).collect();
    let tree = Command::new("inkfast")
        .version(env!("CARGO_PKG_VERSION"))
        .about("The chart that cannot be quietly changed: a private record for a hands-on practice.")
        .after_help(format!(
            "Run a command without options at a terminal and it asks what it needs.\n\nExit codes:\n{}",
            exits.join("\n")
        ))
        .subcommand_required(true)
        .arg_required_else_help(true);
    commands::all().fold(add_global_args(tree), |tree, c| tree.subcommand((c.build)().name(c.word)))
}

/// Runs the program as typed.
pub fn main() -> ExitCode {
    quiet_index_panics();
    let typed: Vec<_> = std::env::args_os().collect();
    let as_keeper = match typed.as_slice() {
        [_, word, path] if word == keeper::COMMAND => Some(keeper::run(path.as_ref())),
        [_, word, store, outside] if word == keeper::GATHER => {
            Some(keeper::gather(store.into(), outside.as_ref()))
        }
        _ => None,
    };
    if let Some(ended) = as_keeper {
        return ended.map_or(Exit::CouldNot.into(), |()| ExitCode::SUCCESS);
    }
    let matches = match command().try_get_matches_from(&typed) {
        Ok(matches) => matches,
        Err(error) => {
            let _ = error.print();
            return if error.use_stderr() { Exit::BadInput.into() } else { ExitCode::SUCCESS };
        }
    };
    let mut asker = TerminalAsker::new();
    let mut out = Screen::new(typed.iter().any(|word| word == "--json"));
    let exit = run(&matches, World::real(), &mut asker, &mut out);
    // Whoever reads the output may have gone; the work is done all the same.
    let _ = out.flush();
    exit.into()
}

/// Runs a parsed command. The trouble it ended with, if any, has been shown.
pub fn run(
    matches: &ArgMatches,
    world: World,
    asker: &mut dyn super::prompt::Asker,
    out: &mut dyn Write,
) -> Exit {
    let json = asks_json(matches);
    let word = matches.subcommand_name().unwrap_or_default();
    match attempt(matches, world, asker, out) {
        Ok(exit) => exit,
        Err(trouble) => {
            // What a check refuses to overwrite is told apart from a check that could not be made.
            let check = word == "verify" && trouble.kind != Kind::Refused;
            let exit = if check { Exit::of_check(&trouble) } else { exit_of(&trouble) };
            show(&trouble, exit, json, asker, out);
            exit
        }
    }
}

fn asks_json(matches: &ArgMatches) -> bool {
    let below =
        matches.subcommand().and_then(|(_, sub)| sub.try_get_one::<bool>("json").ok().flatten().copied());
    matches.get_flag("json") || below.unwrap_or(false)
}

/// Runs a parsed command and gives back the trouble it ended with, for a caller that shows it in its own way.
///
/// # Errors
/// As the command ends.
pub fn attempt(
    matches: &ArgMatches,
    world: World,
    asker: &mut dyn super::prompt::Asker,
    out: &mut dyn Write,
) -> Outcome<Exit> {
    let found =
        matches.subcommand().and_then(|(word, sub)| Some((commands::all().find(|c| c.word == word)?, sub)));
    let Some((command, sub)) = found else { return Ok(Exit::BadInput) };
    let mut context = Context { matches: sub, world, asker, out, opened: Opened::default() };
    let outcome = (command.run)(&mut context);
    context.give_back();
    outcome
}

fn show(
    trouble: &Trouble,
    exit: Exit,
    json: bool,
    asker: &mut dyn super::prompt::Asker,
    out: &mut dyn Write,
) {
    if json {
        if let Ok(text) = serde_json::to_string_pretty(&ErrorOutput::new(trouble, exit)) {
            let _ = writeln!(out, "{text}");
        }
        return;
    }
    asker.say(&trouble.to_string());
}

/// A panic inside the index is caught and answered by building it anew, so its message would only
/// frighten; every other panic keeps its message.
fn quiet_index_panics() {
    let usual = std::panic::take_hook();
    std::panic::set_hook(Box::new(move |info| {
        if !crate::index::is_guarding() {
            usual(info);
        }
    }));
}

/// A command that needs one more word than was given.
pub fn needs_word(words: &str) -> Outcome<Exit> {
    Err(Trouble::new(
        Kind::BadInput,
        format!("This command needs one more word: {words}."),
        "Nothing was changed.",
        "Run it with --help.",
    ))
}

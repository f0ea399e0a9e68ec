//! `unlock` and `lock`: the passphrase once at the start of the day, and forgetting it again.

use crate::cli::context::{Context, add_who_args};
use crate::cli::exit::Exit;
use crate::cli::keeper;
use crate::cli::secret::PASSPHRASE;
use crate::trouble::Outcome;
use clap::{Arg, Command};

/// Options of `unlock`.
pub fn command() -> Command {
    add_who_args(
        Command::new("unlock")
            .about("Open the store for the day, so that commands do not ask for the passphrase"),
    )
    .arg(
        Arg::new("idle")
            .long("idle")
            .value_name("MINUTES")
            .value_parser(clap::value_parser!(u64).range(1..=720))
            .help("Idle minutes after which it locks itself [default: 20]"),
    )
}

/// Opens the identity and hands it to a keeper process.
pub fn run(context: &mut Context<'_>) -> Outcome<Exit> {
    let place = context.place()?;
    let code = match context.text("as") {
        Some(code) => code,
        None if context.asker.interactive() => context
            .asker
            .line("Who is here? Staff code: ")
            .ok()
            .flatten()
            .unwrap_or_default()
            .trim()
            .to_string(),
        None => String::new(),
    };
    let me = context.identity(&place, &code)?;
    let minutes = context.number("idle").unwrap_or(keeper::IDLE_MINUTES);
    keeper::start(&place, &me, minutes)?;
    let now = context.now().at.plain();
    context.say(&format!(
        "Unlocked for {}. The clock says {now}. It locks itself after {minutes} idle minutes, or with `inkfast lock`.",
        me.code
    ))?;
    Ok(Exit::Done)
}

/// Options of `lock`.
pub fn lock_command() -> Command {
    Command::new("lock").about("Forget what was unlocked").after_help(format!(
        "After this, commands ask for the passphrase again (or take --as with --{}).",
        PASSPHRASE.file
    ))
}

/// Ends the keeper.
pub fn lock(context: &mut Context<'_>) -> Outcome<Exit> {
    let place = context.place()?;
    let said = if keeper::lock(&place) { "Locked." } else { "Nothing was unlocked." };
    context.say(said)?;
    Ok(Exit::Done)
}

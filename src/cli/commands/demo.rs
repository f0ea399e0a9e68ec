//! x
use crate::cli::context::Context;
use crate::cli::exit::Exit;
use crate::trouble::Outcome;
use clap::Command;
/// x
pub fn command() -> Command {
    Command::new("demo")
}
/// x
pub fn run(_context: &mut Context<'_>) -> Outcome<Exit> {
    Ok(Exit::Done)
}

//! `slip witness`: the newest checkpoint is shown to witnesses, who sign that they saw it and when.

use crate::cli::context::Context;
use crate::cli::exit::Exit;
use crate::cli::table::{indented, width};
use crate::ledger::scan::scan_to_newest;
use crate::ledger::witness::Refusal;
use crate::practice::witness::{Asked, PATIENCE, Round, ahead, keep_policy, last_policy, policy_of, show};
use crate::trouble::{Outcome, Trouble};
use crate::verify::witnessed::in_words;
use clap::{Arg, Command};
use serde::Serialize;
use std::path::PathBuf;
use std::time::Duration;

/// What `slip witness` prints with `--json`.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct WitnessedOutput {
    /// Number of the last entry of the checkpoint that was shown.
    pub size: u64,
    /// Each witness of the policy.
    pub witnesses: Vec<AskedOutput>,
    /// Whether those who signed are enough for the policy.
    pub met: bool,
}

/// What came of asking one witness.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct AskedOutput {
    /// Its name in the policy.
    pub name: String,
    /// When it saw the checkpoint, by its own clock; null when it did not sign.
    pub saw: Option<String>,
    /// Why it did not sign, in words.
    pub refused: Option<String>,
}

/// Options of `slip witness`.
pub fn command() -> Command {
    Command::new("witness")
        .about("Show the newest checkpoint to witnesses, who sign that they saw it and when; needs no key")
        .arg(
            Arg::new("policy")
                .long("policy")
                .value_name("FILE")
                .value_parser(clap::value_parser!(PathBuf))
                .help("The witnesses, their keys and addresses (C2SP tlog-policy) [default: as the last time]"),
        )
        .arg(
            Arg::new("timeout")
                .long("timeout")
                .value_name("SECONDS")
                .value_parser(clap::value_parser!(u64).range(1..=600))
                .default_value("20")
                .help("How long to wait for each witness"),
        )
        .after_help(
            "Sends the ledger's random label, the number of entries and one digest, nothing else, and only to the addresses in \
             the policy: https, or http on this very computer. The number of entries over time tells how busy a practice is: choose \
             witnesses that may know it.\n\
             Exit codes: 0 enough of them signed, 1 not enough, 8 a witness saw more entries than are here.",
        )
}

/// Shows the checkpoint and says what came of it.
pub fn run(context: &mut Context<'_>) -> Outcome<Exit> {
    let place = context.place()?;
    let disk = context.world.disk.clone();
    let given = match context.path("policy") {
        Some(path) => Some(std::fs::read(&path).map_err(|e| {
            Trouble::input(
                format!("Could not read {}: {e}.", path.display()),
                "Check the path, then do it again.",
            )
        })?),
        None => None,
    };
    let policy = match &given {
        Some(bytes) => policy_of(bytes, &place)?,
        None => last_policy(&*disk, &place)?,
    };
    let scan = scan_to_newest(&*disk, &place.root.join("ledger"), &place.key)?;
    if !scan.damage.is_empty() {
        return Err(Trouble::damaged("The ledger is damaged, so it is shown to nobody."));
    }
    if let Some(given) = given {
        keep_policy(&*disk, &place, &given)?;
    }
    let patience = context.number("timeout").map_or(PATIENCE, Duration::from_secs);
    let leaves = scan.leaf_hashes(scan.size()).unwrap_or_default();
    let round = show(&*disk, &place, (&scan, &leaves), &policy, patience)?;
    say(context, &round)?;
    match ahead(&round) {
        Some(trouble) => Err(trouble),
        None if round.met && (policy.quorum().is_some() || round.asked.iter().all(|a| a.seen.is_ok())) => {
            Ok(Exit::Done)
        }
        None => Ok(Exit::Wrong),
    }
}

fn say(context: &mut Context<'_>, round: &Round) -> Outcome<()> {
    if context.json() {
        let witnesses = round.asked.iter().map(|a| AskedOutput {
            name: a.name.clone(),
            saw: a.seen.as_ref().ok().map(|time| in_words(*time)),
            refused: a.seen.as_ref().err().map(Refusal::to_string),
        });
        let output = WitnessedOutput { size: round.size, witnesses: witnesses.collect(), met: round.met };
        return context.say_json(&output);
    }
    for asked in &round.asked {
        context.say(&indented(&words(asked, round.size), width(), 0))?;
    }
    let enough =
        if round.met { "That is enough for the policy." } else { "That is not enough for the policy." };
    context.say(enough)
}

/// What came of asking a witness, in words.
pub fn words(asked: &Asked, size: u64) -> String {
    match &asked.seen {
        Ok(time) => {
            format!("Witness {} saw the ledger up to number {size} on {}.", asked.name, in_words(*time))
        }
        Err(refusal) => format!("Witness {} did not sign: {refusal}.", asked.name),
    }
}

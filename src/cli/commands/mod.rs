//! One file for each command.

use super::context::Context;
use super::exit::Exit;
use crate::trouble::Outcome;
use clap::Command;

pub mod accounting;
pub mod amend;
pub mod attach;
pub mod closing;
pub mod consent;
pub mod correct;
pub mod custody;
pub mod demo;
pub mod desk;
pub mod disclosure;
pub mod dispose;
pub mod entries;
pub mod flow;
pub mod hold;
pub mod init;
pub mod joined;
pub mod keep;
pub mod lines;
pub mod may;
pub mod measures;
pub mod misfiled;
pub mod missing;
pub mod note;
pub mod off_site;
pub mod office;
pub mod open;
pub mod openings;
pub mod paper;
pub mod patient;
pub mod picture;
pub mod print;
pub mod reason;
pub mod reckon;
pub mod rehearse;
pub mod release;
pub mod request;
pub mod restore;
pub mod roster;
pub mod rules;
pub mod safecopy;
pub mod screen;
pub mod sign;
pub mod slip;
pub mod stolen;
pub mod today;
pub mod unlock;
pub mod verify;
pub mod visit;

/// A command: its word, its options, and what it does.
pub struct CliCommand {
    /// The word it is called by.
    pub word: &'static str,
    /// Its options.
    pub build: fn() -> Command,
    /// What it does.
    pub run: fn(&mut Context<'_>) -> Outcome<Exit>,
}

/// Every command, in the order of the help page.
pub fn all() -> impl Iterator<Item = &'static CliCommand> {
    OWN.iter().chain(entries::COMMANDS)
}

const OWN: &[CliCommand] = &[
    CliCommand { word: "demo", build: demo::command, run: demo::run },
    CliCommand { word: "init", build: init::command, run: init::run },
    CliCommand { word: "unlock", build: unlock::command, run: unlock::run },
    CliCommand { word: "lock", build: unlock::lock_command, run: unlock::lock },
    CliCommand { word: "desk", build: desk::command, run: desk::run },
    CliCommand { word: "patient", build: patient::command, run: patient::run },
    CliCommand { word: "today", build: today::command, run: today::run },
    CliCommand { word: "open", build: open::command, run: open::run },
    CliCommand { word: "consent", build: consent::command, run: consent::run },
    CliCommand { word: "may", build: may::command, run: may::run },
    CliCommand { word: "visit", build: visit::command, run: visit::run },
    CliCommand { word: "asked", build: flow::asked_command, run: flow::asked },
    CliCommand { word: "pause", build: flow::pause_command, run: flow::pause },
    CliCommand { word: "withdraw", build: flow::withdraw_command, run: flow::withdraw },
    CliCommand { word: "now", build: flow::now_command, run: flow::now },
    CliCommand { word: "mark", build: flow::mark_command, run: flow::mark },
    CliCommand { word: "screen", build: screen::command, run: screen::run },
    CliCommand { word: "note", build: note::command, run: note::run },
    CliCommand { word: "finding", build: lines::finding_command, run: lines::finding },
    CliCommand { word: "procedure", build: lines::procedure_command, run: lines::procedure },
    CliCommand { word: "recheck", build: lines::recheck_command, run: lines::recheck },
    CliCommand { word: "missing", build: missing::command, run: missing::run },
    CliCommand { word: "sign", build: sign::command, run: sign::run },
    CliCommand { word: "contact", build: closing::contact_command, run: closing::contact },
    CliCommand { word: "refer", build: closing::refer_command, run: closing::refer },
    CliCommand { word: "reaction", build: closing::reaction_command, run: closing::reaction },
    CliCommand { word: "attach", build: attach::command, run: attach::run },
    paper::COMMAND,
    CliCommand { word: "print", build: print::command, run: print::run },
    CliCommand { word: "measures", build: measures::command, run: measures::run },
    CliCommand { word: "openings", build: openings::command, run: openings::run },
    correct::COMMAND,
    misfiled::COMMAND,
    amend::COMMAND,
    request::COMMAND,
    office::COMMAND,
    keep::COMMAND,
    hold::HOLD,
    hold::NOTICE,
    dispose::COMMAND,
    CliCommand { word: "release", build: release::command, run: release::run },
    disclosure::COMMAND,
    accounting::COMMAND,
    CliCommand { word: "verify", build: verify::command, run: verify::run },
    CliCommand { word: "slip", build: slip::command, run: slip::run },
    picture::COMMAND,
    safecopy::COMMAND,
    rehearse::COMMAND,
    restore::COMMAND,
    stolen::COMMAND,
    CliCommand { word: "roster", build: roster::command, run: roster::run },
    custody::COMMAND,
    CliCommand { word: "rules", build: rules::command, run: rules::run },
    CliCommand { word: "reckon", build: reckon::command, run: reckon::run },
];

//! `slip stamp-request`, `stamp-keep` and `stamps`: time stamps of a third party, through files.

use crate::cli::context::{Context, add_who_args};
use crate::cli::exit::Exit;
use crate::cli::table::{indented, width};
use crate::practice::stamps::{Stamp, check, keep, request};
use crate::trouble::{Outcome, Trouble};
use clap::{Arg, Command};
use serde::Serialize;
use std::path::PathBuf;

/// A time stamp in `--json` output.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct StampOutput {
    /// Number of the last entry it vouches for.
    pub number: u64,
    /// When it was stamped, by the clock of whoever stamped; null where it does not hold.
    pub stamped: Option<String>,
    /// When the first of its certificates ends; null where it does not hold.
    pub certificates_until: Option<String>,
    /// Whether it should be stamped again now, by the practice's rules.
    pub stamp_again: bool,
    /// Why it does not hold, in words.
    pub wrong: Option<String>,
}

fn file(name: &'static str, help: &'static str) -> Arg {
    Arg::new(name).value_name("FILE").value_parser(clap::value_parser!(PathBuf)).required(true).help(help)
}

/// The three words, for `slip`.
pub fn commands() -> [Command; 3] {
    [
        add_who_args(
            Command::new("stamp-request")
                .about("Write a request for a time stamp (RFC 3161) on the newest checkpoint, to be sent by you"),
        )
        .arg(file("file", "The request to write (.tsq)")),
        add_who_args(
            Command::new("stamp-keep").about("Check the reply to such a request with openssl, and keep it with its certificates"),
        )
        .arg(file("file", "The reply (.tsr)"))
        .arg(file("chain", "The certificates up to the root, in one file (PEM)").long("chain")),
        add_who_args(Command::new("stamps").about("Check the time stamps kept, and say which should be made anew")).after_help(
            "Each is judged by openssl at its own time. Whether its root certificate deserves trust is for you to say: compare it \
             with one that you got another way. Exit codes: 0 all hold, 1 one does not.",
        ),
    ]
}

/// Writes a request.
pub fn run_request(context: &mut Context<'_>) -> Outcome<Exit> {
    let practice = context.writing()?;
    let (number, query) = request(&context.world, &practice.place, practice.scan())?;
    let path = context.path("file").unwrap_or_default();
    std::fs::write(&path, query).map_err(|e| Trouble::disk("write", &path, &e))?;
    context.say(&format!(
        "Written: {}, for all entries up to number {number}. It holds one digest. Send it to whoever stamps, then run \
         `inkfast slip stamp-keep REPLY --chain CERTIFICATES`.",
        path.display()
    ))?;
    Ok(Exit::Done)
}

/// Keeps a reply.
pub fn run_keep(context: &mut Context<'_>) -> Outcome<Exit> {
    let practice = context.writing()?;
    let [reply, chain] = ["file", "chain"].map(|name| context.path(name).unwrap_or_default());
    let stamp = keep(&*context.world.disk, &practice.place, &reply, &chain)?;
    say(context, &[output(&stamp, None, 0)])?;
    Ok(Exit::Done)
}

/// Checks what is kept.
pub fn run_check(context: &mut Context<'_>) -> Outcome<Exit> {
    let practice = context.practice()?;
    let stamps = check(&practice)?;
    let ahead = practice.rulebook()?.lists.stamps_renewed_days;
    let newest = stamps.first().map_or(0, |s| s.number);
    let now = practice.now().unix();
    let limit = ahead.map(|days| now + i64::from(days) * 86_400);
    let outputs: Vec<StampOutput> = stamps.iter().map(|s| output(s, limit, newest)).collect();
    say(context, &outputs)?;
    Ok(if stamps.iter().all(|s| s.checked.is_ok()) { Exit::Done } else { Exit::Wrong })
}

/// Only the newest stamp is made anew: it vouches for the older ones.
fn output(stamp: &Stamp, limit: Option<i64>, newest: u64) -> StampOutput {
    let times = stamp.checked.as_ref().ok();
    let ends = times.is_some_and(|(_, end)| limit.is_some_and(|limit| end.unix() <= limit));
    StampOutput {
        number: stamp.number,
        stamped: times.map(|(at, _)| format!("{} UTC", at.plain())),
        certificates_until: times.map(|(_, end)| format!("{} UTC", end.plain())),
        stamp_again: ends && stamp.number == newest,
        wrong: stamp.checked.as_ref().err().cloned(),
    }
}

fn say(context: &mut Context<'_>, stamps: &[StampOutput]) -> Outcome<()> {
    if context.json() {
        return context.say_json(&stamps);
    }
    if stamps.is_empty() {
        return context.say("No time stamp is kept.");
    }
    for stamp in stamps {
        let line = match (&stamp.stamped, &stamp.certificates_until, &stamp.wrong) {
            (Some(at), Some(until), _) => format!(
                "Number {}: all entries up to it were there on {at}, by somebody else's clock. Its certificates hold until {until}.",
                stamp.number
            ),
            (_, _, wrong) => format!(
                "Number {}: DOES NOT HOLD, {}.",
                stamp.number,
                wrong.as_deref().unwrap_or("it can't be read")
            ),
        };
        context.say(&indented(&line, width(), 0))?;
        if stamp.stamp_again {
            context.say(&indented(
                "Stamp again now: `inkfast slip stamp-request`. The new one vouches for this one too.",
                width(),
                2,
            ))?;
        }
    }
    Ok(())
}

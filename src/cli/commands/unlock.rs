//! `unlock` and `lock`: the passphrase once at the start of the day, and forgetting it again.

use crate::cli::context::{Context, add_who_args, secret_trouble};
use crate::cli::exit::Exit;
use crate::cli::keeper::pin::{Pin, unfit};
use crate::cli::keeper::{self, Begin};
use crate::cli::secret::{PASSPHRASE, PIN, Purpose, has_secret_flag, read_secret};
use crate::practice::open::Practice;
use crate::practice::place::Place;
use crate::practice::session::Session;
use crate::practice::staff::seal_out_leavers;
use crate::record::kinds::Day;
use crate::record::moment::Moment;
use crate::record::rulebook::StationRules;
use crate::record::vocab::words;
use crate::seal::identity::StaffIdentity;
use crate::trouble::{Outcome, Trouble};
use clap::{Arg, ArgAction, Command};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::path::Path;
use zeroize::Zeroizing;

/// What `unlock` prints with `--json`.
#[derive(Debug, Clone, Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct UnlockOutput {
    /// Staff code of whoever it is unlocked for.
    pub code: String,
    /// What the clock says.
    pub at: Moment,
    /// Idle minutes after which it locks itself.
    pub idle_minutes: u64,
    /// True when the short number is asked again before signing.
    pub asks_number: bool,
    /// True when the system keeps its memory out of the swap space.
    pub memory_locked: bool,
}

/// What `lock` prints with `--json`.
#[derive(Debug, Clone, Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct LockOutput {
    /// What it came to.
    pub locked: Locked,
}

words! {
    /// What locking came to.
    Locked {
        /// Everything is forgotten.
        Locked = "locked",
        /// Nothing is read any more, and some things can still be added today.
        AddsOnly = "adds-only",
        /// Nothing was unlocked.
        Nothing = "nothing",
    }
}

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
            .help("Idle minutes after which it locks itself [default: as the adopted rules say]"),
    )
    .arg(
        Arg::new("idle-seconds")
            .long("idle-seconds")
            .value_parser(clap::value_parser!(u64).range(1..=3600))
            .conflicts_with("idle")
            .hide(true),
    )
    .arg(
        Arg::new("without-pin")
            .long("without-pin")
            .action(ArgAction::SetTrue)
            .conflicts_with_all([PIN.file, PIN.fd])
            .help("Set no short number: nothing is asked again before signing"),
    )
    .after_help(
        "At a terminal a new short number (PIN) is asked for; it is asked again before a note, a release or a \
         disposal is signed. It locks itself after the idle minutes, after too many wrong numbers, when the \
         terminal it was unlocked in is closed, at log-out, and with `inkfast lock`.",
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
    let text = me.to_text();
    let station = station_rules(context, &place, me)?;
    let number = new_number(context, station.pin_digits)?;
    let salt =
        context.world.random32().map_err(|e| Trouble::disk("get random numbers for", &place.root, &e))?;
    let pin = number
        .map(|number| Pin::new(&number, salt, station.pin_tries))
        .transpose()
        .map_err(|e| Trouble::input(format!("The short number can't be kept: {e}."), "Use --without-pin."))?;
    let minutes = context.number("idle").unwrap_or(u64::from(station.idle_minutes));
    let has_pin = pin.is_some();
    let begin = Begin {
        identity: text.to_string(),
        pin,
        idle_seconds: context.number("idle-seconds").unwrap_or(minutes * 60),
        add_when_idle: station.locked_desk_may_add,
        store: absolute(&place.root)?,
        outside: absolute(&place.outside)?,
        day: Day(context.world.clock.now().local_date()),
    };
    let kept_in_memory = keeper::start(&place, &begin)?;
    let now = context.now().at;
    if context.json() {
        context.say_json(&UnlockOutput {
            code,
            at: now,
            idle_minutes: minutes,
            asks_number: has_pin,
            memory_locked: kept_in_memory,
        })?;
        return Ok(Exit::Done);
    }
    let now = now.plain();
    context.say(&format!(
        "Unlocked for {code}. The clock says {now}. It locks itself after {minutes} idle minutes, or with `inkfast lock`."
    ))?;
    context.say(&match has_pin {
        true => format!(
            "The short number is asked again before signing, releasing and disposing; {} wrong ones lock.",
            station.pin_tries
        ),
        false => format!("No short number was set: until it locks, whoever sits down here signs as {code}."),
    })?;
    if !kept_in_memory {
        context.asker.say(
            "Note: this system does not let it keep its memory out of the swap space (limit on locked memory).",
        );
    }
    Ok(Exit::Done)
}

/// What the adopted rules say about a station.
fn station_rules(context: &mut Context<'_>, place: &Place, me: StaffIdentity) -> Outcome<StationRules> {
    let session = Session::with(&context.world, place, me)?;
    let mut practice = Practice::open(&context.world, place, session, "desk")?;
    let station = practice.rulebook()?.station.clone();
    // Whoever left yesterday is let go of when the keeper of the records begins the day. If the ledger is busy, tomorrow.
    if seal_out_leavers(&mut practice).unwrap_or(false) {
        context.asker.say("Somebody's last day is over: the roles are sealed anew, without them.");
    }
    Ok(station)
}

/// The new short number: from its flag, else typed twice at a terminal; none where nobody is asked.
fn new_number(context: &mut Context<'_>, digits: u32) -> Outcome<Option<Zeroizing<String>>> {
    let flagged = has_secret_flag(context.matches, PIN);
    if !flagged && (context.flag("without-pin") || !context.asker.interactive()) {
        return Ok(None);
    }
    loop {
        let prompt = format!("A new short number of {digits} digits, for signing today");
        let number = read_secret(context.matches, PIN, &prompt, Purpose::Open, context.asker)
            .map_err(secret_trouble)?;
        if let Some(why) = unfit(&number, digits) {
            if flagged {
                return Err(Trouble::input(why, "Choose another one, or use --without-pin."));
            }
            context.asker.say(&format!("Not taken. {why}"));
            continue;
        }
        if flagged {
            return Ok(Some(number));
        }
        let again = read_secret(context.matches, PIN, "The same once more", Purpose::Open, context.asker)
            .map_err(secret_trouble)?;
        if *again == *number {
            return Ok(Some(number));
        }
        context.asker.say("Not taken: the two were not the same. Type it twice again.");
    }
}

fn absolute(path: &Path) -> Outcome<std::path::PathBuf> {
    std::path::absolute(path).map_err(|e| Trouble::disk("find the folder", path, &e))
}

/// Options of `lock`.
pub fn lock_command() -> Command {
    Command::new("lock")
        .about("Forget what was unlocked")
        .arg(
            Arg::new("add-only")
                .long("add-only")
                .action(ArgAction::SetTrue)
                .help("Read nothing any more, but let calls, answers and emergencies still be added today"),
        )
        .after_help(format!(
            "After this, commands ask for the passphrase again (or take --as with --{}). With --add-only, \
             contact, asked, pause, withdraw, visit emergency and attach still work, by chart number.",
            PASSPHRASE.file
        ))
}

/// Ends the keeper, or has it keep only what adding needs.
pub fn lock(context: &mut Context<'_>) -> Outcome<Exit> {
    let place = context.place()?;
    let locked = match context.flag("add-only") {
        true if keeper::only_add(&place)? => Locked::AddsOnly,
        false if keeper::lock(&place) => Locked::Locked,
        _ => Locked::Nothing,
    };
    if context.json() {
        context.say_json(&LockOutput { locked })?;
        return Ok(Exit::Done);
    }
    context.say(match locked {
        Locked::AddsOnly => {
            "Locked for reading. Until the day ends, contact, asked, pause, withdraw, visit emergency and attach \
             can still be added by chart number."
        }
        Locked::Locked => "Locked.",
        Locked::Nothing => "Nothing was unlocked.",
    })?;
    Ok(Exit::Done)
}

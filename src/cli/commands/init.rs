//! `init`: a new store, its owner, its recovery sheet.

use super::entries::form;
use crate::cli::context::{Context, add_who_args, secret_trouble};
use crate::cli::data::add_data_arg;
use crate::cli::exit::Exit;
use crate::cli::record::answers;
use crate::cli::secret::{NEW_PASSPHRASE, Purpose, add_secret_args, read_secret};
use crate::practice::open::Draft;
use crate::practice::place::Place;
use crate::practice::rules::adopt;
use crate::practice::setup::{Setup, init, link_to};
use crate::record::kinds::register::{EarlierLedger, RegisterOpened, Staff};
use crate::record::rulebook::EXAMPLE;
use crate::seal::age_file::Identity;
use crate::seal::sheet::{page, read_typed};
use crate::trouble::{Outcome, Trouble};
use crate::verify::store::{StorePaths, verify};
use crate::world::RealDisk;
use crate::world::{Disk, must_be_new};
use clap::{Arg, ArgAction, Command};
use serde::Serialize;
use serde_json::{Value, json};
use std::path::{Path, PathBuf};

/// A store that was set up, in `--json` output.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct InitOutput {
    /// Folder of the store.
    pub store: PathBuf,
    /// Origin of the ledger.
    pub ledger: String,
    /// File of the recovery sheet, to be printed once and deleted.
    pub recovery_sheet: PathBuf,
    /// Folder outside the store that keeps the newest checkpoint.
    pub outside: String,
    /// Entries in the ledger.
    pub entries: u64,
}

/// Options of `init`.
pub fn command() -> Command {
    let cmd = Command::new("init")
        .about("Set up a new store: the practice, its owner, the keys, the recovery sheet")
        .arg(
            Arg::new("recovery-sheet")
                .long("recovery-sheet")
                .value_name("FILE")
                .value_parser(clap::value_parser!(PathBuf))
                .help("Where to write the recovery sheet, to be printed once and deleted [default: recovery-sheet.html]"),
        )
        .arg(
            Arg::new("keep-outside")
                .long("keep-outside")
                .value_name("FOLDER")
                .help("Folder for the newest checkpoint, absolute or relative to the store [default: your own state folder]"),
        )
        .arg(
            Arg::new("goes-on-from")
                .long("goes-on-from")
                .value_name("FOLDER")
                .value_parser(clap::value_parser!(PathBuf))
                .help("The store that this one goes on from; it stays as it is, and this one says which it was"),
        )
        .arg(
            Arg::new("example-rules")
                .long("example-rules")
                .action(ArgAction::SetTrue)
                .help("Adopt the example rules as they are, to be replaced by the practice's own"),
        );
    let cmd = add_data_arg(add_secret_args(add_who_args(cmd), NEW_PASSPHRASE));
    ["staff", "practice"].iter().fold(cmd, |cmd, name| match form(name) {
        Ok(asks) => asks.form.clap_args(cmd),
        Err(_) => cmd,
    })
}

/// Sets up.
pub fn run(context: &mut Context<'_>) -> Outcome<Exit> {
    let sheet = context.path("recovery-sheet").unwrap_or_else(|| PathBuf::from("recovery-sheet.html"));
    let untouched = "It was not touched, and nothing was set up.";
    must_be_new(&*context.world.disk, &sheet, untouched, "Name another file with --recovery-sheet.")?;
    let root = context.path("store").unwrap_or_else(|| PathBuf::from("inkfast-store"));
    context.asker.say("First the owner, who keeps the records; then the practice.");
    let owner = ask(context, "staff", json!({}))?;
    let code = owner.get("code").cloned().unwrap_or_default();
    let practice = ask(context, "practice", json!({ "custodian": code }))?;
    let wrong = |e: serde_json::Error| {
        Trouble::input(format!("This can't be used: {e}."), "Correct it and do it again.")
    };
    let owner: Staff = serde_json::from_value(owner).map_err(wrong)?;
    let practice: RegisterOpened = serde_json::from_value(practice).map_err(wrong)?;
    let prompt = format!("New passphrase of {}", owner.code);
    let passphrase = read_secret(context.matches, NEW_PASSPHRASE, &prompt, Purpose::New, context.asker)
        .map_err(secret_trouble)?;
    let mut setup = Setup::new(&root, practice, owner, &passphrase);
    setup.outside = context.text("keep-outside");
    setup.earlier = earlier(context)?;
    setup.station = context.text("station").unwrap_or_else(|| "desk".to_string());
    let mut made = init(&context.world, setup)?;
    write_sheet(&made.recovery, &sheet, made.practice.place.key.name(), &made.practice.now().plain())?;
    prove_paper(context, &made.recovery, &sheet)?;
    let example = context.flag("example-rules")
        || (context.asker.interactive()
            && context.yes(
                "Adopt the example rules for now? They are invented values, to be replaced by your own.",
                true,
            )?);
    if example {
        let rules = adopt(EXAMPLE, &made.practice)?;
        let now = made.practice.now();
        made.practice.append(Draft::new(None, rules.into(), now))?;
    }
    let outside = made.practice.place.outside.display().to_string();
    if context.json() {
        context.say_json(&InitOutput {
            store: root,
            ledger: made.practice.place.key.name().to_string(),
            recovery_sheet: sheet,
            outside,
            entries: made.practice.size(),
        })?;
        return Ok(Exit::Done);
    }
    context.say(&format!(
        "The store is set up in {}.\n\
         - Recovery sheet: {}. Print it now, then delete the file. Without it, a forgotten passphrase loses every record.\n\
         - The newest checkpoint is kept outside the store in {outside}.\n\
         - Next: `inkfast unlock --as {}`, then `inkfast patient open`.",
        root.display(),
        sheet.display(),
        made.practice.session.me.code,
    ))?;
    if !example {
        context.say("- No rules are adopted yet: edit `inkfast rules example` and adopt it with `inkfast rules adopt FILE`.")?;
    }
    Ok(Exit::Done)
}

/// The store that this one goes on from: checked first, since what is not sound can't be gone on from unseen.
fn earlier(context: &mut Context<'_>) -> Outcome<Option<EarlierLedger>> {
    let Some(folder) = context.path("goes-on-from") else { return Ok(None) };
    let place = Place::open(&context.world, &folder, None)?;
    let paths = StorePaths { root: &folder, outside: &place.outside, key: &place.key };
    let report = verify(&*context.world.disk, &paths, &[], &mut |_| ())?;
    if !report.sound {
        context.asker.say(
            "Note: the earlier store does not verify as it lies there. The new one goes on from its newest good \
             checkpoint; `inkfast verify` on the earlier store says what is wrong.",
        );
    }
    link_to(&context.world, &place).map(Some)
}

fn ask(context: &mut Context<'_>, name: &str, start: Value) -> Outcome<Value> {
    answers(context, &form(name)?.form, start)
}

/// Writes the sheet so that only its owner can read the file, which must not stay.
pub(super) fn write_sheet(recovery: &Identity, sheet: &Path, origin: &str, made: &str) -> Outcome<()> {
    write_secret(sheet, page(recovery, origin, made)?.as_bytes())
}

/// Writes a new file that only its owner can read.
pub(super) fn write_secret(path: &Path, bytes: &[u8]) -> Outcome<()> {
    let trouble = |e: std::io::Error| Trouble::disk("write", path, &e);
    let file = RealDisk.create(path).map_err(trouble)?;
    file.write_at(bytes, 0).map_err(trouble)?;
    file.sync().map_err(trouble)
}

/// Set-up has already opened every file with the recovery identity; at a terminal the person also
/// shows that the paper can be read back.
fn prove_paper(context: &mut Context<'_>, recovery: &Identity, sheet: &Path) -> Outcome<()> {
    if !context.asker.interactive() {
        return Ok(());
    }
    let text = recovery.to_text();
    let last = &text[text.len() - 10..];
    context.asker.say(&format!(
        "\nThe recovery sheet is in {}. Open it in a browser, print it, and type its last ten letters from the paper.\n\
         (Type the whole line if you like; Enter alone puts this off.)",
        sheet.display()
    ));
    loop {
        let typed = context.asker.line("From the sheet: ").ok().flatten().unwrap_or_default();
        let tidy: String =
            typed.chars().filter(|c| !c.is_whitespace()).collect::<String>().to_ascii_uppercase();
        if tidy.is_empty() {
            context.asker.say(
                "Put off. Do it before the first patient: without a readable sheet nothing can be recovered.",
            );
            return Ok(());
        }
        let whole = read_typed(&typed).is_some_and(|i| i.to_text() == text);
        if whole || tidy == last {
            context.asker.say("That is right. Now delete the file.");
            return Ok(());
        }
        context.asker.say("That is not what the sheet says. Look again.");
    }
}

//! Passphrases and keys: one's own passphrase, new keys for somebody, new keys for the roles and all charts.

use crate::cli::commands::init::write_sheet;
use crate::cli::context::{Context, add_who_args, secret_trouble};
use crate::cli::exit::Exit;
use crate::cli::keeper;
use crate::cli::progress::Progress;
use crate::cli::record::{confirm_pin, done};
use crate::cli::secret::{NEW_PASSPHRASE, Purpose, add_secret_args, read_secret};
use crate::practice::open::Practice;
use crate::practice::renewal::{self, Renewed};
use crate::practice::staff;
use crate::seal::age_file::{Identity, WORK_FACTOR};
use crate::trouble::{Kind, Outcome, Trouble};
use crate::world::must_be_new;
use clap::{Arg, Command};
use std::path::PathBuf;

/// Options of `roster passphrase`.
pub fn passphrase_command() -> Command {
    let cmd = Command::new("passphrase").about("Change your own passphrase");
    add_secret_args(add_who_args(cmd), NEW_PASSPHRASE)
}

/// Changes the passphrase of whoever is here.
pub fn passphrase(context: &mut Context<'_>) -> Outcome<Exit> {
    let practice = context.practice()?;
    context.confirm_pin(&practice)?;
    let code = practice.session.me.code.clone();
    let secret = new_passphrase(context, &code)?;
    staff::new_passphrase(&practice, &secret, WORK_FACTOR)?;
    keeper::lock_for(&practice.place, &code);
    context.say(&format!(
        "The passphrase of {code} is changed. Copies of the store made before still open with the old one."
    ))?;
    Ok(Exit::Done)
}

fn new_passphrase(context: &mut Context<'_>, code: &str) -> Outcome<zeroize::Zeroizing<String>> {
    let prompt = format!("New passphrase of {code}");
    read_secret(context.matches, NEW_PASSPHRASE, &prompt, Purpose::New, context.asker).map_err(secret_trouble)
}

/// Options of `roster new-keys`.
pub fn new_keys_command() -> Command {
    let cmd =
        Command::new("new-keys").about("Give somebody new keys: their passphrase was forgotten, or seen");
    add_secret_args(add_who_args(cmd), NEW_PASSPHRASE)
        .arg(Arg::new("code").value_name("CODE").required(true).help("Staff code"))
        .arg(Arg::new("because").long("because").value_name("TEXT").required(true).help("Why"))
}

/// Gives somebody new keys.
pub fn new_keys(context: &mut Context<'_>) -> Outcome<Exit> {
    let mut practice = context.writing()?;
    let code = context.text("code").unwrap_or_default();
    let because = context.text("because").unwrap_or_default();
    let secret = new_passphrase(context, &code)?;
    confirm_pin(context, &practice, "staff")?;
    let receipt = staff::new_keys(&mut practice, &code, &because, &secret, WORK_FACTOR)?;
    keeper::lock_for(&practice.place, &code);
    context.remarks(&mut practice);
    if !context.json() {
        context.say(&format!(
            "{code} has new keys and unlocks with the new passphrase. What {code} kept as drafts opens to nobody \
             any more. If the old passphrase was seen by somebody: `inkfast roster renew`."
        ))?;
    }
    done(context, "staff", &receipt)
}

/// The option for a new recovery sheet.
pub fn sheet_arg() -> Arg {
    Arg::new("new-recovery-sheet")
        .long("new-recovery-sheet")
        .value_name("FILE")
        .value_parser(clap::value_parser!(PathBuf))
        .help("Make a new recovery sheet too, in place of the old one; to be printed once and deleted")
}

/// Options of `roster renew`.
pub fn renew_command() -> Command {
    let cmd = Command::new("renew")
        .about("New keys for the roles and all charts: somebody who left may have kept the old ones");
    add_who_args(cmd).arg(sheet_arg()).after_help(
        "Afterwards whoever left opens nothing in this store, whatever they kept of their own. Copies of the store \
         that were made before still open to them: what was known can't be made unknown.",
    )
}

/// Makes new keys.
pub fn renew(context: &mut Context<'_>) -> Outcome<Exit> {
    let mut practice = context.writing()?;
    confirm_pin(context, &practice, "keys")?;
    let renewed = make_new(context, &mut practice)?;
    done(context, "keys", &renewed.receipt)
}

/// Makes new keys, with a new recovery sheet if one was asked for, and says what that came to.
pub fn make_new(context: &mut Context<'_>, practice: &mut Practice) -> Outcome<Renewed> {
    let file = context.path("new-recovery-sheet");
    let sheet = file.as_ref().map(|_| Identity::generate());
    if let (Some(file), Some(sheet)) = (&file, &sheet) {
        let untouched = "It was not touched, and no keys were changed.";
        must_be_new(&*context.world.disk, file, untouched, "Name another file with --new-recovery-sheet.")?;
        // On paper before anything is sealed to it.
        write_sheet(sheet, file, practice.place.key.name(), &practice.now().plain())?;
    }
    let mut progress = Progress::start("New keys for the charts", None);
    let renewed = renewal::renew(practice, sheet.as_ref(), &mut |_| progress.tick(1));
    progress.done();
    let renewed = renewed.map_err(half_way)?;
    context.remarks(practice);
    if context.json() {
        return Ok(renewed);
    }
    if renewed.finished {
        context.say("An earlier attempt that was cut off is finished by this.")?;
    }
    context.say(&format!(
        "The roles and {} chart(s) have new keys. They open to: {}.\n\
         Whoever left opens nothing in this store any more. Copies of the store made before today still open to them: \
         what was known can't be made unknown.\n\
         Make a new safe copy now, and destroy the older ones where the rules let you.",
        renewed.charts,
        renewed.holders.join(", ")
    ))?;
    if let Some(file) = file {
        context.say(&format!(
            "The new recovery sheet: {}. Print it now, delete the file, and destroy the old sheet: it opens older \
             copies and nothing else.",
            file.display()
        ))?;
    }
    Ok(renewed)
}

/// A failing disk on the way leaves the old keys or the new ones, file by file.
fn half_way(trouble: Trouble) -> Trouble {
    match trouble.kind {
        Kind::Disk => Trouble {
            safe: format!("{} Everything opens as before to whoever is still here.", trouble.safe),
            next: format!(
                "{} Then run `inkfast roster renew` again: it goes on where it stopped.",
                trouble.next
            ),
            ..trouble
        },
        _ => trouble,
    }
}

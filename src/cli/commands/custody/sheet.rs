//! `custody sheet`: the page for the sealed envelope.

use crate::cli::commands::attach::refuse_existing;
use crate::cli::commands::init::write_secret;
use crate::cli::context::{Context, add_who_args};
use crate::cli::exit::Exit;
use crate::cli::secret::{RECOVERY, add_secret_args};
use crate::practice::copies::{self, Known};
use crate::practice::day::slip_words;
use crate::practice::open::Entry;
use crate::practice::setup::prove_recovery;
use crate::practice::staff::keeper_line;
use crate::record::closing::ClosingEvent;
use crate::record::kinds::Data;
use crate::record::moment::plain_date;
use crate::render::succession::{Succession, succession_page};
use crate::trouble::Outcome;
use clap::{Arg, ArgAction, Command};
use std::path::PathBuf;

/// Options.
pub fn command() -> Command {
    let many = |name: &'static str, value: &'static str, help: &'static str| {
        Arg::new(name).long(name).value_name(value).action(ArgAction::Append).help(help)
    };
    let one =
        |name: &'static str, help: &'static str| Arg::new(name).long(name).value_name("TEXT").help(help);
    let cmd = Command::new("sheet")
        .about("Write the succession sheet for the sealed envelope: what there is, where, and what to do")
        .arg(
            Arg::new("page")
                .long("page")
                .value_name("FILE")
                .required(true)
                .value_parser(clap::value_parser!(PathBuf))
                .help("The file to write, to be printed"),
        )
        .arg(one("successor", "Who is to take the records over"))
        .arg(many("copies", "WHERE", "Where another safe copy is, beside those on record; may be repeated"))
        .arg(many("tell", "WHOM", "Whom to call, with a telephone number; may be repeated"))
        .arg(one("recovery-at", "Where the recovery sheet is kept"))
        .arg(
            Arg::new("with-recovery")
                .long("with-recovery")
                .action(ArgAction::SetTrue)
                .help("Print the recovery identity on it too: typed once more from the recovery sheet, and proven to open"),
        );
    add_secret_args(add_who_args(cmd), RECOVERY)
}

/// Writes the sheet.
pub fn run(context: &mut Context<'_>) -> Outcome<Exit> {
    let file = context.path("page").unwrap_or_default();
    refuse_existing(&*context.world.disk, &file)?;
    let practice = context.practice()?;
    let recovery = match context.flag("with-recovery") {
        true => {
            let sheet = context.recovery_sheet(RECOVERY)?;
            prove_recovery(&context.world, &practice.place, &sheet)?;
            Some(sheet)
        }
        false => None,
    };
    let opened = practice.register_of(&["register-opened"])?;
    let (name, began_with) = match opened.first().and_then(Entry::data) {
        Some(Data::RegisterOpened(opened)) => {
            (format!("{}, {}", opened.practice, opened.address), opened.custodian)
        }
        _ => (String::new(), String::new()),
    };
    let many = |name: &str| {
        context.matches.get_many::<String>(name).into_iter().flatten().cloned().collect::<Vec<_>>()
    };
    // The safe copies on record, and those that nobody recorded.
    let still = copies::known(&practice)?.into_iter().filter(|copy| copy.gone.is_none());
    let made = |copy: Known| format!("{} (last made {})", copy.place, plain_date(copy.made.local_date()));
    let copies = still.map(made).chain(many("copies")).collect();
    let slip = slip_words(&practice)?;
    let root = std::path::absolute(&practice.place.root).unwrap_or_else(|_| practice.place.root.clone());
    let mut notices = practice.rulebook()?.closing.clone();
    notices.retain(|rule| rule.events.contains(&ClosingEvent::Death));
    let says = Succession {
        practice: name,
        keeper: keeper_line(&practice, &began_with),
        successor: context.text("successor"),
        store: root.display().to_string(),
        ledger: practice.place.key.name().to_string(),
        entries: slip.number,
        slip: format!("{} {}", slip.number, slip.code),
        made: practice.now().plain(),
        copies,
        recovery_at: context.text("recovery-at"),
        tell: many("tell"),
        notices,
    };
    let page = succession_page(&says, recovery.as_ref())?;
    write_secret(&file, page.as_bytes())?;
    context.say(&format!("Written: {}.", file.display()))?;
    context.say(match recovery {
        Some(_) => {
            "It opens every record. Print it now, delete the file, seal the envelope, and give it to whoever would hand \
             the records on."
        }
        None => "Print it, and put it into the sealed envelope beside the recovery sheet.",
    })?;
    context.say(
        "Make it anew when the store moves, somebody named on it changes, or a new recovery sheet is made.",
    )?;
    Ok(Exit::Done)
}

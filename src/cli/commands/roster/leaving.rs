//! Somebody leaves: what they would leave behind, and the end of their keys.

use super::keys::{make_new, sheet_arg};
use crate::cli::context::{Context, add_who_args};
use crate::cli::exit::Exit;
use crate::cli::keeper;
use crate::cli::record::{confirm_pin, done};
use crate::cli::table::{Table, shown, width};
use crate::practice::leaver::{LeftOpen, left_open, sign_off};
use crate::practice::staff;
use crate::record::moment::plain_date;
use crate::trouble::{Outcome, Trouble};
use clap::{Arg, ArgAction, Command};
use serde::Serialize;

/// What somebody would leave behind, in `--json` output.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct LeaverOutput {
    /// Staff code.
    pub code: String,
    /// What is left, drafts first.
    pub left: Vec<LeftOpen>,
    /// Number of the entry that says the list was gone through; null where it was only looked at.
    pub signed_off: Option<u64>,
}

/// Options of `roster leaver`.
pub fn leaver_command() -> Command {
    add_who_args(
        Command::new("leaver")
            .about("What somebody would leave behind: unsigned drafts, open matters, duties"),
    )
    .arg(Arg::new("code").value_name("CODE").required(true).help("Staff code"))
    .arg(
        Arg::new("sign-off")
            .long("sign-off")
            .action(ArgAction::SetTrue)
            .help("Record that the list was gone through, and what stood on it"),
    )
}

/// Shows the list of a leaver.
pub fn leaver(context: &mut Context<'_>) -> Outcome<Exit> {
    let code = context.text("code").unwrap_or_default();
    let signs = context.flag("sign-off");
    let mut practice = if signs { context.writing()? } else { context.practice()? };
    let left = left_open(&practice, &code)?;
    let signed_off = match signs {
        true => Some(sign_off(&mut practice, &code, &left)?.seq),
        false => None,
    };
    context.remarks(&mut practice);
    if context.json() {
        context.say_json(&LeaverOutput { code, left, signed_off })?;
        return Ok(Exit::Done);
    }
    context.say(&table(&code, &left))?;
    if let Some(entry) = signed_off {
        context.say(&format!("\nSigned off: entry {entry}."))?;
    }
    Ok(Exit::Done)
}

fn table(code: &str, left: &[LeftOpen]) -> String {
    if left.is_empty() {
        return format!("{code} leaves nothing unsigned and nothing open.");
    }
    let mut table = Table::new(["Chart", "No.", "Due", "What", "What to do"]);
    for one in left {
        table.row([
            one.chart.as_deref().map(shown).unwrap_or_default(),
            one.entry.map(|n| n.to_string()).unwrap_or_default(),
            one.due.map(|day| plain_date(day.0)).unwrap_or_default(),
            shown(&one.words),
            shown(&one.remedy),
        ]);
    }
    format!("What {code} would leave behind: {}\n\n{}", left.len(), table.render(width()))
}

/// Options of `roster retire`.
pub fn retire_command() -> Command {
    add_who_args(Command::new("retire").about("Somebody leaves: their key counts until the last day"))
        .arg(Arg::new("code").value_name("CODE").required(true).help("Staff code"))
        .arg(
            Arg::new("last-day")
                .long("last-day")
                .value_name("DATE")
                .required(true)
                .help("Last day on the roster"),
        )
        .arg(Arg::new("because").long("because").value_name("TEXT").required(true).help("Why"))
        .arg(Arg::new("new-keys").long("new-keys").action(ArgAction::SetTrue).help(
            "They are not to be trusted with what they may have kept: new keys for roles and charts at once",
        ))
        .arg(sheet_arg().requires("new-keys"))
}

/// Ends somebody's keys.
pub fn retire(context: &mut Context<'_>) -> Outcome<Exit> {
    let now = context.now();
    let typed = context.text("last-day").unwrap_or_default();
    let last_day = now
        .read_date(&typed)
        .map_err(|why| Trouble::input(format!("--last-day: {why}"), "Correct it and do it again."))?;
    let renews = context.flag("new-keys");
    if renews && last_day > now.today() {
        return Err(Trouble::input(
            "Whoever is not trusted does not stay until a later day.",
            "Give a --last-day of today or before with --new-keys.",
        ));
    }
    let code = context.text("code").unwrap_or_default();
    let mut practice = context.writing()?;
    let left = left_open(&practice, &code)?;
    context.asker.say(&table(&code, &left));
    confirm_pin(context, &practice, "staff")?;
    if !left.is_empty() {
        sign_off(&mut practice, &code, &left)?;
    }
    let because = context.text("because").unwrap_or_default();
    let receipt = staff::retire(&mut practice, &code, last_day, &because)?;
    if last_day <= now.today() {
        keeper::lock_for(&practice.place, &code);
    }
    context.remarks(&mut practice);
    if !context.json() {
        let after = plain_date(last_day);
        context.say(&match last_day < now.today() {
            true => format!("{code} left after {after}. What they sign does not count, and the store opens to them no more."),
            false => format!("{code} leaves after {after}. What they sign after that day does not count, and the store opens to them no more."),
        })?;
    }
    if renews {
        make_new(context, &mut practice)?;
    } else if !context.json() {
        context.say(
            "They may have kept what they could open. If they are not to be trusted with it: `inkfast roster renew`.",
        )?;
    }
    done(context, "staff", &receipt)
}

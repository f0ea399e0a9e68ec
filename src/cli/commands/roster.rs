//! `roster`: who works here, from when until when, and with which keys.

use super::entries::form;
use crate::cli::app::needs_word;
use crate::cli::context::{Context, add_who_args, secret_trouble};
use crate::cli::data::add_data_arg;
use crate::cli::exit::Exit;
use crate::cli::record::{confirm_pin, done, fill};
use crate::cli::secret::{NEW_PASSPHRASE, Purpose, add_secret_args, read_secret};
use crate::cli::table::{Table, shown, width};
use crate::practice::staff::{add, retire};
use crate::record::kinds::register::{KeyRole, Staff};
use crate::record::moment::plain_date;
use crate::seal::age_file::WORK_FACTOR;
use crate::trouble::{Outcome, Trouble};
use clap::{Arg, ArgAction, Command};
use serde_json::json;

/// Options of `roster`.
pub fn command() -> Command {
    let list = add_who_args(Command::new("list").about("Who is on the roster"));
    let new = add_data_arg(add_secret_args(
        add_who_args(Command::new("add").about("Add somebody, with keys of their own")),
        NEW_PASSPHRASE,
    ))
    .arg(
        Arg::new("opens")
            .long("opens")
            .value_name("ROLE")
            .action(ArgAction::Append)
            .value_parser(["desk", "clinical", "auditor", "custodian"])
            .help("What the person may open; may be repeated [default: desk for desk staff, else clinical]"),
    );
    let new = form("staff").map(|a| a.form.clap_args(new.clone())).unwrap_or(new);
    let gone =
        add_who_args(Command::new("retire").about("Somebody leaves: their key counts until the last day"))
            .arg(Arg::new("code").value_name("CODE").required(true).help("Staff code"))
            .arg(
                Arg::new("last-day")
                    .long("last-day")
                    .value_name("DATE")
                    .required(true)
                    .help("Last day on the roster"),
            )
            .arg(Arg::new("because").long("because").value_name("TEXT").required(true).help("Why"));
    Command::new("roster")
        .about("Who works here, and with which keys")
        .subcommand(list)
        .subcommand(new)
        .subcommand(gone)
}

/// Runs `roster`.
pub fn run(context: &mut Context<'_>) -> Outcome<Exit> {
    let Some((word, matches)) = context.matches.subcommand() else { return needs_word("list, add, retire") };
    let mut inner = context.under(matches);
    match word {
        "list" => list(&mut inner),
        "add" => join(&mut inner),
        _ => leave(&mut inner),
    }
}

fn list(context: &mut Context<'_>) -> Outcome<Exit> {
    let practice = context.practice()?;
    if context.json() {
        let staff = practice.staff().to_vec();
        context.say_json(&staff)?;
        return Ok(Exit::Done);
    }
    let mut table = Table::new(["Code", "Name", "Role", "Licence", "From", "Until"]);
    for line in practice.staff() {
        table.row([
            line.code.clone(),
            shown(&line.name),
            line.role.clone(),
            line.licence_no.clone().unwrap_or_default(),
            plain_date(line.on_roster_from.0),
            line.on_roster_last_day.map_or(String::new(), |d| plain_date(d.0)),
        ]);
    }
    context.say(&table.render(width()))?;
    Ok(Exit::Done)
}

fn join(context: &mut Context<'_>) -> Outcome<Exit> {
    let mut practice = context.writing()?;
    let data = fill(context, &practice, &form("staff")?.form, "staff", None, json!({}))?;
    let line: Staff = serde_json::from_value(data).map_err(|e| {
        Trouble::input(format!("This roster line can't be recorded: {e}."), "Correct it and do it again.")
    })?;
    let given: Vec<KeyRole> = context
        .matches
        .get_many::<String>("opens")
        .into_iter()
        .flatten()
        .filter_map(|w| KeyRole::from_word(w))
        .collect();
    let roles = match (given.is_empty(), line.licence_no.is_some()) {
        (false, _) => given,
        (true, true) => vec![KeyRole::Desk, KeyRole::Clinical],
        (true, false) => vec![KeyRole::Desk],
    };
    let prompt = format!("New passphrase of {}", line.code);
    let secret = read_secret(context.matches, NEW_PASSPHRASE, &prompt, Purpose::New, context.asker)
        .map_err(secret_trouble)?;
    let code = line.code.clone();
    confirm_pin(context, &practice, "staff")?;
    let receipt = add(&mut practice, line, roles, &secret, WORK_FACTOR)?;
    practice.drop_draft("staff", None)?;
    context.remarks(&mut practice);
    if !context.json() {
        context.say(&format!("{code} is on the roster and can unlock with their own passphrase."))?;
    }
    done(context, "staff", &receipt)
}

fn leave(context: &mut Context<'_>) -> Outcome<Exit> {
    let now = context.now();
    let typed = context.text("last-day").unwrap_or_default();
    let last_day = now
        .read_date(&typed)
        .map_err(|why| Trouble::input(format!("--last-day: {why}"), "Correct it and do it again."))?;
    let code = context.text("code").unwrap_or_default();
    let mut practice = context.writing()?;
    confirm_pin(context, &practice, "staff")?;
    let receipt = retire(&mut practice, &code, last_day, &context.text("because").unwrap_or_default())?;
    context.remarks(&mut practice);
    if !context.json() {
        context.say(&format!(
            "{code} leaves after {}. What they sign after that day does not count, and the role files no longer open to them.",
            plain_date(last_day)
        ))?;
    }
    done(context, "staff", &receipt)
}

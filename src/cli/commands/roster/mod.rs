//! `roster`: who works here, from when until when, and with which keys.

mod keys;
mod leaving;

pub use leaving::LeaverOutput;

use super::entries::form;
use crate::cli::app::needs_word;
use crate::cli::context::{Context, add_who_args, secret_trouble};
use crate::cli::data::add_data_arg;
use crate::cli::exit::Exit;
use crate::cli::record::{confirm_pin, done, fill};
use crate::cli::secret::{NEW_PASSPHRASE, Purpose, add_secret_args, read_secret};
use crate::cli::table::{Table, shown, width};
use crate::practice::licences::{Licence, licence};
use crate::practice::open::Practice;
use crate::practice::renewal::{UNFINISHED, unfinished};
use crate::practice::staff::{add, change};
use crate::record::kinds::register::{KeyRole, Staff};
use crate::record::moment::plain_date;
use crate::seal::age_file::WORK_FACTOR;
use crate::trouble::{Kind, Outcome, Trouble};
use clap::{Arg, ArgAction, Command};
use serde_json::{Value, json};

/// Options of `roster`.
pub fn command() -> Command {
    let list = add_who_args(Command::new("list").about("Who is on the roster, and whose licence runs out"));
    let new = add_data_arg(add_secret_args(
        add_who_args(Command::new("add").about("Add somebody, with keys of their own")),
        NEW_PASSPHRASE,
    ))
    .arg(opens_arg(
        "What the person may open; may be repeated [default: desk for desk staff, else clinical]",
    ));
    let new = with_form(new, &[]);
    let changed = add_data_arg(add_who_args(
        Command::new("change")
            .about("Somebody's line changes: licence renewed, name, duties, what they open"),
    ))
    .arg(Arg::new("who").value_name("CODE").required(true).help("Staff code"))
    .arg(opens_arg("What the person may open from now on, all of it; may be repeated [default: as before]"));
    // Who somebody is and since when is not changed.
    let changed = with_form(changed, &["code", "from", "last-day"]);
    Command::new("roster")
        .about("Who works here, and with which keys")
        .subcommand(list)
        .subcommand(new)
        .subcommand(changed)
        .subcommand(keys::passphrase_command())
        .subcommand(keys::new_keys_command())
        .subcommand(leaving::leaver_command())
        .subcommand(leaving::retire_command())
        .subcommand(keys::renew_command())
}

fn opens_arg(help: &'static str) -> Arg {
    Arg::new("opens")
        .long("opens")
        .value_name("ROLE")
        .action(ArgAction::Append)
        .value_parser(["desk", "clinical", "auditor", "custodian"])
        .help(help)
}

/// The options of a roster line, without some.
fn with_form(cmd: Command, without: &[&str]) -> Command {
    let Ok(asks) = form("staff") else { return cmd };
    let mut form = asks.form;
    form.questions.retain(|question| !without.contains(&question.flag));
    form.clap_args(cmd)
}

/// Runs `roster`.
pub fn run(context: &mut Context<'_>) -> Outcome<Exit> {
    let Some((word, matches)) = context.matches.subcommand() else {
        return needs_word("list, add, change, passphrase, new-keys, leaver, retire, renew");
    };
    let mut inner = context.under(matches);
    match word {
        "list" => list(&mut inner),
        "add" => join(&mut inner),
        "change" => changed(&mut inner),
        "passphrase" => keys::passphrase(&mut inner),
        "new-keys" => keys::new_keys(&mut inner),
        "leaver" => leaving::leaver(&mut inner),
        "retire" => leaving::retire(&mut inner),
        _ => keys::renew(&mut inner),
    }
}

fn list(context: &mut Context<'_>) -> Outcome<Exit> {
    let practice = context.practice()?;
    if context.json() {
        let staff = practice.staff().to_vec();
        context.say_json(&staff)?;
        return Ok(Exit::Done);
    }
    let today = practice.now().local_date();
    let mut table =
        Table::new(["Code", "Name", "Role", "Licence", "Licence until", "Opens", "From", "Until"]);
    for line in practice.staff() {
        table.row([
            line.code.clone(),
            shown(&line.name),
            line.role.clone(),
            line.licence_no.clone().unwrap_or_default(),
            line.licence_last_day.map_or(String::new(), |d| plain_date(d.0)),
            opens(&practice, &line.code),
            plain_date(line.on_roster_from.0),
            line.on_roster_last_day.map_or(String::new(), |d| plain_date(d.0)),
        ]);
    }
    context.say(&table.render(width()))?;
    for line in practice.staff() {
        match licence(&practice, line, today)? {
            Licence::Over(day) => context.say(&format!(
                "{}: the licence RAN OUT on {}. What {} signs is labelled so; renewed: inkfast roster change {} \
                 --licence-last-day DATE",
                line.code,
                plain_date(day),
                line.code,
                line.code
            ))?,
            Licence::Ends(day) => {
                context.say(&format!("{}: the licence ends on {}.", line.code, plain_date(day)))?;
            }
            Licence::Holds => {}
        }
    }
    if unfinished(&practice) {
        context.say(UNFINISHED)?;
    }
    Ok(Exit::Done)
}

/// What somebody's keys open, in words.
fn opens(practice: &Practice, code: &str) -> String {
    let roles = practice.keys().newest(code).map(|key| key.roles.clone()).unwrap_or_default();
    let words: Vec<&str> = roles.iter().map(|role| role.word()).collect();
    words.join(", ")
}

/// The roles given with --opens.
fn given_roles(context: &Context<'_>) -> Vec<KeyRole> {
    let given = context.matches.get_many::<String>("opens").into_iter().flatten();
    given.filter_map(|word| KeyRole::from_word(word)).collect()
}

fn join(context: &mut Context<'_>) -> Outcome<Exit> {
    let mut practice = context.writing()?;
    let data = fill(context, &practice, &form("staff")?.form, "staff", None, json!({}))?;
    let line: Staff = serde_json::from_value(data).map_err(|e| {
        Trouble::input(format!("This roster line can't be recorded: {e}."), "Correct it and do it again.")
    })?;
    let given = given_roles(context);
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

fn changed(context: &mut Context<'_>) -> Outcome<Exit> {
    let mut practice = context.writing()?;
    let code = context.text("who").unwrap_or_default();
    let Some(line) = practice.staff_line(&code).cloned() else { return Err(unknown()) };
    let mut start = serde_json::to_value(&line)
        .map_err(|e| Trouble::input(format!("This line can't be read: {e}."), "Tell the makers."))?;
    if let Value::Object(fields) = &mut start {
        // The reason is that of this change, not of the last one.
        fields.remove("because");
    }
    let form = form("staff")?.form;
    let data = fill(context, &practice, &form, "staff-change", None, start)?;
    let line: Staff = serde_json::from_value(data).map_err(|e| {
        Trouble::input(format!("This roster line can't be recorded: {e}."), "Correct it and do it again.")
    })?;
    let roles = Some(given_roles(context)).filter(|roles| !roles.is_empty());
    confirm_pin(context, &practice, "staff")?;
    let fewer = roles.as_ref().is_some_and(|roles| {
        practice.keys().newest(&code).is_some_and(|key| key.roles.iter().any(|role| !roles.contains(role)))
    });
    let receipt = change(&mut practice, line, roles)?;
    practice.drop_draft("staff-change", None)?;
    context.remarks(&mut practice);
    if fewer && !context.json() {
        context.say(&format!(
            "What {code} opens is less from now on. Whoever is not trusted with what they opened before may have \
             kept it: `inkfast roster renew` makes new keys."
        ))?;
    }
    done(context, "staff", &receipt)
}

fn unknown() -> Trouble {
    Trouble::new(
        Kind::NotFound,
        "Nobody with this staff code is on the roster.",
        "Nothing was written.",
        "Look at `inkfast roster list`.",
    )
}

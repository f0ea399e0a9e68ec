//! `custody`: the records pass to another keeper; the sheet for the sealed envelope, and who has to be told by when.

mod sheet;

use super::CliCommand;
use super::entries::form;
use crate::cli::app::needs_word;
use crate::cli::context::{Context, add_who_args, secret_trouble};
use crate::cli::data::add_data_arg;
use crate::cli::exit::Exit;
use crate::cli::record::{answers, confirm_pin, done};
use crate::cli::secret::{NEW_PASSPHRASE, Purpose, RECOVERY, add_secret_args, read_secret};
use crate::cli::table::{Table, indented, shown, width};
use crate::practice::custody::{Passing, due, given, hand_over, newest, open_with_sheet, take_over};
use crate::practice::lists::due_words;
use crate::practice::open::Practice;
use crate::record::closing::{ClosingEvent, NoticeDue};
use crate::record::kinds::Day;
use crate::record::kinds::register::Staff;
use crate::record::moment::{Date, plain_date};
use crate::seal::age_file::WORK_FACTOR;
use crate::trouble::{Outcome, Trouble};
use clap::{Arg, ArgAction, Command};
use serde::Serialize;
use serde_json::json;

/// Notices on a change of keeper, in `--json` output.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct NoticesOutput {
    /// What happened.
    pub event: ClosingEvent,
    /// Day of the hand-over.
    pub on: Day,
    /// Number of the hand-over; null where it was only asked what would be due.
    pub hand_over: Option<u64>,
    /// The notices, the earliest first.
    pub notices: Vec<NoticeDue>,
}

/// The command.
pub const COMMAND: CliCommand = CliCommand { word: "custody", build: command, run };

fn command() -> Command {
    let over = Command::new("hand-over").about("You hand the records to somebody on the roster").arg(
        Arg::new("to")
            .long("to")
            .value_name("CODE")
            .required(true)
            .help("Staff code of who keeps them from now on"),
    );
    let take = Command::new("take-over")
        .about("Take the records over with the recovery sheet, when their keeper no longer can")
        .arg(
            Arg::new("station")
                .long("station")
                .value_name("PLACE")
                .env("INKFAST_STATION")
                .help("Where this is"),
        );
    let take = add_data_arg(add_secret_args(add_secret_args(take, RECOVERY), NEW_PASSPHRASE));
    let take = form("staff").map(|asks| asks.form.clap_args(take.clone())).unwrap_or(take);
    let notices = add_who_args(
        Command::new("notices").about("Who has to be told that the records pass on, and by when"),
    )
    .arg(event_arg().required(false))
    .arg(
        Arg::new("on")
            .long("on")
            .value_name("DATE")
            .requires("event")
            .help("Day of the hand-over [default: today]"),
    );
    let told = add_who_args(Command::new("told").about("One of these notices was given"))
        .arg(Arg::new("notice").value_name("NAME").required(true).help("Its name, as listed"))
        .arg(
            Arg::new("how")
                .long("words")
                .value_name("TEXT")
                .required(true)
                .help("How, to whom, on which day"),
        );
    Command::new("custody")
        .about("The records pass to another keeper")
        .subcommand(sheet::command())
        .subcommand(with_passing(add_who_args(over)))
        .subcommand(with_passing(take))
        .subcommand(notices)
        .subcommand(told)
}

fn event_arg() -> Arg {
    Arg::new("event")
        .long("event")
        .value_name("WORD")
        .required(true)
        .value_parser(ClosingEvent::WORDS.to_vec())
        .help("What happened")
}

fn with_passing(cmd: Command) -> Command {
    let needed = |id: &'static str, name: &'static str, help: &'static str| {
        Arg::new(id).long(name).value_name("TEXT").required(true).help(help)
    };
    cmd.arg(event_arg())
        .arg(needed("reason", "reason", "Why, in words"))
        .arg(Arg::new("on").long("on").value_name("DATE").help("Day of the hand-over [default: today]"))
        .arg(needed("kept-at", "kept-at", "Where the records are kept from then on"))
        .arg(
            Arg::new("told")
                .long("told")
                .value_name("WHOM")
                .action(ArgAction::Append)
                .help("Who was told already; may be repeated"),
        )
}

fn run(context: &mut Context<'_>) -> Outcome<Exit> {
    let Some((word, matches)) = context.matches.subcommand() else {
        return needs_word("sheet, hand-over, take-over, notices, told");
    };
    let mut inner = context.under(matches);
    match word {
        "sheet" => sheet::run(&mut inner),
        "hand-over" => over(&mut inner),
        "take-over" => take(&mut inner),
        "notices" => list(&mut inner),
        _ => told(&mut inner),
    }
}

fn day(context: &Context<'_>) -> Outcome<Date> {
    let now = context.now();
    let Some(typed) = context.text("on") else { return Ok(now.today()) };
    now.read_date(&typed).map_err(|why| Trouble::input(format!("--on: {why}"), "Correct it and do it again."))
}

fn event(context: &Context<'_>) -> Option<ClosingEvent> {
    context.text("event").and_then(|word| ClosingEvent::from_word(&word))
}

fn passing(context: &Context<'_>) -> Outcome<Passing> {
    let event = event(context).ok_or_else(|| Trouble::input("What happened?", "Give it with --event."))?;
    Ok(Passing {
        event,
        because: context.text("reason").unwrap_or_default(),
        on: day(context)?,
        kept_at: context.text("kept-at").unwrap_or_default(),
        told: context.matches.get_many::<String>("told").into_iter().flatten().cloned().collect(),
    })
}

fn over(context: &mut Context<'_>) -> Outcome<Exit> {
    let passing = passing(context)?;
    let to = context.text("to").unwrap_or_default();
    let mut practice = context.writing()?;
    confirm_pin(context, &practice, "keys")?;
    let from = practice.session.me.code.clone();
    let receipt = hand_over(&mut practice, &to, &passing)?;
    context.remarks(&mut practice);
    if !context.json() {
        context.say(&format!(
            "{to} keeps the records now and opens everything; {from} changes no keys any more.\n\
             {from} and the old recovery sheet still open what they opened. When {from} goes, {to} does:\n\
             - inkfast roster retire {from} --last-day DATE --because TEXT\n\
             - inkfast roster renew --new-recovery-sheet FILE\n\
             - inkfast verify, and compare with the newest slip"
        ))?;
        say_notices(context, &practice)?;
    }
    done(context, "hand-over", &receipt)
}

fn take(context: &mut Context<'_>) -> Outcome<Exit> {
    let passing = passing(context)?;
    let place = context.place()?;
    let station = context.text("station").unwrap_or_else(|| "desk".to_string());
    let typed = context.recovery_sheet(RECOVERY)?;
    let mut practice = open_with_sheet(&context.world, &place, &typed, &station)?;
    let code = context.text("code").unwrap_or_default();
    let known = practice.keys().newest(&code).is_some();
    let (code, receipt) = if known {
        let receipt = take_over(&mut practice, &code, None, &passing)?;
        (code, receipt)
    } else {
        let data = answers(context, &form("staff")?.form, json!({}))?;
        let line: Staff = serde_json::from_value(data).map_err(|e| {
            Trouble::input(format!("This roster line can't be recorded: {e}."), "Correct it and do it again.")
        })?;
        let prompt = format!("New passphrase of {}", line.code);
        let secret = read_secret(context.matches, NEW_PASSPHRASE, &prompt, Purpose::New, context.asker)
            .map_err(secret_trouble)?;
        let code = line.code.clone();
        let receipt = take_over(&mut practice, &code, Some((line, &secret, WORK_FACTOR)), &passing)?;
        (code, receipt)
    };
    context.remarks(&mut practice);
    if !context.json() {
        context.say(&format!(
            "{code} keeps the records now, and unlocks with their own passphrase: inkfast unlock --as {code}.\n\
             The recovery sheet has been in use. As soon as there is time, {code} does:\n\
             - inkfast verify, and compares with the newest slip\n\
             - inkfast roster retire CODE, for whoever kept the records before, if they do not come back\n\
             - inkfast roster renew --new-recovery-sheet FILE",
        ))?;
        say_notices(context, &practice)?;
    }
    done(context, "hand-over", &receipt)
}

fn say_notices(context: &mut Context<'_>, practice: &Practice) -> Outcome<()> {
    let Some((_, Some(event), on)) = newest(practice)? else { return Ok(()) };
    let notices = due(practice, event, on)?;
    context.say(&format!("\n{}", table(practice, &notices)))
}

fn table(practice: &Practice, notices: &[NoticeDue]) -> String {
    if notices.is_empty() {
        return "The adopted rules name no notices for this. Ask the board; add what it asks for to the rules file \
                ([[closing]])."
            .to_string();
    }
    let off = crate::practice::lists::days_off(practice);
    let mut table = Table::new(["By", "Whom", "What they are told", "Name", "Done"]);
    for one in notices {
        let rule = &one.rule;
        let mut says = rule.says.clone();
        if let Some(months) = rule.patients_of_months {
            says.push_str(&format!(" (patients of the last {months} months)"));
        }
        if let Some(check) = &rule.check_first {
            says.push_str(&format!(" [check first: {check}]"));
        }
        table.row([
            due_words(one.due.0, &off),
            rule.whom.word().to_string(),
            shown(&says),
            shown(&rule.id),
            one.done.map_or("not yet".to_string(), |seq| format!("entry {seq}")),
        ]);
    }
    let sources: Vec<String> = notices
        .iter()
        .map(|one| format!("{}: {}, read {}", one.rule.id, one.rule.source, plain_date(one.rule.read_on.0)))
        .map(|line| indented(&shown(&line), width(), 2))
        .collect();
    format!("To be told\n{}\nBy these rules:\n{}", table.render(width()), sources.join("\n"))
}

fn list(context: &mut Context<'_>) -> Outcome<Exit> {
    let practice = context.practice()?;
    let (hand_over, event, on) = match event(context) {
        Some(event) => (None, event, day(context)?),
        None => match newest(&practice)? {
            Some((seq, Some(event), on)) => (Some(seq), event, on),
            _ => {
                return Err(Trouble::input(
                    "The records have not passed to anybody yet.",
                    "Ask what would be due with --event WORD --on DATE.",
                ));
            }
        },
    };
    let notices = due(&practice, event, on)?;
    if context.json() {
        context.say_json(&NoticesOutput { event, on: Day(on), hand_over, notices })?;
        return Ok(Exit::Done);
    }
    context.say(&table(&practice, &notices))?;
    Ok(Exit::Done)
}

fn told(context: &mut Context<'_>) -> Outcome<Exit> {
    let mut practice = context.writing()?;
    let (id, how) = (context.text("notice").unwrap_or_default(), context.text("how").unwrap_or_default());
    let receipt = given(&mut practice, &id, &how)?;
    context.remarks(&mut practice);
    done(context, "office-file", &receipt)
}

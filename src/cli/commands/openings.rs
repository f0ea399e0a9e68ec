//! `openings`: who opened a chart, when and why; for the keeper of the records, all charts, and the monthly look.

use super::print::output;
use super::reason::{add_why_args, record_look};
use crate::cli::context::{Context, add_who_args};
use crate::cli::exit::Exit;
use crate::cli::record::done;
use crate::cli::table::{Table, indented, shown, width};
use crate::practice::chart::find;
use crate::practice::emergency;
use crate::practice::open::{Entry, Practice};
use crate::practice::openings::{Answered, Looked, Which, look, month, only_keeper, reviewed, sign_off};
use crate::record::kinds::Day;
use crate::record::kinds::register::SeenAs;
use crate::record::moment::{Date, plain_date};
use crate::record::openings::{Finding, Month, Opening, Severity};
use crate::trouble::{Kind, Outcome, Trouble};
use clap::{Arg, ArgAction, Command};
use serde::Serialize;

/// Openings across charts, in `--json` output.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct OpeningsOutput {
    /// First day; null: from the first entry on.
    pub from: Option<Day>,
    /// Last day; null: until now.
    pub until: Option<Day>,
    /// Number of the entry that signed the month off; null where it was not, or no month was asked about.
    pub signed_off: Option<u64>,
    /// The openings, the earliest first.
    pub openings: Vec<Opening>,
    /// What stands out, what matters most first.
    pub findings: Vec<Finding>,
}

/// Options of `openings`.
pub fn command() -> Command {
    let option = |name: &'static str, value: &'static str, help: &'static str| {
        Arg::new(name).long(name).value_name(value).help(help)
    };
    let cmd =
        add_who_args(Command::new("openings").about("Who opened a chart, when and why, and what stands out"))
            .arg(
                Arg::new("chart")
                    .value_name("CHART")
                    .help("Chart number [default: all charts of this month, for the keeper of the records]"),
            );
    add_why_args(cmd)
        .arg(option("from", "DATE", "First day"))
        .arg(option("until", "DATE", "Last day"))
        .arg(option("by", "CODE", "Only what this person opened"))
        .subcommand(review_command())
        .subcommand(emergency_command())
}

fn review_command() -> Command {
    let answer = |name: &'static str, value: &'static str, help: &'static str| {
        Arg::new(name).long(name).value_name(value).action(ArgAction::Append).help(help)
    };
    add_who_args(
        Command::new("review").about("The monthly look of the keeper of the records, and its sign-off"),
    )
    .arg(Arg::new("month").long("month").value_name("YYYY-MM").help("The month [default: the last one]"))
    .arg(answer("fine", "KEY=REASON", "Seen, and fine because; KEY as listed, or its number; repeatable"))
    .arg(answer("follow-up", "KEY=WHAT", "To be followed up; KEY as listed, or its number; repeatable"))
    .arg(
        Arg::new("sign-off")
            .long("sign-off")
            .action(ArgAction::SetTrue)
            .help("Sign the month off; everything that stands out must be answered"),
    )
}

/// Lists openings.
pub fn run(context: &mut Context<'_>) -> Outcome<Exit> {
    if let Some(("review", matches)) = context.matches.subcommand() {
        return review(&mut context.under(matches));
    }
    if let Some(("emergency", matches)) = context.matches.subcommand() {
        return emergencies(&mut context.under(matches));
    }
    let (from, until) = (day(context, "from")?, day(context, "until")?);
    let which = Which { chart: None, from, until, by: context.text("by") };
    match context.text("chart") {
        Some(chart) => of_chart(context, &chart, which),
        None => of_all(context, which),
    }
}

fn day(context: &Context<'_>, name: &str) -> Outcome<Option<Date>> {
    let now = context.now();
    let read = |text: String| {
        now.read_date(text.trim())
            .map_err(|why| Trouble::input(format!("--{name}: {why}"), "Correct it and do it again."))
    };
    context.text(name).map(read).transpose()
}

fn of_chart(context: &mut Context<'_>, chart: &str, which: Which) -> Outcome<Exit> {
    let mut practice = context.writing()?;
    let face = find(&practice, chart)?;
    let entries = practice.chart(&face.tag)?;
    record_look(context, &mut practice, &face, &entries)?;
    let looked = look(&practice, &Which { chart: Some(face.tag.clone()), ..which })?;
    if context.json() {
        let entries = practice.chart(&face.tag)?;
        let listed = |e: &&Entry| looked.openings.iter().any(|o| o.entry == e.leaf.seq);
        let out: Vec<_> = entries.iter().filter(listed).map(output).collect();
        context.say_json(&out)?;
        return Ok(Exit::Done);
    }
    if looked.openings.is_empty() {
        context.say("Nobody opened this chart outside its visits.")?;
        return Ok(Exit::Done);
    }
    context.say(&table(&looked, false))?;
    Ok(Exit::Done)
}

fn of_all(context: &mut Context<'_>, mut which: Which) -> Outcome<Exit> {
    let practice = context.practice()?;
    only_keeper(&practice)?;
    if which.from.is_none() && which.until.is_none() {
        which.from = Some(practice.now().local_date().first_of_month());
    }
    let looked = look(&practice, &which)?;
    let (from, until) = (which.from.map(Day), which.until.map(Day));
    show(context, &looked, from, until, None)
}

/// Shows openings and what stands out.
fn show(
    context: &mut Context<'_>,
    looked: &Looked,
    from: Option<Day>,
    until: Option<Day>,
    signed_off: Option<u64>,
) -> Outcome<Exit> {
    if context.json() {
        let (openings, findings) = (looked.openings.clone(), looked.findings.clone());
        context.say_json(&OpeningsOutput { from, until, signed_off, openings, findings })?;
        return Ok(Exit::Done);
    }
    let word = |day: Option<Day>, none: &str| day.map_or(none.to_string(), |day| plain_date(day.0));
    context.say(&format!(
        "Openings from {} until {}: {}",
        word(from, "the first entry"),
        word(until, "now"),
        looked.openings.len()
    ))?;
    if !looked.openings.is_empty() {
        context.say(&format!("\n{}", table(looked, true)))?;
    }
    context.say(&stands_out(&looked.findings))?;
    if looked.charts_not_opened > 0 {
        context.say(&format!(
            "\n{} chart(s) with openings do not open to you and are not listed.",
            looked.charts_not_opened
        ))?;
    }
    if let Some(entry) = signed_off {
        context.say(&format!("\nSigned off: entry {entry}."))?;
    }
    Ok(Exit::Done)
}

fn table(looked: &Looked, with_chart: bool) -> String {
    let mut heads = vec!["No.", "When", "Who"];
    heads.extend(with_chart.then_some("Chart"));
    heads.extend(["Why", "Stands out"]);
    let mut table = Table::new(heads);
    for opening in &looked.openings {
        let of = looked.findings.iter().filter(|finding| finding.entries.contains(&opening.entry));
        let marks: Vec<String> = of.map(|finding| finding.id.word().replace('-', " ")).collect();
        let mut row = vec![opening.entry.to_string(), opening.at.plain(), opening.by.clone()];
        row.extend(with_chart.then(|| shown(&opening.chart)));
        row.extend([shown(&opening.reason()), marks.join(", ")]);
        table.row(row);
    }
    table.render(width())
}

fn stands_out(findings: &[Finding]) -> String {
    if findings.is_empty() {
        return "\nNothing stands out.".to_string();
    }
    let mut out = vec!["\nSTANDS OUT".to_string()];
    for (number, finding) in findings.iter().enumerate() {
        let first = if finding.severity == Severity::First { "LOOK AT THIS FIRST: " } else { "" };
        let words = format!("{}. {first}{}", number + 1, shown(&finding.words));
        out.push(indented(&words, width(), 2));
        out.push(indented(&format!("-> {}", finding.remedy), width(), 6));
        out.push(indented(&format!("key: {}", shown(&finding.key)), width(), 6));
    }
    out.join("\n")
}

/// The monthly look, and its sign-off.
fn review(context: &mut Context<'_>) -> Outcome<Exit> {
    let which = which_month(context)?;
    let mut practice = if context.flag("sign-off") { context.writing()? } else { context.practice()? };
    let looked = month(&practice, which)?;
    let (from, until) = which.days();
    let signed = reviewed(&practice)?.get(&which).copied();
    let mut answers = given(context, &looked.findings)?;
    if !context.flag("sign-off") {
        if !answers.is_empty() && !context.asker.interactive() {
            return Err(Trouble::input(
                "Answers are kept when the month is signed off.",
                "Give --sign-off with them, and an answer to everything that stands out.",
            ));
        }
        show(context, &looked, Some(from), Some(until), signed)?;
        let over = which.is_over(practice.now().local_date());
        if signed.is_some() || !over || !context.yes("Answer now, and sign the month off?", false)? {
            return Ok(Exit::Done);
        }
    }
    ask(context, &looked.findings, &mut answers)?;
    let receipt = sign_off(&mut practice, which, &answers)?;
    context.remarks(&mut practice);
    say_follow_up(context, &practice, &answers);
    done(context, "check-made", &receipt)
}

fn which_month(context: &Context<'_>) -> Outcome<Month> {
    let Some(text) = context.text("month") else {
        let first = context.now().today().first_of_month();
        let last = first.yesterday().map_err(|_| Trouble::input("No month.", "Give --month YYYY-MM."))?;
        return Ok(Month::of(last));
    };
    Month::parse(&text)
        .ok_or_else(|| Trouble::input("--month is not a month like 2025-02.", "Correct it and do it again."))
}

/// The answers given with the command.
fn given(context: &Context<'_>, findings: &[Finding]) -> Outcome<Vec<Answered>> {
    let mut answers: Vec<Answered> = Vec::new();
    for (name, seen) in [("fine", SeenAs::Fine), ("follow-up", SeenAs::FollowUp)] {
        for text in context.matches.get_many::<String>(name).into_iter().flatten() {
            let (key, words) = text.split_once('=').map(|(k, w)| (k.trim(), w.trim())).unwrap_or((text, ""));
            if words.is_empty() {
                return Err(Trouble::input(
                    format!("--{name} {key} says nothing behind the equals sign."),
                    "Write it like --fine 2=\"billing of 3 March\".",
                ));
            }
            let by_number = key.parse::<usize>().ok().and_then(|n| findings.get(n.checked_sub(1)?));
            let key = by_number.map_or(key.to_string(), |finding| finding.key.clone());
            if answers.iter().any(|answer| answer.key == key) {
                return Err(Trouble::input(format!("{key} is answered twice."), "Answer it once."));
            }
            answers.push(Answered { key, seen, words: words.to_string() });
        }
    }
    Ok(answers)
}

/// Asks for what has no answer yet.
fn ask(context: &mut Context<'_>, findings: &[Finding], answers: &mut Vec<Answered>) -> Outcome<()> {
    if !context.asker.interactive() {
        return Ok(());
    }
    let stopped = || {
        Trouble::new(
            Kind::Refused,
            "The look was stopped.",
            "Nothing was recorded.",
            "Run it again when there is time.",
        )
    };
    for finding in findings {
        if answers.iter().any(|answer| answer.key == finding.key) {
            continue;
        }
        context.asker.say(&indented(&shown(&finding.words), width(), 0));
        context.asker.say(&indented(&format!("-> {}", finding.remedy), width(), 2));
        let seen = loop {
            let typed = context.asker.line("Fine, or to be followed up? (fine, follow-up) ");
            let typed = typed.ok().flatten().ok_or_else(stopped)?;
            match SeenAs::from_word(typed.trim()) {
                Some(seen) => break seen,
                None => context.asker.say("Please give one of the words."),
            }
        };
        let question = if seen == SeenAs::Fine { "Because? " } else { "What is to be done? " };
        let words = loop {
            let typed = context.asker.line(question).ok().flatten().ok_or_else(stopped)?;
            match typed.trim() {
                "" => context.asker.say("A word or two, please: it is read again later."),
                words => break words.to_string(),
            }
        };
        answers.push(Answered { key: finding.key.clone(), seen, words });
    }
    Ok(())
}

fn say_follow_up(context: &mut Context<'_>, practice: &Practice, answers: &[Answered]) {
    let open = answers.iter().filter(|answer| answer.seen == SeenAs::FollowUp).count();
    if open > 0 {
        context.asker.say(&format!(
            "{open} to be followed up by {}. What comes of it belongs in the office file, not in a chart.",
            practice.session.me.code
        ));
    }
}

fn emergency_command() -> Command {
    let answer = |name: &'static str, help: &'static str| {
        Arg::new(name).long(name).value_name("WORDS").requires("entry").help(help)
    };
    add_who_args(
        Command::new("emergency").about("Charts opened in an emergency, and the review by somebody else"),
    )
    .arg(
        Arg::new("entry")
            .value_name("NUMBER")
            .value_parser(clap::value_parser!(u64))
            .help("Number of the opening that is reviewed [default: list them all]"),
    )
    .arg(answer("fine", "Seen, and fine because").conflicts_with("follow-up"))
    .arg(answer("follow-up", "To be followed up: what"))
}

/// Lists the openings in an emergency, or reviews one.
fn emergencies(context: &mut Context<'_>) -> Outcome<Exit> {
    let given = [("fine", SeenAs::Fine), ("follow-up", SeenAs::FollowUp)]
        .into_iter()
        .find_map(|(name, seen)| context.text(name).map(|words| (seen, words)));
    if let (Some(entry), Some((seen, words))) = (context.number("entry"), &given) {
        let mut practice = context.writing()?;
        let receipt = emergency::review(&mut practice, entry, *seen, words)?;
        context.remarks(&mut practice);
        return done(context, "check-made", &receipt);
    }
    let practice = context.practice()?;
    let mut all = emergency::openings(&practice)?;
    all.retain(|one| context.number("entry").is_none_or(|entry| entry == one.entry));
    if context.json() {
        context.say_json(&all)?;
        return Ok(Exit::Done);
    }
    if all.is_empty() {
        context.say("No chart was opened in an emergency.")?;
        return Ok(Exit::Done);
    }
    let mut table = Table::new(["No.", "When", "Who", "Chart, and why", "Reviewed"]);
    for one in &all {
        let seen = one
            .seen
            .zip(one.review)
            .map(|(seen, entry)| format!("{}, entry {entry}", seen.word().replace('-', " ")));
        table.row([
            one.entry.to_string(),
            one.at.plain(),
            one.by.clone(),
            shown(&one.words),
            seen.unwrap_or_else(|| "not yet".to_string()),
        ]);
    }
    context.say(&table.render(width()))?;
    Ok(Exit::Done)
}

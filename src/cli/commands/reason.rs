//! Why a chart is opened. Whoever has a visit or a contact in it that day has a reason; everybody else is asked
//! for one, and it stays in the chart. With nobody to ask, nothing is shown.

use crate::cli::context::Context;
use crate::practice::chart::{
    ChartFace, access, is_known_today, note_access, opened_today, spoke_today, treats_today,
};
use crate::practice::emergency;
use crate::practice::open::{Entry, Practice};
use crate::record::kinds::release::{Access, AccessWhy};
use crate::trouble::{Kind, Outcome, Trouble};
use clap::{Arg, Command};

/// Adds the options that say why a chart is opened.
pub fn add_why_args(cmd: Command) -> Command {
    cmd.arg(
        Arg::new("why")
            .long("why")
            .value_name("WORD")
            .value_parser(AccessWhy::WORDS.to_vec())
            .help("Why the chart is opened [default: the visit or call of today, else asked]"),
    )
    .arg(Arg::new("words").long("words").value_name("TEXT").help("The reason in words"))
}

/// Leaves an entry that the chart was opened, once a day for each person and reason.
pub fn record_opening(
    context: &mut Context<'_>,
    practice: &mut Practice,
    face: &ChartFace,
    entries: &[Entry],
) -> Outcome<()> {
    let (printed, exported) = (context.path("html").is_some(), context.path("fhir").is_some());
    opening_as(context, practice, face, entries, |opening| {
        opening.printed = printed;
        opening.exported = exported;
    })
}

/// As [`record_opening`], for a command that reads no more than it needs: whoever opened the chart today
/// already, for whatever reason, is not asked again.
pub fn record_look(
    context: &mut Context<'_>,
    practice: &mut Practice,
    face: &ChartFace,
    entries: &[Entry],
) -> Outcome<()> {
    let given = context.text("why").is_some();
    if treats_today(practice, entries) || !given && opened_today(practice, entries, None) {
        return Ok(());
    }
    opening_as(context, practice, face, entries, |_| ())
}

/// Finds out why the chart is opened, and leaves the entry, with what `more` says of what is opened.
///
/// # Errors
/// When there is no reason and nobody to ask: then nothing may be shown.
pub fn opening_as(
    context: &mut Context<'_>,
    practice: &mut Practice,
    face: &ChartFace,
    entries: &[Entry],
    more: impl FnOnce(&mut Access),
) -> Outcome<()> {
    let why = match context.text("why").and_then(|word| AccessWhy::from_word(&word)) {
        Some(why) => why,
        None if treats_today(practice, entries) => AccessWhy::Visit,
        None if spoke_today(practice, entries) => AccessWhy::Call,
        None => ask_why(context)?,
    };
    let mut opening = access(why, context.text("words"));
    more(&mut opening);
    if is_known_today(practice, entries, &opening) {
        return Ok(());
    }
    let in_words = [AccessWhy::Other, AccessWhy::Emergency].contains(&why);
    if in_words && opening.words.is_none() && context.asker.interactive() {
        opening.words = context.asker.line("Why, in words? ").ok().flatten().filter(|t| !t.trim().is_empty());
    }
    if why == AccessWhy::Emergency {
        emergency::note(practice, face, opening)?;
        context.asker.say("Somebody else looks at this opening afterwards: `inkfast openings emergency`.");
    } else {
        note_access(practice, &face.tag, opening)?;
    }
    context.remarks(practice);
    Ok(())
}

fn ask_why(context: &mut Context<'_>) -> Outcome<AccessWhy> {
    let choices = AccessWhy::WORDS.join(", ");
    let missing = || {
        Trouble::new(
            Kind::Refused,
            "This chart has no visit with you today, and no contact, so opening it needs a reason.",
            "Nothing was shown.",
            format!("Give --why with one of: {choices}."),
        )
    };
    if !context.asker.interactive() {
        return Err(missing());
    }
    context.asker.say(
        "This chart has no visit or contact with you today. Every opening is written down with its reason.",
    );
    loop {
        let typed = context
            .asker
            .line(&format!("Why is it opened? ({choices}) "))
            .ok()
            .flatten()
            .ok_or_else(missing)?;
        match AccessWhy::from_word(typed.trim()) {
            Some(why) => return Ok(why),
            None => context.asker.say("Please give one of the words."),
        }
    }
}

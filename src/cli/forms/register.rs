//! What concerns the whole register: the practice, its people, rules, wordings and clocks.

use super::super::answer::AnswerKind::{Date, ManyOf, Moment, OneOf, Rows, Whole, Words};
use super::super::form::Form;
use super::super::place;
use super::super::rows::RowSpec;
use super::{Asks, LIST, NUMBER, NUMBERS, ask, asks, line, lines, must};
use crate::record::kinds::register::{ClockState, Sex, Weekday};
use crate::record::vocab::Technique;
use serde_json::Value;

pub(super) fn every() -> Vec<Asks> {
    vec![
        asks("practice", "register-opened", practice(), &[]),
        asks("staff", "staff", staff(), &[]),
        asks("rules", "rules", rules(), &["/document"]),
        asks("wording", "wording", wording(), &[]),
        asks("clock", "clock-remark", clock(), &[]),
        asks(
            "day-close",
            "day-close",
            day_close(),
            &["/day", "/first", "/last", "/entries", "/by_kind", "/slip_words", "/unfinished"],
        ),
        asks("behind", "behind-outside-copy", behind(), &["/store_entries", "/outside_entries"]),
    ]
}

/// The first entry of a register.
pub fn practice() -> Form {
    Form::new([
        line("practice", "Name of the practice, as patients know it?", "/practice")
            .help("As on the door; it stands on every printed copy."),
        line("address", "Where is it?", "/address").help("Street and town."),
        line("territory", "State, province or territory whose rules apply?", "/territory")
            .help("It decides which rules are adopted."),
        line("regulator", "The board or body that licenses it?", "/regulator")
            .optional()
            .help("As named on the licences."),
        line("custodian", "Code of the person who keeps the register?", "/custodian")
            .help("The initials that stand for this person on every entry."),
        line("clock", "Which clock does the practice go by?", "/clock")
            .help("In words: offset from UTC, and when summer time begins and ends."),
        ask("rooms", "The rooms where people are treated?", "/rooms", LIST)
            .optional()
            .help("For example: room 1, room 2."),
        ask("hours", "Opening hours?", "/opening_hours", Rows(&HOURS))
            .optional()
            .help("One line for each day: day=monday from=08:00 until=19:00."),
        line(
            "began-because",
            "Why does this register begin, where an earlier one existed?",
            "/began_because",
        )
        .optional()
        .help("What the earlier one was, and where it is kept."),
    ])
}

const HOURS: RowSpec = RowSpec {
    what: "day",
    columns: &[
        must("day", "/day", OneOf(Weekday::WORDS), ""),
        must("from", "/from", Words, "24-hour time like 08:00"),
        must("until", "/until", Words, "24-hour time like 19:00"),
    ],
};

/// The roster line of one person.
pub fn staff() -> Form {
    const TECHNIQUES: &str = "/techniques_permitted";
    Form::new([
        line("code", "Staff code?", "/code").help("Short, and never given to another person: IV."),
        line("name", "Full name?", "/name").help("As on the licence."),
        line("role", "Role?", "/role").help("chiropractor, massage-therapist, desk."),
        line("initials", "Initials, as written on paper?", "/initials")
            .or_from(|answers, _| place::get(answers, "/code").and_then(Value::as_str).map(str::to_owned))
            .help("For the signature list of printed copies."),
        ask("from", "First day on the roster?", "/on_roster_from", Date)
            .or("today")
            .help("From this day their signature counts."),
        ask("last-day", "Last day on the roster?", "/on_roster_last_day", Date)
            .optional()
            .help("Left out: open."),
        ask("techniques", "Which techniques do licence and practice permit?", TECHNIQUES, {
            ManyOf { choices: Technique::WORDS, all: false }
        })
        .optional()
        .help("Left out: none, as for the desk."),
        line("licence", "Licence number?", "/licence_no").optional().when_has(TECHNIQUES).help("As issued."),
        ask("licence-last-day", "Last day the licence holds?", "/licence_last_day", Date)
            .when_has(TECHNIQUES)
            .help("After it, what they sign is questioned."),
        ask("sex", "Sex, where patients may ask for it?", "/sex", OneOf(Sex::WORDS))
            .optional()
            .help("Some patients ask for one or the other."),
        line("supervisor", "Code of the supervising person?", "/supervisor")
            .optional()
            .help("For those who may not work alone."),
        ask("duties", "Other duties?", "/desk_duties", LIST)
            .optional()
            .help("records clerk, second signer, custodian."),
        line("because", "Why does the line change?", "/because")
            .optional()
            .help("Joined, licence renewed, left."),
    ])
}

/// The head of adopted rules. The document itself is read from its file by the command.
pub fn rules() -> Form {
    Form::new([
        line("name", "Name of the rules?", "/name").help("For example: Demo rules."),
        line("edition", "Edition?", "/edition").help("Every answer the rules give quotes it."),
        ask("effective", "First day they apply?", "/effective", Date)
            .or("today")
            .help("Answers of earlier days stay under the rules of their day."),
        line("adopted-by", "Code of who adopts them?", "/adopted_by").help("The one who answers for them."),
        line("source", "Where do they come from, and when was that read?", "/source")
            .optional()
            .help("The board's text, counsel, and the date."),
        line("replaces", "Which edition do they replace?", "/replaces")
            .optional()
            .help("Left out for the first."),
    ])
}

/// A text patients are given or sign. A long text is better given with --data than typed.
pub fn wording() -> Form {
    Form::new([
        line("code", "Code of this edition?", "/code").help("Consents quote it: F1."),
        line("title", "Title as printed?", "/title").help("As at the head of the sheet."),
        lines("text", "The whole text?", "/text")
            .help("Word for word. A long text is given with --data FILE."),
        line("language", "Language?", "/language").or("en").help("The short tag: en, fr, es, uk."),
        ask("use-for", "What is it for?", "/use_for", LIST)
            .optional()
            .help("consent, privacy notice, exercise sheet, letter."),
        ask("effective", "First day it is used?", "/effective", Date)
            .optional()
            .or("today")
            .help("Forms of an earlier edition are then put away."),
        line("replaces", "Code of the edition it replaces?", "/replaces")
            .optional()
            .help("Left out for the first."),
    ])
}

/// Something was wrong with a station's clock. Nothing is re-stamped.
pub fn clock() -> Form {
    Form::new([
        ask("state", "Does this open the matter, settle it, or both?", "/state", OneOf(ClockState::WORDS))
            .help("both where it was noticed and put right at once."),
        ask("of", "Number of the remark it settles?", "/of", NUMBER)
            .when_is("/state", "closed")
            .help("As printed when it was kept."),
        line("at-station", "Which station's clock?", "/at_station").help("Desk, room 1, laptop."),
        line("what", "What was wrong, by how much, and how was it noticed?", "/words")
            .help("No entry is re-stamped; this remark explains the times."),
        ask("seconds", "How many seconds ahead, or behind with a minus?", "/seconds_wrong", {
            Whole { min: -999_999_999, max: 999_999_999 }
        })
        .optional()
        .help("An hour behind is -3600."),
        ask("wrong-from", "From when was it wrong, by the right clock?", "/wrong_from", Moment)
            .optional()
            .help("As nearly as it is known."),
        ask("wrong-until", "Until when?", "/wrong_until", Moment)
            .optional()
            .help("When it was put right, by the right clock."),
        ask("covers", "Numbers of the entries written by that clock?", "/covers", NUMBERS)
            .optional()
            .help("They carry a mark that points here."),
    ])
}

/// What the command cannot know of a day's end.
pub fn day_close() -> Form {
    Form::new([
        line("slip-kept", "Where is the slip kept?", "/slip_kept").optional().help(
            "Page of the bound day book, and who else has it: it vouches for the day outside this machine.",
        ),
        line("remark", "Anything about the day?", "/words")
            .optional()
            .help("For example: no patients, storm."),
    ])
}

/// Why the store is behind its outside copy. The counts are put in by the command.
pub fn behind() -> Form {
    Form::new([
        line("because", "What happened?", "/because").help("Restored from which copy, and why."),
        ask("lost", "What is known to be missing?", "/lost", LIST)
            .optional()
            .help("In words, with commas or semicolons between."),
        line("found-by", "Code of who found it?", "/found_by").help("Staff code."),
    ])
}

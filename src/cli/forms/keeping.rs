//! What keeps a chart from being destroyed, and what is left when it was: holds, notices, copies that went.

use super::super::answer::AnswerKind::{Date, OneOf};
use super::super::form::Form;
use super::{Asks, LIST, NUMBER, ask, asks, line};
use crate::record::kinds::keeping::{HoldKind, NoticeKind};

pub(super) fn every() -> Vec<Asks> {
    vec![
        asks("hold", "hold", hold(), &["/placed_by"]),
        asks("hold-lifted", "hold-lifted", hold_lifted(), &[]),
        asks("notice", "notice", notice(), &["/state", "/of"]),
        asks("copy-gone", "copy-gone", copy_gone(), &[]),
        // The day it is kept to is worked out whenever it is asked, and never typed.
    ]
}

/// Forms that ask for a part of a kind only.
pub(super) fn short() -> Vec<Asks> {
    vec![asks("notice-step", "notice", notice_step(), &["/kind", "/from", "/state", "/of"])]
}

/// A legal hold: nothing it covers is destroyed, and everything written from now on says that it stands.
pub fn hold() -> Form {
    const SCOPE: &str = "/scope/kind";
    Form::new([
        line("reason", "Why is everything to be kept?", "/reason")
            .help("In short: which matter. The letter itself belongs in the office file."),
        line("from-whom", "Who asked for it?", "/from_whom")
            .help("Counsel, insurer, court, agency; or the practice itself."),
        ask("scope", "What does it cover?", SCOPE, OneOf(HoldKind::WORDS))
            .or("chart")
            .help("The whole chart, some dates, or what one practitioner did."),
        ask("first-day", "From which day on?", "/scope/from", Date)
            .optional()
            .when(not_whole)
            .help("Left out: from the beginning."),
        ask("last-day", "Until which day?", "/scope/until", Date)
            .optional()
            .when(not_whole)
            .help("Left out: without an end."),
        line("practitioner", "Code of the practitioner?", "/scope/practitioner")
            .when_is(SCOPE, "practitioner")
            .help("Whose visits and entries it covers."),
        ask("letter", "Number of the letter: attachment or paper of the office file?", "/letter", NUMBER)
            .optional()
            .help("As printed when it was kept."),
    ])
}

fn not_whole(answers: &serde_json::Value) -> bool {
    super::super::place::get(answers, "/scope/kind").and_then(serde_json::Value::as_str) != Some("chart")
}

/// A hold is lifted. Without its letter on file nothing is destroyed all the same.
pub fn hold_lifted() -> Form {
    Form::new([
        ask("hold", "Number of the hold?", "/hold", NUMBER).help("As `inkfast hold list` shows it."),
        line("by", "Who lifted it?", "/by").help("Whoever had asked for it, or a court."),
        line("because", "Why?", "/words").help("The matter is closed, and how."),
        ask("letter", "Number of the letter: attachment or paper of the office file?", "/letter", NUMBER)
            .help("Keep the letter first: nothing is destroyed under a hold that was lifted without one."),
    ])
}

/// Notice of a claim, complaint or audit. What is written afterwards says so.
pub fn notice() -> Form {
    Form::new([
        ask("kind", "What sort of notice?", "/kind", OneOf(NoticeKind::WORDS))
            .help("The nearest word; other where none is near."),
        line("from", "From whom?", "/from").help("Office or person, as on the letter."),
        ask("about", "Which days of care is it about?", "/about", LIST)
            .optional()
            .help("Written 2023-10-02, with commas between; left out where it names none."),
        ask("reply-due", "By which day is it to be answered?", "/reply_due", Date)
            .optional()
            .help("As the letter names it."),
        ask("office-file", "Number of the paper in the office file?", "/office_file", NUMBER)
            .optional()
            .help("The papers themselves are kept there, never in the chart."),
        line("in-short", "In short?", "/words").optional().help("Without opinions: it stays in the chart."),
    ])
}

/// A notice was answered, or the matter is closed.
pub fn notice_step() -> Form {
    Form::new([
        ask("office-file", "Number of the paper in the office file?", "/office_file", NUMBER)
            .optional()
            .help("The answer, or the letter that closes it."),
        line("in-short", "In short?", "/words").help("What was sent, or how it ended."),
    ])
}

/// A copy of a destroyed chart went too.
pub fn copy_gone() -> Form {
    Form::new([
        ask("certificate", "Number of the certificate?", "/certificate", NUMBER)
            .help("As `inkfast keep disposed` shows it."),
        ask("copy", "Which of its copies?", "/copy", NUMBER).help("By its number there, counted from 1."),
        ask("gone-on", "On which day was it destroyed?", "/on", Date)
            .or("today")
            .help("The day it was done."),
        line("how", "How?", "/how")
            .help("Shredded, overwritten by newer copies, disk destroyed; and who saw it."),
        line("by", "Who did it?", "/by").help("Person or firm."),
        ask("letter", "Number of the proof in the office file?", "/letter", NUMBER)
            .optional()
            .help("The shredding firm's paper, where there is one."),
    ])
}

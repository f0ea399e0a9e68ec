//! The office file: papers that never belong in a chart.

use super::super::answer::AnswerKind::{Date, OneOf};
use super::super::form::Form;
use super::{Asks, NUMBER, ask, asks, line, lines, yes_no};
use crate::record::kinds::register::OfficeKind;

pub(super) fn every() -> Vec<Asks> {
    vec![asks("office-add", "office-file", add(), &["/attachments"])]
}

/// A paper is kept in the office file. Its scan is sealed by the command.
pub fn add() -> Form {
    Form::new([
        ask("kind", "What sort of matter?", "/kind", OneOf(OfficeKind::WORDS))
            .help("The nearest word; other where none is near."),
        line("title", "Title?", "/title").help("By which it is found again."),
        lines("words", "What is it about?", "/words").help("In short; the paper itself says the rest."),
        ask("received", "On which day was it received?", "/received_on", Date)
            .optional()
            .or("today")
            .help("The day it came in."),
        ask("due", "By which day is it to be answered?", "/due", Date)
            .optional()
            .help("As the paper names it."),
        line("about-chart", "Number of the chart concerned, if one is?", "/chart_no")
            .optional()
            .help("It is sealed with the paper, and nothing is written into that chart."),
        ask("request", "Number of the request for records it belongs to?", "/request", NUMBER)
            .optional()
            .help("As printed when the request was taken."),
        line("original-at", "Where is the paper itself kept?", "/original_at")
            .optional()
            .help("Cabinet and drawer."),
        ask("of", "Number of the earlier paper of the same matter?", "/of", NUMBER)
            .optional()
            .help("As printed when that was kept."),
        yes_no("closed", "Is the matter closed with it?", "/closed")
            .flag_only()
            .help("yes where nothing is left."),
    ])
}

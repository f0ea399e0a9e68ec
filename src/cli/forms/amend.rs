//! A patient's request to amend the record, and its papers: the request, the decision point by point, the
//! patient's disagreement, the practice's answer to it.

use super::super::answer::AnswerKind::{Date, OneOf, Rows};
use super::super::form::Form;
use super::super::rows::RowSpec;
use super::{Asks, NUMBER, NUMBERS, WORDS, ask, asks, because, line, lines, may, must, yes_no};
use crate::record::kinds::amend::{Decision, RefusalGround};

pub(super) fn every() -> Vec<Asks> {
    vec![
        asks("amend-take", "amendment-request", take(), &["/due", "/clock"]),
        asks("amend-extend", "request-step", extend(), super::request::STEP_REST),
        asks("amend-decide", "amendment-decision", decide(), &[]),
        asks("amend-disagree", "disagreement", disagree(), &[]),
        asks("amend-rebut", "rebuttal", rebut(), &[]),
    ]
}

const POINTS: RowSpec = RowSpec {
    what: "point asked",
    columns: &[
        must("text", "/text", WORDS, "what is asked, as written"),
        may("entries", "/entries", NUMBERS, "numbers of the entries meant"),
    ],
};

/// A request comes in. The command numbers its points and reckons the day the answer is due.
pub fn take() -> Form {
    Form::new([
        line("from", "Who asks?", "/from").help("The patient, or who may decide for the patient."),
        ask("received", "On which day was it received?", "/received_on", Date)
            .or("today")
            .help("The time to answer runs from this day."),
        ask("points", "What is asked, point by point?", "/points", Rows(&POINTS))
            .help("One line for each point: text=\"the year of the accident is wrong\" entries=212."),
        ask("letter", "Number of the attachment with the letter?", "/letter", NUMBER)
            .optional()
            .help("The letter as it came."),
    ])
}

/// More time is taken, once, by a letter inside the first time.
pub fn extend() -> Form {
    Form::new([
        ask("request", "Number of the request for amendment?", "/request", NUMBER)
            .help("As printed when it was taken."),
        ask("on", "On which day was it extended?", "/on", Date).or("today").help("The day it was decided."),
        lines("because", "Why is more time needed?", "/words").help("As the letter says it."),
        ask("new-due", "By which day will it be answered?", "/new_due", Date)
            .help("As the letter says it; no later than the rules allow."),
        ask("letter-dated", "Date of the letter?", "/letter_dated", Date)
            .or("today")
            .help("It must lie inside the first time, or the extension is void."),
        ask("letter", "Number of the attachment with the letter?", "/attachment", NUMBER)
            .optional()
            .help("The letter as it was sent."),
    ])
}

const DECISIONS: RowSpec = RowSpec {
    what: "point decided",
    columns: &[
        must("no", "/no", NUMBER, "number of the point"),
        must("decision", "/decision", OneOf(Decision::WORDS), "what was decided"),
        may(
            "ground",
            "/ground",
            OneOf(RefusalGround::WORDS),
            "ground of a refusal; needed where any of it is refused",
        ),
        must("reason", "/reason", WORDS, "why, in words"),
        may("corrections", "/corrections", NUMBERS, "numbers of the corrections made"),
        may("evidence", "/evidence", NUMBERS, "numbers of the entries it rests on"),
    ],
};

/// The decision, with what the letter says.
pub fn decide() -> Form {
    Form::new([
        ask("request", "Number of the request for amendment?", "/request", NUMBER)
            .help("As printed when it was taken."),
        ask("points", "What is decided on each point?", "/points", Rows(&DECISIONS)).help(
            "One line for each point: no=1 decision=accepted reason=\"year shown to be 2011\" corrections=240.",
        ),
        ask("letter-dated", "Date of the letter?", "/letter/dated", Date)
            .or("today")
            .help("The letter with the decision."),
        line("sent-how", "How was the letter sent?", "/letter/sent_how").help("Post, handed over."),
        yes_no("says-ground", "Does it state the ground, in plain words?", "/letter/says_ground")
            .help("Needed where anything is refused."),
        yes_no(
            "says-right-to-disagree",
            "Does it state the right to disagree in writing, and how?",
            "/letter/says_right_to_disagree",
        )
        .help("Needed where anything is refused."),
        yes_no(
            "says-right-to-travel",
            "Does it state the right to have request and refusal go along with the record?",
            "/letter/says_right_to_travel",
        )
        .help("Needed where anything is refused: for a patient who sends no statement."),
        yes_no(
            "says-complaint-route",
            "Does it state where to complain, with a named contact?",
            "/letter/says_complaint_route",
        )
        .help("Needed where anything is refused."),
        line("complaint-contact", "Which contact does it name?", "/letter/complaint_contact")
            .optional()
            .help("Name or title, and telephone."),
        ask("letter", "Number of the attachment with the letter?", "/letter/letter", NUMBER)
            .optional()
            .help("The letter as it was sent."),
        ask("inform", "Who is to be informed of what was accepted?", "/inform", super::LIST)
            .optional()
            .help("Whom the patient named, and who holds the old words and may rely on them."),
    ])
}

/// The patient's statement of disagreement.
pub fn disagree() -> Form {
    Form::new([
        ask("request", "Number of the request for amendment?", "/request", NUMBER)
            .help("As printed when it was taken."),
        ask("received", "On which day was it received?", "/received_on", Date)
            .or("today")
            .help("The day it came."),
        lines("text", "What does the statement say?", "/text").help("Word for word."),
        ask("letter", "Number of the attachment with it?", "/letter", NUMBER)
            .optional()
            .help("The statement as it came."),
    ])
}

/// The practice's answer to a disagreement.
pub fn rebut() -> Form {
    Form::new([
        ask("disagreement", "Number of the statement of disagreement?", "/disagreement", NUMBER)
            .help("As printed when it was kept."),
        lines("text", "What does the practice answer?", "/text").help("As the copy for the patient says it."),
        ask("copy-sent", "On which day was a copy sent to the patient?", "/copy_sent_on", Date)
            .optional()
            .help("The patient is to have one."),
        because(
            "not-sent-because",
            "Why was no copy sent?",
            "/copy_sent_on/not_done_because",
            "/copy_sent_on",
        ),
        ask("letter", "Number of the attachment with it?", "/letter", NUMBER)
            .optional()
            .help("The answer as it was sent."),
    ])
}

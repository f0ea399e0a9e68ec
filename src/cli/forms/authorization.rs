//! An authorization is read element by element: what it says, and what it does not.

use super::super::answer::AnswerKind::Date;
use super::super::form::Question;
use super::super::place;
use super::request::reads_authorization;
use super::{ask, line, yes_no};
use serde_json::Value;

fn representative_signed(answers: &Value) -> bool {
    reads_authorization(answers)
        && place::get(answers, "/authorization/by_representative") == Some(&Value::Bool(true))
}

/// A question of the authorization, asked only where one is read.
const fn of_paper(question: Question) -> Question {
    question.when(reads_authorization)
}

/// What it says in words; left out where it does not.
const fn text(flag: &'static str, ask: &'static str, path: &'static str, help: &'static str) -> Question {
    of_paper(line(flag, ask, path)).optional().help(help)
}

/// Whether it says something; where nobody answers, it does not.
const fn says(flag: &'static str, ask: &'static str, path: &'static str, help: &'static str) -> Question {
    of_paper(yes_no(flag, ask, path)).or("no").help(help)
}

/// A day it names; left out where it does not.
const fn day(flag: &'static str, question: &'static str, path: &'static str, help: &'static str) -> Question {
    of_paper(ask(flag, question, path, Date)).optional().help(help)
}

/// The six elements of an authorization: 45 CFR 164.508(c)(1).
pub(super) fn elements() -> Vec<Question> {
    vec![
        text(
            "information",
            "What may be disclosed, as it says?",
            "/authorization/information",
            "Left out where it does not say: an element.",
        ),
        text(
            "discloser",
            "Who may disclose it?",
            "/authorization/discloser",
            "Name or class; left out where it does not say: an element.",
        ),
        text(
            "to-whom",
            "To whom may it be disclosed?",
            "/authorization/recipient",
            "Name or class; left out where it does not say: an element.",
        ),
        text(
            "purpose",
            "What for?",
            "/authorization/purpose",
            "Each purpose; left out where it does not say: an element.",
        ),
        says(
            "person-asked",
            "Did the patient start it?",
            "/authorization/person_asked",
            "Only then is \"at the request of the individual\" purpose enough.",
        ),
        day(
            "ends-on",
            "On which day does it end?",
            "/authorization/ends_on",
            "A day or an event: an element.",
        ),
        text(
            "ends-with",
            "With which event does it end?",
            "/authorization/ends_with",
            "An event that has to do with the patient or the purpose.",
        ),
        day(
            "ended-on",
            "On which day is that event known to have happened?",
            "/authorization/ended_on",
            "Left out where it has not.",
        ),
        text(
            "signed-by",
            "Who signed?",
            "/authorization/signed_by",
            "Left out where nobody did: an element.",
        ),
        day(
            "signed-on",
            "Which date has the signature?",
            "/authorization/signed_on",
            "Left out where it has none: an element.",
        ),
        says(
            "by-representative",
            "Did a representative sign?",
            "/authorization/by_representative",
            "Somebody who acts for the patient.",
        ),
        line(
            "representative-authority",
            "On what authority, as it says?",
            "/authorization/representative_authority",
        )
        .optional()
        .when(representative_signed)
        .help("Left out where it does not say."),
    ]
}

/// Its three statements (164.508(c)(2)), and what makes it unusable although it is complete ((b)(2)).
pub(super) fn statements() -> Vec<Question> {
    vec![
        says(
            "says-right-to-revoke",
            "Does it say that it can be revoked in writing?",
            "/authorization/says_right_to_revoke",
            "The first of three statements.",
        ),
        says(
            "says-how-to-revoke",
            "Does it say how, and the exceptions, or where the privacy notice tells them?",
            "/authorization/says_how_to_revoke",
            "Belongs to the first statement.",
        ),
        says(
            "says-conditioning",
            "Does it say whether treatment or payment depends on signing?",
            "/authorization/says_conditioning",
            "The second statement.",
        ),
        says(
            "says-redisclosure",
            "Does it say that whoever receives it might pass it on?",
            "/authorization/says_redisclosure",
            "The third statement.",
        ),
        day(
            "revoked-on",
            "On which day was a written revocation received?",
            "/authorization/revoked_on",
            "Left out where none was.",
        ),
        day(
            "relied-on",
            "On which day was it acted on before?",
            "/authorization/relied_on",
            "What went out then stands, also after a revocation.",
        ),
        says(
            "combined",
            "Is it one paper with another that it must stand apart from?",
            "/authorization/combined",
            "For example with a consent to treatment.",
        ),
        says(
            "conditioned",
            "Was treatment or payment made to depend on it, without an exception?",
            "/authorization/conditioned",
            "Research, enrolment, or an examination only for somebody else are exceptions.",
        ),
        says(
            "known-false",
            "Is something material in it known to be false?",
            "/authorization/known_false",
            "Known here, not only suspected.",
        ),
    ]
}

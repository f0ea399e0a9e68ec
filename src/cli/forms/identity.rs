//! A change of the identity: only what changed is asked, and the rest stays as it was.

use super::super::answer::AnswerKind::ManyOf;
use super::super::form::{Form, Question, lacks};
use super::super::place;
use super::chart::patient;
use super::{ask, line};
use serde_json::Value;

/// Fields of the identity that can change, as the record names them.
pub const CHANGEABLE: &[&str] = &[
    "legal_name",
    "birth_date",
    "address",
    "telephones",
    "email",
    "second_identifier",
    "preferred_channel",
    "language",
    "interpreter_language",
    "emergency_contact",
    "privacy_notice",
    "decision_maker",
    "chosen_name",
    "former_names",
    "occupation",
    "sport",
    "instrument",
    "physician",
    "dentist",
    "sex_recorded",
    "gender_wished",
    "payer",
    "no_messages",
    "restrictions",
    "national_number",
    "photo",
];

/// A change of the identity. Only what changed is asked; [`with_identity`] puts the rest of the
/// identity as it stood beside it.
pub fn identity() -> Form {
    let changed = ask("changed", "What changed?", "/changed", ManyOf { choices: CHANGEABLE, all: false })
        .or_from(|answers, _| {
            let given = place::get(answers, "/identity")?.as_object()?;
            let names: Vec<&str> = given.keys().map(String::as_str).collect();
            (!names.is_empty()).then(|| names.join(", "))
        })
        .help("Name every detail that changed; each is then asked.");
    let mut questions = vec![
        changed,
        line("because", "Why?", "/because").help("Moved, married, wrong spelling, of age."),
        line("told-by", "Who said so?", "/told_by")
            .or("the patient")
            .help("The patient, or who else, and how."),
    ];
    let opening = patient().questions;
    questions.extend(opening.into_iter().filter_map(|question| {
        let field = question.path.strip_prefix("/identity/")?.split('/').next()?;
        let field = CHANGEABLE.iter().find(|known| **known == field)?;
        Some(only_if_changed(question, field))
    }));
    Form::new(questions)
}

/// A question that is asked only where its field changed. What is first in its field is asked
/// whenever the field changed; what follows from it keeps the condition it has.
fn only_if_changed(mut question: Question, field: &'static str) -> Question {
    if question.when.is_some() {
        // "Why is there nobody to call?" must not come up where the contact did not change.
        return match question.path {
            "/identity/emergency_contact/not_done_because" => {
                question.when(|answers| is_changed(answers, "emergency_contact") && lacks_contact(answers))
            }
            "/identity/birth_date/estimated_year" => question.when(|answers| {
                is_changed(answers, "birth_date")
                    && place::get(answers, "/identity/birth_date/date").is_none()
            }),
            _ => question,
        };
    }
    // The defaults of an opening are no news about a change.
    if matches!(question.path, "/identity/language" | "/identity/decision_maker") {
        question.default = None;
    }
    question.when_lists("/changed", field)
}

fn is_changed(answers: &Value, field: &str) -> bool {
    place::get(answers, "/changed")
        .and_then(Value::as_array)
        .is_some_and(|list| list.iter().any(|item| item.as_str() == Some(field)))
}

fn lacks_contact(answers: &Value) -> bool {
    lacks(answers, "/identity/emergency_contact")
}

/// Completes the answers of [`identity`] to the whole identity as it stands from now on: `before`
/// is the identity so far. A changed detail that was left out is taken away.
pub fn with_identity(answers: &mut Value, before: &Value) {
    let mut whole = before.as_object().cloned().unwrap_or_default();
    let given = place::take(answers, "/identity");
    let given = given.as_ref().and_then(Value::as_object);
    for field in CHANGEABLE.iter().filter(|field| is_changed(answers, field)) {
        match given.and_then(|given| given.get(*field)) {
            Some(value) => whole.insert((*field).to_owned(), value.clone()),
            None => whole.shift_remove(*field),
        };
    }
    if let Some(data) = answers.as_object_mut() {
        data.insert("identity".to_owned(), Value::Object(whole));
    }
}

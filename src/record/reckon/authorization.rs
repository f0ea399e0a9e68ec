//! The topic authorization: whether an authorization is complete, and whether it may be used on a day
//! (45 CFR 164.508).

use super::ReckonError;
use super::ask::{is_blank, null_is_absent, question};
use super::instant::Instant;
use crate::record::kinds::common::Day;
use crate::record::moment::{Date, parse_date};
use crate::record::tables::Tables;
use crate::record::tables::disclosure::AuthorizationTable;
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use std::collections::BTreeSet;

/// An authorization as filled in. Blank and absent mean the same.
#[derive(Debug, Clone, Default, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Form {
    /// What is to be disclosed.
    #[serde(default, deserialize_with = "null_is_absent")]
    pub information: String,
    /// Who may disclose it.
    #[serde(default, deserialize_with = "null_is_absent")]
    pub discloser: String,
    /// To whom.
    #[serde(default, deserialize_with = "null_is_absent")]
    pub recipient: String,
    /// What for.
    #[serde(default, deserialize_with = "null_is_absent")]
    pub purpose: String,
    /// The person started it.
    #[serde(default, deserialize_with = "null_is_absent")]
    pub initiated_by_person: bool,
    /// It is for research.
    #[serde(default, deserialize_with = "null_is_absent")]
    pub research: bool,
    /// When it ends.
    #[serde(default, deserialize_with = "null_is_absent")]
    pub expiry: Expiry,
    /// Name of the signer.
    #[serde(default, deserialize_with = "null_is_absent")]
    pub signed_by: String,
    /// Date of the signature.
    #[serde(default, deserialize_with = "day_or_blank")]
    pub signed_on: Option<Day>,
    /// Who signed.
    #[serde(default, deserialize_with = "null_is_absent")]
    pub signer: Signer,
    /// A representative's authority.
    #[serde(default, deserialize_with = "null_is_absent")]
    pub authority: String,
    /// What it says of revoking.
    #[serde(default, deserialize_with = "null_is_absent")]
    pub revoke: Revoke,
    /// It says whether anything is made to depend on signing.
    #[serde(default, deserialize_with = "null_is_absent")]
    pub conditioning: bool,
    /// It says that the recipient might pass the information on.
    #[serde(default, deserialize_with = "null_is_absent")]
    pub redisclosure: bool,
    /// The practice asked for it.
    #[serde(default, deserialize_with = "null_is_absent")]
    pub sought_by_practice: bool,
    /// The person was given a copy.
    #[serde(default, deserialize_with = "null_is_absent")]
    pub copy_given: bool,
}

/// When an authorization ends.
#[derive(Debug, Clone, Default, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Expiry {
    /// After this day.
    #[serde(default, deserialize_with = "day_or_blank")]
    pub date: Option<Day>,
    /// With this event.
    #[serde(default, deserialize_with = "null_is_absent")]
    pub event: String,
    /// Never; for research only.
    #[serde(default, deserialize_with = "null_is_absent")]
    pub none: bool,
}

/// Who signed.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Signer {
    /// The person.
    #[default]
    Person,
    /// Somebody who may act for the person.
    Representative,
}

/// What an authorization says of revoking.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Revoke {
    /// The right to revoke in writing.
    #[serde(default, deserialize_with = "null_is_absent")]
    pub right: bool,
    /// The exceptions, and how to revoke.
    #[serde(default, deserialize_with = "null_is_absent")]
    pub how_and_exceptions: bool,
    /// Instead of these, where the notice of privacy practices tells it.
    #[serde(default, deserialize_with = "null_is_absent")]
    pub points_to_notice: bool,
}

/// An element or a statement an authorization must hold. The order is that of the codes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Element {
    /// Whether anything is made to depend on signing.
    Conditioning,
    /// Who may disclose.
    Discloser,
    /// When it ends.
    Expiry,
    /// What is to be disclosed.
    Information,
    /// What for.
    Purpose,
    /// To whom.
    Recipient,
    /// That the recipient might pass it on.
    Redisclosure,
    /// The right to revoke, and how.
    RightToRevoke,
    /// Name and date; of a representative also the authority.
    Signature,
}

/// What makes an authorization unusable. The order is that of the codes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Defect {
    /// Its day is over, or its event has happened.
    Expired,
    /// It is combined with what it must stand apart from.
    ImproperCombination,
    /// It makes something depend on signing that must not.
    ImproperConditioning,
    /// Something in it is missing.
    Incomplete,
    /// Something material in it is known to be false.
    KnownFalse,
    /// The written revocation had been received.
    Revoked,
}

/// What may not be made to depend on signing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ConditionedOn {
    /// Treatment.
    Treatment,
    /// Payment.
    Payment,
    /// Enrollment in a plan.
    Enrollment,
    /// Eligibility for benefits.
    Eligibility,
}

/// Where it may.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Exception {
    /// Treatment that is part of research.
    ResearchTreatment,
    /// Enrollment in a plan.
    PlanEnrollment,
    /// An examination only to inform a third party.
    ExamForThirdParty,
}

/// What is known of an authorization when a disclosure is made under it.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
pub struct Use {
    /// When the disclosure is made, with the offset of its place.
    pub disclosed_at: Instant,
    /// When the authorization ends.
    #[serde(default, deserialize_with = "null_is_absent")]
    pub expiry: Expiry,
    /// The day on which the practice knows the event to have happened.
    pub event_happened_on: Option<Day>,
    /// When the written revocation was received.
    pub revoked_at: Option<Instant>,
    /// What was made to depend on signing.
    pub conditioned_on: Option<ConditionedOn>,
    /// The exception that lets it.
    pub exception: Option<Exception>,
    /// It is combined with what it must stand apart from.
    #[serde(default, deserialize_with = "null_is_absent")]
    pub improperly_combined: bool,
    /// Something material in it is known to be false.
    #[serde(default, deserialize_with = "null_is_absent")]
    pub known_false: bool,
    /// What is missing ([`missing`]).
    #[serde(default, deserialize_with = "null_is_absent")]
    pub missing: BTreeSet<Element>,
}

/// What an authorization lacks. `purpose_when_person_asked` are the words that are purpose enough only where
/// the person started it.
pub fn missing(form: &Form, purpose_when_person_asked: &str) -> BTreeSet<Element> {
    let plain = |text: &str| text.trim().trim_end_matches('.').to_lowercase();
    let stock_purpose = plain(&form.purpose) == plain(purpose_when_person_asked);
    let ends =
        form.expiry.date.is_some() || !is_blank(&form.expiry.event) || form.expiry.none && form.research;
    let authorized = form.signer == Signer::Person || !is_blank(&form.authority);
    let revoke = form.revoke.right && (form.revoke.how_and_exceptions || form.revoke.points_to_notice);
    [
        (Element::Information, !is_blank(&form.information)),
        (Element::Discloser, !is_blank(&form.discloser)),
        (Element::Recipient, !is_blank(&form.recipient)),
        (Element::Purpose, !is_blank(&form.purpose) && (form.initiated_by_person || !stock_purpose)),
        (Element::Expiry, ends),
        (Element::Signature, !is_blank(&form.signed_by) && form.signed_on.is_some() && authorized),
        (Element::RightToRevoke, revoke),
        (Element::Conditioning, form.conditioning),
        (Element::Redisclosure, form.redisclosure),
    ]
    .into_iter()
    .filter_map(|(element, there)| (!there).then_some(element))
    .collect()
}

/// True where the person must still be given a copy.
pub fn copy_is_due(form: &Form) -> bool {
    form.sought_by_practice && !form.copy_given
}

/// What stands against using an authorization for a disclosure; nothing, and it may be used.
pub fn defects(used: &Use) -> BTreeSet<Defect> {
    let day = used.disclosed_at.local_date();
    let revoked = used.revoked_at.is_some_and(|revoked| used.disclosed_at >= revoked);
    [
        (Defect::Expired, has_expired(used, day)),
        (Defect::Revoked, revoked),
        (Defect::Incomplete, !used.missing.is_empty()),
        (Defect::ImproperConditioning, used.conditioned_on.is_some() && used.exception.is_none()),
        (Defect::ImproperCombination, used.improperly_combined),
        (Defect::KnownFalse, used.known_false),
    ]
    .into_iter()
    .filter_map(|(defect, there)| there.then_some(defect))
    .collect()
}

/// Good through the whole of its date; ended by its event on the day that happens.
fn has_expired(used: &Use, day: Date) -> bool {
    let over = used.expiry.date.is_some_and(|last| day > last.0);
    let happened = !is_blank(&used.expiry.event) && used.event_happened_on.is_some_and(|on| on.0 <= day);
    over || happened
}

fn day_or_blank<'de, D: serde::Deserializer<'de>>(deserializer: D) -> Result<Option<Day>, D::Error> {
    match Option::<String>::deserialize(deserializer)? {
        Some(text) if !is_blank(&text) => match parse_date(text.trim()) {
            Some(date) => Ok(Some(Day(date))),
            None => Err(serde::de::Error::custom(format!(
                "{text:?} is not a day that exists, written like 2025-03-11"
            ))),
        },
        _ => Ok(None),
    }
}

/// Every field of a question.
const FIELDS: &[&str] = &[
    "form",
    "disclosed_at",
    "revoked_at",
    "expiry",
    "event_happened_on",
    "conditioned_on",
    "exception",
    "improperly_combined",
    "known_false",
    "missing",
];

#[derive(Debug, Deserialize)]
#[serde(tag = "ask", rename_all = "snake_case")]
enum Question {
    Complete { form: Box<Form> },
    Usable(Use),
}

/// Works it out. Asks: complete, usable.
///
/// # Errors
/// The input is not a question of this topic, or the tables lack what it needs.
pub fn answer(input: &Value, tables: &Tables) -> Result<Value, ReckonError> {
    let table = AuthorizationTable::of(tables).map_err(ReckonError)?;
    match question::<Question>(input, FIELDS)? {
        Question::Complete { form } => {
            let missing = missing(&form, &table.purpose_when_person_asked);
            let also_due: &[&str] = if copy_is_due(&form) { &["copy_to_person"] } else { &[] };
            Ok(json!({ "complete": missing.is_empty(), "missing": missing, "also_due": also_due }))
        }
        Question::Usable(used) => {
            let defects = defects(&used);
            Ok(json!({ "usable": defects.is_empty(), "defects": defects }))
        }
    }
}

/// An answer in words.
pub fn words(answer: &Value) -> Vec<String> {
    let codes = |field: &str| -> Vec<String> {
        answer[field].as_array().into_iter().flatten().filter_map(Value::as_str).map(code_words).collect()
    };
    let mut lines = Vec::new();
    if let Some(complete) = answer["complete"].as_bool() {
        lines.push(match complete {
            true => "The authorization is complete.".to_owned(),
            false => format!("The authorization lacks: {}.", codes("missing").join("; ")),
        });
    }
    if let Some(usable) = answer["usable"].as_bool() {
        lines.push(match usable {
            true => "The authorization may be used.".to_owned(),
            false => format!("The authorization may not be used: {}.", codes("defects").join("; ")),
        });
    }
    lines.extend(codes("also_due").into_iter().map(|due| format!("Also due: {due}.")));
    lines
}

fn code_words(code: &str) -> String {
    let words = match code {
        "information" => "what is to be disclosed",
        "discloser" => "who may disclose it",
        "recipient" => "to whom",
        "purpose" => "what for",
        "expiry" => "the day or the event that ends it",
        "signature" => "the signature with its date, and a representative's authority",
        "right_to_revoke" => {
            "the right to revoke it, with how and the exceptions or where the notice tells them"
        }
        "conditioning" => "whether anything depends on signing",
        "redisclosure" => "that whoever receives it might pass it on",
        "copy_to_person" => "a copy to the person",
        "expired" => "it has ended",
        "revoked" => "it was revoked",
        "incomplete" => "something in it is missing",
        "improper_conditioning" => "something was made to depend on signing that must not",
        "improper_combination" => "it is combined with another paper it must stand apart from",
        "known_false" => "something in it is known to be false",
        other => other,
    };
    words.to_owned()
}

#[cfg(test)]
#[path = "authorization_tests.rs"]
mod tests;

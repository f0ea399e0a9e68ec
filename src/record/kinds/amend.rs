//! Putting right and adding, always beside what was written: corrections, addenda, late entries,
//! and a patient's request for amendment with all its papers.

use super::common::{Day, Given};
use crate::record::moment::Moment;
use crate::record::vocab::words;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Words were wrong. What was written stays readable.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Correction {
    /// Number of the entry.
    pub target: u64,
    /// Which field (JSON Pointer into its data, RFC 6901).
    pub field: String,
    /// What it says.
    pub was: serde_json::Value,
    /// What it should say.
    pub is: serde_json::Value,
    /// Why.
    pub reason: String,
    /// True when care was affected.
    pub care_affected: bool,
    /// How care was affected, or why not.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub care_words: Option<String>,
    /// When the patient was told, or why not.
    pub patient_told: Given<Moment>,
    /// Why the custodian, and not the author, corrects.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by_custodian_because: Option<String>,
    /// Number of the amendment request it answers.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub amendment: Option<u64>,
    /// True when the desk may read it, as the entry it corrects.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub for_desk: Option<bool>,
}

/// New information that belongs to an earlier entry.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Addendum {
    /// Number of the entry.
    pub target: u64,
    /// The information.
    pub text: String,
    /// When it became known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub learned_at: Option<Moment>,
    /// Numbers of the attachments.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub attachments: Vec<u64>,
    /// True when the desk may read it, as the entry it adds to.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub for_desk: Option<bool>,
}

/// Something left out at the time, that the author remembers.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct LateEntry {
    /// Number of the entry it belongs to, if there is one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub target: Option<u64>,
    /// Number of the visit opening.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub visit: Option<u64>,
    /// What was left out.
    pub text: String,
    /// Why it was left out.
    pub because: String,
    /// What it is written from: memory, a draft, a paper note.
    pub source: String,
    /// True when the desk may read it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub for_desk: Option<bool>,
}

/// A request to change the record.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct AmendmentRequest {
    /// Who asks.
    pub from: String,
    /// Day received.
    pub received_on: Day,
    /// The points asked.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub points: Vec<AmendmentPoint>,
    /// Answer due.
    pub due: Day,
    /// The clock it was reckoned by, with its source.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub clock: Option<String>,
    /// Number of the attachment.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub letter: Option<u64>,
}

/// One point asked.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct AmendmentPoint {
    /// Number within the request.
    pub no: u32,
    /// What is asked, as written.
    pub text: String,
    /// Numbers of the entries meant.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub entries: Vec<u64>,
}

/// The decision on a request for amendment.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct AmendmentDecision {
    /// Number of the request.
    pub request: u64,
    /// The decision on each point.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub points: Vec<PointDecision>,
    /// The letter sent.
    pub letter: AmendmentLetter,
    /// Whom to inform of what was accepted.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub inform: Vec<String>,
}

/// The decision on one point.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PointDecision {
    /// Number of the point within the request.
    pub no: u32,
    /// The decision.
    pub decision: Decision,
    /// Ground of a refusal.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ground: Option<RefusalGround>,
    /// Why, in words.
    pub reason: String,
    /// Numbers of the corrections made.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub corrections: Vec<u64>,
    /// Numbers of the entries or attachments it rests on.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub evidence: Vec<u64>,
}

words! {
    /// A decision on a point.
    Decision {
        Accepted = "accepted", Refused = "refused", Part = "part",
    }
}

words! {
    /// Ground for refusing an amendment (45 CFR 164.526(a)(2)).
    RefusalGround {
        NotMadeHere = "not-made-here", NotInRecordSet = "not-in-record-set",
        NotOpenToAccess = "not-open-to-access", AccurateAndComplete = "accurate-and-complete",
    }
}

/// The letter with the decision.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct AmendmentLetter {
    /// Date of the letter.
    pub dated: Day,
    /// How it was sent.
    pub sent_how: String,
    /// It states the ground.
    pub says_ground: bool,
    /// It states the right to disagree, and how.
    pub says_right_to_disagree: bool,
    /// It states the right to have request and refusal go along with the record.
    pub says_right_to_travel: bool,
    /// It states the complaint route with a named contact.
    pub says_complaint_route: bool,
    /// The contact it names for a complaint: name or title, and telephone (45 CFR 164.526(d)(1)(iv)).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub complaint_contact: Option<String>,
    /// Number of the attachment.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub letter: Option<u64>,
}

/// The patient's statement of disagreement.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Disagreement {
    /// Number of the amendment request.
    pub request: u64,
    /// Day received.
    pub received_on: Day,
    /// The statement.
    pub text: String,
    /// Number of the attachment.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub letter: Option<u64>,
}

/// The practice's answer to a disagreement.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Rebuttal {
    /// Number of the disagreement.
    pub disagreement: u64,
    /// The answer.
    pub text: String,
    /// Day a copy was sent to the patient, or why not.
    pub copy_sent_on: Given<Day>,
    /// Number of the attachment.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub letter: Option<u64>,
}

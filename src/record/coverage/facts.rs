//! The coverage facts: everything the coverage question looks at, for one patient and one request.
//!
//! The shape is that of `facts.schema.json`. Reading is strict: every key must be there even when it
//! is `null`, no key may be unknown or written twice. A document that breaks the schema or
//! contradicts itself is an error, never an answer.

mod check;
mod consent;
mod policy;
mod visit;

pub use consent::*;
pub use policy::*;
pub use visit::*;

use super::strict::{self, day, day_or_null, map_once, present};
use crate::record::moment::{Date, Moment};
use crate::record::vocab::{Glove, Region, Segment, Side, Technique, words};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// The facts document. Build it in memory or read it with [`Facts::from_json`].
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Facts {
    /// Always 1.
    pub facts_version: u64,
    /// The moment asked about, written with the clinic's offset. Not always the present.
    pub now: Moment,
    /// The policy values the clinic adopted.
    pub rules: Policy,
    /// Who may treat, and what.
    pub roster: Vec<Practitioner>,
    /// The patient's chart.
    pub chart: Chart,
    /// What is asked.
    pub request: Request,
}

/// Why a facts document gives no answer.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("the coverage facts cannot be used: at {path}: {what}. Nothing was changed. {cure}")]
pub struct FactsError {
    /// JSON pointer to the place (`/` is the whole document).
    pub path: String,
    /// What is wrong there.
    pub what: String,
    /// What to do next.
    pub cure: String,
}

impl Facts {
    /// Reads and checks a facts document.
    ///
    /// # Errors
    /// When the text is not JSON, breaks the schema, or contradicts itself.
    pub fn from_json(text: &str) -> Result<Facts, FactsError> {
        let facts: Facts = strict::read(text).map_err(|(path, what)| FactsError {
            path: if path.is_empty() { "/".to_owned() } else { path },
            what,
            cure: "Correct the document so that it follows facts.schema.json, then ask again.".to_owned(),
        })?;
        facts.check()?;
        Ok(facts)
    }

    /// Checks the limits of the schema that types cannot hold, and the contradictions: two entries
    /// with one id, a segment outside its region, a correction of a consent that is not there or with
    /// a value that does not fit its field, and the like.
    ///
    /// # Errors
    /// The first thing found wrong, with its place.
    pub fn check(&self) -> Result<(), FactsError> {
        check::facts(self)
    }
}

words! {
    /// The side in a request. `not-stated` is never a yes where a side is needed.
    RequestedSide {
        Left = "left", Right = "right", Both = "both", Midline = "midline", NotStated = "not-stated",
    }
}

impl From<Side> for RequestedSide {
    fn from(side: Side) -> Self {
        match side {
            Side::Left => RequestedSide::Left,
            Side::Right => RequestedSide::Right,
            Side::Both => RequestedSide::Both,
            Side::Midline => RequestedSide::Midline,
        }
    }
}

/// What is asked: may this be done, here, on this side, by this person.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Request {
    /// What hands would do.
    pub technique: Technique,
    /// Where; the whole of it.
    pub region: Region,
    /// On which side.
    pub side: RequestedSide,
    /// The segments, where named.
    pub segments: Vec<Segment>,
    /// Who would do it.
    pub practitioner_id: String,
    /// Glove material; none: not stated.
    #[serde(deserialize_with = "present")]
    pub glove_material: Option<Glove>,
    /// Position (face-down, seated, ...); none: not stated.
    #[serde(deserialize_with = "present")]
    pub position: Option<String>,
    /// Lotions, tapes and the like to be used.
    pub products: Vec<String>,
    /// Number of the request as an entry; none: after everything written.
    #[serde(deserialize_with = "present")]
    pub sequence_no: Option<u64>,
}

words! {
    /// Sex, as a condition on the practitioner may name it.
    Sex { Female = "female", Male = "male" }
}

/// A line of the roster.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Practitioner {
    /// Id of the practitioner.
    pub practitioner_id: String,
    /// Role, in the clinic's words.
    pub role: String,
    /// Sex, where recorded.
    #[serde(deserialize_with = "present")]
    pub sex: Option<Sex>,
    /// First day on the roster.
    #[serde(with = "day")]
    pub on_roster_from: Date,
    /// Last day on the roster, the whole day included; none: no end.
    #[serde(with = "day_or_null")]
    pub on_roster_last_day: Option<Date>,
    /// Last day of the license, the whole day included.
    #[serde(with = "day")]
    pub license_last_day: Date,
    /// What this practitioner may do.
    pub techniques_permitted: Vec<Technique>,
}

words! {
    /// Whether a chart may be worked in.
    ChartStatus {
        Open = "open", ClosedContinueAt = "closed-continue-at", Deceased = "deceased", Disposed = "disposed",
    }
}

/// State of the chart, and since when.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ChartState {
    /// The state.
    pub status: ChartStatus,
    /// From when on.
    pub since: Moment,
}

/// What the coverage question needs to know of the patient.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Patient {
    /// Date of birth.
    #[serde(with = "day")]
    pub birth_date: Date,
    /// Language tag of the interpreter needed; none: no interpreter needed.
    #[serde(deserialize_with = "present")]
    pub interpreter_language: Option<String>,
    /// When capacity was lost.
    #[serde(deserialize_with = "present")]
    pub lacks_capacity_from: Option<Moment>,
    /// When capacity was regained.
    #[serde(deserialize_with = "present")]
    pub lacks_capacity_until: Option<Moment>,
}

/// Somebody doubted that the patient can decide.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CapacityDoubt {
    /// Number of the entry.
    pub sequence_no: u64,
    /// When it was raised.
    pub raised_at: Moment,
    /// When it was settled; none: still open.
    #[serde(deserialize_with = "present")]
    pub resolved_at: Option<Moment>,
}

words! {
    /// Why a person may decide for the patient.
    Basis {
        Parent = "parent", CourtOrder = "court-order", PowerForHealthCare = "power-for-health-care", Nothing = "none",
    }
}

/// A person who may decide for the patient, and the authority on file. One person may be listed
/// once for each basis.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DecisionMaker {
    /// Id of the person.
    pub person_id: String,
    /// Why this person may decide.
    pub basis: Basis,
    /// True when the proof is on file.
    pub authority_on_file: bool,
    /// True when the authority reaches consent to treatment.
    pub may_consent: bool,
    /// When the authority starts; none: not started.
    #[serde(deserialize_with = "present")]
    pub authority_starts_at: Option<Moment>,
    /// Last day of the authority, the whole day included; none: no end.
    #[serde(with = "day_or_null")]
    pub authority_last_day: Option<Date>,
    /// When something newer took its place.
    #[serde(deserialize_with = "present")]
    pub superseded_at: Option<Moment>,
}

/// The chart, as far as coverage goes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Chart {
    /// Id of the chart.
    pub chart_id: String,
    /// Open or not.
    pub state: ChartState,
    /// The patient.
    pub patient: Patient,
    /// Doubts about capacity.
    pub capacity_doubts: Vec<CapacityDoubt>,
    /// Who may decide for the patient.
    pub decision_makers: Vec<DecisionMaker>,
    /// Examination and treatment consents: signed, drafts and declined.
    pub consents: Vec<Consent>,
    /// Corrections of consents.
    pub corrections: Vec<Correction>,
    /// Withdrawals.
    pub withdrawals: Vec<Withdrawal>,
    /// Standing refusals.
    pub refusals: Vec<Refusal>,
    /// Visits.
    pub visits: Vec<Visit>,
    /// What the patient is allergic to.
    pub allergy_review: AllergyReview,
    /// Alerts.
    pub alerts: Vec<Alert>,
    /// Adverse reactions.
    pub reactions: Vec<Reaction>,
    /// Changes in health.
    pub changes: Vec<Change>,
    /// Legal holds.
    pub holds: Vec<Hold>,
    /// The emergency declared last, if any.
    #[serde(deserialize_with = "present")]
    pub emergency: Option<Emergency>,
    /// The clock of the station.
    pub clock: ClockFacts,
}

words! {
    /// What is known about an allergy.
    AllergyStatus { Allergic = "allergic", NotAllergic = "not-allergic", Unknown = "unknown" }
}

/// The allergy review.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AllergyReview {
    /// When it was last gone through. Shown; no rule uses it.
    #[serde(with = "day_or_null")]
    pub reviewed_on: Option<Date>,
    /// Substance or product, and what is known.
    #[serde(deserialize_with = "map_once")]
    pub substances: BTreeMap<String, AllergyStatus>,
}

/// An alert on the chart.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Alert {
    /// Id of the alert.
    pub alert_id: String,
    /// What it is about; bars in the rules name it.
    pub kind: String,
    /// First day.
    #[serde(with = "day")]
    pub from: Date,
    /// Last day, the whole day included; none: no end.
    #[serde(with = "day_or_null")]
    pub until: Option<Date>,
    /// Where it holds; none: everywhere.
    #[serde(deserialize_with = "present")]
    pub region: Option<Region>,
}

words! {
    /// How bad an adverse reaction was.
    Severity { Mild = "mild", Moderate = "moderate", Severe = "severe" }
}

/// An adverse reaction.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Reaction {
    /// Id of the reaction.
    pub reaction_id: String,
    /// Number of the entry.
    pub sequence_no: u64,
    /// When it began.
    pub onset_at: Moment,
    /// The technique it followed.
    pub technique: Technique,
    /// Where that was done.
    pub region: Region,
    /// How bad.
    pub severity: Severity,
    /// When it was closed; none: open.
    #[serde(deserialize_with = "present")]
    pub closed_at: Option<Moment>,
}

words! {
    /// What changed in the patient's health.
    ChangeKind {
        Trauma = "trauma", NewMedicine = "new-medicine", Pregnancy = "pregnancy", Infection = "infection",
        AllergicEpisode = "allergic-episode",
    }
}

/// A change in the patient's health.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Change {
    /// Id of the change.
    pub change_id: String,
    /// Number of the entry.
    pub sequence_no: u64,
    /// What changed.
    pub kind: ChangeKind,
    /// When it happened. Shown; no rule uses it.
    #[serde(with = "day_or_null")]
    pub happened_on: Option<Date>,
    /// When it was noted.
    pub noted_at: Moment,
}

/// A legal hold.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Hold {
    /// Id of the hold.
    pub hold_id: String,
    /// From when on.
    pub placed_at: Moment,
    /// When it was lifted; none: in force.
    #[serde(deserialize_with = "present")]
    pub lifted_at: Option<Moment>,
}

/// A declared emergency.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Emergency {
    /// When it was declared.
    pub declared_at: Moment,
    /// When it ended; none: it goes on.
    #[serde(deserialize_with = "present")]
    pub ended_at: Option<Moment>,
}

/// The clock of the station, when the question is put.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ClockFacts {
    /// What it says.
    pub reads_at: Moment,
    /// When the last entry was written, by the entry itself.
    pub last_entry_written_at: Moment,
    /// Remarks about the clock.
    pub remarks: Vec<ClockRemark>,
}

/// A remark about the clock.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ClockRemark {
    /// When it was made.
    pub opened_at: Moment,
    /// When it was settled; none: open.
    #[serde(deserialize_with = "present")]
    pub closed_at: Option<Moment>,
    /// What was noticed.
    pub words: String,
}

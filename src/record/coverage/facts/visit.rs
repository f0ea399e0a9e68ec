//! A visit and what was confirmed, asked, answered, screened and measured in it.

use crate::record::coverage::strict::{map_once, present};
use crate::record::moment::Moment;
use crate::record::vocab::{Region, Segment, Side, Technique, words};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// A visit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Visit {
    /// Id of the visit.
    pub visit_id: String,
    /// Number of the entry that opened it.
    pub sequence_no: u64,
    /// When it was opened.
    pub opened_at: Moment,
    /// When it was closed; none: open.
    #[serde(deserialize_with = "present")]
    pub closed_at: Option<Moment>,
    /// Identity, as confirmed in the visit.
    #[serde(deserialize_with = "present")]
    pub identity_confirmed: Option<IdentityConfirmed>,
    /// A minor's own answers.
    pub own_answers: Vec<OwnAnswer>,
    /// What was asked.
    pub asked: Vec<Asked>,
    /// Pauses and stops.
    pub pauses: Vec<Pause>,
    /// Screens done.
    pub screens: Vec<Screen>,
    /// Measures taken.
    pub measures: Vec<Measure>,
    /// Conditions met.
    pub conditions_met: Vec<ConditionMet>,
    /// Reasons written against relative bars.
    pub written_reasons: Vec<WrittenReason>,
}

/// That the patient's identity was confirmed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct IdentityConfirmed {
    /// When.
    pub at: Moment,
    /// Number of the entry.
    pub sequence_no: u64,
    /// By what (full-name, birth-date, ...). The same one twice is one.
    pub identifiers: Vec<String>,
}

words! {
    /// A minor's own answer.
    YesNo { Yes = "yes", No = "no" }
}

/// A minor's own answer.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OwnAnswer {
    /// When.
    pub at: Moment,
    /// Number of the entry.
    pub sequence_no: u64,
    /// The answer.
    pub answer: YesNo,
}

words! {
    /// What the patient answered when asked today.
    AskedAnswer { Yes = "yes", YesWithLimit = "yes-with-limit", No = "no" }
}

/// That the patient was asked right before a technique.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Asked {
    /// When.
    pub at: Moment,
    /// Number of the entry.
    pub sequence_no: u64,
    /// The technique asked about.
    pub technique: Technique,
    /// The region asked about.
    pub region: Region,
    /// The side asked about.
    pub side: Side,
    /// The segments asked about, where named.
    pub segments: Vec<Segment>,
    /// Who asked.
    pub asked_by: String,
    /// The answer.
    pub answer: AskedAnswer,
    /// The limit, in the patient's words.
    #[serde(deserialize_with = "present")]
    pub limit_words: Option<String>,
}

words! {
    /// Whether the patient wanted a break or an end.
    PauseKind { Pause = "pause", Stop = "stop" }
}

/// A pause or a stop.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Pause {
    /// When.
    pub at: Moment,
    /// Number of the entry.
    pub sequence_no: u64,
    /// Pause or stop.
    pub kind: PauseKind,
    /// When the patient said yes to going on; none: not said.
    #[serde(deserialize_with = "present")]
    pub resumed_yes_at: Option<Moment>,
}

words! {
    /// The answer to an item of a screen.
    ItemAnswer { Yes = "yes", No = "no", NotAsked = "not-asked" }
}

words! {
    /// What the practitioner decided about a positive item.
    Decision { Refer = "refer", Defer = "defer", Proceed = "proceed" }
}

/// The answer to one item of a screen, and what was decided about it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ScreenAnswer {
    /// The answer.
    pub answer: ItemAnswer,
    /// Words about it.
    #[serde(deserialize_with = "present")]
    pub words: Option<String>,
    /// The decision.
    #[serde(deserialize_with = "present")]
    pub decision: Option<Decision>,
    /// When the flag was closed; none: open.
    #[serde(deserialize_with = "present")]
    pub closed_at: Option<Moment>,
}

/// A screen, as gone through.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Screen {
    /// Name of the screen.
    pub screen: String,
    /// When.
    pub done_at: Moment,
    /// Number of the entry.
    pub sequence_no: u64,
    /// Item and answer. An item that is missing was not asked.
    #[serde(deserialize_with = "map_once")]
    pub answers: BTreeMap<String, ScreenAnswer>,
}

/// A measure taken.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Measure {
    /// What was measured (`mouth-opening`).
    pub kind: String,
    /// The value, in millimeters.
    pub value_mm: f64,
    /// When.
    pub at: Moment,
    /// Number of the entry.
    pub sequence_no: u64,
}

/// That a condition is met.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ConditionMet {
    /// Kind of the condition.
    pub kind: String,
    /// With what value.
    #[serde(deserialize_with = "present")]
    pub value: Option<String>,
    /// From when on.
    pub from: Moment,
    /// Until when; none: it goes on.
    #[serde(deserialize_with = "present")]
    pub until: Option<Moment>,
    /// Number of the entry.
    pub sequence_no: u64,
}

/// A reason written against a relative bar.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WrittenReason {
    /// The alert it answers.
    pub alert_id: String,
    /// When.
    pub at: Moment,
    /// Number of the entry.
    pub sequence_no: u64,
    /// The reason.
    pub words: String,
}

//! Adverse reactions, open until closed.

use super::common::Day;
use super::visit::Severity;
use crate::record::moment::Moment;
use crate::record::vocab::{Region, Side, Technique};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// An adverse reaction. Open until a closing entry.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Reaction {
    /// What happened.
    pub what: String,
    /// When it began.
    pub onset_at: Moment,
    /// True when the time is approximate.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub onset_about: Option<bool>,
    /// Minutes after the procedure, if known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub onset_minutes: Option<u32>,
    /// Technique it is put down to.
    pub technique: Technique,
    /// Region it is put down to.
    pub region: Region,
    /// Side.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub side: Option<Side>,
    /// How bad.
    pub severity: Severity,
    /// What was done.
    pub action: String,
    /// Outcome so far.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub outcome: Option<String>,
    /// Procedures it is linked to.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub procedures: Vec<ProcedureRef>,
    /// Follow-up due.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub follow_up_due: Option<Day>,
    /// Who told it, and how.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub told_by: Option<String>,
    /// Number of the visit opening.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub visit: Option<u64>,
    /// Number of the contact in which it was told.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub contact: Option<u64>,
}

/// A procedure of a note.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ProcedureRef {
    /// Number of the note.
    pub note: u64,
    /// Number of the procedure within it.
    pub procedure: u32,
}

/// A reaction was looked at again, at the time it happened. It stays open.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ReactionRechecked {
    /// Number of the reaction.
    pub reaction: u64,
    /// How it is now.
    pub words: String,
    /// How that is known: call, visit, letter.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub known_by: Option<String>,
    /// What was advised.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub advice: Option<String>,
    /// Next follow-up due.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub follow_up_due: Option<Day>,
    /// Number of the visit opening.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub visit: Option<u64>,
}

/// A reaction is closed at the time it happened.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ReactionClosed {
    /// Number of the reaction.
    pub reaction: u64,
    /// Outcome.
    pub outcome: String,
    /// How: call, visit, letter.
    pub closed_with: String,
    /// Number of the visit opening.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub visit: Option<u64>,
}

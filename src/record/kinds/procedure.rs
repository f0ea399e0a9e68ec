//! What hands did: one line for each procedure, and what was left undone.

use super::common::Given;
use crate::record::moment::Moment;
use crate::record::vocab::{Glove, Region, Segment, Side, Technique, words};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// One procedure.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Procedure {
    /// Number within the note.
    pub no: u32,
    /// When it began.
    pub at: Moment,
    /// Technique.
    pub technique: Technique,
    /// Region.
    pub region: Region,
    /// Structure.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub structure: Option<String>,
    /// Motion segments, ribs or SI joint.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub segments: Vec<Segment>,
    /// Stretch of soft tissue over several levels; not for thrust or joint mobilization.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub span: Option<Span>,
    /// Side; needed where the structure has sides.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub side: Option<Side>,
    /// Direction.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub direction: Option<String>,
    /// Contact.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub contact: Option<String>,
    /// Grade, for example III.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub grade: Option<String>,
    /// Passes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub passes: Option<u32>,
    /// Seconds.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub seconds: Option<u32>,
    /// Position: face-down, face-up, seated, side-lying, ...
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub position: Option<String>,
    /// Instrument.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub instrument: Option<String>,
    /// Gloves; needed for all work inside the mouth.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub gloves: Option<GloveUse>,
    /// Why the gloves are not recorded: none worn, not remembered.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub gloves_not_recorded_because: Option<String>,
    /// Lotion, tape and the like.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub products: Vec<String>,
    /// Code of who did it.
    pub done_by: String,
    /// Response.
    pub response: Given<Response>,
    /// True when a joint sound was heard.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cavitation_heard: Option<bool>,
    /// Number of the consent relied on.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub consent: Option<u64>,
    /// Number of the asked-today entry.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub asked: Option<u64>,
    /// When it was stopped, if it was.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stopped_at: Option<Moment>,
    /// Why it was stopped.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stopped_because: Option<String>,
}

/// From which level to which.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Span {
    /// Upper level: occiput, C2, ...
    pub from: String,
    /// Lower level.
    pub to: String,
}

/// Gloves used.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct GloveUse {
    /// Material.
    pub material: Glove,
    /// True when a fresh pair was put on.
    pub fresh_pair: bool,
}

/// Response to a procedure.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Response {
    /// In one word.
    pub word: ResponseWord,
    /// Pain before, 0-10.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pain_before: Option<u8>,
    /// Pain afterwards, 0-10.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pain: Option<u8>,
    /// In words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub words: Option<String>,
}

words! {
    /// Response in one word.
    ResponseWord {
        Tolerated = "tolerated", Sore = "sore", Relieved = "relieved", Dizzy = "dizzy",
        NoChange = "no-change", Worse = "worse", Other = "other",
    }
}

/// Something not done.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Deferred {
    /// Technique.
    pub technique: Technique,
    /// Region.
    pub region: Region,
    /// Side.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub side: Option<Side>,
    /// Segments.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub segments: Vec<Segment>,
    /// Why.
    pub because: String,
}

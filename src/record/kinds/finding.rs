//! What hands and eyes found: one line for each finding.

use super::screening::Measured;
use crate::record::vocab::{Region, Segment, Side, words};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// One finding.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Finding {
    /// Number within the note.
    pub no: u32,
    /// Region.
    pub region: Region,
    /// Structure: masseter, disc, rib joint, ...
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub structure: Option<String>,
    /// Motion segment.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub segment: Option<Segment>,
    /// Single vertebra, where a level and not a segment is meant: T6, ...
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub level: Option<String>,
    /// Side.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub side: Option<Side>,
    /// What was found.
    pub kind: FindingKind,
    /// Grade: tenderness 0-4, strength 0-5, reflex 0-4.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub grade: Option<u8>,
    /// A measured value.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub measured: Option<Measured>,
    /// Result of a test.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub result: Option<TestResult>,
    /// In words; for a restriction, which direction.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub words: Option<String>,
    /// Where a trigger point refers to.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub refers_to: Option<String>,
    /// Method or name of the test.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub method: Option<String>,
    /// Instrument.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub instrument: Option<String>,
    /// Position.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub position: Option<String>,
}

words! {
    /// Kind of finding.
    FindingKind {
        Tenderness = "tenderness", Tone = "tone", TriggerPoint = "trigger-point", Swelling = "swelling",
        Temperature = "temperature", Asymmetry = "asymmetry", MotionRestriction = "motion-restriction",
        RangeOfMotion = "range-of-motion", EndFeel = "end-feel", Strength = "strength", Reflex = "reflex",
        Sensation = "sensation", OrthoTest = "ortho-test", NeuroTest = "neuro-test",
        JointSound = "joint-sound", MouthOpening = "mouth-opening", LateralMovement = "lateral-movement",
        Protrusion = "protrusion", Deviation = "deviation", Deflection = "deflection", Skin = "skin",
        Disc = "disc", Gait = "gait", Normal = "normal", Other = "other",
    }
}

words! {
    /// Result of a test.
    TestResult {
        Positive = "positive", Negative = "negative", Equivocal = "equivocal",
    }
}

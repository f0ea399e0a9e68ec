//! Screens, changes since, reasons written against an alert, and measures.

use super::common::{Amount, Day};
use crate::record::vocab::{Region, Segment, Side, words};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A screen, done at the time it happened.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Screen {
    /// Number of the visit opening.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub visit: Option<u64>,
    /// Which screen: neck, mouth, general, or another of the rules.
    pub screen: String,
    /// Every item, in the order asked.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub answers: Vec<ScreenAnswer>,
    /// In person or by telephone.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub how: Option<ScreenHow>,
    /// Code of who asked.
    pub done_by: String,
    /// Stop signal agreed (mouth screen).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stop_signal: Option<String>,
    /// Remarks.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub words: Option<String>,
    /// Why it was repeated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub repeated_because: Option<String>,
}

/// The answer to one item.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ScreenAnswer {
    /// The item, as the rules name it.
    pub item: String,
    /// The answer.
    pub answer: ItemAnswer,
    /// What was said; needed with a yes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub words: Option<String>,
    /// Decision; needed with a yes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub decision: Option<ItemDecision>,
}

words! {
    /// Answer to an item of a screen.
    ItemAnswer {
        Yes = "yes", No = "no", NotAsked = "not-asked",
    }
}

words! {
    /// Decision after a yes.
    ItemDecision {
        Refer = "refer", Defer = "defer", Proceed = "proceed",
    }
}

words! {
    /// How a screen was asked.
    ScreenHow {
        InPerson = "in-person", Telephone = "telephone", OnPaper = "on-paper",
    }
}

/// A positive item is closed at the time it happened.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ScreenItemClosed {
    /// Number of the screen.
    pub screen: u64,
    /// The item.
    pub item: String,
    /// What settled it.
    pub words: String,
    /// Number of the entry or attachment that settles it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub evidence: Option<u64>,
}

/// Something changed since the last screen. It was noted at the time in the head.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Change {
    /// Number of the visit opening.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub visit: Option<u64>,
    /// What changed.
    pub kind: ChangeKind,
    /// When it happened, if known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub happened_on: Option<Day>,
    /// What was told.
    pub words: String,
}

words! {
    /// Sort of change.
    ChangeKind {
        Trauma = "trauma", NewMedicine = "new-medicine", Pregnancy = "pregnancy", Infection = "infection",
        AllergicEpisode = "allergic-episode",
    }
}

/// A reason to go ahead in spite of an alert.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct WrittenReason {
    /// Number of the visit opening.
    pub visit: u64,
    /// Number of the alert.
    pub alert: u64,
    /// The reason.
    pub words: String,
}

/// Measures taken at the time it happened.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Measure {
    /// Number of the visit opening.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub visit: Option<u64>,
    /// Before, during or after treatment.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub phase: Option<Phase>,
    /// The measures.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub measures: Vec<Measured>,
    /// Code of who took them, if not the author.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub taken_by: Option<String>,
}

words! {
    /// When in a visit.
    Phase {
        Before = "before", During = "during", After = "after",
    }
}

/// One measure.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Measured {
    /// What was measured.
    pub kind: MeasureKind,
    /// The value in the unit of the kind.
    pub value: Amount,
    /// Second value: diastolic pressure, or the maximum of a questionnaire.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub second_value: Option<Amount>,
    /// Unit of the value.
    pub unit: Unit,
    /// As typed, where another unit or form was typed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub typed: Option<String>,
    /// Side.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub side: Option<Side>,
    /// Region.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub region: Option<Region>,
    /// Segment.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub segment: Option<Segment>,
    /// Name of the questionnaire, test or movement, where the kind leaves it open.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
    /// Plus or minus, for strength and reflex grades.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub plus_minus: Option<PlusMinus>,
    /// True for active, false for passive movement.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub active: Option<bool>,
    /// How it was measured; for mouth opening, whether the overlap was added.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub method: Option<String>,
    /// Instrument.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub instrument: Option<String>,
    /// Position of the patient.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub position: Option<String>,
    /// True when an unusual value was typed twice.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub retyped: Option<bool>,
    /// Reason for an unusual value.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unusual_because: Option<String>,
}

words! {
    /// Half a grade more or less.
    PlusMinus {
        Plus = "plus", Minus = "minus",
    }
}

words! {
    /// Unit of a measure.
    Unit {
        Of10 = "of-10", Mm = "mm", Deg = "deg", Grade = "grade", MmHg = "mmHg", PerMinute = "per-minute",
        Celsius = "celsius", Percent = "percent", Cm = "cm", Kg = "kg", Score = "score",
        Seconds = "seconds", Count = "count",
    }
}

words! {
    /// What was measured.
    MeasureKind {
        PainNow = "pain-now", PainWorst = "pain-worst", PainBest = "pain-best",
        MouthOpening = "mouth-opening", MouthOpeningPainFree = "mouth-opening-pain-free",
        MouthOpeningUnassisted = "mouth-opening-unassisted",
        MouthOpeningAssisted = "mouth-opening-assisted", JawLateral = "jaw-lateral",
        JawProtrusion = "jaw-protrusion", JawDeviation = "jaw-deviation", JawDeflection = "jaw-deflection",
        NeckFlexion = "neck-flexion", NeckExtension = "neck-extension",
        NeckSideBending = "neck-side-bending", NeckRotation = "neck-rotation",
        LowBackFlexion = "low-back-flexion", LowBackExtension = "low-back-extension",
        LowBackSideBending = "low-back-side-bending", ShoulderFlexion = "shoulder-flexion",
        ShoulderAbduction = "shoulder-abduction", ShoulderExternalRotation = "shoulder-external-rotation",
        ShoulderInternalRotation = "shoulder-internal-rotation", StraightLegRaise = "straight-leg-raise",
        OtherMovement = "other-movement", Strength = "strength", Reflex = "reflex",
        BloodPressure = "blood-pressure", Pulse = "pulse", Respiration = "respiration",
        Temperature = "temperature", OxygenSaturation = "oxygen-saturation", Height = "height",
        Weight = "weight", Questionnaire = "questionnaire", Other = "other",
    }
}

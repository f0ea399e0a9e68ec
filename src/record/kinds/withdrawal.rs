//! What the patient took back, refused, was asked and answered. The time something was said is
//! the time it happened in the head of the entry; the time it was written stands beside it.

use super::common::Given;
use super::consent::{ConsentKind, GivenBy};
use crate::record::moment::Moment;
use crate::record::vocab::{Region, Segment, Side, Technique, words};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A consent is taken back. It works from the moment it was said, however late it is written.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Withdrawal {
    /// Who said it.
    pub said_by: GivenBy,
    /// In which way.
    pub how: How,
    /// The patient's own words.
    pub patient_words: Given<String>,
    /// Kinds of consent taken back; empty: every kind of care.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub consent_kinds: Vec<ConsentKind>,
    /// Techniques taken back; absent: all.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub techniques: Option<Vec<Technique>>,
    /// Regions taken back; absent: everywhere.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub regions: Option<Vec<Region>>,
    /// Side taken back; absent: every side.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub side: Option<Side>,
    /// Numbers of the consents the patient meant, where they were named.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub consents: Vec<u64>,
    /// What was under way.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub under_way: Option<String>,
    /// What was stopped, and when.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stopped: Option<Stopped>,
    /// How the patient was on leaving.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub on_leaving: Option<OnLeaving>,
    /// Next step offered.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub offered_next_step: Option<String>,
    /// Number of the withdrawal, sealed at once, that this entry adds the rest to. Its scope is repeated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub completes: Option<u64>,
    /// Number of the visit opening.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub visit: Option<u64>,
}

words! {
    /// How something was expressed.
    How {
        Words = "words", RaisedHand = "raised-hand", TurnedAway = "turned-away", StopSignal = "stop-signal",
        Telephone = "telephone", Letter = "letter", Message = "message", Other = "other",
    }
}

/// What was stopped.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Stopped {
    /// What was stopped.
    pub what: String,
    /// When.
    pub at: Moment,
}

/// How the patient was on leaving.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct OnLeaving {
    /// Signs and symptoms, and numbers.
    pub words: String,
    /// When settled.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub settled_at: Option<Moment>,
    /// When the patient left.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub left_at: Option<Moment>,
    /// With whom.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub with: Option<String>,
}

/// A pause or stop in a visit, or its end.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Pause {
    /// Number of the visit opening.
    pub visit: u64,
    /// Pause, stop, or going on again.
    pub kind: PauseKind,
    /// How it was expressed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub how: Option<How>,
    /// Why.
    pub reason: Given<String>,
    /// When the patient said yes to going on, if already known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub resumed_yes_at: Option<Moment>,
    /// For going on again: number of the pause.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub of: Option<u64>,
    /// What was done.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub action: Option<String>,
}

words! {
    /// Pause, stop, or going on again after the patient's yes.
    PauseKind {
        Pause = "pause", Stop = "stop", Resumed = "resumed",
    }
}

/// A lasting no. Lifted only by a new consent that names it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct StandingRefusal {
    /// Who said it.
    pub said_by: GivenBy,
    /// Techniques refused; absent: all.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub techniques: Option<Vec<Technique>>,
    /// Where; absent: everywhere.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub regions: Option<Vec<Region>>,
    /// Which side; absent: every side.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub side: Option<Side>,
    /// As said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub words: Option<String>,
    /// Number of the visit opening.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub visit: Option<u64>,
}

/// Asked in the visit, and the answer.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Asked {
    /// Number of the visit opening.
    pub visit: u64,
    /// Technique asked about.
    pub technique: Technique,
    /// Region asked about.
    pub region: Region,
    /// Side asked about.
    pub side: Side,
    /// Segments named when asking.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub segments: Vec<Segment>,
    /// Code of who asked, who is the one who will do it.
    pub asked_by: String,
    /// The answer.
    pub answer: AskedAnswer,
    /// The limit, as said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub limit_words: Option<String>,
    /// Code of who heard it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub heard_by: Option<String>,
    /// Who answered, if not the patient.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub answered_by: Option<GivenBy>,
    /// As said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub words: Option<String>,
}

words! {
    /// The answer when asked.
    AskedAnswer {
        Yes = "yes", YesWithLimit = "yes-with-limit", No = "no",
    }
}

/// A minor's own yes or no.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct OwnAnswer {
    /// Number of the visit opening; absent when said before it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub visit: Option<u64>,
    /// The answer.
    pub answer: YesNo,
    /// What was asked.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub about: Option<String>,
    /// As said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub words: Option<String>,
}

words! {
    /// Yes or no.
    YesNo {
        Yes = "yes", No = "no",
    }
}

/// A condition of a consent is met, for a time.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ConditionMet {
    /// Number of the visit opening.
    pub visit: u64,
    /// The condition's word, as in the consent.
    pub kind: String,
    /// Which of its values.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub value: Option<String>,
    /// From when.
    pub from: Moment,
    /// Until when; still running when absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub until: Option<Moment>,
    /// Who: the chaperone, the guardian.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub who: Option<String>,
    /// Number of the earlier entry whose end this one states.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ends: Option<u64>,
}

/// An emergency is declared, or ended, at the time it happened. It blocks nothing.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Emergency {
    /// Declared or ended.
    pub state: EmergencyState,
    /// Number of the declaration that is ended.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub of: Option<u64>,
    /// What happened and what was done.
    pub words: String,
    /// Who was called, and when.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub called: Vec<String>,
    /// Number of the visit opening.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub visit: Option<u64>,
}

words! {
    /// State of an emergency.
    EmergencyState {
        Declared = "declared", Ended = "ended",
    }
}

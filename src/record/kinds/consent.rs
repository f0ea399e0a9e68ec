//! What the patient agreed to or declined. It was given when it happened (the head of the entry
//! says so); the time it was written stands beside it.

use super::common::{Day, Given};
use crate::record::moment::Moment;
use crate::record::vocab::{Region, Segment, Side, Technique, words};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A consent, or a declined one. It was given when it happened; it counts from when it was written.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Consent {
    /// What is agreed to. One kind does not bring another.
    pub kind: ConsentKind,
    /// Signed, or declined: a declined consent is a refusal.
    pub status: ConsentStatus,
    /// How it was given.
    pub form: ConsentForm,
    /// Code of the wording's edition, or why none was used.
    pub wording: Given<String>,
    /// Techniques agreed to, each named.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub techniques: Vec<Technique>,
    /// Regions agreed to.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub regions: Vec<Region>,
    /// Regions left out.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub excluded_regions: Vec<Region>,
    /// Side agreed to; needed for care.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub side: Option<Side>,
    /// Limits by segment of the spine.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub segment_limits: Vec<SegmentLimit>,
    /// Who may do it.
    pub practitioners_allowed: PractitionersAllowed,
    /// Conditions the patient set.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub conditions: Vec<Condition>,
    /// The explanation. Absent: not explained yet, so not usable for what needs it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub explained: Option<Explained>,
    /// The patient's own words and wishes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub patient_words: Option<String>,
    /// Who gave it.
    pub given_by: GivenBy,
    /// BLAKE3 of the signature's image or of the signed paper, hex.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub signature_image: Option<String>,
    /// Number of the attachment with the signed paper.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub paper: Option<u64>,
    /// Code of who heard a verbal consent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub heard_by: Option<String>,
    /// Witness.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub witness: Option<Witness>,
    /// Interpreter.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub interpreter: Option<Interpreter>,
    /// First day it holds.
    pub valid_from: Day,
    /// Last day it holds; absent: the rules' ceiling alone.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub valid_until: Option<Day>,
    /// Event that ends it: end of episode, ...
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ends_on_event: Option<String>,
    /// Numbers of the live consents this one is narrower than, found when it was entered.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub narrower_than: Vec<u64>,
    /// The patient's answer about the rest of those.
    pub rest_of_earlier: RestOfEarlier,
    /// For consents outside care: which pictures, message channel, observer, release or notice, and the limits.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub matter: Option<String>,
    /// Signal agreed for stopping.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stop_signal: Option<String>,
    /// Whether a chaperone was offered, and the answer.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub chaperone: Option<ChaperoneOffer>,
    /// True when a copy was given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub copy_given: Option<bool>,
    /// Remark on capacity, where it was doubted.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub capacity_remark: Option<String>,
    /// The patient's reason for declining, and what was explained about declining.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub declined_because: Option<String>,
    /// Number of the visit opening, if given in a visit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub visit: Option<u64>,
}

words! {
    /// What a consent is for.
    ConsentKind {
        Examination = "examination", Treatment = "treatment", InsideMouth = "inside-mouth",
        SensitiveArea = "sensitive-area", Imaging = "imaging", PicturesForChart = "pictures-for-chart",
        PicturesForTeaching = "pictures-for-teaching", Observer = "observer",
        MessageChannel = "message-channel", ReleaseOfRecord = "release-of-record",
        FinancialNotice = "financial-notice",
    }
}

words! {
    /// Whether a consent was given or declined.
    ConsentStatus {
        Signed = "signed", Declined = "declined",
    }
}

words! {
    /// How a consent was given.
    ConsentForm {
        WrittenSigned = "written-signed", WrittenOnScreen = "written-on-screen",
        ScanOfPaper = "scan-of-paper", VerbalRecorded = "verbal-recorded",
    }
}

/// Between which segments a technique may be used; the bounds are allowed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SegmentLimit {
    /// Techniques limited; absent: all.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub techniques: Option<Vec<Technique>>,
    /// Nearest the head that is still allowed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub highest_segment: Option<Segment>,
    /// Farthest from the head that is still allowed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lowest_segment: Option<Segment>,
}

/// Who may do what was agreed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PractitionersAllowed {
    /// Any licensed here, named people, or roles.
    pub kind: AllowedKind,
    /// Staff codes or role words; empty for any.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub values: Vec<String>,
}

words! {
    /// How allowed practitioners are named.
    AllowedKind {
        Any = "any", Named = "named", Role = "role",
    }
}

/// One condition the patient set.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Condition {
    /// chaperone-present, guardian-in-building, glove-material, not-face-down, practitioner-sex, read-aloud, or another word.
    pub kind: String,
    /// Allowed values, for example nitrile.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub values: Vec<String>,
    /// Words to be read aloud, or the condition as said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub words: Option<String>,
}

/// What was explained, by whom and when.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Explained {
    /// Code of who explained.
    pub by: String,
    /// When.
    pub at: Moment,
    /// Procedures as explained.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub procedures: Option<String>,
    /// Alternatives, doing nothing among them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub alternatives: Option<String>,
    /// Risks named: soreness, stiffness, headache, fatigue, rib-or-strain, disc-or-nerve, neck-artery-event, stroke, jaw-ache, gag, bite-reflex, mouth-abrasion, ...
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub risks: Vec<String>,
    /// Risks particular to this patient.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub risks_this_patient: Vec<String>,
    /// Questions asked, or that none were.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub questions: Option<String>,
    /// True when the questions were answered.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub answered: Option<bool>,
}

/// Who spoke or signed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct GivenBy {
    /// The patient, or a decision-maker.
    pub role: GiverRole,
    /// Id of the decision-maker within this chart.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub person_id: Option<String>,
    /// Name as signed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
}

words! {
    /// Who spoke for the patient.
    GiverRole {
        Oneself = "self", DecisionMaker = "decision-maker",
    }
}

/// A witness; neither the practitioner nor the giver.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Witness {
    /// Name.
    pub name: String,
    /// Staff code, if staff.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub code: Option<String>,
    /// Relation to the patient.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub relation: Option<String>,
    /// When the witness signed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at: Option<Moment>,
}

/// An interpreter.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Interpreter {
    /// Name, or number at the service.
    pub name_or_number: String,
    /// Language (BCP 47 tag).
    pub language: String,
    /// True when not family, friend or staff.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub independent: Option<bool>,
    /// True when by telephone.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by_telephone: Option<bool>,
}

words! {
    /// The patient's answer about the rest of earlier, wider consents.
    RestOfEarlier {
        NotApplicable = "not-applicable", Kept = "kept", Withdrawn = "withdrawn", NotAsked = "not-asked",
    }
}

/// Whether a chaperone was offered.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ChaperoneOffer {
    /// True when offered.
    pub offered: bool,
    /// The answer.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub answer: Option<ChaperoneAnswer>,
    /// Who it was.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
}

words! {
    /// Answer to the offer of a chaperone.
    ChaperoneAnswer {
        Accepted = "accepted", Declined = "declined",
    }
}

/// The later answer about the rest of earlier, wider consents.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RestAnswer {
    /// Number of the narrower consent.
    pub consent: u64,
    /// The answer.
    pub rest_of_earlier: RestOfEarlier,
    /// Who said it.
    pub said_by: GivenBy,
    /// As said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub words: Option<String>,
}

/// The event that ends a consent was reached, at the time it happened.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct EndEvent {
    /// Numbers of the consents it ends.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub consents: Vec<u64>,
    /// The event, as the consents name it.
    pub event: String,
    /// Remarks.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub words: Option<String>,
}

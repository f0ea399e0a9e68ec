//! Consents, their corrections, withdrawals and standing refusals.

use crate::record::coverage::strict::{day, day_or_null, present};
use crate::record::moment::{Date, Moment, parse_date};
use crate::record::vocab::{Region, Segment, Side, Technique, words};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::Value;

words! {
    /// What became of a consent form.
    ConsentStatus { Signed = "signed", Draft = "draft", Declined = "declined" }
}

words! {
    /// How consent was given.
    ConsentForm {
        WrittenSigned = "written-signed", WrittenOnScreen = "written-on-screen", ScanOfPaper = "scan-of-paper",
        VerbalRecorded = "verbal-recorded",
    }
}

words! {
    /// Who gave it: the patient, or somebody who decides for the patient.
    GiverRole { OwnSelf = "self", DecisionMaker = "decision-maker" }
}

/// Who gave a consent.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct GivenBy {
    /// In what capacity.
    pub role: GiverRole,
    /// The person, for a decision-maker.
    #[serde(deserialize_with = "present")]
    pub person_id: Option<String>,
}

/// That procedures, alternatives, risks and questions were gone through.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Explained {
    /// By whom.
    pub by: String,
    /// When.
    pub at: Moment,
}

/// A limit on the segments of the spine.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SegmentLimit {
    /// The techniques it binds; none = all.
    #[serde(deserialize_with = "present")]
    pub techniques: Option<Vec<Technique>>,
    /// Nearest the head that is still allowed. C0-C1 to L5-S1.
    #[serde(deserialize_with = "present")]
    pub highest_segment: Option<Segment>,
    /// Farthest from the head that is still allowed. C0-C1 to L5-S1.
    #[serde(deserialize_with = "present")]
    pub lowest_segment: Option<Segment>,
}

words! {
    /// Whether a consent names who may treat.
    AllowedKind { Any = "any", Named = "named", Role = "role" }
}

/// Who may treat under a consent.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PractitionersAllowed {
    /// Anybody, the people named, or the roles named.
    pub kind: AllowedKind,
    /// Ids or roles.
    pub values: Vec<String>,
}

/// A condition the patient set.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Condition {
    /// chaperone-present, guardian-in-building, glove-material, not-face-down, practitioner-sex,
    /// read-aloud, or any other word.
    pub kind: String,
    /// What meets it, where it needs saying.
    pub values: Vec<String>,
    /// In the patient's words.
    #[serde(deserialize_with = "present")]
    pub words: Option<String>,
}

/// The interpreter of a consent.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Interpreter {
    /// Name, or the number of a service.
    pub name_or_number: String,
    /// Language tag.
    pub language: String,
}

/// The event that ends a consent.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct EndsOnEvent {
    /// In words.
    pub event: String,
    /// When it came; none: not yet.
    #[serde(deserialize_with = "present")]
    pub reached_at: Option<Moment>,
}

words! {
    /// The patient's answer about the rest of earlier, broader consents.
    RestOfEarlier {
        NotApplicable = "not-applicable", Kept = "kept", Withdrawn = "withdrawn", NotAsked = "not-asked",
    }
}

/// A consent to examination or treatment.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Consent {
    /// Id of the consent.
    pub consent_id: String,
    /// Number of the entry.
    pub sequence_no: u64,
    /// Signed, draft or declined.
    pub status: ConsentStatus,
    /// How it was given.
    pub form: ConsentForm,
    /// Who gave it.
    pub given_by: GivenBy,
    /// When the person said or signed it; for a decline, when it was declined.
    pub given_at: Moment,
    /// When the entry was made.
    pub written_at: Moment,
    /// The explanation; none: not recorded.
    #[serde(deserialize_with = "present")]
    pub explained: Option<Explained>,
    /// Techniques agreed to.
    pub techniques: Vec<Technique>,
    /// Regions agreed to.
    pub regions: Vec<Region>,
    /// Regions left out.
    pub excluded_regions: Vec<Region>,
    /// Side agreed to.
    pub side: Side,
    /// Limits on segments.
    pub segment_limits: Vec<SegmentLimit>,
    /// Who may treat.
    pub practitioners_allowed: PractitionersAllowed,
    /// Conditions set.
    pub conditions: Vec<Condition>,
    /// The interpreter; none: none recorded.
    #[serde(deserialize_with = "present")]
    pub interpreter: Option<Interpreter>,
    /// Who heard a verbal consent.
    #[serde(deserialize_with = "present")]
    pub heard_by: Option<String>,
    /// First valid day.
    #[serde(with = "day")]
    pub valid_from: Date,
    /// Last valid day, the whole day included; none: no date of its own.
    #[serde(with = "day_or_null")]
    pub valid_until: Option<Date>,
    /// The event that ends it.
    #[serde(deserialize_with = "present")]
    pub ends_on_event: Option<EndsOnEvent>,
    /// Consents this one is narrower than, found when it was entered.
    pub narrower_than: Vec<String>,
    /// What the patient said about the rest of those.
    pub rest_of_earlier: RestOfEarlier,
}

words! {
    /// The field of a consent that a correction replaces.
    CorrectedField {
        Side = "side", Techniques = "techniques", Regions = "regions",
        ExcludedRegions = "excluded_regions", ValidUntil = "valid_until",
    }
}

/// A correction of one field of a consent.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Correction {
    /// Id of the correction.
    pub correction_id: String,
    /// Number of the entry.
    pub sequence_no: u64,
    /// The consent corrected.
    pub consent_id: String,
    /// When it was written; it holds from then on.
    pub written_at: Moment,
    /// The field.
    pub field: CorrectedField,
    /// What it said before. Shown; no rule uses it.
    pub was: Value,
    /// What it says from then on.
    pub is: Value,
}

/// What a corrected field says from the correction on.
#[derive(Debug, Clone, PartialEq)]
pub enum Corrected {
    /// The side.
    Side(Side),
    /// The techniques.
    Techniques(Vec<Technique>),
    /// The regions.
    Regions(Vec<Region>),
    /// The regions left out.
    ExcludedRegions(Vec<Region>),
    /// The last valid day.
    ValidUntil(Option<Date>),
}

impl Correction {
    /// The new value, when it fits the field; none otherwise (which [`super::Facts::check`] reports).
    pub fn value(&self) -> Option<Corrected> {
        let is = &self.is;
        match self.field {
            CorrectedField::Side => Side::from_word(is.as_str()?).map(Corrected::Side),
            CorrectedField::Techniques => list(is, Technique::from_word, 1).map(Corrected::Techniques),
            CorrectedField::Regions => list(is, Region::from_word, 1).map(Corrected::Regions),
            CorrectedField::ExcludedRegions => list(is, Region::from_word, 0).map(Corrected::ExcludedRegions),
            CorrectedField::ValidUntil if is.is_null() => Some(Corrected::ValidUntil(None)),
            CorrectedField::ValidUntil => {
                parse_date(is.as_str()?).map(|day| Corrected::ValidUntil(Some(day)))
            }
        }
    }
}

/// Different words of a vocabulary, at least so many; none for anything else.
fn list<T: PartialEq>(value: &Value, from_word: fn(&str) -> Option<T>, at_least: usize) -> Option<Vec<T>> {
    let items: Vec<T> =
        value.as_array()?.iter().map(|item| from_word(item.as_str()?)).collect::<Option<_>>()?;
    let different = items.iter().enumerate().all(|(at, item)| !items[..at].contains(item));
    (items.len() >= at_least && different).then_some(items)
}

/// A withdrawal of consent.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Withdrawal {
    /// Id of the withdrawal.
    pub withdrawal_id: String,
    /// Number of the entry.
    pub sequence_no: u64,
    /// When it was said; it holds from then on.
    pub said_at: Moment,
    /// When the entry was made.
    pub written_at: Moment,
    /// The techniques; none = all.
    #[serde(deserialize_with = "present")]
    pub techniques: Option<Vec<Technique>>,
    /// The regions; none = everywhere.
    #[serde(deserialize_with = "present")]
    pub regions: Option<Vec<Region>>,
    /// The side; none = every side.
    #[serde(deserialize_with = "present")]
    pub side: Option<Side>,
}

/// A standing refusal.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Refusal {
    /// Id of the refusal.
    pub refusal_id: String,
    /// Number of the entry.
    pub sequence_no: u64,
    /// When it was said.
    pub said_at: Moment,
    /// The techniques; none = all.
    #[serde(deserialize_with = "present")]
    pub techniques: Option<Vec<Technique>>,
    /// The regions; none = everywhere.
    #[serde(deserialize_with = "present")]
    pub regions: Option<Vec<Region>>,
    /// The side; none = every side.
    #[serde(deserialize_with = "present")]
    pub side: Option<Side>,
}

//! Who the patient is, who decides for the patient, what is always to be minded, and what
//! becomes of the chart.

use super::common::{Day, Given};
use crate::record::moment::Moment;
use crate::record::vocab::{Region, Segment, Side, words};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// A chart is opened for a patient.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ChartOpened {
    /// Chart number; opaque, never made from the name.
    pub chart_no: String,
    /// Who the patient is.
    pub identity: Identity,
    /// What confirmed the identity: licence-card, birth-date, ...
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub identifiers_seen: Vec<String>,
    /// True when charts with the same name and birth date were looked for.
    pub same_name_looked_for: bool,
    /// Chart numbers that looked alike, and were judged another person.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub like_charts: Vec<String>,
    /// Other charts that belong with this one.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub links: Vec<ChartLink>,
    /// Why it is opened, where that isn't plain.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub opened_because: Option<String>,
}

/// Another chart that belongs with this one.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ChartLink {
    /// Number of the other chart.
    pub chart_no: String,
    /// How they belong together: old paper chart, duplicate, same household.
    pub why: String,
}

/// Who the patient is and how to reach them.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Identity {
    /// Legal name.
    pub legal_name: String,
    /// Name the patient goes by.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub chosen_name: Option<String>,
    /// Former names and other spellings, for finding.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub former_names: Vec<String>,
    /// Birth date, or an estimate.
    pub birth_date: Birth,
    /// A second identifier: address or telephone.
    pub second_identifier: Identifier,
    /// Postal address.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub address: Option<String>,
    /// Telephone numbers.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub telephones: Vec<String>,
    /// E-mail address.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub email: Option<String>,
    /// Language spoken (BCP 47 tag).
    pub language: String,
    /// Language an interpreter is needed for; absent when none is needed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub interpreter_language: Option<String>,
    /// Whom to call in an emergency.
    pub emergency_contact: Given<ContactPerson>,
    /// Whether the privacy notice was given.
    pub privacy_notice: PrivacyNotice,
    /// Who decides: the patient, a guardian or an agent.
    pub decision_maker: DecisionBy,
    /// Sex as recorded elsewhere.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sex_recorded: Option<String>,
    /// Gender and form of address as wished.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub gender_wished: Option<String>,
    /// Occupation.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub occupation: Option<String>,
    /// Sport.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sport: Option<String>,
    /// Instrument played; matters for the jaw.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub instrument: Option<String>,
    /// Family doctor.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub physician: Option<String>,
    /// Dentist.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub dentist: Option<String>,
    /// Who pays.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub payer: Option<Payer>,
    /// How the patient wants to be reached.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub preferred_channel: Option<String>,
    /// True when no messages may be left.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub no_messages: Option<bool>,
    /// What the patient asked not to be told or given to whom.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub restrictions: Vec<String>,
    /// National number, only if the patient gives it and a board asks.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub national_number: Option<String>,
    /// Number of the attachment with a photograph for identity.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub photo: Option<u64>,
}

impl Identity {
    /// Every name on file: the legal one, the one gone by, and the earlier ones with other spellings.
    pub fn names(&self) -> impl Iterator<Item = &str> {
        let own = [Some(&self.legal_name), self.chosen_name.as_ref()];
        own.into_iter().flatten().chain(&self.former_names).map(String::as_str)
    }
}

/// A birth date: exact, or an estimated year.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Birth {
    /// The exact date.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub date: Option<Day>,
    /// The year, where only an estimate is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub estimated_year: Option<i16>,
    /// How the estimate was made.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub words: Option<String>,
}

/// One identifier.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Identifier {
    /// What it is.
    pub kind: IdentifierKind,
    /// As given.
    pub value: String,
}

words! {
    /// What identifies beside name and birth date.
    IdentifierKind {
        Address = "address", Telephone = "telephone", Other = "other",
    }
}

/// Somebody to be reached for the patient.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ContactPerson {
    /// Name.
    pub name: String,
    /// Relation to the patient.
    pub relation: String,
    /// Telephone.
    pub telephone: String,
}

/// Whether the privacy notice was given.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PrivacyNotice {
    /// Given, refused or not given.
    pub status: NoticeStatus,
    /// On which day.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub on: Option<Day>,
    /// Code of the edition.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wording: Option<String>,
    /// Why it was refused or not given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub words: Option<String>,
}

words! {
    /// What became of a notice.
    NoticeStatus {
        Given = "given", Refused = "refused", NotGiven = "not-given",
    }
}

words! {
    /// Who decides about care.
    DecisionBy {
        Oneself = "self", Guardian = "guardian", Agent = "agent",
    }
}

/// Who pays for care.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Payer {
    /// Name of the payer.
    pub name: String,
    /// Member number.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub member_no: Option<String>,
    /// Remarks.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub words: Option<String>,
}

/// Something about the identity changed; the whole identity as it now stands is repeated.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct IdentityChanged {
    /// The identity from now on.
    pub identity: Identity,
    /// Names of the fields that changed.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub changed: Vec<String>,
    /// Why: married, moved, wrong spelling, notice given.
    pub because: String,
    /// Who said so.
    pub told_by: String,
}

/// A person who decides, or may receive, for the patient. A later entry for the same person replaces it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct DecisionMaker {
    /// Id of the person within this chart, as consents quote it.
    pub person_id: String,
    /// Name.
    pub name: String,
    /// Relation to the patient.
    pub relation: String,
    /// Birth date; a minor can't decide for another.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub birth_date: Option<Day>,
    /// Telephone.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub telephone: Option<String>,
    /// What the authority rests on.
    pub basis: Basis,
    /// True when the paper was seen and is kept.
    pub authority_on_file: bool,
    /// Which paper was seen.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub document_seen: Option<String>,
    /// Number of the attachment.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub document: Option<u64>,
    /// May consent alone.
    pub may_consent: bool,
    /// May receive records.
    pub may_receive_records: bool,
    /// When the authority starts; absent: no start recorded.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub authority_starts_at: Option<Moment>,
    /// Last day of the authority; open when absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub authority_last_day: Option<Day>,
    /// When this authority ended because another took its place.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub superseded_at: Option<Moment>,
    /// Numbers of the decision-maker entries this one takes the place of, from its own time on.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub supersedes: Vec<u64>,
    /// Remarks, for example limits.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub words: Option<String>,
}

words! {
    /// What a decision-maker's authority rests on.
    Basis {
        Parent = "parent", CourtOrder = "court-order", PowerForHealthCare = "power-for-health-care",
        None = "none",
    }
}

/// The patient's capacity to decide: a doubt, its end, a loss, or its return. From the time it happened.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Capacity {
    /// What is stated.
    pub state: CapacityState,
    /// Number of the entry this one resolves or ends.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub of: Option<u64>,
    /// What was seen or heard.
    pub words: String,
    /// Who assessed it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub assessed_by: Option<String>,
    /// When it ended, if already known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub until: Option<Moment>,
}

words! {
    /// What is stated about capacity.
    CapacityState {
        DoubtRaised = "doubt-raised", DoubtResolved = "doubt-resolved", LacksCapacity = "lacks-capacity",
        HasCapacity = "has-capacity",
    }
}

/// The allergy and sensitivity review.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct AllergyReview {
    /// Day of the review, or why it was not done.
    pub reviewed_on: Given<Day>,
    /// Substance or product and its status: latex, other-glove-material, tape-adhesive, lotions-oils-nuts, nickel, heat-cold, medicines, ...
    pub substances: BTreeMap<String, SubstanceStatus>,
    /// What happened, for each that needs words.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub details: Vec<AllergyDetail>,
    /// Who told it, if not the patient.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub told_by: Option<String>,
}

words! {
    /// Status of a substance.
    SubstanceStatus {
        Allergic = "allergic", NotAllergic = "not-allergic", Unknown = "unknown",
    }
}

/// One reaction to one substance.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct AllergyDetail {
    /// The substance, as in `substances`.
    pub substance: String,
    /// What happened.
    pub reaction: String,
    /// How bad.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub severity: Option<AllergySeverity>,
    /// When, as told.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub when: Option<String>,
    /// Where it happened.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub place: Option<String>,
    /// Number of an attachment that shows it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub attachment: Option<u64>,
}

words! {
    /// How bad an allergic reaction was.
    AllergySeverity {
        Mild = "mild", Moderate = "moderate", Severe = "severe",
    }
}

/// Something always to be minded with this patient.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Alert {
    /// The alert's word as the rules name it: anticoagulant, pregnancy, osteoporosis, joint-laxity, inflammatory-arthritis, implant-or-fusion, prior-artery-dissection-or-stroke, cancer-history, recent-trauma-or-surgery, jaw-dislocation-history, strong-gag-reflex, trauma-aware-care, pacemaker, ...
    pub kind: String,
    /// First day.
    pub from: Day,
    /// Last day; open when absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub until: Option<Day>,
    /// Where it matters; everywhere when absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub region: Option<Region>,
    /// At which level.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub segment: Option<Segment>,
    /// On which side.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub side: Option<Side>,
    /// What exactly: medicine, date, operation.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub words: Option<String>,
    /// Who told it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub told_by: Option<String>,
    /// Number of the alert whose last day this entry states.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ends: Option<u64>,
}

/// The state of the chart, from the time it happened.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ChartState {
    /// The state.
    pub status: ChartStatus,
    /// Number of the chart where it goes on.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub continue_at: Option<String>,
    /// Day of death.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub died_on: Option<Day>,
    /// Who told it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub told_by: Option<String>,
    /// Day of the last treatment.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub last_treated: Option<Day>,
    /// Keep-until date computed on this day.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub keep_until: Option<Day>,
    /// Remarks.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub words: Option<String>,
}

words! {
    /// State of a chart.
    ChartStatus {
        Open = "open", ClosedContinueAt = "closed-continue-at", Deceased = "deceased",
        Disposed = "disposed",
    }
}

/// Two charts of one person are joined. Both get this entry.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Joined {
    /// Whether this chart is left or goes on.
    pub direction: JoinDirection,
    /// Number of the other chart.
    pub other_chart_no: String,
    /// Random tag of the other chart.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub other_chart: Option<String>,
    /// How it was found to be one person.
    pub because: String,
    /// What was looked at when joining, and what was found.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub checks: Vec<String>,
}

words! {
    /// Which of two joined charts this is.
    JoinDirection {
        ContinueAt = "continue-at", ContinuedFrom = "continued-from",
    }
}

/// An entry in this chart belongs to another chart. It stays readable here only as far as the law asks.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Misfiled {
    /// Number of the entry.
    pub entry: u64,
    /// When it was found.
    pub found_at: Moment,
    /// Code of who found it.
    pub found_by: String,
    /// Number of the chart it belongs to, where it may be said here.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub belongs_to: Option<String>,
    /// True when it was written again where it belongs.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub re_entered: Option<bool>,
    /// How it came about.
    pub because: String,
}

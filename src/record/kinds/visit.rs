//! The visit note: what was told, found, thought, agreed, done and advised.

use super::common::{Day, Given};
use super::finding::Finding;
use super::procedure::{Deferred, Procedure};
use super::screening::{Measured, Phase};
use crate::record::moment::Moment;
use crate::record::vocab::{Region, Segment, Side, words};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The signed note of a visit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Visit {
    /// Number of the visit opening.
    pub visit: u64,
    /// First visit, later visit or re-examination.
    pub sort: VisitSort,
    /// Codes of the practitioners.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub practitioners: Vec<String>,
    /// What changed since the last visit.
    pub changed_since_last: Given<String>,
    /// Complaints; intensity is needed for each.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub complaints: Vec<Complaint>,
    /// History, full on a first visit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub history: Option<History>,
    /// Medicines changed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub medicines_changed: Option<String>,
    /// Allergies changed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub allergy_changed: Option<String>,
    /// Numbers of the screens relied on.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub screens: Vec<u64>,
    /// Why a screen was not done.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub screens_not_done_because: Option<String>,
    /// Findings.
    pub findings: Given<Vec<Finding>>,
    /// Assessment.
    pub assessment: Given<Assessment>,
    /// What was agreed: pointers, never a copy.
    pub agreed: Agreed,
    /// Procedures, in order.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub procedures: Vec<Procedure>,
    /// What was planned or asked for and not done.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub deferred: Vec<Deferred>,
    /// Checks within the visit.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub checks: Vec<InVisitCheck>,
    /// Measures before, during and after.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub measures: Vec<NoteMeasure>,
    /// Why the same measure was not taken before and after.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reassessment_not_done_because: Option<String>,
    /// Adverse responses within the visit.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub adverse: Vec<Adverse>,
    /// Advice.
    pub advice: Given<Advice>,
    /// Plan.
    pub plan: Given<Plan>,
    /// Billing and diagnosis codes as typed; no descriptions are kept.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub codes: Vec<BillingCode>,
    /// Items a payer asks for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub payer: Option<PayerItems>,
    /// Parts taken over from an earlier note.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub carried_forward: Vec<CarriedForward>,
    /// How much of the note stands in the patient's last note as well, in percent. Worked out when signing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub same_as_last_percent: Option<u8>,
    /// What was missing and acknowledged when signing.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub missing_acknowledged: Vec<String>,
    /// What was not done, and why, where the layout has no place of its own for the reason.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub not_done: Vec<NotDone>,
    /// What was asked before signing, and the answer.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub answered: Vec<ReviewAnswer>,
    /// Why it was finished later: power cut, ...
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub finished_later_because: Option<String>,
    /// Anything else.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub words: Option<String>,
}

words! {
    /// Sort of visit.
    VisitSort {
        First = "first", Later = "later", ReExamination = "re-examination",
    }
}

/// One complaint.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Complaint {
    /// Number within the note.
    pub no: u32,
    /// The complaint in words.
    pub words: String,
    /// Where.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub region: Option<Region>,
    /// Which side.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub side: Option<Side>,
    /// Exact site: in front of the ear, ...
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub site: Option<String>,
    /// Quality.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub quality: Option<String>,
    /// Intensity now, 0-10.
    pub pain_now: Given<u8>,
    /// Worst since last time, 0-10.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pain_worst: Option<u8>,
    /// Frequency.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub frequency: Option<String>,
    /// Where it spreads.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub radiation: Option<String>,
    /// When and how it began.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub onset: Option<String>,
    /// Mechanism.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mechanism: Option<String>,
    /// What makes it worse.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub aggravating: Option<String>,
    /// What eases it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub relieving: Option<String>,
    /// Earlier care.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub earlier_care: Option<String>,
}

/// History.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct History {
    /// Illnesses and operations.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub illness: Option<String>,
    /// Injuries.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub injuries: Option<String>,
    /// Medicines.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub medicines: Option<String>,
    /// Family.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub family: Option<String>,
    /// Work, sport, instrument, habits.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub social: Option<String>,
    /// Earlier care and its result.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub earlier_care: Option<String>,
    /// Numbers of the sheets or papers it was taken from.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub sources: Vec<u64>,
}

/// Assessment.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Assessment {
    /// Working diagnoses.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub diagnoses: Vec<Diagnosis>,
    /// What was considered, and how it was ruled out.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub considered: Vec<Considered>,
    /// Change against last time.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub change_since_last: Option<String>,
    /// How treatment is tolerated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tolerance: Option<String>,
    /// Remark on risk.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub risk_remark: Option<String>,
}

/// A working diagnosis.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Diagnosis {
    /// In words.
    pub words: String,
    /// What it rests on.
    pub basis: String,
    /// Where.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub region: Option<Region>,
    /// Side.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub side: Option<Side>,
}

/// Something considered.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Considered {
    /// What.
    pub what: String,
    /// How it was ruled out; absent: still open.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ruled_out_by: Option<String>,
}

/// Pointers to what was agreed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Agreed {
    /// Numbers of the consents relied on.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub consents: Vec<u64>,
    /// Numbers of the asked-today entries.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub asked: Vec<u64>,
    /// Numbers of the kept coverage answers.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub coverage: Vec<u64>,
    /// Remarks.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub words: Option<String>,
}

/// A check within the visit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct InVisitCheck {
    /// When.
    pub at: Moment,
    /// What was asked.
    pub question: CheckQuestion,
    /// Number answered, 0-10.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub number: Option<u8>,
    /// Words answered.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub words: Option<String>,
    /// What was done.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub action: Option<String>,
}

words! {
    /// Question of a check.
    CheckQuestion {
        Comfort = "comfort", Continue = "continue", Pressure = "pressure", Pain = "pain", Other = "other",
    }
}

/// A measure and when in the visit it was taken.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct NoteMeasure {
    /// Before, during or after.
    pub phase: Phase,
    /// When.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at: Option<Moment>,
    /// The measure.
    pub measured: Measured,
}

/// An adverse response within the visit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Adverse {
    /// What.
    pub what: String,
    /// Minutes after the procedure.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub onset_minutes: Option<u32>,
    /// How bad.
    pub severity: Severity,
    /// What was done.
    pub action: String,
    /// Outcome.
    pub outcome: String,
    /// Numbers of the procedures it is linked to.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub procedures: Vec<u32>,
    /// Follow-up due.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub follow_up_due: Option<Day>,
    /// When closed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub closed_at: Option<Moment>,
    /// Number of the reaction entry.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reaction: Option<u64>,
}

words! {
    /// How bad an adverse response is.
    Severity {
        Mild = "mild", Moderate = "moderate", Severe = "severe",
    }
}

/// Advice.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Advice {
    /// In words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub words: Option<String>,
    /// Sheets given.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub sheets: Vec<SheetGiven>,
    /// Ice or heat.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub heat_or_ice: Option<String>,
    /// Activity.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub activity: Option<String>,
    /// Diet, for example soft food.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub diet: Option<String>,
    /// What to watch for and whom to call.
    pub watch_for: Given<String>,
}

/// A sheet given.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SheetGiven {
    /// Code of the sheet.
    pub sheet: String,
    /// Its edition.
    pub edition: String,
}

/// Plan.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Plan {
    /// The next step.
    pub next_step: String,
    /// Frequency.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub frequency: Option<String>,
    /// Duration.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub duration: Option<String>,
    /// Goals.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub goals: Vec<Goal>,
    /// Day of the next re-examination.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub re_examine_on: Option<Day>,
    /// Number of the referral.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub referral: Option<u64>,
}

/// One goal.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Goal {
    /// The goal.
    pub words: String,
    /// The measure it goes by.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub measure: Option<String>,
    /// Target value.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub target: Option<String>,
    /// Target date.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<Day>,
}

/// One code as typed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BillingCode {
    /// As typed.
    pub code: String,
    /// Which list it is from, as typed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub system: Option<String>,
    /// Numbers of the procedures it is for.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub for_procedures: Vec<u32>,
    /// Units.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub units: Option<u32>,
}

/// What a payer asks for.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PayerItems {
    /// P of P.A.R.T.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pain_or_tenderness: Option<bool>,
    /// A of P.A.R.T.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub asymmetry: Option<bool>,
    /// R of P.A.R.T.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub range_of_motion: Option<bool>,
    /// T of P.A.R.T.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tissue_tone: Option<bool>,
    /// Day of an X-ray used instead.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub xray_on: Option<Day>,
    /// Day the course of treatment started.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub treatment_started_on: Option<Day>,
    /// Levels treated.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub level: Vec<Segment>,
    /// Other items, as typed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub words: Option<String>,
}

/// An item that was not done, and why.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct NotDone {
    /// The item, as the list before signing names it.
    pub item: String,
    /// Why it was not done.
    pub because: String,
}

/// What was asked before signing, and the answer.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ReviewAnswer {
    /// The item, as the list before signing names it.
    pub item: String,
    /// The answer.
    pub answer: String,
}

/// A part taken over from an earlier note.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CarriedForward {
    /// Number of the earlier note.
    pub from_entry: u64,
    /// Which part (JSON Pointer, RFC 6901).
    pub field: String,
    /// True when looked through and still right today.
    pub checked: bool,
}

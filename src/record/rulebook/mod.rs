//! The rules of a practice, section by section: every policy number the program uses.
//! An adopted document keeps them all, so that a later program does not change what was answered.

pub mod check;
pub mod file;
pub mod read;

use super::calendar::Holidays;
use super::closing::ClosingRule;
use super::coverage::facts::Policy;
use super::kinds::common::Day;
use super::tables::Tables;
use super::vocab::{Region, Technique};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// An example with invented or proposed values, to be edited and adopted.
pub const EXAMPLE: &str = include_str!("example.toml");

/// The rules in force.
#[derive(Debug, Clone, PartialEq)]
pub struct RuleBook {
    /// Name of the edition.
    pub edition: String,
    /// What the coverage question uses.
    pub coverage: Policy,
    /// What a note needs before it is signed.
    pub note: NoteRules,
    /// What a payer asks for.
    pub payer: PayerRules,
    /// Values worth a question.
    pub questions: QuestionRules,
    /// Days ahead, and days until something is due.
    pub lists: ListRules,
    /// Unlocking and signing at a station.
    pub station: StationRules,
    /// Which published rules the practice made its own.
    pub adopted: AdoptedRules,
    /// What letters name: contacts, and the authority that takes complaints.
    pub letters: LetterRules,
    /// Days that are no working days; none where the practice adopted no list.
    pub holidays: Vec<Holiday>,
    /// Notices when the records pass to somebody else; none where the practice adopted none.
    pub closing: Vec<ClosingRule>,
    /// Limits, thresholds, clocks and retention rules.
    pub tables: Tables,
}

/// What a note needs before it is signed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct NoteRules {
    /// Item, and in which visits it is needed.
    pub needed: BTreeMap<String, Vec<String>>,
    /// Risks that belong to a technique or a region, and are named when it is consented to.
    #[serde(default)]
    pub risks: Vec<RisksToName>,
}

/// Risks that are to be named for techniques in regions.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RisksToName {
    /// The techniques; left out: any.
    #[serde(default)]
    pub techniques: Vec<Technique>,
    /// The regions; left out: any.
    #[serde(default)]
    pub regions: Vec<Region>,
    /// The risks, by the words a consent names them with.
    pub risks: Vec<String>,
}

/// What a payer asks for.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PayerRules {
    /// Whether the payer's items are asked for at all.
    pub switched_on: bool,
    /// Which test of the findings: medicare, oregon or none.
    pub findings_test: String,
    /// Whether an X-ray inside its window may stand in for the findings.
    pub xray_window: bool,
    /// Whether the regions treated are counted against the regions found.
    pub region_count: bool,
}

/// Values worth a question before signing.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct QuestionRules {
    /// Growth of mouth opening in one visit, in millimeters, that is asked about.
    pub opening_gain_mm: f64,
    /// Mouth opening in millimeters below which work inside the mouth is asked about.
    pub mouth_work_opening_below_mm: f64,
    /// Rise of pain that does not go with "tolerated well".
    pub pain_rise_when_tolerated: u8,
    /// Visits running with the same vital signs.
    pub identical_vitals_visits: usize,
    /// Likeness with the last note, in percent.
    pub same_as_last_percent: u8,
    /// Shortest explanation before a first thrust, in minutes.
    pub explained_at_least_minutes: i64,
    /// Minutes two visits of one practitioner in different rooms may overlap.
    pub rooms_overlap_minutes: i64,
    /// Age in years below which a thrust is asked about.
    pub thrust_age_floor_years: u16,
    /// Minutes before a late note in which an opening of the chart, after a request for records, is shown.
    #[serde(default)]
    pub opened_before_late_minutes: Option<i64>,
    /// Charts opened by one person, without a visit or contact in them, that are asked about.
    #[serde(default)]
    pub many_charts: Option<usize>,
    /// Minutes in which so many charts were opened.
    #[serde(default)]
    pub many_charts_minutes: Option<i64>,
    /// Days of a month on which one person opened one chart without a visit or contact, that make it serious.
    #[serde(default)]
    pub opened_often_days: Option<usize>,
    /// Opening hours, from, local time HH:MM.
    pub open_from: String,
    /// Opening hours, until, local time HH:MM.
    pub open_until: String,
}

/// Days ahead, and days until something is due.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ListRules {
    /// Consents that lapse within so many days are listed.
    pub consent_lapses_within_days: u32,
    /// Birthdays that end a guardian's consent are listed so many days ahead.
    pub birthday_within_days: u32,
    /// A re-examination is due after so many days of care.
    pub reexamination_after_days: u32,
    /// A re-examination is due after so many visits.
    pub reexamination_after_visits: u32,
    /// An open reaction is called back after so many days.
    pub reaction_recheck_days: u32,
    /// The answer to a referral is expected after so many days, where no day was given.
    pub referral_answer_days: u32,
    /// A call back is due after so many days, where no moment was given.
    pub call_back_days: u32,
    /// A screen older than so many days is listed as due.
    pub screen_renewed_after_days: u32,
    /// The openings of a month are to be reviewed within so many days of its end; absent: no review is listed.
    #[serde(default)]
    pub openings_review_days: Option<u32>,
    /// A licence that ends within so many days is listed; absent: only one that has ended.
    #[serde(default)]
    pub licence_ahead_days: Option<u32>,
    /// Days in which the refusal of a request or amendment can be challenged; until then the chart is not
    /// destroyed. Absent: no time is known, and a refusal stands against it until the matter is closed.
    #[serde(default)]
    pub refusal_challenged_days: Option<u32>,
    /// A time stamp is made anew so many days before its certificates end; absent: it is not advised.
    #[serde(default)]
    pub stamps_renewed_days: Option<u32>,
    /// A safe copy is due so many days after the last one; absent: none is listed.
    #[serde(default)]
    pub safe_copy_days: Option<u32>,
}

/// Unlocking and signing at a station.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct StationRules {
    /// Idle minutes after which the station locks itself.
    pub idle_minutes: u32,
    /// Digits of the short number asked again to sign, release or dispose.
    pub pin_digits: u32,
    /// Wrong numbers after which the station locks itself.
    pub pin_tries: u32,
    /// Minutes a finished note may be held back before it is signed.
    pub hold_signature_minutes: u32,
    /// Whether a station that locked itself still adds, without reading, until the day ends.
    #[serde(default)]
    pub locked_desk_may_add: bool,
}

/// Which published rules the practice made its own.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct AdoptedRules {
    /// Ids of retention rules.
    pub retention: Vec<String>,
    /// Ids of clocks.
    pub clocks: Vec<String>,
}

/// What letters name. Left out: the letter says that it is not filled in.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct LetterRules {
    /// Name or title of the person who takes complaints.
    #[serde(default)]
    pub complaint_contact: Option<String>,
    /// That person's telephone.
    #[serde(default)]
    pub complaint_telephone: Option<String>,
    /// The authority that takes complaints, with its address.
    #[serde(default)]
    pub complaint_authority: Option<String>,
    /// Where a review of a refusal is asked for.
    #[serde(default)]
    pub review_contact: Option<String>,
}

/// A day on which nobody works although it is neither a Saturday nor a Sunday. It counts where a deadline counts
/// working days, moves to the next one, or names the last one before.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Holiday {
    /// The day. Each year's stands by itself: a rule for movable days is nobody's to guess.
    pub day: Day,
    /// Its name.
    pub name: String,
    /// Where it is published.
    pub source: String,
    /// Day that was read.
    pub read_on: Day,
}

impl RuleBook {
    /// The days that are no working days, for reckoning.
    pub fn days_off(&self) -> Holidays {
        self.holidays.iter().map(|holiday| holiday.day.0).collect()
    }
}

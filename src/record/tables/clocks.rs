//! The tables of `deadlines.toml`: when an answer to a request is due.
//! The head of that file says what each field means.

use super::source::{Confidence, Named, no_two_alike};
use crate::record::calendar::LeapDay;
use crate::record::kinds::common::Day;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// The tables of `deadlines.toml`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Clocks {
    /// Edition of the tables.
    pub edition: u32,
    /// Day the sources were read.
    pub read_on: Day,
    /// The clocks.
    #[serde(default, deserialize_with = "no_two_alike")]
    pub clock: Vec<Clock>,
    /// What is said to be law and is not.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub not_law: Vec<NotLaw>,
    /// Rules for entries made late, by name.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub late_entry: BTreeMap<String, LateEntryText>,
}

/// When an answer to one kind of request is due.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Clock {
    /// Stable name.
    pub id: String,
    /// Territory.
    pub place: String,
    /// What was asked for.
    pub request: ClockRequest,
    /// How many units.
    pub count: u32,
    /// What is counted.
    pub unit: CountUnit,
    /// The day the count starts from.
    pub starts_on: StartsOn,
    /// The starting date is not counted; where false it is the first day of the count.
    pub day_zero: bool,
    /// Where the last day goes when nobody works on it.
    pub roll: Roll,
    /// Years an accounting looks back.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub look_back_years: Option<u32>,
    /// What 29 February less whole years is in a common year.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub look_back_leap_day: Option<LeapDay>,
    /// The publication.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub citation: Option<String>,
    /// State of the text that was read.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub text_as_of: Option<String>,
    /// Day it was read.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub read_on: Option<Day>,
    /// How well it is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub confidence: Option<Confidence>,
    /// What to check before adopting it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub check_first: Option<String>,
    /// Remarks.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub notes: Option<String>,
    /// What the rule says about more time; absent where it has none, or none was found.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub extension: Option<ExtensionRule>,
}

/// What a rule says about more time.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ExtensionRule {
    /// How many units more.
    pub count: u32,
    /// What is counted.
    pub unit: CountUnit,
    /// How many extensions.
    pub max_times: u32,
    /// It must be told in writing.
    pub in_writing: bool,
    /// Reasons must be given.
    pub reasons: bool,
    /// The new date must be named.
    pub new_date: bool,
    /// When the notice must be sent at the latest.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sent_by: Option<SentBy>,
    /// How well the conditions are known, where it differs.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub conditions_confidence: Option<Confidence>,
}

/// What was asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ClockRequest {
    /// Access to the record.
    Access,
    /// To look at it.
    Inspect,
    /// Copies of it.
    Copies,
    /// To amend it.
    Amendment,
    /// An accounting of disclosures.
    Accounting,
    /// A licensing board's call for it.
    BoardDemand,
    /// Notice of the fee for copies.
    FeeNotice,
}

/// What is counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum CountUnit {
    /// Every day.
    CalendarDays,
    /// Monday to Friday, less holidays.
    BusinessDays,
    /// The same day number in a later month; where that month is too short, its last day.
    Months,
}

/// The day a count starts from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum StartsOn {
    /// The local date the request arrived.
    Receipt,
    /// The date the request bears, or that of arrival where it is not known or earlier.
    RequestDate,
}

/// Where a last day goes when nobody works on it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Roll {
    /// It stands.
    None,
    /// To the next working day.
    NextWorkingDay,
}

/// When a notice of extension must be sent at the latest.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum SentBy {
    /// On the first due date.
    FirstDue,
}

/// What is said to be law and is not.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct NotLaw {
    /// The claim.
    pub what: String,
    /// Why it is none.
    pub why: String,
    /// How well that is known.
    pub confidence: Confidence,
}

/// A rule for entries made late, as the table has it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LateEntryText {
    /// Hours after which an entry is late.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub limit_hours: Option<i64>,
    /// Days after the service within which an entry is taken.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub limit_days: Option<i64>,
    /// What it must come before: claim, records_request.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub before: Vec<String>,
    /// The publication.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub citation: Option<String>,
    /// State of the text that was read.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub text_as_of: Option<String>,
    /// Day it was read.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub read_on: Option<Day>,
    /// How well it is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub confidence: Option<Confidence>,
    /// What to check before adopting it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub check_first: Option<String>,
    /// Remarks.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub notes: Option<String>,
}

/// A rule for entries made late that states days.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LateEntryRule {
    /// Days after the service within which an entry is taken.
    pub limit_days: i64,
    /// What it must come before: claim, records_request.
    pub before: Vec<String>,
}

impl Clocks {
    /// The clock of this name.
    pub fn clock(&self, id: &str) -> Option<&Clock> {
        self.clock.iter().find(|clock| clock.id == id)
    }

    /// The late-entry rule of this name, where it states days. None where there is no such rule.
    pub fn late_entry(&self, id: &str) -> Option<LateEntryRule> {
        let rule = self.late_entry.get(id)?;
        Some(LateEntryRule { limit_days: rule.limit_days?, before: rule.before.clone() })
    }

    /// The clock that says how far back an accounting of disclosures looks; of several, the longest look.
    pub fn accounting(&self) -> Option<&Clock> {
        let looks_back = |clock: &&Clock| clock.request == ClockRequest::Accounting;
        self.clock.iter().filter(looks_back).max_by_key(|clock| clock.look_back_years)
    }
}

impl Named for Clock {
    fn id(&self) -> &str {
        &self.id
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::tables::Tables;

    #[test]
    fn every_shipped_clock_reads_and_is_written_back_alike() {
        let shipped = Tables::shipped_document().unwrap()["deadlines"].clone();
        let clocks: Clocks = serde_json::from_value(shipped.clone()).unwrap();
        assert_eq!(serde_json::to_value(&clocks).unwrap(), shipped);
        assert_eq!(clocks.accounting().unwrap().id, "us-hipaa-accounting");
        assert_eq!(clocks.late_entry("us_al_medicaid").unwrap().limit_days, 45);
        assert!(clocks.late_entry("lm").is_none());
    }

    #[test]
    fn a_bent_table_is_refused_with_a_reason() {
        let shipped = Tables::shipped_document().unwrap()["deadlines"].clone();
        for (place, value, word) in [
            ("/clock/0/unit", serde_json::json!("weeks"), "weeks"),
            ("/clock/0/rol", serde_json::json!("none"), "rol"),
            ("/clock/1/id", serde_json::json!("lm-access"), "two of the name"),
            ("/clock/0/extension/sent_by", serde_json::json!("limit"), "limit"),
        ] {
            let mut document = shipped.clone();
            let (parent, field) = place.rsplit_once('/').unwrap();
            document.pointer_mut(parent).unwrap()[field] = value;
            let why = serde_json::from_value::<Clocks>(document).unwrap_err().to_string();
            assert!(why.contains(word), "{place}: {why}");
        }
    }
}

//! The tables of `retention.toml`: how long a chart is kept, and what stops its disposal.
//! The head of that file says what each field means.

use super::source::{Confidence, Named, no_two_alike};
use crate::record::calendar::LeapDay;
use crate::record::kinds::common::Day;
use serde::{Deserialize, Deserializer, Serialize};

/// The tables of `retention.toml`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RetentionRules {
    /// Edition of the tables.
    pub edition: u32,
    /// Day the sources were read.
    pub read_on: Day,
    /// What a rule uses where it says nothing else.
    pub defaults: RetentionDefaults,
    /// The rules.
    #[serde(default, deserialize_with = "no_two_alike")]
    pub rule: Vec<RetentionRule>,
    /// What stops disposal whatever the date.
    #[serde(default, deserialize_with = "no_two_alike")]
    pub block: Vec<Block>,
}

/// What a rule uses where it says nothing else.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RetentionDefaults {
    /// Age in years from which a person is an adult.
    pub majority_age: u32,
    /// What 29 February plus years is in a common year.
    pub leap_day: LeapDay,
}

/// One published rule.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RetentionRule {
    /// Stable name.
    pub id: String,
    /// Territory.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub place: Option<String>,
    /// Whom the text binds.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub addressed_to: Option<String>,
    /// Which papers it is about.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub covers: Option<Covers>,
    /// What kind of text it is.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub standing: Option<Standing>,
    /// Whole years to keep for an adult.
    pub years: u32,
    /// The day the years are counted from.
    pub trigger: Trigger,
    /// The text names no starting day and the safe reading was taken.
    #[serde(default, skip_serializing_if = "is_false")]
    pub trigger_assumed: bool,
    /// Age in years from which a person is an adult for this rule.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub majority_age: Option<u32>,
    /// What 29 February plus years is in a common year.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub leap_day: Option<LeapDay>,
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
    /// What it says about minors; absent where it says nothing.
    #[serde(default, deserialize_with = "one_birthday", skip_serializing_if = "Option::is_none")]
    pub minor: Option<MinorClause>,
}

/// What a rule says about minors.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct MinorClause {
    /// A minor is younger than this, in years; the age of majority where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub under_age: Option<u32>,
    /// When the age is looked at.
    pub tested_at: TestedAt,
    /// The text does not say when.
    #[serde(default, skip_serializing_if = "is_false")]
    pub tested_at_assumed: bool,
    /// The day the years are counted from for a minor, where it is another.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub count_from: Option<Trigger>,
    /// The birthday to keep to.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub keep_to_age: Option<u32>,
    /// The birthday to keep to, in years after majority.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub keep_to_majority_plus: Option<u32>,
    /// Age at the last service at which the birthday below is used instead.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at_last_age: Option<u32>,
    /// That birthday.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at_last_keep_to_age: Option<u32>,
    /// Which of the years and the birthday counts.
    pub combine: Combine,
    /// Emancipation may stand in for the birthday.
    #[serde(default, skip_serializing_if = "is_false")]
    pub emancipation_ends_minority: bool,
}

/// Which papers a rule is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Covers {
    /// The clinical record.
    Chart,
    /// Papers that back a claim; kept with the chart.
    PayerPapers,
    /// Policies, requests, notices, authorizations, accountings.
    PrivacyPapers,
}

/// What kind of text a rule is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Standing {
    /// A rule of law that was read, or read about.
    Example,
    /// Two texts contradict each other; a person must settle it first.
    Disputed,
    /// A trade body's advice.
    Advice,
    /// Binds another profession.
    Contrast,
    /// Made up for the demo.
    Invented,
}

/// The day years are counted from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Trigger {
    /// The last treatment or visit on the chart.
    LastService,
    /// Each treatment starts its own count.
    EachService,
    /// Each entry starts its own count on the day it was made.
    RecordMade,
    /// The day the course of treatment ended; the last service where none is recorded or a service came after.
    Completion,
    /// For papers: the later of the day made and the day last in effect.
    LastInEffect,
}

impl Trigger {
    /// True where every item has a day of its own.
    pub fn is_per_item(self) -> bool {
        matches!(self, Trigger::EachService | Trigger::RecordMade)
    }
}

/// When the age is looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum TestedAt {
    /// On the day of the last service.
    LastService,
    /// On the day of any entry or service.
    AnyEntry,
    /// Item by item, on the day of that item.
    EachItem,
}

/// Which of the years and the birthday counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Combine {
    /// The later of the two.
    Later,
    /// The earlier of the two.
    Earlier,
}

/// What stops disposal whatever the date.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Block {
    /// Stable name, and the reason shown.
    pub id: String,
    /// When it is open.
    pub meaning: String,
    /// What it does.
    pub effect: String,
    /// The publication.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub citation: Option<String>,
    /// How well it is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub confidence: Option<Confidence>,
    /// Day it was read.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub read_on: Option<Day>,
}

impl RetentionRules {
    /// The rule of this name.
    pub fn rule(&self, id: &str) -> Option<&RetentionRule> {
        self.rule.iter().find(|rule| rule.id == id)
    }

    /// The block of this name.
    pub fn block(&self, id: &str) -> Option<&Block> {
        self.block.iter().find(|block| block.id == id)
    }
}

impl RetentionRule {
    /// True where a person must look at the text before a record is destroyed under it: it was not read
    /// at its source and is not the project's own, or two texts contradict each other.
    pub fn is_unsettled(&self) -> bool {
        !matches!(self.confidence, Some(Confidence::Found | Confidence::Project))
            || self.standing == Some(Standing::Disputed)
    }
}

impl MinorClause {
    /// Age in years of the birthday to keep to, for a person who was this old at the last service.
    pub fn keep_to(&self, majority_age: u32, age_at_last_service: i32) -> u32 {
        match (self.at_last_age, self.at_last_keep_to_age) {
            (Some(age), Some(instead)) if i64::from(age) == i64::from(age_at_last_service) => instead,
            _ => self
                .keep_to_age
                .unwrap_or(majority_age.saturating_add(self.keep_to_majority_plus.unwrap_or(0))),
        }
    }
}

impl Named for RetentionRule {
    fn id(&self) -> &str {
        &self.id
    }
}

impl Named for Block {
    fn id(&self) -> &str {
        &self.id
    }
}

fn is_false(flag: &bool) -> bool {
    !flag
}

/// Refuses a clause that names no birthday, or two, or half of the variant by age.
fn one_birthday<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Option<MinorClause>, D::Error> {
    let clause = Option::<MinorClause>::deserialize(deserializer)?;
    let Some(minor) = &clause else { return Ok(None) };
    let wrong = if minor.keep_to_age.is_some() == minor.keep_to_majority_plus.is_some() {
        "a rule for minors names one birthday: keep_to_age or keep_to_majority_plus"
    } else if minor.at_last_age.is_some() != minor.at_last_keep_to_age.is_some() {
        "at_last_age and at_last_keep_to_age go together"
    } else if minor.count_from == Some(Trigger::LastInEffect) {
        "count_from is about the chart: last_in_effect is for papers"
    } else {
        return Ok(clause);
    };
    Err(serde::de::Error::custom(wrong))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::tables::Tables;

    fn shipped() -> serde_json::Value {
        Tables::shipped_document().unwrap()["retention"].clone()
    }

    #[test]
    fn every_shipped_rule_reads_and_is_written_back_alike() {
        let rules: RetentionRules = serde_json::from_value(shipped()).unwrap();
        assert_eq!(serde_json::to_value(&rules).unwrap(), shipped());
        assert!(rules.rule("lm-1").is_some() && rules.block("hold").is_some());
        let unsettled: Vec<_> =
            rules.rule.iter().filter(|r| r.is_unsettled()).map(|r| r.id.as_str()).collect();
        assert!(unsettled.contains(&"us-md-4-403-a") && unsettled.contains(&"us-va-20-26"), "{unsettled:?}");
        assert!(!unsettled.contains(&"us-il-advice") && !unsettled.contains(&"lm-1"), "{unsettled:?}");
    }

    #[test]
    fn a_bent_table_is_refused_with_a_reason() {
        for (place, value, word) in [
            ("/rule/0/yeras", serde_json::json!(7), "yeras"),
            ("/rule/0/trigger", serde_json::json!("last_visit"), "last_visit"),
            ("/rule/0/minor/keep_to_majority_plus", serde_json::json!(3), "one birthday"),
            ("/rule/0/minor/at_last_age", serde_json::json!(17), "go together"),
            ("/rule/0/minor/count_from", serde_json::json!("last_in_effect"), "papers"),
            ("/rule/1/id", serde_json::json!("lm-1"), "two of the name"),
            ("/rule/0/read_on", serde_json::json!("2026-02-30"), "day"),
        ] {
            let mut document = shipped();
            let (parent, field) = place.rsplit_once('/').unwrap();
            document.pointer_mut(parent).unwrap()[field] = value;
            let why = serde_json::from_value::<RetentionRules>(document).unwrap_err().to_string();
            assert!(why.contains(word), "{place}: {why}");
        }
    }

    /// The head of `retention.toml`: each_service and record_made start a count of their own for every item.
    #[test]
    fn two_triggers_count_for_each_item() {
        use Trigger::*;
        for (trigger, is) in [
            (EachService, true),
            (RecordMade, true),
            (LastService, false),
            (Completion, false),
            (LastInEffect, false),
        ] {
            assert_eq!(trigger.is_per_item(), is, "{trigger:?}");
        }
    }
}

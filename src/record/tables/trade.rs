//! The tables of `trade.toml`: the findings test, the X-ray window, limits on typed values, thresholds of
//! change, and the tables of other topics.

use crate::record::decimal::Decimal;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use std::collections::BTreeMap;

/// The tables of `trade.toml`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TradeTables {
    /// Edition of the tables.
    pub edition: u32,
    /// Day the sources were read.
    pub read_on: String,
    /// The findings tests.
    pub part: PartTables,
    /// When an X-ray counts for a course of treatment.
    pub xray_window: XrayWindow,
    /// Regions for counting.
    pub regions: Value,
    /// Spinal levels.
    pub levels: Value,
    /// Limits on single values.
    pub limit: Vec<Limit>,
    /// Tests that look at more than one number.
    pub limit_pairs: LimitPairs,
    /// Published thresholds for change.
    pub threshold: Vec<Threshold>,
    /// Which way is better.
    pub change_direction: ChangeDirection,
    /// Smallest detectable change from a standard error.
    pub detectable_change: DetectableChange,
    /// Scoring of a questionnaire with skipped items.
    pub ndi_score: ScoreTable,
    /// Accounting of disclosures.
    pub accounting: Value,
    /// Authorizations.
    pub authorization: Value,
    /// Fees for copies.
    pub fees: Value,
    /// Data that no longer identify anybody.
    pub deidentification: Value,
}

/// The findings tests.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PartTables {
    /// Letters and what they stand for.
    pub letters: BTreeMap<String, String>,
    /// Medicare's test.
    pub medicare: FindingsTest,
    /// Oregon's test.
    pub oregon: FindingsTest,
}

/// One findings test.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FindingsTest {
    /// How many different letters are needed.
    pub at_least: usize,
    /// Letters that count.
    pub of: Vec<String>,
    /// One of these must be among them; none named, none needed.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub one_of: Vec<String>,
    /// What may stand in for the letters; absent where nothing may. An X-ray in its window is the one
    /// thing known here.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub or_instead: Option<String>,
    /// Where it is from.
    #[serde(flatten)]
    pub source: Source,
}

/// Where a figure is from.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Source {
    /// The publication.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub citation: Option<String>,
    /// found, secondary, memory, derived or project.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub confidence: Option<String>,
    /// Remarks.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub notes: Option<String>,
}

/// When an X-ray counts for a course of treatment.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct XrayWindow {
    /// Months before the start.
    pub months_before: u32,
    /// Months after the start.
    pub months_after: u32,
    /// Whether the first and last day belong to it.
    pub inclusive: bool,
    /// How months are counted, in words.
    pub month_rule: String,
    /// When an older X-ray may be accepted, in words.
    pub older_allowed_when: String,
    /// The condition must have lasted longer than so many months for an older one.
    pub older_condition_over_months: Decimal,
    /// Where it is from.
    #[serde(flatten)]
    pub source: Source,
}

/// Limits on one measure. A bound itself still passes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Limit {
    /// The measure.
    pub measure: String,
    /// Its base unit.
    pub unit: String,
    /// Below this it is unusual.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ask_below: Option<Decimal>,
    /// Above this it is unusual.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ask_above: Option<Decimal>,
    /// Below this it cannot be.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub refuse_below: Option<Decimal>,
    /// Above this it cannot be.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub refuse_above: Option<Decimal>,
    /// Whether only whole numbers can be.
    #[serde(default)]
    pub whole: bool,
    /// What must be stated with it: side, kind.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub needs: Vec<String>,
    /// The kinds it comes in.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub kinds: Vec<String>,
    /// The sides it comes in.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub sides: Vec<String>,
    /// Where it is from.
    #[serde(flatten)]
    pub source: Source,
}

/// Tests that look at more than one number: each in words, and its figures.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LimitPairs {
    /// Highest score of each questionnaire, as published.
    pub questionnaire_maximum: BTreeMap<String, Decimal>,
    /// The figures of the tests.
    pub values: PairValues,
    /// The tests in words.
    #[serde(flatten)]
    pub words: BTreeMap<String, String>,
}

/// The figures of the tests that look at more than one number.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PairValues {
    /// Millimeters by which the order of openings may be broken.
    pub opening_order_mm: Decimal,
    /// Difference of left and right above which lateral movement is asked about, mm.
    pub lateral_pair_mm: Decimal,
    /// Lowest systolic pressure, mmHg.
    pub systolic_refuse_below: Decimal,
    /// Highest systolic pressure, mmHg.
    pub systolic_refuse_above: Decimal,
    /// Systolic pressure from which it is asked about, mmHg.
    pub systolic_ask_from: Decimal,
    /// Diastolic pressure from which it is asked about, mmHg.
    pub diastolic_ask_from: Decimal,
    /// Change of pain in one visit from which it is asked about, points.
    pub pain_change_ask_from: Decimal,
    /// Growth of mouth opening in one visit above which it is asked about, mm.
    pub opening_gain_ask_above_mm: Decimal,
    /// Opening below which work inside the mouth is asked about, mm.
    pub opening_for_mouth_work_ask_below_mm: Decimal,
    /// Change of weight above which it is asked about, percent of the earlier value.
    pub weight_change_ask_above_percent: Decimal,
    /// Days within which a change of weight is looked at.
    pub weight_change_within_days: Decimal,
    /// Grades of strength, as typed.
    pub strength_grades: Vec<String>,
    /// Strength below which a remark on referral is asked for.
    pub strength_ask_below: Decimal,
    /// Grades of reflexes, as typed, without the plus that changes nothing.
    pub reflex_grades: Vec<String>,
    /// Grades of reflexes that are asked about.
    pub reflex_ask: Vec<String>,
    /// Millimeters in an inch.
    pub mm_per_inch: Decimal,
    /// Kilograms in a pound.
    pub kg_per_pound: Decimal,
}

/// One published threshold for change.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Threshold {
    /// Its name in answers.
    pub id: String,
    /// Instrument.
    pub instrument: String,
    /// In whom it was found; absent where it is not limited.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub population: Option<String>,
    /// The figure.
    pub value: Decimal,
    /// Its unit.
    pub unit: ThresholdUnit,
    /// Whether a change of just this size reaches it.
    pub met: MetWhen,
    /// What the threshold means.
    pub kind: String,
    /// Where it is from.
    #[serde(flatten)]
    pub source: Source,
}

/// Unit of a threshold.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum ThresholdUnit {
    /// Points of the instrument.
    #[serde(rename = "points")]
    Points,
    /// Percent of the instrument's maximum.
    #[serde(rename = "percentage points")]
    PercentagePoints,
    /// Percent of the first value.
    #[serde(rename = "percent of baseline")]
    PercentOfBaseline,
    /// Millimeters.
    #[serde(rename = "mm")]
    Mm,
    /// Degrees.
    #[serde(rename = "deg")]
    Deg,
}

/// Whether a change of just the size reaches a threshold.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum MetWhen {
    /// It does.
    AtLeast,
    /// It must be larger.
    MoreThan,
}

/// Which way is better.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ChangeDirection {
    /// Instruments on which less is better; on all others more is.
    pub lower_is_better: Vec<String>,
}

/// Smallest detectable change from a standard error.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DetectableChange {
    /// The formula in words.
    pub formula: String,
    /// z value of each confidence level in percent.
    pub z: BTreeMap<String, Decimal>,
    /// Where it is from.
    #[serde(flatten)]
    pub source: Source,
}

/// Scoring of a questionnaire with skipped items.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ScoreTable {
    /// The formula in words.
    pub formula: String,
    /// Highest points of one item.
    pub item_maximum: Decimal,
    /// How many items there are.
    pub items: Decimal,
    /// Where it is from.
    #[serde(flatten)]
    pub source: Source,
}

impl TradeTables {
    /// The limits on a measure.
    pub fn limit(&self, measure: &str) -> Option<&Limit> {
        self.limit.iter().find(|limit| limit.measure == measure)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::tables::Tables;

    #[test]
    fn a_section_or_figure_that_is_not_known_is_refused() {
        let shipped = Tables::shipped_document().unwrap()["trade"].clone();
        let tables: TradeTables = serde_json::from_value(shipped.clone()).unwrap();
        assert_eq!(tables.limit("pain").unwrap().refuse_above, Some(10.into()));
        assert_eq!(serde_json::to_value(&tables).unwrap()["threshold"][0]["value"], 1.3);
        for (place, words) in [
            ("", "more"),
            ("/limit/0", "refuse_abov"),
            ("/limit_pairs/values", "lateral"),
            ("/part/oregon", "of_these"),
            ("/xray_window", "months"),
        ] {
            let mut bent = shipped.clone();
            bent.pointer_mut(place).unwrap()[words] = 1.into();
            let why = serde_json::from_value::<TradeTables>(bent).unwrap_err().to_string();
            assert!(why.contains(words), "{place}: {why}");
        }
    }
}

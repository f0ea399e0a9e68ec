//! The topic change: which published thresholds does a change reach?
//!
//! Every threshold of the instrument is told, and there is no verdict over them all.

use super::units::factor;
use super::{ReckonError, input, output};
use crate::record::decimal::Decimal;
use crate::record::tables::Tables;
use crate::record::tables::trade::{MetWhen, Threshold, ThresholdUnit, TradeTables};
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value, json};

/// A question about change.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(tag = "ask", rename_all = "snake_case")]
pub enum Question {
    /// Which thresholds are reached?
    Classify(Pair),
    /// What is the smallest detectable change?
    Detectable {
        /// Standard error of measurement.
        sem: Decimal,
        /// Confidence level in percent.
        level: Value,
    },
    /// What is a score with skipped items, in percent?
    NdiScore {
        /// Sum of the items answered.
        sum: Decimal,
        /// How many were answered.
        answered: Decimal,
    },
}

/// Two values of one instrument.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct Pair {
    /// The instrument.
    pub instrument: String,
    /// Whom the patient belongs to; none where it is not stated.
    pub population: Option<String>,
    /// First value.
    pub baseline: Decimal,
    /// Later value.
    pub followup: Decimal,
    /// Unit of the first.
    pub unit: String,
    /// Unit of the later; that of the first where none is stated.
    pub followup_unit: Option<String>,
}

/// Which way a change went.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Direction {
    /// For the better.
    Better,
    /// For the worse.
    Worse,
    /// No change.
    Same,
}

/// One threshold, and whether the change reaches it.
#[derive(Debug, Clone, PartialEq)]
pub struct ThresholdMet<'t> {
    /// The threshold.
    pub threshold: &'t Threshold,
    /// None where it cannot be judged.
    pub met: Option<bool>,
}

/// A change, held against every threshold of its instrument.
#[derive(Debug, Clone, PartialEq)]
pub struct Classified<'t> {
    /// Size in the unit of the first value.
    pub size: Decimal,
    /// Which way it went.
    pub direction: Direction,
    /// Every threshold, in the order of the table.
    pub met: Vec<ThresholdMet<'t>>,
}

/// How a size in one unit becomes a size in another: times the first, by the second.
struct Ratio(Decimal, Decimal);

fn ratio(instrument: &str, from: &str, to: &str, tables: &TradeTables) -> Option<Ratio> {
    let one = Decimal::from(1);
    let hundred = Decimal::from(100);
    let maximum = || tables.limit_pairs.questionnaire_maximum.get(instrument).copied();
    match (from, to) {
        ("points", "percent") => Some(Ratio(hundred, maximum()?)),
        ("percent", "points") => Some(Ratio(maximum()?, hundred)),
        _ => Some(Ratio(factor(from, to, &tables.limit_pairs.values)?, one)),
    }
}

/// Holds a change against every threshold of its instrument and population.
///
/// # Errors
/// The instrument is not in the table, or the units of the two values do not go together.
pub fn classify<'t>(pair: &Pair, tables: &'t TradeTables) -> Result<Classified<'t>, ReckonError> {
    let of_instrument: Vec<&Threshold> = tables
        .threshold
        .iter()
        .filter(|t| t.instrument.eq_ignore_ascii_case(pair.instrument.trim()))
        .collect();
    let Some(first) = of_instrument.first() else {
        return Err(ReckonError(format!("no threshold is known for \"{}\"", pair.instrument)));
    };
    let instrument = first.instrument.as_str();
    let later_unit = pair.followup_unit.as_deref().unwrap_or(&pair.unit);
    let later = ratio(instrument, later_unit, &pair.unit, tables)
        .and_then(|Ratio(up, down)| pair.followup.times(up)?.divided(down, 12))
        .ok_or_else(|| {
            ReckonError(format!("a value in {later_unit} can't be set beside one in {}", pair.unit))
        })?;
    let change = later.minus(pair.baseline).ok_or_else(too_long)?;
    let lower_is_better = tables.change_direction.lower_is_better.iter().any(|i| i == instrument);
    let direction = match change {
        Decimal::ZERO => Direction::Same,
        change if change.is_negative() == lower_is_better => Direction::Better,
        _ => Direction::Worse,
    };
    let size = change.size();
    // A patient whose group is not stated is held against every group's figures.
    let fits = |t: &&&Threshold| match (&t.population, &pair.population) {
        (Some(of), Some(asked)) => of.eq_ignore_ascii_case(asked.trim()),
        _ => true,
    };
    let met = of_instrument
        .iter()
        .filter(fits)
        .map(|threshold| ThresholdMet { threshold, met: reached(threshold, size, pair, tables) })
        .collect();
    Ok(Classified { size, direction, met })
}

/// Whether a change of this size, in the unit of the first value, reaches a threshold.
fn reached(threshold: &Threshold, size: Decimal, pair: &Pair, tables: &TradeTables) -> Option<bool> {
    let percent_of = pair.baseline.size();
    let Ratio(up, down) = match threshold.unit {
        ThresholdUnit::PercentOfBaseline if percent_of == Decimal::ZERO => return None,
        ThresholdUnit::PercentOfBaseline => Ratio(Decimal::from(100), percent_of),
        ThresholdUnit::Points => ratio(&threshold.instrument, &pair.unit, "points", tables)?,
        ThresholdUnit::PercentagePoints => ratio(&threshold.instrument, &pair.unit, "percent", tables)?,
        ThresholdUnit::Mm => ratio(&threshold.instrument, &pair.unit, "mm", tables)?,
        ThresholdUnit::Deg => ratio(&threshold.instrument, &pair.unit, "deg", tables)?,
    };
    // size * up / down against the figure, without dividing.
    let (size, figure) = (size.times(up)?, threshold.value.times(down)?);
    Some(match threshold.met {
        MetWhen::AtLeast => size >= figure,
        MetWhen::MoreThan => size > figure,
    })
}

/// The smallest detectable change, to 2 decimals: z times the root of 2 times the standard error.
///
/// # Errors
/// The level is not in the table, or the standard error is negative or too long.
pub fn detectable(sem: Decimal, level: &str, tables: &TradeTables) -> Result<Decimal, ReckonError> {
    let levels = &tables.detectable_change.z;
    let Some(z) = levels.get(level) else {
        let known: Vec<&str> = levels.keys().map(String::as_str).collect();
        return Err(ReckonError(format!("the level is one of {} percent", known.join(", "))));
    };
    z.times(sem).and_then(|product| product.times_root(2, 2)).ok_or_else(too_long)
}

/// A score with skipped items, in percent to 1 decimal. None where no item was answered, more were
/// answered than there are, or the sum is more than they can give.
pub fn ndi_score(sum: Decimal, answered: Decimal, tables: &TradeTables) -> Option<Decimal> {
    let table = &tables.ndi_score;
    let most = table.item_maximum.times(answered)?;
    // With no item answered there is nothing to divide by.
    let can_be = answered <= table.items && answered.is_whole() && !sum.is_negative() && sum <= most;
    if can_be { sum.times(Decimal::from(100))?.divided(most, 1) } else { None }
}

fn too_long() -> ReckonError {
    ReckonError("a number is negative or too long to be worked with".to_string())
}

fn level_word(level: &Value) -> String {
    match level {
        Value::String(text) => text.trim().trim_end_matches('%').trim_end().to_string(),
        other => other.to_string().parse::<Decimal>().map_or_else(|_| other.to_string(), |d| d.to_string()),
    }
}

/// Answers.
///
/// # Errors
/// The input is not a question about change.
pub fn answer(value: &Value, tables: &Tables) -> Result<Value, ReckonError> {
    let tables = &tables.trade;
    match input::<Question>(value)? {
        Question::Classify(pair) => {
            let classified = classify(&pair, tables)?;
            let met: Map<String, Value> =
                classified.met.iter().map(|m| (m.threshold.id.clone(), m.met.into())).collect();
            let direction = output(&classified.direction)?;
            Ok(json!({ "size": classified.size.to_json(), "direction": direction, "met": met }))
        }
        Question::Detectable { sem, level } => {
            let found = detectable(sem, &level_word(&level), tables)?;
            Ok(json!({ "detectable": found.to_json_with_point() }))
        }
        Question::NdiScore { sum, answered } => {
            let percent = ndi_score(sum, answered, tables).map(Decimal::to_json_with_point);
            Ok(json!({ "percent": percent }))
        }
    }
}

/// The answer for a person.
///
/// # Errors
/// As [`answer`].
pub fn plain(value: &Value, tables: &Tables) -> Result<Vec<String>, ReckonError> {
    let tables = &tables.trade;
    match input::<Question>(value)? {
        Question::Classify(pair) => {
            let classified = classify(&pair, tables)?;
            let way = match classified.direction {
                Direction::Better => "better",
                Direction::Worse => "worse",
                Direction::Same => "no change",
            };
            let mut lines = vec![format!("Change of {} {} ({way}).", classified.size, pair.unit)];
            lines.extend(classified.met.iter().map(|met| {
                let reached = match met.met {
                    Some(true) => "reached",
                    Some(false) => "not reached",
                    None => "cannot be judged",
                };
                format!("{reached}: {}", threshold_words(met.threshold))
            }));
            Ok(lines)
        }
        Question::Detectable { sem, level } => {
            let level = level_word(&level);
            let found = detectable(sem, &level, tables)?;
            Ok(vec![format!("Smallest detectable change at {level} %: {found}.")])
        }
        Question::NdiScore { sum, answered } => Ok(vec![match ndi_score(sum, answered, tables) {
            Some(percent) => format!("{sum} from {answered} items answered: {percent} %."),
            None => format!("{sum} from {answered} items can't be scored."),
        }]),
    }
}

/// A threshold in words: figure, meaning, source.
pub fn threshold_words(threshold: &Threshold) -> String {
    let unit = match threshold.unit {
        ThresholdUnit::Points => "points",
        ThresholdUnit::PercentagePoints => "percentage points",
        ThresholdUnit::PercentOfBaseline => "percent of the first value",
        ThresholdUnit::Mm => "mm",
        ThresholdUnit::Deg => "deg",
    };
    let more = if threshold.met == MetWhen::MoreThan { "more than " } else { "" };
    let group = threshold.population.as_ref().map(|p| format!(", {p}")).unwrap_or_default();
    let source = threshold.source.citation.as_ref().map(|c| format!(" ({c})")).unwrap_or_default();
    format!("{more}{} {unit}: {}{group}{source}", threshold.value, threshold.kind)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn said(input: Value) -> Value {
        answer(&input, Tables::shipped().unwrap()).unwrap()
    }

    fn two(instrument: &str, population: Value, from: (f64, &str), to: (f64, &str)) -> Value {
        said(json!({ "ask": "classify", "instrument": instrument, "population": population,
            "baseline": from.0, "unit": from.1, "followup": to.0, "followup_unit": to.1 }))
    }

    #[test]
    fn decimals_are_those_that_were_written() {
        let change = two("mouth opening", json!("juvenile arthritis"), (31.0, "mm"), (34.3, "mm"));
        assert_eq!(change["size"], 3.3);
        assert_eq!(change["met"]["opening-stoustrup-2013-2x3"], true);
        let change = two("NPRS", json!(null), (6.3, "points"), (5.0, "points"));
        assert_eq!(change["met"]["nprs-cleland-2008"], true);
        let change = two("neck side-bending, left", json!(null), (34.4, "deg"), (27.6, "deg"));
        assert_eq!((&change["direction"], &change["size"]), (&json!("worse"), &json!(6.8)));
        assert_eq!(change["met"]["neck-left-side-bend-anwar-2022"], true);
    }

    #[test]
    fn points_and_percent_of_a_questionnaire_go_together() {
        // 24 points of 50 are 48 percent; 29 percent is 19 percentage points less.
        let change = two("NDI", json!(null), (24.0, "points"), (29.0, "percent"));
        assert_eq!((&change["size"], &change["direction"]), (&json!(9.5), &json!("better")));
        assert_eq!(change["met"]["ndi-cleland-2008"], true);
        assert_eq!(change["met"]["ndi-young-2009-advised"], false);
        let change = two("NDI", json!(null), (48.0, "percent"), (14.5, "points"));
        assert_eq!((&change["size"], &change["met"]["ndi-cleland-2008"]), (&json!(19), &json!(true)));
        let change = two("NDI", json!(null), (20.0, "percent"), (35.0, "percent"));
        assert_eq!(
            (&change["direction"], &change["met"]["ndi-young-2009-important"]),
            (&json!("worse"), &json!(true))
        );
    }

    #[test]
    fn more_than_is_not_at_least_and_a_percent_of_nothing_is_none() {
        let whole = "neck rotation, whole arc";
        let of = |to: f64| {
            two(whole, json!(null), (100.0, "deg"), (to, "deg"))["met"]["neck-rotation-christensen-1998"]
                .clone()
        };
        assert_eq!((of(114.0), of(114.1), of(85.9)), (json!(false), json!(true), json!(true)));
        let none = two("NPRS", json!(null), (0.0, "points"), (0.0, "points"));
        assert_eq!(none["met"]["nprs-farrar-2001-percent"], Value::Null);
        assert_eq!(none["direction"], "same");
    }

    #[test]
    fn populations_part_the_thresholds_and_none_is_left_out_without_one() {
        let count = |population: Value| {
            let change = two("mouth opening", population, (30.0, "mm"), (35.0, "mm"));
            change["met"].as_object().unwrap().len()
        };
        assert_eq!(count(json!("painful jaw")), 2);
        assert_eq!(count(json!("juvenile arthritis")), 2);
        assert_eq!(count(json!(null)), 4);
        let change = two("NPRS", json!("painful jaw"), (5.0, "points"), (4.0, "points"));
        assert_eq!(
            change["met"].as_object().unwrap().len(),
            3,
            "figures not limited to a group hold for all"
        );
    }

    #[test]
    fn inches_are_turned_and_other_units_are_not_set_beside_each_other() {
        let change = two("mouth opening", json!("painful jaw"), (30.0, "mm"), (1.5, "in"));
        assert_eq!(change["size"], 8.1);
        let bad = json!({ "ask": "classify", "instrument": "NPRS", "population": null, "baseline": 5,
            "followup": 4, "unit": "points", "followup_unit": "mm" });
        assert!(answer(&bad, Tables::shipped().unwrap()).is_err());
        let bad = json!({ "ask": "classify", "instrument": "humour", "baseline": 5, "followup": 4, "unit": "points" });
        assert!(answer(&bad, Tables::shipped().unwrap()).is_err());
    }

    #[test]
    fn detectable_change_and_scores() {
        let detectable =
            |sem: f64, level: Value| said(json!({ "ask": "detectable", "sem": sem, "level": level }));
        assert_eq!(detectable(2.9, json!(90))["detectable"], 6.75);
        assert_eq!(detectable(2.9, json!("95"))["detectable"], 8.04);
        assert_eq!(detectable(0.0, json!(95.0))["detectable"], 0.0);
        let bad = json!({ "ask": "detectable", "sem": 1, "level": 99 });
        assert!(answer(&bad, Tables::shipped().unwrap()).unwrap_err().0.contains("90, 95"));
        let score = |sum: i64, answered: i64| {
            said(json!({ "ask": "ndi_score", "sum": sum, "answered": answered }))["percent"].clone()
        };
        assert_eq!(score(20, 7), 57.1);
        assert_eq!(score(50, 10), 100.0);
        assert_eq!(score(0, 10), 0.0);
        for (sum, answered) in [(0, 0), (1, 0), (26, 5), (5, 11), (-1, 5), (0, -1), (-5, -1)] {
            assert_eq!(score(sum, answered), Value::Null, "{sum} of {answered}");
        }
        let half = said(json!({ "ask": "ndi_score", "sum": 9, "answered": 4.5 }));
        assert_eq!(half["percent"], Value::Null);
    }

    /// Figures and words of `trade.toml`, which names the papers they are from.
    #[test]
    fn a_threshold_is_told_as_it_was_published() {
        let tables = &Tables::shipped().unwrap().trade;
        let told = |id: &str| threshold_words(tables.threshold.iter().find(|t| t.id == id).unwrap());
        assert_eq!(
            told("neck-rotation-christensen-1998"),
            "more than 14 deg: natural variation over 3 weeks in healthy students \
             (Christensen HW, Nilsson N. J Manipulative Physiol Ther 1998;21:383-387)"
        );
        assert_eq!(
            told("opening-kropmans-2000-single"),
            "9 mm: smallest detectable difference, single measurement, painful jaw \
             (Kropmans TJ et al. Eur J Oral Sci 2000;108:9-13)"
        );
        assert!(told("nprs-farrar-2001-percent").starts_with("30 percent of the first value: "));
    }
}

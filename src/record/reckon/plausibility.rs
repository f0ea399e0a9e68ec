//! The topic plausibility: is a typed value refused, asked about, or taken?
//!
//! A refusal says that a value cannot be; a question, that it is unusual. Neither judges a patient.

use super::pairs::{self, Pair};
use super::units::factor;
use super::{ReckonError, input};
use crate::record::decimal::Decimal;
use crate::record::tables::Tables;
use crate::record::tables::trade::{Limit, TradeTables};
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value, json};

/// What becomes of a typed value; the worse is the greater.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Outcome {
    /// It is taken.
    Ok,
    /// It is unusual: type it again, or give a reason.
    Ask,
    /// It cannot be.
    Refuse,
}

/// What becomes of a typed value, and why.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Judged {
    /// The worst of all tests that apply.
    pub outcome: Outcome,
    /// The value in the base unit, to 4 decimals, where another unit was typed.
    pub base_value: Option<Decimal>,
    /// Each test that did not pass, in plain words, as a part of a sentence.
    pub why: Vec<String>,
}

impl Judged {
    /// Taken, so far.
    pub fn ok() -> Judged {
        Judged { outcome: Outcome::Ok, base_value: None, why: Vec::new() }
    }

    /// Refused for one reason.
    pub fn refused(why: impl Into<String>) -> Judged {
        let mut judged = Judged::ok();
        judged.add(Outcome::Refuse, why);
        judged
    }

    /// Adds a test that did not pass.
    pub fn add(&mut self, outcome: Outcome, why: impl Into<String>) {
        self.outcome = self.outcome.max(outcome);
        self.why.push(why.into());
    }

    /// Adds the tests of another judgement; a base value that is here already stays.
    pub fn and(mut self, other: Judged) -> Judged {
        self.outcome = self.outcome.max(other.outcome);
        self.base_value = self.base_value.or(other.base_value);
        for why in other.why {
            if !self.why.contains(&why) {
                self.why.push(why);
            }
        }
        self
    }
}

/// A number as it was typed; anything that is no number is kept as the lack of one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Typed {
    /// A number.
    Number(Decimal),
    /// Something that is not a number, or is far too long for one.
    NoNumber,
}

impl<'de> Deserialize<'de> for Typed {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Typed, D::Error> {
        let read = match Value::deserialize(deserializer)? {
            Value::Number(number) => number.to_string().parse(),
            Value::String(text) => text.trim().parse(),
            _ => return Err(serde::de::Error::custom("a value is a number")),
        };
        Ok(read.map_or(Typed::NoNumber, Typed::Number))
    }
}

/// A single value, and what the table may ask to be stated with it.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
pub struct Single {
    /// The number.
    pub value: Option<Typed>,
    /// Its unit; the base unit where none was typed.
    pub unit: Option<String>,
    /// Left or right.
    pub side: Option<String>,
    /// Which kind, where the measure comes in kinds.
    pub kind: Option<String>,
}

/// A number in the base unit, and what is to be shown of it.
struct Based {
    number: Decimal,
    shown: Option<Decimal>,
}

fn based(
    value: Option<Typed>,
    unit: Option<&str>,
    base: &str,
    tables: &TradeTables,
) -> Result<Based, Judged> {
    let number = match value {
        Some(Typed::Number(number)) => number,
        Some(Typed::NoNumber) => return Err(Judged::refused("this is not a number that can be")),
        None => return Err(Judged::refused("no value was given")),
    };
    let unit = unit.map(str::trim).filter(|unit| !unit.is_empty()).unwrap_or(base);
    if unit == base {
        return Ok(Based { number, shown: None });
    }
    let Some(factor) = factor(unit, base, &tables.limit_pairs.values) else {
        return Err(Judged::refused(format!("it is stated in {base}, and {unit} is no unit of that")));
    };
    let number = number.times(factor).ok_or_else(|| Judged::refused("this is not a number that can be"))?;
    Ok(Based { number, shown: Some(number.rounded(4)) })
}

/// Judges a number in the base unit against the limits of its measure. Bounds pass.
pub fn within(limit: &Limit, number: Decimal) -> Judged {
    let mut judged = Judged::ok();
    let unit = if limit.unit.chars().any(char::is_alphabetic) || limit.unit == "%" {
        format!(" {}", limit.unit)
    } else {
        String::new()
    };
    let below = |bound: Option<Decimal>| bound.filter(|bound| number < *bound);
    let above = |bound: Option<Decimal>| bound.filter(|bound| number > *bound);
    if let Some(bound) = below(limit.refuse_below) {
        judged.add(Outcome::Refuse, format!("it is below {bound}{unit}, the least that can be"));
    }
    if let Some(bound) = above(limit.refuse_above) {
        judged.add(Outcome::Refuse, format!("it is above {bound}{unit}, the most that can be"));
    }
    if limit.whole && !number.is_whole() {
        judged.add(Outcome::Refuse, "only whole numbers are used here");
    }
    if judged.outcome == Outcome::Ok {
        if let Some(bound) = below(limit.ask_below) {
            judged.add(Outcome::Ask, format!("below {bound}{unit}"));
        }
        if let Some(bound) = above(limit.ask_above) {
            judged.add(Outcome::Ask, format!("above {bound}{unit}"));
        }
    }
    judged
}

/// Judges one typed value.
///
/// # Errors
/// The tables know no such measure.
pub fn judge(measure: &str, single: &Single, tables: &TradeTables) -> Result<Judged, ReckonError> {
    let limit = tables.limit(measure).ok_or_else(|| unknown(measure, tables))?;
    Ok(judge_limit(limit, single, tables))
}

fn judge_limit(limit: &Limit, single: &Single, tables: &TradeTables) -> Judged {
    let mut judged = match based(single.value, single.unit.as_deref(), &limit.unit, tables) {
        Ok(based) => Judged { base_value: based.shown, ..within(limit, based.number) },
        Err(refused) => refused,
    };
    for need in &limit.needs {
        let (given, known) = match need.as_str() {
            "side" => (&single.side, &limit.sides),
            "kind" => (&single.kind, &limit.kinds),
            _ => (&None, &limit.kinds),
        };
        match given.as_deref().map(str::trim).filter(|word| !word.is_empty()) {
            None => judged.add(Outcome::Refuse, format!("its {need} is missing")),
            Some(word) if !known.is_empty() && !known.iter().any(|k| k == word) => {
                judged.add(Outcome::Refuse, format!("its {need} must be {}", known.join(" or ")));
            }
            Some(_) => {}
        }
    }
    judged
}

/// The number of a typed value in the base unit of a measure, refused where it has none.
pub(super) fn number(
    value: Option<Typed>,
    unit: Option<&str>,
    base: &str,
    tables: &TradeTables,
) -> Result<(Decimal, Option<Decimal>), Judged> {
    based(value, unit, base, tables).map(|based| (based.number, based.shown))
}

fn unknown(measure: &str, tables: &TradeTables) -> ReckonError {
    let known: Vec<&str> =
        tables.limit.iter().map(|l| l.measure.as_str()).chain(Pair::WORDS.iter().copied()).collect();
    ReckonError(format!("\"{measure}\" is no measure; known are {}", known.join(", ")))
}

fn judge_input(value: &Value, tables: &TradeTables) -> Result<Judged, ReckonError> {
    #[derive(Deserialize)]
    struct Named {
        measure: String,
    }
    let Named { measure } = input(value)?;
    if Pair::WORDS.contains(&measure.as_str()) {
        return Ok(pairs::judge(&input::<Pair>(value)?, tables));
    }
    judge(&measure, &input(value)?, tables)
}

/// Answers.
///
/// # Errors
/// The input names no measure, or one that is not known.
pub fn answer(value: &Value, tables: &Tables) -> Result<Value, ReckonError> {
    let judged = judge_input(value, &tables.trade)?;
    let mut answer = Map::new();
    answer.insert("outcome".to_string(), json!(judged.outcome));
    if let Some(base) = judged.base_value {
        answer.insert("base_value".to_string(), base.to_json_with_point());
    }
    Ok(Value::Object(answer))
}

/// The answer for a person.
///
/// # Errors
/// As [`answer`].
pub fn plain(value: &Value, tables: &Tables) -> Result<Vec<String>, ReckonError> {
    let judged = judge_input(value, &tables.trade)?;
    let first = match judged.outcome {
        Outcome::Ok => "Taken.".to_string(),
        Outcome::Ask => {
            format!("Unusual: {}. Type it again, or give a reason.", judged.why.join("; "))
        }
        Outcome::Refuse => format!("Refused: {}.", judged.why.join("; ")),
    };
    let mut lines = vec![first];
    if let Some(base) = judged.base_value {
        let measure = value["measure"].as_str().unwrap_or_default();
        let unit = tables.trade.limit(measure).map_or("mm", |limit| limit.unit.as_str());
        lines.push(format!("That is {base} {unit}."));
    }
    Ok(lines)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn said(input: Value) -> Value {
        answer(&input, Tables::shipped().unwrap()).unwrap()
    }

    fn outcome(measure: &str, value: Value) -> Value {
        said(json!({ "measure": measure, "value": value }))["outcome"].clone()
    }

    #[test]
    fn every_bound_of_every_limit_passes_and_the_next_thousandth_does_not() {
        let tables = Tables::shipped().unwrap();
        let step = Decimal::new(1, 3);
        for limit in &tables.trade.limit {
            for (bound, outward, expected) in [
                (limit.ask_below, Decimal::new(-1, 3), Outcome::Ask),
                (limit.ask_above, step, Outcome::Ask),
                (limit.refuse_below, Decimal::new(-1, 3), Outcome::Refuse),
                (limit.refuse_above, step, Outcome::Refuse),
            ] {
                let Some(bound) = bound else { continue };
                let at = within(limit, bound).outcome;
                let past = within(limit, bound.plus(outward).unwrap()).outcome;
                assert!(at < expected, "{} at {bound}", limit.measure);
                assert_eq!(past, expected, "{} past {bound}", limit.measure);
            }
        }
    }

    #[test]
    fn whole_means_without_a_part_however_it_is_written() {
        assert_eq!(outcome("pain", json!(7.0)), "ok");
        assert_eq!(outcome("pain", json!("7")), "ok");
        assert_eq!(outcome("pain", json!(7.1)), "refuse");
        assert_eq!(outcome("pain", json!("seven")), "refuse");
        assert_eq!(outcome("pain", json!(null)), "refuse");
        assert_eq!(outcome("pulse", json!(1e300)), "refuse");
        assert!(answer(&json!({ "measure": "pain", "value": [7] }), Tables::shipped().unwrap()).is_err());
    }

    #[test]
    fn other_units_are_turned_and_limits_apply_to_the_base() {
        let typed = |measure: &str, value: f64, unit: &str| {
            said(json!({ "measure": measure, "value": value, "unit": unit }))
        };
        assert_eq!(typed("mouth_opening", 5.0, "in"), json!({ "outcome": "refuse", "base_value": 127.0 }));
        assert_eq!(typed("mouth_opening", 1.18, "in"), json!({ "outcome": "ask", "base_value": 29.972 }));
        assert_eq!(typed("mouth_opening", 42.0, "mm"), json!({ "outcome": "ok" }));
        assert_eq!(typed("weight", 881.0, "lb")["outcome"], "ok");
        assert_eq!(typed("weight", 882.0, "lb")["outcome"], "refuse");
        assert_eq!(typed("height", 70.0, "in"), json!({ "outcome": "ok", "base_value": 177.8 }));
        assert_eq!(typed("weight", 70.0, "mm"), json!({ "outcome": "refuse" }));
    }

    #[test]
    fn a_jaw_path_needs_side_and_kind() {
        let path = |side: Value, kind: Value| {
            said(json!({ "measure": "jaw_path", "value": 4, "unit": "mm", "side": side, "kind": kind }))["outcome"]
                .clone()
        };
        assert_eq!(path(json!("left"), json!("deflection")), "ok");
        assert_eq!(path(json!("both"), json!("deflection")), "refuse");
        assert_eq!(path(json!("left"), json!("bending")), "refuse");
        assert_eq!(path(json!("left"), json!(null)), "refuse");
        assert_eq!(path(json!(" "), json!("deviation")), "refuse");
        assert_eq!(said(json!({ "measure": "jaw_path", "value": 4 }))["outcome"], "refuse");
    }

    #[test]
    fn a_measure_that_is_not_known_is_named_with_those_that_are() {
        let why =
            answer(&json!({ "measure": "humour", "value": 1 }), Tables::shipped().unwrap()).unwrap_err();
        assert!(why.0.contains("pain") && why.0.contains("reflex_pair"), "{why}");
    }

    #[test]
    fn people_are_told_the_bound() {
        let tables = Tables::shipped().unwrap();
        let told = plain(&json!({ "measure": "pain", "value": 11 }), tables).unwrap();
        assert_eq!(told, ["Refused: it is above 10, the most that can be."]);
        let told = plain(&json!({ "measure": "mouth_opening", "value": 1, "unit": "in" }), tables).unwrap();
        assert_eq!(told[0], "Unusual: below 30 mm. Type it again, or give a reason.");
        assert_eq!(told[1], "That is 25.4 mm.");
        // Each reason once, and all of them.
        let reflexes = |left: &str, right: &str| {
            let asked = json!({ "measure": "reflex_pair", "left": left, "right": right });
            plain(&asked, tables).unwrap().remove(0)
        };
        let again = "Type it again, or give a reason.";
        assert_eq!(reflexes("3", "3+"), format!("Unusual: a reflex of 3 is unusual. {again}"));
        assert_eq!(
            reflexes("3", "4"),
            format!(
                "Unusual: a reflex of 3 is unusual; a reflex of 4 is unusual; left and right are unlike. {again}"
            )
        );
    }
}

//! Tests that look at more than one number, or at a grade: part of the topic plausibility.

use super::plausibility::{Judged, Outcome, Typed, number, within};
use crate::record::decimal::Decimal;
use crate::record::tables::trade::TradeTables;
use serde::Deserialize;
use serde_json::Value;

/// A test that looks at more than one number, or at a grade.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(tag = "measure", rename_all = "snake_case")]
pub enum Pair {
    /// Three openings of the mouth, mm.
    MouthOpeningSet {
        /// Without pain.
        pain_free: Option<Typed>,
        /// As far as it goes.
        unassisted: Option<Typed>,
        /// With help.
        assisted: Option<Typed>,
        /// Unit of all three.
        unit: Option<String>,
    },
    /// Lateral movement of the jaw to both sides, mm.
    LateralPair {
        /// To the left.
        left: Option<Typed>,
        /// To the right.
        right: Option<Typed>,
        /// Unit of both.
        unit: Option<String>,
    },
    /// Blood pressure, mmHg.
    BloodPressure {
        /// Upper pressure.
        systolic: Option<Typed>,
        /// Lower pressure.
        diastolic: Option<Typed>,
    },
    /// Pain before and after, within one visit.
    PainChange {
        /// Before.
        before: Option<Typed>,
        /// After.
        after: Option<Typed>,
    },
    /// Mouth opening before and after, within one visit, mm.
    OpeningGain {
        /// Before.
        before: Option<Typed>,
        /// After.
        after: Option<Typed>,
        /// Unit of both.
        unit: Option<String>,
    },
    /// Mouth opening where work inside the mouth is planned, mm.
    OpeningForMouthWork {
        /// The opening.
        value: Option<Typed>,
        /// Its unit.
        unit: Option<String>,
    },
    /// Weight now and earlier, kg.
    WeightChange {
        /// Earlier.
        before: Option<Typed>,
        /// Now.
        after: Option<Typed>,
        /// Days between.
        days: Option<Typed>,
        /// Unit of both.
        unit: Option<String>,
    },
    /// A grade of strength.
    Strength {
        /// The grade, as typed.
        grade: Option<Value>,
        /// Whether a remark on referral was made.
        referral: Option<bool>,
    },
    /// A grade of a reflex.
    Reflex {
        /// The grade, as typed.
        grade: Option<Value>,
    },
    /// Grades of a reflex on both sides.
    ReflexPair {
        /// Left.
        left: Option<Value>,
        /// Right.
        right: Option<Value>,
    },
    /// A score and its maximum.
    Questionnaire {
        /// Name of the questionnaire.
        name: Option<String>,
        /// The score.
        score: Option<Typed>,
        /// The maximum stated with it.
        maximum: Option<Typed>,
    },
}

impl Pair {
    /// The words of these tests.
    pub const WORDS: &'static [&'static str] = &[
        "mouth_opening_set",
        "lateral_pair",
        "blood_pressure",
        "pain_change",
        "opening_gain",
        "opening_for_mouth_work",
        "weight_change",
        "strength",
        "reflex",
        "reflex_pair",
        "questionnaire",
    ];
}

/// Judges.
pub fn judge(pair: &Pair, tables: &TradeTables) -> Judged {
    judged(pair, tables).unwrap_or_else(|refused| refused)
}

/// The judgement; a number that is missing ends it early, refused.
fn judged(pair: &Pair, tables: &TradeTables) -> Result<Judged, Judged> {
    let in_unit = |name: &str, value: &Option<Typed>, unit: &Option<String>, base: &str| {
        number(*value, unit.as_deref(), base, tables).map(|n| n.0).map_err(|mut refused| {
            refused.why = refused.why.iter().map(|why| format!("{name}: {why}")).collect();
            refused
        })
    };
    let plain = |name: &str, value: &Option<Typed>| in_unit(name, value, &None, "");
    Ok(match pair {
        Pair::MouthOpeningSet { pain_free, unassisted, assisted, unit } => openings(
            in_unit("pain-free", pain_free, unit, "mm")?,
            in_unit("unassisted", unassisted, unit, "mm")?,
            in_unit("assisted", assisted, unit, "mm")?,
            tables,
        ),
        Pair::LateralPair { left, right, unit } => {
            lateral(in_unit("left", left, unit, "mm")?, in_unit("right", right, unit, "mm")?, tables)
        }
        Pair::BloodPressure { systolic, diastolic } => {
            blood_pressure(plain("systolic", systolic)?, plain("diastolic", diastolic)?, tables)
        }
        Pair::PainChange { before, after } => {
            pain_change(plain("before", before)?, plain("after", after)?, tables)
        }
        Pair::OpeningGain { before, after, unit } => {
            opening_gain(in_unit("before", before, unit, "mm")?, in_unit("after", after, unit, "mm")?, tables)
        }
        Pair::OpeningForMouthWork { value, unit } => {
            let (opening, base_value) = number(*value, unit.as_deref(), "mm", tables)?;
            Judged { base_value, ..opening_for_mouth_work(opening, tables) }
        }
        Pair::WeightChange { before, after, days, unit } => weight_change(
            in_unit("before", before, unit, "kg")?,
            in_unit("after", after, unit, "kg")?,
            plain("days", days)?,
            tables,
        ),
        Pair::Strength { grade, referral } => strength(&grade_text(grade), referral.unwrap_or(false), tables),
        Pair::Reflex { grade } => reflex(&grade_text(grade), tables),
        Pair::ReflexPair { left, right } => reflex_pair(&grade_text(left), &grade_text(right), tables),
        Pair::Questionnaire { name, score, maximum } => questionnaire(
            name.as_deref().unwrap_or_default(),
            plain("score", score)?,
            plain("maximum", maximum)?,
            tables,
        ),
    })
}

/// A grade may be typed as a number or as a text.
fn grade_text(grade: &Option<Value>) -> String {
    match grade {
        Some(Value::String(text)) => text.trim().to_string(),
        Some(Value::Number(number)) => {
            number.to_string().parse::<Decimal>().map_or_else(|_| number.to_string(), |d| d.to_string())
        }
        _ => String::new(),
    }
}

fn distance(a: Decimal, b: Decimal) -> Option<Decimal> {
    a.minus(b).map(Decimal::size)
}

/// Each number by the limits of its own measure, with its name before the reason.
fn each(measure: &str, numbers: &[(&str, Decimal)], tables: &TradeTables) -> Judged {
    let Some(limit) = tables.limit(measure) else { return Judged::ok() };
    numbers.iter().fold(Judged::ok(), |all, (name, number)| {
        let mut one = within(limit, *number);
        one.why = one.why.iter().map(|why| format!("{name}: {why}")).collect();
        all.and(one)
    })
}

/// Three openings, mm: their order, and each by itself.
pub fn openings(pain_free: Decimal, unassisted: Decimal, assisted: Decimal, tables: &TradeTables) -> Judged {
    let numbers = [("pain-free", pain_free), ("unassisted", unassisted), ("assisted", assisted)];
    let allowed = tables.limit_pairs.values.opening_order_mm;
    let mut judged = each("mouth_opening", &numbers, tables);
    for pair in numbers.windows(2) {
        let [(lower, a), (upper, b)] = pair else { continue };
        if a.minus(*b).is_some_and(|over| over > allowed) {
            judged.add(
                Outcome::Refuse,
                format!("the {lower} opening is above the {upper} one by more than {allowed} mm"),
            );
        }
    }
    judged
}

/// Lateral movement to both sides, mm: how they differ, and each by itself.
pub fn lateral(left: Decimal, right: Decimal, tables: &TradeTables) -> Judged {
    each("lateral", &[("left", left), ("right", right)], tables).and(lateral_gap(left, right, tables))
}

/// How lateral movement to both sides differs, mm.
pub fn lateral_gap(left: Decimal, right: Decimal, tables: &TradeTables) -> Judged {
    let allowed = tables.limit_pairs.values.lateral_pair_mm;
    let mut judged = Judged::ok();
    if distance(left, right).is_none_or(|apart| apart > allowed) {
        judged.add(Outcome::Ask, format!("left and right differ by more than {allowed} mm"));
    }
    judged
}

/// Blood pressure, mmHg.
pub fn blood_pressure(systolic: Decimal, diastolic: Decimal, tables: &TradeTables) -> Judged {
    let values = &tables.limit_pairs.values;
    let mut judged = Judged::ok();
    if systolic < values.systolic_refuse_below {
        let bound = values.systolic_refuse_below;
        judged.add(Outcome::Refuse, format!("the upper pressure is below {bound}, the least that can be"));
    }
    if systolic > values.systolic_refuse_above {
        let bound = values.systolic_refuse_above;
        judged.add(Outcome::Refuse, format!("the upper pressure is above {bound}, the most that can be"));
    }
    if diastolic >= systolic {
        judged.add(Outcome::Refuse, "the lower pressure must be below the upper one");
    }
    if judged.outcome == Outcome::Refuse {
        return judged;
    }
    if systolic >= values.systolic_ask_from {
        let bound = values.systolic_ask_from;
        judged.add(Outcome::Ask, format!("the upper pressure is {bound} or more (refer or defer?)"));
    }
    if diastolic >= values.diastolic_ask_from {
        let bound = values.diastolic_ask_from;
        judged.add(Outcome::Ask, format!("the lower pressure is {bound} or more (refer or defer?)"));
    }
    judged
}

/// Pain before and after within one visit.
pub fn pain_change(before: Decimal, after: Decimal, tables: &TradeTables) -> Judged {
    let bound = tables.limit_pairs.values.pain_change_ask_from;
    let mut judged = Judged::ok();
    if distance(before, after).is_none_or(|change| change >= bound) {
        judged.add(Outcome::Ask, format!("pain changed by {bound} or more within one visit"));
    }
    judged
}

/// Mouth opening before and after within one visit, mm. Only growth is asked about.
pub fn opening_gain(before: Decimal, after: Decimal, tables: &TradeTables) -> Judged {
    let bound = tables.limit_pairs.values.opening_gain_ask_above_mm;
    let mut judged = Judged::ok();
    if after.minus(before).is_none_or(|gain| gain > bound) {
        judged.add(Outcome::Ask, format!("the opening grew by more than {bound} mm within one visit"));
    }
    judged
}

/// Mouth opening where work inside the mouth is planned, mm.
pub fn opening_for_mouth_work(opening: Decimal, tables: &TradeTables) -> Judged {
    let bound = tables.limit_pairs.values.opening_for_mouth_work_ask_below_mm;
    let mut judged = Judged::ok();
    if opening < bound {
        judged.add(Outcome::Ask, format!("work inside the mouth with an opening below {bound} mm"));
    }
    judged
}

/// Weight earlier and now, kg, so many days apart.
pub fn weight_change(before: Decimal, after: Decimal, days: Decimal, tables: &TradeTables) -> Judged {
    let values = &tables.limit_pairs.values;
    let (percent, within) = (values.weight_change_ask_above_percent, values.weight_change_within_days);
    let mut judged = Judged::ok();
    // change / before > percent / 100, without dividing.
    let scaled = distance(after, before).and_then(|change| change.times(Decimal::from(100)));
    let more = match (scaled, before.size().times(percent)) {
        (Some(change), Some(allowed)) => change > allowed,
        _ => true,
    };
    if more && days.size() <= within {
        judged.add(Outcome::Ask, format!("weight changed by more than {percent} % within {within} days"));
    }
    judged
}

/// A grade of strength, as typed.
pub fn strength(grade: &str, referral: bool, tables: &TradeTables) -> Judged {
    let values = &tables.limit_pairs.values;
    if !values.strength_grades.iter().any(|known| known == grade) {
        return Judged::refused(format!(
            "a grade of strength is one of {}",
            values.strength_grades.join(", ")
        ));
    }
    let mut judged = Judged::ok();
    let bound = values.strength_ask_below;
    // The sign beside the number does not move it across the bound.
    let number: Option<Decimal> = grade.trim_end_matches(['+', '-']).parse().ok();
    if !referral && number.is_none_or(|number| number < bound) {
        judged.add(Outcome::Ask, format!("strength below {bound} without a remark on referral"));
    }
    judged
}

/// The grade of a reflex without the plus that changes nothing.
fn reflex_number(grade: &str) -> &str {
    grade.strip_suffix('+').unwrap_or(grade)
}

/// A grade of a reflex, as typed.
pub fn reflex(grade: &str, tables: &TradeTables) -> Judged {
    let values = &tables.limit_pairs.values;
    let number = reflex_number(grade);
    let mut judged = Judged::ok();
    if !values.reflex_grades.iter().any(|known| known == number) {
        judged.add(
            Outcome::Refuse,
            format!("a grade of a reflex is one of {}, with or without +", values.reflex_grades.join(", ")),
        );
    } else if values.reflex_ask.iter().any(|asked| asked == number) {
        judged.add(Outcome::Ask, format!("a reflex of {number} is unusual"));
    }
    judged
}

/// Grades of a reflex on both sides, as typed.
pub fn reflex_pair(left: &str, right: &str, tables: &TradeTables) -> Judged {
    let mut judged = reflex(left, tables).and(reflex(right, tables));
    if judged.outcome != Outcome::Refuse && unlike(left, right) {
        judged.add(Outcome::Ask, "left and right are unlike");
    }
    judged
}

/// True when the grades of a reflex on both sides differ by more than a plus, which changes nothing.
pub fn unlike(left: &str, right: &str) -> bool {
    reflex_number(left) != reflex_number(right)
}

/// A score and the maximum stated with it.
pub fn questionnaire(name: &str, score: Decimal, maximum: Decimal, tables: &TradeTables) -> Judged {
    let mut judged = Judged::ok();
    if score < Decimal::ZERO {
        judged.add(Outcome::Refuse, "the score is below 0");
    }
    if score > maximum {
        judged.add(Outcome::Refuse, format!("the score is above its maximum of {maximum}"));
    }
    let published = tables
        .limit_pairs
        .questionnaire_maximum
        .iter()
        .find(|(known, _)| known.eq_ignore_ascii_case(name.trim()))
        .map(|(_, maximum)| *maximum);
    if let Some(published) = published.filter(|published| *published != maximum) {
        judged.add(Outcome::Ask, format!("the published maximum is {published}"));
    }
    judged
}

#[cfg(test)]
mod tests {
    use super::super::plausibility::answer;
    use super::*;
    use crate::record::tables::Tables;
    use serde_json::json;

    fn outcome(input: Value) -> String {
        let answer = answer(&input, Tables::shipped().unwrap()).unwrap();
        answer["outcome"].as_str().unwrap().to_string()
    }

    #[test]
    fn every_word_is_a_test() {
        for word in Pair::WORDS {
            let read = serde_json::from_value::<Pair>(json!({ "measure": word })).unwrap();
            let strict = judge(&read, &Tables::shipped().unwrap().trade);
            assert_eq!(strict.outcome, Outcome::Refuse, "{word} with nothing given");
        }
    }

    #[test]
    fn openings_may_break_their_order_by_one_millimeter() {
        let set = |p: f64, u: f64, a: f64| {
            outcome(json!({ "measure": "mouth_opening_set", "pain_free": p, "unassisted": u, "assisted": a }))
        };
        assert_eq!(set(39.0, 38.0, 41.0), "ok");
        assert_eq!(set(39.1, 38.0, 41.0), "refuse");
        assert_eq!(set(38.0, 42.0, 41.0), "ok");
        assert_eq!(set(38.0, 42.0, 40.9), "refuse");
        assert_eq!(set(38.0, 42.0, 81.0), "refuse");
        assert_eq!(set(38.0, 42.0, 61.0), "ask");
        assert_eq!(set(36.3, 35.3, 36.0), "ok");
    }

    #[test]
    fn sides_of_the_jaw_may_differ_by_four_and_are_tested_each() {
        let pair = |l: f64, r: f64| outcome(json!({ "measure": "lateral_pair", "left": l, "right": r }));
        assert_eq!(pair(6.0, 10.0), "ok");
        assert_eq!(pair(10.1, 6.0), "ask");
        assert_eq!(pair(4.0, 6.0), "ask");
        assert_eq!(pair(9.0, 21.0), "refuse");
        assert_eq!(pair(-1.0, 6.0), "refuse");
    }

    #[test]
    fn blood_pressure_has_its_corners() {
        let pressure =
            |s: i64, d: i64| outcome(json!({ "measure": "blood_pressure", "systolic": s, "diastolic": d }));
        for (s, d, expected) in [
            (50, 30, "ok"),
            (49, 30, "refuse"),
            (280, 90, "ask"),
            (281, 90, "refuse"),
            (180, 80, "ask"),
            (150, 110, "ask"),
            (150, 109, "ok"),
            (120, 119, "ask"),
            (110, 110, "refuse"),
            (100, 120, "refuse"),
        ] {
            assert_eq!(pressure(s, d), expected, "{s}/{d}");
        }
    }

    #[test]
    fn changes_within_a_visit() {
        let change = |m: &str, b: f64, a: f64| outcome(json!({ "measure": m, "before": b, "after": a }));
        assert_eq!(change("pain_change", 1.0, 8.0), "ask");
        assert_eq!(change("pain_change", 2.0, 8.0), "ok");
        assert_eq!(change("opening_gain", 30.0, 45.0), "ok");
        assert_eq!(change("opening_gain", 30.1, 45.2), "ask");
        assert_eq!(change("opening_gain", 46.0, 30.0), "ok");
        let mouth = |v: f64| outcome(json!({ "measure": "opening_for_mouth_work", "value": v }));
        assert_eq!((mouth(20.0).as_str(), mouth(19.9).as_str(), mouth(25.0).as_str()), ("ok", "ask", "ok"));
        // Three quarters of an inch are 19.05 mm (1 in = 25.4 mm).
        let typed = json!({ "measure": "opening_for_mouth_work", "value": 0.75, "unit": "in" });
        let told = answer(&typed, Tables::shipped().unwrap()).unwrap();
        assert_eq!(told, json!({ "outcome": "ask", "base_value": 19.05 }));
        let weight = |b: f64, a: f64, d: i64| {
            outcome(json!({ "measure": "weight_change", "before": b, "after": a, "days": d }))
        };
        assert_eq!(weight(80.0, 72.0, 60), "ok");
        assert_eq!(weight(80.0, 88.1, 90), "ask");
        assert_eq!(weight(80.0, 60.0, 91), "ok");
        assert_eq!(weight(70.7, 77.77, 10), "ok");
    }

    #[test]
    fn grades_with_their_signs() {
        let strength = |grade: Value, referral: Value| {
            outcome(json!({ "measure": "strength", "grade": grade, "referral": referral }))
        };
        for (grade, expected) in [
            ("5", "ok"),
            ("5-", "ok"),
            ("5+", "refuse"),
            ("0-", "refuse"),
            ("0+", "ask"),
            ("0", "ask"),
            ("3-", "ok"),
            ("3", "ok"),
            ("2+", "ask"),
            ("4.5", "refuse"),
            ("4++", "refuse"),
            ("", "refuse"),
            ("+4", "refuse"),
            ("-1", "refuse"),
            ("normal", "refuse"),
        ] {
            assert_eq!(strength(json!(grade), json!(false)), expected, "{grade}");
        }
        assert_eq!(strength(json!("2"), json!(true)), "ok");
        assert_eq!(strength(json!("6"), json!(true)), "refuse");
        assert_eq!(strength(json!(2), json!(null)), "ask");
        assert_eq!(strength(json!(4.0), json!(false)), "ok");
        let reflex = |grade: &str| outcome(json!({ "measure": "reflex", "grade": grade }));
        for (grade, expected) in [
            ("0", "ask"),
            ("0+", "ask"),
            ("1", "ok"),
            ("2", "ok"),
            ("3", "ask"),
            ("3+", "ask"),
            ("4+", "ask"),
            ("2-", "refuse"),
            ("5+", "refuse"),
            ("2++", "refuse"),
            ("+", "refuse"),
        ] {
            assert_eq!(reflex(grade), expected, "{grade}");
        }
        let pair = |l: &str, r: &str| outcome(json!({ "measure": "reflex_pair", "left": l, "right": r }));
        assert_eq!(pair("2", "2+"), "ok");
        assert_eq!(pair("2", "1+"), "ask");
        assert_eq!(pair("3", "3"), "ask");
        assert_eq!(pair("2", "5"), "refuse");
    }

    #[test]
    fn questionnaires_and_their_published_maximum() {
        let asked = |name: &str, score: f64, maximum: f64| {
            outcome(json!({ "measure": "questionnaire", "name": name, "score": score, "maximum": maximum }))
        };
        assert_eq!(asked("NDI", 50.0, 50.0), "ok");
        assert_eq!(asked("NDI", 0.0, 50.0), "ok");
        assert_eq!(asked("NDI", 24.0, 100.0), "ask");
        assert_eq!(asked("NDI", 24.0, 45.0), "ask");
        assert_eq!(asked("NDI", 60.0, 50.0), "refuse");
        assert_eq!(asked("NDI", -1.0, 50.0), "refuse");
        assert_eq!(asked("another", 7.0, 24.0), "ok");
    }
}

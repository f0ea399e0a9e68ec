//! Measures of the record held against the limits of the tables: which limit is whose, and what a
//! value typed in another unit is in the usual one.

use super::decimal::Decimal;
use super::kinds::common::Amount;
use super::kinds::screening::{MeasureKind, Measured, PlusMinus, Unit};
use super::reckon::plausibility::{self, Judged, Single, Typed};
use super::reckon::{pairs, units};
use super::tables::trade::TradeTables;
use super::vocab::Side;
use serde_json::Value;

/// Units that may be typed behind a number.
pub const TYPED_UNITS: &[&str] = &["in", "lb", "mm", "cm", "kg", "deg", "mmHg", "/min", "deg C", "%"];

/// A measure as it was typed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AsTyped {
    /// What was measured.
    pub kind: MeasureKind,
    /// The number.
    pub value: Decimal,
    /// Its unit, in the words of the tables; the usual one where none was typed.
    pub unit: Option<String>,
    /// Lower pressure, or the most a questionnaire can give.
    pub second: Option<Decimal>,
    /// Side.
    pub side: Option<Side>,
    /// Half a grade more or less.
    pub plus_minus: Option<PlusMinus>,
    /// Name of a questionnaire.
    pub name: Option<String>,
}

/// The name of the limit of a kind of measure; none where the tables set none for a single value.
pub fn limit_name(kind: MeasureKind) -> Option<&'static str> {
    use MeasureKind as M;
    Some(match kind {
        M::PainNow | M::PainWorst | M::PainBest => "pain",
        M::MouthOpening | M::MouthOpeningPainFree | M::MouthOpeningUnassisted | M::MouthOpeningAssisted => {
            "mouth_opening"
        }
        M::JawLateral => "lateral",
        M::JawProtrusion => "protrusion",
        M::JawDeviation | M::JawDeflection => "jaw_path",
        M::NeckFlexion => "neck_flexion",
        M::NeckExtension => "neck_extension",
        M::NeckSideBending => "neck_side_bend",
        M::NeckRotation => "neck_rotation",
        M::LowBackFlexion => "low_back_flexion",
        M::LowBackExtension => "low_back_extension",
        M::LowBackSideBending => "low_back_side_bend",
        M::ShoulderFlexion | M::ShoulderAbduction => "shoulder_elevation",
        M::ShoulderExternalRotation => "shoulder_external_rotation",
        M::ShoulderInternalRotation => "shoulder_internal_rotation",
        M::StraightLegRaise => "straight_leg_raise",
        M::Pulse => "pulse",
        M::Respiration => "respiration",
        M::Temperature => "temperature",
        M::OxygenSaturation => "oxygen_saturation",
        M::Height => "height",
        M::Weight => "weight",
        M::OtherMovement | M::Strength | M::Reflex | M::BloodPressure | M::Questionnaire | M::Other => {
            return None;
        }
    })
}

/// The unit of the record in the words of the tables.
pub fn table_unit(unit: Unit) -> &'static str {
    match unit {
        Unit::Of10 => "0-10",
        Unit::Mm => "mm",
        Unit::Deg => "deg",
        Unit::Grade => "grade",
        Unit::MmHg => "mmHg",
        Unit::PerMinute => "/min",
        Unit::Celsius => "deg C",
        Unit::Percent => "%",
        Unit::Cm => "cm",
        Unit::Kg => "kg",
        Unit::Score => "score",
        Unit::Seconds => "seconds",
        Unit::Count => "count",
    }
}

/// The unit a word of the tables means in the record.
pub fn record_unit(word: &str) -> Option<Unit> {
    Unit::ALL.iter().copied().find(|unit| table_unit(*unit) == word)
}

/// The measures in the data of a record that can't be, by the limits of the tables: where each stands, and why.
pub fn impossible(data: &Value, tables: &TradeTables) -> Vec<(String, String)> {
    let mut found = Vec::new();
    look(data, "", tables, &mut found);
    found
}

fn look(value: &Value, place: &str, tables: &TradeTables, found: &mut Vec<(String, String)>) {
    match value {
        Value::Array(items) => {
            items.iter().enumerate().for_each(|(n, item)| look(item, &format!("{place}/{n}"), tables, found));
        }
        Value::Object(map) => {
            if let Ok(measured) = serde_json::from_value::<Measured>(value.clone()) {
                let judged = as_kept(&measured).map(|kept| judge(&kept, tables));
                if let Some(judged) = judged.filter(|j| j.outcome == plausibility::Outcome::Refuse) {
                    found.push((format!("{place}/value"), judged.why.join("; ")));
                }
                return;
            }
            map.iter().for_each(|(name, item)| look(item, &format!("{place}/{name}"), tables, found));
        }
        _ => {}
    }
}

/// A measure of the record in the form in which it is judged; none where its number is too long.
fn as_kept(measured: &Measured) -> Option<AsTyped> {
    let number = |amount: &Amount| Decimal::from_f64(amount.get()).ok();
    Some(AsTyped {
        kind: measured.kind,
        value: number(&measured.value)?,
        unit: Some(table_unit(measured.unit).to_string()),
        second: measured.second_value.as_ref().and_then(number),
        side: measured.side,
        plus_minus: measured.plus_minus,
        name: measured.name.clone(),
    })
}

/// Judges a measure as it was typed. The base value is there where another unit was typed.
pub fn judge(typed: &AsTyped, tables: &TradeTables) -> Judged {
    match typed.kind {
        MeasureKind::BloodPressure => match typed.second {
            Some(lower) => pairs::blood_pressure(typed.value, lower, tables),
            None => Judged::refused("the lower pressure is missing"),
        },
        MeasureKind::Strength => pairs::strength(&grade(typed), false, tables),
        MeasureKind::Reflex => pairs::reflex(&grade(typed), tables),
        MeasureKind::Questionnaire => match typed.second {
            Some(most) => {
                pairs::questionnaire(typed.name.as_deref().unwrap_or_default(), typed.value, most, tables)
            }
            None => Judged::ok(),
        },
        kind => match limit_name(kind) {
            Some(name) => {
                // A table without this limit sets none.
                plausibility::judge(name, &single(typed), tables).unwrap_or_else(|_| Judged::ok())
            }
            None => Judged::ok(),
        },
    }
}

fn single(typed: &AsTyped) -> Single {
    let side = match typed.side {
        Some(side @ (Side::Left | Side::Right)) => Some(side.word().to_string()),
        _ => None,
    };
    let kind = match typed.kind {
        MeasureKind::JawDeviation => Some("deviation".to_string()),
        MeasureKind::JawDeflection => Some("deflection".to_string()),
        _ => None,
    };
    Single { value: Some(Typed::Number(typed.value)), unit: typed.unit.clone(), side, kind }
}

fn grade(typed: &AsTyped) -> String {
    let sign = match typed.plus_minus {
        Some(PlusMinus::Plus) => "+",
        Some(PlusMinus::Minus) => "-",
        None => "",
    };
    format!("{}{sign}", typed.value)
}

/// Reads a number with or without a unit behind it.
pub fn read(text: &str) -> Option<(Decimal, Option<String>)> {
    let (number, unit) = units::split(text);
    let number = number.parse().ok()?;
    match unit {
        "" => Some((number, None)),
        unit => {
            let known = TYPED_UNITS.iter().find(|known| known.eq_ignore_ascii_case(unit))?;
            Some((number, Some((*known).to_string())))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::reckon::plausibility::Outcome;
    use super::super::tables::Tables;
    use super::*;
    use serde_json::json;

    fn typed(kind: MeasureKind, text: &str) -> AsTyped {
        let (value, unit) = read(text).unwrap();
        AsTyped { kind, value, unit, second: None, side: None, plus_minus: None, name: None }
    }

    fn outcome(typed: &AsTyped) -> Outcome {
        judge(typed, &Tables::shipped().unwrap().trade).outcome
    }

    #[test]
    fn every_kind_with_a_limit_names_one_that_is_there_and_its_unit() {
        let tables = &Tables::shipped().unwrap().trade;
        for kind in MeasureKind::ALL {
            let Some(name) = limit_name(*kind) else { continue };
            let limit = tables.limit(name).unwrap_or_else(|| panic!("{name}"));
            assert!(record_unit(&limit.unit).is_some(), "{name}: {}", limit.unit);
        }
        for unit in Unit::ALL {
            assert_eq!(record_unit(table_unit(*unit)), Some(*unit));
        }
    }

    #[test]
    fn inches_and_pounds_are_turned_and_judged() {
        let tables = &Tables::shipped().unwrap().trade;
        let judged = judge(&typed(MeasureKind::MouthOpening, "1.75in"), tables);
        assert_eq!((judged.outcome, judged.base_value), (Outcome::Ok, Some(Decimal::new(4445, 2))));
        let judged = judge(&typed(MeasureKind::Weight, "170 lb"), tables);
        assert_eq!(judged.base_value, Some(Decimal::new(771_107, 4)));
        assert_eq!(outcome(&typed(MeasureKind::MouthOpening, "4in")), Outcome::Refuse);
        assert_eq!(outcome(&typed(MeasureKind::MouthOpening, "40 kg")), Outcome::Refuse);
        assert_eq!(read("40 furlongs"), None);
        assert_eq!(read("forty"), None);
    }

    #[test]
    fn grades_pressures_and_paths_use_their_own_tests() {
        let mut strength = typed(MeasureKind::Strength, "3");
        strength.plus_minus = Some(PlusMinus::Minus);
        assert_eq!(outcome(&strength), Outcome::Ok);
        strength.value = Decimal::from(2);
        assert_eq!(outcome(&strength), Outcome::Ask);
        assert_eq!(outcome(&typed(MeasureKind::Reflex, "5")), Outcome::Refuse);
        let mut pressure = typed(MeasureKind::BloodPressure, "182");
        assert_eq!(outcome(&pressure), Outcome::Refuse);
        pressure.second = Some(Decimal::from(96));
        assert_eq!(outcome(&pressure), Outcome::Ask);
        let mut path = typed(MeasureKind::JawDeflection, "4");
        assert_eq!(outcome(&path), Outcome::Refuse);
        path.side = Some(Side::Both);
        assert_eq!(outcome(&path), Outcome::Refuse);
        path.side = Some(Side::Left);
        assert_eq!(outcome(&path), Outcome::Ok);
        assert_eq!(outcome(&typed(MeasureKind::OtherMovement, "400")), Outcome::Ok);
    }

    /// The bounds of the trade's tables: 80 mm of opening can be, 81 can't; 61 is only unusual.
    #[test]
    fn what_can_not_be_is_found_wherever_it_stands_in_a_record() {
        let tables = &Tables::shipped().unwrap().trade;
        let opening = |mm: u32| json!({"kind": "mouth-opening", "value": mm, "unit": "mm"});
        let data = |mm: [u32; 3]| {
            json!({
                "measures": [
                    {"phase": "before", "measured": opening(mm[0])},
                    {"phase": "after", "measured": opening(mm[1])},
                ],
                "findings": [{"no": 1, "measured": opening(mm[2])}],
            })
        };
        assert_eq!(impossible(&data([80, 61, 41]), tables), []);
        let found = impossible(&data([80, 81, 200]), tables);
        let places: Vec<&str> = found.iter().map(|(place, _)| place.as_str()).collect();
        assert_eq!(places, ["/measures/1/measured/value", "/findings/0/measured/value"]);
        assert!(found.iter().all(|(_, why)| why.contains("80")), "{found:?}");
        let pressure = |lower: u32| json!({"kind": "blood-pressure", "value": 128, "second_value": lower, "unit": "mmHg"});
        assert_eq!(impossible(&pressure(82), tables), []);
        assert_eq!(impossible(&pressure(128), tables).len(), 1);
    }

    /// The trade's tables: a path of the jaw needs its side and its kind, up to 10 mm usual and 20 possible.
    #[test]
    fn both_paths_of_the_jaw_are_judged_by_their_own_name() {
        for kind in [MeasureKind::JawDeviation, MeasureKind::JawDeflection] {
            for (side, text, expected) in [
                (Some(Side::Left), "10", Outcome::Ok),
                (Some(Side::Right), "10.5", Outcome::Ask),
                (Some(Side::Right), "20", Outcome::Ask),
                (Some(Side::Left), "20.5", Outcome::Refuse),
                (Some(Side::Midline), "4", Outcome::Refuse),
                (None, "4", Outcome::Refuse),
            ] {
                let path = AsTyped { side, ..typed(kind, text) };
                assert_eq!(outcome(&path), expected, "{kind} {side:?} {text}");
            }
        }
    }

    /// Grades 0 to 5 with a half more or less, except 5+ and 0- (the trade's tables).
    #[test]
    fn half_grades_are_judged_with_their_number() {
        for (text, half, expected) in [
            ("5", Some(PlusMinus::Minus), Outcome::Ok),
            ("5", Some(PlusMinus::Plus), Outcome::Refuse),
            ("0", Some(PlusMinus::Minus), Outcome::Refuse),
            ("4", Some(PlusMinus::Plus), Outcome::Ok),
            ("6", None, Outcome::Refuse),
        ] {
            let strength = AsTyped { plus_minus: half, ..typed(MeasureKind::Strength, text) };
            assert_eq!(outcome(&strength), expected, "{text} {half:?}");
        }
    }
}

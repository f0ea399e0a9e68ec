//! Lines for what was measured: `opening 38mm before`, `neck rotation L 60 after`, `BP 128/82 before`.

use super::lex::{self, What};
use super::place::{Goal, Said};
use super::words::Meaning;
use super::{Stop, Typed, ask_more, misplaced, no_such_name, once, refuse};
use crate::record::decimal::Decimal;
use crate::record::kinds::common::{Amount, Problem, Problems};
use crate::record::kinds::screening::{MeasureKind, Measured, Phase, PlusMinus, Unit};
use crate::record::kinds::visit::NoteMeasure;
use crate::record::measured::table_unit;
use crate::record::moment::Moment;
use crate::record::notation::level::Use;
use crate::record::reckon::units;
use crate::record::tables::Tables;
use crate::record::vocab::Side;

const NAMES: &str = "name, unit, typed, method, instrument, position, because, retyped, structure, region";

/// The unit a kind of measure is stated in; none where the kind leaves it open.
pub fn usual_unit(kind: MeasureKind) -> Option<Unit> {
    use MeasureKind as M;
    Some(match kind {
        M::PainNow | M::PainWorst | M::PainBest => Unit::Of10,
        M::MouthOpening
        | M::MouthOpeningPainFree
        | M::MouthOpeningUnassisted
        | M::MouthOpeningAssisted
        | M::JawLateral
        | M::JawProtrusion
        | M::JawDeviation
        | M::JawDeflection => Unit::Mm,
        M::NeckFlexion
        | M::NeckExtension
        | M::NeckSideBending
        | M::NeckRotation
        | M::LowBackFlexion
        | M::LowBackExtension
        | M::LowBackSideBending
        | M::ShoulderFlexion
        | M::ShoulderAbduction
        | M::ShoulderExternalRotation
        | M::ShoulderInternalRotation
        | M::StraightLegRaise
        | M::OtherMovement => Unit::Deg,
        M::Strength | M::Reflex => Unit::Grade,
        M::BloodPressure => Unit::MmHg,
        M::Pulse | M::Respiration => Unit::PerMinute,
        M::Temperature => Unit::Celsius,
        M::OxygenSaturation => Unit::Percent,
        M::Height => Unit::Cm,
        M::Weight => Unit::Kg,
        M::Questionnaire => Unit::Score,
        M::Other => return None,
    })
}

/// What is wrong with a typed value. Every measure typed in a line goes through here, and nowhere else.
pub fn check_measure(measured: &Measured) -> Vec<Problem> {
    let mut problems = Problems::default();
    crate::record::kinds::check_care::measured(measured, "", &mut problems);
    problems.into_vec()
}

/// The word the tables have for a unit as it is typed in a line.
fn spelled(typed: &str) -> &str {
    match typed {
        "\u{b0}" => "deg",
        "c" | "\u{b0}c" => "deg C",
        "bpm" => "/min",
        "s" | "sec" => "seconds",
        "lbs" => "lb",
        other => other,
    }
}

/// How many of a base unit one of a typed unit is.
fn factor(typed: &str, base: Unit) -> Option<Decimal> {
    let values = &Tables::shipped().ok()?.trade.limit_pairs.values;
    match typed {
        // Heights are told in meters; nothing in the tables is.
        "m" => units::factor("cm", table_unit(base), values)?.times(Decimal::from(100)),
        typed => units::factor(spelled(typed), table_unit(base), values),
    }
}

/// The value in the base unit, to a hundredth.
fn in_base(value: &str, typed: &str, base: Unit) -> Option<String> {
    let number: Decimal = value.parse().ok()?;
    let typed = typed.to_lowercase();
    let converted = match (base, typed.as_str()) {
        (Unit::Celsius, "f" | "\u{b0}f") => {
            let above = number.minus(Decimal::from(32))?.times(Decimal::from(5))?;
            above.divided(Decimal::from(9), 2)?
        }
        _ => number.times(factor(&typed, base)?)?,
    };
    Some(if converted == number { value.to_owned() } else { converted.rounded(2).to_string() })
}

#[derive(Default)]
struct Parts {
    kind: Option<MeasureKind>,
    value: Option<(String, Option<String>)>,
    second: Option<String>,
    half: Option<PlusMinus>,
    phase: Option<Phase>,
    at: Option<Option<Moment>>,
    unit: Option<Unit>,
    typed: Option<String>,
    name: Option<String>,
    active: Option<bool>,
    method: Option<String>,
    instrument: Option<String>,
    position: Option<String>,
    because: Option<String>,
    retyped: Option<bool>,
}

pub(super) fn read(typed: &Typed<'_>) -> Result<NoteMeasure, Stop> {
    let (mut said, mut parts) = (Said::default(), Parts::default());
    let mut at = 0;
    while at < typed.items.len() {
        let taken = said.take(&typed.items[at..])?;
        if taken == 0 {
            parts.take(typed, at)?;
        }
        at += taken.max(1);
    }
    let Some(kind) = parts.kind else { return refuse("kind-missing", "say what was measured") };
    let Some(phase) = parts.phase else {
        return ask_more(typed.line, "Was it measured before, during or after treatment?", Phase::WORDS);
    };
    let at = parts.at.unwrap_or(Some(typed.setting.at));
    let mut measured = parts.measured(kind)?;
    measured.side = said.side;
    if said.is_somewhere() {
        let place = said.settle(typed, Goal { used_for: Use::Adjust, joint: false, inside: false })?;
        if let Some(structure) = place.structure.or(place.level) {
            once(&mut measured.name, structure, "name")?;
        }
        measured.region = Some(place.region);
        measured.segment = place.segments.first().copied();
    }
    if measured.side == Some(Side::Both) {
        return refuse(
            "side-missing",
            "a value belongs to one side: write two lines, one for L and one for R",
        );
    }
    let problems = check_measure(&measured);
    match problems.first() {
        Some(problem) => refuse(problem.id, problem.text.clone()),
        None => Ok(NoteMeasure { phase, at, measured }),
    }
}

impl Parts {
    fn take(&mut self, typed: &Typed<'_>, at: usize) -> Result<(), Stop> {
        let item = &typed.items[at];
        match &item.what {
            What::Known(meanings) => self.take_word(typed, at, meanings),
            What::Text(text) => once(&mut self.name, text.clone(), "name"),
            What::Number(value, unit) => once(&mut self.value, (value.clone(), unit.clone()), "value"),
            What::Ratio(value, second) => {
                once(&mut self.value, (value.clone(), None), "value")?;
                once(&mut self.second, second.clone(), "second value")
            }
            What::Graded(grade, half) => {
                once(&mut self.value, (grade.to_string(), None), "value")?;
                once(&mut self.half, *half, "grade")
            }
            What::Pain(..) => refuse("twice", "write two lines: one before and one after"),
            What::At(moment) => once(&mut self.at, *moment, "time"),
            What::Pair(name, value) => self.take_pair(name, value),
            _ => misplaced(typed, item, "measure"),
        }
    }

    fn take_word(&mut self, typed: &Typed<'_>, at: usize, meanings: &[Meaning]) -> Result<(), Stop> {
        for meaning in meanings {
            return match meaning {
                Meaning::Measure(kind) => once(&mut self.kind, *kind, "measure"),
                Meaning::Score(name) => {
                    once(&mut self.name, (*name).to_owned(), "name")?;
                    once(&mut self.kind, MeasureKind::Questionnaire, "measure")
                }
                Meaning::Phase(phase) => once(&mut self.phase, *phase, "time of measuring"),
                Meaning::Active(active) => once(&mut self.active, *active, "movement"),
                Meaning::Position(word) => once(&mut self.position, (*word).to_owned(), "position"),
                _ => continue,
            };
        }
        misplaced(typed, &typed.items[at], "measure")
    }

    fn take_pair(&mut self, name: &str, value: &str) -> Result<(), Stop> {
        let text = value.to_owned();
        match name {
            "name" => once(&mut self.name, text, "name"),
            "typed" => once(&mut self.typed, text, "reading"),
            "method" => once(&mut self.method, text, "method"),
            "instrument" => once(&mut self.instrument, text, "instrument"),
            "position" => once(&mut self.position, text, "position"),
            "because" => once(&mut self.because, text, "reason"),
            "unit" => match Unit::from_word(value) {
                Some(unit) => once(&mut self.unit, unit, "unit"),
                None => refuse("unit", format!("units are {}", Unit::WORDS.join(", "))),
            },
            "retyped" => match value {
                "yes" => once(&mut self.retyped, true, "typing"),
                "no" => once(&mut self.retyped, false, "typing"),
                _ => refuse("unknown-value", "retyped=yes or retyped=no"),
            },
            _ => no_such_name(name, NAMES),
        }
    }

    fn measured(self, kind: MeasureKind) -> Result<Measured, Stop> {
        let Some((value, unit_typed)) = self.value else {
            return refuse("value-missing", "the value is missing");
        };
        let usual = usual_unit(kind);
        let unit = match (self.unit, usual) {
            (Some(unit), Some(usual)) if unit != usual && kind != MeasureKind::OtherMovement => {
                return refuse("unit", format!("this is measured in {usual}"));
            }
            (Some(unit), _) => unit,
            (None, Some(usual)) => usual,
            (None, None) => return refuse("unit", "say the unit, like unit=seconds"),
        };
        let second = match (kind, self.second) {
            (MeasureKind::BloodPressure | MeasureKind::Questionnaire, second) => second,
            (MeasureKind::PainNow | MeasureKind::PainWorst | MeasureKind::PainBest, Some(of))
                if of == "10" =>
            {
                None
            }
            (_, Some(_)) => return refuse("twice", "one value belongs here, not two"),
            (_, None) => None,
        };
        if self.half.is_some() && !matches!(kind, MeasureKind::Strength | MeasureKind::Reflex) {
            return refuse("grade", "only strength and reflex have half grades");
        }
        let mut as_typed = self.typed;
        let value = match unit_typed {
            None => value,
            Some(typed) => {
                let Some(base) = in_base(&value, &typed, unit) else {
                    return refuse("unit", format!("this is measured in {unit}"));
                };
                if base != value {
                    once(&mut as_typed, format!("{value} {typed}"), "reading")?;
                }
                base
            }
        };
        Ok(Measured {
            kind,
            value: amount(&value)?,
            second_value: second.as_deref().map(amount).transpose()?,
            unit,
            typed: as_typed,
            side: None,
            region: None,
            segment: None,
            name: self.name,
            plus_minus: self.half,
            active: self.active,
            method: self.method,
            instrument: self.instrument,
            position: self.position,
            retyped: self.retyped,
            unusual_because: self.because,
        })
    }
}

fn amount(text: &str) -> Result<Amount, Stop> {
    match text.parse() {
        Ok(amount) if lex::is_plain(text) => Ok(amount),
        _ => refuse("value-cannot-be", "this value can't be: read and type it again"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn typed_units_become_the_usual_one_to_a_hundredth() {
        for (value, typed, base, expected) in [
            ("1.5", "in", Unit::Mm, Some("38.1")),
            ("4.1", "cm", Unit::Mm, Some("41")),
            ("70", "in", Unit::Cm, Some("177.8")),
            ("1.78", "m", Unit::Cm, Some("178")),
            ("150", "lbs", Unit::Kg, Some("68.04")),
            ("150", "LB", Unit::Kg, Some("68.04")),
            ("98.6", "F", Unit::Celsius, Some("37")),
            ("0", "f", Unit::Celsius, Some("-17.78")),
            ("37.2", "C", Unit::Celsius, Some("37.2")),
            ("60", "\u{b0}", Unit::Deg, Some("60")),
            ("64", "bpm", Unit::PerMinute, Some("64")),
            ("97", "%", Unit::Percent, Some("97")),
            ("12", "sec", Unit::Seconds, Some("12")),
            // A zero that was typed stays as typed.
            ("38.10", "mm", Unit::Mm, Some("38.10")),
            ("150", "lb", Unit::Cm, None),
            ("5", "m", Unit::Kg, None),
            ("5", "mm", Unit::Kg, None),
            ("5", "kg", Unit::Deg, None),
            ("3", "min", Unit::Seconds, None),
        ] {
            assert_eq!(in_base(value, typed, base).as_deref(), expected, "{value} {typed} as {base}");
        }
    }
}

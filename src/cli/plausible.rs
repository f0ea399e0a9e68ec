//! Values as they are typed: turned into the unit they are kept in, refused where they cannot be, and asked
//! about where they are unusual. The limits are those of the practice's rules.

use super::form::FormError;
use super::prompt::Asker;
use super::record::form_trouble;
use crate::record::decimal::Decimal;
use crate::record::kinds::screening::{MeasureKind, PlusMinus, Unit};
use crate::record::measured::{AsTyped, judge, read, record_unit, table_unit};
use crate::record::reckon::plausibility::{Judged, Outcome as Plausible};
use crate::record::tables::trade::TradeTables;
use crate::record::vocab::Side;
use crate::trouble::{Kind, Outcome, Trouble};
use serde_json::{Map, Value, json};

/// Settles every measure below `value`: its unit, and whether its value is taken.
///
/// # Errors
/// A value cannot be; or it is unusual, nobody can be asked, and no reason was given.
pub fn settle(asker: &mut dyn Asker, tables: &TradeTables, value: &mut Value) -> Outcome<()> {
    match value {
        Value::Array(items) => items.iter_mut().try_for_each(|item| settle(asker, tables, item)),
        Value::Object(map) => {
            side_of_finding(map);
            let kind = map.get("kind").and_then(Value::as_str).and_then(MeasureKind::from_word);
            if let Some(kind) = kind.filter(|_| map.contains_key("value")) {
                one(asker, tables, kind, map)?;
            }
            map.values_mut().try_for_each(|item| settle(asker, tables, item))
        }
        _ => Ok(()),
    }
}

/// What was measured on a finding lies on the finding's side.
fn side_of_finding(map: &mut Map<String, Value>) {
    let side = map.get("side").filter(|side| **side == "left" || **side == "right").cloned();
    if let (Some(side), Some(Value::Object(measured))) = (side, map.get_mut("measured")) {
        measured.entry("side").or_insert(side);
    }
}

/// Settles one measure. At a terminal a value that is not taken as it is, is typed again.
fn one(
    asker: &mut dyn Asker,
    tables: &TradeTables,
    kind: MeasureKind,
    map: &mut Map<String, Value>,
) -> Outcome<()> {
    loop {
        let Some(typed) = typed(kind, map) else { return Ok(()) };
        let judged = judge(&typed, tables);
        let settled = map.get("retyped") == Some(&json!(true))
            || map.get("unusual_because").and_then(Value::as_str).is_some_and(|why| !why.trim().is_empty());
        if judged.outcome == Plausible::Ok || (judged.outcome == Plausible::Ask && settled) {
            keep(&typed, &judged, map);
            return Ok(());
        }
        if !asker.interactive() {
            return Err(not_taken(kind, &judged));
        }
        again(asker, kind, &typed, &judged, map)?;
    }
}

/// The measure as it stands in the answers. None where it is no number, which its layout refuses.
fn typed(kind: MeasureKind, map: &Map<String, Value>) -> Option<AsTyped> {
    let text = |name: &str| map.get(name).and_then(Value::as_str);
    let number = |value: &Value| match value {
        Value::Number(number) => number.to_string().parse::<Decimal>().ok().map(|number| (number, None)),
        Value::String(text) => read(text),
        _ => None,
    };
    let (value, unit) = number(map.get("value")?)?;
    let stated = text("unit").and_then(Unit::from_word).map(|unit| table_unit(unit).to_string());
    Some(AsTyped {
        kind,
        value,
        unit: unit.or(stated),
        second: map.get("second_value").and_then(number).map(|(number, _)| number),
        side: text("side").and_then(Side::from_word),
        plus_minus: text("plus_minus").and_then(PlusMinus::from_word),
        name: text("name").map(str::to_string),
    })
}

/// Writes the value in the unit it is kept in, and beside it what was typed where that was another.
fn keep(typed: &AsTyped, judged: &Judged, map: &mut Map<String, Value>) {
    map.insert("value".to_string(), judged.base_value.unwrap_or(typed.value).to_json());
    let unit = typed.unit.as_deref().unwrap_or_default();
    if judged.base_value.is_some() {
        map.entry("typed").or_insert(json!(format!("{} {unit}", typed.value)));
        let usual = super::forms::visit::usual_unit(typed.kind);
        if let Some(usual) = usual {
            map.insert("unit".to_string(), json!(usual.word()));
        }
    } else if let Some(unit) = record_unit(unit) {
        map.insert("unit".to_string(), json!(unit.word()));
    }
}

fn not_taken(kind: MeasureKind, judged: &Judged) -> Trouble {
    let why = judged.why.join("; ");
    match judged.outcome {
        Plausible::Ask => Trouble::new(
            Kind::Refused,
            format!("The value of {} is unusual: {why}.", kind.word()),
            "Nothing was recorded.",
            "Read it again. If it is right, say why: --unusual-because \"...\", or unusual-because=... in a line of measures.",
        ),
        _ => Trouble::new(
            Kind::Refused,
            format!("The value of {} can't be taken: {why}.", kind.word()),
            "Nothing was recorded.",
            "Read it again, and type it again.",
        ),
    }
}

/// Asks for the value once more: the same again confirms it, another replaces it, and words are the
/// reason for it.
fn again(
    asker: &mut dyn Asker,
    kind: MeasureKind,
    typed: &AsTyped,
    judged: &Judged,
    map: &mut Map<String, Value>,
) -> Outcome<()> {
    let unusual = judged.outcome == Plausible::Ask;
    let why = judged.why.join("; ");
    let (opening, prompt) = if unusual {
        ("Unusual", "Type the value again, or the reason why it is right: ")
    } else {
        ("Not taken", "Type the value again: ")
    };
    asker.say(&format!("  {opening}: {}, {why}.", kind.word()));
    let line = asker.line(prompt).ok().flatten().ok_or_else(|| form_trouble(FormError::Stopped))?;
    let line = line.trim();
    let (first, second) = match (line.split_once('/'), typed.second) {
        (Some((first, second)), Some(_)) => (read(first), read(second).map(|(number, _)| number)),
        _ => (read(line), typed.second),
    };
    match first {
        Some((value, unit)) => {
            let unit = unit.or_else(|| typed.unit.clone());
            if unusual && (value, &unit, second) == (typed.value, &typed.unit, typed.second) {
                map.insert("retyped".to_string(), json!(true));
                return Ok(());
            }
            let text = unit.map_or_else(|| value.to_json(), |unit| json!(format!("{value} {unit}")));
            map.insert("value".to_string(), text);
            if let Some(second) = second {
                map.insert("second_value".to_string(), second.to_json());
            }
        }
        None if unusual && line.chars().any(char::is_alphabetic) => {
            map.insert("unusual_because".to_string(), json!(line));
        }
        None => asker.say("  That is no number that can be kept here."),
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::super::prompt::ScriptedAsker;
    use super::*;
    use crate::record::tables::Tables;

    fn settled(asker: &mut ScriptedAsker, mut value: Value) -> Outcome<Value> {
        settle(asker, &Tables::shipped().unwrap().trade, &mut value).map(|()| value)
    }

    fn opening(value: Value) -> Value {
        json!({ "phase": "before", "measured": { "kind": "mouth-opening", "value": value, "unit": "mm" } })
    }

    #[test]
    fn another_unit_is_kept_as_typed_and_in_the_usual_one() {
        let nobody = &mut ScriptedAsker::nobody();
        let kept = settled(nobody, opening(json!("1.75in"))).unwrap();
        let measured = json!({ "kind": "mouth-opening", "value": 44.45, "unit": "mm", "typed": "1.75 in" });
        assert_eq!(kept["measured"], measured);
        assert_eq!(settled(nobody, kept.clone()).unwrap(), kept, "settled once, it stays");
        let kept = settled(nobody, opening(json!("42 mm"))).unwrap();
        assert_eq!(kept, opening(json!(42)));
        let weight = json!({ "measures": [{ "kind": "weight", "value": "170lb", "unit": "kg" }] });
        assert_eq!(settled(nobody, weight).unwrap()["measures"][0]["value"], 77.1107);
        let cm = json!({ "kind": "mouth-opening", "value": 4.2, "unit": "cm" });
        let expected = json!({ "kind": "mouth-opening", "value": 42, "unit": "mm", "typed": "4.2 cm" });
        assert_eq!(settled(nobody, cm).unwrap(), expected);
    }

    #[test]
    fn without_a_terminal_an_unusual_value_needs_a_reason_and_an_impossible_one_is_refused() {
        let nobody = &mut ScriptedAsker::nobody();
        let trouble = settled(nobody, opening(json!(29))).unwrap_err();
        assert!(
            trouble.what.contains("below 30 mm") && trouble.next.contains("--unusual-because"),
            "{trouble}"
        );
        let trouble = settled(nobody, opening(json!(81))).unwrap_err();
        assert_eq!(trouble.kind, Kind::Refused);
        assert!(trouble.what.contains("80 mm"), "{trouble}");
        let mut reason = opening(json!(29));
        reason["measured"]["unusual_because"] = json!("jaw locked");
        assert_eq!(settled(nobody, reason.clone()).unwrap(), reason);
        reason["measured"]["value"] = json!(81);
        assert!(settled(nobody, reason).is_err(), "a reason does not make it possible");
        let mut blank = opening(json!(29));
        blank["measured"]["unusual_because"] = json!("  ");
        assert!(settled(nobody, blank).is_err());
    }

    #[test]
    fn at_a_terminal_it_is_typed_again_or_explained() {
        let kept = settled(&mut ScriptedAsker::new(["29"]), opening(json!(29))).unwrap();
        assert_eq!(kept["measured"]["retyped"], true);
        let kept =
            settled(&mut ScriptedAsker::new(["", "Jaw locked since Monday"]), opening(json!(29))).unwrap();
        assert_eq!(kept["measured"]["unusual_because"], "Jaw locked since Monday");
        let kept = settled(&mut ScriptedAsker::new(["39"]), opening(json!(29))).unwrap();
        assert_eq!(kept, opening(json!(39)));
        let mut asker = ScriptedAsker::new(["it really is", "8.1", "81", "28", "28"]);
        let kept = settled(&mut asker, opening(json!(81))).unwrap();
        assert_eq!((&kept["measured"]["value"], &kept["measured"]["retyped"]), (&json!(28), &json!(true)));
        assert!(asker.shown().contains("the most that can be"), "{}", asker.shown());
        assert!(settled(&mut ScriptedAsker::new(Vec::<String>::new()), opening(json!(29))).is_err());
    }

    #[test]
    fn a_finding_lends_its_side() {
        let finding = |side: &str| json!({ "kind": "deflection", "side": side, "measured": { "kind": "jaw-deflection", "value": 4 } });
        let nobody = &mut ScriptedAsker::nobody();
        assert_eq!(settled(nobody, finding("left")).unwrap()["measured"]["side"], "left");
        assert!(settled(nobody, finding("both")).unwrap_err().what.contains("side"));
    }

    #[test]
    fn both_pressures_are_typed_again() {
        let pressure = json!({ "kind": "blood-pressure", "value": 182, "second_value": 96, "unit": "mmHg" });
        let kept = settled(&mut ScriptedAsker::new(["182/96"]), pressure.clone()).unwrap();
        assert_eq!(kept["retyped"], true);
        let kept = settled(&mut ScriptedAsker::new(["128/69"]), pressure).unwrap();
        assert_eq!((&kept["value"], &kept["second_value"]), (&json!(128), &json!(69)));
    }
}

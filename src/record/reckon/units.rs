//! Units as they are typed: which can be turned into which, and by what factor.

use crate::record::decimal::Decimal;
use crate::record::tables::trade::PairValues;

/// The number that turns a value of one unit into another; none where they measure different things.
/// Inches and pounds by the table's factors; millimeters and centimeters by their meaning.
pub fn factor(from: &str, to: &str, values: &PairValues) -> Option<Decimal> {
    if from == to {
        return Some(Decimal::from(1));
    }
    let length = |unit: &str| match unit {
        "mm" => Some(Decimal::from(1)),
        "cm" => Some(Decimal::from(10)),
        "in" => Some(values.mm_per_inch),
        _ => None,
    };
    match (from, to) {
        ("lb", "kg") => Some(values.kg_per_pound),
        (from, "mm") => length(from),
        (from, "cm") => length(from)?.times(Decimal::new(1, 1)),
        _ => None,
    }
}

/// Parts a number from the unit typed behind it: `1.75in`, `170 lb`, `38.4 deg C`.
pub fn split(typed: &str) -> (&str, &str) {
    let typed = typed.trim();
    let end =
        typed.find(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | '-' | '+'))).unwrap_or(typed.len());
    let (number, unit) = typed.split_at(end);
    (number, unit.trim())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::tables::Tables;

    #[test]
    fn inches_and_pounds_become_the_base_unit_and_nothing_else_does() {
        let values = &Tables::shipped().unwrap().trade.limit_pairs.values;
        let of = |from, to| factor(from, to, values).map(|f| f.to_string());
        assert_eq!(of("in", "mm").as_deref(), Some("25.4"));
        assert_eq!(of("in", "cm").as_deref(), Some("2.54"));
        assert_eq!(of("mm", "cm").as_deref(), Some("0.1"));
        assert_eq!(of("lb", "kg").as_deref(), Some("0.45359237"));
        assert_eq!(of("deg", "deg").as_deref(), Some("1"));
        for (from, to) in [("lb", "mm"), ("in", "kg"), ("deg", "mm"), ("%", "0-10"), ("kg", "lb")] {
            assert_eq!(of(from, to), None, "{from} {to}");
        }
        assert_eq!(split(" 1.75in"), ("1.75", "in"));
        assert_eq!(split("38.4 deg C"), ("38.4", "deg C"));
        assert_eq!(split("-1"), ("-1", ""));
    }
}

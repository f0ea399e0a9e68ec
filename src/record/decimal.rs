//! Decimal numbers, exact: a value typed as 34.3 is 34.3, and 34.3 less 31 is 3.3. Binary fractions
//! would make it a little less, and a threshold of 3.3 would not be met.

use serde::de::{Error as _, Visitor};
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use std::cmp::Ordering;
use std::fmt;
use std::str::FromStr;

/// Digits behind the point, and digits in all, that a number may have when it is read. Sums and
/// products of a few such numbers stay within what is held.
const MOST_PLACES: u32 = 18;
const MOST_DIGITS: usize = 20;

/// A decimal number: `units` parts of one 10^`places`th. Always in its shortest form.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Decimal {
    units: i128,
    places: u32,
}

/// Why a text is not a number this program works with.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("that is not a decimal number of at most 20 digits")]
pub struct NotDecimal;

impl Decimal {
    /// Nothing.
    pub const ZERO: Decimal = Decimal { units: 0, places: 0 };

    /// A number of so many parts of one 10^`places`th: `new(254, 1)` is 25.4.
    pub const fn new(units: i128, places: u32) -> Decimal {
        let (mut units, mut places) = (units, places);
        while places > 0 && units % 10 == 0 {
            units /= 10;
            places -= 1;
        }
        Decimal { units, places }
    }

    /// The number a binary fraction was written as: its shortest decimal text.
    ///
    /// # Errors
    /// [`NotDecimal`] where it is infinite, not a number, or too long.
    pub fn from_f64(number: f64) -> Result<Decimal, NotDecimal> {
        if number.is_finite() { number.to_string().parse() } else { Err(NotDecimal) }
    }

    /// The nearest binary fraction, for fields that hold one.
    pub fn to_f64(self) -> f64 {
        self.to_string().parse().unwrap_or(f64::NAN)
    }

    /// True for numbers without a part behind the point.
    pub fn is_whole(self) -> bool {
        self.places == 0
    }

    /// True below zero.
    pub fn is_negative(self) -> bool {
        self.units < 0
    }

    /// Without its sign.
    pub fn size(self) -> Decimal {
        Decimal { units: self.units.saturating_abs(), ..self }
    }

    /// The whole number, where it is one that fits.
    pub fn whole(self) -> Option<i64> {
        if self.is_whole() { i64::try_from(self.units).ok() } else { None }
    }

    /// Sum; none when it is too long.
    pub fn plus(self, other: Decimal) -> Option<Decimal> {
        let (a, b, places) = self.aligned(other)?;
        Some(Decimal::new(a.checked_add(b)?, places))
    }

    /// Difference; none when it is too long.
    pub fn minus(self, other: Decimal) -> Option<Decimal> {
        let (a, b, places) = self.aligned(other)?;
        Some(Decimal::new(a.checked_sub(b)?, places))
    }

    /// Product; none when it is too long.
    pub fn times(self, other: Decimal) -> Option<Decimal> {
        Some(Decimal::new(self.units.checked_mul(other.units)?, self.places.checked_add(other.places)?))
    }

    /// Quotient with so many places, halves away from zero; none for a divisor of 0 or when too long.
    pub fn divided(self, by: Decimal, places: u32) -> Option<Decimal> {
        let (a, b, _) = self.aligned(by)?;
        let twice = a.checked_mul(ten_to(places)?)?.checked_mul(2)?;
        Some(Decimal::new(half_away(twice.checked_div(b)?), places))
    }

    /// Rounded to so many places, halves away from zero.
    pub fn rounded(self, places: u32) -> Decimal {
        if self.places <= places {
            return self;
        }
        match ten_to(self.places - places) {
            Some(part) => Decimal::new(half_away(self.units / (part / 2)), places),
            None => Decimal::ZERO,
        }
    }

    /// This number times the square root of `under`, rounded to so many places. Worked out in whole
    /// numbers. None for negative numbers, or when too long.
    pub fn times_root(self, under: u32, places: u32) -> Option<Decimal> {
        // Twice the result, in units of the last place, is the whole root of 4 * units^2 * under * 10^(2d).
        let square = self.units.checked_mul(self.units)?.checked_mul(4 * i128::from(under))?;
        let (up, down) = (2 * places, 2 * self.places);
        let square = if up >= down {
            square.checked_mul(ten_to(up - down)?)?
        } else {
            square.checked_div(ten_to(down - up)?)?
        };
        let root = u128::try_from(square).ok()?.isqrt();
        (!self.is_negative())
            .then(|| i128::try_from(root).ok())
            .flatten()
            .map(|r| Decimal::new(half_away(r), places))
    }

    /// As a JSON number: whole numbers without a point.
    pub fn to_json(self) -> serde_json::Value {
        match self.whole() {
            Some(whole) => whole.into(),
            None => self.to_f64().into(),
        }
    }

    /// As a JSON number with a point, also where it is whole.
    pub fn to_json_with_point(self) -> serde_json::Value {
        self.to_f64().into()
    }

    fn aligned(self, other: Decimal) -> Option<(i128, i128, u32)> {
        let places = self.places.max(other.places);
        let at = |d: Decimal| d.units.checked_mul(ten_to(places - d.places)?);
        Some((at(self)?, at(other)?, places))
    }
}

fn ten_to(power: u32) -> Option<i128> {
    10i128.checked_pow(power)
}

/// Half of a number, halves away from zero.
fn half_away(twice: i128) -> i128 {
    (twice + twice.signum()) / 2
}

impl From<i64> for Decimal {
    fn from(whole: i64) -> Decimal {
        Decimal { units: i128::from(whole), places: 0 }
    }
}

impl PartialOrd for Decimal {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Decimal {
    fn cmp(&self, other: &Self) -> Ordering {
        match self.aligned(*other) {
            Some((a, b, _)) => a.cmp(&b),
            // One is so long that the other can't be written with as many places: by whole parts.
            None => {
                let whole = |d: &Decimal| ten_to(d.places).map_or(0, |p| d.units / p);
                whole(self).cmp(&whole(other))
            }
        }
    }
}

impl FromStr for Decimal {
    type Err = NotDecimal;

    /// Reads `34`, `-1.50`, `.5`, `2.`, `1e-3`; powers of ten up to the 18th.
    fn from_str(text: &str) -> Result<Decimal, NotDecimal> {
        let (number, power) = match text.split_once(['e', 'E']) {
            Some((number, power)) => (number, power.parse::<i32>().map_err(|_| NotDecimal)?),
            None => (text, 0),
        };
        let (negative, number) = match number.strip_prefix('-') {
            Some(rest) => (true, rest),
            None => (false, number.strip_prefix('+').unwrap_or(number)),
        };
        let (whole, part) = number.split_once('.').unwrap_or((number, ""));
        let part = part.trim_end_matches('0');
        let digits = format!("{whole}{part}");
        if number == "." || number.is_empty() {
            return Err(NotDecimal);
        }
        let long = digits.trim_start_matches('0').len() > MOST_DIGITS;
        if long || power.unsigned_abs() > MOST_PLACES || !digits.bytes().all(|b| b.is_ascii_digit()) {
            return Err(NotDecimal);
        }
        let units: i128 = if digits.is_empty() { 0 } else { digits.parse().map_err(|_| NotDecimal)? };
        let units = if negative { -units } else { units };
        let places = i32::try_from(part.len()).map_err(|_| NotDecimal)? - power;
        let read = match u32::try_from(places) {
            Ok(places) => Decimal::new(units, places),
            Err(_) => {
                let up = ten_to(places.unsigned_abs()).and_then(|p| units.checked_mul(p));
                // With a power of ten too it is written out, and read again as it is written.
                let up = up.filter(|up| up.unsigned_abs().to_string().len() <= MOST_DIGITS);
                Decimal::new(up.ok_or(NotDecimal)?, 0)
            }
        };
        if read.places > MOST_PLACES { Err(NotDecimal) } else { Ok(read) }
    }
}

impl fmt::Display for Decimal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let sign = if self.units < 0 { "-" } else { "" };
        let digits = self.units.unsigned_abs().to_string();
        let places = self.places as usize;
        if places == 0 {
            return write!(f, "{sign}{digits}");
        }
        let digits = format!("{digits:0>width$}", width = places + 1);
        let (whole, part) = digits.split_at(digits.len() - places);
        write!(f, "{sign}{whole}.{part}")
    }
}

impl Serialize for Decimal {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        match self.whole() {
            Some(whole) => serializer.serialize_i64(whole),
            None => serializer.serialize_f64(self.to_f64()),
        }
    }
}

impl<'de> Deserialize<'de> for Decimal {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Decimal, D::Error> {
        struct Number;
        impl Visitor<'_> for Number {
            type Value = Decimal;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a decimal number")
            }
            fn visit_i64<E: serde::de::Error>(self, number: i64) -> Result<Decimal, E> {
                Ok(number.into())
            }
            fn visit_u64<E: serde::de::Error>(self, number: u64) -> Result<Decimal, E> {
                Ok(Decimal::new(i128::from(number), 0))
            }
            fn visit_f64<E: serde::de::Error>(self, number: f64) -> Result<Decimal, E> {
                Decimal::from_f64(number).map_err(E::custom)
            }
        }
        deserializer.deserialize_any(Number).map_err(D::Error::custom)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn d(text: &str) -> Decimal {
        text.parse().unwrap()
    }

    #[test]
    fn texts_read_and_write_back_in_their_shortest_form() {
        for (text, back) in [
            ("34", "34"),
            ("-1.50", "-1.5"),
            (".5", "0.5"),
            ("2.", "2"),
            ("0.05", "0.05"),
            ("1e-3", "0.001"),
            ("1.2E2", "120"),
            ("-0", "0"),
            ("007.10", "7.1"),
        ] {
            assert_eq!(d(text).to_string(), back, "{text}");
        }
        for wrong in
            ["", ".", "-", "1,5", "1.2.3", "NaN", "inf", "1e99", "1e", "0x1", "1 2", "--1", "+-1", "1.-2"]
        {
            assert!(wrong.parse::<Decimal>().is_err(), "{wrong}");
        }
    }

    /// At most 20 digits, at most 18 of them behind the point, and powers of ten within 18: the last that is read, and
    /// the first that is not.
    #[test]
    fn a_number_has_its_longest_form() {
        let nines = "9".repeat(20);
        for (text, back) in [
            (nines.as_str(), nines.as_str()),
            ("0099999999999999999999", nines.as_str()),
            ("0.000000000000000001", "0.000000000000000001"),
            ("1e-18", "0.000000000000000001"),
            ("1e18", "1000000000000000000"),
            ("10e18", "10000000000000000000"),
            ("-12345678901234567890", "-12345678901234567890"),
        ] {
            assert_eq!(d(text).to_string(), back, "{text}");
        }
        for long in [
            "999999999999999999999",
            "0.0000000000000000001",
            "0.1e-18",
            "1e-19",
            "1e19",
            "1e2147483647",
            "1e-2147483647",
            "1e-2147483648",
            "1e-2147483649",
        ] {
            assert_eq!(long.parse::<Decimal>(), Err(NotDecimal), "{long}");
        }
    }

    /// Numbers that a field or a sum holds, with what arithmetic says of them.
    #[test]
    fn signs_sizes_and_whole_numbers() {
        for (text, negative, size, whole) in [
            ("-3", true, "3", Some(-3)),
            ("-0.5", true, "0.5", None),
            ("0", false, "0", Some(0)),
            ("0.5", false, "0.5", None),
            ("7.0", false, "7", Some(7)),
            ("9223372036854775807", false, "9223372036854775807", Some(i64::MAX)),
            ("9223372036854775808", false, "9223372036854775808", None),
        ] {
            let number = d(text);
            assert_eq!(
                (number.is_negative(), number.size(), number.whole()),
                (negative, d(size), whole),
                "{text}"
            );
        }
        assert!(d("7.0").is_whole() && d("9223372036854775808").is_whole() && !d("7.5").is_whole());
        assert_eq!((d("-2.75").to_f64(), d("12").to_f64()), (-2.75, 12.0));
        // What is no whole number of 64 bits is a JSON number with a point.
        assert_eq!(d("-2.75").to_json().to_string(), "-2.75");
        assert_eq!(d("-2").to_json().to_string(), "-2");
        assert_eq!(d("2.5").minus(d("4")), Some(d("-1.5")));
        assert_eq!(d("-2.5").times(d("0.4")), Some(d("-1")));
        assert!(Decimal::from_f64(f64::NAN).is_err() && Decimal::from_f64(f64::NEG_INFINITY).is_err());
    }

    #[test]
    fn differences_are_those_of_the_written_numbers() {
        let (a, b) = (Decimal::from_f64(34.3).unwrap(), Decimal::from(31));
        // In binary fractions it would be a little less than 3.3.
        assert_eq!(a.minus(b), Some(d("3.3")));
        assert_eq!(d("1.5").times(d("25.4")), Some(d("38.1")));
        assert_eq!(d("170").times(d("0.45359237")).unwrap().rounded(4), d("77.1107"));
        assert_eq!(d("0.1").plus(d("0.2")), Some(d("0.3")));
        assert!(d("3.30") == d("3.3") && d("-2") < d("-1.9") && d("10") > d("9.99"));
    }

    #[test]
    fn rounding_takes_halves_away_from_zero() {
        for (text, places, to) in [
            ("0.125", 2, "0.13"),
            ("-0.125", 2, "-0.13"),
            ("0.1249", 2, "0.12"),
            ("2.5", 0, "3"),
            ("7", 3, "7"),
            ("34.56", 2, "34.56"),
            ("34.56", 1, "34.6"),
            ("0.05", 1, "0.1"),
            ("0.05", 0, "0"),
            ("0.04999", 1, "0"),
            ("1234.5678", 3, "1234.568"),
            ("-1234.5", 0, "-1235"),
        ] {
            assert_eq!(d(text).rounded(places), d(to), "{text}");
        }
        assert_eq!(d("2").divided(d("3"), 2), Some(d("0.67")));
        assert_eq!(d("-1").divided(d("8"), 2), Some(d("-0.13")));
        assert_eq!(d("1").divided(d("0.3"), 1), Some(d("3.3")));
        assert_eq!(d("1").divided(Decimal::ZERO, 1), None);
    }

    #[test]
    fn roots_are_exact_to_the_place_asked_for() {
        // 1.96 * 3 = 5.88; times the root of 2 (1.41421356...) is 8.3155..., and with 2.94 (1.5) 4.1577...
        assert_eq!(d("5.88").times_root(2, 2), Some(d("8.32")));
        assert_eq!(d("2.94").times_root(2, 2), Some(d("4.16")));
        assert_eq!(d("1").times_root(2, 9), Some(d("1.414213562")));
        assert_eq!(d("0").times_root(2, 2), Some(Decimal::ZERO));
        assert_eq!(d("-1").times_root(2, 2), None);
        assert_eq!(d("0.000001").times_root(2, 2), Some(Decimal::ZERO));
        // 3, 5 and 7 times the roots of 4, 9 and 0; and of 3 (1.7320508...), with more places given than asked for.
        for (number, under, places, is) in [
            ("3", 4, 0, "6"),
            ("0.5", 9, 3, "1.5"),
            ("7", 0, 2, "0"),
            ("0.001", 3, 2, "0"),
            ("1.2345", 3, 2, "2.14"),
            ("1.2345", 3, 4, "2.1382"),
        ] {
            assert_eq!(d(number).times_root(under, places), Some(d(is)), "{number} {under}");
        }
    }

    #[test]
    fn json_numbers_come_and_go() {
        let list: Vec<Decimal> = serde_json::from_str("[7, 6.5, -1, 34.3, 1e2]").unwrap();
        assert_eq!(serde_json::to_string(&list).unwrap(), "[7,6.5,-1,34.3,100]");
        assert_eq!(d("40").to_json_with_point().to_string(), "40.0");
        let why = serde_json::from_str::<Decimal>("\"7\"").unwrap_err().to_string();
        assert!(why.contains("expected a decimal number"), "{why}");
        assert!(serde_json::from_str::<Decimal>("1e300").is_err());
        for (text, read) in [("18e18", Some("18000000000000000000")), ("180e18", None), ("-180e18", None)] {
            assert_eq!(text.parse::<Decimal>().ok().map(|d| d.to_string()).as_deref(), read, "{text}");
        }
    }

    #[test]
    fn numbers_too_far_apart_to_be_written_alike_are_told_apart_by_their_whole_parts() {
        let number = |text: &str| text.parse::<Decimal>().unwrap();
        let whole = 99_999_999_999_999_999_999 * ten_to(18).unwrap();
        let (large, small, least) =
            (Decimal::new(whole, 0), number("0.000000000000000001"), Decimal::new(-whole, 0));
        let order = [least.cmp(&small), small.cmp(&large), large.cmp(&large), large.cmp(&small)];
        assert_eq!(order, [Ordering::Less, Ordering::Less, Ordering::Equal, Ordering::Greater]);
        // One tenth of 10^38 and 1 is far more than 5.5, however many places either is written with.
        let (far, near) = (Decimal::new(ten_to(38).unwrap() + 1, 1), number("5.000000000000000005"));
        assert_eq!((far.cmp(&near), near.cmp(&far)), (Ordering::Greater, Ordering::Less));
        assert_eq!(far.partial_cmp(&near), Some(Ordering::Greater));
        let million = Decimal::new(ten_to(24).unwrap() + 1, 18);
        assert_eq!(Decimal::new(ten_to(37).unwrap(), 0).cmp(&million), Ordering::Greater);
    }
}

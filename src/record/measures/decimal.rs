//! Decimal numbers, so that 34.3 less 31 is 3.3 and not the nearest binary fraction.

use std::fmt;
use std::iter::Sum;
use std::ops::{Add, Sub};

/// Digits kept behind the point.
const PLACES: usize = 6;
/// One, in millionths.
const ONE: i128 = 1_000_000;

/// A decimal number, exact to a millionth. No measure of the trade is finer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Decimal(i128);

impl Decimal {
    /// Nought.
    pub const ZERO: Decimal = Decimal(0);

    /// Reads a number as JSON writes it: `34`, `-4.5`, `3.5e1`. None for anything else, for more
    /// than six digits behind the point, and beyond a million million.
    pub fn parse(text: &str) -> Option<Decimal> {
        let (digits, power) = match text.split_once(['e', 'E']) {
            Some((digits, power)) => (digits, power.parse::<i32>().ok()?),
            None => (text, 0),
        };
        let (negative, digits) = match digits.strip_prefix('-') {
            Some(rest) => (true, rest),
            None => (false, digits),
        };
        let (whole, part) = digits.split_once('.').unwrap_or((digits, ""));
        let plain = |text: &str| text.bytes().all(|b| b.is_ascii_digit());
        if whole.is_empty() || !plain(whole) || !plain(part) || digits.len() > 24 {
            return None;
        }
        let all: i128 = format!("{whole}{part}").parse().ok()?;
        let behind = i32::try_from(part.len()).ok()?;
        let shift = i32::try_from(PLACES).ok()?.checked_add(power)?.checked_sub(behind)?;
        let by = 10_i128.checked_pow(shift.unsigned_abs())?;
        let millionths = if shift >= 0 { all.checked_mul(by)? } else { exact(all, by)? };
        let fits = millionths <= ONE.checked_mul(1_000_000_000_000)?;
        fits.then_some(Decimal(if negative { -millionths } else { millionths }))
    }

    /// A whole number.
    pub fn whole(number: i64) -> Decimal {
        Decimal(i128::from(number) * ONE)
    }

    /// Without its sign.
    pub fn size(self) -> Decimal {
        Decimal(self.0.abs())
    }

    /// This number times a whole one.
    pub fn times(self, factor: i64) -> Decimal {
        Decimal(self.0.saturating_mul(i128::from(factor)))
    }

    /// Whether this number is at least (or, with `more`, more than) `limit` hundredths of `of`;
    /// reckoned without dividing.
    pub fn reaches_hundredths(self, limit: Decimal, of: Decimal, more: bool) -> bool {
        let (left, right) = (self.0.saturating_mul(100).saturating_mul(ONE), limit.0.saturating_mul(of.0));
        if more { left > right } else { left >= right }
    }

    /// The greatest whole number that is not greater.
    pub fn floor(self) -> i64 {
        i64::try_from(self.0.div_euclid(ONE)).unwrap_or(i64::MAX)
    }

    /// The least whole number that is not less.
    pub fn ceil(self) -> i64 {
        let up = self.0.div_euclid(ONE) + i128::from(self.0.rem_euclid(ONE) != 0);
        i64::try_from(up).unwrap_or(i64::MAX)
    }

    /// Where it lies between two whole numbers, in thousandths of the way; kept between 0 and 1000.
    pub fn along(self, low: i64, high: i64) -> i64 {
        let length = i128::from(high.saturating_sub(low).max(1)) * ONE;
        let way = (self.0 - i128::from(low) * ONE) * 1000;
        i64::try_from(((way * 2 + length).div_euclid(length * 2)).clamp(0, 1000)).unwrap_or(0)
    }
}

/// Divided, if it goes without a rest.
fn exact(number: i128, by: i128) -> Option<i128> {
    (number % by == 0).then(|| number / by)
}

impl Add for Decimal {
    type Output = Decimal;
    fn add(self, other: Decimal) -> Decimal {
        Decimal(self.0.saturating_add(other.0))
    }
}

impl Sub for Decimal {
    type Output = Decimal;
    fn sub(self, other: Decimal) -> Decimal {
        Decimal(self.0.saturating_sub(other.0))
    }
}

impl Sum for Decimal {
    fn sum<I: Iterator<Item = Decimal>>(all: I) -> Decimal {
        all.fold(Decimal::ZERO, Add::add)
    }
}

impl fmt::Display for Decimal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let sign = if self.0 < 0 { "-" } else { "" };
        let (whole, part) = (self.0.abs() / ONE, self.0.abs() % ONE);
        if part == 0 {
            return write!(f, "{sign}{whole}");
        }
        let part = format!("{part:06}");
        write!(f, "{sign}{whole}.{}", part.trim_end_matches('0'))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn d(text: &str) -> Decimal {
        Decimal::parse(text).unwrap()
    }

    #[test]
    fn reckons_in_decimals() {
        assert_eq!((d("34.3") - d("31")).to_string(), "3.3");
        assert_eq!((d("0.1") + d("0.2")), d("0.3"));
        assert_eq!(d("3.5e1").to_string(), "35");
        assert_eq!(d("-4.50").to_string(), "-4.5");
        assert_eq!((d("2") - d("4.5")).size().to_string(), "2.5");
    }

    #[test]
    fn refuses_what_is_no_number_it_can_hold() {
        for text in ["", "-", "a", "1.0000001", "1e30", "1e-9", ".5", "--1", "1e999999999999", "1e2147483647"]
        {
            assert_eq!(Decimal::parse(text), None, "{text}");
        }
    }

    #[test]
    fn hundredths_of_a_number() {
        assert!(d("3").reaches_hundredths(d("30"), d("10"), false), "exactly 30 %");
        assert!(!d("2").reaches_hundredths(d("30"), d("8"), false), "25 %");
    }

    #[test]
    fn places_on_a_scale() {
        assert_eq!(d("35").along(30, 40), 500);
        assert_eq!((d("-0.5").floor(), d("-0.5").ceil(), d("34.2").ceil()), (-1, 0, 35));
    }
}

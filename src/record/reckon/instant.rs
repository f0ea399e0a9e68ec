//! Instants as the rules of the trade are given them: RFC 3339, fractions of a second included.

use crate::record::moment::{Date, Moment};
use serde::{Deserialize, Deserializer};
use std::cmp::Ordering;

/// An instant, with the offset it was written with. Two are equal when they are the same instant, whatever
/// their offsets.
#[derive(Debug, Clone, Copy)]
pub struct Instant {
    moment: Moment,
    /// Billionths of a second.
    fraction: u32,
}

impl Instant {
    /// Reads an RFC 3339 text.
    pub fn parse(text: &str) -> Option<Instant> {
        let text = text.trim();
        let (whole, tail) = (text.get(..19)?, text.get(19..)?);
        let (fraction, offset) = match tail.strip_prefix('.') {
            Some(rest) => rest.split_at(rest.find(|c: char| !c.is_ascii_digit())?),
            None => ("", tail),
        };
        if tail.starts_with('.') && fraction.is_empty() {
            return None;
        }
        let plain = format!("{whole}{offset}").to_ascii_uppercase().replacen(' ', "T", 1);
        let moment = Moment::parse(&plain).ok()?;
        // Finer than a billionth of a second makes no difference here.
        let fraction = format!("{fraction:0<9}").get(..9)?.parse().ok()?;
        Some(Instant { moment, fraction })
    }

    /// Seconds since 1970, and billionths of one.
    pub fn since_1970(self) -> (i64, u32) {
        (self.moment.unix(), self.fraction)
    }

    /// Billionths of a second since 1970.
    pub fn nanoseconds(self) -> i128 {
        i128::from(self.moment.unix()) * 1_000_000_000 + i128::from(self.fraction)
    }

    /// The date on the clock it was read from.
    pub fn local_date(self) -> Date {
        self.moment.local_date()
    }

    /// The date on a clock with another offset (seconds east of universal time).
    pub fn date_at_offset(self, offset_seconds: i32) -> Date {
        self.moment.date_at_offset(offset_seconds)
    }

    /// The offset it was written with, in seconds east of universal time.
    pub fn offset_seconds(self) -> i32 {
        self.moment.offset_seconds()
    }
}

impl PartialEq for Instant {
    fn eq(&self, other: &Instant) -> bool {
        self.since_1970() == other.since_1970()
    }
}

impl Eq for Instant {}

impl PartialOrd for Instant {
    fn partial_cmp(&self, other: &Instant) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Instant {
    fn cmp(&self, other: &Instant) -> Ordering {
        self.since_1970().cmp(&other.since_1970())
    }
}

impl From<Moment> for Instant {
    fn from(moment: Moment) -> Instant {
        Instant { moment, fraction: 0 }
    }
}

impl<'de> Deserialize<'de> for Instant {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Instant, D::Error> {
        let text = String::deserialize(deserializer)?;
        Instant::parse(&text).ok_or_else(|| {
            serde::de::Error::custom(format_args!(
                "{text:?} is no instant; write it like 2024-05-06T09:00:00-04:00, with its offset"
            ))
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_moment_on_two_clocks_is_one_instant() {
        let at = |text: &str| Instant::parse(text).unwrap();
        assert_eq!(at("2024-05-06T09:00:00-04:00"), at("2024-05-06T13:00:00+00:00"));
        assert_ne!(at("2024-05-06T09:00:00-04:00"), at("2024-05-06T09:00:00+00:00"));
        assert!(at("2024-05-06T09:00:00-04:00") > at("2024-05-06T12:59:59+00:00"));
    }
}

//! Moments and dates as a record writes them.
//!
//! A moment is an RFC 3339 date-time in whole seconds **with its own offset**. The offset is
//! kept, because the local date of an entry is the date as it was written there.

use schemars::JsonSchema;
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use std::fmt;

/// A calendar date. Text form `YYYY-MM-DD`.
pub type Date = jiff::civil::Date;

/// Why a text is not a moment.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "\"{0}\" is not a moment: write date, time and offset, like 2025-03-11T09:40:00-04:00, and a day and time that exist"
)]
pub struct MomentError(pub String);

/// An instant with the offset it was written with. Whole seconds.
///
/// Equality and order are of the instant; use [`Moment::local_date`] for the date as written.
#[derive(Debug, Clone, Copy)]
pub struct Moment {
    second: i64,
    offset_seconds: i32,
    zulu: bool,
}

impl Moment {
    /// 1970-01-01T00:00:00Z.
    pub const EPOCH: Moment = Moment { second: 0, offset_seconds: 0, zulu: true };

    /// Reads `YYYY-MM-DDTHH:MM:SS` followed by `Z` or `+HH:MM` / `-HH:MM`. Nothing else is accepted:
    /// no fractions, no lower-case letters, no leap seconds.
    pub fn parse(text: &str) -> Result<Moment, MomentError> {
        parse(text).ok_or_else(|| MomentError(text.chars().take(40).collect()))
    }

    /// The moment `unix_second` seconds after 1970-01-01T00:00:00Z, written with this offset.
    /// None when the year would not have four digits or the offset is a day or more.
    pub fn from_unix(unix_second: i64, offset_seconds: i32) -> Option<Moment> {
        let local = unix_second.checked_add(i64::from(offset_seconds))?;
        let in_years = (-62_167_219_200..253_402_300_800).contains(&local);
        (in_years && offset_seconds.abs() < 86_400 && offset_seconds % 60 == 0).then_some(Moment {
            second: unix_second,
            offset_seconds,
            zulu: false,
        })
    }

    /// Seconds since 1970-01-01T00:00:00Z.
    pub fn unix(self) -> i64 {
        self.second
    }

    /// The offset from UTC it was written with, in seconds east.
    pub fn offset_seconds(self) -> i32 {
        self.offset_seconds
    }

    /// The instant with its seconds dropped, in minutes: what order within a chart goes by.
    pub fn minute(self) -> i64 {
        self.second.div_euclid(60)
    }

    /// The date as written, with its own offset.
    pub fn local_date(self) -> Date {
        self.date_at_offset(self.offset_seconds)
    }

    /// The date of this instant on a clock with another offset (seconds east of UTC).
    pub fn date_at_offset(self, offset_seconds: i32) -> Date {
        let days = (self.second + i64::from(offset_seconds)).div_euclid(86_400);
        let span = jiff::Span::new().try_days(days).unwrap_or_default();
        jiff::civil::date(1970, 1, 1).checked_add(span).unwrap_or(Date::MIN)
    }

    /// Hour and minute as written.
    pub fn local_time(self) -> (u8, u8) {
        let second = (self.second + i64::from(self.offset_seconds)).rem_euclid(86_400);
        ((second / 3600) as u8, (second % 3600 / 60) as u8)
    }

    /// The same instant `seconds` later, same offset; itself when that leaves the calendar.
    pub fn plus_seconds(self, seconds: i64) -> Moment {
        Moment::from_unix(self.second.saturating_add(seconds), self.offset_seconds).unwrap_or(self)
    }

    /// For people: `06 Jun 2023 11:18`.
    pub fn plain(self) -> String {
        format!("{} {}", plain_date(self.local_date()), self.clock())
    }

    /// Hour and minute as written, which sort as text: `11:18`.
    pub fn clock(self) -> String {
        let (hour, minute) = self.local_time();
        format!("{hour:02}:{minute:02}")
    }
}

/// A date for people, never ambiguous: `06 Jun 2023`.
pub fn plain_date(date: Date) -> String {
    const MONTHS: [&str; 12] =
        ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];
    let month = MONTHS[(date.month() as usize - 1) % 12];
    format!("{:02} {month} {:04}", date.day(), date.year())
}

/// Reads `YYYY-MM-DD` and nothing else.
pub fn parse_date(text: &str) -> Option<Date> {
    let b = text.as_bytes();
    if b.len() != 10 || b[4] != b'-' || b[7] != b'-' {
        return None;
    }
    let (year, month, day) = (number(&b[0..4])?, number(&b[5..7])?, number(&b[8..10])?);
    Date::new(year as i16, month as i8, day as i8).ok()
}

fn number(digits: &[u8]) -> Option<i64> {
    digits.iter().try_fold(0i64, |sum, d| d.is_ascii_digit().then(|| sum * 10 + i64::from(d - b'0')))
}

fn parse(text: &str) -> Option<Moment> {
    if !text.is_ascii() || text.len() < 20 {
        return None;
    }
    let b = text.as_bytes();
    let date = parse_date(&text[0..10])?;
    if b[10] != b'T' || b[13] != b':' || b[16] != b':' {
        return None;
    }
    let (h, m, s) = (number(&b[11..13])?, number(&b[14..16])?, number(&b[17..19])?);
    if h > 23 || m > 59 || s > 59 {
        return None;
    }
    let (offset_seconds, zulu) = match &b[19..] {
        [b'Z'] => (0, true),
        [sign @ (b'+' | b'-'), rest @ ..] if rest.len() == 5 && rest[2] == b':' => {
            let (oh, om) = (number(&rest[0..2])?, number(&rest[3..5])?);
            if oh > 23 || om > 59 {
                return None;
            }
            let east = (oh * 3600 + om * 60) as i32;
            (if *sign == b'-' { -east } else { east }, false)
        }
        _ => return None,
    };
    let days = i64::from(date.since(jiff::civil::date(1970, 1, 1)).ok()?.get_days());
    let second = days * 86_400 + h * 3600 + m * 60 + s - i64::from(offset_seconds);
    Some(Moment { second, offset_seconds, zulu })
}

impl fmt::Display for Moment {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let date = self.local_date();
        let second = (self.second + i64::from(self.offset_seconds)).rem_euclid(86_400);
        write!(f, "{date}T{:02}:{:02}:{:02}", second / 3600, second % 3600 / 60, second % 60)?;
        if self.zulu {
            return f.write_str("Z");
        }
        let east = self.offset_seconds.abs() / 60;
        write!(f, "{}{:02}:{:02}", if self.offset_seconds < 0 { '-' } else { '+' }, east / 60, east % 60)
    }
}

impl PartialEq for Moment {
    fn eq(&self, other: &Self) -> bool {
        self.second == other.second
    }
}
impl Eq for Moment {}
impl PartialOrd for Moment {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}
impl Ord for Moment {
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        self.second.cmp(&other.second)
    }
}

impl Serialize for Moment {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}
impl<'de> Deserialize<'de> for Moment {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        Moment::parse(&text).map_err(serde::de::Error::custom)
    }
}
impl JsonSchema for Moment {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        "Moment".into()
    }
    fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
        schemars::json_schema!({
            "type": "string",
            "description": "RFC 3339 date-time in whole seconds, with offset",
            "pattern": "^[0-9]{4}-(0[1-9]|1[0-2])-(0[1-9]|[12][0-9]|3[01])T([01][0-9]|2[0-3]):[0-5][0-9]:[0-5][0-9](Z|[+-]([01][0-9]|2[0-3]):[0-5][0-9])$"
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_and_writes_back_what_was_written() {
        for text in [
            "2025-03-11T09:40:00-04:00",
            "2024-02-29T23:59:59+13:45",
            "2022-10-03T08:10:00Z",
            "1969-12-31T19:00:00-05:00",
        ] {
            assert_eq!(Moment::parse(text).unwrap().to_string(), text);
        }
    }

    #[test]
    fn refuses_what_cannot_be() {
        for text in [
            "2025-02-29T09:00:00Z",
            "2025-03-11T24:00:00Z",
            "2025-03-11 09:40:00Z",
            "2025-03-11T09:40:00",
            "2025-03-11T09:40:00.5Z",
            "2025-13-11T09:40:00Z",
            "",
            "2025-03-11T09:40:00+4:00",
        ] {
            assert!(Moment::parse(text).is_err(), "{text}");
        }
    }

    #[test]
    fn the_local_date_is_the_one_written() {
        let late = Moment::parse("2025-03-11T23:30:00-04:00").unwrap();
        assert_eq!(late.local_date().to_string(), "2025-03-11");
        assert_eq!(late.date_at_offset(0).to_string(), "2025-03-12");
        assert_eq!(late.plain(), "11 Mar 2025 23:30");
    }

    /// RFC 3339, 5.1: moments are compared as instants, whatever their offsets.
    #[test]
    fn the_same_instant_on_two_clocks_is_one_moment() {
        let at = |text: &str| Moment::parse(text).unwrap();
        let late = at("2025-03-11T23:30:00-04:00");
        assert_eq!(late, at("2025-03-12T03:30:00Z"));
        assert_ne!(late, at("2025-03-11T23:30:00Z"));
        assert_ne!(late, at("2025-03-11T23:30:01-04:00"));
        assert!(late < at("2025-03-12T03:30:01Z") && late > at("2025-03-11T23:31:00Z"));
    }

    /// RFC 3339, from 5.6: the largest value of each part is taken, one more is not.
    #[test]
    fn each_part_has_its_largest_value() {
        let whole = "2025-12-31T23:59:59+23:59";
        let read = Moment::parse(whole).unwrap();
        // 2026-01-01T00:00:00Z is 1767225600 (from memory of the Unix calendar: 20454 days of 86,400 s).
        assert_eq!(read.unix(), 1_767_225_600 - 1 - (23 * 60 + 59) * 60);
        assert_eq!(
            (read.offset_seconds(), read.local_time(), read.to_string()),
            (86_340, (23, 59), whole.to_string())
        );
        for wrong in [
            "2025-12-32T23:59:59+23:59",
            "2025-12-31T24:59:59+23:59",
            "2025-12-31T23:60:59+23:59",
            "2025-12-31T23:59:60+23:59",
            "2025-12-31T23:59:59+24:59",
            "2025-12-31T23:59:59+23:60",
            "2025-12-31t23:59:59+23:59",
            "2025-12-31T23.59:59+23:59",
            "2025-12-31T23:59.59+23:59",
            "2025-12-31T23:59:59+23.59",
            "2025-12-31T23:59:59 23:59",
            "2025-12-31T23:59:59+023:59",
            "2025/12-31T23:59:59+23:59",
            "2025-12/31T23:59:59+23:59",
            "2025-12-31T23:59:59z",
            "2025-12-31T23:59:5xZ",
        ] {
            assert!(Moment::parse(wrong).is_err(), "{wrong}");
        }
        let west = Moment::parse("1970-01-01T00:00:00-01:30").unwrap();
        assert_eq!((west.unix(), west.minute(), west.clock()), (5_400, 90, "00:00".to_string()));
        assert_eq!(Moment::parse("1970-01-01T00:00:01Z").unwrap().minute(), 0);
        assert_eq!(Moment::parse("1969-12-31T23:59:59Z").unwrap().minute(), -1);
    }

    #[test]
    fn a_moment_keeps_within_the_calendar_and_whole_minutes() {
        let written = |second, offset| Moment::from_unix(second, offset).map(|m| m.to_string());
        assert_eq!(written(0, -86_340).as_deref(), Some("1969-12-31T00:01:00-23:59"));
        for offset in [86_400, -86_400, 86_460, 30, -1] {
            assert_eq!(written(0, offset), None, "{offset}");
        }
        assert_eq!(written(253_402_300_799, 0).as_deref(), Some("9999-12-31T23:59:59+00:00"));
        assert_eq!(written(253_402_300_800, 0), None);
        assert_eq!(written(-62_167_219_200, 0).as_deref(), Some("0000-01-01T00:00:00+00:00"));
        assert_eq!(written(-62_167_219_201, 0), None);
        let last = Moment::from_unix(253_402_300_799, 0).unwrap();
        assert_eq!(last.plus_seconds(1), last, "there is no later one");
        assert_eq!(last.plus_seconds(-60).clock(), "23:58");
    }
}

//! Short forms of a moment ("now", "09:40", "2025-03-11 09:40") and of a date ("today").

use crate::record::moment::{Date, Moment, parse_date};
use jiff::civil::DateTime;
use jiff::tz::{AmbiguousOffset, Offset, TimeZone};

/// The moment a form is filled at, and the clock its short forms are read by.
///
/// A zone and not just today's offset: what is written in summer about a winter visit needs the
/// winter offset.
#[derive(Debug, Clone)]
pub struct Now {
    /// The present moment.
    pub at: Moment,
    /// The zone of the practice's clock.
    pub zone: TimeZone,
}

impl Now {
    /// A clock in this zone.
    pub fn in_zone(at: Moment, zone: TimeZone) -> Now {
        Now { at, zone }
    }

    /// A clock that keeps the offset of `at` all year.
    pub fn fixed(at: Moment) -> Now {
        let offset = Offset::from_seconds(at.offset_seconds()).unwrap_or(Offset::UTC);
        Now { at, zone: TimeZone::fixed(offset) }
    }

    /// Today, by this clock.
    pub fn today(&self) -> Date {
        self.at.local_date()
    }

    /// Reads a date: `YYYY-MM-DD`, `today` or `yesterday`.
    pub fn read_date(&self, text: &str) -> Result<Date, String> {
        match text.to_ascii_lowercase().as_str() {
            "today" => Ok(self.today()),
            "yesterday" => self.today().yesterday().map_err(|_| NOT_A_DATE.to_owned()),
            _ => parse_date(text).ok_or_else(|| NOT_A_DATE.to_owned()),
        }
    }

    /// Reads a moment: `now`, `HH:MM` (today), `YYYY-MM-DD HH:MM`, or the full RFC 3339 form.
    pub fn read_moment(&self, text: &str) -> Result<Moment, String> {
        if text.eq_ignore_ascii_case("now") {
            return Ok(self.at);
        }
        if let Ok(moment) = Moment::parse(text) {
            return Ok(moment);
        }
        let (date, time) = match text.split_once(' ').or_else(|| text.split_once('T')) {
            Some((date, time)) => {
                let date = match date.to_ascii_lowercase().as_str() {
                    "today" | "yesterday" => self.read_date(date)?,
                    _ => parse_date(date).ok_or_else(|| NOT_A_MOMENT.to_owned())?,
                };
                (date, time.trim_start())
            }
            None => (self.today(), text),
        };
        let (hour, minute, second) = read_time(time).ok_or_else(|| NOT_A_MOMENT.to_owned())?;
        self.at_local(date.at(hour, minute, second, 0))
    }

    fn at_local(&self, local: DateTime) -> Result<Moment, String> {
        let offset = match self.zone.to_ambiguous_timestamp(local).offset() {
            AmbiguousOffset::Unambiguous { offset } => offset,
            AmbiguousOffset::Gap { .. } => {
                return Err("the clocks went forward then: that time did not exist here".to_owned());
            }
            AmbiguousOffset::Fold { before, after } => {
                return Err(format!(
                    "the clocks went back then, so that time came twice: write it in full, ending in {} \
                     for the first or {} for the second",
                    east_text(before.seconds()),
                    east_text(after.seconds())
                ));
            }
        };
        // Written with its offset and read back, so that one reader decides what a moment is.
        let text = format!("{}{}", local.strftime("%Y-%m-%dT%H:%M:%S"), east_text(offset.seconds()));
        Moment::parse(&text).map_err(|_| NOT_A_MOMENT.to_owned())
    }
}

fn east_text(seconds: i32) -> String {
    let minutes = seconds.abs() / 60;
    format!("{}{:02}:{:02}", if seconds < 0 { '-' } else { '+' }, minutes / 60, minutes % 60)
}

const NOT_A_DATE: &str =
    "that is not a date: write year-month-day like 2025-03-11, a day that exists, or today";
const NOT_A_MOMENT: &str = "that is not a moment: write 09:40 for today, 2025-03-11 09:40 for another day, now, \
     or in full like 2025-03-11T09:40:00-04:00";

fn read_time(text: &str) -> Option<(i8, i8, i8)> {
    let parts: Vec<&str> = text.split(':').collect();
    let part = |index: usize, most: i8| -> Option<i8> {
        let digits = parts.get(index)?;
        let shape = digits.len() == 2 && digits.bytes().all(|b| b.is_ascii_digit());
        shape.then(|| digits.parse().ok()).flatten().filter(|n| *n <= most)
    };
    match parts.len() {
        2 => Some((part(0, 23)?, part(1, 59)?, 0)),
        3 => Some((part(0, 23)?, part(1, 59)?, part(2, 59)?)),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::tz::TimeZone;

    fn moment(text: &str) -> Moment {
        Moment::parse(text).unwrap()
    }

    #[test]
    fn short_forms_take_today_and_the_offset_of_the_clock() {
        let now = Now::fixed(moment("2025-03-11T09:40:12-04:00"));
        let read = |text: &str| now.read_moment(text).unwrap().to_string();
        assert_eq!(read("now"), "2025-03-11T09:40:12-04:00");
        assert_eq!(read("08:05"), "2025-03-11T08:05:00-04:00");
        assert_eq!(read("2025-03-10 17:34"), "2025-03-10T17:34:00-04:00");
        assert_eq!(read("2025-03-10T17:34:09"), "2025-03-10T17:34:09-04:00");
        assert_eq!(read("Today 07:00"), "2025-03-11T07:00:00-04:00");
        assert_eq!(read("yesterday 17:34"), "2025-03-10T17:34:00-04:00");
        assert_eq!(read("2025-03-11T09:40:00Z"), "2025-03-11T09:40:00Z");
        assert_eq!(now.read_date("yesterday").unwrap().to_string(), "2025-03-10");
        for wrong in ["9:40", "24:00", "09:60", "2025-02-29 09:00", "noon", "", "2025-03-10", "09:40:00:00"] {
            assert!(now.read_moment(wrong).is_err(), "{wrong}");
        }
    }

    #[test]
    fn a_winter_day_written_about_in_summer_gets_the_winter_offset() {
        // POSIX.1-2017 section 8.3, TZ: standard time 5 hours west of UTC, summer time from the
        // second Sunday of March to the first Sunday of November, at 02:00.
        let zone = TimeZone::posix("XST5XDT,M3.2.0,M11.1.0").unwrap();
        let now = Now::in_zone(moment("2025-07-14T10:00:00-04:00"), zone);
        let read = |text: &str| now.read_moment(text);
        assert_eq!(read("2025-01-13 10:00").unwrap().to_string(), "2025-01-13T10:00:00-05:00");
        assert_eq!(read("09:00").unwrap().to_string(), "2025-07-14T09:00:00-04:00");
        assert!(read("2025-03-09 02:30").unwrap_err().contains("did not exist"));
        let twice = read("2025-11-02 01:30").unwrap_err();
        assert!(twice.contains("-04:00") && twice.contains("-05:00"), "{twice}");
    }
}

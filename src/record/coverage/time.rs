//! Time and order: what counts at the moment asked about, what is later than what, and how long
//! months and years last.
//!
//! Order goes by the minute. What allows must have been written before the question; what restricts
//! holds from its minute on, so a tie never turns a restriction into a yes.

use super::facts::{LeapDayBirthday, Patient, Policy};
use crate::record::moment::{Date, Moment, plain_date};

/// The moment asked about.
#[derive(Debug, Clone, Copy)]
pub struct Now {
    /// The moment, with the clinic's offset.
    pub moment: Moment,
    /// Its date as written.
    pub date: Date,
    sequence_no: Option<u64>,
}

/// The place of an entry in the order: its minute, then its number.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Place {
    minute: i64,
    sequence_no: u64,
}

/// The place of an entry with this moment and number.
pub fn place(moment: Moment, sequence_no: u64) -> Place {
    Place { minute: moment.minute(), sequence_no }
}

impl Now {
    /// The moment asked about, and the number of the request (none: after everything written).
    pub fn new(moment: Moment, sequence_no: Option<u64>) -> Now {
        Now { moment, date: moment.local_date(), sequence_no }
    }

    /// True when an entry that allows counts.
    pub fn allows(&self, moment: Moment, sequence_no: u64) -> bool {
        let (minute, now) = (moment.minute(), self.moment.minute());
        minute < now || minute == now && self.sequence_no.is_none_or(|asked| sequence_no < asked)
    }

    /// True when an entry that restricts, or an end that lifts a restriction, has been reached.
    pub fn reached(&self, moment: Moment) -> bool {
        reached(moment, self.moment)
    }

    /// A moment for people, by the clinic's clock: with its time on the day asked about, else its date.
    pub fn plain(&self, moment: Moment) -> String {
        let offset = self.moment.offset_seconds();
        let date = moment.date_at_offset(offset);
        match Moment::from_unix(moment.unix(), offset) {
            Some(here) if date == self.date => here.plain(),
            _ => plain_date(date),
        }
    }

    /// True when there is such a moment and it has been reached.
    pub fn over(&self, end: Option<Moment>) -> bool {
        end.is_some_and(|end| self.reached(end))
    }

    /// True when a restriction has begun and was not lifted.
    pub fn restricts(&self, from: Moment, until: Option<Moment>) -> bool {
        self.reached(from) && !self.over(until)
    }
}

/// True when `moment` lies in the minute of `at` or before.
pub fn reached(moment: Moment, at: Moment) -> bool {
    moment.minute() <= at.minute()
}

/// The day `years` after a birth date; born on 29 February, the day the clinic adopted for common years.
pub fn birthday(birth: Date, years: u64, leap_day: LeapDayBirthday) -> Date {
    let Some(year) = i16::try_from(years).ok().and_then(|years| birth.year().checked_add(years)) else {
        return Date::MAX;
    };
    let (month, day) = (birth.month(), birth.day());
    Date::new(year, month, day)
        .or_else(|_| match leap_day {
            LeapDayBirthday::March1 => Date::new(year, 3, 1),
            LeapDayBirthday::February28 => Date::new(year, 2, 28),
        })
        .unwrap_or(Date::MAX)
}

/// The last valid day of so many months from a date: the day before the same day number, or the last
/// day of a month that lacks it.
pub fn last_valid_day(from: Date, months: u64) -> Date {
    let whole = i64::from(from.year()) * 12 + i64::from(from.month()) - 1;
    let Some(target) = i64::try_from(months).ok().and_then(|months| whole.checked_add(months)) else {
        return Date::MAX;
    };
    let (Ok(year), Ok(month)) =
        (i16::try_from(target.div_euclid(12)), i8::try_from(target.rem_euclid(12) + 1))
    else {
        return Date::MAX;
    };
    match Date::new(year, month, from.day()) {
        Ok(same_day) => same_day.yesterday().unwrap_or(same_day),
        Err(_) => Date::new(year, month, 1).map_or(Date::MAX, |first| first.last_of_month()),
    }
}

/// True when the patient is a minor on this date.
pub fn is_minor(patient: &Patient, rules: &Policy, on: Date) -> bool {
    on < birthday(patient.birth_date, rules.majority_age_years, rules.leap_day_birthday)
}

/// True when the patient lacked capacity at this moment.
pub fn lacks_capacity(patient: &Patient, at: Moment) -> bool {
    patient.lacks_capacity_from.is_some_and(|from| reached(from, at))
        && !patient.lacks_capacity_until.is_some_and(|until| reached(until, at))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::moment::parse_date;

    fn date(text: &str) -> Date {
        parse_date(text).unwrap()
    }

    #[test]
    fn months_end_the_day_before() {
        for (from, months, last) in [
            ("2025-01-14", 12, "2026-01-13"),
            ("2024-02-29", 12, "2025-02-28"),
            ("2024-08-31", 6, "2025-02-28"),
            ("2024-08-31", 18, "2026-02-28"),
            ("2025-01-01", 12, "2025-12-31"),
            ("2023-08-29", 6, "2024-02-28"),
            ("2023-08-30", 6, "2024-02-29"),
            ("2025-03-31", 1, "2025-04-30"),
        ] {
            assert_eq!(last_valid_day(date(from), months), date(last), "{from} + {months}");
        }
        assert_eq!(last_valid_day(date("2025-01-14"), u64::MAX), Date::MAX);
        assert_eq!(last_valid_day(date("2025-01-14"), 12 * 9000), Date::MAX);
    }

    #[test]
    fn birthdays_of_29_february() {
        let birth = date("2008-02-29");
        assert_eq!(birthday(birth, 18, LeapDayBirthday::March1), date("2026-03-01"));
        assert_eq!(birthday(birth, 18, LeapDayBirthday::February28), date("2026-02-28"));
        assert_eq!(birthday(birth, 16, LeapDayBirthday::March1), date("2024-02-29"));
        assert_eq!(birthday(birth, 60_000, LeapDayBirthday::March1), Date::MAX);
    }

    #[test]
    fn within_one_minute_the_number_decides_only_for_what_allows() {
        let at = |text: &str| Moment::parse(text).unwrap();
        let now = Now::new(at("2025-03-11T10:00:10-04:00"), Some(50));
        assert!(now.allows(at("2025-03-11T10:00:50-04:00"), 49));
        assert!(!now.allows(at("2025-03-11T10:00:00-04:00"), 50));
        assert!(now.allows(at("2025-03-11T13:59:59Z"), 99));
        assert!(!now.allows(at("2025-03-11T10:01:00-04:00"), 1));
        assert!(now.reached(at("2025-03-11T10:00:50-04:00")));
        assert!(!now.reached(at("2025-03-11T10:01:00-04:00")));
        assert!(Now::new(now.moment, None).allows(at("2025-03-11T10:00:59-04:00"), 99));
        assert!(place(at("2025-03-11T10:00:10-04:00"), 2) > place(at("2025-03-11T10:00:50-04:00"), 1));
    }
}

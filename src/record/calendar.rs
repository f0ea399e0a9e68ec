//! Whole calendar days: years and months from a date, working days, ages.
//!
//! A result outside the calendar (years 1 to 9999) is the calendar's own first or last day.

use super::moment::{Date, plain_date};
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;

/// Days that are no working days although they are not a Saturday or a Sunday.
pub type Holidays = BTreeSet<Date>;

/// What 29 February plus whole years is in a common year.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum LeapDay {
    /// 1 March: the later day, as where nothing else is said.
    #[default]
    Mar1,
    /// 28 February: the earlier day.
    Feb28,
}

/// Which day stands in for a day number the month does not have.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ShortMonth {
    /// The last day of that month.
    LastDay,
    /// The first day of the month after it.
    FirstOfNext,
}

impl From<LeapDay> for ShortMonth {
    fn from(leap_day: LeapDay) -> ShortMonth {
        match leap_day {
            LeapDay::Mar1 => ShortMonth::FirstOfNext,
            LeapDay::Feb28 => ShortMonth::LastDay,
        }
    }
}

/// The same day number so many months later, or earlier where `months` is negative.
pub fn months_from(date: Date, months: i64, short: ShortMonth) -> Date {
    let beyond = if months < 0 { Date::MIN } else { Date::MAX };
    let month = i64::from(date.year()) * 12 + i64::from(date.month()) - 1;
    let Some(month) = month.checked_add(months) else { return beyond };
    let first = |month: i64| {
        let year = i16::try_from(month.div_euclid(12)).ok().filter(|year| (1..=9999).contains(year))?;
        Date::new(year, i8::try_from(month.rem_euclid(12) + 1).ok()?, 1).ok()
    };
    let Some(there) = first(month) else { return beyond };
    if date.day() <= there.days_in_month() {
        return Date::new(there.year(), there.month(), date.day()).unwrap_or(beyond);
    }
    match short {
        ShortMonth::LastDay => there.last_of_month(),
        ShortMonth::FirstOfNext => first(month + 1).unwrap_or(beyond),
    }
}

/// The same day so many whole years later.
pub fn years_after(date: Date, years: u32, leap_day: LeapDay) -> Date {
    months_from(date, i64::from(years) * 12, leap_day.into())
}

/// The same day so many whole years earlier.
pub fn years_before(date: Date, years: u32, leap_day: LeapDay) -> Date {
    months_from(date, i64::from(years) * -12, leap_day.into())
}

/// So many calendar days later, or earlier where `days` is negative.
pub fn days_from(date: Date, days: i64) -> Date {
    let beyond = if days < 0 { Date::MIN } else { Date::MAX };
    jiff::Span::new().try_days(days).ok().and_then(|span| date.checked_add(span).ok()).unwrap_or(beyond)
}

/// Calendar days from one date to another; negative where the second is the earlier.
pub fn days_between(from: Date, to: Date) -> i64 {
    to.since(from).map_or(0, |span| i64::from(span.get_days()))
}

/// Age in whole years. A year is complete at the start of the birthday. Negative before the birth.
pub fn age_on(born: Date, day: Date, leap_day: LeapDay) -> i32 {
    let years = i32::from(day.year()) - i32::from(born.year());
    let reached = months_from(born, i64::from(years) * 12, leap_day.into()) <= day;
    if reached { years } else { years - 1 }
}

/// Monday to Friday, and no holiday.
pub fn is_working_day(date: Date, holidays: &Holidays) -> bool {
    date.weekday().to_monday_zero_offset() < 5 && !holidays.contains(&date)
}

/// The first working day on or after a date.
pub fn next_working_day(date: Date, holidays: &Holidays) -> Date {
    let mut day = date;
    while !is_working_day(day, holidays) {
        match day.tomorrow() {
            Ok(next) => day = next,
            Err(_) => break,
        }
    }
    day
}

/// The last working day on or before a date.
pub fn last_working_day(date: Date, holidays: &Holidays) -> Date {
    let mut day = date;
    while !is_working_day(day, holidays) {
        match day.yesterday() {
            Ok(earlier) => day = earlier,
            Err(_) => break,
        }
    }
    day
}

/// So many working days later. The date itself is not counted.
pub fn working_days_after(date: Date, days: u32, holidays: &Holidays) -> Date {
    (0..days).fold(date, |day, _| next_working_day(days_from(day, 1), holidays))
}

/// For people, with the day of the week: `Sun 02 Mar 2025`.
pub fn with_weekday(date: Date) -> String {
    const WEEKDAYS: [&str; 7] = ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"];
    let weekday = WEEKDAYS[date.weekday().to_monday_zero_offset().rem_euclid(7) as usize];
    format!("{weekday} {}", plain_date(date))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::moment::parse_date;
    use proptest::prelude::*;

    fn d(text: &str) -> Date {
        parse_date(text).unwrap()
    }

    #[test]
    fn the_leap_day_in_a_common_year() {
        assert_eq!(years_after(d("2020-02-29"), 6, LeapDay::Mar1), d("2026-03-01"));
        assert_eq!(years_after(d("2024-02-29"), 5, LeapDay::Feb28), d("2029-02-28"));
        assert_eq!(years_after(d("2020-02-29"), 4, LeapDay::Mar1), d("2024-02-29"));
        assert_eq!(years_before(d("2024-02-29"), 6, LeapDay::Feb28), d("2018-02-28"));
        // 2100 is no leap year.
        assert_eq!(years_after(d("2096-02-29"), 4, LeapDay::Mar1), d("2100-03-01"));
    }

    #[test]
    fn short_months() {
        assert_eq!(months_from(d("2023-01-30"), 1, ShortMonth::LastDay), d("2023-02-28"));
        assert_eq!(months_from(d("2020-01-31"), 3, ShortMonth::LastDay), d("2020-04-30"));
        assert_eq!(months_from(d("2024-12-31"), 2, ShortMonth::LastDay), d("2025-02-28"));
        assert_eq!(months_from(d("2024-02-29"), 12, ShortMonth::FirstOfNext), d("2025-03-01"));
        assert_eq!(months_from(d("2024-03-31"), -1, ShortMonth::LastDay), d("2024-02-29"));
        assert_eq!(months_from(d("2024-01-15"), -1, ShortMonth::LastDay), d("2023-12-15"));
        assert_eq!(months_from(d("9999-01-15"), 120, ShortMonth::LastDay), Date::MAX);
        assert_eq!(months_from(d("0001-01-15"), -120, ShortMonth::LastDay), Date::MIN);
    }

    #[test]
    fn ages() {
        // Supreme Court of the Australian Capital Territory, 2018: born 29 February 2000.
        assert_eq!(age_on(d("2000-02-29"), d("2018-02-28"), LeapDay::Mar1), 17);
        assert_eq!(age_on(d("2000-02-29"), d("2018-03-01"), LeapDay::Mar1), 18);
        assert_eq!(age_on(d("2000-02-29"), d("2018-02-28"), LeapDay::Feb28), 18);
        assert_eq!(age_on(d("2006-06-15"), d("2024-06-14"), LeapDay::Mar1), 17);
        assert_eq!(age_on(d("2006-06-15"), d("2024-06-15"), LeapDay::Mar1), 18);
        assert_eq!(age_on(d("2006-06-15"), d("2006-06-14"), LeapDay::Mar1), -1);
    }

    #[test]
    fn working_days() {
        let holidays = Holidays::from([d("2024-07-04")]);
        assert_eq!(working_days_after(d("2024-07-03"), 5, &holidays), d("2024-07-11"));
        assert_eq!(working_days_after(d("2025-03-03"), 15, &Holidays::new()), d("2025-03-24"));
        assert_eq!(last_working_day(d("2025-03-16"), &Holidays::new()), d("2025-03-14"));
        assert_eq!(next_working_day(d("2024-07-04"), &holidays), d("2024-07-05"));
        assert_eq!(with_weekday(d("2025-03-02")), "Sun 02 Mar 2025");
    }

    #[test]
    fn days() {
        assert_eq!(days_from(d("2025-01-31"), 30), d("2025-03-02"));
        assert_eq!(days_between(d("2024-02-28"), d("2024-03-01")), 2);
        assert_eq!(days_between(d("2025-01-01"), d("2020-01-01")), -1827);
        assert_eq!(days_from(Date::MAX, 1), Date::MAX);
    }

    proptest! {
        #[test]
        fn later_dates_stay_later(a in 0i64..60_000, b in 0i64..60_000, months in 0i64..400, first: bool) {
            let start = d("1920-01-01");
            let (early, late) = (days_from(start, a.min(b)), days_from(start, a.max(b)));
            let short = if first { ShortMonth::FirstOfNext } else { ShortMonth::LastDay };
            prop_assert!(months_from(early, months, short) <= months_from(late, months, short));
            prop_assert!(months_from(early, -months, short) <= early);
        }

        #[test]
        fn a_working_day_is_one(a in 0i64..60_000, free in proptest::collection::btree_set(0i64..20, 0..8)) {
            let date = days_from(d("1920-01-01"), a);
            let holidays: Holidays = free.into_iter().map(|n| days_from(date, n - 10)).collect();
            let (last, next) = (last_working_day(date, &holidays), next_working_day(date, &holidays));
            prop_assert!(last <= date && date <= next);
            prop_assert!(is_working_day(last, &holidays) && is_working_day(next, &holidays));
        }
    }

    #[test]
    fn beyond_the_calendar_is_its_own_first_or_last_day() {
        assert_eq!(days_from(Date::MIN, -1), Date::MIN);
        assert_eq!(days_from(d("2025-01-01"), -100_000_000), Date::MIN);
        assert_eq!(days_from(d("2025-01-01"), 100_000_000), Date::MAX);
        assert_eq!(days_from(d("2025-01-01"), 0), d("2025-01-01"));
        assert_eq!(months_from(d("2025-01-01"), i64::MAX, ShortMonth::LastDay), Date::MAX);
        assert_eq!(months_from(d("2025-01-01"), i64::MIN, ShortMonth::LastDay), Date::MIN);
        assert_eq!(months_from(d("0001-01-31"), 0, ShortMonth::LastDay), d("0001-01-31"));
        assert_eq!(months_from(d("9998-12-31"), 12, ShortMonth::FirstOfNext), d("9999-12-31"));
    }

    /// 10 March 2025 was a Monday.
    #[test]
    fn five_days_of_the_week_are_working_days_and_each_has_its_name() {
        let days = ["Mon 10", "Tue 11", "Wed 12", "Thu 13", "Fri 14", "Sat 15", "Sun 16"];
        for (at, named) in (0..).zip(days) {
            let date = days_from(d("2025-03-10"), at);
            assert_eq!(with_weekday(date), format!("{named} Mar 2025"));
            assert_eq!(is_working_day(date, &Holidays::new()), at < 5, "{named}");
            assert!(!is_working_day(date, &Holidays::from([date])), "{named}");
        }
        let long = Holidays::from([d("2025-03-14"), d("2025-03-17")]);
        assert_eq!(next_working_day(d("2025-03-14"), &long), d("2025-03-18"));
        assert_eq!(last_working_day(d("2025-03-17"), &long), d("2025-03-13"));
    }
}

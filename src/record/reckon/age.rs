//! The topic age: whole years, the day an age is attained, and who is a minor.

use super::{ReckonError, input, output};
use crate::record::calendar::{self, LeapDay, years_after};
use crate::record::kinds::common::Day;
use crate::record::moment::{Date, plain_date};
use crate::record::tables::Tables;
use serde::Deserialize;
use serde_json::{Value, json};

/// A question about age.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(tag = "ask", rename_all = "snake_case")]
pub enum Question {
    /// How old on a day?
    Age {
        /// Birth date.
        born: Day,
        /// The day.
        on: Day,
        /// For people born on 29 February.
        leap_day: Option<LeapDay>,
    },
    /// When is an age attained?
    Attains {
        /// Birth date.
        born: Day,
        /// Years to attain.
        age: u16,
        /// For people born on 29 February.
        leap_day: Option<LeapDay>,
    },
    /// A minor on a day?
    IsMinor {
        /// Birth date.
        born: Day,
        /// The day.
        on: Day,
        /// Years of majority.
        majority_age: u16,
        /// For people born on 29 February.
        leap_day: Option<LeapDay>,
    },
}

/// The day an age is attained: the start of that anniversary of birth. None beyond the calendar.
pub fn attained_on(born: Date, years: u16, leap_day: LeapDay) -> Option<Date> {
    let last = i32::from(Date::MAX.year());
    let within = i32::from(born.year()) + i32::from(years) <= last;
    within.then(|| years_after(born, u32::from(years), leap_day))
}

/// Whole years of age on a day; none before birth.
pub fn age_on(born: Date, on: Date, leap_day: LeapDay) -> Option<u16> {
    u16::try_from(calendar::age_on(born, on, leap_day)).ok()
}

/// Whether a person is below the age of majority on a day. Before birth there is nobody to ask about.
pub fn is_minor(born: Date, on: Date, majority_age: u16, leap_day: LeapDay) -> Option<bool> {
    age_on(born, on, leap_day).map(|age| age < majority_age)
}

fn before_birth() -> ReckonError {
    ReckonError("the day asked about lies before the birth".to_string())
}

fn beyond() -> ReckonError {
    ReckonError("the age lies beyond the calendar".to_string())
}

/// Answers.
///
/// # Errors
/// The input is not a question about age.
pub fn answer(value: &Value, _tables: &Tables) -> Result<Value, ReckonError> {
    match input::<Question>(value)? {
        Question::Age { born, on, leap_day } => {
            let age = age_on(born.0, on.0, leap_day.unwrap_or_default()).ok_or_else(before_birth)?;
            Ok(json!({ "age": age }))
        }
        Question::Attains { born, age, leap_day } => {
            let day = attained_on(born.0, age, leap_day.unwrap_or_default()).ok_or_else(beyond)?;
            Ok(json!({ "on": output(&Day(day))? }))
        }
        Question::IsMinor { born, on, majority_age, leap_day } => {
            let minor = is_minor(born.0, on.0, majority_age, leap_day.unwrap_or_default())
                .ok_or_else(before_birth)?;
            Ok(json!({ "minor": minor }))
        }
    }
}

/// The answer for a person.
///
/// # Errors
/// As [`answer`].
pub fn plain(value: &Value, tables: &Tables) -> Result<Vec<String>, ReckonError> {
    let answer = answer(value, tables)?;
    let day = |day: Day| plain_date(day.0);
    Ok(vec![match input::<Question>(value)? {
        Question::Age { born, on, .. } => {
            format!("Born {}: {} years old on {}.", day(born), answer["age"], day(on))
        }
        Question::Attains { born, age, .. } => {
            let on: Day = input(&answer["on"])?;
            format!("Born {}: attains {age} years at the start of {}.", day(born), day(on))
        }
        Question::IsMinor { born, on, majority_age, .. } => {
            let word = if answer["minor"] == true { "a minor" } else { "no minor" };
            format!("Born {}: {word} on {} (majority at {majority_age}).", day(born), day(on))
        }
    }])
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    #[test]
    fn leap_days_come_of_age_where_the_territory_says() {
        let born = date(2008, 2, 29);
        assert_eq!(attained_on(born, 18, LeapDay::Mar1), Some(date(2026, 3, 1)));
        assert_eq!(attained_on(born, 18, LeapDay::Feb28), Some(date(2026, 2, 28)));
        assert_eq!(attained_on(born, 20, LeapDay::Feb28), Some(date(2028, 2, 29)));
        assert_eq!(age_on(born, date(2026, 2, 28), LeapDay::Mar1), Some(17));
        assert_eq!(age_on(born, date(2026, 2, 28), LeapDay::Feb28), Some(18));
        // In a leap year there is a birthday, so the day before is before it either way.
        assert_eq!(age_on(born, date(2028, 2, 28), LeapDay::Feb28), Some(19));
        // 2100 is no leap year.
        assert_eq!(attained_on(born, 92, LeapDay::Mar1), Some(date(2100, 3, 1)));
    }

    #[test]
    fn the_day_of_birth_is_age_nought_and_the_day_before_is_no_age() {
        let born = date(2024, 6, 1);
        assert_eq!(age_on(born, born, LeapDay::Mar1), Some(0));
        assert_eq!(age_on(born, date(2024, 5, 31), LeapDay::Mar1), None);
        assert_eq!(age_on(born, date(2023, 12, 31), LeapDay::Mar1), None);
        assert_eq!(is_minor(born, date(2042, 6, 1), 18, LeapDay::Mar1), Some(false));
        assert_eq!(attained_on(born, u16::MAX, LeapDay::Mar1), None);
    }
}

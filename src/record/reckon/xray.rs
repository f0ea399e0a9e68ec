//! The topic xray: does an X-ray count for a course of treatment?

use super::{ReckonError, input, output};
use crate::record::decimal::Decimal;
use crate::record::kinds::common::Day;
use crate::record::moment::{Date, plain_date};
use crate::record::tables::Tables;
use crate::record::tables::trade::XrayWindow;
use jiff::ToSpan;
use serde::{Deserialize, Serialize};
use serde_json::Value;

/// An X-ray and a course of treatment.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct Question {
    /// First day of the course.
    pub course_start: Day,
    /// Day the X-ray was taken.
    pub taken: Day,
    /// How long the condition has lasted, in months; none where not known.
    pub condition_months: Option<Decimal>,
    /// Whether it was judged permanent.
    pub judged_permanent: Option<bool>,
}

/// Whether an X-ray counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Accepted {
    /// Taken inside the window.
    Yes,
    /// It does not.
    No,
    /// Older, and may be accepted for a lasting condition judged permanent.
    OlderAllowed,
}

/// The window and the answer.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Judged {
    /// First day of the window.
    pub from: Day,
    /// Last day of the window.
    pub through: Day,
    /// The answer.
    pub accepted: Accepted,
}

/// Judges an X-ray against the window.
///
/// # Errors
/// The window leaves the calendar.
pub fn judge(question: &Question, window: &XrayWindow) -> Result<Judged, ReckonError> {
    // Adding months keeps the day number, or takes the last day of a month that is too short.
    let moved = |months: i64, day: i64| -> Result<Date, ReckonError> {
        let span = months.months();
        let moved = question.course_start.0.checked_add(span).and_then(|d| d.checked_add(day.days()));
        moved.map_err(|_| ReckonError("the window lies beyond the calendar".to_string()))
    };
    let inward = i64::from(!window.inclusive);
    let from = moved(-i64::from(window.months_before), inward)?;
    let through = moved(i64::from(window.months_after), -inward)?;
    let taken = question.taken.0;
    let lasting = question.condition_months.is_some_and(|months| months > window.older_condition_over_months);
    let accepted = if taken > through {
        Accepted::No
    } else if taken >= from {
        Accepted::Yes
    } else if lasting && question.judged_permanent == Some(true) {
        Accepted::OlderAllowed
    } else {
        Accepted::No
    };
    Ok(Judged { from: Day(from), through: Day(through), accepted })
}

/// Answers.
///
/// # Errors
/// The input is not a question about an X-ray.
pub fn answer(value: &Value, tables: &Tables) -> Result<Value, ReckonError> {
    output(&judge(&input(value)?, &tables.trade.xray_window)?)
}

/// The answer for a person.
///
/// # Errors
/// As [`answer`].
pub fn plain(value: &Value, tables: &Tables) -> Result<Vec<String>, ReckonError> {
    let question: Question = input(value)?;
    let window = &tables.trade.xray_window;
    let judged = judge(&question, window)?;
    let mut lines = vec![format!(
        "An X-ray for a course begun {} counts when taken from {} through {}.",
        plain_date(question.course_start.0),
        plain_date(judged.from.0),
        plain_date(judged.through.0)
    )];
    let taken = plain_date(question.taken.0);
    lines.push(match judged.accepted {
        Accepted::Yes => format!("Taken {taken}: it counts."),
        Accepted::OlderAllowed => format!(
            "Taken {taken}: older than the window, and may be accepted: {}.",
            window.older_allowed_when
        ),
        Accepted::No => format!("Taken {taken}: it does not count."),
    });
    Ok(lines)
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn accepted(input: Value) -> Value {
        answer(&input, Tables::shipped().unwrap()).unwrap()
    }

    #[test]
    fn short_months_end_the_window_on_their_last_day() {
        let judged = accepted(json!({ "course_start": "2024-02-29", "taken": "2023-02-28" }));
        assert_eq!(judged, json!({ "from": "2023-02-28", "through": "2024-05-29", "accepted": "yes" }));
        let judged = accepted(json!({ "course_start": "2023-11-30", "taken": "2024-03-01" }));
        assert_eq!(judged, json!({ "from": "2022-11-30", "through": "2024-02-29", "accepted": "no" }));
    }

    /// The published window counts its first and last day (CMS Pub. 100-02 ch. 15, 240.1.2); one that does not begins
    /// a day later and ends a day sooner.
    #[test]
    fn the_first_and_the_last_day_count_where_the_table_says_so() {
        let days = |inclusive: bool| {
            let window = XrayWindow { inclusive, ..Tables::shipped().unwrap().trade.xray_window.clone() };
            let on = |taken: &str| {
                let asked = json!({ "course_start": "2024-03-10", "taken": taken });
                judge(&input(&asked).unwrap(), &window).unwrap()
            };
            let judged = on("2024-03-10");
            let counts = ["2023-03-09", "2023-03-10", "2023-03-11", "2024-06-09", "2024-06-10", "2024-06-11"]
                .map(|taken| on(taken).accepted == Accepted::Yes);
            (judged.from.to_string(), judged.through.to_string(), counts)
        };
        let of = |from: &str, through: &str, counts| (from.to_string(), through.to_string(), counts);
        assert_eq!(days(true), of("2023-03-10", "2024-06-10", [false, true, true, true, true, false]));
        assert_eq!(days(false), of("2023-03-11", "2024-06-09", [false, false, true, true, false, false]));
    }

    #[test]
    fn older_needs_a_condition_of_more_than_twelve_months_and_a_judgement() {
        let old = |months: Value, permanent: Value| {
            accepted(json!({ "course_start": "2024-03-10", "taken": "2023-03-09",
                "condition_months": months, "judged_permanent": permanent }))["accepted"]
                .clone()
        };
        assert_eq!(old(json!(12), json!(true)), "no");
        assert_eq!(old(json!(12.5), json!(true)), "older_allowed");
        assert_eq!(old(json!(13), json!(false)), "no");
        assert_eq!(old(json!(13), json!(null)), "no");
        assert_eq!(old(json!(null), json!(true)), "no");
        let after = json!({ "course_start": "2024-03-10", "taken": "2024-06-11",
            "condition_months": 60, "judged_permanent": true });
        assert_eq!(accepted(after)["accepted"], "no", "taken after the window it is not older");
    }
}

//! The topic deadlines: when an answer is due, when at the latest with an extension, and whether an
//! extension is good.
//!
//! Whole local calendar days. A due date that nobody works on stands unless the clock rolls it; the last
//! working day on or before it is always told beside it.

use super::ReckonError;
use super::ask::{is_blank, null_is_absent, question};
use super::instant::Instant;
use crate::record::calendar::{
    Holidays, ShortMonth, days_between, days_from, last_working_day, months_from, next_working_day,
    with_weekday, working_days_after,
};
use crate::record::kinds::common::Day;
use crate::record::moment::{Date, Moment, parse_date};
use crate::record::tables::Tables;
use crate::record::tables::clocks::{Clock, Clocks, CountUnit, Roll, SentBy, StartsOn};
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use std::collections::BTreeSet;

/// When an answer is due.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Due {
    /// The first due date.
    pub due: Day,
    /// The latest date an extension can reach; None where the rule has no extension.
    pub limit: Option<Day>,
    /// The last working day on or before the due date.
    pub work_by: Day,
}

/// A notice that more time is taken.
#[derive(Debug, Clone, Default, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ExtensionNotice {
    /// The day it was sent; None where it is not known to have been sent.
    #[serde(default)]
    pub sent: Option<Day>,
    /// It was in writing.
    #[serde(default, deserialize_with = "null_is_absent")]
    pub in_writing: bool,
    /// The reasons given.
    #[serde(default)]
    pub reasons: Option<String>,
    /// The date by which the answer is promised.
    #[serde(default)]
    pub new_date: Option<Day>,
}

/// Why an extension changes nothing. The order is that of the codes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum ExtensionFailure {
    /// As many went before as the rule allows.
    AlreadyExtended,
    /// The new date lies after the limit.
    BeyondLimit,
    /// The rule has none, or none was found.
    NoExtensionInRule,
    /// The new date was not named.
    NoNewDate,
    /// No reasons were given.
    NoReasons,
    /// It was not told in writing.
    NotInWriting,
    /// It was sent after the first due date, or not at all.
    SentTooLate,
}

/// What an extension did.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Extended {
    /// It is good.
    pub valid: bool,
    /// Why it is not: all that applies.
    pub failures: BTreeSet<ExtensionFailure>,
    /// The date now due.
    pub due: Day,
}

/// The earliest of several due dates.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Earliest {
    /// The due date that governs.
    pub due: Day,
    /// Every clock that gives it.
    pub set_by: BTreeSet<String>,
}

/// The day the count starts from: that of receipt, or the earlier of it and the date on the request.
pub fn starting_day(clock: &Clock, received: Date, requested: Option<Date>) -> Date {
    match clock.starts_on {
        StartsOn::Receipt => received,
        StartsOn::RequestDate => requested.map_or(received, |requested| requested.min(received)),
    }
}

/// When an answer is due whose count starts on this day ([`starting_day`]).
pub fn due(clock: &Clock, start: Date, holidays: &Holidays) -> Due {
    let first = rolled(clock, first_period(clock, start, holidays), holidays);
    Due {
        due: Day(first),
        limit: limit(clock, start, holidays),
        work_by: Day(last_working_day(first, holidays)),
    }
}

/// Judges a notice of extension. `earlier` tells how many extensions went before; what they did to the due
/// date is not looked at.
pub fn extension(
    clock: &Clock,
    start: Date,
    holidays: &Holidays,
    notice: &ExtensionNotice,
    earlier: u32,
) -> Extended {
    let first = due(clock, start, holidays).due;
    let limit = limit(clock, start, holidays);
    let mut failures = BTreeSet::new();
    let mut fails = |when: bool, failure| {
        if when {
            failures.insert(failure);
        }
    };
    match &clock.extension {
        None => fails(true, ExtensionFailure::NoExtensionInRule),
        Some(rule) => {
            let late = match rule.sent_by {
                Some(SentBy::FirstDue) => notice.sent.is_none_or(|sent| sent > first),
                None => false,
            };
            let no_reasons = notice.reasons.as_deref().is_none_or(is_blank);
            let beyond = notice.new_date.zip(limit).is_some_and(|(new_date, limit)| new_date > limit);
            fails(earlier >= rule.max_times, ExtensionFailure::AlreadyExtended);
            fails(late, ExtensionFailure::SentTooLate);
            fails(rule.in_writing && !notice.in_writing, ExtensionFailure::NotInWriting);
            fails(rule.reasons && no_reasons, ExtensionFailure::NoReasons);
            fails(rule.new_date && notice.new_date.is_none(), ExtensionFailure::NoNewDate);
            fails(beyond, ExtensionFailure::BeyondLimit);
        }
    }
    let valid = failures.is_empty();
    // The date that was named binds, sooner or later: the person was told it.
    let moved = notice.new_date.or(limit).unwrap_or(first);
    Extended { valid, failures, due: if valid { moved } else { first } }
}

/// Calendar days an answer came late; 0 when on time.
pub fn days_late(due: Date, acted: Date) -> i64 {
    days_between(due, acted).max(0)
}

/// The earliest first due date of several clocks on one request. None without a clock.
pub fn earliest(
    clocks: &[&Clock],
    received: Date,
    requested: Option<Date>,
    holidays: &Holidays,
) -> Option<Earliest> {
    let first = |clock: &Clock| due(clock, starting_day(clock, received, requested), holidays).due;
    let due = clocks.iter().map(|clock| first(clock)).min()?;
    let set_by = clocks.iter().filter(|clock| first(clock) == due).map(|clock| clock.id.clone()).collect();
    Some(Earliest { due, set_by })
}

/// The end of the first period, not rolled.
fn first_period(clock: &Clock, start: Date, holidays: &Holidays) -> Date {
    counted(clock.day_zero, start, clock.count, clock.unit, holidays)
}

/// Starting date, first period and extension in one run, rolled as the clock rolls.
fn limit(clock: &Clock, start: Date, holidays: &Holidays) -> Option<Day> {
    let more = clock.extension.as_ref()?;
    let end = if more.unit == clock.unit {
        counted(clock.day_zero, start, clock.count.saturating_add(more.count), clock.unit, holidays)
    } else {
        counted(true, first_period(clock, start, holidays), more.count, more.unit, holidays)
    };
    Some(Day(rolled(clock, end, holidays)))
}

/// So many units from a starting date that is not counted itself; where it is counted (`day_zero` false),
/// from the day before it.
fn counted(day_zero: bool, start: Date, count: u32, unit: CountUnit, holidays: &Holidays) -> Date {
    match unit {
        CountUnit::CalendarDays => days_from(start, i64::from(count) - i64::from(!day_zero)),
        CountUnit::BusinessDays if day_zero => working_days_after(start, count, holidays),
        CountUnit::BusinessDays => working_days_after(days_from(start, -1), count, holidays),
        CountUnit::Months => {
            let end = months_from(start, i64::from(count), ShortMonth::LastDay);
            if day_zero { end } else { days_from(end, -1) }
        }
    }
}

fn rolled(clock: &Clock, date: Date, holidays: &Holidays) -> Date {
    match clock.roll {
        Roll::None => date,
        Roll::NextWorkingDay => next_working_day(date, holidays),
    }
}

/// Every field of a question.
const FIELDS: &[&str] = &[
    "clock",
    "clocks",
    "received",
    "received_at",
    "practice_offset",
    "requested",
    "holidays",
    "extension",
    "earlier_extensions",
    "acted",
];

#[derive(Debug, Deserialize)]
#[serde(tag = "ask", rename_all = "snake_case")]
enum Question {
    Due(DueInput),
    Extension(ExtensionInput),
    Acted(ActedInput),
    Earliest(EarliestInput),
}

/// When a request came.
#[derive(Debug, Deserialize)]
struct Arrival {
    received: Option<Day>,
    received_at: Option<Instant>,
    practice_offset: Option<String>,
    requested: Option<Day>,
    #[serde(default, deserialize_with = "null_is_absent")]
    holidays: Vec<Day>,
}

#[derive(Debug, Deserialize)]
struct DueInput {
    clock: String,
    #[serde(flatten)]
    arrival: Arrival,
}

#[derive(Debug, Deserialize)]
struct ExtensionInput {
    clock: String,
    #[serde(flatten)]
    arrival: Arrival,
    extension: ExtensionNotice,
    #[serde(default, deserialize_with = "null_is_absent")]
    earlier_extensions: u32,
}

#[derive(Debug, Deserialize)]
struct ActedInput {
    clock: String,
    #[serde(flatten)]
    arrival: Arrival,
    extension: Option<ExtensionNotice>,
    #[serde(default, deserialize_with = "null_is_absent")]
    earlier_extensions: u32,
    acted: Day,
}

#[derive(Debug, Deserialize)]
struct EarliestInput {
    clocks: Vec<String>,
    #[serde(flatten)]
    arrival: Arrival,
}

impl Arrival {
    /// The local date of receipt: as given, or that of the instant on the practice's clock. Where only the
    /// date on the request is known it stands in, for a clock that counts from it.
    fn received(&self, clock: &Clock) -> Result<Date, ReckonError> {
        let by_instant = match self.received_at {
            Some(instant) => Some(Day(instant.date_at_offset(self.offset(instant)?))),
            None => None,
        };
        match (self.received, by_instant) {
            (Some(date), Some(other)) if date != other => Err(ReckonError(format!(
                "received says {date} and received_at falls on {other} here. Give one of them, or correct it."
            ))),
            (Some(date), _) | (None, Some(date)) => Ok(date.0),
            (None, None) => match (clock.starts_on, self.requested) {
                (StartsOn::RequestDate, Some(requested)) => Ok(requested.0),
                _ => Err(ReckonError("The day of receipt is needed: received, or received_at.".to_owned())),
            },
        }
    }

    fn offset(&self, instant: Instant) -> Result<i32, ReckonError> {
        let Some(text) = &self.practice_offset else { return Ok(instant.offset_seconds()) };
        let read = Moment::parse(&format!("2000-01-01T00:00:00{text}")).map(Moment::offset_seconds);
        read.map_err(|_| ReckonError(format!("{text:?} is not an offset from universal time, like -05:00.")))
    }

    fn start(&self, clock: &Clock) -> Result<Date, ReckonError> {
        Ok(starting_day(clock, self.received(clock)?, self.requested.map(|day| day.0)))
    }

    fn holidays(&self) -> Holidays {
        self.holidays.iter().map(|day| day.0).collect()
    }
}

/// Works it out. Asks: due, extension, acted, earliest.
///
/// # Errors
/// The input is not a question of this topic, or names a clock that is not in the tables.
pub fn answer(input: &Value, tables: &Tables) -> Result<Value, ReckonError> {
    let named = |id: &str| find(&tables.clocks, id);
    match question::<Question>(input, FIELDS)? {
        Question::Due(ask) => {
            let clock = named(&ask.clock)?;
            super::output(&due(clock, ask.arrival.start(clock)?, &ask.arrival.holidays()))
        }
        Question::Extension(ask) => {
            let (clock, holidays) = (named(&ask.clock)?, ask.arrival.holidays());
            let start = ask.arrival.start(clock)?;
            super::output(&extension(clock, start, &holidays, &ask.extension, ask.earlier_extensions))
        }
        Question::Acted(ask) => {
            let (clock, holidays) = (named(&ask.clock)?, ask.arrival.holidays());
            let start = ask.arrival.start(clock)?;
            let due = match &ask.extension {
                Some(notice) => extension(clock, start, &holidays, notice, ask.earlier_extensions).due,
                None => due(clock, start, &holidays).due,
            };
            Ok(json!({ "due": due, "days_late": days_late(due.0, ask.acted.0) }))
        }
        Question::Earliest(ask) => {
            let clocks = ask.clocks.iter().map(|id| named(id)).collect::<Result<Vec<_>, _>>()?;
            let by_request = clocks.iter().find(|clock| clock.starts_on == StartsOn::Receipt);
            let Some(strictest) = by_request.or(clocks.first()) else {
                return Err(ReckonError("No clock is named, so nothing is due.".to_owned()));
            };
            let received = ask.arrival.received(strictest)?;
            let requested = ask.arrival.requested.map(|day| day.0);
            super::output(&earliest(&clocks, received, requested, &ask.arrival.holidays()))
        }
    }
}

fn find<'a>(clocks: &'a Clocks, id: &str) -> Result<&'a Clock, ReckonError> {
    clocks
        .clock(id)
        .ok_or_else(|| ReckonError(format!("There is no clock {id:?}. Look at the names in the tables.")))
}

/// An answer in words.
pub fn words(answer: &Value) -> Vec<String> {
    let date = |field: &str| answer[field].as_str().and_then(parse_date);
    let mut lines = Vec::new();
    if let Some(valid) = answer["valid"].as_bool() {
        lines
            .push(if valid { "The extension is good." } else { "The extension changes nothing." }.to_owned());
    }
    let failures = answer["failures"].as_array().into_iter().flatten().filter_map(Value::as_str);
    lines.extend(failures.map(|code| format!("  {}.", failure_words(code))));
    if let Some(due) = date("due") {
        let rules: Vec<_> =
            answer["set_by"].as_array().into_iter().flatten().filter_map(Value::as_str).collect();
        let by = if rules.is_empty() { String::new() } else { format!(" (by {})", rules.join(", ")) };
        lines.push(format!("Due {}{by}.", with_weekday(due)));
        if let Some(work_by) = date("work_by").filter(|work_by| *work_by != due) {
            lines.push(format!("Last working day before: {}.", with_weekday(work_by)));
        }
    }
    match date("limit") {
        Some(limit) => lines.push(format!("With an extension at the latest {}.", with_weekday(limit))),
        None if answer.get("limit").is_some() => lines.push("The rule has no extension.".to_owned()),
        None => {}
    }
    match answer["days_late"].as_i64() {
        Some(0) => lines.push("Answered on time.".to_owned()),
        Some(1) => lines.push("Answered 1 day late.".to_owned()),
        Some(days) => lines.push(format!("Answered {days} days late.")),
        None => {}
    }
    lines
}

fn failure_words(code: &str) -> &str {
    match code {
        "already_extended" => "It was extended before, and the rule allows no more",
        "beyond_limit" => "The new date lies after the latest the rule allows",
        "no_extension_in_rule" => "The rule has no extension",
        "no_new_date" => "The new date was not named",
        "no_reasons" => "No reasons were given",
        "not_in_writing" => "It was not in writing",
        "sent_too_late" => "It was not sent by the first due date",
        other => other,
    }
}

#[cfg(test)]
#[path = "deadlines_tests.rs"]
mod tests;

//! The topic accounting: which disclosures an accounting must tell, for which period, in which lines, and
//! whether a fee may be asked for it.

use super::ReckonError;
use super::ask::{is_blank, null_is_absent, question};
use crate::record::calendar::{LeapDay, ShortMonth, days_from, months_from, with_weekday, years_before};
use crate::record::kinds::common::Day;
use crate::record::moment::{Date, parse_date};
use crate::record::tables::Tables;
use crate::record::tables::disclosure::{AccountingTable, KindClass};
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use std::collections::BTreeSet;

/// The days an accounting covers, both included.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Window {
    /// First day.
    pub from: Day,
    /// Last day: that of the request.
    pub to: Day,
}

/// One disclosure.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Disclosure {
    /// The day it was made.
    pub on: Day,
    /// To whom.
    #[serde(default, deserialize_with = "null_is_absent")]
    pub recipient: String,
    /// Its kind, a word of the table.
    pub disclosed_for: String,
    /// Its purpose.
    #[serde(default, deserialize_with = "null_is_absent")]
    pub purpose: String,
    /// Last day an agency had it left out.
    #[serde(default)]
    pub left_out_through: Option<Day>,
}

/// One line of an accounting.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Line {
    /// To whom.
    pub recipient: String,
    /// Its purpose.
    pub purpose: String,
    /// Day of the first disclosure.
    pub first: Day,
    /// How many.
    pub count: u32,
    /// Day of the last one.
    pub last: Day,
}

/// How an agency asked to be left out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum How {
    /// By word of mouth.
    Oral,
    /// In writing.
    Written,
}

/// An agency's request that its disclosures be left out for a time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Suspension {
    /// How it was made.
    pub how: How,
    /// Its date.
    pub stated_on: Date,
    /// The day it names.
    pub until: Option<Date>,
    /// The date of a written statement that followed an oral one.
    pub written_on: Option<Date>,
}

/// The days covered: so many years before the request, or from the day the person asked for if that is later.
pub fn window(
    requested: Date,
    look_back_years: u32,
    leap_day: LeapDay,
    shorter_from: Option<Date>,
) -> Window {
    let earliest = years_before(requested, look_back_years, leap_day);
    Window { from: Day(shorter_from.map_or(earliest, |from| from.max(earliest))), to: Day(requested) }
}

/// True where no fee may be asked for a request: walking through the requests in their order, each is free
/// that has no free one in the months before it. On the anniversary of a free one the next is free again.
pub fn is_free(requested: Date, earlier: &[Date], free_every_months: u32) -> bool {
    let mut requests = earlier.to_vec();
    requests.sort();
    requests.push(requested);
    let (mut last_free, mut free): (Option<Date>, bool) = (None, false);
    for request in requests {
        let again =
            |last: Date| months_from(last, i64::from(free_every_months), ShortMonth::FirstOfNext) <= request;
        free = last_free.is_none_or(again);
        if free {
            last_free = Some(request);
        }
    }
    free
}

/// The last day an agency's disclosures are left out. None where a written request names no day: then it
/// states no time, and nothing is left out by it.
pub fn left_out_through(asked: Suspension, oral_days: u32) -> Option<Date> {
    let most = days_from(asked.stated_on, i64::from(oral_days));
    let in_time = |written: Date| asked.stated_on <= written && written <= most;
    match asked.how {
        How::Written => asked.until,
        How::Oral if asked.written_on.is_some_and(in_time) => Some(asked.until.unwrap_or(most)),
        How::Oral => Some(asked.until.map_or(most, |until| until.min(most))),
    }
}

/// One line of an accounting, and which disclosures it tells.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Group {
    /// The line.
    pub line: Line,
    /// Places of its disclosures in the list that was given, the earliest day first.
    pub members: Vec<usize>,
}

/// The lines of an accounting made on a day: kinds that count, inside the window, and not left out on that day.
///
/// # Errors
/// The kind of a disclosure that the table does not know.
pub fn lines(
    disclosures: &[Disclosure],
    window: Window,
    prepared_on: Date,
    table: &AccountingTable,
) -> Result<Vec<Line>, String> {
    Ok(groups(disclosures, window, prepared_on, table)?.into_iter().map(|group| group.line).collect())
}

/// As [`lines`], each with the disclosures it tells.
///
/// # Errors
/// As [`lines`].
pub fn groups(
    disclosures: &[Disclosure],
    window: Window,
    prepared_on: Date,
    table: &AccountingTable,
) -> Result<Vec<Group>, String> {
    let mut groups: Vec<(KindClass, Group)> = Vec::new();
    for (place, made) in disclosures.iter().enumerate() {
        let class = table.class(&made.disclosed_for).ok_or_else(|| made.disclosed_for.clone())?;
        let inside = window.from <= made.on && made.on <= window.to;
        if class == KindClass::NotCounted || !inside || made.is_left_out(prepared_on) {
            continue;
        }
        let (recipient, purpose) = (made.recipient.trim(), made.purpose.trim());
        let same = |(other, group): &&mut (KindClass, Group)| {
            let line = &group.line;
            *other == KindClass::MayBeGrouped && line.recipient == recipient && line.purpose == purpose
        };
        match groups.iter_mut().find(same).filter(|_| class == KindClass::MayBeGrouped) {
            Some((_, group)) => {
                group.line.count += 1;
                group.line.first = group.line.first.min(made.on);
                group.line.last = group.line.last.max(made.on);
                group.members.push(place);
            }
            None => {
                let (recipient, purpose) = (recipient.to_owned(), purpose.to_owned());
                let line = Line { recipient, purpose, first: made.on, count: 1, last: made.on };
                groups.push((class, Group { line, members: vec![place] }));
            }
        }
    }
    let mut groups: Vec<Group> = groups.into_iter().map(|(_, group)| group).collect();
    for group in &mut groups {
        group.members.sort_by_key(|place| disclosures.get(*place).map(|made| made.on));
    }
    groups.sort_by(|a, b| (a.line.first, &a.line.recipient).cmp(&(b.line.first, &b.line.recipient)));
    Ok(groups)
}

impl Disclosure {
    /// True when an agency has it left out of an accounting made on this day.
    pub fn is_left_out(&self, prepared_on: Date) -> bool {
        self.left_out_through.is_some_and(|last| prepared_on <= last.0)
    }
}

/// Every field of a question.
const FIELDS: &[&str] = &[
    "requested",
    "shorter_from",
    "disclosed_for",
    "date",
    "recipient",
    "address",
    "description",
    "purpose",
    "request_copy",
    "earlier",
    "how",
    "stated_on",
    "until",
    "written_on",
    "prepared_on",
    "disclosures",
];

#[derive(Debug, Deserialize)]
#[serde(tag = "ask", rename_all = "snake_case")]
enum Question {
    Window(WindowInput),
    Classify { disclosed_for: String },
    Line(LineInput),
    Charge(ChargeInput),
    Suspension { how: How, stated_on: Day, until: Option<Day>, written_on: Option<Day> },
    List(ListInput),
}

#[derive(Debug, Deserialize)]
struct WindowInput {
    requested: Day,
    shorter_from: Option<Day>,
}

#[derive(Debug, Deserialize)]
struct LineInput {
    date: Option<String>,
    recipient: Option<String>,
    description: Option<String>,
    purpose: Option<String>,
    #[serde(default, deserialize_with = "null_is_absent")]
    request_copy: bool,
}

#[derive(Debug, Deserialize)]
struct ChargeInput {
    requested: Day,
    #[serde(default, deserialize_with = "null_is_absent")]
    earlier: Vec<Day>,
}

#[derive(Debug, Deserialize)]
struct ListInput {
    #[serde(flatten)]
    window: WindowInput,
    prepared_on: Day,
    #[serde(default, deserialize_with = "null_is_absent")]
    disclosures: Vec<Disclosure>,
}

impl WindowInput {
    fn window(&self, tables: &Tables) -> Result<Window, ReckonError> {
        let clock = tables.clocks.accounting();
        let Some((years, leap_day)) = clock.and_then(|c| c.look_back_years.zip(c.look_back_leap_day)) else {
            return Err(ReckonError(
                "The tables have no clock that says how far an accounting looks back.".into(),
            ));
        };
        if let Some(from) = self.shorter_from.filter(|from| *from > self.requested) {
            return Err(ReckonError(format!(
                "The first day asked for, {from}, lies after the request of {}. Correct one of them.",
                self.requested
            )));
        }
        Ok(window(self.requested.0, years, leap_day, self.shorter_from.map(|day| day.0)))
    }
}

impl LineInput {
    /// What the line lacks of the fields the table asks for.
    fn missing(&self, table: &AccountingTable) -> Result<BTreeSet<String>, ReckonError> {
        let written = |text: &Option<String>| text.as_deref().is_some_and(|text| !is_blank(text));
        let mut missing = BTreeSet::new();
        for field in &table.line_fields {
            let there = match field.as_str() {
                "date" => written(&self.date),
                "recipient" => written(&self.recipient),
                "description" => written(&self.description),
                "purpose" => self.request_copy || written(&self.purpose),
                other => {
                    return Err(ReckonError(format!(
                        "The tables ask a line for {other:?}, which is not known."
                    )));
                }
            };
            if !there {
                missing.insert(field.clone());
            }
        }
        let date = self.date.as_deref().filter(|date| !is_blank(date));
        match date {
            Some(date) if parse_date(date.trim()).is_none() => {
                Err(ReckonError(format!("{date:?} is not a day that exists, written like 2025-03-11.")))
            }
            _ => Ok(missing),
        }
    }
}

/// Works it out. Asks: window, classify, line, charge, suspension, list.
///
/// # Errors
/// The input is not a question of this topic, or the tables lack what it needs.
pub fn answer(input: &Value, tables: &Tables) -> Result<Value, ReckonError> {
    let table = AccountingTable::of(tables).map_err(ReckonError)?;
    let unknown = |kind: String| {
        ReckonError(format!("There is no kind of disclosure {kind:?}. Look at the words in the tables."))
    };
    match question::<Question>(input, FIELDS)? {
        Question::Window(ask) => super::output(&ask.window(tables)?),
        Question::Classify { disclosed_for } => {
            let class = table.class(&disclosed_for).ok_or_else(|| unknown(disclosed_for))?;
            Ok(json!({ "counted": class != KindClass::NotCounted }))
        }
        Question::Line(ask) => {
            let missing = ask.missing(&table)?;
            Ok(json!({ "complete": missing.is_empty(), "missing": missing }))
        }
        Question::Charge(ask) => {
            if let Some(later) = ask.earlier.iter().find(|day| **day > ask.requested) {
                let requested = ask.requested;
                return Err(ReckonError(format!("The earlier request of {later} lies after {requested}.")));
            }
            let earlier: Vec<Date> = ask.earlier.iter().map(|day| day.0).collect();
            Ok(json!({ "free": is_free(ask.requested.0, &earlier, table.free_every_months) }))
        }
        Question::Suspension { how, stated_on, until, written_on } => {
            let day = |day: Option<Day>| day.map(|day| day.0);
            let asked =
                Suspension { how, stated_on: stated_on.0, until: day(until), written_on: day(written_on) };
            Ok(json!({ "left_out_through": left_out_through(asked, table.oral_suspension_days).map(Day) }))
        }
        Question::List(ask) => {
            let window = ask.window.window(tables)?;
            let lines = lines(&ask.disclosures, window, ask.prepared_on.0, &table).map_err(unknown)?;
            Ok(json!({ "lines": lines }))
        }
    }
}

/// An answer in words.
pub fn words(answer: &Value) -> Vec<String> {
    let text = |value: &Value| value.as_str().and_then(parse_date).map(with_weekday).unwrap_or_default();
    if let Some(counted) = answer["counted"].as_bool() {
        let said = if counted { "It belongs in an accounting." } else { "An accounting leaves it out." };
        return vec![said.to_owned()];
    }
    if let Some(free) = answer["free"].as_bool() {
        let said = if free {
            "No fee may be asked for this accounting."
        } else {
            "A fee may be asked, after telling the person and letting them withdraw or change the request."
        };
        return vec![said.to_owned()];
    }
    if answer.get("from").is_some() {
        return vec![format!(
            "It covers {} to {}, both days included.",
            text(&answer["from"]),
            text(&answer["to"])
        )];
    }
    if let Some(through) = answer.get("left_out_through") {
        return vec![match through.is_null() {
            true => "The request names no day, so nothing is left out by it.".to_owned(),
            false => format!("Left out through {}.", text(through)),
        }];
    }
    if let Some(missing) = answer["missing"].as_array() {
        let missing: Vec<_> = missing.iter().filter_map(Value::as_str).collect();
        return vec![match missing.is_empty() {
            true => "The line is complete.".to_owned(),
            false => format!("The line lacks: {}.", missing.join(", ")),
        }];
    }
    let Some(lines) = answer["lines"].as_array() else { return Vec::new() };
    if lines.is_empty() {
        return vec!["Nothing to tell in this period.".to_owned()];
    }
    lines.iter().map(|line| line_words(line, text)).collect()
}

fn line_words(line: &Value, date: impl Fn(&Value) -> String) -> String {
    let (recipient, purpose) = (line["recipient"].as_str(), line["purpose"].as_str());
    let (recipient, purpose) = (recipient.unwrap_or_default(), purpose.unwrap_or_default());
    match line["count"].as_u64() {
        Some(1) => format!("{}: to {recipient}, {purpose}.", date(&line["first"])),
        Some(count) => format!(
            "{} to {}: {count} times to {recipient}, {purpose}.",
            date(&line["first"]),
            date(&line["last"])
        ),
        None => String::new(),
    }
}

#[cfg(test)]
#[path = "accounting_tests.rs"]
mod tests;

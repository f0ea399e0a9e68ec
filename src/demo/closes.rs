//! Day closes: every day with entries is closed with a slip, as the desk would.

use super::{Act, Event, on_roster};
use crate::record::kinds::register::{DayClose, KindCount};
use crate::record::moment::{Date, Moment};
use serde_json::{Value, json};
use std::collections::{BTreeMap, BTreeSet};

/// Minute of the day at which the desk closes the day, if nothing is written later.
const CLOSING_MINUTE: i64 = 18 * 60 + 15;

/// A close for every day that has events and no scripted close. `all` is in order of writing.
pub fn closes(all: &[Event]) -> Vec<Event> {
    let scripted: BTreeSet<String> = all
        .iter()
        .filter(|e| e.act == Act::DayClose)
        .filter_map(|e| Some(e.data["day"].as_str()?.to_string()))
        .collect();
    let mut last: BTreeMap<Date, Moment> = BTreeMap::new();
    for event in all {
        let latest = last.entry(event.at.local_date()).or_insert(event.at);
        *latest = (*latest).max(event.at);
    }
    last.into_iter()
        .filter(|(day, _)| !scripted.contains(&day.to_string()))
        .map(|(day, last)| close(day, last, unfinished(all, last)))
        .collect()
}

fn close(day: Date, last: Moment, unfinished: u32) -> Event {
    let (hour, minute) = last.local_time();
    let so_far = i64::from(hour) * 60 + i64::from(minute);
    let at = last.plus_seconds(60 * (CLOSING_MINUTE - so_far).max(4));
    let late = so_far >= CLOSING_MINUTE;
    let by = if late && on_roster("DS", day) { "DS" } else { "HL" };
    Event {
        at,
        by: by.to_string(),
        station: "desk".to_string(),
        chart: None,
        name: None,
        act: Act::DayClose,
        kind: "day-close".to_string(),
        happened: None,
        entered_by: None,
        labels: Vec::new(),
        refers: Vec::new(),
        document: None,
        roles: Vec::new(),
        data: json!({ "day": day.to_string(), "slip_kept": "bound day book", "unfinished": unfinished }),
    }
}

/// How many visits have been opened by then and have no note yet.
fn unfinished(all: &[Event], until: Moment) -> u32 {
    let mut open: BTreeSet<&str> = BTreeSet::new();
    for event in all.iter().filter(|e| e.at <= until) {
        match (event.kind.as_str(), event.name.as_deref(), event.data["visit"].as_str()) {
            ("visit-opened", Some(name), _) => {
                open.insert(name);
            }
            ("visit", _, Some(visit)) => {
                open.remove(visit.trim_start_matches('@'));
            }
            _ => {}
        }
    }
    open.len() as u32
}

/// What is counted when a day is closed.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Tally {
    /// First entry of the day.
    pub first: Option<u64>,
    /// Last entry before the close.
    pub last: u64,
    /// How many of each kind.
    pub by_kind: BTreeMap<String, u64>,
    /// The words of the slip that pins down every entry up to `last`.
    pub slip_words: String,
}

/// The close with its numbers. None when the event's data does not fit.
pub fn counted(data: &Value, tally: &Tally) -> Option<DayClose> {
    let mut value = data.clone();
    let object = value.as_object_mut()?;
    let entries: u64 = tally.by_kind.values().sum();
    if let Some(first) = tally.first {
        object.insert("first".into(), first.into());
    }
    object.insert("last".into(), tally.last.into());
    object.insert("entries".into(), entries.into());
    object.insert("slip_words".into(), tally.slip_words.clone().into());
    let mut close: DayClose = serde_json::from_value(value).ok()?;
    close.by_kind =
        tally.by_kind.iter().map(|(kind, count)| KindCount { kind: kind.clone(), count: *count }).collect();
    Some(close)
}

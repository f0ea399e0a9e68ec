//! The demonstration: three invented years of an invented practice, as data.
//!
//! The scripted events lie in `scenario/`, one file for each year; the papers they bring along in
//! `papers/`. Ordinary visits between them come from [`filler`], day closes from [`closes`].
//! [`run`] applies all of it through the same calls that real work uses. Nobody and nothing in
//! here exists.

pub mod closes;
pub mod filler;
pub mod highlights;
pub mod papers;
pub mod run;
#[cfg(test)]
mod tests;

use crate::record::envelope::{Happened, Label, RefWhy};
use crate::record::kinds::register::{KeyRole, RegisterOpened, Staff};
use crate::record::kinds::{Data, ReadError};
use crate::record::moment::{Date, Moment};
use crate::record::rulebook;
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value, json};
use std::collections::HashMap;

/// The scripted years, oldest first.
const SCENARIO: [&str; 4] = [
    include_str!("scenario/2022.json"),
    include_str!("scenario/2023.json"),
    include_str!("scenario/2024.json"),
    include_str!("scenario/2025.json"),
];

/// The rules the practice adopts on its first day, as a rules file.
pub const RULES: &str = include_str!("papers/rules-1.toml");

/// The practice, as the entry that opens its register.
pub const PRACTICE: &str = include_str!("papers/practice.json");

/// When the register is opened.
pub const OPENED_AT: &str = "2022-10-03T08:10:00-04:00";

/// What is done with an event.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Act {
    /// An entry is recorded.
    Record,
    /// A chart is opened.
    OpenChart,
    /// A paper is attached.
    Attach,
    /// A chart is released as a sealed package.
    Release,
    /// Somebody joins, with keys.
    AddStaff,
    /// Somebody leaves; `data` is a [`Leaver`].
    RetireStaff,
    /// A day is closed; the numbers are counted when it is written.
    DayClose,
    /// A chart is destroyed; `data` is a [`Destroyed`].
    Dispose,
}

/// A chart that is destroyed. The event is called by its certificate.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Destroyed {
    /// Code of the second signer.
    pub second: String,
}

/// Somebody who leaves.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Leaver {
    /// Staff code.
    pub code: String,
    /// Last day on the roster.
    pub last_day: crate::record::kinds::Day,
    /// Why.
    pub because: String,
}

/// One event of the scenario.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Event {
    /// When it is written, by the station's clock.
    pub at: Moment,
    /// Staff code of who writes it.
    pub by: String,
    /// Where: desk, room 1, room 2, laptop.
    pub station: String,
    /// Chart number; none for what stands outside any chart.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub chart: Option<String>,
    /// Name by which later events point to it, as `@name`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
    /// What is done.
    pub act: Act,
    /// Kind of entry.
    pub kind: String,
    /// When it happened; when it is written if absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub happened: Option<Happened>,
    /// Staff code of who typed it, if not the author.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub entered_by: Option<String>,
    /// Labels.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub labels: Vec<Label>,
    /// Entries it refers to (`@name`), and why.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub refers: Vec<(String, RefWhy)>,
    /// Name of the paper that comes with it; see [`papers::paper`].
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub document: Option<String>,
    /// Key roles of somebody who joins.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub roles: Vec<KeyRole>,
    /// The data of its kind; a text `@name` stands for the number of that entry.
    pub data: Value,
}

/// Why the demonstration can't be read. Its files are part of the program, so this is a fault
/// of the program, and a test looks for it.
#[derive(Debug, thiserror::Error)]
pub enum DemoError {
    /// A scenario file is not what it must be.
    #[error("a file of the demonstration can't be read: {0}")]
    File(#[from] serde_json::Error),
    /// The data of an event does not fit its kind.
    #[error("an event of the demonstration ({kind}, {at}) can't be read: {error}")]
    Data {
        /// Its kind.
        kind: String,
        /// When it is written.
        at: Moment,
        /// What is wrong.
        error: ReadError,
    },
    /// A name is used that no earlier event has.
    #[error("an event of the demonstration points to \"{0}\", which no earlier event is called")]
    Name(String),
    /// A paper is named that is not there.
    #[error("an event of the demonstration brings \"{0}\", and there is no such paper")]
    Paper(String),
    /// A chart is used before it is opened.
    #[error("an event of the demonstration needs chart \"{0}\", which is not open")]
    Chart(String),
}

/// The numbers that names stand for.
pub type Names = HashMap<String, u64>;

impl Event {
    /// When it happened.
    pub fn happened(&self) -> Happened {
        self.happened.unwrap_or(Happened { start: self.at, end: None, about: false })
    }

    /// The data of its kind with names replaced by numbers and its paper put in.
    ///
    /// # Errors
    /// When a name or paper is unknown, or the data does not fit its kind.
    pub fn read(&self, names: &Names) -> Result<Data, DemoError> {
        let mut value = resolve(&self.data, names)?;
        if let (Some(paper), Some(object)) = (&self.document, value.as_object_mut()) {
            self.put_paper(paper, object)?;
        }
        let read = Data::read(&self.kind, 1, &value);
        read.map_err(|error| DemoError::Data { kind: self.kind.clone(), at: self.at, error })
    }

    /// The bytes of the paper that comes with it; empty without one.
    ///
    /// # Errors
    /// When there is no such paper.
    pub fn paper(&self) -> Result<Vec<u8>, DemoError> {
        let Some(name) = &self.document else { return Ok(Vec::new()) };
        papers::paper(name).ok_or_else(|| DemoError::Paper(name.clone()))
    }

    fn put_paper(&self, name: &str, object: &mut Map<String, Value>) -> Result<(), DemoError> {
        let bytes = self.paper()?;
        match self.kind.as_str() {
            "rules" => {
                let rules = rulebook::read::file(&String::from_utf8_lossy(&bytes));
                let rules = rules.map_err(|why| DemoError::Paper(format!("{name}: {why}")))?;
                object.insert("document".into(), rules.document);
            }
            "wording" => {
                object.insert("text".into(), String::from_utf8_lossy(&bytes).into_owned().into());
            }
            "attachment" => {
                let digest = blake3::hash(&bytes).to_hex().to_string();
                // The sealed file does not exist yet; attaching puts its own digest here.
                object.insert("sealed_digest".into(), digest.clone().into());
                object.insert("plain_digest".into(), digest.into());
                object.insert("size".into(), bytes.len().into());
            }
            _ => return Err(DemoError::Paper(name.to_string())),
        }
        Ok(())
    }

    /// The numbers of the entries it refers to.
    ///
    /// # Errors
    /// When a name is unknown.
    pub fn references(&self, names: &Names) -> Result<Vec<(u64, RefWhy)>, DemoError> {
        self.refers.iter().map(|(name, why)| Ok((number(name, names)?, why.clone()))).collect()
    }
}

fn number(name: &str, names: &Names) -> Result<u64, DemoError> {
    let known = names.get(name.trim_start_matches('@')).copied();
    known.ok_or_else(|| DemoError::Name(name.to_string()))
}

/// Replaces every text `@name` by the number of that entry.
fn resolve(value: &Value, names: &Names) -> Result<Value, DemoError> {
    Ok(match value {
        Value::String(text) if text.starts_with('@') => json!(number(text, names)?),
        Value::Array(items) => {
            Value::Array(items.iter().map(|v| resolve(v, names)).collect::<Result<_, _>>()?)
        }
        Value::Object(object) => Value::Object(
            object
                .iter()
                .map(|(key, v)| Ok((key.clone(), resolve(v, names)?)))
                .collect::<Result<_, DemoError>>()?,
        ),
        other => other.clone(),
    })
}

/// All events in the order in which they are written.
///
/// # Errors
/// When a file of the demonstration can't be read.
pub fn events() -> Result<Vec<Event>, DemoError> {
    let all = merge(scripted()?, filler::events(filler::SEED));
    let closes = closes::closes(&all);
    Ok(merge(all, closes))
}

/// The events of the scenario alone.
///
/// # Errors
/// When a file of the demonstration can't be read.
pub fn scripted() -> Result<Vec<Event>, DemoError> {
    let mut all = Vec::new();
    for year in SCENARIO {
        all.extend(serde_json::from_str::<Vec<Event>>(year)?);
    }
    Ok(all)
}

/// Merges two lists by time of writing. The first list keeps its own order even where its clock
/// was wrong, and goes first where times are equal.
fn merge(first: Vec<Event>, second: Vec<Event>) -> Vec<Event> {
    let mut merged = Vec::with_capacity(first.len() + second.len());
    let mut waiting = second.into_iter().peekable();
    for event in first {
        while let Some(earlier) = waiting.next_if(|e| e.at < event.at) {
            merged.push(earlier);
        }
        merged.push(event);
    }
    merged.extend(waiting);
    merged
}

/// The passphrase of a member of staff; invented, and printed on the screen of every demo.
pub fn staff_passphrase(code: &str) -> &'static str {
    match code {
        "IV" => "rope-walk-IV-demo",
        "TR" => "rope-walk-TR-demo",
        "PQ" => "rope-walk-PQ-demo",
        "HL" => "rope-walk-HL-demo",
        "DS" => "rope-walk-DS-demo",
        "SA" => "rope-walk-SA-demo",
        _ => "rope-walk-demo",
    }
}

/// The practice.
///
/// # Errors
/// When its file can't be read.
pub fn practice() -> Result<RegisterOpened, DemoError> {
    Ok(serde_json::from_str(PRACTICE)?)
}

/// The owner's roster line.
///
/// # Errors
/// When the line can't be read.
pub fn owner() -> Result<Staff, DemoError> {
    Ok(serde_json::from_value(json!({
        "code": "IV", "name": "Ingrith Valsamo", "role": "chiropractor, owner", "sex": "female",
        "licence_no": "LM-C-0417", "licence_last_day": "2026-12-31", "on_roster_from": "2022-10-03",
        "techniques_permitted": [
            "examination", "soft-tissue", "mobilization", "thrust", "instrument-adjust", "intraoral",
            "traction", "taping"
        ],
        "initials": "I.V.",
    }))?)
}

/// First and last day of everybody on the roster of the scenario.
pub fn on_roster(code: &str, day: Date) -> bool {
    use jiff::civil::date;
    let (first, last) = match code {
        "IV" | "PQ" | "HL" => (date(2022, 10, 3), Date::MAX),
        "TR" => (date(2022, 10, 3), date(2024, 8, 30)),
        "DS" => (date(2023, 9, 4), date(2024, 5, 24)),
        "SA" => (date(2025, 7, 7), date(2025, 7, 25)),
        _ => return false,
    };
    (first..=last).contains(&day)
}

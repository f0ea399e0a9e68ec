//! What all kinds share: days, explicit absence, and the list of problems a check fills.

use crate::record::envelope::Record;
use crate::record::moment::{Date, parse_date};
use crate::record::vocab::{Region, Segment, Side, words};
use schemars::JsonSchema;
use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// A calendar day in a record: `YYYY-MM-DD`. A last day includes the whole day.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Day(pub Date);

impl std::fmt::Display for Day {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        self.0.fmt(f)
    }
}
impl Serialize for Day {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(&self.0)
    }
}
impl<'de> Deserialize<'de> for Day {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        parse_date(&text)
            .map(Day)
            .ok_or_else(|| serde::de::Error::custom("not a day that exists, written like 2025-03-11"))
    }
}
impl JsonSchema for Day {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        "Day".into()
    }
    fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
        schemars::json_schema!({
            "type": "string",
            "description": "Calendar day; a last day includes the whole day",
            "pattern": "^[0-9]{4}-(0[1-9]|1[0-2])-(0[1-9]|[12][0-9]|3[01])$"
        })
    }
}

/// A measured number, kept in the form it was written in: 29 stays 29, 4.5 stays 4.5.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Amount(serde_json::Number);

impl Amount {
    /// The number for reckoning with.
    pub fn get(&self) -> f64 {
        self.0.as_f64().unwrap_or(f64::NAN)
    }
}
impl From<u32> for Amount {
    fn from(number: u32) -> Amount {
        Amount(number.into())
    }
}
impl std::str::FromStr for Amount {
    type Err = serde_json::Error;
    fn from_str(text: &str) -> Result<Amount, serde_json::Error> {
        serde_json::from_str(text).map(Amount)
    }
}
impl JsonSchema for Amount {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        "Amount".into()
    }
    fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
        schemars::json_schema!({ "type": "number", "description": "A measured number" })
    }
}

/// The reason something is absent.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Absent {
    /// Why it was not done, not asked or not known.
    #[serde(rename = "not_done_because")]
    pub because: String,
}

/// A value, or the reason there is none. A blank is neither.
#[derive(Debug, Clone, PartialEq)]
pub enum Given<T> {
    /// The value.
    Value(T),
    /// Why there is none.
    Absent(Absent),
}

impl<T> Given<T> {
    /// The value, if there is one.
    pub fn value(&self) -> Option<&T> {
        match self {
            Given::Value(value) => Some(value),
            Given::Absent(_) => None,
        }
    }
    /// The reason, if there is no value.
    pub fn because(&self) -> Option<&str> {
        match self {
            Given::Value(_) => None,
            Given::Absent(absent) => Some(&absent.because),
        }
    }
    /// Absence with its reason.
    pub fn absent(because: impl Into<String>) -> Self {
        Given::Absent(Absent { because: because.into() })
    }
}
impl<T> From<T> for Given<T> {
    fn from(value: T) -> Self {
        Given::Value(value)
    }
}
impl<T: Serialize> Serialize for Given<T> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        match self {
            Given::Value(value) => value.serialize(serializer),
            Given::Absent(absent) => absent.serialize(serializer),
        }
    }
}
impl<'de, T: serde::de::DeserializeOwned> Deserialize<'de> for Given<T> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        use serde::de::Error;
        let value = serde_json::Value::deserialize(deserializer)?;
        // Read by hand, so that an error is that of the value and not "no variant fits".
        if value.as_object().is_some_and(|object| object.contains_key("not_done_because")) {
            return serde_json::from_value(value).map(Given::Absent).map_err(Error::custom);
        }
        T::deserialize(value).map(Given::Value).map_err(Error::custom)
    }
}
impl<T: JsonSchema> JsonSchema for Given<T> {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        format!("Given_{}", T::schema_name()).into()
    }
    fn json_schema(generator: &mut schemars::SchemaGenerator) -> schemars::Schema {
        let (value, absent) = (generator.subschema_for::<T>(), generator.subschema_for::<Absent>());
        schemars::json_schema!({ "anyOf": [value, absent] })
    }
}

words! {
    /// What a problem does.
    Level {
        /// It cannot be; the entry is not signed.
        Refuse = "refuse",
        /// It is unusual; type it again or give a reason.
        Ask = "ask",
    }
}

/// Something that does not fit in an entry.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Problem {
    /// Stable id, for tests and translations.
    pub id: &'static str,
    /// Where: JSON Pointer into the data, or into the head with a leading `head`.
    pub field: String,
    /// In plain words.
    pub text: String,
    /// Refuse or ask.
    pub level: Level,
}

/// The problems found so far.
#[derive(Debug, Default)]
pub struct Problems(Vec<Problem>);

impl Problems {
    /// Adds one that cannot be.
    pub fn refuse(&mut self, id: &'static str, field: impl Into<String>, text: impl Into<String>) {
        self.0.push(Problem { id, field: field.into(), text: text.into(), level: Level::Refuse });
    }
    /// Adds one that is unusual.
    pub fn ask(&mut self, id: &'static str, field: impl Into<String>, text: impl Into<String>) {
        self.0.push(Problem { id, field: field.into(), text: text.into(), level: Level::Ask });
    }
    /// All of them, in the order found.
    pub fn into_vec(self) -> Vec<Problem> {
        self.0
    }
}

/// The cheap checks of one kind: what cannot be, seen from the entry alone.
pub trait Check {
    /// Adds every problem found.
    fn check(&self, _head: &Record, _problems: &mut Problems) {}

    /// The earliest edition of its layout that holds these data. They are written in it, so that what an older
    /// program can read, it reads.
    fn edition(&self) -> u32 {
        1
    }
}

/// Refuses an empty text.
pub(crate) fn blank(text: &str, field: &str, problems: &mut Problems) {
    if text.trim().is_empty() {
        problems.refuse("blank", field, "it is empty: write it, or say why there is none");
    }
}

/// Refuses a last day before the first.
pub(crate) fn day_order(first: Option<Day>, last: Option<Day>, field: &str, problems: &mut Problems) {
    if let (Some(first), Some(last)) = (first, last)
        && last < first
    {
        problems.refuse("dates-order", field, "the last day is before the first");
    }
}

/// Refuses a missing side where the structure has sides, and a midline where there is none.
pub(crate) fn sided(
    region: Region,
    segments: &[Segment],
    side: Option<Side>,
    field: &str,
    problems: &mut Problems,
) {
    let sided = !region.spans_midline() || segments.iter().any(|segment| segment.order().is_none());
    match side {
        None if sided => problems.refuse(
            "side-missing",
            field,
            "the side is missing: this structure has a left and a right",
        ),
        Some(Side::Midline) if sided => {
            problems.refuse("no-midline", field, "this structure has no midline: say left, right or both");
        }
        _ => {}
    }
}

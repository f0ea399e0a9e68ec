//! The record: what lies sealed in the body of one entry of the ledger.
//!
//! Sequence numbers, digests and the chain belong to the leaf, not here. The fields are
//! written in the order they are declared, and the bytes are kept as they were written.

use super::moment::Moment;
use schemars::JsonSchema;
use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// Declares an enum of fixed words that keeps a word it does not know, so that a record
/// written by a later program can still be read and shown.
macro_rules! open_words {
    ($(#[$meta:meta])* $name:ident { $($(#[$vmeta:meta])* $variant:ident = $word:literal),+ $(,)? }) => {
        $(#[$meta])*
        #[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum $name {
            $($(#[$vmeta])* $variant,)+
            /// A word of a later program.
            Other(String),
        }
        impl $name {
            /// The word as it is written in a record.
            pub fn word(&self) -> &str {
                match self { $($name::$variant => $word,)+ $name::Other(word) => word }
            }
            /// The value for a word.
            pub fn from_word(word: &str) -> Self {
                match word { $($word => $name::$variant,)+ other => $name::Other(other.to_string()) }
            }
        }
        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result { f.write_str(self.word()) }
        }
        impl Serialize for $name {
            fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                serializer.serialize_str(self.word())
            }
        }
        impl<'de> Deserialize<'de> for $name {
            fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                let word = String::deserialize(deserializer)?;
                let shaped = !word.is_empty()
                    && word.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-');
                if !shaped {
                    return Err(serde::de::Error::custom("a word has small letters, digits and hyphens only"));
                }
                Ok($name::from_word(&word))
            }
        }
        impl JsonSchema for $name {
            fn schema_name() -> std::borrow::Cow<'static, str> { stringify!($name).into() }
            fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
                schemars::json_schema!({
                    "type": "string",
                    "pattern": "^[a-z0-9-]+$",
                    "examples": [$($word),+],
                })
            }
        }
    };
}

/// One record: the head every entry has, and the data of its kind.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Record {
    /// Kind of entry.
    pub kind: String,
    /// Edition of the layout of its data; 1 or more.
    pub edition: u32,
    /// The ledger it was written for (its random label).
    pub ledger: String,
    /// Random tag of the chart; absent for entries outside any chart.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub chart: Option<String>,
    /// When it happened.
    pub happened: Happened,
    /// When it was written, by the station's clock.
    pub written: Moment,
    /// Where it was written: desk, room 1, laptop.
    pub station: String,
    /// Who answers for the words.
    pub author: Person,
    /// Who typed it, if not the author.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub entered_by: Option<Person>,
    /// The author's signature.
    pub signed: Signature,
    /// A second signature, where a rule asks for two.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub second: Option<Signature>,
    /// Labels. Computed, never typed.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub labels: Vec<Label>,
    /// Entries it refers to, with the digest of each leaf.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub refers: Vec<Reference>,
    /// The data, in the layout of kind and edition.
    pub data: serde_json::Value,
}

/// When something happened: local time with offset.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Happened {
    /// Start, or the one moment.
    pub start: Moment,
    /// End, where it took time.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub end: Option<Moment>,
    /// True when the time is approximate.
    #[serde(default, skip_serializing_if = "is_false")]
    pub about: bool,
}

fn is_false(flag: &bool) -> bool {
    !*flag
}

/// A person of the practice, as named on an entry.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Person {
    /// Staff code.
    pub code: String,
    /// Full name.
    pub name: String,
    /// Role on that day.
    pub role: String,
}

/// A signature: who, in what role, when, and what it means.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Signature {
    /// Staff code of who signed.
    pub by: String,
    /// Full name.
    pub name: String,
    /// Role on that day.
    pub role: String,
    /// When it was signed.
    pub at: Moment,
    /// What the signature means.
    pub meaning: Meaning,
}

super::vocab::words! {
    /// What a signature means.
    Meaning { Wrote = "wrote", Checked = "checked", Witnessed = "witnessed", Entered = "entered" }
}

open_words! {
    /// A label the program puts on an entry, for ever.
    Label {
        /// Written later than the rules allow.
        LateEntry = "late-entry",
        /// Written on a later day, but not late.
        FinishedNextDay = "finished-next-day",
        /// Written after a notice of claim or complaint.
        AfterNotice = "after-notice",
        /// Written while, or after, a legal hold was placed.
        AfterHold = "after-hold",
        /// Written at a locked desk, so that what the chart says was not read: a label that rests on it may
        /// stand although its reason is over.
        DeskLocked = "desk-locked",
        /// Written after a request for records came in.
        AfterRequest = "after-request",
        /// A procedure before the consent or the asking it rests on.
        ProcedureBeforeConsent = "procedure-before-consent",
        /// A procedure after a withdrawal that covers it.
        ProcedureAfterWithdrawal = "procedure-after-withdrawal",
        /// A procedure no consent covers.
        ProcedureNotCovered = "procedure-not-covered",
        /// What was agreed could not be looked up when it was signed.
        CoverageUnknown = "coverage-unknown",
        /// A consent written after the visit ended.
        ConsentAfterVisit = "consent-after-visit",
        /// A consent without the interpreter the chart asks for.
        InterpreterMissing = "interpreter-missing",
        /// The witness is the practitioner.
        WitnessIsPractitioner = "witness-is-practitioner",
        /// A region treated without a finding that day.
        NoFindingForRegion = "no-finding-for-region",
        /// Written again from another chart.
        ReEntered = "re-entered",
        /// Holds parts taken over from an earlier note.
        CarriedForward = "carried-forward",
        /// Typed by somebody other than the author.
        EnteredByScribe = "entered-by-scribe",
        /// The station's clock was earlier than the entry before.
        ClockBehind = "clock-behind",
        /// Covered by a remark about a wrong clock.
        ClockRemarked = "clock-remarked",
        /// Brought in from an earlier system or from paper.
        Imported = "imported",
        /// Signed when the licence of its author, or of somebody who treated, was over by the roster.
        LicenceOver = "licence-over",
        /// Signed with the custodian's reason although something stood against it.
        WithCustodiansReason = "with-custodians-reason",
    }
}

/// A pointer to another entry.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Reference {
    /// Register-wide number of the entry.
    pub seq: u64,
    /// BLAKE3 of its leaf, hex, so the pointer can't be bent.
    pub leaf: String,
    /// Why it is referred to.
    pub why: RefWhy,
}

open_words! {
    /// Why an entry refers to another.
    RefWhy {
        /// It belongs to this visit.
        Visit = "visit",
        /// It corrects that entry.
        Corrects = "corrects",
        /// It adds to that entry.
        AddsTo = "adds-to",
        /// It rests on that consent.
        RestsOn = "rests-on",
        /// It answers that entry.
        Answers = "answers",
        /// It closes or ends that entry.
        Closes = "closes",
        /// It takes that entry's place from its own time on.
        Replaces = "replaces",
        /// It was written again from that entry.
        ReEnteredFrom = "re-entered-from",
        /// That entry belongs to another chart.
        BelongsElsewhere = "belongs-elsewhere",
        /// It is an attachment of that entry, or the other way round.
        Attached = "attached",
        /// It is shown for information.
        SeeAlso = "see-also",
    }
}

/// Why bytes are not a record.
#[derive(Debug, thiserror::Error)]
#[error(
    "this is not a record this program can read: {0}. Nothing was changed; check the copy, or use a later program"
)]
pub struct RecordError(pub String);

impl Record {
    /// The bytes to be sealed: compact JSON in declared order, no line end.
    ///
    /// # Errors
    /// Only when the data holds something JSON can't, which no value read from JSON does.
    pub fn to_bytes(&self) -> Result<Vec<u8>, RecordError> {
        serde_json::to_vec(self).map_err(|error| RecordError(error.to_string()))
    }

    /// Reads a record from its bytes.
    ///
    /// # Errors
    /// When the bytes are not one JSON object with exactly the fields of a record. The text
    /// names fields and positions, never what stands in them.
    pub fn from_bytes(bytes: &[u8]) -> Result<Record, RecordError> {
        serde_json::from_slice(bytes).map_err(|error| {
            let what = match error.classify() {
                serde_json::error::Category::Data => {
                    "a field of the head is missing, unknown or of another form"
                }
                serde_json::error::Category::Syntax | serde_json::error::Category::Io => "it is not JSON",
                serde_json::error::Category::Eof => "it ends too early",
            };
            RecordError(format!("{what} (at byte {})", error.column()))
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const ASKED: &str = include_str!("../../tests/data/records/asked.json");

    #[test]
    fn a_record_is_written_as_it_was_read() {
        let compact = serde_json::from_str::<serde_json::Value>(ASKED).unwrap().to_string();
        let mut record = Record::from_bytes(ASKED.as_bytes()).unwrap();
        assert_eq!(String::from_utf8(record.to_bytes().unwrap()).unwrap(), compact);
        // Only a time that is not exact says so.
        assert!(!compact.contains("\"about\""));
        record.happened.about = true;
        let text = String::from_utf8(record.to_bytes().unwrap()).unwrap();
        assert!(text.contains("\"about\":true"), "{text}");
        assert_eq!(Record::from_bytes(text.as_bytes()).unwrap(), record);
    }

    #[test]
    fn what_is_no_record_is_told_by_where_it_ends_or_errs() {
        let error = |bytes: &str| Record::from_bytes(bytes.as_bytes()).unwrap_err().0;
        assert_eq!(error("{\"kind\""), "it ends too early (at byte 7)");
        assert_eq!(error("secret"), "it is not JSON (at byte 1)");
        let what = "a field of the head is missing, unknown or of another form";
        assert_eq!(error("{\"secret\":1}"), format!("{what} (at byte 9)"));
        assert_eq!(error("{}"), format!("{what} (at byte 2)"));
    }
}

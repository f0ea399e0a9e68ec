//! The rules file as a person writes it: TOML with these tables. Kept for its schema; what is adopted is
//! read by [`super::read`].

use super::{
    AdoptedRules, Holiday, LetterRules, ListRules, NoteRules, PayerRules, Policy, QuestionRules, StationRules,
};
use crate::record::closing::ClosingRule;
use schemars::JsonSchema;
use serde::Deserialize;
use std::collections::BTreeMap;

/// A rules file. TOML has no null: a technique or region left out means any, and the word `none` beside an
/// item of a screen means that it raises no red flag.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RulesFileText {
    /// Name of the rule set.
    pub name: String,
    /// Edition, as quoted by every answer. A changed text needs another one.
    pub edition: String,
    /// Where the rules come from and the date that was read.
    #[serde(default)]
    pub source: Option<String>,
    /// First day it applies; not before the day it is adopted. Without it, that day.
    #[serde(default)]
    pub effective: Option<String>,
    /// What the coverage question uses.
    pub coverage: Policy,
    /// What a note needs before it is signed.
    pub note: NoteRules,
    /// What a payer asks for.
    pub payer: PayerRules,
    /// Values worth a question.
    pub questions: QuestionRules,
    /// Days ahead, and days until something is due.
    pub lists: ListRules,
    /// Unlocking and signing at a station.
    pub station: StationRules,
    /// Which published rules the practice made its own.
    pub adopted: AdoptedRules,
    /// What letters name: contacts, and the authority that takes complaints.
    #[serde(default)]
    pub letters: LetterRules,
    /// Days that are no working days, each with its source and the day that was read. Without it, Saturdays and
    /// Sundays alone are none.
    #[serde(default)]
    pub holidays: Vec<Holiday>,
    /// Notices when the records pass to somebody else, each with its source and the day that was read.
    #[serde(default)]
    pub closing: Vec<ClosingRule>,
    /// Where each number comes from: a section, or a value in it written `section.value`, and its source or
    /// "practice's own choice".
    pub basis: BTreeMap<String, String>,
    /// Published tables in the practice's own edition: `trade`, `deadlines`, `retention`, each as
    /// `inkfast rules example` prints it. Without them, what the program ships is adopted in full.
    #[serde(default)]
    pub tables: BTreeMap<String, serde_json::Value>,
}

//! The tables of `deadlines.toml`.

use serde::{Deserialize, Serialize};
use serde_json::Value;

/// The tables of `deadlines.toml`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Clocks(pub Value);

/// Rules for entries made late, of `[late_entry]`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LateEntryRule {
    /// Days after the service within which an entry is taken.
    pub limit_days: i64,
    /// What it must come before: claim, records_request.
    #[serde(default)]
    pub before: Vec<String>,
}

impl Clocks {
    /// The late-entry rule of this id, where it states days. None where there is no such rule.
    pub fn late_entry(&self, id: &str) -> Option<LateEntryRule> {
        let rule = self.0.get("late_entry")?.get(id)?;
        serde_json::from_value(rule.clone()).ok()
    }
}

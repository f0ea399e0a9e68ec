//! The tables of `retention.toml`.

use serde::{Deserialize, Serialize};
use serde_json::Value;

/// The tables of `retention.toml`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct RetentionRules(pub Value);

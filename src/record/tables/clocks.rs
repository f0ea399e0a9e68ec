//! The tables of `deadlines.toml`.

use serde::{Deserialize, Serialize};
use serde_json::Value;

/// The tables of `deadlines.toml`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Clocks(pub Value);

//! The tables of `trade.toml`.

use serde::{Deserialize, Serialize};
use serde_json::Value;

/// The tables of `trade.toml`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct TradeTables(pub Value);

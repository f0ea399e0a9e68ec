//! The published figures the program ships: limits on typed values, thresholds of change, regions and
//! levels, clocks, retention rules. Each is a text a practice may read at its source, edit and adopt.

pub mod clocks;
pub mod copying;
pub mod disclosure;
pub mod retention;
pub mod source;
pub mod toml_json;
pub mod trade;

use serde_json::Value;
use std::sync::OnceLock;

/// Limits, thresholds, regions, levels, disclosures, authorizations, fees, de-identification.
pub const TRADE: &str = include_str!("trade.toml");
/// Clocks of requests.
pub const DEADLINES: &str = include_str!("deadlines.toml");
/// How long a chart is kept.
pub const RETENTION: &str = include_str!("retention.toml");

/// Every table, in the form the rules of the trade read.
#[derive(Debug, Clone, PartialEq)]
pub struct Tables {
    /// From `trade.toml`.
    pub trade: trade::TradeTables,
    /// From `deadlines.toml`.
    pub clocks: clocks::Clocks,
    /// From `retention.toml`.
    pub retention: retention::RetentionRules,
}

impl Tables {
    /// Reads the tables from a rules document: members `trade`, `deadlines` and `retention`.
    ///
    /// # Errors
    /// What is wrong, and in which table.
    pub fn read(document: &Value) -> Result<Tables, String> {
        let part = |name: &str| document.get(name).cloned().ok_or(format!("the table {name} is missing"));
        Ok(Tables {
            trade: serde_json::from_value(part("trade")?).map_err(|e| format!("trade: {e}"))?,
            clocks: serde_json::from_value(part("deadlines")?).map_err(|e| format!("deadlines: {e}"))?,
            retention: serde_json::from_value(part("retention")?).map_err(|e| format!("retention: {e}"))?,
        })
    }

    /// The tables as they are shipped, as one JSON document.
    ///
    /// # Errors
    /// Only if the shipped texts are not TOML, which a test rules out.
    pub fn shipped_document() -> Result<Value, String> {
        let read = toml_json::read;
        Ok(serde_json::json!({
            "trade": read(TRADE)?, "deadlines": read(DEADLINES)?, "retention": read(RETENTION)?,
        }))
    }

    /// The tables as they are shipped.
    ///
    /// # Errors
    /// As [`Tables::shipped_document`].
    pub fn shipped() -> Result<&'static Tables, String> {
        static SHIPPED: OnceLock<Result<Tables, String>> = OnceLock::new();
        SHIPPED.get_or_init(|| Tables::read(&Tables::shipped_document()?)).as_ref().map_err(String::clone)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_shipped_tables_read() {
        let document = Tables::shipped_document().unwrap();
        assert!(document["trade"]["limit"].as_array().unwrap().len() > 10);
        assert_eq!(document["deadlines"]["read_on"], "2026-11-25");
        Tables::read(&document).unwrap();
    }
}

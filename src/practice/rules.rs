//! The practice's rules: read from a file, checked, adopted by signature. What was answered under an
//! earlier edition stays as it was answered.

use super::open::Practice;
use crate::record::coverage::facts::Policy;
use crate::record::kinds::Day;
use crate::record::kinds::register::Rules;
use crate::trouble::{Outcome, Trouble};
use serde_json::Value;

/// An example rules file with invented values, to be edited and adopted.
pub const EXAMPLE: &str = include_str!("rules-example.json");

/// Reads a rules file and makes the entry that adopts it.
///
/// # Errors
/// When it is not a rules file, or its coverage part can't be used.
pub fn adopt(text: &str, practice: &Practice) -> Outcome<Rules> {
    let wrong = |why: String| {
        Trouble::input(
            format!("This rules file can't be adopted: {why}"),
            "Compare it with `inkfast rules example`.",
        )
    };
    let file: Value = serde_json::from_str(text)
        .map_err(|e| wrong(format!("it is not JSON (line {}, column {}).", e.line(), e.column())))?;
    let field = |name: &str| file.get(name).and_then(Value::as_str).map(str::to_string);
    let missing = |name: &str| wrong(format!("\"{name}\" is missing."));
    let document = file.get("rules").cloned().ok_or_else(|| missing("rules"))?;
    let coverage = document.get("coverage").cloned().ok_or_else(|| missing("rules.coverage"))?;
    let policy: Policy =
        serde_json::from_value(coverage).map_err(|e| wrong(format!("rules.coverage: {e}.")))?;
    let effective = match field("effective") {
        Some(text) => crate::record::moment::parse_date(&text)
            .ok_or_else(|| wrong("\"effective\" is not a date like 2025-03-11.".to_string()))?,
        None => practice.now().local_date(),
    };
    Ok(Rules {
        name: field("name").ok_or_else(|| missing("name"))?,
        edition: policy.edition.clone(),
        effective: Day(effective),
        adopted_by: practice.session.me.code.clone(),
        source: field("source"),
        replaces: practice.rules().map(|r| r.edition.clone()),
        document,
    })
}

//! The topic part: do the findings show what Medicare's test, and Oregon's, ask for?

use super::{ReckonError, input, output};
use crate::record::tables::Tables;
use crate::record::tables::trade::{FindingsTest, PartTables};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use std::collections::BTreeSet;

/// The findings made.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct Findings {
    /// Letters, in any order, repeats allowed.
    pub found: Vec<String>,
    /// True if an X-ray inside its window shows it.
    pub xray_in_window: Option<bool>,
}

/// Which tests are met.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Met {
    /// Medicare's.
    pub medicare: bool,
    /// Oregon's.
    pub oregon: bool,
}

/// Whether the findings meet one test.
pub fn meets(test: &FindingsTest, found: &BTreeSet<String>, xray_in_window: bool) -> bool {
    let counted = found.iter().filter(|letter| test.of.contains(letter)).count();
    let needed = test.one_of.is_empty() || test.one_of.iter().any(|letter| found.contains(letter));
    (counted >= test.at_least && needed) || (test.or_instead.is_some() && xray_in_window)
}

/// Judges both tests.
///
/// # Errors
/// A letter that stands for no finding.
pub fn judge(findings: &Findings, tables: &PartTables) -> Result<Met, ReckonError> {
    let found: BTreeSet<String> =
        findings.found.iter().map(|letter| letter.trim().to_ascii_uppercase()).collect();
    if found.iter().any(|letter| !tables.letters.contains_key(letter)) {
        let known: Vec<&str> = tables.letters.keys().map(String::as_str).collect();
        return Err(ReckonError(format!("\"found\": a letter is none of {}", known.join(", "))));
    }
    let xray = findings.xray_in_window.unwrap_or(false);
    Ok(Met { medicare: meets(&tables.medicare, &found, xray), oregon: meets(&tables.oregon, &found, xray) })
}

/// Answers.
///
/// # Errors
/// The input is not a list of findings.
pub fn answer(value: &Value, tables: &Tables) -> Result<Value, ReckonError> {
    output(&judge(&input(value)?, &tables.trade.part)?)
}

/// The answer for a person.
///
/// # Errors
/// As [`answer`].
pub fn plain(value: &Value, tables: &Tables) -> Result<Vec<String>, ReckonError> {
    let findings: Findings = input(value)?;
    let part = &tables.trade.part;
    let met = judge(&findings, part)?;
    let mut lines = Vec::new();
    for letter in findings.found.iter().map(|l| l.trim().to_ascii_uppercase()).collect::<BTreeSet<_>>() {
        lines.push(format!("{letter}: {}", part.letters.get(&letter).map_or("", String::as_str)));
    }
    for (name, test, met) in
        [("Medicare", &part.medicare, met.medicare), ("Oregon", &part.oregon, met.oregon)]
    {
        let one_of = match test.one_of.as_slice() {
            [] => String::new(),
            letters => format!(", one of them {}", letters.join(" or ")),
        };
        let instead = test.or_instead.as_ref().map(|words| format!("; or {words}")).unwrap_or_default();
        lines.push(format!(
            "{name}: {} ({} of {}{one_of}{instead})",
            if met { "yes" } else { "no" },
            test.at_least,
            test.of.join(", "),
        ));
    }
    Ok(lines)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn met(found: &[&str], xray: bool) -> (bool, bool) {
        let findings =
            Findings { found: found.iter().map(|l| (*l).to_string()).collect(), xray_in_window: Some(xray) };
        let met = judge(&findings, &Tables::shipped().unwrap().trade.part).unwrap();
        (met.medicare, met.oregon)
    }

    #[test]
    fn different_letters_count_and_s_counts_in_oregon_only() {
        assert_eq!(met(&["A", "A", "a"], false), (false, false));
        assert_eq!(met(&["A", "S"], false), (false, true));
        assert_eq!(met(&["P", "T", "S"], false), (false, true));
        assert_eq!(met(&["A", "R"], false), (true, true));
        assert_eq!(met(&["T", "A", "S"], false), (true, true));
        assert_eq!(met(&[], true), (true, false));
    }

    #[test]
    fn a_letter_that_stands_for_nothing_is_refused() {
        let findings = Findings { found: vec!["X".into()], xray_in_window: None };
        assert!(judge(&findings, &Tables::shipped().unwrap().trade.part).is_err());
    }
}

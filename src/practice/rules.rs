//! The practice's rules: read from a file, checked, adopted by signature. What was answered under an
//! earlier edition stays as it was answered.

use super::open::Practice;
use crate::record::kinds::Day;
use crate::record::kinds::register::Rules;
use crate::record::moment::parse_date;
use crate::record::rulebook::read::file;
use crate::trouble::{Outcome, Trouble};

/// Reads a rules file and makes the entry that adopts it.
///
/// # Errors
/// When it is not a rules file, or a section of it can't be used.
pub fn adopt(text: &str, practice: &Practice) -> Outcome<Rules> {
    let wrong = |why: String| {
        Trouble::input(
            format!("This rules file can't be adopted: {why}."),
            "Compare it with `inkfast rules example`.",
        )
    };
    let file = file(text).map_err(wrong)?;
    let effective = match file.effective {
        Some(text) => parse_date(&text)
            .ok_or_else(|| wrong("\"effective\" is not a date like 2025-03-11".to_string()))?,
        None => practice.now().local_date(),
    };
    Ok(Rules {
        name: file.name,
        edition: file.edition,
        effective: Day(effective),
        adopted_by: practice.session.me.code.clone(),
        source: file.source,
        replaces: practice.rules().map(|r| r.edition.clone()),
        document: file.document,
    })
}

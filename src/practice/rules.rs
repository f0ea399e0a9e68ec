//! The practice's rules: read from a file, checked, adopted by signature. What was answered under an
//! earlier edition stays as it was answered.

use super::open::Practice;
use super::staff::is_custodian;
use crate::record::kinds::Day;
use crate::record::kinds::register::Rules;
use crate::record::moment::parse_date;
use crate::record::rulebook::read::file;
use crate::trouble::{Kind, Outcome, Trouble};

/// Why a rules file can't be adopted.
pub fn not_adoptable(why: String) -> Trouble {
    Trouble::input(
        format!("This rules file can't be adopted: {why}."),
        "Compare it with `inkfast rules example`.",
    )
}

/// Reads a rules file and makes the entry that adopts it.
///
/// # Errors
/// When it is not a rules file, a value in it can't be used, it would apply to days gone by, or another
/// edition of that name was adopted: then nobody could say which of the two an answer was given by.
pub fn adopt(text: &str, practice: &Practice) -> Outcome<Rules> {
    let file = file(text).map_err(not_adoptable)?;
    if !is_custodian(practice) {
        return Err(Trouble::new(
            Kind::Refused,
            "Only the keeper of the records adopts rules.",
            "Nothing was recorded.",
            "Ask the keeper of the records to adopt them.",
        ));
    }
    let today = practice.now().local_date();
    let effective = match file.effective {
        Some(text) => parse_date(&text)
            .ok_or_else(|| not_adoptable("\"effective\" is not a date like 2025-03-11".to_string()))?,
        None => today,
    };
    if effective < today {
        return Err(not_adoptable(
            "it would apply to days gone by; leave \"effective\" out, or name today or a later day"
                .to_string(),
        ));
    }
    let twice = practice.editions().iter().any(|r| r.edition == file.edition && r.document != file.document);
    if twice {
        return Err(not_adoptable(format!(
            "edition {} was adopted with other values; give the changed text another edition",
            file.edition
        )));
    }
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

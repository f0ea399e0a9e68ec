//! What somebody who leaves would leave behind: unsigned drafts, open matters, duties. Each with what to do about it
//! while they are still here, since what they keep unsigned opens to nobody but them.

use super::chart::faces;
use super::lists::{Listed, gather};
use super::open::{Draft, Practice};
use super::staff::is_custodian;
use crate::ledger::write::Receipt;
use crate::record::kinds::register::{CheckKind, CheckMade, KeyRole};
use crate::record::kinds::{Day, KINDS, Place, title};
use crate::record::vocab::words;
use crate::trouble::{Kind, Outcome, Trouble};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

words! {
    /// What sort of thing is left.
    Left {
        /// An unsigned draft.
        Draft = "draft",
        /// Something open that they began.
        OpenItem = "open-item",
        /// A duty that somebody else has to take on.
        Duty = "duty",
    }
}

/// One thing that is left.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct LeftOpen {
    /// What sort of thing.
    pub what: Left,
    /// Number of the chart; null outside any.
    pub chart: Option<String>,
    /// Number of the entry it stems from; null for a draft or a duty.
    pub entry: Option<u64>,
    /// Day it is due; null where none is set.
    pub due: Option<Day>,
    /// In plain words.
    pub words: String,
    /// What to do.
    pub remedy: String,
}

/// Everything that a person would leave behind today, drafts first.
///
/// # Errors
/// When nobody has this code, an entry can't be read, or the adopted rules can't be used.
pub fn left_open(practice: &Practice, code: &str) -> Outcome<Vec<LeftOpen>> {
    if practice.staff_line(code).is_none() {
        return Err(Trouble::new(
            Kind::NotFound,
            "Nobody with this staff code is on the roster.",
            "Nothing was written.",
            "Look at `inkfast roster list`.",
        ));
    }
    let mut left = drafts(practice, code)?;
    let list = gather(practice, None, practice.now().local_date())?;
    for listed in list.items {
        if began_by(practice, &listed, code)? {
            left.push(LeftOpen {
                what: Left::OpenItem,
                chart: listed.item.chart,
                entry: listed.item.entry,
                due: listed.item.due,
                words: format!("{}: {}", listed.item.kind.heading(), listed.item.words),
                remedy: format!("close it, or hand it to somebody: {}", listed.item.remedy),
            });
        }
    }
    left.extend(duties(practice, code));
    Ok(left)
}

/// Where a draft lies follows from whose it is, of what kind and for which chart: so it is known that it is there,
/// although it opens to nobody else.
fn drafts(practice: &Practice, code: &str) -> Outcome<Vec<LeftOpen>> {
    let mut left = Vec::new();
    let mut look = |tag: Option<&str>, chart: Option<&str>, kind: &str| -> Outcome<()> {
        if practice.keeps_draft(code, kind, tag)? {
            left.push(draft(code, kind, chart));
        }
        Ok(())
    };
    for face in faces(practice)? {
        for row in KINDS.iter().filter(|row| row.place != Place::Nowhere) {
            look(Some(&face.tag), Some(&face.chart_no), row.word)?;
        }
    }
    // A chart that is not open yet has no tag.
    for row in KINDS {
        look(None, None, row.word)?;
    }
    Ok(left)
}

fn draft(code: &str, kind: &str, chart: Option<&str>) -> LeftOpen {
    let remedy = match (kind, chart) {
        ("visit", Some(chart)) => format!(
            "{code} signs it before leaving: inkfast sign {chart}; later, whoever was there writes a late entry"
        ),
        _ => format!("{code} goes on with it and signs, or stops it; after the last day it opens to nobody"),
    };
    LeftOpen {
        what: Left::Draft,
        chart: chart.map(str::to_string),
        entry: None,
        due: None,
        words: format!("unsigned: {}", title(kind)),
        remedy,
    }
}

fn began_by(practice: &Practice, listed: &Listed, code: &str) -> Outcome<bool> {
    let Some(seq) = listed.item.entry else { return Ok(false) };
    let entry = practice.entry_by_seq(seq)?;
    Ok(entry.leaf.author == code)
}

fn duties(practice: &Practice, code: &str) -> Vec<LeftOpen> {
    let duty = |words: String, remedy: String| LeftOpen {
        what: Left::Duty,
        chart: None,
        entry: None,
        due: None,
        words,
        remedy,
    };
    let mut left = Vec::new();
    let line = practice.staff_line(code);
    for what in line.into_iter().flat_map(|line| &line.desk_duties) {
        left.push(duty(
            format!("duty: {what}"),
            format!("give it to somebody: inkfast roster change CODE --duties \"{what}\""),
        ));
    }
    for other in practice.staff().iter().filter(|other| other.supervisor.as_deref() == Some(code)) {
        left.push(duty(
            format!("supervises {}", other.code),
            format!("name another: inkfast roster change {} --supervisor CODE", other.code),
        ));
    }
    if practice.keys().newest(code).is_some_and(|key| key.roles.contains(&KeyRole::Custodian)) {
        left.push(duty(
            "keeps the records".to_string(),
            "hand them over: inkfast custody hand-over --to CODE".to_string(),
        ));
    }
    left
}

/// Records that the list was gone through, and what stood on it.
///
/// # Errors
/// When the person here does not keep the records, or the entry can't be written.
pub fn sign_off(practice: &mut Practice, code: &str, left: &[LeftOpen]) -> Outcome<Receipt> {
    if !is_custodian(practice) {
        return Err(Trouble::new(
            Kind::Refused,
            "Only the keeper of the records signs off what a leaver leaves.",
            "Nothing was recorded.",
            "Ask the keeper of the records to do this.",
        ));
    }
    let said = |one: &LeftOpen| match &one.chart {
        Some(chart) => format!("{chart}: {}", one.words),
        None => one.words.clone(),
    };
    let listed: Vec<String> = left.iter().map(said).collect();
    let check = CheckMade {
        what: CheckKind::LeaverList,
        entries: None,
        slips_compared: None,
        found: match listed.is_empty() {
            true => format!("{code} leaves nothing unsigned and nothing open."),
            false => format!("{code} leaves {} things: {}.", listed.len(), listed.join("; ")),
        },
        sound: left.is_empty(),
        printed: None,
        follow_up: (!left.is_empty()).then(|| "Each to be signed, closed or handed on.".to_string()),
        month: None,
        openings: None,
        answers: Vec::new(),
    };
    let now = practice.now();
    practice.append(Draft::new(None, check.into(), now))
}

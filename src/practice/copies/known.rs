//! Which safe copies there are, as the ledger knows them: made when, kept where and until when, or gone.

use super::folder::Copied;
use crate::ledger::write::Receipt;
use crate::practice::open::{Draft, Practice};
use crate::record::calendar::days_from;
use crate::record::kinds::Data;
use crate::record::kinds::common::Day;
use crate::record::kinds::copies::{CopyOn, CopyState, SafeCopy};
use crate::record::kinds::register::{CheckKind, CheckMade};
use crate::record::moment::{Date, Moment};
use crate::record::open_items::{ItemKind, OpenItem};
use crate::record::rulebook::ListRules;
use crate::trouble::{Kind, Outcome, Trouble};

/// A safe copy as the ledger knows it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Known {
    /// Its label.
    pub label: String,
    /// The owner's name for the place where it is kept.
    pub place: String,
    /// On what it lies.
    pub on: CopyOn,
    /// When it was last made.
    pub made: Moment,
    /// Number of the entry that says so.
    pub entry: u64,
    /// How many entries it holds.
    pub entries: u64,
    /// Last day on which it is kept, as far as it was said.
    pub keep_until: Option<Day>,
    /// Since when it is gone, and why.
    pub gone: Option<(Moment, String)>,
}

/// Every safe copy on record, in the order in which they were first made.
///
/// # Errors
/// When the register can't be read.
pub fn known(practice: &Practice) -> Outcome<Vec<Known>> {
    let mut known: Vec<Known> = Vec::new();
    for entry in practice.register_of(&["safe-copy"])? {
        let Some(Data::SafeCopy(said)) = entry.data() else { continue };
        let at = known.iter().position(|one| one.label == said.copy);
        let when = entry.leaf.written;
        match (said.state, at) {
            (CopyState::Gone, Some(at)) => known[at].gone = Some((when, said.because.unwrap_or_default())),
            (CopyState::Gone, None) => {}
            (CopyState::Made, at) => {
                let now = Known {
                    label: said.copy,
                    place: said.place,
                    on: said.on,
                    made: when,
                    entry: entry.leaf.seq,
                    entries: said.entries.unwrap_or_default(),
                    keep_until: said.keep_until,
                    gone: None,
                };
                match at {
                    Some(at) => known[at] = now,
                    None => known.push(now),
                }
            }
        }
    }
    Ok(known)
}

/// The copy with this place or label.
///
/// # Errors
/// When there is none, or several.
pub fn find(known: &[Known], name: &str) -> Outcome<Known> {
    let same = |copy: &&Known| copy.place.eq_ignore_ascii_case(name.trim()) || copy.label == name.trim();
    let found: Vec<&Known> = known.iter().filter(|copy| copy.gone.is_none()).filter(same).collect();
    match found[..] {
        [one] => Ok(one.clone()),
        [] => Err(Trouble::new(
            Kind::NotFound,
            "No safe copy of that name is on record.",
            "Nothing was recorded.",
            "See `inkfast safecopy list`.",
        )),
        _ => Err(Trouble::input(
            "Several safe copies have that name.",
            "Give the label instead, as `inkfast safecopy list` shows it.",
        )),
    }
}

/// The safe copy that is due on a day, if the rules ask for any.
///
/// # Errors
/// When the register can't be read.
pub fn due(practice: &Practice, rules: &ListRules, day: Date) -> Outcome<Option<OpenItem>> {
    let Some(days) = rules.safe_copy_days else { return Ok(None) };
    let copies = known(practice)?;
    let last = copies.iter().filter(|copy| copy.gone.is_none()).max_by_key(|copy| copy.made);
    let (since, words) = match last {
        Some(copy) => (copy.made, format!("last safe copy {}, {}", copy.made.plain(), copy.place)),
        // Counted from the day on which there was something to lose.
        None => match practice.register_of(&["register-opened"])?.first() {
            Some(first) => (first.leaf.written, "no safe copy was made yet".to_string()),
            None => return Ok(None),
        },
    };
    let due = days_from(since.local_date(), i64::from(days));
    Ok((due <= day).then(|| OpenItem {
        kind: ItemKind::SafeCopy,
        chart: None,
        entry: last.map(|copy| copy.entry),
        due: Some(Day(due)),
        words,
        remedy: "inkfast safecopy FOLDER".to_string(),
    }))
}

/// Records that a copy was made and checked.
///
/// # Errors
/// When it can't be recorded; the copy is there all the same.
pub fn record_made(
    practice: &mut Practice,
    copied: &Copied,
    on: CopyOn,
    place: &str,
    drafts: bool,
    keep_until: Option<Day>,
) -> Outcome<Receipt> {
    let data = SafeCopy {
        state: CopyState::Made,
        copy: copied.label.clone(),
        place: place.to_string(),
        on,
        entries: Some(copied.entries),
        code: Some(copied.code.clone()),
        files: Some(copied.report.files),
        drafts: Some(drafts),
        keep_until,
        because: None,
    };
    append(practice, Data::SafeCopy(Box::new(data)))
}

/// Records that a copy is gone: lost, destroyed, written over.
///
/// # Errors
/// When it can't be recorded.
pub fn record_gone(practice: &mut Practice, copy: &Known, because: &str) -> Outcome<Receipt> {
    let data = SafeCopy {
        state: CopyState::Gone,
        copy: copy.label.clone(),
        place: copy.place.clone(),
        on: copy.on,
        entries: None,
        code: None,
        files: None,
        drafts: None,
        keep_until: None,
        because: Some(because.to_string()),
    };
    append(practice, Data::SafeCopy(Box::new(data)))
}

/// Records that a restore was rehearsed, or done.
///
/// # Errors
/// When it can't be recorded.
pub fn record_check(
    practice: &mut Practice,
    what: CheckKind,
    entries: u64,
    slips: u32,
    found: String,
    sound: bool,
) -> Outcome<Receipt> {
    let data = CheckMade {
        what,
        entries: Some(entries),
        slips_compared: Some(slips),
        found,
        sound,
        printed: None,
        follow_up: None,
        month: None,
        openings: None,
        answers: Vec::new(),
    };
    append(practice, Data::CheckMade(Box::new(data)))
}

fn append(practice: &mut Practice, data: Data) -> Outcome<Receipt> {
    let now = practice.now();
    practice.append(Draft::new(None, data, now))
}

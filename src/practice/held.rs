//! A finished note held back from signing for some minutes: still a draft, and still free to be changed.

use super::drafts::Kept;
use super::open::Practice;
use crate::record::envelope::Happened;
use crate::record::moment::Moment;
use crate::trouble::{Outcome, Trouble};
use serde::{Deserialize, Serialize};
use serde_json::Value;

/// The kind under which the holding is kept beside the draft itself.
pub const KIND: &str = "visit-held";

/// What is kept of a holding.
#[derive(Debug, Clone, Serialize, Deserialize)]
struct Holding {
    /// BLAKE3 of the note as it was finished.
    digest: String,
    /// When the visit happened, as it was then.
    happened: Happened,
    /// Last moment at which it is signed without being looked through again.
    until: Moment,
}

/// A note that was held and not changed since.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Held {
    /// When the visit happened.
    pub happened: Happened,
    /// True while the minutes of the rules have not run out.
    pub in_time: bool,
}

/// In the order of the layout: the order in which a draft was typed says nothing.
fn digest(data: &Value) -> String {
    let note = crate::record::review::draft(data).ok().and_then(|note| serde_json::to_vec(&note).ok());
    blake3::hash(&note.unwrap_or_else(|| data.to_string().into_bytes())).to_hex().to_string()
}

/// Holds a finished note for as long as the rules say. Returns until when.
///
/// # Errors
/// When the rules can't be used or the draft can't be kept.
pub fn hold(practice: &Practice, tag: &str, data: &Value, happened: Happened) -> Outcome<Moment> {
    let minutes = practice.rulebook()?.station.hold_signature_minutes;
    let now = practice.now();
    let until = now.plus_seconds(i64::from(minutes) * 60);
    let holding = Holding { digest: digest(data), happened, until };
    let data = serde_json::to_value(holding)
        .map_err(|e| Trouble::input(e.to_string(), "Sign the note instead of holding it."))?;
    practice.keep_draft(&Kept {
        kind: KIND.to_string(),
        chart: Some(tag.to_string()),
        by: practice.session.me.code.clone(),
        begun: now,
        data,
    })?;
    Ok(until)
}

/// The holding of a note, if it was held as it stands.
///
/// # Errors
/// When the draft can't be read.
pub fn held(practice: &Practice, tag: &str, data: &Value) -> Outcome<Option<Held>> {
    let Some(kept) = practice.draft(KIND, Some(tag))? else { return Ok(None) };
    let holding: Option<Holding> = serde_json::from_value(kept.data).ok();
    Ok(holding
        .filter(|holding| holding.digest == digest(data))
        .map(|holding| Held { happened: holding.happened, in_time: practice.now() <= holding.until }))
}

/// Forgets a holding, once the note is signed.
///
/// # Errors
/// When it can't be removed.
pub fn drop(practice: &Practice, tag: &str) -> Outcome<()> {
    practice.drop_draft(KIND, Some(tag))
}

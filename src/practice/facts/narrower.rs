//! Which live consents of a chart a new one is narrower than, found when it is entered.

use super::consents::{agreed, consent_fact};
use super::items::{Item, Items};
use crate::practice::open::Entry;
use crate::record::coverage::facts::Policy;
use crate::record::coverage::narrower::{Before, narrower_than as narrower};
use crate::record::coverage::time::Now;
use crate::record::kinds::consent::{Consent, ConsentStatus};
use crate::record::kinds::{Data, info};
use crate::record::moment::{Date, Moment};
use crate::trouble::Outcome;

/// Kinds this is worked out from. The desk takes consents too, so nothing here is a content of care.
const KINDS: &[&str] =
    &["misfiled", "consent", "rest-of-earlier", "end-event", "withdrawal", "standing-refusal", "correction"];

/// Numbers of the live consents that `new`, given at `given`, is narrower than. Entries this role does not
/// open (a correction of a note) can't be corrections of a consent and are left out.
///
/// # Errors
/// When an entry can't be read.
pub fn narrower_than(
    chart: &[Entry],
    born: Option<Date>,
    rules: &Policy,
    new: &Consent,
    given: Moment,
) -> Outcome<Vec<u64>> {
    if new.status != ConsentStatus::Signed || !new.is_for_care() {
        return Ok(Vec::new());
    }
    let known = |e: &&Entry| {
        KINDS.contains(&e.leaf.kind.as_str()) && info(&e.leaf.kind).is_some() && e.record.is_some()
    };
    let seen: Vec<Entry> = chart.iter().filter(known).cloned().collect();
    let items = Items::read(&seen, KINDS, Now::new(given, None))?;
    let before = agreed(&items, &[]);
    // Its own number comes when it is sealed: behind all others.
    let item = Item {
        seq: u64::MAX,
        at: given,
        end: None,
        written: given,
        author: String::new(),
        misfiled: false,
        data: None,
        before: Vec::new(),
        held: Vec::new(),
    };
    let Some(fact) = consent_fact(&item, new, "new".to_string()) else { return Ok(Vec::new()) };
    let before = Before {
        consents: &before.consents,
        corrections: &before.corrections,
        withdrawals: &before.withdrawals,
        refusals: &before.refusals,
        born,
    };
    let ids = narrower(&fact, &before, rules);
    Ok(ids.iter().filter_map(|id| id.strip_prefix('e')?.parse().ok()).collect())
}

/// The patient's birth date as it stands in a chart, where it is exact and this role opens it.
pub fn born(chart: &[Entry]) -> Option<Date> {
    chart
        .iter()
        .rev()
        .find_map(|entry| match entry.data() {
            Some(Data::ChartOpened(opened)) => Some(opened.identity.birth_date.date),
            Some(Data::IdentityChanged(changed)) => Some(changed.identity.birth_date.date),
            _ => None,
        })?
        .map(|day| day.0)
}

//! What a lost or stolen computer held, from the ledger alone: counts, kinds and dates, and no name. No key is
//! needed, so it can be said on the day of the theft, from a safe copy.

use super::extent::walk;
use super::files;
use crate::practice::place::Place;
use crate::record::kinds::common::Day;
use crate::record::kinds::title;
use crate::record::moment::{Date, Moment};
use crate::trouble::Outcome;
use crate::world::Disk;
use schemars::JsonSchema;
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};

/// What was on it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Stolen {
    /// Label of the ledger.
    pub ledger: String,
    /// Last day whose entries are counted; null: all.
    pub until: Option<Day>,
    /// How many entries.
    pub entries: u64,
    /// How many charts.
    pub charts: u64,
    /// When the first entry was sealed; null where there is none.
    pub first: Option<Moment>,
    /// When the last entry was sealed; null where there is none.
    pub last: Option<Moment>,
    /// How many entries of each kind, most first.
    pub kinds: Vec<KindHeld>,
    /// How many sealed files (attachments).
    pub attachments: u64,
    /// Their length together, in bytes.
    pub attachment_bytes: u64,
    /// How many people have an identity file in it, each sealed by that person's own passphrase.
    pub people: u64,
    /// How many unsigned drafts lie in the store that this was counted in. They are sealed too.
    pub drafts: u64,
}

/// How many entries of one kind.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct KindHeld {
    /// The kind, in plain words.
    pub kind: String,
    /// How many.
    pub entries: u64,
}

/// Counts what the store holds, up to the end of a day.
///
/// # Errors
/// When the ledger is damaged, or the disk fails.
pub fn what_was_on_it(
    disk: &dyn Disk,
    place: &Place,
    until: Option<Date>,
    progress: &mut dyn FnMut(u64),
) -> Outcome<Stolen> {
    let mut charts: BTreeSet<[u8; 16]> = BTreeSet::new();
    let mut kinds: BTreeMap<String, u64> = BTreeMap::new();
    let (mut entries, mut first, mut last) = (0, None, None);
    // What lies behind the durable end was never acknowledged, but it was on the disk: it is counted as well.
    walk(disk, &place.root, place, progress, &mut |at, leaf, _, _| {
        if until.is_some_and(|day| leaf.written.local_date() > day) {
            return;
        }
        entries += 1;
        charts.extend(at.chart);
        *kinds.entry(leaf.kind.clone()).or_default() += 1;
        first = first.or(Some(leaf.written));
        last = Some(leaf.written);
    })?;
    let mut kinds: Vec<KindHeld> = kinds
        .into_iter()
        .map(|(kind, entries)| KindHeld { kind: title(&kind).to_string(), entries })
        .collect();
    kinds.sort_by(|a, b| b.entries.cmp(&a.entries).then_with(|| a.kind.cmp(&b.kind)));
    let sealed = files::sealed(disk, &place.root)?;
    let mut attachment_bytes = 0;
    for (path, _) in &sealed {
        attachment_bytes += files::length(disk, &place.root.join(path))?;
    }
    let keys = files::names(disk, &place.root.join("keys"))?;
    Ok(Stolen {
        ledger: place.key.name().to_string(),
        until: until.map(Day),
        entries,
        charts: charts.len() as u64,
        first,
        last,
        kinds,
        attachments: sealed.len() as u64,
        attachment_bytes,
        people: keys.iter().filter(|name| name.starts_with("staff-")).count() as u64,
        drafts: files::names(disk, &place.root.join("drafts"))?.len() as u64,
    })
}

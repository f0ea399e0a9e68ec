//! What is withheld, and why; and what of the chart a package holds.

use super::order::{Span, Withhold};
use super::span::within;
use crate::practice::open::Entry;
use crate::practice::reading::misfiled;
use crate::record::kinds::Data;
use crate::record::kinds::release::{Determination, Release, Withheld, WithholdReason};
use crate::trouble::{Kind, Outcome, Trouble};
use std::collections::{BTreeMap, BTreeSet};

/// Why one entry is withheld.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Held {
    pub reason: WithholdReason,
    /// The reason in words, as it stands in the manifest and on the page.
    pub words: String,
    /// The withheld entry that it quotes or adds to.
    pub follows: Option<u64>,
    pub determination: Option<Determination>,
}

/// What of a chart a package holds.
#[derive(Debug, Clone, Default)]
pub(super) struct Selection {
    pub span: Span,
    /// Entries whose contents are not in it.
    pub held: BTreeMap<u64, Held>,
    /// Entries outside what was asked that travel with one that was: number, and which one.
    pub supports: BTreeMap<u64, u64>,
}

impl Selection {
    /// Chooses from the entries in front of a release.
    ///
    /// # Errors
    /// When what is ordered withheld is not in the chart or can't be withheld for that reason.
    pub fn choose(entries: &[Entry], span: &Span, ordered: &[Withhold]) -> Outcome<Selection> {
        let mut held = BTreeMap::new();
        for one in ordered {
            check(entries, one)?;
            let words = in_words(one.reason, one.words.as_deref());
            let determination = one.determination.clone();
            held.insert(one.entry, Held { reason: one.reason, words, follows: None, determination });
        }
        for seq in misfiled(entries) {
            held.entry(seq).or_insert_with(|| Held {
                reason: WithholdReason::Misfiled,
                words: in_words(WithholdReason::Misfiled, None),
                follows: None,
                determination: None,
            });
        }
        follow(entries, &mut held);
        if span.is_limited() {
            let ordered: BTreeSet<u64> = ordered.iter().map(|one| one.entry).collect();
            let along = within(entries, span, 0);
            let left_out = entries.iter().map(|e| e.leaf.seq).filter(|seq| !along.contains_key(seq));
            held.extend(left_out.filter(|seq| !ordered.contains(seq)).map(|seq| (seq, outside())));
        }
        Ok(Selection { span: span.clone(), held, supports: BTreeMap::new() })
    }

    /// As it was recorded with a release. What was recorded as given counts, whatever this program would
    /// choose today.
    pub fn recorded(entries: &[Entry], release: u64, data: &Release) -> Selection {
        let what = &data.what;
        let held = data.withheld.iter().filter_map(|slip| {
            let reason = slip.reason.unwrap_or(WithholdReason::AnotherPerson);
            let (follows, determination) = (slip.follows, slip.determination.clone());
            Some((slip.entry?, Held { reason, words: slip.ground.clone(), follows, determination }))
        });
        let mut selection =
            Selection { span: Span::default(), held: held.collect(), supports: BTreeMap::new() };
        if what.entry_list.is_empty() {
            return selection;
        }
        selection.span = what.span();
        let before = &entries[..entries.iter().take_while(|e| e.leaf.seq < release).count()];
        let along = within(before, &selection.span, release);
        for entry in before {
            let seq = entry.leaf.seq;
            if !what.entry_list.contains(&seq) {
                selection.held.entry(seq).or_insert_with(outside);
            } else if let Some(about) = along.get(&seq).copied().unwrap_or(Some(release)) {
                selection.supports.insert(seq, about);
            }
        }
        selection
    }

    /// True when the contents of this entry are in the package.
    pub fn gives(&self, seq: u64) -> bool {
        !self.held.contains_key(&seq)
    }

    /// Number and reason of every entry that is held back, for the pages.
    pub fn reasons(&self) -> Vec<(u64, String)> {
        self.held.iter().map(|(seq, held)| (*seq, held.words.clone())).collect()
    }

    /// What the release entry says was withheld: all but what was not asked for.
    pub fn to_record(&self) -> Vec<Withheld> {
        let stands = self.held.iter().filter(|(_, held)| held.reason != WithholdReason::OutsideRequest);
        stands
            .map(|(seq, held)| Withheld {
                entry: Some(*seq),
                ground: held.words.clone(),
                slip: true,
                reason: Some(held.reason),
                follows: held.follows,
                determination: held.determination.clone(),
            })
            .collect()
    }
}

fn outside() -> Held {
    Held {
        reason: WithholdReason::OutsideRequest,
        words: in_words(WithholdReason::OutsideRequest, None),
        follows: None,
        determination: None,
    }
}

/// The reason, and what was added to it.
fn in_words(reason: WithholdReason, more: Option<&str>) -> String {
    match more.map(str::trim).filter(|more| !more.is_empty()) {
        Some(more) => format!("{}: {more}", reason.title()),
        None => reason.title().to_string(),
    }
}

/// What quotes a withheld entry, or adds to it, is withheld with it: a correction holds the words it
/// corrects. What was attached to such an addition stays too. The mark of misfiling itself says nothing.
fn follow(entries: &[Entry], held: &mut BTreeMap<u64, Held>) {
    // What is about an entry stands behind it, so one pass in order finds what hangs on what.
    for entry in entries {
        let (about, papers) = match entry.data() {
            Some(Data::Correction(data)) => (Some(data.target), Vec::new()),
            Some(Data::Addendum(data)) => (Some(data.target), data.attachments),
            Some(Data::LateEntry(data)) => (data.target, Vec::new()),
            _ => (None, Vec::new()),
        };
        let Some(first) = about.and_then(|seq| Some((seq, held.get(&seq)?.clone()))) else { continue };
        let (about, first) = first;
        for seq in papers.into_iter().chain([entry.leaf.seq]) {
            held.entry(seq).or_insert_with(|| Held { follows: Some(about), ..first.clone() });
        }
    }
}

fn check(entries: &[Entry], one: &Withhold) -> Outcome<()> {
    let seq = one.entry;
    let found = entries.iter().find(|e| e.leaf.seq == seq);
    let Some(found) = found else {
        return Err(Trouble::input(
            format!("Entry {seq} is not in this chart, so it can't be withheld from it."),
            "Look its number up with `inkfast print`.",
        ));
    };
    if found.leaf.chart_seq == Some(1) {
        return Err(Trouble::input(
            "The entry that opened the chart says whose chart it is, so it can't be withheld.",
            "Withhold the entries that follow from it, or release nothing.",
        ));
    }
    if one.reason == WithholdReason::OutsideRequest {
        return Err(Trouble::input(
            "What was not asked for is not withheld entry by entry.",
            "Say what was asked for: --from, --until, --kind, or the number of the request.",
        ));
    }
    if one.reason == WithholdReason::LikelyHarm && one.determination.is_none() {
        return Err(Trouble::new(
            Kind::Refused,
            format!(
                "Entry {seq} can't be withheld for likely harm without a licensed professional's determination."
            ),
            "Nothing was recorded.",
            "Give it with --determination NUMBER=NAME,LICENCE,DAY (45 CFR 164.524(a)(3)).",
        ));
    }
    Ok(())
}

/// Nobody releases what their role does not open.
pub(super) fn all_open(entries: &[Entry]) -> Outcome<()> {
    match entries.iter().all(|entry| entry.record.is_some()) {
        true => Ok(()),
        false => Err(Trouble::new(
            Kind::Locked,
            "Your role does not open every entry of this chart, so you can't release it.",
            "Nothing was recorded.",
            "Ask somebody with the clinical role.",
        )),
    }
}

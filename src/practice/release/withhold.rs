//! What is withheld, and why; and what of the chart a package holds.

use super::order::{Span, Withhold};
use super::span::within;
use crate::practice::open::Entry;
use crate::practice::reading::misfiled;
use crate::record::kinds::Data;
use crate::record::kinds::release::{Determination, Release, Withheld, WithholdReason};
use crate::trouble::{Kind, Outcome, Trouble};
use std::collections::{BTreeMap, BTreeSet};

/// Papers of the practice's dealings with others. Only these can be held back without saying why: the right of
/// access is to the record that care rests on (45 CFR 164.524(a)(1), 164.501).
const DEALINGS: [&str; 9] = [
    "request",
    "request-step",
    "release",
    "package-made",
    "accounting-given",
    "accounting-suspended",
    "access",
    "contact",
    "attachment",
];

/// What is to be left out of a copy, and what goes along all the same.
#[derive(Debug, Clone, Copy)]
pub(super) struct Ordered<'a> {
    pub span: &'a Span,
    pub withhold: &'a [Withhold],
    /// Entries that are given although they also quote or dispute one that is withheld.
    pub give: &'a [u64],
    /// Entries that the patient is not to be told of yet; see [`crate::practice::accounting::untold`].
    pub untold: &'a BTreeSet<u64>,
}

/// An entry that quotes or disputes one that is withheld, and others that are given: a person decides.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Undecided {
    /// Number in the ledger.
    pub entry: u64,
    /// Its kind.
    pub kind: String,
    /// The withheld entries that it is about.
    pub withheld: Vec<u64>,
    /// The others that it is about.
    pub given: Vec<u64>,
}

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
    pub fn choose(entries: &[Entry], ordered: Ordered<'_>) -> Outcome<Selection> {
        let (mut held, undecided) = held_and_open(entries, ordered)?;
        if let Some(one) = undecided.first() {
            return Err(Trouble::new(
                Kind::Refused,
                format!(
                    "Entry {} is about {}, withheld, and about {}, given, and nobody said whether it goes along.",
                    one.entry,
                    numbers(&one.withheld),
                    numbers(&one.given)
                ),
                "Nothing was recorded and nothing was written.",
                "Say which: --give NUMBER, or --withhold NUMBER=REASON.",
            ));
        }
        let span = ordered.span;
        if span.is_limited() {
            let ordered: BTreeSet<u64> = ordered.withhold.iter().map(|one| one.entry).collect();
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

/// What is held back by order, because it belongs to another chart, because the patient is not to be told of it
/// yet, and because it quotes any of that; and what a person has to decide.
pub(super) fn held_and_open(
    entries: &[Entry],
    ordered: Ordered<'_>,
) -> Outcome<(BTreeMap<u64, Held>, Vec<Undecided>)> {
    let mut held = BTreeMap::new();
    for one in ordered.withhold {
        check(entries, one)?;
        let words = in_words(one.reason, one.words.as_deref());
        let determination = one.determination.clone();
        held.insert(one.entry, Held { reason: one.reason, words, follows: None, determination });
    }
    let plain = |reason: WithholdReason| Held {
        reason,
        words: in_words(reason, None),
        follows: None,
        determination: None,
    };
    for seq in misfiled(entries) {
        held.entry(seq).or_insert_with(|| plain(WithholdReason::Misfiled));
    }
    for seq in ordered.untold {
        held.entry(*seq).or_insert_with(|| plain(WithholdReason::HeldBack));
    }
    let mut undecided = follow(entries, &mut held, ordered.give)?;
    if ordered.span.is_limited() {
        let along = within(entries, ordered.span, 0);
        undecided.retain(|one| along.contains_key(&one.entry));
    }
    Ok((held, undecided))
}

/// What quotes a withheld entry, disputes it or adds to it, is withheld with it: a correction holds the words it
/// corrects, and a request for amendment tells what it wants changed. What came with it stays too. The mark of
/// misfiling itself says nothing. What is about other entries as well, a person has to decide: the papers of an
/// amendment must travel with what they dispute (45 CFR 164.526(d)(5)).
fn follow(entries: &[Entry], held: &mut BTreeMap<u64, Held>, give: &[u64]) -> Outcome<Vec<Undecided>> {
    let mut undecided = Vec::new();
    // What is about an entry stands behind it, so one pass in order finds what hangs on what.
    for entry in entries {
        let seq = entry.leaf.seq;
        let (about, papers) = about(entry);
        let (withheld, given): (Vec<u64>, Vec<u64>) = about.iter().partition(|seq| held.contains_key(seq));
        let Some((first, why)) = withheld.first().and_then(|seq| Some((*seq, held.get(seq)?.clone()))) else {
            continue;
        };
        if !given.is_empty() && !held.contains_key(&seq) {
            if !give.contains(&seq) {
                undecided.push(Undecided { entry: seq, kind: entry.leaf.kind.clone(), withheld, given });
            }
            continue;
        }
        if give.contains(&seq) && !held.contains_key(&seq) {
            return Err(Trouble::new(
                Kind::Refused,
                format!("Entry {seq} is about nothing but {}, which is withheld.", numbers(&withheld)),
                "Nothing was recorded and nothing was written.",
                "Leave --give away for it, or don't withhold what it is about.",
            ));
        }
        for seq in papers.into_iter().chain([seq]) {
            held.entry(seq).or_insert_with(|| Held { follows: Some(first), ..why.clone() });
        }
    }
    Ok(undecided)
}

/// The entries that one quotes, disputes or adds to, each once; and the papers that came with it.
fn about(entry: &Entry) -> (Vec<u64>, Vec<u64>) {
    let of = |about: u64, paper: Option<u64>| (vec![about], paper.into_iter().collect());
    match entry.data() {
        Some(Data::Correction(data)) => of(data.target, None),
        Some(Data::Addendum(data)) => (vec![data.target], data.attachments),
        Some(Data::LateEntry(data)) => (data.target.into_iter().collect(), Vec::new()),
        Some(Data::AmendmentRequest(data)) => {
            let all: BTreeSet<u64> = data.points.iter().flat_map(|point| &point.entries).copied().collect();
            (all.into_iter().collect(), data.letter.into_iter().collect())
        }
        Some(Data::AmendmentDecision(data)) => of(data.request, data.letter.letter),
        Some(Data::Disagreement(data)) => of(data.request, data.letter),
        Some(Data::Rebuttal(data)) => of(data.disagreement, data.letter),
        _ => (Vec::new(), Vec::new()),
    }
}

/// `214` or `214, 220`.
fn numbers(list: &[u64]) -> String {
    list.iter().map(u64::to_string).collect::<Vec<_>>().join(", ")
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
    if one.reason == WithholdReason::HeldBack && !DEALINGS.contains(&found.leaf.kind.as_str()) {
        return Err(Trouble::new(
            Kind::Refused,
            format!("Entry {seq} is part of the record of care, so it can't be held back without a reason."),
            "Nothing was recorded.",
            "Give the reason that applies; there may be none, and then it is given.",
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

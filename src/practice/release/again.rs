//! A second production: the first package byte for byte, or one that lists what differs.

use super::order::{ReleaseOrder, Span, Withhold};
use super::parts::{Parts, Source};
use super::withhold::Selection;
use crate::practice::chart;
use crate::practice::open::{Entry, Practice};
use crate::record::kinds::Data;
use crate::record::kinds::release::{PackageMade, Release, WithholdReason};
use crate::record::moment::Moment;
use crate::seal::body::hex;
use crate::seal::note::Note;
use crate::trouble::{Outcome, Trouble};
use crate::verify::manifest::{Difference, DifferenceKind as D, Differences};
use std::collections::{BTreeMap, BTreeSet};

/// What a release entry of this chart says, and when it happened.
pub(super) fn release_at(entries: &[Entry], seq: u64) -> Outcome<(Release, Moment)> {
    let found = entries.iter().find(|e| e.leaf.seq == seq);
    let record = found.and_then(|e| e.record.as_ref());
    match (found.and_then(Entry::data), record) {
        (Some(Data::Release(data)), Some(record)) => Ok((*data, record.happened.start)),
        _ => Err(Trouble::input(
            format!("Entry {seq} is not a release of this chart."),
            "Look the release up with `inkfast print`, and give its number.",
        )),
    }
}

/// What is on record of the package that a release came out as.
pub(super) fn made(entries: &[Entry], release: u64) -> Option<PackageMade> {
    let mut of_kind = entries.iter().filter(|entry| entry.leaf.kind == "package-made");
    of_kind.find_map(|entry| match entry.data() {
        Some(Data::PackageMade(made)) if made.release == release => Some(*made),
        _ => None,
    })
}

/// What an earlier release was asked to cover and to withhold, as an order.
pub(super) fn ordered(data: &Release) -> (Span, Vec<Withhold>) {
    let span = match data.what.entry_list.is_empty() {
        true => Span::default(),
        false => data.what.span(),
    };
    let withhold = data.withheld.iter().filter(|slip| {
        slip.follows.is_none() && slip.reason.is_none_or(|reason| reason != WithholdReason::Misfiled)
    });
    let withhold = withhold.filter_map(|slip| {
        let reason = slip.reason.unwrap_or(WithholdReason::AnotherPerson);
        let words = slip.ground.split_once(": ").map(|(_, more)| more.to_string());
        Some(Withhold { entry: slip.entry?, reason, words, determination: slip.determination.clone() })
    });
    (span, withhold.collect())
}

/// The first release of the same part of the chart to the same, whose package is on record.
pub(super) fn first_of_the_same(entries: &[Entry], order: &ReleaseOrder) -> Option<u64> {
    let same = |text: &str| text.trim().to_lowercase();
    let mut releases = entries.iter().filter(|entry| entry.leaf.kind == "release");
    releases.find_map(|entry| match entry.data() {
        Some(Data::Release(data))
            if same(&data.to) == same(&order.data.to)
                && ordered(&data).0 == order.span
                && data.what.again_of.is_none()
                && made(entries, entry.leaf.seq).is_some() =>
        {
            Some(entry.leaf.seq)
        }
        _ => None,
    })
}

/// The package of an earlier release, if it still comes out as it did. That it is the same is shown by
/// the signature kept of it: it is over the list of every member with its digest.
pub(super) fn reproduce<'a>(
    practice: &'a Practice,
    tag: &'a str,
    entries: &[Entry],
    release: u64,
) -> Outcome<Option<(Source<'a>, Parts, PackageMade)>> {
    let Some(kept) = made(entries, release) else { return Ok(None) };
    let source = Source::new(practice, tag, entries.to_vec(), release)?;
    let mut parts = Parts::gather(&source)?;
    let same = Note::parse(kept.list_note.as_bytes()).is_ok_and(|note| note.text == parts.list_text);
    parts.note = kept.list_note.clone().into_bytes();
    Ok(same.then_some((source, parts, kept)))
}

/// What differs in a package from that of an earlier release, entry by entry and file by file. The
/// checkpoint, the proofs, the list and the front page belong to each release and are not compared.
pub(super) fn differences(
    source: &Source<'_>,
    since: u64,
    pages: &[(String, Vec<u8>)],
) -> Outcome<Differences> {
    let then = Source::new(source.now, source.tag, source.entries.clone(), since)?;
    let kept = made(&source.entries, since);
    let mut list = Vec::new();
    if then.chosen.span != source.chosen.span {
        list.push(one(D::SpanChanged));
    }
    entries_differ(source, &then, since, &mut list);
    let now: BTreeMap<&str, String> =
        pages.iter().map(|(name, bytes)| (name.as_str(), digest(bytes))).collect();
    let face = chart::face(&then.view, then.tag)?;
    let again = then.pages(&face)?;
    let again: BTreeMap<&str, String> =
        again.iter().map(|(name, bytes)| (name.as_str(), digest(bytes))).collect();
    let first: BTreeMap<&str, String> = match &kept {
        Some(kept) => kept.pages.iter().map(|page| (page.name.as_str(), page.digest.clone())).collect(),
        None => again.clone(),
    };
    files_differ(&first, &now, &mut list);
    for (name, digest) in &first {
        if again.get(name) != Some(digest) {
            list.push(Difference { file: Some(name.to_string()), ..one(D::LayoutChanged) });
        }
    }
    let papers = |from: &Source<'_>| -> BTreeMap<String, String> {
        let given = from.entries.iter().filter(|e| from.chosen.gives(e.leaf.seq));
        let names = given.filter_map(|e| match e.data() {
            Some(Data::Attachment(data)) => Some(data.plain_digest),
            _ => None,
        });
        names.map(|digest| (format!("attachments/{digest}"), digest)).collect()
    };
    let (first, now) = (papers(&then), papers(source));
    files_differ(&borrowed(&first), &borrowed(&now), &mut list);
    Ok(Differences { since, list })
}

fn borrowed(map: &BTreeMap<String, String>) -> BTreeMap<&str, String> {
    map.iter().map(|(name, digest)| (name.as_str(), digest.clone())).collect()
}

fn digest(bytes: &[u8]) -> String {
    hex(blake3::hash(bytes).as_bytes())
}

fn one(what: D) -> Difference {
    Difference { what, entry: None, by: None, file: None }
}

fn entries_differ(source: &Source<'_>, then: &Source<'_>, since: u64, list: &mut Vec<Difference>) {
    let stood: BTreeSet<u64> = then.entries.iter().map(|e| e.leaf.seq).collect();
    for entry in &source.entries {
        let seq = entry.leaf.seq;
        if seq > since && seq != source.release {
            list.push(Difference { entry: Some(seq), ..one(D::AddedAfter) });
            for about in corrected(entry).filter(|about| stood.contains(about)) {
                list.push(Difference { entry: Some(about), by: Some(seq), ..one(D::CorrectedSince) });
            }
        }
    }
    for seq in stood {
        let what = match (held(&then.chosen, seq), held(&source.chosen, seq)) {
            (None, Some(_)) => D::WithheldNow,
            (Some(_), None) => D::GivenNow,
            (Some(before), Some(after)) if before != after => D::ReasonChanged,
            _ => continue,
        };
        list.push(Difference { entry: Some(seq), ..one(what) });
    }
}

fn held(chosen: &Selection, seq: u64) -> Option<(WithholdReason, &str)> {
    chosen.held.get(&seq).map(|held| (held.reason, held.words.as_str()))
}

/// The entries that an entry corrects or adds to.
fn corrected(entry: &Entry) -> impl Iterator<Item = u64> {
    let about = match entry.data() {
        Some(Data::Correction(data)) => Some(data.target),
        Some(Data::Addendum(data)) => Some(data.target),
        Some(Data::LateEntry(data)) => data.target,
        Some(Data::Misfiled(mark)) => Some(mark.entry),
        _ => None,
    };
    about.into_iter()
}

fn files_differ(first: &BTreeMap<&str, String>, now: &BTreeMap<&str, String>, list: &mut Vec<Difference>) {
    let mut say = |what: D, name: &str| {
        list.push(Difference { file: Some(name.to_string()), ..one(what) });
    };
    for (name, digest) in now {
        match first.get(name) {
            None => say(D::FileAdded, name),
            Some(before) if before != digest => say(D::FileChanged, name),
            Some(_) => {}
        }
    }
    for name in first.keys().filter(|name| !now.contains_key(*name)) {
        say(D::FileGone, name);
    }
}

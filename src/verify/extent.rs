//! How much of a chart a package gives: what was asked for, what is withheld and why, and what differs
//! since an earlier one. Everything said about it must fit the entries that are there.

use super::finding::{Finding, FindingId, Where};
use super::manifest::{DIFFERENCES, DifferenceKind, Manifest, ManifestEntry, OUTSIDE_SLIP, slip_name};
use crate::record::envelope::Record;
use crate::record::kinds::Data;
use crate::record::kinds::release::{Span, WithholdReason};
use std::collections::{BTreeMap, BTreeSet};

/// True when a record was asked for: its date of service lies in the span or is one of its single days, and
/// its kind is one of its kinds.
pub fn asked(span: &Span, record: &Record) -> bool {
    let first = record.happened.start.local_date();
    let last = record.happened.end.map_or(first, |end| end.local_date());
    let in_span = (span.from.is_some() || span.until.is_some())
        && span.from.is_none_or(|from| from.0 <= last)
        && span.until.is_none_or(|until| first <= until.0);
    let on_a_day = span.days.iter().any(|day| first <= day.0 && day.0 <= last);
    (span.any_date() || in_span || on_a_day) && (span.kinds.is_empty() || span.kinds.contains(&record.kind))
}

/// Everything that does not fit. `records` are those given that are the ones sealed, by number.
pub(super) fn check(
    manifest: &Manifest,
    records: &BTreeMap<u64, Record>,
    files: &BTreeMap<&str, &[u8]>,
) -> Vec<Finding> {
    let mut found = Found { list: Vec::new() };
    withheld(manifest, records, files, &mut found);
    span(manifest, records, &mut found);
    differences(manifest, records, files, &mut found);
    found.list
}

struct Found {
    list: Vec<Finding>,
}

impl Found {
    fn entry(&mut self, id: FindingId, entry: &ManifestEntry) {
        let place = Where { seq: Some(entry.seq), kind: Some(entry.kind.clone()), ..Where::default() };
        self.list.push(Finding::new(id, place));
    }

    fn file(&mut self, id: FindingId, name: &str) {
        self.list.push(Finding::new(id, Where { file: Some(name.to_string()), ..Where::default() }));
    }
}

/// Reason, slip and release entry say the same of every entry that is withheld.
fn withheld(
    manifest: &Manifest,
    records: &BTreeMap<u64, Record>,
    files: &BTreeMap<&str, &[u8]>,
    found: &mut Found,
) {
    let mut slips = BTreeSet::new();
    for entry in &manifest.entries {
        let named = match entry.reason {
            None => None,
            Some(WithholdReason::OutsideRequest) => Some(OUTSIDE_SLIP.to_string()),
            Some(_) => Some(slip_name(entry.chart_seq)),
        };
        let said = entry.withheld.as_ref().is_some_and(|words| !words.trim().is_empty());
        let there = named.as_ref().is_none_or(|name| files.contains_key(name.as_str()));
        if entry.withheld.is_some() != entry.reason.is_some()
            || entry.slip != named
            || !there
            || said != entry.reason.is_some()
        {
            found.entry(FindingId::WithheldUnclear, entry);
        }
        slips.extend(named);
    }
    for name in files.keys().filter(|name| name.starts_with("slips/") && !slips.contains(**name)) {
        found.file(FindingId::WithheldUnclear, name);
    }
    let Some(Ok(Data::Release(release))) = records.get(&manifest.release).map(Record::read_data) else {
        return;
    };
    let recorded: BTreeMap<u64, (Option<WithholdReason>, &str)> = release
        .withheld
        .iter()
        .filter_map(|slip| Some((slip.entry?, (slip.reason, slip.ground.as_str()))))
        .collect();
    for entry in &manifest.entries {
        let listed = entry.withheld.as_deref().map(|words| (entry.reason, words));
        let listed = listed.filter(|(reason, _)| *reason != Some(WithholdReason::OutsideRequest));
        if listed != recorded.get(&entry.seq).copied() {
            found.entry(FindingId::WithheldUnclear, entry);
        }
    }
}

/// What was asked for is given or withheld for a reason of its own; what was not is left out or supports
/// something that is given.
fn span(manifest: &Manifest, records: &BTreeMap<u64, Record>, found: &mut Found) {
    let Some(span) = &manifest.span else {
        for entry in &manifest.entries {
            if entry.supports.is_some() || entry.reason == Some(WithholdReason::OutsideRequest) {
                found.entry(FindingId::SpanBroken, entry);
            }
        }
        return;
    };
    let given: BTreeSet<u64> =
        manifest.entries.iter().filter(|e| e.withheld.is_none()).map(|e| e.seq).collect();
    let outside = |e: &&ManifestEntry| e.reason == Some(WithholdReason::OutsideRequest);
    let left_out: BTreeSet<u64> = manifest.entries.iter().filter(outside).map(|e| e.seq).collect();
    let counted: BTreeSet<u64> = manifest.entries.iter().map(|e| e.seq).collect();
    for entry in manifest.entries.iter().filter(|e| e.seq != manifest.release) {
        // The date of what is left out is sealed: of that, only the kind can be compared.
        let any_date = span.any_date();
        let any_kind = span.kinds.is_empty() || span.kinds.contains(&entry.kind);
        let fits = match (entry.reason, entry.supports) {
            (Some(WithholdReason::OutsideRequest), supports) => supports.is_none() && !(any_date && any_kind),
            (Some(_), supports) => supports.is_none(),
            (None, Some(about)) => counted.contains(&about) && !left_out.contains(&about),
            (None, None) => records.get(&entry.seq).is_none_or(|record| asked(span, record)),
        };
        if !fits {
            found.entry(FindingId::SpanBroken, entry);
        }
    }
    let Some(Ok(Data::Release(release))) = records.get(&manifest.release).map(Record::read_data) else {
        return;
    };
    let what = &release.what;
    let mut recorded: BTreeSet<u64> = what.entry_list.iter().copied().collect();
    recorded.insert(manifest.release);
    if what.span() != *span || recorded != given {
        found.file(FindingId::SpanBroken, "manifest.json");
    }
}

/// The list for people and the list in the manifest are one list, and it speaks of entries of this chart.
fn differences(
    manifest: &Manifest,
    records: &BTreeMap<u64, Record>,
    files: &BTreeMap<&str, &[u8]>,
    found: &mut Found,
) {
    let text = files.get(DIFFERENCES).copied();
    let wanted = manifest.differences.as_ref().map(|list| list.to_text(manifest.release).into_bytes());
    if text != wanted.as_deref() {
        found.file(FindingId::DifferencesBroken, DIFFERENCES);
    }
    let recorded = match records.get(&manifest.release).map(Record::read_data) {
        Some(Ok(Data::Release(release))) => Some(release.what.since),
        _ => None,
    };
    if recorded.is_some_and(|since| since != manifest.differences.as_ref().map(|list| list.since)) {
        found.file(FindingId::DifferencesBroken, "manifest.json");
    }
    let Some(list) = &manifest.differences else { return };
    let kind_of: BTreeMap<u64, &str> = manifest.entries.iter().map(|e| (e.seq, e.kind.as_str())).collect();
    if list.since >= manifest.release || kind_of.get(&list.since) != Some(&"release") {
        found.file(FindingId::DifferencesBroken, "manifest.json");
    }
    let added: BTreeSet<u64> = list
        .list
        .iter()
        .filter(|one| one.what == DifferenceKind::AddedAfter)
        .filter_map(|one| one.entry)
        .collect();
    for entry in &manifest.entries {
        let later = entry.seq > list.since && entry.seq != manifest.release;
        if later != added.contains(&entry.seq) {
            found.entry(FindingId::DifferencesBroken, entry);
        }
    }
    for seq in list.list.iter().flat_map(|one| [one.entry, one.by]).flatten() {
        if !kind_of.contains_key(&seq) {
            let place = Where { seq: Some(seq), ..Where::default() };
            found.list.push(Finding::new(FindingId::DifferencesBroken, place));
        }
    }
}

/// Whether the chart, or what was asked of it, is here in full; in words that claim no more.
pub(super) fn complete_words(manifest: Option<&Manifest>, complete: bool, given: u64) -> String {
    let Some(manifest) = manifest.filter(|_| complete) else {
        return super::words::COMPLETE_NOT.to_string();
    };
    let all = manifest.entries.len() as u64;
    let count = |wanted: fn(&ManifestEntry) -> bool| {
        manifest.entries.iter().filter(|entry| wanted(entry)).count() as u64
    };
    let outside = count(|e| e.reason == Some(WithholdReason::OutsideRequest));
    let Some(span) = &manifest.span else {
        return match given == all {
            true => format!(
                "The whole chart up to this release is here: {given} entries, none missing, none withheld."
            ),
            false => format!(
                "All {all} entries of the chart up to this release are accounted for; {given} are given, {} are withheld with a reason.",
                all.saturating_sub(given)
            ),
        };
    };
    let asked = span.words();
    let supports = count(|e| e.supports.is_some());
    format!(
        "Asked for: {asked}. All {all} entries of the chart up to this release are accounted for; {given} are \
         given ({supports} of them to go with what was asked for), {} are withheld with a reason, {outside} lie \
         outside what was asked and are here by their place only. That their dates lie outside is the \
         practice's word: a date of service is sealed with its entry.",
        all.saturating_sub(given).saturating_sub(outside)
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::examples::example as record;
    use crate::record::kinds::Day;
    use crate::record::moment::{Moment, parse_date};
    use crate::verify::manifest::{Difference, Differences};

    fn day(text: &str) -> Option<Day> {
        Some(Day(parse_date(text).unwrap()))
    }

    /// A list of these entries, of which the last is the release.
    fn manifest(entries: &[(u64, &str)]) -> Manifest {
        let line = |(n, (seq, kind)): (u64, &(u64, &str))| ManifestEntry {
            chart_seq: n,
            seq: *seq,
            kind: kind.to_string(),
            withheld: None,
            reason: None,
            slip: None,
            supports: None,
        };
        Manifest {
            inkfast_package: 1,
            ledger: "ledger-7f3a".into(),
            checkpoint_key: String::new(),
            chart: String::new(),
            release: entries.last().unwrap().0,
            made: String::new(),
            made_by: "TR".into(),
            entries: (1..).zip(entries).map(line).collect(),
            keys: vec![],
            files: vec![],
            span: None,
            differences: None,
        }
    }

    fn at(seq: u64, kind: &str) -> Where {
        Where { seq: Some(seq), kind: Some(kind.to_string()), ..Where::default() }
    }

    fn in_file(name: &str) -> Where {
        Where { file: Some(name.to_string()), ..Where::default() }
    }

    fn places(found: Found, id: FindingId) -> Vec<Where> {
        assert!(found.list.iter().all(|finding| finding.id == id), "{:?}", found.list);
        found.list.into_iter().map(|finding| finding.place).collect()
    }

    #[test]
    fn a_span_may_be_open_at_either_end() {
        let mut called = record("contact");
        called.happened.start = Moment::parse("2031-02-01T10:00:00-05:00").unwrap();
        called.happened.end = None;
        let from = |text: &str| asked(&Span { from: day(text), ..Span::default() }, &called);
        let until = |text: &str| asked(&Span { until: day(text), ..Span::default() }, &called);
        assert_eq!([from("2031-01-31"), from("2031-02-01"), from("2031-02-02")], [true, true, false]);
        assert_eq!([until("2031-01-31"), until("2031-02-01"), until("2031-02-02")], [false, true, true]);
    }

    /// The date of what is left out is sealed, its kind is not: asked for by kind alone, it can't have been left out.
    #[test]
    fn an_entry_of_a_kind_that_was_asked_for_at_any_date_was_not_outside_what_was_asked() {
        let mut list = manifest(&[(2, "contact"), (3, "visit"), (9, "release")]);
        for entry in &mut list.entries[..2] {
            entry.reason = Some(WithholdReason::OutsideRequest);
        }
        let broken = |span: Span| {
            let mut found = Found { list: Vec::new() };
            super::span(&Manifest { span: Some(span), ..list.clone() }, &BTreeMap::new(), &mut found);
            places(found, FindingId::SpanBroken)
        };
        let visits = Span { kinds: vec!["visit".into()], ..Span::default() };
        assert_eq!(broken(visits.clone()), [at(3, "visit")]);
        assert_eq!(broken(Span { from: day("2031-01-01"), ..visits }), []);
        assert_eq!(broken(Span { from: day("2031-01-01"), ..Span::default() }), []);
        assert_eq!(broken(Span::default()), [at(2, "contact"), at(3, "visit")]);
    }

    #[test]
    fn differences_are_those_since_an_earlier_release_of_the_chart_the_one_that_the_release_names() {
        let list = manifest(&[(2, "contact"), (5, "release"), (6, "release"), (9, "release")]);
        let broken = |since: u64, recorded: Option<u64>, more: Option<u64>| {
            let after = |seq: u64| Difference {
                what: DifferenceKind::AddedAfter,
                entry: Some(seq),
                by: None,
                file: None,
            };
            let later = list.entries.iter().map(|e| e.seq).filter(|seq| *seq > since && *seq != list.release);
            let differences = Differences { since, list: later.chain(more).map(after).collect() };
            let text = differences.to_text(list.release);
            let files = BTreeMap::from([(DIFFERENCES, text.as_bytes())]);
            let mut release = record("release");
            release.data["what"]["since"] = recorded.into();
            let records = recorded.map(|_| (list.release, release)).into_iter().collect();
            let mut found = Found { list: Vec::new() };
            let list = Manifest { differences: Some(differences), ..list.clone() };
            super::differences(&list, &records, &files, &mut found);
            places(found, FindingId::DifferencesBroken)
        };
        let in_list = || in_file("manifest.json");
        assert_eq!(broken(5, None, None), []);
        assert_eq!(broken(5, Some(5), None), []);
        assert_eq!(broken(5, Some(6), None), [in_list()], "the release entry names another one");
        assert_eq!(broken(2, None, None), [in_list()], "no release");
        assert_eq!(broken(9, None, None), [in_list()], "this release itself");
        let elsewhere = Where { seq: Some(7), ..Where::default() };
        assert_eq!(broken(5, None, Some(7)), [elsewhere], "an entry that is not in the chart");
    }

    #[test]
    fn of_a_part_what_is_given_withheld_and_outside_is_counted_apart() {
        let mut list = manifest(&[
            (2, "chart-opened"),
            (3, "visit"),
            (4, "visit"),
            (5, "contact"),
            (6, "contact"),
            (9, "release"),
        ]);
        list.span = Some(Span { kinds: vec!["visit".into()], ..Span::default() });
        list.entries[0].supports = Some(9);
        let reasons =
            [WithholdReason::LikelyHarm, WithholdReason::OutsideRequest, WithholdReason::OutsideRequest];
        for (entry, reason) in list.entries[2..].iter_mut().zip(reasons) {
            (entry.reason, entry.withheld) = (Some(reason), Some("why".into()));
        }
        let words = complete_words(Some(&list), true, 3);
        for part in [
            "All 6 entries",
            "3 are given (1 of them",
            "1 are withheld with a reason",
            "2 lie outside what was asked",
        ] {
            assert!(words.contains(part), "{part}: {words}");
        }
        assert_eq!(complete_words(Some(&list), false, 3), crate::verify::words::COMPLETE_NOT);
    }
}

//! Which entries of a chart are asked for, and which must travel with them.
//!
//! Asked for is an entry whose date of service and kind lie in the span. With it travel, whenever they
//! were written: who the patient is and who decides; for each day of care in the span the consents that
//! held on it, with what ended or narrowed them up to then, and the screens and questions of that day; the
//! papers an entry names; every correction, addendum, late entry and mark of misfiling about an entry that
//! goes along; and the papers of an amendment that disputes one. What is cut out of a record must not read
//! better or worse than the record does.

use super::order::Span;
use crate::practice::open::Entry;
use crate::record::envelope::Record;
use crate::record::kinds::Data;
use crate::record::moment::Date;
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};

/// Who the patient is and who decides for them: without these a copy can't be read.
const ALWAYS: [&str; 5] = ["chart-opened", "identity-changed", "decision-maker", "joined", "chart-state"];
/// Kinds that are care: what they rest on travels with them.
const CARE: [&str; 6] = ["visit", "visit-opened", "measure", "reaction", "coverage-answer", "emergency"];
/// What was looked at, asked and answered on a day of care.
const OF_THE_DAY: [&str; 13] = [
    "screen",
    "screen-item-closed",
    "change",
    "written-reason",
    "asked",
    "own-answer",
    "condition-met",
    "coverage-answer",
    "identity-confirmed",
    "visit-opened",
    "visit-closed",
    "pause",
    "emergency",
];
/// What ends, narrows or stands against a consent.
const LIMITS: [&str; 4] = ["withdrawal", "standing-refusal", "end-event", "rest-of-earlier"];
/// Fields that hold the number of an entry which belongs to the one they stand in.
const NAMES: [&str; 6] = ["paper", "consent", "letter", "attachment", "attachments", "visit"];

/// The entries that go along: none beside an entry that was asked for, the number of the one it supports
/// beside any other. `for_whom` is put there for what every copy needs.
pub(super) fn within(entries: &[Entry], span: &Span, for_whom: u64) -> BTreeMap<u64, Option<u64>> {
    let mut along: BTreeMap<u64, Option<u64>> = BTreeMap::new();
    for entry in entries {
        let Some(record) = &entry.record else { continue };
        if asked(span, record) {
            along.insert(entry.leaf.seq, None);
        }
    }
    let mut add = |seq: u64, supports: u64| -> bool {
        let new = !along.contains_key(&seq);
        along.entry(seq).or_insert(Some(supports));
        new
    };
    for entry in entries.iter().filter(|e| ALWAYS.contains(&e.leaf.kind.as_str())) {
        add(entry.leaf.seq, for_whom);
    }
    for (seq, supports) in resting(entries, span) {
        add(seq, supports);
    }
    // Each round takes in what belongs to what came along in the one before; a chart has an end.
    loop {
        let mut more = Vec::new();
        for entry in entries {
            for (about, belongs) in ties(entry) {
                if along.contains_key(&about) && !along.contains_key(&belongs) {
                    more.push((belongs, about));
                }
            }
        }
        let known: BTreeSet<u64> = entries.iter().map(|e| e.leaf.seq).collect();
        more.retain(|(seq, _)| known.contains(seq));
        if more.is_empty() {
            return along;
        }
        for (seq, supports) in more {
            along.entry(seq).or_insert(Some(supports));
        }
    }
}

/// True when the record is asked for: by its date of service and its kind.
pub(super) fn asked(span: &Span, record: &Record) -> bool {
    crate::verify::extent::asked(span, record)
}

/// What the days of care in the span rest on.
fn resting(entries: &[Entry], span: &Span) -> Vec<(u64, u64)> {
    let mut days: BTreeMap<Date, u64> = BTreeMap::new();
    for entry in entries.iter().filter(|e| CARE.contains(&e.leaf.kind.as_str())) {
        if let Some(record) = entry.record.as_ref().filter(|r| asked(span, r)) {
            days.entry(record.happened.start.local_date()).or_insert(entry.leaf.seq);
        }
    }
    let (Some(first), Some(last)) = (days.keys().next().copied(), days.keys().last().copied()) else {
        return Vec::new();
    };
    let mut out = Vec::new();
    let mut earliest = None;
    for entry in entries {
        let Some(Data::Consent(consent)) = entry.data() else { continue };
        let held = |day: &Date| {
            consent.valid_from.0 <= *day && consent.valid_until.is_none_or(|until| *day <= until.0)
        };
        if let Some((_, care)) = days.iter().find(|(day, _)| held(day)) {
            out.push((entry.leaf.seq, *care));
            let from = consent.valid_from.0;
            earliest = Some(earliest.map_or(from, |e: Date| e.min(from)));
        }
    }
    for entry in entries {
        let Some(record) = &entry.record else { continue };
        let day = record.happened.start.local_date();
        let kind = entry.leaf.kind.as_str();
        if OF_THE_DAY.contains(&kind)
            && let Some(care) = days.get(&day)
        {
            out.push((entry.leaf.seq, *care));
        }
        let since = earliest.unwrap_or(first);
        if LIMITS.contains(&kind) && since <= day && day <= last {
            let care = days.range(day..).next().map_or(0, |(_, seq)| *seq);
            out.push((entry.leaf.seq, care));
        }
    }
    out
}

/// What hangs together: (an entry, what belongs to it).
fn ties(entry: &Entry) -> Vec<(u64, u64)> {
    let seq = entry.leaf.seq;
    let mut out: Vec<(u64, u64)> = Vec::new();
    match entry.data() {
        Some(Data::Correction(data)) => out.push((data.target, seq)),
        Some(Data::Addendum(data)) => out.push((data.target, seq)),
        Some(Data::LateEntry(data)) => out.extend(data.target.map(|about| (about, seq))),
        Some(Data::Misfiled(mark)) => out.push((mark.entry, seq)),
        Some(Data::AmendmentRequest(data)) => {
            out.extend(data.points.iter().flat_map(|p| &p.entries).map(|about| (*about, seq)));
        }
        Some(Data::AmendmentDecision(data)) => out.push((data.request, seq)),
        Some(Data::Disagreement(data)) => out.push((data.request, seq)),
        Some(Data::Rebuttal(data)) => {
            out.push((data.disagreement, seq));
        }
        _ => {}
    }
    if let Some(record) = &entry.record {
        // An entry can name only what was there before it.
        named(&record.data, &mut |number| out.extend((number < seq).then_some((seq, number))));
    }
    out
}

/// Calls for every number that stands in a field naming an entry.
fn named(value: &Value, found: &mut dyn FnMut(u64)) {
    match value {
        Value::Object(fields) => {
            for (name, value) in fields {
                if NAMES.contains(&name.as_str()) {
                    value.as_u64().into_iter().for_each(&mut *found);
                    value.as_array().into_iter().flatten().filter_map(Value::as_u64).for_each(&mut *found);
                }
                named(value, found);
            }
        }
        Value::Array(items) => items.iter().for_each(|item| named(item, found)),
        _ => {}
    }
}

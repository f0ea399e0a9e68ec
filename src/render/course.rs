//! The course of care as it now reads, for the summaries: only what is shown in the copy, with its
//! corrections made, and without entries that belong to another chart.

use super::corrected::current;
use super::entry::Desk;
use super::words;
use crate::record::envelope::Record;
use crate::record::kinds::procedure::{Deferred, Procedure};
use crate::record::kinds::visit::Visit;
use crate::record::kinds::{Data, Given};
use crate::record::moment::{Date, Moment, plain_date};
use std::collections::BTreeMap;

/// An entry as it now reads.
pub struct Read<'a> {
    /// Its number.
    pub seq: u64,
    /// When what it tells happened.
    pub at: Moment,
    /// The record as it was written: who signed it, where, when.
    pub record: &'a Record,
    /// Its data with every correction made.
    pub data: Data,
}

impl Read<'_> {
    /// The day it happened, in words.
    pub fn day(&self) -> String {
        plain_date(self.at.local_date())
    }

    /// The visit note, if it is one.
    pub fn note(&self) -> Option<&Visit> {
        match &self.data {
            Data::Visit(note) => Some(note),
            _ => None,
        }
    }
}

/// Every entry that a summary may use, in the order in which things happened.
pub fn read<'a>(desk: &Desk<'a>) -> Vec<Read<'a>> {
    let mut out: Vec<Read<'a>> = Vec::new();
    for entry in desk.set.in_order() {
        if desk.misfiled.contains_key(&entry.seq) {
            continue;
        }
        let Some(record) = entry.shown() else { continue };
        if let Ok(data) = current(record, desk.mends(entry.seq)).read_data() {
            out.push(Read { seq: entry.seq, at: record.happened.start, record, data });
        }
    }
    out.sort_by_key(|one| (one.at, one.seq));
    out
}

/// What hands did, as far as it is told in one line of a summary: technique, region, side.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
struct Did {
    what: String,
    region: String,
    side: String,
}

/// Everything that was done of one technique, in one region, on one side.
pub struct Done<'a> {
    /// `Joint mobilization`.
    pub what: String,
    /// `joints of the neck: C4 to C5 (C4-C5); C5 to C6 (C5-C6)`.
    pub place: String,
    /// `right side`; a dash where no side is stated.
    pub side: String,
    /// Every time, in order.
    pub times: Vec<Time<'a>>,
}

/// One time that it was done.
pub struct Time<'a> {
    /// The day.
    pub day: Date,
    /// The procedure.
    pub procedure: &'a Procedure,
}

fn did(procedure: &Procedure) -> Did {
    Did {
        what: words::capital(&words::technique(procedure.technique)),
        region: words::region(procedure.region),
        side: procedure.side.map_or("-", words::side).to_string(),
    }
}

/// Where within the region; empty when that is not stated.
fn detail(procedure: &Procedure) -> String {
    let mut parts: Vec<String> = procedure.structure.iter().cloned().collect();
    if !procedure.segments.is_empty() {
        parts.push(words::list(&procedure.segments, words::segment));
    }
    parts.extend(procedure.span.as_ref().map(|span| format!("from {} to {}", span.from, span.to)));
    parts.join(", ")
}

/// Everything that was done, in the order first done.
pub fn procedures<'r>(course: &'r [Read<'_>]) -> Vec<Done<'r>> {
    let mut order: Vec<Did> = Vec::new();
    let mut times: BTreeMap<Did, Vec<Time<'r>>> = BTreeMap::new();
    for read in course {
        let Some(note) = read.note() else { continue };
        for procedure in &note.procedures {
            let did = did(procedure);
            if !times.contains_key(&did) {
                order.push(did.clone());
            }
            times.entry(did).or_default().push(Time { day: procedure.at.local_date(), procedure });
        }
    }
    order.into_iter().filter_map(|did| times.remove(&did).map(|times| done(did, times))).collect()
}

fn done(did: Did, times: Vec<Time<'_>>) -> Done<'_> {
    let mut details: Vec<String> = Vec::new();
    for time in &times {
        let detail = detail(time.procedure);
        if !detail.is_empty() && !details.contains(&detail) {
            details.push(detail);
        }
    }
    let place =
        if details.is_empty() { did.region } else { format!("{}: {}", did.region, details.join("; ")) };
    Done { what: did.what, place, side: did.side, times }
}

/// What was not done, in words.
pub fn left_undone(deferred: &Deferred) -> String {
    let mut place = vec![words::region(deferred.region)];
    if !deferred.segments.is_empty() {
        place.push(words::list(&deferred.segments, words::segment));
    }
    place.extend(deferred.side.map(|side| words::side(side).to_string()));
    let because = words::or_not_recorded(&deferred.because);
    format!("{} - {}: {because}", words::capital(&words::technique(deferred.technique)), place.join(", "))
}

/// How a procedure was answered: `tolerated, pain 4 > 2 of 10`.
pub fn response(procedure: &Procedure) -> String {
    let mut out = match &procedure.response {
        Given::Value(response) => {
            let mut out = words::spaced(response.word.word());
            match (response.pain_before, response.pain) {
                (Some(before), Some(after)) => out.push_str(&format!(", pain {before} > {after} of 10")),
                (None, Some(after)) => out.push_str(&format!(", pain {after} of 10 afterwards")),
                _ => {}
            }
            out
        }
        Given::Absent(_) => words::NOT_RECORDED.to_string(),
    };
    if stopped(procedure) {
        out.push_str(", STOPPED part-way");
    }
    out
}

/// True when a procedure was broken off.
fn stopped(procedure: &Procedure) -> bool {
    procedure.stopped_at.is_some() || procedure.stopped_because.is_some()
}

/// Days named one by one; more are told by their number, the first and the last.
const DAYS_NAMED: usize = 12;

/// Days in words, each once, in their order. A day on which it was stopped part-way is always named.
pub fn days(times: &[Time<'_>]) -> String {
    let mut by_day: BTreeMap<Date, bool> = BTreeMap::new();
    for time in times {
        *by_day.entry(time.day).or_default() |= stopped(time.procedure);
    }
    let broken =
        |(day, broken): (&Date, &bool)| broken.then(|| format!("{} (stopped part-way)", plain_date(*day)));
    match (by_day.keys().next(), by_day.keys().next_back()) {
        (Some(first), Some(last)) if by_day.len() > DAYS_NAMED => {
            let mut out =
                vec![format!("{} days from {} to {}", by_day.len(), plain_date(*first), plain_date(*last))];
            out.extend(by_day.iter().filter_map(broken));
            out.join("; ")
        }
        _ => {
            let said = by_day.iter().map(|one| broken(one).unwrap_or_else(|| plain_date(*one.0)));
            said.collect::<Vec<_>>().join(", ")
        }
    }
}

/// How many entries are in the copy without their contents.
pub fn not_shown(desk: &Desk<'_>) -> usize {
    desk.set.entries.iter().filter(|entry| entry.shown().is_none()).count()
}

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

/// What hands did: technique, structure, levels; and where, with the side.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Did {
    /// `Joint mobilization`.
    pub what: String,
    /// `joints of the neck, C5 to C6 (C5-C6)`.
    pub place: String,
    /// `right side`; a dash where no side is stated.
    pub side: String,
}

/// One time that it was done.
pub struct Time<'a> {
    /// The day.
    pub day: Date,
    /// The procedure.
    pub procedure: &'a Procedure,
}

fn did(procedure: &Procedure) -> Did {
    let mut place = vec![words::region(procedure.region)];
    place.extend(procedure.structure.clone());
    if !procedure.segments.is_empty() {
        place.push(words::list(&procedure.segments, words::segment));
    }
    place.extend(procedure.span.as_ref().map(|span| format!("from {} to {}", span.from, span.to)));
    Did {
        what: words::capital(&words::technique(procedure.technique)),
        place: place.join(", "),
        side: procedure.side.map_or("-", words::side).to_string(),
    }
}

/// Everything that was done, in the order first done; for each, every time.
pub fn procedures<'r>(course: &'r [Read<'_>]) -> Vec<(Did, Vec<Time<'r>>)> {
    let mut order: Vec<Did> = Vec::new();
    let mut times: BTreeMap<Did, Vec<Time<'r>>> = BTreeMap::new();
    for read in course {
        let Some(note) = read.note() else { continue };
        for procedure in &note.procedures {
            let did = did(procedure);
            if !times.contains_key(&did) {
                order.push(did.clone());
            }
            let time = Time { day: procedure.at.local_date(), procedure };
            times.entry(did).or_default().push(time);
        }
    }
    order.into_iter().filter_map(|did| times.remove(&did).map(|times| (did, times))).collect()
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
    if procedure.stopped_at.is_some() || procedure.stopped_because.is_some() {
        out.push_str(", STOPPED part-way");
    }
    out
}

/// Days in words, each once, in their order; with a mark where a time was stopped part-way.
pub fn days(times: &[Time<'_>]) -> String {
    let mut by_day: BTreeMap<Date, bool> = BTreeMap::new();
    for time in times {
        let stopped = time.procedure.stopped_at.is_some() || time.procedure.stopped_because.is_some();
        *by_day.entry(time.day).or_default() |= stopped;
    }
    let said = by_day.iter().map(|(day, stopped)| {
        format!("{}{}", plain_date(*day), if *stopped { " (stopped part-way)" } else { "" })
    });
    said.collect::<Vec<_>>().join(", ")
}

/// How many entries are in the copy without their contents.
pub fn not_shown(desk: &Desk<'_>) -> usize {
    desk.set.entries.iter().filter(|entry| entry.shown().is_none()).count()
}

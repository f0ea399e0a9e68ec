//! A chart as it is read: every entry as it was written, with its corrections laid over, and beside it
//! what was written about it afterwards. Nothing is hidden but what belongs to another person.

use super::open::{Entry, Practice};
use crate::record::envelope::Record;
use crate::record::kinds::Data;
use crate::record::kinds::release::Step;
use crate::record::show::{self, Line};
use crate::render::corrected::{Mend, Reading, Written, current, lay, mends_from};
use std::collections::BTreeMap;

/// Why an entry that belongs to another chart is held back.
pub const ELSEWHERE: &str = "belongs to another person's chart";

/// The entries of a chart that are held back from every copy because they belong to another person, and
/// what was written about them: a correction quotes what it corrects. The mark itself stays.
pub fn misfiled(entries: &[Entry]) -> Vec<u64> {
    let mut out: Vec<u64> = Vec::new();
    for entry in entries {
        if let Some(Data::Misfiled(mark)) = entry.data()
            && !out.contains(&mark.entry)
        {
            out.push(mark.entry);
        }
    }
    // What is about an entry stands behind it, so one pass in order finds what hangs on what.
    for entry in entries {
        let about = match entry.data() {
            Some(Data::Correction(data)) => Some(data.target),
            Some(Data::Addendum(data)) => Some(data.target),
            Some(Data::LateEntry(data)) => data.target,
            _ => None,
        };
        if about.is_some_and(|seq| out.contains(&seq)) && !out.contains(&entry.leaf.seq) {
            out.push(entry.leaf.seq);
        }
    }
    out.sort_unstable();
    out
}

/// What is known of a chart before any of its entries is shown.
pub struct ChartReading {
    mends: BTreeMap<u64, Vec<Mend>>,
    misfiled: Vec<u64>,
    beside: BTreeMap<u64, Vec<String>>,
}

impl ChartReading {
    /// Looks a chart through once.
    pub fn new(practice: &Practice, entries: &[Entry]) -> ChartReading {
        let misfiled = misfiled(entries);
        let shown = entries.iter().filter(|entry| !misfiled.contains(&entry.leaf.seq));
        let written = shown.filter_map(|entry| {
            let line = practice.staff_line(&entry.leaf.author);
            let by = line.map_or(entry.leaf.author.clone(), |line| line.initials.clone());
            let on = entry.leaf.written.local_date();
            Some(Written { seq: entry.leaf.seq, on, by, record: entry.record.as_ref()? })
        });
        let mends = mends_from(written);
        let mut beside: BTreeMap<u64, Vec<String>> = BTreeMap::new();
        for entry in entries {
            for (about, words) in said_about(entry) {
                beside.entry(about).or_default().push(words);
            }
        }
        ChartReading { mends, misfiled, beside }
    }

    /// The corrections of an entry, in the order written.
    pub fn mends(&self, seq: u64) -> &[Mend] {
        self.mends.get(&seq).map_or(&[], Vec::as_slice)
    }

    /// True when the entry belongs to another person's chart, or quotes one that does.
    pub fn is_misfiled(&self, seq: u64) -> bool {
        self.misfiled.contains(&seq)
    }

    /// What was written about an entry afterwards, one line each.
    pub fn beside(&self, seq: u64) -> &[String] {
        self.beside.get(&seq).map_or(&[], Vec::as_slice)
    }

    /// The data of an entry as lines: old words struck, the new ones beneath.
    pub fn lines(&self, seq: u64, record: &Record) -> Reading<Line> {
        lay(record, self.mends(seq), show::data_lines)
    }

    /// The record as it reads now, with every correction made.
    pub fn now(&self, seq: u64, record: &Record) -> Record {
        current(record, self.mends(seq))
    }
}

/// The entries that an entry is about, with what a reader of them must be told.
fn said_about(entry: &Entry) -> Vec<(u64, String)> {
    let seq = entry.leaf.seq;
    let one = |about: u64, words: String| vec![(about, words)];
    match entry.data() {
        Some(Data::Misfiled(mark)) => one(mark.entry, format!("BELONGS TO ANOTHER CHART: see no. {seq}")),
        Some(Data::Addendum(data)) => one(data.target, format!("addendum: see no. {seq}")),
        Some(Data::LateEntry(data)) => {
            data.target.map(|about| (about, format!("late entry: see no. {seq}"))).into_iter().collect()
        }
        Some(Data::AmendmentRequest(request)) => {
            let disputed = request.points.iter().flat_map(|point| {
                point
                    .entries
                    .iter()
                    .map(move |about| (*about, format!("amendment asked, point {}: see no. {seq}", point.no)))
            });
            disputed.collect()
        }
        Some(Data::RequestStep(step)) if step.step == Step::Extended => {
            one(step.request, format!("more time taken: see no. {seq}"))
        }
        Some(Data::AmendmentDecision(decision)) => one(decision.request, format!("decided: see no. {seq}")),
        Some(Data::Disagreement(data)) => one(data.request, format!("the patient disagrees: see no. {seq}")),
        Some(Data::Rebuttal(data)) => one(data.disagreement, format!("answered: see no. {seq}")),
        _ => Vec::new(),
    }
}

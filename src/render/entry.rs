//! One entry as it stands on the page: its number, its times, who signed it, its rows.

use super::corrected::{Mend, mends_of};
use super::html::{entry_link, esc, said};
use super::places::{Places, places};
use super::rows::{read_rows, table};
use super::set::{PrintedEntry, PrintedSet};
use super::words;
use crate::record::envelope::{Record, Signature};
use crate::record::kinds::{Data, title};
use crate::record::moment::{Date, plain_date};
use std::collections::BTreeMap;

/// A set with what is looked up in it again and again.
pub struct Desk<'a> {
    /// The set.
    pub set: &'a PrintedSet,
    /// Entries by number.
    pub entries: BTreeMap<u64, &'a PrintedEntry>,
    /// Corrections by the number of what they correct.
    pub mends: BTreeMap<u64, Vec<Mend>>,
    /// Where each entry stands.
    pub places: Places,
    /// Entries marked as belonging to another chart, with the number of the mark.
    pub misfiled: BTreeMap<u64, u64>,
    /// Amendment requests by the number of each entry they dispute.
    pub disputes: BTreeMap<u64, Vec<u64>>,
    /// Addenda and late entries by the number of what they add to.
    pub additions: BTreeMap<u64, Vec<u64>>,
}

impl<'a> Desk<'a> {
    /// Looks everything up once.
    pub fn new(set: &'a PrintedSet) -> Desk<'a> {
        let mut desk = Desk {
            set,
            entries: set.by_seq(),
            mends: mends_of(set),
            places: places(set),
            misfiled: BTreeMap::new(),
            disputes: BTreeMap::new(),
            additions: BTreeMap::new(),
        };
        for entry in set.in_order() {
            match entry.shown().map(Record::read_data) {
                Some(Ok(Data::Misfiled(mark))) => {
                    desk.misfiled.insert(mark.entry, entry.seq);
                }
                Some(Ok(Data::AmendmentRequest(request))) => {
                    for disputed in request.points.iter().flat_map(|point| &point.entries) {
                        let requests = desk.disputes.entry(*disputed).or_default();
                        if requests.last() != Some(&entry.seq) {
                            requests.push(entry.seq);
                        }
                    }
                }
                Some(Ok(Data::Addendum(addendum))) => {
                    desk.additions.entry(addendum.target).or_default().push(entry.seq);
                }
                Some(Ok(Data::LateEntry(late))) => {
                    if let Some(target) = late.target {
                        desk.additions.entry(target).or_default().push(entry.seq);
                    }
                }
                _ => {}
            }
        }
        desk
    }

    /// A pointer to an entry, or only its number where it is not printed in full here.
    pub fn link(&self, seq: u64) -> String {
        if self.record(seq).is_some() { entry_link(seq) } else { format!("no. {seq}") }
    }

    /// The day a visit began, if its opening is shown.
    pub fn visit_day(&self, visit: u64) -> Option<Date> {
        self.record(visit).map(|(_, record)| record.happened.start.local_date())
    }

    /// The corrections of an entry.
    pub fn mends(&self, seq: u64) -> &[Mend] {
        self.mends.get(&seq).map_or(&[], Vec::as_slice)
    }

    /// The entry and its record, if it may be shown.
    pub fn record(&self, seq: u64) -> Option<(&'a PrintedEntry, &'a Record)> {
        let entry = self.entries.get(&seq).copied()?;
        Some((entry, entry.shown()?))
    }

    /// The rows of an entry with its corrections laid over.
    pub fn body(&self, seq: u64, record: &Record) -> String {
        table(&read_rows(record, self.mends(seq)))
    }

    /// Everything a reader must know before reading the contents: labels, marks, disputes.
    pub fn flags(&self, seq: u64, record: &Record) -> Vec<String> {
        let mut flags: Vec<String> =
            record.labels.iter().map(|label| esc(&words::label(label, record))).collect();
        if let Some(mark) = self.misfiled.get(&seq) {
            flags.push(format!("BELONGS TO ANOTHER CHART: see {}", entry_link(*mark)));
        }
        for request in self.disputes.get(&seq).into_iter().flatten() {
            flags.push(format!("amendment asked: see {}", entry_link(*request)));
        }
        for added in self.additions.get(&seq).into_iter().flatten() {
            let late = self.record(*added).is_some_and(|(_, record)| record.kind == "late-entry");
            let what = if late { "late entry" } else { "addendum" };
            flags.push(format!("{what}: see {}", entry_link(*added)));
        }
        flags
    }

    /// One entry in full, followed by what stands beneath it.
    pub fn whole(&self, seq: u64) -> String {
        let mut out = self.alone(seq);
        for below in self.places.beneath.get(&seq).into_iter().flatten() {
            out.push_str(&format!("<div class=\"beneath\">{}</div>\n", self.alone(*below)));
        }
        out
    }

    /// One entry in full.
    pub fn alone(&self, seq: u64) -> String {
        let Some((entry, record)) = self.record(seq) else { return String::new() };
        format!(
            "<article class=\"entry\" id=\"e{seq}\">\n{}{}</article>\n",
            self.head(entry, record, "h4"),
            self.body(seq, record)
        )
    }

    /// The head of an entry: number, kind, time; beneath it who wrote and signed it.
    pub fn head(&self, entry: &PrintedEntry, record: &Record, tag: &str) -> String {
        let mut out = format!(
            "<{tag}>No. {}{} <span class=\"kind\">{}</span> {}</{tag}>\n<p class=\"meta\">{}",
            entry.seq,
            in_chart(entry),
            said(title(&record.kind)),
            esc(&words::happened(&record.happened)),
            self.signed_line(record)
        );
        let flags = self.flags(entry.seq, record);
        if !flags.is_empty() {
            out.push_str(&format!("<br /><strong>[{}]</strong>", flags.join("] [")));
        }
        out.push_str("</p>\n");
        out
    }

    /// When and where it was written, and by whom it was signed.
    pub fn signed_line(&self, record: &Record) -> String {
        let mut out = format!(
            "Written {} at {}. {}",
            esc(&record.written.plain()),
            said(&record.station),
            self.signature(&record.signed, record)
        );
        if let Some(scribe) = &record.entered_by {
            out.push_str(&format!(" Typed by {} ({}).", said(&scribe.name), said(&scribe.code)));
        }
        if record.author.code != record.signed.by {
            out.push_str(&format!(" Author: {} ({}).", said(&record.author.name), said(&record.author.code)));
        }
        if let Some(second) = &record.second {
            out.push_str(&format!(" Second signature: {}", self.signature(second, record)));
        }
        out
    }

    fn signature(&self, signature: &Signature, record: &Record) -> String {
        let when = if signature.at.local_date() == record.written.local_date() {
            signature.at.clock()
        } else {
            signature.at.plain()
        };
        format!(
            "Signed {} by {}, {} ({}; {}).",
            esc(&when),
            said(&signature.name),
            said(&words::spaced(&signature.role)),
            said(self.set.initials(&signature.by)),
            esc(signature.meaning.word())
        )
    }
}

/// ` (5 in the chart)`.
fn in_chart(entry: &PrintedEntry) -> String {
    entry.chart_seq.map(|seq| format!(" ({seq} in the chart)")).unwrap_or_default()
}

/// Day and time in two lines of a narrow cell.
pub fn two_lines(moment: crate::record::moment::Moment) -> String {
    format!("<span class=\"t\">{}<br />{}</span>", esc(&plain_date(moment.local_date())), moment.clock())
}

//! Laying corrections over what was written: the old words stay readable, marked with who struck
//! them and when, and the new words stand directly beneath.
//!
//! It works on any view of a record as lines: the view is made before and after each correction,
//! and what differs is what was struck and what was put in its place.

use super::set::PrintedSet;
use crate::record::corrected;
use crate::record::envelope::Record;
pub use crate::record::fields::{pointer_words as field_words, value_words};
use crate::record::kinds::Data;
use crate::record::moment::{Date, plain_date};
use serde_json::Value;
use std::collections::BTreeMap;

/// One correction, ready to be laid over its target.
#[derive(Debug, Clone, PartialEq)]
pub struct Mend {
    /// Number of the correction.
    pub seq: u64,
    /// Day it was written.
    pub on: Date,
    /// Initials of its author.
    pub by: String,
    /// Which field of the target (JSON Pointer, RFC 6901).
    pub field: String,
    /// What it says stood there.
    pub was: Value,
    /// What it puts there; null for nothing.
    pub is: Value,
}

/// Who struck or wrote a line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Mark {
    /// Number of the correction.
    pub seq: u64,
    /// Day it was written.
    pub on: Date,
    /// Initials of its author.
    pub by: String,
}

impl Mark {
    /// `correction no. 214, 09 May 2023, IV`.
    pub fn words(&self) -> String {
        format!("correction no. {}, {}, {}", self.seq, plain_date(self.on), self.by)
    }
}

/// A line with what became of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Laid<L> {
    /// The line, as it was written.
    pub line: L,
    /// The correction that put it there; none when it stood there from the first.
    pub added_by: Option<Mark>,
    /// The correction that struck it; none when it still stands.
    pub struck_by: Option<Mark>,
    /// True on a struck line with nothing in its place.
    pub nothing_beneath: bool,
}

/// A record read with its corrections.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Reading<L> {
    /// The lines: struck ones with the new ones beneath.
    pub lines: Vec<Laid<L>>,
    /// What a reader must be told: corrections that could not be laid over, or that quote other
    /// words than stand there.
    pub remarks: Vec<String>,
}

/// Lays corrections, in their order, over the lines of a record. `view` must give the same lines
/// for the same record.
pub fn lay<L: Clone + PartialEq>(
    record: &Record,
    mends: &[Mend],
    view: impl Fn(&Record) -> Vec<L>,
) -> Reading<L> {
    let mut now = record.clone();
    let mut live = view(&now);
    let mut lines: Vec<Laid<L>> = live.iter().cloned().map(standing).collect();
    let mut remarks = Vec::new();
    for mend in mends {
        let mark = Mark { seq: mend.seq, on: mend.on, by: mend.by.clone() };
        if now.data.pointer(&mend.field).unwrap_or(&Value::Null) != &mend.was {
            remarks.push(format!(
                "{} quotes other words than stand in \"{}\": \"{}\"",
                capital(&mark.words()),
                field_words(&mend.field),
                value_words(&mend.was)
            ));
        }
        let next = with(&now, mend);
        let after = next.as_ref().map(&view).unwrap_or_default();
        if next.is_none() || after == live {
            remarks.push(format!(
                "{} can't be laid over the lines above; it says: \"{}\" was \"{}\", is \"{}\"",
                capital(&mark.words()),
                field_words(&mend.field),
                value_words(&mend.was),
                value_words(&mend.is)
            ));
        } else if let Some(next) = next {
            strike(&mut lines, &live, &after, &mark);
            live = after;
            now = next;
        }
    }
    Reading { lines, remarks }
}

/// The record as it reads with every correction that can be laid over it.
pub fn current(record: &Record, mends: &[Mend]) -> Record {
    mends.iter().fold(record.clone(), |now, mend| with(&now, mend).unwrap_or(now))
}

/// An entry as it is looked through for corrections.
pub struct Written<'a> {
    /// Its number.
    pub seq: u64,
    /// Day it was written.
    pub on: Date,
    /// Initials of its author.
    pub by: String,
    /// Its record.
    pub record: &'a Record,
}

/// The corrections of a set by the number of the entry they correct, in the order written.
pub fn mends_of(copy: &PrintedSet) -> BTreeMap<u64, Vec<Mend>> {
    let shown = copy.in_order().into_iter().filter_map(|entry| {
        let by = copy.initials(&entry.author).to_string();
        Some(Written { seq: entry.seq, on: entry.written.local_date(), by, record: entry.shown()? })
    });
    mends_from(shown)
}

/// The corrections among entries by the number of the entry they correct, in the order written. A
/// correction of what an earlier correction put in place counts for the entry first meant.
pub fn mends_from<'a>(entries: impl Iterator<Item = Written<'a>>) -> BTreeMap<u64, Vec<Mend>> {
    let mut by_target: BTreeMap<u64, Vec<Mend>> = BTreeMap::new();
    let mut meant = corrected::Meant::default();
    for entry in entries {
        let Ok(Data::Correction(correction)) = entry.record.read_data() else { continue };
        let (target, field) = meant.reached(entry.seq, &correction);
        by_target.entry(target).or_default().push(Mend {
            seq: entry.seq,
            on: entry.on,
            by: entry.by,
            field,
            was: correction.was.clone(),
            is: correction.is.clone(),
        });
    }
    by_target
}

fn standing<L>(line: L) -> Laid<L> {
    Laid { line, added_by: None, struck_by: None, nothing_beneath: false }
}

/// Strikes the lines that differ and puts the new ones beneath.
fn strike<L: Clone + PartialEq>(lines: &mut Vec<Laid<L>>, before: &[L], after: &[L], mark: &Mark) {
    let same = |(a, b): &(&L, &L)| a == b;
    let head = before.iter().zip(after).take_while(same).count();
    let (rest_before, rest_after) = (&before[head..], &after[head..]);
    let tail = rest_before.iter().rev().zip(rest_after.iter().rev()).take_while(same).count();
    let gone = head..before.len() - tail;
    let new = &after[head..after.len() - tail];

    // Where the standing lines lie among all lines, struck ones included.
    let places: Vec<usize> =
        lines.iter().enumerate().filter(|(_, laid)| laid.struck_by.is_none()).map(|(at, _)| at).collect();
    let mut last = None;
    for at in places.get(gone).unwrap_or_default() {
        if let Some(laid) = lines.get_mut(*at) {
            laid.struck_by = Some(mark.clone());
            last = Some(*at);
        }
    }
    if let (Some(at), true) = (last, new.is_empty()) {
        lines[at].nothing_beneath = true;
    }
    let insert = match last {
        Some(at) => at + 1,
        None => places.get(head).copied().unwrap_or(lines.len()),
    };
    let added = new.iter().map(|line| Laid { added_by: Some(mark.clone()), ..standing(line.clone()) });
    lines.splice(insert..insert, added);
}

fn with(record: &Record, mend: &Mend) -> Option<Record> {
    corrected::with(record, &mend.field, &mend.is)
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

#[cfg(test)]
mod tests {
    use super::super::rows::{Row, rows};
    use super::*;
    use crate::record::moment::parse_date;
    use serde_json::json;

    fn record() -> Record {
        crate::record::examples::example("visit")
    }

    fn mend(seq: u64, field: &str, was: Value, is: Value) -> Mend {
        let on = parse_date("2023-05-09").unwrap();
        Mend { seq, on, by: "IV".to_string(), field: field.to_string(), was, is }
    }

    /// The changed lines, `-` struck and `+` new, with the number of the correction.
    fn changes(reading: &Reading<Row>) -> Vec<String> {
        let sign = |laid: &Laid<Row>| {
            let added = laid.added_by.as_ref().map(|mark| format!("+{}", mark.seq)).unwrap_or_default();
            let struck = laid.struck_by.as_ref().map(|mark| format!("-{}", mark.seq)).unwrap_or_default();
            let sign = format!("{added}{struck}");
            (!sign.is_empty()).then(|| format!("{sign} {}", laid.line.text))
        };
        reading.lines.iter().filter_map(sign).collect()
    }

    #[test]
    fn old_words_stay_and_new_ones_stand_beneath() {
        let record = record();
        let reading = lay(&record, &[mend(9, "/procedures/1/side", json!("right"), json!("left"))], rows);
        assert_eq!(
            changes(&reading),
            [
                "-9 10:24 Joint mobilization - joints of the neck, C5 to C6 (C5-C6), right side",
                "+9 10:24 Joint mobilization - joints of the neck, C5 to C6 (C5-C6), left side"
            ]
        );
        assert_eq!(reading.lines.len(), rows(&record).len() + 1);
        assert!(reading.remarks.is_empty());
    }

    #[test]
    fn a_line_corrected_twice_keeps_every_wording() {
        let first = mend(9, "/plan/frequency", json!("weekly"), json!("monthly"));
        let second = mend(12, "/plan/frequency", json!("monthly"), json!("each fortnight"));
        let reading = lay(&record(), &[first, second], rows);
        assert_eq!(
            changes(&reading),
            ["-9 weekly, three visits", "+9-12 monthly, three visits", "+12 each fortnight, three visits"]
        );
    }

    #[test]
    fn something_may_be_added_or_taken_out() {
        let added = mend(9, "/medicines_changed", Value::Null, json!("one new tablet"));
        let reading = lay(&record(), &[added], rows);
        assert_eq!(changes(&reading), ["+9 one new tablet"]);
        assert!(reading.remarks.is_empty());
        let gone = json!({"at": "2022-10-03T10:18:00-04:00", "question": "comfort", "words": "fine"});
        let reading = lay(&record(), &[mend(9, "/checks/0", gone, Value::Null)], rows);
        assert_eq!(changes(&reading), ["-9 comfort, \"fine\""]);
        let struck = reading.lines.iter().find(|laid| laid.struck_by.is_some()).unwrap();
        assert!(struck.nothing_beneath);
    }

    #[test]
    fn what_does_not_fit_is_told_and_changes_nothing() {
        let plain = rows(&record());
        for field in ["/procedures/7/side", "/nowhere/at/all", "", "/procedures/0/side/deeper"] {
            let reading = lay(&record(), &[mend(9, field, json!("left"), json!("right"))], rows);
            assert!(changes(&reading).is_empty(), "{field}");
            assert!(reading.remarks.iter().any(|remark| remark.contains("can't be laid over")), "{field}");
        }
        // A side that is no word of the layout would make the whole note unreadable.
        let bad = mend(9, "/procedures/0/side", json!("both"), json!("upwards"));
        let reading = lay(&record(), &[bad], rows);
        assert!(changes(&reading).is_empty());
        assert!(reading.remarks[0].contains("upwards"), "{:?}", reading.remarks);
        assert_eq!(reading.lines.into_iter().map(|laid| laid.line).collect::<Vec<_>>(), plain);
    }

    #[test]
    fn a_wrong_quotation_is_told() {
        let reading = lay(&record(), &[mend(9, "/procedures/1/side", json!("midline"), json!("left"))], rows);
        assert_eq!(changes(&reading).len(), 2);
        assert_eq!(reading.remarks.len(), 1);
        assert!(reading.remarks[0].contains("quotes other words than stand in \"procedures 2, side\""));
    }

    #[test]
    fn the_record_as_it_now_reads() {
        let mends = [
            mend(9, "/procedures/1/side", json!("right"), json!("left")),
            mend(10, "/nowhere/x", json!(1), json!(2)),
        ];
        let now = current(&record(), &mends);
        assert_eq!(now.data.pointer("/procedures/1/side"), Some(&json!("left")));
        assert_eq!(current(&record(), &[]), record());
    }
}

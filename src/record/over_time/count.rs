//! Counting: columns of days or weeks, what is marked on them, days without an entry, and the days on which most was
//! written afterwards.

use super::{Group, Lane, Line, Past, Span};
use crate::record::calendar::{days_between, days_from};
use crate::record::moment::Date;
use std::collections::{BTreeMap, BTreeSet};

/// Spans of more days than this are counted in weeks: a page has room for about a year of days.
const DAYS_IN_COLUMNS: i64 = 400;
/// Days in a row without an entry that are pointed out at the least. A long weekend has four.
const GAP_DAYS: i64 = 5;
/// Where a practice writes on few days of the week, only what is this many times its usual pause.
const USUAL_PAUSES: i64 = 3;
/// With fewer pauses than this there is no usual one.
const FEW_PAUSES: usize = 4;
/// How many gaps are named, the longest.
const GAPS: usize = 12;
/// How many of the days on which most was written afterwards are named.
const BUSIEST: usize = 5;

/// The entries of one day, or of one week.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Column {
    /// Entries about their own day, in the order of [`Group::ALL`].
    pub groups: [u32; 5],
    /// Entries about an earlier day, in the order of [`Past::ALL`].
    pub past: [u32; 3],
    /// Entries that bear the label of having been written after a notice, a hold or a request.
    pub after: u32,
    /// Hours of the day in which something was written: bit 0 is midnight to one.
    pub hours: u32,
    /// Hours in which something about an earlier day was written.
    pub hours_past: u32,
}

impl Column {
    /// Entries about an earlier day, of every sort.
    pub fn afterwards(&self) -> u32 {
        self.past.iter().sum()
    }

    /// All its entries.
    pub fn all(&self) -> u32 {
        self.groups.iter().sum::<u32>() + self.afterwards()
    }

    fn take(&mut self, line: &Line) {
        let (hour, _) = line.written.local_time();
        let bit = 1_u32 << u32::from(hour.min(23));
        match line.past() {
            Some(past) => {
                self.past[past as usize] += 1;
                self.hours_past |= bit;
            }
            None => {
                self.groups[line.group() as usize] += 1;
                self.hours |= bit;
            }
        }
        self.after += u32::from(line.read.is_some_and(|read| read.after));
    }
}

/// An entry about an earlier day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Thread {
    /// Its number.
    pub seq: u64,
    /// The day it was written.
    pub written: Date,
    /// The day it is about; none where that is not known.
    pub about: Option<Date>,
    /// In which way.
    pub past: Past,
}

/// Days in a row without an entry.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Gap {
    /// First of them.
    pub from: Date,
    /// Last of them.
    pub until: Date,
}

impl Gap {
    /// How many.
    pub fn days(self) -> i64 {
        days_between(self.from, self.until) + 1
    }
}

/// A day on which much was written about earlier days.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Busy {
    /// The day.
    pub day: Date,
    /// How many entries about earlier days.
    pub entries: u32,
    /// How many days back the farthest of them reaches; none where no such day is known.
    pub farthest: Option<i64>,
    /// How many days later the next notice, hold or request was written; none where none followed in the ledger.
    pub before_notice: Option<i64>,
}

/// Sums over a span.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Totals {
    /// Entries.
    pub entries: u64,
    /// Days with an entry.
    pub days: u64,
    /// Corrections, addenda and late entries, in the order of [`Past::ALL`].
    pub past: [u64; 3],
    /// Written after a notice, a hold or a request.
    pub after: u64,
    /// Entries that could bear the label of a late entry and were not read.
    pub not_read: u64,
}

/// What was written in a span of days.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Course {
    /// The days.
    pub span: Span,
    /// How many days a column has: 1 or 7.
    pub step: i64,
    /// The columns, in order, without a break.
    pub columns: Vec<Column>,
    /// The same entries by month, each with its first day.
    pub months: BTreeMap<Date, Column>,
    /// Entries about earlier days, in order.
    pub threads: Vec<Thread>,
    /// What is marked, and on which days.
    pub lanes: BTreeMap<Lane, BTreeMap<Date, u32>>,
    /// Days in a row without an entry.
    pub gaps: Vec<Gap>,
    /// The days on which most was written afterwards, the most first.
    pub busiest: Vec<Busy>,
    /// The sums.
    pub totals: Totals,
}

impl Course {
    /// Which column a day stands in; the first for what lies before.
    pub fn column_of(&self, day: Date) -> usize {
        let at = days_between(self.span.from, day).max(0) / self.step;
        usize::try_from(at).unwrap_or(0).min(self.columns.len().saturating_sub(1))
    }

    /// How often something is marked from a day to a day, both included.
    pub fn marks(&self, lane: Lane, from: Date, until: Date) -> u32 {
        let days = self.lanes.get(&lane).into_iter();
        days.flat_map(|days| days.range(from..=until)).map(|(_, count)| count).sum()
    }

    /// First day of a column.
    pub fn first_day(&self, column: usize) -> Date {
        days_from(self.span.from, i64::try_from(column).unwrap_or(0) * self.step)
    }
}

/// Counts the entries of a span. `lines` are all entries of the ledger in order, `pinned` the numbers of entries
/// that something outside pins down.
pub fn course(lines: &[Line], pinned: &[u64], span: Span) -> Course {
    let days = days_between(span.from, span.until).max(0) + 1;
    let step = if days > DAYS_IN_COLUMNS { 7 } else { 1 };
    let count = usize::try_from((days + step - 1) / step).unwrap_or(1);
    let mut course = Course {
        span,
        step,
        columns: vec![Column::default(); count],
        months: BTreeMap::new(),
        threads: Vec::new(),
        lanes: BTreeMap::new(),
        gaps: Vec::new(),
        busiest: Vec::new(),
        totals: Totals::default(),
    };
    let mut written: BTreeSet<Date> = BTreeSet::new();
    let mut before = None;
    for line in lines {
        let day = line.written.local_date();
        let back = before.is_some_and(|before| line.written < before);
        before = Some(line.written);
        if !span.holds(day) {
            continue;
        }
        written.insert(day);
        let column = course.column_of(day);
        course.columns[column].take(line);
        course.months.entry(day.first_of_month()).or_default().take(line);
        let pinned = pinned.contains(&line.seq).then_some(Lane::Outside);
        for lane in line.lane().into_iter().chain(pinned).chain(back.then_some(Lane::Clock)) {
            *course.lanes.entry(lane).or_default().entry(day).or_default() += 1;
        }
        if let Some(past) = line.past() {
            let about = line.read.and_then(|read| read.about);
            course.threads.push(Thread { seq: line.seq, written: day, about, past });
            course.totals.past[past as usize] += 1;
        }
        let told = line.read.is_some() || !may_be_late(&line.kind);
        course.totals.not_read += u64::from(!told);
        course.totals.after += u64::from(line.read.is_some_and(|read| read.after));
        course.totals.entries += 1;
    }
    course.totals.days = written.len() as u64;
    course.gaps = gaps(&written);
    course.busiest = busiest(&course.threads, lines);
    course
}

/// Whether something sealed in an entry of this kind counts here, so that it is read where a role opens it.
pub fn may_be_late(kind: &str) -> bool {
    !matches!(super::group_of(kind), Group::Register | Group::Openings)
}

fn gaps(written: &BTreeSet<Date>) -> Vec<Gap> {
    let pairs = written.iter().zip(written.iter().skip(1));
    let mut gaps: Vec<Gap> =
        pairs.map(|(one, next)| Gap { from: days_from(*one, 1), until: days_from(*next, -1) }).collect();
    gaps.sort_by_key(|gap| (gap.days(), gap.from));
    gaps.retain(|gap| gap.days() > 0);
    // Of a few pauses nobody can say which is the usual one.
    let usual = gaps.get(gaps.len() / 2).filter(|_| gaps.len() >= FEW_PAUSES).map_or(0, |gap| gap.days());
    gaps.retain(|gap| gap.days() >= GAP_DAYS.max(usual * USUAL_PAUSES));
    let mut longest = gaps.split_off(gaps.len().saturating_sub(GAPS));
    longest.sort_by_key(|gap| gap.from);
    longest
}

fn busiest(threads: &[Thread], lines: &[Line]) -> Vec<Busy> {
    let noted: BTreeSet<Date> = lines
        .iter()
        .filter(|line| line.kind != "hold-lifted")
        .filter(|line| matches!(line.lane(), Some(Lane::Notice | Lane::Request)))
        .map(|line| line.written.local_date())
        .collect();
    let mut days: BTreeMap<Date, Busy> = BTreeMap::new();
    for thread in threads {
        let next = noted.range(thread.written..).next();
        let day = days.entry(thread.written).or_insert_with(|| Busy {
            day: thread.written,
            entries: 0,
            farthest: None,
            before_notice: next.map(|next| days_between(thread.written, *next)),
        });
        day.entries += 1;
        day.farthest = day.farthest.max(thread.about.map(|about| days_between(about, thread.written)));
    }
    let mut all: Vec<Busy> = days.into_values().collect();
    all.sort_by_key(|busy| (std::cmp::Reverse(busy.entries), busy.day));
    all.truncate(BUSIEST);
    all
}

//! Every measure of a chart, gathered into series that can be compared: the same thing, at the same
//! place, on the same side, taken in the same way. A change of method or instrument begins a new
//! series. A value that a correction struck stays, as struck.

pub mod cells;
pub mod marks;
pub mod panels;
pub mod readings;
pub mod thresholds;

#[cfg(test)]
pub(crate) mod tests;

pub use marks::{Mark, MarkKind};
pub use readings::{Reading, readings};

use crate::record::corrected::{self, Meant};
use crate::record::envelope::Record;
use crate::record::kinds::Data;
use crate::record::kinds::screening::{MeasureKind, Phase, Unit};
use crate::record::kinds::visit::{CheckQuestion, VisitSort};
use crate::record::moment::{Date, Moment};
use crate::record::vocab::{Region, Segment, Side, words};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet};

/// An entry of a chart that its reader may see.
#[derive(Debug, Clone, Copy)]
pub struct Readable<'a> {
    /// Number in the register.
    pub seq: u64,
    /// Its record.
    pub record: &'a Record,
}

/// What was asked or measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum What {
    /// A measure of a fixed kind.
    Measure(MeasureKind),
    /// The number answered to a question within the visit.
    Check(CheckQuestion),
}

impl What {
    /// Its word: `mouth-opening`, `check-comfort`.
    pub fn word(self) -> String {
        match self {
            What::Measure(kind) => kind.word().to_string(),
            What::Check(question) => format!("check-{question}"),
        }
    }
}

words! {
    /// Which part of the record a measure is from.
    Source {
        Measured = "measured", Found = "finding", Told = "complaint", Response = "response-to-procedure",
        Check = "check-in-visit",
    }
}

/// What makes two measures comparable. Measures with different keys are never put in one series.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Key {
    /// What was measured.
    pub what: What,
    /// Which part of the record.
    pub source: Source,
    /// Name of a questionnaire, test or movement.
    pub name: Option<String>,
    /// Region.
    pub region: Option<Region>,
    /// Structure or single level.
    pub structure: Option<String>,
    /// Segment.
    pub segment: Option<Segment>,
    /// Side.
    pub side: Option<Side>,
    /// Active or passive.
    pub active: Option<bool>,
    /// Unit.
    pub unit: Unit,
    /// Greatest score of a questionnaire.
    pub out_of: Option<String>,
    /// Method.
    pub method: Option<String>,
    /// Instrument.
    pub instrument: Option<String>,
    /// Position.
    pub position: Option<String>,
}

impl Key {
    /// A key that names nothing but these.
    pub fn new(what: What, source: Source, unit: Unit) -> Key {
        Key {
            what,
            source,
            name: None,
            region: None,
            structure: None,
            segment: None,
            side: None,
            active: None,
            unit,
            out_of: None,
            method: None,
            instrument: None,
            position: None,
        }
    }

    /// The key with nothing said of method, instrument and position.
    fn without_method(&self) -> Key {
        Key { method: None, instrument: None, position: None, ..self.clone() }
    }

    /// In plain words: `mouth opening unassisted, left side`.
    pub fn words(&self) -> String {
        let spaced = |word: &str| word.replace('-', " ");
        let mut first = match self.what {
            What::Check(question) => format!("asked in the visit: {}", spaced(question.word())),
            What::Measure(_) if self.source == Source::Response => "pain after a procedure".to_string(),
            What::Measure(kind) => spaced(kind.word()),
        };
        if let Some(name) = &self.name {
            first.push_str(&format!(" ({name})"));
        }
        let mut parts = vec![first];
        parts.extend(self.region.map(|region| spaced(region.word())));
        parts.extend(self.structure.clone());
        parts.extend(self.segment.map(|segment| segment.word().to_string()));
        parts.extend(self.side.map(|side| match side {
            Side::Left | Side::Right => format!("{side} side"),
            Side::Both => "both sides".to_string(),
            Side::Midline => "midline".to_string(),
        }));
        parts.extend(self.active.map(|active| if active { "active" } else { "passive" }.to_string()));
        if self.source == Source::Told {
            parts.push("as told".to_string());
        }
        parts.extend(self.how());
        parts.join(", ")
    }

    /// Method, instrument and position in words; none where the record says nothing of them.
    pub fn how(&self) -> Option<String> {
        let parts: Vec<String> =
            [&self.method, &self.instrument, &self.position].into_iter().flatten().cloned().collect();
        (!parts.is_empty()).then(|| parts.join(", "))
    }

    /// The unit in words.
    pub fn unit_words(&self) -> String {
        match (self.unit, &self.out_of) {
            (Unit::Score, Some(most)) => format!("points of {most}"),
            (Unit::Score, None) => "points".to_string(),
            (Unit::Of10, _) => "of 10".to_string(),
            (Unit::Deg, _) => "degrees".to_string(),
            (Unit::PerMinute, _) => "a minute".to_string(),
            (Unit::Celsius, _) => "degrees C".to_string(),
            (Unit::Percent, _) => "%".to_string(),
            (Unit::Grade, _) => "grade".to_string(),
            (Unit::Count, _) => "times".to_string(),
            (other, _) => other.word().to_string(),
        }
    }
}

/// What struck a value, or put it in place.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Mended {
    /// Number of the correction, or of the mark that the entry belongs to another chart.
    pub by: u64,
    /// Day it was written.
    #[serde(serialize_with = "as_text")]
    #[schemars(with = "String")]
    pub on: Date,
    /// True when the whole entry was marked as belonging to another chart.
    pub misfiled: bool,
}

fn as_text<S: serde::Serializer>(date: &Date, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.collect_str(date)
}

/// One measure of a series.
#[derive(Debug, Clone)]
pub struct Point {
    /// Number of the entry it stands in.
    pub entry: u64,
    /// The measure.
    pub reading: Reading,
    /// What put it in place of another; none when it stood there from the first.
    pub added: Option<Mended>,
    /// What struck it; none when it stands.
    pub struck: Option<Mended>,
}

impl Point {
    /// True when nothing struck it.
    pub fn stands(&self) -> bool {
        self.struck.is_none()
    }

    /// The local day it was taken.
    pub fn day(&self) -> Date {
        self.reading.at.local_date()
    }

    /// Before, then during or not said, then after.
    pub fn rank(&self) -> u8 {
        match self.reading.phase {
            Some(Phase::Before) => 0,
            Some(Phase::During) | None => 1,
            Some(Phase::After) => 2,
        }
    }
}

/// Measures that can be compared, in the order of time.
#[derive(Debug, Clone)]
pub struct Series {
    /// A letter to find it by in tables and pictures.
    pub code: String,
    /// What makes its measures comparable.
    pub key: Key,
    /// The measures.
    pub points: Vec<Point>,
    /// Codes of series that differ from this one only in method, instrument or position.
    pub other_methods: Vec<String>,
}

/// One visit, or one day without one.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Row {
    /// Number of the visit opening.
    pub visit: Option<u64>,
    /// Its day.
    pub day: Date,
    /// First, later or re-examination, where the note was read.
    pub sort: Option<VisitSort>,
}

/// Every measure of a chart.
#[derive(Debug, Clone, Default)]
pub struct Measures {
    /// The series: mouth opening, jaw movement, pain, movement, then the rest.
    pub series: Vec<Series>,
    /// What else happened.
    pub marks: Vec<Mark>,
    /// Visits and days with a measure, oldest first.
    pub rows: Vec<Row>,
}

/// Gathers every measure of the readable entries of one chart.
pub fn gather(entries: &[Readable<'_>]) -> Measures {
    let mut ordered = entries.to_vec();
    ordered.sort_by_key(|entry| entry.seq);
    let mends = corrections(&ordered);
    let misfiled = misfiled(&ordered);
    let mut by_key: BTreeMap<(u8, Key), Vec<Point>> = BTreeMap::new();
    for entry in &ordered {
        let own = mends.get(&entry.seq).map_or(&[][..], Vec::as_slice);
        for mut point in laid(entry, own) {
            point.struck = point.struck.or_else(|| misfiled.get(&entry.seq).copied());
            let key = point.reading.key.clone();
            by_key.entry((panels::rank(&key), key)).or_default().push(point);
        }
    }
    let mut ranked: Vec<((u8, Key), Vec<Point>)> = by_key.into_iter().collect();
    // What was measured most often comes first and gets the plainest sign.
    ranked.sort_by_key(|((rank, _), points)| {
        (*rank, panels::by_number(*rank).then_some(Reverse(points.len())))
    });
    let mut series: Vec<Series> = Vec::new();
    for (index, ((_, key), mut points)) in ranked.into_iter().enumerate() {
        points.sort_by_key(|point| (point.day(), point.rank(), point.reading.at, point.entry));
        series.push(Series { code: code(index), key, points, other_methods: Vec::new() });
    }
    name_other_methods(&mut series);
    let rows = rows(&series, &ordered);
    Measures { series, marks: marks::marks(&ordered), rows }
}

impl Measures {
    /// Only the series of this kind, with the codes they have among all.
    pub fn only(mut self, word: &str) -> Measures {
        self.series.retain(|series| series.key.what.word() == word);
        let kept: BTreeSet<usize> = self.points().filter_map(|point| self.row_of(point)).collect();
        let mut index = 0..;
        self.rows.retain(|_| index.next().is_some_and(|at| kept.contains(&at)));
        self
    }

    /// Every measure of every series.
    pub fn points(&self) -> impl Iterator<Item = &Point> {
        self.series.iter().flat_map(|series| &series.points)
    }

    /// The row a measure belongs to: its visit, or its day, or the only visit of its day.
    pub fn row_of(&self, point: &Point) -> Option<usize> {
        let day = point.day();
        match point.reading.visit {
            Some(visit) => self.rows.iter().position(|row| row.visit == Some(visit)),
            None => {
                let loose = self.rows.iter().position(|row| row.visit.is_none() && row.day == day);
                loose.or_else(|| self.rows.iter().position(|row| row.day == day))
            }
        }
    }
}

/// `A` to `Z`, then `A2` to `Z2`, and so on.
fn code(index: usize) -> String {
    let letter = char::from(b'A' + u8::try_from(index % 26).unwrap_or(0));
    match index / 26 {
        0 => letter.to_string(),
        round => format!("{letter}{}", round + 1),
    }
}

/// One correction: its number, the day it was written, the field it reaches and what it puts there.
struct Mend {
    mark: Mended,
    field: String,
    is: serde_json::Value,
}

/// The corrections by the entry they reach, in the order written.
fn corrections(ordered: &[Readable<'_>]) -> BTreeMap<u64, Vec<Mend>> {
    let mut meant = Meant::default();
    let mut all: BTreeMap<u64, Vec<Mend>> = BTreeMap::new();
    for entry in ordered {
        if let Ok(Data::Correction(correction)) = entry.record.read_data() {
            let (target, field) = meant.reached(entry.seq, &correction);
            let mark = Mended { by: entry.seq, on: entry.record.written.local_date(), misfiled: false };
            all.entry(target).or_default().push(Mend { mark, field, is: correction.is });
        }
    }
    all
}

/// Entries marked as belonging to another chart.
fn misfiled(ordered: &[Readable<'_>]) -> BTreeMap<u64, Mended> {
    let mark = |entry: &Readable<'_>| match entry.record.read_data() {
        Ok(Data::Misfiled(misfiled)) => {
            let on = entry.record.written.local_date();
            Some((misfiled.entry, Mended { by: entry.seq, on, misfiled: true }))
        }
        _ => None,
    };
    ordered.iter().filter_map(mark).collect()
}

/// The measures of one entry with its corrections laid over: what was struck stays.
fn laid(entry: &Readable<'_>, mends: &[Mend]) -> Vec<Point> {
    let point = |reading: Reading, added| Point { entry: entry.seq, reading, added, struck: None };
    let mut now = entry.record.clone();
    let mut points: Vec<Point> = readings(&now).into_iter().map(|reading| point(reading, None)).collect();
    for mend in mends {
        let Some(next) = corrected::with(&now, &mend.field, &mend.is) else { continue };
        let after = readings(&next);
        // Standing measures that are no more there are struck; those that are new are added.
        let mut left = after.clone();
        for old in points.iter_mut().filter(|point| point.stands()) {
            match left.iter().position(|new| new.same(&old.reading)) {
                Some(at) => old.reading.place = left.remove(at).place,
                None => old.struck = Some(mend.mark),
            }
        }
        points.extend(left.into_iter().map(|new| point(new, Some(mend.mark))));
        now = next;
    }
    points
}

fn name_other_methods(series: &mut [Series]) {
    let mut alike: BTreeMap<Key, Vec<String>> = BTreeMap::new();
    for one in series.iter() {
        alike.entry(one.key.without_method()).or_default().push(one.code.clone());
    }
    for one in series.iter_mut() {
        let all = alike.get(&one.key.without_method()).map_or(&[][..], Vec::as_slice);
        one.other_methods = all.iter().filter(|code| **code != one.code).cloned().collect();
    }
}

/// Visits and days, oldest first. A measure without a visit joins the only visit of its day.
fn rows(series: &[Series], ordered: &[Readable<'_>]) -> Vec<Row> {
    let mut first: BTreeMap<u64, Moment> = BTreeMap::new();
    let mut loose: BTreeSet<Date> = BTreeSet::new();
    for point in series.iter().flat_map(|one| &one.points) {
        match point.reading.visit {
            Some(visit) => {
                let at = first.entry(visit).or_insert(point.reading.at);
                *at = (*at).min(point.reading.at);
            }
            None => {
                loose.insert(point.day());
            }
        }
    }
    let sorts: BTreeMap<u64, VisitSort> = ordered
        .iter()
        .filter_map(|entry| match entry.record.read_data() {
            Ok(Data::Visit(note)) => Some((note.visit, note.sort)),
            _ => None,
        })
        .collect();
    let mut rows: Vec<(Moment, Row)> = first
        .into_iter()
        .map(|(visit, at)| {
            let row = Row { visit: Some(visit), day: at.local_date(), sort: sorts.get(&visit).copied() };
            (at, row)
        })
        .collect();
    for day in loose {
        if rows.iter().filter(|(_, row)| row.day == day).count() != 1 {
            let at = Moment::parse(&format!("{day}T00:00:00Z")).unwrap_or(Moment::EPOCH);
            rows.push((at, Row { visit: None, day, sort: None }));
        }
    }
    rows.sort_by_key(|(at, row)| (row.day, *at, row.visit));
    rows.into_iter().map(|(_, row)| row).collect()
}

//! A change beside every published threshold for its measure, each by name: met, not met, or not to
//! be judged, and why. There is no verdict over them: the published figures differ, and which of
//! them fits this patient is for a person to say.

use super::{Key, Measures, Point, Series, Source, What};
use crate::record::decimal::Decimal;
use crate::record::kinds::screening::{MeasureKind, Phase, Unit};
use crate::record::moment::Date;
use crate::record::reckon::change::{Pair, classify};
use crate::record::tables::trade::{MetWhen, Threshold, ThresholdUnit, TradeTables};
use crate::record::vocab::{Side, words};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// `at least 9 mm`, `more than 20 degrees`.
pub fn figure(threshold: &Threshold) -> String {
    let rule = match threshold.met {
        MetWhen::AtLeast => "at least",
        MetWhen::MoreThan => "more than",
    };
    let unit = match threshold.unit {
        ThresholdUnit::Points => "points",
        ThresholdUnit::PercentagePoints => "percentage points",
        ThresholdUnit::PercentOfBaseline => "% of the first value",
        ThresholdUnit::Mm => "mm",
        ThresholdUnit::Deg => "degrees",
    };
    format!("{rule} {} {unit}", threshold.value)
}

/// Whether a change reaches a threshold.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Met {
    /// It does.
    Met,
    /// It does not.
    NotMet,
    /// It can't be judged, and why.
    NotJudged(String),
}

words! {
    /// Which way a value went. Whether that is for the better is not said here.
    Way { More = "more", Less = "less", Same = "same" }
}

words! {
    /// From what to what a change is reckoned.
    SpanKind { FirstToLast = "first-to-last", WithinVisit = "within-visit" }
}

/// One end of a change.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct End {
    /// Place of its visit or day among the rows.
    pub row: usize,
    /// Its day.
    pub day: Date,
    /// When in the visit, where said.
    pub phase: Option<Phase>,
    /// The number.
    pub value: Decimal,
    /// As it was written; a sum is written out: `50 + 60 = 110`.
    pub text: String,
    /// Numbers of the entries it stands in.
    pub entries: Vec<u64>,
}

/// A change with its thresholds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Change {
    /// First to last, or within one visit.
    pub span: SpanKind,
    /// Where it starts.
    pub from: End,
    /// Where it ends.
    pub to: End,
    /// How much.
    pub size: Decimal,
    /// Which way.
    pub way: Way,
    /// One for each threshold, in their order.
    pub met: Vec<Met>,
}

/// The changes of one measure for which thresholds are published.
#[derive(Debug, Clone, PartialEq)]
pub struct ThresholdLine {
    /// What the table calls it.
    pub instrument: String,
    /// The series, by code: one, or the two a whole arc is the sum of.
    pub codes: Vec<String>,
    /// What was measured, in words.
    pub what: String,
    /// The unit in words.
    pub unit: String,
    /// Every threshold of the table for it.
    pub thresholds: Vec<Threshold>,
    /// The changes.
    pub changes: Vec<Change>,
    /// Why nothing can be judged; none when it can.
    pub not_judged: Option<String>,
}

/// Every change of the measures beside every threshold of the table.
pub fn thresholds(measures: &Measures, table: &TradeTables) -> Vec<ThresholdLine> {
    let mut lines: Vec<ThresholdLine> =
        measures.series.iter().filter_map(|series| of_series(measures, series, table)).collect();
    lines.extend(whole_arcs(measures, table));
    lines
}

/// What was judged, each instrument once with its thresholds, and the number it is told by: the
/// thresholds of the first are T1.1, T1.2, those of the second T2.1.
pub fn instruments(lines: &[ThresholdLine]) -> Vec<(&str, &[Threshold])> {
    let mut all: Vec<(&str, &[Threshold])> = Vec::new();
    for line in lines.iter().filter(|line| line.not_judged.is_none()) {
        if all.iter().all(|(instrument, _)| *instrument != line.instrument) {
            all.push((&line.instrument, &line.thresholds));
        }
    }
    all
}

/// The name of a threshold among those told: `T2.1`.
pub fn name(instrument: usize, threshold: usize) -> String {
    format!("T{}.{}", instrument + 1, threshold + 1)
}

fn for_instrument(table: &TradeTables, instrument: &str) -> Vec<Threshold> {
    table.threshold.iter().filter(|threshold| threshold.instrument == instrument).cloned().collect()
}

fn of_series(measures: &Measures, series: &Series, table: &TradeTables) -> Option<ThresholdLine> {
    let (instrument, doubt) = instrument(&series.key)?;
    let ends: Vec<End> = series.points.iter().filter_map(|point| end(measures, point)).collect();
    Some(line((instrument, table), vec![series.code.clone()], series.key.words(), &series.key, &ends, doubt))
}

fn line(
    (instrument, table): (&str, &TradeTables),
    codes: Vec<String>,
    what: String,
    key: &Key,
    ends: &[End],
    doubt: Option<String>,
) -> ThresholdLine {
    let changes = match &doubt {
        None => changes(key, (instrument, table), ends),
        Some(_) => Vec::new(),
    };
    let alone = || "there are no two values to compare".to_string();
    let not_judged = doubt.or_else(|| changes.is_empty().then(alone));
    ThresholdLine {
        instrument: instrument.to_string(),
        codes,
        what,
        unit: key.unit_words(),
        thresholds: for_instrument(table, instrument),
        changes,
        not_judged,
    }
}

/// What the table calls a measure, and why it can't be judged after all, if so.
fn instrument(key: &Key) -> Option<(&'static str, Option<String>)> {
    use MeasureKind::*;
    let What::Measure(kind) = key.what else { return None };
    let in_unit = |unit, name| (key.unit != unit).then(|| format!("it is not recorded in {name}"));
    match kind {
        PainNow | PainWorst | PainBest if key.source != Source::Response => Some(("NPRS", scale_doubt(key))),
        MouthOpening | MouthOpeningUnassisted => Some(("mouth opening", in_unit(Unit::Mm, "mm"))),
        MouthOpeningPainFree | MouthOpeningAssisted => Some((
            "mouth opening",
            Some(
                "the published figures are not known to hold for opening short of pain, or helped by a hand"
                    .to_string(),
            ),
        )),
        JawLateral => Some(("lateral", in_unit(Unit::Mm, "mm"))),
        JawProtrusion => Some(("protrusion", in_unit(Unit::Mm, "mm"))),
        NeckExtension => Some(("neck extension", in_unit(Unit::Deg, "degrees"))),
        NeckSideBending if key.side == Some(Side::Left) => {
            Some(("neck side-bending, left", in_unit(Unit::Deg, "degrees")))
        }
        Questionnaire if is_ndi(key.name.as_deref().unwrap_or_default()) => Some(("NDI", score_doubt(key))),
        _ => None,
    }
}

/// The pain thresholds hold for a number from 0 to 10, not for a line, faces or words.
fn scale_doubt(key: &Key) -> Option<String> {
    if key.unit != Unit::Of10 {
        return Some("it is not a number from 0 to 10".to_string());
    }
    let method = key.method.as_deref()?.to_lowercase();
    let numbers = ["numer", "number", "0-10", "0 to 10", "nprs", "nrs"];
    (!numbers.iter().any(|word| method.contains(word)))
        .then(|| format!("the method \"{method}\" is not said to be a number from 0 to 10"))
}

fn is_ndi(name: &str) -> bool {
    let name = name.trim().to_lowercase();
    name == "ndi" || name.contains("neck disability index") || name.starts_with("ndi ")
}

/// Ten items of 0 to 5, so 50 points; given as points or as per cent of them.
const NDI_POINTS: &str = "50";

fn score_doubt(key: &Key) -> Option<String> {
    match (key.unit, key.out_of.as_deref()) {
        (Unit::Percent, _) | (Unit::Score, Some(NDI_POINTS)) => None,
        (Unit::Score, Some(most)) => Some(format!("it is out of {most} points and not of 50")),
        (Unit::Score, None) => Some("its greatest score is not recorded".to_string()),
        _ => Some("it is recorded neither in points nor in per cent".to_string()),
    }
}

fn end(measures: &Measures, point: &Point) -> Option<End> {
    let value = point.reading.value.filter(|_| point.stands())?;
    Some(End {
        row: measures.row_of(point)?,
        day: point.day(),
        phase: point.reading.phase,
        value,
        text: point.reading.text.clone(),
        entries: vec![point.entry],
    })
}

/// First to last, and before to after of each visit. Like is compared with like: first to last goes
/// by what was measured before treatment, where that was done on two days or more.
fn changes(key: &Key, of: (&str, &TradeTables), ends: &[End]) -> Vec<Change> {
    let before: Vec<&End> = ends.iter().filter(|end| end.phase == Some(Phase::Before)).collect();
    let whole: Vec<&End> = match (before.first(), before.last()) {
        (Some(first), Some(last)) if first.row != last.row => before,
        _ => ends.iter().collect(),
    };
    let mut pairs = Vec::new();
    if let (Some(first), Some(last)) = (whole.first(), whole.last())
        && first.row != last.row
    {
        pairs.push((SpanKind::FirstToLast, *first, *last));
    }
    let mut rows: Vec<usize> = ends.iter().map(|end| end.row).collect();
    rows.sort_unstable();
    rows.dedup();
    for row in rows {
        let last = |phase| ends.iter().rfind(|end| end.row == row && end.phase == Some(phase));
        if let (Some(before), Some(after)) = (last(Phase::Before), last(Phase::After)) {
            pairs.push((SpanKind::WithinVisit, before, after));
        }
    }
    pairs.into_iter().filter_map(|(span, from, to)| change(key, of, span, from, to)).collect()
}

/// One change; none where the numbers are too long to be reckoned with.
fn change(key: &Key, of: (&str, &TradeTables), span: SpanKind, from: &End, to: &End) -> Option<Change> {
    let size = to.value.minus(from.value)?.size();
    let way = match to.value.cmp(&from.value) {
        std::cmp::Ordering::Greater => Way::More,
        std::cmp::Ordering::Less => Way::Less,
        std::cmp::Ordering::Equal => Way::Same,
    };
    let met = judged(of, key.unit, from.value, to.value);
    Some(Change { span, from: from.clone(), to: to.clone(), size, way, met })
}

/// The change beside every threshold of the instrument, in the order of the table. The patient is
/// held against the figures of every group, because the chart does not say which is the patient's.
fn judged((instrument, table): (&str, &TradeTables), unit: Unit, from: Decimal, to: Decimal) -> Vec<Met> {
    let unit = match unit {
        Unit::Of10 | Unit::Score => "points",
        other => other.word(),
    };
    let pair = Pair {
        instrument: instrument.to_string(),
        population: None,
        baseline: from,
        followup: to,
        unit: unit.to_string(),
        followup_unit: None,
    };
    let met = |met: Option<bool>| match met {
        Some(true) => Met::Met,
        Some(false) => Met::NotMet,
        None if from == Decimal::ZERO => Met::NotJudged("there is no percentage of nought".to_string()),
        None => Met::NotJudged("the threshold is in another unit".to_string()),
    };
    match classify(&pair, table) {
        Ok(all) => all.met.iter().map(|one| met(one.met)).collect(),
        Err(error) => {
            for_instrument(table, instrument).iter().map(|_| Met::NotJudged(error.to_string())).collect()
        }
    }
}

/// One direction of an arc: what is measured, and on which side where that tells the direction.
type Direction = (MeasureKind, Option<Side>);

/// The two directions whose sum is a whole arc, and what the table calls it.
const ARCS: [(Direction, Direction, &str); 3] = [
    (
        (MeasureKind::NeckFlexion, None),
        (MeasureKind::NeckExtension, None),
        "neck flexion-extension, whole arc",
    ),
    (
        (MeasureKind::NeckSideBending, Some(Side::Left)),
        (MeasureKind::NeckSideBending, Some(Side::Right)),
        "neck side-bending, whole arc",
    ),
    (
        (MeasureKind::NeckRotation, Some(Side::Left)),
        (MeasureKind::NeckRotation, Some(Side::Right)),
        "neck rotation, whole arc",
    ),
];

fn whole_arcs(measures: &Measures, table: &TradeTables) -> Vec<ThresholdLine> {
    let mut lines = Vec::new();
    for (one, other, instrument) in ARCS {
        for a in measures.series.iter().filter(|series| is_direction(&series.key, one)) {
            let twin = Key { what: What::Measure(other.0), side: other.1.or(a.key.side), ..a.key.clone() };
            let Some(b) = measures.series.iter().find(|series| series.key == twin) else { continue };
            let ends = sums(measures, a, b);
            let never = "the two directions were not both measured on one day at the same point of the visit";
            let doubt = ends.is_empty().then(|| never.to_string());
            let what = format!("{} + {}", a.key.words(), b.key.words());
            let codes = vec![a.code.clone(), b.code.clone()];
            lines.push(line((instrument, table), codes, what, &a.key, &ends, doubt));
        }
    }
    lines
}

fn is_direction(key: &Key, (kind, side): Direction) -> bool {
    key.what == What::Measure(kind) && key.unit == Unit::Deg && (side.is_none() || key.side == side)
}

/// The arcs of days on which both directions were measured, before with before and after with after.
fn sums(measures: &Measures, a: &Series, b: &Series) -> Vec<End> {
    let ends = |series: &Series| -> Vec<End> {
        series.points.iter().filter_map(|point| end(measures, point)).collect()
    };
    let (ones, others) = (ends(a), ends(b));
    let mut sums: Vec<End> = Vec::new();
    for one in &ones {
        let same = |end: &&End| (end.row, end.day, end.phase) == (one.row, one.day, one.phase);
        let newest = ones.iter().rfind(same).is_some_and(|last| std::ptr::eq(last, one));
        let Some(other) = others.iter().rfind(same).filter(|_| newest) else { continue };
        let Some(value) = one.value.plus(other.value) else { continue };
        let entries = one.entries.iter().chain(&other.entries).copied().collect();
        let text = format!("{} + {} = {value}", one.text, other.text);
        sums.push(End { value, text, entries, ..one.clone() });
    }
    sums
}

#[cfg(test)]
#[path = "thresholds_tests.rs"]
mod tests;

//! A change beside every published threshold for its measure, each by name: met, not met, or not to
//! be judged, and why. There is no verdict over them: the published figures differ, and which of
//! them fits this patient is for a person to say.

use super::{Decimal, Key, Measures, Point, Series, Source, What};
use crate::record::kinds::screening::{MeasureKind, Phase, Unit};
use crate::record::moment::Date;
use crate::record::tables;
use crate::record::vocab::{Side, words};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// One published threshold of change, as `[[threshold]]` of the table has it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Threshold {
    /// Its id in the table.
    pub id: String,
    /// What it is about: `NPRS`, `mouth opening`.
    pub instrument: String,
    /// The people it was found in, where the table says. The chart does not decide whether the
    /// patient is one of them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub population: Option<String>,
    /// The figure.
    pub value: serde_json::Number,
    /// Its unit: `mm`, `deg`, `points`, `percentage points`, `percent of baseline`.
    pub unit: String,
    /// Whether the figure itself counts as met.
    pub met: Rule,
    /// What kind of threshold it is.
    pub kind: String,
    /// Where it was published.
    pub citation: String,
}

words! {
    /// When a threshold is met.
    Rule { AtLeast = "at_least", MoreThan = "more_than" }
}

impl Threshold {
    /// `at least 9 mm`, `more than 20 degrees`.
    pub fn figure(&self) -> String {
        let rule = match self.met {
            Rule::AtLeast => "at least",
            Rule::MoreThan => "more than",
        };
        let unit = match self.unit.as_str() {
            "deg" => "degrees",
            "percent of baseline" => "% of the first value",
            other => other,
        };
        format!("{rule} {} {unit}", self.value)
    }
}

/// The thresholds of a table document.
///
/// # Errors
/// What is wrong with them.
pub fn read(document: &serde_json::Value) -> Result<Vec<Threshold>, String> {
    let list = document.get("threshold").cloned().ok_or("the table has no threshold")?;
    serde_json::from_value(list).map_err(|e| format!("threshold: {e}"))
}

/// The thresholds as they are shipped.
///
/// # Errors
/// Only if the shipped text is no table, which a test rules out.
pub fn shipped() -> Result<Vec<Threshold>, String> {
    read(&tables::toml_json::read(tables::TRADE)?)
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
pub fn thresholds(measures: &Measures, table: &[Threshold]) -> Vec<ThresholdLine> {
    let mut lines: Vec<ThresholdLine> =
        measures.series.iter().filter_map(|series| of_series(measures, series, table)).collect();
    lines.extend(whole_arcs(measures, table));
    lines
}

fn for_instrument(table: &[Threshold], instrument: &str) -> Vec<Threshold> {
    table.iter().filter(|threshold| threshold.instrument == instrument).cloned().collect()
}

fn of_series(measures: &Measures, series: &Series, table: &[Threshold]) -> Option<ThresholdLine> {
    let (instrument, doubt) = instrument(&series.key)?;
    let thresholds = for_instrument(table, instrument);
    let ends: Vec<End> = series.points.iter().filter_map(|point| end(measures, point)).collect();
    Some(line(
        instrument,
        vec![series.code.clone()],
        series.key.words(),
        &series.key,
        thresholds,
        ends,
        doubt,
    ))
}

fn line(
    instrument: &str,
    codes: Vec<String>,
    what: String,
    key: &Key,
    thresholds: Vec<Threshold>,
    ends: Vec<End>,
    doubt: Option<String>,
) -> ThresholdLine {
    let changes = match &doubt {
        None => changes(key, &thresholds, &ends),
        Some(_) => Vec::new(),
    };
    let alone = || "there are no two values to compare".to_string();
    let not_judged = doubt.or_else(|| changes.is_empty().then(alone));
    let unit = key.unit_words();
    ThresholdLine { instrument: instrument.to_string(), codes, what, unit, thresholds, changes, not_judged }
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
fn changes(key: &Key, thresholds: &[Threshold], ends: &[End]) -> Vec<Change> {
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
    pairs.into_iter().map(|(span, from, to)| change(key, thresholds, span, from, to)).collect()
}

fn change(key: &Key, thresholds: &[Threshold], span: SpanKind, from: &End, to: &End) -> Change {
    let size = (to.value - from.value).size();
    let way = match to.value.cmp(&from.value) {
        std::cmp::Ordering::Greater => Way::More,
        std::cmp::Ordering::Less => Way::Less,
        std::cmp::Ordering::Equal => Way::Same,
    };
    let met = thresholds.iter().map(|threshold| reaches(threshold, key.unit, from.value, size)).collect();
    Change { span, from: from.clone(), to: to.clone(), size, way, met }
}

/// Whether a change of this size from this first value reaches a threshold.
fn reaches(threshold: &Threshold, unit: Unit, first: Decimal, size: Decimal) -> Met {
    let Some(limit) = Decimal::parse(&threshold.value.to_string()) else {
        return Met::NotJudged("the figure of the table is no number that can be reckoned with".to_string());
    };
    let more = threshold.met == Rule::MoreThan;
    let over = |size: Decimal, limit: Decimal| if more { size > limit } else { size >= limit };
    let met = match (threshold.unit.as_str(), unit) {
        ("percent of baseline", _) if first == Decimal::ZERO => {
            return Met::NotJudged("there is no percentage of nought".to_string());
        }
        ("percent of baseline", _) => size.reaches_hundredths(limit, first.size(), more),
        ("mm", Unit::Mm) | ("deg", Unit::Deg) | ("points", Unit::Of10 | Unit::Score) => over(size, limit),
        // A score of 50 points: one point is two per cent.
        ("points", Unit::Percent) => over(size, limit.times(2)),
        ("percentage points", Unit::Score) => over(size.times(2), limit),
        ("percentage points", Unit::Percent) => over(size, limit),
        _ => return Met::NotJudged("the threshold is in another unit".to_string()),
    };
    if met { Met::Met } else { Met::NotMet }
}

/// The two directions whose sum is a whole arc, and what the table calls it.
const ARCS: [((MeasureKind, Option<Side>), (MeasureKind, Option<Side>), &str); 3] = [
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

fn whole_arcs(measures: &Measures, table: &[Threshold]) -> Vec<ThresholdLine> {
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
            lines.push(line(instrument, codes, what, &a.key, for_instrument(table, instrument), ends, doubt));
        }
    }
    lines
}

fn is_direction(key: &Key, (kind, side): (MeasureKind, Option<Side>)) -> bool {
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
        let value = one.value + other.value;
        let entries = one.entries.iter().chain(&other.entries).copied().collect();
        let text = format!("{} + {} = {value}", one.text, other.text);
        sums.push(End { value, text, entries, ..one.clone() });
    }
    sums
}

#[cfg(test)]
mod tests {
    use super::super::tests::{chart, gathered};
    use super::*;
    use serde_json::{Value, json};

    fn number(value: &Value) -> Decimal {
        Decimal::parse(&value.to_string()).unwrap()
    }

    /// The worked examples of the published thresholds (tests/data/reckon/checks-given.json, topic
    /// `change`; each names its source: Cleland 2008, Farrar 2001, Young 2009, Kropmans 2000,
    /// Stoustrup 2013, Christensen 1998, Anwar 2022).
    #[test]
    fn published_examples() {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/data/reckon/checks-given.json");
        let given: Value = serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
        let table = shipped().unwrap();
        let mut tried = 0;
        for check in given["checks"].as_array().unwrap() {
            if check["topic"] != "change" || check["input"]["ask"] != "classify" {
                continue;
            }
            let (input, expect) = (&check["input"], &check["expect"]);
            let unit = match (input["instrument"].as_str().unwrap(), input["unit"].as_str().unwrap()) {
                ("NPRS", _) => Unit::Of10,
                (_, "points") => Unit::Score,
                (_, "percent") => Unit::Percent,
                (_, "mm") => Unit::Mm,
                (_, "deg") => Unit::Deg,
                other => panic!("{other:?}"),
            };
            let (first, last) = (number(&input["baseline"]), number(&input["followup"]));
            let size = (last - first).size();
            assert_eq!(size, number(&expect["size"]), "{}", check["id"]);
            for (id, met) in expect["met"].as_object().unwrap() {
                let threshold = table.iter().find(|threshold| threshold.id == *id).unwrap();
                let got = match reaches(threshold, unit, first, size) {
                    Met::Met => json!(true),
                    Met::NotMet => json!(false),
                    Met::NotJudged(_) => Value::Null,
                };
                assert_eq!(got, *met, "{} {id}", check["id"]);
            }
            tried += 1;
        }
        assert!(tried >= 19, "{tried}");
    }

    /// Stoustrup 2013, 3.3 mm: in binary, 34.3 less 31 falls short of it.
    #[test]
    fn a_decimal_on_the_threshold_counts() {
        let table = shipped().unwrap();
        let threshold = table.iter().find(|t| t.id == "opening-stoustrup-2013-2x3").unwrap();
        let size = Decimal::parse("34.3").unwrap() - Decimal::parse("31").unwrap();
        assert_eq!(reaches(threshold, Unit::Mm, Decimal::whole(31), size), Met::Met);
    }

    #[test]
    fn each_threshold_is_named_and_none_sums_them_up() {
        let measures = gathered(&chart());
        let lines = thresholds(&measures, &shipped().unwrap());
        let opening = lines.iter().find(|line| line.instrument == "mouth opening").unwrap();
        let ids: Vec<&str> = opening.thresholds.iter().map(|t| t.id.as_str()).collect();
        assert_eq!(
            ids,
            [
                "opening-kropmans-2000-single",
                "opening-kropmans-2000-repeated",
                "opening-stoustrup-2013-1x1",
                "opening-stoustrup-2013-2x3"
            ]
        );
        assert!(opening.thresholds.iter().all(|t| t.population.is_some()));
        let whole = &opening.changes[0];
        assert_eq!(
            (whole.span, whole.size.to_string(), whole.way),
            (SpanKind::FirstToLast, "8".into(), Way::More)
        );
        assert_eq!(whole.met, [Met::NotMet, Met::Met, Met::Met, Met::Met]);
    }

    #[test]
    fn a_whole_arc_needs_both_directions_on_one_day() {
        let turn = |side: &str, value: u32| json!({ "kind": "neck-rotation", "value": value, "unit": "deg", "side": side });
        let mut entries = chart();
        entries.push((
            70,
            super::super::tests::measure(
                "2025-03-04T10:00:00-05:00",
                json!([turn("left", 60), turn("right", 70)]),
            ),
        ));
        entries
            .push((71, super::super::tests::measure("2025-03-11T10:00:00-04:00", json!([turn("left", 75)]))));
        let arc = |entries: &[_]| {
            let lines = thresholds(&gathered(entries), &shipped().unwrap());
            lines.into_iter().find(|line| line.instrument == "neck rotation, whole arc").unwrap()
        };
        assert_eq!(arc(&entries).not_judged.as_deref(), Some("there are no two values to compare"));
        entries.push((
            72,
            super::super::tests::measure(
                "2025-03-18T10:00:00-04:00",
                json!([turn("left", 72), turn("right", 73)]),
            ),
        ));
        let line = arc(&entries);
        let change = &line.changes[0];
        assert_eq!((change.from.text.as_str(), change.to.text.as_str()), ("60 + 70 = 130", "72 + 73 = 145"));
        assert_eq!(change.met, [Met::Met], "15 is more than 14");
    }

    #[test]
    fn another_scale_is_not_judged_as_a_number_scale() {
        let key = |method: &str| Key {
            method: Some(method.to_string()),
            ..Key::new(What::Measure(MeasureKind::PainNow), Source::Measured, Unit::Of10)
        };
        assert_eq!(instrument(&key("asked for a number")).unwrap(), ("NPRS", None));
        assert!(instrument(&key("line of 10 cm")).unwrap().1.is_some());
        let mut ndi = Key::new(What::Measure(MeasureKind::Questionnaire), Source::Measured, Unit::Score);
        ndi.name = Some("NDI".to_string());
        assert_eq!(instrument(&ndi).unwrap().1.as_deref(), Some("its greatest score is not recorded"));
        ndi.out_of = Some("50".to_string());
        assert_eq!(instrument(&ndi).unwrap(), ("NDI", None));
    }
}

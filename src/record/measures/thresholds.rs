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
mod tests {
    use super::super::tests::{chart, gathered, measure};
    use super::*;
    use crate::record::tables::Tables;
    use serde_json::{Value, json};

    fn table() -> &'static TradeTables {
        &Tables::shipped().unwrap().trade
    }

    fn number(value: &Value) -> Decimal {
        value.to_string().parse().unwrap()
    }

    /// The worked examples of the published thresholds (tests/data/reckon/checks-given.json, topic
    /// `change`; each names its source: Cleland 2008, Farrar 2001, Young 2009, Kropmans 2000,
    /// Stoustrup 2013, Christensen 1998, Anwar 2022), in the units a record holds.
    #[test]
    fn published_examples() {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/data/reckon/checks-given.json");
        let given: Value = serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
        let mut tried = 0;
        for check in given["checks"].as_array().unwrap() {
            if check["topic"] != "change" || check["input"]["ask"] != "classify" {
                continue;
            }
            let (input, expect) = (&check["input"], &check["expect"]);
            let instrument = input["instrument"].as_str().unwrap();
            let unit = match (instrument, input["unit"].as_str().unwrap()) {
                ("NPRS", _) => Unit::Of10,
                (_, "points") => Unit::Score,
                (_, unit) => Unit::from_word(unit).unwrap(),
            };
            let (from, to) = (number(&input["baseline"]), number(&input["followup"]));
            let met = judged((instrument, table()), unit, from, to);
            for (threshold, met) in for_instrument(table(), instrument).iter().zip(met) {
                // An example of one group of people says nothing of the figures of another.
                let Some(wanted) = expect["met"].get(&threshold.id) else { continue };
                let got = match met {
                    Met::Met => json!(true),
                    Met::NotMet => json!(false),
                    Met::NotJudged(_) => Value::Null,
                };
                assert_eq!(got, *wanted, "{} {}", check["id"], threshold.id);
                tried += 1;
            }
        }
        assert!(tried >= 30, "{tried}");
    }

    #[test]
    fn a_percentage_of_nought_is_not_judged() {
        let why = |unit: Unit, from: Decimal| {
            let met = judged(("NPRS", table()), unit, from, number(&json!(3)));
            met.into_iter()
                .filter_map(|met| if let Met::NotJudged(why) = met { Some(why) } else { None })
                .collect()
        };
        let found: Vec<String> = why(Unit::Of10, Decimal::ZERO);
        assert!(found.contains(&"there is no percentage of nought".to_string()), "{found:?}");
        let six = number(&json!(6));
        assert!(why(Unit::Of10, six).is_empty());
        // What is told in another unit has a percentage, and is set beside no number of points.
        let found = why(Unit::Mm, six);
        assert!(
            !found.is_empty() && found.iter().all(|why| why == "the threshold is in another unit"),
            "{found:?}"
        );
    }

    /// Stoustrup 2013, 3.3 mm: in binary, 34.3 less 31 falls short of it.
    #[test]
    fn a_decimal_on_the_threshold_counts() {
        let met = judged(("mouth opening", table()), Unit::Mm, number(&json!(31)), number(&json!(34.3)));
        assert_eq!(met, [Met::NotMet, Met::NotMet, Met::NotMet, Met::Met]);
    }

    #[test]
    fn each_threshold_is_named_and_none_sums_them_up() {
        let measures = gathered(&chart());
        let lines = thresholds(&measures, table());
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
        entries
            .push((70, measure("2025-03-04T10:00:00-05:00", json!([turn("left", 60), turn("right", 70)]))));
        entries.push((71, measure("2025-03-11T10:00:00-04:00", json!([turn("left", 75)]))));
        let arc = |entries: &[_]| {
            let lines = thresholds(&gathered(entries), table());
            lines.into_iter().find(|line| line.instrument == "neck rotation, whole arc").unwrap()
        };
        assert_eq!(arc(&entries).not_judged.as_deref(), Some("there are no two values to compare"));
        entries
            .push((72, measure("2025-03-18T10:00:00-04:00", json!([turn("left", 72), turn("right", 73)]))));
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
        // The figures for one questionnaire say nothing of another with as many points.
        ndi.name = Some("Jaw questions of the Guild".to_string());
        assert!(instrument(&ndi).is_none());
    }
}

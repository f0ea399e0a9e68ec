//! How measures are laid out as a picture, whoever draws it: days side by side, panels one above the
//! other, and which measures a line may join.

use super::{Key, MarkKind, Measures, Series, Source, What};
use crate::record::calendar::days_between;
use crate::record::decimal::Decimal;
use crate::record::kinds::screening::{MeasureKind, Unit};
use crate::record::moment::Date;
use std::collections::BTreeSet;

/// Series in one panel: as many as there are marks and lines an eye tells apart in black and white.
pub const SERIES_IN_PANEL: usize = 4;

/// The longest gap, in days, over which a line is drawn. A choice of drawing, no rule of the trade:
/// what happened in a longer gap is not known, and a line would suggest that it is.
pub const JOINED_DAYS: i64 = 62;

/// Sorts of panel, in the order of the picture.
const OPENING: u8 = 0;
const JAW: u8 = 1;
const PAIN: u8 = 2;
const ANSWERS: u8 = 3;
const MOVEMENT: u8 = 4;
const SCORE: u8 = 5;
const NOT_DRAWN: u8 = 6;

/// Which sort of panel a series belongs to.
pub fn rank(key: &Key) -> u8 {
    use MeasureKind::*;
    match (key.what, key.unit) {
        (What::Check(_), _) => ANSWERS,
        (
            What::Measure(
                MouthOpening | MouthOpeningPainFree | MouthOpeningUnassisted | MouthOpeningAssisted,
            ),
            Unit::Mm,
        ) => OPENING,
        (What::Measure(JawLateral | JawProtrusion | JawDeviation | JawDeflection), Unit::Mm) => JAW,
        (What::Measure(PainNow | PainWorst | PainBest), Unit::Of10) if key.source == Source::Response => {
            ANSWERS
        }
        (What::Measure(PainNow | PainWorst | PainBest), Unit::Of10) => PAIN,
        (What::Measure(_), Unit::Deg) => MOVEMENT,
        (What::Measure(Questionnaire), Unit::Score | Unit::Percent) => SCORE,
        _ => NOT_DRAWN,
    }
}

/// True where series of this sort stand in the order of how many values they have. Scores keep
/// the order of their questionnaires, and so do those no panel shows.
pub fn by_number(rank: u8) -> bool {
    rank < SCORE
}

/// One panel of the picture.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Panel {
    /// What it shows, with its unit.
    pub title: String,
    /// The series it shows, by their place among all.
    pub series: Vec<usize>,
    /// Lowest number of its scale.
    pub low: i64,
    /// Highest number of its scale.
    pub high: i64,
    /// From one line of the scale to the next.
    pub step: i64,
}

/// One day of the picture.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Column {
    /// The day.
    pub day: Date,
    /// Days since the column before; none for the first.
    pub since: Option<i64>,
    /// True when something was measured on it.
    pub measured: bool,
}

/// The days with a measure that is drawn, or with a mark.
pub fn columns(measures: &Measures) -> Vec<Column> {
    let drawn = measures.series.iter().filter(|series| rank(&series.key) != NOT_DRAWN);
    let measured: BTreeSet<Date> = drawn.flat_map(|series| &series.points).map(|p| p.day()).collect();
    let marked = measures.marks.iter().map(|mark| mark.day);
    let all: BTreeSet<Date> = measured.iter().copied().chain(marked).collect();
    let mut before: Option<Date> = None;
    all.into_iter()
        .map(|day| {
            let since = before.map(|before| days_between(before, day));
            before = Some(day);
            Column { day, since, measured: measured.contains(&day) }
        })
        .collect()
}

/// The panels, top to bottom. A series that no panel shows stands in the tables alone.
pub fn panels(measures: &Measures) -> Vec<Panel> {
    let mut all = Vec::new();
    for sort in OPENING..NOT_DRAWN {
        let of_sort: Vec<usize> =
            (0..measures.series.len()).filter(|at| rank(&measures.series[*at].key) == sort).collect();
        for group in groups(measures, &of_sort) {
            let series: Vec<&Series> = group.iter().map(|at| &measures.series[*at]).collect();
            let (low, high, step) = scale(sort, &series);
            all.push(Panel { title: title(sort, &series), series: group, low, high, step });
        }
    }
    all
}

/// True when a panel has a value on one of these days.
pub fn shows(measures: &Measures, panel: &Panel, days: &[Column]) -> bool {
    let points = panel.series.iter().flat_map(|at| &measures.series[*at].points);
    points.filter(|point| point.reading.value.is_some()).any(|p| days.iter().any(|c| c.day == p.day()))
}

/// The series that no panel shows, by their place among all.
pub fn not_drawn(measures: &Measures) -> Vec<usize> {
    (0..measures.series.len()).filter(|at| rank(&measures.series[*at].key) == NOT_DRAWN).collect()
}

/// The marks that are there, each sort once, in the order of the picture.
pub fn lanes(measures: &Measures) -> Vec<MarkKind> {
    let there = |kind: &&MarkKind| measures.marks.iter().any(|mark| mark.kind == **kind);
    MarkKind::ALL.iter().filter(there).copied().collect()
}

/// At most so many in one panel; scores of different questionnaires never share one.
fn groups(measures: &Measures, of_sort: &[usize]) -> Vec<Vec<usize>> {
    let mut groups: Vec<Vec<usize>> = Vec::new();
    for at in of_sort {
        let key = &measures.series[*at].key;
        let fits = groups.last().and_then(|group| group.first().map(|first| (group.len(), *first)));
        let alike = fits.is_some_and(|(length, first)| {
            let first = &measures.series[first].key;
            length < SERIES_IN_PANEL
                && first.unit == key.unit
                && first.out_of == key.out_of
                && (key.unit != Unit::Score || first.name == key.name)
        });
        match groups.last_mut() {
            Some(group) if alike => group.push(*at),
            _ => groups.push(vec![*at]),
        }
    }
    groups
}

fn title(sort: u8, series: &[&Series]) -> String {
    let unit = series.first().map(|one| one.key.unit_words()).unwrap_or_default();
    match sort {
        OPENING => "Mouth opening, mm".to_string(),
        JAW => "Jaw movement sideways, forward, off the midline, mm".to_string(),
        PAIN => "Pain, 0 to 10".to_string(),
        ANSWERS => "Answers during the visit, 0 to 10".to_string(),
        MOVEMENT => "Range of motion, degrees".to_string(),
        _ => format!("Questionnaire, {unit}"),
    }
}

/// The scale: 0 to 10 where that is what was asked; else whole steps around what was measured.
fn scale(sort: u8, series: &[&Series]) -> (i64, i64, i64) {
    if sort == PAIN || sort == ANSWERS {
        return (0, 10, 2);
    }
    let values: Vec<Decimal> =
        series.iter().flat_map(|one| &one.points).filter_map(|p| p.reading.value).collect();
    let low = values.iter().min().map_or(0, |value| floor(*value)).clamp(-1_000_000, 1_000_000);
    let high = values.iter().max().map_or(0, |value| ceil(*value)).clamp(-1_000_000, 1_000_000);
    let steps = [2, 5, 10, 20, 50, 100, 200, 500, 1000, 10_000, 100_000, 1_000_000];
    let wide = (high - low).max(8);
    let step = steps.into_iter().find(|step| wide <= step * 5).unwrap_or(1_000_000);
    let low = low.div_euclid(step) * step;
    let high = (high.div_euclid(step) + i64::from(high.rem_euclid(step) != 0)) * step;
    (low, high.max(low + 2 * step), step)
}

/// The greatest whole number that is not greater.
fn floor(value: Decimal) -> i64 {
    let near = value.rounded(0).whole().unwrap_or(0);
    if Decimal::from(near) > value { near - 1 } else { near }
}

/// The least whole number that is not less.
fn ceil(value: Decimal) -> i64 {
    let near = value.rounded(0).whole().unwrap_or(0);
    if Decimal::from(near) < value { near + 1 } else { near }
}

impl Panel {
    /// How far up the scale a value stands, in thousandths of the way; kept between 0 and 1000.
    pub fn along(&self, value: Decimal) -> i64 {
        let length = Decimal::from(self.high.saturating_sub(self.low).max(1));
        let way = value.minus(Decimal::from(self.low)).and_then(|way| way.times(Decimal::from(1000)));
        let along = way.and_then(|way| way.divided(length, 0)).and_then(Decimal::whole);
        along.unwrap_or(0).clamp(0, 1000)
    }
}

/// A line between two measures of one series.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Join {
    /// Place of the earlier measure in the series.
    pub from: usize,
    /// Place of the later one.
    pub to: usize,
    /// True within one day, from before to after.
    pub within: bool,
}

/// The lines of a series: within a day from one measure to the next, and from a day to the next
/// with a measure of anything, unless the gap is long. A day on which this was not measured, though
/// something else was, breaks the line. Struck values are joined to nothing.
pub fn joins(series: &Series, columns: &[Column]) -> Vec<Join> {
    let measured: Vec<Date> = columns.iter().filter(|c| c.measured).map(|c| c.day).collect();
    let place = |day: Date| measured.iter().position(|other| *other == day);
    let standing: Vec<usize> = (0..series.points.len()).filter(|at| series.points[*at].stands()).collect();
    let mut all = Vec::new();
    for pair in standing.windows(2) {
        let (from, to) = (&series.points[pair[0]], &series.points[pair[1]]);
        if from.reading.value.is_none() || to.reading.value.is_none() {
            continue;
        }
        let within = from.day() == to.day();
        let next = match (place(from.day()), place(to.day())) {
            (Some(a), Some(b)) => b == a + 1 && days_between(from.day(), to.day()) <= JOINED_DAYS,
            _ => false,
        };
        if within || next {
            all.push(Join { from: pair[0], to: pair[1], within });
        }
    }
    all
}

#[cfg(test)]
mod tests {
    use super::super::tests::{chart, gathered, measure};
    use super::*;
    use crate::record::kinds::visit::CheckQuestion;
    use serde_json::{Value, json};

    #[test]
    fn values_stand_in_their_place_on_the_scale() {
        let number = |text: &str| -> Decimal { text.parse().unwrap() };
        let panel = Panel { title: String::new(), series: vec![], low: 30, high: 40, step: 5 };
        let along = |text: &str| panel.along(number(text));
        assert_eq!((along("35"), along("30"), along("99")), (500, 0, 1000));
        assert_eq!((floor(number("-0.5")), ceil(number("-0.5")), ceil(number("34.2"))), (-1, 0, 35));
        assert_eq!((floor(number("34.7")), ceil(number("34.7"))), (34, 35));
        assert_eq!((floor(number("34")), ceil(number("34"))), (34, 34));
    }

    /// Measures of one day, each with the number of the entry, taken outside any visit.
    fn taken(days: &[(&str, Value)]) -> Measures {
        let at = |day: &str| format!("{day}T10:00:00-05:00");
        let entries: Vec<_> =
            (1..).zip(days).map(|(seq, (day, all))| (seq, measure(&at(day), all.clone()))).collect();
        gathered(&entries)
    }

    fn one(kind: &str, unit: &str, value: f64) -> Value {
        json!({ "kind": kind, "unit": unit, "value": value })
    }

    fn titles(measures: &Measures) -> Vec<String> {
        panels(measures).into_iter().map(|panel| panel.title).collect()
    }

    /// Opening, the jaw's other movements, pain, answers, movement, questionnaires; what belongs to none of
    /// these stands in the tables alone. The kinds of the trade's own list of measures.
    #[test]
    fn each_measure_stands_in_the_panel_of_its_sort() {
        let opening = "Mouth opening, mm";
        let jaw = "Jaw movement sideways, forward, off the midline, mm";
        let (pain, movement) = ("Pain, 0 to 10", "Range of motion, degrees");
        for (kind, unit, title) in [
            ("mouth-opening", "mm", Some(opening)),
            ("mouth-opening-pain-free", "mm", Some(opening)),
            ("mouth-opening-unassisted", "mm", Some(opening)),
            ("mouth-opening-assisted", "mm", Some(opening)),
            ("jaw-lateral", "mm", Some(jaw)),
            ("jaw-protrusion", "mm", Some(jaw)),
            ("jaw-deviation", "mm", Some(jaw)),
            ("jaw-deflection", "mm", Some(jaw)),
            ("pain-now", "of-10", Some(pain)),
            ("pain-worst", "of-10", Some(pain)),
            ("pain-best", "of-10", Some(pain)),
            ("neck-rotation", "deg", Some(movement)),
            ("straight-leg-raise", "deg", Some(movement)),
            ("questionnaire", "score", Some("Questionnaire, points")),
            ("questionnaire", "percent", Some("Questionnaire, %")),
            ("pulse", "per-minute", None),
            ("oxygen-saturation", "percent", None),
            ("mouth-opening", "cm", None),
        ] {
            let measures = taken(&[("2025-03-04", json!([one(kind, unit, 4.0)]))]);
            assert_eq!(titles(&measures), Vec::from_iter(title), "{kind} in {unit}");
            assert_eq!(not_drawn(&measures).len(), usize::from(title.is_none()), "{kind} in {unit}");
        }
        let said = |source| rank(&Key::new(What::Measure(MeasureKind::PainNow), source, Unit::Of10));
        assert_eq!([said(Source::Response), said(Source::Told)], [ANSWERS, PAIN]);
        assert_eq!(rank(&Key::new(What::Check(CheckQuestion::Comfort), Source::Check, Unit::Of10)), ANSWERS);
        let all = json!([
            one("questionnaire", "score", 20.0),
            one("neck-rotation", "deg", 60.0),
            one("pain-now", "of-10", 4.0),
            one("jaw-lateral", "mm", 9.0),
            one("mouth-opening", "mm", 40.0),
        ]);
        let all = taken(&[("2025-03-04", all)]);
        assert_eq!(titles(&all), [opening, jaw, pain, movement, "Questionnaire, points"]);
        let answers = Series {
            code: "A".into(),
            key: Key::new(What::Check(CheckQuestion::Comfort), Source::Check, Unit::Of10),
            points: vec![],
            other_methods: vec![],
        };
        let answers = Measures { series: vec![answers], ..Measures::default() };
        assert_eq!(titles(&answers), ["Answers during the visit, 0 to 10"]);
    }

    /// Four series an eye tells apart, and no two questionnaires, units or greatest scores on one scale.
    #[test]
    fn a_panel_holds_four_series_of_one_unit_and_one_questionnaire() {
        let shared = |all: Value| {
            let found = panels(&taken(&[("2025-03-04", all)]));
            found.iter().map(|panel| panel.series.len()).collect::<Vec<_>>()
        };
        let by_method = |count: usize| -> Value {
            let one = |n| json!({ "kind": "mouth-opening", "value": 40, "unit": "mm", "method": format!("way {n}") });
            (0..count).map(one).collect()
        };
        assert_eq!(shared(by_method(4)), [4]);
        assert_eq!(shared(by_method(5)), [4, 1]);
        let asked = |name: &str, most: Option<u32>, unit: &str, method: &str| {
            json!({ "kind": "questionnaire", "value": 20, "second_value": most, "unit": unit, "name": name,
                "method": method })
        };
        let two = |a: Value, b: Value| shared(json!([a, b]));
        let ndi = asked("NDI", Some(50), "score", "on paper");
        assert_eq!(two(ndi.clone(), asked("NDI", Some(50), "score", "read out")), [2]);
        assert_eq!(two(ndi.clone(), asked("Jaw questions", Some(50), "score", "on paper")), [1, 1]);
        assert_eq!(two(ndi, asked("NDI", Some(45), "score", "on paper")), [1, 1]);
        let plain = asked("NDI", None, "score", "on paper");
        assert_eq!(two(plain, asked("NDI", None, "percent", "on paper")), [1, 1]);
        // Per cent are per cent, whatever was asked; and so are degrees.
        let in_percent = asked("Jaw questions", None, "percent", "on paper");
        assert_eq!(two(asked("NDI", None, "percent", "on paper"), in_percent), [2]);
        let moved =
            |name: &str| json!({ "kind": "other-movement", "value": 20, "unit": "deg", "name": name });
        assert_eq!(two(moved("wrist flexion"), moved("wrist extension")), [2]);
    }

    /// What was asked from 0 to 10 is drawn so. Else the scale holds every value and goes by round steps, two of
    /// them at least (worked out by hand; round steps are common practice).
    #[test]
    fn a_scale_holds_every_value_in_whole_steps() {
        let scale = |kind: &str, unit: &str, low: f64, high: f64| {
            let panel = panels(&taken(&[
                ("2025-03-04", json!([one(kind, unit, low)])),
                ("2025-03-11", json!([one(kind, unit, high)])),
            ]))
            .remove(0);
            (panel.low, panel.high, panel.step)
        };
        assert_eq!(scale("pain-now", "of-10", 3.0, 4.0), (0, 10, 2));
        for (low, high, wanted) in [
            (29.0, 36.0, (28, 36, 2)),
            (40.0, 40.0, (40, 44, 2)),
            (39.5, 41.0, (38, 42, 2)),
            (30.0, 40.0, (30, 40, 2)),
            (30.0, 40.1, (30, 45, 5)),
            (41.0, 52.0, (40, 55, 5)),
            (34.0, 58.0, (30, 60, 5)),
            (34.0, 60.0, (30, 60, 10)),
            (-12.0, 20.0, (-20, 20, 10)),
        ] {
            assert_eq!(scale("neck-rotation", "deg", low, high), wanted, "{low} to {high}");
        }
        // A number that was typed far too long does not stretch it beyond a million.
        assert_eq!(
            scale("neck-rotation", "deg", -3_000_000.0, 3_000_000.0),
            (-1_000_000, 1_000_000, 1_000_000)
        );
    }

    /// A panel without a value on these days says nothing of them; a mark that is not there has no lane.
    #[test]
    fn only_what_has_something_to_show_is_shown() {
        let measures = taken(&[
            ("2025-03-04", json!([one("mouth-opening", "mm", 40.0)])),
            ("2025-03-11", json!([one("pain-now", "of-10", 4.0)])),
        ]);
        let days = columns(&measures);
        let panels = panels(&measures);
        let shown = |panel: usize, day: usize| shows(&measures, &panels[panel], &days[day..=day]);
        assert_eq!([shown(0, 0), shown(0, 1), shown(1, 0), shown(1, 1)], [true, false, false, true]);
        assert!(lanes(&measures).is_empty());
        // 17 October 2022: a withdrawal; the day after: a correction.
        assert_eq!(lanes(&gathered(&chart())), [MarkKind::Withdrawn, MarkKind::Corrected]);
    }

    /// A number that can't be reckoned with stands in the tables, and no line leads to it or from it.
    #[test]
    fn a_number_too_long_to_be_drawn_is_joined_to_nothing() {
        let turn = |value: f64| json!([one("neck-rotation", "deg", value)]);
        let measures =
            taken(&[("2025-03-04", turn(48.0)), ("2025-03-11", turn(1e30)), ("2025-03-18", turn(55.0))]);
        let series = &measures.series[0];
        let read: Vec<bool> = series.points.iter().map(|point| point.reading.value.is_some()).collect();
        assert_eq!(read, [true, false, true]);
        let days = columns(&measures);
        assert!(joins(series, &days).is_empty());
        assert!(!shows(&measures, &panels(&measures)[0], &days[1..2]));
    }
}

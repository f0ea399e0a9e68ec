//! Changes beside the published figures.

use super::super::tests::{chart, gathered, measure, note};
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
    entries.push((70, measure("2025-03-04T10:00:00-05:00", json!([turn("left", 60), turn("right", 70)]))));
    entries.push((71, measure("2025-03-11T10:00:00-04:00", json!([turn("left", 75)]))));
    let arc = |entries: &[_]| {
        let lines = thresholds(&gathered(entries), table());
        lines.into_iter().find(|line| line.instrument == "neck rotation, whole arc").unwrap()
    };
    assert_eq!(arc(&entries).not_judged.as_deref(), Some("there are no two values to compare"));
    entries.push((72, measure("2025-03-18T10:00:00-04:00", json!([turn("left", 72), turn("right", 73)]))));
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

/// Figures and units as in the published tables (tests/data/reckon, `[[threshold]]`).
#[test]
fn a_threshold_is_told_with_its_figure() {
    let told = |id: &str| figure(table().threshold.iter().find(|one| one.id == id).unwrap());
    for (id, words) in [
        ("opening-kropmans-2000-single", "at least 9 mm"),
        ("neck-sagittal-christensen-1998", "more than 20 degrees"),
        ("nprs-cleland-2008", "at least 1.3 points"),
        ("nprs-farrar-2001-percent", "at least 30 % of the first value"),
        ("ndi-cleland-2008", "at least 19 percentage points"),
    ] {
        assert_eq!(told(id), words);
    }
}

/// Which measures the published tables have figures for, and which of them hold for another thing only.
#[test]
fn each_measure_goes_by_the_figures_for_it_alone() {
    use MeasureKind::*;
    let key = |kind, source, unit, side| Key { side, ..Key::new(What::Measure(kind), source, unit) };
    let (left, right) = (Some(Side::Left), Some(Side::Right));
    for (kind, unit, side, wanted) in [
        (PainWorst, Unit::Of10, None, Some(("NPRS", true))),
        (MouthOpening, Unit::Mm, None, Some(("mouth opening", true))),
        (MouthOpeningPainFree, Unit::Mm, None, Some(("mouth opening", false))),
        (MouthOpeningAssisted, Unit::Mm, None, Some(("mouth opening", false))),
        (JawLateral, Unit::Mm, left, Some(("lateral", true))),
        (JawLateral, Unit::Cm, left, Some(("lateral", false))),
        (JawProtrusion, Unit::Mm, None, Some(("protrusion", true))),
        (NeckExtension, Unit::Deg, None, Some(("neck extension", true))),
        (NeckSideBending, Unit::Deg, left, Some(("neck side-bending, left", true))),
        (NeckSideBending, Unit::Deg, right, None),
        (NeckFlexion, Unit::Deg, None, None),
        (Pulse, Unit::PerMinute, None, None),
    ] {
        let found = instrument(&key(kind, Source::Measured, unit, side));
        assert_eq!(found.map(|(name, doubt)| (name, doubt.is_none())), wanted, "{kind} {side:?}");
    }
    assert!(instrument(&key(PainNow, Source::Response, Unit::Of10, None)).is_none());
    let mut ndi = key(Questionnaire, Source::Measured, Unit::Score, None);
    (ndi.name, ndi.out_of) = (Some("NDI".to_string()), Some("45".to_string()));
    assert_eq!(instrument(&ndi).unwrap().1.as_deref(), Some("it is out of 45 points and not of 50"));
}

/// Opening of the demonstration's trombone player: 34 to 36, 35 to 39, 38 to 42 mm.
#[test]
fn like_is_compared_with_like() {
    let opening = |phase: &str, value: u32| json!({ "phase": phase, "measured": { "kind": "mouth-opening", "value": value, "unit": "mm" } });
    let compared = |visits: &[Value]| -> Vec<(SpanKind, String, String)> {
        let at = |day: usize| format!("2022-10-{:02}T10:00:00-04:00", 3 + 7 * day);
        let notes: Vec<_> = visits
            .iter()
            .enumerate()
            .map(|(n, all)| (10 * (n as u64) + 10, note(10 * (n as u64) + 9, &at(n), all.clone())))
            .collect();
        let lines = thresholds(&gathered(&notes), table());
        let changes =
            lines.into_iter().filter(|line| line.instrument == "mouth opening").flat_map(|line| line.changes);
        changes.map(|change| (change.span, change.from.text, change.to.text)).collect()
    };
    let within = |from: &str, to: &str| (SpanKind::WithinVisit, from.to_string(), to.to_string());
    let whole = |from: &str, to: &str| (SpanKind::FirstToLast, from.to_string(), to.to_string());
    let visit = |before: u32, after: u32| json!([opening("before", before), opening("after", after)]);
    assert_eq!(
        compared(&[visit(34, 36), visit(35, 39), visit(38, 42)]),
        [whole("34", "38"), within("34", "36"), within("35", "39"), within("38", "42")]
    );
    // Measured before treatment on one day only: then from the first of all to the last of all.
    let after = json!([opening("after", 42)]);
    assert_eq!(compared(&[visit(34, 36), after.clone()]), [whole("34", "42"), within("34", "36")]);
    assert_eq!(compared(&[after, json!([opening("before", 38)])]), [whole("42", "38")]);
}

/// Three arcs of the neck, each the sum of its own two directions (Christensen 1998) and of nothing else.
#[test]
fn a_whole_arc_is_the_sum_of_its_two_directions() {
    let turn = |kind: &str, side: Option<&str>, value: u32| json!({ "kind": kind, "value": value, "unit": "deg", "side": side });
    let all = |more: u32| {
        json!([
            turn("neck-flexion", None, 50 + more),
            turn("neck-extension", None, 60),
            turn("neck-side-bending", Some("left"), 40),
            turn("neck-side-bending", Some("right"), 41),
            turn("neck-rotation", Some("left"), 55),
            turn("neck-rotation", Some("right"), 48),
            turn("shoulder-flexion", Some("left"), 170),
            turn("shoulder-flexion", Some("right"), 170)
        ])
    };
    let entries = [
        (70, measure("2023-01-09T11:00:00-05:00", all(0))),
        (71, measure("2023-06-06T11:00:00-04:00", all(21))),
    ];
    let lines = thresholds(&gathered(&entries), table());
    let arcs: Vec<_> = lines.iter().filter(|line| line.instrument.ends_with("whole arc")).collect();
    let names: Vec<&str> = arcs.iter().map(|line| line.instrument.as_str()).collect();
    assert_eq!(
        names,
        ["neck flexion-extension, whole arc", "neck side-bending, whole arc", "neck rotation, whole arc"]
    );
    assert_eq!((arcs[0].what.as_str(), arcs[0].codes.len()), ("neck flexion + neck extension", 2));
    let change = &arcs[0].changes[0];
    assert_eq!((change.from.text.as_str(), &change.from.entries), ("50 + 60 = 110", &vec![70, 70]));
    assert_eq!((change.to.text.as_str(), &change.to.entries), ("71 + 60 = 131", &vec![71, 71]));
    assert_eq!(change.met, [Met::Met], "21 is more than 20");
    // Each instrument that was judged is told once, by its number.
    let judged: Vec<&str> = instruments(&lines).iter().map(|(instrument, _)| *instrument).collect();
    let wanted = ["neck extension", "neck side-bending, left", names[0], names[1], names[2]];
    assert_eq!(judged, wanted);
    assert!(instruments(&lines).iter().all(|(of, figures)| {
        figures.iter().all(|figure| figure.instrument == *of) && !figures.is_empty()
    }));
    assert_eq!([name(0, 0), name(1, 2)], ["T1.1", "T2.3"]);
}

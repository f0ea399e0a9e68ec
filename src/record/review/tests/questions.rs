//! What is worth a question about a visit as a whole, each at its border. The borders are the project's own proposal:
//! the rules' `[questions]` and the trade tables.

use super::{at, dated, line, measured, none, of, opens};
use crate::record::review::VisitSheet;
use crate::record::review::sheet::{EarlierVisit, OtherVisit};
use serde_json::{Value, json};

/// Measures in the place of those of the whole note, and what is then asked about them.
pub(super) fn asked(item: &str, measures: &[Value]) -> Vec<String> {
    let mut open = opens(&json!({ "/measures": measures }), none);
    open.retain(|one| one.starts_with(item));
    open
}

#[test]
fn a_gain_of_more_than_15_mm_is_asked_about_in_one_way_of_measuring() {
    let gain = |measures: &[Value]| asked("opening-gain", measures);
    for kind in
        ["mouth-opening", "mouth-opening-pain-free", "mouth-opening-unassisted", "mouth-opening-assisted"]
    {
        assert!(gain(&[line("before", kind, 30.0), line("after", kind, 45.0)]).is_empty(), "{kind}");
        let found = gain(&[line("before", kind, 30.0), line("after", kind, 45.5)]);
        assert_eq!(found, [format!("opening-gain:{kind}")]);
    }
    let (free, helped) = ("mouth-opening-pain-free", "mouth-opening-assisted");
    assert!(gain(&[line("before", free, 20.0), line("after", helped, 45.0)]).is_empty());
    assert!(gain(&[line("before", free, 20.0), line("during", free, 45.0)]).is_empty());
    assert!(gain(&[line("during", free, 20.0), line("after", free, 45.0)]).is_empty());
    assert!(gain(&[line("before", free, 45.0), line("after", free, 20.0)]).is_empty(), "a loss is no gain");
    // The last of each phase counts.
    let twice = [line("before", free, 20.0), line("before", free, 40.0), line("after", free, 45.0)];
    assert!(gain(&twice).is_empty());
    let lateral = [line("before", "jaw-protrusion", 1.0), line("after", "jaw-protrusion", 20.0)];
    assert!(gain(&lateral).is_empty(), "no opening");
}

/// 7 and more (trade tables), at one spot, from before to after.
#[test]
fn pain_that_changes_by_seven_is_asked_about() {
    let jump = |measures: &[Value]| asked("pain-jump", measures);
    let pain = |phase: &str, value: f64| line(phase, "pain-now", value);
    assert_eq!(jump(&[pain("before", 9.0), pain("after", 2.0)]), ["pain-jump"]);
    assert_eq!(jump(&[pain("before", 1.0), pain("after", 8.0)]), ["pain-jump"]);
    assert!(jump(&[pain("before", 8.0), pain("after", 2.0)]).is_empty());
    assert!(jump(&[pain("before", 9.0), pain("during", 2.0)]).is_empty());
    assert!(jump(&[pain("before", 9.0), pain("before", 8.0), pain("after", 2.0)]).is_empty());
    assert!(jump(&[pain("before", 9.0), pain("during", 1.0), pain("after", 8.0)]).is_empty());
    assert!(jump(&[line("before", "pain-worst", 9.0), line("after", "pain-worst", 1.0)]).is_empty());
    let at = |phase: &str, value: f64, place: &str, word: &str| {
        let mut one = pain(phase, value);
        one["measured"][place] = json!(word);
        one
    };
    let spots = [("region", "lumbar", "cervical"), ("segment", "C5-C6", "C6-C7"), ("side", "left", "right")];
    for (place, one, other) in spots.into_iter().chain([("name", "bite", "chew")]) {
        let found = jump(&[at("before", 9.0, place, one), at("after", 1.0, place, one)]);
        assert_eq!(found.len(), 1, "{place}");
        assert!(jump(&[at("before", 9.0, place, one), at("after", 1.0, place, other)]).is_empty(), "{place}");
    }
    let two = [
        at("before", 9.0, "region", "lumbar"),
        at("before", 8.0, "region", "jaw"),
        at("after", 1.0, "region", "jaw"),
        at("after", 1.0, "region", "lumbar"),
    ];
    assert_eq!(jump(&two), ["pain-jump:jaw", "pain-jump:lumbar"]);
}

fn sided(phase: &str, kind: &str, side: &str, value: f64) -> Value {
    let mut one = line(phase, kind, value);
    one["measured"]["side"] = json!(side);
    one
}

/// A gap of more than 4 mm (trade tables), both taken in one phase.
#[test]
fn sides_are_compared_within_one_phase() {
    let jaw = |left: (&str, f64), right: (&str, f64)| {
        let measures =
            [sided(left.0, "jaw-lateral", "left", left.1), sided(right.0, "jaw-lateral", "right", right.1)];
        asked("jaw-sides-differ", &measures)
    };
    for phase in ["before", "during", "after"] {
        assert!(jaw((phase, 12.0), (phase, 8.0)).is_empty(), "{phase}");
        assert_eq!(jaw((phase, 12.0), (phase, 7.0)), [format!("jaw-sides-differ:{phase}")]);
    }
    assert!(jaw(("before", 12.0), ("after", 7.0)).is_empty());
    // One of which nobody said the side is neither.
    let unsaid = [
        sided("before", "jaw-lateral", "left", 12.0),
        sided("before", "jaw-lateral", "right", 7.0),
        line("before", "jaw-lateral", 7.0),
    ];
    assert_eq!(asked("jaw-sides-differ", &unsaid), ["jaw-sides-differ:before"]);
    let beside = |side: &str, kind: &str| {
        let mut open = opens(&json!({}), |sheet, _| {
            let both = json!({ "measures": [
                { "kind": "jaw-lateral", "value": 12, "unit": "mm", "side": "left" },
                { "kind": kind, "value": 7, "unit": "mm", "side": side } ] });
            sheet.measures = vec![dated(23, "10:10", of(both))];
        });
        open.retain(|item| item.starts_with("jaw-sides"));
        open
    };
    assert_eq!(beside("right", "jaw-lateral"), ["jaw-sides-differ:jaw-lateral"]);
    assert!(beside("left", "jaw-lateral").is_empty() && beside("right", "jaw-deviation").is_empty());
}

/// The reflex of one name in one phase; what was found by hand was found before anything was done.
#[test]
fn reflexes_of_one_name_are_alike_on_both_sides() {
    let reflex = |phase: &str, name: Option<&str>, side: &str, value: f64| {
        let mut one = sided(phase, "reflex", side, value);
        one["measured"]["name"] = json!(name);
        one
    };
    let unlike = |measures: &[Value]| asked("reflexes-unlike", measures);
    let knee = Some("knee");
    assert_eq!(
        unlike(&[reflex("before", knee, "left", 2.0), reflex("before", knee, "right", 1.0)]),
        ["reflexes-unlike:knee"]
    );
    assert_eq!(
        unlike(&[reflex("after", None, "left", 2.0), reflex("after", None, "right", 1.0)]),
        ["reflexes-unlike:reflex"]
    );
    assert!(unlike(&[reflex("before", knee, "left", 2.0), reflex("before", knee, "right", 2.0)]).is_empty());
    assert!(unlike(&[reflex("before", knee, "left", 2.0), reflex("after", knee, "right", 1.0)]).is_empty());
    assert!(
        unlike(&[reflex("before", knee, "left", 2.0), reflex("before", Some("ankle"), "right", 1.0)])
            .is_empty()
    );
    assert!(unlike(&[reflex("before", knee, "left", 2.0), reflex("before", knee, "left", 1.0)]).is_empty());
    assert!(
        unlike(&[
            reflex("before", knee, "left", 1.0),
            reflex("before", knee, "right", 2.0),
            reflex("before", knee, "left", 2.0)
        ])
        .is_empty(),
        "the last of each side counts"
    );
    let mut unsaid = reflex("before", knee, "left", 1.0);
    unsaid["measured"]["side"] = Value::Null;
    let three = [reflex("before", knee, "left", 2.0), reflex("before", knee, "right", 1.0), unsaid];
    assert_eq!(unlike(&three), ["reflexes-unlike:knee"]);
    let found = |side: &str, kind: &str, grade: u8| {
        json!({
            "no": 5, "region": "knee", "side": side, "structure": "patellar", "kind": kind, "grade": grade
        })
    };
    let findings = |one: Value, mut other: Value| {
        other["no"] = json!(6);
        let mut open = opens(&json!({ "/findings/4": one, "/findings/5": other }), none);
        open.retain(|item| item.starts_with("reflexes"));
        open
    };
    assert_eq!(
        findings(found("left", "reflex", 2), found("right", "reflex", 3)),
        ["reflexes-unlike:patellar"]
    );
    assert!(findings(found("left", "reflex", 2), found("right", "reflex", 2)).is_empty());
    assert!(findings(found("left", "reflex", 2), found("right", "sensation", 3)).is_empty());
}

/// Below 3 without a word about a referral (trade tables).
#[test]
fn weakness_without_a_word_about_a_referral_is_asked_about() {
    let strong = |side: &str, name: &str, value: f64, sign: Option<&str>| {
        let mut one = sided("before", "strength", side, value);
        one["measured"]["name"] = json!(name);
        one["measured"]["plus_minus"] = json!(sign);
        one["measured"]["unit"] = json!("grade");
        one
    };
    let weak = |measures: &[Value]| asked("weak", measures);
    assert!(weak(&[strong("left", "deltoid", 3.0, None)]).is_empty());
    assert!(weak(&[strong("left", "deltoid", 5.0, None), strong("left", "biceps", 4.0, None)]).is_empty());
    let two = [strong("left", "deltoid", 2.0, None), strong("right", "biceps", 2.0, Some("plus"))];
    assert_eq!(weak(&two), ["weak-without-referral:biceps", "weak-without-referral:deltoid"]);
    let mut nameless = strong("left", "", 2.0, None);
    nameless["measured"]["name"] = Value::Null;
    assert_eq!(weak(&[nameless]), ["weak-without-referral:strength"]);
    let words = |measures: &[Value]| {
        let (mut sheet, rules) = super::whole();
        sheet.note.measures = of(json!(measures));
        let found = super::review(&sheet, &rules);
        found.into_iter().find(|one| one.item == "weak-without-referral:deltoid").unwrap().words
    };
    // Both sides of one muscle are told together, and each once.
    let both = [
        strong("left", "deltoid", 2.0, Some("minus")),
        strong("right", "deltoid", 1.0, None),
        strong("right", "deltoid", 1.0, None),
    ];
    assert!(words(&both).ends_with("(left, grade 2-; right, grade 1)"), "{}", words(&both));
    // A grade stands in the value that measures strength, and else in the whole number.
    let found = |kind: &str, measure: &str, value: u8, grade: u8| {
        let finding = json!({ "no": 5, "region": "shoulder", "side": "right", "structure": "deltoid", "kind": kind,
            "grade": grade, "measured": { "kind": measure, "value": value, "unit": "grade" } });
        let mut open = opens(&json!({ "/findings/4": finding }), none);
        open.retain(|item| item.starts_with("weak"));
        !open.is_empty()
    };
    assert!(found("strength", "strength", 2, 4) && !found("strength", "strength", 4, 2));
    assert!(found("strength", "neck-flexion", 4, 2) && !found("strength", "neck-flexion", 2, 4));
    assert!(!found("tenderness", "strength", 2, 2));
    // A referral with its number, or a word about one: that none is needed is said so too.
    let plan = |changes: Value| {
        let mut changes = changes;
        changes["/measures/3"] = strong("left", "deltoid", 2.0, None);
        let mut open = opens(&changes, none);
        open.retain(|item| item.starts_with("weak"));
        !open.is_empty()
    };
    assert!(plan(json!({})) && !plan(json!({ "/plan/referral": 24 })));
    for words in ["Refer to a neurologist", "no referral: known since childhood", "referred;", "referring on"]
    {
        assert!(!plan(json!({ "/plan/next_step": words })), "{words}");
    }
    assert!(plan(json!({ "/plan/next_step": "again in the preferred week" })));
    assert!(plan(json!({ "/plan": { "not_done_because": "left early" } })));
}

/// This visit's note, so many days earlier.
pub(super) fn before(sheet: &VisitSheet, seq: u64, days: i64) -> EarlierVisit {
    let at = sheet.happened.start.plus_seconds(-86_400 * days);
    EarlierVisit { seq, at, note: sheet.note.clone(), measures: Vec::new() }
}

/// More than 10 percent within 90 days (trade tables), against the newest earlier weight.
#[test]
fn a_weight_is_held_against_the_newest_earlier_one() {
    let weighed = |earlier: &[(i64, Option<f64>)], today: f64| {
        let mut open = opens(&json!({ "/measures/3": line("before", "weight", today) }), |sheet, _| {
            for (days, kg) in earlier {
                let mut visit = before(sheet, 3, *days);
                visit.note.measures.retain(|one| one.measured.kind.word() != "weight");
                visit.measures.extend(kg.map(|kg| measured("weight", kg)));
                visit.measures.push(measured("height", 10.0));
                sheet.earlier.push(visit);
            }
        });
        open.retain(|item| item == "weight-changed");
        !open.is_empty()
    };
    assert!(weighed(&[(10, Some(80.0))], 89.0) && !weighed(&[(10, Some(80.0))], 88.0));
    assert!(weighed(&[(10, Some(80.0))], 71.0) && !weighed(&[(10, Some(80.0))], 72.0));
    assert!(weighed(&[(90, Some(80.0))], 89.0) && !weighed(&[(91, Some(80.0))], 89.0));
    assert!(!weighed(&[(20, Some(60.0)), (10, Some(80.0))], 80.0));
    assert!(weighed(&[(20, Some(60.0)), (10, None)], 80.0), "the last visit did not weigh");
    assert!(!weighed(&[], 80.0));
    let other = opens(&json!({}), |sheet, _| {
        let mut visit = before(sheet, 3, 10);
        visit.measures.push(measured("weight", 60.0));
        sheet.earlier.push(visit);
    });
    assert!(!other.contains(&"weight-changed".to_string()), "nobody was weighed today");
}

#[test]
fn the_same_vital_signs_in_so_many_visits_running_are_asked_about() {
    let same = |earlier: &[f64], running: usize, today: bool| {
        let changes = if today { json!({}) } else { json!({ "/measures/2": null }) };
        let mut open = opens(&changes, |sheet, rules| {
            rules.questions.identical_vitals_visits = running;
            for (no, pulse) in (3u64..).zip(earlier) {
                let mut visit = before(sheet, no, 30 - no as i64);
                visit.note.measures.truncate(2);
                visit.measures.extend(today.then(|| measured("pulse", *pulse)));
                sheet.earlier.push(visit);
            }
        });
        open.retain(|item| item == "identical-vitals");
        !open.is_empty()
    };
    assert!(same(&[64.0, 64.0], 3, true) && same(&[64.0, 64.0, 64.0, 64.0], 3, true));
    assert!(!same(&[64.0], 3, true) && !same(&[64.0, 65.0], 3, true) && !same(&[65.0, 64.0], 3, true));
    assert!(same(&[65.0, 64.0, 64.0], 3, true), "older ones are no matter");
    assert!(!same(&[64.0, 64.0], 3, false), "none were taken");
    assert!(same(&[64.0], 2, true) && !same(&[65.0], 2, true));
    assert!(!same(&[64.0], 1, true) && !same(&[64.0], 0, true), "one visit is the same as nothing");
    // The lower pressure tells them apart as well.
    let pressure = |lower: f64| {
        let mut one = measured("blood-pressure", 120.0);
        one.second_value = Some(of(json!(lower)));
        one
    };
    let lower = |then: f64| {
        let mut open = opens(&json!({}), |sheet, rules| {
            rules.questions.identical_vitals_visits = 2;
            let mut visit = before(sheet, 3, 10);
            sheet.note.measures[2].measured = pressure(80.0);
            visit.note.measures[2].measured = pressure(then);
            sheet.earlier.push(visit);
        });
        open.retain(|item| item == "identical-vitals");
        !open.is_empty()
    };
    assert!(lower(80.0) && !lower(79.0));
}

#[test]
fn a_note_is_the_same_as_the_last_above_the_percentage_and_not_at_it() {
    let same = |most: u8, notes: usize| {
        let mut open = opens(&json!({}), |sheet, rules| {
            rules.questions.same_as_last_percent = most;
            for no in 0..notes {
                sheet.earlier.push(before(sheet, 3 + no as u64, 30 - no as i64));
            }
        });
        open.retain(|item| item.starts_with("same-as-last"));
        open
    };
    assert_eq!(same(99, 2), ["same-as-last:4"]);
    assert!(same(100, 2).is_empty() && same(99, 0).is_empty());
}

#[test]
fn a_practitioner_is_in_one_room_at_a_time() {
    let overlaps = |who: &str, room: Option<&str>, from: &str, until: &str, own: Option<&str>| {
        let open = opens(&json!({ "/practitioners": ["IV", "OM"] }), |sheet, _| {
            sheet.opening.place = own.map(str::to_string);
            sheet.opening.no_place_because = own.is_none();
            let (practitioner, room) = (who.to_string(), room.map(str::to_string));
            sheet.others = vec![OtherVisit { practitioner, room, from: at(from), until: at(until) }];
        });
        !open.is_empty()
    };
    let (own, other) = (Some("room 1"), Some("room 2"));
    // This visit lasts from 10:00 to 10:40; more than five minutes are asked about.
    assert!(overlaps("IV", other, "10:34", "11:10", own) && !overlaps("IV", other, "10:35", "11:10", own));
    assert!(overlaps("IV", other, "09:30", "10:06", own) && !overlaps("IV", other, "09:30", "10:05", own));
    assert!(overlaps("IV", other, "10:10", "10:16", own) && !overlaps("IV", other, "11:10", "11:40", own));
    assert!(overlaps("OM", other, "10:10", "10:30", own), "whoever is named at the head");
    assert!(!overlaps("HL", other, "10:10", "10:30", own));
    assert!(!overlaps("IV", Some(" Room 1"), "10:10", "10:30", own), "the same room");
    assert!(!overlaps("IV", None, "10:10", "10:30", own) && !overlaps("IV", other, "10:10", "10:30", None));
    let signs = opens(&json!({ "/practitioners": ["OM"] }), |sheet, _| {
        let (practitioner, room) = ("IV".to_string(), Some("room 2".to_string()));
        sheet.others = vec![OtherVisit { practitioner, room, from: at("10:10"), until: at("10:30") }];
    });
    assert_eq!(signs, ["visits-overlap"], "whoever signs was there");
}

#[test]
fn a_visit_lies_within_the_opening_hours_of_its_day() {
    let outside = |hours: &[(&str, &str, &str)], start: &str, end: &str| {
        let open = opens(&json!({}), |sheet, _| {
            let line = |(day, from, until): &(&str, &str, &str)| {
                of(json!({ "day": day, "from": from, "until": until }))
            };
            sheet.hours = hours.iter().map(line).collect();
            (sheet.happened.start, sheet.happened.end) = (at(start), Some(at(end)));
            sheet.now = at("23:59");
        });
        open.contains(&"outside-hours".to_string())
    };
    // The 22nd of September 2025 was a Monday.
    let monday = [("monday", "10:00", "10:40")];
    assert!(!outside(&monday, "10:00", "10:40"));
    assert!(outside(&monday, "09:59", "10:40") && outside(&monday, "10:00", "10:41"));
    let twice = [("monday", "08:00", "09:00"), ("tuesday", "08:00", "20:00"), ("monday", "10:00", "12:00")];
    assert!(!outside(&twice, "10:00", "10:40") && outside(&twice, "08:30", "10:40"));
    assert!(outside(&[("tuesday", "10:00", "10:40")], "10:00", "10:40"), "another day's hours");
    // Without hours by day the rules' own hold: 07:00 to 20:00.
    assert!(!outside(&[], "07:00", "20:00"));
    assert!(outside(&[], "06:59", "10:00") && outside(&[], "10:00", "20:01"));
    let night = opens(&json!({}), |sheet, _| {
        sheet.happened.end = Some(at("10:40").plus_seconds(86_400));
        sheet.now = at("10:45").plus_seconds(86_400);
    });
    assert!(night.contains(&"outside-hours".to_string()), "it ended on another day");
    let days = ["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"];
    for (later, day) in days.iter().enumerate() {
        let open = opens(&json!({}), |sheet, rules| {
            rules.coverage.late_after_hours = 1000;
            let moved = |moment: crate::record::moment::Moment| moment.plus_seconds(86_400 * later as i64);
            sheet.happened.start = moved(sheet.happened.start);
            sheet.happened.end = sheet.happened.end.map(moved);
            sheet.now = moved(sheet.now);
            sheet.hours = vec![of(json!({ "day": day, "from": "08:00", "until": "12:00" }))];
        });
        assert!(!open.contains(&"outside-hours".to_string()), "{day}");
    }
}

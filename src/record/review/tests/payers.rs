//! What a payer asks for: the items of a first and of a later visit (CMS Pub. 100-02 ch. 15, 240.1.2), its test of the
//! findings, the X-ray, and the count of regions.

use super::opens;
use crate::record::moment::parse_date;
use crate::record::review::{RuleBook, VisitSheet};
use serde_json::{Value, json};

/// The payer's items that are open, without `payer-`.
fn asked(changes: &Value, around: impl FnOnce(&mut VisitSheet, &mut RuleBook)) -> Vec<String> {
    let items = opens(changes, |sheet, rules| {
        rules.payer.switched_on = true;
        around(sheet, rules);
    });
    items.iter().filter_map(|item| item.strip_prefix("payer-")).map(str::to_string).collect()
}

fn try_all(lines: &[(Value, &[&str])]) {
    for (changes, expected) in lines {
        assert_eq!(asked(changes, |_, _| ()), *expected, "{changes}");
    }
}

/// History (past health and medicines), present illness (site, onset, quality, frequency, intensity), an examination,
/// a level, a plan (frequency, duration, an objective measure), and the day treatment began.
#[test]
fn a_first_visit_has_six_items() {
    let history = |parts: Value| json!({ "/history": parts });
    let (lacking, illness): (&[&str], &[&str]) = (&["history"], &["present-illness"]);
    try_all(&[
        (json!({}), &[]),
        (history(json!({ "sources": [12] })), &[]),
        (history(json!({ "illness": "none", "medicines": "none" })), &[]),
        (history(json!({ "injuries": "none", "medicines": "none" })), &[]),
        (history(json!({ "illness": "none", "injuries": "none" })), lacking),
        (history(json!({ "medicines": "none" })), lacking),
        (history(json!({ "illness": " ", "injuries": " ", "medicines": "none" })), lacking),
        (json!({ "/history": null }), lacking),
        (json!({ "/complaints/0/region": null }), &[]),
        (json!({ "/complaints/0/site": null }), &[]),
        (json!({ "/complaints/0/region": null, "/complaints/0/site": null }), illness),
        (json!({ "/complaints/0/onset": null }), illness),
        (json!({ "/complaints/0/quality": " " }), illness),
        (json!({ "/complaints/0/frequency": null }), illness),
        (json!({ "/complaints/0/pain_now": { "not_done_because": "a child of two" } }), illness),
        (json!({ "/complaints/1": { "no": 2, "words": "low back aches" } }), &[]),
        (json!({ "/plan/frequency": " " }), &["plan"]),
        (json!({ "/plan/duration": null }), &["plan"]),
        (json!({ "/plan/goals/0/measure": null }), &["plan"]),
        (json!({ "/plan/goals/1": { "words": "play again" } }), &[]),
        (json!({ "/plan": { "not_done_because": "left early" } }), &["plan"]),
        (json!({ "/payer/treatment_started_on": null }), &["treatment-start"]),
        (json!({ "/payer/level": null }), &[]),
        (json!({ "/findings/0/segment": null }), &[]),
        (json!({ "/payer/level": null, "/findings/0/segment": null }), &["diagnosis-level"]),
        (json!({ "/payer/level": null, "/findings/0/segment": null, "/findings/0/level": "C5" }), &[]),
        (
            json!({ "/payer/level": null, "/findings/0/segment": null, "/findings/0/level": " " }),
            &["diagnosis-level"],
        ),
        // A re-examination asks for the same.
        (json!({ "/sort": "re-examination", "/complaints/0/onset": null }), illness),
    ]);
    let known = asked(&json!({ "/payer": null }), |sheet, _| sheet.course_start = parse_date("2025-09-01"));
    assert!(known.is_empty(), "{known:?}");
    let off = opens(&json!({ "/history": { "sources": [12] }, "/payer": null }), |_, _| ());
    assert!(off.is_empty(), "a practice that bills no such payer is asked nothing: {off:?}");
}

/// The complaint and what changed, an examination of the area in the diagnosis with the change, and what was done.
#[test]
fn a_later_visit_has_three_items() {
    let later = |more: Value| {
        let mut all = json!({ "/sort": "later", "/changed_since_last": "better" });
        all.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
        all
    };
    let diagnosed = |region: &str| json!({ "words": "ache", "basis": "felt", "region": region });
    try_all(&[
        (later(json!({})), &[]),
        (later(json!({ "/changed_since_last": " " })), &["later-history"]),
        (later(json!({ "/changed_since_last": { "not_done_because": "asleep" } })), &["later-history"]),
        (later(json!({ "/complaints": [] })), &["later-history"]),
        (later(json!({ "/assessment/change_since_last": " " })), &["later-examination"]),
        (later(json!({ "/assessment": { "not_done_because": "left early" } })), &["later-examination"]),
        (later(json!({ "/assessment/diagnoses/0": diagnosed("cervical") })), &[]),
        (later(json!({ "/assessment/diagnoses/0": diagnosed("lumbar") })), &["later-examination"]),
        (
            later(json!({
                "/assessment/diagnoses/0": diagnosed("lumbar"), "/assessment/diagnoses/1": diagnosed("mouth")
            })),
            &[],
        ),
        (later(json!({ "/assessment/diagnoses/0/region": null })), &[]),
        (later(json!({ "/procedures/0/segments": [] })), &["treatment-today"]),
        (later(json!({ "/procedures/0/segments": [], "/procedures/0/region": "jaw-joint" })), &[]),
        (later(json!({ "/procedures": [] })), &["treatment-today"]),
    ]);
    let unfound =
        later(json!({ "/assessment/diagnoses": [], "/findings": { "not_done_because": "left early" } }));
    assert!(asked(&unfound, |_, _| ()).contains(&"later-examination".to_string()));
}

/// Two of four, one of them A or R; for Oregon any two of five, and no X-ray instead (Or. Admin. R. 811-015-0010(3)).
#[test]
fn each_payer_has_its_own_test_of_the_findings() {
    let kinds = |kinds: &[&str]| -> Vec<Value> {
        let all = kinds.iter().enumerate();
        let finding = |no: usize, kind: &str| {
            json!({
                "no": no + 1, "region": "neck-joints", "side": "right", "kind": kind, "result": "positive"
            })
        };
        all.map(|(no, kind)| finding(no, kind)).collect()
    };
    let passes = |test: &str, found: &[&str], x_ray: bool, window: bool| {
        let changes = json!({ "/findings": kinds(found), "/complaints/0/pain_now": 0 });
        let open = asked(&changes, |sheet, rules| {
            (rules.payer.findings_test, rules.payer.xray_window) = (test.to_string(), window);
            sheet.x_rays.extend(x_ray.then(|| parse_date("2025-09-22").unwrap()));
        });
        !open.contains(&"findings-test".to_string())
    };
    for (found, medicare, oregon) in [
        (&["tenderness", "asymmetry"][..], true, true),
        (&["tenderness", "motion-restriction"], true, true),
        (&["asymmetry", "tone"], true, true),
        (&["tenderness", "tone"], false, true),
        (&["tenderness", "ortho-test"], false, true),
        (&["asymmetry", "ortho-test"], false, true),
        (&["asymmetry"], false, false),
        (&["normal"], false, false),
    ] {
        assert_eq!(passes("medicare", found, false, true), medicare, "{found:?}");
        assert_eq!(passes("oregon", found, false, true), oregon, "{found:?}");
        assert!(passes("none", found, false, true), "{found:?}");
    }
    // An X-ray in its window stands in where the practice lets it, and for Medicare alone.
    assert!(passes("medicare", &["normal"], true, true) && !passes("medicare", &["normal"], true, false));
    assert!(!passes("oregon", &["normal"], true, true));
}

/// Twelve months before the course began to three months after, both days included.
#[test]
fn an_x_ray_counts_within_its_window() {
    let asked_about = |typed: Option<&str>, kept: Option<&str>, window: bool| {
        let changes = json!({ "/payer/treatment_started_on": "2024-03-10", "/payer/xray_on": typed });
        asked(&changes, |sheet, rules| {
            rules.payer.xray_window = window;
            sheet.x_rays.extend(kept.and_then(parse_date));
        })
    };
    for day in ["2023-03-10", "2024-06-10"] {
        assert!(asked_about(Some(day), None, true).is_empty(), "{day}");
    }
    for day in ["2023-03-09", "2024-06-11"] {
        assert_eq!(asked_about(Some(day), None, true), ["x-ray-window"], "{day}");
        assert!(asked_about(Some(day), None, false).is_empty(), "{day}");
        // One kept with the chart is as good.
        assert!(asked_about(Some(day), Some("2024-01-01"), true).is_empty(), "{day}");
        assert!(asked_about(None, Some(day), true).is_empty(), "{day}: none was relied on");
    }
}

#[test]
fn the_regions_treated_are_held_against_those_that_have_a_finding() {
    let (treated, off) =
        (json!({ "/procedures/0/region": "lumbar", "/procedures/0/segments": [] }), json!({}));
    assert_eq!(asked(&treated, |_, _| ()), ["regions"]);
    assert!(asked(&off, |_, _| ()).is_empty());
    assert!(asked(&treated, |_, rules| rules.payer.region_count = false).is_empty());
    // The groin counts to no region, and examining is no treatment.
    assert!(
        asked(&json!({ "/procedures/0/region": "groin", "/procedures/0/segments": [] }), |_, _| ())
            .is_empty()
    );
    let looked = json!({
        "/procedures/0/region": "lumbar", "/procedures/0/segments": [], "/procedures/0/technique": "examination"
    });
    assert!(asked(&looked, |_, _| ()).is_empty());
}

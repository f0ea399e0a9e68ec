//! What is worth a question about the care itself, each at its border. The borders are the project's own proposal: the
//! rules' `[questions]`.

use super::questions::{asked, before};
use super::{dated, line, none, of, opens};
use crate::record::moment::parse_date;
use crate::record::review::VisitSheet;
use serde_json::{Value, json};

#[test]
fn a_thrust_goes_to_the_side_of_what_was_found() {
    let opposite = |technique: &str, side: &str, findings: &[(&str, &str, &str)]| {
        let line = |(no, (region, side, kind)): (usize, &(&str, &str, &str))| {
            json!({
                "no": no + 1, "region": region, "side": side, "kind": kind
            })
        };
        let findings: Vec<Value> = findings.iter().enumerate().map(line).collect();
        let changes = json!({
            "/findings": findings, "/procedures/0/side": side, "/procedures/0/technique": technique
        });
        opens(&changes, none).contains(&"thrust-side-opposite:1".to_string())
    };
    let right = ("neck-joints", "right", "motion-restriction");
    assert!(opposite("thrust", "left", &[right]) && opposite("instrument-adjust", "left", &[right]));
    assert!(!opposite("thrust", "right", &[right]) && !opposite("mobilization", "left", &[right]));
    assert!(!opposite("thrust", "both", &[right]) && !opposite("thrust", "midline", &[right]));
    assert!(!opposite("thrust", "left", &[right, ("cervical", "left", "tenderness")]));
    assert!(!opposite("thrust", "left", &[("neck-joints", "both", "tenderness")]));
    assert!(!opposite("thrust", "left", &[("neck-joints", "midline", "tenderness")]), "on no side");
    assert!(!opposite("thrust", "left", &[("jaw-joint", "right", "tenderness")]), "elsewhere");
    assert!(!opposite("thrust", "left", &[("neck-joints", "right", "normal")]), "nothing was found there");
    assert!(opposite("thrust", "left", &[right, ("neck-joints", "left", "normal")]));
}

#[test]
fn what_was_found_is_treated_left_for_a_reason_or_in_the_plan() {
    let followed = |finding: Value, changes: Value| {
        let mut one = json!({ "no": 5, "region": "lumbar", "side": "right", "kind": "tenderness" });
        one.as_object_mut().unwrap().extend(finding.as_object().unwrap().clone());
        let mut changes = changes;
        changes["/findings/4"] = one;
        let mut open = opens(&changes, none);
        open.retain(|item| item.starts_with("finding-not-followed"));
        assert!(open.is_empty() || open == ["finding-not-followed:5"]);
        open.is_empty()
    };
    assert!(!followed(json!({}), json!({})));
    assert!(followed(json!({ "kind": "normal" }), json!({})));
    assert!(followed(json!({ "kind": "ortho-test", "result": "negative" }), json!({})));
    assert!(!followed(json!({ "kind": "ortho-test", "result": "positive" }), json!({})));
    // Muscles and joints of one part of the body are followed together.
    assert!(followed(json!({ "region": "neck-front" }), json!({})));
    assert!(followed(json!({ "region": "jaw-muscles" }), json!({})), "the jaw with the mouth");
    // What counts to no part is followed by itself alone.
    assert!(!followed(json!({ "region": "groin" }), json!({})));
    let left = |region: &str| {
        json!({
            "/deferred": [{ "technique": "thrust", "region": region, "because": "next week" }]
        })
    };
    assert!(followed(json!({}), left("lumbar")) && followed(json!({}), left("spine")));
    assert!(!followed(json!({}), left("knee")));
    assert!(!followed(json!({ "region": "groin" }), left("spine")), "nobody counts either of them");
    let diagnosis = |region: &str| {
        json!({
            "/assessment/diagnoses/1": { "words": "ache", "basis": "felt", "region": region }
        })
    };
    assert!(followed(json!({}), diagnosis("lumbar")) && !followed(json!({}), diagnosis("knee")));
    // Named in the plan's words: itself, what holds it, or the structure.
    let step = |words: &str| json!({ "/plan/next_step": words });
    assert!(
        followed(json!({}), step("Lumbar spine next time")) && followed(json!({}), step("look at the spine"))
    );
    assert!(!followed(json!({}), step("look at the knee")));
    assert!(followed(json!({ "structure": "Psoas" }), step("treat the psoas")));
    assert!(followed(json!({}), json!({ "/plan/goals/0/words": "bend the lumbar spine" })));
    assert!(followed(json!({}), json!({ "/plan/referral": 24 })));
    assert!(!followed(json!({}), json!({ "/plan": { "not_done_because": "left early" } })));
    let planned = json!({ "/plan": { "not_done_because": "left early" },
        "/assessment/diagnoses/1": { "words": "ache", "basis": "felt", "region": "lumbar" } });
    assert!(!followed(json!({}), planned), "without a plan a diagnosis plans nothing");
}

/// From before, measured or told, to what was said after the procedure, or measured at the end.
#[test]
fn tolerated_does_not_go_with_three_more_of_pain() {
    let rose = |told: Value, response: Value, measures: &[Value]| {
        let changes = json!({ "/complaints/0/pain_now": told, "/complaints/0/pain_worst": 10,
            "/procedures/0/response": response, "/measures": measures });
        let mut open = opens(&changes, none);
        open.retain(|item| item.starts_with("tolerated"));
        !open.is_empty()
    };
    let response = |word: &str, pain: Option<u8>| json!({ "word": word, "pain": pain });
    let pain = |phase: &str, value: f64| line(phase, "pain-now", value);
    let absent = json!({ "not_done_because": "a child of two" });
    assert!(rose(json!(5), response("tolerated", Some(8)), &[]));
    assert!(!rose(json!(5), response("tolerated", Some(7)), &[]));
    assert!(!rose(json!(5), response("sore", Some(8)), &[]));
    assert!(rose(json!(8), response("tolerated", Some(8)), &[pain("before", 5.0)]), "measured before");
    assert!(!rose(json!(5), response("tolerated", Some(8)), &[pain("before", 6.0)]));
    assert!(rose(json!(5), response("tolerated", None), &[pain("after", 8.0)]));
    assert!(!rose(json!(5), response("tolerated", None), &[pain("after", 7.0)]));
    assert!(!rose(json!(5), response("tolerated", Some(4)), &[pain("after", 8.0)]), "its own number counts");
    assert!(!rose(json!(5), response("tolerated", None), &[pain("during", 9.0)]));
    assert!(!rose(json!(5), response("tolerated", None), &[line("after", "pain-worst", 9.0)]));
    assert!(!rose(json!(5), response("tolerated", None), &[]));
    assert!(!rose(absent.clone(), response("tolerated", Some(8)), &[]), "nobody knows from where");
    assert!(rose(absent, response("tolerated", Some(8)), &[pain("before", 5.0)]));
    assert!(!rose(json!(5), json!({ "not_done_because": "asleep" }), &[pain("after", 9.0)]));
    // Of several complaints the one that hurts most.
    let second = json!({ "no": 2, "words": "back", "region": "lumbar", "pain_now": 6 });
    let both =
        json!({ "/complaints/1": second, "/procedures/0/response": { "word": "tolerated", "pain": 8 } });
    assert!(!opens(&both, none).contains(&"tolerated-with-more-pain:1".to_string()));
}

/// Less than a minute, before a first thrust.
#[test]
fn a_first_thrust_is_explained_before_it_is_consented_to() {
    let moment =
        |text: &str| crate::record::moment::Moment::parse(&format!("2025-09-22T{text}-04:00")).unwrap();
    let shortly = |technique: &str, explained: &str, given: &str, earlier: Option<&str>| {
        let open = opens(&json!({ "/procedures/0/technique": technique }), |sheet, _| {
            sheet.consents[0].data.techniques = vec![of(json!(technique))];
            sheet.consents[0].data.explained.as_mut().unwrap().at = moment(explained);
            sheet.consents[0].at = moment(given);
            if let Some(technique) = earlier {
                let mut visit = before(sheet, 3, 10);
                visit.note.procedures[0].technique = of(json!(technique));
                sheet.earlier.push(visit);
            }
        });
        open.contains(&"explained-shortly:16".to_string())
    };
    assert!(
        shortly("thrust", "09:54:01", "09:55:00", None) && !shortly("thrust", "09:54:00", "09:55:00", None)
    );
    assert!(shortly("thrust", "09:55:00", "09:55:00", None));
    assert!(shortly("instrument-adjust", "09:54:30", "09:55:00", None));
    assert!(!shortly("mobilization", "09:54:30", "09:55:00", None));
    // Signed before it was explained: then the thrust is what the explanation has to come before.
    assert!(
        !shortly("thrust", "10:19:00", "09:55:00", None) && shortly("thrust", "10:19:01", "09:55:00", None)
    );
    assert!(!shortly("thrust", "09:54:30", "09:55:00", Some("thrust")), "not the first");
    assert!(!shortly("thrust", "09:54:30", "09:55:00", Some("instrument-adjust")));
    assert!(shortly("thrust", "09:54:30", "09:55:00", Some("mobilization")));
    let unexplained = opens(&json!({}), |sheet, _| sheet.consents[0].data.explained = None);
    assert!(!unexplained.contains(&"explained-shortly:16".to_string()));
}

fn answer(sheet: &mut VisitSheet, item: &str, is: &str) {
    for one in sheet.screens.iter_mut().flat_map(|screen| &mut screen.data.answers) {
        if one.item == item {
            one.answer = of(json!(is));
        }
    }
}

#[test]
fn both_arms_and_a_thrust_to_the_neck_call_for_a_test_of_nerves() {
    let asks = |changes: Value, item: Option<(&str, &str)>, measure: Option<&str>| {
        let open = opens(&changes, |sheet, _| {
            if let Some((item, is)) = item {
                answer(sheet, item, is);
            }
            let one = |kind: &str| of(json!({ "measures": [{ "kind": kind, "value": 5, "unit": "grade" }] }));
            sheet.measures.extend(measure.map(|kind| dated(23, "10:10", one(kind))));
        });
        open.contains(&"arms-without-neuro-findings:1".to_string())
    };
    let spreads = |words: &str| json!({ "/complaints/0/radiation": words });
    assert!(asks(spreads("Both arms, at night"), None, None) && asks(spreads("into both hands"), None, None));
    assert!(
        !asks(spreads("the right arm"), None, None)
            && !asks(json!({ "/complaints/0/radiation": null }), None, None)
    );
    let arms =
        |region: &str, side: &str| json!({ "/complaints/0/region": region, "/complaints/0/side": side });
    assert!(asks(arms("elbow", "both"), None, None) && !asks(arms("elbow", "left"), None, None));
    assert!(!asks(arms("neck-back", "both"), None, None));
    let screen = "symptoms-in-both-arms-or-legs";
    assert!(asks(json!({}), Some((screen, "yes")), None));
    assert!(
        !asks(json!({}), Some((screen, "no")), None) && !asks(json!({}), Some(("dizziness", "yes")), None)
    );
    assert!(!asks(json!({}), None, None));
    // Only a thrust, and only to the neck or what holds it.
    let thrust = |change: Value| {
        let mut changes = spreads("both arms");
        changes.as_object_mut().unwrap().extend(change.as_object().unwrap().clone());
        asks(changes, None, None)
    };
    assert!(thrust(json!({ "/procedures/0/technique": "instrument-adjust" })));
    assert!(!thrust(json!({ "/procedures/0/technique": "mobilization" })));
    assert!(!thrust(json!({ "/procedures/0/region": "lumbar", "/procedures/0/segments": [] })));
    assert!(thrust(json!({ "/procedures/0/region": "spine", "/procedures/0/segments": [] })));
    for kind in ["strength", "reflex", "sensation", "neuro-test"] {
        assert!(!thrust(json!({ "/findings/1/kind": kind, "/findings/1/grade": null })), "{kind}");
    }
    assert!(thrust(json!({ "/findings/1/kind": "ortho-test", "/findings/1/grade": null })));
    for (kind, asks_still) in [("strength", false), ("reflex", false), ("questionnaire", true)] {
        assert_eq!(asks(spreads("both arms"), None, Some(kind)), asks_still, "{kind}");
    }
}

#[test]
fn blood_thinners_and_a_thrust_are_asked_about_unless_a_reason_stands() {
    let asks = |technique: &str, alert: Option<&str>, screened: Option<&str>, reason: Option<u64>| {
        let open = opens(&json!({ "/procedures/0/technique": technique }), |sheet, _| {
            sheet.patient.alerts = alert
                .map(|kind| (9, of(json!({ "kind": kind, "from": "2024-01-01" }))))
                .into_iter()
                .collect();
            sheet.reasons_against.extend(reason);
            if let Some(is) = screened {
                answer(sheet, "anticoagulant", is);
            }
        });
        open.contains(&"anticoagulant-and-thrust:1".to_string())
    };
    let thinner = Some("anticoagulant");
    assert!(asks("thrust", thinner, None, None) && asks("instrument-adjust", thinner, None, None));
    assert!(!asks("mobilization", thinner, None, None) && !asks("thrust", Some("osteoporosis"), None, None));
    assert!(asks("thrust", None, Some("yes"), None) && !asks("thrust", None, Some("no"), None));
    assert!(!asks("thrust", thinner, None, Some(9)) && asks("thrust", thinner, None, Some(8)));
    assert!(!asks("thrust", thinner, Some("yes"), Some(9)) && asks("thrust", None, Some("yes"), Some(9)));
}

#[test]
fn a_thrust_by_hand_under_sixteen_is_asked_about() {
    let asks = |technique: &str, born: Option<&str>| {
        let open = opens(&json!({ "/procedures/0/technique": technique }), |sheet, _| {
            sheet.patient.born = born.and_then(parse_date);
        });
        open.contains(&"thrust-under-age:1".to_string())
    };
    assert!(asks("thrust", Some("2009-09-23")) && !asks("thrust", Some("2009-09-22")));
    assert!(asks("thrust", Some("2024-09-22")) && !asks("thrust", None));
    assert!(!asks("instrument-adjust", Some("2009-09-23")) && !asks("mobilization", Some("2009-09-23")));
    let after_an_instrument = json!({ "/procedures/1": { "no": 2, "at": "2025-09-22T10:25:00-04:00",
        "technique": "thrust", "region": "lumbar", "done_by": "IV", "response": { "word": "sore" } },
        "/procedures/0/technique": "instrument-adjust" });
    let open = opens(&after_an_instrument, |sheet, _| sheet.patient.born = parse_date("2009-09-23"));
    assert!(open.contains(&"thrust-under-age:2".to_string()), "{open:?}");
}

#[test]
fn a_pregnant_patient_does_not_lie_on_her_face() {
    let asks = |position: &str, alert: Option<&str>, change: Option<&str>| {
        let open = opens(&json!({ "/procedures/0/position": position }), |sheet, _| {
            sheet.patient.alerts = alert
                .map(|kind| (9, of(json!({ "kind": kind, "from": "2025-01-01" }))))
                .into_iter()
                .collect();
            let told = |kind: &str| dated(23, "10:05", of(json!({ "kind": kind, "words": "since May" })));
            sheet.changes.extend(change.map(told));
        });
        open.contains(&"pregnancy-face-down:1".to_string())
    };
    let alert = Some("pregnancy");
    for position in ["face-down", "Face down", "prone on the table"] {
        assert!(asks(position, alert, None) && asks(position, None, Some("pregnancy")), "{position}");
        assert!(!asks(position, None, None) && !asks(position, None, Some("trauma")), "{position}");
        assert!(!asks(position, Some("pacemaker"), None), "{position}");
    }
    assert!(!asks("face-up", alert, None) && !asks("side-lying", None, Some("pregnancy")));
}

/// Below 20 mm before the work; what it opened to afterwards is no matter.
#[test]
fn a_small_opening_and_work_in_the_mouth_are_asked_about() {
    let small = |measures: &[Value]| asked("mouth-work-small-opening", measures);
    let opening = "mouth-opening-unassisted";
    assert_eq!(small(&[line("before", opening, 19.5)]), ["mouth-work-small-opening:2"]);
    assert!(small(&[line("before", opening, 20.0)]).is_empty() && small(&[]).is_empty());
    assert_eq!(small(&[line("before", opening, 19.0), line("after", opening, 30.0)]).len(), 1);
    assert!(small(&[line("after", opening, 19.0)]).is_empty());
    assert_eq!(small(&[line("during", "mouth-opening", 19.0)]).len(), 1);
    assert!(
        small(&[line("before", "mouth-opening-pain-free", 15.0), line("before", opening, 22.0)]).is_empty()
    );
    assert!(small(&[line("before", "jaw-protrusion", 5.0)]).is_empty());
    let no_mouth = json!({ "/measures/0/measured/value": 15, "/procedures/1": null });
    assert!(!opens(&no_mouth, none).contains(&"mouth-work-small-opening:2".to_string()));
}

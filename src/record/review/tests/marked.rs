//! What is kept and marked for ever, shown before it is signed. Order goes by the minute, and within one by the
//! numbers of the entries (coverage rules, section 2 and F1).

use super::{at, dated, of, opens};
use crate::record::review::{RuleBook, VisitSheet};
use serde_json::{Value, json};

fn moment(text: &str) -> crate::record::moment::Moment {
    crate::record::moment::Moment::parse(&format!("2025-09-22T{text}-04:00")).unwrap()
}

/// Whether the thrust of 10:20 is marked so.
fn marks(mark: &str, around: impl FnOnce(&mut VisitSheet, &mut RuleBook)) -> bool {
    opens(&json!({}), around).contains(&format!("{mark}:1"))
}

#[test]
fn a_procedure_is_held_against_the_consent_it_names_or_all_that_cover_it() {
    let early = |around: fn(&mut VisitSheet)| marks("procedure-before-consent", |sheet, _| around(sheet));
    assert!(early(|sheet| sheet.consents[0].at = moment("10:21:00")));
    // Seconds do not count: times typed and times taken mix within a minute.
    assert!(!early(|sheet| sheet.consents[0].at = moment("10:20:59")));
    assert!(!early(|sheet| sheet.consents.clear()), "what is not there is missing, and no order");
    // One that was given in time is enough, wherever it stands.
    assert!(!early(|sheet| {
        let mut later = sheet.consents[0].clone();
        (later.seq, later.at) = (24, at("10:30"));
        sheet.consents.insert(0, later);
    }));
    // What covers something else is not looked at, unless the line names it.
    assert!(!early(|sheet| sheet.consents[1].at = at("10:21")));
    assert!(early(|sheet| {
        sheet.consents[1].at = at("10:21");
        sheet.note.procedures[0].consent = Some(17);
    }));
    assert!(!early(|sheet| {
        sheet.consents[0].at = at("10:21");
        sheet.note.procedures[0].consent = Some(17);
    }));
    let second = opens(&json!({}), |sheet, _| sheet.consents[1].at = at("10:26"));
    assert!(second.contains(&"procedure-before-consent:2".to_string()), "{second:?}");
}

#[test]
fn a_procedure_is_held_against_the_yes_of_today_to_just_that() {
    let early = |change: Value, time: &str| {
        marks("procedure-before-asked", |sheet, _| {
            let mut data = serde_json::to_value(&sheet.asked[0].data).unwrap();
            data.as_object_mut().unwrap().extend(change.as_object().unwrap().clone());
            sheet.asked = vec![dated(21, time, of(data))];
        })
    };
    assert!(early(json!({}), "10:21") && !early(json!({}), "10:20"));
    assert!(
        early(json!({ "answer": "yes-with-limit" }), "10:21") && !early(json!({ "answer": "no" }), "10:21")
    );
    assert!(early(json!({ "side": "both" }), "10:21") && !early(json!({ "side": "left" }), "10:21"));
    assert!(
        early(json!({ "region": "cervical" }), "10:21") && !early(json!({ "region": "lumbar" }), "10:21")
    );
    assert!(!early(json!({ "technique": "mobilization" }), "10:21"));
    let seconds = marks("procedure-before-asked", |sheet, _| sheet.asked[0].at = moment("10:20:59"));
    assert!(!seconds && !marks("procedure-before-asked", |sheet, _| sheet.asked.clear()));
    // One yes in time is enough, and a no is none.
    let two = |answer: &str| {
        marks("procedure-before-asked", |sheet, _| {
            let mut later = sheet.asked[0].clone();
            (later.seq, later.at) = (24, at("10:30"));
            sheet.asked[0].data.answer = of(json!(answer));
            sheet.asked.push(later);
        })
    };
    assert!(two("no") && !two("yes"));
}

/// What was taken back is taken back where it touches, from the moment it was said: left and right touch the midline
/// too, and what names no technique, region or side means all of them.
#[test]
fn a_withdrawal_reaches_what_it_names_from_the_moment_it_was_said() {
    let taken = |scope: Value, at: &str, side: Value| {
        let mut data = json!({ "said_by": { "role": "self" }, "how": "words", "patient_words": "enough" });
        data.as_object_mut().unwrap().extend(scope.as_object().unwrap().clone());
        let open = opens(&json!({ "/procedures/0/side": side }), |sheet, _| {
            sheet.withdrawals = vec![dated(23, "10:00", of(data))];
            sheet.withdrawals[0].at = moment(at);
        });
        open.contains(&"procedure-after-withdrawal:1".to_string())
    };
    let right = || json!("right");
    let thrust = || json!({ "techniques": ["thrust"] });
    for (said, after) in [
        ("10:19:00", true),
        ("10:20:00", true),
        ("10:20:01", false),
        ("10:20:30", false),
        ("10:21:00", false),
    ] {
        assert_eq!(taken(thrust(), said, right()), after, "{said}");
    }
    for (scope, reaches) in [
        (json!({}), true),
        (json!({ "techniques": ["mobilization"] }), false),
        (json!({ "techniques": ["mobilization", "thrust"] }), true),
        (json!({ "regions": ["cervical"] }), true),
        (json!({ "regions": ["lumbar"] }), false),
        (json!({ "regions": ["lumbar", "spine"] }), true),
        (json!({ "techniques": ["thrust"], "regions": ["lumbar"] }), false),
        (json!({ "techniques": ["mobilization"], "regions": ["cervical"] }), false),
        (json!({ "side": "right" }), true),
        (json!({ "side": "both" }), true),
        (json!({ "side": "left" }), false),
        (json!({ "side": "midline" }), false),
        (json!({ "techniques": ["mobilization"], "side": "right" }), false),
        (json!({ "regions": ["lumbar"], "side": "right" }), false),
    ] {
        assert_eq!(taken(scope.clone(), "10:19:00", right()), reaches, "{scope}");
    }
    for side in [json!("midline"), Value::Null] {
        assert!(taken(json!({ "side": "left" }), "10:19:00", side.clone()), "{side}");
        assert!(taken(json!({ "side": "midline" }), "10:19:00", side.clone()), "{side}");
    }
}

/// What was withdrawn comes back only by name (coverage rule F2): a form that says the whole spine does not bring back the
/// neck. The procedure is of the joints of the neck.
#[test]
fn a_later_consent_lifts_a_withdrawal_only_where_it_names_what_was_withdrawn() {
    for (taken, listed, stands) in [
        (json!(["cervical"]), json!(["cervical"]), false),
        (json!(["cervical"]), json!(["neck-joints"]), false),
        (json!(["cervical"]), json!(["spine"]), true),
        (json!(["neck-joints"]), json!(["cervical"]), true),
        (json!(["lumbar", "cervical"]), json!(["cervical"]), false),
        (json!(["neck-joints", "cervical"]), json!(["cervical"]), true),
        (json!(null), json!(["spine"]), false),
    ] {
        let open = opens(&json!({}), |sheet, _| {
            let mut said = super::cases_care::withdrawal("10:12");
            said.data.regions = of(taken.clone());
            let mut again = sheet.consents[0].data.clone();
            again.regions = of(listed.clone());
            sheet.withdrawals = vec![said];
            sheet.consents.push(dated(25, "10:13", again));
        });
        let found = open.contains(&"procedure-after-withdrawal:1".to_string());
        assert_eq!(found, stands, "{taken} taken back, {listed} agreed to since");
    }
}

#[test]
fn the_newest_withdrawal_that_stands_is_named() {
    let (mut sheet, rules) = super::whole();
    sheet.withdrawals = vec![super::cases_care::withdrawal("10:12"), super::cases_care::withdrawal("10:14")];
    sheet.withdrawals[0].seq = 24;
    let words = |sheet: &VisitSheet| {
        let found = super::review(sheet, &rules);
        let mark = found.iter().find(|one| one.item == "procedure-after-withdrawal:1");
        mark.map(|one| one.words.clone()).unwrap_or_default()
    };
    assert!(words(&sheet).ends_with("(withdrawn with number 23)"), "{}", words(&sheet));
    // A consent given between the two leaves the second standing; one after both, neither.
    let again = sheet.consents[0].data.clone();
    sheet.consents.push(dated(25, "10:13", again.clone()));
    assert!(words(&sheet).ends_with("(withdrawn with number 23)"));
    sheet.consents.push(dated(26, "10:15", again));
    assert_eq!(words(&sheet), "");
}

#[test]
fn what_is_written_after_the_visit_or_witnessed_by_its_hands_is_marked() {
    let marks = |around: fn(&mut VisitSheet)| opens(&json!({}), |sheet, _| around(sheet));
    assert_eq!(marks(|sheet| sheet.consents[0].written = moment("10:41:00")), ["consent-after-visit:16"]);
    assert!(marks(|sheet| sheet.consents[0].written = moment("10:40:59")).is_empty());
    assert_eq!(
        marks(|sheet| sheet.consents[0].data.witness = of(json!({ "name": "I. V.", "code": "IV" }))),
        ["witness-is-practitioner:16"]
    );
    // Hands count as well as names at the head, and another person's witness is one.
    let by_hands = marks(|sheet| {
        sheet.note.practitioners = vec!["OM".to_string()];
        sheet.consents[0].data.witness = of(json!({ "name": "I. V.", "code": "IV" }));
    });
    assert_eq!(by_hands, ["witness-is-practitioner:16"]);
    assert!(
        marks(|sheet| sheet.consents[0].data.witness = of(json!({ "name": "H. L.", "code": "HL" })))
            .is_empty()
    );
    assert!(marks(|sheet| sheet.consents[0].data.witness = of(json!({ "name": "Ann" }))).is_empty());
    // What covers nothing that was done is no matter of this note.
    assert!(
        marks(|sheet| {
            let mut other = sheet.consents[0].clone();
            (other.seq, other.written) = (24, at("10:44"));
            other.data.techniques = vec![of(json!("needling"))];
            sheet.consents.push(other);
        })
        .is_empty()
    );
    assert_eq!(marks(|sheet| sheet.notices = vec![8, 9]), ["after-notice:8", "after-notice:9"]);
}

/// More than 24 hours is late, and an opening of the chart within the hour before is told where a request came first.
#[test]
fn late_is_more_than_the_hours_of_the_rules() {
    let late = |seconds: i64, opened: Option<i64>, asked: Option<i64>| {
        opens(&json!({}), |sheet, _| {
            sheet.now = sheet.ended().plus_seconds(seconds);
            let before = |seconds: i64| sheet.now.plus_seconds(-seconds);
            (sheet.openings_for_reading, sheet.requests) =
                (opened.map(before).into_iter().collect(), asked.map(before).into_iter().collect());
        })
    };
    let day = 24 * 3600;
    assert!(late(day, None, None).is_empty() && late(day, Some(60), Some(600)).is_empty());
    assert_eq!(late(day + 1, None, None), ["late"]);
    let told = ["late", "opened-before-late-entry"];
    assert_eq!(late(day + 1, Some(60), Some(600)), told);
    assert_eq!(late(day + 1, Some(60), Some(60)), told);
    assert_eq!(late(day + 1, Some(3600), Some(7200)), told);
    assert_eq!(late(day + 1, Some(3601), Some(7200)), ["late"]);
    assert_eq!(late(day + 1, Some(600), Some(60)), ["late"], "asked for after the opening");
    assert_eq!(late(day + 1, None, Some(60)), ["late"]);
    let (mut sheet, rules) = super::whole();
    sheet.now = sheet.ended().plus_seconds(49 * 3600 + 1800);
    let found = super::review(&sheet, &rules);
    let words = &found.iter().find(|one| one.item == "late").unwrap().words;
    assert!(words.ends_with("(49 hours after the visit)"), "{words}");
}

/// Work in the mouth rests on findings of the jaw as well: the review says what the label will say.
#[test]
fn a_region_without_a_finding_is_marked_as_the_label_has_it() {
    let regions = |kinds: &[&str]| {
        let findings: Vec<Value> = kinds.iter().enumerate().map(|(no, region)| {
            json!({ "no": no + 1, "region": region, "side": "right", "kind": "tenderness" })
        }).collect();
        let mut open = opens(&json!({ "/findings": findings }), |_, _| ());
        open.retain(|item| item.contains("for-region"));
        open
    };
    assert!(regions(&["neck-joints", "jaw-muscles"]).is_empty());
    assert!(regions(&["cervical", "mouth"]).is_empty());
    assert_eq!(
        regions(&["neck-joints", "shoulder"]),
        ["finding-for-region:inside-cheek", "no-finding-for-region:inside-cheek"]
    );
}

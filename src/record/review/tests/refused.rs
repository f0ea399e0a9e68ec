//! What cannot be signed as it stands: by the layout, by the chart, and by the roster. The list is the practice's own
//! proposal.

use super::{at, none, of, opens, try_all};
use crate::record::moment::parse_date;
use crate::record::review::VisitSheet;
use serde_json::{Value, json};

#[test]
fn what_the_layout_refuses_is_put_down_to_its_place() {
    try_all(&[
        (json!({ "/procedures/0/side": null }), &[]),
        (json!({ "/procedures/1/side": null }), &["side-missing:2"]),
        (json!({ "/procedures/1/side": "midline" }), &["asked-today:2", "cannot-be:2"]),
        (json!({ "/procedures/0/done_by": " " }), &["cannot-be:1"]),
        (json!({ "/practitioners": [] }), &["cannot-be:practitioners"]),
        (json!({ "/findings/1/grade": 5 }), &["cannot-be:2"]),
        (
            json!({ "/complaints/0/pain_now": 11, "/complaints/0/pain_worst": null }),
            &["cannot-be:complaints 0 pain_now", "pain-worst:1"],
        ),
        (json!({ "/not_done": [{ "item": "", "because": "late" }] }), &["cannot-be:not_done 0 item"]),
        (json!({ "/measures/0/measured/side": "left" }), &["function-before-and-after"]),
        (json!({ "/procedures/1/gloves": null }), &["glove-missing:2"]),
        (json!({ "/procedures/0/at": "2025-09-22T10:46:00-04:00" }), &["in-future:1"]),
        (json!({ "/procedures/0/span": { "from": "C3", "to": "C6" } }), &["thrust-not-adjacent:1"]),
        (
            json!({ "/procedures/1/span": { "from": "C3", "to": "C6" }, "/procedures/1/technique": "mobilization" }),
            &["agreed:2", "asked-today:2", "cannot-be:2", "chaperone-offered", "mouth-consent"],
        ),
        // What a draft leaves blank is missing, and no more.
        (json!({ "/procedures/0/response": null }), &["response:1"]),
        (
            json!({ "/findings": null }),
            &[
                "finding-for-region:inside-cheek",
                "finding-for-region:neck-joints",
                "findings",
                "no-finding-for-region:inside-cheek",
                "no-finding-for-region:neck-joints",
                "oral-inspection",
            ],
        ),
        (json!({ "/changed_since_last": null }), &["changed-since-last"]),
    ]);
    let unusual = opens(&json!({ "/complaints/0/pain_worst": 4 }), none);
    assert_eq!(unusual, ["unusual:complaints 0 pain_now"]);
}

#[test]
fn a_visit_lies_in_the_past_and_ends_after_it_began() {
    let times = |start: &str, end: Option<&str>, now: &str| {
        opens(&json!({}), |sheet, _| {
            sheet.happened.start = at(start);
            sheet.happened.end = end.map(at);
            sheet.now = at(now);
        })
    };
    assert!(times("10:00", Some("10:45"), "10:45").is_empty());
    assert_eq!(times("10:00", Some("10:46"), "10:45"), ["in-future:head happened"]);
    // Signing in advance is said once, as what it is: in the future.
    assert_eq!(times("10:46", None, "10:45"), ["in-future:head happened", "visit-times"]);
    assert_eq!(times("10:00", Some("09:59"), "10:45")[0], "cannot-be:head happened end");
}

/// Whoever decides for a patient is somebody else, and of age on that day.
#[test]
fn who_decides_is_another_person_and_of_age() {
    let decides = |change: Value, around: fn(&mut VisitSheet)| {
        let mut person = json!({ "person_id": "p1", "name": "Ann Craske", "relation": "mother",
            "birth_date": "1958-07-23", "basis": "parent", "authority_on_file": true, "may_consent": true,
            "may_receive_records": true });
        person.as_object_mut().unwrap().extend(change.as_object().unwrap().clone());
        opens(&json!({}), |sheet, _| {
            sheet.patient.decision_makers = vec![of(person)];
            around(sheet);
        })
    };
    let by_consent: fn(&mut VisitSheet) = |sheet| {
        sheet.consents[0].data.given_by = of(json!({ "role": "decision-maker", "person_id": "p1" }));
    };
    let by_answer: fn(&mut VisitSheet) = |sheet| {
        sheet.asked[0].data.answered_by = of(json!({ "role": "decision-maker", "person_id": "p1" }));
    };
    let same = json!({ "name": " bettony CRASKE", "birth_date": "1988-07-23" });
    for by in [by_consent, by_answer] {
        assert!(decides(json!({}), by).is_empty());
        assert_eq!(decides(same.clone(), by), ["guardian-is-patient:p1"]);
        assert!(decides(json!({ "name": "Bettony Craske" }), by).is_empty(), "a name may run in the family");
        assert!(decides(json!({ "birth_date": "1988-07-23" }), by).is_empty(), "a day may be shared");
        assert_eq!(decides(json!({ "relation": "Self " }), by), ["guardian-is-patient:p1"]);
        assert_eq!(decides(json!({ "birth_date": "2007-09-23" }), by), ["guardian-is-minor:p1"]);
        assert!(decides(json!({ "birth_date": "2007-09-22" }), by).is_empty());
        assert!(decides(json!({ "birth_date": null }), by).is_empty());
    }
    // Nobody is looked at who decided nothing this note rests on.
    assert!(decides(same.clone(), |_| ()).is_empty());
    assert!(
        decides(same, |sheet| {
            sheet.consents[0].data.given_by = of(json!({ "role": "decision-maker", "person_id": "p1" }));
            sheet.note.agreed.consents.clear();
        })
        .is_empty()
    );
}

/// A note rests on the consents it names, for the visit or for a line.
#[test]
fn a_consent_the_note_rests_on_does_not_end_before_it_begins() {
    let turned = |named: &[u64], on_line: Option<u64>, until: &str| {
        let changes = json!({ "/agreed/consents": named, "/procedures/0/consent": on_line });
        opens(&changes, |sheet, _| {
            sheet.consents[0].data.valid_until = Some(of(json!(until)));
        })
    };
    for (named, on_line) in [(&[16, 17][..], None), (&[], Some(16)), (&[16], Some(17))] {
        assert_eq!(
            turned(named, on_line, "2025-09-21")
                .iter()
                .filter(|item| item.starts_with("consent-until"))
                .count(),
            1
        );
    }
    assert_eq!(turned(&[16], None, "2025-09-21"), ["consent-until-before-from:16"]);
    assert!(turned(&[16], None, "2025-09-22").is_empty());
    assert!(turned(&[17], None, "2025-09-21").is_empty() && turned(&[], None, "2025-09-21").is_empty());
}

#[test]
fn gloves_are_not_of_what_the_patient_is_allergic_to() {
    let gloves = |material: &str, allergic: &[&str], alert: Option<&str>| {
        opens(&json!({ "/procedures/1/gloves/material": material }), |sheet, _| {
            sheet.patient.allergic_to = allergic.iter().map(ToString::to_string).collect();
            sheet.patient.alerts = alert
                .map(|kind| (9, of(json!({ "kind": kind, "from": "2024-01-01" }))))
                .into_iter()
                .collect();
        })
    };
    assert_eq!(gloves("vinyl", &["latex", "Vinyl"], None), ["glove-is-allergy:2"]);
    assert!(gloves("nitrile", &["latex", "vinyl"], None).is_empty());
    assert_eq!(gloves("latex", &[], Some("latex-allergy")), ["glove-is-allergy:2"]);
    assert!(gloves("nitrile", &[], Some("latex-allergy")).is_empty());
    assert!(gloves("latex", &[], Some("osteoporosis")).is_empty() && gloves("latex", &[], None).is_empty());
}

#[test]
fn a_thrust_goes_to_one_pair_of_neighbors() {
    let thrust = |technique: &str, segments: &[&str]| {
        let changes = json!({ "/procedures/0/technique": technique, "/procedures/0/segments": segments });
        opens(&changes, none).contains(&"thrust-not-adjacent:1".to_string())
    };
    assert!(
        !thrust("thrust", &["C5-C6"]) && !thrust("thrust", &[]) && !thrust("thrust", &["C5-C6", "C5-C6"])
    );
    assert!(thrust("thrust", &["C4-C5", "C5-C6"]) && thrust("thrust", &["C3-C4", "C5-C6", "C6-C7"]));
    assert!(!thrust("mobilization", &["C4-C5", "C5-C6"]));
    // The pelvic joint and the ribs are no levels.
    assert!(!thrust("thrust", &["C5-C6", "SI"]) && !thrust("thrust", &["rib-1", "rib-2"]));
}

/// Each signs what their own hands did, on a day they were on the roster with a licence.
#[test]
fn the_signer_was_on_the_roster_and_signs_their_own_hands() {
    let roster = |from: &str, last: Option<&str>, licence: Option<&str>| {
        opens(&json!({}), |sheet, _| {
            let line = sheet.roster.as_mut().unwrap();
            line.on_roster_from = of(json!(from));
            line.on_roster_last_day = last.map(|day| of(json!(day)));
            line.licence_last_day = licence.map(|day| of(json!(day)));
        })
    };
    assert!(roster("2025-09-22", None, None).is_empty());
    assert!(roster("2025-09-22", Some("2025-09-22"), Some("2025-09-22")).is_empty());
    assert_eq!(roster("2025-09-23", None, None), ["signer-not-on-roster"]);
    assert_eq!(roster("2025-09-23", Some("2025-09-30"), None), ["signer-not-on-roster"]);
    assert_eq!(roster("2025-09-01", Some("2025-09-21"), None), ["signer-not-on-roster"]);
    assert_eq!(roster("2025-09-01", None, Some("2025-09-21")), ["licence-expired"]);
    assert_eq!(opens(&json!({}), |sheet, _| sheet.roster = None), ["signer-not-on-roster"]);
    try_all(&[
        (json!({ "/procedures/0/done_by": "OM" }), &["anothers-hands:1"]),
        (json!({ "/procedures/0/done_by": " IV " }), &[]),
    ]);
}

#[test]
fn nobody_is_treated_before_birth() {
    let born = |day: Option<&str>| {
        let items = opens(&json!({}), |sheet, _| sheet.patient.born = day.and_then(parse_date));
        items.contains(&"birth-after-visit".to_string())
    };
    assert!(born(Some("2025-09-23")) && !born(Some("2025-09-22")) && !born(None));
}

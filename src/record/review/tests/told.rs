//! What a note needs of what was told, thought, advised and planned, and where a reason may stand for it. What is
//! needed at a first visit, and in which words, follows the practice's own list.

use super::{line, none, note_with, of, opens, try_all, whole};
use crate::record::kinds::Given;
use crate::record::review::sheet::{draft, fill_gaps};
use crate::record::review::{About, review};
use serde_json::{Value, json};

#[test]
fn each_complaint_needs_every_part_of_its_own() {
    let second = opens(&json!({ "/complaints/1": { "no": 2, "words": "low back aches" } }), none);
    let parts = ["aggravating", "frequency", "mechanism", "onset", "quality", "radiation", "relieving"];
    let mut expected: Vec<String> = parts.iter().map(|part| format!("complaint-{part}:2")).collect();
    expected.extend(
        ["complaint-side:2", "complaint-site:2", "pain-intensity:2", "pain-worst:2"].map(String::from),
    );
    expected.sort();
    assert_eq!(second, expected);
    try_all(&[
        // A place on the body tells the site, and a place in the middle has no side.
        (json!({ "/complaints/0/site": null }), &[]),
        (json!({ "/complaints/0/region": null }), &[]),
        (json!({ "/complaints/0/region": null, "/complaints/0/site": " " }), &["complaint-site:1"]),
        (json!({ "/complaints/0/side": null }), &["complaint-side:1"]),
        (json!({ "/complaints/0/side": null, "/complaints/0/region": "lumbar" }), &[]),
        // How it began tells what brought it on.
        (json!({ "/complaints/0/mechanism": null }), &[]),
        (json!({ "/complaints/0/onset": null }), &["complaint-onset:1"]),
        (
            json!({ "/complaints/0/onset": null, "/complaints/0/mechanism": null }),
            &["complaint-mechanism:1", "complaint-onset:1"],
        ),
    ]);
}

#[test]
fn pain_that_was_measured_need_not_be_told() {
    let pain = |kind: &str, phase: &str| line(phase, kind, 5.0);
    let untold = json!({ "/complaints/0/pain_now": { "not_done_because": "" } });
    let with = |mut changes: Value, line: Value| {
        changes["/measures/3"] = line;
        changes
    };
    try_all(&[
        (untold.clone(), &["pain-before-and-after", "pain-intensity:1"]),
        (with(untold.clone(), pain("pain-now", "before")), &[]),
        // Pain in between is its intensity, and not what it was before.
        (with(untold.clone(), pain("pain-now", "during")), &["pain-before-and-after"]),
        (with(untold, pain("pain-best", "before")), &["pain-before-and-after", "pain-intensity:1"]),
        (json!({ "/complaints": [] }), &["complaint", "pain-before-and-after", "pain-intensity"]),
        (with(json!({ "/complaints": [] }), pain("pain-now", "before")), &["complaint"]),
        (json!({ "/complaints/0/pain_worst": null }), &["pain-worst:1"]),
        (with(json!({ "/complaints/0/pain_worst": null }), pain("pain-worst", "before")), &[]),
        (
            with(json!({ "/complaints/0/quality": null }), pain("pain-worst", "before")),
            &["complaint-quality:1"],
        ),
    ]);
}

/// What a sheet in the patient's own hand holds is not asked for again.
#[test]
fn the_history_may_stand_in_several_places() {
    let none_told = json!({ "/history": { "social": "bass trombone" }, "/complaints/0/earlier_care": null });
    let with = |more: Value| {
        let mut all = none_told.clone();
        all.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
        all
    };
    try_all(&[
        (none_told.clone(), &["earlier-care", "family-history", "medicines", "past-health"]),
        (with(json!({ "/history/sources": [12] })), &[]),
        (
            with(json!({ "/complaints/0/earlier_care": "a brace" })),
            &["family-history", "medicines", "past-health"],
        ),
        (
            with(json!({ "/history/earlier_care": "a brace" })),
            &["family-history", "medicines", "past-health"],
        ),
        (with(json!({ "/history/illness": "none" })), &["earlier-care", "family-history", "medicines"]),
        (with(json!({ "/history/injuries": "a fall" })), &["earlier-care", "family-history", "medicines"]),
        (
            with(json!({ "/history/illness": " " })),
            &["earlier-care", "family-history", "medicines", "past-health"],
        ),
        (with(json!({ "/history/medicines": "none" })), &["earlier-care", "family-history", "past-health"]),
        (
            with(json!({ "/medicines_changed": "aspirin" })),
            &["earlier-care", "family-history", "past-health"],
        ),
        (with(json!({ "/history/family": "none" })), &["earlier-care", "medicines", "past-health"]),
        (json!({ "/history": null }), &["family-history", "medicines", "past-health"]),
        (
            json!({ "/history": null, "/complaints/0/earlier_care": null }),
            &["earlier-care", "family-history", "medicines", "past-health"],
        ),
    ]);
}

#[test]
fn one_part_of_an_assessment_makes_one_and_a_diagnosis_needs_what_it_rests_on() {
    let diagnosis = |basis: &str| json!({ "words": "stiff joint", "basis": basis, "region": "neck-joints" });
    let only = |part: &str, value: Value| json!({ "/assessment": { part: value } });
    let (based, both) = (&["considered"][..], &["considered", "diagnosis-with-basis"][..]);
    try_all(&[
        (only("diagnoses", json!([diagnosis("restriction")])), based),
        (only("diagnoses", json!([diagnosis("restriction"), diagnosis(" ")])), both),
        (only("considered", json!([{ "what": "locked disc" }])), &["diagnosis-with-basis"]),
        (only("change_since_last", json!("better")), both),
        (only("tolerance", json!("good")), both),
        (only("risk_remark", json!("none beyond the usual")), both),
        (only("risk_remark", json!(" ")), &["assessment", "considered", "diagnosis-with-basis"]),
        (json!({ "/assessment": null }), &["assessment", "considered", "diagnosis-with-basis"]),
    ]);
    // A re-examination compares, and says how treatment is tolerated and what the risks are.
    let again =
        |part: &str| opens(&json!({ "/sort": "re-examination", (format!("/assessment/{part}")): " " }), none);
    assert_eq!(again("change_since_last"), ["compared-with-last"]);
    assert_eq!(again("tolerance"), ["tolerance"]);
    assert_eq!(again("risk_remark"), ["risk-remark"]);
}

#[test]
fn a_list_that_holds_no_finding_is_none() {
    let empty = opens(&json!({}), |sheet, _| sheet.note.findings = Given::Value(Vec::new()));
    let regions = ["finding-for-region:inside-cheek", "finding-for-region:neck-joints"];
    let marks = ["no-finding-for-region:inside-cheek", "no-finding-for-region:neck-joints"];
    assert_eq!(empty, [regions[0], regions[1], "findings", marks[0], marks[1], "oral-inspection"]);
}

#[test]
fn any_advice_is_advice_and_what_to_watch_for_stands_by_itself() {
    let advice = |part: &str, value: &str| json!({ "/advice": { part: value, "watch_for": "dizziness" } });
    try_all(&[
        (advice("words", "rest"), &[]),
        (advice("heat_or_ice", "ice"), &[]),
        (advice("activity", "no lifting"), &[]),
        (advice("diet", "soft food"), &[]),
        (
            json!({ "/advice": { "sheets": [{ "sheet": "J2", "edition": "1" }], "watch_for": "dizziness" } }),
            &[],
        ),
        (json!({ "/advice": { "watch_for": "dizziness" } }), &["advice"]),
        (advice("words", " "), &["advice"]),
        (json!({ "/advice": { "words": "rest" } }), &["watch-for"]),
        (json!({ "/advice/watch_for": " " }), &["watch-for"]),
        (json!({ "/advice": null }), &["advice", "watch-for"]),
        (json!({ "/advice": { "not_done_because": "left early" } }), &[]),
    ]);
}

#[test]
fn a_goal_has_a_measure_and_a_day_and_one_such_goal_is_enough() {
    let goal = json!({ "words": "a sandwich", "measure": "mouth opening", "by": "2025-11-01" });
    try_all(&[
        (json!({ "/plan/goals/0/measure": null }), &["plan-goals"]),
        (json!({ "/plan/goals/0/by": null }), &["plan-goals"]),
        (json!({ "/plan/goals/0/by": null, "/plan/goals/1": goal }), &[]),
        (json!({ "/plan/next_step": " " }), &["next-step"]),
        (json!({ "/plan/frequency": " " }), &["plan-frequency"]),
        (json!({ "/plan/duration": null }), &["plan-duration"]),
        (json!({ "/plan/re_examine_on": null }), &["re-examination-date"]),
        (
            json!({ "/plan": null }),
            &["next-step", "plan-duration", "plan-frequency", "plan-goals", "re-examination-date"],
        ),
    ]);
}

/// Where the rules need no advice and no plan, their lack is still asked about.
#[test]
fn no_advice_and_no_plan_are_asked_about_where_they_are_not_needed() {
    let free = |changes: Value| {
        opens(&changes, |_, rules| {
            for item in ["advice", "next-step", "watch-for"] {
                rules.note.needed.remove(item);
            }
            rules.note.needed.retain(|item, _| !item.starts_with("plan-") && item != "re-examination-date");
        })
    };
    assert!(free(json!({})).is_empty());
    assert_eq!(free(json!({ "/advice": null })), ["no-advice"]);
    assert_eq!(free(json!({ "/advice": { "not_done_because": " " } })), ["no-advice"]);
    assert_eq!(free(json!({ "/advice": { "not_done_because": "none needed" } })), Vec::<String>::new());
    assert_eq!(free(json!({ "/advice": { "watch_for": "dizziness" } })), ["no-advice"]);
    assert_eq!(free(json!({ "/plan": null })), ["no-plan"]);
    assert_eq!(free(json!({ "/plan": { "not_done_because": "discharged" } })), Vec::<String>::new());
    assert_eq!(free(json!({ "/plan/next_step": " " })), ["no-plan"]);
}

#[test]
fn who_belongs_into_the_room_is_asked_for_by_name() {
    let accepted = |present: &[&str], met: &[&str]| {
        opens(&json!({}), |sheet, _| {
            sheet.consents[1].data.chaperone = of(json!({ "offered": true, "answer": "accepted" }));
            sheet.opening.present = present.iter().map(ToString::to_string).collect();
            sheet.conditions_met = met.iter().map(ToString::to_string).collect();
        })
    };
    assert_eq!(accepted(&[], &[]), ["who-was-in-the-room:chaperone"]);
    assert_eq!(accepted(&["mother"], &[]), ["who-was-in-the-room:chaperone"]);
    assert!(accepted(&["Chaperone"], &[]).is_empty() && accepted(&[], &["chaperone-present"]).is_empty());
    // Of age on the eighteenth birthday, as the rules have it.
    let born = |day: &str, present: &[&str]| {
        opens(&json!({}), |sheet, _| {
            sheet.patient.born = crate::record::moment::parse_date(day);
            sheet.opening.present = present.iter().map(ToString::to_string).collect();
        })
    };
    assert_eq!(born("2007-09-23", &[]), ["who-was-in-the-room:guardian"]);
    assert!(born("2007-09-22", &[]).is_empty());
    for person in ["guardian", "parent", "mother", "father"] {
        assert!(born("2007-09-23", &[person]).is_empty(), "{person}");
    }
    assert_eq!(born("2007-09-23", &["interpreter"]), ["who-was-in-the-room:guardian"]);
    let place = |place: Option<&str>, because: bool| {
        opens(&json!({}), |sheet, _| {
            (sheet.opening.place, sheet.opening.no_place_because) = (place.map(str::to_string), because);
        })
    };
    assert_eq!([place(None, false), place(Some(" "), false)], [["place"], ["place"]]);
    assert!(place(None, true).is_empty() && place(Some("room 2"), false).is_empty());
}

/// The same reason answers for every item that belongs to the same part.
#[test]
fn a_reason_answers_for_what_belongs_to_its_part_and_for_nothing_else() {
    let absent = |why: &str| json!({ "not_done_because": why });
    let (left, blank) = (absent("left early"), absent(" "));
    try_all(&[
        (json!({ "/assessment": left }), &[]),
        (json!({ "/assessment": blank }), &["assessment", "considered", "diagnosis-with-basis"]),
        (json!({ "/plan": left }), &[]),
        (json!({ "/advice": left }), &[]),
        (json!({ "/advice/watch_for": left }), &[]),
        (json!({ "/advice/watch_for": blank }), &["watch-for"]),
        (json!({ "/complaints/0/pain_now": left }), &["pain-before-and-after"]),
        (json!({ "/complaints/0/pain_now": left, "/reassessment_not_done_because": "left early" }), &[]),
        // A finding's lack is still marked.
        (
            json!({ "/findings": left }),
            &["no-finding-for-region:inside-cheek", "no-finding-for-region:neck-joints"],
        ),
    ]);
    // The reason of one line is none for another.
    let second = json!({ "no": 2, "words": "neck", "region": "neck-back", "side": "both", "pain_now": absent(""),
        "pain_worst": 2, "quality": "dull", "frequency": "daily", "radiation": "nowhere", "onset": "slowly",
        "aggravating": "sitting", "relieving": "warmth" });
    try_all(&[
        (
            json!({ "/complaints/0/pain_now": left, "/complaints/1": second }),
            &["pain-before-and-after", "pain-intensity:2"],
        ),
        (
            json!({ "/procedures/0/response": left, "/procedures/1/response": blank }),
            &["pain-before-and-after", "response:2"],
        ),
    ]);
    // Screens: one reason for all of them, asked in part or not at all.
    let screens = |because: Option<&str>| {
        opens(&json!({}), |sheet, _| {
            sheet.screens.truncate(1);
            sheet.screens[0].data.answers.remove(0);
            sheet.note.screens_not_done_because = because.map(str::to_string);
        })
    };
    assert_eq!(screens(None), ["screen-not-whole:neck", "screen:mouth"]);
    assert_eq!(screens(Some(" ")), ["screen-not-whole:neck", "screen:mouth"]);
    assert!(screens(Some("an emergency next door")).is_empty());
}

#[test]
fn an_answer_counts_for_its_own_item_when_it_says_something() {
    let answered = |item: &str, answer: &str| {
        let kept = json!([{ "item": item, "answer": answer }]);
        let mut open = opens(&json!({ "/procedures/0/side": "left", "/answered": kept }), |sheet, _| {
            sheet.asked[0].data.side = of(json!("left"));
        });
        // A blank answer is refused by itself.
        open.retain(|item| !item.starts_with("cannot-be"));
        open.is_empty()
    };
    assert!(answered("thrust-side-opposite:1", "as taught") && answered("thrust-side-opposite", "as taught"));
    assert!(!answered("thrust-side-opposite:1", " ") && !answered("thrust-side-opposite:2", "as taught"));
    assert!(!answered("side-missing", "as taught"));
    let not_done = |item: &str, because: &str| {
        let kept = json!([{ "item": item, "because": because }]);
        let mut open = opens(&json!({ "/history/family": null, "/not_done": kept }), none);
        open.retain(|item| !item.starts_with("cannot-be"));
        open.is_empty()
    };
    assert!(not_done("family-history", "adopted") && !not_done("family-history", " "));
    assert!(!not_done("past-health", "adopted"));
    let acknowledged =
        |item: &str| opens(&json!({ "/history/family": null, "/missing_acknowledged": [item] }), none);
    assert!(acknowledged("family-history").is_empty());
    assert_eq!(acknowledged("past-health"), ["family-history"]);
}

/// What cannot be is not answered away: only what may in fact have been so, and then by the keeper of the records.
/// Which those are is the practice's own choice.
#[test]
fn what_cannot_be_is_corrected_and_not_answered() {
    let answered = |item: &str, around: fn(&mut crate::record::review::VisitSheet)| {
        opens(&json!({ "/answered": [{ "item": item, "answer": "it was so" }] }), |sheet, _| around(sheet))
    };
    assert_eq!(
        answered("birth-after-visit", |sheet| {
            sheet.patient.born = crate::record::moment::parse_date("2025-09-23");
        }),
        ["birth-after-visit", "thrust-under-age:1", "who-was-in-the-room:guardian"]
    );
    assert!(answered("signer-not-on-roster", |sheet| sheet.roster = None).is_empty());
    assert!(
        answered("anothers-hands", |sheet| sheet.note.procedures[0].done_by = "OM".to_string()).is_empty()
    );
    let latex = answered("glove-is-allergy", |sheet| sheet.patient.allergic_to = vec!["nitrile".to_string()]);
    assert!(latex.is_empty());
}

/// An item is named by its word, and by which one where there are several; people read it in words.
#[test]
fn a_remark_says_what_it_is_about() {
    for (about, key, words) in [
        (About::note(), "", ""),
        (About::procedure(2), "2", "procedure 2"),
        (About::finding(4), "4", "finding 4"),
        (About::complaint(3), "3", "complaint 3"),
        (About::entry(16), "16", "number 16"),
        (About::name("neck"), "neck", "neck"),
    ] {
        assert_eq!((about.key().as_str(), about.words().as_str()), (key, words));
    }
    let (mut sheet, rules) = whole();
    sheet.screens.remove(0);
    sheet.note.complaints[0].quality = None;
    sheet.consents[0].data.paper = None;
    sheet.patient.allergic_to = vec!["nitrile".to_string()];
    let found = review(&sheet, &rules);
    let named = |item: &str| found.iter().filter(|remark| remark.is_named(item)).count();
    for item in ["screen", "screen:neck", "complaint-quality:1", "consent-signature:16", "glove-is-allergy:2"]
    {
        assert_eq!(named(item), 1, "{item}");
    }
    assert_eq!([named("screen:mouth"), named("neck"), named("")], [0, 0, 0]);
    let open: Vec<bool> = found.iter().map(super::Remark::is_open).collect();
    // Refused first, then missing; that nothing can have changed before a first visit is answered.
    let words: Vec<&str> = found.iter().map(|remark| remark.item.as_str()).collect();
    let expected = [
        "glove-is-allergy:2",
        "changed-since-last",
        "complaint-quality:1",
        "screen:neck",
        "consent-signature:16",
    ];
    assert_eq!((words, open), (expected.to_vec(), vec![true, false, true, true, true]));
    // What is marked is said, and stands in nobody's way.
    sheet.notices = vec![8];
    let found = review(&sheet, &rules);
    let mark = found.iter().find(|remark| remark.item == "after-notice:8").unwrap();
    assert!(!mark.is_open() && mark.answered.is_none());
}

/// A blank stands where the layout wants an answer, and nowhere else.
#[test]
fn a_draft_is_read_with_blanks_where_answers_must_come() {
    let because = |value: &Value| value["not_done_because"].as_str().map(str::to_string);
    let mut empty = json!({});
    fill_gaps(&mut empty, "no time");
    for part in ["changed_since_last", "findings", "assessment", "advice", "plan"] {
        assert_eq!(because(&empty[part]).as_deref(), Some("no time"), "{part}");
    }
    // A reason for the whole stays the reason for the whole.
    let mut given =
        json!({ "advice": { "not_done_because": "left" }, "plan": { "not_done_because": "left" } });
    fill_gaps(&mut given, "no time");
    assert_eq!(given["advice"], json!({ "not_done_because": "left" }));
    assert_eq!(given["plan"], json!({ "not_done_because": "left" }));
    let mut begun = json!({
        "advice": { "words": "rest" }, "plan": { "frequency": "weekly" }, "findings": [], "assessment": {},
        "complaints": [{ "words": "ache" }, { "no": 7, "words": "ache", "pain_now": 3 }],
        "procedures": [
            { "response": { "pain": 3 } }, { "response": { "word": "sore", "pain": 3 } }, {},
            { "response": { "not_done_because": "left" } }
        ]
    });
    fill_gaps(&mut begun, "no time");
    assert_eq!(begun["advice"], json!({ "words": "rest", "watch_for": { "not_done_because": "no time" } }));
    assert_eq!(begun["plan"], json!({ "frequency": "weekly", "next_step": "no time" }));
    assert_eq!(because(&begun["findings"]).as_deref(), Some("no time"));
    assert_eq!(because(&begun["assessment"]).as_deref(), Some("no time"));
    let complaints = &begun["complaints"];
    assert_eq!((&complaints[0]["no"], &complaints[1]["no"]), (&json!(1), &json!(7)));
    assert_eq!(because(&complaints[0]["pain_now"]).as_deref(), Some("no time"));
    assert_eq!(complaints[1]["pain_now"], json!(3));
    let responses: Vec<&Value> =
        begun["procedures"].as_array().unwrap().iter().map(|p| &p["response"]).collect();
    // Numbers without their word say that it is still to come.
    assert_eq!(because(responses[0]).as_deref(), Some("no time"));
    assert_eq!(responses[1], &json!({ "word": "sore", "pain": 3 }));
    assert_eq!(because(responses[2]).as_deref(), Some("no time"));
    assert_eq!(because(responses[3]).as_deref(), Some("left"));
    // Reading a draft twice changes nothing more, and a word too many is refused where it stands.
    let read = draft(&note_with(&json!({ "/plan": null }))).unwrap();
    assert_eq!(read.plan.because(), Some(""));
    assert_eq!(draft(&serde_json::to_value(&read).unwrap()).unwrap(), read);
    let nothing = draft(&json!({})).unwrap();
    assert_eq!((nothing.visit, nothing.sort.word()), (0, "later"));
    assert_eq!(draft(&note_with(&json!({ "/plan/mood": "good" }))).unwrap_err().path, "/plan/mood");
}

/// Where an item's value goes is a place of the layout, and where its reason goes another; what is recorded by a
/// command of its own has neither.
#[test]
fn values_and_reasons_have_their_places_in_the_note() {
    use crate::record::review::ReviewId as R;
    for (item, place) in [
        (R::ComplaintQuality, Some("/complaints/#/quality")),
        (R::Advice, Some("/advice/words")),
        (R::GloveMissing, Some("/procedures/#/gloves/material")),
        (R::Place, None),
        (R::AskedToday, None),
    ] {
        assert_eq!(item.place(), place, "{item}");
    }
    let reasons = [
        (R::ScreenToday, "/screens_not_done_because"),
        (R::GloveMissing, "/procedures/#/gloves_not_recorded_because"),
        (R::FunctionBeforeAndAfter, "/reassessment_not_done_because"),
    ];
    for (item, place) in reasons {
        assert_eq!(item.absence(), Some(place), "{item}");
        let mut changes = json!({ "/measures": [], "/procedures/1/gloves": null });
        let left = |changes: &Value| {
            let open = opens(changes, |sheet, _| sheet.screens.clear());
            open.iter().filter(|one| one.split(':').next() == Some(item.word())).count()
        };
        assert!(left(&changes) > 0, "{item}");
        changes[place.replace('#', "1")] = json!("an alarm in the building");
        assert_eq!(left(&changes), 0, "{item}");
    }
    assert_eq!([R::Place.absence(), R::AskedToday.absence(), R::SideMissing.absence()], [None; 3]);
    // What was in fact so may be signed by the keeper of the records: a licence that had run out, hands, gloves, who
    // decided. What can be put right may not.
    let may: Vec<&str> = R::ALL.iter().filter(|item| item.custodian_may()).map(|item| item.word()).collect();
    let expected = [
        "guardian-is-patient",
        "guardian-is-minor",
        "glove-is-allergy",
        "signer-not-on-roster",
        "anothers-hands",
        "licence-expired",
    ];
    assert_eq!(may, expected);
}

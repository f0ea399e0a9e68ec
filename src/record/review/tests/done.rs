//! What a note needs of what hands did: what it rests on, screens, responses, the same measure before and after, and
//! what belongs to work inside the mouth. What is needed follows the practice's own list.

use super::{at, dated, line, none, of, opens, try_all};
use crate::record::review::{RuleBook, VisitSheet};
use crate::record::vocab::{Region, Side, Technique};
use serde_json::{Value, json};

/// What is open around the thrust when nobody was asked and the consent to it is changed.
fn thrust_with(consent: &Value, procedure: &Value) -> Vec<String> {
    let mut changes = json!({});
    for (name, value) in procedure.as_object().unwrap() {
        changes[format!("/procedures/0/{name}")] = value.clone();
    }
    let mut items = opens(&changes, |sheet, rules| {
        sheet.asked.remove(0);
        rules.coverage.same_visit_asking_needed.clear();
        let mut data = serde_json::to_value(&sheet.consents[0].data).unwrap();
        for (name, value) in consent.as_object().unwrap() {
            data[name] = value.clone();
        }
        sheet.consents[0].data = of(data);
    });
    items.retain(|item| item.starts_with("agreed"));
    items
}

/// Which consents cover what was done: coverage rules D2, D4, D5 and the side table.
#[test]
fn a_consent_covers_what_it_names_and_nothing_beside_it() {
    let whole = json!({});
    for (consent, covers) in [
        (json!({}), true),
        (json!({ "status": "declined" }), false),
        (json!({ "kind": "observer", "matter": "a student" }), false),
        (json!({ "kind": "sensitive-area" }), true),
        (json!({ "techniques": ["mobilization"] }), false),
        (json!({ "techniques": ["mobilization", "thrust"] }), true),
        (json!({ "regions": ["spine"] }), true),
        (json!({ "regions": ["lumbar", "neck-joints"] }), true),
        (json!({ "regions": ["neck-back"] }), false),
        (json!({ "regions": ["spine"], "excluded_regions": ["cervical"] }), false),
        (json!({ "regions": ["spine"], "excluded_regions": ["neck-joints"] }), false),
        (json!({ "regions": ["spine"], "excluded_regions": ["lumbar"] }), true),
    ] {
        assert_eq!(thrust_with(&consent, &whole).is_empty(), covers, "{consent}");
    }
    // A region treated is the whole of it: what leaves out a part of it does not cover it.
    let neck = json!({ "region": "neck-back" });
    assert!(thrust_with(&json!({ "excluded_regions": ["neck-front"] }), &neck).is_empty());
    assert_eq!(thrust_with(&json!({ "excluded_regions": ["suboccipital"] }), &neck), ["agreed:1"]);
    // The row is what was agreed, the column what was done: left, right, both, midline, and no side said.
    for (agreed, covers) in [
        (json!("left"), [true, false, false, false, false]),
        (json!("right"), [false, true, false, false, false]),
        (json!("both"), [true, true, true, true, true]),
        (json!("midline"), [false, false, false, true, true]),
    ] {
        let done = [json!("left"), json!("right"), json!("both"), json!("midline"), Value::Null];
        let found =
            done.map(|side| thrust_with(&json!({ "side": agreed }), &json!({ "side": side })).is_empty());
        assert_eq!(found, covers, "{agreed}");
    }
}

/// A consent named on the line, an answer named on it, an answer of today, or a consent that covers it.
#[test]
fn a_procedure_rests_on_any_one_of_four() {
    let bare = |around: fn(&mut VisitSheet)| {
        opens(&json!({ "/procedures/1": null, "/findings/3": null }), |sheet, _| {
            sheet.consents.clear();
            sheet.asked.clear();
            around(sheet);
        })
    };
    assert_eq!(bare(|_| ()), ["agreed:1", "asked-today:1"]);
    assert_eq!(bare(|sheet| sheet.note.procedures[0].consent = Some(3)), ["asked-today:1"]);
    assert!(bare(|sheet| sheet.note.procedures[0].asked = Some(3)).is_empty());
    let today = |change: Value| {
        opens(&json!({ "/procedures/1": null, "/findings/3": null }), |sheet, _| {
            sheet.consents.clear();
            let mut data = serde_json::to_value(&sheet.asked[0].data).unwrap();
            data.as_object_mut().unwrap().extend(change.as_object().unwrap().clone());
            sheet.asked = vec![dated(21, "10:15", of(data))];
        })
    };
    for (asked, answers) in [
        (json!({}), true),
        (json!({ "side": "both" }), true),
        (json!({ "region": "cervical" }), true),
        (json!({ "region": "suboccipital" }), false),
        (json!({ "region": "neck-back" }), false),
        (json!({ "technique": "mobilization" }), false),
        (json!({ "side": "left" }), false),
        (json!({ "side": "midline" }), false),
    ] {
        let open = today(asked.clone());
        let expected: &[&str] = if answers { &[] } else { &["agreed:1", "asked-today:1"] };
        assert_eq!(open, expected, "{asked}");
    }
}

/// Asking in the visit and screens are needed where technique and region are those of the rules; a rule that leaves
/// one of them out means any.
#[test]
fn a_rule_that_leaves_a_technique_or_region_out_means_any() {
    let asked = |technique: &str, region: &str| {
        let changes = json!({ "/procedures/0/technique": technique, "/procedures/0/region": region,
            "/procedures/0/segments": [], "/procedures/1": null });
        let open = opens(&changes, |sheet, _| {
            sheet.asked.clear();
            sheet.screens.clear();
        });
        let has = |item: &str| open.iter().any(|one| one == item);
        [has("asked-today:1"), has("screen:neck"), has("screen:mouth")]
    };
    assert_eq!(asked("thrust", "neck-joints"), [true, true, false]);
    assert_eq!(asked("thrust", "lumbar"), [true, false, false]);
    assert_eq!(asked("traction", "neck-joints"), [true, true, false]);
    assert_eq!(asked("traction", "lumbar"), [false, false, false]);
    assert_eq!(asked("mobilization", "neck-joints"), [false, false, false]);
    assert_eq!(asked("mobilization", "mouth-floor"), [true, false, true]);
    assert_eq!(asked("mobilization", "coccyx"), [true, false, false]);
}

#[test]
fn examining_alone_is_no_treatment() {
    let looked = json!([{ "no": 1, "at": "2025-09-22T10:20:00-04:00", "technique": "examination",
        "region": "neck-joints", "side": "right", "done_by": "IV", "response": { "word": "tolerated" } }]);
    let open = opens(&json!({ "/procedures": looked, "/advice/watch_for": null }), |sheet, _| {
        sheet.consents.clear();
        sheet.asked.clear();
        sheet.screens.clear();
        sheet.note.measures.clear();
    });
    // The diagnosis speaks of the neck; what was felt in the cheek is still to be followed.
    assert_eq!(open, ["finding-not-followed:4"]);
}

/// An instrument thrusts as a hand does.
#[test]
fn a_thrust_by_instrument_needs_what_a_thrust_needs() {
    let measures = |technique: &str| {
        let changes = json!({ "/procedures/0/technique": technique, "/procedures/1": null, "/measures": [] });
        let open = opens(&changes, none);
        open.contains(&"function-before-and-after".to_string())
    };
    assert!(measures("thrust") && measures("instrument-adjust") && !measures("mobilization"));
}

#[test]
fn the_newest_screen_counts_and_every_item_of_it() {
    let screens = |answer: &str, newest: &str, needed: bool| {
        opens(&json!({}), |sheet, rules| {
            if !needed {
                rules.note.needed.remove("screen-not-whole");
            }
            let mut again = sheet.screens[0].clone();
            again.at = at(newest);
            again.data.answers[3].answer = of(json!(answer));
            again.data.answers.remove(5);
            sheet.screens.push(again);
        })
    };
    assert_eq!(screens("not-asked", "10:10", true), ["screen-not-whole:neck"]);
    assert!(
        screens("not-asked", "10:01", true).is_empty() && screens("not-asked", "10:10", false).is_empty()
    );
    let found = |answer: &str| {
        let (mut sheet, rules) = super::whole();
        sheet.screens[0].data.answers[3].answer = of(json!(answer));
        sheet.screens[0].data.answers.remove(5);
        let found = super::review(&sheet, &rules);
        found.iter().find(|one| one.item == "screen-not-whole:neck").unwrap().words.clone()
    };
    let names: Vec<String> =
        RuleBook::example().unwrap().coverage.screen_items["neck"].keys().cloned().collect();
    let plain = |at: usize| names[at].replace('-', " ");
    assert!(found("not-asked").ends_with(&format!("({}, {})", plain(3), plain(5))), "{}", found("not-asked"));
    assert!(found("no").ends_with(&format!("({})", plain(5))));
}

/// The same measure: of one kind, on one side, at one level, under one name, moved by the same one.
#[test]
fn function_is_the_same_measure_before_and_after() {
    let pair = |before: Value, after: Value| {
        let line = |phase: &str, change: Value| {
            let mut one = json!({ "kind": "other-movement", "value": 20, "unit": "deg", "side": "right" });
            one.as_object_mut().unwrap().extend(change.as_object().unwrap().clone());
            json!({ "phase": phase, "measured": one })
        };
        let changes = json!({ "/measures": [line("before", before), line("after", after)] });
        opens(&changes, none).iter().all(|item| item != "function-before-and-after")
    };
    assert!(pair(json!({}), json!({ "value": 30 })));
    for (name, value) in [
        ("kind", json!("questionnaire")),
        ("side", json!("left")),
        ("name", json!("wrist flexion")),
        ("segment", json!("C5-C6")),
        ("active", json!(true)),
    ] {
        assert!(!pair(json!({}), json!({ name: value })), "{name}");
        assert!(pair(json!({ name: value }), json!({ name: value })), "{name}");
    }
    // Pain and vital signs say nothing about function.
    for kind in ["pain-now", "pain-worst", "pain-best"] {
        assert!(!pair(json!({ "kind": kind }), json!({ "kind": kind })), "{kind}");
    }
    for kind in ["pulse", "respiration", "temperature", "oxygen-saturation"] {
        assert!(!pair(json!({ "kind": kind }), json!({ "kind": kind })), "{kind}");
    }
    let pressure = json!({ "kind": "blood-pressure", "value": 120, "second_value": 80 });
    assert!(!pair(pressure.clone(), pressure));
    let two_before = json!({ "/measures/1/phase": "before" });
    assert_eq!(opens(&two_before, none), ["function-before-and-after"]);
    let in_between = json!({ "/measures/1/phase": "during" });
    assert_eq!(opens(&in_between, none), ["function-before-and-after"]);
    let two_after = json!({ "/measures/0/phase": "after" });
    assert_eq!(opens(&two_after, none), ["function-before-and-after"]);
}

#[test]
fn pain_is_told_before_and_after() {
    let silent = json!({ "word": "tolerated" });
    let pain = |kind: &str, phase: &str| line(phase, kind, 4.0);
    let after = |more: Value| {
        let mut changes = json!({ "/procedures/0/response": silent, "/procedures/1/response": silent });
        changes.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
        changes
    };
    try_all(&[
        (after(json!({})), &["pain-before-and-after"]),
        (after(json!({ "/procedures/1/response/pain": 3 })), &[]),
        (after(json!({ "/measures/3": pain("pain-now", "after") })), &[]),
        (after(json!({ "/measures/3": pain("pain-now", "before") })), &["pain-before-and-after"]),
        (after(json!({ "/measures/3": pain("pain-worst", "after") })), &["pain-before-and-after"]),
        (after(json!({ "/reassessment_not_done_because": "left early" })), &[]),
    ]);
}

#[test]
fn a_bad_response_is_described_and_what_is_more_than_mild_is_followed() {
    let adverse = |more: Value| {
        let mut one = json!({ "what": "faint", "severity": "mild", "action": "lay down", "outcome": "well" });
        one.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
        json!([one])
    };
    let bad = |word: &str, adverse: Value| {
        json!({
            "/procedures/0/response": { "word": word, "pain": 4 }, "/adverse": adverse
        })
    };
    let severe = |more: Value| {
        let mut more = more;
        more["severity"] = json!("severe");
        json!({ "/adverse": adverse(more) })
    };
    try_all(&[
        (bad("dizzy", json!([])), &["adverse-response:1"]),
        (bad("worse", json!([])), &["adverse-response:1"]),
        (bad("sore", json!([])), &[]),
        (bad("other", json!([])), &[]),
        (bad("worse", adverse(json!({}))), &[]),
        (bad("worse", adverse(json!({ "procedures": [1] }))), &[]),
        (bad("worse", adverse(json!({ "procedures": [2] }))), &["adverse-response:1"]),
        (bad("worse", adverse(json!({ "procedures": [2, 1] }))), &[]),
        (severe(json!({})), &["adverse-follow-up:adverse response 1"]),
        (severe(json!({ "follow_up_due": "2025-09-24" })), &[]),
        (severe(json!({ "closed_at": "2025-09-22T10:35:00-04:00" })), &[]),
        (severe(json!({ "reaction": 23 })), &[]),
        (json!({ "/adverse": adverse(json!({})) }), &[]),
    ]);
}

/// What an infection-control and mouth-work visit records, each by itself: the latex answer, a consent of its own
/// kind, a stop signal, a chaperone offered, fresh gloves, and a look before hands go in.
#[test]
fn work_inside_the_mouth_needs_each_of_its_own() {
    let latex = |screen: &str, item: &str, answer: &str| {
        opens(&json!({}), |sheet, _| {
            sheet.patient.latex_answered = false;
            for one in &mut sheet.screens {
                one.data.answers.retain(|a| a.item != "latex-or-glove-reaction");
            }
            let at = if screen == "mouth" { 1 } else { 0 };
            let answer = of(json!({ "item": item, "answer": answer }));
            sheet.screens[at].data.answers.push(answer);
        })
    };
    assert!(latex("mouth", "latex-or-glove-reaction", "no").is_empty());
    assert!(latex("mouth", "latex-or-glove-reaction", "yes").is_empty());
    let lacking = ["latex-answer", "screen-not-whole:mouth"];
    assert_eq!(latex("mouth", "latex-or-glove-reaction", "not-asked"), lacking);
    assert_eq!(latex("mouth", "bleeding-tendency", "no"), lacking);
    assert_eq!(latex("neck", "latex-or-glove-reaction", "no"), lacking);
    let on_file = opens(&json!({}), |sheet, rules| {
        sheet.screens.truncate(1);
        rules.note.needed.remove("screen");
    });
    assert!(on_file.is_empty(), "answered in the chart: {on_file:?}");
    // A signal agreed in the screen or in the consent to it, and not in another one.
    let signal = |screen: Option<&str>, neck: Option<&str>, mouth: Option<&str>| {
        let signal = |one: Option<&str>| one.map(str::to_string);
        opens(&json!({}), |sheet, _| {
            sheet.screens[1].data.stop_signal = signal(screen);
            sheet.consents[0].data.stop_signal = signal(neck);
            sheet.consents[1].data.stop_signal = signal(mouth);
        })
    };
    let hand = Some("raised hand");
    assert!(signal(hand, None, None).is_empty() && signal(None, None, hand).is_empty());
    assert_eq!(signal(None, hand, None), ["stop-signal"]);
    assert_eq!(signal(Some(" "), None, Some(" ")), ["stop-signal"]);
    let chaperone = |present: &[&str], met: &[&str]| {
        opens(&json!({}), |sheet, _| {
            sheet.consents[1].data.chaperone = None;
            sheet.opening.present = present.iter().map(ToString::to_string).collect();
            sheet.conditions_met = met.iter().map(ToString::to_string).collect();
        })
    };
    assert_eq!(chaperone(&["mother"], &["guardian-in-building"]), ["chaperone-offered"]);
    assert!(chaperone(&["chaperone"], &[]).is_empty() && chaperone(&[], &["chaperone-present"]).is_empty());
    // Two places in the mouth: each under a consent of its own kind.
    let second = json!({ "no": 3, "at": "2025-09-22T10:28:00-04:00", "technique": "intraoral",
        "region": "mouth-floor", "side": "midline", "done_by": "IV",
        "gloves": { "material": "nitrile", "fresh_pair": true }, "response": { "word": "relieved" } });
    let both = |kind: &str| {
        let changes = json!({ "/procedures/2": second, "/findings/4": { "no": 5, "region": "mouth-floor",
            "kind": "normal" } });
        opens(&changes, |sheet, _| {
            let mut given = sheet.consents[1].clone();
            sheet.consents[1].data.regions = vec![Region::InsideCheek];
            (given.seq, given.data.regions) = (24, vec![Region::MouthFloor]);
            given.data.kind = of(json!(kind));
            sheet.consents.push(given);
            let mut asked = sheet.asked[1].clone();
            (asked.seq, asked.data.region, asked.data.side) = (25, Region::MouthFloor, Side::Midline);
            sheet.asked.push(asked);
        })
    };
    assert!(both("inside-mouth").is_empty(), "{:?}", both("inside-mouth"));
    assert_eq!(both("treatment"), ["mouth-consent"]);
    try_all(&[
        (json!({ "/procedures/1/gloves/fresh_pair": false }), &["fresh-pair:2"]),
        (json!({ "/findings/2/kind": "tenderness" }), &["oral-inspection"]),
        (json!({ "/findings/2/kind": "swelling" }), &[]),
        (json!({ "/findings/2/kind": "skin" }), &[]),
        (json!({ "/findings/2/region": "jaw-muscles" }), &["oral-inspection"]),
    ]);
}

/// Risks by technique and region, as the rules name them: soreness for any thrust, the vessels of the neck for one
/// there, and four for whatever is done in the mouth.
#[test]
fn a_consent_names_the_risks_of_what_is_done() {
    let left = |around: fn(&mut VisitSheet)| {
        let (mut sheet, rules) = super::whole();
        around(&mut sheet);
        let found = super::review(&sheet, &rules);
        let risks = found.into_iter().filter(|one| one.item.starts_with("consent-risks"));
        risks
            .map(|one| format!("{}{}", one.item, one.words.split("(").last().unwrap_or_default()))
            .collect::<Vec<_>>()
    };
    assert!(left(|_| ()).is_empty());
    assert_eq!(
        left(|sheet| {
            sheet.consents[0].data.explained.as_mut().unwrap().risks.clear();
        }),
        ["consent-risks:16not named: soreness, neck-artery-event, stroke)"]
    );
    assert_eq!(
        left(|sheet| {
            sheet.consents[1].data.explained.as_mut().unwrap().risks.truncate(2);
        }),
        ["consent-risks:17not named: bite-reflex, mouth-abrasion)"]
    );
    // What was not explained at all lacks the explanation, once.
    assert!(left(|sheet| sheet.consents[0].data.explained = None).is_empty());
    assert_eq!(
        left(|sheet| {
            sheet.consents[0].data.regions = vec![Region::Spine];
            sheet.note.procedures[0].region = Region::Lumbar;
            sheet.note.procedures[0].segments.clear();
        }),
        ["consent-risks:16not named: disc-or-nerve)"]
    );
    // Only what needs a written consent is looked through.
    assert!(
        left(|sheet| {
            sheet.consents[0].data.techniques = vec![Technique::Mobilization];
            sheet.note.procedures[0].technique = Technique::Mobilization;
            sheet.consents[0].data.explained.as_mut().unwrap().risks.clear();
        })
        .is_empty()
    );
    let switched_off = opens(&json!({}), |sheet, rules| {
        rules.note.needed.remove("consent-risks");
        sheet.consents[0].data.explained.as_mut().unwrap().risks.clear();
    });
    assert!(switched_off.is_empty());
}

#[test]
fn a_written_consent_has_its_paper_or_the_picture_of_its_signature() {
    let signed = |form: &str, paper: Option<u64>, image: Option<&str>| {
        opens(&json!({}), |sheet, _| {
            let said = &mut sheet.consents[0].data;
            said.form = of(json!(form));
            (said.paper, said.signature_image) = (paper, image.map(str::to_string));
        })
    };
    for form in ["written-signed", "written-on-screen", "scan-of-paper"] {
        assert_eq!(signed(form, None, None), ["consent-signature:16"], "{form}");
        assert!(
            signed(form, Some(15), None).is_empty() && signed(form, None, Some("ab")).is_empty(),
            "{form}"
        );
    }
    assert!(signed("verbal-recorded", None, None).is_empty());
    // Each part of the explanation, and an interpreter where the chart asks for one.
    let explained = |part: &str, value: Value| {
        opens(&json!({}), |sheet, _| {
            let mut data = serde_json::to_value(&sheet.consents[0].data).unwrap();
            data["explained"][part] = value;
            sheet.consents[0].data = of(data);
        })
    };
    for part in ["procedures", "alternatives", "questions"] {
        assert_eq!(explained(part, json!(" ")), [format!("consent-{part}:16")]);
    }
    assert_eq!(explained("by", json!(" ")), ["consent-explained:16"]);
    let interpreter = opens(&json!({}), |sheet, _| {
        sheet.patient.interpreter_needed = true;
        sheet.opening.present = vec!["Interpreter".to_string()];
        sheet.consents[0].data.interpreter = of(json!({ "name_or_number": "4711", "language": "fr" }));
    });
    assert_eq!(interpreter, ["consent-interpreter:17"]);
}

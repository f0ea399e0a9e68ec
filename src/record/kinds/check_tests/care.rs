//! Screens, measures, notes and reactions: the limits are those of the trade's own table of what cannot be
//! (common practice where nothing else is named).

use super::{no_blank_reason, none_blank, try_all};
use serde_json::{Value, json};

/// Each item once; "a yes needs words and a decision".
#[test]
fn a_screen_has_each_answer_once_and_a_yes_in_words() {
    try_all(
        "screen",
        &[
            (json!({ "/answers": [] }), &["answers-missing"]),
            (json!({ "/answers/0/words": null }), &["yes-needs-words"]),
            (json!({ "/answers/0/words": " " }), &["yes-needs-words"]),
            (json!({ "/answers/0/decision": null }), &["yes-needs-words"]),
            (json!({ "/answers/2/answer": "yes" }), &["yes-needs-words"]),
            (json!({ "/answers/2/answer": "not-asked" }), &[]),
            (json!({ "/answers/3/item": "recent-infection" }), &["item-twice"]),
        ],
    );
    try_all(
        "change",
        &[
            (json!({ "/happened_on": "@today" }), &[]),
            (json!({ "/happened_on": "@today+1" }), &["in-future"]),
            (json!({ "/happened_on": null }), &[]),
        ],
    );
}

/// Pain 0 to 10, strength 0 to 5 and reflexes 0 to 4 are whole numbers; millimetres and degrees need not be.
#[test]
fn what_is_counted_in_steps_is_a_whole_number() {
    let one = |kind: &str, value: Value| json!({ "/measures": [{ "kind": kind, "value": value, "unit": "grade" }] });
    for kind in ["pain-now", "pain-worst", "pain-best", "strength", "reflex"] {
        try_all("measure", &[(one(kind, json!(3)), &[]), (one(kind, json!(3.5)), &["value-not-whole"])]);
    }
    try_all(
        "measure",
        &[(one("jaw-protrusion", json!(3.5)), &[]), (json!({ "/measures": [] }), &["measures-missing"])],
    );
    try_all("visit", &[(json!({ "/measures/0/measured/value": 4.5 }), &["value-not-whole"])]);
    let found = |value: Value| json!({ "/findings/1/measured": { "kind": "pain-now", "value": value, "unit": "of-10" } });
    try_all("visit", &[(found(json!(4)), &[]), (found(json!(4.5)), &["value-not-whole"])]);
}

/// "Lateral movement L, R"; "deviation, deflection: no side given" is refused; rotation, side-bending and leg raise
/// are of "each side".
#[test]
fn what_is_measured_on_each_side_names_the_side() {
    let one = |kind: &str, side: Value| {
        let mut one = json!({ "kind": kind, "value": 4, "unit": "mm" });
        if !side.is_null() {
            one["side"] = side;
        }
        json!({ "/measures": [one] })
    };
    for kind in [
        "jaw-lateral",
        "jaw-deviation",
        "jaw-deflection",
        "neck-rotation",
        "neck-side-bending",
        "straight-leg-raise",
    ] {
        try_all(
            "measure",
            &[
                (one(kind, json!("left")), &[]),
                (one(kind, json!("right")), &[]),
                (one(kind, json!("both")), &["side-missing"]),
                (one(kind, Value::Null), &["side-missing"]),
            ],
        );
    }
    try_all("measure", &[(one("jaw-protrusion", Value::Null), &[])]);
}

/// "Pain-free > unassisted, or unassisted > assisted (allow 1 mm)" cannot be. The example: 29, 34, 36 mm.
#[test]
fn mouth_openings_rise_within_a_millimetre() {
    try_all(
        "measure",
        &[
            (json!({ "/measures/0/value": 34 }), &[]),
            (json!({ "/measures/0/value": 35 }), &[]),
            (json!({ "/measures/0/value": 35.5 }), &["opening-order"]),
            (json!({ "/measures/0/value": 60 }), &["opening-order"]),
            (json!({ "/measures/1/value": 37 }), &[]),
            (json!({ "/measures/1/value": 37.5 }), &["opening-order"]),
            // Of the same kind the last one counts.
            (
                json!({ "/measures/5": { "kind": "mouth-opening-pain-free", "value": 60, "unit": "mm" } }),
                &["opening-order"],
            ),
            // With nothing between them, the first and the last.
            (json!({ "/measures/0/value": 37.5, "/measures/1/kind": "jaw-protrusion" }), &["opening-order"]),
        ],
    );
    // Before and after are not compared: a visit may open the mouth, or close it.
    let lines = |phase: &str| {
        let line = |phase: &str, kind: &str, value: u32| json!({ "phase": phase, "measured": { "kind": kind, "value": value, "unit": "mm" } });
        json!({ "/measures": [line("before", "mouth-opening-unassisted", 40), line(phase, "mouth-opening-assisted", 36)] })
    };
    try_all("visit", &[(lines("after"), &[]), (lines("during"), &[]), (lines("before"), &["opening-order"])]);
}

#[test]
fn pain_is_stated_from_0_to_10() {
    for field in [
        "/complaints/0/pain_worst",
        "/procedures/0/response/pain_before",
        "/procedures/0/response/pain",
        "/checks/0/number",
    ] {
        try_all("visit", &[(json!({ field: 10 }), &[]), (json!({ field: 11 }), &["value-cannot-be"])]);
    }
    try_all(
        "visit",
        &[
            (json!({ "/complaints/0/pain_now": 11 }), &["value-cannot-be", "?pain-above-worst"]),
            (json!({ "/complaints/0/pain_now": 11, "/complaints/0/pain_worst": null }), &["value-cannot-be"]),
            (json!({ "/complaints/0/pain_now": 7 }), &[]),
            (json!({ "/complaints/0/pain_now": 8 }), &["?pain-above-worst"]),
            (json!({ "/complaints/0/pain_now": 10 }), &["?pain-above-worst"]),
            (json!({ "/complaints/0/pain_now": { "not_done_because": "not asked" } }), &[]),
        ],
    );
}

/// "Never midline: TMJ, SI joint, ribs, limbs, cheek and jaw muscles, scalenes, SCM. Midline allowed: spine, sternum,
/// sacrum, coccyx, tongue, floor of mouth, hyoid."
#[test]
fn a_finding_and_a_procedure_have_a_side_where_the_body_has_two() {
    let place = |region: &str, structure: Value, side: Value| {
        let mut finding = json!({ "no": 3, "region": region, "kind": "tone" });
        let mut procedure = json!({ "no": 2, "at": "2022-10-03T10:24:00-04:00", "technique": "soft-tissue", "region": region,
            "done_by": "IV", "response": { "word": "tolerated" } });
        for one in [&mut finding, &mut procedure] {
            for (name, value) in [("structure", &structure), ("side", &side)] {
                if !value.is_null() {
                    one[name] = value.clone();
                }
            }
        }
        [json!({ "/findings/2": finding }), json!({ "/procedures/1": procedure })]
    };
    let rows: [(&str, Value, Value, &[&str]); 18] = [
        ("spine", Value::Null, Value::Null, &[]),
        ("sternum", Value::Null, json!("midline"), &[]),
        ("coccyx", Value::Null, Value::Null, &[]),
        ("jaw-joint", Value::Null, Value::Null, &["side-missing"]),
        ("jaw-muscles", json!("masseter"), Value::Null, &["side-missing"]),
        ("jaw-muscles", json!("masseter"), json!("midline"), &["no-midline"]),
        ("sacroiliac", Value::Null, json!("midline"), &["no-midline"]),
        ("ribs", Value::Null, Value::Null, &["side-missing"]),
        ("knee", Value::Null, json!("both"), &[]),
        ("neck-front", Value::Null, Value::Null, &[]),
        ("neck-front", json!("hyoid"), json!("midline"), &[]),
        ("neck-front", json!("SCM"), Value::Null, &["side-missing"]),
        ("neck-front", json!("scalenes"), json!("midline"), &["no-midline"]),
        ("neck-front", json!("SCM"), json!("left"), &[]),
        ("neck-front", json!("sternocleidomastoid"), Value::Null, &["side-missing"]),
        ("lumbar", json!(" ql "), Value::Null, &["side-missing"]),
        ("lumbar", json!("paraspinals"), Value::Null, &[]),
        ("lumbar", json!("a band of fascia"), Value::Null, &[]),
    ];
    for (region, structure, side, expected) in rows {
        for changes in place(region, structure.clone(), side.clone()) {
            try_all("visit", &[(changes, expected)]);
        }
    }
    // Of the spine a joint with a side: the SI joint, a rib.
    let at = |segment: &str, side: Value| {
        let mut changes = json!({ "/findings/2/region": "spine", "/findings/2/segment": segment });
        changes["/findings/2/side"] = side;
        changes
    };
    try_all(
        "visit",
        &[
            (at("C5-C6", Value::Null), &[]),
            (at("SI", Value::Null), &["side-missing"]),
            (at("rib-4", Value::Null), &["side-missing"]),
            (at("rib-4", json!("midline")), &["no-midline"]),
            (
                json!({ "/procedures/1/segments": ["C5-C6", "rib-1"], "/procedures/1/side": null }),
                &["side-missing"],
            ),
        ],
    );
}

/// "Tenderness (grade 0-4), strength 0-5, reflex 0-4."
#[test]
fn a_grade_lies_on_its_scale() {
    let graded = |kind: &str, grade: u8| json!({ "/findings/1/kind": kind, "/findings/1/grade": grade });
    for (kind, most) in [("tenderness", 4), ("reflex", 4), ("strength", 5)] {
        try_all("visit", &[(graded(kind, most), &[]), (graded(kind, most + 1), &["value-cannot-be"])]);
    }
    try_all("visit", &[(graded("tone", 6), &[]), (graded("tone", 255), &[])]);
}

/// "No disc exists at C0-C1 and C1-C2 (23 discs C2-C3 ... L5-S1)", and none at the SI joint or a rib.
#[test]
fn a_disc_is_found_where_there_is_one() {
    let disc = |segment: Value| json!({ "/findings/2/kind": "disc", "/findings/2/region": "spine", "/findings/2/segment": segment });
    let named =
        |structure: &str| json!({ "/findings/2/structure": structure, "/findings/2/segment": "C1-C2" });
    try_all(
        "visit",
        &[
            (disc(json!("C0-C1")), &["no-disc-there"]),
            (disc(json!("C1-C2")), &["no-disc-there"]),
            (disc(json!("C2-C3")), &[]),
            (disc(json!("L5-S1")), &[]),
            (disc(json!("SI")), &["no-disc-there"]),
            (disc(json!("rib-12")), &["no-disc-there"]),
            (disc(Value::Null), &[]),
            (named("Disc"), &["no-disc-there"]),
            (named("facet joint"), &[]),
            (json!({ "/findings/2/segment": "C0-C1" }), &[]),
        ],
    );
}

/// 29 CFR 1910.1030(d)(3)(ix): gloves where a hand meets mucous membranes. What was worn, or why nobody knows.
#[test]
fn gloves_are_stated_inside_the_mouth() {
    let inside = |more: Value| {
        let mut all = json!({ "/procedures/0/region": "inside-cheek", "/procedures/0/structure": null });
        all.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
        all
    };
    let worn = json!({ "/procedures/0/gloves": { "material": "nitrile", "fresh_pair": true } });
    try_all(
        "visit",
        &[
            (inside(json!({})), &["glove-missing"]),
            (json!({ "/procedures/0/technique": "intraoral" }), &["glove-missing"]),
            (inside(worn), &[]),
            (inside(json!({ "/procedures/0/gloves_not_recorded_because": "nobody remembers which" })), &[]),
            (inside(json!({ "/procedures/0/gloves_not_recorded_because": " " })), &["glove-missing"]),
        ],
    );
}

/// "A soft-tissue span may cover non-adjacent levels; a thrust or joint mobilisation may not."
#[test]
fn a_procedure_has_a_place_a_time_and_a_hand() {
    let span = |technique: &str| json!({ "/procedures/1/technique": technique, "/procedures/1/span": { "from": "C3", "to": "C5" } });
    try_all(
        "visit",
        &[
            (span("soft-tissue"), &[]),
            (span("mobilization"), &["span-not-for-joints"]),
            (span("thrust"), &["span-not-for-joints"]),
            (json!({ "/procedures/1/technique": "thrust" }), &[]),
            (json!({ "/procedures/0/at": "@written" }), &[]),
            (json!({ "/procedures/0/at": "@written+1" }), &["in-future"]),
            (json!({ "/procedures/0/stopped_at": "2022-10-03T10:16:00-04:00" }), &[]),
            (json!({ "/procedures/0/stopped_at": "2022-10-03T10:15:00-04:00" }), &[]),
            (json!({ "/procedures/0/stopped_at": "2022-10-03T10:14:59-04:00" }), &["dates-order"]),
        ],
    );
}

#[test]
fn the_lines_of_a_note_point_at_its_procedures() {
    let adverse = |procedures: Value| json!({ "/adverse": [{ "what": "sore", "severity": "mild", "action": "rest", "outcome": "gone", "procedures": procedures }] });
    try_all(
        "visit",
        &[
            (json!({ "/practitioners": [] }), &["practitioner-missing"]),
            (adverse(json!([1, 2])), &[]),
            (adverse(json!([])), &[]),
            (adverse(json!([1, 3])), &["no-such-procedure"]),
            (json!({ "/codes/0/for_procedures": [2] }), &[]),
            (json!({ "/codes/0/for_procedures": [2, 3] }), &["no-such-procedure"]),
            // The code meant the second one, which has no number of its own any more.
            (json!({ "/procedures/1/no": 1 }), &["no-such-procedure", "number-twice"]),
            (json!({ "/procedures/1/no": 1, "/codes/0/for_procedures": [1] }), &["number-twice"]),
        ],
    );
}

#[test]
fn a_reaction_is_looked_at_again_after_it_began() {
    try_all(
        "reaction",
        &[
            (json!({ "/onset_at": "@written", "/follow_up_due": null }), &[]),
            (json!({ "/onset_at": "@written+1", "/follow_up_due": null }), &["in-future"]),
            (json!({ "/follow_up_due": "2023-10-02" }), &[]),
            (json!({ "/follow_up_due": "2023-10-01" }), &["dates-order"]),
        ],
    );
    try_all(
        "reaction-rechecked",
        &[
            (json!({ "/follow_up_due": "2023-10-04" }), &[]),
            (json!({ "/follow_up_due": "2023-10-03" }), &["dates-order"]),
        ],
    );
}

#[test]
fn what_was_seen_and_done_is_said_in_words() {
    none_blank(&[
        ("screen", &["/screen"]),
        ("screen-item-closed", &["/words"]),
        ("change", &["/words"]),
        ("written-reason", &["/words"]),
        ("reaction", &["/what"]),
        ("reaction-rechecked", &["/words"]),
        ("reaction-closed", &["/outcome"]),
        ("visit", &["/procedures/0/done_by"]),
    ]);
    for field in
        ["/changed_since_last", "/findings", "/assessment", "/advice", "/plan", "/procedures/0/response"]
    {
        no_blank_reason(&[("visit", field)]);
    }
    for (list, name, other) in [("/not_done", "because", "item"), ("/answered", "answer", "item")] {
        let row = |one: &str, two: &str| json!({ list: [{ other: one, name: two }] });
        try_all(
            "visit",
            &[
                (row("advice", "next time"), &[]),
                (row(" ", "next time"), &["blank"]),
                (row("advice", ""), &["blank"]),
            ],
        );
    }
}

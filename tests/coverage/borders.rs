//! The rules at their borders: at the value, one below, one above; in the minute asked about and after it
//! (sections 2 to 5 of the coverage rules). Asked about is 11 March 2025, 10:00.

use super::{asked, clock, has, nothing, put, rows, set, text, thrust};

/// Work inside the mouth, left, with gloves.
fn mouth() -> Vec<String> {
    vec![
        set("/request/technique", &text("intraoral")),
        set("/request/region", &text("mouth")),
        set("/request/side", &text("left")),
        set("/request/glove_material", &text("nitrile")),
    ]
}

fn reaction(onset: &str, number: u32, technique: &str, region: &str, closed: &str) -> String {
    put(
        "/chart/reactions/-",
        &format!(
            r#"{{"reaction_id":"rea-1","sequence_no":{number},"onset_at":"{onset}","technique":"{technique}",
            "region":"{region}","severity":"mild","closed_at":{closed}}}"#
        ),
    )
}

fn pause(at: &str, number: u32, resumed: &str) -> String {
    let value =
        format!(r#"{{"at":"{at}","sequence_no":{number},"kind":"pause","resumed_yes_at":{resumed}}}"#);
    put("/chart/visits/0/pauses/-", &value)
}

/// Section 2: later is a later minute, or the same minute and a higher number; what restricts counts in the
/// minute asked about, whatever its seconds and number.
#[test]
fn what_came_after_goes_by_minute_and_number() {
    // The neck screen of 09:45 has number 42.
    let change = |at: &str, number: u32| {
        let value = format!(
            r#"{{"change_id":"chg-1","sequence_no":{number},"kind":"trauma","happened_on":null,"noted_at":"{}"}}"#,
            clock(at)
        );
        put("/chart/changes/-", &value)
    };
    rows(
        "A",
        &[thrust()],
        "H7",
        &[
            (change("09:44:59", 99), false),
            (change("09:45:00", 41), false),
            (change("09:45:59", 42), false),
            (change("09:45:00", 43), true),
            (change("10:00:59", 1), true),
            (change("10:01:00", 99), false),
        ],
    );
    // The yes to thrust of 09:55 has number 45; it lapses with any reaction since.
    let since = |at: &str, number| reaction(&clock(at), number, "taping", "hand", "null");
    rows(
        "A",
        &[thrust()],
        "G2",
        &[
            (since("09:55:00", 44), false),
            (since("09:55:59", 45), false),
            (since("09:55:00", 46), true),
            (since("10:00:59", 1), true),
            (since("10:01:00", 99), false),
        ],
    );
    rows(
        "A",
        &[thrust()],
        "F3",
        &[
            (pause(&clock("09:55:59"), 44, "null"), false),
            (pause(&clock("09:55:00"), 45, "null"), true),
            (pause(&clock("09:55:00"), 46, "null"), true),
            (pause(&clock("10:00:59"), 1, "null"), true),
            (pause(&clock("10:01:00"), 99, "null"), false),
        ],
    );
    // A resumption is enough where no asking is needed, from its minute on.
    let resumed = |at: &str| pause(&clock("09:50:00"), 44, &text(&clock(at)));
    rows("A", &[], "F3", &[(resumed("10:00:59"), false), (resumed("10:01:00"), true)]);
    rows(
        "A",
        &[thrust(), set("/request/practitioner_id", &text("P2"))],
        "F3",
        &[(pause(&clock("09:50:00"), 44, "null"), true)],
    );
    let yes = asked(&clock("09:58:00"), 60, "right", "yes", "null");
    let no = |number| asked(&clock("09:58:30"), number, "right", "no", "null");
    rows("A", &[yes], "G3", &[(no(59), false), (no(60), true), (no(61), true)]);
}

/// Section 2: an end that lifts a restriction counts from its minute on, like the restriction itself.
#[test]
fn what_holds_and_ends_does_so_by_the_minute() {
    let span = |path: &str, value: &str, from: &str, until: &str| {
        let until = if until.is_empty() { "null".to_owned() } else { text(&clock(until)) };
        put(path, &value.replace("FROM", &clock(from)).replace("\"UNTIL\"", &until))
    };
    let hold = r#"{"hold_id":"h-1","placed_at":"FROM","lifted_at":"UNTIL"}"#;
    let doubt = r#"{"sequence_no":99,"raised_at":"FROM","resolved_at":"UNTIL"}"#;
    let emergency = r#"{"declared_at":"FROM","ended_at":"UNTIL"}"#;
    for (path, value, id) in [
        ("/chart/holds/-", hold, "legal-hold"),
        ("/chart/capacity_doubts/-", doubt, "C4"),
        ("/chart/emergency", emergency, "emergency-declared"),
    ] {
        for (from, until, is) in [
            ("10:00:59", "", true),
            ("10:01:00", "", false),
            ("09:00:00", "10:00:59", false),
            ("09:00:00", "10:01:00", true),
        ] {
            rows("A", &[], id, &[(span(path, value, from, until), is)]);
        }
    }
    let open = |from: &str, closed: &str| reaction(&clock(from), 99, "soft-tissue", "neck-back", closed);
    let other = |technique: &str, region: &str| reaction(&clock("09:00:00"), 30, technique, region, "null");
    rows(
        "A",
        &[],
        "H6",
        &[
            (open("10:00:59", "null"), true),
            (open("10:01:00", "null"), false),
            (open("09:00:00", &text(&clock("10:00:59"))), false),
            (open("09:00:00", &text(&clock("10:01:00"))), true),
            (other("thrust", "cervical"), false),
            (other("soft-tissue", "lumbar"), false),
            (other("soft-tissue", "spine"), true),
        ],
    );
    let state = |status: &str, since: &str| {
        set("/chart/state", &format!(r#"{{"status":"{status}","since":"{}"}}"#, clock(since)))
    };
    rows(
        "A",
        &[],
        "A1",
        &[
            (state("deceased", "10:00:59"), true),
            (state("deceased", "10:01:00"), false),
            (state("open", "09:00:00"), false),
        ],
    );
    // A clock that reads what the last entry says is not behind it; here every second counts.
    let reads = |time: &str| set("/chart/clock/reads_at", &text(&clock(time)));
    rows("A", &[], "J1", &[(reads("09:56:00"), false), (reads("09:55:59"), true)]);
}

/// B1 and H3: a first and a last day belong to what they bound.
#[test]
fn first_and_last_days_are_whole_days() {
    let day = |path: &str, day: &str| set(path, &text(day));
    let (from, last) = ("/roster/0/on_roster_from", "/roster/0/on_roster_last_day");
    rows(
        "A",
        &[],
        "B1",
        &[
            (day(from, "2025-03-11"), false),
            (day(from, "2025-03-12"), true),
            (day(last, "2025-03-11"), false),
            (day(last, "2025-03-10"), true),
            (day("/roster/0/license_last_day", "2025-03-11"), false),
            (day("/roster/0/license_last_day", "2025-03-10"), true),
        ],
    );
    let alert = |kind: &str, from: &str, until: &str, region: &str| {
        let value = format!(
            r#"{{"alert_id":"alert-1","kind":"{kind}","from":"{from}","until":{until},"region":{region}}}"#
        );
        put("/chart/alerts/-", &value)
    };
    let osteoporosis = |from: &str, until: &str| alert("osteoporosis", from, until, "null");
    let at = |region: &str| alert("osteoporosis", "2025-01-01", "null", &text(region));
    let bars = [
        (osteoporosis("2025-03-11", "null"), true),
        (osteoporosis("2025-03-12", "null"), false),
        (osteoporosis("2025-01-01", r#""2025-03-11""#), true),
        (osteoporosis("2025-01-01", r#""2025-03-10""#), false),
        (at("neck-back"), true),
        (at("spine"), true),
        (at("hand"), false),
        (alert("never-listed", "2025-01-01", "null", "null"), false),
    ];
    rows("A", &[thrust()], "H3", &bars);
    // The bar is for thrust alone, and of the neck where its own regions say so.
    rows("A", &[], "H3", &[(osteoporosis("2025-01-01", "null"), false)]);
    let artery = alert("prior-artery-dissection-or-stroke", "2025-01-01", "null", &text("hand"));
    rows("A", &[thrust()], "H3", &[(artery.clone(), true)]);
    rows("A", &[thrust(), set("/request/region", &text("thoracic"))], "H3", &[(artery, false)]);
    // Only words about this alert, written in the visit by now, let a relative bar pass.
    let reason = |alert: &str, at: &str, words: &str| {
        let value =
            format!(r#"{{"alert_id":"{alert}","at":"{}","sequence_no":60,"words":"{words}"}}"#, clock(at));
        put("/chart/visits/0/written_reasons/-", &value)
    };
    rows(
        "A",
        &[thrust(), osteoporosis("2025-01-01", "null")],
        "H3",
        &[
            (reason("alert-1", "09:58:00", "light force"), false),
            (reason("alert-1", "09:58:00", " "), true),
            (reason("alert-2", "09:58:00", "light force"), true),
            (reason("alert-1", "10:01:00", "light force"), true),
        ],
    );
}

/// H4 and H5: gloves, products, latex and the mouth.
#[test]
fn gloves_products_and_the_mouth() {
    let known = |substances: &str| set("/chart/allergy_review/substances", substances);
    let glove = || set("/request/glove_material", &text("nitrile"));
    let oil = || set("/request/products", r#"["almond-oil"]"#);
    for (latex, is) in [(r#"{"latex":"unknown"}"#, true), ("{}", true), (r#"{"latex":"allergic"}"#, false)] {
        rows("A", &[glove()], "H4", &[(known(latex), is)]);
        rows("A", &mouth(), "H4", &[(known(latex), is)]);
        rows("A", &[], "H4", &[(known(latex), false)]);
        rows("A", &[oil()], "H4", &[(known(latex), false)]);
    }
    let oil_known = |status: &str| known(&format!(r#"{{"latex":"not-allergic","almond-oil":"{status}"}}"#));
    rows("A", &[oil()], "H4", &[(oil_known("allergic"), true), (oil_known("unknown"), false)]);
    let not_oil = set("/request/products", r#"["beeswax"]"#);
    rows("A", std::slice::from_ref(&not_oil), "H4", &[(oil_known("allergic"), false)]);
    // What the patient is allergic to is shown where gloves, products or the mouth come in, and else not.
    for (common, is) in [(vec![glove()], true), (vec![not_oil], true), (mouth(), true), (vec![], false)] {
        rows(
            "A",
            &common,
            "allergy-on-file",
            &[(oil_known("allergic"), is), (oil_known("not-allergic"), false)],
        );
    }
    let no_glove = [mouth(), vec![set("/request/glove_material", "null")]].concat();
    rows("A", &no_glove, "allergy-on-file", &[(oil_known("allergic"), true)]);
    rows("A", &[], "H5", &[(set("/chart/visits/0/measures", "[]"), false)]);
    let measured = |kind: &str, at: &str, number: u32, mm: &str| {
        let value =
            format!(r#"{{"kind":"{kind}","value_mm":{mm},"at":"{}","sequence_no":{number}}}"#, clock(at));
        put("/chart/visits/0/measures/-", &value)
    };
    rows(
        "A",
        &mouth(),
        "H5",
        &[
            (measured("mouth-opening", "09:50:00", 48, "20"), false),
            (measured("mouth-opening", "09:50:00", 48, "19.9"), true),
            (measured("lateral-left", "09:50:00", 48, "8"), false),
            (measured("mouth-opening", "10:01:00", 48, "8"), false),
            (measured("mouth-opening", "09:46:59", 99, "8"), false),
            (measured("mouth-opening", "09:47:00", 43, "8"), false),
            (set("/chart/visits/0/measures/0/kind", &text("lateral-left")), true),
            (set("/chart/visits/0/measures/0/at", &text(&clock("10:01:00"))), true),
        ],
    );
}

/// H1 and H2: the latest screen of the kind decides, a positive item stays open until it is closed.
#[test]
fn screens_and_flags() {
    let item = |item: &str, value: &str| set(&format!("/chart/visits/0/screens/0/answers/{item}"), value);
    let yes = |words: &str, decision: &str, closed: &str| {
        item(
            "dizziness",
            &format!(r#"{{"answer":"yes","words":{words},"decision":{decision},"closed_at":{closed}}}"#),
        )
    };
    let open = yes("null", "null", "null");
    rows(
        "A",
        &[],
        "H2",
        &[
            (open.clone(), true),
            (yes(r#""known for years""#, r#""proceed""#, "null"), false),
            (yes("null", r#""proceed""#, "null"), true),
            (yes(r#""sent to the hospital""#, r#""refer""#, "null"), true),
            (yes("null", "null", &text(&clock("10:00:59"))), false),
            (yes("null", "null", &text(&clock("10:01:00"))), true),
            (
                item("anticoagulant", r#"{"answer":"yes","words":null,"decision":null,"closed_at":null}"#),
                false,
            ),
            (item("dizziness", r#"{"answer":"no","words":null,"decision":null,"closed_at":null}"#), false),
        ],
    );
    let done = |at: &str| vec![open.clone(), set("/chart/visits/0/screens/0/done_at", &text(&clock(at)))];
    assert!(has("A", &done("10:00:59"), "H2") && !has("A", &done("10:01:00"), "H2"));
    assert!(!has("A", &done("10:01:00"), "open-red-flag"));
    let examination = vec![open.clone(), set("/request/technique", &text("examination"))];
    assert!(has("A", &examination, "open-red-flag") && !has("A", &examination, "H2"));
    let thoracic = vec![open, set("/request/region", &text("thoracic"))];
    assert!(has("A", &thoracic, "open-red-flag") && !has("A", &thoracic, "H2"));
    rows(
        "A",
        &[thrust()],
        "H1",
        &[
            (set("/chart/visits/0/screens/0/screen", &text("general")), true),
            (set("/chart/visits/0/screens/0/done_at", &text(&clock("10:01:00"))), true),
            (
                item("dizziness", r#"{"answer":"not-asked","words":null,"decision":null,"closed_at":null}"#),
                true,
            ),
            (nothing(), false),
        ],
    );
    // No screen is needed for soft tissue on the neck.
    rows("A", &[], "H1", &[(set("/chart/visits/0/screens", "[]"), false)]);
}

/// I1: who or what meets a condition is recorded for this kind, with one of its values, and runs at now.
#[test]
fn a_condition_is_met_while_it_runs() {
    let wanted = |kind: &str, values: &str| {
        set(
            "/chart/consents/0/conditions",
            &format!(r#"[{{"kind":"{kind}","values":{values},"words":null}}]"#),
        )
    };
    let met = |kind: &str, value: &str, from: &str, until: &str| {
        let until = if until.is_empty() { "null".to_owned() } else { text(&clock(until)) };
        let value = format!(
            r#"{{"kind":"{kind}","value":{value},"from":"{}","until":{until},"sequence_no":60}}"#,
            clock(from)
        );
        put("/chart/visits/0/conditions_met/-", &value)
    };
    let chaperone = "chaperone-present";
    rows(
        "A",
        &[wanted(chaperone, "[]")],
        "I1",
        &[
            (met(chaperone, "null", "09:58:00", ""), false),
            (met(chaperone, "null", "10:00:59", ""), false),
            (met(chaperone, "null", "10:01:00", ""), true),
            (met(chaperone, "null", "09:50:00", "10:00:59"), true),
            (met(chaperone, "null", "09:50:00", "10:01:00"), false),
            (met("guardian-in-building", "null", "09:58:00", ""), true),
        ],
    );
    rows(
        "A",
        &[wanted(chaperone, r#"["mother","sister"]"#)],
        "I1",
        &[
            (met(chaperone, r#""sister""#, "09:58:00", ""), false),
            (met(chaperone, r#""receptionist""#, "09:58:00", ""), true),
            (met(chaperone, "null", "09:58:00", ""), true),
        ],
    );
    let position = |position: &str| set("/request/position", position);
    rows(
        "A",
        &[wanted("not-face-down", "[]")],
        "I1",
        &[(position(r#""face-down""#), true), (position(r#""seated""#), false), (position("null"), true)],
    );
    // What is only read aloud is no condition to be met.
    assert!(has("A", &[wanted("read-aloud", "[]")], "read-aloud-condition"));
    assert!(
        !has("A", &[wanted("read-aloud", "[]")], "I2") && !has("A", &[nothing()], "read-aloud-condition")
    );
}

/// Section 5: what a yes of today is a yes to; and where it may stand in for a consent.
#[test]
fn a_yes_is_to_what_was_asked() {
    let first = |field: &str, value: &str| set(&format!("/chart/visits/0/asked/0/{field}"), value);
    let request = |segments: &str| set("/request/segments", segments);
    let c2 = r#"["C2-C3"]"#;
    rows(
        "A",
        &[thrust(), first("segments", c2)],
        "G1",
        &[
            (request("[]"), true),
            (request(c2), false),
            (request(r#"["C3-C4"]"#), true),
            (request(r#"["C2-C3","C3-C4"]"#), true),
        ],
    );
    rows(
        "A",
        &[thrust()],
        "G1",
        &[
            (nothing(), false),
            (request(c2), false),
            (first("technique", &text("mobilization")), true),
            (first("region", &text("neck-back")), true),
            (first("region", &text("spine")), false),
            (first("side", &text("left")), true),
            (first("side", &text("both")), false),
            (first("answer", &text("no")), true),
            (first("answer", &text("yes-with-limit")), false),
            (first("at", &text(&clock("10:01:00"))), true),
            (first("asked_by", &text("P2")), false),
        ],
    );
    // A limit is that of the yes relied on: the latest that has not lapsed.
    let yes = |at: &str, number, answer: &str, limit: &str| asked(&clock(at), number, "right", answer, limit);
    let plain = yes("09:58:00", 62, "yes", "null");
    rows(
        "A",
        &[],
        "asked-with-limit",
        &[(yes("09:57:00", 61, "yes", r#""gently""#), true), (plain.clone(), false)],
    );
    rows(
        "A",
        &[plain],
        "asked-with-limit",
        &[
            (yes("09:57:00", 61, "yes-with-limit", "null"), false),
            (yes("09:59:00", 63, "yes-with-limit", "null"), true),
        ],
    );
    // In place of a consent, where the rules let it: later than every pause, and of an adult who decides alone.
    let enough = || set("/rules/same_visit_yes_is_enough_for", r#"["soft-tissue","mobilization"]"#);
    let none = || set("/chart/consents", "[]");
    let in_place = [enough(), none(), yes("09:58:00", 60, "yes", "null")];
    rows(
        "A",
        &in_place,
        "D0",
        &[
            (nothing(), false),
            (pause(&clock("09:58:59"), 59, "null"), false),
            (pause(&clock("09:58:00"), 60, "null"), true),
            (pause(&clock("09:58:00"), 61, "null"), true),
            (pause(&clock("10:01:00"), 62, "null"), false),
            (set("/rules/same_visit_yes_is_enough_for", r#"["mobilization"]"#), true),
            (set("/rules/written_consent_techniques", r#"["soft-tissue"]"#), true),
            (set("/chart/patient/interpreter_language", &text("pt")), true),
            (set("/chart/patient/birth_date", &text("2007-03-12")), true),
            (set("/chart/patient/birth_date", &text("2007-03-11")), false),
            (set("/chart/patient/lacks_capacity_from", &text("2025-01-01T09:00:00-05:00")), true),
            (set("/request/practitioner_id", &text("P2")), true),
        ],
    );
}

/// G3: a no of this visit or this date, to this technique, where and on the side that was asked, until a later yes.
#[test]
fn a_no_is_to_what_was_asked() {
    let no = |technique: &str, region: &str, side: &str, at: &str| {
        asked(at, 60, side, "no", "null")
            .replace(r#""technique":"soft-tissue""#, &format!(r#""technique":"{technique}""#))
            .replace(r#""region":"cervical""#, &format!(r#""region":"{region}""#))
    };
    let ten = clock("09:58:00");
    let cases = [
        (no("soft-tissue", "cervical", "right", &ten), true),
        (no("soft-tissue", "neck-back", "both", &ten), true),
        (no("soft-tissue", "spine", "right", &ten), true),
        (no("thrust", "cervical", "right", &ten), false),
        (no("soft-tissue", "lumbar", "right", &ten), false),
        (no("soft-tissue", "cervical", "left", &ten), false),
        (no("soft-tissue", "cervical", "right", "2025-03-10T23:59:00-04:00"), true),
        (no("soft-tissue", "cervical", "right", &clock("10:00:59")), true),
        (no("soft-tissue", "cervical", "right", &clock("10:01:00")), false),
    ];
    rows("A", &[], "G3", &cases);
    let refused = no("soft-tissue", "cervical", "right", &ten);
    let yes = |at: &str, side: &str| asked(&clock(at), 61, side, "yes", "null");
    rows(
        "A",
        &[refused],
        "G3",
        &[
            (yes("09:59:00", "right"), false),
            (yes("09:57:00", "right"), true),
            (yes("10:01:00", "right"), true),
            (yes("09:59:00", "left"), true),
            (yes("09:59:00", "right").replace("soft-tissue", "mobilization"), true),
        ],
    );
}

//! What was agreed, at its borders: who gave it, when, and what it reaches (rules C and D of the coverage rules).
//! Asked about is 11 March 2025, 10:00.

use super::{answered, clock, consent_like, facts, has, nothing, put, rows, set, text, withdrawal};

/// D1, D7, D10 and what is said of the consent that governs.
#[test]
fn what_a_consent_says_of_itself() {
    // 24 hours in the rules: an entry of just 24 hours later is not late.
    let written = |at: &str| set("/chart/consents/0/written_at", &text(at));
    rows(
        "A",
        &[],
        "consent-written-late",
        &[
            (written("2025-01-15T09:20:00-05:00"), false),
            (written("2025-01-15T09:20:01-05:00"), true),
            (written("2025-01-14T09:20:00-05:00"), false),
        ],
    );
    let interpreter = |language: &str| {
        set("/chart/consents/0/interpreter", &format!(r#"{{"name_or_number":"7","language":"{language}"}}"#))
    };
    let needs = set("/chart/patient/interpreter_language", &text("pt"));
    rows(
        "A",
        &[needs],
        "D10",
        &[(interpreter("pt"), false), (interpreter("PT"), false), (interpreter("es"), true)],
    );
    rows("A", &[], "D10", &[(interpreter("es"), false)]);
    let correction = |consent: &str, field: &str, is: &str, at: &str| {
        put(
            "/chart/corrections/-",
            &format!(
                r#"{{"correction_id":"cor-1","sequence_no":60,"consent_id":"{consent}","written_at":"{}","field":"{field}",
                "was":null,"is":{is}}}"#,
                clock(at)
            ),
        )
    };
    for (field, is, rule) in [
        ("valid_until", r#""2025-03-10""#, "D3"),
        ("side", r#""left""#, "D6"),
        ("techniques", r#"["thrust"]"#, "D4"),
        ("regions", r#"["lumbar"]"#, "D5"),
        ("excluded_regions", r#"["neck-back"]"#, "D5"),
    ] {
        rows(
            "A",
            &[],
            rule,
            &[
                (correction("con-a1", field, is, "09:30:00"), true),
                (correction("con-a2", field, is, "09:30:00"), false),
                (correction("con-a1", field, is, "10:01:00"), false),
            ],
        );
    }
    let since = "answered-on-a-consent-since-corrected";
    let side = r#""right""#;
    rows(
        "A",
        &[],
        since,
        &[
            (correction("con-a1", "side", side, "10:01:00"), true),
            (correction("con-a1", "side", side, "09:30:00"), false),
        ],
    );
    let nothing_left_out = correction("con-a1", "excluded_regions", "[]", "09:30:00");
    let left_out = set("/chart/consents/0/excluded_regions", r#"["neck-back"]"#);
    rows("A", &[left_out], "D5", &[(nothing_left_out, false), (nothing(), true)]);
    let forever = correction("con-a1", "valid_until", "null", "09:30:00");
    let over = set("/chart/consents/0/valid_until", r#""2025-03-10""#);
    rows("A", &[over], "D3", &[(forever, false), (nothing(), true)]);
}

/// D7: the bounds are allowed; where no segment is named, all of the region's must lie inside.
#[test]
fn segments_within_their_limits() {
    let limit = |highest: &str, lowest: &str| {
        let value =
            format!(r#"[{{"techniques":null,"highest_segment":{highest},"lowest_segment":{lowest}}}]"#);
        set("/chart/consents/0/segment_limits", &value)
    };
    let named = |segment: &str| set("/request/segments", &format!("[\"{segment}\"]"));
    let thoracic = set("/request/region", &text("thoracic"));
    let within = [thoracic.clone(), limit(r#""T3-T4""#, r#""T8-T9""#)];
    rows(
        "A",
        &within,
        "D7",
        &[
            (named("T3-T4"), false),
            (named("T8-T9"), false),
            (named("T2-T3"), true),
            (named("T9-T10"), true),
            (nothing(), true),
        ],
    );
    // C7-T1 to T12-L1 is all of the thoracic region: nothing need be named.
    rows(
        "A",
        &[thoracic],
        "D7",
        &[
            (limit(r#""C7-T1""#, r#""T12-L1""#), false),
            (limit(r#""T1-T2""#, r#""T12-L1""#), true),
            (limit(r#""C7-T1""#, r#""T11-T12""#), true),
            (limit("null", "null"), false),
        ],
    );
}

/// C1, C2 and C5: who gave it, then and now.
#[test]
fn who_decided_then_and_now() {
    let maker = |field: &str, value: &str| set(&format!("/chart/decision_makers/0/{field}"), value);
    rows(
        "B",
        &[],
        "C1",
        &[
            (maker("authority_on_file", "false"), true),
            (maker("may_consent", "false"), true),
            (maker("basis", r#""none""#), true),
            (maker("basis", r#""power-for-health-care""#), true),
            (maker("basis", r#""court-order""#), false),
        ],
    );
    rows(
        "G",
        &[],
        "C1",
        &[(maker("basis", r#""parent""#), true), (maker("basis", r#""court-order""#), false)],
    );
    // Her own consent does not hang on somebody's authority, even where a person is named beside it.
    let ended = r#"{"person_id":"dm-1","basis":"power-for-health-care","authority_on_file":true,"may_consent":true,
        "authority_starts_at":"2020-01-01T00:00:00-05:00","authority_last_day":"2021-01-01","superseded_at":null}"#;
    let listed = put("/chart/decision_makers/-", ended);
    rows("A", &[listed], "C5", &[(set("/chart/consents/0/given_by/person_id", &text("dm-1")), false)]);
    // Capacity lost and regained; lost after now; lost until after now.
    let capacity = |from: &str, until: &str| {
        vec![
            set("/chart/patient/lacks_capacity_from", from),
            set("/chart/patient/lacks_capacity_until", until),
        ]
    };
    let january = r#""2025-01-20T09:00:00-05:00""#;
    let minute = |time: &str| text(&clock(time));
    assert!(!has("A", &capacity(january, &minute("10:00:59")), "C1"));
    assert!(has("A", &capacity(january, &minute("10:01:00")), "C1"));
    assert!(has("A", &capacity(&minute("10:00:59"), "null"), "C1"));
    assert!(!has("A", &capacity(&minute("10:01:00"), "null"), "C1"));
    // A mother gave it when he was a minor: C2 and not C1 from the birthday on; the day before it counts.
    assert!(has("C", &[nothing()], "C2") && !has("C", &[nothing()], "C1"));
    let born = set("/chart/patient/birth_date", r#""2007-03-12""#);
    assert!(!has("C", &[born], "C2"));
    // Two parents may be listed, and one person on two bases.
    let father = r#"{"person_id":"dm-b3","basis":"parent","authority_on_file":true,"may_consent":true,
        "authority_starts_at":"2010-11-20T00:00:00-05:00","authority_last_day":null,"superseded_at":null}"#;
    rows("B", &[], "C1", &[(put("/chart/decision_makers/-", father), false)]);
}

/// D11 (a): the conditions of a newer consent that only a withdrawal stops bind; of one at the same place or
/// before it they do not.
#[test]
fn a_newer_consent_that_was_stopped_still_binds() {
    let neck = withdrawal("2025-02-03T11:18:00-05:00", "null", r#"["cervical"]"#, "null");
    let consent = |number: u32, id: &str, regions: &str, conditions: &str| {
        consent_like(
            "A",
            &format!(
                r#"{{"consent_id":"{id}","sequence_no":{number},"given_at":"2025-03-01T09:00:00-05:00",
                "written_at":"2025-03-01T09:00:00-05:00","regions":{regions},"conditions":{conditions}}}"#
            ),
        )
    };
    let chaperone = r#"[{"kind":"chaperone-present","values":[],"words":null}]"#;
    let named = consent(91, "con-a3", r#"["cervical"]"#, "[]");
    let broad = |number| consent(number, "con-a4", r#"["spine"]"#, chaperone);
    rows(
        "A",
        &[neck.clone(), named.clone()],
        "I1",
        &[(broad(90), false), (broad(91), false), (broad(92), true)],
    );
    // One that fails something else besides does not bind.
    let elsewhere = consent(92, "con-a4", r#"["lumbar"]"#, chaperone);
    rows("A", &[neck, named], "I1", &[(elsewhere, false)]);
}

/// Each consent relied on is named once; left and right may each have their own.
#[test]
fn the_consents_relied_on_are_named_once() {
    let both = set("/request/side", &text("both"));
    let governing = |patch: &[String]| answered("A", patch).governing_consents;
    assert_eq!(governing(std::slice::from_ref(&both)), ["con-a1"]);
    let right = consent_like(
        "A",
        r#"{"consent_id":"con-a3","sequence_no":13,"side":"right","given_at":"2025-01-14T09:21:00-05:00"}"#,
    );
    assert_eq!(governing(&[both, right]), ["con-a1", "con-a3"]);
    assert_eq!(governing(&[set("/request/region", &text("lumbar"))]), Vec::<String>::new());
}

/// Nearest is the consent with the fewest failed tests; one that fails a test twice fails one.
#[test]
fn the_nearest_consent_fails_the_fewest_tests() {
    let stop = |id: &str, at: &str| withdrawal(at, "null", "null", "null").replace("wd-9", id);
    let twice = [stop("wd-8", "2025-02-03T11:18:00-05:00"), stop("wd-9", "2025-02-04T11:18:00-05:00")];
    // Newer than both withdrawals, for another side and over: two tests.
    let newer = consent_like(
        "A",
        r#"{"consent_id":"con-a3","sequence_no":91,"given_at":"2025-03-01T09:00:00-05:00","side":"left",
        "written_at":"2025-03-01T09:00:00-05:00","valid_from":"2025-03-01","valid_until":"2025-03-10"}"#,
    );
    let found = answered("A", &[twice.to_vec(), vec![newer]].concat());
    assert_eq!(found.nearest_consent.as_deref(), Some("con-a1"));
    let of_one = consent_like(
        "A",
        r#"{"consent_id":"con-a3","sequence_no":91,"given_at":"2025-03-01T09:00:00-05:00","side":"left",
        "written_at":"2025-03-01T09:00:00-05:00","valid_from":"2025-03-01","valid_until":"2025-09-01"}"#,
    );
    let found = answered("A", &[twice.to_vec(), vec![of_one]].concat());
    assert_eq!(found.nearest_consent.as_deref(), Some("con-a3"), "a tie: the newest");
}

/// What the document itself must keep to, at its borders (the schema of the facts).
#[test]
fn a_document_at_the_borders_of_its_schema() {
    let reads = |base: &str, change: &str| facts(base, &format!("[{change}]")).is_ok();
    let floor = |mm: &str| set("/rules/mouth_opening_floor_mm", mm);
    assert!(reads("A", &floor("0")) && reads("A", &floor("0.5")) && !reads("A", &floor("-0.5")));
    let ceiling = |name: &str| put(&format!("/rules/consent_ceiling_months/{name}"), "6");
    assert!(reads("A", &ceiling("thrust")) && !reads("A", &ceiling("massage")));
    let default = r#"{"op":"remove","path":"/rules/consent_ceiling_months/default"}"#;
    assert!(!reads("A", default));
    let who = |id: &str| set("/request/practitioner_id", &text(id));
    assert!(reads("A", &who("P-9")) && reads("A", &who("9")));
    for bad in ["-P9", "P_9", "P 9", "", "P\u{e9}"] {
        assert!(!reads("A", &who(bad)), "{bad}");
    }
    assert!(!reads("A", &set("/facts_version", "2")));
    let until =
        |base: &str| reads(base, &set("/chart/patient/lacks_capacity_until", r#""2025-02-01T00:00:00Z""#));
    assert!(!until("A") && until("G"));
}

/// F2 is reported where nothing covers and a withdrawal stops a consent given after it; one that does not count
/// yet is not looked at.
#[test]
fn a_consent_of_later_is_not_stopped_yet() {
    let neck = withdrawal("2025-02-03T11:18:00-05:00", "null", r#"["cervical"]"#, "null");
    let broad = |written: &str| {
        consent_like(
            "A",
            &format!(
                r#"{{"consent_id":"con-a3","sequence_no":91,"given_at":"2025-03-01T09:00:00-05:00","side":"left",
                "written_at":"{written}","regions":["spine"]}}"#
            ),
        )
    };
    let rule = |written: &str, id: &str| has("A", &[neck.clone(), broad(written)], id);
    assert!(rule("2025-03-01T09:00:00-05:00", "F1") && rule("2025-03-01T09:00:00-05:00", "F2"));
    assert!(rule(&clock("10:05:00"), "F1") && !rule(&clock("10:05:00"), "F2"));
}

//! What clauses of the rules say where the given cases do not try it.

use super::{asked, clause, consent_like, facts, put, set, withdrawal};
use inkfast::record::coverage::is_of_a_minor;

#[test]
fn what_was_withdrawn_comes_back_only_by_name() {
    let neck = withdrawal("2025-02-03T11:18:00-05:00", "null", r#"["cervical"]"#, "null");
    let later = |regions: &str, more: &str| {
        consent_like(
            "A",
            &format!(
                r#"{{"consent_id":"con-a3","sequence_no":91,"given_at":"2025-03-01T09:00:00-05:00",
                "written_at":"2025-03-01T09:00:00-05:00","valid_from":"2025-03-01","valid_until":null,"regions":{regions}{more}}}"#
            ),
        )
    };
    let suboccipital = set("/request/region", r#""suboccipital""#);
    let named = later(r#"["neck-back"]"#, "");
    clause("A", &[neck.clone(), named, suboccipital.clone()], ["yes", "yes"], &[], &["F1"]);
    let broad = later(r#"["spine"]"#, "");
    clause("A", &[neck.clone(), broad, suboccipital.clone()], ["no", "yes"], &["D0", "F1", "F2"], &[]);
    // Two regions withdrawn: both parts that share ground with the request must be named.
    let two = withdrawal("2025-02-03T11:18:00-05:00", "null", r#"["neck-back","neck-front"]"#, "null");
    let one_of_two = later(r#"["cervical","neck-back"]"#, "");
    clause("A", &[two.clone(), one_of_two], ["no", "yes"], &["F2"], &[]);
    let both = later(r#"["cervical","neck-back","neck-front"]"#, "");
    clause("A", &[two, both], ["yes", "yes"], &[], &[]);
    // A newer broad form that the withdrawal stops still binds by its condition (D11).
    let bound = later(
        r#"["spine"]"#,
        r#","consent_id":"con-a4","sequence_no":92,"conditions":[{"kind":"chaperone-present","values":[],"words":null}]"#,
    );
    let named = later(r#"["cervical"]"#, "");
    clause("A", &[neck, named, bound], ["ask-first", "yes"], &["I1"], &["D0", "F2"]);
    // The midline alone touches only the midline.
    let midline = withdrawal("2025-02-03T11:18:00-05:00", "null", "null", r#""midline""#);
    clause("A", std::slice::from_ref(&midline), ["yes", "yes"], &[], &["F1"]);
    clause("A", &[midline, set("/request/side", r#""midline""#)], ["no", "yes"], &["F1", "D0"], &[]);
}

/// Patient C is eighteen on the day of the question.
#[test]
fn a_patient_is_a_minor_until_the_birthday() {
    let is_minor = |born: &str| {
        let born = set("/chart/patient/birth_date", &format!("\"{born}\""));
        is_of_a_minor(&facts("C", &format!("[{born}]")).unwrap())
    };
    assert!(!is_minor("2007-03-11") && is_minor("2007-03-12"));
}

#[test]
fn who_gave_it_and_how() {
    // The same person on a new basis: the parent of a minor, later a power for health care.
    let power = r#"{"person_id":"dm-g1","basis":"court-order","authority_on_file":true,"may_consent":true,
        "authority_starts_at":"2022-05-01T00:00:00-04:00","authority_last_day":null,"superseded_at":null}"#;
    clause("G", &[put("/chart/decision_makers/-", power)], ["yes", "yes"], &[], &["C5"]);
    let parent = power.replace("court-order", "parent");
    clause("G", &[put("/chart/decision_makers/-", &parent)], ["no", "yes"], &["C5"], &["C1"]);
    let start = set("/chart/decision_makers/0/authority_starts_at", "null");
    clause("B", &[start], ["no", "yes"], &["C5", "D0"], &["C1"]);
    let unlisted = set("/chart/consents/0/given_by/person_id", r#""dm-z9""#);
    clause("B", &[unlisted], ["no", "yes"], &["C1", "D0"], &["C5"]);
    let spoken = set("/chart/consents/1/form", r#""verbal-recorded""#);
    let heard = set("/chart/consents/1/heard_by", r#""P1""#);
    let soft = put("/chart/consents/1/techniques/-", r#""soft-tissue""#);
    let mouth = [
        set("/request/region", r#""mouth""#),
        set("/request/side", r#""left""#),
        set("/request/glove_material", r#""nitrile""#),
    ];
    clause("A", &[vec![spoken, heard, soft], mouth.to_vec()].concat(), ["no", "yes"], &["D2", "G1"], &["D4"]);
    // A practitioner the roster does not know has no role.
    let role = set("/chart/consents/0/practitioners_allowed", r#"{"kind":"role","values":["chiropractor"]}"#);
    clause("A", &[role, set("/request/practitioner_id", r#""P9""#)], ["no", "no"], &["B1", "B3"], &["B2"]);
}

#[test]
fn corrections_hold_in_their_order_and_segments_within_every_limit() {
    let correction = |id: u32, at: &str, side: &str| {
        put(
            "/chart/corrections/-",
            &format!(
                r#"{{"correction_id":"cor-{id}","sequence_no":{id},"consent_id":"con-a1","written_at":"{at}",
                "field":"side","was":"both","is":"{side}"}}"#
            ),
        )
    };
    let (first, second) = ("2025-03-11T09:30:10-04:00", "2025-03-11T09:30:50-04:00");
    // Within one minute the number decides, whatever the seconds and the order of the list.
    let both = [correction(72, first, "both"), correction(71, second, "left")];
    clause("A", &both, ["yes", "yes"], &["consent-corrected"], &[]);
    let both = [correction(71, first, "both"), correction(72, second, "left")];
    clause("A", &both, ["no", "yes"], &["D6"], &["consent-corrected"]);
    let limits = r#"[{"techniques":null,"highest_segment":"C4-C5","lowest_segment":null},
        {"techniques":["soft-tissue"],"highest_segment":null,"lowest_segment":"C2-C3"}]"#;
    let limited = set("/chart/consents/0/segment_limits", limits);
    clause("A", std::slice::from_ref(&limited), ["no", "yes"], &["D7"], &[]);
    clause(
        "A",
        &[limited.clone(), set("/request/region", r#""shoulder-girdle""#)],
        ["yes", "yes"],
        &[],
        &["D7"],
    );
    let thoracic =
        [limited, set("/request/region", r#""thoracic""#), set("/request/segments", r#"["rib-3"]"#)];
    clause("A", &thoracic, ["no", "yes"], &["D7"], &[]);
}

#[test]
fn what_was_asked_today() {
    // A limit is shown, and a no is answered only by a later yes, in another visit of that date too.
    let limited = asked("2025-03-11T09:58:00-04:00", 60, "both", "yes-with-limit", r#""gently""#);
    clause("A", &[limited], ["yes", "yes"], &["asked-with-limit"], &[]);
    let no = |at: &str, side: &str| asked(at, 60, side, "no", "null");
    clause("A", &[no("2025-03-11T10:00:30-04:00", "both")], ["no", "yes"], &["G3"], &[]);
    clause("A", &[no("2025-03-11T10:01:00-04:00", "both")], ["yes", "yes"], &[], &["G3"]);
    clause("A", &[no("2025-03-11T09:58:00-04:00", "midline")], ["yes", "yes"], &[], &["G3"]);
    let midline = set("/request/side", r#""midline""#);
    clause("A", &[no("2025-03-11T09:58:00-04:00", "left"), midline], ["no", "yes"], &["G3"], &[]);
    let earlier = r#"{"visit_id":"visit-a0","sequence_no":20,"opened_at":"2025-03-11T04:00:00Z","closed_at":"2025-03-11T05:00:00Z",
        "identity_confirmed":null,"own_answers":[],"asked":[{"at":"AT","sequence_no":21,"technique":"soft-tissue","region":"neck-back",
        "side":"right","segments":["C2-C3"],"asked_by":"P2","answer":"no","limit_words":null}],"pauses":[],"screens":[],"measures":[],
        "conditions_met":[],"written_reasons":[]}"#;
    // 04:10 in UTC is the same date at the clinic, 03:50 the day before.
    let visit = |at: &str| put("/chart/visits/-", &earlier.replace("AT", at));
    clause("A", &[visit("2025-03-11T04:10:00Z")], ["no", "yes"], &["G3"], &[]);
    clause("A", &[visit("2025-03-11T03:50:00Z")], ["yes", "yes"], &[], &["G3"]);
    // A yes of today stands in for a consent only while nothing was withdrawn or refused.
    let base = [
        set("/rules/same_visit_yes_is_enough_for", r#"["soft-tissue"]"#),
        set("/chart/consents", "[]"),
        asked("2025-03-11T09:58:00-04:00", 60, "both", "yes", "null"),
        set("/request/side", r#""both""#),
    ];
    clause("A", &base, ["yes", "yes"], &[], &["D0"]);
    let left = withdrawal("2025-01-01T09:00:00-05:00", "null", "null", r#""left""#);
    clause("A", &[base.to_vec(), vec![left]].concat(), ["no", "yes"], &["D0", "F1", "E2"], &[]);
    let pause = r#"{"at":"2025-03-11T09:59:00-04:00","sequence_no":61,"kind":"pause","resumed_yes_at":"2025-03-11T09:59:30-04:00"}"#;
    clause(
        "A",
        &[base.to_vec(), vec![put("/chart/visits/0/pauses/-", pause)]].concat(),
        ["no", "yes"],
        &["D0"],
        &["F3"],
    );
    let interpreter = set("/chart/patient/interpreter_language", r#""pt""#);
    clause("A", &[base.to_vec(), vec![interpreter]].concat(), ["no", "yes"], &["D0"], &["D10"]);
}

#[test]
fn checks_and_conditions() {
    let flag = r#"{"answer":"yes","words":" ","decision":"proceed","closed_at":null}"#;
    let flagged = set("/chart/visits/0/screens/0/answers/dizziness", flag);
    clause("A", std::slice::from_ref(&flagged), ["yes", "no"], &["H2"], &["flag-answered"]);
    let no_regions = r#"{"op":"remove","path":"/rules/red_flag_governs/vascular"}"#.to_owned();
    let shoulder = set("/request/region", r#""shoulder-girdle""#);
    clause("A", &[flagged, no_regions, shoulder], ["yes", "no"], &["H2"], &[]);
    let general =
        put("/rules/screens_needed/-", r#"{"screen":"never-listed","techniques":null,"regions":null}"#);
    clause("A", &[general], ["yes", "ask-first"], &["H1"], &[]);
    let sex = r#"[{"kind":"practitioner-sex","values":["female"],"words":null}]"#;
    let conditions = set("/chart/consents/0/conditions", sex);
    clause("A", std::slice::from_ref(&conditions), ["yes", "yes"], &[], &[]);
    clause("A", &[conditions.clone(), set("/roster/0/sex", "null")], ["no", "yes"], &["I2"], &["I1"]);
    clause("A", &[conditions, set("/request/practitioner_id", r#""P9""#)], ["no", "no"], &["I2", "B1"], &[]);
    let face = set("/chart/consents/0/conditions", r#"[{"kind":"not-face-down","values":[],"words":null}]"#);
    clause("A", std::slice::from_ref(&face), ["ask-first", "yes"], &["I1"], &[]);
    clause("A", &[face, set("/request/position", r#""side-lying""#)], ["yes", "yes"], &[], &[]);
    let ribs = [
        set("/chart/consents/0/regions", r#"["ribs"]"#),
        set("/chart/consents/0/side", r#""left""#),
        set("/request/region", r#""ribs""#),
        set("/request/side", r#""midline""#),
    ];
    clause("A", &ribs, ["no", "yes"], &["E3", "E4", "D6", "D0"], &[]);
    let late = [set("/now", r#""2025-03-11T09:57:10-04:00""#), set("/request/sequence_no", "41")];
    clause("A", &late, ["yes", "yes"], &[], &["A2"]);
    let same_minute = [set("/now", r#""2025-03-11T09:41:59-04:00""#), set("/request/sequence_no", "41")];
    clause("A", &same_minute, ["yes", "ask-first"], &["A2"], &["A3"]);
    let clock = set("/chart/clock/reads_at", r#""2025-03-11T09:55:59-04:00""#);
    clause("A", &[clock], ["yes", "ask-first"], &["J1"], &[]);
}

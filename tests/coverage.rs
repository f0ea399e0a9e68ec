//! The coverage question against the given cases, and the facts against their schema.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use inkfast::record::coverage::{Answer, Facts, answer, is_of_a_minor, plain};
use serde_json::Value;

const BASES: &str = include_str!("data/coverage/base-facts.json");
const CASES: &str = include_str!("data/coverage/cases-given.json");
const SCHEMA: &str = include_str!("data/coverage/facts.schema.json");

/// Applies the operations add, replace and remove of RFC 6902.
fn apply(document: &mut Value, patch: &Value) {
    for operation in patch.as_array().unwrap() {
        let path = operation["path"].as_str().unwrap();
        let (parent, last) = path.rsplit_once('/').expect("no operation on the whole document");
        let last = last.replace("~1", "/").replace("~0", "~");
        let parent = document.pointer_mut(parent).unwrap_or_else(|| panic!("nothing at {path}"));
        match (operation["op"].as_str().unwrap(), parent) {
            ("add", Value::Array(list)) => {
                let at = if last == "-" { list.len() } else { last.parse().unwrap() };
                list.insert(at, operation["value"].clone());
            }
            ("add", Value::Object(map)) => drop(map.insert(last, operation["value"].clone())),
            ("replace", Value::Array(list)) => {
                list[last.parse::<usize>().unwrap()] = operation["value"].clone();
            }
            ("replace", Value::Object(map)) => {
                *map.get_mut(&last).unwrap_or_else(|| panic!("nothing at {path}")) =
                    operation["value"].clone();
            }
            ("remove", Value::Array(list)) => drop(list.remove(last.parse().unwrap())),
            ("remove", Value::Object(map)) => drop(map.shift_remove(&last).unwrap()),
            (op, _) => panic!("{op} {path}"),
        }
    }
}

fn parse(text: &str) -> Value {
    serde_json::from_str(text).unwrap()
}

fn facts(base: &str, patch: &str) -> Result<Facts, String> {
    let mut document = parse(BASES)[base].clone();
    apply(&mut document, &parse(patch));
    Facts::from_json(&document.to_string()).map_err(|error| error.to_string())
}

fn words(list: &Value) -> Vec<&str> {
    list.as_array().into_iter().flatten().map(|word| word.as_str().unwrap()).collect()
}

/// What differs from the expectation of a case, as the case files define it.
fn differences(found: &Answer, expect: &Value) -> Vec<String> {
    let found = serde_json::to_value(found).unwrap();
    let mut wrong = Vec::new();
    for key in ["answer", "agreed", "checked"] {
        if found[key] != expect[key] {
            wrong.push(format!("{key}: {} instead of {}", found[key], expect[key]));
        }
    }
    let has = |list: &str, key: &str, id: &str| {
        found[list].as_array().unwrap().iter().any(|item| item[key].as_str() == Some(id))
    };
    for (wanted, not_wanted, list, key) in
        [("rules", "rules_not", "reasons", "rule"), ("cautions", "cautions_not", "cautions", "code")]
    {
        wrong.extend(
            words(&expect[wanted]).iter().filter(|id| !has(list, key, id)).map(|id| format!("{id} missing")),
        );
        wrong.extend(
            words(&expect[not_wanted]).iter().filter(|id| has(list, key, id)).map(|id| format!("{id} there")),
        );
    }
    wrong
}

#[test]
fn every_given_case_is_answered_as_expected() {
    let (bases, cases) = (parse(BASES), parse(CASES));
    let mut wrong = Vec::new();
    for case in cases.as_array().unwrap() {
        let id = case["id"].as_str().unwrap();
        let mut document = bases[case["base"].as_str().unwrap()].clone();
        apply(&mut document, &case["patch"]);
        match Facts::from_json(&document.to_string()) {
            Err(error) => wrong.push(format!("{id}: {error}")),
            Ok(facts) => {
                let found = answer(&facts);
                let differs = differences(&found, &case["expect"]);
                if !differs.is_empty() {
                    wrong.push(format!("{id} ({}): {differs:?}\n{}", case["note"], plain(&found, &facts)));
                }
            }
        }
    }
    assert_eq!(cases.as_array().unwrap().len(), 242);
    assert!(wrong.is_empty(), "{} cases differ:\n{}", wrong.len(), wrong.join("\n"));
}

#[test]
fn base_facts_follow_the_schema_and_are_written_back_as_read() {
    let schema = jsonschema::validator_for(&parse(SCHEMA)).unwrap();
    for (name, document) in parse(BASES).as_object().unwrap() {
        schema.validate(document).unwrap_or_else(|error| panic!("{name}: {error}"));
        let facts = Facts::from_json(&document.to_string()).unwrap();
        let written = serde_json::to_value(&facts).unwrap();
        schema.validate(&written).unwrap_or_else(|error| panic!("{name} written back: {error}"));
        assert_eq!(Facts::from_json(&written.to_string()).unwrap(), facts);
    }
}

/// Every key the schema requires is required, every other key refused: tried one by one on a
/// document in which each kind of entry occurs.
#[test]
fn reading_is_as_strict_as_the_schema() {
    let schema = jsonschema::validator_for(&parse(SCHEMA)).unwrap();
    let full = full_document();
    assert!(schema.is_valid(&full));
    Facts::from_json(&full.to_string()).unwrap();
    let mut pointers = Vec::new();
    walk(&full, String::new(), &mut pointers);
    let (mut tried, mut refused_besides) = (0, Vec::new());
    for pointer in pointers {
        let there = full.pointer(&pointer).unwrap();
        let mut changes = vec![Value::Null, parse("\"\""), parse("0"), parse("[]")];
        if let Some(list) = there.as_array().filter(|list| !list.is_empty()) {
            changes.push(Value::Array([list.as_slice(), &list[..1]].concat()));
        }
        if let Some(map) = there.as_object() {
            for key in map.keys() {
                let mut without = map.clone();
                without.shift_remove(key);
                changes.push(Value::Object(without));
            }
            let mut with = map.clone();
            with.insert("unheard-of".to_owned(), parse("1"));
            changes.push(Value::Object(with));
        }
        for change in changes {
            let mut document = full.clone();
            *document.pointer_mut(&pointer).unwrap() = change.clone();
            tried += 1;
            match (schema.is_valid(&document), Facts::from_json(&document.to_string())) {
                (false, Ok(_)) => panic!("{pointer} = {change} breaks the schema and was read"),
                (true, Err(error)) => refused_besides.push(error.path),
                _ => {}
            }
        }
    }
    assert!(tried > 1000, "{tried}");
    // What the schema allows and the facts refuse are contradictions, each with its own place.
    refused_besides.dedup();
    assert_eq!(
        refused_besides,
        [
            "/roster/1/practitioner_id",
            "/chart/patient/lacks_capacity_until",
            "/chart/decision_makers/1/person_id",
            "/chart/corrections/0/consent_id",
            "/chart/consents/2/consent_id",
            "/chart/corrections/0/is",
            "/chart/corrections/1/correction_id",
            "/chart/withdrawals/1/withdrawal_id",
            "/chart/refusals/1/refusal_id",
            "/chart/visits/1/visit_id",
            "/chart/alerts/1/alert_id",
            "/chart/reactions/1/reaction_id",
            "/chart/changes/1/change_id",
            "/chart/holds/1/hold_id",
        ]
    );
}

/// Base A with at least one entry of every kind.
fn full_document() -> Value {
    let mut document = parse(BASES)["A"].clone();
    apply(
        &mut document,
        &parse(
            r#"[
        {"op":"replace","path":"/chart/patient/lacks_capacity_from","value":"2024-01-01T00:00:00Z"},
        {"op":"replace","path":"/chart/patient/lacks_capacity_until","value":"2024-02-01T00:00:00Z"},
        {"op":"replace","path":"/chart/patient/interpreter_language","value":"pt"},
        {"op":"add","path":"/chart/capacity_doubts/-","value":{"sequence_no":1,"raised_at":"2024-01-01T00:00:00Z","resolved_at":null}},
        {"op":"add","path":"/chart/decision_makers/-","value":{"person_id":"dm-1","basis":"parent","authority_on_file":true,
            "may_consent":true,"authority_starts_at":null,"authority_last_day":"2025-01-01","superseded_at":null}},
        {"op":"replace","path":"/chart/consents/0/segment_limits","value":[{"techniques":["thrust"],"highest_segment":"C2-C3","lowest_segment":null}]},
        {"op":"replace","path":"/chart/consents/0/conditions","value":[{"kind":"read-aloud","values":["x"],"words":"y"}]},
        {"op":"replace","path":"/chart/consents/0/interpreter","value":{"name_or_number":"7","language":"pt"}},
        {"op":"replace","path":"/chart/consents/0/ends_on_event","value":{"event":"end of plan","reached_at":null}},
        {"op":"replace","path":"/chart/consents/1/narrower_than","value":["con-a1"]},
        {"op":"add","path":"/chart/corrections/-","value":{"correction_id":"c","sequence_no":1,"consent_id":"con-a1",
            "written_at":"2025-03-11T09:00:00Z","field":"side","was":"left","is":"both"}},
        {"op":"add","path":"/chart/withdrawals/-","value":{"withdrawal_id":"w","sequence_no":1,"said_at":"2025-03-11T09:00:00Z",
            "written_at":"2025-03-11T09:00:00Z","techniques":["thrust"],"regions":["hand"],"side":null}},
        {"op":"add","path":"/chart/refusals/-","value":{"refusal_id":"r","sequence_no":1,"said_at":"2025-03-11T09:00:00Z",
            "techniques":["thrust"],"regions":["hand"],"side":"left"}},
        {"op":"add","path":"/chart/visits/0/own_answers/-","value":{"at":"2025-03-11T09:00:00Z","sequence_no":3,"answer":"yes"}},
        {"op":"add","path":"/chart/visits/0/pauses/-","value":{"at":"2025-03-11T09:00:00Z","sequence_no":3,"kind":"stop","resumed_yes_at":null}},
        {"op":"add","path":"/chart/visits/0/conditions_met/-","value":{"kind":"k","value":"v","from":"2025-03-11T09:00:00Z","until":null,"sequence_no":3}},
        {"op":"add","path":"/chart/visits/0/written_reasons/-","value":{"alert_id":"a","at":"2025-03-11T09:00:00Z","sequence_no":3,"words":"w"}},
        {"op":"add","path":"/chart/alerts/-","value":{"alert_id":"a","kind":"k","from":"2025-01-01","until":null,"region":"hand"}},
        {"op":"add","path":"/chart/reactions/-","value":{"reaction_id":"r","sequence_no":3,"onset_at":"2025-03-11T09:00:00Z",
            "technique":"thrust","region":"hand","severity":"mild","closed_at":null}},
        {"op":"add","path":"/chart/changes/-","value":{"change_id":"c","sequence_no":3,"kind":"trauma","happened_on":"2025-01-01","noted_at":"2025-03-11T09:00:00Z"}},
        {"op":"add","path":"/chart/holds/-","value":{"hold_id":"h","placed_at":"2025-03-11T09:00:00Z","lifted_at":null}},
        {"op":"replace","path":"/chart/emergency","value":{"declared_at":"2025-03-11T09:00:00Z","ended_at":null}},
        {"op":"add","path":"/chart/clock/remarks/-","value":{"opened_at":"2025-03-11T09:00:00Z","closed_at":null,"words":"w"}},
        {"op":"replace","path":"/request/segments","value":["C2-C3"]},
        {"op":"replace","path":"/request/glove_material","value":"nitrile"},
        {"op":"replace","path":"/request/position","value":"seated"},
        {"op":"replace","path":"/request/products","value":["almond-oil"]},
        {"op":"replace","path":"/request/sequence_no","value":99},
        {"op":"replace","path":"/chart/visits/0/asked/0/segments","value":["C2-C3"]},
        {"op":"replace","path":"/chart/visits/0/asked/0/limit_words","value":"gently"}
    ]"#,
        ),
    );
    for list in ["/chart/visits/0/screens/0/answers", "/chart/visits/0/screens/1/answers"] {
        document.pointer_mut(list).unwrap().as_object_mut().unwrap().retain(|key, _| key.contains("lo"));
    }
    document["rules"]["screen_items"].as_object_mut().unwrap().retain(|screen, _| screen == "general");
    for (list, kept) in [("/roster", 1), ("/rules/bars", 1), ("/rules/rule_ids_in_force", 2)] {
        document.pointer_mut(list).unwrap().as_array_mut().unwrap().truncate(kept);
    }
    document["rules"]["red_flag_governs"].as_object_mut().unwrap().retain(|group, _| group == "cord");
    document
}

fn walk(value: &Value, at: String, pointers: &mut Vec<String>) {
    match value {
        Value::Object(map) => {
            map.iter().for_each(|(key, inner)| walk(inner, format!("{at}/{key}"), pointers))
        }
        Value::Array(list) => {
            list.iter().enumerate().for_each(|(index, inner)| walk(inner, format!("{at}/{index}"), pointers));
        }
        _ => {}
    }
    pointers.push(at);
}

#[test]
fn a_document_that_contradicts_itself_is_an_error_that_says_where() {
    let second = |list: &str, base: &str| {
        let entry = parse(BASES)[base].pointer(&format!("/chart/{list}/0")).unwrap().clone();
        format!(r#"[{{"op":"add","path":"/chart/{list}/-","value":{entry}}}]"#)
    };
    let correction = |consent: &str, field: &str, is: &str| {
        format!(
            r#"[{{"op":"add","path":"/chart/corrections/-","value":{{"correction_id":"cor-1","sequence_no":39,
            "consent_id":"{consent}","written_at":"2025-03-11T09:30:00-04:00","field":"{field}","was":null,"is":{is}}}}}]"#
        )
    };
    let replace =
        |path: &str, value: &str| format!(r#"[{{"op":"replace","path":"{path}","value":{value}}}]"#);
    for (base, patch, place) in [
        ("A", second("consents", "A"), "/chart/consents/2/consent_id"),
        ("A", second("visits", "A"), "/chart/visits/1/visit_id"),
        ("E", second("withdrawals", "E"), "/chart/withdrawals/1/withdrawal_id"),
        ("B", second("decision_makers", "B"), "/chart/decision_makers/2/person_id"),
        ("A", replace("/request/segments", r#"["L1-L2"]"#), "/request/segments/0"),
        ("A", replace("/request/segments", r#"["C2-C3","SI"]"#), "/request/segments/1"),
        (
            "A",
            replace("/chart/visits/0/asked/0/segments", r#"["rib-3"]"#),
            "/chart/visits/0/asked/0/segments/0",
        ),
        ("A", correction("con-z9", "side", r#""left""#), "/chart/corrections/0/consent_id"),
        ("A", correction("con-a1", "side", r#""not-stated""#), "/chart/corrections/0/is"),
        ("A", correction("con-a1", "regions", "[]"), "/chart/corrections/0/is"),
        ("A", correction("con-a1", "techniques", r#"["thrust","thrust"]"#), "/chart/corrections/0/is"),
        ("A", correction("con-a1", "valid_until", r#""2025-02-30""#), "/chart/corrections/0/is"),
        ("A", replace("/chart/consents/0/narrower_than", r#"["con-a1"]"#), "/chart/consents/0/narrower_than"),
        ("A", replace("/now", r#""2025-02-30T10:00:00-05:00""#), "/now"),
        ("A", replace("/roster/1/practitioner_id", r#""P1""#), "/roster/1/practitioner_id"),
    ] {
        let error = facts(base, &patch).expect_err(place);
        assert!(error.contains(&format!("at {place}:")), "{place}: {error}");
        assert!(error.contains("then ask again"), "{error}");
    }
    facts("A", &correction("con-a1", "valid_until", "null")).unwrap();
}

#[test]
fn a_key_written_twice_is_an_error() {
    let document = parse(BASES)["A"].to_string();
    for (once, twice) in [
        (r#""latex":"not-allergic""#, r#""latex":"allergic","latex":"not-allergic""#),
        (r#""position":null"#, r#""position":null,"position":null"#),
        (r#""default":12"#, r#""default":12,"default":13"#),
        (r#""joint-laxity":null"#, r#""joint-laxity":null,"joint-laxity":null"#),
    ] {
        assert!(document.contains(once));
        let error = Facts::from_json(&document.replacen(once, twice, 1)).unwrap_err();
        assert!(error.what.contains("duplicate"), "{error}");
    }
}

#[test]
fn the_printed_answer_has_both_lines_every_reason_and_ends_with_its_limits() {
    for case in parse(CASES).as_array().unwrap() {
        let facts = facts(case["base"].as_str().unwrap(), &case["patch"].to_string()).unwrap();
        let found = answer(&facts);
        let text = plain(&found, &facts);
        assert_eq!(found.cures.len(), found.reasons.len());
        for reason in &found.reasons {
            assert!(text.contains(&format!("({}): {}", reason.rule, reason.text)), "{text}");
        }
        for caution in &found.cautions {
            assert!(text.contains(&caution.text), "{text}");
        }
        for line in ["Answer:  ", "Agreed:  ", "Checked: "] {
            assert!(text.contains(line), "{text}");
        }
        if let Some(id) = &found.nearest_consent {
            assert!(text.contains(&format!("({id})")) && text.contains("Nearest is"), "{text}");
        }
        assert!(text.ends_with(
            "\nThis is a record check. It does not replace judgment, license limits or local rules.\n"
        ));
        assert!(text.is_ascii(), "{text}");
    }
}

#[test]
fn the_machine_output_has_exactly_the_named_fields() {
    let facts = facts("A", r#"[{"op":"replace","path":"/request/region","value":"lumbar"}]"#).unwrap();
    let value = serde_json::to_value(answer(&facts)).unwrap();
    let keys: Vec<&str> = value.as_object().unwrap().keys().map(String::as_str).collect();
    assert_eq!(
        keys,
        [
            "answer",
            "agreed",
            "checked",
            "reasons",
            "cautions",
            "governing_consents",
            "nearest_consent",
            "cures"
        ]
    );
    assert_eq!(value["nearest_consent"], "con-a1");
    let keys: Vec<&str> = value["reasons"][0].as_object().unwrap().keys().map(String::as_str).collect();
    assert_eq!(keys, ["rule", "line", "level", "text"]);
}

/// A second consent, as a patch operation: con-a1 with some fields of its own.
fn consent_like(base: &str, fields: &str) -> String {
    let mut consent = parse(BASES)[base]["chart"]["consents"][0].clone();
    for (key, value) in parse(fields).as_object().unwrap() {
        assert!(consent.get(key).is_some(), "{key}");
        consent[key] = value.clone();
    }
    format!(r#"{{"op":"add","path":"/chart/consents/-","value":{consent}}}"#)
}

/// What a clause of the rules says where the given cases do not try it.
#[track_caller]
fn clause(base: &str, patch: &[String], verdicts: [&str; 2], rules: &[&str], absent: &[&str]) {
    let facts = facts(base, &format!("[{}]", patch.join(","))).unwrap();
    let found = answer(&facts);
    let ids: Vec<&str> = found.reasons.iter().map(|r| r.rule.word()).collect();
    let codes: Vec<&str> = found.cautions.iter().map(|c| c.code.word()).collect();
    assert_eq!([found.agreed.word(), found.checked.word()], verdicts, "{ids:?} {codes:?}");
    for id in rules {
        assert!(ids.contains(id) || codes.contains(id), "{id} missing: {ids:?} {codes:?}");
    }
    for id in absent {
        assert!(!ids.contains(id) && !codes.contains(id), "{id} there: {ids:?} {codes:?}");
    }
}

fn set(path: &str, value: &str) -> String {
    format!(r#"{{"op":"replace","path":"{path}","value":{value}}}"#)
}

fn put(path: &str, value: &str) -> String {
    format!(r#"{{"op":"add","path":"{path}","value":{value}}}"#)
}

fn withdrawal(said_at: &str, techniques: &str, regions: &str, side: &str) -> String {
    let value = format!(
        r#"{{"withdrawal_id":"wd-9","sequence_no":90,"said_at":"{said_at}","written_at":"{said_at}",
        "techniques":{techniques},"regions":{regions},"side":{side}}}"#
    );
    put("/chart/withdrawals/-", &value)
}

fn asked(at: &str, number: u32, side: &str, answer: &str, limit: &str) -> String {
    let value = format!(
        r#"{{"at":"{at}","sequence_no":{number},"technique":"soft-tissue","region":"cervical","side":"{side}",
        "segments":[],"asked_by":"P1","answer":"{answer}","limit_words":{limit}}}"#
    );
    put("/chart/visits/0/asked/-", &value)
}

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

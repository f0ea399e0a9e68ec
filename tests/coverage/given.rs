//! The given cases, the schema of the facts, and the printed answer.

use super::{BASES, apply, base_facts, facts, parse};
use inkfast::record::coverage::{Answer, Facts, answer, plain};
use serde_json::Value;

pub const CASES: &str = include_str!("../data/coverage/cases-given.json");
const SCHEMA: &str = include_str!("../data/coverage/facts.schema.json");

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
    let mut document = base_facts("A").clone();
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
        let entry = base_facts(base).pointer(&format!("/chart/{list}/0")).unwrap().clone();
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
    let document = base_facts("A").to_string();
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

//! The printed answer (section 1 of the coverage rules).

use super::{answered, apply, base_facts, consent_like, facts, parse, put, set, thrust};
use inkfast::record::coverage::{Facts, Line, answer, plain};
use std::collections::{BTreeMap, BTreeSet};

/// The lines under each heading of a printed answer.
fn sections(text: &str) -> BTreeMap<String, Vec<String>> {
    let mut found: BTreeMap<String, Vec<String>> = BTreeMap::new();
    let mut heading = String::new();
    for line in text.lines() {
        match line.strip_prefix("  - ") {
            Some(item) => found.entry(heading.clone()).or_default().push(item.to_owned()),
            None => heading = line.to_owned(),
        }
    }
    found
}

/// Section 1 of the coverage rules: what is printed, tried on every given case.
#[test]
fn the_printed_answer_has_everything_in_its_place_and_once() {
    let cases = parse(super::given::CASES);
    let mut nearest_seen = 0;
    for case in cases.as_array().unwrap() {
        let mut document = base_facts(case["base"].as_str().unwrap());
        apply(&mut document, &case["patch"]);
        let facts = Facts::from_json(&document.to_string()).unwrap();
        let found = answer(&facts);
        let text = plain(&found, &facts);
        let parts = sections(&text);
        let request = &document["request"];
        let word = |key: &str| request[key].as_str().unwrap();
        let head = text.lines().next().unwrap();
        for piece in [
            word("technique"),
            word("region"),
            word("side").split('-').next().unwrap(),
            word("practitioner_id"),
        ] {
            assert!(head.starts_with("Asked:   ") && head.contains(piece), "{piece}: {head}");
        }
        for segment in request["segments"].as_array().unwrap() {
            assert!(head.contains(segment.as_str().unwrap()), "{head}");
        }
        for (line, heading) in [(Line::Agreed, "What was agreed:"), (Line::Checked, "What was checked:")] {
            let reasons: Vec<String> = found
                .reasons
                .iter()
                .filter(|r| r.line == line)
                .map(|r| format!("{} ({}): {}", r.level.word().replace('-', " "), r.rule, r.text))
                .collect();
            assert_eq!(parts.get(heading).cloned().unwrap_or_default(), reasons, "{text}");
        }
        let relied_on = parts.get("Relied on:").cloned().unwrap_or_default();
        assert_eq!(relied_on.len(), found.governing_consents.len(), "{text}");
        for (line, id) in relied_on.iter().zip(&found.governing_consents) {
            assert!(line.contains(&format!("({id}): ")), "{line}");
        }
        // The nearest consent, with each test it failed: what a reason says of it is said there again.
        let listed: Vec<&String> = parts
            .iter()
            .filter(|(heading, _)| heading.contains("Nearest is"))
            .flat_map(|(_, lines)| lines)
            .collect();
        assert_eq!(listed.len(), listed.iter().collect::<BTreeSet<_>>().len(), "{text}");
        for line in &listed {
            assert!(
                found.reasons.iter().any(|r| **line == format!("{}: {}", r.rule, r.text)),
                "{line}\n{text}"
            );
        }
        if let Some(id) = &found.nearest_consent {
            nearest_seen += 1;
            let of_it = found.reasons.iter().filter(|r| {
                r.rule.word() != "E3"
                    && r.text.starts_with("The consent of ")
                    && r.text.contains(&format!("({id}) "))
            });
            for reason in of_it {
                assert!(listed.iter().any(|line| line.ends_with(&reason.text)), "{}\n{text}", reason.text);
            }
        }
        // What settles it: each thing once, with the rules it settles.
        let settles = parts.get("What settles it:").cloned().unwrap_or_default();
        let mut each: BTreeMap<&str, BTreeSet<&str>> = BTreeMap::new();
        for (rule, cure) in found.cures.iter().map(|cure| cure.split_once(": ").unwrap()) {
            each.entry(cure).or_default().insert(rule);
        }
        assert_eq!(settles.len(), each.len(), "{text}");
        for line in &settles {
            let (cure, rules) = line.strip_suffix(')').unwrap().rsplit_once(" (").unwrap();
            let rules: Vec<&str> = rules.split(", ").collect();
            assert_eq!(rules.len(), each[cure].len(), "{line}");
            assert_eq!(rules.into_iter().collect::<BTreeSet<_>>(), each[cure], "{line}");
        }
        // Each reason is said once, whatever number of consents or sides it comes from.
        let once: BTreeSet<(&str, &str)> =
            found.reasons.iter().map(|r| (r.rule.word(), r.text.as_str())).collect();
        assert_eq!(once.len(), found.reasons.len(), "{text}");
        let cautions = parts.get("Cautions:").map_or(0, Vec::len);
        assert_eq!(cautions, found.cautions.len(), "{text}");
    }
    assert!(nearest_seen > 50, "{nearest_seen}");
}

/// Both sides asked about and neither covered: the nearest consent of each is shown, and one cure for both.
#[test]
fn each_side_has_its_own_nearest_consent() {
    let both = set("/request/side", r#""both""#);
    let lumbar = set("/request/region", r#""lumbar""#);
    let left = set("/chart/consents/0/side", r#""left""#);
    let right = consent_like("A", r#"{"consent_id":"con-a3","sequence_no":13,"side":"right"}"#);
    let facts = facts("A", &format!("[{both},{lumbar},{left},{right}]")).unwrap();
    let found = answer(&facts);
    let text = plain(&found, &facts);
    for id in ["con-a1", "con-a3"] {
        let nearest = format!("Nearest is the consent of 14 Jan 2025 ({id})");
        assert!(text.contains(&nearest), "{text}");
    }
    assert_eq!(found.nearest_consent.as_deref(), Some("con-a1"));
}

/// What settles the same reason on both sides names both; the patient's own words stay as they are.
#[test]
fn a_cure_for_both_sides_names_both() {
    let both = set("/request/side", r#""both""#);
    let cures = |more: &str| answer(&facts("A", &format!("[{both},{more}]")).unwrap()).cures;
    let found = cures(&set("/request/region", r#""lumbar""#));
    let of_region: Vec<&String> = found.iter().filter(|cure| cure.starts_with("D5: ")).collect();
    assert_eq!(
        of_region,
        ["D5: Take a new consent that names soft-tissue on lumbar, both sides, or leave that part out."]
    );
    let words = r#"[{"kind":"chaperone-present","values":[],"words":"on my left side"}]"#;
    let found = cures(&set("/chart/consents/0/conditions", words));
    assert!(found.len() == 1 && found[0].contains("on my left side"), "{found:?}");
}

/// Two alerts of one kind are one reason.
#[test]
fn what_two_entries_say_alike_is_said_once() {
    let alert = |id: u32| {
        let value = format!(
            r#"{{"alert_id":"alert-{id}","kind":"osteoporosis","from":"2025-01-0{id}","until":null,"region":null}}"#
        );
        put("/chart/alerts/-", &value)
    };
    let found = answered("A", &[thrust(), alert(1), alert(2)]);
    let rules: Vec<&str> = found.reasons.iter().map(|r| r.rule.word()).collect();
    assert_eq!(rules, ["H3"]);
}

//! Promise: a chart's FHIR document loses nothing silently. Every entry is told in it, or listed, or named as
//! held back; what was put right reads as it was put right; what is withheld is not in it; a second one is the same.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // In a test a panic is the report.

mod common;

use common::archive::{TO_THE_PATIENT, member};
use common::room::Room;
use common::{example_data, moment};
use inkfast::record::kinds::Data;
use inkfast::seal::age_file::{Identity, With, open};
use serde_json::Value;
use std::collections::BTreeSet;

const CHART: &str = "PM-0112";

/// A chart with a treated visit, a note put right, and something taken back.
fn practised() -> (Room, u64, u64) {
    let room = Room::new();
    room.at("2025-03-10T09:00:00-04:00").patient(CHART, "Bettony Craske", "1988-07-23");
    room.ok(&["patient", "allergies", CHART, "--substances", "latex=allergic,nickel=not-allergic"]);
    let consent = [
        "consent",
        CHART,
        "--kind",
        "treatment",
        "--form",
        "written-signed",
        "--wording",
        "F1",
        "--techniques",
        "soft-tissue,mobilization",
        "--regions",
        "lumbar",
        "--side",
        "both",
        "--given-by",
        "self",
        "--explained-by",
        "IV",
        "--explained-at",
        "now",
        "--risks",
        "soreness,stiffness",
    ];
    room.ok(&consent);
    room.ok(&["visit", "open", CHART, "--room", "room 1", "--identifiers", "full-name,birth-date"]);
    room.at("2025-03-10T09:10:00-04:00");
    room.ok(&["note", CHART, "lumbar L tight", "lumbar L soft 4 relieved 3>2"]);
    let measured =
        ["visit", "measure", CHART, "--phase", "before", "--measures", "kind=mouth-opening value=35"];
    room.ok(&measured);
    let note = room.entry(&[
        "sign",
        CHART,
        "--sort",
        "later",
        "--changed",
        "easier in the mornings",
        "--complaints",
        "words=stiff and sore pain=3",
        "--compared",
        "less stiff than last time",
        "--advice",
        "warmth",
        "--watch-for",
        "numbness: call us",
        "--plan",
        "once more next week",
    ]);
    room.at("2025-03-10T10:00:00-04:00").ok(&[
        "correct",
        CHART,
        "--entry",
        &note.to_string(),
        "--field",
        "/procedures/0/side",
        "--is",
        "right",
        "--because",
        "slip in writing",
        "--care-affected",
        "no",
        "--not-told-because",
        "still to be told",
    ]);
    room.ok(&[
        "withdraw",
        CHART,
        "--said-by",
        "self",
        "--how",
        "words",
        "--patient-words",
        "enough of that",
        "--techniques",
        "mobilization",
    ]);
    let Data::Contact(mut told) = example_data("contact") else { panic!() };
    (told.visit, told.said) = (None, "a word about the neighbour's boxwood".to_string());
    told.about.clear();
    let data = serde_json::to_string(&*told).unwrap();
    room.write("contact.json", &data);
    let contact = room.path("contact.json").display().to_string();
    let withheld = room.entry(&["contact", CHART, "--data", &contact]);
    (room, note, withheld)
}

fn resources<'v>(bundle: &'v Value, kind: &str) -> Vec<&'v Value> {
    let all = bundle["entry"].as_array().unwrap().iter().map(|entry| &entry["resource"]);
    all.filter(|one| one["resourceType"] == kind).collect()
}

fn number(value: &Value) -> u64 {
    value.as_str().unwrap().rsplit(['/', ' ']).next().unwrap().parse().unwrap()
}

/// Numbers of the entries that are told, listed, and held back.
fn accounted(bundle: &Value) -> [BTreeSet<u64>; 3] {
    let told = resources(bundle, "Provenance");
    let told = told.iter().map(|one| number(&one["entity"][0]["what"]["identifier"]["value"])).collect();
    let (mut listed, mut held) = (BTreeSet::new(), BTreeSet::new());
    for section in resources(bundle, "Composition")[0]["section"].as_array().unwrap() {
        match section["code"]["coding"][0]["code"].as_str().unwrap() {
            "kept" => listed.extend(
                section["entry"].as_array().unwrap().iter().map(|e| number(&e["identifier"]["value"])),
            ),
            "not-in-this-copy" => {
                held.extend(section["section"].as_array().unwrap().iter().map(|one| number(&one["title"])));
            }
            _ => {}
        }
    }
    [told, listed, held]
}

/// Entries of a chart by kind, as the program itself lists them.
fn entries(room: &Room) -> Vec<(u64, String)> {
    let all = room.json(&["print", CHART, "--why", "review"]);
    let one = |e: &Value| (e["seq"].as_u64().unwrap(), e["kind"].as_str().unwrap().to_string());
    all.as_array().unwrap().iter().map(one).collect()
}

#[test]
fn every_entry_of_a_released_chart_is_told_or_listed_or_named_as_held_back() {
    let (room, note, withheld) = practised();
    let identity = Identity::generate();
    let file = room.path("out.age").display().to_string();
    let (to, held) =
        (identity.recipient().to_string(), format!("{withheld}=another-person: about somebody else"));
    let words = ["release", CHART, "--to", &to, "--file", &file, "--withhold", &held];
    room.ok(&[&words[..], &TO_THE_PATIENT].concat());
    let plain = open(&With::Identities(&[identity]), &std::fs::read(&file).unwrap()).unwrap();
    let bytes = member(&plain, "fhir/bundle.json");
    let bundle: Value = serde_json::from_slice(&bytes).unwrap();

    let release = resources(&bundle, "AuditEvent").len();
    assert!(release > 0, "the release itself is told");
    let [told, listed, held] = accounted(&bundle);
    let last = *told.last().unwrap();
    let wanted: BTreeSet<u64> =
        entries(&room).into_iter().map(|(seq, _)| seq).filter(|seq| *seq <= last).collect();
    let all: Vec<u64> = told.iter().chain(&listed).chain(&held).copied().collect();
    assert_eq!(all.len(), wanted.len(), "an entry is there twice: {all:?}");
    assert_eq!(all.into_iter().collect::<BTreeSet<_>>(), wanted);
    assert_eq!(held, BTreeSet::from([withheld]));
    assert!(!String::from_utf8_lossy(&bytes).contains("boxwood"), "withheld words are in the document");
    assert_eq!(bundle["timestamp"], moment("2025-03-10T10:00:00-04:00").to_string());

    // What was put right reads so, and both writings are named.
    let procedure = resources(&bundle, "Procedure")[0];
    assert_eq!(procedure["bodySite"][0]["extension"][0]["valueCoding"]["code"], "right");
    assert_eq!(procedure["meta"]["tag"][0]["code"], "corrected");
    let both = resources(&bundle, "Provenance").into_iter().filter(|one| {
        let targets = one["target"].as_array().unwrap().iter();
        let procedure = format!("urn:uuid:{}", procedure["id"].as_str().unwrap());
        targets.map(|t| &t["reference"]).any(|t| *t == procedure)
    });
    let roles: Vec<(u64, usize)> = both
        .map(|one| {
            let entity = one["entity"].as_array().unwrap();
            (number(&entity.last().unwrap()["what"]["identifier"]["value"]), entity.len())
        })
        .collect();
    assert_eq!(roles, [(note, 1), (note, 2)], "the note's own writing, and its revision");
}

#[test]
fn what_is_counted_in_the_chart_is_counted_in_the_document() {
    let (room, _, _) = practised();
    let (one, two) = (room.path("one.json"), room.path("two.json"));
    for file in [&one, &two] {
        room.ok(&["print", CHART, "--why", "review", "--fhir", &file.display().to_string()]);
    }
    let bytes = std::fs::read(&one).unwrap();
    assert_eq!(bytes, std::fs::read(&two).unwrap(), "a second document of the same chart differs");
    let bundle: Value = serde_json::from_slice(&bytes).unwrap();
    let entries = entries(&room);
    let kinds = |word: &str| entries.iter().filter(|(_, kind)| kind == word).count();
    let count = |kind: &str| resources(&bundle, kind).len();
    assert_eq!(count("Consent"), kinds("consent") + kinds("withdrawal") + kinds("asked"));
    assert_eq!(count("Encounter"), kinds("visit-opened"));
    assert_eq!(count("AuditEvent"), kinds("access") + kinds("release"));
    assert_eq!(count("Communication"), kinds("contact"));
    assert_eq!((count("Patient"), count("Organization"), count("AllergyIntolerance")), (1, 1, 1));
    assert_eq!(resources(&bundle, "Encounter")[0]["status"], "finished");
    // One technique of two was taken back: the consent stands, and says so.
    let consent = resources(&bundle, "Consent")[0];
    assert_eq!(consent["status"], "active");
    let denied = consent["provision"]["provision"].as_array().unwrap().iter().find(|p| p["type"] == "deny");
    assert_eq!(denied.unwrap()["code"][0]["coding"][0]["code"], "mobilization");
    let [told, listed, held] = accounted(&bundle);
    assert_eq!((told.len() + listed.len(), held.len()), (entries.len(), 0));
    // The measure kept its number and has a UCUM unit.
    let measured: Vec<&Value> = resources(&bundle, "Observation")
        .into_iter()
        .filter(|one| one["code"]["coding"][0]["code"] == "mouth-opening")
        .collect();
    assert!(
        measured
            .iter()
            .any(|one| { one["valueQuantity"]["value"] == 35 && one["valueQuantity"]["code"] == "mm" })
    );
}

//! A consent signed on a screen: what was shown is what is stored, strokes and picture are kept with it, and a
//! signature that was given for something else is not taken.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // In a test a panic is the report.

mod common;

use common::room::{Room, Shown};
use serde_json::{Value, json};

const CHART: &str = "PM-0112";
const TEXT: &str = "You may say no, and you may stop at any time.";

fn room() -> Room {
    let room = Room::new();
    room.station("room 1").at("2025-03-03T09:00:00-05:00").patient(CHART, "Bettony Craske", "1988-07-23");
    #[rustfmt::skip]
    room.ok(&["wording", "--code", "F7", "--title", "Consent to care", "--text", TEXT, "--language", "en", "--use-for", "consent"]);
    room
}

/// The number of the entry that adopted the wording.
fn wording_entry(room: &Room) -> u64 {
    room.json(&["verify"])["entries"].as_u64().unwrap()
}

fn signature(entry: u64) -> Value {
    json!({
        "signature": 1, "name": "Bettony Craske",
        "shown": {
            "wording": "F7", "wording_entry": entry, "text_blake3": blake3::hash(TEXT.as_bytes()).to_hex().to_string(),
            "language": "en", "lines": ["Soft-tissue work on the neck, both sides"],
        },
        "drawn": {
            "width": 8000, "height": 2400, "with": "touch",
            "strokes": [[[400, 900, 0], [1200, 400, 90], [2600, 1500, 200]], [[3000, 500, 640], [3900, 1400, 800]]],
        },
    })
}

fn consent(room: &Room, signature: &Value, more: &[&str]) -> Shown {
    room.write("strokes.json", &signature.to_string());
    let file = room.path("strokes.json").display().to_string();
    #[rustfmt::skip]
    let mut args = vec![
        "consent", CHART, "--kind", "treatment", "--techniques", "soft-tissue", "--regions", "cervical", "--side", "both",
        "--form", "written-on-screen", "--explained-by", "IV", "--explained-at", "2025-03-03T08:50:00-05:00", "--giver-name",
        "Bettony Craske", "--signature", &file,
    ];
    if !more.contains(&"--wording") {
        args.extend(["--wording", "F7"]);
    }
    args.extend(more);
    room.run(&args)
}

fn entries(room: &Room) -> Vec<Value> {
    room.json(&["print", CHART, "--why", "review"]).as_array().unwrap().clone()
}

#[test]
fn what_was_signed_comes_out_as_it_was_drawn() {
    let room = room();
    let signature = signature(wording_entry(&room));
    let shown = consent(&room, &signature, &[]);
    assert_eq!(shown.code(), 0, "{}", shown.all());
    let all = entries(&room);
    let of = |kind: &str| all.iter().filter(|e| e["kind"] == kind).cloned().collect::<Vec<_>>();
    let (given, papers) = (of("consent").remove(0), of("attachment"));
    let data = &given["record"]["data"];
    assert_eq!(papers.len(), 2);
    let (picture, strokes) = (&papers[0], &papers[1]);
    assert_eq!(data["paper"], picture["seq"], "{data}\n{picture}");
    assert_eq!(data["signature_image"], picture["record"]["data"]["plain_digest"]);
    let get = |entry: &Value, name: &str| {
        let into = room.path(name).display().to_string();
        room.ok(&["attach", CHART, "--get", &entry["seq"].to_string(), "--into", &into, "--why", "review"]);
        std::fs::read(into).unwrap()
    };
    let (svg, drawn) = (get(picture, "picture.svg"), get(strokes, "drawn.json"));
    assert_eq!(drawn, signature.to_string().into_bytes(), "byte for byte as it was drawn");
    assert_eq!(data["signature_image"], blake3::hash(&svg).to_hex().to_string());
    let svg = String::from_utf8(svg).unwrap();
    // The picture says from which strokes it was made.
    assert!(svg.contains(&blake3::hash(&drawn).to_hex().to_string()), "{svg}");
    assert!(svg.contains("M400 900L1200 400L2600 1500") && svg.contains("wording F7"), "{svg}");
    // The explanation came before the signature, and both times are kept.
    assert_eq!(data["explained"]["at"], "2025-03-03T08:50:00-05:00");
    assert_eq!(given["record"]["happened"]["start"], "2025-03-03T09:00:00-05:00");
    room.ok(&["verify"]);
    let page = room.printed(CHART);
    assert!(page.contains("Signature on the screen"), "{page}");
}

#[test]
fn the_text_shown_is_the_text_stored() {
    let room = room();
    let entry = wording_entry(&room);
    let good = signature(entry);
    let refused = |signature: &Value, more: &[&str], why: &str| {
        let before = wording_entry(&room);
        let shown = consent(&room, signature, more);
        assert_ne!(shown.code(), 0, "{why}");
        assert!(shown.all().contains(why), "{why}\n{}", shown.all());
        assert_eq!(wording_entry(&room), before, "nothing is recorded: {why}");
    };
    let with = |path: &str, value: Value| {
        let mut bent = good.clone();
        *bent.pointer_mut(path).unwrap() = value;
        bent
    };
    refused(&with("/shown/text_blake3", json!("0".repeat(64))), &[], "another text");
    refused(&with("/shown/wording_entry", json!(1)), &[], "another text");
    refused(&with("/shown/wording", json!("F8")), &[], "another wording");
    refused(&with("/shown/wording", json!("F8")), &["--wording", "F8"], "never adopted");
    refused(&with("/drawn/strokes", json!([])), &[], "nothing was drawn");
    refused(&with("/signature", json!(2)), &[], "edition 2");
    refused(&good, &["--paper", "3"], "Leave out --paper");
    // A later edition under the same code: what was shown before is not what is in force.
    #[rustfmt::skip]
    room.ok(&["wording", "--code", "F7", "--title", "Consent to care", "--text", "Other words.", "--language", "en"]);
    refused(&good, &[], "another text");
}

#[test]
fn nobody_signs_twice_alike() {
    let room = room();
    let signature = signature(wording_entry(&room));
    assert_eq!(consent(&room, &signature, &[]).code(), 0);
    let again = consent(&room, &signature, &[]);
    assert_eq!(again.code(), 7, "{}", again.all());
    assert!(again.all().contains("very same strokes"), "{}", again.all());
}

#[test]
fn a_refusal_and_a_name_in_type_are_signed_too() {
    let room = room();
    let mut signature = signature(wording_entry(&room));
    signature.as_object_mut().unwrap().remove("drawn");
    signature["typed"] =
        json!({ "text": "B. Craske", "statement": "I mean this typed name as my signature." });
    let shown = consent(&room, &signature, &["--status", "declined", "--declined-because", "not today"]);
    assert_eq!(shown.code(), 0, "{}", shown.all());
    let all = entries(&room);
    let given = all.iter().find(|e| e["kind"] == "consent").unwrap();
    assert_eq!(given["record"]["data"]["status"], "declined");
    // A technique that was declined is not covered.
    let may = room.run(&[
        "may",
        CHART,
        "--technique",
        "soft-tissue",
        "--region",
        "cervical",
        "--side",
        "left",
        "--why",
        "review",
    ]);
    assert_eq!(may.code(), 1, "{}", may.all());
}

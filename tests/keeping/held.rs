//! Holds, notices, requests and reactions: while one stands, nothing is destroyed, and that it was asked for is kept.

use super::{destroy, kept, treated, with_rules};
use crate::common::room::Room;
use serde_json::Value;

const CHART: &str = "PM-0133";

/// A chart whose day has passed, on 5 June 2023, with the signature of two at hand.
fn passed() -> Room {
    let room = with_rules(r#""lm-1""#);
    room.at("2023-06-05T13:05:00-04:00");
    room.patient(CHART, "Jarek Hollowell", "1966-09-17");
    treated(&room, CHART, "2016-05-19 10:00");
    assert!(kept(&room, CHART)["refusals"].as_array().unwrap().is_empty());
    room
}

fn office_paper(room: &Room, title: &str, more: &[&str]) -> u64 {
    let usual = ["office", "add", "--kind", "attorney-letter", "--title", title, "--words", "as it says"];
    room.entry(&usual.iter().chain(more).copied().collect::<Vec<_>>())
}

fn record(room: &Room, chart: &str, entry: u64) -> Value {
    room.json(&["print", chart, "--entry", &entry.to_string(), "--why", "review"])[0]["record"].clone()
}

fn labels(room: &Room, chart: &str) -> String {
    let contact = room.entry(&[
        "contact",
        chart,
        "--channel",
        "telephone",
        "--direction",
        "incoming",
        "--with",
        "the patient",
        "--relation",
        "self",
        "--checked",
        "by voice",
        "--said",
        "asks for the hours",
    ]);
    record(room, chart, contact)["labels"].to_string()
}

/// Refused with exit 7, and the refusal itself is an entry that says why.
fn refused(room: &Room, because: &str) -> Value {
    let shown = destroy(room, CHART, &["--no-other-copies", "--json"]);
    assert_eq!(shown.code(), 7, "{}", shown.all());
    let output: Value = serde_json::from_str(&shown.out).unwrap();
    let entry = record(room, CHART, output["refused"].as_u64().unwrap());
    assert_eq!(entry["kind"], "refused-disposal");
    let blocks = entry["data"]["blocked_by"].as_array().unwrap();
    assert!(blocks.iter().any(|one| one["because"] == because), "{because}: {entry}");
    assert!(room.ok(&["print", CHART, "--why", "review"]).contains("Jarek"), "it is all there");
    entry
}

#[test]
fn a_hold_stands_until_it_is_lifted_with_its_letter() {
    let room = passed();
    assert!(!labels(&room, CHART).contains("after-hold"));
    let hold = room.entry(&[
        "hold",
        "place",
        CHART,
        "--reason",
        "claim about the collision",
        "--from-whom",
        "counsel of the van owner",
    ]);
    assert!(labels(&room, CHART).contains("after-hold"));
    assert_eq!(kept(&room, CHART)["refusals"].to_string(), r#"["hold"]"#);
    refused(&room, "hold");
    // Without a letter it is not lifted; a number that is no letter is none.
    let lift = ["hold", "lift", &hold.to_string(), "--by", "counsel", "--because", "settled"];
    assert_eq!(room.run(&lift).code(), 4);
    let with = |letter: u64| {
        let letter = letter.to_string();
        room.run(&lift.iter().copied().chain(["--letter", &letter]).collect::<Vec<_>>())
    };
    let no_letter = with(hold);
    assert_eq!(no_letter.code(), 4, "{}", no_letter.all());
    let letter = office_paper(&room, "settled", &[]);
    assert_eq!(with(letter).code(), 0);
    assert!(kept(&room, CHART)["refusals"].as_array().unwrap().is_empty());
    assert!(!labels(&room, CHART).contains("after-hold"));
    let list = room.json(&["hold", "list"]);
    assert_eq!((list[0]["entry"].as_u64(), list[0]["stands"].as_bool()), (Some(hold), Some(false)));
}

/// A hold on a practitioner, or on days, reaches the charts it touches and no others.
#[test]
fn a_hold_across_charts_reaches_those_it_touches() {
    for (scope, touched) in [
        (vec!["--scope", "practitioner", "--practitioner", "IV"], true),
        (vec!["--scope", "practitioner", "--practitioner", "TR"], false),
        (vec!["--scope", "dates", "--first-day", "2016-05-01", "--last-day", "2016-05-31"], true),
        (vec!["--scope", "dates", "--first-day", "2017-01-01", "--last-day", "2017-12-31"], false),
    ] {
        let room = passed();
        let place: Vec<&str> = ["hold", "place", "--reason", "a claim", "--from-whom", "the insurer"]
            .into_iter()
            .chain(scope.clone())
            .collect();
        room.ok(&place);
        let refusals = kept(&room, CHART)["refusals"].to_string();
        assert_eq!(refusals == r#"["hold"]"#, touched, "{scope:?}: {refusals}");
        if scope[1] == "practitioner" {
            assert_eq!(labels(&room, CHART).contains("after-hold"), touched, "{scope:?}");
        }
    }
}

#[test]
fn a_notice_labels_what_follows_and_stands_until_closed() {
    let room = passed();
    let letter = office_paper(&room, "the Board writes", &[]).to_string();
    let notice = room
        .entry(&[
            "notice",
            "received",
            CHART,
            "--kind",
            "board-letter",
            "--from",
            "the Board",
            "--about",
            "2016-05-19",
            "--office-file",
            &letter,
        ])
        .to_string();
    assert!(labels(&room, CHART).contains("after-notice"));
    refused(&room, "complaint");
    room.ok(&["notice", "answered", &notice, "--in-short", "sent the chart"]);
    assert_eq!(kept(&room, CHART)["refusals"].to_string(), r#"["open_proceeding"]"#);
    room.ok(&["notice", "closed", &notice, "--in-short", "closed without action"]);
    assert!(kept(&room, CHART)["refusals"].as_array().unwrap().is_empty());
    // A matter of the office file about this chart stands against it as well.
    let open = office_paper(&room, "a claim", &["--about-chart", CHART]).to_string();
    assert_eq!(kept(&room, CHART)["refusals"].to_string(), r#"["open_proceeding"]"#);
    office_paper(&room, "the claim is over", &["--of", &open, "--closed", "yes"]);
    assert!(kept(&room, CHART)["refusals"].as_array().unwrap().is_empty());
}

#[test]
fn requests_and_reactions_stand_against_it_until_they_are_over() {
    let room = passed();
    let request = room
        .entry(&[
            "request",
            "take",
            CHART,
            "--asker",
            "patient",
            "--from",
            "Jarek Hollowell",
            "--text",
            "my chart",
            "--checked",
            "licence card",
        ])
        .to_string();
    refused(&room, "open-request");
    room.ok(&["request", "close", &request, "--how", "withdrawn", "--words", "taken back by telephone"]);
    assert!(kept(&room, CHART)["refusals"].as_array().unwrap().is_empty());
    let reaction = room
        .entry(&[
            "reaction",
            "open",
            CHART,
            "--what",
            "sore",
            "--began",
            "now",
            "--technique",
            "soft-tissue",
            "--region",
            "lumbar",
            "--severity",
            "mild",
            "--done",
            "heat",
        ])
        .to_string();
    refused(&room, "adverse-reaction");
    room.ok(&["reaction", "close", CHART, &reaction, "--outcome", "gone"]);
    assert!(kept(&room, CHART)["refusals"].as_array().unwrap().is_empty());
}

/// As the owner tried it on 20 October 2025: an old attachment is not destroyed, with every reason.
#[test]
fn an_attachment_alone_is_refused_with_every_reason() {
    let room = passed();
    treated(&room, CHART, "2023-06-01 10:00");
    room.write("xray.txt", "no fracture");
    let paper = room.path("xray.txt").display().to_string();
    let attachment = room
        .entry(&[
            "attach",
            CHART,
            &paper,
            "--kind",
            "imaging-report",
            "--title",
            "X-ray report",
            "--made",
            "2023-06-01",
            "--made-by",
            "imaging",
            "--not-made-here",
            "yes",
            "--received",
            "today",
            "--original",
            "none",
            "--legible",
            "yes",
            "--for-desk",
            "yes",
        ])
        .to_string();
    room.ok(&["hold", "place", CHART, "--reason", "a claim", "--from-whom", "counsel"]);
    let shown = room.run(&["dispose", "attachment", &attachment]);
    assert_eq!(shown.code(), 7, "{}", shown.all());
    let number: u64 =
        shown.out.split("refused is entry ").nth(1).unwrap().trim_end_matches(['.', '\n']).parse().unwrap();
    let entry = record(&room, CHART, number);
    let because: Vec<&str> = entry["data"]["blocked_by"]
        .as_array()
        .unwrap()
        .iter()
        .map(|one| one["because"].as_str().unwrap())
        .collect();
    assert_eq!(because, ["hold", "keep-until", "other"]);
    assert_eq!(entry["data"]["entries"].to_string(), format!("[{attachment}]"));
}

/// A rule that nobody has read at its source destroys nothing by itself: somebody gives a reason, and it is kept.
#[test]
fn a_rule_that_is_not_settled_needs_a_person() {
    let room = with_rules(r#""us-va-20-26""#);
    room.at("2023-06-05T13:05:00-04:00");
    room.patient(CHART, "Jarek Hollowell", "1966-09-17");
    treated(&room, CHART, "2016-05-19 10:00");
    refused(&room, "other");
    let reason = "Read 18 VAC 85-20-26 at the Board's page on 1 June 2023.";
    let shown = destroy(&room, CHART, &["--no-other-copies", "--settled-because", reason]);
    assert_eq!(shown.code(), 0, "{}", shown.all());
    let number = room.json(&["keep", "disposed"])[0]["certificate"].as_u64().unwrap().to_string();
    assert!(
        room.ok(&["keep", "certificate", &number]).contains("18 VAC 85-20-26"),
        "the reason is on the certificate"
    );
}

//! Labels: worked out, kept with the entry, and said in words where it is read.

use crate::common::{OWNER, contact_saying};
use crate::desk::{CHART, Desk, local};
use inkfast::practice::open::Draft;
use inkfast::record::kinds::Data;
use serde_json::{Value, json};

#[test]
fn labels_say_what_was_lacking_and_nobody_typed_them() {
    let desk = Desk::new();
    let first = desk.visit("2024-06-03", true);
    assert!(desk.labels(first).is_empty(), "{:?}", desk.labels(first));
    assert_eq!(desk.record(first).data.get("same_as_last_percent"), None);

    // The same words a week later.
    let second = desk.visit("2024-06-10", false);
    assert_eq!(desk.labels(second), ["carried-forward"]);
    assert_eq!(desk.record(second).data["same_as_last_percent"], json!(100));
    assert!(desk.shown(CHART).contains("reads nearly as the last note; the same as last time: 100 %"));

    // A thrust that was never agreed to, in a region where nothing was found.
    desk.at("2024-06-17T10:00");
    desk.open();
    desk.at("2024-06-17T10:20");
    desk.treat("thrust", "cervical");
    desk.at("2024-06-17T10:30");
    let third = desk.sign(false);
    assert_eq!(desk.labels(third), ["procedure-not-covered", "no-finding-for-region"]);
    let shown = desk.shown(CHART);
    assert!(shown.contains("PROCEDURE NOT COVERED by what was agreed at its time"), "{shown}");
    assert!(shown.contains("no finding that day for a region treated: cervical"), "{shown}");

    // Taken back at 10:05 and typed at 10:30: it counts from when it was said.
    desk.at("2024-06-24T10:00");
    desk.open();
    desk.at("2024-06-24T10:03");
    desk.asked("soft-tissue", "lumbar");
    desk.at("2024-06-24T10:20");
    desk.treat("soft-tissue", "lumbar");
    desk.at("2024-06-24T10:30");
    desk.ok(&[
        "withdraw",
        CHART,
        "--said-by",
        "self",
        "--how",
        "words",
        "--patient-words",
        "no more",
        "--happened",
        "2024-06-24 10:05",
    ]);
    let fourth = desk.sign(false);
    let labels = desk.labels(fourth);
    assert!(labels.contains(&"procedure-after-withdrawal".to_string()), "{labels:?}");

    // A consent that comes after what it allows, in the same visit; and one typed after the visit.
    desk.at("2024-07-01T10:00");
    desk.open();
    desk.at("2024-07-01T10:10");
    desk.treat("soft-tissue", "lumbar");
    desk.at("2024-07-01T10:25");
    desk.consent(None);
    desk.asked("soft-tissue", "lumbar");
    desk.at("2024-07-01T10:30");
    let fifth = desk.sign(false);
    assert!(desk.labels(fifth).contains(&"procedure-before-consent".to_string()), "{:?}", desk.labels(fifth));
    desk.at("2024-07-01T12:00");
    let late = desk.consent(Some("2024-07-01 10:05"));
    assert_eq!(desk.labels(late), ["consent-after-visit"]);
    // A withdrawal told of afterwards, that came before what a signed note tells of: the note is sealed, so
    // the withdrawal says it. The desk does not open the note, and says that it could not be looked up.
    desk.at("2024-07-02T08:30");
    let by_desk = desk.entry_by(
        "DK",
        &[
            "withdraw",
            CHART,
            "--said-by",
            "self",
            "--how",
            "telephone",
            "--patient-words",
            "no more",
            "--happened",
            "2024-07-01 09:00",
        ],
    );
    assert_eq!(desk.labels(by_desk), ["finished-next-day", "coverage-unknown"]);
    desk.at("2024-07-02T09:00");
    let told = desk.entry(&[
        "withdraw",
        CHART,
        "--said-by",
        "self",
        "--how",
        "telephone",
        "--patient-words",
        "I had said stop",
        "--happened",
        "2024-07-01 10:08",
    ]);
    assert_eq!(desk.labels(told), ["finished-next-day", "procedure-after-withdrawal"]);
}

#[test]
fn what_stands_in_a_chart_or_on_a_clock_is_said_of_what_is_written_then() {
    let mut desk = Desk::new();
    desk.small.let_go();
    let tag = desk.small.charts[0].clone();
    let mut minute = 0;
    let mut put = |chart: Option<&str>, kind: &str, data: Value| -> u64 {
        minute += 1;
        desk.small.clock.set(local("2024-06-03T09:00").plus_seconds(60 * minute));
        let now = desk.small.practice.now();
        let data = Data::read(kind, 1, &data).unwrap();
        desk.small.practice.append(Draft::new(chart, data, now)).unwrap().seq
    };
    let said = serde_json::to_value(match contact_saying("rang") {
        Data::Contact(contact) => *contact,
        other => panic!("{other:?}"),
    })
    .unwrap();
    let tag = Some(tag.as_str());
    let plain = put(tag, "contact", said.clone());
    let hold = json!({"reason": "letter of counsel", "from_whom": "counsel", "scope": {"kind": "chart"}, "placed_by": OWNER});
    let hold = put(tag, "hold", hold);
    let held = put(tag, "contact", said.clone());
    put(tag, "hold-lifted", json!({"hold": hold, "by": "counsel", "words": "settled"}));
    let lifted = put(tag, "contact", said.clone());
    put(tag, "notice", json!({"kind": "complaint", "from": "the board", "state": "received"}));
    let noticed = put(tag, "contact", said.clone());
    let wrong =
        json!({"state": "opened", "at_station": "desk", "words": "an hour behind since the battery died"});
    let remark = put(None, "clock-remark", wrong);
    let remarked = put(tag, "contact", said.clone());
    put(
        None,
        "clock-remark",
        json!({"state": "closed", "of": remark, "at_station": "desk", "words": "set right"}),
    );
    let settled = put(tag, "contact", said);
    let none: [&str; 0] = [];
    assert_eq!(desk.labels(plain), none);
    assert_eq!(desk.labels(held), ["after-hold"]);
    assert_eq!(desk.labels(lifted), none);
    assert_eq!(desk.labels(noticed), ["after-notice"]);
    assert_eq!(desk.labels(remarked), ["after-notice", "clock-remarked"]);
    assert_eq!(desk.labels(settled), ["after-notice"]);
}

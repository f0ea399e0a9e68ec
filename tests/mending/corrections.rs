//! Corrections, addenda and late entries, and answers that stay as they were answered.

use crate::common::{OWNER, PASSPHRASE, example_data};
use crate::desk::{CHART, COLLEAGUE, Desk};
use inkfast::cli::exit::Exit;
use inkfast::cli::prompt::ScriptedAsker;
use inkfast::practice::chart::find;
use inkfast::practice::open::Draft;
use inkfast::record::kinds::Data;
use serde_json::{Value, json};

#[test]
fn a_correction_is_picked_typed_checked_and_chained() {
    let desk = Desk::new();
    let note = desk.visit("2024-06-03", true);
    let number = note.to_string();
    desk.at("2024-06-04T09:00");
    let listed = desk.ok(&["correct", CHART, &number, "--list"]);
    assert!(listed.contains("procedures 1, side: left"), "{listed}");
    // At a terminal: the field by its words, a value that cannot be, then one that can.
    let typed = [
        "procedures 1, side",
        "upwards",
        "Right",
        "slip in writing",
        "no",
        "",
        "",
        "still to be told",
        "yes",
    ];
    let (exit, said) = desk.run(OWNER, ScriptedAsker::new(typed), &["correct", CHART, &number]);
    assert_eq!(exit, Exit::Done, "{said}");
    assert!(said.contains("Not taken: accepted is one of: left, right, both, midline"), "{said}");
    let entries = desk.entries();
    let correction = entries.iter().find(|e| e.leaf.kind == "correction").unwrap();
    let first = correction.leaf.seq;
    let Some(Data::Correction(data)) = correction.data() else { panic!() };
    assert_eq!((data.target, data.field.as_str()), (note, "/procedures/0/side"));
    assert_eq!((data.was, data.is), (json!("left"), json!("right")));
    // What the layout can't hold, and what can't be, is refused.
    let plain = ["--because", "slip", "--care-affected", "no", "--not-told-because", "later"];
    let correct = |field: &str, is: &str| -> Vec<String> {
        let head = ["correct", CHART, &number, "--field", field, "--is", is];
        head.iter().chain(plain.iter()).map(|text| (*text).to_string()).collect()
    };
    for (field, is, why) in [
        ("procedures 1, side", "upwards", "accepted is one of"),
        ("colour of the wall", "blue", "no field of this entry"),
        ("procedures 1, at", "2030-01-01 10:00", "This can't be corrected so"),
        ("procedures 1, side", "right", "the same as before"),
        ("same as last percent", "3", "nobody types it"),
    ] {
        let args = correct(field, is);
        desk.refused(OWNER, &args.iter().map(String::as_str).collect::<Vec<_>>(), why);
    }
    // A correction of the correction changes the note, and quotes what stood there.
    let of_first = first.to_string();
    let mut args = vec!["correct", CHART, &of_first, "--field", "/is", "--is", "both"];
    args.extend(plain);
    let second = desk.entry(&args);
    let Data::Correction(data) = desk.record(second).read_data().unwrap() else { panic!() };
    assert_eq!((data.target, data.was, data.is), (first, json!("right"), json!("both")));
    let mut bad = vec!["correct", CHART, &of_first, "--field", "/is", "--is", "sideways"];
    bad.extend(plain);
    desk.refused(OWNER, &bad, "accepted is one of");
    let shown = desk.shown(CHART);
    for mark in [
        format!("[struck by correction no. {first}, 04 Jun 2024, TR]"),
        format!("[new words, correction no. {second}, 04 Jun 2024, TR]"),
    ] {
        assert!(shown.contains(&mark), "{mark}\n{shown}");
    }
    // Old words above new ones, all three of them.
    let places: Vec<usize> = ["Side: left ---", "Side: right ---", "Side: left and right [new"]
        .iter()
        .map(|w| shown.find(w).unwrap())
        .collect();
    assert!(places.is_sorted(), "{places:?}\n{shown}");
}

#[test]
fn another_s_entry_is_corrected_by_the_custodian_who_says_why() {
    let desk = Desk::new();
    desk.at("2024-06-03T09:00");
    let contact = |who: &str| {
        let args = [
            "contact",
            CHART,
            "--direction",
            "incoming",
            "--with",
            "Bettony Craske",
            "--checked",
            "birth date",
            "--said",
            "sore since Monday",
        ];
        desk.entry_by(who, &args)
    };
    let (mine, hers) = (contact(OWNER).to_string(), contact(COLLEAGUE).to_string());
    let correct = |number: &str, more: &[&str]| -> Vec<String> {
        let plain = [
            "correct",
            CHART,
            number,
            "--field",
            "said",
            "--is",
            "sore since Sunday",
            "--because",
            "misheard",
            "--care-affected",
            "no",
            "--not-told-because",
            "not needed",
        ];
        plain.iter().chain(more).map(|text| (*text).to_string()).collect()
    };
    let run = |who: &str, args: Vec<String>| {
        desk.entry_by(who, &args.iter().map(String::as_str).collect::<Vec<_>>())
    };
    let refused = |who: &str, args: Vec<String>, words: &str| {
        desk.refused(who, &args.iter().map(String::as_str).collect::<Vec<_>>(), words);
    };
    refused(COLLEAGUE, correct(&mine, &["--custodian-because", "because"]), "a correction is its author's");
    refused(OWNER, correct(&hers, &[]), "needs the custodian's reason");
    let by_keeper = run(OWNER, correct(&hers, &["--custodian-because", "the author has left"]));
    assert_eq!(desk.labels(by_keeper), ["with-custodians-reason"]);
    let own = run(OWNER, correct(&mine, &["--custodian-because", "no need"]));
    assert!(desk.labels(own).is_empty());
    assert_eq!(desk.record(own).data.get("by_custodian_because"), None);
    // What should not be there at all is struck, and nothing stands in its place.
    let plain = ["--because", "never advised", "--care-affected", "no", "--not-told-because", "not needed"];
    let advised = desk.entry(&[
        "contact",
        CHART,
        "--direction",
        "none",
        "--nobody-because",
        "no answer",
        "--said",
        "rang",
        "--advice",
        "rest",
    ]);
    let number = advised.to_string();
    let head = ["correct", CHART, &number, "--field", "advice", "--nothing"];
    let gone = desk.entry(&head.into_iter().chain(plain).collect::<Vec<_>>());
    assert_eq!(
        (&desk.record(gone).data["was"], &desk.record(gone).data["is"]),
        (&json!("rest"), &json!(null))
    );
    let shown = desk.shown(CHART);
    assert!(shown.contains("Advice: rest ---") && shown.contains("nothing stands in its place"), "{shown}");
}

#[test]
fn what_was_answered_stays_as_it_was_answered() {
    let desk = Desk::new();
    desk.at("2024-06-03T10:00");
    desk.open();
    let consent = desk.consent(None);
    desk.asked("soft-tissue", "lumbar");
    desk.at("2024-06-03T10:10");
    let ask: [&str; 8] = ["may", CHART, "--technique", "soft-tissue", "--region", "lumbar", "--side", "left"];
    let kept: Vec<&str> = ask.iter().copied().chain(["--keep"]).collect();
    let (_, first) = desk.run(OWNER, ScriptedAsker::nobody(), &kept);
    let find_kept = || desk.entries().into_iter().find(|e| e.leaf.kind == "coverage-answer").unwrap();
    let before = find_kept();
    let (Some(Data::CoverageAnswer(answered)), seq) = (before.data(), before.leaf.seq) else { panic!() };
    assert_eq!(answered.agreed.word(), "yes", "{first}");
    let printed = |text: String| -> String {
        let from = text.find(&format!("No. {seq} (")).unwrap();
        text[from..].split("\n\nNo.").next().unwrap().trim_end().to_string()
    };
    let as_shown = printed(desk.ok(&["print", CHART, "--why", "visit"]));
    // The next day the consent is corrected: it never covered that side.
    desk.at("2024-06-04T09:00");
    let number = consent.to_string();
    desk.ok(&[
        "correct",
        CHART,
        &number,
        "--field",
        "side",
        "--is",
        "right",
        "--because",
        "read from the wrong paper",
        "--care-affected",
        "no",
        "--not-told-because",
        "to be told",
    ]);
    let after = find_kept();
    assert_eq!((before.digest.clone(), before.record.clone()), (after.digest.clone(), after.record.clone()));
    assert_eq!(printed(desk.ok(&["print", CHART, "--why", "visit"])), as_shown);
    let at: Vec<&str> = ask.iter().copied().chain(["--at", "2024-06-03 10:10", "--json"]).collect();
    let (_, past) = desk.run(OWNER, ScriptedAsker::nobody(), &at);
    let past: Value = serde_json::from_str(&past[past.find('{').unwrap()..]).unwrap();
    assert_eq!((&past["agreed"], &past["reasons"]), (&json!("yes"), &json!(answered.reasons)), "{past}");
    let cautions = past["cautions"].as_array().unwrap();
    let code = json!("answered-on-a-consent-since-corrected");
    assert!(cautions.iter().any(|caution| caution["code"] == code), "{past}");
    let kept = seq.to_string();
    let plain = ["--because", "slip", "--care-affected", "no", "--not-told-because", "later"];
    let rewrite = ["correct", CHART, &kept, "--field", "answer", "--is", "no"];
    desk.refused(OWNER, &rewrite.into_iter().chain(plain).collect::<Vec<_>>(), "stays as it was answered");
    // And now it is another matter.
    let (exit, now) = desk.run(OWNER, ScriptedAsker::nobody(), &ask);
    assert_eq!(exit, Exit::Wrong, "{now}");
}

#[test]
fn addendum_and_late_entry_are_not_the_same() {
    let desk = Desk::new();
    let note = desk.visit("2024-06-03", true).to_string();
    desk.at("2024-06-10T09:00");
    let addendum = |learned: &str| {
        ["addendum", CHART, "--entry", &note, "--text", "X-ray report: no fracture", "--learned", learned]
            .map(str::to_string)
    };
    let old = addendum("2024-06-03 09:00");
    desk.refused(OWNER, &old.iter().map(String::as_str).collect::<Vec<_>>(), "Use `inkfast late`");
    let new = addendum("2024-06-09 16:00");
    let added = desk.entry(&new.iter().map(String::as_str).collect::<Vec<_>>());
    assert!(desk.labels(added).is_empty());
    let late = ["late", CHART, "--entry", &note, "--text", "told to rest", "--because", "left out in haste"];
    desk.refused(OWNER, &late, "--source");
    let with_source: Vec<&str> = late.iter().copied().chain(["--source", "memory"]).collect();
    let left_out = desk.entry(&with_source);
    assert_eq!(desk.labels(left_out), ["late-entry"]);
    let shown = desk.shown(CHART);
    for words in [format!("[addendum: see no. {added}]"), format!("[late entry: see no. {left_out}]")] {
        assert!(shown.contains(&words), "{words}\n{shown}");
    }
    // Somebody asks for the record; what is added to the past from then on says so.
    desk.at("2024-06-11T09:00");
    let mut practice = desk.small.open_as(OWNER, PASSPHRASE).unwrap();
    let tag = find(&practice, CHART).unwrap().tag;
    let request: Data = example_data("request");
    let now = practice.now();
    let Data::Request(mut request) = request else { panic!() };
    request.received_on = inkfast::record::kinds::Day(now.local_date());
    request.due = None;
    practice.append(Draft::new(Some(&tag), Data::Request(request), now)).unwrap();
    drop(practice);
    desk.at("2024-06-12T09:00");
    let after = desk.entry(&with_source);
    assert_eq!(desk.labels(after), ["late-entry", "after-request"]);
}

//! To whom something was disclosed, and who opened what: an accounting is worked out from the chart, never from
//! memory, and every reading has a reason that somebody looks at.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // In a test a panic is the report.

mod common;

use common::room::{Room, Shown};
use common::{PASSPHRASE, example_data, open_store};
use inkfast::practice::staff;
use inkfast::record::kinds::Data;
use inkfast::record::kinds::register::KeyRole;
use serde_json::{Value, json};

const CHART: &str = "PM-0112";
const OTHER: &str = "PM-0113";
const THEIRS: &str = "seven tin larks";

fn room() -> Room {
    let room = Room::new();
    room.at("2025-02-03T09:00:00-05:00");
    room.patient(CHART, "Bettony Craske", "1988-07-23");
    room
}

/// A colleague at the desk.
fn with_desk(room: &Room) {
    let mut practice = open_store(&room.world, &room.path("store"), "IV", PASSPHRASE).unwrap();
    let Data::Staff(mut line) = example_data("staff") else { panic!() };
    (line.code, line.name, line.initials) = ("DK".into(), "Odo Marsh".into(), "DK".into());
    (line.role, line.on_roster_last_day) = ("desk".into(), None);
    staff::add(&mut practice, *line, vec![KeyRole::Desk], THEIRS, 4).unwrap();
}

fn refused(shown: &Shown, words: &str) {
    let said = shown.all().split_whitespace().collect::<Vec<_>>().join(" ");
    assert_eq!(shown.code(), 7, "{said}");
    assert!(said.contains(words), "{words}\n{said}");
}

/// Something goes out by mail.
fn disclosed(room: &Room, on: &str, basis: &str, to: &str, purpose: &str) -> u64 {
    let when = format!("{on} 10:00");
    let address = if to.contains("Board") { "Board House, Lower Marl" } else { "2 Assize Square" };
    room.entry(&[
        "disclosure",
        CHART,
        "--happened",
        &when,
        "--recipient-name",
        to,
        "--address",
        address,
        "--basis",
        basis,
        "--purpose",
        purpose,
        "--what",
        "Two notes",
        "--pages",
        "3",
        "--channel",
        "post",
        "--checked-by",
        "DK",
    ])
}

fn record(room: &Room, seq: u64) -> Value {
    let number = seq.to_string();
    room.json(&["print", CHART, "--why", "review", "--entry", &number])[0]["record"]["data"].clone()
}

fn numbers(list: &Value) -> Vec<u64> {
    list.as_array().unwrap().iter().map(|one| one["entry"].as_u64().unwrap()).collect()
}

/// A page as it was written; INKFAST_PAGE_TO names a folder that keeps a copy to look at.
fn page(room: &Room, name: &str) -> String {
    let text = std::fs::read_to_string(room.path(name)).unwrap();
    if let Some(folder) = std::env::var_os("INKFAST_PAGE_TO") {
        std::fs::create_dir_all(&folder).unwrap();
        std::fs::write(std::path::Path::new(&folder).join(name), &text).unwrap();
    }
    text
}

#[test]
fn s48_accounting_of_disclosures() {
    let room = room();
    let early = disclosed(&room, "2024-04-15", "order", "Court of Lower Marl", "A hearing about a fall");
    let first =
        disclosed(&room, "2024-05-06", "public-health", "County health office", "Count of jaw injuries");
    let again =
        disclosed(&room, "2024-06-03", "public-health", "County health office", "Count of jaw injuries");
    let bill = disclosed(&room, "2024-06-04", "payment", "Guild Health Plan", "A bill");
    let board = disclosed(&room, "2024-07-01", "oversight", "Board of Manual Practice", "An inquiry");
    let old = disclosed(&room, "2018-01-09", "order", "Court of Lower Marl", "An old matter");

    // Whether it counts is worked out, whatever somebody writes (45 CFR 164.528(a)(1)(i)).
    assert_eq!(record(&room, bill)["counts_for_accounting"], false);
    assert_eq!(record(&room, early)["counts_for_accounting"], true);
    room.write(
        "typed.json",
        &json!({"to": "Guild Health Plan", "address": "Corn Row", "basis": "payment", "purpose": "A bill",
            "what": {"entries": 0, "words": "One date"}, "sealed": "not-sealed", "channel": "telephone",
            "checked_by": "DK", "counts_for_accounting": true})
        .to_string(),
    );
    let typed = room.entry(&["disclosure", CHART, "--data", &room.path("typed.json").display().to_string()]);
    assert_eq!(record(&room, typed)["counts_for_accounting"], false);

    room.at("2025-03-10T09:00:00-04:00");
    refused(&room.run(&["accounting", CHART]), "needs a reason");
    let why = ["--why", "request"];
    let account = |more: &[&str]| -> Value {
        let args: Vec<&str> = ["accounting", CHART].iter().chain(&why).chain(more).copied().collect();
        room.json(&args)["account"].clone()
    };
    let whole = account(&[]);
    assert_eq!((&whole["from"], &whole["until"]), (&json!("2019-03-10"), &json!("2025-03-10")));
    let lines: Vec<&Value> = whole["lines"].as_array().unwrap().iter().map(|line| &line["entries"]).collect();
    assert_eq!(lines, [&json!([early]), &json!([first, again]), &json!([board])]);
    assert_eq!((&whole["lines"][1]["count"], &whole["lines"][1]["last"]), (&json!(2), &json!("2024-06-03")));
    assert_eq!(numbers(&whole["not_counted"]), [bill, typed]);
    assert_eq!((&whole["outside_the_period"], &whole["free"]), (&json!([old]), &json!(true)));
    assert_eq!(account(&["--from", "2024-06-01"])["lines"].as_array().unwrap().len(), 2);

    // The Board asks by telephone that its part be left out: for 30 days, and for nothing but its own.
    let suspend = |number: u64| {
        let number = number.to_string();
        room.run(&[
            "accounting",
            "suspend",
            CHART,
            "--disclosure",
            &number,
            "--agency",
            "Board of Manual Practice, Ms Tench",
            "--how",
            "oral",
            "--statement",
            "Telling now would impede the inquiry.",
        ])
    };
    refused(&suspend(early), "health oversight agency");
    assert_eq!(suspend(board).code(), 0);
    let during = account(&[]);
    assert_eq!(numbers(&during["left_out_for_a_time"]), [board]);

    // A page for the patient does not tell of it, and neither does the patient's summary; one for the practice
    // does, and says that it is not for the patient.
    let [mine, theirs, short] =
        ["mine.html", "theirs.html", "short.html"].map(|n| room.path(n).display().to_string());
    room.ok(&["print", CHART, "--why", "review", "--html", &mine]);
    room.ok(&["print", CHART, "--why", "review", "--for", "patient", "--html", &theirs]);
    room.ok(&["print", CHART, "--why", "review", "--summary", "patient", "--html", &short]);
    assert!(page(&room, "mine.html").contains("Board House"));
    assert!(page(&room, "mine.html").contains("NOT FOR THE PATIENT"));
    for name in ["theirs.html", "short.html"] {
        let text = page(&room, name);
        assert!(!text.contains("Board House") && !text.contains("An inquiry"), "{name}");
        assert!(!text.contains("NOT FOR THE PATIENT") && text.contains("Court of Lower Marl"), "{name}");
    }
    assert!(page(&room, "theirs.html").contains("held back; the practice&#39;s record says why"));

    // A trial page leaves nothing behind; the page that is given is recorded.
    let [trial, given] = ["trial.html", "given.html"].map(|name| room.path(name).display().to_string());
    let run = |more: &[&str]| -> Shown {
        room.run(&["accounting", CHART].iter().chain(&why).chain(more).copied().collect::<Vec<_>>())
    };
    assert_eq!(run(&["--page", &trial, "--trial"]).code(), 0);
    assert!(page(&room, "trial.html").contains("TRIAL PAGE"));
    assert_eq!(account(&[])["earlier"], json!([]));
    refused(&run(&["--page", &given, "--fee", "4.00", "--fee-told-on", "2025-03-10"]), "No fee may be asked");
    assert_eq!(run(&["--page", &given]).code(), 0);
    refused(&run(&["--page", &given]), "exists already");
    let text = page(&room, "given.html");
    for words in
        ["Court of Lower Marl", "2 times", "first: 06 May 2024", "last: 03 Jun 2024", "Guild Health Plan"]
    {
        assert!(text.contains(words), "{words}");
    }
    assert!(text.contains("This record begins on 03 Oct 2022"));
    assert!(!text.contains("Board of Manual Practice") && !text.contains("Ms Tench"));

    // The next one knows of it, and what was left out is told when the time is over.
    room.at("2025-04-10T09:00:00-04:00");
    let after = account(&[]);
    assert_eq!((&after["free"], &after["earlier"]), (&json!(false), &json!(["2025-03-10"])));
    assert_eq!(after["lines"].as_array().unwrap().len(), 3);
    let second = room.path("second.html").display().to_string();
    let paid = run(&["--page", &second, "--fee", "4.00", "--fee-told-on", "2025-04-09", "--json"]);
    assert_eq!(paid.code(), 0, "{}", paid.all());
    let paid: Value = serde_json::from_str(&paid.out).unwrap();
    let kept = record(&room, paid["entry"].as_u64().unwrap());
    assert_eq!((&kept["fee"]["amount"], &kept["free"]), (&json!("4.00"), &json!(false)));
    let digest = blake3::hash(page(&room, "second.html").as_bytes()).to_hex().to_string();
    assert_eq!(kept["digest"], digest);
    assert!(page(&room, "second.html").contains("Board House, Lower Marl"));
    assert_eq!(room.json(&["verify"])["sound"], true);
}

#[test]
fn s49_reading_without_a_visit_or_contact_asks_for_a_reason() {
    let room = room();
    with_desk(&room);
    room.who("DK", THEIRS);
    room.at("2025-02-04T10:00:00-05:00");
    let may = ["may", CHART, "--technique", "thrust", "--region", "lumbar", "--side", "both"];
    let reading: [&[&str]; 6] = [
        &["print", CHART],
        &["print", CHART, "--entry", "9"],
        &["measures", CHART],
        &["openings", CHART],
        &["accounting", CHART],
        &may,
    ];
    for args in reading {
        let shown = room.run(args);
        refused(&shown, "needs a reason");
        assert!(shown.out.is_empty(), "{args:?} showed {}", shown.out);
    }
    assert_eq!(room.json(&["openings", CHART, "--why", "billing"]).as_array().unwrap().len(), 1);
    let shown = room.typed(&["print", CHART], Some(&["nosy", "other", "the plan asks for the birth date"]));
    assert_eq!(shown.code(), 0, "{}", shown.all());
    let opened = room.json(&["openings", CHART]);
    let of = |n: usize| opened[n]["record"]["data"].clone();
    assert_eq!((&of(0)["why"], &of(1)["why"]), (&json!("billing"), &json!("other")));
    assert_eq!(of(1)["words"], "the plan asks for the birth date");

    // A call with the patient is a reason, on that day and for whoever had it.
    room.at("2025-02-05T10:00:00-05:00");
    room.ok(&[
        "contact",
        CHART,
        "--channel",
        "telephone",
        "--direction",
        "incoming",
        "--with",
        "Bettony Craske",
        "--checked",
        "birth date",
        "--said",
        "Comes on Friday.",
    ]);
    room.ok(&["print", CHART]);
    let opened = room.json(&["openings", CHART]);
    assert_eq!(opened[2]["record"]["data"]["why"], "call");
    room.at("2025-02-06T10:00:00-05:00");
    refused(&room.run(&["print", CHART]), "needs a reason");
}

#[test]
fn the_openings_of_a_month_are_reviewed_and_signed_off_by_the_keeper() {
    let room = room();
    room.patient(OTHER, "Mia Marsh", "1990-01-02");
    with_desk(&room);
    room.who("DK", THEIRS);
    for day in ["2025-02-04", "2025-02-11", "2025-02-18"] {
        room.at(&format!("{day}T18:30:00-05:00"));
        room.ok(&["print", CHART, "--why", "billing", "--words", "checking the address"]);
    }
    room.at("2025-02-19T21:40:00-05:00");
    room.ok(&["print", OTHER, "--why", "review"]);
    room.at("2025-03-03T09:00:00-05:00");
    refused(&room.run(&["openings"]), "Only the keeper");
    refused(&room.run(&["openings", "review", "--month", "2025-02"]), "Only the keeper");
    let waits = || -> Vec<Value> {
        let items = room.json(&["open"])["items"].as_array().unwrap().clone();
        items.into_iter().filter(|item| item["kind"] == "openings-review").collect()
    };
    assert!(waits().is_empty(), "it is for the keeper to see");

    room.who("IV", PASSPHRASE);
    let item = waits();
    assert_eq!(
        (&item[0]["due"], item.len()),
        (&json!("2025-03-10"), 1),
        "ten days after the end of the month"
    );
    let month = ["openings", "review", "--month", "2025-02"];
    let looked = room.json(&month);
    assert_eq!(looked["openings"].as_array().unwrap().len(), 4);
    let found: Vec<(String, String)> = looked["findings"]
        .as_array()
        .unwrap()
        .iter()
        .map(|f| (f["key"].as_str().unwrap().to_string(), f["severity"].as_str().unwrap().to_string()))
        .collect();
    let keys: Vec<&str> = found.iter().map(|(key, _)| key.as_str()).collect();
    let expected = [
        "opened-often/DK/PM-0112",
        "relatives-chart/DK/PM-0113",
        "opened-outside-hours/DK/PM-0113",
        "opened-without-visit/DK/PM-0113",
    ];
    for key in expected {
        assert!(keys.contains(&key), "{key} in {keys:?}");
    }
    assert_eq!(keys.len(), expected.len(), "{keys:?}");
    assert!(found.iter().take(2).all(|(_, severity)| severity == "look-first"));
    assert!(looked["findings"].as_array().unwrap().iter().all(|f| !f["remedy"].as_str().unwrap().is_empty()));
    let shown = room.run(&month);
    assert!(
        shown.out.contains("LOOK AT THIS FIRST") && shown.out.contains("checking the address"),
        "{}",
        shown.out
    );

    // Nothing is signed off while something has no answer.
    let sign = |answers: &[&str]| -> Shown {
        room.run(&month.iter().chain(&["--sign-off", "--json"]).chain(answers).copied().collect::<Vec<_>>())
    };
    refused(&sign(&[]), "Without an answer: ");
    let often = "opened-often/DK/PM-0112=ask what it was for";
    let hours = "opened-outside-hours/DK/PM-0113=evening of the stock count";
    let near = "relatives-chart/DK/PM-0113=not related, asked";
    let visit = "opened-without-visit/DK/PM-0113=sent the reminder";
    refused(
        &sign(&["--follow-up", often, "--fine", hours, "--fine", near]),
        "opened-without-visit/DK/PM-0113",
    );
    let all = ["--follow-up", often, "--fine", hours, "--fine", near, "--fine", visit];
    let signed = sign(&all);
    assert_eq!(signed.code(), 0, "{}", signed.all());
    assert_eq!(serde_json::from_str::<Value>(&signed.out).unwrap()["kind"], "check-made");
    refused(&sign(&all), "signed off already");
    assert!(waits().is_empty());

    let practice = open_store(&room.world, &room.path("store"), "IV", PASSPHRASE).unwrap();
    let checks = practice.register_of(&["check-made"]).unwrap();
    let Some(Data::CheckMade(check)) = checks.last().and_then(inkfast::practice::open::Entry::data) else {
        panic!()
    };
    assert_eq!((check.month.as_deref(), check.openings, check.sound), (Some("2025-02"), Some(4), false));
    assert_eq!(check.answers.len(), 4);
    assert_eq!(check.follow_up.as_deref(), Some("ask what it was for"));
}

#[test]
fn the_keeper_answers_at_the_terminal() {
    let room = room();
    with_desk(&room);
    room.who("DK", THEIRS);
    room.at("2025-02-04T18:30:00-05:00");
    room.ok(&["print", CHART, "--why", "billing"]);
    room.who("IV", PASSPHRASE);
    room.at("2025-02-20T09:00:00-05:00");
    refused(&room.run(&["openings", "review", "--month", "2025-02", "--sign-off"]), "is not over");
    room.at("2025-03-03T09:00:00-05:00");
    let answers = ["yes", "perhaps", "fine", "", "bill of 3 February"];
    let shown = room.typed(&["openings", "review"], Some(&answers));
    assert_eq!(shown.code(), 0, "{}", shown.all());
    assert!(shown.out.contains("Sealed: Check of the register"), "{}", shown.out);
}

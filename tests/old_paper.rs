//! Old paper charts: entered on the index, scanned, compared page by page, and destroyed only with a reason and after
//! the scan was checked. PM-0003 of the example practice has 14 pages in cabinet C2.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // In a test a panic is the report.

mod common;

use common::check;
use common::room::Room;
use serde_json::Value;

const CHART: &str = "PM-0003";

fn room() -> Room {
    let room = Room::new();
    room.at("2022-11-14T12:30:00-05:00");
    room.patient(CHART, "Silas Umberlow", "1949-02-11");
    room
}

fn index(room: &Room) -> String {
    let words = [
        "paper",
        "index",
        CHART,
        "--name",
        "Silas Umberlow",
        "--born",
        "1949-02-11",
        "--pages",
        "14",
        "--kept-at",
        "cabinet C2",
        "--last-treated",
        "2016-05-19",
        "--keep-until",
        "2023-05-19",
    ];
    room.entry(&words).to_string()
}

fn scan(room: &Room, paper: &str, pages: &str, legible: &str) -> String {
    room.write("scan.pdf", &format!("scan of {pages}"));
    let file = room.path("scan.pdf").display().to_string();
    let words = [
        "attach",
        CHART,
        &file,
        "--kind",
        "other",
        "--title",
        "old paper chart",
        "--made",
        "2016-05-19",
        "--made-by",
        "this practice",
        "--not-made-here",
        "no",
        "--pages",
        pages,
        "--original",
        "kept",
        "--original-at",
        "cabinet C2",
        "--legible",
        legible,
        "--entries",
        paper,
    ];
    let shown = room.run(&words);
    assert_eq!(shown.code(), 0, "{}", shown.all());
    shown.all()
}

fn original(room: &Room, paper: &str, more: &[&str]) -> (u8, String) {
    let shown = room.run(&[&["paper", "original", CHART, "--paper", paper][..], more].concat());
    (shown.code(), shown.all().split_whitespace().collect::<Vec<_>>().join(" "))
}

fn listed(room: &Room) -> Value {
    room.json(&["paper", "list", CHART, "--why", "review"])[0].clone()
}

const SHREDDED: [&str; 6] =
    ["--state", "destroyed", "--method", "shredded", "--because", "scanned and checked"];

#[test]
fn a_missing_page_is_named_and_nothing_is_destroyed_before_the_scan_was_checked() {
    let room = room();
    let paper = index(&room);
    let (code, said) = original(&room, &paper, &SHREDDED);
    assert!(code == 7 && said.contains("no scan of it"), "{said}");
    let said = scan(&room, &paper, "13", "yes");
    assert!(said.contains("the scans have 13 pages, the paper has 14: 1 missing"), "{said}");
    assert_eq!(listed(&room)["differences"].as_array().unwrap().len(), 1);
    let said = scan(&room, &paper, "1", "yes");
    assert!(!said.contains("missing"), "{said}");
    let (code, said) = original(&room, &paper, &SHREDDED);
    assert!(code == 7 && said.contains("nobody has checked"), "{said}");
    // Looked through: one page fewer than scanned is named, and stands against destroying.
    original(&room, &paper, &["--state", "checked", "--pages", "13"]);
    let (code, said) = original(&room, &paper, &SHREDDED);
    assert!(code == 7 && said.contains("looked through were 13 pages"), "{said}");
    assert_eq!(original(&room, &paper, &["--state", "checked", "--pages", "14"]).0, 0);
    let (code, said) = original(&room, &paper, &["--state", "destroyed", "--method", "shredded"]);
    assert!(code == 4, "without a reason: {said}");
    assert_eq!(original(&room, &paper, &SHREDDED).0, 0);
    let list = listed(&room);
    assert_eq!((&list["fate"][1]["state"], &list["fate"][1]["by"]), (&"destroyed".into(), &"IV".into()));
    let text = room.ok(&["paper", "list", CHART, "--why", "review"]);
    assert!(text.contains("destroyed"), "{text}");
    let page = room.printed(CHART);
    for words in ["cabinet C2", "14", "shredded", "scanned and checked"] {
        assert!(page.contains(words), "{words}\n{page}");
    }
    assert!(check(&room.path("store")).sound);
}

#[test]
fn what_came_after_the_check_is_not_checked_and_what_is_gone_is_recorded_as_it_was() {
    let room = room();
    let paper = index(&room);
    scan(&room, &paper, "14", "yes");
    assert_eq!(original(&room, &paper, &["--state", "checked", "--pages", "14"]).0, 0);
    let said = scan(&room, &paper, "2", "no");
    assert!(
        said.contains("16 pages, the paper has 14: 2 too many") && said.contains("can be read"),
        "{said}"
    );
    assert!(listed(&room)["checked"].is_null());
    assert_eq!(original(&room, &paper, &SHREDDED).0, 7);
    let (code, said) =
        original(&room, &paper, &[&SHREDDED[..], &["--unchecked-because", "the flood took it"]].concat());
    assert_eq!(code, 0, "{said}");
    assert!(room.ok(&["paper", "list", CHART, "--why", "review"]).contains("NOT"));
    assert!(room.printed(CHART).contains("the flood took it"));
    let (code, said) = original(&room, "1", &SHREDDED);
    assert!(code == 2 && said.contains("no paper chart"), "{said}");
}

//! The situations of a practice, S01 to S40: each one is lived through with the real commands on a store,
//! and the printed chart is read afterwards. What is expected is common practice of the trade where no
//! source is named beside it.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // In a test a panic is the report.

mod after;
mod agreeing;
#[path = "../common/mod.rs"]
mod common;
mod people;
mod putting_right;
mod room;

use common::room::{Room, Shown};

const CHART: &str = "PM-0112";
const MORNING: &str = "2025-03-10T09:00:00-04:00";

/// A room with one grown patient, on the morning of 10 March 2025.
fn with_patient() -> Room {
    let room = Room::new();
    room.at(MORNING).patient(CHART, "Bettony Craske", "1988-07-23");
    room
}

/// A consent signed on paper and explained now, with what every consent says.
fn consent(room: &Room, kind: &str, techniques: &str, regions: &str, side: &str, more: &[&str]) -> u64 {
    let usual = [
        "consent",
        CHART,
        "--kind",
        kind,
        "--form",
        "written-signed",
        "--wording",
        "F1",
        "--techniques",
        techniques,
        "--regions",
        regions,
        "--side",
        side,
        "--given-by",
        "self",
    ];
    let words: Vec<&str> = usual.iter().chain(more).copied().collect();
    room.entry(&words)
}

/// What the consents say about the explanation.
const EXPLAINED: [&str; 6] =
    ["--explained-by", "IV", "--explained-at", "now", "--risks", "soreness,stiffness"];

/// Opens a visit with identity confirmed.
fn open_visit(room: &Room) -> u64 {
    room.entry(&["visit", "open", CHART, "--room", "room 1", "--identifiers", "full-name,birth-date"])
}

/// True when the words stand on the page in this order.
fn in_order(page: &str, words: &[&str]) -> bool {
    let mut rest = page;
    words.iter().all(|w| match rest.split_once(w) {
        Some((_, after)) => {
            rest = after;
            true
        }
        None => false,
    })
}

/// Asserts that all words stand on the page.
fn reads(page: &str, words: &[&str]) {
    for w in words {
        assert!(page.contains(w), "not on the page: {w}\n{page}");
    }
}

/// Asserts what `may` answers: 0 yes, 3 ask first, 1 no; and what it says.
fn answers(shown: &Shown, code: u8, words: &[&str]) {
    assert_eq!(shown.code(), code, "{}", shown.all());
    for w in words {
        assert!(shown.out.contains(w), "not said: {w}\n{}", shown.all());
    }
}

/// What every consent to work inside the mouth explains, so that nothing of it is missing later.
const MOUTH_EXPLAINED: [&str; 14] = [
    "--explained-by",
    "IV",
    "--explained-at",
    "now",
    "--risks",
    "soreness,jaw-ache,gag,bite-reflex,mouth-abrasion",
    "--procedures",
    "pressure on the cheek muscle from inside",
    "--alternatives",
    "from outside only, or nothing",
    "--questions",
    "does it hurt?",
    "--answered",
    "yes",
];

/// What is told, thought, advised and planned in an ordinary later visit.
const SAID: [&str; 14] = [
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
];

/// Signs the note of the open visit, with what an ordinary later visit says and what the test adds.
fn sign(room: &Room, more: &[&str]) -> u64 {
    let words: Vec<&str> = ["sign", CHART].iter().chain(&SAID).chain(more).copied().collect();
    room.entry(&words)
}

/// Opens a visit, finds the low back tight on the left and treats it.
fn treated(room: &Room) -> u64 {
    let visit = open_visit(room);
    room.ok(&["note", CHART, "lumbar L tight", "lumbar L soft 4 relieved 3>2"]);
    visit
}

//! Promises: who may receive decides whether anything goes out; every clock is reckoned and shown; what went
//! out is written down with the digest of its file; papers of the office are in no package. The situations
//! S41 to S46, and of S47 what concerns papers outside the chart, with the real commands.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // In a test a panic is the report.

mod audits;
#[path = "../common/mod.rs"]
mod common;
mod others;
mod patients;

use common::archive::members;
use common::room::Room;
use inkfast::record::rulebook::EXAMPLE;
use inkfast::render::check_page;
use inkfast::seal::age_file::{Identity, With, open};
use serde_json::{Value, json};

const CHART: &str = "PM-0112";

/// One grown patient, with these clocks adopted, on Friday 31 January 2025.
fn with_clocks(clocks: &str) -> Room {
    let room = Room::new();
    let rules = EXAMPLE
        .replace(r#"clocks = ["lm-access", "lm-amendment"]"#, &format!("clocks = [{clocks}]"))
        .replace("edition = \"example-1\"", "edition = \"test-1\"");
    assert!(rules.contains(clocks), "the example's list of clocks was found");
    room.write("mine.toml", &rules);
    room.at("2025-01-31T09:00:00-05:00");
    room.ok(&["rules", "adopt", &room.path("mine.toml").display().to_string()]);
    room.patient(CHART, "Bettony Craske", "1988-07-23");
    room
}

/// Takes a request with identity checked; gives its number.
fn take(room: &Room, asker: &str, from: &str, more: &[&str]) -> u64 {
    let usual = [
        "request",
        "take",
        CHART,
        "--asker",
        asker,
        "--from",
        from,
        "--text",
        "as the letter says",
        "--checked",
    ];
    let words: Vec<&str> = usual.iter().copied().chain(["called back"]).chain(more.iter().copied()).collect();
    room.entry(&words)
}

fn show(room: &Room, request: u64) -> Value {
    room.json(&["request", "show", &request.to_string()])
}

fn stops(room: &Room, request: u64) -> Vec<String> {
    let shown = show(room, request);
    shown["stops"].as_array().unwrap().iter().map(|stop| stop["id"].as_str().unwrap().to_string()).collect()
}

/// A paper that came, attached.
fn paper(room: &Room, title: &str, words: &str) -> String {
    room.write("paper.txt", words);
    let file = room.path("paper.txt").display().to_string();
    let number = room.entry(&[
        "attach",
        CHART,
        &file,
        "--kind",
        "letter",
        "--title",
        title,
        "--made",
        "2025-01-20",
        "--made-by",
        "the office",
        "--not-made-here",
        "yes",
        "--received",
        "today",
        "--original",
        "kept",
        "--legible",
        "yes",
        "--for-desk",
        "yes",
    ]);
    number.to_string()
}

/// Words as they are read, wherever a line was broken.
fn flat(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// What a list of the day holds, as words and days: in a table a line is broken within its column.
fn items(room: &Room, list: &str) -> String {
    room.json(&[list])["items"].to_string()
}

/// A visit without a signed note, on this day.
fn visit(room: &Room, when: &str) -> u64 {
    room.at(when);
    let visit =
        room.entry(&["visit", "open", CHART, "--room", "room 1", "--identifiers", "full-name,birth-date"]);
    room.ok(&["visit", "close", CHART]);
    visit
}

fn contact(room: &Room, when: &str, said: &str) -> u64 {
    room.at(when);
    room.entry(&[
        "contact",
        CHART,
        "--channel",
        "telephone",
        "--direction",
        "incoming",
        "--with",
        "B. C.",
        "--checked",
        "voice",
        "--said",
        said,
    ])
}

/// What a release says besides the request.
const SENT: [&str; 6] = [
    "--no-address-because",
    "fetched here",
    "--channel",
    "handed over",
    "--not-checked-because",
    "nobody else here",
];

/// Answers with a package sealed to a new key: the exit code, what was said, and the files in it.
fn answer(room: &Room, request: u64, name: &str, more: &[&str]) -> (u8, String, Vec<(String, Vec<u8>)>) {
    let key = Identity::generate();
    let to = key.recipient().to_string();
    let file = room.path(name);
    let (number, path) = (request.to_string(), file.display().to_string());
    let usual = ["request", "answer", &number, "--to", &to, "--file", &path];
    let words: Vec<&str> = usual.iter().copied().chain(SENT).chain(more.iter().copied()).collect();
    let shown = room.run(&words);
    if !file.exists() {
        return (shown.code(), shown.all(), Vec::new());
    }
    let sealed = std::fs::read(&file).unwrap();
    let plain = open(&With::Identities(std::slice::from_ref(&key)), &sealed).unwrap().to_vec();
    (shown.code(), shown.all(), members(&plain))
}

/// True where a file of the package holds these words. The page that checks it names every kind of record there is; it
/// is the same in every package, so it tells nothing of this one.
fn holds(package: &[(String, Vec<u8>)], words: &str) -> bool {
    let same_in_all =
        |name: &str, bytes: &[u8]| name == check_page::NAME && bytes == check_page::PAGE.as_bytes();
    package
        .iter()
        .filter(|(name, bytes)| !same_in_all(name, bytes))
        .any(|(_, bytes)| bytes.windows(words.len()).any(|part| part == words.as_bytes()))
}

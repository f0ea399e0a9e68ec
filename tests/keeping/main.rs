//! Promises: how long a chart is kept follows from its own entries and the adopted rules, anew whenever it is asked;
//! what must not be destroyed is not; and a chart that was destroyed by two people is gone: nothing left in the
//! store opens it, and everything else still verifies. S52 with the real commands.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // In a test a panic is the report.

#[path = "../common/mod.rs"]
mod common;
mod cut_off;
mod gone;
mod held;
mod until;

use common::room::Room;
use common::{SECOND, second_signer};
use inkfast::record::rulebook::EXAMPLE;
use serde_json::Value;

/// A room in which HL, of the desk, signs beside the owner; with these retention rules adopted.
fn with_rules(rules: &str) -> Room {
    let room = Room::new();
    let text = EXAMPLE
        .replace(r#"retention = ["lm-1"]"#, &format!("retention = [{rules}]"))
        .replace("edition = \"example-1\"", "edition = \"test-1\"");
    assert!(text.contains(rules), "the example's list of rules was found");
    room.write("mine.toml", &text);
    room.ok(&["rules", "adopt", &room.path("mine.toml").display().to_string()]);
    room.write("pw-second", &format!("{SECOND}\n"));
    second_signer(&room.world, &room.path("store"), "IV");
    room
}

/// One visit of a chart, on this day.
fn treated(room: &Room, chart: &str, when: &str) -> u64 {
    let visit = room.entry(&["visit", "open", chart, "--usual", "--room", "room 1", "--happened", when]);
    room.ok(&["visit", "close", chart, "--ended", "as-planned", "--happened", when]);
    visit
}

/// An old paper chart on the index of a chart, whose last treatment was on this day.
fn old_paper(room: &Room, chart: &str, name: &str, last: &str) -> u64 {
    let usual =
        ["paper", "index", chart, "--name", name, "--pages", "14", "--kept-at", "cabinet C2, folder U"];
    room.entry(&[&usual[..], &["--last-treated", last]].concat())
}

/// Destroys a chart; gives what was shown.
fn destroy(room: &Room, chart: &str, more: &[&str]) -> common::room::Shown {
    let file = room.path("pw-second").display().to_string();
    let usual = ["dispose", "chart", chart, "--destroy", "--second", "HL", "--second-passphrase-file", &file];
    room.run(&usual.iter().chain(more).copied().collect::<Vec<_>>())
}

/// Through which day a chart is kept, and everything that is said of it.
fn kept(room: &Room, chart: &str) -> Value {
    room.json(&["keep", "until", "--chart", chart, "--why", "review"])["kept"].clone()
}

/// Words as they are read, wherever a line was broken.
fn flat(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

//! A visit typed as lines: each line is in the sealed draft at once, what is ambiguous is asked, what can't
//! be is refused and the rest is kept.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // In a test a panic is the report.

mod common;

use common::{OWNER, PASSPHRASE, Small};
use inkfast::cli::app;
use inkfast::cli::exit::Exit;
use inkfast::cli::prompt::ScriptedAsker;
use serde_json::Value;

/// A store with one chart in which a visit is open.
struct Room {
    small: Small,
}

impl Room {
    fn new() -> Room {
        let mut small = Small::new(1 << 20, 1);
        std::fs::write(small.dir.path().join("pw"), format!("{PASSPHRASE}\n")).unwrap();
        let tag = small.charts[0].clone();
        small.add(Some(&tag), "visit-opened");
        small.clock.set(common::moment("2025-09-22T11:00:00-04:00"));
        small.let_go();
        Room { small }
    }

    fn run(&self, args: &[&str], asker: &mut ScriptedAsker) -> (Exit, String) {
        let (root, pw) = (self.small.root(), self.small.dir.path().join("pw"));
        let who =
            ["--store", root.to_str().unwrap(), "--as", OWNER, "--passphrase-file", pw.to_str().unwrap()];
        let typed: Vec<&str> = ["inkfast"].iter().chain(args).chain(&who).copied().collect();
        let matches = app::command().try_get_matches_from(typed).unwrap();
        let mut out = Vec::new();
        let exit = app::run(&matches, self.small.world.clone(), asker, &mut out);
        (exit, String::from_utf8(out).unwrap())
    }

    fn alone(&self, args: &[&str]) -> (Exit, String, String) {
        let mut nobody = ScriptedAsker::nobody();
        let (exit, out) = self.run(args, &mut nobody);
        (exit, out, nobody.shown())
    }

    fn shown(&self) -> String {
        self.alone(&["note", "PM-0112", "--show"]).1
    }
}

#[test]
fn lines_go_into_the_draft_and_what_can_not_be_is_left_out() {
    let room = Room::new();
    let (exit, out, said) = room.alone(&[
        "note",
        "PM-0112",
        "C5-6 R restricted rotation",
        "masseter tender",
        "C5-6 R mob III 4>2",
        "T12 L tender",
        "opening 38mm before",
        "C2-3 L thrust deferred because declined today",
        "check comfort 3",
    ]);
    assert_eq!(exit, Exit::BadInput, "{out}{said}");
    assert!(said.contains("side is missing") && said.contains("vertebra T12 L tender"), "{said}");
    assert!(said.contains("Every other line is kept"), "{said}");
    let shown = room.shown();
    for words in
        ["1. Found: motion segment C5-C6, right", "2. Done: motion segment C5-C6", "3. Not done", "4. Asked"]
    {
        assert!(shown.contains(words), "{words}\n{shown}");
    }
    assert!(shown.contains("5. Measured before treatment: mouth opening: 38 mm"), "{shown}");
    let (exit, out, _) = room.alone(&["note", "PM-0112", "--drop", "2"]);
    assert_eq!(exit, Exit::Done);
    assert!(out.contains("Taken out") && !room.shown().contains("Done:"), "{out}");
    assert_eq!(room.alone(&["note", "PM-0112", "--drop", "9"]).0, Exit::CouldNot);
}

#[test]
fn at_a_terminal_what_is_ambiguous_is_asked_and_each_line_is_kept_at_once() {
    let room = Room::new();
    let mut hand =
        ScriptedAsker::new(["T12 L tender 2", "7", "1", "L5S1 R thrust ok", "", "TMJ L clik", "TMJ L click"]);
    // Input ends without an empty line, as when the power goes: what was typed is there.
    let (exit, out) = room.run(&["note", "PM-0112"], &mut hand);
    assert_eq!(exit, Exit::Done, "{}", hand.shown());
    let asked = hand.shown();
    assert!(asked.contains("1 Found: vertebra T12, left"), "{asked}");
    assert!(asked.contains("2 Found: motion segment T1-T2, left"), "{asked}");
    assert!(asked.contains("\"clik\"") && asked.contains("click"), "{asked}");
    assert!(out.contains("1. Found: vertebra T12, left"), "{out}");
    assert!(out.contains("2. Found: left temporomandibular joint: joint sound; click"), "{out}");
    assert!(!out.contains("L5-S1"), "{out}");
}

#[test]
fn the_other_commands_take_lines_of_their_own_sort() {
    let room = Room::new();
    for (args, exit) in [
        (&["finding", "PM-0112", "masseter L tender 3", "opening 38mm before"][..], Exit::Done),
        (&["procedure", "PM-0112", "masseter L intraoral nitrile fresh 3x30s 5>2 sore"], Exit::Done),
        (&["recheck", "PM-0112", "opening 41 after"], Exit::Done),
        (&["recheck", "PM-0112", "masseter L tender 3"], Exit::BadInput),
        (&["finding", "PM-0112", "masseter L tender 3", "--side", "left"], Exit::BadInput),
    ] {
        let (got, out, said) = room.alone(args);
        assert_eq!(got, exit, "{args:?}\n{out}{said}");
    }
    let (_, out, _) = room.alone(&["note", "PM-0112", "--show", "--json"]);
    let value: Value = serde_json::from_str(&out).unwrap();
    assert_eq!(value["draft"].as_array().unwrap().len(), 4, "{out}");
    assert!(value["draft"][1]["words"].as_str().unwrap().contains("nitrile gloves, fresh pair"), "{out}");
}

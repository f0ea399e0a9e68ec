//! Rehearsed, restored, stolen: with the real commands.

use super::desk::{Desk, code, text};
use super::{CHART, NAME, call, practice, snapshot};
use serde_json::Value;
use std::process::{Command, Output};

/// The slip over everything so far, as typed: the number and the code.
fn slip(desk: &Desk) -> (u64, String) {
    let slip = desk.json(&["slip", "--show"]);
    (slip["number"].as_u64().unwrap(), format!("{}:{}", slip["number"], slip["code"].as_str().unwrap()))
}

/// Runs the program as on a new computer: nothing is kept outside there, and nobody is unlocked.
fn elsewhere(desk: &Desk, args: &[&str]) -> Output {
    std::fs::create_dir_all(desk.path("elsewhere/run")).unwrap();
    Command::new(env!("CARGO_BIN_EXE_inkfast"))
        .args(args)
        .current_dir(desk.path("."))
        .env("INKFAST_STORE", "new")
        .env("XDG_STATE_HOME", desk.path("elsewhere"))
        .env("XDG_RUNTIME_DIR", desk.path("elsewhere/run"))
        .env_remove("INKFAST_AS")
        .env_remove("INKFAST_OUTSIDE")
        .stdin(std::process::Stdio::null())
        .output()
        .unwrap()
}

fn there(desk: &Desk, exit: i32, args: &[&str], words: &str) -> String {
    let output = elsewhere(desk, args);
    let said = text(&output);
    assert_eq!(code(&output), exit, "{args:?}\n{said}");
    assert!(said.contains(words), "{args:?}: no {words:?} in\n{said}");
    said
}

const ME: [&str; 4] = ["--as", "IV", "--passphrase-file", "pw"];

#[test]
fn a_rehearsal_opens_the_copy_with_the_sheet_alone_and_touches_nothing() {
    let desk = practice();
    let (_, old) = slip(&desk);
    desk.ok(&["safecopy", "stick", "--called", "blue stick"]);
    std::fs::create_dir(desk.path("scratch")).unwrap();
    let (store, copy) = (snapshot(&desk.path("store")), snapshot(&desk.path("stick")));
    let usual = ["rehearse", "stick", "--sheet-file", "sheet", "--in", "scratch"];
    for more in [&["--slip", &old][..], &["--all", "--slip", &old]] {
        let tried = desk.json(&[&usual[..], more].concat());
        assert_eq!((&tried["passed"], &tried["recorded"]), (&true.into(), &Value::Null), "{tried}");
        let opened = tried["opened"].as_array().unwrap();
        let what: Vec<&str> = opened.iter().map(|one| one["what"].as_str().unwrap()).collect();
        for sort in ["Contact", "Attachment", "the file of this attachment", "Sealed file kept"] {
            assert!(what.contains(&sort), "{sort}: {what:?}");
        }
        // With --all, each entry of the copy, and the file of the attachment.
        let all = tried["check"]["entries"].as_u64().unwrap() as usize + 1;
        assert_eq!(opened.len() == all, more.contains(&"--all"), "{what:?}");
    }
    let said = desk.ok(&usual);
    assert!(
        said.contains("REHEARSED") && said.contains("No slip was compared") && !said.contains(NAME),
        "{said}"
    );
    // Another sheet, a mistyped one, and a slip that is newer than the copy.
    let other = inkfast::seal::age_file::Identity::generate();
    desk.secret("other", &other.to_text());
    let with = |sheet: &'static str| ["rehearse", "stick", "--sheet-file", sheet, "--in", "scratch"];
    desk.refused(1, &with("other"), "this sheet does not open this copy");
    desk.secret("mistyped", &other.to_text().replacen('Q', "P", 1).replacen('Z', "2", 1));
    desk.refused(4, &with("mistyped"), "no line of a recovery sheet");
    assert!(store == snapshot(&desk.path("store")) && copy == snapshot(&desk.path("stick")), "touched");
    call(&desk, "after the copy");
    let (_, newer) = slip(&desk);
    desk.refused(8, &[&usual[..], &["--slip", &newer]].concat(), "OLDER THAN A SLIP");
    // Asked for, the rehearsal is recorded.
    let tried = desk.json(&[&usual[..], &["--record"]].concat());
    assert!(tried["recorded"].as_u64().is_some(), "{tried}");
    // A copy that was cut off since it was made says so by itself.
    let path = desk.path("stick").join(super::FIRST);
    let mut bytes = std::fs::read(&path).unwrap();
    let end = bytes.iter().rposition(|b| *b != 0).unwrap();
    bytes[end - 40..].fill(0);
    std::fs::write(&path, bytes).unwrap();
    desk.refused(1, &usual, "cut off since it was made");
    // Restored all the same, it is an older copy like any other: read, and not written to.
    there(&desk, 8, &["restore", "stick", "new"], "OLDER");
    there(&desk, 8, &[&["slip"][..], &ME].concat(), "slip behind");
    assert_eq!(std::fs::read_dir(desk.path("scratch")).unwrap().count(), 0, "a scratch folder was left");
}

#[test]
fn an_older_copy_is_recognised_by_a_slip_and_not_written_to_before_the_owner_says_why() {
    let desk = practice();
    desk.ok(&["safecopy", "stick", "--called", "blue stick"]);
    call(&desk, "the last call before the theft");
    let (number, newest) = slip(&desk);
    desk.ok(&["safecopy", "later", "--called", "red stick"]);
    desk.ok(&["lock"]);
    // The computer is gone; the older of the two copies is at hand, and the day book.
    std::fs::rename(desk.path("store"), desk.path("stolen")).unwrap();
    let said =
        there(&desk, 8, &["restore", "stick", "new", "--slip", &newest], "It is OLDER than what is known");
    assert!(said.contains(&number.to_string()) && said.contains("slip behind"), "{said}");
    there(&desk, 1, &["verify"], "behind-outside");
    let contact = [
        &["contact", CHART, "--channel", "telephone", "--direction", "incoming", "--with", "the patient"][..],
        &["--checked", "birth date", "--said", "on the new computer", "--outcome", "noted", "--done", "yes"],
        &ME,
    ]
    .concat();
    there(&desk, 8, &contact, "inkfast slip behind");
    // Reading leaves an entry, so of the chart nothing is shown before either; a list shows what it may.
    there(&desk, 0, &[&["patient", "list"][..], &ME].concat(), NAME);
    let why = ["slip", "behind", "--because", "stolen; the newest copy was a day old"];
    there(&desk, 0, &[&why[..], &ME].concat(), "Work goes on from here");
    there(&desk, 0, &contact, "Sealed");
    there(&desk, 0, &["verify"], "SOUND");
    there(&desk, 1, &["verify", "--slip", &newest], "NOT SOUND");
    there(&desk, 7, &[&why[..], &ME].concat(), "not behind");
}

#[test]
fn a_newer_copy_found_later_settles_it() {
    let desk = practice();
    desk.ok(&["safecopy", "stick", "--called", "blue stick"]);
    call(&desk, "the last call before the theft");
    let (_, newest) = slip(&desk);
    desk.ok(&["safecopy", "later", "--called", "red stick"]);
    std::fs::rename(desk.path("store"), desk.path("stolen")).unwrap();
    there(&desk, 8, &["restore", "stick", "new", "--slip", &newest], "OLDER");
    std::fs::rename(desk.path("new"), desk.path("put away")).unwrap();
    // The same computer, where the slip is still kept.
    let restored = ["restore", "later", "new", "--slip", &newest, "--as", "IV", "--passphrase-file", "pw"];
    let said = there(&desk, 0, &restored, "Recorded as number");
    assert!(said.contains("SOUND") && !said.contains("OLDER"), "{said}");
    there(&desk, 0, &["verify", "--slip", &newest], "SOUND");
    there(&desk, 7, &["restore", "later", "new"], "is not empty");
}

#[test]
fn the_same_computer_knows_an_older_copy_without_any_slip() {
    let desk = practice();
    desk.ok(&["safecopy", "stick", "--called", "blue stick"]);
    call(&desk, "one more");
    std::fs::rename(desk.path("store"), desk.path("burnt")).unwrap();
    desk.refused(8, &["restore", "stick", "store"], "OLDER than what is known");
    desk.refused(8, &["slip"], "slip behind");
    desk.ok(&["slip", "behind", "--because", "the disk burnt"]);
    call(&desk, "and on");
    assert!(desk.ok(&["verify"]).contains("SOUND"));
}

#[test]
fn a_damaged_copy_is_not_restored_unless_it_is_the_last_there_is() {
    let desk = practice();
    desk.ok(&["safecopy", "stick", "--called", "blue stick"]);
    let path = desk.path("stick").join(super::FIRST);
    let mut bytes = std::fs::read(&path).unwrap();
    bytes[2000] ^= 1;
    std::fs::write(&path, bytes).unwrap();
    let said = there(&desk, 1, &["restore", "stick", "new"], "NOT RESTORED");
    assert!(said.contains("--although-damaged"), "{said}");
    there(&desk, 7, &[&["patient", "list"][..], &ME].concat(), "nobody works in it");
    there(&desk, 1, &["restore", "stick", "new", "--although-damaged"], "It is DAMAGED");
    there(&desk, 2, &[&["safecopy", "other", "--called", "x"][..], &ME].concat(), "No copy is made of it");
    there(&desk, 2, &["restore", "nowhere", "new2"], "no safe copy in nowhere");
}

#[test]
fn on_the_day_of_a_theft_it_can_be_said_what_was_on_the_computer_without_a_name() {
    let desk = practice();
    let (number, newest) = slip(&desk);
    desk.ok(&["safecopy", "stick", "--called", "blue stick"]);
    let whole: Value = desk.json(&["verify"]);
    // With somebody unlocked, on the store; and without any key, from a copy.
    let stolen = ["stolen", "--was", "unlocked", "--slip", &newest, "--page", "page.html"];
    let output = desk.json(&stolen);
    assert_eq!(
        (&output["held"]["entries"], &output["held"]["charts"]),
        (&whole["entries"], &whole["charts"])
    );
    assert_eq!((&output["held"]["attachments"], &output["held"]["people"]), (&1.into(), &1.into()));
    let kinds = output["held"]["kinds"].as_array().unwrap();
    let counted: u64 = kinds.iter().map(|kind| kind["entries"].as_u64().unwrap()).sum();
    assert_eq!(output["held"]["entries"], counted);
    assert!(kinds.iter().any(|kind| kind["kind"] == "Contact" && kind["entries"] == 1), "{kinds:?}");
    assert_eq!(output["slips_agreed"].as_array().unwrap().len(), 1);
    assert!(output["copies"][0].as_str().unwrap().contains("blue stick"), "{output}");
    let page = std::fs::read_to_string(desk.path("page.html")).unwrap();
    assert!(
        page.contains("somebody was unlocked on it") && page.contains(&format!("slip {number}")),
        "{page}"
    );
    let said = there(&desk, 0, &["stolen", "stick", "--was", "off"], "it was switched off");
    for text in [&page, &said, &output.to_string()] {
        for word in [NAME, "Craske", CHART, "1988"] {
            assert!(!text.contains(word), "{word}");
        }
    }
    // A slip that is newer than the copy it is told from: more was on the computer than is counted.
    call(&desk, "later");
    let (_, later) = slip(&desk);
    there(&desk, 1, &["stolen", "stick", "--slip", &later], "the lost computer held more");
    let none = desk.json(&["stolen", "--lost-on", "2001-01-01"]);
    assert_eq!((&none["held"]["entries"], &none["held"]["first"]), (&0.into(), &Value::Null));
}

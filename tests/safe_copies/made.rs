//! Making copies, with the real commands.

use super::desk::{Desk, code, text};
use super::{CHART, FIRST, NAME, call, practice, snapshot};
use std::os::unix::fs::FileExt;

/// Changes one byte of a file of the desk.
fn bend(desk: &Desk, name: &str, at: u64) {
    let path = desk.path(name);
    let file = std::fs::OpenOptions::new().read(true).write(true).open(&path).unwrap();
    let mut byte = [0u8];
    file.read_exact_at(&mut byte, at).unwrap();
    file.write_all_at(&[byte[0] ^ 1], at).unwrap();
}

fn made(desk: &Desk, more: &[&str]) -> serde_json::Value {
    desk.json(&[&["safecopy", "stick"], more].concat())
}

#[test]
fn one_word_makes_and_checks_a_copy_and_the_next_brings_only_what_is_new() {
    let desk = practice();
    desk.refused(4, &["safecopy", "stick"], "no name yet");
    let first = made(&desk, &["--called", "blue stick", "--keep-until", "2199-12-31"]);
    assert_eq!(first["sound"], true);
    assert_eq!((&first["before"], &first["files"], &first["segments"]), (&0.into(), &1.into(), &1.into()));
    // What was copied is what lies in the store, file for file, but for what the store gained by recording it.
    let (store, copy) = (snapshot(&desk.path("store")), snapshot(&desk.path("stick")));
    for (name, bytes) in &copy {
        if name.to_str() != Some("safecopy.json") && name.to_str() != Some(FIRST) {
            assert_eq!(Some(bytes), store.get(name), "{}", name.display());
        }
    }
    assert!(!copy.keys().any(|name| name.starts_with("drafts") || name.starts_with("index")));
    let entry = first["recorded"].as_u64().unwrap();
    assert_eq!(first["entries"], entry - 1);

    // Nothing but the ledger's grown file, and the sealed file of a new attachment, has to travel.
    std::fs::write(desk.path("film.txt"), "a second paper").unwrap();
    super::attach(&desk, "film.txt");
    let second = made(&desk, &[]);
    assert_eq!((&second["place"], &second["copy"]), (&"blue stick".into(), &first["copy"]));
    assert_eq!((&second["segments"], &second["files"], &second["keys"]), (&1.into(), &1.into(), &0.into()));
    let listed = desk.json(&["safecopy", "list"]);
    assert_eq!((listed.as_array().unwrap().len(), &listed[0]["keep_until"]), (1, &"2199-12-31".into()));
    assert_eq!(listed[0]["entries"], second["entries"]);
    // The copy by itself is as sound as the store, although the store has gone on since.
    let said = desk.ok(&["verify", "stick"]);
    assert!(said.contains("SOUND"), "{said}");
    desk.refused(7, &["print", CHART, "--store", "stick", "--why", "review"], "nobody works in it");

    desk.ok(&["safecopy", "gone", "Blue Stick", "--because", "fell into the harbour"]);
    assert_eq!(desk.json(&["safecopy", "list"])[0]["gone"], "fell into the harbour");
    desk.refused(2, &["safecopy", "gone", "blue stick", "--because", "twice"], "No safe copy of that name");
}

#[test]
fn nobody_has_to_be_unlocked_for_a_copy_by_a_timer() {
    let desk = practice();
    desk.ok(&["lock"]);
    let before = snapshot(&desk.path("store"));
    let made = made(&desk, &["--unrecorded"]);
    assert_eq!((&made["sound"], &made["recorded"], &made["place"]), (&true.into(), &().into(), &().into()));
    assert!(before == snapshot(&desk.path("store")));
    desk.refused(5, &["safecopy", "other", "--called", "x"], "");
}

#[test]
fn what_stands_in_a_copy_is_never_written_over_with_something_else() {
    let desk = practice();
    made(&desk, &["--called", "blue stick"]);
    call(&desk, "one more");
    // A bent byte in the copy: which of the two is right nobody knows yet, and both stay.
    bend(&desk, "stick/ledger/000001.seg", 700);
    let (store, copy) = (snapshot(&desk.path("store")), snapshot(&desk.path("stick")));
    let said = desk.refused(7, &["safecopy", "stick"], "ledger/000001.seg in the copy is not the store's");
    assert!(said.contains("from byte 700 on"), "{said}");
    assert!(copy == snapshot(&desk.path("stick")) && store == snapshot(&desk.path("store")));
    desk.refused(1, &["verify", "stick"], "NOT SOUND");
    bend(&desk, "stick/ledger/000001.seg", 700);
    // A bent byte in the store: no copy is made of it.
    bend(&desk, "store/ledger/000001.seg", 900);
    desk.refused(2, &["safecopy", "stick", "--unrecorded"], "No copy is made of it");
    bend(&desk, "store/ledger/000001.seg", 900);
    assert!(copy != snapshot(&desk.path("stick")), "the bent byte was put back");
    // A key that differs and opens with nothing.
    let key = std::fs::read_dir(desk.path("store/keys")).unwrap().map(|item| item.unwrap().file_name());
    let key =
        key.map(|name| name.into_string().unwrap()).find(|name| name.ends_with("-clinical.age")).unwrap();
    bend(&desk, &format!("store/keys/{key}"), 300);
    desk.refused(
        7,
        &["safecopy", "stick", "--unrecorded"],
        &format!("keys/{key} in the copy is not the store's"),
    );
    bend(&desk, &format!("store/keys/{key}"), 300);
    // And now it goes on.
    assert_eq!(made(&desk, &[])["sound"], true);
}

#[test]
fn a_paper_that_is_damaged_in_the_store_is_named_and_a_lost_one_is_still_in_the_copy() {
    let desk = practice();
    let copied = made(&desk, &["--called", "blue stick"]);
    assert_eq!(copied["only_in_copy"], serde_json::json!([]));
    let paper = snapshot(&desk.path("store")).into_keys().find(|name| name.starts_with("files")).unwrap();
    let shown = paper.to_str().unwrap();
    let bytes = std::fs::read(desk.path("store").join(&paper)).unwrap();
    std::fs::remove_file(desk.path("store").join(&paper)).unwrap();
    let copied = made(&desk, &[]);
    assert_eq!((&copied["only_in_copy"], &copied["sound"]), (&serde_json::json!([shown]), &true.into()));
    assert_eq!(std::fs::read(desk.path("stick").join(&paper)).unwrap(), bytes);
    // Bent in the store before it was ever copied: the new copy says what it lacks, and counts for nothing.
    let mut bent = bytes.clone();
    bent[50] ^= 4;
    std::fs::write(desk.path("store").join(&paper), bent).unwrap();
    let output = desk.run(&["safecopy", "second", "--called", "red stick", "--json"]);
    let copied: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!((code(&output), &copied["recorded"]), (1, &().into()), "{}", text(&output));
    assert_eq!(copied["damaged_in_store"], serde_json::json!([shown]));
    assert!(copied["findings"].as_array().unwrap().iter().any(|f| f["id"] == "file-missing"), "{copied}");
    // Fetched back from the good copy, it is whole.
    std::fs::copy(desk.path("stick").join(&paper), desk.path("store").join(&paper)).unwrap();
    let copied = desk.json(&["safecopy", "second", "--called", "red stick"]);
    assert_eq!(copied["sound"], true);
}

#[test]
fn only_a_folder_of_its_own_becomes_a_copy_and_a_copy_stays_its_ledgers() {
    let desk = practice();
    std::fs::create_dir(desk.path("used")).unwrap();
    std::fs::write(desk.path("used/holiday.jpg"), b"waves").unwrap();
    desk.refused(7, &["safecopy", "used", "--called", "x"], "is not empty, and no safe copy");
    desk.refused(7, &["safecopy", "store/copy", "--called", "x"], "lie in each other");
    desk.refused(7, &["safecopy", ".", "--called", "x"], "lie in each other");
    made(&desk, &["--called", "blue stick"]);
    let other = Desk::set_up();
    let mine = desk.path("stick").display().to_string();
    other.refused(7, &["safecopy", &mine, "--called", "x"], "safe copy of another ledger");
}

#[test]
fn a_copy_that_is_ahead_of_the_store_is_kept_from_it() {
    let desk = practice();
    made(&desk, &["--called", "old stick"]);
    for n in 0..3 {
        call(&desk, &format!("call {n}"));
    }
    desk.ok(&["safecopy", "newer", "--called", "new stick"]);
    // The store is set back to what it was, by hand.
    std::fs::copy(desk.path("stick").join(FIRST), desk.path("store").join(FIRST)).unwrap();
    let newer = snapshot(&desk.path("newer"));
    desk.refused(8, &["safecopy", "newer", "--unrecorded"], "has more entries than the store");
    assert!(newer == snapshot(&desk.path("newer")));
}

#[test]
fn drafts_travel_only_when_told_and_names_are_nowhere() {
    let desk = practice();
    desk.ok(&["visit", "open", CHART, "--usual"]);
    desk.ok(&["now", "4"]);
    let without = made(&desk, &["--called", "blue stick"]);
    let left = without["drafts_left"].as_u64().unwrap();
    assert!(left > 0, "{without}");
    assert!(!desk.path("stick/drafts").exists());
    let with = made(&desk, &["--with-drafts"]);
    assert_eq!(with["drafts_left"], 0);
    let drafts = std::fs::read_dir(desk.path("stick/drafts")).unwrap().count();
    assert_eq!(drafts as u64, left);
    for (name, bytes) in snapshot(&desk.path("stick")) {
        let shown = name.display().to_string();
        for word in [NAME, "Craske", CHART, "blue stick"] {
            assert!(!shown.contains(word), "{shown}");
            assert!(!bytes.windows(word.len()).any(|w| w == word.as_bytes()), "{word} in {shown}");
        }
    }
}

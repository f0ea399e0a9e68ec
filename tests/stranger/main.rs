//! Promise: a package checks on a stranger's computer, alone, by the checker alone; whatever is bent is found and
//! named, nothing is unpacked before the check has passed, and no claim is larger than its proof.
//!
//! The packages are made by the real commands; the checker is the real program.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // In a test a panic is the report.

#[path = "../common/mod.rs"]
mod common;

mod bent;
mod built;
#[cfg(feature = "outside-checks")]
mod byhand;
mod given;
mod hostile;
mod kept;
mod odd;
mod trusted;

use given::{Given, code, run, said};

#[test]
fn a_sound_package_says_what_was_proven_and_what_was_not() {
    let given = Given::new();
    let ran = given.check(&[]);
    let text = said(&ran);
    assert_eq!(code(&ran), 0, "{text}");
    for words in [
        "SOUND IN ITSELF.",
        "nothing is proven about a ledger that was rebuilt",
        "1. The contents",
        "2. In the ledger",
        "3. The chart up to its release",
        "4. Withheld",
        "5. Outside witnesses",
        "are present, unbroken and in order",
        "an entry of another person",
        "What this does not prove",
        "that what was written is true",
        "that the clock was right",
        "nothing was left unwritten",
        "no second book was kept",
        "The checkpoint key came with the package",
    ] {
        let plain = text.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(plain.contains(words), "{words}\n{text}");
    }
    assert!(!text.contains("NO "), "{text}");
    // No name out of the record stands in the result.
    assert!(!text.contains("Craske") && !text.contains("plumbago"), "{text}");
}

#[test]
fn the_whole_program_says_the_same_words() {
    let given = Given::new();
    let package = given.package.to_str().unwrap().to_string();
    let key = given.path("who.txt");
    let whole = given.room.ok(&["verify", &package, "--identity", key.to_str().unwrap()]);
    let small = given.check(&[]);
    assert_eq!(String::from_utf8_lossy(&small.stdout).trim(), whole.trim());
}

/// What cannot be checked ends alike in both programs: 4 for what was typed, 5 for what does not open, 2 for the rest.
#[test]
fn both_programs_end_alike_where_nothing_could_be_checked() {
    let given = Given::new();
    let package = given.package.to_str().unwrap().to_string();
    let write = |name: &str, bytes: &[u8]| {
        std::fs::write(given.path(name), bytes).unwrap();
        given.path(name).display().to_string()
    };
    let key = given.path("who.txt").display().to_string();
    let other = inkfast::seal::age_file::Identity::generate();
    let other = write("other.txt", format!("{}\n", other.to_text().as_str()).as_bytes());
    let none = write("none.txt", b"nothing\n");
    let cut = write("cut.age", &std::fs::read(&given.package).unwrap()[..4000]);
    let gone = given.path("gone.age").display().to_string();
    for (args, ends) in [
        (vec![package.as_str()], 5),
        (vec![&package, "--identity", &other], 5),
        (vec![&package, "--identity", &none], 4),
        (vec![&package, "--identity", &gone], 4),
        (vec![&package, "--identity", &key, "--slip", "9:AAAA"], 4),
        (vec![&cut, "--identity", &key], 2),
        (vec![&gone, "--identity", &key], 2),
    ] {
        let whole: Vec<&str> = std::iter::once("verify").chain(args.iter().copied()).collect();
        let whole = given.room.run(&whole);
        let small = run(&args);
        assert_eq!((whole.code(), code(&small)), (ends, i32::from(ends)), "{args:?}\n{}", whole.all());
    }
}

#[test]
fn as_data_every_statement_stands_apart() {
    let given = Given::new();
    let report = given.json(&[]);
    assert_eq!(report["sound"], true);
    let statements = report["package"]["statements"].as_array().unwrap();
    let ids: Vec<&str> = statements.iter().map(|s| s["id"].as_str().unwrap()).collect();
    assert_eq!(ids, ["list-signed", "unchanged", "signatures", "attachments", "in-ledger", "chart-complete"]);
    assert!(statements.iter().all(|s| s["holds"] == true), "{statements:?}");
    let reason = report["package"]["withheld"][0]["reason"].as_str().unwrap();
    assert!(reason.ends_with("an entry of another person"), "{reason}");
    assert_eq!(report["package"]["outside"]["reached"], serde_json::Value::Null);
    let bytes = std::fs::read(&given.package).unwrap();
    assert_eq!(report["package"]["file"]["blake3"], blake3::hash(&bytes).to_hex().as_str());
    assert_eq!(report["package"]["file"]["bytes"], bytes.len());
}

#[test]
fn what_passed_is_unpacked_into_a_new_folder_and_nowhere_else() {
    let given = Given::new();
    let folder = given.path("opened");
    let ran = given.check(&["--open-to", folder.to_str().unwrap()]);
    assert_eq!(code(&ran), 0, "{}", said(&ran));
    assert!(said(&ran).contains("Read first:") && said(&ran).contains("READ-ME-FIRST.txt"), "{}", said(&ran));
    for (name, bytes) in given.members() {
        assert_eq!(std::fs::read(folder.join(&name)).unwrap(), bytes, "{name}");
    }
    assert!(!given.path("opened.part").exists());
    // A folder that exists is not touched.
    let again = given.check(&["--open-to", folder.to_str().unwrap()]);
    assert_eq!(code(&again), 4, "{}", said(&again));
    // Unpacked, it checks as well; and it is found when something in it changes.
    let open = given::run(&[folder.to_str().unwrap()]);
    assert_eq!(code(&open), 0, "{}", said(&open));
    std::fs::write(folder.join("record.html"), "something else").unwrap();
    let open = given::run(&[folder.to_str().unwrap()]);
    assert!(code(&open) == 1 && said(&open).contains("member-changed"), "{}", said(&open));
}

#[test]
fn the_page_to_print_is_a_new_file_and_nothing_is_fetched_for_it() {
    let given = Given::new();
    let page = given.path("page.html");
    let ran = given.check(&["--certificate", page.to_str().unwrap()]);
    assert_eq!(code(&ran), 0, "{}", said(&ran));
    let html = std::fs::read_to_string(&page).unwrap();
    for words in ["Certificate of a check", "SOUND IN ITSELF", "What this does not prove", "Checked by"] {
        assert!(html.contains(words), "{words}");
    }
    assert!(!html.contains("src=") && !html.contains("href=") && !html.contains("url("));
    if let Some(keep) = std::env::var_os("INKFAST_PAGE_TO") {
        std::fs::create_dir_all(&keep).unwrap();
        std::fs::copy(&page, std::path::Path::new(&keep).join("certificate.html")).unwrap();
    }
    let again = given.check(&["--certificate", page.to_str().unwrap()]);
    assert_eq!(code(&again), 4, "{}", said(&again));
    assert_eq!(std::fs::read_to_string(&page).unwrap(), html);
}

#[test]
fn a_wrong_passphrase_or_identity_ends_with_five() {
    let given = Given::sealed_with_passphrase();
    let right = given.run_with(&["--passphrase-file", given.path("told").to_str().unwrap()]);
    assert_eq!(code(&right), 0, "{}", said(&right));
    given.room.write("misheard", "some other five words here\n");
    let wrong = given.run_with(&["--passphrase-file", given.path("misheard").to_str().unwrap()]);
    assert!(code(&wrong) == 5 && said(&wrong).contains("The passphrase does not open"), "{}", said(&wrong));
    // Nobody to ask.
    assert_eq!(code(&given.run_with(&[])), 5);

    let given = Given::new();
    let other = inkfast::seal::age_file::Identity::generate();
    given.room.write("other.txt", other.to_text().as_str());
    let wrong = given.run_with(&["--identity", given.path("other.txt").to_str().unwrap()]);
    assert_eq!(code(&wrong), 5, "{}", said(&wrong));
    let none = given.run_with(&[]);
    assert!(code(&none) == 5 && said(&none).contains("--identity FILE"), "{}", said(&none));
}

#[test]
fn what_is_typed_wrongly_ends_with_four_and_what_is_not_there_with_two() {
    let given = Given::new();
    for words in [&["--slip", "12"][..], &["--slip", "12:ABCD"], &["--nonsense"], &["--policy", "nowhere"]] {
        let ran = given.check(words);
        assert_eq!(code(&ran), 4, "{words:?} {}", said(&ran));
    }
    assert_eq!(code(&given::run(&[])), 4);
    assert_eq!(code(&given::run(&["/nowhere/package.age"])), 2);
    assert_eq!(code(&given::run(&["--help"])), 0);
    let ran = given::run(&["/nowhere/package.age", "--json"]);
    let error: serde_json::Value = serde_json::from_slice(&ran.stdout).unwrap();
    assert_eq!(error["error"]["exit"], 2);
}

#[test]
fn a_package_sent_as_text_checks_as_well() {
    use std::io::Write;
    let given = Given::new();
    let sealed = std::fs::read(&given.package).unwrap();
    let mut armored = Vec::new();
    let format = age::armor::Format::AsciiArmor;
    let mut writer = age::armor::ArmoredWriter::wrap_output(&mut armored, format).unwrap();
    writer.write_all(&sealed).unwrap();
    writer.finish().unwrap();
    std::fs::write(&given.package, armored).unwrap();
    let ran = given.check(&[]);
    assert_eq!(code(&ran), 0, "{}", said(&ran));
}

/// Some minutes of making it, so only with the long sweeps. Says what it took.
#[test]
fn a_chart_of_three_hundred_entries_and_twenty_attachments_checks_in_seconds() {
    if !common::long() {
        return;
    }
    let given = given::large(300, 20);
    let began = std::time::Instant::now();
    let ran = given.check(&[]);
    let took = began.elapsed();
    assert_eq!(code(&ran), 0, "{}", said(&ran));
    let bytes = std::fs::metadata(&given.package).unwrap().len();
    println!("checked {bytes} bytes in {took:?}\n{}", said(&ran));
    assert!(took.as_secs() < 10, "{took:?}");
}

//! Promise: what a later program wrote is kept, verifies, and is said to be there; it is never
//! dropped, and never a fault.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // In a test a panic is the report.

mod common;

use common::{PASSPHRASE, Small, check, example, ids};
use inkfast::ledger::write::{NewEntry, Writer};
use inkfast::practice::open::Practice;
use inkfast::practice::place::Place;
use inkfast::practice::release::{ReleaseOrder, SealTo, release};
use inkfast::practice::session::Session;
use inkfast::record::envelope::Record;
use inkfast::record::kinds::Data;
use inkfast::seal::age_file::{self, Identity, To, With};
use inkfast::seal::body::Body;
use inkfast::verify::package::check_archive;
use std::io::Read;
use std::process::Command;
use zeroize::Zeroizing;

/// What a later program might write: a kind not known here, and a later edition of a known one.
const LATER: [(&str, u32); 2] = [("future-kind", 7), ("contact", 9)];

/// Writes both into the chart as a later program would, past everything this one checks.
fn write_later(practice: &Practice, tag: &str) {
    let (_, clinical) =
        practice.session.chart_recipients(&practice.world, &practice.place, practice.keys(), tag).unwrap();
    let mut writer = Writer::open(&practice.world, &practice.place.location(), false).unwrap();
    let entries = LATER.map(|(kind, edition)| {
        let record = Record {
            kind: kind.to_string(),
            edition,
            ledger: practice.place.key.name().to_string(),
            chart: Some(tag.to_string()),
            author: practice.me(),
            refers: Vec::new(),
            data: serde_json::json!({ "seen_by": "nobody yet" }),
            ..example("contact")
        };
        let record = Zeroizing::new(record.to_bytes().unwrap());
        let body = Body { opening: practice.world.random32().unwrap(), record };
        NewEntry {
            chart: Some(tag.to_string()),
            kind: kind.to_string(),
            written: example("contact").written,
            signers: vec![&practice.session.me.signer],
            body: age_file::seal(&To::Recipients(std::slice::from_ref(&clinical)), &body.to_bytes()).unwrap(),
            commit: body.commitment(),
        }
    });
    writer.commit(entries.into(), practice.session.vouch().unwrap()).unwrap();
}

/// A store with one chart that a later program wrote into, opened again by this one.
fn small_with_later_entries() -> (tempfile::TempDir, Practice, String) {
    let small = Small::new(256 << 10, 1);
    let (root, tag) = (small.root(), small.charts[0].clone());
    let Small { dir, world, practice, .. } = small;
    let me = practice.session.me.code.clone();
    drop(practice);
    let open = || {
        let place = Place::open(&world, &root, None).unwrap();
        let session = Session::unlock(&world, &place, &me, PASSPHRASE).unwrap();
        Practice::open(&world, &place, session, "desk").unwrap()
    };
    write_later(&open(), &tag);
    (dir, open(), tag)
}

fn line_of((kind, edition): (&str, u32)) -> String {
    format!("Cannot show: kind {kind} edition {edition} (later program needed); the entry still verifies")
}

#[test]
fn a_store_with_entries_of_a_later_program_is_sound_and_they_are_read_as_unknown() {
    let (_dir, practice, tag) = small_with_later_entries();
    let report = check(&practice.place.root);
    assert!(report.sound, "{:?}", ids(&report));
    let entries = practice.chart(&tag).unwrap();
    for (entry, (kind, edition)) in entries[entries.len() - 2..].iter().zip(LATER) {
        let Some(Data::Unknown { kind: k, edition: e, value }) = entry.data() else { panic!("{kind}") };
        assert_eq!((k.as_str(), e, &value["seen_by"]), (kind, edition, &"nobody yet".into()));
    }
}

/// What stands unsealed in the ledger is read by every check; a later edition of it is no damage.
#[test]
fn an_unsealed_entry_of_a_later_edition_is_no_fault() {
    let small = Small::new(256 << 10, 1);
    let (world, root) = (small.world.clone(), small.root());
    drop(small.practice);
    let place = Place::open(&world, &root, None).unwrap();
    let session = Session::unlock(&world, &place, common::OWNER, PASSPHRASE).unwrap();
    let mut writer = Writer::open(&world, &place.location(), false).unwrap();
    let entries = ["file-kept", "file-removed", "chart-disposed", "earlier-ledger"].map(|kind| {
        let record = Record {
            kind: kind.to_string(),
            edition: 9,
            ledger: place.key.name().to_string(),
            chart: None,
            refers: Vec::new(),
            data: serde_json::json!({ "seen_by": "nobody yet" }),
            ..example("contact")
        };
        let record = Zeroizing::new(record.to_bytes().unwrap());
        let body = Body { opening: world.random32().unwrap(), record };
        NewEntry {
            chart: None,
            kind: kind.to_string(),
            written: example("contact").written,
            signers: vec![&session.me.signer],
            body: body.to_bytes().to_vec(),
            commit: body.commitment(),
        }
    });
    writer.commit(entries.into(), session.vouch().unwrap()).unwrap();
    let report = check(&root);
    assert!(report.sound && ids(&report).is_empty(), "{:?}", report.findings);
}

#[test]
fn print_says_that_they_are_there() {
    let (dir, practice, _) = small_with_later_entries();
    std::fs::write(dir.path().join("pw"), format!("{PASSPHRASE}\n")).unwrap();
    let (root, me) = (practice.place.root.clone(), practice.session.me.code.clone());
    drop(practice);
    let printed = Command::new(env!("CARGO_BIN_EXE_inkfast"))
        .args(["print", "PM-0112", "--why", "review", "--passphrase-file", "pw", "--as", &me, "--store"])
        .arg(&root)
        .current_dir(dir.path())
        .env("XDG_RUNTIME_DIR", dir.path())
        .env("XDG_STATE_HOME", dir.path())
        .output()
        .unwrap();
    let said = String::from_utf8(printed.stdout).unwrap();
    assert!(printed.status.success(), "{said}\n{}", String::from_utf8_lossy(&printed.stderr));
    // The screen folds long lines.
    let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
    for later in LATER {
        assert!(said.contains(&line_of(later)), "{later:?}\n{said}");
    }
}

#[test]
fn a_package_with_them_checks_and_says_so() {
    let (dir, mut practice, tag) = small_with_later_entries();
    let data = serde_json::json!({
        "to": "Nadezhda Pruitt", "address": "handed over at the desk", "basis": "patient",
        "channel": "handed over", "checked_by": "IV", "what": { "entries": 0 },
        "sealed": "to-recipient-key", "counts_for_accounting": false,
    });
    let identity = Identity::generate();
    let order = ReleaseOrder::new(
        serde_json::from_value(data).unwrap(),
        SealTo::Recipients(vec![identity.recipient()]),
        dir.path().join("package.age"),
        practice.now(),
    );
    let released = release(&mut practice, &tag, order).unwrap();
    let plain =
        age_file::open(&With::Identities(&[identity]), &std::fs::read(&released.file).unwrap()).unwrap();
    let report = check_archive(&mut &plain[..], &mut |_| ()).unwrap();
    assert!(report.sound, "{:?}", ids(&report));
    let noticed: Vec<_> =
        report.findings.iter().filter(|f| f.id == "cannot-show").map(|f| f.place.kind.clone()).collect();
    assert_eq!(noticed, LATER.map(|(kind, _)| Some(kind.to_string())));

    let mut archive = tar::Archive::new(&plain[..]);
    let page =
        archive.entries().unwrap().map(Result::unwrap).find(|m| m.path_bytes().as_ref() == b"record.html");
    let mut html = String::new();
    page.unwrap().read_to_string(&mut html).unwrap();
    for (kind, edition) in LATER {
        assert!(html.contains(&format!("kind {kind} edition {edition}")), "{kind}");
    }
}

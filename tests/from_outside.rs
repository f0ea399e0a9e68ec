//! Promise: what left the practice pins down the past. Slips are typed back in any form and a wrong one is
//! named; leaves lie in a folder that any log client checks and that is never overwritten; a patient's receipt
//! says whether the practice still holds exactly that entry.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // In a test a panic is the report.

mod common;

use common::PASSPHRASE;
use common::room::Room;
use inkfast::ledger::checkpoint::Checkpoint;
use inkfast::ledger::tiles::TileReader;
use inkfast::ledger::tree::{leaf_hash, read_root};
use inkfast::ledger::write::{NewEntry, Writer};
use inkfast::practice::place::Place;
use inkfast::practice::session::Session;
use std::collections::BTreeMap;
use std::path::Path;

/// A room with one chart.
fn room() -> Room {
    let room = Room::new();
    room.patient("PM-0112", "Bettony Craske", "1988-02-29");
    room
}

/// One more entry, that names somebody.
fn contact(room: &Room, words: &str) {
    room.ok(&["contact", "PM-0112", "--direction", "none", "--nobody-because", "no answer", "--said", words]);
}

#[test]
fn a_slip_can_be_typed_back_in_every_form_and_a_mistake_is_named() {
    let room = room();
    let page = room.path("slip.html");
    let slip = room.json(&["slip", "--show", "--page", &page.display().to_string()]);
    let (number, code) = (slip["number"].as_u64().unwrap(), slip["code"].as_str().unwrap());
    let words: Vec<&str> = slip["words"].as_array().unwrap().iter().map(|w| w.as_str().unwrap()).collect();
    let qr = slip["qr"].as_str().unwrap();
    for typed in [
        format!("{number}:{code}"),
        format!("{number}:{}", &code[..26]),
        format!("{number} {}", words.join(" ")),
        qr.to_string(),
        qr.to_lowercase(),
    ] {
        let report = room.json(&["verify", "--slip", &typed]);
        assert!(report["witnesses"].to_string().contains(&format!("slip {number}")), "{typed}: {report}");
    }
    let printed = std::fs::read_to_string(&page).unwrap();
    assert!(words.iter().all(|word| printed.contains(word)) && printed.contains(code));
    let shown = room.ok(&["slip", "--show"]);
    assert!(words.iter().all(|word| shown.contains(word)), "{shown}");
    assert!(shown.lines().all(|line| line.chars().count() == 58), "{shown}");

    let mut bent = words.clone();
    bent[6] = if words[6] == "acorn" { "banjo" } else { "acorn" };
    let said = room.run(&["verify", "--slip", &format!("{number} {}", bent.join(" "))]);
    assert_eq!(said.code(), 4, "{}", said.all());
    assert!(
        said.all().contains("Word 7 is likely mistyped") && said.all().contains(words[6]),
        "{}",
        said.all()
    );
    let said = room.run(&["verify", "--slip", &format!("{} {}", number + 1, words.join(" "))]);
    assert!(said.code() == 4 && said.all().contains(&format!("{number} would fit")), "{}", said.all());
    let other = qr.replace("LEDGER-", "LEDGER-0");
    let said = room.run(&["verify", "--slip", &other]);
    assert!(said.code() == 4 && said.all().contains("another ledger"), "{}", said.all());
}

/// Every file below a folder, by its path in it.
fn files(dir: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut out = BTreeMap::new();
    let mut todo = vec![dir.to_path_buf()];
    while let Some(folder) = todo.pop() {
        for item in std::fs::read_dir(folder).unwrap() {
            let path = item.unwrap().path();
            if path.is_dir() {
                todo.push(path);
            } else {
                let name = path.strip_prefix(dir).unwrap().display().to_string();
                out.insert(name, std::fs::read(path).unwrap());
            }
        }
    }
    out
}

/// The leaves in the tiles of a folder, as C2SP tlog-tiles says: behind each length as two bytes, big-endian.
fn leaves(files: &BTreeMap<String, Vec<u8>>, size: u64) -> Vec<Vec<u8>> {
    let mut out = Vec::new();
    for index in 0..size.div_ceil(256) {
        let width = (size - index * 256).min(256);
        let name = if width == 256 { String::new() } else { format!(".p/{width}") };
        let mut bytes = files[&format!("tile/entries/{index:03}{name}")].as_slice();
        while let Some((length, rest)) = bytes.split_first_chunk::<2>() {
            let (leaf, rest) = rest.split_at(u16::from_be_bytes(*length).into());
            out.push(leaf.to_vec());
            bytes = rest;
        }
    }
    out
}

/// That a folder is whole: the root of its tiles and of its leaves is that of its checkpoint.
fn whole(room: &Room, dir: &Path) -> u64 {
    let files = files(dir);
    let key = room.json(&["verify"])["ledger"].as_str().unwrap().to_string();
    let text = String::from_utf8(files["checkpoint"].clone()).unwrap();
    let checkpoint =
        Checkpoint::parse_text(text.split_inclusive('\n').take(3).collect::<String>().as_str()).unwrap();
    assert_eq!(checkpoint.origin, key);
    let size = checkpoint.size;
    let reader = TileReader::new(|level, index| {
        let width = ((size >> (8 * u32::from(level))) - index * 256).min(256);
        let name = if width == 256 { String::new() } else { format!(".p/{width}") };
        files.get(&format!("tile/{level}/{index:03}{name}")).cloned()
    });
    assert_eq!(read_root(size, &reader).unwrap(), checkpoint.root);
    let leaves = leaves(&files, size);
    assert_eq!(leaves.len() as u64, size);
    let hashes: Vec<_> = leaves.iter().map(|leaf| leaf_hash(leaf)).collect();
    assert_eq!(inkfast::ledger::tree::root(&hashes), checkpoint.root);
    size
}

#[test]
fn the_leaves_lie_in_a_folder_that_only_grows() {
    let room = room();
    let dir = room.path("public");
    let public = dir.display().to_string();
    contact(&room, "a first word");
    let said = room.run(&["verify", "--public", &public]);
    assert_eq!(said.code(), 0, "{}", said.all());
    let first = files(&dir);
    let new = format!("; {} new files", first.len() - 1);
    assert!(said.all().contains(&new), "{}", said.all());
    let before = whole(&room, &dir);
    // Nothing new: nothing is written.
    let said = room.run(&["verify", "--public", &public]);
    assert!(said.all().contains("0 of them new; 0 new files"), "{}", said.all());
    assert_eq!(files(&dir), first);
    std::fs::write(room.path("kept"), &first["checkpoint"]).unwrap();
    for n in 0..3 {
        contact(&room, &format!("word {n}"));
    }
    let kept = room.path("kept").display().to_string();
    let said = room.run(&["verify", "--public", &public, "--since", &kept]);
    assert_eq!(said.code(), 0, "{}", said.all());
    assert!(said.all().contains(&format!("It continues the {before} entries")), "{}", said.all());
    let then = files(&dir);
    assert_eq!(whole(&room, &dir), before + 3);
    for (name, bytes) in first.iter().filter(|(name, _)| *name != "checkpoint") {
        assert_eq!(&then[name], bytes, "{name}");
    }
    // Leaves and hashes, nothing else: no body, no name, no chart number.
    let ledger = std::fs::read(room.path("store/ledger/000001.seg")).unwrap();
    let mut whole_folder: Vec<u8> =
        then.iter().flat_map(|(name, bytes)| [name.as_bytes(), bytes].concat()).collect();
    whole_folder.make_ascii_lowercase();
    for never in ["bettony", "craske", "valsamo", "pm-0112", "inkfast-body", "age-encryption", "word 1"] {
        assert!(!whole_folder.windows(never.len()).any(|w| w == never.as_bytes()), "{never}");
    }
    for leaf in leaves(&then, before + 3) {
        assert!(leaf.starts_with(b"{\"v\":1,\"ledger\":") && ledger.windows(leaf.len()).any(|w| w == leaf));
    }
    for (name, bytes) in then.iter().filter(|(name, _)| !name.starts_with("tile/entries/")) {
        assert!(name == "checkpoint" || bytes.len() % 32 == 0, "{name}");
    }
}

/// C2SP tlog-tiles: a tile holds 256 leaves, and the 257th begins the next one.
#[test]
fn more_leaves_than_a_tile_holds_go_into_the_next() {
    let room = room();
    let place = Place::open(&room.world, &room.path("store"), None).unwrap();
    let session = Session::unlock(&room.world, &place, "IV", PASSPHRASE).unwrap();
    let mut writer = Writer::open(&room.world, &place.location(), false).unwrap();
    let one = || NewEntry {
        chart: None,
        kind: "clock-remark".to_string(),
        written: room.world.clock.now(),
        signers: vec![&session.me.signer],
        body: b"sealed".to_vec(),
        commit: [0; 32],
    };
    writer.commit((0..257).map(|_| one()).collect(), session.vouch().unwrap()).unwrap();
    drop(writer);
    let dir = room.path("public");
    room.ok(&["verify", "--public", &dir.display().to_string()]);
    assert!(whole(&room, &dir) > 256);
}

#[test]
fn what_is_not_the_beginning_of_the_ledger_is_never_overwritten() {
    let room = room();
    let safe = room.copy();
    let dir = room.path("public");
    let public = dir.display().to_string();
    for n in 0..3 {
        contact(&room, &format!("word {n}"));
    }
    room.ok(&["verify", "--public", &public]);
    let good = files(&dir);
    // Another past of the same ledger, of more entries than are in the folder.
    let other = Room::going_on_from(safe.path(), "2022-10-04T08:00:00-04:00");
    for n in 0..5 {
        contact(&other, &format!("other {n}"));
    }
    let kept = dir.join("checkpoint").display().to_string();
    let said = other.run(&["verify", "--public", &public]);
    assert_eq!(said.code(), 7, "{}", said.all());
    assert!(said.all().contains("not the beginning of this ledger"), "{}", said.all());
    let new = room.path("new").display().to_string();
    let said = other.run(&["verify", "--since", &kept, "--public", &new]);
    assert_eq!(said.code(), 1, "{}", said.all());
    assert!(said.out.contains("rewritten-outside-copy") && !room.path("new").exists(), "{}", said.all());
    assert_eq!(files(&dir), good);
    // An older copy of the store: the folder is ahead.
    let older = Room::going_on_from(safe.path(), "2022-10-04T08:00:00-04:00");
    assert_eq!(older.run(&["verify", "--public", &public]).code(), 7);
    let said = older.run(&["verify", "--since", &kept]);
    assert!(said.code() == 1 && said.out.contains("behind-outside-copy"), "{}", said.all());
    // Another ledger.
    assert_eq!(Room::new().run(&["verify", "--public", &public]).code(), 7);
    assert_eq!(files(&dir), good);
    // A bent tile, and a folder with something else in it.
    let tile = good.keys().find(|name| name.starts_with("tile/0/")).unwrap().clone();
    std::fs::write(dir.join(&tile), [7; 32]).unwrap();
    let said = room.run(&["verify", "--public", &public]);
    assert!(said.code() == 7 && said.all().contains("holds other bytes"), "{}", said.all());
    assert_eq!(std::fs::read(dir.join(&tile)).unwrap(), [7; 32]);
    let said = room.run(&["verify", "--public", &room.path("store").display().to_string()]);
    assert!(said.code() == 7 && said.all().contains("no part of such a folder"), "{}", said.all());
    // A store that is not sound is not made public.
    let segment = room.path("store/ledger/000001.seg");
    let mut bytes = std::fs::read(&segment).unwrap();
    bytes[700] ^= 1;
    std::fs::write(&segment, bytes).unwrap();
    assert_eq!(room.run(&["verify", "--public", &new]).code(), 1);
    assert!(!room.path("new").exists());
}

/// A consent for the chart; its number.
fn consent(room: &Room) -> u64 {
    room.entry(&[
        "consent",
        "PM-0112",
        "--kind",
        "inside-mouth",
        "--form",
        "written-signed",
        "--wording",
        "F1",
        "--techniques",
        "intraoral",
        "--regions",
        "mouth",
        "--side",
        "right",
        "--explained-by",
        "IV",
        "--explained-at",
        "now",
        "--risks",
        "jaw-ache",
        "--given-by",
        "self",
    ])
}

#[test]
fn a_receipt_says_whether_exactly_that_entry_is_still_there() {
    let room = room();
    let safe = room.copy();
    let number = consent(&room);
    contact(&room, "later");
    let page = room.path("receipt.html");
    let file = page.display().to_string();
    let receipt = room.json(&["consent", "receipt", "PM-0112", "--page", &file, "--why", "review"]);
    assert_eq!(receipt["number"], number);
    let printed = std::fs::read_to_string(&page).unwrap();
    assert!(printed.contains("Bettony Craske") && printed.contains("Receipt for your consent"));
    let code = format!("{number}:{}", receipt["code"].as_str().unwrap());
    let words: Vec<&str> = receipt["words"].as_array().unwrap().iter().map(|w| w.as_str().unwrap()).collect();
    let words = format!("{number} {}", words.join(" "));
    for typed in [&code, &words, receipt["qr"].as_str().unwrap()] {
        let report = room.json(&["verify", "--receipt", typed]);
        assert!(
            report["witnesses"].to_string().contains(&format!("receipt {number}, entry {number}")),
            "{report}"
        );
        let said = room.run(&["verify", "--slip", typed]);
        assert!(said.code() == 4 && said.all().contains("This is a receipt"), "{}", said.all());
    }
    // Nothing readable: no name, no date, no technique.
    let bare = room.path("bare.html");
    let file = bare.display().to_string();
    let entry = number.to_string();
    room.ok(&[
        "consent",
        "receipt",
        "PM-0112",
        &entry,
        "--page",
        &file,
        "--nothing-readable",
        "--why",
        "review",
    ]);
    let bare = std::fs::read_to_string(&bare).unwrap();
    for never in ["Bettony", "PM-0112", "ntraoral", "Valsamo", "onsent"] {
        assert!(!bare.contains(never), "{never}");
    }
    assert!(bare.contains(receipt["leaf"].as_str().unwrap()) && bare.contains("<svg"));
    // Another entry at that place, and an older copy without it.
    let other = Room::going_on_from(safe.path(), "2022-10-03T08:10:00-04:00");
    let said = other.run(&["verify", "--receipt", &words]);
    assert!(said.code() == 1 && said.all().contains("shorter"), "{}", said.all());
    for n in 0..3 {
        contact(&other, &format!("other {n}"));
    }
    let said = other.run(&["verify", "--receipt", &words]);
    assert_eq!(said.code(), 1);
    assert!(said.all().contains("not the one that the receipt was given for"), "{}", said.all());
    // Only consents have one.
    let first = room.run(&["consent", "receipt", "PM-0112", "1", "--why", "review"]);
    assert_eq!(first.code(), 2, "{}", first.all());
}

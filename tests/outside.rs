//! What this program writes, judged by programs that share no code with it: scripts/verify.py and the
//! shell scripts of tests/outside (written from schema/FORMAT.md alone), a stock `age`, `b3sum`, `tar`,
//! and Go's note and tree packages. Run by `scripts/test`, which installs them.
#![cfg(feature = "outside-checks")]
#![allow(clippy::unwrap_used, clippy::panic)] // In a test a panic is the report.

mod common;
#[path = "common/outside.rs"]
mod outside;
#[path = "common/planted.rs"]
mod planted;

use common::{PASSPHRASE, Small, copy_folder, example, example_data};
use inkfast::practice::attach::attach;
use inkfast::practice::open::Entry;
use inkfast::practice::release::{ReleaseOrder, SealTo, Withhold, release};
use inkfast::practice::staff;
use inkfast::record::kinds::Data;
use inkfast::record::kinds::register::KeyRole;
use inkfast::record::kinds::release::WithholdReason;
use inkfast::seal::age_file::Recipient;
use outside::{GoCheck, both, inkfast_verify, listed, long, python, run, shell, verify_py};
use std::ffi::OsStr;
use std::fs;
use std::path::{Path, PathBuf};

/// Kinds of which one example each goes into the first chart. Their examples are of different days, so
/// that the clock goes back between some.
const KINDS: &[&str] = &["contact", "alert", "visit", "consent", "measure", "screen", "reaction", "document"];

/// A store of several segments, with a second person, attachments, and a chart released.
struct Practised {
    small: Small,
    package: PathBuf,
    identity: PathBuf,
}

impl Practised {
    fn new() -> Practised {
        let mut small = Small::new(48 << 10, 3);
        let chart = small.charts[0].clone();
        for kind in KINDS {
            small.add(Some(&chart), kind);
        }
        attach_bytes(&mut small, &chart, &b"a picture of nothing ".repeat(9000));
        let Data::Staff(line) = example_data("staff") else { panic!() };
        let mut line = *line;
        line.code = "NW".to_string();
        line.supervisor = None;
        let roles = vec![KeyRole::Desk, KeyRole::Clinical];
        staff::add(&mut small.practice, line, roles, "seventeen hemp lanes", 4).unwrap();
        attach_bytes(&mut small, &chart, b"a short paper");
        for kind in KINDS {
            small.add(Some(&small.charts[1].clone()), kind);
        }
        let identity = small.dir.path().join("asker.txt");
        let package = small.dir.path().join("package.age");
        let to = new_identity(&identity);
        let withhold = vec![Withhold::new(
            small.practice.chart(&chart).unwrap()[3].leaf.seq,
            WithholdReason::AnotherPerson,
        )];
        let Data::Release(data) = example_data("release") else { panic!() };
        small.clock.set(example("release").written);
        let happened = small.practice.now();
        let order = ReleaseOrder {
            withhold,
            ..ReleaseOrder::new(*data, SealTo::Recipients(vec![to]), package.clone(), happened)
        };
        release(&mut small.practice, &chart, order).unwrap();
        Practised { small, package, identity }
    }

    fn path(&self, name: &str) -> PathBuf {
        self.small.dir.path().join(name)
    }

    /// Every entry with its record, as the program reads them.
    fn entries(&self) -> Vec<Entry> {
        let practice = &self.small.practice;
        practice.all().map(|at| practice.entry(&at.unwrap()).unwrap()).collect()
    }

    /// The package, opened by stock programs into a folder.
    fn unpacked(&self, name: &str) -> PathBuf {
        let folder = self.path(name);
        let paths = [&self.package, &self.identity, &folder];
        let said = shell("tests/outside/open-package.sh", paths);
        assert_eq!(said.code, 0, "{said:?}");
        folder
    }
}

fn attach_bytes(small: &mut Small, chart: &str, bytes: &[u8]) {
    let Data::Attachment(mut data) = example_data("attachment") else { panic!() };
    data.about.clear();
    small.clock.set(example("attachment").written);
    let now = small.practice.now();
    attach(&mut small.practice, chart, &mut &bytes[..], *data, now).unwrap();
}

/// An age identity made by the stock program.
fn new_identity(file: &Path) -> Recipient {
    let said = run("age-keygen", [OsStr::new("-o"), file.as_os_str()]);
    assert_eq!(said.code, 0, "{said:?}");
    let text = fs::read_to_string(file).unwrap();
    let public = text.lines().find_map(|line| line.strip_prefix("# public key: ")).unwrap();
    Recipient::parse(public).unwrap()
}

/// Opens an age file with the stock program.
fn age_open(identity: &Path, sealed: &Path, out: &Path) {
    let words: [&OsStr; 6] =
        ["-d".as_ref(), "-i".as_ref(), identity.as_ref(), "-o".as_ref(), out.as_ref(), sealed.as_ref()];
    let said = run("age", words);
    assert_eq!(said.code, 0, "{}: {said:?}", sealed.display());
}

#[test]
fn a_store_is_sound_for_both_and_both_remark_on_the_clock() {
    let made = Practised::new();
    assert!(made.small.practice.scan().head.as_ref().unwrap().number > 1, "one segment only");
    assert_eq!(both(&made.small.root(), "as written"), 0);
    let notices = |list, said| listed(&said, list, None).iter().filter(|i| *i == "clock-went-back").count();
    let (ours, theirs) = (inkfast_verify(&made.small.root(), &[]), verify_py(&made.small.root()));
    let (ours, theirs) = (notices("findings", ours), notices("notices", theirs));
    assert!(ours > 0 && ours == theirs, "{ours} and {theirs} clocks went back");
}

#[test]
fn spoiled_copies_are_judged_alike() {
    let made = Practised::new();
    let stranger = Small::new(48 << 10, 2);
    let out = made.path("spoiled");
    let (store, other) = (made.small.root(), stranger.root());
    let words: [&OsStr; 4] = [store.as_ref(), out.as_ref(), "--other".as_ref(), other.as_ref()];
    let said = python("scripts/spoil.py", words);
    assert_eq!((said.code, said.err.as_str()), (0, ""), "{said:?}");
    let expected = fs::read_to_string(out.join("expected.tsv")).unwrap();
    for line in expected.lines() {
        let [name, verdict, what] = line.split('\t').collect::<Vec<_>>()[..] else { panic!("{line}") };
        let root = out.join(name).join("store");
        assert_eq!(both(&root, what), i32::from(verdict == "wrong"), "{name}: {what}");
        let unseen = name.ends_with("unseen");
        let noticed = listed(&verify_py(&root), "notices", None).contains(&"outside-missing".to_string());
        assert!(noticed || !unseen, "{name}: no remark that there is no outside copy");
    }
    assert!(expected.lines().count() >= 27, "{expected}");
}

/// Any single change, wherever it falls: a bit, zeros, a cut.
#[test]
fn changes_anywhere_are_judged_alike() {
    let made = Practised::new();
    let copy = made.path("copy");
    copy_folder(&made.small.root(), &copy);
    let mut dice: u64 = 0x1F5;
    let mut roll = |below: usize| {
        // Knuth's MMIX generator: any spread of places will do, as long as a failure comes again.
        dice = dice.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
        (dice >> 33) as usize % below
    };
    let segments = made.small.practice.scan().head.as_ref().unwrap().number;
    let mut found = 0;
    let rounds = if long() { 200 } else { 40 };
    for round in 0..rounds {
        let path = copy.join("ledger").join(format!("{:06}.seg", roll(segments as usize) + 1));
        let whole = fs::read(&path).unwrap();
        let used = whole.iter().rposition(|b| *b != 0).unwrap() + 1;
        let at = roll(used);
        let mut bytes = whole.clone();
        match round % 4 {
            0 | 1 => bytes[at] ^= 1 << roll(8),
            2 => bytes[at..].fill(0),
            _ => drop(bytes.splice(at..at, [roll(256) as u8])),
        }
        bytes.truncate(whole.len());
        fs::write(&path, &bytes).unwrap();
        let about = format!("round {round}: {} at byte {at} of {used}", path.display());
        found += usize::from(both(&copy, &about) == 1);
        fs::write(&path, &whole).unwrap();
    }
    assert_eq!(found, rounds, "the outside copy shows every cut, and nothing else may be overlooked");
}

#[test]
fn the_emergency_test_reads_every_record() {
    let made = Practised::new();
    // Nothing but the ledger and the keys, and the recovery sheet.
    let bare = made.path("bare");
    copy_folder(&made.small.root().join("ledger"), &bare.join("ledger"));
    copy_folder(&made.small.root().join("keys"), &bare.join("keys"));
    let sheet = made.path("recovery.txt");
    fs::write(&sheet, format!("{}\n", made.small.recovery.to_text().as_str())).unwrap();
    let out = made.path("read");
    let said = shell("tests/outside/emergency.sh", [&bare, &sheet, &out]);
    assert_eq!(said.code, 0, "{said:?}");
    let entries = made.entries();
    for entry in &entries {
        let read = fs::read(out.join(format!("{:06}.json", entry.leaf.seq))).unwrap();
        assert!(read == entry.body.as_ref().unwrap().record[..], "entry {}", entry.leaf.seq);
    }
    assert_eq!(fs::read_dir(&out).unwrap().count(), entries.len());
    let said = shell("tests/outside/emergency.sh", [&bare, &made.identity, &made.path("not-read")]);
    assert_eq!(said.code, 2, "opened with a stranger's identity: {said:?}");
    printed_is_what_was_read(made, &out);
}

/// `print --json` shows the very records that the stock programs read.
fn printed_is_what_was_read(made: Practised, read: &Path) {
    let passphrase = made.path("passphrase.txt");
    fs::write(&passphrase, PASSPHRASE).unwrap();
    let Small { dir, practice, .. } = made.small;
    let me = practice.me().code;
    drop(practice); // The command writes, and one writer at a time may.
    let store = dir.path().join("store");
    let words: [&OsStr; 11] = [
        "print".as_ref(),
        "PM-0112".as_ref(),
        "--json".as_ref(),
        "--why".as_ref(),
        "review".as_ref(),
        "--as".as_ref(),
        me.as_ref(),
        "--store".as_ref(),
        store.as_ref(),
        "--passphrase-file".as_ref(),
        passphrase.as_ref(),
    ];
    let said = run(env!("CARGO_BIN_EXE_inkfast"), words);
    assert_eq!(said.code, 0, "{said:?}");
    let shown: Vec<serde_json::Value> = serde_json::from_str(&said.out).unwrap();
    assert!(shown.len() > KINDS.len());
    for entry in shown {
        let bytes = fs::read(read.join(format!("{:06}.json", entry["seq"].as_u64().unwrap()))).unwrap();
        assert_eq!(entry["record"], serde_json::from_slice::<serde_json::Value>(&bytes).unwrap());
    }
}

#[test]
fn one_body_opens_with_a_stock_age_and_its_chart_identity() {
    let made = Practised::new();
    let keys = made.small.root().join("keys");
    let sheet = made.path("recovery.txt");
    fs::write(&sheet, format!("{}\n", made.small.recovery.to_text().as_str())).unwrap();
    let visit = made.entries().into_iter().find(|e| e.leaf.kind == "visit").unwrap();
    let tag = visit.leaf.chart.clone().unwrap();
    let (role, chart) = (made.path("role.txt"), made.path("chart.txt"));
    age_open(&sheet, &keys.join("role-clinical.age"), &role);
    age_open(&role, &keys.join(format!("chart-{tag}-clinical.age")), &chart);
    // The body behind the 16 bytes of the frame's head and the leaf (FORMAT.md section 2).
    let segment = made.small.root().join(format!("ledger/{:06}.seg", visit.at.at.segment));
    let start = visit.at.at.offset as usize + 16 + visit.at.leaf_len as usize;
    let body = fs::read(segment).unwrap()[start..][..visit.at.body_len as usize].to_vec();
    let (sealed, plain) = (made.path("body.age"), made.path("body"));
    fs::write(&sealed, body).unwrap();
    age_open(&chart, &sealed, &plain);
    let record = &visit.body.as_ref().unwrap().record;
    let plain = fs::read(&plain).unwrap();
    assert!(plain.starts_with(b"inkfast-body/v1\n") && plain.ends_with(record));
    assert_eq!(plain.len(), 16 + 65 + record.len());
}

#[test]
fn a_package_is_sound_for_both_sealed_packed_and_unpacked() {
    let made = Practised::new();
    let folder = made.unpacked("unpacked");
    assert_eq!(both(&folder, "the folder"), 0);
    let tar = made.path("package.tar");
    age_open(&made.identity, &made.package, &tar);
    assert_eq!(both(&tar, "the archive"), 0);
    let notices = listed(&verify_py(&tar), "notices", None);
    assert!(notices.is_empty(), "{notices:?}");
    let identity = [OsStr::new("--identity"), made.identity.as_os_str()];
    assert_eq!(inkfast_verify(&made.package, &identity).code, 0);
    assert_eq!(verify_py(&made.package).code, 2, "a sealed package can't be checked");
    let bytes = fs::read(&tar).unwrap();
    fs::write(&tar, &bytes[..bytes.len() / 2 + 7]).unwrap();
    assert_eq!(both(&tar, "half of the archive"), 2);
}

/// One way to spoil an unpacked package.
type Spoil = (&'static str, fn(&Path));

fn edit(folder: &Path, name: &str, change: impl FnOnce(&mut Vec<u8>)) {
    let mut bytes = fs::read(folder.join(name)).unwrap();
    change(&mut bytes);
    fs::write(folder.join(name), bytes).unwrap();
}

fn replace(folder: &Path, name: &str, old: &str, new: &str) {
    edit(folder, name, |bytes| {
        let text = String::from_utf8(bytes.clone()).unwrap();
        assert!(text.contains(old), "{name} has no {old}");
        *bytes = text.replacen(old, new, 1).into_bytes();
    });
}

/// Changes the manifest and leaves its note as it was.
fn edit_manifest(folder: &Path, change: impl FnOnce(&mut serde_json::Value)) {
    edit(folder, "manifest.json", |bytes| {
        let mut manifest = serde_json::from_slice(bytes).unwrap();
        change(&mut manifest);
        *bytes = serde_json::to_vec_pretty(&manifest).unwrap();
    });
}

fn first_attachment(folder: &Path) -> PathBuf {
    let mut all: Vec<_> =
        fs::read_dir(folder.join("attachments")).unwrap().map(|f| f.unwrap().path()).collect();
    all.sort();
    all.remove(0)
}

fn remove_entry(folder: &Path, number: usize) {
    for item in fs::read_dir(folder.join("entries")).unwrap() {
        let path = item.unwrap().path();
        if path.file_name().unwrap().to_string_lossy().starts_with(&format!("{number:06}.")) {
            fs::remove_file(path).unwrap();
        }
    }
}

fn entry_count(folder: &Path) -> usize {
    let bytes = fs::read(folder.join("manifest.json")).unwrap();
    let manifest: serde_json::Value = serde_json::from_slice(&bytes).unwrap();
    manifest["entries"].as_array().unwrap().len()
}

const SPOILS: &[Spoil] = &[
    ("a record changed", |f| replace(f, "entries/000002.record.json", "2", "3")),
    ("a leaf changed", |f| replace(f, "entries/000002.leaf", "\"v\":1", "\"v\":2")),
    ("a leaf's author changed", |f| replace(f, "entries/000002.leaf", "\"author\":\"", "\"author\":\"X")),
    ("an opening changed", |f| {
        edit(f, "entries/000002.opening", |b| b[3] = if b[3] == b'0' { b'1' } else { b'0' })
    }),
    ("two proofs swapped", |f| {
        let (one, two) = (f.join("entries/000002.tlog-proof"), f.join("entries/000003.tlog-proof"));
        let (first, second) = (fs::read(&one).unwrap(), fs::read(&two).unwrap());
        fs::write(one, second).unwrap();
        fs::write(two, first).unwrap();
    }),
    ("an entry removed", |f| remove_entry(f, 2)),
    ("a record removed", |f| fs::remove_file(f.join("entries/000002.record.json")).unwrap()),
    ("the list of keys removed", |f| fs::remove_file(f.join("keys/1.record.json")).unwrap()),
    ("a file more", |f| fs::write(f.join("entries/000999.leaf"), "more").unwrap()),
    ("a link more", |f| std::os::unix::fs::symlink("record.html", f.join("link.html")).unwrap()),
    ("the printed record changed", |f| edit(f, "record.html", |b| b.push(b' '))),
    ("the manifest spaced otherwise", |f| edit(f, "manifest.json", |b| b.push(b'\n'))),
    ("the manifest removed", |f| fs::remove_file(f.join("manifest.json")).unwrap()),
    ("the note on the manifest removed", |f| fs::remove_file(f.join("manifest.note")).unwrap()),
    ("a reason for withholding added", |f| {
        edit_manifest(f, |m| m["entries"][1]["withheld"] = "not for you".into());
    }),
    ("the last entries cut, and the manifest with them", |f| {
        let last = entry_count(f);
        remove_entry(f, last);
        edit_manifest(f, |m| {
            let gone = format!("entries/{last:06}.");
            m["entries"].as_array_mut().unwrap().pop();
            m["files"].as_array_mut().unwrap().retain(|x| !x["name"].as_str().unwrap().starts_with(&gone));
        });
    }),
    ("an attachment changed", |f| fs::write(first_attachment(f), "another").unwrap()),
    ("an attachment removed", |f| fs::remove_file(first_attachment(f)).unwrap()),
    ("the checkpoint changed", |f| replace(f, "ledger/checkpoint", "\n\n", "9\n\n")),
    ("the policy removed", |f| fs::remove_file(f.join("ledger/policy")).unwrap()),
    ("the ledger of the manifest changed", |f| {
        edit_manifest(f, |m| m["ledger"] = format!("ledger-{}", "0".repeat(32)).into());
    }),
];

#[test]
fn spoiled_packages_are_judged_alike() {
    let made = Practised::new();
    let whole = made.unpacked("whole");
    for (number, (what, change)) in SPOILS.iter().enumerate() {
        let folder = made.path(&format!("spoiled-{number}"));
        copy_folder(&whole, &folder);
        change(&folder);
        assert_eq!(both(&folder, what), 1, "{what}");
        let tar = made.path(&format!("spoiled-{number}.tar"));
        let words: [&OsStr; 6] = [
            "--format=ustar".as_ref(),
            "-cf".as_ref(),
            tar.as_ref(),
            "-C".as_ref(),
            folder.as_ref(),
            "--transform=s,^\\./,,".as_ref(),
        ];
        let names = fs::read_dir(&folder).unwrap().map(|f| f.unwrap().file_name());
        let said = run("tar", words.iter().map(|w| w.to_os_string()).chain(names));
        assert_eq!(said.code, 0, "{said:?}");
        assert_eq!(both(&tar, what), 1, "{what}, as an archive");
    }
}

#[test]
fn a_later_edition_of_a_package_is_neither_sound_nor_wrong() {
    let made = Practised::new();
    let folder = made.unpacked("later");
    edit_manifest(&folder, |m| m["inkfast_package"] = 2.into());
    assert_eq!(both(&folder, "edition 2"), 2);
    let root = made.path("later-store");
    copy_folder(&made.small.root(), &root);
    replace(&root, "store.json", "\"inkfast_store\": 1", "\"inkfast_store\": 2");
    assert_eq!(both(&root, "store edition 2"), 2);
    replace(&root, "store.json", "\"inkfast_store\": 2", "\"inkfast_store\": 0");
    assert_eq!(both(&root, "store edition 0"), 1);
}

#[test]
fn every_proof_of_a_package_convinces_a_program_in_go() {
    let made = Practised::new();
    let folder = made.unpacked("unpacked");
    let go = GoCheck::build();
    let vkey = made.small.practice.place.file.checkpoint_key.clone();
    let other = folder.join("entries/000001.leaf");
    let mut count = 0;
    for part in ["keys", "entries"] {
        for item in fs::read_dir(folder.join(part)).unwrap() {
            let proof = item.unwrap().path();
            if proof.extension() != Some(OsStr::new("tlog-proof")) {
                continue;
            }
            let leaf = proof.with_extension("leaf");
            let words: [&OsStr; 3] = [vkey.as_ref(), leaf.as_ref(), proof.as_ref()];
            let said = go.says(words);
            assert!(said.is_ok(), "{}: {said:?}", proof.display());
            let wrong: [&OsStr; 3] = [vkey.as_ref(), other.as_ref(), proof.as_ref()];
            assert_eq!(go.says(wrong).is_ok(), leaf == other, "{}", proof.display());
            count += 1;
        }
    }
    assert!(count > entry_count(&folder), "{count} proofs");
    let changed = go.write("changed.leaf", &[&fs::read(&other).unwrap()[..], b"\n"].concat());
    let proof = other.with_extension("tlog-proof");
    assert!(go.says([vkey.as_ref(), changed.as_os_str(), proof.as_os_str()]).is_err());
}

/// The whole demonstration: three years of an invented practice, each package handed over.
#[test]
fn the_demonstration_is_sound_for_both() {
    if !long() {
        eprintln!("left to `scripts/test --long`: it takes minutes");
        return;
    }
    let dir = tempfile::tempdir().unwrap();
    let demo = dir.path().join("demo");
    let said = run(env!("CARGO_BIN_EXE_inkfast"), [OsStr::new("demo"), "--into".as_ref(), demo.as_os_str()]);
    assert_eq!(said.code, 0, "{}", said.err);
    assert_eq!(both(&demo.join("store"), "the demonstration"), 0);
    let mut packages = 0;
    for item in fs::read_dir(demo.join("handed-over")).unwrap() {
        let identity = item.unwrap().path();
        let name = identity.file_name().unwrap().to_string_lossy().into_owned();
        let Some(stem) = name.strip_suffix(".identity.txt") else { continue };
        let folder = dir.path().join(stem);
        let package = demo.join("handed-over").join(format!("{stem}.age"));
        let said = shell("tests/outside/open-package.sh", [&package, &identity, &folder]);
        assert_eq!(said.code, 0, "{said:?}");
        assert_eq!(both(&folder, stem), 0);
        packages += 1;
    }
    assert!(packages >= 2, "{packages} packages");
    let (store, out) = (demo.join("store"), dir.path().join("read"));
    let said = shell("tests/outside/emergency.sh", [&store, &demo.join("recovery-identity.txt"), &out]);
    assert_eq!(said.code, 0, "{said:?}");
}

#[test]
fn packages_bent_in_span_slips_and_differences_are_found_by_both() {
    let bent = planted::bent_packages();
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("package.tar");
    for (what, all) in [("the part", &bent.part), ("the whole", &bent.whole)] {
        fs::write(&path, planted::pack(all)).unwrap();
        assert_eq!(both(&path, what), 0, "{what} is not bent");
    }
    for (what, all, _) in &bent.all {
        fs::write(&path, planted::pack(all)).unwrap();
        assert_eq!(both(&path, what), 1, "{what}");
    }
    // A name that no part may have is called so by all three: the program, the checker alone, and verify.py.
    let names = bent.all.iter().filter(|(_, _, id)| *id == "member-name");
    assert_eq!(names.clone().count(), 4);
    for (what, all, id) in names {
        fs::write(&path, planted::pack(all)).unwrap();
        let alone = run(env!("CARGO_BIN_EXE_inkfast-check"), [OsStr::new("--json"), path.as_os_str()]);
        for said in [inkfast_verify(&path, &[]), alone, verify_py(&path)] {
            assert_eq!(said.code, 1, "{what}: {said:?}");
            assert!(listed(&said, "findings", None).iter().any(|found| found == id), "{what}: {said:?}");
        }
    }
}

/// `scripts/check_words.py` is written from schema/FORMAT.md alone.
#[test]
fn check_words_are_reckoned_alike_by_another_program() {
    use inkfast::verify::pin::{Pin, What};
    for (what, number) in [(What::Slip, 1), (What::Receipt, 1204), (What::Slip, u64::MAX), (What::Receipt, 0)]
    {
        let pin = Pin::new(what, number, &inkfast::ledger::tree::leaf_hash(&number.to_be_bytes()));
        let number = number.to_string();
        let mut words = pin.words();
        let words_of = |words: &[&str]| {
            let all = [what.name(), &number].into_iter().chain(words.iter().copied()).map(str::to_string);
            python("scripts/check_words.py", all.collect::<Vec<_>>())
        };
        assert_eq!(words_of(&words).out.trim_end(), pin.code());
        words.swap(3, 4);
        assert_eq!(words_of(&words).code, 1, "swapped");
    }
}

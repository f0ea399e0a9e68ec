//! Promise: nobody reads what their role does not open, and every reading leaves an entry; a signature
//! counts only on the days its key was in force.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // In a test a panic is the report.

mod common;

use common::{
    OWNER, PASSPHRASE, Small, add, attachment, check, contact_saying, example_data, ids, moment,
    reaction_saying,
};
use inkfast::practice::attach::{attach, open_into};
use inkfast::practice::open::Practice;
use inkfast::practice::session::{Session, open_identity};
use inkfast::practice::staff;
use inkfast::record::kinds::register::{KeyRole, Keys, StaffKey};
use inkfast::record::kinds::{Class, Data, Day, class_of};
use inkfast::record::moment::parse_date;
use inkfast::seal::age_file::{Identity, To, With, open, seal};
use inkfast::trouble::Kind;
use std::process::Command;

const DESK: &str = "HL";
const AUDITOR: &str = "AU";
const OTHER: &str = "seven tin larks";

/// A store with a person at the desk and an auditor, and a chart with both sorts of entries.
struct Staffed {
    small: Small,
    tag: String,
}

fn hire(small: &mut Small, code: &str, roles: Vec<KeyRole>) {
    let Data::Staff(mut line) = example_data("staff") else { panic!() };
    line.code = code.into();
    line.name = format!("Person {code}");
    line.on_roster_last_day = None;
    staff::add(&mut small.practice, *line, roles, OTHER, 4).unwrap();
}

impl Staffed {
    fn new() -> Staffed {
        let mut small = Small::new(64 << 10, 1);
        hire(&mut small, DESK, vec![KeyRole::Desk]);
        hire(&mut small, AUDITOR, vec![KeyRole::Auditor]);
        let (tag, now) = (small.charts[0].clone(), small.practice.now());
        let p = &mut small.practice;
        add(p, Some(&tag), contact_saying("rang in the morning")).unwrap();
        add(p, Some(&tag), reaction_saying("dizzy for an hour")).unwrap();
        for (title, for_desk) in [("a letter", true), ("a scan", false)] {
            let mut data = attachment(title);
            data.for_desk = for_desk;
            attach(p, &tag, &mut title.as_bytes(), data, now).unwrap();
        }
        small.let_go();
        Staffed { small, tag }
    }

    fn open(&self, code: &str) -> Practice {
        self.small.open_as(code, OTHER).unwrap()
    }
}

/// Numbers of the chart's entries that a person opens, and of those that they do not.
fn opens(practice: &Practice, tag: &str) -> (Vec<u64>, Vec<u64>) {
    let (open, shut): (Vec<_>, Vec<_>) =
        practice.chart(tag).unwrap().into_iter().partition(|e| e.record.is_some());
    let numbers = |entries: Vec<inkfast::practice::open::Entry>| entries.iter().map(|e| e.leaf.seq).collect();
    (numbers(open), numbers(shut))
}

#[test]
fn the_desk_opens_who_and_when_and_nothing_of_care() {
    let staffed = Staffed::new();
    let (tag, owner) = (&staffed.tag, &staffed.small.practice);
    let (all, none) = opens(owner, tag);
    assert!(none.is_empty() && all.len() == 6);
    let clinical: Vec<u64> = owner
        .chart(tag)
        .unwrap()
        .iter()
        .filter(|e| class_of(e.record.as_ref().unwrap()) == Class::Clinical)
        .map(|e| e.leaf.seq)
        .collect();
    assert_eq!(clinical.len(), 2, "a reaction and a scan");
    let desk = staffed.open(DESK);
    let (_, shut) = opens(&desk, tag);
    assert_eq!(shut, clinical);
    // Not with any key that the desk's passphrase leads to either.
    let keys = desk.session.chart_keys(&desk.world, &desk.place, tag).unwrap();
    assert!(keys.desk.is_some() && keys.clinical.is_none());
    let mut held: Vec<Identity> = desk.session.role_identities();
    held.push(desk.session.me.identity.clone());
    held.extend(keys.desk);
    for seq in clinical {
        let at = &desk.at_seq(seq).unwrap();
        let dir = desk.place.root.join("ledger");
        let (_, body) = inkfast::ledger::write::read_entry(&desk.world, &dir, at).unwrap();
        assert!(open(&With::Identities(&held), &body).is_err(), "the desk opens entry {seq}");
    }
    for name in std::fs::read_dir(desk.place.root.join("keys")).unwrap() {
        let name = name.unwrap().file_name().into_string().unwrap();
        if name.contains("clinical") {
            assert!(
                open_identity(&desk.world, &desk.place, &name, &With::Identities(&held)).unwrap().is_none(),
                "{name}"
            );
        }
    }
    // An attachment of each sort.
    for entry in owner.chart(tag).unwrap() {
        let Some(Data::Attachment(data)) = entry.data() else { continue };
        let got = open_into(&desk, tag, &data, &mut Vec::new());
        assert_eq!(got.is_ok(), data.for_desk, "{:?}", got);
        if let Err(trouble) = got {
            assert_eq!(trouble.kind, Kind::Locked);
        }
    }
}

#[test]
fn the_desk_adds_what_it_can_not_read() {
    let staffed = Staffed::new();
    let mut desk = staffed.open(DESK);
    let receipt = add(&mut desk, Some(&staffed.tag), reaction_saying("said at the desk: dizzy")).unwrap();
    assert!(desk.entry_by_seq(receipt.seq).unwrap().record.is_none());
    drop(desk);
    let owner = staffed.small.open_as(OWNER, PASSPHRASE).unwrap();
    assert!(owner.entry_by_seq(receipt.seq).unwrap().record.is_some());
    assert!(check(&staffed.small.root()).sound);
}

#[test]
fn the_auditor_opens_nothing_writes_nothing_and_verifies() {
    let staffed = Staffed::new();
    let mut auditor = staffed.open(AUDITOR);
    assert!(auditor.session.roles.is_empty() && auditor.session.vouch.is_none());
    let (open, shut) = opens(&auditor, &staffed.tag);
    assert!(open.is_empty() && shut.len() == 6);
    let register = auditor.register().unwrap();
    assert!(
        register
            .iter()
            .filter(|e| e.record.is_some())
            .all(|e| ["keys", "file-kept"].contains(&e.leaf.kind.as_str()))
    );
    let trouble = add(&mut auditor, Some(&staffed.tag), contact_saying("no")).unwrap_err();
    assert_eq!(trouble.kind, Kind::Locked, "{trouble}");
    // Verifying needs no key at all: it works with every key file gone.
    let copy = staffed.small.copy();
    std::fs::remove_dir_all(copy.path().join("store/keys")).unwrap();
    let report = check(&copy.path().join("store"));
    assert!(report.sound && report.files == 2, "{:?}", report.findings);
}

#[test]
fn a_wrong_passphrase_or_an_unknown_person_is_locked_out() {
    let staffed = Staffed::new();
    let mut told = Vec::new();
    for (code, passphrase) in [(OWNER, OTHER), (DESK, PASSPHRASE), (DESK, ""), ("ZZ", OTHER), ("../x", OTHER)]
    {
        let Err(trouble) = staffed.small.open_as(code, passphrase).map(drop) else {
            panic!("{code} came in")
        };
        assert_eq!(trouble.kind, Kind::Locked, "{code}: {trouble}");
        assert!(passphrase.is_empty() || !trouble.to_string().contains(passphrase));
        told.push(trouble.to_string());
    }
    assert_eq!(told[0], told[1]);
}

#[test]
fn the_recovery_sheet_opens_every_chart() {
    let mut staffed = Staffed::new();
    let second = staffed.small.open_chart("PM-0900");
    let (p, recovery) = (&staffed.small.practice, &staffed.small.recovery);
    let held = std::slice::from_ref(recovery);
    for tag in [&staffed.tag, &second] {
        let role =
            |name| open_identity(&p.world, &p.place, name, &With::Identities(held)).unwrap().expect(name);
        let roles = [role("role-desk.age"), role("role-clinical.age")];
        let mut keys = Vec::new();
        for class in ["desk", "clinical"] {
            let name = format!("chart-{tag}-{class}.age");
            keys.push(
                open_identity(&p.world, &p.place, &name, &With::Identities(&roles)).unwrap().expect(&name),
            );
        }
        for at in p.of_chart(tag, 0).unwrap() {
            let dir = p.place.root.join("ledger");
            let (_, body) = inkfast::ledger::write::read_entry(&p.world, &dir, &at).unwrap();
            assert!(open(&With::Identities(&keys), &body).is_ok(), "entry {}", at.seq);
        }
    }
}

#[test]
fn what_a_leaver_signs_after_the_last_day_is_found() {
    let mut staffed = Staffed::new();
    let small = &mut staffed.small;
    // The leaver kept everything that was unlocked on the last day.
    let kept = Session::unlock(&small.world, &small.practice.place, DESK, OTHER).unwrap();
    let last_day = parse_date("2025-09-22").unwrap();
    staff::retire(&mut small.practice, DESK, last_day, "left for the coast").unwrap();
    let owner = staff::hand_to(&mut small.practice, kept);
    let tag = Some(staffed.tag.as_str());
    add(&mut small.practice, tag, contact_saying("on the last day")).unwrap();
    assert!(check(&small.root()).sound);
    small.clock.set(moment("2025-09-23T08:00:00-04:00"));
    let late = add(&mut small.practice, tag, contact_saying("on the day after")).unwrap();
    staff::hand_to(&mut small.practice, owner);
    let report = check(&small.root());
    assert_eq!(ids(&report), ["signer-not-that-day"]);
    assert_eq!(report.findings[0].place.seq, Some(late.seq));
    assert_eq!(report.findings[0].place.chart.as_deref(), tag);
    // The passphrase opens no role any more.
    small.let_go();
    let mut leaver = small.open_as(DESK, OTHER).unwrap();
    assert_eq!(add(&mut leaver, tag, contact_saying("no")).unwrap_err().kind, Kind::Locked);
    assert!(leaver.session.roles.is_empty() && leaver.session.vouch.is_none());
    assert!(opens(&leaver, &staffed.tag).0.is_empty());
    // Nor does the key itself, once the roles are sealed anew.
    let key = leaver.session.me.identity.clone();
    let role = |small: &Small| {
        let p = &small.practice;
        open_identity(&p.world, &p.place, "role-desk.age", &With::Identities(std::slice::from_ref(&key)))
            .unwrap()
    };
    assert!(role(small).is_some());
    hire(small, "NN", vec![KeyRole::Desk]);
    assert!(role(small).is_none());
}

#[test]
fn keys_changed_by_somebody_who_may_not_are_found_and_change_nothing() {
    let staffed = Staffed::new();
    let root = staffed.small.root();
    let mut desk = staffed.open(DESK);
    let own = Identity::generate();
    let me = &desk.session.me;
    let own_line = StaffKey {
        code: DESK.into(),
        roles: vec![KeyRole::Desk, KeyRole::Clinical, KeyRole::Custodian],
        recipient: own.recipient().to_string(),
        vkey: me.signer.vkey(),
        from: Day(parse_date("2022-10-03").unwrap()),
        until: None,
    };
    let from = own_line.from;
    let role = |role| inkfast::record::kinds::register::RoleKey {
        role,
        recipient: own.recipient().to_string(),
        from,
        until: None,
    };
    let keys = Keys {
        staff: vec![own_line],
        roles: vec![role(KeyRole::Desk), role(KeyRole::Clinical)],
        because: None,
    };
    let seq = add(&mut desk, None, Data::Keys(Box::new(keys))).unwrap().seq;
    drop(desk);
    let report = check(&root);
    assert_eq!(ids(&report), ["signer-may-not"]);
    assert_eq!(
        (report.findings[0].place.seq, report.findings[0].place.kind.as_deref()),
        (Some(seq), Some("keys"))
    );
    // Nothing is sealed to the key that was slipped in, and its owner is no keeper of the keys.
    let mut owner = staffed.small.open_as(OWNER, PASSPHRASE).unwrap();
    assert!(owner.keys().role(KeyRole::Clinical).unwrap() != own.recipient());
    let receipt = add(&mut owner, None, example_data("wording")).unwrap();
    let at = owner.at_seq(receipt.seq).unwrap();
    let (_, body) = inkfast::ledger::write::read_entry(&owner.world, &root.join("ledger"), &at).unwrap();
    assert!(open(&With::Identities(&[own]), &body).is_err());
    drop(owner);
    let mut desk = staffed.open(DESK);
    let Data::Staff(mut line) = example_data("staff") else { panic!() };
    line.code = "NN".into();
    let trouble = staff::add(&mut desk, *line, vec![KeyRole::Clinical], OTHER, 4).unwrap_err();
    assert_eq!(trouble.kind, Kind::Refused);
}

#[test]
fn a_recipient_slipped_into_a_chart_is_refused() {
    let mut staffed = Staffed::new();
    let p = &mut staffed.small.practice;
    let path = p.place.key_file(&format!("chart-{}.note", staffed.tag));
    let note = std::fs::read_to_string(&path).unwrap();
    let (desk, _) = p.session.chart_recipients(&p.world, &p.place, p.keys(), &staffed.tag).unwrap();
    let own = Identity::generate().recipient().to_string();
    std::fs::write(&path, note.replacen(&desk.to_string(), &own, 1)).unwrap();
    let trouble = add(p, Some(&staffed.tag), contact_saying("no")).unwrap_err();
    assert_eq!(trouble.kind, Kind::Damaged, "{trouble}");
    std::fs::write(&path, note).unwrap();
    add(p, Some(&staffed.tag), contact_saying("yes")).unwrap();
}

#[test]
fn a_body_that_opens_to_other_words_is_never_shown() {
    // A keeper of a chart's public recipient can seal anything to it; what counts is the leaf.
    let mut staffed = Staffed::new();
    let p = &mut staffed.small.practice;
    let (desk, _) = p.session.chart_recipients(&p.world, &p.place, p.keys(), &staffed.tag).unwrap();
    let entries = p.chart(&staffed.tag).unwrap();
    let entry = entries.iter().find(|e| e.leaf.kind == "contact").unwrap();
    let mut body = entry.body.clone().unwrap();
    body.record.extend_from_slice(b" ");
    let other = seal(&To::Recipients(&[desk]), &body.to_bytes()).unwrap();
    let path = inkfast::ledger::segment::path(&p.place.root.join("ledger"), entry.at.at.segment);
    let mut bytes = std::fs::read(&path).unwrap();
    let from = entry.at.at.offset as usize + 16 + entry.at.leaf_len as usize;
    let len = other.len().min(entry.at.body_len as usize);
    bytes[from..from + len].copy_from_slice(&other[..len]);
    std::fs::write(&path, bytes).unwrap();
    let Err(trouble) = p.entry(&entry.at) else { panic!("other words were shown") };
    assert_eq!(trouble.kind, Kind::Damaged);
    assert!(trouble.what.contains(&entry.leaf.seq.to_string()));
}

/// Runs the program itself.
fn run(small: &Small, code: &str, passphrase: &str, words: &[&str]) -> (bool, String) {
    let file = small.dir.path().join("passphrase");
    std::fs::write(&file, passphrase).unwrap();
    let out = Command::new(env!("CARGO_BIN_EXE_inkfast"))
        .args(words)
        .arg("--store")
        .arg(small.root())
        .args(["--as", code, "--passphrase-file"])
        .arg(&file)
        .env_remove("INKFAST_STORE")
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&out.stdout).into_owned() + &String::from_utf8_lossy(&out.stderr);
    (out.status.success(), said)
}

#[test]
fn every_reading_leaves_an_entry() {
    let staffed = Staffed::new();
    let accesses = |small: &Small| {
        let practice = small.open_as(OWNER, PASSPHRASE).unwrap();
        let chart = practice.chart(&staffed.tag).unwrap();
        chart.iter().filter(|e| e.leaf.kind == "access").map(|e| e.leaf.author.clone()).collect::<Vec<_>>()
    };
    let small = &staffed.small;
    assert!(accesses(small).is_empty());
    // Without a reason nothing is shown.
    let (done, said) = run(small, DESK, OTHER, &["print", "PM-0112"]);
    assert!(!done && said.contains("reason") && !said.contains("rang in the morning"), "{said}");
    assert!(accesses(small).is_empty());
    let (done, said) = run(small, DESK, OTHER, &["print", "PM-0112", "--why", "call"]);
    assert!(done && said.contains("rang in the morning"), "{said}");
    assert!(!said.contains("dizzy"), "the desk read contents of care: {said}");
    assert_eq!(accesses(small), [DESK]);
    let (done, said) = run(small, OWNER, PASSPHRASE, &["print", "PM-0112", "--why", "review", "--json"]);
    assert!(done && said.contains("dizzy"), "{said}");
    assert_eq!(accesses(small), [DESK, OWNER]);
    let (done, said) = run(small, AUDITOR, OTHER, &["print", "PM-0112", "--why", "review"]);
    assert!(!done && !said.contains("rang"), "{said}");
    assert!(check(&small.root()).sound);
}

//! Promise: what a role opens is decided by keys. Every sealed thing of a store is tried with every person's own
//! identity and with all that comes out of what opens, without asking the program what they may.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // In a test a panic is the report.

mod common;

use common::reach::reach;
use common::{
    OWNER, PASSPHRASE, Small, add, attachment, check, contact_saying, example_data, reaction_saying,
};
use inkfast::practice::attach::attach;
use inkfast::practice::drafts::Kept;
use inkfast::practice::office::{self, Scan};
use inkfast::practice::session::Session;
use inkfast::practice::staff;
use inkfast::record::envelope::Happened;
use inkfast::record::kinds::register::KeyRole;
use inkfast::record::kinds::{Class, Data, class_of, info};
use inkfast::seal::age_file::Identity;
use std::collections::{BTreeMap, BTreeSet};

const OTHER: &str = "seven tin larks";
const PEOPLE: [(&str, &[KeyRole]); 4] = [
    ("HL", &[KeyRole::Desk]),
    ("PQ", &[KeyRole::Clinical]),
    ("AU", &[KeyRole::Auditor]),
    ("CU", &[KeyRole::Custodian]),
];

fn store() -> Small {
    let mut small = Small::new(64 << 10, 2);
    for (code, roles) in PEOPLE {
        let Data::Staff(mut line) = example_data("staff") else { panic!() };
        line.code = code.into();
        line.on_roster_last_day = None;
        staff::add(&mut small.practice, *line, roles.to_vec(), OTHER, 4).unwrap();
    }
    let (tag, now) = (small.charts[0].clone(), small.practice.now());
    add(&mut small.practice, Some(&tag), contact_saying("rang in the morning")).unwrap();
    add(&mut small.practice, Some(&tag), reaction_saying("dizzy for an hour")).unwrap();
    for for_desk in [true, false] {
        let mut data = attachment("a paper");
        data.for_desk = for_desk;
        attach(&mut small.practice, &tag, &mut &[u8::from(for_desk); 40][..], data, now).unwrap();
    }
    let Data::OfficeFile(mut office) = example_data("office-file") else { panic!() };
    office.attachments.clear();
    (office.of, office.request) = (None, None);
    let mut bytes = &b"a letter of an attorney"[..];
    let paper = Scan { title: "letter".into(), media_type: "text/plain".into(), source: &mut bytes };
    office::add(&mut small.practice, *office, Some(paper), Happened { start: now, end: None, about: false })
        .unwrap();
    small.let_go();
    for (code, secret) in PEOPLE.map(|(code, _)| (code, OTHER)).into_iter().chain([(OWNER, PASSPHRASE)]) {
        let practice = small.open_as(code, secret).unwrap();
        let data = serde_json::json!({ "typed by": code });
        let (kind, by) = ("contact".to_string(), code.to_string());
        practice.keep_draft(&Kept { kind, chart: Some(tag.clone()), by, begun: now, data }).unwrap();
    }
    small
}

/// What sort of thing a sealed file or entry is.
fn sort(small: &Small, name: &str) -> String {
    if let Some(entry) = name.strip_prefix("entry ") {
        let (seq, kind) = entry.split_once(' ').unwrap();
        let entry = small.practice.entry_by_seq(seq.parse().unwrap()).unwrap();
        let class = match entry.leaf.chart {
            Some(_) => class_of(entry.record.as_ref().unwrap()),
            None => info(kind).unwrap().class,
        };
        return match (entry.leaf.chart.is_some(), class) {
            (true, Class::Desk) => "who-and-when",
            (true, _) => "care",
            (false, Class::Clinical) => "office file",
            (false, _) => "register",
        }
        .to_string();
    }
    let file = name.rsplit('/').next().unwrap();
    match name.split('/').next().unwrap() {
        "drafts" => "draft".into(),
        "files" => {
            let digest = file.strip_suffix(".age").unwrap();
            let papers = small.practice.chart(&small.charts[0]).unwrap();
            let mut papers = papers.iter().filter_map(|e| match e.data() {
                Some(Data::Attachment(data)) => Some(data),
                _ => None,
            });
            match papers.find(|data| data.sealed_digest == digest) {
                Some(data) if data.for_desk => "attachment for the desk".into(),
                Some(_) => "attachment of care".into(),
                None => "office paper".into(),
            }
        }
        _ if file.starts_with("chart-") => {
            let role = file.rsplit('-').next().unwrap();
            format!("chart key {}", role.strip_suffix(".age").unwrap())
        }
        _ if file.starts_with("staff-") => "staff".into(),
        _ => file.to_string(),
    }
}

/// How many of each sort.
fn sorts(small: &Small, names: &BTreeSet<String>) -> BTreeMap<String, usize> {
    let mut counted = BTreeMap::new();
    for name in names {
        *counted.entry(sort(small, name)).or_default() += 1;
    }
    counted
}

/// Desk: who and when. Clinical: everything. Auditor and custodian: nothing. Each their own draft.
/// From the page on design: "desk opens who-and-when, clinical opens everything, auditor opens nothing".
const DESK: &[&str] =
    &["role-desk.age", "ledger.age", "chart key desk", "who-and-when", "register", "attachment for the desk"];
const CLINICAL: &[&str] =
    &["role-clinical.age", "chart key clinical", "care", "attachment of care", "office file", "office paper"];

#[test]
fn every_role_against_every_sealed_thing() {
    let small = store();
    let root = small.root();
    let whole = sorts(&small, &reach(&small.world, &root, &[]).all);
    let opens = |start: &[Identity]| sorts(&small, &reach(&small.world, &root, start).opened);
    let identity = |code: &str, secret: &str| {
        Session::unlock(&small.world, &small.practice.place, code, secret).unwrap().me.identity.clone()
    };
    let expected = |parts: &[&[&str]], drafts: bool| {
        let mut all: BTreeMap<String, usize> =
            parts.concat().iter().map(|sort| (sort.to_string(), whole[*sort])).collect();
        all.extend(drafts.then(|| ("draft".to_string(), 1)));
        all
    };
    assert_eq!(whole["draft"], PEOPLE.len() + 1);
    assert_eq!((whole["chart key desk"], whole["staff"]), (2, PEOPLE.len() + 1));
    let sealed: BTreeSet<&str> = whole.keys().map(String::as_str).collect();
    let known: BTreeSet<&str> =
        [DESK, CLINICAL, &["draft", "staff", "recovery.age"]].concat().into_iter().collect();
    assert_eq!(sealed, known, "a sort of sealed thing that this test does not know");

    assert_eq!(opens(&[]), BTreeMap::new());
    assert_eq!(opens(&[Identity::generate()]), BTreeMap::new());
    assert_eq!(opens(&[identity("HL", OTHER)]), expected(&[DESK], true));
    assert_eq!(opens(&[identity("PQ", OTHER)]), expected(&[DESK, CLINICAL], true));
    assert_eq!(opens(&[identity(OWNER, PASSPHRASE)]), expected(&[DESK, CLINICAL], true));
    assert_eq!(opens(&[identity("AU", OTHER)]), expected(&[], true));
    assert_eq!(opens(&[identity("CU", OTHER)]), expected(&[], true));
    // The paper opens everything but what a person has not signed.
    let paper = opens(std::slice::from_ref(&small.recovery));
    assert_eq!(paper, expected(&[DESK, CLINICAL, &["recovery.age"]], false));
    assert!(check(&root).sound);
}

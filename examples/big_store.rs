//! A store to measure on: 100,000 entries in 1,000 charts, one of which has 300 entries and 20 attachments.
//!
//!     big_store fill FOLDER [ENTRIES [CHARTS ITS-ENTRIES]]
//!                                         makes it; its passphrase and the number of that chart lie beside it
//!     big_store floor FOLDER              the least that releasing can cost: every byte of the ledger hashed,
//!                                         and one sealed body opened for each entry of the chart
//!
//! `scripts/bench-package` runs both. The passphrase's work factor is far too low for use: what is measured is
//! the work on the store, not the waiting that guards a passphrase.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // What stops a measurement must stop it.

use inkfast::practice::attach::attach;
use inkfast::practice::open::{Draft, Practice};
use inkfast::practice::rules::adopt;
use inkfast::practice::setup::{Setup, init, make_chart_keys};
use inkfast::record::envelope::Record;
use inkfast::record::kinds::Data;
use inkfast::record::moment::Moment;
use inkfast::seal::age_file::{Identity, To, With, open, seal};
use inkfast::world::{SetClock, World};
use std::path::Path;
use std::sync::Arc;

const CHARTS: usize = 1_000;
const ITS_ENTRIES: usize = 300;
const ITS_ATTACHMENTS: usize = 20;
const ATTACHMENT_BYTES: usize = 200 << 10;
const GROUP: usize = 500;
/// The rules that the invented practice adopted.
const RULES: &str = "src/demo/papers/rules-1.toml";
const PASSPHRASE: &str = "only for measuring";

fn main() {
    let words: Vec<String> = std::env::args().skip(1).collect();
    match words.iter().map(String::as_str).collect::<Vec<_>>()[..] {
        ["fill", folder] => fill(Path::new(folder), 100_000, CHARTS, ITS_ENTRIES),
        ["fill", folder, entries] => fill(Path::new(folder), entries.parse().unwrap(), CHARTS, ITS_ENTRIES),
        ["fill", folder, entries, charts, its] => {
            let [entries, charts, its] = [entries, charts, its].map(|n| n.parse().unwrap());
            fill(Path::new(folder), entries, charts, its)
        }
        ["floor", folder] => floor(Path::new(folder)),
        _ => panic!("big_store fill FOLDER [ENTRIES] | big_store floor FOLDER"),
    }
}

fn example(kind: &str) -> Record {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("tests/data/records/{kind}.json"));
    Record::from_bytes(&std::fs::read(path).unwrap()).unwrap()
}

fn drafts(tag: &str, kinds: &[&str], count: usize, no: &mut usize, now: Moment) -> Vec<Draft> {
    let of = |kind: &str, no: usize| {
        let mut record = example(kind);
        if kind == "contact" {
            record.data["said"] = format!("number {no}").into();
        }
        Draft::new(Some(tag), record.read_data().unwrap(), now)
    };
    let mut out = Vec::with_capacity(count);
    for n in 0..count {
        *no += 1;
        out.push(of(kinds[n % kinds.len()], *no));
    }
    out
}

fn fill(folder: &Path, entries: usize, charts: usize, its: usize) {
    let each = entries.saturating_sub(its) / charts.saturating_sub(1).max(1);
    assert!(
        charts > 1 && each > 0 && its > ITS_ATTACHMENTS,
        "{charts} charts, of one with {its} entries, do not fit into {entries} entries"
    );
    let start = Moment::parse("2022-10-03T08:10:00-04:00").unwrap();
    let clock = Arc::new(SetClock::new(start));
    let world = World::with_clock(clock.clone());
    let Data::RegisterOpened(opened) = example("register-opened").read_data().unwrap() else { panic!() };
    let Data::Staff(mut owner) = example("staff").read_data().unwrap() else { panic!() };
    owner.on_roster_last_day = None;
    let code = owner.code.clone();
    let mut setup = Setup::new(&folder.join("store"), *opened, *owner, PASSPHRASE);
    setup.outside = Some("../outside".to_string());
    setup.work = 4;
    let mut practice = init(&world, setup).unwrap().practice;
    clock.set(Moment::parse("2026-03-02T09:00:00-05:00").unwrap());
    std::fs::write(folder.join("passphrase"), PASSPHRASE).unwrap();
    std::fs::write(folder.join("who"), code).unwrap();
    let rules = std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(RULES)).unwrap();
    let rules = adopt(&rules, &practice).unwrap();
    practice.append(Draft::new(None, Data::Rules(Box::new(rules)), practice.now())).unwrap();
    // The chart that is released lies in the middle.
    let released = charts / 2;
    std::fs::write(folder.join("chart"), number(released)).unwrap();
    let tags = open_charts(&mut practice, charts);
    let (mut no, now) = (0, practice.now());
    let mut waiting = Vec::new();
    for (n, tag) in tags.iter().enumerate() {
        let more = if n == released {
            let kinds = ["visit", "contact", "measure", "screen", "contact", "reaction", "consent", "asked"];
            drafts(tag, &kinds, its - 1 - ITS_ATTACHMENTS, &mut no, now)
        } else {
            drafts(tag, &["contact", "reaction", "measure"], each - 1, &mut no, now)
        };
        waiting.extend(more);
        while waiting.len() >= GROUP {
            let rest = waiting.split_off(GROUP);
            practice.append_group(std::mem::replace(&mut waiting, rest), None).unwrap();
        }
    }
    practice.append_group(waiting, None).unwrap();
    let Data::Attachment(paper) = example("attachment").read_data().unwrap() else { panic!() };
    for n in 0..ITS_ATTACHMENTS {
        let bytes: Vec<u8> = (0..ATTACHMENT_BYTES).map(|at| (at * 31 + at / 255 + n) as u8).collect();
        attach(&mut practice, &tags[released], &mut &bytes[..], (*paper).clone(), now).unwrap();
    }
    bodies_for_floor(folder);
    println!("{} entries", practice.size());
}

fn number(chart: usize) -> String {
    format!("PM-{chart:04}")
}

/// Opens the charts without looking each time whether the number is taken.
fn open_charts(practice: &mut Practice, charts: usize) -> Vec<String> {
    let Data::ChartOpened(opened) = example("chart-opened").read_data().unwrap() else { panic!() };
    let now = practice.now();
    let (mut tags, mut group) = (Vec::new(), Vec::new());
    for n in 0..charts {
        let tag = make_chart_keys(&practice.world.clone(), &practice.place.clone(), practice).unwrap();
        let mut data = (*opened).clone();
        data.chart_no = number(n);
        group.push(Draft::new(Some(&tag), Data::ChartOpened(Box::new(data)), now));
        tags.push(tag);
    }
    practice.append_group(group, None).unwrap();
    tags
}

fn bodies_for_floor(folder: &Path) {
    let key = Identity::generate();
    let mut all = Vec::new();
    for n in 0..ITS_ENTRIES {
        let body = vec![n as u8; 2_300];
        let sealed = seal(&To::Recipients(&[key.recipient()]), &body).unwrap();
        all.extend_from_slice(&(sealed.len() as u32).to_le_bytes());
        all.extend_from_slice(&sealed);
    }
    std::fs::write(folder.join("floor.bodies"), all).unwrap();
    std::fs::write(folder.join("floor.key"), key.to_text().as_bytes()).unwrap();
}

fn floor(folder: &Path) {
    let mut hasher = blake3::Hasher::new();
    for item in std::fs::read_dir(folder.join("store/ledger")).unwrap() {
        let mut file = std::fs::File::open(item.unwrap().path()).unwrap();
        std::io::copy(&mut file, &mut hasher).unwrap();
    }
    let key = Identity::parse(std::fs::read_to_string(folder.join("floor.key")).unwrap().trim()).unwrap();
    let bodies = std::fs::read(folder.join("floor.bodies")).unwrap();
    let (mut at, mut opened) = (0, 0);
    while at < bodies.len() {
        let len = u32::from_le_bytes(bodies[at..at + 4].try_into().unwrap()) as usize;
        at += 4;
        let plain = open(&With::Identities(std::slice::from_ref(&key)), &bodies[at..at + len]).unwrap();
        at += len;
        opened += usize::from(plain.len() == 2_300);
    }
    println!("{} {opened}", hasher.finalize());
}

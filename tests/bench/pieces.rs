//! The pieces of the program that a run of the whole can't tell apart, one by one. `scripts/bench-pieces` runs them and
//! compares each with what it was, as a multiple of one checked Ed25519 signature in the same run, so that the
//! machine does not matter much. Nothing here passes or fails.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // What stops a measurement must stop it.
#![allow(missing_docs)] // criterion_group makes a public function without any.

#[path = "../common/mod.rs"]
mod common;

use common::{DAY, Small, example, moment};
use criterion::{Criterion, criterion_group, criterion_main};
use inkfast::ledger::checkpoint::Checkpoint;
use inkfast::ledger::frame::{self, FrameKind, HEADER, Header};
use inkfast::ledger::leaf::{Leaf, leaf_digest_hex};
use inkfast::ledger::tree::{
    Frontier, Hash, TreeError, consistency_proof, inclusion_proof, leaf_hash, node_hash, verify_inclusion,
};
use inkfast::practice::chart::face;
use inkfast::practice::printed::{Purpose, printed_set};
use inkfast::record::coverage::answer;
use inkfast::record::coverage::facts::Facts;
use inkfast::record::envelope::Record;
use inkfast::record::notation::line::{Read, Setting, read};
use inkfast::record::rulebook::check::check;
use inkfast::record::rulebook::{EXAMPLE, RuleBook};
use inkfast::record::tables::levels::Levels;
use inkfast::seal::age_file::{Identity, To, With, open, seal};
use inkfast::seal::body::Body;
use inkfast::seal::note::{Note, Signer, sign};
use inkfast::verify::manifest::Manifest;
use inkfast::verify::pin::{Pin, What};
use serde_json::{Value, json};
use std::hint::black_box;
use std::path::Path;
use std::time::Duration;

const ORIGIN: &str = "ledger-00112233445566778899aabbccddeeff";

fn signer() -> Signer {
    Signer::from_seed(ORIGIN, &[7; 32]).unwrap()
}

fn data(path: &str) -> Value {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data").join(path);
    serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap()
}

/// What every other piece is compared with.
fn yardstick(c: &mut Criterion) {
    let note = Note::parse(sign("held up to the light\n", &[&signer()]).unwrap().as_bytes()).unwrap();
    let signer = signer();
    c.bench_function("one signature checked", |b| {
        b.iter(|| note.verify(&[black_box(signer.verifier())]).unwrap());
    });
}

fn leaf() -> Leaf {
    let hex = "ab".repeat(32);
    serde_json::from_value(json!({
        "v": 1, "ledger": ORIGIN, "seq": 812, "prev": hex, "chart": "0".repeat(32), "chart_seq": 9,
        "chart_prev": hex, "kind": "contact", "written": DAY, "author": "TR", "body": hex, "size": 2_400, "commit": hex,
    }))
    .unwrap()
}

fn frames(c: &mut Criterion) {
    let (first, second) = (vec![b'l'; 610], vec![b'b'; 2 << 10]);
    c.bench_function("a frame of 2 KiB written", |b| {
        b.iter(|| {
            let mut out = Vec::with_capacity(first.len() + second.len() + HEADER);
            frame::write(&mut out, FrameKind::Entry, black_box(&first), &second);
            out
        });
    });
    let mut gap = vec![b'I'; 64 << 10];
    frame::write(&mut gap, FrameKind::Entry, &first, &second);
    c.bench_function("a frame found behind 64 KiB of something else", |b| {
        b.iter(|| frame::find_next(black_box(&gap), 0).unwrap());
    });
    let whole = gap[64 << 10..].to_vec();
    c.bench_function("the head of a frame read", |b| {
        b.iter(|| Header::read(black_box(&whole)).unwrap().frame_len());
    });
}

fn leaves_and_notes(c: &mut Criterion) {
    let author = Signer::from_seed("TR", &[5; 32]).unwrap();
    let bytes = leaf().to_note(&[&author]).unwrap();
    c.bench_function("a leaf signed", |b| {
        let leaf = leaf();
        b.iter(|| leaf.to_note(&[black_box(&author)]).unwrap());
    });
    c.bench_function("a leaf read", |b| b.iter(|| Leaf::read(black_box(&bytes)).unwrap()));
    c.bench_function("a leaf linked", |b| b.iter(|| leaf_digest_hex(black_box(&bytes))));
    let checkpoint = Checkpoint { origin: ORIGIN.to_string(), size: 812, root: [7; 32] };
    let signer = signer();
    c.bench_function("a checkpoint signed", |b| b.iter(|| black_box(&checkpoint).sign(&signer).unwrap()));
    let signed = checkpoint.sign(&signer).unwrap();
    c.bench_function("a checkpoint opened", |b| {
        b.iter(|| Checkpoint::open(black_box(signed.as_bytes()), signer.verifier()).unwrap());
    });
}

/// Every hash of a tree, level by level.
fn every_hash(leaves: u64) -> Vec<Vec<Hash>> {
    let mut levels = vec![(0..leaves).map(|n| leaf_hash(&n.to_le_bytes())).collect::<Vec<Hash>>()];
    while levels.last().unwrap().len() > 1 {
        let above = levels.last().unwrap().chunks_exact(2).map(|two| node_hash(&two[0], &two[1])).collect();
        levels.push(above);
    }
    levels
}

fn proofs(c: &mut Criterion) {
    const LEAVES: u64 = 1_000_000;
    let levels = every_hash(LEAVES);
    let stored = |level: u8, index: u64| -> Result<Hash, TreeError> {
        Ok(levels[usize::from(level)][usize::try_from(index).unwrap()])
    };
    c.bench_function("a leaf put on a tree of a million", |b| {
        let mut tree = Frontier::read(LEAVES, &stored).unwrap();
        b.iter(|| {
            tree.push(black_box([3; 32]));
            tree.root()
        });
    });
    c.bench_function("an inclusion proof made, of a million leaves", |b| {
        b.iter(|| inclusion_proof(black_box(700_001), LEAVES, &stored).unwrap());
    });
    c.bench_function("a consistency proof made, of a million leaves", |b| {
        b.iter(|| consistency_proof(black_box(700_001), LEAVES, &stored).unwrap());
    });
    let path = inclusion_proof(700_001, LEAVES, &stored).unwrap();
    let root = Frontier::read(LEAVES, &stored).unwrap().root();
    c.bench_function("an inclusion proof checked, of a million leaves", |b| {
        b.iter(|| {
            verify_inclusion(&levels[0][700_001], black_box(700_001), LEAVES, &path, &root).unwrap();
        });
    });
}

fn sealed(c: &mut Criterion) {
    let body = Body { opening: [9; 32], record: vec![b'r'; 2 << 10].into() };
    let (one, other) = (Identity::generate(), Identity::generate());
    let to = [one.recipient(), other.recipient()];
    c.bench_function("a body of 2 KiB sealed to two keys", |b| {
        b.iter(|| seal(&To::Recipients(&to), &black_box(&body).to_bytes()).unwrap());
    });
    let bytes = seal(&To::Recipients(&to), &body.to_bytes()).unwrap();
    c.bench_function("a body of 2 KiB opened", |b| {
        let mine = [one.clone()];
        b.iter(|| Body::from_bytes(&open(&With::Identities(&mine), black_box(&bytes)).unwrap()).unwrap());
    });
    let record = example("visit").to_bytes().unwrap();
    c.bench_function("a visit note read", |b| {
        b.iter(|| Record::from_bytes(black_box(&record)).unwrap().read_data().unwrap());
    });
}

fn rules_and_facts(c: &mut Criterion) {
    let facts = data("coverage/base-facts.json")["A"].to_string();
    c.bench_function("facts read", |b| b.iter(|| Facts::from_json(black_box(&facts)).unwrap()));
    let read_once = Facts::from_json(&facts).unwrap();
    c.bench_function("whether a technique is covered, from given facts", |b| {
        b.iter(|| answer(black_box(&read_once)));
    });
    c.bench_function("a rules file read and looked through", |b| {
        b.iter(|| {
            let rules = inkfast::record::rulebook::read::file(black_box(EXAMPLE)).unwrap();
            let book = RuleBook::read(&rules.document).unwrap();
            check(&rules.document, &book)
        });
    });
    let setting =
        Setting { at: moment(DAY), done_by: "TR", transitional: false, levels: Levels::shipped().unwrap() };
    c.bench_function("a line of a note read", |b| {
        b.iter(|| {
            let said = read(black_box("C5-6 R mob III 4>2"), &setting);
            assert!(matches!(said, Read::Line(_)));
        });
    });
}

fn slips_and_packages(c: &mut Criterion) {
    let slip = Pin::new(What::Slip, 214, &[0xA7; 32]);
    let typed = format!("214 {}", slip.words().join(" "));
    c.bench_function("twelve check words read", |b| {
        b.iter(|| Pin::read(What::Slip, black_box(&typed)).unwrap());
    });
    let hex = "ab".repeat(32);
    let entry = |n: u64| json!({ "chart_seq": n, "seq": 3 * n, "kind": "visit" });
    let file = |n: u64| json!({ "name": format!("entries/{n:06}/leaf.note"), "bytes": 600, "blake3": hex, "sha256": hex });
    let list = json!({
        "inkfast_package": 1, "ledger": ORIGIN, "checkpoint_key": "k", "chart": "0".repeat(32), "release": 600, "made": DAY,
        "made_by": "TR", "entries": (1..=200).map(entry).collect::<Vec<_>>(), "keys": [1],
        "files": (1..=600).map(file).collect::<Vec<_>>(),
    });
    let list = serde_json::to_vec(&list).unwrap();
    c.bench_function("the list of a package of 200 entries read", |b| {
        b.iter(|| serde_json::from_slice::<Manifest>(black_box(&list)).unwrap());
    });
}

fn printed(c: &mut Criterion) {
    let mut small = Small::new(64 << 10, 1);
    for n in 0..60 {
        small.say(0, &format!("called about the {n}th thing"));
    }
    let practice = &small.practice;
    let (checkpoint, _) = practice.scan().checkpoint.clone().unwrap();
    let entries = practice.chart(&small.charts[0]).unwrap();
    let face = face(practice, &small.charts[0]).unwrap();
    let purpose = Purpose {
        for_whom: "the practice",
        purpose: "reading",
        basis: "care",
        with_attachments: false,
        part: None,
    };
    let set = printed_set(practice, &face, &entries, &[], &checkpoint, &purpose).unwrap();
    c.bench_function("a chart of 60 entries made a page", |b| {
        b.iter(|| inkfast::render::page(black_box(&set)))
    });
}

fn quickly() -> Criterion {
    Criterion::default()
        .sample_size(60)
        .warm_up_time(Duration::from_millis(400))
        .measurement_time(Duration::from_millis(1_500))
        .without_plots()
}

criterion_group! {
    name = pieces;
    config = quickly();
    targets = yardstick, frames, leaves_and_notes, proofs, sealed, rules_and_facts, slips_and_packages, printed
}
criterion_main!(pieces);

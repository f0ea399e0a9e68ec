//! What one durable append costs, and what it must cost at least; `scripts/bench` compares them with other programs.
//!
//!     appending bytes FOLDER COUNT    the bytes alone: a record of 2 KiB framed, read back, hashed, vouched for by a
//!                                     checkpoint frame made beforehand, one sync
//!     appending whole FOLDER COUNT    as the program does it: labelled, sealed, signed, linked, checkpointed, one sync
//!     appending floor FOLDER COUNT    the least that can cost: the same seal, hashes and signatures, one sync
//!     appending checks ENTRIES FOLDER the least that a check of that store can cost: every byte of the ledger hashed,
//!                                     two signatures for each entry checked many at a time, on all cores
//!
//! Each prints elapsed and own (user and system) seconds of the part that counts. Setting up is left out.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // What stops a measurement must stop it.

use inkfast::ledger::frame::{self, FrameKind, HEADER};
use inkfast::ledger::tree::{Frontier, leaf_hash};
use inkfast::ledger::write::read_entry;
use inkfast::practice::open::Draft;
use inkfast::practice::setup::{Setup, init, make_chart_keys};
use inkfast::record::envelope::Record;
use inkfast::record::kinds::Data;
use inkfast::seal::age_file::{Identity, To, seal};
use inkfast::seal::note::{Claim, Note, OwnedClaim, Signer, all_right, sign};
use inkfast::seal::together::Together;
use inkfast::world::{Disk, RealDisk, World};
use std::path::Path;
use std::time::Instant;

const RECORD: usize = 2 << 10;
/// As long as most leaves and checkpoints are.
const LEAF: usize = 610;
const CHECKPOINT: usize = 230;
const PASSPHRASE: &str = "only for measuring";

fn main() {
    let words: Vec<String> = std::env::args().skip(1).collect();
    match words.iter().map(String::as_str).collect::<Vec<_>>()[..] {
        ["bytes", folder, count] => bytes(Path::new(folder), count.parse().unwrap()),
        ["whole", folder, count] => whole(Path::new(folder), count.parse().unwrap()),
        ["floor", folder, count] => floor(Path::new(folder), count.parse().unwrap()),
        ["checks", entries, folder] => checks(entries.parse().unwrap(), Path::new(folder)),
        _ => panic!("appending bytes|whole|floor FOLDER COUNT, or checks ENTRIES FOLDER"),
    }
}

/// Runs what counts, and prints what it took.
fn timed(work: impl FnOnce()) {
    let (began, before) = (Instant::now(), own());
    work();
    println!("{:.4} {:.2}", began.elapsed().as_secs_f64(), own() - before);
}

/// User and system seconds of this process so far (proc_pid_stat(5), in hundredths).
fn own() -> f64 {
    let stat = std::fs::read_to_string("/proc/self/stat").unwrap();
    let fields: Vec<&str> = stat.rsplit_once(") ").unwrap().1.split(' ').collect();
    fields[11..13].iter().map(|ticks| ticks.parse::<f64>().unwrap()).sum::<f64>() / 100.0
}

/// A file of zeros, on the disk before anything is timed: as a segment is.
fn zeros(path: &Path, len: usize) -> Box<dyn inkfast::world::DiskFile> {
    let file = RealDisk.create(path).unwrap();
    file.write_at(&vec![0; len], 0).unwrap();
    file.sync().unwrap();
    RealDisk.sync_dir(path.parent().unwrap()).unwrap();
    file
}

fn bytes(folder: &Path, count: usize) {
    let room = count * (RECORD + LEAF + CHECKPOINT + 2 * HEADER);
    let file = zeros(&folder.join("bytes.seg"), room);
    let (leaf, body, note) = (vec![b'l'; LEAF], vec![b'b'; RECORD], vec![b'c'; CHECKPOINT]);
    timed(|| {
        let mut at = 0;
        for _ in 0..count {
            let mut frames = Vec::new();
            frame::write(&mut frames, FrameKind::Entry, &leaf, &body);
            file.write_at(&frames, at).unwrap();
            let mut lies = vec![0; frames.len()];
            file.read_at(&mut lies, at).unwrap();
            assert!(blake3::hash(&lies) == blake3::hash(&frames));
            let mut behind = Vec::new();
            frame::write(&mut behind, FrameKind::Checkpoint, &note, &[]);
            file.write_at(&behind, at + frames.len() as u64).unwrap();
            file.sync().unwrap();
            at += (frames.len() + behind.len()) as u64;
        }
    });
}

fn example(kind: &str) -> Record {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("tests/data/records/{kind}.json"));
    Record::from_bytes(&std::fs::read(path).unwrap()).unwrap()
}

/// A contact whose record is about 2 KiB long.
fn contact() -> Data {
    let mut record = example("contact");
    record.data["said"] = "x".repeat(RECORD.saturating_sub(record.to_bytes().unwrap().len())).into();
    record.read_data().unwrap()
}

fn whole(folder: &Path, count: usize) {
    let world = World::real();
    let Data::RegisterOpened(opened) = example("register-opened").read_data().unwrap() else { panic!() };
    let Data::Staff(mut owner) = example("staff").read_data().unwrap() else { panic!() };
    owner.on_roster_last_day = None;
    let mut setup = Setup::new(&folder.join("store"), *opened, *owner, PASSPHRASE);
    setup.outside = Some("../outside".to_string());
    setup.work = 4;
    let mut practice = init(&world, setup).unwrap().practice;
    let tag = make_chart_keys(&world, &practice.place.clone(), &practice).unwrap();
    practice
        .append(Draft::new(Some(&tag), example("chart-opened").read_data().unwrap(), practice.now()))
        .unwrap();
    let said = contact();
    timed(|| {
        for _ in 0..count {
            practice.append(Draft::new(Some(&tag), said.clone(), practice.now())).unwrap();
        }
    });
    let last = practice.scan().entries.last().unwrap();
    let (leaf, body) = read_entry(&world, &practice.place.root.join("ledger"), last).unwrap();
    let sealed_to = body.split(|b| *b == b'\n').filter(|line| line.starts_with(b"-> X25519")).count();
    eprintln!("leaf of {} bytes, body of {} bytes, sealed to {sealed_to}", leaf.len(), body.len());
}

fn floor(folder: &Path, count: usize) {
    let signer = Signer::from_seed("ledger-00112233445566778899aabbccddeeff", &[7; 32]).unwrap();
    // A contact is sealed to the chart's desk key alone.
    let to = [Identity::generate().recipient()];
    let plain = vec![b'r'; RECORD];
    let text = format!("{}\n", "t".repeat(LEAF - 120));
    let file = zeros(&folder.join("floor.seg"), count * (RECORD + LEAF + CHECKPOINT + 1_000));
    timed(|| {
        let (mut at, mut tree) = (0, Frontier::default());
        for _ in 0..count {
            let commit = blake3::keyed_hash(&[3; 32], &plain);
            let body = seal(&To::Recipients(&to), &plain).unwrap();
            let named = blake3::hash(&body);
            let leaf = sign(&text, &[&signer]).unwrap();
            let linked = blake3::hash(leaf.as_bytes());
            tree.push(leaf_hash(leaf.as_bytes()));
            let root = tree.root();
            let checkpoint = sign(&format!("{root:?}\n"), &[&signer]).unwrap();
            let all = [leaf.as_bytes(), &body, checkpoint.as_bytes()].concat();
            file.write_at(&all, at).unwrap();
            file.sync().unwrap();
            at += all.len() as u64;
            std::hint::black_box((commit, named, linked));
        }
    });
}

fn wrong(claims: &[OwnedClaim]) -> Vec<()> {
    if all_right(&claims.iter().collect::<Vec<_>>()) { Vec::new() } else { vec![()] }
}

fn checks(entries: usize, store: &Path) {
    let signer = Signer::from_seed("IV", &[7; 32]).unwrap();
    let notes: Vec<Note> = (0..2 * entries)
        .map(|n| {
            Note::parse(sign(&format!("{n} {}\n", "t".repeat(400)), &[&signer]).unwrap().as_bytes()).unwrap()
        })
        .collect();
    let claims: Vec<OwnedClaim> = notes
        .iter()
        .flat_map(|note| note.claims(&[signer.verifier()]).unwrap())
        .map(|c| Claim::to_owned(&c))
        .collect();
    timed(|| {
        let mut together = Together::new(wrong);
        claims.into_iter().for_each(|claim| together.add(claim));
        let mut hasher = blake3::Hasher::new();
        for item in std::fs::read_dir(store.join("ledger")).unwrap() {
            let mut file = std::fs::File::open(item.unwrap().path()).unwrap();
            std::io::copy(&mut file, &mut hasher).unwrap();
        }
        std::hint::black_box(hasher.finalize());
        assert!(together.end().is_empty());
    });
}

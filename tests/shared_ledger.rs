//! The prototype of `schema/SCALE.md`: two clinics, two processes, one store of objects, one ledger. Killed at any
//! moment, with answers lost and requests that come late: no entry is lost, none is there twice, and what comes of it
//! is a ledger as any other, which `verify` finds sound.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // In a test a panic is the report.

mod common;
#[cfg(feature = "outside-checks")]
#[path = "common/objects.rs"]
mod objects;
#[path = "common/sequencer.rs"]
mod sequencer;

use common::{Dice, OWNER, PASSPHRASE, Small, check, copy_folder, example, open_store};
use inkfast::ledger::frame::Header;
use inkfast::ledger::write::NewEntry;
use inkfast::practice::objects::{Objects, Put};
use inkfast::practice::place::Place;
use inkfast::practice::session::Session;
use inkfast::record::envelope::Record;
use inkfast::record::kinds::Data;
use inkfast::seal::age_file::{self, Recipient, To, With};
use inkfast::seal::body::Body;
use inkfast::world::World;
use sequencer::{BadWay, Folder, Shared, group};
use std::collections::BTreeMap;
use std::io::{BufRead, BufReader, Write};
use std::path::PathBuf;
use std::process::{Child, Command, Stdio};
use std::time::Duration;

/// What the owner set up, in the store of objects as the first group: the keys and the roster.
fn begin(small: &mut Small, objects: &dyn Objects) {
    small.let_go();
    let bytes = std::fs::read(small.root().join("ledger/000001.seg")).unwrap();
    let head = Header::read(&bytes).unwrap().frame_len();
    // A checkpoint ends in a line end, so the content ends with the last byte that is not zero.
    let end = bytes.iter().rposition(|b| *b != 0).unwrap() + 1;
    let name = group(small.practice.place.key.name(), 1);
    let put = objects.put_new(&name, &bytes[head..end], None).unwrap();
    assert_eq!(put, Put::Created);
}

/// The store of objects that a process of its own is told of.
fn told() -> Option<Box<dyn Objects>> {
    let said = std::env::var("INKFAST_TEST_OBJECTS").ok()?;
    #[cfg(feature = "outside-checks")]
    if let Some((endpoint, file)) = said.split_once('|') {
        use inkfast::practice::objects::{Address, S3, Way};
        let way =
            Way { endpoint: Some(endpoint), region: None, credentials: Some(std::path::Path::new(file)) };
        return Some(Box::new(S3::new(&Address::read("s3://safe/shared").unwrap(), &way).unwrap()));
    }
    Some(Box::new(Folder(said.into())))
}

/// The `n`-th remark of a clinic, sealed to both roles.
fn remark<'a>(session: &'a Session, to: &[Recipient], ledger: &str, who: &str, n: u64) -> NewEntry<'a> {
    let mut record = example("check-made");
    record.ledger = ledger.to_string();
    record.data["found"] = format!("{who} {n}").into();
    let mut opening = [0u8; 32];
    getrandom(&mut opening);
    let body = Body { opening, record: zeroize::Zeroizing::new(record.to_bytes().unwrap()) };
    NewEntry {
        chart: None,
        kind: "check-made".into(),
        written: record.written,
        signers: vec![&session.me.signer],
        body: age_file::seal(&To::Recipients(to), &body.to_bytes()).unwrap(),
        commit: body.commitment(),
    }
}

fn getrandom(bytes: &mut [u8; 32]) {
    *bytes = World::real().random32().unwrap();
}

/// Run by the tests as a process of its own; without a store of objects it has nothing to do.
#[test]
fn a_clinic_on_its_own() {
    let Some(objects) = told() else { return };
    let said = |name: &str| std::env::var(name).unwrap();
    let (root, who) = (PathBuf::from(said("INKFAST_TEST_STORE")), said("INKFAST_TEST_NAME"));
    let (count, seed): (u64, u64) =
        (said("INKFAST_TEST_COUNT").parse().unwrap(), said("INKFAST_TEST_SEED").parse().unwrap());
    let world = World::real();
    let place = Place::open(&world, &root, None).unwrap();
    let session = Session::unlock(&world, &place, OWNER, PASSPHRASE).unwrap();
    let roles = session.role_identities();
    let to: Vec<Recipient> = roles.iter().map(|role| role.recipient()).collect();
    let way = BadWay::new(&*objects, seed);
    let way: &dyn Objects = if seed == 0 { &*objects } else { &way };
    // Whoever comes back first looks what of its own is there: that is never recorded again.
    let mut shared = Shared::new(&*objects, session.vouch().unwrap(), &place.key);
    let mut mine = 0;
    shared.catch_up(&mut |leaf, sealed| mine = mine.max(number(&roles, &leaf.kind, sealed, &who))).unwrap();
    let mut shared = Shared::new(way, session.vouch().unwrap(), &place.key);
    let mut out = std::io::stdout().lock();
    for n in mine + 1..=count {
        let receipts = shared.commit(&[remark(&session, &to, place.key.name(), &who, n)]).unwrap();
        writeln!(out, "ack {} {} {n}", receipts[0].seq, receipts[0].leaf).unwrap();
        out.flush().unwrap();
    }
    writeln!(out, "finished {count}").unwrap();
}

/// The number in one's own remark; 0 in what is not.
fn number(roles: &[age_file::Identity], kind: &str, sealed: &[u8], who: &str) -> u64 {
    if kind != "check-made" {
        return 0;
    }
    let plain = age_file::open(&With::Identities(roles), sealed).unwrap();
    let record = Record::from_bytes(&Body::from_bytes(&plain).unwrap().record).unwrap();
    let found = record.data["found"].as_str().unwrap().to_string();
    found.strip_prefix(who).and_then(|rest| rest.trim().parse().ok()).unwrap_or(0)
}

fn clinic(small: &Small, objects: &str, who: &str, count: u64, seed: u64) -> Child {
    Command::new(std::env::current_exe().unwrap())
        .args(["--exact", "a_clinic_on_its_own", "--nocapture", "--test-threads=1"])
        .env("INKFAST_TEST_STORE", small.root())
        .env("INKFAST_TEST_OBJECTS", objects)
        .env("INKFAST_TEST_NAME", who)
        .env("INKFAST_TEST_COUNT", count.to_string())
        .env("INKFAST_TEST_SEED", seed.to_string())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap()
}

/// What a clinic said: number in the ledger, digest and its own number of each acknowledged entry; and whether it finished.
fn said(child: &mut Child) -> (Vec<(u64, String, u64)>, bool) {
    let (mut acks, mut finished) = (Vec::new(), false);
    for line in BufReader::new(child.stdout.take().unwrap()).lines().map_while(Result::ok) {
        finished |= line.contains("finished ");
        let Some(at) = line.find("ack ") else { continue };
        let words: Vec<&str> = line[at..].split(' ').collect();
        // A line cut by the kill was not said to anybody.
        if let [_, seq, leaf, n] = words[..]
            && leaf.len() == 64
            && let (Ok(seq), Ok(n)) = (seq.parse(), n.parse())
        {
            acks.push((seq, leaf.to_string(), n));
        }
    }
    (acks, finished)
}

/// By clinic and its own number: the number in the ledger and the digest that were acknowledged.
type Acknowledged = BTreeMap<(String, u64), (u64, String)>;

/// Two clinics write so many entries each, killed again and again, until both have finished. Also how many were killed
/// before that.
fn write(small: &Small, objects: &str, count: u64, seed: u64) -> (Acknowledged, u64) {
    let kills = 5;
    let (mut all, mut killed) = (BTreeMap::new(), 0);
    std::thread::scope(|scope| {
        let run = |who: &'static str, seed: u64| {
            let mut dice = Dice::new(seed);
            let mut acknowledged = Vec::new();
            for life in 0.. {
                let mut child =
                    clinic(small, objects, who, count, if seed == 0 { 0 } else { seed * 100 + life });
                if life < kills {
                    std::thread::sleep(Duration::from_millis(60 + dice.below(240)));
                    let _ = child.kill();
                }
                let (acks, finished) = said(&mut child);
                let ended = child.wait().unwrap();
                acknowledged.extend(acks);
                if finished {
                    return (who, acknowledged, life);
                }
                assert!(life < kills, "{who} ended before it was done: {ended:?}");
            }
            unreachable!()
        };
        let other = scope.spawn(move || run("B", seed * 2));
        for (who, acks, lives) in [run("A", seed * 2 + u64::from(seed > 0)), other.join().unwrap()] {
            killed += lives;
            for (seq, leaf, n) in acks {
                let earlier = all.insert((who.to_string(), n), (seq, leaf));
                assert!(earlier.is_none(), "{who} {n} was acknowledged twice");
            }
        }
    });
    (all, killed)
}

/// All groups behind one another are a segment; the store with it is checked and read as any other.
fn read_back(small: &Small, objects: &dyn Objects, acknowledged: &Acknowledged, count: u64) {
    let dir = tempfile::tempdir().unwrap();
    copy_folder(&small.root(), dir.path());
    let path = dir.path().join("ledger/000001.seg");
    let mut segment = std::fs::read(&path).unwrap();
    let len = segment.len();
    segment.truncate(Header::read(&segment).unwrap().frame_len());
    let mut number = 1;
    while let Some(bytes) = objects.get(&group(small.practice.place.key.name(), number)).unwrap() {
        segment.extend(bytes);
        number += 1;
    }
    assert!(segment.len() <= len, "{} of {len}", segment.len());
    segment.resize(len, 0);
    std::fs::write(&path, segment).unwrap();
    let before = check(&small.root()).entries;
    let report = check(dir.path());
    let wrong: Vec<_> =
        report.findings.iter().filter(|f| f.id != "outside-missing" && f.id != "clock-went-back").collect();
    assert!(report.sound && wrong.is_empty(), "{wrong:?}");
    assert_eq!(report.entries, before + 2 * count, "an entry is lost, or there twice");
    let practice = open_store(&World::real(), dir.path(), OWNER, PASSPHRASE).unwrap();
    let mut found: BTreeMap<String, u64> = BTreeMap::new();
    for entry in practice.register_of(&["check-made"]).unwrap() {
        let Some(Data::CheckMade(said)) = entry.data() else { panic!() };
        assert!(found.insert(said.found.clone(), entry.leaf.seq).is_none(), "{} is there twice", said.found);
        let (who, n) = said.found.split_once(' ').unwrap();
        if let Some((seq, leaf)) = acknowledged.get(&(who.to_string(), n.parse().unwrap())) {
            assert_eq!((*seq, leaf), (entry.leaf.seq, &entry.digest), "{who} {n}");
        }
    }
    for who in ["A", "B"] {
        assert!((1..=count).all(|n| found.contains_key(&format!("{who} {n}"))), "{who}: {found:?}");
    }
    for (who, n) in acknowledged.keys() {
        assert!(found.contains_key(&format!("{who} {n}")), "{who} {n} was acknowledged and is lost");
    }
}

#[test]
fn two_clinics_on_one_ledger_lose_and_double_nothing_under_kill_and_delay() {
    let rounds = if common::long() { 12 } else { 3 };
    let mut in_all = 0;
    for seed in 1..=rounds {
        let mut small = Small::new(1 << 20, 0);
        let dir = tempfile::tempdir().unwrap();
        let objects = Folder(dir.path().to_path_buf());
        begin(&mut small, &objects);
        let (acknowledged, killed) = write(&small, &dir.path().display().to_string(), 50, seed);
        in_all += killed;
        assert!(acknowledged.len() >= 80, "{killed} killed, {}", acknowledged.len());
        read_back(&small, &objects, &acknowledged, 50);
    }
    // How many are hit in one round depends on what else the computer does.
    assert!(in_all >= rounds, "{in_all} killed in {rounds} rounds");
}

/// A request that was given up, and comes long after its number was taken, or after everything is over.
#[test]
fn a_request_that_comes_late_doubles_nothing() {
    let small = Small::new(256 << 10, 0);
    let (world, place) = (World::real(), &small.practice.place);
    let session = Session::unlock(&world, place, OWNER, PASSPHRASE).unwrap();
    let to: Vec<Recipient> = session.role_identities().iter().map(|role| role.recipient()).collect();
    let mut held_up = (0, 0);
    for seed in 1..20 {
        let dir = tempfile::tempdir().unwrap();
        let objects = Folder(dir.path().to_path_buf());
        let ways = [BadWay::new(&objects, seed), BadWay::new(&objects, seed + 1_000)];
        let mut clinics = ways.each_ref().map(|way| Shared::new(way, session.vouch().unwrap(), &place.key));
        let mut acks = Vec::new();
        for n in 0..6 {
            for (who, clinic) in clinics.iter_mut().enumerate() {
                let entry = remark(&session, &to, place.key.name(), ["A", "B"][who], n);
                acks.push(clinic.commit(&[entry]).unwrap()[0].clone());
            }
        }
        ways.iter().for_each(BadWay::all_arrive);
        let mut all = Vec::new();
        let mut reader = Shared::new(&objects, session.vouch().unwrap(), &place.key);
        reader.catch_up(&mut |leaf, _| all.push(leaf.seq)).unwrap();
        assert_eq!(all, (1..=12).collect::<Vec<_>>(), "seed {seed}");
        assert_eq!(acks.iter().map(|ack| ack.seq).collect::<Vec<_>>(), all, "seed {seed}");
        for way in &ways {
            let (late, lost) = *way.held_up.borrow();
            held_up = (held_up.0 + late, held_up.1 + lost);
        }
    }
    assert!(held_up.0 > 50 && held_up.1 > 50, "the way was too good: {held_up:?}");
}

/// The same on a store of objects that speaks S3 and shares no code with this program.
#[cfg(feature = "outside-checks")]
#[test]
fn two_clinics_on_one_bucket_lose_and_double_nothing_under_kill_and_delay() {
    use inkfast::practice::objects::{Address, S3, Way};
    let server = objects::Server::start();
    let mut small = Small::new(1 << 20, 0);
    let file = small.dir.path().join("credentials");
    server.credentials(&file);
    let endpoint = server.endpoint();
    let way = Way { endpoint: Some(&endpoint), region: None, credentials: Some(&file) };
    let bucket = S3::new(&Address::read("s3://safe/shared").unwrap(), &way).unwrap();
    begin(&mut small, &bucket);
    let (acknowledged, killed) = write(&small, &format!("{endpoint}|{}", file.display()), 30, 7);
    assert!(killed >= 1 && acknowledged.len() >= 40, "{killed} killed, {}", acknowledged.len());
    read_back(&small, &bucket, &acknowledged, 30);
}

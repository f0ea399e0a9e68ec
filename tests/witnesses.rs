//! Promise: witnesses are asked only when told, believed only by their signature, and a ledger that is not the one
//! they saw is found. The witness here is written from C2SP tlog-witness v1.0.0 and tlog-cosignature v1.0.1.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // In a test a panic is the report.

mod common;

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD as BASE64;
use common::room::Room;
use ed25519_dalek::{Signer as _, SigningKey};
use inkfast::ledger::checkpoint::Checkpoint;
use inkfast::ledger::tree::{Hash, verify_consistency};
use inkfast::seal::note::{Note, Verifier};
use sha2::{Digest as _, Sha256};
use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::net::{TcpListener, TcpStream};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

/// When the witness says it is: 2023-03-20 12:25:47 UTC, the time of the specification's example.
const TIME: u64 = 1_679_315_147;

/// How a witness answers.
#[derive(Clone)]
enum Manner {
    /// As the specification says.
    Honest,
    /// With this status and these bytes, whatever is asked.
    Always(u16, Vec<u8>),
    /// Honestly, but one bit of the signature is wrong.
    WrongBit,
    /// Honestly, but signed by another key of its name.
    OtherKey,
    /// 409 with another size each time.
    Unsteady,
    /// Not before so long.
    Slow(Duration),
    /// It sends a whole megabyte behind its signature.
    Endless,
}

/// What a witness remembers and was asked.
#[derive(Default)]
struct Memory {
    last: Option<(u64, Hash)>,
    asked: Vec<(String, u16)>,
}

/// A witness on this computer.
struct Witness {
    name: &'static str,
    key: SigningKey,
    port: u16,
    memory: Arc<Mutex<Memory>>,
}

impl Witness {
    /// Knows the ledger with this key.
    fn start(name: &'static str, seed: u8, log: Verifier, manner: Manner) -> Witness {
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        let port = listener.local_addr().unwrap().port();
        let (key, memory) = (SigningKey::from_bytes(&[seed; 32]), Arc::new(Mutex::new(Memory::default())));
        let (mine, remembered) = (key.clone(), memory.clone());
        std::thread::spawn(move || {
            for stream in listener.incoming() {
                let Ok(mut stream) = stream else { return };
                let Some((path, body)) = request(&stream) else { continue };
                let memory = &mut remembered.lock().unwrap();
                let (status, answer) = answer(name, &mine, &log, &manner, memory, &body);
                memory.asked.push((path, status));
                let kind = if status == 409 { "text/x.tlog.size" } else { "text/plain" };
                let head = format!(
                    "HTTP/1.1 {status} said\r\nContent-Type: {kind}\r\nContent-Length: {}\r\nLocation: /elsewhere\r\nConnection: close\r\n\r\n",
                    answer.len()
                );
                let _ = stream.write_all(head.as_bytes()).and_then(|()| stream.write_all(&answer));
            }
        });
        Witness { name, key, port, memory }
    }

    fn typed(key: &SigningKey) -> Vec<u8> {
        [&[4u8], key.verifying_key().as_bytes().as_slice()].concat()
    }

    fn vkey(&self) -> String {
        let typed = Witness::typed(&self.key);
        let id = id(self.name, &typed);
        format!("{}+{}+{}", self.name, data_encoding::HEXLOWER.encode(&id), BASE64.encode(typed))
    }

    /// Its line in a policy.
    fn line(&self) -> String {
        let label = self.name.replace('.', "-");
        format!("witness {label} {} http://127.0.0.1:{}/w/\n", self.vkey(), self.port)
    }

    fn asked(&self) -> Vec<u16> {
        self.memory.lock().unwrap().asked.iter().map(|(_, status)| *status).collect()
    }
}

fn id(name: &str, typed: &[u8]) -> [u8; 4] {
    *Sha256::digest([name.as_bytes(), b"\n", typed].concat()).first_chunk().unwrap()
}

/// Reads a request: its path and body.
fn request(stream: &TcpStream) -> Option<(String, Vec<u8>)> {
    let mut reader = BufReader::new(stream);
    let (mut first, mut length) = (String::new(), 0);
    reader.read_line(&mut first).ok()?;
    loop {
        let mut line = String::new();
        reader.read_line(&mut line).ok()?;
        if line.trim().is_empty() {
            break;
        }
        if let Some(value) = line.to_ascii_lowercase().strip_prefix("content-length:") {
            length = value.trim().parse().ok()?;
        }
    }
    let mut body = vec![0; length];
    reader.read_exact(&mut body).ok()?;
    let mut words = first.split(' ');
    (words.next() == Some("POST")).then_some(())?;
    Some((words.next()?.to_string(), body))
}

fn answer(
    name: &str,
    key: &SigningKey,
    log: &Verifier,
    manner: &Manner,
    memory: &mut Memory,
    body: &[u8],
) -> (u16, Vec<u8>) {
    match manner {
        Manner::Always(status, bytes) => (*status, bytes.clone()),
        Manner::Unsteady => (409, format!("{}\n", 1 + memory.asked.len() % 2).into_bytes()),
        Manner::Slow(time) => {
            std::thread::sleep(*time);
            (500, Vec::new())
        }
        Manner::Honest => honest(name, key, log, memory, body),
        Manner::OtherKey => honest(name, &SigningKey::from_bytes(&[0xEE; 32]), log, memory, body),
        Manner::Endless => {
            let (status, mut line) = honest(name, key, log, memory, body);
            line.extend(std::iter::repeat_n(b'x', 1 << 20));
            (status, line)
        }
        Manner::WrongBit => {
            let (status, line) = honest(name, key, log, memory, body);
            let text = String::from_utf8(line).unwrap();
            let (head, last) = text.trim_end().rsplit_once(' ').unwrap();
            let mut bytes = BASE64.decode(last).unwrap();
            bytes[40] ^= 1;
            (status, format!("{head} {}\n", BASE64.encode(bytes)).into_bytes())
        }
    }
}

/// C2SP tlog-witness, add-checkpoint.
fn honest(name: &str, key: &SigningKey, log: &Verifier, memory: &mut Memory, body: &[u8]) -> (u16, Vec<u8>) {
    let text = String::from_utf8(body.to_vec()).unwrap();
    let (head, note) = text.split_once("\n\n").unwrap();
    let mut lines = head.lines();
    let old: u64 = lines.next().unwrap().strip_prefix("old ").unwrap().parse().unwrap();
    let proof: Vec<Hash> = lines.map(|line| BASE64.decode(line).unwrap().try_into().unwrap()).collect();
    if note.lines().next() != Some(log.name()) {
        return (404, Vec::new());
    }
    let Ok(checkpoint) = Checkpoint::open(note.as_bytes(), log) else { return (403, Vec::new()) };
    if old > checkpoint.size {
        return (400, Vec::new());
    }
    let seen = memory.last.map_or(0, |(size, _)| size);
    if old != seen {
        return (409, format!("{seen}\n").into_bytes());
    }
    if let Some((size, root)) = memory.last {
        if verify_consistency(size, checkpoint.size, &root, &checkpoint.root, &proof).is_err() {
            return (422, Vec::new());
        }
    } else if !proof.is_empty() {
        return (422, Vec::new());
    }
    memory.last = Some((checkpoint.size, checkpoint.root));
    let signature = key.sign(format!("cosignature/v1\ntime {TIME}\n{}", checkpoint.to_text()).as_bytes());
    let typed = Witness::typed(key);
    // The other key claims the id of the right one.
    let claimed =
        if key.to_bytes() == [0xEE; 32] { Witness::typed(&SigningKey::from_bytes(&[7; 32])) } else { typed };
    let bytes = [&id(name, &claimed)[..], &TIME.to_be_bytes(), &signature.to_bytes()].concat();
    (200, format!("\u{2014} {name} {}\n", BASE64.encode(bytes)).into_bytes())
}

fn room() -> (Room, Verifier) {
    let room = Room::new();
    room.patient("PM-0112", "Bettony Craske", "1988-02-29");
    let file: serde_json::Value =
        serde_json::from_slice(&std::fs::read(room.path("store/store.json")).unwrap()).unwrap();
    let key = Verifier::parse(file["checkpoint_key"].as_str().unwrap()).unwrap();
    (room, key)
}

fn contact(room: &Room) {
    room.ok(&[
        "contact",
        "PM-0112",
        "--direction",
        "none",
        "--nobody-because",
        "no answer",
        "--said",
        "a word",
    ]);
}

/// A policy that asks for all of these; its path.
fn policy(room: &Room, log: &Verifier, witnesses: &[&Witness], quorum: &str) -> String {
    let lines: String = witnesses.iter().map(|w| w.line()).collect();
    let names: Vec<String> = witnesses.iter().map(|w| w.name.replace('.', "-")).collect();
    let group = format!("group all-of-them {quorum} {}\nquorum all-of-them\n", names.join(" "));
    room.write("policy", &format!("log {log}\n{lines}{group}"));
    room.path("policy").display().to_string()
}

#[test]
fn a_witness_signs_and_is_shown_how_the_ledger_grew() {
    let (room, log) = room();
    let one = Witness::start("one.example", 7, log.clone(), Manner::Honest);
    let two = Witness::start("two.example", 8, log.clone(), Manner::Honest);
    let file = policy(&room, &log, &[&one, &two], "all");
    assert_eq!(room.run(&["slip", "witness"]).code(), 4, "nobody is named yet");
    let said = room.run(&["slip", "witness", "--policy", &file]);
    assert_eq!(said.code(), 0, "{}", said.all());
    assert!(
        said.out.contains("one-example saw the ledger") && said.out.contains("12:25 UTC"),
        "{}",
        said.out
    );
    assert_eq!(one.memory.lock().unwrap().asked, [("/w/add-checkpoint".to_string(), 200)]);
    for _ in 0..3 {
        contact(&room);
    }
    // The policy is remembered, and so is what they saw.
    let json = room.json(&["slip", "witness"]);
    assert_eq!((&json["met"], &json["witnesses"][1]["refused"]), (&true.into(), &serde_json::Value::Null));
    assert_eq!(two.asked(), [200, 200]);
    // What was kept here is lost: the witness says what it saw, and is shown how the ledger grew from there.
    std::fs::remove_dir_all(room.path("store/witnesses")).unwrap();
    contact(&room);
    assert_eq!(room.run(&["slip", "witness", "--policy", &file]).code(), 0);
    assert_eq!(one.asked(), [200, 200, 409, 200]);
    // The same checkpoint once more.
    assert_eq!(room.run(&["slip", "witness"]).code(), 0);
    let report = room.json(&["verify", "--policy", &file]);
    let size = report["entries"].as_u64().unwrap();
    let agreed = report["witnesses"].to_string();
    assert!(
        agreed.contains(&format!("what witness one-example saw on 20 Mar 2023 12:25 UTC, entry {size}")),
        "{agreed}"
    );
    let said = room.run(&["verify"]);
    assert!(said.all().contains(&format!("have signed up to number {size}")), "{}", said.all());
    // Checked as C2SP tlog-cosignature says, from the file that is kept.
    let kept = std::fs::read(room.path(&format!("store/witnesses/{size}.checkpoint"))).unwrap();
    let note = Note::parse(&kept).unwrap();
    let line = note.signatures.iter().find(|line| line.name == "two.example").unwrap();
    let message = format!("cosignature/v1\ntime {TIME}\n{}", note.text);
    let signature = ed25519_dalek::Signature::from_slice(&line.bytes[8..]).unwrap();
    two.key.verifying_key().verify_strict(message.as_bytes(), &signature).unwrap();
}

#[test]
fn what_is_no_right_answer_is_named_and_nothing_is_kept() {
    let (room, log) = room();
    for (manner, words) in [
        (Manner::Always(403, vec![]), "403"),
        (Manner::Always(404, vec![]), "does not know this ledger"),
        (Manner::Always(422, vec![]), "saw another ledger under this name"),
        (Manner::Always(400, vec![]), "malformed"),
        (Manner::Always(500, b"oh".to_vec()), "status 500"),
        (Manner::Always(302, vec![]), "status 302"),
        (Manner::Always(200, vec![]), "no signature by its key"),
        (Manner::Always(200, b"\xff\xfe\x00garbage".to_vec()), "no signature by its key"),
        (Manner::Always(409, b"many\n".to_vec()), "does not say which"),
        (Manner::Unsteady, "another size each time"),
        (Manner::WrongBit, "its signature is wrong"),
        (Manner::OtherKey, "its signature is wrong"),
        (Manner::Endless, "could not be reached"),
    ] {
        let witness = Witness::start("one.example", 7, log.clone(), manner);
        let file = policy(&room, &log, &[&witness], "all");
        let said = room.run(&["slip", "witness", "--policy", &file]);
        let plain = said.out.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(said.code() == 1 && plain.contains(words), "{words}: {} {}", said.code(), said.all());
        assert!(plain.contains("not enough for the policy"), "{plain}");
        assert!(witness.memory.lock().unwrap().asked.iter().all(|(path, _)| path == "/w/add-checkpoint"));
        let kept: Vec<_> = std::fs::read_dir(room.path("store/witnesses")).unwrap().collect();
        assert_eq!(kept.len(), 1, "the policy alone");
        let said = room.run(&["verify", "--policy", &file]);
        assert!(said.code() == 1 && said.all().contains("policy-not-met"), "{}", said.all());
        assert_eq!(room.run(&["verify"]).code(), 0, "nobody insists on witnesses here");
    }
}

#[test]
fn a_slow_or_absent_witness_holds_nobody_up_and_one_of_two_can_be_enough() {
    let (room, log) = room();
    let slow = Witness::start("slow.example", 9, log.clone(), Manner::Slow(Duration::from_secs(30)));
    let mut absent = Witness::start("absent.example", 6, log.clone(), Manner::Honest);
    absent.port = 1;
    let good = Witness::start("good.example", 5, log.clone(), Manner::Honest);
    let all = policy(&room, &log, &[&slow, &absent, &good], "all");
    let began = Instant::now();
    let said = room.run(&["slip", "witness", "--policy", &all, "--timeout", "1"]);
    assert_eq!(said.code(), 1, "{}", said.all());
    assert!(began.elapsed() < Duration::from_secs(15));
    assert_eq!(said.out.matches("could not be reached").count(), 2, "{}", said.out);
    let any = policy(&room, &log, &[&slow, &absent, &good], "any");
    assert_eq!(room.run(&["slip", "witness", "--policy", &any, "--timeout", "1"]).code(), 0);
    assert_eq!(room.run(&["verify", "--policy", &any]).code(), 0);
}

#[test]
fn another_past_and_an_older_copy_are_found_by_what_a_witness_saw() {
    let (room, log) = room();
    let witness = Witness::start("one.example", 7, log.clone(), Manner::Honest);
    let file = policy(&room, &log, &[&witness], "all");
    let older = room.copy();
    for _ in 0..3 {
        contact(&room);
    }
    room.ok(&["slip", "witness", "--policy", &file]);
    // An older copy: the witness saw more.
    let copy = Room::going_on_from(older.path(), "2022-10-04T08:00:00-04:00");
    let said = copy.run(&["slip", "witness", "--policy", &file]);
    assert_eq!(said.code(), 8, "{}", said.all());
    // Another past of as many entries and more: the witness does not take it, and what it signed shows it.
    for n in 0..5 {
        copy.ok(&[
            "contact",
            "PM-0112",
            "--direction",
            "none",
            "--nobody-because",
            "x",
            "--said",
            &format!("{n}"),
        ]);
    }
    let said = copy.run(&["slip", "witness", "--policy", &file]);
    assert!(said.code() == 1 && said.out.contains("saw another"), "{}", said.all());
    common::copy_folder(&room.path("store/witnesses"), &copy.path("store/witnesses"));
    let said = copy.run(&["verify"]);
    assert!(said.code() == 1 && said.all().contains("rewritten-outside-copy"), "{}", said.all());
    // A kept copy that is bent is stepped over: it is no part of the record.
    let size = room.json(&["verify"])["entries"].as_u64().unwrap();
    let kept = room.path(&format!("store/witnesses/{size}.checkpoint"));
    let mut bytes = std::fs::read(&kept).unwrap();
    bytes[60] ^= 1;
    std::fs::write(&kept, bytes).unwrap();
    let said = room.run(&["verify"]);
    assert!(said.code() == 0 && said.all().contains("was not counted"), "{}", said.all());
}

#[test]
fn nobody_is_contacted_in_the_clear_elsewhere_or_for_another_ledger() {
    let (room, log) = room();
    let witness = Witness::start("one.example", 7, log.clone(), Manner::Honest);
    let file = policy(&room, &log, &[&witness], "all");
    let text = std::fs::read_to_string(room.path("policy")).unwrap();
    room.write("policy", &text.replace("127.0.0.1", "192.0.2.7"));
    let said = room.run(&["slip", "witness", "--policy", &file]);
    assert!(said.code() == 1 && said.out.contains("plain http://"), "{}", said.all());
    let other = Room::new();
    let said = other.run(&["slip", "witness", "--policy", &file]);
    assert!(said.code() == 4 && said.all().contains("does not name this ledger's key"), "{}", said.all());
    room.ok(&["verify"]);
    room.ok(&["slip", "--show"]);
    assert!(witness.asked().is_empty());
}

/// The package carries what a witness signed, a reader's own policy asks for it, and a second production is the same.
#[test]
fn a_package_carries_the_lines_of_witnesses() {
    use inkfast::seal::age_file::Identity;
    let (room, log) = room();
    let witness = Witness::start("one.example", 7, log.clone(), Manner::Honest);
    let file = policy(&room, &log, &[&witness], "all");
    let asker = Identity::generate();
    room.write("who.txt", &format!("{}\n", asker.to_text().as_str()));
    let (to, key) = (asker.recipient().to_string(), room.path("who.txt").display().to_string());
    let release = |name: &str, more: &[&str]| {
        let file = room.path(name).display().to_string();
        let words = ["release", "PM-0112", "--file", &file, "--to", &to];
        (room.run(&[&words[..], &common::archive::TO_THE_PATIENT, more].concat()), file)
    };
    let (said, _) = release("early.age", &["--witnessed"]);
    assert!(said.code() == 4 && said.all().contains("No witnesses are named yet"), "{}", said.all());
    assert!(!room.path("early.age").exists());
    room.ok(&["slip", "witness", "--policy", &file]);
    let (said, package) = release("one.age", &["--witnessed", "--json"]);
    assert_eq!(said.code(), 0, "{}", said.all());
    let first: serde_json::Value = serde_json::from_str(&said.out).unwrap();
    assert!(said.all().contains("Witness one-example saw the ledger up to number"), "{}", said.all());
    assert_eq!(witness.asked(), [200, 200]);
    let check = |package: &str| room.run(&["verify", package, "--identity", &key, "--policy", &file]);
    let checked = check(&package);
    assert_eq!(checked.code(), 0, "{}", checked.all());
    assert!(checked.out.contains("saw this state of the ledger"), "{}", checked.out);
    let (again, _) = release("again.age", &["--again", &first["entry"].to_string(), "--json"]);
    assert_eq!(again.code(), 0, "{}", again.all());
    let again: serde_json::Value = serde_json::from_str(&again.out).unwrap();
    assert_eq!((&again["same_as"], &again["inside_blake3"]), (&first["entry"], &first["inside_blake3"]));
    // Not asked for: the package is sound in itself, and the policy says what is missing.
    let (said, plain) = release("two.age", &[]);
    assert_eq!(said.code(), 0, "{}", said.all());
    assert_eq!(check(&plain).code(), 1);
    assert_eq!(witness.asked(), [200, 200], "nobody is contacted unasked");
}

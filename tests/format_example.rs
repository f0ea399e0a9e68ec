//! The worked example of schema/FORMAT.md is what this program writes: the same ledger is made
//! again from the same seeds, and the digests are worked out here without the program's own code.
//!
//! `INKFAST_WRITE_SCHEMAS=1 cargo test --test format_example` writes the example anew.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // In a test a panic is the report.

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD as BASE64;
use inkfast::ledger::frame::{HEADER, Header};
use inkfast::ledger::write::{Location, NewEntry, Writer};
use inkfast::record::envelope::{Happened, Meaning, Person, Record, Signature};
use inkfast::record::kinds::register::{ClockRemark, ClockState, KeyRole, Keys, RoleKey, StaffKey};
use inkfast::record::kinds::{Data, Day};
use inkfast::record::moment::Moment;
use inkfast::seal::age_file::{self, Identity, To, With};
use inkfast::seal::body::{Body, hex};
use inkfast::seal::note::Signer;
use inkfast::world::World;
use sha2::{Digest as _, Sha256};
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use zeroize::Zeroizing;

const BEGINS: &str = "<!-- example begins; written by tests/format_example.rs -->\n";
const ENDS: &str = "<!-- example ends -->\n";
const ORIGIN: &str = "ledger-00112233445566778899aabbccddeeff";
const CHECKPOINT_SEED: [u8; 32] = [1; 32];
const STAFF_SEED: [u8; 32] = [2; 32];
const OPENINGS: [[u8; 32]; 2] = [[3; 32], [4; 32]];
const SEGMENT_BYTES: u64 = 32 << 10;

/// Identities made for this page: of IV, of the roles desk and clinical, of the recovery sheet.
const IDENTITIES: [&str; 4] = [
    "AGE-SECRET-KEY-1D8E083Q0JM0FUU6NG9572JD2FU6DZJF0QTP8LT0ECQPPL5KFY0DSY2Y9NA",
    "AGE-SECRET-KEY-1MKLWYT4U9NL5VJCD3ADJP2J98PDRNY3AYPP4794YU3Z98L8PAY0SHH9KT8",
    "AGE-SECRET-KEY-1CU0ST6HENFVZGMJSV75S2Q08LUKWWF5NZSZ69MNTH8SH6W4V2U6QQ4X36C",
    "AGE-SECRET-KEY-12FVPRAGYUWGGRYPFV07ESEHGFXHV9G57CSU2UCS5QN6SJGETRP3S7E4SRV",
];

fn identity(index: usize) -> Identity {
    Identity::parse(IDENTITIES[index]).unwrap()
}

fn page_path() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("schema/FORMAT.md")
}

/// The record around some data, as this program writes it.
fn record(data: &Data, written: &str, name: &str, role: &str, station: &str) -> Vec<u8> {
    let at = Moment::parse(written).unwrap();
    let (code, name, role) = ("IV".to_string(), name.to_string(), role.to_string());
    let record = Record {
        kind: data.kind().to_string(),
        edition: data.edition(),
        ledger: ORIGIN.to_string(),
        chart: None,
        happened: Happened { start: at, end: None, about: false },
        written: at,
        station: station.to_string(),
        author: Person { code: code.clone(), name: name.clone(), role: role.clone() },
        entered_by: None,
        signed: Signature { by: code, name, role, at, meaning: Meaning::Wrote },
        second: None,
        labels: Vec::new(),
        refers: Vec::new(),
        data: data.to_value().unwrap(),
    };
    let wrong: Vec<_> = data.validate(&record).into_iter().map(|p| p.text).collect();
    assert!(wrong.is_empty(), "{wrong:?}");
    record.to_bytes().unwrap()
}

const WRITTEN: [&str; 2] = ["2022-10-03T08:12:00-04:00", "2022-10-04T07:55:00-04:00"];

/// The first entry of a ledger: the public keys, readable by everybody.
fn keys_record() -> Vec<u8> {
    let from = Day(Moment::parse(WRITTEN[0]).unwrap().local_date());
    let role = |role, index: usize| RoleKey {
        role,
        recipient: identity(index).recipient().to_string(),
        from,
        until: None,
    };
    let keys = Keys {
        staff: vec![StaffKey {
            code: "IV".to_string(),
            roles: vec![KeyRole::Desk, KeyRole::Clinical, KeyRole::Custodian],
            recipient: identity(0).recipient().to_string(),
            vkey: Signer::from_seed("IV", &STAFF_SEED).unwrap().vkey(),
            from,
            until: None,
        }],
        roles: vec![role(KeyRole::Desk, 1), role(KeyRole::Clinical, 2), role(KeyRole::Recovery, 3)],
        because: None,
    };
    record(&keys.into(), WRITTEN[0], "IV", "staff", "-")
}

/// A record whose body is sealed.
fn remark_record() -> Vec<u8> {
    let remark = ClockRemark {
        state: ClockState::OpenedAndClosed,
        of: None,
        at_station: "desk".to_string(),
        words: "The desk clock was an hour behind.".to_string(),
        seconds_wrong: Some(-3600),
        wrong_from: None,
        wrong_until: None,
        covers: Vec::new(),
    };
    record(&remark.into(), WRITTEN[1], "Ingrith Valsamo", "chiropractor", "desk")
}

fn body(index: usize, record: Vec<u8>) -> Body {
    Body { opening: OPENINGS[index], record: Zeroizing::new(record) }
}

/// Writes the ledger with the program's own writer and returns its one segment.
fn segment() -> Vec<u8> {
    let dir = tempfile::tempdir().unwrap();
    let vouch = Signer::from_seed(ORIGIN, &CHECKPOINT_SEED).unwrap();
    let author = Signer::from_seed("IV", &STAFF_SEED).unwrap();
    let place = Location {
        dir: dir.path().join("ledger"),
        set_aside: dir.path().join("set-aside"),
        outside: dir.path().join("outside"),
        lock: dir.path().join("lock"),
        key: vouch.verifier().clone(),
    };
    let body = body(0, keys_record());
    let entry = NewEntry {
        chart: None,
        kind: "keys".to_string(),
        written: Moment::parse(WRITTEN[0]).unwrap(),
        signers: vec![&author],
        body: body.to_bytes().to_vec(),
        commit: body.commitment(),
    };
    let mut writer = Writer::create(&World::real(), &place, SEGMENT_BYTES).unwrap();
    writer.commit(vec![entry], &vouch).unwrap();
    std::fs::read(place.dir.join("000001.seg")).unwrap()
}

/// Cuts a segment into its frames: header and payloads of each.
fn frames(segment: &[u8]) -> Vec<(&[u8], &[u8], &[u8])> {
    let (mut frames, mut at) = (Vec::new(), 0);
    while let Some(header) = Header::read(&segment[at..]) {
        let first = at + HEADER + header.first;
        frames.push((
            &segment[at..at + HEADER],
            &segment[at + HEADER..first],
            &segment[first..][..header.second],
        ));
        at += header.frame_len();
    }
    assert!(segment[at..].iter().all(|b| *b == 0));
    frames
}

/// Lines of text as an indented block.
fn block(out: &mut String, lines: impl IntoIterator<Item = impl AsRef<str>>) {
    // An indented block needs an empty line before it, or it is read as part of the sentence.
    out.push_str(if out.ends_with('\n') { "\n" } else { "\n\n" });
    for line in lines {
        let line = line.as_ref();
        writeln!(out, "{}{line}", if line.is_empty() { "" } else { "    " }).unwrap();
    }
    out.push('\n');
}

fn wrapped(text: &str, width: usize) -> Vec<&str> {
    (0..text.len()).step_by(width).map(|at| &text[at..text.len().min(at + width)]).collect()
}

fn hex_block(out: &mut String, parts: &[&[u8]]) {
    block(out, wrapped(&hex(&parts.concat()), 96));
}

fn text(bytes: &[u8]) -> &str {
    std::str::from_utf8(bytes).unwrap()
}

/// The part of the page between the marks.
fn example(sealed: &[u8]) -> String {
    let segment = segment();
    let frames = frames(&segment);
    let [head, entry, checkpoint] = frames.as_slice() else { panic!("{} frames", frames.len()) };
    let mut out = String::new();
    let o = &mut out;
    writeln!(
        o,
        "The secrets here are known to everybody, so use none of them. The segment is short (32,768 bytes) only here.\n\n\
         | what | value |\n|---|---|\n\
         | seed of the checkpoint key, Ed25519 | 32 bytes `01` |\n\
         | seed of IV's signing key, Ed25519 | 32 bytes `02` |\n\
         | opening of entry 1 | 32 bytes `03` |\n\
         | checkpoint key, as in `store.json` | `{}` |\n\
         | identity of the role clinical | `{}` |",
        Signer::from_seed(ORIGIN, &CHECKPOINT_SEED).unwrap().vkey(),
        IDENTITIES[2],
    )
    .unwrap();
    write!(o, "\n`ledger/000001.seg` begins with the segment frame").unwrap();
    hex_block(o, &[head.0, head.1]);
    write!(o, "then the entry frame (leaf of {} bytes, body of {})", entry.1.len(), entry.2.len()).unwrap();
    hex_block(o, &[entry.0, entry.1, entry.2]);
    write!(o, "then the checkpoint frame, and zeros to the end.").unwrap();
    hex_block(o, &[checkpoint.0, checkpoint.1]);
    write!(o, "The leaf of entry 1, its first line folded here:").unwrap();
    let (line, rest) = text(entry.1).split_once('\n').unwrap();
    block(o, wrapped(line, 100).into_iter().chain(rest.lines()));
    write!(o, "Its body, the record's one line folded here:").unwrap();
    let mut lines = text(entry.2).splitn(3, '\n');
    let (marker, opening, record) = (lines.next().unwrap(), lines.next().unwrap(), lines.next().unwrap());
    block(o, [marker, opening].into_iter().chain(wrapped(record, 100)));
    let leaf_hash: [u8; 32] = Sha256::new().chain_update([0]).chain_update(entry.1).finalize().into();
    writeln!(
        o,
        "| of entry 1 | value |\n|---|---|\n\
         | BLAKE3 of the leaf, the next entry's `prev` | `{}` |\n\
         | BLAKE3 of the body, the leaf's `body` | `{}` |\n\
         | keyed BLAKE3 of the record, the leaf's `commit` | `{}` |\n\
         | RFC 6962 leaf hash; of a tree of one leaf also the root | `{}` |\n\n\
         The checkpoint:",
        blake3::hash(entry.1).to_hex(),
        blake3::hash(entry.2).to_hex(),
        blake3::keyed_hash(&OPENINGS[0], record.as_bytes()).to_hex(),
        hex(&leaf_hash),
    )
    .unwrap();
    assert_eq!(text(checkpoint.1).lines().nth(2).unwrap(), BASE64.encode(leaf_hash));
    block(o, text(checkpoint.1).lines());
    sealed_example(o, sealed);
    out.truncate(out.trim_end().len());
    out.push('\n');
    out
}

/// A body of a later entry, sealed to both roles.
fn sealed_example(o: &mut String, sealed: &[u8]) {
    write!(o, "**A sealed body.** An entry outside any chart; its record, folded here, is").unwrap();
    let record = remark_record();
    block(o, wrapped(text(&record), 100));
    write!(
        o,
        "With 32 bytes `04` as the opening and sealed to both roles, its body was this age file (base64). \
         Sealing it again gives other bytes."
    )
    .unwrap();
    block(o, wrapped(&BASE64.encode(sealed), 100));
    write!(o, "With the base64 in `body.b64` and the identity of the role in `clinical.txt`:").unwrap();
    block(o, COMMANDS.lines());
    writeln!(
        o,
        "The second command prints what the entry's leaf has as `body`, the last one what it has as `commit`:"
    )
    .unwrap();
    let commit = blake3::keyed_hash(&OPENINGS[1], &record).to_hex();
    block(o, [blake3::hash(sealed).to_hex().as_str(), commit.as_str()]);
}

/// What the page tells a reader to type.
const COMMANDS: &str = "\
base64 -d body.b64 > body
b3sum --no-names body
age -d -i clinical.txt -o plain body
tail -c +82 plain > record
tail -c +17 plain | head -c 64 | xxd -r -p | b3sum --keyed --no-names record";

/// The sealed body that stands in the page: the indented lines from `age-encryption` in base64 on.
fn sealed_in(page: &str) -> Option<Vec<u8>> {
    let start = page.find("    YWdlLWVuY3J5")?;
    let lines = page[start..].lines().take_while(|line| !line.is_empty());
    BASE64.decode(lines.map(str::trim).collect::<String>()).ok()
}

/// Opens to the example's record, with either role.
fn is_the_example(sealed: &[u8]) -> bool {
    [1, 2].into_iter().all(|role| {
        age_file::open(&With::Identities(&[identity(role)]), sealed)
            .is_ok_and(|plain| *plain == *body(1, remark_record()).to_bytes())
    })
}

#[test]
fn the_example_on_the_page_is_what_the_program_writes() {
    let page = std::fs::read_to_string(page_path()).unwrap();
    let (before, rest) = page.split_once(BEGINS).expect("the mark before the example");
    let (found, after) = rest.split_once(ENDS).expect("the mark behind the example");
    let write = std::env::var("INKFAST_WRITE_SCHEMAS").is_ok_and(|value| value == "1");
    // Sealing is never the same twice, so a sealed body that is right is left as it is.
    let sealed = match sealed_in(found).filter(|sealed| is_the_example(sealed)) {
        Some(sealed) => sealed,
        None if write => {
            let to = [identity(1).recipient(), identity(2).recipient()];
            age_file::seal(&To::Recipients(&to), &body(1, remark_record()).to_bytes()).unwrap()
        }
        None => panic!("the sealed body on the page does not open to the example's record"),
    };
    let example = format!("\n{}\n", example(&sealed));
    if write {
        std::fs::write(page_path(), [before, BEGINS, &example, ENDS, after].concat()).unwrap();
    } else {
        assert!(found == example, "the example on the page differs; see the head of this test");
    }
}

/// A second way through the frame: the header's check and lengths, read as the page tells it.
#[test]
fn the_frames_are_as_the_page_tells() {
    let segment = segment();
    for (header, first, second) in frames(&segment) {
        assert_eq!(header[12..], blake3::hash(&header[..12]).as_bytes()[..4]);
        assert_eq!(header[4..8], (first.len() as u32).to_le_bytes());
        assert_eq!(header[8..12], (second.len() as u32).to_le_bytes());
    }
    let head = text(frames(&segment)[0].1).to_string();
    let wanted = format!("inkfast-segment/v1\n{ORIGIN}\nsegment 1\nbytes {SEGMENT_BYTES}\nfirst 1\nprev -\n");
    assert_eq!(head, wanted);
    assert_eq!(segment.len() as u64, SEGMENT_BYTES);
}

/// The commands on the page, typed as they stand there; needs age, b3sum and xxd.
#[test]
#[cfg(feature = "outside-checks")]
fn the_commands_on_the_page_give_what_it_says() {
    let page = std::fs::read_to_string(page_path()).unwrap();
    let sealed = sealed_in(&page).unwrap();
    let dir = tempfile::tempdir().unwrap();
    std::fs::write(dir.path().join("body.b64"), BASE64.encode(&sealed)).unwrap();
    std::fs::write(dir.path().join("clinical.txt"), format!("{}\n", IDENTITIES[2])).unwrap();
    let typed =
        std::process::Command::new("sh").args(["-ec", COMMANDS]).current_dir(dir.path()).output().unwrap();
    assert!(typed.status.success(), "{}", String::from_utf8_lossy(&typed.stderr));
    let said = String::from_utf8(typed.stdout).unwrap();
    let [digest, commit] = said.lines().collect::<Vec<_>>()[..] else { panic!("{said}") };
    assert!(page.contains(&format!("    {digest}\n    {commit}\n")), "{said}");
    assert_eq!(std::fs::read(dir.path().join("record")).unwrap(), remark_record());
}

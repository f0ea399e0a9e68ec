//! A store with words planted in it, the packages released from it, and what tests do to them.

#![allow(dead_code)] // Each test takes what it needs.

use crate::common::{Small, add, attachment, contact_saying, example, example_data, reaction_saying};
use inkfast::practice::attach::attach;
use inkfast::practice::chart::open_chart;
use inkfast::practice::release::{ReleaseOrder, Released, SealTo, Withhold, release};
use inkfast::record::kinds::Data;
use inkfast::seal::age_file::{Identity, With, open};
use inkfast::trouble::Outcome;
use inkfast::verify::finding::{Report, Severity};
use inkfast::verify::manifest::{Manifest, note_text};
use inkfast::verify::package::check_archive;
use std::io::Read;

/// Words planted in the chart that is released.
pub const OWN: [&str; 3] = ["Quillfeather", "plumbago", "marzipan"];
/// Words planted in other charts.
pub const OTHERS: [&str; 6] =
    ["Zwickelbach", "1911-02-03", "PM-0777", "velocipede", "gutta-percha", "Ostrogoth"];
/// A word planted in an entry that is withheld.
pub const WITHHELD: &str = "cassowary";

pub type Members = Vec<(String, Vec<u8>)>;

/// A store with words planted in it, and the chart that is released.
pub struct Planted {
    pub small: Small,
    pub own: String,
    pub withheld: u64,
    pub asker: Identity,
}

pub fn opened(small: &mut Small, name: &str, number: &str, born: &str) -> String {
    let mut record = example("chart-opened");
    record.data["chart_no"] = number.into();
    record.data["identity"]["legal_name"] = name.into();
    record.data["identity"]["birth_date"]["date"] = born.into();
    let Data::ChartOpened(data) = record.read_data().unwrap() else { panic!() };
    let now = small.practice.now();
    open_chart(&mut small.practice, *data, now).unwrap().0
}

impl Planted {
    pub fn new() -> Planted {
        let mut small = Small::new(64 << 10, 0);
        let own = opened(&mut small, OWN[0], "PM-0001", "1990-05-05");
        let other = opened(&mut small, OTHERS[0], OTHERS[2], OTHERS[1]);
        let now = small.practice.now();
        let p = &mut small.practice;
        add(p, Some(&own), contact_saying(OWN[1])).unwrap();
        add(p, Some(&other), contact_saying(OTHERS[3])).unwrap();
        let withheld = add(p, Some(&own), reaction_saying(WITHHELD)).unwrap().seq;
        add(p, Some(&other), reaction_saying(OTHERS[4])).unwrap();
        attach(p, &own, &mut OWN[2].repeat(40).as_bytes(), attachment("own paper"), now).unwrap();
        attach(p, &other, &mut OTHERS[5].repeat(40).as_bytes(), attachment("other paper"), now).unwrap();
        Planted { small, own, withheld, asker: Identity::generate() }
    }

    /// An order for the whole chart.
    pub fn order(&self, name: &str) -> ReleaseOrder {
        let Data::Release(data) = example_data("release") else { panic!() };
        let to = SealTo::Recipients(vec![self.asker.recipient()]);
        ReleaseOrder::new(*data, to, self.small.dir.path().join(name), self.small.practice.now())
    }

    pub fn release(&mut self, name: &str, withhold: Vec<Withhold>) -> Outcome<Released> {
        let order = ReleaseOrder { withhold, ..self.order(name) };
        release(&mut self.small.practice, &self.own, order)
    }

    /// Carries an order out and opens the seal.
    pub fn carried_out(&mut self, order: ReleaseOrder) -> (Released, Vec<u8>) {
        let released = release(&mut self.small.practice, &self.own, order).unwrap();
        let sealed = std::fs::read(&released.file).unwrap();
        let with = With::Identities(std::slice::from_ref(&self.asker));
        let plain = open(&with, &sealed).unwrap().to_vec();
        (released, plain)
    }

    /// Releases and opens the seal.
    pub fn archive(&mut self, name: &str, withhold: Vec<Withhold>) -> (Released, Vec<u8>) {
        let order = ReleaseOrder { withhold, ..self.order(name) };
        self.carried_out(order)
    }
}

pub fn judge(archive: &[u8]) -> Outcome<Report> {
    check_archive(&mut &archive[..], &mut |_| ())
}

pub fn members(archive: &[u8]) -> Members {
    let mut tar = tar::Archive::new(archive);
    let entries = tar.entries().unwrap();
    entries
        .map(|entry| {
            let mut entry = entry.unwrap();
            let name = String::from_utf8(entry.path_bytes().into_owned()).unwrap();
            let mut bytes = Vec::new();
            entry.read_to_end(&mut bytes).unwrap();
            (name, bytes)
        })
        .collect()
}

pub fn pack(members: &Members) -> Vec<u8> {
    let mut tar = tar::Builder::new(Vec::new());
    for (name, bytes) in members {
        let mut header = tar::Header::new_ustar();
        header.set_size(bytes.len() as u64);
        header.set_mode(0o644);
        tar.append_data(&mut header, name, &bytes[..]).unwrap();
    }
    tar.into_inner().unwrap()
}

/// True when the bytes hold the word, plain or as their digits.
pub fn holds(bytes: &[u8], word: &str) -> bool {
    let find = |wanted: &[u8]| bytes.windows(wanted.len()).any(|w| w.eq_ignore_ascii_case(wanted));
    find(word.as_bytes()) || find(data_encoding::BASE64_NOPAD.encode(word.as_bytes()).as_bytes())
}

/// True when the report says that something is wrong, and what to do.
pub fn named(report: &Report) -> bool {
    let mut wrong = report.findings.iter().filter(|f| f.severity == Severity::Wrong).peekable();
    !report.sound && wrong.peek().is_some() && wrong.all(|f| !f.what.is_empty() && !f.next.is_empty())
}

/// The list of a package.
pub fn list_of(all: &Members) -> Manifest {
    let (_, bytes) = all.iter().find(|(name, _)| name == "manifest.json").unwrap();
    serde_json::from_slice(bytes).unwrap()
}

/// The same members with the list made anew after `bend` and signed: what somebody could hand over who
/// holds the key of whoever released it. Lengths and digests are those of the members as they now are.
pub fn signed_anew(planted: &Planted, all: &Members, bend: impl FnOnce(&mut Manifest)) -> Members {
    use inkfast::seal::body::hex;
    use sha2::Digest as _;
    let mut all = all.clone();
    let mut manifest = list_of(&all);
    bend(&mut manifest);
    manifest.files.retain(|f| all.iter().any(|(name, _)| *name == f.name));
    for file in &mut manifest.files {
        let (_, bytes) = all.iter().find(|(name, _)| *name == file.name).unwrap();
        file.bytes = bytes.len() as u64;
        file.blake3 = hex(blake3::hash(bytes).as_bytes());
        file.sha256 = hex(&sha2::Sha256::digest(bytes));
    }
    let json = serde_json::to_vec(&manifest).unwrap();
    let digests = (hex(blake3::hash(&json).as_bytes()), hex(&sha2::Sha256::digest(&json)));
    let text = note_text(&manifest.ledger, manifest.release, &digests.0, &digests.1);
    let note = inkfast::seal::note::sign(&text, &[&planted.small.practice.session.me.signer]).unwrap();
    for (name, bytes) in &mut all {
        match name.as_str() {
            "manifest.json" => bytes.clone_from(&json),
            "manifest.note" => *bytes = note.clone().into_bytes(),
            _ => {}
        }
    }
    all
}

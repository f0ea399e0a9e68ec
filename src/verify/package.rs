//! Verifying a package: everything from the package alone.

use super::extent;
use super::finding::{CheckpointOutput, Finding, FindingId, Report, Severity, Where, limits};
use super::manifest::{Manifest, entry_name, note_text};
use super::store::signer_finding;
use crate::ledger::checkpoint::Checkpoint;
use crate::ledger::leaf::{Leaf, leaf_digest_hex};
use crate::ledger::proof::TlogProof;
use crate::record::envelope::Record;
use crate::record::kinds::Data;
use crate::seal::body::{commitment, hex, unhex32};
use crate::seal::keybook::KeyBook;
use crate::seal::note::{Note, Verifier};
use crate::trouble::{Kind, Outcome, Trouble};
use sha2::{Digest as _, Sha256};
use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::io::{self, Read};
use std::path::Path;

/// The most that one member other than an attachment may hold, in bytes.
const MAX_MEMBER: u64 = 64 << 20;
/// The most members a package may have.
const MAX_MEMBERS: usize = 1_000_000;

/// One member as it was read: digests always, bytes unless it is an attachment.
struct Member {
    size: u64,
    blake3: String,
    sha256: String,
    bytes: Vec<u8>,
}

/// Everything in a package.
#[derive(Default)]
struct Members {
    by_name: BTreeMap<String, Member>,
    findings: Vec<Finding>,
}

/// Verifies a package given as its tar archive.
///
/// # Errors
/// Only when it can't be read to its end as an archive; then it could not be checked.
pub fn check_archive(archive: &mut dyn Read, progress: &mut dyn FnMut(u64)) -> Outcome<Report> {
    let mut members = Members::default();
    let mut tar = tar::Archive::new(EndWatch { archive, read: 0, last: 0 });
    let mut end = 0;
    let entries = tar.entries().map_err(|e| unreadable(&e))?;
    for entry in entries {
        let mut entry = entry.map_err(|e| unreadable(&e))?;
        let name = String::from_utf8_lossy(&entry.path_bytes()).into_owned();
        end = entry.raw_file_position().saturating_add(entry.size().saturating_add(511) / 512 * 512);
        if entry.header().entry_type() != tar::EntryType::Regular {
            members.stray(FindingId::MemberNotListed, &name);
            continue;
        }
        members.take(name, &mut entry, progress)?;
    }
    let mut rest = tar.into_inner();
    // Read on to the end: the seal of a cut file is broken only in its last piece.
    io::copy(&mut rest, &mut io::sink()).map_err(|e| unreadable(&e))?;
    if rest.read < end.saturating_add(END_OF_ARCHIVE) {
        return Err(unreadable(&io::Error::new(io::ErrorKind::UnexpectedEof, "its end is missing")));
    }
    if rest.last > end {
        members.stray(FindingId::MemberNotListed, "behind the end of the archive");
    }
    check(members)
}

/// An archive ends in two blocks of zeros (POSIX.1, ustar interchange format).
const END_OF_ARCHIVE: u64 = 1024;

/// Counts what is read.
struct EndWatch<'a> {
    archive: &'a mut dyn Read,
    /// How many bytes.
    read: u64,
    /// How many up to the last one that is not zero.
    last: u64,
}

impl Read for EndWatch<'_> {
    fn read(&mut self, buf: &mut [u8]) -> io::Result<usize> {
        let n = self.archive.read(buf)?;
        if let Some(at) = buf[..n].iter().rposition(|b| *b != 0) {
            self.last = self.read + at as u64 + 1;
        }
        self.read += n as u64;
        Ok(n)
    }
}

/// Verifies a package given as the folder it was unpacked into.
///
/// # Errors
/// Only when the folder can't be read.
pub fn check_folder(folder: &Path, progress: &mut dyn FnMut(u64)) -> Outcome<Report> {
    let mut members = Members::default();
    let mut todo = vec![String::new()];
    while let Some(dir) = todo.pop() {
        let path = folder.join(&dir);
        let trouble = |e: io::Error| Trouble::disk("read", &path, &e);
        for item in std::fs::read_dir(&path).map_err(trouble)? {
            let item = item.map_err(trouble)?;
            let name = item.file_name().to_string_lossy().into_owned();
            let name = if dir.is_empty() { name } else { format!("{dir}/{name}") };
            let kind = item.file_type().map_err(trouble)?;
            if kind.is_dir() {
                todo.push(name);
            } else if kind.is_file() {
                let mut file = std::fs::File::open(item.path()).map_err(trouble)?;
                members.take(name, &mut file, progress)?;
            } else {
                members.stray(FindingId::MemberNotListed, &name);
            }
        }
    }
    check(members)
}

/// Edition of the package that this program writes and checks.
const PACKAGE_EDITION: u64 = 1;

/// A later edition may hold what this program does not know of: that is neither sound nor wrong.
fn refuse_later_edition(manifest: &[u8]) -> Outcome<()> {
    let edition = serde_json::from_slice::<serde_json::Value>(manifest)
        .ok()
        .and_then(|v| v.get("inkfast_package").and_then(serde_json::Value::as_u64));
    match edition.filter(|e| *e > PACKAGE_EDITION) {
        None => Ok(()),
        Some(edition) => Err(Trouble::new(
            Kind::TooNew,
            format!("This package is of edition {edition}; this program knows edition {PACKAGE_EDITION}."),
            "Nothing was changed.",
            "Check it with the newer program that wrote it.",
        )),
    }
}

fn unreadable(error: &io::Error) -> Trouble {
    Trouble::new(
        Kind::Damaged,
        format!("This is not a whole package: {error}."),
        "Nothing was changed.",
        "Ask for another copy, or check that the whole file arrived.",
    )
}

impl Members {
    fn stray(&mut self, id: FindingId, name: &str) {
        let file = Some(name.chars().take(200).collect());
        self.findings.push(Finding::new(id, Where { file, ..Where::default() }));
    }

    fn take(&mut self, name: String, source: &mut dyn Read, progress: &mut dyn FnMut(u64)) -> Outcome<()> {
        let keep = !name.starts_with("attachments/");
        let (mut blake, mut sha, mut size) = (blake3::Hasher::new(), Sha256::new(), 0u64);
        let (mut bytes, mut buf) = (Vec::new(), vec![0u8; 256 << 10]);
        loop {
            let n = source.read(&mut buf).map_err(|e| unreadable(&e))?;
            if n == 0 {
                break;
            }
            blake.update(&buf[..n]);
            sha.update(&buf[..n]);
            size += n as u64;
            progress(n as u64);
            if keep && size <= MAX_MEMBER {
                bytes.extend_from_slice(&buf[..n]);
            }
        }
        let member =
            Member { size, blake3: hex(blake.finalize().as_bytes()), sha256: hex(&sha.finalize()), bytes };
        if self.by_name.len() >= MAX_MEMBERS || self.by_name.contains_key(&name) {
            self.stray(FindingId::MemberNotListed, &name);
        } else {
            self.by_name.insert(name, member);
        }
        Ok(())
    }

    fn bytes(&self, name: &str) -> Option<&[u8]> {
        self.by_name.get(name).map(|m| m.bytes.as_slice())
    }
}

fn check(members: Members) -> Outcome<Report> {
    refuse_later_edition(members.bytes("manifest.json").unwrap_or_default())?;
    let mut checker = Checker {
        findings: Vec::new(),
        members: &members,
        book: KeyBook::default(),
        keys_taken: 0,
        checkpoint: None,
        attachments: BTreeSet::new(),
        given: 0,
        records: BTreeMap::new(),
    };
    checker.findings.extend(members.findings.iter().cloned());
    let manifest = members.bytes("manifest.json").and_then(|b| serde_json::from_slice::<Manifest>(b).ok());
    let key = manifest.as_ref().and_then(|m| {
        let right = u64::from(m.inkfast_package) == PACKAGE_EDITION;
        Verifier::parse(&m.checkpoint_key).ok().filter(|k| right && k.name() == m.ledger)
    });
    let complete = match (&manifest, &key) {
        (Some(manifest), Some(key)) => checker.all(manifest, key),
        _ => {
            checker.find(
                FindingId::ManifestUnreadable,
                Where { file: Some("manifest.json".into()), ..Where::default() },
            );
            false
        }
    };
    let mut findings = checker.findings;
    findings.sort_by(|a, b| b.id.severity().cmp(&a.id.severity()).then(a.place.seq.cmp(&b.place.seq)));
    let sound = findings.iter().all(|f| f.id.severity() == Severity::Notice);
    let entries = manifest.as_ref().map_or(0, |m| m.entries.len() as u64);
    Ok(Report {
        checked: "package".to_string(),
        sound,
        ledger: manifest.as_ref().map(|m| m.ledger.clone()).unwrap_or_default(),
        entries,
        charts: 1,
        files: checker.attachments.len() as u64,
        checkpoint: checker
            .checkpoint
            .as_ref()
            .map(|c| CheckpointOutput { size: c.size, root: hex(&c.root) }),
        witnesses: Vec::new(),
        complete: Some(extent::complete_words(manifest.as_ref(), complete, checker.given)),
        findings: findings.iter().map(Finding::to_output).collect(),
        limits: limits(false),
    })
}

struct Checker<'a> {
    members: &'a Members,
    findings: Vec<Finding>,
    book: KeyBook,
    /// How many of the manifest's `keys` entries were looked at.
    keys_taken: usize,
    checkpoint: Option<Checkpoint>,
    /// Attachments named by records that were given, by digest.
    attachments: BTreeSet<String>,
    given: u64,
    /// The records of the chart that were given and are the ones that were sealed, by number.
    records: BTreeMap<u64, Record>,
}

impl Checker<'_> {
    fn find(&mut self, id: FindingId, place: Where) {
        self.findings.push(Finding::new(id, place));
    }

    fn find_file(&mut self, id: FindingId, name: &str, seq: Option<u64>) {
        self.find(id, Where { file: Some(name.to_string()), seq, ..Where::default() });
    }

    /// Every check; true when the chart is whole up to the release.
    fn all(&mut self, manifest: &Manifest, key: &Verifier) -> bool {
        self.listed(manifest);
        match self.members.bytes("ledger/checkpoint").map(|b| Checkpoint::open(b, key)) {
            Some(Ok(checkpoint)) => self.checkpoint = Some(checkpoint),
            _ => self.find_file(FindingId::CheckpointBroken, "ledger/checkpoint", None),
        }
        let complete = self.chart(manifest, key);
        let files: BTreeMap<&str, &[u8]> =
            self.members.by_name.iter().map(|(name, m)| (name.as_str(), m.bytes.as_slice())).collect();
        self.findings.extend(extent::check(manifest, &self.records, &files));
        self.keys_before(u64::MAX, manifest, key);
        self.manifest_note(manifest);
        for name in self.members.by_name.keys().filter_map(|n| n.strip_prefix("attachments/")) {
            if !self.attachments.contains(name) {
                self.findings.push(Finding::new(
                    FindingId::MemberNotListed,
                    Where { file: Some(format!("attachments/{name}")), ..Where::default() },
                ));
            }
        }
        complete
    }

    /// The members are exactly the listed ones, each as listed.
    fn listed(&mut self, manifest: &Manifest) {
        let mut names: HashMap<&str, ()> = HashMap::from([("manifest.json", ()), ("manifest.note", ())]);
        for file in &manifest.files {
            names.insert(&file.name, ());
            match self.members.by_name.get(&file.name) {
                None => self.find_file(FindingId::MemberMissing, &file.name, None),
                Some(m) if m.size != file.bytes || m.blake3 != file.blake3 || m.sha256 != file.sha256 => {
                    self.find_file(FindingId::MemberChanged, &file.name, None);
                }
                Some(_) => {}
            }
        }
        let strays: Vec<_> =
            self.members.by_name.keys().filter(|n| !names.contains_key(n.as_str())).cloned().collect();
        for name in strays {
            self.find_file(FindingId::MemberNotListed, &name, None);
        }
    }

    fn manifest_note(&mut self, manifest: &Manifest) {
        let day = manifest.made.get(..10).and_then(crate::record::moment::parse_date);
        let good = self.members.by_name.get("manifest.json").is_some_and(|json| {
            let text = note_text(&manifest.ledger, manifest.release, &json.blake3, &json.sha256);
            let note = self.members.bytes("manifest.note").and_then(|b| Note::parse(b).ok());
            note.zip(day).is_some_and(|(note, day)| {
                note.text == text && self.book.check(&note, &manifest.made_by, day, false).is_ok()
            })
        });
        if !good {
            self.find_file(FindingId::ManifestSignature, "manifest.note", None);
        }
    }

    /// Leaf, proof and signature of one entry; the leaf if they hold together.
    fn entry(
        &mut self,
        name: &str,
        seq: u64,
        manifest: &Manifest,
        key: &Verifier,
        keys: bool,
    ) -> Option<(Leaf, String)> {
        let place = Where { file: Some(name.to_string()), seq: Some(seq), ..Where::default() };
        let Some(bytes) = self.members.bytes(&format!("{name}.leaf")) else {
            self.find_file(FindingId::MemberMissing, &format!("{name}.leaf"), Some(seq));
            return None;
        };
        let Ok((leaf, note)) = Leaf::read(bytes) else {
            self.find(FindingId::LeafUnreadable, place);
            return None;
        };
        let place = Where { kind: Some(leaf.kind.clone()), ..place };
        let proven = self
            .members
            .bytes(&format!("{name}.tlog-proof"))
            .and_then(|b| TlogProof::parse(b).ok())
            .is_some_and(|p| {
                p.index + 1 == leaf.seq
                    && p.check(bytes, key).ok().as_ref() == self.checkpoint.as_ref()
                    && self.checkpoint.is_some()
            });
        if !proven || leaf.seq != seq {
            self.find(FindingId::ProofBroken, place.clone());
        }
        if leaf.ledger != manifest.ledger || (!keys && leaf.chart.as_deref() != Some(&manifest.chart)) {
            self.find(FindingId::OtherChart, place.clone());
        }
        if let Err(problem) = self.book.check(&note, &leaf.author, leaf.written.local_date(), keys) {
            self.find(signer_finding(problem), place);
        }
        Some((leaf, leaf_digest_hex(bytes)))
    }

    /// Takes over the `keys` entries in front of entry `seq`, and no later one: who might sign is said
    /// by what was listed before.
    fn keys_before(&mut self, seq: u64, manifest: &Manifest, key: &Verifier) {
        while let Some(next) = manifest.keys.get(self.keys_taken).copied().filter(|next| *next < seq) {
            self.keys_taken += 1;
            self.keys_entry(next, manifest, key);
        }
    }

    /// A `keys` entry: what it lists counts from then on.
    fn keys_entry(&mut self, seq: u64, manifest: &Manifest, key: &Verifier) {
        let name = format!("keys/{seq}");
        let data =
            self.members.bytes(&format!("{name}.record.json")).and_then(|b| Record::from_bytes(b).ok());
        let data = data.and_then(|r| r.read_data().ok());
        let Some(Data::Keys(keys)) = data else {
            return self.find_file(FindingId::KeysUnreadable, &name, Some(seq));
        };
        if seq == 1 {
            self.book.take(&keys);
        }
        let before = self.findings.len();
        if let Some((leaf, _)) = self.entry(&name, seq, manifest, key, true) {
            self.record(&name, &leaf);
        }
        if self.findings.len() == before && self.book.take(&keys).is_none() {
            self.find_file(FindingId::KeysUnreadable, &name, Some(seq));
        }
    }

    /// A record against its leaf.
    fn record(&mut self, name: &str, leaf: &Leaf) -> Option<Record> {
        let place = Where {
            file: Some(name.to_string()),
            seq: Some(leaf.seq),
            kind: Some(leaf.kind.clone()),
            ..Where::default()
        };
        let bytes = self.members.bytes(&format!("{name}.record.json"));
        let opening = self
            .members
            .bytes(&format!("{name}.opening"))
            .and_then(|b| std::str::from_utf8(b).ok())
            .and_then(|t| t.strip_suffix('\n'))
            .and_then(unhex32);
        let (Some(bytes), Some(opening)) = (bytes, opening) else {
            self.find(FindingId::RecordChanged, place);
            return None;
        };
        if unhex32(&leaf.commit) != Some(commitment(&opening, bytes)) {
            self.find(FindingId::RecordChanged, place);
            return None;
        }
        let Ok(record) = Record::from_bytes(bytes) else {
            self.find(FindingId::RecordHead, place);
            return None;
        };
        let fits = record.kind == leaf.kind
            && record.ledger == leaf.ledger
            && record.chart == leaf.chart
            && record.written.to_string() == leaf.written.to_string()
            && record.author.code == leaf.author;
        if !fits {
            self.find(FindingId::RecordHead, place.clone());
        }
        match record.read_data() {
            Ok(Data::Attachment(data)) => self.attachment(&data.plain_digest, data.size, leaf.seq),
            Ok(Data::Unknown { .. }) => self.find(FindingId::CannotShow, place),
            Ok(_) => {}
            Err(_) => self.find(FindingId::RecordHead, place),
        }
        Some(record)
    }

    fn attachment(&mut self, digest: &str, size: u64, seq: u64) {
        let name = format!("attachments/{digest}");
        match self.members.by_name.get(&name) {
            None => self.find_file(FindingId::AttachmentMissing, &name, Some(seq)),
            Some(m) if m.blake3 != digest || m.size != size => {
                self.find_file(FindingId::AttachmentChanged, &name, Some(seq));
            }
            Some(_) => {}
        }
        self.attachments.insert(digest.to_string());
    }

    /// The chart's entries from 1 to the release, each linked to the one before.
    fn chart(&mut self, manifest: &Manifest, key: &Verifier) -> bool {
        let mut whole = true;
        let mut before: Option<String> = None;
        let mut last_kind = None;
        for (listed, number) in manifest.entries.iter().zip(1u64..) {
            let name = entry_name(number);
            let place = Where { file: Some(name.clone()), seq: Some(listed.seq), ..Where::default() };
            self.keys_before(listed.seq, manifest, key);
            let Some((leaf, digest)) = self.entry(&name, listed.seq, manifest, key, false) else {
                whole = false;
                before = None;
                continue;
            };
            if leaf.chart_seq != Some(number) || listed.chart_seq != number || leaf.kind != listed.kind {
                whole = false;
                self.find(FindingId::ChartNumberBroken, place.clone());
            }
            if leaf.chart_prev != before {
                whole = false;
                self.find(FindingId::ChartLinkBroken, place.clone());
            }
            match (&listed.withheld, self.members.bytes(&format!("{name}.record.json"))) {
                (Some(_), None) => {}
                (Some(_), Some(_)) => self.find(FindingId::MemberNotListed, place),
                (None, _) => {
                    if let Some(record) = self.record(&name, &leaf) {
                        self.given += 1;
                        self.records.insert(leaf.seq, record);
                    }
                }
            }
            last_kind = Some((leaf.kind.clone(), leaf.seq, leaf.author.clone(), leaf.written.to_string()));
            before = Some(digest);
        }
        let ends = ("release".to_string(), manifest.release, manifest.made_by.clone(), manifest.made.clone());
        if last_kind != Some(ends) {
            whole = false;
            self.find(FindingId::ReleaseMissing, Where { seq: Some(manifest.release), ..Where::default() });
        }
        whole
    }
}

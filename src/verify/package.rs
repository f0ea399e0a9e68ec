//! Verifying a package: everything from the package alone, and then against what the reader kept.

use super::extent;
use super::finding::{CheckpointOutput, Finding, FindingId, Report, Severity, Where, package_limits};
use super::manifest::{Manifest, entry_name, note_text};
use super::members::{Members, from_archive, from_folder};
use super::package_report::{OutsideReport, PackageReport, SignerReport, WithheldReport};
use super::statements::statements;
use super::trust::{Seen, Trust};
use super::words::{self, fill};
use crate::ledger::checkpoint::Checkpoint;
use crate::ledger::earlier::KnownParts;
use crate::ledger::leaf::{Leaf, leaf_digest_hex};
use crate::ledger::proof::TlogProof;
use crate::ledger::tree::leaf_hash;
use crate::record::envelope::Record;
use crate::record::kinds::Data;
use crate::record::moment::Moment;
use crate::seal::body::{commitment, hex, unhex32};
use crate::seal::keybook::KeyBook;
use crate::seal::note::{Note, Verifier};
use crate::trouble::{Kind, Outcome, Trouble};
use std::collections::{BTreeMap, BTreeSet, HashSet};
use std::io::Read;
use std::path::Path;

/// The most findings that are named one by one; the rest are counted.
pub(super) const MAX_FINDINGS: usize = 1_000;

/// A package that was checked: the verdict, and the digest (BLAKE3) of every member by its name.
pub struct Checked {
    /// The verdict.
    pub report: Report,
    /// What was checked, so that only the same bytes are unpacked afterwards.
    pub members: BTreeMap<String, [u8; 32]>,
}

/// Verifies a package given as its tar archive, by itself.
///
/// # Errors
/// Only when it can't be read to its end as an archive; then it could not be checked.
pub fn check_archive(archive: &mut dyn Read, progress: &mut dyn FnMut(u64)) -> Outcome<Report> {
    Ok(check_archive_with(archive, &Trust::default(), progress)?.report)
}

/// Verifies a package given as its tar archive, and compares it with what the reader kept.
///
/// # Errors
/// When it can't be read to its end as an archive, or what was kept is damaged.
pub fn check_archive_with(
    archive: &mut dyn Read,
    trust: &Trust,
    progress: &mut dyn FnMut(u64),
) -> Outcome<Checked> {
    check(from_archive(archive, progress)?, trust)
}

/// Verifies a package given as the folder it was unpacked into.
///
/// # Errors
/// Only when the folder can't be read, or what was kept is damaged.
pub fn check_folder(folder: &Path, trust: &Trust, progress: &mut dyn FnMut(u64)) -> Outcome<Checked> {
    check(from_folder(folder, progress)?, trust)
}

/// Edition of the package that this program writes and checks.
pub(super) const PACKAGE_EDITION: u64 = 1;

/// A later edition may hold what this program does not know of: that is neither sound nor wrong.
fn refuse_later_edition(manifest: &[u8]) -> Outcome<()> {
    let edition = serde_json::from_slice::<serde_json::Value>(manifest)
        .ok()
        .and_then(|v| v.get("inkfast_package").and_then(serde_json::Value::as_u64));
    match edition.filter(|e| *e > PACKAGE_EDITION) {
        None => Ok(()),
        Some(edition) => Err(Trouble::new(
            Kind::TooNew,
            fill(words::LATER_EDITION, &[("edition", &edition), ("known", &PACKAGE_EDITION)]),
            words::LATER_EDITION_SAFE,
            words::LATER_EDITION_NEXT,
        )),
    }
}

fn check(members: Members, trust: &Trust) -> Outcome<Checked> {
    refuse_later_edition(members.bytes("manifest.json").unwrap_or_default())?;
    let mut checker = Checker::new(&members);
    for finding in &members.findings {
        checker.found(finding.clone());
    }
    let manifest = members.bytes("manifest.json").and_then(|b| serde_json::from_slice::<Manifest>(b).ok());
    let key = manifest.as_ref().and_then(|m| {
        let right = u64::from(m.inkfast_package) == PACKAGE_EDITION;
        Verifier::parse(&m.checkpoint_key).ok().filter(|k| right && k.name() == m.ledger)
    });
    let (mut whole, mut outside) = (false, OutsideReport::default());
    match (&manifest, &key) {
        (Some(manifest), Some(key)) => {
            whole = checker.all(manifest, key);
            outside = checker.compare(key, trust)?;
        }
        _ => checker.find_file(FindingId::ManifestUnreadable, "manifest.json", None),
    }
    let report = checker.report(manifest.as_ref(), whole, outside);
    drop(checker);
    let members = members.by_name.into_iter().map(|(name, member)| (name, member.blake3)).collect();
    Ok(Checked { report, members })
}

struct Checker<'a> {
    members: &'a Members,
    findings: Vec<Finding>,
    more_findings: u64,
    /// Which findings there are, named one by one or only counted.
    ids: BTreeSet<FindingId>,
    book: KeyBook,
    /// How many of the manifest's `keys` entries were looked at.
    keys_taken: usize,
    checkpoint: Option<(Checkpoint, Note)>,
    known: KnownParts,
    signers: BTreeMap<String, u64>,
    last_written: Option<Moment>,
    /// Attachments named by records that were given, by digest.
    attachments: BTreeSet<String>,
    given: u64,
    /// The records of the chart that were given and are the ones that were sealed, by number.
    records: BTreeMap<u64, Record>,
}

impl<'a> Checker<'a> {
    fn new(members: &'a Members) -> Checker<'a> {
        Checker {
            members,
            findings: Vec::new(),
            more_findings: 0,
            ids: BTreeSet::new(),
            book: KeyBook::default(),
            keys_taken: 0,
            checkpoint: None,
            known: KnownParts::default(),
            signers: BTreeMap::new(),
            last_written: None,
            attachments: BTreeSet::new(),
            given: 0,
            records: BTreeMap::new(),
        }
    }

    /// The checks against the outside; none of them can be made without a checkpoint.
    fn compare(&mut self, key: &Verifier, trust: &Trust) -> Outcome<OutsideReport> {
        let Some((checkpoint, note)) = &self.checkpoint else { return Ok(OutsideReport::default()) };
        let (report, found) = trust.compare(&Seen { key, checkpoint, note, known: &self.known })?;
        for finding in found {
            self.found(finding);
        }
        Ok(report)
    }

    fn report(&mut self, manifest: Option<&Manifest>, whole: bool, outside: OutsideReport) -> Report {
        let mut findings = std::mem::take(&mut self.findings);
        findings.sort_by(|a, b| b.id.severity().cmp(&a.id.severity()).then(a.place.seq.cmp(&b.place.seq)));
        let statements = statements(manifest, &self.ids, whole, self.given, self.attachments.len());
        let complete = statements.complete;
        let reached = outside.reached;
        let key_known = outside.key_known;
        Report {
            checked: "package".to_string(),
            sound: self.ids.iter().all(|id| id.severity() == Severity::Notice),
            ledger: manifest.map(|m| m.ledger.clone()).unwrap_or_default(),
            entries: manifest.map_or(0, |m| m.entries.len() as u64),
            read_from: None,
            charts: 1,
            charts_destroyed: 0,
            files: self.attachments.len() as u64,
            checkpoint: self
                .checkpoint
                .as_ref()
                .map(|(c, _)| CheckpointOutput { size: c.size, root: hex(&c.root) }),
            witnesses: outside.agreed(),
            complete: Some(extent::complete_words(manifest, complete, self.given)),
            package: manifest.map(|m| {
                let signers = self.signers.iter();
                Box::new(PackageReport {
                    file: None,
                    chart: m.chart.clone(),
                    release: m.release,
                    made: m.made.clone(),
                    made_by: m.made_by.clone(),
                    checkpoint_key: m.checkpoint_key.clone(),
                    statements: statements.list,
                    signers: signers.map(|(c, n)| SignerReport { code: c.clone(), entries: *n }).collect(),
                    withheld: withheld(m),
                    outside,
                })
            }),
            findings: findings.iter().map(Finding::to_output).collect(),
            more_findings: self.more_findings,
            limits: package_limits(reached, key_known),
        }
    }

    fn found(&mut self, finding: Finding) {
        self.ids.insert(finding.id);
        if self.findings.len() < MAX_FINDINGS {
            self.findings.push(finding);
        } else {
            self.more_findings += 1;
        }
    }

    fn find(&mut self, id: FindingId, place: Where) {
        self.found(Finding::new(id, place));
    }

    fn find_file(&mut self, id: FindingId, name: &str, seq: Option<u64>) {
        self.find(id, Where { file: Some(name.to_string()), seq, ..Where::default() });
    }

    /// Every check; true when the chart is whole up to the release.
    fn all(&mut self, manifest: &Manifest, key: &Verifier) -> bool {
        self.listed(manifest);
        let note = self.members.bytes("ledger/checkpoint").and_then(|b| Note::parse(b).ok());
        let opened = note.and_then(|n| Some((Checkpoint::from_note(&n, key).ok()?, n)));
        match opened {
            Some((checkpoint, note)) => {
                self.known = KnownParts::new(checkpoint.size, checkpoint.root);
                self.checkpoint = Some((checkpoint, note));
            }
            None => self.find_file(FindingId::CheckpointBroken, "ledger/checkpoint", None),
        }
        let complete = self.chart(manifest, key);
        let files: BTreeMap<&str, &[u8]> =
            self.members.by_name.iter().map(|(name, m)| (name.as_str(), m.bytes.as_slice())).collect();
        for finding in extent::check(manifest, &self.records, &files) {
            self.found(finding);
        }
        self.keys_before(u64::MAX, manifest, key);
        self.manifest_note(manifest);
        let members = self.members;
        for name in members.by_name.keys() {
            if name.strip_prefix("attachments/").is_some_and(|digest| !self.attachments.contains(digest)) {
                self.find_file(FindingId::MemberNotListed, name, None);
            }
        }
        complete
    }

    /// The members are exactly the listed ones, each as listed.
    fn listed(&mut self, manifest: &Manifest) {
        let members = self.members;
        let mut names: HashSet<&str> = HashSet::from(["manifest.json", "manifest.note"]);
        for file in &manifest.files {
            if !names.insert(&file.name) {
                self.find_file(FindingId::MemberNotListed, &file.name, None);
            }
            match members.by_name.get(&file.name) {
                None => self.find_file(FindingId::MemberMissing, &file.name, None),
                Some(m)
                    if m.size != file.bytes
                        || hex(&m.blake3) != file.blake3
                        || hex(&m.sha256) != file.sha256 =>
                {
                    self.find_file(FindingId::MemberChanged, &file.name, None);
                }
                Some(_) => {}
            }
        }
        for name in members.by_name.keys().filter(|n| !names.contains(n.as_str())) {
            self.find_file(FindingId::MemberNotListed, name, None);
        }
    }

    fn manifest_note(&mut self, manifest: &Manifest) {
        let day = manifest.made.get(..10).and_then(crate::record::moment::parse_date);
        let good = self.members.by_name.get("manifest.json").is_some_and(|json| {
            let text = note_text(&manifest.ledger, manifest.release, &hex(&json.blake3), &hex(&json.sha256));
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
        let proof = self
            .members
            .bytes(&format!("{name}.tlog-proof"))
            .and_then(|b| TlogProof::parse(b).ok())
            .filter(|p| leaf.seq == seq && p.index + 1 == seq)
            .filter(|p| {
                let shown = p.check(bytes, key).ok();
                shown.is_some() && shown.as_ref() == self.checkpoint.as_ref().map(|(c, _)| c)
            });
        match proof {
            Some(proof) => self.known.take(proof.index, leaf_hash(bytes), &proof.hashes),
            None => self.find(FindingId::ProofBroken, place.clone()),
        }
        if leaf.ledger != manifest.ledger || (!keys && leaf.chart.as_deref() != Some(&manifest.chart)) {
            self.find(FindingId::OtherChart, place.clone());
        }
        match self.book.check(&note, &leaf.author, leaf.written.local_date(), keys) {
            Err(problem) => self.find(problem.into(), place),
            Ok(()) if !keys => *self.signers.entry(leaf.author.clone()).or_default() += 1,
            Ok(()) => {}
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
        let count = |checker: &Self| checker.findings.len() as u64 + checker.more_findings;
        let before = count(self);
        if let Some((leaf, _)) = self.entry(&name, seq, manifest, key, true) {
            self.record(&name, &leaf);
        }
        if count(self) == before && self.book.take(&keys).is_none() {
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
            Some(m) if hex(&m.blake3) != digest || m.size != size => {
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
            if self.last_written.is_some_and(|last| leaf.written < last) {
                let place = Where { kind: Some(leaf.kind.clone()), file: Some(name), ..Where::default() };
                self.find(FindingId::ClockWentBack, Where { seq: Some(leaf.seq), ..place });
            }
            self.last_written = Some(leaf.written);
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

fn withheld(manifest: &Manifest) -> Vec<WithheldReport> {
    let withheld = manifest.entries.iter().filter_map(|e| Some((e, e.withheld.clone()?)));
    withheld
        .map(|(e, reason)| WithheldReport { number: e.chart_seq, seq: e.seq, kind: e.kind.clone(), reason })
        .collect()
}

#[cfg(test)]
mod tests;

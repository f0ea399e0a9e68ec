//! Verifying a store: every byte of the ledger and of the sealed files, without any reading key.

pub use super::slip::Witness;

use super::destroyed::Orders;
use super::finding::{CheckpointOutput, Finding, FindingId, Report, Severity, Where, limits};
use super::pin::What;
use super::signatures::{Signatures, signatures};
use crate::ledger::begin::{Begin, check_on};
use crate::ledger::leaf::Leaf;
use crate::ledger::outside::{self, Outside};
use crate::ledger::scan::{Damage, DamageKind, EntryAt, Scan, scan_and_keep_hashes};
use crate::ledger::segment::Bad;
use crate::ledger::tree::{self, Hash};
use crate::record::envelope::Record;
use crate::record::kinds::Data;
use crate::record::moment::Moment;
use crate::seal::body::{Body, hex, unhex32};
use crate::seal::keybook::{KeyBook, SignerProblem};
use crate::seal::note::{Note, Verifier};
use crate::trouble::{Outcome, Trouble};
use crate::world::{Disk, is_there};
use std::collections::{BTreeMap, HashSet};
use std::path::Path;

/// Where the store's parts are.
pub struct StorePaths<'a> {
    /// The store folder.
    pub root: &'a Path,
    /// The folder of the outside copy.
    pub outside: &'a Path,
    /// The checkpoint key.
    pub key: &'a Verifier,
}

/// Where a check goes on from: a checkpoint kept outside, and what an earlier reading found up to it.
pub struct Resume {
    /// That place.
    pub begin: Begin,
    /// The entries of public keys up to there: place, leaf and body of each.
    pub keys: Vec<(EntryAt, Vec<u8>, Vec<u8>)>,
}

/// Verifies a store. Only a failing disk is an error.
pub fn verify(
    disk: &dyn Disk,
    paths: &StorePaths<'_>,
    witnesses: &[Witness],
    progress: &mut dyn FnMut(u64),
) -> Outcome<Report> {
    let (scan, checks) = read_whole(disk, paths, progress)?;
    judge(disk, paths, witnesses, (scan, checks), progress)
}

/// Verifies what lies behind a kept checkpoint. None when that checkpoint does not lie where it lay: then the whole
/// is to be verified. Sealed files are checked where the entries that were read list them.
///
/// # Errors
/// When the disk fails.
pub fn verify_on(
    disk: &dyn Disk,
    paths: &StorePaths<'_>,
    resume: &Resume,
    witnesses: &[Witness],
    progress: &mut dyn FnMut(u64),
) -> Outcome<Option<Report>> {
    let dir = paths.root.join("ledger");
    let mut checks = Checks::new();
    for (at, leaf, body) in &resume.keys {
        let Ok((read, _)) = Leaf::read(leaf) else { return Ok(None) };
        checks.entry(at, &read, leaf, body);
    }
    checks.last = Some(resume.begin.last_written);
    let scan = check_on(disk, &dir, paths.key, &resume.begin, progress, &mut |at, leaf, bytes, body| {
        checks.entry(at, leaf, bytes, body);
        Ok(())
    })?;
    scan.map(|scan| judge(disk, paths, witnesses, (scan, checks), progress)).transpose()
}

/// Reads everything, and checks each entry on the way.
fn read_whole(
    disk: &dyn Disk,
    paths: &StorePaths<'_>,
    progress: &mut dyn FnMut(u64),
) -> Outcome<(Scan, Checks)> {
    let dir = paths.root.join("ledger");
    let mut checks = Checks::new();
    let mut read = |together: bool, checks: &mut Checks| {
        scan_and_keep_hashes(disk, &dir, paths.key, together, progress, &mut |at, leaf, bytes, body| {
            checks.entry(at, leaf, bytes, body);
            Ok(())
        })
    };
    let mut scan = read(true, &mut checks)?;
    if scan.is_none() {
        // One of the checkpoints' signatures does not hold: taken one by one, they say which.
        checks = Checks::new();
        scan = read(false, &mut checks)?;
    }
    let scan = scan.ok_or_else(|| Trouble::damaged("The ledger can't be read."))?;
    Ok((scan, checks))
}

/// Everything that was found, and what follows.
fn judge(
    disk: &dyn Disk,
    paths: &StorePaths<'_>,
    witnesses: &[Witness],
    (scan, checks): (Scan, Checks),
    progress: &mut dyn FnMut(u64),
) -> Outcome<Report> {
    let end = scan.last_seq;
    let Checks { mut findings, listed, signatures, mut orders, explained, .. } = checks;
    orders.until(end);
    findings.extend(signatures.end());
    // What lies behind the durable end was never acknowledged: it is neither proof nor fault.
    findings.retain(|f| f.place.seq.is_none_or(|seq| seq <= end));
    findings.extend(scan.damage.iter().map(from_damage));
    unfinished(&scan, &mut findings);
    if scan.size() == 0 {
        findings.push(Finding::new(FindingId::Empty, Where::default()));
    }
    let mut agreed = Vec::new();
    compare_outside(disk, paths, &scan, &explained, &mut findings, &mut agreed);
    for witness in witnesses {
        let vouched = (witness.size, witness.code.as_str());
        compare(&scan, witness.what, vouched, &witness.name, &mut findings, &mut agreed);
    }
    let listed = listed.into_iter().filter(|(_, seq)| *seq <= end).collect();
    let files = match scan.before {
        0 => check_files(disk, paths.root, (&listed, &orders), &mut findings, progress)?,
        _ => {
            let gone = |digest: &String| orders.of_file(digest).is_some();
            let there = listed.into_iter().filter(|(digest, _)| !gone(digest)).collect();
            check_listed(disk, paths.root, &there, &mut findings, progress)?
        }
    };
    orders.check(disk, paths.root, &mut findings);
    findings.sort_by(|a, b| b.id.severity().cmp(&a.id.severity()).then(a.place.seq.cmp(&b.place.seq)));
    let sound = findings.iter().all(|f| f.id.severity() == Severity::Notice);
    Ok(Report {
        checked: "store".to_string(),
        sound,
        ledger: paths.key.name().to_string(),
        entries: scan.size() - scan.before,
        read_from: (scan.before > 0).then_some(scan.before + 1),
        charts: scan.charts.len() as u64,
        charts_destroyed: orders.len() as u64,
        files,
        checkpoint: scan
            .checkpoint
            .as_ref()
            .map(|(c, _)| CheckpointOutput { size: c.size, root: hex(&c.root) }),
        limits: not_read(scan.before).into_iter().chain(limits(!agreed.is_empty())).collect(),
        witnesses: agreed,
        complete: None,
        package: None,
        more_findings: 0,
        findings: findings.iter().map(Finding::to_output).collect(),
    })
}

/// What a check that went on from a kept checkpoint does not prove.
fn not_read(before: u64) -> Option<String> {
    (before > 0).then(|| {
        format!(
            "Entries 1 to {before} were not read again: that they still are what they were then rests on the check \
             that was made when the checkpoint was kept, and on the practice's own signed bookmark."
        )
    })
}

/// The report on a store whose store.json does not say what it must: without the key in it,
/// nothing else can be judged.
pub fn store_file_broken() -> Report {
    let place = Where { file: Some("store.json".to_string()), ..Where::default() };
    Report {
        checked: "store".to_string(),
        sound: false,
        ledger: String::new(),
        entries: 0,
        read_from: None,
        charts: 0,
        charts_destroyed: 0,
        files: 0,
        checkpoint: None,
        witnesses: Vec::new(),
        complete: None,
        package: None,
        more_findings: 0,
        findings: vec![Finding::new(FindingId::StoreFile, place).to_output()],
        limits: limits(false),
    }
}

/// Kinds that are never sealed, and are read here.
const OPEN: [&str; 5] = ["keys", "file-kept", "file-removed", "chart-disposed", "earlier-ledger"];

/// What is checked while the ledger is read.
struct Checks {
    findings: Vec<Finding>,
    book: KeyBook,
    /// Sealed files listed in the ledger, with the entry that lists each.
    listed: BTreeMap<String, u64>,
    last: Option<Moment>,
    signatures: Signatures,
    orders: Orders,
    /// Entries that say why the ledger went on from an older copy.
    explained: Vec<u64>,
}

impl Checks {
    fn new() -> Checks {
        Checks {
            findings: Vec::new(),
            book: KeyBook::default(),
            listed: BTreeMap::new(),
            last: None,
            signatures: signatures(),
            orders: Orders::default(),
            explained: Vec::new(),
        }
    }

    fn entry(&mut self, at: &EntryAt, leaf: &Leaf, bytes: &[u8], body: &[u8]) {
        let place = Where {
            segment: Some(at.at.segment),
            offset: Some(at.at.offset),
            file: None,
            seq: Some(at.seq),
            kind: Some(leaf.kind.clone()),
            chart: leaf.chart.clone(),
        };
        if leaf.kind == outside::EXPLAINS {
            self.explained.push(at.seq);
        }
        let mut keys = None;
        if OPEN.contains(&leaf.kind.as_str()) {
            match open_data(leaf, body) {
                Some(Data::EarlierLedger(data)) => {
                    if super::earlier::checkpoint(&data).is_none() {
                        self.findings.push(Finding::new(FindingId::EarlierLedgerBroken, place.clone()));
                    }
                }
                Some(Data::Keys(data)) => keys = Some(data),
                Some(Data::FileKept(data)) => drop(self.listed.insert(data.sealed_digest.clone(), at.seq)),
                Some(Data::FileRemoved(data)) => {
                    self.listed.remove(&data.sealed_digest);
                    self.orders.file(&data, at.seq);
                }
                Some(Data::ChartDisposed(data)) => self.orders.chart(*data, at.seq, bytes, &self.book),
                Some(Data::Unknown { .. }) => {}
                _ => self.findings.push(Finding::new(FindingId::KeysUnreadable, place.clone())),
            }
        }
        // The first entry lists the key that signs it; every other is judged by what was listed before it.
        if let Some(keys) = keys.as_ref().filter(|_| at.seq == 1) {
            self.book.take(keys);
        }
        let day = leaf.written.local_date();
        let owed = match Note::parse(bytes) {
            Ok(note) => self.book.owed(&note, &leaf.author, day, leaf.kind == "keys"),
            Err(_) => Err(SignerProblem::BadSignature),
        };
        match (owed, keys) {
            // What follows is judged by these keys, so nothing may wait.
            (Ok(owed), Some(keys)) => match owed.verdict() {
                Ok(()) if self.book.take(&keys).is_some() => {}
                Ok(()) => self.findings.push(Finding::new(FindingId::KeysUnreadable, place.clone())),
                Err(problem) => self.findings.push(Finding::new(problem.into(), place.clone())),
            },
            (Ok(owed), None) => self.signatures.add((owed, place.clone())),
            (Err(problem), _) => self.findings.push(Finding::new(problem.into(), place.clone())),
        }
        if self.last.is_some_and(|last| leaf.written < last) {
            self.findings.push(Finding::new(FindingId::ClockWentBack, place));
        }
        self.last = Some(leaf.written);
    }
}

/// The data of an open body, checked against the leaf's commitment.
pub(super) fn open_data(leaf: &Leaf, body: &[u8]) -> Option<Data> {
    let body = Body::from_bytes(body)?;
    if unhex32(&leaf.commit) != Some(body.commitment()) {
        return None;
    }
    let record = Record::from_bytes(&body.record).ok()?;
    (record.kind == leaf.kind).then(|| record.read_data().ok()).flatten()
}

fn from_damage(damage: &Damage) -> Finding {
    let id = match damage.what {
        DamageKind::Segment(Bad::NoFrame) => FindingId::BytesUnreadable,
        DamageKind::Segment(Bad::Head) => FindingId::SegmentHead,
        DamageKind::Segment(Bad::Length) => FindingId::SegmentLength,
        DamageKind::Segment(Bad::Missing) => FindingId::SegmentMissing,
        DamageKind::Segment(Bad::Stranger) => FindingId::StrangerFile,
        DamageKind::Leaf => FindingId::LeafUnreadable,
        DamageKind::LeafEdition(_) => FindingId::LeafOfLaterEdition,
        DamageKind::OtherLedger => FindingId::LeafOfOtherLedger,
        DamageKind::Number => FindingId::NumberBroken,
        DamageKind::Link => FindingId::LinkBroken,
        DamageKind::ChartNumber => FindingId::ChartNumberBroken,
        DamageKind::ChartLink => FindingId::ChartLinkBroken,
        DamageKind::Body => FindingId::BodyChanged,
        DamageKind::Checkpoint => FindingId::CheckpointBroken,
        DamageKind::CheckpointRoot => FindingId::CheckpointDisagrees,
        DamageKind::Rest => FindingId::BytesBehindEnd,
        DamageKind::CutShort => FindingId::CutShort,
    };
    let place = Where {
        segment: (damage.at.segment > 0).then_some(damage.at.segment),
        offset: (damage.at.segment > 0).then_some(damage.at.offset),
        file: (damage.at.segment == 0).then(|| "ledger/".to_string()),
        seq: damage.seq,
        kind: damage.kind.clone(),
        chart: damage.chart.clone(),
    };
    Finding::new(id, place)
}

fn unfinished(scan: &Scan, findings: &mut Vec<Finding>) {
    findings.extend(scan.unfinished.damage.iter().map(from_damage));
    if let Some(at) = scan.unfinished.at.filter(|_| scan.unfinished.damage.is_empty()) {
        let place = Where { segment: Some(at.segment), offset: Some(at.offset), ..Where::default() };
        findings.push(Finding::new(FindingId::UnfinishedWrite, place));
    }
}

fn compare_outside(
    disk: &dyn Disk,
    paths: &StorePaths<'_>,
    scan: &Scan,
    explained: &[u64],
    findings: &mut Vec<Finding>,
    agreed: &mut Vec<String>,
) {
    let origin = paths.key.name();
    // A copy that the owner said is lost, and that a program which ended there could not set aside any more.
    let lost = |size, code: &str| {
        let from = outside::lost_from(disk, paths.outside, origin, size, code);
        from.is_some_and(|from| explained.contains(&(from + 1)) && from < scan.last_seq)
    };
    if let Some((size, code)) = outside::slip(disk, paths.outside, origin)
        && !lost(size, &code)
    {
        compare(scan, What::Slip, (size, &code), "the slip it was restored with", findings, agreed);
    }
    match outside::read_checkpoints(disk, paths.outside, paths.key) {
        Outside::Newest(kept, _) if !lost(kept.size, &tree::code(&kept.root)) => {
            let vouched = (kept.size, &*tree::code(&kept.root));
            compare(scan, What::Slip, vouched, "the checkpoint kept outside the store", findings, agreed);
        }
        Outside::Unreadable => findings.push(Finding::new(FindingId::OutsideUnreadable, Where::default())),
        Outside::Missing | Outside::Newest(..) => {
            findings.push(Finding::new(FindingId::OutsideMissing, Where::default()))
        }
    }
}

fn compare(
    scan: &Scan,
    what: What,
    (number, code): (u64, &str),
    name: &str,
    findings: &mut Vec<Finding>,
    agreed: &mut Vec<String>,
) {
    let place = Where { seq: Some(number), ..Where::default() };
    if number < scan.before || (number == scan.before && what == What::Receipt) {
        return findings.push(Finding::new(FindingId::NotReadAgain, place));
    }
    let Some(leaves) = scan.leaf_hashes(number) else {
        return findings.push(Finding::new(FindingId::BehindOutside, place));
    };
    let hash = match what {
        What::Slip => scan.root_at(number),
        What::Receipt => leaves.last().copied(),
    };
    let same = |hash: Hash| tree::code(&hash).starts_with(code);
    if !code.is_empty() && hash.is_some_and(same) {
        return agreed.push(format!("{name}, entry {number}"));
    }
    let id = match what {
        What::Slip => FindingId::RewrittenOutside,
        What::Receipt => FindingId::ReceiptDisagrees,
    };
    findings.push(Finding::new(id, place));
}

/// Checks the sealed files that these entries list, and no other.
fn check_listed(
    disk: &dyn Disk,
    root: &Path,
    listed: &BTreeMap<String, u64>,
    findings: &mut Vec<Finding>,
    progress: &mut dyn FnMut(u64),
) -> Outcome<u64> {
    for (digest, seq) in listed {
        let shown = format!("files/{}/{digest}.age", digest.get(..2).unwrap_or("__"));
        let path = root.join(&shown);
        if !is_there(disk, &path)? {
            findings.push(file_finding(FindingId::FileMissing, shown, Some(*seq)));
        } else if hex(&hash_file(disk, &path, progress)?) != *digest {
            findings.push(file_finding(FindingId::FileChanged, shown, Some(*seq)));
        }
    }
    Ok(listed.len() as u64)
}

/// Checks the sealed files: each is what its name says, each listed one is there, nothing else is.
fn check_files(
    disk: &dyn Disk,
    root: &Path,
    (listed, orders): (&BTreeMap<String, u64>, &Orders),
    findings: &mut Vec<Finding>,
    progress: &mut dyn FnMut(u64),
) -> Outcome<u64> {
    let dir = root.join("files");
    let mut seen = HashSet::new();
    let trouble = |e: std::io::Error| Trouble::disk("read the folder", &dir, &e);
    let folders = match disk.there(&dir).map_err(trouble)? {
        true => disk.list(&dir).map_err(trouble)?,
        false => Vec::new(),
    };
    for folder in folders {
        let inner = dir.join(&folder);
        // A document that was being sealed when the power went was never listed.
        if folder.ends_with(".part") {
            findings.push(file_finding(FindingId::FileNotListed, format!("files/{folder}"), None));
            continue;
        }
        let Ok(names) = disk.list(&inner) else {
            findings.push(file_finding(FindingId::StrangerFile, format!("files/{folder}"), None));
            continue;
        };
        for name in names {
            let shown = format!("files/{folder}/{name}");
            // One that is being destroyed, or was to be.
            if let Some(order) = orders.of_file(&name) {
                findings.push(file_finding(FindingId::DisposalUnfinished, shown, Some(order)));
                continue;
            }
            // A file that was being written when the power went was never listed.
            if name.ends_with(".part") {
                findings.push(file_finding(FindingId::FileNotListed, shown, None));
                continue;
            }
            let digest = name.strip_suffix(".age").filter(|d| unhex32(d).is_some() && d.starts_with(&folder));
            let Some(digest) = digest.filter(|_| folder.len() == 2) else {
                findings.push(file_finding(FindingId::StrangerFile, shown, None));
                continue;
            };
            let found = hash_file(disk, &inner.join(&name), progress)?;
            let seq = listed.get(digest).copied();
            if hex(&found) != digest {
                findings.push(file_finding(FindingId::FileChanged, shown, seq));
            } else if seq.is_none() {
                findings.push(file_finding(FindingId::FileNotListed, shown, None));
            }
            seen.insert(digest.to_string());
        }
    }
    for (digest, seq) in listed.iter().filter(|(d, _)| !seen.contains(*d)) {
        let shown = format!("files/{}/{digest}.age", digest.get(..2).unwrap_or("__"));
        findings.push(file_finding(FindingId::FileMissing, shown, Some(*seq)));
    }
    Ok(seen.len() as u64)
}

fn file_finding(id: FindingId, file: String, seq: Option<u64>) -> Finding {
    Finding::new(id, Where { file: Some(file), seq, ..Where::default() })
}

/// BLAKE3 of a file, read in pieces.
fn hash_file(disk: &dyn Disk, path: &Path, progress: &mut dyn FnMut(u64)) -> Outcome<[u8; 32]> {
    let trouble = |e: std::io::Error| Trouble::disk("read", path, &e);
    let file = disk.open(path, false).map_err(trouble)?;
    let len = file.len().map_err(trouble)?;
    let mut hasher = blake3::Hasher::new();
    let mut buf = vec![0u8; 1 << 20];
    let mut at = 0;
    while at < len {
        let piece = (len - at).min(buf.len() as u64) as usize;
        file.read_at(&mut buf[..piece], at).map_err(trouble)?;
        hasher.update(&buf[..piece]);
        at += piece as u64;
        progress(piece as u64);
    }
    Ok(*hasher.finalize().as_bytes())
}

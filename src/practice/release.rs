//! Release: one sealed package with a whole chart, its proofs, and everything a stranger needs to check it.
//!
//! The release is recorded first, so that the package can end with its own release entry; then
//! the archive is written twice at once: sealed into the file, and plain into the same check that the
//! reader will run. Only a package that checks gets its name.

use super::attach::{HashingSink, open_into};
use super::chart::ChartFace;
use super::open::{Draft, Entry, Practice};
use super::printed;
use super::reading::{ELSEWHERE, misfiled};
use crate::index;
use crate::ledger::policy::Policy;
use crate::ledger::proof::TlogProof;
use crate::record::kinds::papers::Attachment;
use crate::record::kinds::release::{Release, SealedHow, Withheld};
use crate::record::kinds::{Data, Day};
use crate::record::moment::Moment;
use crate::seal::age_file::{self, Recipient, To, WORK_FACTOR};
use crate::seal::body::hex;
use crate::seal::note::sign;
use crate::trouble::{Kind, Outcome, Trouble};
use crate::verify::finding::Report;
use crate::verify::manifest::{Manifest, ManifestEntry, ManifestFile, entry_name, note_text};
use crate::verify::package::check_archive;
use crate::world::beside;
use sha2::{Digest as _, Sha256};
use std::io::{self, Write};
use std::path::PathBuf;
use zeroize::Zeroizing;

/// Whom a package is sealed to.
pub enum SealTo {
    /// One or more age recipients.
    Recipients(Vec<Recipient>),
    /// A passphrase, told by another way than the package.
    Passphrase(Zeroizing<String>),
}

/// What to release.
pub struct ReleaseOrder {
    /// The record of it. What was released and withheld and how it was sealed is filled in.
    pub data: Release,
    /// Whom it is sealed to.
    pub to: SealTo,
    /// The file to write; must not exist.
    pub file: PathBuf,
    /// Entries whose contents are withheld, by number in the ledger, and why.
    pub withhold: Vec<(u64, String)>,
    /// When it was released.
    pub happened: Moment,
}

/// What was released.
#[derive(Debug, Clone)]
pub struct Released {
    /// Number of the release entry.
    pub seq: u64,
    /// The file.
    pub file: PathBuf,
    /// BLAKE3 of the file, hex.
    pub digest: String,
    /// Length of the file in bytes.
    pub bytes: u64,
    /// The check that the package passed.
    pub report: Report,
}

/// Records the release and writes the package.
///
/// # Errors
/// Before the release entry is written: when the chart can't be opened in full by this person, or the
/// file exists. After that the release is on record even if the file could not be written.
pub fn release(practice: &mut Practice, tag: &str, order: ReleaseOrder) -> Outcome<Released> {
    if practice.world.disk.exists(&order.file) {
        return Err(Trouble::new(
            Kind::Refused,
            format!("{} exists already.", order.file.display()),
            "It was not touched, and nothing was recorded.",
            "Name another file with --file.",
        ));
    }
    practice.begin_writing()?;
    let before = practice.chart(tag)?;
    let withheld = withheld_entries(&before, &order.withhold)?;
    let receipt = practice.append(release_draft(practice, tag, &order, &before, &withheld))?;
    let written = practice.chart(tag).and_then(|entries| {
        let parts = Parts::gather(practice, tag, entries, withheld, receipt.seq, &order)?;
        write_package(practice, &parts, &order)
    });
    let (digest, bytes, report) = written.map_err(|t| Trouble {
        safe: format!(
            "The release is on record as entry {}, but no package was written. {}",
            receipt.seq, t.safe
        ),
        ..t
    })?;
    Ok(Released { seq: receipt.seq, file: order.file, digest, bytes, report })
}

/// Which entries are withheld: what was ordered, and whatever belongs to another person.
fn withheld_entries(entries: &[Entry], ordered: &[(u64, String)]) -> Outcome<Vec<(u64, String)>> {
    let mut withheld: Vec<(u64, String)> = Vec::new();
    for (seq, why) in ordered {
        if !entries.iter().any(|e| e.leaf.seq == *seq) {
            return Err(Trouble::input(
                format!("Entry {seq} is not in this chart, so it can't be withheld from it."),
                "Look its number up with `inkfast print`.",
            ));
        }
        withheld.push((*seq, why.clone()));
    }
    for entry in entries {
        if entry.record.is_none() {
            return Err(Trouble::new(
                Kind::Locked,
                "Your role does not open every entry of this chart, so you can't release it.",
                "Nothing was recorded.",
                "Ask somebody with the clinical role.",
            ));
        }
    }
    for seq in misfiled(entries) {
        if !withheld.iter().any(|(n, _)| *n == seq) {
            withheld.push((seq, ELSEWHERE.to_string()));
        }
    }
    withheld.sort();
    Ok(withheld)
}

fn release_draft(
    practice: &Practice,
    tag: &str,
    order: &ReleaseOrder,
    entries: &[Entry],
    withheld: &[(u64, String)],
) -> Draft {
    let mut data = order.data.clone();
    let days = entries.iter().filter_map(|e| e.record.as_ref()).map(|r| r.happened.start.local_date());
    data.what.from = data.what.from.or(days.clone().min().map(Day));
    data.what.until = data.what.until.or(days.max().map(Day));
    data.what.entries = entries.len() as u64;
    data.what.up_to = Some(practice.scan().entries.len() as u64);
    data.what.attachments =
        Some(entries.iter().filter(|e| matches!(e.data(), Some(Data::Attachment(_)))).count() as u64);
    data.withheld = withheld
        .iter()
        .map(|(seq, why)| Withheld { entry: Some(*seq), ground: why.clone(), slip: true })
        .collect();
    match &order.to {
        SealTo::Recipients(to) => {
            data.sealed = SealedHow::ToRecipientKey;
            data.sealed_to = Some(to.iter().map(ToString::to_string).collect::<Vec<_>>().join(" "));
        }
        SealTo::Passphrase(_) => data.sealed = SealedHow::ToPassphrase,
    }
    Draft::new(Some(tag), Data::Release(Box::new(data)), order.happened)
}

/// A member of the package: bytes, or an attachment to be streamed.
enum Content {
    Bytes(Vec<u8>),
    Attachment(Box<Attachment>),
}

struct Member {
    file: ManifestFile,
    content: Content,
}

/// Everything of a package, ready to be written in order.
struct Parts {
    tag: String,
    manifest: Vec<u8>,
    note: Vec<u8>,
    readme: Vec<u8>,
    members: Vec<Member>,
    seconds: u64,
}

impl Parts {
    fn gather(
        practice: &Practice,
        tag: &str,
        entries: Vec<Entry>,
        withheld: Vec<(u64, String)>,
        release: u64,
        order: &ReleaseOrder,
    ) -> Outcome<Parts> {
        let missing = || Trouble::damaged("The release entry can't be found again.");
        let last = entries.iter().find(|e| e.leaf.seq == release).ok_or_else(missing)?;
        let (checkpoint, note) = practice.scan().checkpoint.as_ref().ok_or_else(missing)?;
        let keys: Vec<Entry> = practice.register_of(&["keys"])?;
        let why = |seq: u64| withheld.iter().find(|(n, _)| *n == seq).map(|(_, why)| why.clone());

        let mut parts = Builder { members: Vec::new() };
        let face = super::chart::find(practice, tag)?;
        let readme = read_me(practice, &face, order).into_bytes();
        parts.bytes("READ-ME-FIRST.txt".into(), readme.clone());
        let purpose = printed::Purpose {
            for_whom: &order.data.to,
            purpose: order.data.what.words.as_deref().unwrap_or("a copy of the record, as asked for"),
            basis: order.data.basis_words.as_deref().unwrap_or(order.data.basis.word()),
            with_attachments: true,
        };
        let page = printed::record_page(practice, &face, &entries, &withheld, checkpoint, &purpose)?;
        parts.bytes("record.html".into(), page.into_bytes());
        let page = printed::patient_summary(practice, &face, &entries, &withheld, checkpoint, &purpose)?;
        parts.bytes("summary-for-the-patient.html".into(), page.into_bytes());
        let page = printed::clinician_summary(practice, &face, &entries, &withheld, checkpoint, &purpose)?;
        parts.bytes("half-page-for-a-clinician.html".into(), page.into_bytes());
        parts.bytes("ledger/checkpoint".into(), note.clone());
        parts.bytes("ledger/policy".into(), Policy::for_log(&practice.place.key).to_string().into_bytes());
        let all: Vec<&Entry> = keys.iter().chain(&entries).collect();
        let proofs = proofs(practice, &all, note)?;
        for (entry, proof) in all.iter().zip(proofs) {
            let name = match entry.leaf.chart_seq {
                Some(number) => entry_name(number),
                None => format!("keys/{}", entry.leaf.seq),
            };
            parts.entry(&name, entry, proof, why(entry.leaf.seq).is_some());
        }
        for entry in entries.iter().filter(|e| why(e.leaf.seq).is_none()) {
            if let Some(Data::Attachment(data)) = entry.data() {
                parts.attachment(practice, tag, *data)?;
            }
        }
        let manifest = Manifest {
            inkfast_package: 1,
            ledger: practice.place.key.name().to_string(),
            checkpoint_key: practice.place.file.checkpoint_key.clone(),
            chart: tag.to_string(),
            release,
            made: last.leaf.written.to_string(),
            made_by: last.leaf.author.clone(),
            entries: entries
                .iter()
                .map(|e| ManifestEntry {
                    chart_seq: e.leaf.chart_seq.unwrap_or_default(),
                    seq: e.leaf.seq,
                    kind: e.leaf.kind.clone(),
                    withheld: why(e.leaf.seq),
                })
                .collect(),
            keys: keys.iter().map(|e| e.leaf.seq).collect(),
            files: parts.members.iter().map(|m| m.file.clone()).collect(),
        };
        let mut json = serde_json::to_vec_pretty(&manifest).map_err(|_| missing())?;
        json.push(b'\n');
        let text = note_text(
            &manifest.ledger,
            release,
            &hex(blake3::hash(&json).as_bytes()),
            &hex(&Sha256::digest(&json)),
        );
        let note =
            sign(&text, &[&practice.session.me.signer]).map_err(|e| Trouble::damaged(e.to_string()))?;
        let seconds = u64::try_from(last.leaf.written.unix()).unwrap_or_default();
        Ok(Parts {
            tag: tag.to_string(),
            manifest: json,
            note: note.into_bytes(),
            readme,
            members: parts.members,
            seconds,
        })
    }
}

struct Builder {
    members: Vec<Member>,
}

impl Builder {
    fn bytes(&mut self, name: String, bytes: Vec<u8>) {
        let file = ManifestFile {
            name,
            bytes: bytes.len() as u64,
            blake3: hex(blake3::hash(&bytes).as_bytes()),
            sha256: hex(&Sha256::digest(&bytes)),
            media_type: None,
        };
        self.members.push(Member { file, content: Content::Bytes(bytes) });
    }

    fn entry(&mut self, name: &str, entry: &Entry, proof: TlogProof, withheld: bool) {
        self.bytes(format!("{name}.leaf"), entry.leaf_bytes.clone());
        if let (Some(body), false) = (&entry.body, withheld) {
            self.bytes(format!("{name}.record.json"), body.record.to_vec());
            self.bytes(format!("{name}.opening"), format!("{}\n", hex(&body.opening)).into_bytes());
        }
        self.bytes(format!("{name}.tlog-proof"), proof.to_string().into_bytes());
    }

    /// Lists an attachment. It is read once for its digests here and once more when it is written.
    fn attachment(&mut self, practice: &Practice, tag: &str, data: Attachment) -> Outcome<()> {
        let name = format!("attachments/{}", data.plain_digest);
        if self.members.iter().any(|m| m.file.name == name) {
            return Ok(());
        }
        let mut sha = Hashing(Sha256::new());
        open_into(practice, tag, &data, &mut sha)?;
        let file = ManifestFile {
            name,
            bytes: data.size,
            blake3: data.plain_digest.clone(),
            sha256: hex(&sha.0.finalize()),
            media_type: Some(data.media_type.clone()),
        };
        self.members.push(Member { file, content: Content::Attachment(Box::new(data)) });
        Ok(())
    }
}

/// Hashes what is written to it.
struct Hashing(Sha256);

impl Write for Hashing {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.0.update(bytes);
        Ok(bytes.len())
    }
    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

fn proofs(practice: &Practice, entries: &[&Entry], note: &[u8]) -> Outcome<Vec<TlogProof>> {
    let indexes: Vec<u64> = entries.iter().map(|e| e.leaf.seq - 1).collect();
    let dir = index::folder(&practice.place.root);
    let paths = index::proofs(&dir, practice.place.key.name(), practice.scan(), &indexes);
    let note =
        std::str::from_utf8(note).map_err(|_| Trouble::damaged("The newest checkpoint is damaged."))?;
    let proofs: Vec<TlogProof> = indexes
        .into_iter()
        .zip(paths)
        .map(|(index, hashes)| TlogProof { index, hashes, extra: None, checkpoint_note: note.to_string() })
        .collect();
    for (proof, entry) in proofs.iter().zip(entries) {
        proof
            .check(&entry.leaf_bytes, &practice.place.key)
            .map_err(|e| Trouble::damaged(format!("Entry {} can't be proven: {e}.", entry.leaf.seq)))?;
    }
    Ok(proofs)
}

/// Writes the archive sealed into the file, and at the same time plain into the check.
fn write_package(practice: &Practice, parts: &Parts, order: &ReleaseOrder) -> Outcome<(String, u64, Report)> {
    let part = beside(&order.file);
    let disk = &practice.world.disk;
    let trouble = |e: io::Error| Trouble::disk("write the package", &order.file, &e);
    if disk.exists(&part) {
        disk.remove(&part).map_err(trouble)?;
    }
    let file = disk.create(&part).map_err(trouble)?;
    let outcome = (|| -> Outcome<(String, u64, Report)> {
        let mut sink = HashingSink::new(&*file);
        let report = seal_and_check(practice, parts, order, &mut sink)?;
        if !report.sound {
            let ids: Vec<_> = report.findings.iter().map(|f| f.id.clone()).collect();
            return Err(Trouble::damaged(format!(
                "The package did not pass its own check ({}).",
                ids.join(", ")
            )));
        }
        file.sync().map_err(trouble)?;
        Ok((hex(sink.hasher.finalize().as_bytes()), sink.at, report))
    })();
    match outcome {
        Ok(done) => {
            disk.rename(&part, &order.file).map_err(trouble)?;
            disk.sync_dir(crate::world::folder_of(&order.file)).map_err(trouble)?;
            Ok(done)
        }
        Err(failed) => {
            let _ = disk.remove(&part);
            Err(failed)
        }
    }
}

fn seal_and_check(
    practice: &Practice,
    parts: &Parts,
    order: &ReleaseOrder,
    sink: &mut HashingSink<'_>,
) -> Outcome<Report> {
    let trouble = |e: io::Error| Trouble::disk("write the package", &order.file, &e);
    let (mut reader, writer) = io::pipe().map_err(trouble)?;
    let checking = std::thread::spawn(move || {
        let report = check_archive(&mut reader, &mut |_| ());
        // The archive ends with padding that the check does not need; drain it so that the writer can end.
        let _ = io::copy(&mut reader, &mut io::sink());
        report
    });
    let to = match &order.to {
        SealTo::Recipients(recipients) => To::Recipients(recipients),
        SealTo::Passphrase(passphrase) => To::Passphrase(passphrase, WORK_FACTOR),
    };
    let sealer = age_file::sealer(&to, &mut *sink).map_err(trouble)?;
    let mut tee = Tee { sealer, writer };
    let archived = archive(practice, parts, &mut tee);
    let Tee { sealer, writer } = tee;
    drop(writer);
    let report = checking.join().map_err(|_| Trouble::damaged("The check of the package ended early."))?;
    archived?;
    sealer.finish().map_err(trouble)?;
    report
}

fn archive(practice: &Practice, parts: &Parts, out: &mut dyn Write) -> Outcome<()> {
    let trouble = |e: io::Error| Trouble::disk("write", std::path::Path::new("the package"), &e);
    let mut tar = tar::Builder::new(out);
    let mut put = |name: &str, bytes: u64, content: &mut dyn io::Read| -> io::Result<()> {
        let mut header = tar::Header::new_ustar();
        header.set_size(bytes);
        header.set_mode(0o644);
        header.set_mtime(parts.seconds);
        header.set_entry_type(tar::EntryType::Regular);
        tar.append_data(&mut header, name, content)
    };
    put("READ-ME-FIRST.txt", parts.readme.len() as u64, &mut &parts.readme[..]).map_err(trouble)?;
    put("manifest.json", parts.manifest.len() as u64, &mut &parts.manifest[..]).map_err(trouble)?;
    put("manifest.note", parts.note.len() as u64, &mut &parts.note[..]).map_err(trouble)?;
    for member in parts.members.iter().filter(|m| m.file.name != "READ-ME-FIRST.txt") {
        match &member.content {
            Content::Bytes(bytes) => {
                put(&member.file.name, member.file.bytes, &mut &bytes[..]).map_err(trouble)?
            }
            Content::Attachment(data) => {
                stream_attachment(practice, &parts.tag, data, |reader| {
                    put(&member.file.name, member.file.bytes, reader)
                })?;
            }
        }
    }
    tar.finish().map_err(trouble)
}

/// Feeds an attachment to `put` through a pipe, so that a long one is never held in memory.
fn stream_attachment(
    practice: &Practice,
    tag: &str,
    data: &Attachment,
    put: impl FnOnce(&mut dyn io::Read) -> io::Result<()>,
) -> Outcome<()> {
    let trouble =
        |e: io::Error| Trouble::disk("copy an attachment into", std::path::Path::new("the package"), &e);
    let (mut reader, mut writer) = io::pipe().map_err(trouble)?;
    std::thread::scope(|scope| {
        let opening = scope.spawn(move || {
            let opened = open_into(practice, tag, data, &mut writer);
            drop(writer);
            opened
        });
        let put = put(&mut reader);
        drop(reader);
        let opened = opening.join().map_err(|_| Trouble::damaged("Reading an attachment ended early."))?;
        put.map_err(trouble)?;
        opened
    })
}

/// Writes everything both ways.
struct Tee<'a, W: Write> {
    sealer: age_file::Sealer<&'a mut W>,
    writer: io::PipeWriter,
}

impl<W: Write> Write for Tee<'_, W> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.sealer.write_all(bytes)?;
        self.writer.write_all(bytes)?;
        Ok(bytes.len())
    }
    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

fn read_me(practice: &Practice, face: &ChartFace, order: &ReleaseOrder) -> String {
    let by = practice.me();
    format!(
        "READ ME FIRST\n\
         =============\n\n\
         This package holds the chart {chart} of one patient, as released to:\n  {to}\n\
         Released on {when} by {name} ({role}), basis: {basis}.\n\n\
         To read it\n\
         ----------\n\
         Open record.html in any web browser, or print it. Nothing in it needs the internet.\n\
         summary-for-the-patient.html and half-page-for-a-clinician.html are summaries, not the record.\n\
         attachments/ holds the papers and pictures of the chart; record.html says which is which.\n\
         entries/ holds each entry as it was sealed: NNNNNN.record.json is the entry itself.\n\n\
         To check it\n\
         -----------\n\
         Every entry was signed when it was made and sealed to the one before it. Anybody can check that\n\
         nothing in this copy was changed, moved or left out up to the day of its release:\n\
         1. with the program:  inkfast verify THIS-FOLDER\n\
         2. without it: schema/FORMAT.md of the program, section 8, says every step. The formats are\n\
            open ones: age (sealing), Ed25519 signed notes, SHA-256 trees as in RFC 6962, BLAKE3.\n\
            manifest.json lists every file with its digests; manifest.note is signed by the practice.\n\n\
         What the check does not prove\n\
         -----------------------------\n\
         It does not prove that what was written is true, that the practice's clock was right, or that nothing\n\
         was left unwritten. Compare with anything you were given earlier (slips, receipts, other copies).\n\n\
         Where contents were withheld, the entry's place is still here and still counted, with the reason.\n\
         Questions about this record go to the practice named in it.\n",
        chart = face.chart_no,
        to = order.data.to,
        when = order.happened.plain(),
        name = by.name,
        role = by.role,
        basis = order.data.basis,
    )
}

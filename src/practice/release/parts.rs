//! The parts of a package: its members in their order, and the list that names them.
//!
//! A package is made from the store as it was when its release entry was the newest, and from nothing else:
//! so the same release gives the same bytes whenever it is made.

use super::again;
use super::readme::{Told, read_me};
use super::slips::slips;
use super::withhold::Selection;
use crate::index;
use crate::ledger::checkpoint::Checkpoint;
use crate::ledger::policy::Policy;
use crate::ledger::proof::TlogProof;
use crate::ledger::tiles::{self, TileReader};
use crate::ledger::tree::{self, Hash};
use crate::practice::attach::open_into;
use crate::practice::chart::ChartFace;
use crate::practice::document::fhir_document;
use crate::practice::open::{Entry, Practice};
use crate::practice::witness::with_lines;
use crate::practice::{chart, printed};
use crate::record::kinds::Data;
use crate::record::kinds::papers::Attachment;
use crate::record::kinds::release::{Release, WithholdReason};
use crate::record::moment::Moment;
use crate::render::pdf::Paper;
use crate::render::{check_page, page, summary_clinician, summary_patient};
use crate::seal::body::hex;
use crate::trouble::{Outcome, Trouble};
use crate::verify::manifest::{
    DIFFERENCES, Differences, Manifest, ManifestEntry, ManifestFile, OUTSIDE_SLIP, entry_name, note_text,
    slip_name,
};
use sha2::{Digest as _, Sha256};
use std::io::{self, Write};

/// Attachments up to this length are held in memory, so that each is opened once.
const HELD_EACH: u64 = 512 << 10;
/// As long as they come to no more than this together.
const HELD_ALL: u64 = 8 << 20;

/// A member of the package: bytes, or an attachment to be streamed.
pub(super) enum Content {
    Bytes(Vec<u8>),
    Attachment(Box<Attachment>),
}

pub(super) struct Member {
    pub file: ManifestFile,
    pub content: Content,
}

/// What a package is made from.
pub(super) struct Source<'a> {
    /// The practice as it is now.
    pub now: &'a Practice,
    /// The practice as it was when the release entry was the newest.
    pub view: Practice,
    pub tag: &'a str,
    /// The chart's entries, from the first to the release.
    pub entries: Vec<Entry>,
    /// Number of the release entry.
    pub release: u64,
    /// What it says.
    pub data: Release,
    /// When it happened.
    pub happened: Moment,
    pub chosen: Selection,
    /// Whether the page that checks it is in it: packages of earlier programs have none.
    pub check_page: bool,
}

impl<'a> Source<'a> {
    /// What the package of this release is made from. `entries` is the chart, at least up to the release.
    pub fn new(
        now: &'a Practice,
        tag: &'a str,
        mut entries: Vec<Entry>,
        release: u64,
    ) -> Outcome<Source<'a>> {
        let check_page = again::made(&entries, release)
            .is_none_or(|made| made.pages.iter().any(|page| page.name == check_page::NAME));
        entries.retain(|e| e.leaf.seq <= release);
        let (data, happened) = again::release_at(&entries, release)?;
        let chosen = Selection::recorded(&entries, release, &data);
        let view = now.as_of(release)?;
        Ok(Source { now, view, tag, entries, release, data, happened, chosen, check_page })
    }

    /// The pages that are made from the entries: name and bytes, in order.
    pub fn pages(&self, face: &ChartFace) -> Outcome<Vec<(String, Vec<u8>)>> {
        let (checkpoint, _) = self.view.scan().checkpoint.as_ref().ok_or_else(missing)?;
        let withheld = self.chosen.reasons();
        let shown = Shown {
            practice: &self.view,
            face,
            entries: &self.entries,
            withheld: &withheld,
            checkpoint,
            release: &self.data,
        };
        let mut all: Vec<_> =
            pages(&shown)?.into_iter().map(|(name, bytes)| (name.to_string(), bytes)).collect();
        if self.check_page {
            all.push((check_page::NAME.to_string(), check_page::PAGE.as_bytes().to_vec()));
        }
        all.extend(slips(&self.view, face, &self.entries, &self.chosen, self.view.now())?);
        Ok(all)
    }
}

fn missing() -> Trouble {
    Trouble::damaged("The release entry can't be found again.")
}

/// Everything of a package, ready to be written in order.
pub(super) struct Parts {
    pub tag: String,
    /// `manifest.json`.
    pub list: Vec<u8>,
    /// The text that `manifest.note` signs.
    pub list_text: String,
    /// `manifest.note`; empty until it is signed.
    pub note: Vec<u8>,
    pub members: Vec<Member>,
    /// Names of the members that are made from entries.
    pub pages: Vec<String>,
    pub differences: Option<Differences>,
    pub seconds: u64,
}

impl Parts {
    pub fn gather(source: &Source<'_>) -> Outcome<Parts> {
        let view = &source.view;
        let (_, checkpoint) = view.scan().checkpoint.as_ref().ok_or_else(missing)?;
        let face = chart::face(view, source.tag)?;
        let keys: Vec<Entry> = view.register_of(&["keys"])?;
        let pages = source.pages(&face)?;
        let differences = match source.data.what.since {
            Some(since) => Some(again::differences(source, since, &pages)?),
            None => None,
        };
        let mut parts = Builder { members: Vec::new(), held: 0 };
        let told = Told {
            view,
            face: &face,
            release: &source.data,
            happened: source.happened,
            chosen: &source.chosen,
            differences: differences.as_ref(),
            check_page: source.check_page,
        };
        parts.bytes("READ-ME-FIRST.txt".into(), read_me(&told).into_bytes());
        let names = pages.iter().map(|(name, _)| name.clone()).collect();
        for (name, bytes) in pages {
            parts.bytes(name, bytes);
        }
        if let Some(differences) = &differences {
            parts.bytes(DIFFERENCES.into(), differences.to_text(source.release).into_bytes());
        }
        let signed_too = with_lines(&*view.world.disk, &view.place, checkpoint);
        parts.bytes("ledger/checkpoint".into(), signed_too);
        parts.bytes("ledger/policy".into(), Policy::for_log(&view.place.key).to_string().into_bytes());
        let all: Vec<&Entry> = keys.iter().chain(&source.entries).collect();
        let proofs = proofs(source, &all, checkpoint)?;
        for (entry, proof) in all.iter().zip(proofs) {
            let name = match entry.leaf.chart_seq {
                Some(number) => entry_name(number),
                None => format!("keys/{}", entry.leaf.seq),
            };
            parts.entry(&name, entry, proof, source.chosen.gives(entry.leaf.seq));
        }
        for entry in source.entries.iter().filter(|e| source.chosen.gives(e.leaf.seq)) {
            if let Some(Data::Attachment(data)) = entry.data() {
                parts.attachment(view, source.tag, *data)?;
            }
        }
        let manifest = manifest(source, &keys, &parts.members, differences.clone())?;
        let (list, list_text) = list(&manifest)?;
        Ok(Parts {
            tag: source.tag.to_string(),
            list,
            list_text,
            note: Vec::new(),
            members: parts.members,
            pages: names,
            differences,
            seconds: u64::try_from(view.now().unix()).unwrap_or_default(),
        })
    }
}

/// `manifest.json`, and the text that its note signs.
fn list(manifest: &Manifest) -> Outcome<(Vec<u8>, String)> {
    let mut list = serde_json::to_vec_pretty(manifest).map_err(|_| missing())?;
    list.push(b'\n');
    let (blake, sha) = (hex(blake3::hash(&list).as_bytes()), hex(&Sha256::digest(&list)));
    let text = note_text(&manifest.ledger, manifest.release, &blake, &sha);
    Ok((list, text))
}

fn manifest(
    source: &Source<'_>,
    keys: &[Entry],
    members: &[Member],
    differences: Option<Differences>,
) -> Outcome<Manifest> {
    let place = &source.view.place;
    let last = source.entries.last().filter(|e| e.leaf.seq == source.release).ok_or_else(missing)?;
    let span = &source.chosen.span;
    let listed = |entry: &Entry| {
        let (seq, number) = (entry.leaf.seq, entry.leaf.chart_seq.unwrap_or_default());
        let held = source.chosen.held.get(&seq);
        ManifestEntry {
            chart_seq: number,
            seq,
            kind: entry.leaf.kind.clone(),
            withheld: held.map(|held| held.words.clone()),
            reason: held.map(|held| held.reason),
            slip: held.map(|held| match held.reason {
                WithholdReason::OutsideRequest => OUTSIDE_SLIP.to_string(),
                _ => slip_name(number),
            }),
            supports: source.chosen.supports.get(&seq).filter(|_| held.is_none()).copied(),
        }
    };
    Ok(Manifest {
        inkfast_package: 1,
        ledger: place.key.name().to_string(),
        checkpoint_key: place.file.checkpoint_key.clone(),
        chart: source.tag.to_string(),
        release: source.release,
        made: last.leaf.written.to_string(),
        made_by: last.leaf.author.clone(),
        entries: source.entries.iter().map(listed).collect(),
        keys: keys.iter().map(|e| e.leaf.seq).collect(),
        files: members.iter().map(|m| m.file.clone()).collect(),
        span: span.is_limited().then(|| span.clone()),
        differences,
    })
}

/// What the readable parts of a package are made from.
pub(super) struct Shown<'a> {
    pub practice: &'a Practice,
    pub face: &'a ChartFace,
    /// The chart's entries, from the first to the release.
    pub entries: &'a [Entry],
    /// Numbers of the entries whose contents are withheld, and why.
    pub withheld: &'a [(u64, String)],
    /// The checkpoint that the package's proofs lead to.
    pub checkpoint: &'a Checkpoint,
    /// What the release entry says: for whom, on what basis.
    pub release: &'a Release,
}

/// The readable parts, in the order in which they stand in the archive: name and bytes. Each must come out
/// the same from the same entries, and hold nothing of an entry that is withheld.
fn pages(shown: &Shown<'_>) -> Outcome<Vec<(&'static str, Vec<u8>)>> {
    let Shown { practice, face, entries, withheld, checkpoint, release } = shown;
    let purpose = printed::Purpose {
        for_whom: &release.to,
        purpose: release.what.words.as_deref().unwrap_or("a copy of the record, as asked for"),
        basis: release.basis_words.as_deref().unwrap_or(release.basis.word()),
        with_attachments: true,
        part: (!release.what.entry_list.is_empty()).then(|| release.what.span().words()),
    };
    let set = printed::printed_set(practice, face, entries, withheld, checkpoint, &purpose)?;
    let number = entries.last().map(|entry| entry.leaf.seq);
    let record = page(&set);
    // Laying out takes as long as all the others together, so it goes on beside them.
    let (pdf, others) = std::thread::scope(|scope| {
        let pdf = scope.spawn(|| printed::for_paper(&set, &record, Paper::default()));
        let bundle = fhir_document(practice, entries, withheld, number);
        let others = (summary_patient::page(&set), summary_clinician::page(&set), bundle);
        (pdf.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic)), others)
    });
    let (pdf, (for_the_patient, for_a_clinician, bundle)) = (pdf?, others);
    Ok(vec![
        ("record.html", record.into_bytes()),
        ("record.pdf", pdf.bytes),
        ("summary-for-the-patient.html", for_the_patient.into_bytes()),
        ("half-page-for-a-clinician.html", for_a_clinician.into_bytes()),
        ("fhir/bundle.json", bundle?),
    ])
}

struct Builder {
    members: Vec<Member>,
    /// Bytes of attachments held in memory.
    held: u64,
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

    fn entry(&mut self, name: &str, entry: &Entry, proof: TlogProof, given: bool) {
        self.bytes(format!("{name}.leaf"), entry.leaf_bytes.clone());
        if let (Some(body), true) = (&entry.body, given) {
            self.bytes(format!("{name}.record.json"), body.record.to_vec());
            self.bytes(format!("{name}.opening"), format!("{}\n", hex(&body.opening)).into_bytes());
        }
        self.bytes(format!("{name}.tlog-proof"), proof.to_string().into_bytes());
    }

    /// Takes in an attachment. A long one is read once for its digest here and once more when it is written.
    fn attachment(&mut self, practice: &Practice, tag: &str, data: Attachment) -> Outcome<()> {
        let name = format!("attachments/{}", data.plain_digest);
        if self.members.iter().any(|m| m.file.name == name) {
            return Ok(());
        }
        let hold = data.size <= HELD_EACH && self.held + data.size <= HELD_ALL;
        let mut sink = Opened { sha: Sha256::new(), kept: hold.then(Vec::new) };
        open_into(practice, tag, &data, &mut sink)?;
        let file = ManifestFile {
            name,
            bytes: data.size,
            blake3: data.plain_digest.clone(),
            sha256: hex(&sink.sha.finalize()),
            media_type: Some(data.media_type.clone()),
        };
        let content = match sink.kept {
            Some(bytes) => {
                self.held += data.size;
                Content::Bytes(bytes)
            }
            None => Content::Attachment(Box::new(data)),
        };
        self.members.push(Member { file, content });
        Ok(())
    }
}

/// Hashes what is written to it, and keeps it where it is short.
struct Opened {
    sha: Sha256,
    kept: Option<Vec<u8>>,
}

impl Write for Opened {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.sha.update(bytes);
        if let Some(kept) = &mut self.kept {
            kept.extend_from_slice(bytes);
        }
        Ok(bytes.len())
    }
    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

/// The proofs of these entries in the tree as it was at the release, each checked against its root.
fn proofs(source: &Source<'_>, entries: &[&Entry], note: &[u8]) -> Outcome<Vec<TlogProof>> {
    let scan = source.view.scan();
    let (checkpoint, _) = scan.checkpoint.as_ref().ok_or_else(missing)?;
    let indexes: Vec<u64> = entries.iter().map(|e| e.leaf.seq - 1).collect();
    let is_newest = scan.size() == source.now.size();
    let paths = match is_newest {
        true => {
            let dir = index::folder(&source.view.place.root);
            let before = || source.view.leaf_hashes();
            let tree = index::Grown { scan, before: &before };
            index::proofs(&dir, source.view.place.key.name(), tree, &indexes)
        }
        // The index is of the newest tree, so an earlier one is worked out anew.
        false => earlier_proofs(source.view.leaf_hashes()?, &indexes),
    };
    let note =
        std::str::from_utf8(note).map_err(|_| Trouble::damaged("The newest checkpoint is damaged."))?;
    let mut proofs = Vec::with_capacity(entries.len());
    for ((index, hashes), entry) in indexes.into_iter().zip(paths).zip(entries) {
        let leaf = tree::leaf_hash(&entry.leaf_bytes);
        tree::verify_inclusion(&leaf, index, checkpoint.size, &hashes, &checkpoint.root)
            .map_err(|e| Trouble::damaged(format!("Entry {} can't be proven: {e}.", entry.leaf.seq)))?;
        proofs.push(TlogProof { index, hashes, extra: None, checkpoint_note: note.to_string() });
    }
    Ok(proofs)
}

/// Proofs in the tree over these leaves, from tiles in memory.
fn earlier_proofs(leaves: Vec<Hash>, indexes: &[u64]) -> Vec<Vec<Hash>> {
    let size = leaves.len() as u64;
    let mut levels = vec![leaves];
    while let Some(above) = levels.last().map(|below| tiles::level_above(below)).filter(|a| !a.is_empty()) {
        levels.push(above);
    }
    let reader = TileReader::new(|level: u8, tile: u64| {
        let hashes = levels.get(usize::from(level))?;
        let start = usize::try_from(tile).ok()?.checked_mul(256)?;
        Some(hashes.get(start..hashes.len().min(start + 256))?.concat())
    });
    indexes.iter().map(|n| tree::inclusion_proof(*n, size, &reader).unwrap_or_default()).collect()
}

//! The parts of a package: its members in their order, and the list that names them.

use super::order::ReleaseOrder;
use super::readme::read_me;
use crate::index;
use crate::ledger::checkpoint::Checkpoint;
use crate::ledger::policy::Policy;
use crate::ledger::proof::TlogProof;
use crate::practice::attach::open_into;
use crate::practice::chart::ChartFace;
use crate::practice::open::{Entry, Practice};
use crate::practice::{chart, printed};
use crate::record::kinds::Data;
use crate::record::kinds::papers::Attachment;
use crate::seal::body::hex;
use crate::seal::note::sign;
use crate::trouble::{Outcome, Trouble};
use crate::verify::manifest::{Manifest, ManifestEntry, ManifestFile, entry_name, note_text};
use sha2::{Digest as _, Sha256};
use std::io::{self, Write};

/// A member of the package: bytes, or an attachment to be streamed.
pub(super) enum Content {
    Bytes(Vec<u8>),
    Attachment(Box<Attachment>),
}

pub(super) struct Member {
    pub file: ManifestFile,
    pub content: Content,
}

/// Everything of a package, ready to be written in order.
pub(super) struct Parts {
    pub tag: String,
    pub manifest: Vec<u8>,
    pub note: Vec<u8>,
    pub readme: Vec<u8>,
    pub members: Vec<Member>,
    pub seconds: u64,
}

impl Parts {
    pub fn gather(
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
        let face = chart::find(practice, tag)?;
        let readme = read_me(practice, &face, order).into_bytes();
        parts.bytes("READ-ME-FIRST.txt".into(), readme.clone());
        let shown =
            Shown { practice, face: &face, entries: &entries, withheld: &withheld, checkpoint, order };
        for (name, bytes) in pages(&shown)? {
            parts.bytes(name.into(), bytes);
        }
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
    pub order: &'a ReleaseOrder,
}

/// The readable parts, in the order in which they stand in the archive: name and bytes. Each must come out
/// the same from the same entries, and hold nothing of an entry that is withheld.
fn pages(shown: &Shown<'_>) -> Outcome<Vec<(&'static str, Vec<u8>)>> {
    let Shown { practice, face, entries, withheld, checkpoint, order } = shown;
    let purpose = printed::Purpose {
        for_whom: &order.data.to,
        purpose: order.data.what.words.as_deref().unwrap_or("a copy of the record, as asked for"),
        basis: order.data.basis_words.as_deref().unwrap_or(order.data.basis.word()),
        with_attachments: true,
    };
    let page = printed::record_page(practice, face, entries, withheld, checkpoint, &purpose)?;
    Ok(vec![("record.html", page.into_bytes())])
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

pub(super) fn proofs(practice: &Practice, entries: &[&Entry], note: &[u8]) -> Outcome<Vec<TlogProof>> {
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

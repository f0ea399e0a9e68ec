//! Proofs that can be carried away: one entry is in the ledger, shown by one text file.
//!
//! C2SP tlog-proof v1 (<https://c2sp.org/tlog-proof>), file ending `.tlog-proof`. Whoever has the
//! entry, the file and the public key of the ledger can check it, with this program or another.

use super::checkpoint::{Checkpoint, CheckpointError, parse_hash, parse_number};
use super::tree::{Hash, TreeError, leaf_hash, verify_inclusion};
use crate::seal::note::{MAX_NOTE_BYTES, Note, Verifier};
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD as BASE64;
use std::fmt;

/// The first line of every proof.
const HEADER: &str = "c2sp.org/tlog-proof@v1";

/// The longest proof file that is read, in bytes.
pub const MAX_PROOF_BYTES: usize = 2 * MAX_NOTE_BYTES;

/// The most hashes a proof can need: the height of the largest tree.
const MAX_HASHES: usize = 63;

/// Why a proof is refused.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum ProofError {
    /// The file is longer than [`MAX_PROOF_BYTES`].
    #[error("the proof is longer than {MAX_PROOF_BYTES} bytes, so it was not read")]
    TooLong,
    /// The bytes are not UTF-8.
    #[error("the proof is not UTF-8 text: its bytes are damaged, or it is another kind of file")]
    NotText,
    /// The first line is not the one every proof starts with.
    #[error("the file does not start with \"{HEADER}\": it is no proof, or one of another edition")]
    Header,
    /// The line of extra data is not base64.
    #[error("the line of extra data in the proof is not base64")]
    Extra,
    /// The line with the place of the entry is missing or wrong.
    #[error("the proof does not say which entry it is for")]
    Index,
    /// A line that should be a hash is not the base64 of 32 bytes. Counted from 0.
    #[error("hash {0} of the proof (counted from 0) is not 32 bytes in base64")]
    Hash(usize),
    /// More hashes than any tree is high.
    #[error("the proof has more hashes than any proof needs")]
    TooManyHashes,
    /// No empty line, and so no checkpoint.
    #[error("the proof ends before its checkpoint: it was cut short")]
    NoCheckpoint,
    /// The checkpoint in the proof is refused.
    #[error("the checkpoint in the proof is refused: {0}")]
    Checkpoint(#[from] CheckpointError),
    /// The entry is not in the tree of the checkpoint, by this proof.
    #[error("the entry is not shown to be in the ledger: {0}")]
    Tree(#[from] TreeError),
}

/// A proof as it stands in its file. Nothing in it is trusted before [`TlogProof::check`].
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TlogProof {
    /// The place of the entry in the ledger, from 0.
    pub index: u64,
    /// The inclusion proof, the sibling of the leaf first.
    pub hashes: Vec<Hash>,
    /// Data for the reader's use. Not covered by any signature.
    pub extra: Option<Vec<u8>>,
    /// The signed checkpoint, byte for byte.
    pub checkpoint_note: String,
}

impl TlogProof {
    /// Reads a proof file, strictly in form. No signature and no hash is checked.
    pub fn parse(bytes: &[u8]) -> Result<TlogProof, ProofError> {
        if bytes.len() > MAX_PROOF_BYTES {
            return Err(ProofError::TooLong);
        }
        let text = std::str::from_utf8(bytes).map_err(|_| ProofError::NotText)?;
        let body =
            text.strip_prefix(HEADER).and_then(|rest| rest.strip_prefix('\n')).ok_or(ProofError::Header)?;
        // None of the lines before the checkpoint is empty, so the first empty line ends them.
        let (head, note) = body.split_once("\n\n").ok_or(ProofError::NoCheckpoint)?;
        let mut lines = head.split('\n').peekable();
        let extra = match lines.peek().and_then(|line| line.strip_prefix("extra ")) {
            Some(base64) => Some(BASE64.decode(base64).map_err(|_| ProofError::Extra)?),
            None => None,
        };
        if extra.is_some() {
            lines.next();
        }
        let index = lines.next().and_then(|line| line.strip_prefix("index ")).and_then(parse_number);
        let index = index.ok_or(ProofError::Index)?;
        let hashes = lines
            .take(MAX_HASHES + 1)
            .enumerate()
            .map(|(at, line)| parse_hash(line).ok_or(ProofError::Hash(at)))
            .collect::<Result<Vec<_>, _>>()?;
        if hashes.len() > MAX_HASHES {
            return Err(ProofError::TooManyHashes);
        }
        Note::parse(note.as_bytes()).map_err(CheckpointError::from)?;
        Ok(TlogProof { index, hashes, extra, checkpoint_note: note.to_owned() })
    }

    /// Checks that `entry` (the leaf's bytes, unhashed) is in the ledger whose key `log` is, at
    /// [`TlogProof::index`], and returns the checkpoint that shows it.
    ///
    /// Size and root come from the checkpoint, after its signature was checked, and from nowhere else.
    pub fn check(&self, entry: &[u8], log: &Verifier) -> Result<Checkpoint, ProofError> {
        let checkpoint = Checkpoint::open(self.checkpoint_note.as_bytes(), log)?;
        let leaf = leaf_hash(entry);
        verify_inclusion(&leaf, self.index, checkpoint.size, &self.hashes, &checkpoint.root)?;
        Ok(checkpoint)
    }
}

/// The file as it is stored. For a proof that was parsed, exactly the bytes it was parsed from.
impl fmt::Display for TlogProof {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "{HEADER}")?;
        if let Some(extra) = &self.extra {
            writeln!(f, "extra {}", BASE64.encode(extra))?;
        }
        writeln!(f, "index {}", self.index)?;
        self.hashes.iter().try_for_each(|hash| writeln!(f, "{}", BASE64.encode(hash)))?;
        write!(f, "\n{}", self.checkpoint_note)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ledger::tree::{LeafHashes, MAX_SIZE, inclusion_proof, root};
    use crate::seal::note::{NoteError, Signer};
    use proptest::prelude::*;

    const ORIGIN: &str = "ledger.example/7f3a";

    fn signer() -> Signer {
        Signer::from_seed(ORIGIN, &[3; 32]).unwrap()
    }

    fn entry(index: u64) -> Vec<u8> {
        format!("entry {index}").into_bytes()
    }

    fn proof(index: u64, size: u64) -> TlogProof {
        let leaves: Vec<Hash> = (0..size).map(|i| leaf_hash(&entry(i))).collect();
        let checkpoint = Checkpoint { origin: ORIGIN.to_owned(), size, root: root(&leaves) };
        TlogProof {
            index,
            hashes: inclusion_proof(index, size, &LeafHashes(&leaves)).unwrap(),
            extra: None,
            checkpoint_note: checkpoint.sign(&signer()).unwrap(),
        }
    }

    #[test]
    fn a_proof_is_written_read_and_checked() {
        for size in 1..20 {
            for index in 0..size {
                let written = proof(index, size).to_string();
                let read = TlogProof::parse(written.as_bytes()).unwrap();
                assert_eq!((&read, read.to_string()), (&proof(index, size), written));
                let checkpoint = read.check(&entry(index), signer().verifier()).unwrap();
                assert_eq!(checkpoint.size, size);
            }
        }
    }

    #[test]
    fn the_lines_are_those_of_the_specification() {
        let with_extra = TlogProof { extra: Some(b"note".to_vec()), ..proof(1, 2) };
        let text = with_extra.to_string();
        let lines: Vec<&str> = text.lines().collect();
        let sibling = BASE64.encode(leaf_hash(&entry(0)));
        assert_eq!(lines[..6], [HEADER, "extra bm90ZQ==", "index 1", &sibling, "", ORIGIN]);
        assert_eq!(TlogProof::parse(text.as_bytes()), Ok(with_extra));
        let alone = proof(0, 1).to_string();
        assert!(alone.starts_with(&format!("{HEADER}\nindex 0\n\n{ORIGIN}\n1\n")));
    }

    #[test]
    fn wrong_entry_place_path_or_key_is_refused() {
        let (good, signer) = (proof(5, 9), signer());
        let log = signer.verifier();
        let mismatch = Err(ProofError::Tree(TreeError::RootMismatch));
        assert_eq!(good.check(&entry(4), log), mismatch);
        assert_eq!(TlogProof { index: 4, ..good.clone() }.check(&entry(5), log), mismatch);
        let outside = Err(ProofError::Tree(TreeError::IndexOutside { index: 9, size: 9 }));
        assert_eq!(TlogProof { index: 9, ..good.clone() }.check(&entry(5), log), outside);
        let mut cut = good.clone();
        cut.hashes.pop();
        assert_eq!(cut.check(&entry(5), log), Err(ProofError::Tree(TreeError::PathLength)));
        let mut padded = good.clone();
        padded.hashes.push([0; 32]);
        assert_eq!(padded.check(&entry(5), log), Err(ProofError::Tree(TreeError::PathLength)));
        let other = Signer::from_seed(ORIGIN, &[4; 32]).unwrap();
        let unknown = Err(ProofError::Checkpoint(CheckpointError::Note(NoteError::NoKnownKey)));
        assert_eq!(good.check(&entry(5), other.verifier()), unknown);
    }

    /// The proof of leaf 0 of 3 would also hold for a size of 4: only the signature stands against it.
    #[test]
    fn the_size_is_taken_from_the_signed_checkpoint_only() {
        let mut claimed = proof(0, 3);
        assert_eq!(claimed.check(&entry(0), signer().verifier()).unwrap().size, 3);
        claimed.checkpoint_note = claimed.checkpoint_note.replace("\n3\n", "\n4\n");
        let refused = Err(ProofError::Checkpoint(CheckpointError::Note(NoteError::BadSignature(0))));
        assert_eq!(claimed.check(&entry(0), signer().verifier()), refused);
    }

    #[test]
    fn what_has_not_the_form_of_a_proof_is_refused() {
        let good = TlogProof { extra: Some(vec![]), ..proof(2, 3) }.to_string();
        assert!(TlogProof::parse(good.as_bytes()).is_ok());
        let hash = BASE64.encode(proof(2, 3).hashes[0]);
        let many = format!("{}\n", hash).repeat(MAX_HASHES + 1);
        let cases = [
            (String::new(), ProofError::Header),
            (good.replace("@v1", "@v2"), ProofError::Header),
            (good.replace('\n', "\r\n"), ProofError::Header),
            (format!("\n{good}"), ProofError::Header),
            (good.replace("extra ", "extra !"), ProofError::Extra),
            (good.replace("index 2", "index 02"), ProofError::Index),
            (good.replace("index 2", "index"), ProofError::Index),
            (good.replace("index 2\n", ""), ProofError::Index),
            (good.replace("index 2", "extra \nindex 2"), ProofError::Index),
            (good.replace("index 2", "index 9223372036854775808"), ProofError::Index),
            (good.replace(&hash, &BASE64.encode([0; 31])), ProofError::Hash(0)),
            (good.replace(&hash, &BASE64.encode([0; 33])), ProofError::Hash(0)),
            (good.replace(&hash, hash.trim_end_matches('=')), ProofError::Hash(0)),
            (good.replace(&format!("{hash}\n"), &many), ProofError::TooManyHashes),
            (good[..good.find("\n\n").unwrap()].to_owned(), ProofError::NoCheckpoint),
        ];
        for (text, error) in cases {
            assert_eq!(TlogProof::parse(text.as_bytes()), Err(error), "{text:?}");
        }
        let cut = &good[..good.len() - 1];
        let refused = ProofError::Checkpoint(CheckpointError::Note(NoteError::NoSignature));
        assert_eq!(TlogProof::parse(cut.as_bytes()), Err(refused));
        assert_eq!(TlogProof::parse(b"\xff"), Err(ProofError::NotText));
        assert_eq!(TlogProof::parse(&vec![b' '; MAX_PROOF_BYTES + 1]), Err(ProofError::TooLong));
        assert_eq!(TlogProof::parse(&vec![b' '; MAX_PROOF_BYTES]), Err(ProofError::Header));
    }

    proptest! {
        #[test]
        fn parsing_never_panics(bytes in proptest::collection::vec(any::<u8>(), 0..300)) {
            let _ = TlogProof::parse(&bytes);
            let _ = TlogProof::parse(&[HEADER.as_bytes(), b"\n", &bytes].concat());
        }

        #[test]
        fn a_proof_near_the_form_never_panics(rest in "(extra [A=]{0,8}\n)?index [0-9]{1,20}\n([A/=]{40,44}\n){0,3}\n[a-c\n\u{2014} 0-9A=]{0,90}") {
            let text = format!("{HEADER}\n{rest}");
            if let Ok(proof) = TlogProof::parse(text.as_bytes()) {
                prop_assert_eq!(proof.to_string(), text);
            }
        }

        #[test]
        fn a_changed_byte_never_makes_another_proof_hold(at: usize, bit in 0u8..8) {
            let good = TlogProof { extra: None, ..proof(5, 9) };
            let mut bytes = good.to_string().into_bytes();
            let at = at % bytes.len();
            bytes[at] ^= 1 << bit;
            let verdict = TlogProof::parse(&bytes).and_then(|p| p.check(&entry(5), signer().verifier()));
            prop_assert!(verdict.is_err());
        }

        #[test]
        fn any_proof_reads_back(index in 0..=MAX_SIZE, hashes in proptest::collection::vec(any::<Hash>(), 0..=63), extra: Option<Vec<u8>>) {
            let some = TlogProof { index, hashes, extra, checkpoint_note: proof(0, 1).checkpoint_note };
            prop_assert_eq!(TlogProof::parse(some.to_string().as_bytes()), Ok(some));
        }
    }
}

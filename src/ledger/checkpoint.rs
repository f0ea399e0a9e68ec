//! Checkpoints: the size and root of the tree, signed.
//!
//! C2SP tlog-checkpoint v1.0.0 (<https://c2sp.org/tlog-checkpoint>): three lines, then the note's
//! signatures. Extension lines are never written, because existing witnesses refuse them.

use super::tree::{Hash, MAX_SIZE, empty_root};
#[cfg(feature = "practice")]
use crate::seal::note::{Claim, OwnedClaim};
use crate::seal::note::{Note, NoteError, Signer, Verifier, sign};
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD as BASE64;

/// Why a checkpoint is refused.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum CheckpointError {
    /// It is not a note, or not one signed by the key of the log.
    #[error(transparent)]
    Note(#[from] NoteError),
    /// The text has fewer than three lines, or no newline at its end.
    #[error("the checkpoint does not have its three lines: it was cut short, or is another kind of note")]
    Lines,
    /// The text goes on after its three lines.
    #[error("the checkpoint has lines beyond its three, which no checkpoint of this ledger has")]
    Extension,
    /// An extension line is empty.
    #[error("the checkpoint has an empty line in its text")]
    EmptyLine,
    /// The origin line is empty or can't be a key name.
    #[error("the first line of the checkpoint can't be the name of a ledger")]
    OriginForm,
    /// The size is not a decimal number without leading zeros, or too large.
    #[error("the second line of the checkpoint is not a number of entries")]
    Size,
    /// The root is not the base64 of 32 bytes.
    #[error("the third line of the checkpoint is not a hash of 32 bytes in base64")]
    Root,
    /// The checkpoint is of an empty tree, with a root no empty tree has.
    #[error("the checkpoint says there are no entries, and its hash says otherwise")]
    EmptyRoot,
    /// The checkpoint names another ledger than the key belongs to.
    #[error("the checkpoint is of another ledger than the key: compare the two names")]
    OtherOrigin,
}

/// The state of a ledger: how many entries, and one hash over all of them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Checkpoint {
    /// The name of the ledger, which is also the name of its key.
    pub origin: String,
    /// The number of entries.
    pub size: u64,
    /// The root of the tree of that size.
    pub root: Hash,
}

impl Checkpoint {
    /// The three lines, each with its newline: what is signed.
    pub fn to_text(&self) -> String {
        format!("{}\n{}\n{}\n", self.origin, self.size, BASE64.encode(self.root))
    }

    /// Reads exactly three lines. **Nothing in them is signed yet**; see [`Checkpoint::open`].
    pub fn parse_text(text: &str) -> Result<Checkpoint, CheckpointError> {
        match Checkpoint::parse_text_lenient(text)? {
            (checkpoint, extensions) if extensions.is_empty() => Ok(checkpoint),
            _ => Err(CheckpointError::Extension),
        }
    }

    /// Reads a checkpoint text of another program, with the extension lines it may have.
    pub fn parse_text_lenient(text: &str) -> Result<(Checkpoint, Vec<String>), CheckpointError> {
        let mut lines = text.strip_suffix('\n').ok_or(CheckpointError::Lines)?.split('\n');
        let (Some(origin), Some(size), Some(root)) = (lines.next(), lines.next(), lines.next()) else {
            return Err(CheckpointError::Lines);
        };
        let size = parse_number(size).ok_or(CheckpointError::Size)?;
        let root = parse_hash(root).ok_or(CheckpointError::Root)?;
        let checkpoint = Checkpoint { origin: origin.to_owned(), size, root };
        checkpoint.check_form()?;
        let extensions: Vec<String> = lines.map(str::to_owned).collect();
        if extensions.iter().any(String::is_empty) {
            return Err(CheckpointError::EmptyLine);
        }
        Ok((checkpoint, extensions))
    }

    /// The checkpoint as a note signed by `signer`, whose name must be the origin.
    pub fn sign(&self, signer: &Signer) -> Result<String, CheckpointError> {
        self.check_form()?;
        if signer.name() != self.origin {
            return Err(CheckpointError::OtherOrigin);
        }
        Ok(sign(&self.to_text(), &[signer])?)
    }

    /// Reads a signed checkpoint and checks it: signed by `log`, of the origin `log` is named for,
    /// and exactly three lines. Signatures by other keys (of witnesses, say) are ignored.
    ///
    /// This is the only way to a tree size that may be relied on.
    pub fn open(bytes: &[u8], log: &Verifier) -> Result<Checkpoint, CheckpointError> {
        Checkpoint::from_note(&Note::parse(bytes)?, log)
    }

    /// As [`Checkpoint::open`], for a note already read.
    pub fn from_note(note: &Note, log: &Verifier) -> Result<Checkpoint, CheckpointError> {
        note.verify(&[log])?;
        Checkpoint::of_origin(note, log)
    }

    /// As [`Checkpoint::open`], except that **no signature is checked**: the note only bears lines by the key
    /// of the log, which are given to be checked later, or left where a later checkpoint stands for this one.
    #[cfg(feature = "practice")]
    pub(super) fn claimed(
        bytes: &[u8],
        log: &Verifier,
    ) -> Result<(Checkpoint, Vec<OwnedClaim>), CheckpointError> {
        let note = Note::parse(bytes)?;
        let claims = note.claims(&[log])?.iter().map(Claim::to_owned).collect();
        Ok((Checkpoint::of_origin(&note, log)?, claims))
    }

    fn of_origin(note: &Note, log: &Verifier) -> Result<Checkpoint, CheckpointError> {
        let checkpoint = Checkpoint::parse_text(&note.text)?;
        if checkpoint.origin == log.name() { Ok(checkpoint) } else { Err(CheckpointError::OtherOrigin) }
    }

    fn check_form(&self) -> Result<(), CheckpointError> {
        if self.origin.is_empty() || self.origin.chars().any(|c| c < ' ') {
            return Err(CheckpointError::OriginForm);
        }
        if self.size > MAX_SIZE {
            return Err(CheckpointError::Size);
        }
        if self.size == 0 && self.root != empty_root() {
            return Err(CheckpointError::EmptyRoot);
        }
        Ok(())
    }
}

/// A decimal number up to [`MAX_SIZE`] in its one spelling: no sign, no leading zeros.
pub(super) fn parse_number(text: &str) -> Option<u64> {
    let canonical = text == "0" || (!text.starts_with('0') && text.bytes().all(|b| b.is_ascii_digit()));
    if canonical { text.parse().ok().filter(|number| *number <= MAX_SIZE) } else { None }
}

/// The base64 of exactly 32 bytes, in its one spelling.
pub(super) fn parse_hash(text: &str) -> Option<Hash> {
    BASE64.decode(text).ok()?.try_into().ok()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ledger::tree::leaf_hash;
    use proptest::prelude::*;

    const ORIGIN: &str = "ledger.example/7f3a";

    fn signer() -> Signer {
        Signer::from_seed(ORIGIN, &[3; 32]).unwrap()
    }

    fn checkpoint() -> Checkpoint {
        Checkpoint { origin: ORIGIN.to_owned(), size: 20_852_163, root: leaf_hash(b"all") }
    }

    #[test]
    fn three_lines_and_no_more() {
        let text = checkpoint().to_text();
        assert_eq!(text.matches('\n').count(), 3);
        assert_eq!(text, format!("{ORIGIN}\n20852163\n{}\n", BASE64.encode(leaf_hash(b"all"))));
        assert_eq!(Checkpoint::parse_text(&text), Ok(checkpoint()));
    }

    #[test]
    fn a_signed_checkpoint_opens_with_its_key_only() {
        let signed = checkpoint().sign(&signer()).unwrap();
        assert_eq!(Checkpoint::open(signed.as_bytes(), signer().verifier()), Ok(checkpoint()));
        let other = Signer::from_seed(ORIGIN, &[4; 32]).unwrap();
        let refused = Err(CheckpointError::Note(NoteError::NoKnownKey));
        assert_eq!(Checkpoint::open(signed.as_bytes(), other.verifier()), refused);
        let larger = signed.replace("20852163", "20852164");
        let refused = Err(CheckpointError::Note(NoteError::BadSignature(0)));
        assert_eq!(Checkpoint::open(larger.as_bytes(), signer().verifier()), refused);
    }

    #[test]
    fn the_name_of_the_key_must_be_the_origin() {
        let other = Signer::from_seed("ledger.example/other", &[3; 32]).unwrap();
        assert_eq!(checkpoint().sign(&other), Err(CheckpointError::OtherOrigin));
        let signed = sign(&checkpoint().to_text(), &[&other]).unwrap();
        let opened = Checkpoint::open(signed.as_bytes(), other.verifier());
        assert_eq!(opened, Err(CheckpointError::OtherOrigin));
    }

    #[test]
    fn lines_of_witnesses_and_of_nobody_are_stepped_over() {
        let witness = Signer::from_seed("witness.example", &[5; 32]).unwrap();
        let mut signed = sign(&checkpoint().to_text(), &[&witness, &signer()]).unwrap();
        signed.push_str(&format!("\u{2014} {ORIGIN} AAAAAGdyZWFzZQ==\n\u{2014} grease AAAAAGdyZWFzZQ==\n"));
        assert_eq!(Checkpoint::open(signed.as_bytes(), signer().verifier()), Ok(checkpoint()));
    }

    #[test]
    fn extension_lines_are_for_others() {
        let text = format!("{}hello\nworld\n", checkpoint().to_text());
        assert_eq!(Checkpoint::parse_text(&text), Err(CheckpointError::Extension));
        let lines = vec!["hello".to_owned(), "world".to_owned()];
        assert_eq!(Checkpoint::parse_text_lenient(&text), Ok((checkpoint(), lines)));
        let signed = sign(&text, &[&signer()]).unwrap();
        let opened = Checkpoint::open(signed.as_bytes(), signer().verifier());
        assert_eq!(opened, Err(CheckpointError::Extension));
        let gap = format!("{}\n", checkpoint().to_text());
        assert_eq!(Checkpoint::parse_text_lenient(&gap), Err(CheckpointError::EmptyLine));
    }

    #[test]
    fn what_has_not_the_form_is_refused() {
        let root = BASE64.encode([7; 32]);
        let cases = [
            (String::new(), CheckpointError::Lines),
            ("\n".to_owned(), CheckpointError::Lines),
            (format!("a\n1\n{root}"), CheckpointError::Lines),
            ("a\n1\n".to_owned(), CheckpointError::Lines),
            (format!("\n1\n{root}\n"), CheckpointError::OriginForm),
            (format!("a\r\n1\n{root}\n"), CheckpointError::OriginForm),
            (format!("a\n\n{root}\n"), CheckpointError::Size),
            (format!("a\n01\n{root}\n"), CheckpointError::Size),
            (format!("a\n+1\n{root}\n"), CheckpointError::Size),
            (format!("a\n-1\n{root}\n"), CheckpointError::Size),
            (format!("a\n1 \n{root}\n"), CheckpointError::Size),
            (format!("a\n9223372036854775808\n{root}\n"), CheckpointError::Size),
            (format!("a\n99999999999999999999999\n{root}\n"), CheckpointError::Size),
            (format!("a\n1\n{}\n", BASE64.encode([7; 31])), CheckpointError::Root),
            (format!("a\n1\n{}\n", BASE64.encode([7; 33])), CheckpointError::Root),
            (format!("a\n1\n{}\n", root.trim_end_matches('=')), CheckpointError::Root),
            ("a\n1\n\n".to_owned(), CheckpointError::Root),
            (format!("a\n0\n{root}\n"), CheckpointError::EmptyRoot),
        ];
        for (text, error) in cases {
            assert_eq!(Checkpoint::parse_text(&text), Err(error), "{text:?}");
        }
        let empty = Checkpoint { size: 0, root: empty_root(), ..checkpoint() };
        assert_eq!(Checkpoint::parse_text(&empty.to_text()), Ok(empty));
        let spaced = Checkpoint { origin: "a ledger".to_owned(), ..checkpoint() };
        assert_eq!(Checkpoint::parse_text(&spaced.to_text()), Ok(spaced), "a space is no control character");
        let most = Checkpoint { size: MAX_SIZE, ..checkpoint() };
        assert_eq!(Checkpoint::parse_text(&most.to_text()), Ok(most));
    }

    #[test]
    fn what_could_not_be_read_back_is_not_signed() {
        let wrong = Checkpoint { size: 0, ..checkpoint() };
        assert_eq!(wrong.sign(&signer()), Err(CheckpointError::EmptyRoot));
        let wrong = Checkpoint { size: MAX_SIZE + 1, ..checkpoint() };
        assert_eq!(wrong.sign(&signer()), Err(CheckpointError::Size));
    }

    proptest! {
        #[test]
        fn parsing_never_panics(bytes in proptest::collection::vec(any::<u8>(), 0..200), near in "[a\n0-9A/=]{0,80}") {
            let _ = Checkpoint::open(&bytes, signer().verifier());
            let _ = Checkpoint::parse_text(&String::from_utf8_lossy(&bytes));
            if let Ok(checkpoint) = Checkpoint::parse_text(&near) {
                prop_assert_eq!(checkpoint.to_text(), near);
            }
        }

        #[test]
        fn what_is_written_reads_back(size in 1..=MAX_SIZE, root: Hash) {
            let checkpoint = Checkpoint { origin: ORIGIN.to_owned(), size, root };
            let signed = checkpoint.sign(&signer()).unwrap();
            prop_assert_eq!(Checkpoint::open(signed.as_bytes(), signer().verifier()), Ok(checkpoint));
        }
    }
}

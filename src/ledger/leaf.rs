//! The leaf: one line of JSON naming what was sealed, signed by whoever wrote it.
//!
//! A leaf says that something of a kind was written, when, by whom and for which chart tag, and
//! commits to what it was. It never holds contents. Leaves are hashed as stored.

use crate::record::moment::Moment;
use crate::seal::body::{hex, unhex32};
use crate::seal::note::{Note, Signer, sign};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// BLAKE3 of something, 32 bytes.
pub type Digest = [u8; 32];

/// The longest leaf in bytes: what a C2SP tlog-tiles entry can hold.
pub const MAX_LEAF: usize = 65_535;

/// The fields of a leaf, in the order in which they are written.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Leaf {
    /// Edition of this layout: 1.
    #[schemars(range(min = 1, max = 1))]
    pub v: u8,
    /// Origin of the ledger, a random label.
    pub ledger: String,
    /// Number in the ledger, from 1, gapless. The leaf's index in the tree is one less.
    #[schemars(range(min = 1))]
    pub seq: u64,
    /// BLAKE3 (hex) of the previous leaf as stored; null for the first.
    #[schemars(regex(pattern = "^[0-9a-f]{64}$"))]
    pub prev: Option<String>,
    /// Random tag of the chart (32 hex digits); null for an entry outside any chart.
    #[schemars(regex(pattern = "^[0-9a-f]{32}$"))]
    pub chart: Option<String>,
    /// Number in the chart, from 1, gapless; null outside any chart.
    #[schemars(range(min = 1))]
    pub chart_seq: Option<u64>,
    /// BLAKE3 (hex) of the chart's previous leaf; null for its first and outside any chart.
    #[schemars(regex(pattern = "^[0-9a-f]{64}$"))]
    pub chart_prev: Option<String>,
    /// Kind of record.
    pub kind: String,
    /// Local time with offset when it was sealed. Data, not order: order is `seq`.
    pub written: Moment,
    /// Staff code of the author; the name in the signature line.
    pub author: String,
    /// BLAKE3 (hex) of the body as stored.
    #[schemars(regex(pattern = "^[0-9a-f]{64}$"))]
    pub body: String,
    /// Length of the body as stored, in bytes.
    pub size: u64,
    /// BLAKE3 (hex) of the plain record bytes, keyed with the opening inside the body.
    #[schemars(regex(pattern = "^[0-9a-f]{64}$"))]
    pub commit: String,
}

/// Why bytes are not a leaf.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum LeafError {
    /// Longer than [`MAX_LEAF`].
    #[error("the leaf is longer than {MAX_LEAF} bytes")]
    TooLong,
    /// Not a signed note.
    #[error("the leaf is not a signed note")]
    NotANote,
    /// The text is not one line of JSON with exactly the fields of a leaf.
    #[error("the leaf's text does not have the fields of a leaf")]
    Fields,
    /// The leaf is of a later edition.
    #[error("the leaf is of edition {0}, which this program does not know")]
    Edition(u8),
}

impl Leaf {
    /// The leaf as a signed note: author's signature first, then a second signer's.
    pub fn to_note(&self, signers: &[&Signer]) -> Result<Vec<u8>, LeafError> {
        let mut text = serde_json::to_string(self).map_err(|_| LeafError::Fields)?;
        text.push('\n');
        let note = sign(&text, signers).map_err(|_| LeafError::NotANote)?.into_bytes();
        if note.len() > MAX_LEAF {
            return Err(LeafError::TooLong);
        }
        Ok(note)
    }

    /// Reads a leaf and its note from stored bytes. Signatures are not checked here.
    pub fn read(bytes: &[u8]) -> Result<(Leaf, Note), LeafError> {
        if bytes.len() > MAX_LEAF {
            return Err(LeafError::TooLong);
        }
        let note = Note::parse(bytes).map_err(|_| LeafError::NotANote)?;
        let leaf = Leaf::from_text(&note.text)?;
        Ok((leaf, note))
    }

    fn from_text(text: &str) -> Result<Leaf, LeafError> {
        let line = text.strip_suffix('\n').ok_or(LeafError::Fields)?;
        if line.contains('\n') {
            return Err(LeafError::Fields);
        }
        let leaf: Leaf = serde_json::from_str(line).map_err(|_| LeafError::Fields)?;
        if leaf.v != 1 {
            return Err(LeafError::Edition(leaf.v));
        }
        // One form only: exactly these fields, in this order, no spaces. Digests are of the stored bytes.
        let as_written = serde_json::to_string(&leaf).is_ok_and(|text| text == line);
        (as_written && leaf.well_formed()).then_some(leaf).ok_or(LeafError::Fields)
    }

    fn well_formed(&self) -> bool {
        let digest = |d: &Option<String>| d.as_deref().is_none_or(|t| unhex32(t).is_some());
        let charted = self.chart.is_some();
        self.seq >= 1
            && (self.seq == 1) == self.prev.is_none()
            && charted == self.chart_seq.is_some()
            && self.chart.as_deref().is_none_or(|t| chart_tag(t).is_some())
            && self.chart_seq.is_none_or(|n| n >= 1)
            && (self.chart_prev.is_some() == self.chart_seq.is_some_and(|n| n > 1))
            && digest(&self.prev)
            && digest(&self.chart_prev)
            && unhex32(&self.body).is_some()
            && unhex32(&self.commit).is_some()
    }
}

/// A chart tag as bytes: exactly 32 lower-case hex digits.
pub fn chart_tag(text: &str) -> Option<[u8; 16]> {
    data_encoding::HEXLOWER.decode(text.as_bytes()).ok()?.try_into().ok()
}

/// BLAKE3 of a leaf as stored.
pub fn leaf_digest(leaf_note: &[u8]) -> Digest {
    *blake3::hash(leaf_note).as_bytes()
}

/// BLAKE3 of a leaf as stored, in hex, the form in which other leaves name it.
pub fn leaf_digest_hex(leaf_note: &[u8]) -> String {
    hex(&leaf_digest(leaf_note))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_leaf_has_one_form_only() {
        let leaf = Leaf {
            v: 1,
            ledger: "ledger-x".to_string(),
            seq: 1,
            prev: None,
            chart: None,
            chart_seq: None,
            chart_prev: None,
            kind: "keys".to_string(),
            written: Moment::parse("2022-10-03T08:10:00-04:00").unwrap(),
            author: "IV".to_string(),
            body: "0".repeat(64),
            size: 1,
            commit: "0".repeat(64),
        };
        let line = serde_json::to_string(&leaf).unwrap();
        assert_eq!(Leaf::from_text(&format!("{line}\n")), Ok(leaf));
        let swapped = line.replace("\"v\":1,\"ledger\":\"ledger-x\"", "\"ledger\":\"ledger-x\",\"v\":1");
        for other in [line.replace("\"seq\":1", "\"seq\": 1"), line.replace("\"prev\":null,", ""), swapped] {
            assert_eq!(Leaf::from_text(&format!("{other}\n")), Err(LeafError::Fields), "{other}");
        }
    }

    fn leaf() -> Leaf {
        Leaf {
            v: 1,
            ledger: "ledger-x".to_string(),
            seq: 9,
            prev: Some("0".repeat(64)),
            chart: Some("1".repeat(32)),
            chart_seq: Some(2),
            chart_prev: Some("2".repeat(64)),
            kind: "visit".to_string(),
            written: Moment::parse("2022-10-03T08:10:00-04:00").unwrap(),
            author: "IV".to_string(),
            body: "3".repeat(64),
            size: 1,
            commit: "4".repeat(64),
        }
    }

    fn reads(leaf: &Leaf) -> bool {
        Leaf::from_text(&format!("{}\n", serde_json::to_string(leaf).unwrap())).is_ok()
    }

    /// What belongs together stands together: number and leaf before, chart, number in it and leaf before it there
    /// (schema/FORMAT.md). Each is bent alone.
    #[test]
    fn fields_that_do_not_fit_each_other_are_refused() {
        assert!(reads(&leaf()));
        let bent: [fn(&mut Leaf); 15] = [
            |l| l.seq = 0,
            |l| l.seq = 1,
            |l| l.prev = None,
            |l| l.chart = None,
            |l| l.chart_seq = None,
            |l| l.chart_seq = Some(0),
            |l| l.chart_seq = Some(1),
            |l| l.chart_prev = None,
            |l| l.chart = Some("1".repeat(31)),
            |l| l.chart = Some("A".repeat(32)),
            |l| l.prev = Some("0".repeat(63)),
            |l| l.chart_prev = Some("x".repeat(64)),
            |l| l.body = "3".repeat(62),
            |l| l.commit = "g".repeat(64),
            |l| (l.chart, l.chart_seq, l.chart_prev) = (None, Some(0), None),
        ];
        for (number, bend) in bent.iter().enumerate() {
            let mut leaf = leaf();
            bend(&mut leaf);
            assert!(!reads(&leaf), "{number}: {leaf:?}");
        }
        let good: [fn(&mut Leaf); 3] = [
            |l| (l.seq, l.prev) = (1, None),
            |l| (l.chart_seq, l.chart_prev) = (Some(1), None),
            |l| (l.chart, l.chart_seq, l.chart_prev) = (None, None, None),
        ];
        for (number, change) in good.iter().enumerate() {
            let mut leaf = leaf();
            change(&mut leaf);
            assert!(reads(&leaf), "{number}: {leaf:?}");
        }
    }

    #[test]
    fn a_leaf_of_the_greatest_length_is_written_and_read_and_none_longer() {
        let signer = Signer::from_seed("ledger-x", &[3; 32]).unwrap();
        let of_author = |letters: usize| Leaf { author: "a".repeat(letters), ..leaf() }.to_note(&[&signer]);
        let letters = MAX_LEAF - of_author(0).unwrap().len();
        let longest = of_author(letters).unwrap();
        assert_eq!(longest.len(), MAX_LEAF);
        assert!(Leaf::read(&longest).is_ok());
        assert_eq!(of_author(letters + 1), Err(LeafError::TooLong));
        assert_eq!(Leaf::read(&vec![b'a'; MAX_LEAF + 1]), Err(LeafError::TooLong));
    }

    /// BLAKE3 of "abc", as the `b3sum` of its authors prints it.
    #[test]
    fn a_leaf_is_named_by_its_blake3() {
        let abc = "6437b3ac38465133ffb63b75273a8db548c558465d79db03fd359c6cd5bd9d85";
        assert_eq!(leaf_digest_hex(b"abc"), abc);
        assert_eq!(hex(&leaf_digest(b"abc")), abc);
        assert_eq!(
            chart_tag("00ff00000000000000000000000000a1").map(|tag| (tag[1], tag[15])),
            Some((255, 0xa1))
        );
    }
}

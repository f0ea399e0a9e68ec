//! Reading a ledger from its first byte to its durable end.
//!
//! The durable end is the last checkpoint frame that is whole, validly signed, and preceded by
//! whole entries that hash to its root. What lies behind it was never acknowledged. Nothing is
//! taken from any other place than the segments: what a scan does not find is not in the ledger.
//!
//! A group and its checkpoint reach the disk under one sync, in any order, so a power cut can leave
//! the checkpoint without whole entries before it. That group is a torn one as long as it is the very
//! last; anything written behind it shows that it was once synced, and then it is damage.

mod state;

use super::begin::Heads;
use super::checkpoint::Checkpoint;
use super::leaf::{Digest, Leaf};
use super::segment::{self, Bad, Head, Place};
use super::tree::{Frontier, Hash};
use crate::record::moment::Moment;
use crate::seal::note::{OwnedClaim, Verifier, all_right};
use crate::seal::together::Together;
use crate::trouble::Outcome;
use crate::world::Disk;
use std::collections::HashMap;
use std::path::Path;
use std::sync::Arc;

use state::Checked;
pub(super) use state::State;

/// An entry and where it lies.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EntryAt {
    /// Number in the ledger.
    pub seq: u64,
    /// Place of its frame.
    pub at: Place,
    /// Length of the leaf.
    pub leaf_len: u32,
    /// Length of the body.
    pub body_len: u32,
    /// The chart's tag, if any.
    pub chart: Option<[u8; 16]>,
    /// Kind of record; empty where the leaf can't be read.
    pub kind: Box<str>,
    /// When its leaf says that it was written; the beginning of time where the leaf can't be read.
    pub written: Moment,
    /// RFC 6962 hash of the leaf.
    pub tree_hash: Hash,
}

/// The newest entry of a chart.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ChartHead {
    /// How many entries the chart has.
    pub count: u64,
    /// BLAKE3 of its newest leaf.
    pub leaf: Digest,
}

/// Something wrong in the ledger's bytes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Damage {
    /// Where.
    pub at: Place,
    /// What.
    pub what: DamageKind,
    /// Number of the entry it concerns, as far as it is known.
    pub seq: Option<u64>,
    /// Kind of record it concerns, as far as it is known.
    pub kind: Option<String>,
    /// Tag of the chart it concerns, as far as it is known.
    pub chart: Option<String>,
}

/// The ways in which a ledger's bytes can be wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum DamageKind {
    /// A segment as a file is wrong.
    Segment(Bad),
    /// The bytes of a leaf do not read as a leaf.
    Leaf,
    /// A leaf of a later edition.
    LeafEdition(u8),
    /// The leaf names another ledger.
    OtherLedger,
    /// The number is not the one that follows.
    Number,
    /// The link to the leaf before does not hold.
    Link,
    /// The chart's number is not the one that follows in that chart.
    ChartNumber,
    /// The link to the chart's leaf before does not hold.
    ChartLink,
    /// The body is not the one that the leaf names.
    Body,
    /// A checkpoint's form or signature is wrong.
    Checkpoint,
    /// A signed checkpoint does not fit the entries before it.
    CheckpointRoot,
    /// Bytes behind the frames of a segment that are not zero.
    Rest,
    /// A frame ends in zeros: its write stopped half way, or something wiped it.
    CutShort,
}

/// What lies behind the durable end.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Unfinished {
    /// Where it begins.
    pub at: Option<Place>,
    /// What is wrong in it. Empty when it is what a write that was interrupted leaves behind:
    /// whole entries, and at most one frame cut short, with no checkpoint over them.
    pub damage: Vec<Damage>,
    /// How many whole entries are in it.
    pub entries: u64,
}

/// Everything a scan found.
pub struct Scan {
    /// How many entries lie before the first of `entries`: none when the ledger was read from its first byte.
    pub before: u64,
    /// The tree over the leaves of those.
    pub frontier_before: Frontier,
    /// The newest entry of each chart among those.
    pub heads_before: Option<Arc<dyn Heads>>,
    /// The entries up to the durable end, in order; none where only their hashes were kept.
    pub entries: Vec<EntryAt>,
    /// The hashes of their leaves instead, where only these were kept.
    pub hashes: Vec<Hash>,
    /// Number of the last of them.
    pub last_seq: u64,
    /// The tree over their leaves.
    pub frontier: Frontier,
    /// The newest entry of each chart that `entries` has one of.
    pub charts: HashMap<[u8; 16], ChartHead>,
    /// BLAKE3 of the last leaf.
    pub last_leaf: Option<Digest>,
    /// The moment the last leaf says it was written.
    pub last_written: Option<Moment>,
    /// The newest good checkpoint and its bytes.
    pub checkpoint: Option<(Checkpoint, Vec<u8>)>,
    /// First byte behind the durable end.
    pub end: Option<Place>,
    /// Head of the last segment.
    pub head: Option<Head>,
    /// What is wrong before the durable end, or with the segments as files.
    pub damage: Vec<Damage>,
    /// What lies behind the durable end.
    pub unfinished: Unfinished,
}

impl Scan {
    /// How many entries the ledger has.
    pub fn size(&self) -> u64 {
        self.before + self.listed() as u64
    }

    /// The root over the first `size` leaves; none when there are fewer, or they were not read so far.
    pub fn root_at(&self, size: u64) -> Option<Hash> {
        let mut tree = self.frontier_before.clone();
        self.leaf_hashes(size)?.into_iter().for_each(|leaf| tree.push(leaf));
        Some(tree.root())
    }

    fn listed(&self) -> usize {
        self.entries.len().max(self.hashes.len())
    }

    /// The hashes of the leaves that were read, up to number `upto`; none when there are fewer, or it was not read.
    pub fn leaf_hashes(&self, upto: u64) -> Option<Vec<Hash>> {
        let number = usize::try_from(upto.checked_sub(self.before)?).ok()?;
        let number = Some(number).filter(|number| *number <= self.listed())?;
        match self.entries.get(..number) {
            Some(entries) => Some(entries.iter().map(|e| e.tree_hash).collect()),
            None => self.hashes.get(..number).map(<[Hash]>::to_vec),
        }
    }

    /// The newest entry of a chart; none when it has none.
    ///
    /// # Errors
    /// When what was found by an earlier reading can't be told.
    pub fn head_of(&self, tag: &[u8; 16]) -> Outcome<Option<ChartHead>> {
        match (self.charts.get(tag), &self.heads_before) {
            (Some(head), _) => Ok(Some(*head)),
            (None, Some(before)) => before.head(tag),
            (None, None) => Ok(None),
        }
    }
}

/// Lets a caller look at every entry while it is read (signatures, contents).
pub type EntryVisitor<'a> = dyn FnMut(&EntryAt, &Leaf, &[u8], &[u8]) -> Outcome<()> + 'a;

/// Reads the whole ledger. `visit` sees each well-formed entry, those behind the durable end too.
pub fn scan(
    disk: &dyn Disk,
    dir: &Path,
    key: &Verifier,
    progress: &mut dyn FnMut(u64),
    visit: &mut EntryVisitor<'_>,
) -> Outcome<Scan> {
    let mut state = State::new(key, Checked::EverySignature);
    segment::walk(disk, dir, key.name(), progress, &mut |piece| state.take(piece, visit))?;
    Ok(state.finish())
}

/// As [`scan`] or, `together`, as [`scan_together`], for whoever looks at the entries while they are read: of each
/// only the hash of its leaf is kept, so that memory does not grow with what is in the ledger.
pub fn scan_and_keep_hashes(
    disk: &dyn Disk,
    dir: &Path,
    key: &Verifier,
    together: bool,
    progress: &mut dyn FnMut(u64),
    visit: &mut EntryVisitor<'_>,
) -> Outcome<Option<Scan>> {
    let checked = match together {
        true => Checked::Together(Together::new(wrong_claims)),
        false => Checked::EverySignature,
    };
    let mut state = State::new(key, checked);
    state.only_hashes = true;
    segment::walk(disk, dir, key.name(), progress, &mut |piece| state.take(piece, visit))?;
    Ok(state.together_right().then(|| state.finish()))
}

/// As [`scan`], with the checkpoints' signatures checked many at a time on every core. None when any of them
/// does not hold: [`scan`], which takes them one by one in their order, says which, and what that means.
pub fn scan_together(
    disk: &dyn Disk,
    dir: &Path,
    key: &Verifier,
    progress: &mut dyn FnMut(u64),
    visit: &mut EntryVisitor<'_>,
) -> Outcome<Option<Scan>> {
    let mut state = State::new(key, Checked::Together(Together::new(wrong_claims)));
    segment::walk(disk, dir, key.name(), progress, &mut |piece| state.take(piece, visit))?;
    Ok(state.together_right().then(|| state.finish()))
}

/// One finding when not all of these hold.
fn wrong_claims(claims: &[OwnedClaim]) -> Vec<()> {
    let right = all_right(&claims.iter().collect::<Vec<_>>());
    if right { Vec::new() } else { vec![()] }
}

/// Reads the whole ledger for daily work. As [`scan`], but of the checkpoints' signatures only the newest
/// is checked: its root covers every leaf, and each leaf its body, so the earlier ones add nothing to what
/// may be relied on. Where anything at all is out of order, or that signature does not hold, every
/// signature is checked, as in [`scan`]. A bent signature of an earlier checkpoint is left for a check of
/// the store to name.
pub fn scan_to_newest(disk: &dyn Disk, dir: &Path, key: &Verifier) -> Outcome<Scan> {
    let mut state = State::new(key, Checked::NewestSignature);
    segment::walk(disk, dir, key.name(), &mut |_| (), &mut |piece| {
        state.take(piece, &mut |_, _, _, _| Ok(()))
    })?;
    let read = state.finish();
    let in_order = read.damage.is_empty() && read.unfinished == Unfinished::default();
    let vouched = match &read.checkpoint {
        Some((newest, note)) => Checkpoint::open(note, key).as_ref() == Ok(newest),
        None => read.size() == 0,
    };
    match in_order && vouched {
        true => Ok(read),
        false => scan(disk, dir, key, &mut |_| (), &mut |_, _, _, _| Ok(())),
    }
}

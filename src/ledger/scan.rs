//! Reading a ledger from its first byte to its durable end.
//!
//! The durable end is the last checkpoint frame that is whole, validly signed, and preceded by
//! whole entries that hash to its root. What lies behind it was never acknowledged. Nothing is
//! taken from any other place than the segments: what a scan does not find is not in the ledger.
//!
//! A group and its checkpoint reach the disk under one sync, in any order, so a power cut can leave
//! the checkpoint without whole entries before it. That group is a torn one as long as it is the very
//! last; anything written behind it shows that it was once synced, and then it is damage.

use super::begin::{Begin, Heads};
use super::checkpoint::Checkpoint;
use super::leaf::{Digest, Leaf, LeafError, chart_tag, leaf_digest};
use super::segment::{self, Bad, Head, Piece, Place};
use super::tree::{Frontier, Hash, leaf_hash};
use crate::record::moment::Moment;
use crate::seal::body::unhex32;
use crate::seal::note::{OwnedClaim, Verifier, all_right};
use crate::seal::together::Together;
use crate::trouble::Outcome;
use crate::world::Disk;
use std::collections::HashMap;
use std::path::Path;
use std::sync::Arc;

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
    /// How many bytes reach to the last one that is not zero.
    pub bytes: u64,
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

    /// The root over everything before what was read, and these leaves.
    pub fn root_over(&self, leaves: &[Hash]) -> Hash {
        let mut tree = self.frontier_before.clone();
        leaves.iter().for_each(|leaf| tree.push(*leaf));
        tree.root()
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

/// Which signatures of checkpoints are checked while reading.
enum Checked {
    EverySignature,
    /// Every signature, while reading goes on.
    Together(Together<OwnedClaim, ()>),
    /// The form of all; the newest signature by the caller, once it is known which that is.
    NewestSignature,
}

/// What has to be undone to get back to the durable end.
struct Durable {
    entries: usize,
    last_seq: u64,
    frontier: Frontier,
    /// Chart heads as they were before entries behind the durable end changed them.
    undo: Vec<([u8; 16], Option<ChartHead>)>,
    last_leaf: Option<Digest>,
    last_written: Option<Moment>,
    damage: usize,
}

pub(super) struct State<'k> {
    key: &'k Verifier,
    checked: Checked,
    scan: Scan,
    durable: Durable,
    /// True once a checkpoint did not fit: the tree can't fit again after that, so it is said once.
    root_lost: bool,
    /// The group just read, when something in it is wrong.
    doubtful: Option<Group>,
    /// True when the piece read last is an entry that ends in a zero.
    ends_in_zero: bool,
    only_hashes: bool,
}

/// The end of a group of entries.
struct Group {
    end: Place,
    /// Its checkpoint and the bytes of that; none when they are broken.
    checkpoint: Option<(Checkpoint, Vec<u8>)>,
}

impl<'k> State<'k> {
    fn new(key: &'k Verifier, checked: Checked) -> Self {
        let scan = Scan {
            before: 0,
            frontier_before: Frontier::default(),
            heads_before: None,
            entries: Vec::new(),
            hashes: Vec::new(),
            last_seq: 0,
            frontier: Frontier::default(),
            charts: HashMap::new(),
            last_leaf: None,
            last_written: None,
            checkpoint: None,
            end: None,
            head: None,
            damage: Vec::new(),
            unfinished: Unfinished::default(),
        };
        let durable = Durable {
            entries: 0,
            last_seq: 0,
            frontier: Frontier::default(),
            undo: Vec::new(),
            last_leaf: None,
            last_written: None,
            damage: 0,
        };
        State {
            key,
            checked,
            scan,
            durable,
            root_lost: false,
            doubtful: None,
            ends_in_zero: false,
            only_hashes: false,
        }
    }

    /// Goes on behind an earlier reading.
    pub(super) fn resumed(key: &'k Verifier, begin: &Begin, for_check: bool) -> Self {
        let checked = if for_check { Checked::EverySignature } else { Checked::NewestSignature };
        let mut state = State::new(key, checked);
        state.only_hashes = for_check;
        let scan = &mut state.scan;
        scan.before = begin.frontier.size();
        scan.heads_before = Some(begin.heads.clone());
        (scan.frontier, scan.frontier_before) = (begin.frontier.clone(), begin.frontier.clone());
        scan.last_leaf = Some(begin.last_leaf);
        scan.last_written = Some(begin.last_written);
        scan.checkpoint = Some(begin.checkpoint.clone());
        scan.end = Some(begin.end);
        scan.head = Some(begin.head.clone());
        scan.last_seq = scan.before;
        (state.durable.frontier, state.durable.last_seq) = (scan.frontier.clone(), scan.last_seq);
        (state.durable.last_leaf, state.durable.last_written) = (scan.last_leaf, scan.last_written);
        state
    }

    /// True when no signature was left to be checked together, or all of those hold.
    fn together_right(&mut self) -> bool {
        match std::mem::replace(&mut self.checked, Checked::NewestSignature) {
            Checked::Together(together) => together.end().is_empty(),
            Checked::EverySignature | Checked::NewestSignature => true,
        }
    }

    pub(super) fn take(&mut self, piece: Piece<'_>, visit: &mut EntryVisitor<'_>) -> Outcome<()> {
        if let Some(group) = self.doubtful.take() {
            self.settle(group);
        }
        self.ends_in_zero =
            matches!(&piece, Piece::Entry { leaf, body, .. } if body.last().or(leaf.last()) == Some(&0));
        match piece {
            Piece::Head(head) => self.head(head),
            Piece::Bad { at, why, .. } => {
                self.behind(at, 1);
                self.damage(at, DamageKind::Segment(why), None);
            }
            Piece::Rest { at, bytes } => {
                self.behind(at, bytes.len() as u64);
                if !cut_short(bytes) {
                    self.damage(at, DamageKind::Rest, None);
                }
            }
            Piece::Entry { at, leaf, body } => return self.entry(at, leaf, body, visit),
            Piece::Checkpoint { at, note, end } => self.checkpoint(at, note, end),
        }
        Ok(())
    }

    fn head(&mut self, head: Head) {
        let fits = head.first_seq == self.scan.size() + 1 && head.prev == self.scan.last_leaf;
        if !fits {
            self.damage(Place { segment: head.number, offset: 0 }, DamageKind::Segment(Bad::Head), None);
        }
        if self.scan.end.is_none() {
            let len = (super::frame::HEADER + head.to_text().len()) as u64;
            self.scan.end = Some(Place { segment: head.number, offset: len });
        }
        self.scan.head = Some(head);
    }

    /// Remembers that something lies behind the durable end.
    fn behind(&mut self, at: Place, bytes: u64) {
        self.scan.unfinished.at.get_or_insert(at);
        self.scan.unfinished.bytes += bytes;
    }

    fn damage(&mut self, at: Place, what: DamageKind, leaf: Option<&Leaf>) {
        self.scan.damage.push(Damage {
            at,
            what,
            seq: leaf.map(|l| l.seq),
            kind: leaf.map(|l| l.kind.clone()),
            chart: leaf.and_then(|l| l.chart.clone()),
        });
    }

    fn entry(&mut self, at: Place, bytes: &[u8], body: &[u8], visit: &mut EntryVisitor<'_>) -> Outcome<()> {
        self.behind(at, (super::frame::HEADER + bytes.len() + body.len()) as u64);
        self.scan.unfinished.entries += 1;
        let seq = self.scan.last_seq + 1;
        let mut entry = EntryAt {
            seq,
            at,
            leaf_len: bytes.len() as u32,
            body_len: body.len() as u32,
            chart: None,
            kind: Box::default(),
            written: Moment::EPOCH,
            tree_hash: leaf_hash(bytes),
        };
        match Leaf::read(bytes) {
            Ok((leaf, _)) => {
                entry.chart = leaf.chart.as_deref().and_then(chart_tag);
                entry.kind = leaf.kind.as_str().into();
                entry.written = leaf.written;
                entry.seq = leaf.seq;
                self.check_leaf(&entry, &leaf, bytes, body, seq);
                visit(&entry, &leaf, bytes, body)?;
                self.scan.last_written = Some(leaf.written);
            }
            Err(LeafError::Edition(edition)) => self.damage_at(at, DamageKind::LeafEdition(edition), seq),
            Err(_) => self.damage_at(at, cut_or(DamageKind::Leaf, bytes, body), seq),
        }
        self.scan.frontier.push(entry.tree_hash);
        self.scan.last_leaf = Some(leaf_digest(bytes));
        self.scan.last_seq = entry.seq;
        match self.only_hashes {
            true => self.scan.hashes.push(entry.tree_hash),
            false => self.scan.entries.push(entry),
        }
        Ok(())
    }

    fn damage_at(&mut self, at: Place, what: DamageKind, seq: u64) {
        self.scan.damage.push(Damage { at, what, seq: Some(seq), kind: None, chart: None });
    }

    fn check_leaf(&mut self, entry: &EntryAt, leaf: &Leaf, bytes: &[u8], body: &[u8], seq: u64) {
        let mut wrong = Vec::new();
        if leaf.ledger != self.key.name() {
            wrong.push(DamageKind::OtherLedger);
        }
        if leaf.seq != seq {
            wrong.push(DamageKind::Number);
        }
        if leaf.prev.as_deref().and_then(unhex32) != self.scan.last_leaf {
            wrong.push(DamageKind::Link);
        }
        let is_named = unhex32(&leaf.body) == Some(*blake3::hash(body).as_bytes());
        if leaf.size != body.len() as u64 || !is_named {
            wrong.push(cut_or(DamageKind::Body, bytes, body));
        }
        if let Some(tag) = entry.chart {
            // Where it can't be told the links do not hold, and the whole is read.
            let before = self.scan.head_of(&tag).unwrap_or_default();
            if leaf.chart_seq != Some(before.map_or(0, |h| h.count) + 1) {
                wrong.push(DamageKind::ChartNumber);
            }
            if leaf.chart_prev.as_deref().and_then(unhex32) != before.map(|h| h.leaf) {
                wrong.push(DamageKind::ChartLink);
            }
            let head = ChartHead { count: leaf.chart_seq.unwrap_or(1), leaf: leaf_digest(bytes) };
            let was = self.scan.charts.insert(tag, head);
            self.durable.undo.push((tag, was));
        }
        for what in wrong {
            self.damage(entry.at, what, Some(leaf));
        }
    }

    fn checkpoint(&mut self, at: Place, note: &[u8], end: u64) {
        self.behind(at, (super::frame::HEADER + note.len()) as u64);
        let end = Place { segment: at.segment, offset: end };
        let read = match self.checked {
            Checked::EverySignature => Checkpoint::open(note, self.key).map(|read| (read, Vec::new())),
            Checked::Together(_) | Checked::NewestSignature => Checkpoint::claimed(note, self.key),
        };
        let Ok((checkpoint, claims)) = read else {
            self.damage(at, cut_or(DamageKind::Checkpoint, note, &[]), None);
            self.doubtful = Some(Group { end, checkpoint: None });
            return;
        };
        if let Checked::Together(together) = &mut self.checked {
            claims.into_iter().for_each(|claim| together.add(claim));
        }
        let fits = checkpoint.size == self.scan.frontier.size()
            && checkpoint.root == self.scan.frontier.root()
            && self.scan.last_seq == checkpoint.size;
        if self.scan.listed() == self.durable.entries {
            // A group has entries: a checkpoint without any was put there.
            self.damage(at, DamageKind::CheckpointRoot, None);
        } else if !fits && !self.root_lost {
            self.root_lost = true;
            self.damage(at, DamageKind::CheckpointRoot, None);
        }
        let group = Group { end, checkpoint: Some((checkpoint, note.to_vec())) };
        if self.scan.damage.len() == self.durable.damage {
            self.settle(group);
        } else {
            self.doubtful = Some(group);
        }
    }

    /// Moves the durable end behind this group.
    fn settle(&mut self, group: Group) {
        if group.checkpoint.is_some() {
            self.scan.checkpoint = group.checkpoint;
        }
        self.scan.end = Some(group.end);
        self.scan.unfinished = Unfinished::default();
        self.durable = Durable {
            entries: self.scan.listed(),
            last_seq: self.scan.last_seq,
            frontier: self.scan.frontier.clone(),
            undo: Vec::new(),
            last_leaf: self.scan.last_leaf,
            last_written: self.scan.last_written,
            damage: self.scan.damage.len(),
        };
    }

    /// Drops what lies behind the durable end: it was never acknowledged.
    pub(super) fn finish(mut self) -> Scan {
        let durable = self.durable;
        self.scan.entries.truncate(durable.entries);
        self.scan.hashes.truncate(durable.entries);
        self.scan.last_seq = durable.last_seq;
        self.scan.frontier = durable.frontier;
        for (tag, was) in durable.undo.into_iter().rev() {
            match was {
                Some(head) => self.scan.charts.insert(tag, head),
                None => self.scan.charts.remove(&tag),
            };
        }
        self.scan.last_leaf = durable.last_leaf;
        self.scan.last_written = durable.last_written;
        // Trouble with the files themselves is damage wherever it is; the rest belongs to the tail.
        let behind = self.scan.damage.split_off(durable.damage.min(self.scan.damage.len()));
        let (files, mut tail): (Vec<Damage>, Vec<Damage>) = behind
            .into_iter()
            .partition(|d| matches!(d.what, DamageKind::Segment(why) if why != Bad::NoFrame));
        self.scan.damage.extend(files);
        // One frame cut short at the very end is how an interrupted write looks. The last entry has no
        // checkpoint behind it there, so a single zero says enough.
        let cut = |d: &Damage| {
            d.what == DamageKind::CutShort
                || (self.ends_in_zero && matches!(d.what, DamageKind::Body | DamageKind::Leaf))
        };
        if tail.last().is_some_and(cut) {
            tail.pop();
            self.scan.unfinished.entries = self.scan.unfinished.entries.saturating_sub(1);
        }
        self.scan.unfinished.damage = tail;
        self.scan
    }
}

/// What is wrong with a frame, or that it ends in zeros as one does whose write stopped half
/// way. A leaf and a checkpoint end in a line end, a sealed body in random bytes, and a flipped
/// bit does not make sixteen zero bytes.
fn cut_or(what: DamageKind, first: &[u8], second: &[u8]) -> DamageKind {
    let last = if second.is_empty() { first } else { second };
    let zeros = last.len() >= 16 && last[last.len() - 16..].iter().all(|b| *b == 0);
    if zeros { DamageKind::CutShort } else { what }
}

/// True for a frame header that was cut short: it agrees with one as far as it goes.
fn cut_short(bytes: &[u8]) -> bool {
    let agrees = bytes.iter().zip(b"IF").all(|(byte, letter)| byte == letter);
    !bytes.is_empty() && bytes.len() < super::frame::HEADER && agrees
}

#[cfg(test)]
mod tests {
    use super::cut_short;

    #[test]
    fn a_header_may_be_cut_behind_any_of_its_bytes() {
        let header = b"IFe1............";
        assert!((1..super::super::frame::HEADER).all(|length| cut_short(&header[..length])));
        assert!(!cut_short(header) && !cut_short(b"X") && !cut_short(b"IX") && !cut_short(b""));
    }
}

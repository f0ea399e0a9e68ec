//! What is known while a ledger is read piece by piece, and what of it is durable.

use super::{ChartHead, Damage, DamageKind, EntryAt, EntryVisitor, Scan, Unfinished};
use crate::ledger::begin::Begin;
use crate::ledger::checkpoint::Checkpoint;
use crate::ledger::leaf::{Digest, Leaf, LeafError, chart_tag, leaf_digest};
use crate::ledger::segment::{Bad, Head, Piece, Place};
use crate::ledger::tree::{Frontier, leaf_hash};
use crate::record::moment::Moment;
use crate::seal::body::unhex32;
use crate::seal::note::{OwnedClaim, Verifier};
use crate::seal::together::Together;
use crate::trouble::Outcome;
use std::collections::HashMap;

/// Which signatures of checkpoints are checked while reading.
pub(super) enum Checked {
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

pub(in crate::ledger) struct State<'k> {
    key: &'k Verifier,
    pub(super) checked: Checked,
    scan: Scan,
    durable: Durable,
    /// True once a checkpoint did not fit: the tree can't fit again after that, so it is said once.
    root_lost: bool,
    /// The group just read, when something in it is wrong.
    doubtful: Option<Group>,
    /// True when the piece read last is an entry that ends in a zero.
    ends_in_zero: bool,
    pub(super) only_hashes: bool,
}

/// The end of a group of entries.
struct Group {
    end: Place,
    /// Its checkpoint and the bytes of that; none when they are broken.
    checkpoint: Option<(Checkpoint, Vec<u8>)>,
}

impl<'k> State<'k> {
    pub(super) fn new(key: &'k Verifier, checked: Checked) -> Self {
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
    pub(in crate::ledger) fn resumed(key: &'k Verifier, begin: &Begin, for_check: bool) -> Self {
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
    pub(super) fn together_right(&mut self) -> bool {
        match std::mem::replace(&mut self.checked, Checked::NewestSignature) {
            Checked::Together(together) => together.end().is_empty(),
            Checked::EverySignature | Checked::NewestSignature => true,
        }
    }

    pub(in crate::ledger) fn take(&mut self, piece: Piece<'_>, visit: &mut EntryVisitor<'_>) -> Outcome<()> {
        if let Some(group) = self.doubtful.take() {
            self.settle(group);
        }
        self.ends_in_zero =
            matches!(&piece, Piece::Entry { leaf, body, .. } if body.last().or(leaf.last()) == Some(&0));
        match piece {
            Piece::Head(head) => self.head(head),
            Piece::Bad { at, why, .. } => {
                self.behind(at);
                self.damage(at, DamageKind::Segment(why), None);
            }
            Piece::Rest { at, bytes } => {
                self.behind(at);
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
            let len = (crate::ledger::frame::HEADER + head.to_text().len()) as u64;
            self.scan.end = Some(Place { segment: head.number, offset: len });
        }
        self.scan.head = Some(head);
    }

    /// Remembers that something lies behind the durable end.
    fn behind(&mut self, at: Place) {
        self.scan.unfinished.at.get_or_insert(at);
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
        self.behind(at);
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
        self.behind(at);
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
    pub(in crate::ledger) fn finish(mut self) -> Scan {
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
    !bytes.is_empty() && bytes.len() < crate::ledger::frame::HEADER && agrees
}

#[cfg(test)]
mod tests {
    use super::cut_short;

    #[test]
    fn a_header_may_be_cut_behind_any_of_its_bytes() {
        let header = b"IFe1............";
        assert!((1..crate::ledger::frame::HEADER).all(|length| cut_short(&header[..length])));
        assert!(!cut_short(header) && !cut_short(b"X") && !cut_short(b"IX") && !cut_short(b""));
    }
}

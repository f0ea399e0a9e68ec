//! Where a checkpoint that was kept outside lies in the ledger, and what there was up to it, as far as the bookmark
//! tells: a check goes on from there.

use super::bookmark::Bookmark;
use super::layer::StrandKey;
use crate::ledger::begin::{Begin, Heads};
use crate::ledger::checkpoint::Checkpoint;
use crate::ledger::frame::{FrameKind, HEADER, Header};
use crate::ledger::leaf::{Digest, Leaf, leaf_digest};
use crate::ledger::scan::{ChartHead, EntryAt};
use crate::ledger::segment::{self, Head, Place};
use crate::ledger::tree::leaf_hash;
use crate::trouble::{Outcome, Trouble};
use std::sync::Arc;

/// Where to go on from so that everything behind `kept` is read: at that checkpoint, or at the bookmark where that
/// lies before it. None where the bookmark does not lead there.
///
/// # Errors
/// When the ledger can't be read.
pub fn begin_at(mark: &Arc<Bookmark>, kept: &Checkpoint) -> Outcome<Option<Begin>> {
    if kept.size >= mark.size() {
        return Ok(mark.begin());
    }
    let (Some(last), Some(frontier)) = (mark.numbered(kept.size)?, mark.tree_at(kept.size)?) else {
        return Ok(None);
    };
    let Some((leaf, last_leaf)) = leaf_at(mark, &last)? else { return Ok(None) };
    if frontier.root() != kept.root {
        return Ok(None);
    }
    let (_, _, key) = mark.ledger();
    let behind = last.at.offset + (HEADER as u64) + u64::from(last.leaf_len) + u64::from(last.body_len);
    let Some((FrameKind::Checkpoint, note, end)) = frame_at(mark, Place { offset: behind, ..last.at })?
    else {
        return Ok(None);
    };
    let Some((FrameKind::Segment, head, _)) = frame_at(mark, Place { offset: 0, ..last.at })? else {
        return Ok(None);
    };
    let (Ok(checkpoint), Some(head)) = (Checkpoint::open(&note, key), Head::from_text(&head)) else {
        return Ok(None);
    };
    Ok((checkpoint == *kept).then(|| Begin {
        frontier,
        last_leaf,
        last_written: leaf.written,
        end: Place { offset: end, ..last.at },
        head,
        checkpoint: (checkpoint, note),
        heads: Arc::new(Upto { mark: mark.clone(), seq: kept.size }),
    }))
}

/// The charts' newest entries up to an earlier one.
struct Upto {
    mark: Arc<Bookmark>,
    seq: u64,
}

impl Heads for Upto {
    fn head(&self, tag: &[u8; 16]) -> Outcome<Option<ChartHead>> {
        let rows = self.mark.strand(&StrandKey::chart(*tag))?;
        let Some(newest) = rows.iter().rev().find(|at| at.seq <= self.seq) else { return Ok(None) };
        let read = leaf_at(&self.mark, newest)?;
        let head = read.and_then(|(leaf, digest)| Some(ChartHead { count: leaf.chart_seq?, leaf: digest }));
        head.map(Some).ok_or_else(|| Trouble::damaged(format!("Entry {} can't be read.", newest.seq)))
    }
}

/// The leaf of an entry and its digest; none when it is not the one that was read before.
fn leaf_at(mark: &Bookmark, at: &EntryAt) -> Outcome<Option<(Leaf, Digest)>> {
    let offset = at.at.offset + HEADER as u64;
    let bytes = bytes_at(mark, Place { offset, ..at.at }, at.leaf_len as usize)?;
    let bytes = bytes.filter(|bytes| leaf_hash(bytes) == at.tree_hash);
    Ok(bytes.and_then(|bytes| Some((Leaf::read(&bytes).ok()?.0, leaf_digest(&bytes)))))
}

/// A frame without a second part: its kind, its part, and the first byte behind it.
fn frame_at(mark: &Bookmark, at: Place) -> Outcome<Option<(FrameKind, Vec<u8>, u64)>> {
    let Some(start) = bytes_at(mark, at, HEADER)? else { return Ok(None) };
    let Some(header) = Header::read(&start) else { return Ok(None) };
    let part = bytes_at(mark, Place { offset: at.offset + HEADER as u64, ..at }, header.first)?;
    Ok(part.map(|part| (header.kind, part, at.offset + header.frame_len() as u64)))
}

fn bytes_at(mark: &Bookmark, at: Place, len: usize) -> Outcome<Option<Vec<u8>>> {
    let (disk, dir, _) = mark.ledger();
    let path = segment::path(dir, at.segment);
    let trouble = |e: std::io::Error| Trouble::disk("read", &path, &e);
    if !disk.there(&path).map_err(trouble)? {
        return Ok(None);
    }
    let file = disk.open(&path, false).map_err(trouble)?;
    if at.offset.saturating_add(len as u64) > file.len().map_err(trouble)? {
        return Ok(None);
    }
    let mut bytes = vec![0; len];
    file.read_at(&mut bytes, at.offset).map_err(trouble)?;
    Ok(Some(bytes))
}

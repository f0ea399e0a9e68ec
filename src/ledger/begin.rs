//! Reading on from where an earlier reading ended, so that opening a ledger takes as long as what was added
//! since, however long the ledger is.
//!
//! What the earlier reading found is vouched for by whoever gives it ([`Begin`]): this module relies on it as on
//! a signed checkpoint. Everything behind that place is read and checked as in a reading of the whole, and
//! whatever is not in order there leads back to such a reading.

use super::checkpoint::Checkpoint;
use super::frame::{self, FrameKind};
use super::leaf::Digest;
use super::scan::{ChartHead, EntryVisitor, Scan, State, Unfinished};
use super::segment::{self, Head, Place};
use super::tree::Frontier;
use crate::record::moment::Moment;
use crate::seal::note::Verifier;
use crate::trouble::{Outcome, Trouble};
use crate::world::Disk;
use std::path::Path;
use std::sync::Arc;

/// The newest entry of each chart, as the earlier reading found it.
pub trait Heads: Send + Sync {
    /// The chart's newest entry up to that place; none when it had none.
    ///
    /// # Errors
    /// When it can't be told.
    fn head(&self, tag: &[u8; 16]) -> Outcome<Option<ChartHead>>;
}

/// The durable end that an earlier reading reached.
pub struct Begin {
    /// The tree over all leaves up to there.
    pub frontier: Frontier,
    /// BLAKE3 of the last leaf.
    pub last_leaf: Digest,
    /// The moment that leaf says it was written.
    pub last_written: Moment,
    /// First byte behind it.
    pub end: Place,
    /// Head of the segment that it lies in.
    pub head: Head,
    /// The checkpoint that ends there, and its bytes.
    pub checkpoint: (Checkpoint, Vec<u8>),
    /// The newest entry of each chart.
    pub heads: Arc<dyn Heads>,
}

/// Reads what lies behind `begin`. None when that checkpoint does not lie where it lay, or when anything behind
/// it is not as a sound ledger is: then the whole is to be read.
///
/// # Errors
/// When the disk fails.
pub fn scan_on(disk: &dyn Disk, dir: &Path, key: &Verifier, begin: &Begin) -> Outcome<Option<Scan>> {
    if !lies_there(disk, dir, begin)? {
        return Ok(None);
    }
    let mut state = State::resumed(key, begin, false);
    segment::walk_from(disk, dir, key.name(), begin.end, &mut |_| (), &mut |piece| {
        state.take(piece, &mut |_, _, _, _| Ok(()))
    })?;
    let read = state.finish();
    let in_order = read.damage.is_empty() && read.unfinished == Unfinished::default();
    let vouched = read
        .checkpoint
        .as_ref()
        .is_some_and(|(newest, note)| Checkpoint::open(note, key).as_ref() == Ok(newest));
    Ok((in_order && vouched).then_some(read))
}

/// Reads what lies behind `begin` to check it: every signature of a checkpoint, and whatever is wrong is named. None
/// when that checkpoint does not lie where it lay.
///
/// # Errors
/// When the disk fails.
pub fn check_on(
    disk: &dyn Disk,
    dir: &Path,
    key: &Verifier,
    begin: &Begin,
    progress: &mut dyn FnMut(u64),
    visit: &mut EntryVisitor<'_>,
) -> Outcome<Option<Scan>> {
    if !lies_there(disk, dir, begin)? {
        return Ok(None);
    }
    let mut state = State::resumed(key, begin, true);
    segment::walk_from(disk, dir, key.name(), begin.end, progress, &mut |piece| state.take(piece, visit))?;
    Ok(Some(state.finish()))
}

/// True when the segment is as long as its head says, and the frame before the end is that checkpoint.
fn lies_there(disk: &dyn Disk, dir: &Path, begin: &Begin) -> Outcome<bool> {
    let (checkpoint, note) = &begin.checkpoint;
    let mut frame = Vec::new();
    frame::write(&mut frame, FrameKind::Checkpoint, note, &[]);
    let of_it = checkpoint.size == begin.frontier.size() && checkpoint.root == begin.frontier.root();
    let (Some(start), true) = (begin.end.offset.checked_sub(frame.len() as u64), of_it) else {
        return Ok(false);
    };
    let path = segment::path(dir, begin.end.segment);
    let trouble = |e: std::io::Error| Trouble::disk("read", &path, &e);
    if begin.head.number != begin.end.segment || !disk.there(&path).map_err(trouble)? {
        return Ok(false);
    }
    let file = disk.open(&path, false).map_err(trouble)?;
    let len = file.len().map_err(trouble)?;
    if len != begin.head.bytes || begin.end.offset > len {
        return Ok(false);
    }
    let mut lies = vec![0; frame.len()];
    file.read_at(&mut lies, start).map_err(trouble)?;
    Ok(lies == frame)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ledger::tree::leaf_hash;
    use crate::seal::note::Signer;
    use crate::world::RealDisk;

    struct None;

    impl Heads for None {
        fn head(&self, _: &[u8; 16]) -> Outcome<Option<ChartHead>> {
            Ok(Option::None)
        }
    }

    /// A segment of 100 bytes, a checkpoint of three leaves, and 50 bytes behind it; and the beginning there.
    fn begin(dir: &Path) -> Begin {
        let mut frontier = Frontier::new();
        (0..3u8).for_each(|n| frontier.push(leaf_hash(&[n])));
        let signer = Signer::from_seed("ledger-x", &[3; 32]).unwrap();
        let checkpoint = Checkpoint { origin: "ledger-x".into(), size: 3, root: frontier.root() };
        let note = checkpoint.sign(&signer).unwrap().into_bytes();
        let mut bytes = vec![b'a'; 100];
        frame::write(&mut bytes, FrameKind::Checkpoint, &note, &[]);
        let end = Place { segment: 1, offset: bytes.len() as u64 };
        bytes.extend([b'b'; 50]);
        std::fs::write(segment::path(dir, 1), &bytes).unwrap();
        let head = Head {
            origin: "ledger-x".into(),
            number: 1,
            bytes: bytes.len() as u64,
            first_seq: 1,
            prev: Option::None,
        };
        Begin {
            frontier,
            last_leaf: [0; 32],
            last_written: Moment::parse("2025-03-10T09:00:00-05:00").unwrap(),
            end,
            head,
            checkpoint: (checkpoint, note),
            heads: Arc::new(None),
        }
    }

    #[test]
    fn a_beginning_is_taken_only_where_its_checkpoint_lies_in_its_segment() {
        let dir = tempfile::tempdir().unwrap();
        let lies = |change: fn(&mut Begin)| {
            let mut begin = begin(dir.path());
            change(&mut begin);
            lies_there(&RealDisk, dir.path(), &begin).unwrap()
        };
        assert!(lies(|_| ()));
        let bent: [fn(&mut Begin); 11] = [
            |b| b.checkpoint.0.size = 4,
            |b| b.checkpoint.0.root = [7; 32],
            |b| b.frontier.push([7; 32]),
            |b| b.checkpoint.1[0] ^= 1,
            |b| b.end.offset -= 1,
            |b| b.end.offset += 1,
            |b| b.end.offset = 10,
            |b| b.end.offset = b.head.bytes + 1,
            |b| b.head.bytes += 1,
            |b| b.head.number = 2,
            |b| (b.head.number, b.end.segment) = (2, 2),
        ];
        for (number, bend) in bent.iter().enumerate() {
            assert!(!lies(*bend), "{number}");
        }
        // To its very end, and cut short behind its head's back.
        let whole = begin(dir.path());
        let bytes = std::fs::read(segment::path(dir.path(), 1)).unwrap();
        let (path, end) = (segment::path(dir.path(), 1), whole.end.offset as usize);
        std::fs::write(&path, &bytes[..end]).unwrap();
        assert!(!lies_there(&RealDisk, dir.path(), &whole).unwrap());
        let ends_there = Begin { head: Head { bytes: end as u64, ..whole.head.clone() }, ..whole };
        assert!(lies_there(&RealDisk, dir.path(), &ends_there).unwrap());
        std::fs::write(&path, &bytes[..end - 1]).unwrap();
        let shorter = Begin { head: Head { bytes: end as u64 - 1, ..ends_there.head.clone() }, ..ends_there };
        assert!(!lies_there(&RealDisk, dir.path(), &shorter).unwrap());
    }
}

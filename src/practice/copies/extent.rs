//! How far a ledger reaches, and what it says itself of sealed files and charts that are gone. The one place
//! here that looks at every entry.

use crate::ledger::checkpoint::Checkpoint;
use crate::ledger::leaf::Leaf;
use crate::ledger::scan::{EntryAt, Scan, scan_and_keep_hashes};
use crate::ledger::segment::Place as At;
use crate::practice::place::Place;
use crate::record::envelope::Record;
use crate::record::kinds::Data;
use crate::record::kinds::disposing::DisposalState;
use crate::seal::body::Body;
use crate::seal::keybook::KeyBook;
use crate::seal::note::Note;
use crate::trouble::{Outcome, Trouble};
use crate::world::Disk;
use std::collections::BTreeSet;
use std::path::Path;

/// A ledger up to its durable end.
pub struct Extent {
    /// The newest checkpoint.
    pub checkpoint: Checkpoint,
    /// First byte behind the durable end.
    pub end: At,
    /// Digests of the sealed files that were destroyed on order.
    pub removed: BTreeSet<String>,
    /// Tags of the charts whose destruction two people ordered.
    pub disposed: BTreeSet<String>,
}

impl Extent {
    /// True when the ledger itself says that this file of the store was destroyed: a sealed file that was removed on
    /// order, a key of a chart that was disposed of.
    pub(super) fn says_gone(&self, path: &str) -> bool {
        let key = path.strip_prefix("keys/chart-").and_then(|rest| rest.get(..32));
        let file = path.strip_prefix("files/").and_then(|rest| rest.get(3..67));
        key.is_some_and(|tag| self.disposed.contains(tag))
            || file.is_some_and(|digest| self.removed.contains(digest))
    }
}

/// What is done with each entry: where it lies, its leaf, the leaf as stored, the body.
pub(super) type Each<'a> = dyn FnMut(&EntryAt, &Leaf, &[u8], &[u8]) + 'a;

/// Reads the ledger of a store, checks it with every signature of its checkpoints, and hands each entry on.
///
/// # Errors
/// When anything in it is damaged: a copy of it, over a good one, would help nobody.
pub(super) fn walk(
    disk: &dyn Disk,
    root: &Path,
    place: &Place,
    progress: &mut dyn FnMut(u64),
    each: &mut Each<'_>,
) -> Outcome<Scan> {
    let dir = root.join("ledger");
    let read = scan_and_keep_hashes(disk, &dir, &place.key, true, progress, &mut |at, leaf, bytes, body| {
        each(at, leaf, bytes, body);
        Ok(())
    })?;
    read.filter(|scan| scan.damage.is_empty())
        .ok_or_else(|| Trouble::damaged(format!("The ledger in {} is damaged.", dir.display())))
}

/// How far the ledger reaches.
///
/// # Errors
/// When it is damaged, or has no entry.
pub fn extent(disk: &dyn Disk, place: &Place, progress: &mut dyn FnMut(u64)) -> Outcome<Extent> {
    let mut telling: Vec<(Leaf, Vec<u8>, Vec<u8>)> = Vec::new();
    let scan = walk(disk, &place.root, place, progress, &mut |_, leaf, bytes, body| {
        if TELLING.contains(&leaf.kind.as_str()) {
            telling.push((leaf.clone(), bytes.to_vec(), body.to_vec()));
        }
    })?;
    let (Some((checkpoint, _)), Some(end)) = (scan.checkpoint, scan.end) else {
        return Err(Trouble::damaged("The ledger has no checkpoint."));
    };
    let mut said = Said::default();
    // What lies behind the durable end was never acknowledged.
    for (leaf, bytes, body) in telling.iter().filter(|(leaf, ..)| leaf.seq <= checkpoint.size) {
        said.take(leaf, bytes, body);
    }
    Ok(Extent { checkpoint, end, removed: said.removed, disposed: said.disposed })
}

/// Kinds that stand in the open and tell what is gone, or who may say so.
const TELLING: [&str; 4] = ["keys", "file-kept", "file-removed", "chart-disposed"];

/// What entries say in the open of files and charts, judged by the keys that were listed before them.
#[derive(Default)]
struct Said {
    book: KeyBook,
    removed: BTreeSet<String>,
    disposed: BTreeSet<String>,
}

impl Said {
    /// Takes in an entry. An order to destroy a chart that two people did not sign is none: whoever can add an entry
    /// alone can't have a safe copy lose a chart's keys.
    fn take(&mut self, leaf: &Leaf, bytes: &[u8], body: &[u8]) -> Option<()> {
        let record = Record::from_bytes(&Body::from_bytes(body)?.record).ok()?;
        let note = Note::parse(bytes).ok()?;
        match record.read_data().ok()? {
            Data::Keys(keys) => {
                self.book.take_signed(leaf.seq, &note, &leaf.author, leaf.written.local_date(), &keys)?;
            }
            Data::FileKept(kept) => drop(self.removed.remove(&kept.sealed_digest)),
            Data::FileRemoved(gone) => drop(self.removed.insert(gone.sealed_digest.clone())),
            Data::ChartDisposed(order)
                if order.state == DisposalState::Ordered && self.book.hands(&note).len() >= 2 =>
            {
                self.disposed.insert(order.chart);
            }
            _ => {}
        }
        Some(())
    }
}

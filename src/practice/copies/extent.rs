//! How far a ledger reaches, and what it says itself of sealed files and charts that are gone. The one place
//! here that looks at every entry.

use crate::ledger::checkpoint::Checkpoint;
use crate::ledger::leaf::Leaf;
use crate::ledger::scan::{EntryAt, Scan, scan_and_keep_hashes};
use crate::ledger::segment::Place as At;
use crate::practice::place::Place;
use crate::record::envelope::Record;
use crate::record::kinds::Data;
use crate::seal::body::Body;
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
    /// Tags of the charts with an entry of disposal.
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

/// Reads the ledger of a store, checks it with every signature of its checkpoints, and hands each entry on.
///
/// # Errors
/// When anything in it is damaged: a copy of it, over a good one, would help nobody.
pub(super) fn walk(
    disk: &dyn Disk,
    root: &Path,
    place: &Place,
    progress: &mut dyn FnMut(u64),
    each: &mut dyn FnMut(&EntryAt, &Leaf, &[u8]),
) -> Outcome<Scan> {
    let dir = root.join("ledger");
    let read = scan_and_keep_hashes(disk, &dir, &place.key, true, progress, &mut |at, leaf, _, body| {
        each(at, leaf, body);
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
    let mut said: Vec<(u64, Said)> = Vec::new();
    let scan = walk(disk, &place.root, place, progress, &mut |at, leaf, body| {
        said.extend(Said::of(leaf, body).map(|said| (at.seq, said)));
    })?;
    let (Some((checkpoint, _)), Some(end)) = (scan.checkpoint, scan.end) else {
        return Err(Trouble::damaged("The ledger has no checkpoint."));
    };
    let (mut removed, mut disposed) = (BTreeSet::new(), BTreeSet::new());
    for (_, said) in said.into_iter().filter(|(seq, _)| *seq <= checkpoint.size) {
        match said {
            Said::Kept(digest) => drop(removed.remove(&digest)),
            Said::Removed(digest) => drop(removed.insert(digest)),
            Said::Disposed(tag) => drop(disposed.insert(tag)),
        }
    }
    Ok(Extent { checkpoint, end, removed, disposed })
}

/// What an entry says in the open of files and charts.
enum Said {
    Kept(String),
    Removed(String),
    Disposed(String),
}

impl Said {
    fn of(leaf: &Leaf, body: &[u8]) -> Option<Said> {
        match leaf.kind.as_str() {
            "disposal" => leaf.chart.clone().map(Said::Disposed),
            "file-kept" | "file-removed" => {
                let body = Body::from_bytes(body)?;
                match Record::from_bytes(&body.record).ok()?.read_data().ok()? {
                    Data::FileKept(kept) => Some(Said::Kept(kept.sealed_digest.clone())),
                    Data::FileRemoved(gone) => Some(Said::Removed(gone.sealed_digest.clone())),
                    _ => None,
                }
            }
            _ => None,
        }
    }
}

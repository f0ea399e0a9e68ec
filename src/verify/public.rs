//! The leaves of a ledger in a folder that any client of transparency logs can read and check, as C2SP
//! tlog-tiles lays it out (<https://c2sp.org/tlog-tiles>): `checkpoint`, tiles of hashes, tiles of leaves.
//! No body, no file and no key goes into it.
//!
//! What lies in the folder already is kept: it must be the beginning of this ledger, shown by a consistency
//! proof against the checkpoint there, and byte for byte by each tile. Only what is new is written, the
//! checkpoint last, so that a reader never sees one whose tiles are not there.

use crate::ledger::checkpoint::Checkpoint;
use crate::ledger::scan::{Scan, scan_and_keep_hashes};
use crate::ledger::tiles::{self, Tile, WIDTH};
use crate::ledger::tree::{Hash, LeafHashes, consistency_proof, leaf_hash, verify_consistency};
use crate::seal::note::Verifier;
use crate::trouble::{Kind, Outcome, Trouble};
use crate::world::{Disk, folder_of, is_there};
use std::path::{Path, PathBuf};

/// Name of the checkpoint in the folder.
const CHECKPOINT: &str = "checkpoint";

/// What became of the folder.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Written {
    /// Leaves that were in it before.
    pub before: u64,
    /// Leaves in it now.
    pub leaves: u64,
    /// Files that are new in it; the checkpoint is not counted.
    pub files: u64,
}

/// Opens an earlier checkpoint of this ledger.
///
/// # Errors
/// When it can't be read, or is none of this ledger.
pub fn earlier(disk: &dyn Disk, path: &Path, key: &Verifier) -> Outcome<Checkpoint> {
    let bytes = disk.read(path).map_err(|e| {
        Trouble::input(
            format!("Could not read {}: {e}.", path.display()),
            "Check the path, then do it again.",
        )
    })?;
    Checkpoint::open(&bytes, key).map_err(|error| {
        Trouble::new(
            Kind::Refused,
            format!("{} holds no checkpoint of this ledger: {error}.", path.display()),
            "Nothing was written.",
            "Name another file or folder, or find out whose it is.",
        )
    })
}

/// Whether these leaves continue the tree of an earlier checkpoint, shown by a consistency proof.
pub fn continues(leaves: &[Hash], newest: &Checkpoint, earlier: &Checkpoint) -> bool {
    if earlier.size == 0 {
        return earlier.root == crate::ledger::tree::empty_root();
    }
    let proof = consistency_proof(earlier.size, newest.size, &LeafHashes(leaves));
    proof.is_ok_and(|proof| {
        verify_consistency(earlier.size, newest.size, &earlier.root, &newest.root, &proof).is_ok()
    })
}

/// Says that what was kept is not the beginning of this ledger.
pub fn not_the_beginning(path: &Path, earlier: &Checkpoint) -> Trouble {
    Trouble::new(
        Kind::Refused,
        format!(
            "{} is over {} entries that are not the beginning of this ledger: either of them was cut or rewritten.",
            path.display(),
            earlier.size
        ),
        "Nothing was written; what lies there is evidence.",
        "Keep both as they are, and run `inkfast verify --slip` with that checkpoint.",
    )
}

/// Writes the leaves of a ledger that was checked just before into `dir`.
///
/// # Errors
/// When what lies in the folder is not the beginning of this ledger, or is something else; nothing is
/// overwritten then. When the disk fails, what was written is kept, and the checkpoint is still the old one.
pub fn write(disk: &dyn Disk, ledger: &Path, key: &Verifier, dir: &Path) -> Outcome<Written> {
    let read = scan_and_keep_hashes(disk, ledger, key, true, &mut |_| (), &mut |_, _, _, _| Ok(()))?;
    let read = read.ok_or_else(|| Trouble::damaged("A checkpoint's signature does not hold."))?;
    let (newest, note) =
        read.checkpoint.as_ref().ok_or_else(|| Trouble::damaged("The ledger has no checkpoint."))?;
    let leaves = &read.hashes;
    let before = look(disk, dir, key, newest, leaves)?;
    let mut folder = Folder { disk, dir, files: 0 };
    for (tile, bytes) in tiles::build(leaves) {
        folder.put(&tile.to_string(), &bytes)?;
    }
    leaf_tiles(&mut folder, ledger, key, &read)?;
    let path = dir.join(CHECKPOINT);
    if before < newest.size || !is_there(disk, &path)? {
        disk.put(&path, note).map_err(|e| Trouble::disk("write", &path, &e))?;
    }
    Ok(Written { before, leaves: newest.size, files: folder.files })
}

/// Looks at what lies in the folder; how many leaves its checkpoint is over.
fn look(disk: &dyn Disk, dir: &Path, key: &Verifier, newest: &Checkpoint, leaves: &[Hash]) -> Outcome<u64> {
    if !is_there(disk, dir)? {
        return Ok(0);
    }
    let names = disk.list(dir).map_err(|e| Trouble::disk("read the folder", dir, &e))?;
    let strange = names.iter().find(|n| *n != CHECKPOINT && *n != "tile" && !n.ends_with(".part"));
    if let Some(name) = strange {
        return Err(Trouble::new(
            Kind::Refused,
            format!("{} holds {name:?}, which is no part of such a folder.", dir.display()),
            "Nothing was written.",
            "Name a new folder, or one that this command wrote.",
        ));
    }
    let path = dir.join(CHECKPOINT);
    if !is_there(disk, &path)? {
        return Ok(0);
    }
    let old = earlier(disk, &path, key)?;
    if !continues(leaves, newest, &old) {
        return Err(not_the_beginning(&path, &old));
    }
    Ok(old.size)
}

/// Writes the tiles of leaves, 256 at a time: each leaf behind its length as two bytes, big-endian.
fn leaf_tiles(folder: &mut Folder<'_>, ledger: &Path, key: &Verifier, read: &Scan) -> Outcome<()> {
    let (size, mut upto) = (read.size(), 0);
    let (mut bytes, mut width, mut index) = (Vec::new(), 0u16, 0u64);
    scan_and_keep_hashes(folder.disk, ledger, key, true, &mut |_| (), &mut |at, _, leaf, _| {
        let known = at.seq.checked_sub(1).and_then(|i| read.hashes.get(i as usize));
        if at.seq > size {
            return Ok(());
        }
        let length =
            u16::try_from(leaf.len()).ok().filter(|_| known.is_some_and(|known| *known == leaf_hash(leaf)));
        let length = length.ok_or_else(|| Trouble::damaged("A leaf changed while it was read."))?;
        bytes.extend_from_slice(&length.to_be_bytes());
        bytes.extend_from_slice(leaf);
        (width, upto) = (width + 1, at.seq);
        if width == WIDTH || at.seq == size {
            let place = Tile { level: 0, index, width }.to_string().replacen("tile/0/", "tile/entries/", 1);
            folder.put(&place, &bytes)?;
            bytes.clear();
            (width, index) = (0, index + 1);
        }
        Ok(())
    })?;
    match upto == size {
        true => Ok(()),
        false => Err(Trouble::damaged("The ledger became shorter while it was read.")),
    }
}

/// The folder that is written to.
struct Folder<'a> {
    disk: &'a dyn Disk,
    dir: &'a Path,
    files: u64,
}

impl Folder<'_> {
    /// Writes a file unless it is there; one with other bytes is never overwritten.
    fn put(&mut self, place: &str, bytes: &[u8]) -> Outcome<()> {
        let path: PathBuf = self.dir.join(place);
        if is_there(self.disk, &path)? {
            let there = self.disk.read(&path).map_err(|e| Trouble::disk("read", &path, &e))?;
            return match there == bytes {
                true => Ok(()),
                false => Err(Trouble::new(
                    Kind::Refused,
                    format!("{} holds other bytes than this ledger has there.", path.display()),
                    "It was not overwritten; what lies there is evidence.",
                    "Keep it as it is, and write into a new folder.",
                )),
            };
        }
        let folder = folder_of(&path);
        self.disk.create_dirs(folder).map_err(|e| Trouble::disk("create the folder", folder, &e))?;
        self.disk.put(&path, bytes).map_err(|e| Trouble::disk("write", &path, &e))?;
        self.files += 1;
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ledger::tree::{empty_root, root};

    #[test]
    fn leaves_continue_only_their_own_beginning() {
        let leaves: Vec<Hash> = (0..9u8).map(|n| leaf_hash(&[n])).collect();
        let over = |size: usize| Checkpoint {
            origin: "ledger-x".into(),
            size: size as u64,
            root: if size == 0 { empty_root() } else { root(&leaves[..size]) },
        };
        for size in 0..=9 {
            assert!(continues(&leaves, &over(9), &over(size)), "{size}");
            let other = Checkpoint { root: [7; 32], ..over(size) };
            assert!(!continues(&leaves, &over(9), &other), "{size}");
        }
        assert!(!continues(&leaves[..8], &over(8), &over(9)), "more than there are");
    }
}

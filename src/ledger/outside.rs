//! The copy of the newest checkpoint kept outside the store folder.
//!
//! A restored backup or a cut tail is a ledger that is sound in itself but shorter than it was.
//! Only something kept elsewhere can tell. Two files are written in turn, so that one that is
//! torn by a power cut leaves the one before it; neither is synced, because a copy that is one
//! step behind does no harm.

use super::checkpoint::Checkpoint;
use crate::seal::note::Verifier;
use crate::trouble::{Outcome, Trouble};
use crate::world::{Disk, beside};
use std::path::{Path, PathBuf};

/// What the outside copy says.
#[derive(Debug, Clone)]
pub enum Outside {
    /// There is none: a new machine, or it was removed.
    Missing,
    /// There are files, but none holds a checkpoint of this ledger.
    Unreadable,
    /// The newest checkpoint kept there, and its bytes.
    Newest(Checkpoint, Vec<u8>),
}

fn slot(dir: &Path, origin: &str, size: u64) -> PathBuf {
    dir.join(format!("{origin}.{}.checkpoint", size % 2))
}

/// Reads the newest checkpoint kept outside.
pub fn read(disk: &dyn Disk, dir: &Path, key: &Verifier) -> Outside {
    let mut found = Outside::Missing;
    for parity in 0..2 {
        let Ok(bytes) = disk.read(&slot(dir, key.name(), parity)) else { continue };
        match Checkpoint::open(&bytes, key) {
            Ok(checkpoint) => {
                let newer = match &found {
                    Outside::Newest(best, _) => checkpoint.size > best.size,
                    _ => true,
                };
                if newer {
                    found = Outside::Newest(checkpoint, bytes);
                }
            }
            Err(_) if matches!(found, Outside::Missing) => found = Outside::Unreadable,
            Err(_) => {}
        }
    }
    found
}

/// Gives every copy that vouches for more than the first `from` entries another name, in which it stays
/// as evidence: the ledger goes on from there, and the owner has said why.
pub fn supersede(disk: &dyn Disk, dir: &Path, key: &Verifier, from: u64) -> Outcome<()> {
    for parity in 0..2 {
        let path = slot(dir, key.name(), parity);
        let Ok(bytes) = disk.read(&path) else { continue };
        let Ok(kept) = Checkpoint::open(&bytes, key) else { continue };
        if kept.size > from {
            let named = dir.join(format!("{}.lost-{}.checkpoint", key.name(), kept.size));
            disk.rename(&path, &named)
                .map_err(|e| Trouble::disk("set aside the newer checkpoint in", dir, &e))?;
        }
    }
    Ok(())
}

/// Replaces the older of the two copies.
pub fn write(disk: &dyn Disk, dir: &Path, origin: &str, size: u64, note: &[u8]) -> Outcome<()> {
    let path = slot(dir, origin, size);
    let doing = |e: std::io::Error| Trouble::disk("keep a copy of the newest checkpoint in", dir, &e);
    // Written over where it is as long: it lies in one sector, and the other copy stays as it is. A renamed file
    // would be flushed by some file systems, which takes as long as the sync of the entries.
    if let Ok(file) = disk.open(&path, true)
        && file.len().is_ok_and(|len| len == note.len() as u64)
    {
        return file.write_at(note, 0).map_err(doing);
    }
    let part = beside(&path);
    if !disk.exists(dir) {
        disk.create_dirs(dir).map_err(doing)?;
    }
    if disk.exists(&part) {
        disk.remove(&part).map_err(doing)?;
    }
    let file = disk.create(&part).map_err(doing)?;
    file.write_at(note, 0).map_err(doing)?;
    disk.rename(&part, &path).map_err(doing)
}

//! The copy of the newest checkpoint kept outside the store folder.
//!
//! A restored backup or a cut tail is a ledger that is sound in itself but shorter than it was.
//! Only something kept elsewhere can tell. Two files are written in turn, so that one that is
//! torn by a power cut leaves the one before it; neither is synced, because a copy that is one
//! step behind does no harm.

use super::checkpoint::Checkpoint;
use crate::seal::note::Verifier;
use crate::trouble::{Outcome, Trouble};
use crate::world::{Disk, DiskFile};
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

fn slip_file(dir: &Path, origin: &str) -> PathBuf {
    dir.join(format!("{origin}.slip"))
}

/// The first line of a kept slip.
const SLIP: &str = "inkfast-slip/v1";

/// Keeps a slip that vouches for more entries than a restored copy has, so that writing is refused as behind any
/// newer checkpoint. `code` is the beginning of the root in base32.
pub fn keep_slip(disk: &dyn Disk, dir: &Path, origin: &str, size: u64, code: &str) -> Outcome<()> {
    let path = slip_file(dir, origin);
    let text = format!("{SLIP}\n{origin}\n{size}\n{code}\n");
    let put = disk.create_dirs(dir).and_then(|()| disk.put(&path, text.as_bytes()));
    put.map_err(|e| Trouble::disk("keep the slip in", dir, &e))
}

/// The kept slip: its number, and the beginning of the root in base32.
pub fn slip(disk: &dyn Disk, dir: &Path, origin: &str) -> Option<(u64, String)> {
    let text = String::from_utf8(disk.read(&slip_file(dir, origin)).ok()?).ok()?;
    let lines: Vec<&str> = text.lines().collect();
    let [SLIP, of, size, code] = lines[..] else { return None };
    let whole = of == origin && code.len() >= 20;
    whole.then(|| Some((size.parse().ok()?, code.to_string()))).flatten()
}

/// Gives the kept slip another name: it stays as evidence, and vouches for nothing any more.
pub fn set_slip_aside(disk: &dyn Disk, dir: &Path, origin: &str, why: &str) -> Outcome<()> {
    let named = dir.join(format!("{origin}.{why}.slip"));
    disk.rename(&slip_file(dir, origin), &named)
        .map_err(|e| Trouble::disk("set aside the kept slip in", dir, &e))
}

/// Reads the newest checkpoint kept outside. A kept slip that vouches for more counts as one that is ahead, with
/// as much of its root as a slip has.
pub fn read(disk: &dyn Disk, dir: &Path, key: &Verifier) -> Outside {
    let found = read_checkpoints(disk, dir, key);
    let Some((size, code)) = slip(disk, dir, key.name()) else { return found };
    if matches!(&found, Outside::Newest(best, _) if best.size >= size) {
        return found;
    }
    let mut root = [0u8; 32];
    // 20 letters of 5 bits are 12 whole bytes and a half.
    let known = data_encoding::BASE32_NOPAD.decode(code.get(..16).unwrap_or_default().as_bytes());
    root.iter_mut().zip(known.unwrap_or_default()).for_each(|(to, from)| *to = from);
    Outside::Newest(Checkpoint { origin: key.name().to_string(), size, root }, Vec::new())
}

/// Reads the newest checkpoint kept outside, and no slip.
pub fn read_checkpoints(disk: &dyn Disk, dir: &Path, key: &Verifier) -> Outside {
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

/// The first line of the note that copies are lost.
const LOST: &str = "inkfast-lost/v1";
/// The kind of entry in which the owner says why the ledger goes on from an older copy.
pub const EXPLAINS: &str = "behind-outside-copy";

fn lost_file(dir: &Path, origin: &str) -> PathBuf {
    dir.join(format!("{origin}.lost"))
}

/// Notes which copies vouch for more than the first `from` entries, before the entry is written that says why they
/// are lost. Otherwise a program that ends between that entry and [`supersede`] leaves a ledger that seems
/// rewritten: it is as long as such a copy says, and other entries stand in it.
pub fn note_lost(disk: &dyn Disk, dir: &Path, key: &Verifier, from: u64) -> Outcome<()> {
    let mut text = format!("{LOST}\n{}\n{from}\n", key.name());
    for parity in 0..2 {
        let kept = disk.read(&slot(dir, key.name(), parity)).ok();
        if let Some(kept) = kept.and_then(|bytes| Checkpoint::open(&bytes, key).ok())
            && kept.size > from
        {
            text += &format!("{} {}\n", kept.size, code(&kept.root));
        }
    }
    if let Some((size, code)) = slip(disk, dir, key.name()).filter(|(size, _)| *size > from) {
        text += &format!("{size} {code}\n");
    }
    disk.put(&lost_file(dir, key.name()), text.as_bytes())
        .map_err(|e| Trouble::disk("note which checkpoints are lost in", dir, &e))
}

/// From how many entries the ledger went on, where this copy (its size, and its root in base32 or the beginning of
/// it) is noted as lost. That counts only when the entry behind those is one that [`EXPLAINS`].
pub fn lost_from(disk: &dyn Disk, dir: &Path, origin: &str, size: u64, code: &str) -> Option<u64> {
    let text = String::from_utf8(disk.read(&lost_file(dir, origin)).ok()?).ok()?;
    let (head, lost) = text.split_at(text.match_indices('\n').nth(2)?.0);
    let [LOST, of, from] = head.lines().collect::<Vec<_>>()[..] else { return None };
    // As much of a root as a slip keeps in [`read`].
    let begins = format!("{size} {}", code.get(..16)?);
    (of == origin && lost.lines().any(|line| line.starts_with(&begins))).then(|| from.parse().ok()).flatten()
}

/// A root as it stands in slips and notes.
pub fn code(root: &[u8; 32]) -> String {
    data_encoding::BASE32_NOPAD.encode(root)
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
    if let Some((size, _)) = slip(disk, dir, key.name())
        && size > from
    {
        set_slip_aside(disk, dir, key.name(), &format!("lost-{size}"))?;
    }
    let note = lost_file(dir, key.name());
    if disk.exists(&note) {
        disk.remove(&note).map_err(|e| Trouble::disk("remove", &note, &e))?;
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
        && is_as_long(&*file, note.len())
    {
        return file.write_at(note, 0).map_err(doing);
    }
    if !disk.exists(dir) {
        disk.create_dirs(dir).map_err(doing)?;
    }
    disk.put_unsynced(&path, note).map_err(doing)
}

/// True when a file has this many bytes. Found by reading: since Linux 6.13 asking for a file's length asks for its
/// times too, and makes the next write keep a time of its own, which costs half as much as the sync of the entries.
fn is_as_long(file: &dyn DiskFile, len: usize) -> bool {
    let whole = file.read_at(&mut vec![0; len], 0);
    let ends = |e: std::io::Error| e.kind() == std::io::ErrorKind::UnexpectedEof;
    whole.is_ok() && file.read_at(&mut [0], len as u64).is_err_and(ends)
}

//! Files of a store as they travel: what may have which name, and moving one so that the old or the new is there.

use crate::ledger::segment;
use crate::seal::body::unhex32;
use crate::trouble::{Kind, Outcome, Trouble};
use crate::world::{Disk, DiskFile, beside, folder_of};
use std::io;
use std::path::{Path, PathBuf};

/// How much of a file is in memory at a time.
const PIECE: usize = 1 << 20;

/// Folders whose files may be replaced by newer ones of the same name: what others signed, and what was set aside.
pub(super) const BESIDE: [&str; 3] = ["witnesses", "stamps", "set-aside"];

/// A copy could not be read or written.
pub(super) fn failed(path: &Path, error: &io::Error) -> Trouble {
    Trouble::new(
        Kind::Disk,
        format!("Copying stopped at {}: {error}.", path.display()),
        "What it is copied from was only read. What was there of the copy before is still there; the copy is \
         sound as far as it goes.",
        "Look whether there is room, and whether the stick was pulled out; then run the same command again. It \
         goes on where it stopped.",
    )
}

/// Where a path leads, whether there is something or not: the part that exists by its real name, the rest as it is.
pub fn real(path: &Path) -> PathBuf {
    let whole = std::path::absolute(path).unwrap_or_else(|_| path.to_path_buf());
    let found = whole.ancestors().find_map(|part| Some((part, part.canonicalize().ok()?)));
    let rest = found.and_then(|(part, real)| Some(real.join(whole.strip_prefix(part).ok()?)));
    rest.unwrap_or(whole)
}

/// Names in a folder, without those that were being written; none where there is no folder.
pub(super) fn names(disk: &dyn Disk, dir: &Path) -> Outcome<Vec<String>> {
    if !there(disk, dir)? {
        return Ok(Vec::new());
    }
    let names = disk.list(dir).map_err(|e| failed(dir, &e))?;
    Ok(names.into_iter().filter(|name| plain(name)).collect())
}

/// True for a name that leads nowhere else, and is no file that was being written.
fn plain(name: &str) -> bool {
    !name.is_empty()
        && !name.starts_with('.')
        && !name.ends_with(".part")
        && name.bytes().all(|b| b.is_ascii_alphanumeric() || b"-_.".contains(&b))
}

/// Numbers of the segments in a ledger folder, in order.
pub(super) fn segments(disk: &dyn Disk, root: &Path) -> Outcome<Vec<u32>> {
    let names = names(disk, &root.join("ledger"))?;
    Ok(names.iter().filter_map(|name| segment::number_of(name)).collect())
}

/// The sealed files below `files/`, as paths relative to the store, with the digest that each is named by.
pub(super) fn sealed(disk: &dyn Disk, root: &Path) -> Outcome<Vec<(PathBuf, String)>> {
    let mut found = Vec::new();
    for folder in names(disk, &root.join("files"))?.into_iter().filter(|name| name.len() == 2) {
        let below = Path::new("files").join(&folder);
        for name in names(disk, &root.join(&below))? {
            let digest = name.strip_suffix(".age").filter(|d| unhex32(d).is_some() && d.starts_with(&folder));
            if let Some(digest) = digest.map(str::to_string) {
                found.push((below.join(name), digest));
            }
        }
    }
    Ok(found)
}

/// Writes a whole file, in a folder that may not be there yet. Returns its length.
pub(super) fn put(disk: &dyn Disk, path: &Path, bytes: &[u8]) -> Outcome<u64> {
    folders(disk, path).and_then(|()| disk.put(path, bytes)).map_err(|e| failed(path, &e))?;
    Ok(bytes.len() as u64)
}

/// Makes the folder of a file, so that its own name is on the disk too.
fn folders(disk: &dyn Disk, path: &Path) -> io::Result<()> {
    let folder = folder_of(path);
    if disk.there(folder)? {
        return Ok(());
    }
    disk.create_dirs(folder)?;
    disk.sync_dir(folder_of(folder))
}

/// Whether something has this path.
pub(super) fn there(disk: &dyn Disk, path: &Path) -> Outcome<bool> {
    disk.there(path).map_err(|e| failed(path, &e))
}

/// True when both files have the same bytes.
pub(super) fn same(disk: &dyn Disk, one: &Path, other: &Path) -> Outcome<bool> {
    let read = |path: &Path| disk.read(path).map_err(|e| failed(path, &e));
    Ok(read(one)? == read(other)?)
}

/// Length of a file.
pub(super) fn length(disk: &dyn Disk, path: &Path) -> Outcome<u64> {
    disk.open(path, false).and_then(|file| file.len()).map_err(|e| failed(path, &e))
}

/// Copies a file of any length, a piece at a time: written beside its place, synced, renamed, the folder synced.
/// Where `digest` is given (BLAKE3, hex) and the bytes are others, nothing gets the name. Returns the length, or
/// none for other bytes.
pub(super) fn stream(disk: &dyn Disk, from: &Path, to: &Path, digest: Option<&str>) -> Outcome<Option<u64>> {
    let part = beside(to);
    let stop = |e: io::Error| failed(to, &e);
    folders(disk, to).map_err(stop)?;
    disk.clear(&part).map_err(stop)?;
    let source = disk.open(from, false).map_err(|e| failed(from, &e))?;
    let target = disk.create(&part).map_err(stop)?;
    let (len, hash) = pour(&*source, from, &*target, to)?;
    if digest.is_some_and(|digest| hash.to_hex().as_str() != digest) {
        disk.remove(&part).map_err(stop)?;
        return Ok(None);
    }
    target
        .sync()
        .and_then(|()| disk.rename(&part, to))
        .and_then(|()| disk.sync_dir(folder_of(to)))
        .map_err(stop)?;
    Ok(Some(len))
}

fn pour(
    source: &dyn DiskFile,
    from: &Path,
    target: &dyn DiskFile,
    to: &Path,
) -> Outcome<(u64, blake3::Hash)> {
    let len = source.len().map_err(|e| failed(from, &e))?;
    let mut hasher = blake3::Hasher::new();
    let mut piece = vec![0u8; PIECE.min(len as usize)];
    let mut at = 0;
    while at < len {
        let size = (len - at).min(piece.len() as u64) as usize;
        source.read_at(&mut piece[..size], at).map_err(|e| failed(from, &e))?;
        target.write_at(&piece[..size], at).map_err(|e| failed(to, &e))?;
        hasher.update(&piece[..size]);
        at += size as u64;
    }
    Ok((len, hasher.finalize()))
}

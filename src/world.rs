//! The three seams to the outside: the disk, the clock and random numbers. Everything the
//! program does to a file, every time it reads and every secret it makes goes through here,
//! so that tests can own them.

use crate::record::moment::Moment;
use crate::trouble::{Kind, Outcome, Trouble};
use std::fs::{self, File, OpenOptions};
use std::io;
use std::os::unix::fs::{FileExt, OpenOptionsExt};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};

/// An open file. Reads and writes name their place; nothing has a cursor.
pub trait DiskFile: Send + Sync {
    /// Fills `buf` from `offset`; an early end is an error.
    fn read_at(&self, buf: &mut [u8], offset: u64) -> io::Result<()>;
    /// Writes all of `bytes` at `offset`.
    fn write_at(&self, bytes: &[u8], offset: u64) -> io::Result<()>;
    /// Returns only when the bytes written so far are on the disk.
    fn sync(&self) -> io::Result<()>;
    /// Length in bytes.
    fn len(&self) -> io::Result<u64>;
    /// True when the file has no bytes.
    fn is_empty(&self) -> io::Result<bool> {
        Ok(self.len()? == 0)
    }
}

/// The file system as far as the store needs it.
pub trait Disk: Send + Sync {
    /// Opens an existing file, for writing too when asked.
    fn open(&self, path: &Path, write: bool) -> io::Result<Box<dyn DiskFile>>;
    /// Creates a new file; one that exists already is an error. Readable by its owner only.
    fn create(&self, path: &Path) -> io::Result<Box<dyn DiskFile>>;
    /// The whole file.
    fn read(&self, path: &Path) -> io::Result<Vec<u8>>;
    /// Renames within one file system, replacing what is there.
    fn rename(&self, from: &Path, to: &Path) -> io::Result<()>;
    /// Removes a file.
    fn remove(&self, path: &Path) -> io::Result<()>;
    /// Creates a folder and its parents; one that exists is fine.
    fn create_dirs(&self, path: &Path) -> io::Result<()>;
    /// Returns only when the names in this folder are on the disk.
    fn sync_dir(&self, path: &Path) -> io::Result<()>;
    /// The names in a folder, sorted.
    fn list(&self, path: &Path) -> io::Result<Vec<String>>;
    /// Whether something has this path. An error when that can't be told: what is there is never taken for missing.
    fn there(&self, path: &Path) -> io::Result<bool>;

    /// Removes a file that may be there, such as one whose writing was cut off.
    fn clear(&self, path: &Path) -> io::Result<()> {
        match self.remove(path) {
            Err(e) if e.kind() == io::ErrorKind::NotFound => Ok(()),
            done => done,
        }
    }

    /// Writes a whole file so that after a power cut either the old or the new one is there:
    /// beside it, synced, renamed over it, the folder synced.
    fn put(&self, path: &Path, bytes: &[u8]) -> io::Result<()> {
        let beside = beside(path);
        self.written_beside(path, bytes)?.sync()?;
        self.rename(&beside, path)?;
        self.sync_dir(folder_of(path))
    }

    /// As [`Disk::put`] without waiting for the disk, for what may be lost: after a power cut anything may be there.
    fn put_unsynced(&self, path: &Path, bytes: &[u8]) -> io::Result<()> {
        self.written_beside(path, bytes)?;
        self.rename(&beside(path), path)
    }

    /// A whole file under the name it has while it is being written.
    fn written_beside(&self, path: &Path, bytes: &[u8]) -> io::Result<Box<dyn DiskFile>> {
        let beside = beside(path);
        self.clear(&beside)?;
        let file = self.create(&beside)?;
        file.write_at(bytes, 0)?;
        Ok(file)
    }
}

/// [`Disk::there`], with what to tell people where it can't be told.
///
/// # Errors
/// When the disk fails.
pub fn is_there(disk: &dyn Disk, path: &Path) -> Outcome<bool> {
    disk.there(path).map_err(|e| Trouble::disk("look for", path, &e))
}

/// Refuses to write over what has this path; `safe` and `next` are for [`Trouble::new`].
///
/// # Errors
/// [`Kind::Refused`] when something has the path; when the disk fails.
pub fn must_be_new(disk: &dyn Disk, path: &Path, safe: &str, next: &str) -> Outcome<()> {
    match is_there(disk, path)? {
        false => Ok(()),
        true => Err(Trouble::new(Kind::Refused, format!("{} exists already.", path.display()), safe, next)),
    }
}

/// The folder a path lies in; the current folder for a bare name.
pub fn folder_of(path: &Path) -> &Path {
    match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    }
}

/// The name a file has while it is being written.
pub fn beside(path: &Path) -> PathBuf {
    let mut name = path.file_name().unwrap_or_default().to_os_string();
    name.push(".part");
    path.with_file_name(name)
}

/// The real disk.
#[derive(Debug, Clone, Copy, Default)]
pub struct RealDisk;

/// Bytes written by one call. What is written at once is kept at once in the memory of Linux, up to 2 MiB, and every
/// later write into such a stretch looks at all its blocks, as often as it is synced too: of a segment written in one
/// piece, that is 14 of some 260 microseconds that an append takes (measured on Linux 6.18).
const PIECE: usize = 128 << 10;

impl DiskFile for File {
    fn read_at(&self, buf: &mut [u8], offset: u64) -> io::Result<()> {
        FileExt::read_exact_at(self, buf, offset)
    }
    fn write_at(&self, bytes: &[u8], offset: u64) -> io::Result<()> {
        let mut pieces = bytes.chunks(PIECE).enumerate();
        pieces.try_for_each(|(n, piece)| self.write_all_at(piece, offset + (n * PIECE) as u64))
    }
    fn sync(&self) -> io::Result<()> {
        self.sync_data()
    }
    fn len(&self) -> io::Result<u64> {
        Ok(self.metadata()?.len())
    }
}

impl Disk for RealDisk {
    fn open(&self, path: &Path, write: bool) -> io::Result<Box<dyn DiskFile>> {
        Ok(Box::new(OpenOptions::new().read(true).write(write).open(path)?))
    }
    fn create(&self, path: &Path) -> io::Result<Box<dyn DiskFile>> {
        Ok(Box::new(OpenOptions::new().read(true).write(true).create_new(true).mode(0o600).open(path)?))
    }
    fn read(&self, path: &Path) -> io::Result<Vec<u8>> {
        fs::read(path)
    }
    fn rename(&self, from: &Path, to: &Path) -> io::Result<()> {
        fs::rename(from, to)
    }
    fn remove(&self, path: &Path) -> io::Result<()> {
        fs::remove_file(path)
    }
    fn create_dirs(&self, path: &Path) -> io::Result<()> {
        use std::os::unix::fs::DirBuilderExt;
        fs::DirBuilder::new().recursive(true).mode(0o700).create(path)
    }
    fn sync_dir(&self, path: &Path) -> io::Result<()> {
        File::open(path)?.sync_all()
    }
    fn list(&self, path: &Path) -> io::Result<Vec<String>> {
        let mut names: Vec<String> = fs::read_dir(path)?
            .map(|e| e.map(|e| e.file_name().to_string_lossy().into_owned()))
            .collect::<Result<_, _>>()?;
        names.sort();
        Ok(names)
    }
    fn there(&self, path: &Path) -> io::Result<bool> {
        match path.symlink_metadata() {
            Ok(_) => Ok(true),
            Err(e) if matches!(e.kind(), io::ErrorKind::NotFound | io::ErrorKind::NotADirectory) => Ok(false),
            Err(e) => Err(e),
        }
    }
}

/// Reads the time.
pub trait Clock: Send + Sync {
    /// Now, with the local offset.
    fn now(&self) -> Moment;
}

/// The computer's clock and time zone.
#[derive(Debug, Clone, Copy, Default)]
pub struct SystemClock;

impl Clock for SystemClock {
    fn now(&self) -> Moment {
        let zoned = jiff::ZonedDateTime::now();
        let offset = zoned.offset().seconds() / 60 * 60;
        Moment::from_unix(zoned.timestamp().as_second(), offset).unwrap_or(Moment::EPOCH)
    }
}

/// A clock that shows what it was last set to: for the demo's scripted past and for tests.
#[derive(Debug)]
pub struct SetClock(Mutex<Moment>);

impl SetClock {
    /// A clock that shows `now` until it is set again.
    pub fn new(now: Moment) -> Self {
        SetClock(Mutex::new(now))
    }
    /// Sets the clock, forwards or backwards.
    pub fn set(&self, now: Moment) {
        *self.0.lock().unwrap_or_else(std::sync::PoisonError::into_inner) = now;
    }
}

impl Clock for SetClock {
    fn now(&self) -> Moment {
        *self.0.lock().unwrap_or_else(std::sync::PoisonError::into_inner)
    }
}

/// Makes random bytes fit for secrets.
pub trait Random: Send + Sync {
    /// Fills the buffer.
    fn fill(&self, buf: &mut [u8]) -> io::Result<()>;
}

/// The operating system's random numbers.
#[derive(Debug, Clone, Copy, Default)]
pub struct SystemRandom;

impl Random for SystemRandom {
    fn fill(&self, buf: &mut [u8]) -> io::Result<()> {
        getrandom::fill(buf).map_err(|e| io::Error::other(format!("the system gives no random numbers: {e}")))
    }
}

/// All seams together.
#[derive(Clone)]
pub struct World {
    /// The file system.
    pub disk: Arc<dyn Disk>,
    /// The time.
    pub clock: Arc<dyn Clock>,
    /// Random bytes.
    pub random: Arc<dyn Random>,
}

impl World {
    /// The real computer.
    pub fn real() -> World {
        World { disk: Arc::new(RealDisk), clock: Arc::new(SystemClock), random: Arc::new(SystemRandom) }
    }

    /// The real computer with another clock.
    pub fn with_clock(clock: Arc<dyn Clock>) -> World {
        World { clock, ..World::real() }
    }

    /// Thirty-two random bytes.
    pub fn random32(&self) -> io::Result<[u8; 32]> {
        let mut bytes = [0u8; 32];
        self.random.fill(&mut bytes)?;
        Ok(bytes)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A disk call writes all of it, each piece at its own place.
    #[test]
    fn what_is_longer_than_a_piece_lies_where_it_belongs() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("long");
        let bytes: Vec<u8> = (0..2 * PIECE + 7).map(|at| (at % 251) as u8).collect();
        let file = RealDisk.create(&path).unwrap();
        file.write_at(&bytes, 5).unwrap();
        file.write_at(b"first", 0).unwrap();
        assert_eq!(RealDisk.read(&path).unwrap(), [b"first", &bytes[..]].concat());
    }

    #[test]
    fn what_is_missing_is_told_from_what_can_not_be_looked_at() {
        let dir = tempfile::tempdir().unwrap();
        let file = dir.path().join("file");
        assert!(!is_there(&RealDisk, &file).unwrap());
        must_be_new(&RealDisk, &file, "safe", "next").unwrap();
        RealDisk.clear(&file).unwrap();
        RealDisk.put(&file, b"x").unwrap();
        assert!(is_there(&RealDisk, &file).unwrap());
        assert_eq!(must_be_new(&RealDisk, &file, "safe", "next").unwrap_err().kind, Kind::Refused);
        // A link that leads nowhere is something too; below a file there is nothing.
        std::os::unix::fs::symlink("nowhere", dir.path().join("link")).unwrap();
        assert!(is_there(&RealDisk, &dir.path().join("link")).unwrap());
        assert!(!is_there(&RealDisk, &file.join("below")).unwrap());
        // Longer than any name may be.
        assert_eq!(is_there(&RealDisk, &dir.path().join("n".repeat(300))).unwrap_err().kind, Kind::Disk);
        RealDisk.clear(&file).unwrap();
        assert!(!is_there(&RealDisk, &file).unwrap());
    }
}

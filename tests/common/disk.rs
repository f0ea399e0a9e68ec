//! A disk in memory that fails at a chosen call, and that can lose its power: what was not synced then
//! comes back as it was, as it was meant, or torn into sectors of both.

use super::Dice;
use inkfast::world::{Disk, DiskFile, World, folder_of};
use std::collections::{BTreeMap, BTreeSet};
use std::io;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard};

/// The smallest piece a disk writes whole.
const SECTOR: usize = 512;

/// A file: what a reader sees, what is safe, and the writes in between.
#[derive(Clone, Default)]
struct Bytes {
    now: Vec<u8>,
    safe: Vec<u8>,
    waiting: Vec<(usize, Vec<u8>)>,
}

/// How a call fails.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fault {
    /// EIO, this once.
    Once,
    /// EIO from here on.
    Dead,
    /// ENOSPC for whatever needs room, from here on.
    Full,
    /// The power goes at the first sync from here on.
    Power,
    /// EIO at every sync from here on, this many times.
    Syncs(u64),
}

#[derive(Default)]
struct Inner {
    files: BTreeMap<u64, Bytes>,
    names: BTreeMap<PathBuf, u64>,
    safe_names: BTreeMap<PathBuf, u64>,
    dirs: BTreeSet<PathBuf>,
    next: u64,
    calls: u64,
    fault: Option<(u64, Fault)>,
    log: Vec<&'static str>,
}

/// The disk.
#[derive(Clone, Default)]
pub struct MemDisk(Arc<Mutex<Inner>>);

/// What a call needs.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Needs {
    Nothing,
    Room,
    Sync,
}

impl Inner {
    /// Counts a call; true when it fails.
    fn fails(&mut self, name: &'static str, needs: Needs) -> io::Result<()> {
        self.calls += 1;
        self.log.push(name);
        let Some((at, fault)) = self.fault else { return Ok(()) };
        if self.calls < at {
            return Ok(());
        }
        let number = match fault {
            Fault::Once if self.calls == at => 5,
            Fault::Dead => 5,
            Fault::Power if needs == Needs::Sync => {
                self.fault = Some((self.calls, Fault::Dead));
                5
            }
            Fault::Full if needs == Needs::Room => 28,
            Fault::Syncs(left) if needs == Needs::Sync && left > 0 => {
                self.fault = Some((at, Fault::Syncs(left - 1)));
                5
            }
            _ => return Ok(()),
        };
        Err(io::Error::from_raw_os_error(number))
    }

    fn id(&self, path: &Path) -> io::Result<u64> {
        self.names.get(path).copied().ok_or_else(|| io::ErrorKind::NotFound.into())
    }
}

impl MemDisk {
    fn lock(&self) -> MutexGuard<'_, Inner> {
        self.0.lock().unwrap_or_else(std::sync::PoisonError::into_inner)
    }

    /// A copy of a folder of the real disk, all of it safe.
    pub fn load(root: &Path) -> MemDisk {
        let disk = MemDisk::default();
        disk.load_into(root);
        disk
    }

    fn load_into(&self, dir: &Path) {
        self.lock().dirs.insert(dir.to_path_buf());
        for item in std::fs::read_dir(dir).unwrap() {
            let path = item.unwrap().path();
            if path.is_dir() {
                self.load_into(&path);
            } else {
                self.put_file(&path, std::fs::read(&path).unwrap());
            }
        }
    }

    /// Puts a whole file there, safe, and not counted as a call.
    pub fn put_file(&self, path: &Path, bytes: Vec<u8>) {
        let mut inner = self.lock();
        inner.next += 1;
        let id = inner.next;
        inner.files.insert(id, Bytes { now: bytes.clone(), safe: bytes, waiting: Vec::new() });
        inner.names.insert(plain(path), id);
        inner.safe_names.insert(plain(path), id);
        let mut dir = plain(path);
        while dir.pop() {
            inner.dirs.insert(dir.clone());
        }
    }

    pub fn get_file(&self, path: &Path) -> Option<Vec<u8>> {
        let inner = self.lock();
        let id = inner.names.get(&plain(path))?;
        Some(inner.files[id].now.clone())
    }

    pub fn drop_file(&self, path: &Path) {
        let mut inner = self.lock();
        inner.names.remove(&plain(path));
        inner.safe_names.remove(&plain(path));
    }

    /// The files below a folder.
    pub fn files(&self, dir: &Path) -> Vec<PathBuf> {
        let dir = plain(dir);
        self.lock().names.keys().filter(|p| p.starts_with(&dir)).cloned().collect()
    }

    /// Changes a file in place, without a trace.
    pub fn change(&self, path: &Path, change: impl FnOnce(&mut Vec<u8>)) {
        let mut inner = self.lock();
        let id = inner.id(&plain(path)).unwrap();
        let file = inner.files.get_mut(&id).unwrap();
        change(&mut file.now);
        file.safe = file.now.clone();
    }

    /// Time passes, and everything written reaches the disk.
    pub fn settle(&self) {
        let mut inner = self.lock();
        inner.safe_names = inner.names.clone();
        for file in inner.files.values_mut() {
            file.safe = file.now.clone();
            file.waiting.clear();
        }
    }

    /// Another disk with the same contents.
    pub fn fork(&self) -> MemDisk {
        let inner = self.lock();
        let copy = Inner {
            files: inner.files.clone(),
            names: inner.names.clone(),
            safe_names: inner.safe_names.clone(),
            dirs: inner.dirs.clone(),
            next: inner.next,
            ..Inner::default()
        };
        MemDisk(Arc::new(Mutex::new(copy)))
    }

    /// Fails at the call of this number from now, counted from 1.
    pub fn fail(&self, call: u64, fault: Fault) {
        let mut inner = self.lock();
        inner.calls = 0;
        inner.log.clear();
        inner.fault = Some((call, fault));
    }

    /// Works again. Returns how many calls there were since it was told to fail.
    pub fn heal(&self) -> u64 {
        let mut inner = self.lock();
        inner.fault = None;
        std::mem::take(&mut inner.calls)
    }

    /// The name of the last call.
    pub fn last_call(&self) -> &'static str {
        self.lock().log.last().copied().unwrap_or("none")
    }

    /// What the disk may hold after its power was cut now.
    pub fn cut(&self, dice: &mut Dice) -> MemDisk {
        let inner = self.lock();
        let mut after = Inner { dirs: inner.dirs.clone(), next: inner.next, ..Inner::default() };
        let paths: BTreeSet<&PathBuf> = inner.names.keys().chain(inner.safe_names.keys()).collect();
        for path in paths {
            // A name that was given or taken away without a sync of its folder may be there or not.
            let (now, safe) = (inner.names.get(path), inner.safe_names.get(path));
            let kept = if now == safe || dice.below(2) == 0 { now } else { safe };
            if let Some(id) = kept {
                after.names.insert(path.clone(), *id);
            }
        }
        after.safe_names = after.names.clone();
        for (id, file) in &inner.files {
            let bytes = torn(file, dice);
            after.files.insert(*id, Bytes { now: bytes.clone(), safe: bytes, waiting: Vec::new() });
        }
        MemDisk(Arc::new(Mutex::new(after)))
    }

    /// A world on this disk.
    pub fn world(&self, like: &World) -> World {
        World { disk: Arc::new(self.clone()), ..like.clone() }
    }
}

/// The safe bytes and, sector by sector, some of the writes after them.
fn torn(file: &Bytes, dice: &mut Dice) -> Vec<u8> {
    let mut bytes = file.safe.clone();
    // Some cuts lose everything, some nothing, most are in between.
    let keep = [0, 2, 5, 8, 10][dice.below(5) as usize];
    for (at, write) in &file.waiting {
        let mut from = 0;
        while from < write.len() {
            let sector_end = (at + from) / SECTOR * SECTOR + SECTOR;
            let to = write.len().min(sector_end - at);
            if dice.below(10) < keep {
                write_over(&mut bytes, at + from, &write[from..to]);
            }
            from = to;
        }
    }
    bytes
}

fn write_over(file: &mut Vec<u8>, at: usize, bytes: &[u8]) {
    if file.len() < at + bytes.len() {
        file.resize(at + bytes.len(), 0);
    }
    file[at..at + bytes.len()].copy_from_slice(bytes);
}

/// The path without `..`, as the file system would walk it.
fn plain(path: &Path) -> PathBuf {
    let mut out = PathBuf::new();
    for part in path.components() {
        match part {
            std::path::Component::ParentDir => drop(out.pop()),
            other => out.push(other),
        }
    }
    out
}

struct MemFile {
    disk: MemDisk,
    id: u64,
}

impl DiskFile for MemFile {
    fn read_at(&self, buf: &mut [u8], offset: u64) -> io::Result<()> {
        let mut inner = self.disk.lock();
        inner.fails("read_at", Needs::Nothing)?;
        let from = offset as usize;
        let bytes = &inner.files[&self.id].now;
        let part = bytes.get(from..from + buf.len()).ok_or(io::ErrorKind::UnexpectedEof)?;
        buf.copy_from_slice(part);
        Ok(())
    }
    fn write_at(&self, bytes: &[u8], offset: u64) -> io::Result<()> {
        let mut inner = self.disk.lock();
        let failed = inner.fails("write_at", Needs::Room);
        // A failed write may have written a part.
        let bytes = if failed.is_err() { &bytes[..bytes.len() / 2] } else { bytes };
        let file = inner.files.get_mut(&self.id).unwrap();
        write_over(&mut file.now, offset as usize, bytes);
        file.waiting.push((offset as usize, bytes.to_vec()));
        failed
    }
    fn sync(&self) -> io::Result<()> {
        let mut inner = self.disk.lock();
        // What a failed sync was to make safe may be lost although the next one succeeds.
        let failed = inner.fails("sync", Needs::Sync);
        if matches!(inner.fault, Some((_, Fault::Dead))) && failed.is_err() {
            return failed;
        }
        let file = inner.files.get_mut(&self.id).unwrap();
        let waiting = std::mem::take(&mut file.waiting);
        if failed.is_ok() {
            waiting.iter().for_each(|(at, bytes)| write_over(&mut file.safe, *at, bytes));
        }
        failed
    }
    fn len(&self) -> io::Result<u64> {
        let mut inner = self.disk.lock();
        inner.fails("len", Needs::Nothing)?;
        Ok(inner.files[&self.id].now.len() as u64)
    }
}

impl Disk for MemDisk {
    fn open(&self, path: &Path, _write: bool) -> io::Result<Box<dyn DiskFile>> {
        let mut inner = self.lock();
        inner.fails("open", Needs::Nothing)?;
        let id = inner.id(&plain(path))?;
        Ok(Box::new(MemFile { disk: self.clone(), id }))
    }
    fn create(&self, path: &Path) -> io::Result<Box<dyn DiskFile>> {
        let mut inner = self.lock();
        inner.fails("create", Needs::Room)?;
        let path = plain(path);
        if inner.names.contains_key(&path) {
            return Err(io::ErrorKind::AlreadyExists.into());
        }
        if !inner.dirs.contains(folder_of(&path)) {
            return Err(io::ErrorKind::NotFound.into());
        }
        inner.next += 1;
        let id = inner.next;
        inner.files.insert(id, Bytes::default());
        inner.names.insert(path, id);
        Ok(Box::new(MemFile { disk: self.clone(), id }))
    }
    fn read(&self, path: &Path) -> io::Result<Vec<u8>> {
        let mut inner = self.lock();
        inner.fails("read", Needs::Nothing)?;
        let id = inner.id(&plain(path))?;
        Ok(inner.files[&id].now.clone())
    }
    fn rename(&self, from: &Path, to: &Path) -> io::Result<()> {
        let mut inner = self.lock();
        inner.fails("rename", Needs::Room)?;
        let id = inner.id(&plain(from))?;
        inner.names.remove(&plain(from));
        inner.names.insert(plain(to), id);
        Ok(())
    }
    fn remove(&self, path: &Path) -> io::Result<()> {
        let mut inner = self.lock();
        inner.fails("remove", Needs::Nothing)?;
        inner.id(&plain(path))?;
        inner.names.remove(&plain(path));
        Ok(())
    }
    fn create_dirs(&self, path: &Path) -> io::Result<()> {
        let mut inner = self.lock();
        inner.fails("create_dirs", Needs::Room)?;
        let mut dir = plain(path);
        loop {
            inner.dirs.insert(dir.clone());
            if !dir.pop() {
                return Ok(());
            }
        }
    }
    fn sync_dir(&self, path: &Path) -> io::Result<()> {
        let mut inner = self.lock();
        inner.fails("sync_dir", Needs::Sync)?;
        let dir = plain(path);
        inner.safe_names.retain(|p, _| folder_of(p) != dir);
        let here: Vec<_> =
            inner.names.iter().filter(|(p, _)| folder_of(p) == dir).map(|(p, id)| (p.clone(), *id)).collect();
        inner.safe_names.extend(here);
        Ok(())
    }
    fn list(&self, path: &Path) -> io::Result<Vec<String>> {
        let mut inner = self.lock();
        inner.fails("list", Needs::Nothing)?;
        let dir = plain(path);
        if !inner.dirs.contains(&dir) {
            return Err(io::ErrorKind::NotFound.into());
        }
        let files = inner.names.keys().chain(inner.dirs.iter());
        let mut names: Vec<String> = files
            .filter(|p| folder_of(p) == dir && **p != dir)
            .map(|p| p.file_name().unwrap().to_string_lossy().into_owned())
            .collect();
        names.sort();
        Ok(names)
    }
    fn there(&self, path: &Path) -> io::Result<bool> {
        self.lock().fails("there", Needs::Nothing)?;
        let inner = self.lock();
        let path = plain(path);
        Ok(inner.names.contains_key(&path) || inner.dirs.contains(&path))
    }
}

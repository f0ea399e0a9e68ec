//! A disk that holds what an input says, and takes nothing.

use inkfast::world::{Disk, DiskFile};
use std::collections::BTreeMap;
use std::io::{self, Error, ErrorKind};
use std::path::{Path, PathBuf};

/// Files by their paths.
pub struct Held(pub BTreeMap<PathBuf, Vec<u8>>);

struct Bytes(Vec<u8>);

impl DiskFile for Bytes {
    fn read_at(&self, buf: &mut [u8], offset: u64) -> io::Result<()> {
        let from = usize::try_from(offset).ok().and_then(|from| self.0.get(from..));
        let from = from.and_then(|rest| rest.get(..buf.len()));
        buf.copy_from_slice(from.ok_or(ErrorKind::UnexpectedEof)?);
        Ok(())
    }
    fn write_at(&self, _: &[u8], _: u64) -> io::Result<()> {
        no()
    }
    fn sync(&self) -> io::Result<()> {
        Ok(())
    }
    fn len(&self) -> io::Result<u64> {
        Ok(self.0.len() as u64)
    }
}

fn no<T>() -> io::Result<T> {
    Err(Error::from(ErrorKind::ReadOnlyFilesystem))
}

impl Disk for Held {
    fn open(&self, path: &Path, _: bool) -> io::Result<Box<dyn DiskFile>> {
        self.read(path).map(|bytes| Box::new(Bytes(bytes)) as Box<dyn DiskFile>)
    }
    fn create(&self, _: &Path) -> io::Result<Box<dyn DiskFile>> {
        no()
    }
    fn read(&self, path: &Path) -> io::Result<Vec<u8>> {
        self.0.get(path).cloned().ok_or(ErrorKind::NotFound.into())
    }
    fn rename(&self, _: &Path, _: &Path) -> io::Result<()> {
        no()
    }
    fn remove(&self, _: &Path) -> io::Result<()> {
        no()
    }
    fn create_dirs(&self, _: &Path) -> io::Result<()> {
        no()
    }
    fn sync_dir(&self, _: &Path) -> io::Result<()> {
        Ok(())
    }
    fn list(&self, dir: &Path) -> io::Result<Vec<String>> {
        let names = self.0.keys().filter_map(|path| path.strip_prefix(dir).ok());
        Ok(names.map(|name| name.display().to_string()).collect())
    }
    fn there(&self, path: &Path) -> io::Result<bool> {
        Ok(self.0.keys().any(|held| held.starts_with(path)))
    }
}

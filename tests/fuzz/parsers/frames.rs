//! A ledger of one segment of any bytes: reading it ends, and however it is read, the same is found.

use inkfast::ledger::scan::{Scan, scan, scan_to_newest, scan_together};
use inkfast::ledger::segment;
use inkfast::seal::note::{Signer, Verifier};
use inkfast::world::{Disk, DiskFile};
use std::io::{self, Error, ErrorKind};
use std::path::{Path, PathBuf};

/// A folder with one file in it.
struct One(PathBuf, Vec<u8>);

struct Bytes(Vec<u8>);

impl DiskFile for Bytes {
    fn read_at(&self, buf: &mut [u8], offset: u64) -> io::Result<()> {
        let from = self.0.get(offset as usize..).and_then(|rest| rest.get(..buf.len()));
        buf.copy_from_slice(from.ok_or(ErrorKind::UnexpectedEof)?);
        Ok(())
    }
    fn write_at(&self, _: &[u8], _: u64) -> io::Result<()> {
        Err(ErrorKind::ReadOnlyFilesystem.into())
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

impl Disk for One {
    fn open(&self, path: &Path, _: bool) -> io::Result<Box<dyn DiskFile>> {
        self.read(path).map(|bytes| Box::new(Bytes(bytes)) as Box<dyn DiskFile>)
    }
    fn create(&self, _: &Path) -> io::Result<Box<dyn DiskFile>> {
        no()
    }
    fn read(&self, path: &Path) -> io::Result<Vec<u8>> {
        if path == self.0 { Ok(self.1.clone()) } else { Err(ErrorKind::NotFound.into()) }
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
    fn list(&self, _: &Path) -> io::Result<Vec<String>> {
        Ok(vec![segment::file_name(1)])
    }
    fn exists(&self, path: &Path) -> bool {
        path == self.0 || self.0.starts_with(path)
    }
}

fn key() -> Verifier {
    Signer::from_seed("ledger-00112233445566778899aabbccddeeff", &[7; 32]).unwrap().verifier().clone()
}

fn found(scan: &Scan) -> impl PartialEq + std::fmt::Debug {
    (scan.entries.clone(), scan.end, scan.damage.clone(), scan.unfinished.clone())
}

/// Tries one input.
pub fn try_one(bytes: &[u8]) {
    let dir = Path::new("/ledger");
    // The length that the head gives, so that more than the first check is reached.
    let mut bytes = bytes.to_vec();
    bytes.resize(bytes.len().next_multiple_of(4096).min(1 << 16), 0);
    let disk = One(segment::path(dir, 1), bytes);
    let key = key();
    let whole = scan(&disk, dir, &key, &mut |_| (), &mut |_, _, _, _| Ok(())).unwrap();
    if let Some(together) = scan_together(&disk, dir, &key, &mut |_| (), &mut |_, _, _, _| Ok(())).unwrap() {
        assert_eq!(found(&together), found(&whole));
    }
    let quick = scan_to_newest(&disk, dir, &key).unwrap();
    assert_eq!((quick.entries, quick.end), (whole.entries, whole.end));
}

//! The copy of the newest checkpoint kept outside the store folder.
//!
//! A restored backup or a cut tail is a ledger that is sound in itself but shorter than it was.
//! Only something kept elsewhere can tell. Two files are written in turn, so that one that is
//! torn by a power cut leaves the one before it; neither is synced, because a copy that is one
//! step behind does no harm.

use super::checkpoint::Checkpoint;
use super::tree;
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

/// The copies that vouch for more than the first `from` entries, and where they lie.
fn ahead(disk: &dyn Disk, dir: &Path, key: &Verifier, from: u64) -> Vec<(PathBuf, Checkpoint)> {
    let paths = (0..2).map(|parity| slot(dir, key.name(), parity));
    let kept = paths.filter_map(|path| {
        let kept = Checkpoint::open(&disk.read(&path).ok()?, key).ok()?;
        (kept.size > from).then_some((path, kept))
    });
    kept.collect()
}

/// Notes which copies vouch for more than the first `from` entries, before the entry is written that says why they
/// are lost. Otherwise a program that ends between that entry and [`supersede`] leaves a ledger that seems
/// rewritten: it is as long as such a copy says, and other entries stand in it.
pub fn note_lost(disk: &dyn Disk, dir: &Path, key: &Verifier, from: u64) -> Outcome<()> {
    let mut text = format!("{LOST}\n{}\n{from}\n", key.name());
    for (_, kept) in ahead(disk, dir, key, from) {
        text += &format!("{} {}\n", kept.size, tree::code(&kept.root));
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

/// Gives every copy that vouches for more than the first `from` entries another name, in which it stays
/// as evidence: the ledger goes on from there, and the owner has said why.
pub fn supersede(disk: &dyn Disk, dir: &Path, key: &Verifier, from: u64) -> Outcome<()> {
    for (path, kept) in ahead(disk, dir, key, from) {
        let named = dir.join(format!("{}.lost-{}.checkpoint", key.name(), kept.size));
        disk.rename(&path, &named)
            .map_err(|e| Trouble::disk("set aside the newer checkpoint in", dir, &e))?;
    }
    if let Some((size, _)) = slip(disk, dir, key.name())
        && size > from
    {
        set_slip_aside(disk, dir, key.name(), &format!("lost-{size}"))?;
    }
    let note = lost_file(dir, key.name());
    disk.clear(&note).map_err(|e| Trouble::disk("remove", &note, &e))
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
    if !disk.there(dir).map_err(doing)? {
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ledger::tree::leaf_hash;
    use crate::seal::note::Signer;
    use crate::world::RealDisk;

    const ORIGIN: &str = "ledger-x";

    struct Kept {
        dir: tempfile::TempDir,
        signer: Signer,
    }

    impl Kept {
        fn new() -> Kept {
            let signer = Signer::from_seed(ORIGIN, &[3; 32]).unwrap();
            Kept { dir: tempfile::tempdir().unwrap(), signer }
        }

        fn folder(&self) -> PathBuf {
            self.dir.path().join("outside")
        }

        fn note(&self, size: u64) -> Vec<u8> {
            let root = leaf_hash(&size.to_be_bytes());
            Checkpoint { origin: ORIGIN.into(), size, root }.sign(&self.signer).unwrap().into_bytes()
        }

        fn write(&self, size: u64) {
            write(&RealDisk, &self.folder(), ORIGIN, size, &self.note(size)).unwrap();
        }

        /// Number of the newest checkpoint kept; none where nothing can be read.
        fn newest(&self) -> Option<u64> {
            match read(&RealDisk, &self.folder(), self.signer.verifier()) {
                Outside::Newest(checkpoint, _) => Some(checkpoint.size),
                _ => None,
            }
        }

        fn names(&self) -> Vec<String> {
            let listed = std::fs::read_dir(self.folder()).unwrap();
            let mut names: Vec<String> =
                listed.map(|file| file.unwrap().file_name().into_string().unwrap()).collect();
            names.sort();
            names
        }
    }

    #[test]
    fn two_copies_take_turns_and_the_newer_counts() {
        let kept = Kept::new();
        assert!(matches!(read(&RealDisk, &kept.folder(), kept.signer.verifier()), Outside::Missing));
        for size in [8, 9, 10, 99, 100] {
            kept.write(size);
            assert_eq!(kept.newest(), Some(size));
        }
        assert_eq!(kept.names(), ["ledger-x.0.checkpoint", "ledger-x.1.checkpoint"]);
        // One of the two is bent: the other still counts; both: unreadable, and not missing.
        std::fs::write(kept.folder().join("ledger-x.0.checkpoint"), "bent").unwrap();
        assert_eq!(kept.newest(), Some(99));
        std::fs::write(kept.folder().join("ledger-x.1.checkpoint"), "bent").unwrap();
        assert!(matches!(read(&RealDisk, &kept.folder(), kept.signer.verifier()), Outside::Unreadable));
        // A shorter note does not leave the end of a longer one behind it.
        std::fs::write(kept.folder().join("ledger-x.0.checkpoint"), vec![b'x'; 4096]).unwrap();
        kept.write(102);
        assert_eq!(std::fs::read(kept.folder().join("ledger-x.0.checkpoint")).unwrap(), kept.note(102));
    }

    #[test]
    fn a_slip_counts_where_it_vouches_for_more() {
        let kept = Kept::new();
        kept.write(10);
        let code = data_encoding::BASE32_NOPAD.encode(&leaf_hash(b"12"))[..20].to_string();
        let keep = |size, code: &str| keep_slip(&RealDisk, &kept.folder(), ORIGIN, size, code).unwrap();
        let kept_slip = || slip(&RealDisk, &kept.folder(), ORIGIN);
        keep(12, &code);
        assert_eq!(kept_slip(), Some((12, code.clone())));
        let Outside::Newest(newest, note) = read(&RealDisk, &kept.folder(), kept.signer.verifier()) else {
            panic!("the slip is there");
        };
        // 16 letters of base32 are ten whole bytes of the root.
        assert_eq!((newest.size, note.len(), &newest.root[..10]), (12, 0, &leaf_hash(b"12")[..10]));
        keep(10, &code);
        assert_eq!(kept.newest(), Some(10));
        assert!(matches!(
            read(&RealDisk, &kept.folder(), kept.signer.verifier()),
            Outside::Newest(_, note) if !note.is_empty()
        ));
        // Too short, or of another ledger, it is none.
        keep(12, &code[..19]);
        assert_eq!(kept_slip(), None);
        let other = format!("{SLIP}\nledger-y\n12\n{code}\n");
        std::fs::write(slip_file(&kept.folder(), ORIGIN), other).unwrap();
        assert_eq!(kept_slip(), None);
        keep(12, &code);
        set_slip_aside(&RealDisk, &kept.folder(), ORIGIN, "seen").unwrap();
        assert_eq!((kept_slip(), kept.newest()), (None, Some(10)));
        assert!(kept.names().contains(&"ledger-x.seen.slip".to_string()));
    }

    #[test]
    fn only_what_vouches_for_more_is_set_aside() {
        let code = "A".repeat(20);
        for (slip_size, from, left) in [
            (11, 12, vec!["ledger-x.0.checkpoint", "ledger-x.1.checkpoint", "ledger-x.slip"]),
            (11, 11, vec!["ledger-x.0.checkpoint", "ledger-x.1.checkpoint", "ledger-x.slip"]),
            (11, 10, vec!["ledger-x.0.checkpoint", "ledger-x.lost-11.checkpoint", "ledger-x.lost-11.slip"]),
            (9, 9, vec!["ledger-x.lost-10.checkpoint", "ledger-x.lost-11.checkpoint", "ledger-x.slip"]),
        ] {
            let kept = Kept::new();
            kept.write(10);
            kept.write(11);
            keep_slip(&RealDisk, &kept.folder(), ORIGIN, slip_size, &code).unwrap();
            supersede(&RealDisk, &kept.folder(), kept.signer.verifier(), from).unwrap();
            assert_eq!(kept.names(), left, "from {from}");
        }
    }
}

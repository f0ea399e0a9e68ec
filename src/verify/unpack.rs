//! Unpacking a package into a new folder, after it was checked.
//!
//! Nothing touches the disk before the check has passed. The package is then read a second time, and only
//! what has the digests of the first reading is kept; the folder gets its name when all of it is there.

use super::members::{is_safe_name, unreadable};
use super::opening::{Key, Shape, with_archive};
use crate::trouble::{Kind, Outcome, Trouble};
use std::collections::BTreeMap;
use std::fs::{self, DirBuilder, File, OpenOptions};
use std::io::{self, Read, Write};
use std::os::unix::fs::{DirBuilderExt, OpenOptionsExt};
use std::path::{Path, PathBuf};

/// What to read first, in this order, as far as it is there.
const FIRST: [&str; 2] = ["READ-ME-FIRST.txt", "record.html"];

/// Refuses a folder that exists, before anything is asked or read.
///
/// # Errors
/// When something has this path, or it can't be used.
pub fn refuse_existing(folder: &Path) -> Outcome<()> {
    for path in [folder.to_path_buf(), beside(folder)?] {
        if path.symlink_metadata().is_ok() {
            return Err(Trouble::new(
                Kind::BadInput,
                format!("{} exists already.", path.display()),
                "It was not touched, and nothing was opened.",
                "Name a new folder.",
            ));
        }
    }
    Ok(())
}

/// Unpacks a checked package into a new folder; the paths of what to read first. `members` are the digests
/// of the members that were checked.
///
/// # Errors
/// When the folder exists, the disk refuses, or the file is not the one that was checked.
pub fn unpack(
    path: &Path,
    shape: Shape,
    key: Option<&Key>,
    members: &BTreeMap<String, [u8; 32]>,
    folder: &Path,
) -> Outcome<Vec<PathBuf>> {
    if shape == Shape::Folder {
        return Err(Trouble::input("This package is open already.", "Read it where it lies."));
    }
    refuse_existing(folder)?;
    let part = beside(folder)?;
    new_dir(&part).map_err(|e| Trouble::disk("make the folder", &part, &e))?;
    let done = with_archive(path, shape, key, &mut |archive| write_all(archive, members, &part))
        .and_then(|_| fs::rename(&part, folder).map_err(|e| Trouble::disk("name the folder", folder, &e)));
    match done {
        Ok(()) => Ok(FIRST.iter().filter(|n| members.contains_key(**n)).map(|n| folder.join(n)).collect()),
        Err(trouble) => {
            // What was half written is nobody's copy; it was made by this very run.
            let _ = fs::remove_dir_all(&part);
            Err(trouble)
        }
    }
}

/// The name the folder has while it is being filled.
fn beside(folder: &Path) -> Outcome<PathBuf> {
    let Some(name) = folder.file_name() else {
        return Err(Trouble::input("This is no name for a new folder.", "Name a new folder."));
    };
    let mut name = name.to_os_string();
    name.push(".part");
    Ok(folder.with_file_name(name))
}

fn new_dir(path: &Path) -> io::Result<()> {
    DirBuilder::new().mode(0o700).create(path)
}

fn write_all(archive: &mut dyn Read, members: &BTreeMap<String, [u8; 32]>, part: &Path) -> Outcome<()> {
    let mut tar = tar::Archive::new(archive);
    let mut written = 0usize;
    for entry in tar.entries().map_err(|e| unreadable(&e))?.raw(true) {
        let mut entry = entry.map_err(|e| unreadable(&e))?;
        let name = String::from_utf8_lossy(&entry.path_bytes()).into_owned();
        let regular = entry.header().entry_type() == tar::EntryType::Regular;
        let digest = members.get(&name).filter(|_| regular && is_safe_name(&name)).ok_or_else(changed)?;
        let target = part.join(&name);
        let trouble = |e: io::Error| Trouble::disk("write", &target, &e);
        if let Some(dir) = target.parent() {
            DirBuilder::new().recursive(true).mode(0o700).create(dir).map_err(trouble)?;
        }
        let mut file =
            OpenOptions::new().write(true).create_new(true).mode(0o600).open(&target).map_err(trouble)?;
        if copy(&mut entry, &mut file, &target)? != *digest {
            return Err(changed());
        }
        written += 1;
    }
    // The seal of a cut file is broken only in its last piece.
    io::copy(&mut tar.into_inner(), &mut io::sink()).map_err(|e| unreadable(&e))?;
    if written == members.len() { Ok(()) } else { Err(changed()) }
}

/// Copies a member; its BLAKE3.
fn copy(from: &mut dyn Read, to: &mut File, target: &Path) -> Outcome<[u8; 32]> {
    let (mut hasher, mut buf) = (blake3::Hasher::new(), vec![0u8; 64 << 10]);
    loop {
        let n = from.read(&mut buf).map_err(|e| unreadable(&e))?;
        if n == 0 {
            return Ok(*hasher.finalize().as_bytes());
        }
        hasher.update(&buf[..n]);
        to.write_all(&buf[..n]).map_err(|e| Trouble::disk("write", target, &e))?;
    }
}

fn changed() -> Trouble {
    Trouble::new(
        Kind::Damaged,
        "The file is no longer the one that was checked.",
        "What was half unpacked was taken away again.",
        "See that no other program writes to it, copy it to a place of your own, and do it again.",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn part(name: &str, kind: tar::EntryType) -> Vec<u8> {
        let mut header = tar::Header::new_ustar();
        header.as_ustar_mut().unwrap().name[..name.len()].copy_from_slice(name.as_bytes());
        header.set_entry_type(kind);
        header.set_size(3);
        header.set_cksum();
        let mut bytes = header.as_bytes().to_vec();
        bytes.extend(b"abc");
        bytes.resize(1024, 0);
        bytes
    }

    /// What was checked is written, and nothing else: neither another kind of part under a checked name, nor a name
    /// that leads elsewhere, even if somebody listed it.
    #[test]
    fn only_plain_files_under_safe_names_are_written() {
        let written = |name: &str, kind, listed: &[(&str, &[u8])]| {
            let outer = tempfile::tempdir().unwrap();
            let folder = outer.path().join("package");
            new_dir(&folder).unwrap();
            let members: BTreeMap<String, [u8; 32]> = listed
                .iter()
                .map(|(name, bytes)| ((*name).to_string(), *blake3::hash(bytes).as_bytes()))
                .collect();
            let archive = [part(name, kind), vec![0; 1024]].concat();
            let done = write_all(&mut &archive[..], &members, &folder);
            assert!(!outer.path().join("x").exists());
            done.map(|()| fs::read(folder.join(name)).unwrap())
        };
        let regular = tar::EntryType::Regular;
        assert_eq!(written("keys/1", regular, &[("keys/1", b"abc")]).unwrap(), b"abc");
        assert!(written("keys/1", regular, &[("keys/1", b"abd")]).is_err());
        assert!(written("keys/1", regular, &[("keys/2", b"abc")]).is_err());
        assert!(written("keys/1", regular, &[("keys/1", b"abc"), ("keys/2", b"abc")]).is_err());
        assert!(written("../x", regular, &[("../x", b"abc")]).is_err());
        for kind in [tar::EntryType::Symlink, tar::EntryType::Link, tar::EntryType::Fifo] {
            assert!(written("keys/1", kind, &[("keys/1", b"abc")]).is_err(), "{kind:?}");
        }
    }
}

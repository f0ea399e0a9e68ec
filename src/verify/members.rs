//! The parts of a package as they are read: digests of all, the bytes of what is checked by its contents.
//!
//! A package comes from outside, so what is kept of it in memory is limited, and a name is never used as a path
//! before [`is_safe_name`] said yes.

use super::finding::{Finding, FindingId, Where};
use super::manifest::DIFFERENCES;
use super::words::{self, fill};
use crate::trouble::{Kind, Outcome, Trouble};
use sha2::{Digest as _, Sha256};
use std::collections::BTreeMap;
use std::io::{self, Read};
use std::path::Path;

/// The most that one part may hold whose contents are kept, in bytes.
pub(super) const MAX_PART: u64 = 64 << 20;
/// The most that all parts together may hold whose contents are kept, in bytes.
pub(super) const MAX_KEPT: u64 = 512 << 20;
/// The most parts a package may have: entries have four each.
pub(super) const MAX_MEMBERS: usize = 400_000;
/// The most parts that are not of a kind a package has, before it is given up.
pub(super) const MAX_STRAYS: usize = 1_000;
/// An archive ends in two blocks of zeros (POSIX.1, ustar interchange format).
const END_OF_ARCHIVE: u64 = 1024;

/// One member as it was read.
pub(super) struct Member {
    /// Length in bytes.
    pub size: u64,
    /// BLAKE3.
    pub blake3: [u8; 32],
    /// SHA-256.
    pub sha256: [u8; 32],
    /// The bytes, of what is checked by its contents; otherwise empty.
    pub bytes: Vec<u8>,
}

/// Everything in a package.
#[derive(Default)]
pub(super) struct Members {
    /// By name.
    pub by_name: BTreeMap<String, Member>,
    /// What was found while reading.
    pub findings: Vec<Finding>,
    kept: u64,
}

/// Whether a member may be written under this name into a folder of its own: plain names of letters, digits,
/// `.`, `-` and `_`, parted by `/`, none of them beginning with a dot.
pub fn is_safe_name(name: &str) -> bool {
    let plain = |part: &str| {
        !part.is_empty()
            && part.len() <= 100
            && !part.starts_with('.')
            && part.bytes().all(|b| b.is_ascii_alphanumeric() || matches!(b, b'.' | b'-' | b'_'))
    };
    name.len() <= 255 && name.split('/').count() <= 4 && name.split('/').all(plain)
}

/// Whether the contents of a member are looked at, rather than only its digests.
fn is_kept(name: &str) -> bool {
    matches!(name, "manifest.json" | "manifest.note" | "ledger/checkpoint" | DIFFERENCES)
        || name.starts_with("entries/")
        || name.starts_with("keys/")
}

/// Reads a tar archive to its end.
///
/// # Errors
/// When it is not a whole archive, or too large to be checked.
pub(super) fn from_archive(archive: &mut dyn Read, progress: &mut dyn FnMut(u64)) -> Outcome<Members> {
    let mut members = Members::default();
    let mut tar = tar::Archive::new(EndWatch { archive, read: 0, last: 0 });
    let mut end = 0u64;
    // Raw: headers of other kinds are seen as such, rather than read into memory at the length they claim.
    let entries = tar.entries().map_err(|e| unreadable(&e))?.raw(true);
    for entry in entries {
        let mut entry = entry.map_err(|e| unreadable(&e))?;
        let name = String::from_utf8_lossy(&entry.path_bytes()).into_owned();
        let length = entry.size().checked_next_multiple_of(512).unwrap_or(u64::MAX);
        end = entry.raw_file_position().saturating_add(length);
        if entry.header().entry_type() != tar::EntryType::Regular {
            members.stray(FindingId::MemberNotListed, &name)?;
            continue;
        }
        let whole = entry.size();
        let read = members.take(name, &mut entry, progress)?;
        if read != whole {
            return Err(unreadable(&io::Error::new(
                io::ErrorKind::UnexpectedEof,
                "a part of it is cut short",
            )));
        }
    }
    let mut rest = tar.into_inner();
    // Read on to the end: the seal of a cut file is broken only in its last piece.
    io::copy(&mut rest, &mut io::sink()).map_err(|e| unreadable(&e))?;
    if rest.read < end.saturating_add(END_OF_ARCHIVE) {
        return Err(unreadable(&io::Error::new(io::ErrorKind::UnexpectedEof, "its end is missing")));
    }
    if rest.last > end {
        members.stray(FindingId::MemberNotListed, "behind the end of the archive")?;
    }
    Ok(members)
}

/// Counts what is read.
struct EndWatch<'a> {
    archive: &'a mut dyn Read,
    /// How many bytes.
    read: u64,
    /// How many up to the last one that is not zero.
    last: u64,
}

impl Read for EndWatch<'_> {
    fn read(&mut self, buf: &mut [u8]) -> io::Result<usize> {
        let n = self.archive.read(buf)?;
        if let Some(at) = buf[..n].iter().rposition(|b| *b != 0) {
            self.last = self.read + at as u64 + 1;
        }
        self.read += n as u64;
        Ok(n)
    }
}

/// Reads the folder a package was unpacked into.
///
/// # Errors
/// When the folder can't be read, or is too large to be checked.
pub(super) fn from_folder(folder: &Path, progress: &mut dyn FnMut(u64)) -> Outcome<Members> {
    let mut members = Members::default();
    let mut todo = vec![String::new()];
    while let Some(dir) = todo.pop() {
        let path = folder.join(&dir);
        let trouble = |e: io::Error| Trouble::disk("read", &path, &e);
        for item in std::fs::read_dir(&path).map_err(trouble)? {
            let item = item.map_err(trouble)?;
            let name = item.file_name().to_string_lossy().into_owned();
            let name = if dir.is_empty() { name } else { format!("{dir}/{name}") };
            let kind = item.file_type().map_err(trouble)?;
            if kind.is_dir() {
                todo.push(name);
            } else if kind.is_file() {
                let mut file = std::fs::File::open(item.path()).map_err(trouble)?;
                members.take(name, &mut file, progress)?;
            } else {
                members.stray(FindingId::MemberNotListed, &name)?;
            }
        }
    }
    Ok(members)
}

/// The archive does not read to its end.
pub(super) fn unreadable(error: &io::Error) -> Trouble {
    Trouble::new(
        Kind::Damaged,
        fill(words::NOT_WHOLE, &[("why", error)]),
        words::NOTHING_OPENED,
        words::NOT_WHOLE_NEXT,
    )
}

fn too_large(what: &str) -> Trouble {
    Trouble::new(
        Kind::Damaged,
        fill(words::TOO_LARGE, &[("what", &what)]),
        words::NOTHING_OPENED,
        words::TOO_LARGE_NEXT,
    )
}

impl Members {
    fn stray(&mut self, id: FindingId, name: &str) -> Outcome<()> {
        if self.findings.len() >= MAX_STRAYS {
            return Err(too_large(words::TOO_MANY_STRAYS));
        }
        let file = Some(name.chars().take(200).collect());
        self.findings.push(Finding::new(id, Where { file, ..Where::default() }));
        Ok(())
    }

    /// Reads a member to its end; how long it was.
    fn take(&mut self, name: String, source: &mut dyn Read, progress: &mut dyn FnMut(u64)) -> Outcome<u64> {
        let keep = is_kept(&name);
        let (mut blake, mut sha, mut size) = (blake3::Hasher::new(), Sha256::new(), 0u64);
        let (mut bytes, mut buf) = (Vec::new(), vec![0u8; 64 << 10]);
        loop {
            let n = source.read(&mut buf).map_err(|e| unreadable(&e))?;
            if n == 0 {
                break;
            }
            blake.update(&buf[..n]);
            sha.update(&buf[..n]);
            size += n as u64;
            progress(n as u64);
            if keep {
                self.kept += n as u64;
                if size > MAX_PART || self.kept > MAX_KEPT {
                    return Err(too_large(words::TOO_MUCH_TEXT));
                }
                bytes.extend_from_slice(&buf[..n]);
            }
        }
        if !is_safe_name(&name) {
            self.stray(FindingId::MemberName, &name)?;
        }
        if self.by_name.contains_key(&name) {
            self.stray(FindingId::MemberNotListed, &name)?;
            return Ok(size);
        }
        if self.by_name.len() >= MAX_MEMBERS {
            return Err(too_large(words::TOO_MANY_PARTS));
        }
        let (blake3, sha256) = (*blake.finalize().as_bytes(), sha.finalize().into());
        self.by_name.insert(name, Member { size, blake3, sha256, bytes });
        Ok(size)
    }

    /// The bytes of a member; none when it is not there.
    pub fn bytes(&self, name: &str) -> Option<&[u8]> {
        self.by_name.get(name).map(|m| m.bytes.as_slice())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_that_lead_elsewhere_are_no_names() {
        for good in [
            "READ-ME-FIRST.txt",
            "manifest.json",
            "entries/000001.record.json",
            "keys/1.tlog-proof",
            "attachments/0123abcd",
        ] {
            assert!(is_safe_name(good), "{good}");
        }
        let long = "a/".repeat(200) + "b";
        for bad in [
            "",
            "/",
            "/etc/passwd",
            "../x",
            "a/../b",
            "a//b",
            "a/",
            "./a",
            ".hidden",
            "a/.b",
            "a\\b",
            "C:x",
            "a b",
            "a\nb",
            "a\u{202e}b",
            "\u{fffd}",
            "~/x",
            "a\0b",
            &long,
        ] {
            assert!(!is_safe_name(bad), "{bad:?}");
        }
    }

    #[test]
    fn an_endless_member_of_text_is_given_up_early() {
        let mut header = tar::Header::new_ustar();
        header.set_path("entries/000001.leaf").unwrap();
        header.set_size(1 << 40);
        header.set_cksum();
        let mut endless = header.as_bytes().chain(io::repeat(b'a'));
        let refused = from_archive(&mut endless, &mut |_| ()).err().unwrap();
        assert!(refused.what.contains("more than any chart has"), "{refused}");
    }

    #[test]
    fn a_header_of_another_kind_is_not_read_into_memory() {
        let mut header = tar::Header::new_gnu();
        header.set_entry_type(tar::EntryType::GNULongName);
        header.set_size(3 << 30);
        header.set_cksum();
        let mut cut = header.as_bytes().chain(&[b'a'; 4096][..]);
        assert!(from_archive(&mut cut, &mut |_| ()).is_err());
        header.set_size(512);
        header.set_cksum();
        let mut whole = header.as_bytes().chain(&[b'a'; 512][..]).chain(&[0; 1024][..]);
        let members = from_archive(&mut whole, &mut |_| ()).unwrap();
        assert_eq!(members.findings.len(), 1);
    }

    #[test]
    fn a_name_is_not_too_long_nor_too_deep() {
        let part = "a".repeat(100);
        assert!(is_safe_name(&part) && !is_safe_name(&format!("{part}a")));
        assert!(is_safe_name("a/b/c/d") && !is_safe_name("a/b/c/d/e"));
        let whole = format!("{}/{}/{}", "a".repeat(100), "b".repeat(100), "c".repeat(53));
        assert!(whole.len() == 255 && is_safe_name(&whole) && !is_safe_name(&format!("{whole}c")));
    }

    /// An archive of one part, with so many bytes of zeros as its end.
    fn archive(zeros: usize) -> Vec<u8> {
        let mut header = tar::Header::new_ustar();
        header.set_path("READ-ME-FIRST.txt").unwrap();
        header.set_size(3);
        header.set_cksum();
        let mut bytes = header.as_bytes().to_vec();
        bytes.extend(b"abc");
        bytes.resize(1024 + zeros, 0);
        bytes
    }

    /// POSIX ustar: the end is two blocks of zeros.
    #[test]
    fn an_archive_is_read_to_its_end_and_nothing_lies_behind_it() {
        let read = |bytes: &[u8]| {
            from_archive(&mut &bytes[..], &mut |_| ())
                .map(|members| (members.by_name.len(), members.findings.len()))
        };
        assert_eq!(read(&archive(1024)).unwrap(), (1, 0));
        assert_eq!(read(&archive(9216)).unwrap(), (1, 0));
        for cut in [0, 511, 512, 1023] {
            assert!(read(&archive(cut)).is_err(), "{cut}");
        }
        let mut more = archive(9216);
        *more.last_mut().unwrap() = b'x';
        assert_eq!(read(&more).unwrap(), (1, 1));
        more = archive(9216);
        more[1024 + 1024] = b'x';
        assert_eq!(read(&more).unwrap(), (1, 1));
    }

    /// What was made up has no end: of one part and of all together only so much is kept in memory.
    #[test]
    fn text_is_kept_up_to_its_limits_and_no_further() {
        let take = |members: &mut Members, name: &str, bytes: u64| {
            members.take(name.to_string(), &mut io::repeat(b'a').take(bytes), &mut |_| ())
        };
        let mut members = Members::default();
        assert_eq!(take(&mut members, "entries/000001.leaf", MAX_PART).unwrap(), MAX_PART);
        assert!(take(&mut Members::default(), "entries/000001.leaf", MAX_PART + 1).is_err());
        // What is not kept is as long as it is.
        assert_eq!(take(&mut members, "attachments/00", MAX_PART + 1).unwrap(), MAX_PART + 1);
        let mut members = Members { kept: MAX_KEPT - 10, ..Members::default() };
        assert_eq!(take(&mut members, "entries/000001.leaf", 10).unwrap(), 10);
        assert!(take(&mut members, "entries/000002.leaf", 1).is_err());
    }

    #[test]
    fn what_is_no_file_is_named_as_it_stands_in_the_archive() {
        let mut header = tar::Header::new_ustar();
        header.set_path("entries/000001.leaf").unwrap();
        header.set_entry_type(tar::EntryType::Symlink);
        header.set_size(0);
        header.set_cksum();
        let mut archive = header.as_bytes().chain(&[0; 1024][..]);
        let members = from_archive(&mut archive, &mut |_| ()).unwrap();
        let found: Vec<_> = members.findings.iter().map(|f| (f.id, f.place.file.as_deref())).collect();
        assert_eq!(found, [(FindingId::MemberNotListed, Some("entries/000001.leaf"))]);
        assert!(members.by_name.is_empty());
    }
}

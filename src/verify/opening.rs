//! Opening what was handed over: a sealed package (binary or as text), its archive, or an unpacked folder.
//!
//! The seal of a cut file is broken only at its end, so what is read here counts for nothing until
//! everything was read without an error.

use super::package::{Checked, check_archive_with, check_folder};
use super::package_report::FileReport;
use super::trust::Trust;
use crate::seal::age_file::{self, Identity, OpenError, With};
use crate::seal::body::hex;
use crate::trouble::{Kind, Outcome, Trouble};
use sha2::{Digest as _, Sha256};
use std::fs::File;
use std::io::{self, Read};
use std::path::Path;
use zeroize::Zeroizing;

/// How a binary age file begins (C2SP age).
const SEALED: &[u8] = b"age-encryption.org/v1";
/// How an age file as text begins.
const ARMORED: &[u8] = b"-----BEGIN AGE ENCRYPTED FILE-----";
/// How much of a file is looked at to know what it is, in bytes. The header of a package is far shorter.
const HEAD: u64 = 64 << 10;
/// The longest file of identities that is read, in bytes.
const MAX_IDENTITIES: u64 = 1 << 20;

/// What was handed over.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shape {
    /// A folder that a package was unpacked into.
    Folder,
    /// A package whose seal was taken off.
    Archive,
    /// A sealed package.
    Sealed {
        /// Opened by a passphrase, rather than by an identity.
        by_passphrase: bool,
        /// Written as text.
        armored: bool,
    },
}

/// What opens a sealed package.
pub enum Key {
    /// Any of these identities.
    Identities(Vec<Identity>),
    /// A passphrase.
    Passphrase(Zeroizing<String>),
}

/// Finds out what was handed over.
///
/// # Errors
/// When it can't be read.
pub fn shape(path: &Path) -> Outcome<Shape> {
    let trouble = |e: io::Error| could_not_read(path, &e);
    if std::fs::metadata(path).map_err(trouble)?.is_dir() {
        return Ok(Shape::Folder);
    }
    let mut head = Vec::new();
    File::open(path).and_then(|f| f.take(HEAD).read_to_end(&mut head)).map_err(trouble)?;
    let armored = head.trim_ascii_start().starts_with(ARMORED);
    if !armored && !head.starts_with(SEALED) {
        return Ok(Shape::Archive);
    }
    let sealed = |by_passphrase| Shape::Sealed { by_passphrase, armored };
    age_file::sealed_to_passphrase(&head, armored).map(sealed).map_err(|e| does_not_open(e, sealed(false)))
}

/// Checks what was handed over. `key` is asked for only where it is sealed.
///
/// # Errors
/// When it could not be read to its end, or does not open.
pub fn check_package(
    path: &Path,
    shape: Shape,
    key: Option<&Key>,
    trust: &Trust,
    progress: &mut dyn FnMut(u64),
) -> Outcome<Checked> {
    if shape == Shape::Folder {
        return check_folder(path, trust, progress);
    }
    let (mut checked, file) =
        with_archive(path, shape, key, &mut |archive| check_archive_with(archive, trust, progress))?;
    if let Some(package) = &mut checked.report.package {
        package.file = Some(file);
    }
    Ok(checked)
}

/// Hands the plain archive on to be read, and then says what the file was.
pub(super) fn with_archive<T>(
    path: &Path,
    shape: Shape,
    key: Option<&Key>,
    read: &mut dyn FnMut(&mut dyn Read) -> Outcome<T>,
) -> Outcome<(T, FileReport)> {
    let trouble = |e: io::Error| could_not_read(path, &e);
    let mut file = Hashed::new(File::open(path).map_err(trouble)?);
    let done = match shape {
        Shape::Sealed { armored, .. } => {
            let with = match key {
                Some(Key::Identities(identities)) => With::Identities(identities),
                Some(Key::Passphrase(passphrase)) => With::Passphrase(passphrase),
                None => return Err(no_key(shape)),
            };
            let opened = match armored {
                true => age_file::armored_opener(&with, &mut file),
                false => age_file::opener(&with, &mut file),
            };
            read(&mut *opened.map_err(|e| does_not_open(e, shape))?)?
        }
        _ => read(&mut file)?,
    };
    io::copy(&mut file, &mut io::sink()).map_err(trouble)?;
    Ok((done, file.report()))
}

/// The identities in a file; comment lines are skipped, as age programs do.
///
/// # Errors
/// When the file can't be read or holds none.
pub fn read_identities(path: &Path) -> Outcome<Vec<Identity>> {
    let trouble = |e: io::Error| {
        Trouble::input(
            format!("Could not read {}: {e}.", path.display()),
            "Check the path, then do it again.",
        )
    };
    let mut file = File::open(path).map_err(trouble)?.take(MAX_IDENTITIES);
    let mut bytes = Zeroizing::new(Vec::with_capacity(4096));
    file.read_to_end(&mut bytes).map_err(trouble)?;
    if bytes.starts_with(SEALED) || bytes.starts_with(ARMORED) {
        return Err(Trouble::input(
            "The file of identities is itself sealed.",
            "Open it first with an age program, and give what comes out.",
        ));
    }
    let text = std::str::from_utf8(&bytes).unwrap_or_default();
    let lines = text.lines().map(str::trim).filter(|l| !l.starts_with('#') && !l.is_empty());
    let found: Vec<Identity> = lines.filter_map(Identity::parse).collect();
    if found.is_empty() {
        return Err(Trouble::input(
            "The file given with --identity holds no age identity.",
            "Name the right file: a line of it begins with AGE-SECRET-KEY-1.",
        ));
    }
    Ok(found)
}

fn could_not_read(path: &Path, error: &io::Error) -> Trouble {
    let kind = if error.kind() == io::ErrorKind::NotFound { Kind::NotFound } else { Kind::Disk };
    Trouble::new(
        kind,
        format!("Could not read {}: {error}.", path.display()),
        "Nothing was opened or changed.",
        "Check the path and the disk, then do it again.",
    )
}

fn no_key(shape: Shape) -> Trouble {
    let next = match shape {
        Shape::Sealed { by_passphrase: true, .. } => "Give the passphrase that you were told.",
        _ => {
            "Give the file with your age identity (--identity FILE): this package is sealed to a key, not to a passphrase."
        }
    };
    Trouble::new(Kind::Locked, "The package is sealed.", "Nothing was opened or changed.", next)
}

fn does_not_open(error: OpenError, shape: Shape) -> Trouble {
    let safe = "Nothing was opened or changed.";
    match (error, shape) {
        (OpenError::NoKey, Shape::Sealed { by_passphrase: true, .. }) => Trouble::new(
            Kind::Locked,
            "The passphrase does not open this package.",
            safe,
            "Type it again as you were told it; ask the practice to read it to you once more.",
        ),
        (OpenError::NoKey, _) => Trouble::new(
            Kind::Locked,
            "None of the identities given opens this package.",
            safe,
            "Give the identity file whose recipient (age1...) you told the practice.",
        ),
        (error, _) => Trouble::new(
            Kind::Damaged,
            format!("The package does not open: {error}."),
            safe,
            "Ask for another copy, or check that the whole file arrived.",
        ),
    }
}

/// A file, hashed as it is read.
struct Hashed {
    file: File,
    blake3: blake3::Hasher,
    sha256: Sha256,
    bytes: u64,
}

impl Hashed {
    fn new(file: File) -> Hashed {
        Hashed { file, blake3: blake3::Hasher::new(), sha256: Sha256::new(), bytes: 0 }
    }

    fn report(self) -> FileReport {
        FileReport {
            bytes: self.bytes,
            blake3: hex(self.blake3.finalize().as_bytes()),
            sha256: hex(&self.sha256.finalize()),
        }
    }
}

impl Read for Hashed {
    fn read(&mut self, buf: &mut [u8]) -> io::Result<usize> {
        let n = self.file.read(buf)?;
        self.blake3.update(&buf[..n]);
        self.sha256.update(&buf[..n]);
        self.bytes += n as u64;
        Ok(n)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn whoever_lacks_a_key_is_told_which() {
        let lacking = |by_passphrase| no_key(Shape::Sealed { by_passphrase, armored: false }).next;
        assert!(lacking(true).contains("passphrase that you were told"));
        assert!(lacking(false).contains("--identity"));
        let kind = |error: io::ErrorKind| could_not_read(Path::new("x"), &error.into()).kind;
        assert_eq!(kind(io::ErrorKind::NotFound), Kind::NotFound);
        assert_eq!(kind(io::ErrorKind::PermissionDenied), Kind::Disk);
    }

    #[test]
    fn what_was_handed_over_is_known_by_its_beginning() {
        let dir = tempfile::tempdir().unwrap();
        let of = |bytes: &[u8]| {
            let path = dir.path().join("package");
            std::fs::write(&path, bytes).unwrap();
            shape(&path)
        };
        assert_eq!(shape(dir.path()).unwrap(), Shape::Folder);
        assert_eq!(of(b"READ-ME-FIRST.txt").unwrap(), Shape::Archive);
        assert_eq!(of(b"").unwrap(), Shape::Archive);
        for sealed in [SEALED, ARMORED] {
            assert!(of(sealed).is_err(), "a header that is cut short opens with nothing");
        }
        assert!(shape(&dir.path().join("none")).is_err());
    }

    #[test]
    fn identities_are_read_around_comments() {
        let dir = tempfile::tempdir().unwrap();
        let count = |bytes: &str| {
            let path = dir.path().join("identities");
            std::fs::write(&path, bytes).unwrap();
            read_identities(&path).map(|found| found.len()).map_err(|trouble| trouble.what)
        };
        use age::secrecy::ExposeSecret as _;
        let own = age::x25519::Identity::generate().to_string();
        let own = own.expose_secret();
        assert_eq!(count(&format!("# mine\n\n  {own}\n{own}\n")), Ok(2));
        assert!(count(&format!("#{own}\n")).unwrap_err().contains("holds no age identity"));
        for sealed in ["age-encryption.org/v1\n", "-----BEGIN AGE ENCRYPTED FILE-----\n"] {
            assert!(count(sealed).unwrap_err().contains("itself sealed"), "{sealed}");
        }
    }

    /// The digest is that of FIPS 180-2, appendix B.1.
    #[test]
    fn a_file_as_it_arrived_is_known_again_by_length_and_digests() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("package");
        std::fs::write(&path, "abc").unwrap();
        // Also where its end is never asked for.
        let (_, report) = with_archive(&path, Shape::Archive, None, &mut |archive| {
            archive.read_exact(&mut [0]).unwrap();
            Ok(())
        })
        .unwrap();
        assert_eq!(report.bytes, 3);
        assert_eq!(report.sha256, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
        assert_eq!(report.blake3, hex(blake3::hash(b"abc").as_bytes()));
    }
}

//! Writing a package: sealed into its file and, at the same time, plain into the check that its reader
//! will run. Only a package that checks gets its name.

use super::order::SealTo;
use super::parts::{Content, Parts};
use crate::practice::attach::{HashingSink, open_into};
use crate::practice::open::Practice;
use crate::record::kinds::papers::Attachment;
use crate::seal::age_file::{self, To, WORK_FACTOR};
use crate::seal::body::hex;
use crate::trouble::{Outcome, Trouble};
use crate::verify::finding::Report;
use crate::verify::package::check_archive;
use crate::world::beside;
use sha2::{Digest as _, Sha256};
use std::io::{self, Write};
use std::path::Path;

/// A package as it was written.
pub(super) struct Written {
    /// BLAKE3 of the file, hex.
    pub digest: String,
    /// Its bytes.
    pub bytes: u64,
    /// BLAKE3, SHA-256 and length of the archive inside the seal.
    pub plain: (String, String, u64),
    /// The check that it passed.
    pub report: Report,
}

/// Writes the archive sealed into the file, and at the same time plain into the check.
pub(super) fn write_package(
    practice: &Practice,
    parts: &Parts,
    to: &SealTo,
    target: &Path,
) -> Outcome<Written> {
    let part = beside(target);
    let disk = &practice.world.disk;
    let trouble = |e: io::Error| Trouble::disk("write the package", target, &e);
    disk.clear(&part).map_err(trouble)?;
    let file = disk.create(&part).map_err(trouble)?;
    let outcome = (|| -> Outcome<Written> {
        let mut sink = HashingSink::new(&*file);
        let (report, plain) = seal_and_check(practice, parts, to, &mut sink).map_err(|t| match t {
            Failed::Disk(e) => trouble(e),
            Failed::Other(t) => *t,
        })?;
        if !report.sound {
            let ids: Vec<_> = report.findings.iter().map(|f| f.id.clone()).collect();
            return Err(Trouble::damaged(format!(
                "The package did not pass its own check ({}).",
                ids.join(", ")
            )));
        }
        file.sync().map_err(trouble)?;
        Ok(Written { digest: hex(sink.hasher.finalize().as_bytes()), bytes: sink.at, plain, report })
    })();
    match outcome {
        Ok(done) => {
            disk.rename(&part, target).map_err(trouble)?;
            disk.sync_dir(crate::world::folder_of(target)).map_err(trouble)?;
            Ok(done)
        }
        Err(failed) => {
            let _ = disk.remove(&part);
            Err(failed)
        }
    }
}

enum Failed {
    Disk(io::Error),
    Other(Box<Trouble>),
}

impl From<Trouble> for Failed {
    fn from(trouble: Trouble) -> Failed {
        Failed::Other(Box::new(trouble))
    }
}

type Plain = (String, String, u64);

fn seal_and_check(
    practice: &Practice,
    parts: &Parts,
    to: &SealTo,
    sink: &mut HashingSink<'_>,
) -> Result<(Report, Plain), Failed> {
    let (mut reader, writer) = io::pipe().map_err(Failed::Disk)?;
    let checking = std::thread::spawn(move || {
        let report = check_archive(&mut reader, &mut |_| ());
        // The archive ends with padding that the check does not need; drain it so that the writer can end.
        let _ = io::copy(&mut reader, &mut io::sink());
        report
    });
    let sealed = Sealed::new(to, sink).map_err(Failed::Disk)?;
    let writer = io::BufWriter::with_capacity(256 << 10, writer);
    let mut tee = Tee { sealed, writer, blake: blake3::Hasher::new(), sha: Sha256::new(), bytes: 0 };
    let archived = archive(practice, parts, &mut tee);
    let Tee { sealed, mut writer, blake, sha, bytes } = tee;
    let flushed = writer.flush();
    drop(writer);
    let report = checking.join().map_err(|_| Trouble::damaged("The check of the package ended early."))?;
    archived?;
    flushed.map_err(Failed::Disk)?;
    sealed.finish().map_err(Failed::Disk)?;
    Ok((report?, (hex(blake.finalize().as_bytes()), hex(&sha.finalize()), bytes)))
}

/// Where the archive goes: through the seal, or, as somebody confirmed, as it is.
enum Sealed<'a, W: Write> {
    Age(age_file::Sealer<&'a mut W>),
    Open(&'a mut W),
}

impl<'a, W: Write> Sealed<'a, W> {
    fn new(to: &SealTo, sink: &'a mut W) -> io::Result<Sealed<'a, W>> {
        let to = match to {
            SealTo::Recipients(recipients) => To::Recipients(recipients),
            SealTo::Passphrase(passphrase) => To::Passphrase(passphrase, WORK_FACTOR),
            SealTo::Nobody(_) => return Ok(Sealed::Open(sink)),
        };
        age_file::sealer(&to, sink).map(Sealed::Age)
    }

    fn write_all(&mut self, bytes: &[u8]) -> io::Result<()> {
        match self {
            Sealed::Age(sealer) => sealer.write_all(bytes),
            Sealed::Open(sink) => sink.write_all(bytes),
        }
    }

    fn finish(self) -> io::Result<()> {
        match self {
            Sealed::Age(sealer) => sealer.finish().map(|_| ()),
            Sealed::Open(sink) => sink.flush(),
        }
    }
}

fn archive(practice: &Practice, parts: &Parts, out: &mut dyn Write) -> Outcome<()> {
    let trouble = |e: io::Error| Trouble::disk("write", Path::new("the package"), &e);
    let mut tar = tar::Builder::new(out);
    let mut put = |name: &str, bytes: u64, content: &mut dyn io::Read| -> io::Result<()> {
        let mut header = tar::Header::new_ustar();
        header.set_size(bytes);
        header.set_mode(0o644);
        header.set_mtime(parts.seconds);
        header.set_entry_type(tar::EntryType::Regular);
        tar.append_data(&mut header, name, content)
    };
    for (at, member) in parts.members.iter().enumerate() {
        match &member.content {
            Content::Bytes(bytes) => {
                put(&member.file.name, member.file.bytes, &mut &bytes[..]).map_err(trouble)?
            }
            Content::Attachment(data) => {
                stream_attachment(practice, &parts.tag, data, |reader| {
                    put(&member.file.name, member.file.bytes, reader)
                })?;
            }
        }
        // The list stands right behind the page that says what to read first.
        if at == 0 {
            put("manifest.json", parts.list.len() as u64, &mut &parts.list[..]).map_err(trouble)?;
            put("manifest.note", parts.note.len() as u64, &mut &parts.note[..]).map_err(trouble)?;
        }
    }
    tar.finish().map_err(trouble)
}

/// Feeds an attachment to `put` through a pipe, so that a long one is never held in memory.
fn stream_attachment(
    practice: &Practice,
    tag: &str,
    data: &Attachment,
    put: impl FnOnce(&mut dyn io::Read) -> io::Result<()>,
) -> Outcome<()> {
    let trouble =
        |e: io::Error| Trouble::disk("copy an attachment into", std::path::Path::new("the package"), &e);
    let (mut reader, mut writer) = io::pipe().map_err(trouble)?;
    std::thread::scope(|scope| {
        let opening = scope.spawn(move || {
            let opened = open_into(practice, tag, data, &mut writer);
            drop(writer);
            opened
        });
        let put = put(&mut reader);
        drop(reader);
        let opened = opening.join().map_err(|_| Trouble::damaged("Reading an attachment ended early."))?;
        put.map_err(trouble)?;
        opened
    })
}

/// Writes everything both ways, and hashes it.
struct Tee<'a, W: Write> {
    sealed: Sealed<'a, W>,
    writer: io::BufWriter<io::PipeWriter>,
    blake: blake3::Hasher,
    sha: Sha256,
    bytes: u64,
}

impl<W: Write> Write for Tee<'_, W> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.sealed.write_all(bytes)?;
        self.writer.write_all(bytes)?;
        self.blake.update(bytes);
        self.sha.update(bytes);
        self.bytes += bytes.len() as u64;
        Ok(bytes.len())
    }
    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

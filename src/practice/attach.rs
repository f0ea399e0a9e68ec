//! Attachments: sealed while they stream by, named by what they are, and listed in the ledger.

use super::open::{Draft, Practice};
use crate::ledger::write::Receipt;
use crate::record::kinds::Data;
use crate::record::kinds::papers::Attachment;
use crate::record::kinds::register::FileKept;
use crate::record::moment::Moment;
use crate::seal::age_file::{self, Identity, To, With};
use crate::seal::body::hex;
use crate::trouble::{Kind, Outcome, Trouble};
use crate::world::{DiskFile, World};
use std::io::{self, Read, Write};
use std::path::Path;

/// Seals what `source` gives, keeps it, and records it. `data`'s digests and size are filled in.
/// Uses constant memory however long the source is.
///
/// # Errors
/// When reading or writing fails; then nothing was recorded and nothing half-written is left.
pub fn attach(
    practice: &mut Practice,
    tag: &str,
    source: &mut dyn Read,
    data: Attachment,
    happened: Moment,
) -> Outcome<Receipt> {
    practice.begin_writing()?;
    let sealed = seal_file(practice, tag, source, data, happened)?;
    together(practice, vec![sealed], Vec::new())
}

/// A file that lies sealed in the store, with the entries that make it part of a chart.
pub(super) struct SealedFile {
    /// What is to be recorded: that the file is kept, and what it is.
    pub entries: [Draft; 2],
    /// BLAKE3 of what was given, hex.
    pub plain_digest: String,
    sealed_digest: String,
}

/// Seals what `source` gives and keeps it. It is part of the record only once its entries are appended.
pub(super) fn seal_file(
    practice: &Practice,
    tag: &str,
    source: &mut dyn Read,
    mut data: Attachment,
    happened: Moment,
) -> Outcome<SealedFile> {
    let (desk, clinical) =
        practice.session.chart_recipients(&practice.world, &practice.place, practice.keys(), tag)?;
    let to = if data.for_desk { desk } else { clinical };
    let kept = keep(&practice.world, &practice.place.root, source, &To::Recipients(&[to]))?;
    data.plain_digest = kept.plain_digest.clone();
    data.sealed_digest = kept.sealed_digest.clone();
    data.size = kept.size;
    let about: Vec<_> =
        data.about.iter().map(|seq| (*seq, crate::record::envelope::RefWhy::Attached)).collect();
    let mut record = Draft::new(Some(tag), Data::Attachment(Box::new(data)), happened);
    record.refers = about;
    let listed = FileKept { sealed_digest: kept.sealed_digest.clone(), sealed_size: kept.sealed_size };
    let listed = Draft::new(None, Data::FileKept(Box::new(listed)), happened);
    let (plain_digest, sealed_digest) = (kept.plain_digest, kept.sealed_digest);
    Ok(SealedFile { entries: [listed, record], plain_digest, sealed_digest })
}

/// Records sealed files and what comes with them, all or nothing; gives what was recorded last. Where nothing
/// was recorded the files are taken away again.
pub(super) fn together(
    practice: &mut Practice,
    files: Vec<SealedFile>,
    more: Vec<Draft>,
) -> Outcome<Receipt> {
    let paths: Vec<_> = files.iter().map(|file| practice.place.attachment(&file.sealed_digest)).collect();
    let entries = files.into_iter().flat_map(|file| file.entries).chain(more).collect();
    let receipts = practice.append_group(entries, None);
    // After a failing disk the entries may be kept all the same, and then the files must be there too.
    let nothing_written = |t: &Trouble| !matches!(t.kind, Kind::Disk | Kind::Damaged);
    if receipts.as_ref().is_err_and(nothing_written) {
        for path in &paths {
            let _ = practice.world.disk.remove(path);
        }
    }
    receipts?.pop().ok_or_else(|| Trouble::damaged("Nothing was recorded."))
}

/// A file that was sealed and kept.
pub(super) struct Kept {
    /// BLAKE3 of what was given, hex.
    pub plain_digest: String,
    /// BLAKE3 of the sealed file, hex.
    pub sealed_digest: String,
    /// Bytes given.
    pub size: u64,
    /// Bytes of the sealed file.
    pub sealed_size: u64,
}

/// Seals a stream into `files/`, synced, under the name of its digest.
pub(super) fn keep(world: &World, root: &Path, source: &mut dyn Read, to: &To<'_>) -> Outcome<Kept> {
    let part = root.join("files").join("arriving.part");
    let trouble = |e: io::Error| Trouble::disk("keep the attachment in", &root.join("files"), &e);
    world.disk.create_dirs(&root.join("files")).map_err(trouble)?;
    world.disk.clear(&part).map_err(trouble)?;
    let file = world.disk.create(&part).map_err(trouble)?;
    let streamed = stream(source, to, &*file);
    let kept = match streamed {
        Ok(kept) => kept,
        Err(failed) => {
            let _ = world.disk.remove(&part);
            return Err(match failed {
                Failed::Source(e) => Trouble::new(
                    Kind::BadInput,
                    format!("The document could not be read to its end: {e}."),
                    "Nothing was recorded and nothing of it was kept.",
                    "Check that the file is still there, then attach it again.",
                ),
                Failed::Sink(e) => trouble(e),
            });
        }
    };
    let folder = root.join("files").join(&kept.sealed_digest[..2]);
    world.disk.create_dirs(&folder).map_err(trouble)?;
    world.disk.rename(&part, &folder.join(format!("{}.age", kept.sealed_digest))).map_err(trouble)?;
    for dir in [&folder, &root.join("files")] {
        world.disk.sync_dir(dir).map_err(trouble)?;
    }
    Ok(kept)
}

enum Failed {
    Source(io::Error),
    Sink(io::Error),
}

fn stream(source: &mut dyn Read, to: &To<'_>, file: &dyn DiskFile) -> Result<Kept, Failed> {
    let mut sink = HashingSink::new(file);
    let mut sealer = age_file::sealer(to, &mut sink).map_err(Failed::Sink)?;
    let (mut hasher, mut size) = (blake3::Hasher::new(), 0u64);
    let mut buf = vec![0u8; 256 << 10];
    loop {
        let n = match source.read(&mut buf) {
            Ok(0) => break,
            Ok(n) => n,
            Err(e) if e.kind() == io::ErrorKind::Interrupted => continue,
            Err(e) => return Err(Failed::Source(e)),
        };
        hasher.update(&buf[..n]);
        size += n as u64;
        sealer.write_all(&buf[..n]).map_err(Failed::Sink)?;
    }
    sealer.finish().map_err(Failed::Sink)?;
    file.sync().map_err(Failed::Sink)?;
    Ok(Kept {
        plain_digest: hex(hasher.finalize().as_bytes()),
        sealed_digest: hex(sink.hasher.finalize().as_bytes()),
        size,
        sealed_size: sink.at,
    })
}

/// Writes to a file and hashes what is written.
pub(super) struct HashingSink<'a> {
    file: &'a dyn DiskFile,
    /// Bytes written.
    pub at: u64,
    /// BLAKE3 of them.
    pub hasher: blake3::Hasher,
}

impl<'a> HashingSink<'a> {
    /// Begins at the start of the file.
    pub fn new(file: &'a dyn DiskFile) -> Self {
        HashingSink { file, at: 0, hasher: blake3::Hasher::new() }
    }
}

impl Write for HashingSink<'_> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.file.write_at(bytes, self.at)?;
        self.hasher.update(bytes);
        self.at += bytes.len() as u64;
        Ok(bytes.len())
    }
    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

/// Reads a file of the store as a stream.
struct DiskReader {
    file: Box<dyn DiskFile>,
    at: u64,
    len: u64,
}

impl Read for DiskReader {
    fn read(&mut self, buf: &mut [u8]) -> io::Result<usize> {
        let n = (self.len - self.at).min(buf.len() as u64) as usize;
        self.file.read_at(&mut buf[..n], self.at)?;
        self.at += n as u64;
        Ok(n)
    }
}

/// Opens an attachment and streams its plain bytes into `out`, in constant memory.
///
/// # Errors
/// When the sealed file is missing, was changed, or is not the one that the record names. `out` may
/// have received a part by then and must be thrown away.
pub fn open_into(practice: &Practice, tag: &str, data: &Attachment, out: &mut dyn Write) -> Outcome<()> {
    let keys = practice.session.chart_keys(&practice.world, &practice.place, tag)?;
    let held: Vec<_> = keys.desk.into_iter().chain(keys.clinical).collect();
    open_sealed(practice, &held, (&data.sealed_digest, &data.plain_digest, data.size), out)
}

/// Opens a sealed file of the store, named by its digest, with these keys, and streams its plain bytes into
/// `out`; they must have this digest and length.
///
/// # Errors
/// As [`open_into`].
pub(super) fn open_sealed(
    practice: &Practice,
    held: &[Identity],
    (sealed_digest, plain_digest, bytes): (&str, &str, u64),
    out: &mut dyn Write,
) -> Outcome<()> {
    let path = practice.place.attachment(sealed_digest);
    let trouble = |e: io::Error| Trouble::disk("read", &path, &e);
    let file = practice.world.disk.open(&path, false).map_err(trouble)?;
    let len = file.len().map_err(trouble)?;
    let mut reader = age_file::opener(&With::Identities(held), DiskReader { file, at: 0, len })
        .map_err(|e| e.about("This attachment"))?;
    let (mut hasher, mut size) = (blake3::Hasher::new(), 0u64);
    let mut buf = vec![0u8; 256 << 10];
    loop {
        let n = reader
            .read(&mut buf)
            .map_err(|_| Trouble::damaged("An attachment's sealed file was changed or cut."))?;
        if n == 0 {
            break;
        }
        hasher.update(&buf[..n]);
        size += n as u64;
        out.write_all(&buf[..n]).map_err(|e| Trouble::disk("write the attachment from", &path, &e))?;
    }
    if hex(hasher.finalize().as_bytes()) != plain_digest || size != bytes {
        return Err(Trouble::damaged("An attachment is not the one that its record names."));
    }
    Ok(())
}

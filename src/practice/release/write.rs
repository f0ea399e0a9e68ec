//! Writing a package: sealed into its file and, at the same time, plain into the check that its reader
//! will run. Only a package that checks gets its name.

use super::order::{ReleaseOrder, SealTo};
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
use std::io::{self, Write};

/// Writes the archive sealed into the file, and at the same time plain into the check.
pub(super) fn write_package(
    practice: &Practice,
    parts: &Parts,
    order: &ReleaseOrder,
) -> Outcome<(String, u64, Report)> {
    let part = beside(&order.file);
    let disk = &practice.world.disk;
    let trouble = |e: io::Error| Trouble::disk("write the package", &order.file, &e);
    if disk.exists(&part) {
        disk.remove(&part).map_err(trouble)?;
    }
    let file = disk.create(&part).map_err(trouble)?;
    let outcome = (|| -> Outcome<(String, u64, Report)> {
        let mut sink = HashingSink::new(&*file);
        let report = seal_and_check(practice, parts, order, &mut sink)?;
        if !report.sound {
            let ids: Vec<_> = report.findings.iter().map(|f| f.id.clone()).collect();
            return Err(Trouble::damaged(format!(
                "The package did not pass its own check ({}).",
                ids.join(", ")
            )));
        }
        file.sync().map_err(trouble)?;
        Ok((hex(sink.hasher.finalize().as_bytes()), sink.at, report))
    })();
    match outcome {
        Ok(done) => {
            disk.rename(&part, &order.file).map_err(trouble)?;
            disk.sync_dir(crate::world::folder_of(&order.file)).map_err(trouble)?;
            Ok(done)
        }
        Err(failed) => {
            let _ = disk.remove(&part);
            Err(failed)
        }
    }
}

fn seal_and_check(
    practice: &Practice,
    parts: &Parts,
    order: &ReleaseOrder,
    sink: &mut HashingSink<'_>,
) -> Outcome<Report> {
    let trouble = |e: io::Error| Trouble::disk("write the package", &order.file, &e);
    let (mut reader, writer) = io::pipe().map_err(trouble)?;
    let checking = std::thread::spawn(move || {
        let report = check_archive(&mut reader, &mut |_| ());
        // The archive ends with padding that the check does not need; drain it so that the writer can end.
        let _ = io::copy(&mut reader, &mut io::sink());
        report
    });
    let to = match &order.to {
        SealTo::Recipients(recipients) => To::Recipients(recipients),
        SealTo::Passphrase(passphrase) => To::Passphrase(passphrase, WORK_FACTOR),
    };
    let sealer = age_file::sealer(&to, &mut *sink).map_err(trouble)?;
    let mut tee = Tee { sealer, writer };
    let archived = archive(practice, parts, &mut tee);
    let Tee { sealer, writer } = tee;
    drop(writer);
    let report = checking.join().map_err(|_| Trouble::damaged("The check of the package ended early."))?;
    archived?;
    sealer.finish().map_err(trouble)?;
    report
}

fn archive(practice: &Practice, parts: &Parts, out: &mut dyn Write) -> Outcome<()> {
    let trouble = |e: io::Error| Trouble::disk("write", std::path::Path::new("the package"), &e);
    let mut tar = tar::Builder::new(out);
    let mut put = |name: &str, bytes: u64, content: &mut dyn io::Read| -> io::Result<()> {
        let mut header = tar::Header::new_ustar();
        header.set_size(bytes);
        header.set_mode(0o644);
        header.set_mtime(parts.seconds);
        header.set_entry_type(tar::EntryType::Regular);
        tar.append_data(&mut header, name, content)
    };
    put("READ-ME-FIRST.txt", parts.readme.len() as u64, &mut &parts.readme[..]).map_err(trouble)?;
    put("manifest.json", parts.manifest.len() as u64, &mut &parts.manifest[..]).map_err(trouble)?;
    put("manifest.note", parts.note.len() as u64, &mut &parts.note[..]).map_err(trouble)?;
    for member in parts.members.iter().filter(|m| m.file.name != "READ-ME-FIRST.txt") {
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

/// Writes everything both ways.
struct Tee<'a, W: Write> {
    sealer: age_file::Sealer<&'a mut W>,
    writer: io::PipeWriter,
}

impl<W: Write> Write for Tee<'_, W> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.sealer.write_all(bytes)?;
        self.writer.write_all(bytes)?;
        Ok(bytes.len())
    }
    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

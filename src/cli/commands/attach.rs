//! `attach`: a scan, photo or report into a chart; and getting one out again.

use super::entries::form;
use super::paper::say_pages;
use super::reason::{add_why_args, opening_as};
use crate::cli::context::{Context, add_who_args};
use crate::cli::data::add_data_arg;
use crate::cli::exit::Exit;
use crate::cli::progress::Progress;
use crate::cli::record::{add_happened_args, confirm, done, fill, happened};
use crate::practice::attach::{attach, open_into};
use crate::practice::chart::{find, tag_of};
use crate::record::kinds::Data;
use crate::record::kinds::papers::Attachment;
use crate::record::kinds::release::Opened;
use crate::trouble::{Kind, Outcome, Trouble};
use crate::world::{Disk, must_be_new};
use clap::{Arg, Command};
use serde_json::{Value, json};
use std::fs::File;
use std::io::Read;
use std::os::unix::fs::FileTypeExt;
use std::path::PathBuf;

/// Options of `attach`.
pub fn command() -> Command {
    let cmd = add_who_args(
        Command::new("attach").about("Attach a document, scan or picture; sealed like everything else"),
    )
    .arg(Arg::new("chart").value_name("CHART").required(true).help("Chart number"))
    .arg(
        Arg::new("document")
            .value_name("FILE")
            .value_parser(clap::value_parser!(PathBuf))
            .required_unless_present("get")
            .help("The file to attach"),
    )
    .arg(
        Arg::new("get")
            .long("get")
            .value_name("NUMBER")
            .value_parser(clap::value_parser!(u64))
            .help("Instead: take the attachment of this entry out again"),
    )
    .arg(
        Arg::new("into")
            .long("into")
            .value_name("FILE")
            .value_parser(clap::value_parser!(PathBuf))
            .requires("get")
            .help("With --get: the file to write"),
    )
    .arg(
        Arg::new("media-type")
            .long("media-type")
            .value_name("TYPE")
            .help("Media type [default: by the file's ending]"),
    );
    let cmd = add_why_args(add_data_arg(add_happened_args(cmd)));
    form("attach").map(|a| a.form.clap_args(cmd.clone())).unwrap_or(cmd)
}

/// Attaches, or takes out.
pub fn run(context: &mut Context<'_>) -> Outcome<Exit> {
    let chart = context.text("chart").unwrap_or_default();
    if let Some(seq) = context.number("get") {
        return get(context, &chart, seq);
    }
    let Some(path) = context.path("document") else {
        return Err(Trouble::input("Which file is to be attached?", "Name it after the chart number."));
    };
    let file = File::open(&path).map_err(|e| Trouble::disk("read", &path, &e))?;
    let meta = file.metadata().map_err(|e| Trouble::disk("read", &path, &e))?;
    // A pipe is read to its end like a file; only how long it is can't be said.
    let length = match (meta.is_file(), meta.file_type().is_fifo()) {
        (true, _) => Some(meta.len()),
        (false, true) => None,
        (false, false) => {
            return Err(Trouble::input(format!("{} is not a file.", path.display()), "Name a file."));
        }
    };
    let when = happened(context)?;
    let mut practice = context.adding()?;
    let tag = tag_of(&practice, &chart)?;
    let form = form("attach")?.form;
    let mut data = fill(context, &practice, &form, "attachment", Some(&tag), json!({}))?;
    confirm(context, "attachment", &form.read_back(&data))?;
    let media = context.text("media-type").unwrap_or_else(|| media_type(&path).to_string());
    if let Value::Object(fields) = &mut data {
        fields.insert("plain_digest".into(), json!("0".repeat(64)));
        fields.insert("sealed_digest".into(), json!("0".repeat(64)));
        fields.insert("size".into(), json!(0));
        fields.entry("media_type").or_insert(json!(media));
    }
    let data: Attachment = serde_json::from_value(data).map_err(|e| {
        Trouble::input(format!("This can't be recorded: {e}."), "Correct it and do it again.")
    })?;
    let about = data.about.clone();
    let mut source = Watched { file, progress: Progress::start("Sealing the document", length) };
    let receipt = attach(&mut practice, &tag, &mut source, data, when.start)?;
    source.progress.done();
    if practice.session.kit().is_none() {
        practice.drop_draft("attachment", Some(&tag))?;
    }
    context.remarks(&mut practice);
    if practice.session.kit().is_none() {
        say_pages(context, &practice, &tag, &about)?;
    }
    done(context, "attachment", &receipt)
}

struct Watched {
    file: File,
    progress: Progress,
}

impl Read for Watched {
    fn read(&mut self, buf: &mut [u8]) -> std::io::Result<usize> {
        let n = self.file.read(buf)?;
        self.progress.tick(n as u64);
        Ok(n)
    }
}

fn get(context: &mut Context<'_>, chart: &str, seq: u64) -> Outcome<Exit> {
    let Some(into) = context.path("into") else {
        return Err(Trouble::input("Where is the attachment to be written?", "Name a file with --into."));
    };
    refuse_existing(&*context.world.disk, &into)?;
    let mut practice = context.writing()?;
    let face = find(&practice, chart)?;
    let entry = practice.entry_by_seq(seq)?;
    let data = match entry.data() {
        Some(Data::Attachment(data)) if entry.leaf.chart.as_deref() == Some(&face.tag) => data,
        _ => {
            return Err(Trouble::new(
                Kind::NotFound,
                format!("Entry {seq} is no attachment of this chart that your role opens."),
                "Nothing was changed.",
                "Look the number up with `inkfast print`.",
            ));
        }
    };
    let entries = practice.chart(&face.tag)?;
    opening_as(context, &mut practice, &face, &entries, |opening| {
        opening.words.get_or_insert("attachment taken out".to_string());
        opening.opened = Opened::Entries;
        opening.entries = vec![seq];
        opening.exported = true;
    })?;
    write_whole(&into, |file| open_into(&practice, &face.tag, &data, file))?;
    context.remarks(&mut practice);
    context.say(&format!("Written to {}. It is not sealed: keep it safe.", into.display()))?;
    Ok(Exit::Done)
}

/// Refuses to write over a file.
pub(super) fn refuse_existing(disk: &dyn Disk, into: &std::path::Path) -> Outcome<()> {
    must_be_new(disk, into, "It was not touched.", "Name another file.")
}

/// Writes a new file beside and renames it: a part of a damaged one must not look like the whole.
pub(super) fn write_whole(
    into: &std::path::Path,
    write: impl FnOnce(&mut File) -> Outcome<()>,
) -> Outcome<()> {
    let part = crate::world::beside(into);
    let trouble = |e: std::io::Error| Trouble::disk("write", into, &e);
    let mut file = File::create(&part).map_err(trouble)?;
    if let Err(failed) = write(&mut file) {
        let _ = std::fs::remove_file(&part);
        return Err(failed);
    }
    std::fs::rename(&part, into).map_err(trouble)
}

/// The media type by a file's ending; the general one where it says nothing.
pub(crate) fn media_type(path: &std::path::Path) -> &'static str {
    let ending = path.extension().and_then(|e| e.to_str()).unwrap_or_default().to_ascii_lowercase();
    match ending.as_str() {
        "pdf" => "application/pdf",
        "jpg" | "jpeg" => "image/jpeg",
        "png" => "image/png",
        "svg" => "image/svg+xml",
        "tif" | "tiff" => "image/tiff",
        "txt" => "text/plain",
        "html" => "text/html",
        "mp4" => "video/mp4",
        "dcm" => "application/dicom",
        _ => "application/octet-stream",
    }
}

//! `print`: reading a chart. Every reading leaves an entry.

use super::joined::say_joined;
pub use super::reason::{add_why_args, record_opening};
use crate::cli::context::{Context, add_who_args};
use crate::cli::exit::Exit;
use crate::cli::table::{indented, shown, width};
use crate::practice::accounting::untold;
use crate::practice::chart::{ChartFace, find};
use crate::practice::document::fhir_document;
use crate::practice::open::{Entry, Practice};
use crate::practice::printed::{Purpose, for_paper, printed_set};
use crate::practice::reading::{ChartReading, ELSEWHERE, misfiled};
use crate::record::kinds::release::WithholdReason;
use crate::record::kinds::title;
use crate::record::show::{Line, head_lines};
use crate::render::corrected::Laid;
use crate::render::pdf::Paper;
use crate::render::set::PrintedSet;
use crate::render::summary::text;
use crate::render::{page, summary_clinician, summary_patient};
use crate::trouble::{Kind, Outcome, Trouble};
use clap::{Arg, Command};
use serde::Serialize;
use std::collections::BTreeSet;
use std::path::PathBuf;

/// An entry in `--json` output.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct EntryOutput {
    /// Number in the ledger.
    pub seq: u64,
    /// Number in the chart.
    pub chart_seq: Option<u64>,
    /// Kind of record.
    pub kind: String,
    /// When it was written.
    pub written: String,
    /// Staff code of the author.
    pub author: String,
    /// BLAKE3 of the leaf, hex.
    pub leaf: String,
    /// The record; null where this person's roles do not open it.
    pub record: Option<crate::record::envelope::Record>,
}

/// Options of `print`.
pub fn command() -> Command {
    let cmd = add_who_args(
        Command::new("print").about("Read a chart: on the screen, as a page to print, or as JSON"),
    )
    .arg(Arg::new("chart").value_name("CHART").required(true).help("Chart number"));
    add_why_args(cmd)
        .arg(
            Arg::new("entry")
                .long("entry")
                .value_name("NUMBER")
                .value_parser(clap::value_parser!(u64))
                .help("Only this entry"),
        )
        .arg(
            Arg::new("html")
                .long("html")
                .value_name("FILE")
                .value_parser(clap::value_parser!(PathBuf))
                .help("Write the printed record, or the summary, as one page for a browser or printer"),
        )
        .arg(
            Arg::new("pdf")
                .long("pdf")
                .value_name("FILE")
                .value_parser(clap::value_parser!(PathBuf))
                .help("Write the same page as one PDF for paper and for keeping, made to PDF/A-2b"),
        )
        .arg(
            Arg::new("paper")
                .long("paper")
                .value_name("SIZE")
                .value_parser(["a4", "letter"])
                .default_value("a4")
                .help("Paper of the PDF"),
        )
        .arg(
            Arg::new("summary")
                .long("summary")
                .value_name("FOR")
                .value_parser(["patient", "clinician"])
                .help("Not the record but a summary of it: two plain pages for the patient, or half a page for a clinician")
                .conflicts_with("entry"),
        )
        .arg(
            Arg::new("for")
                .long("for")
                .value_name("WHOM")
                .value_parser(["practice", "patient"])
                .default_value("practice")
                .help("For whom a page is: one for the patient leaves out what the patient is not to be told of yet"),
        )
        .arg(
            Arg::new("fhir")
                .long("fhir")
                .value_name("FILE")
                .value_parser(clap::value_parser!(PathBuf))
                .help("Write the chart as a FHIR R4 document, for another program to read"),
        )
}

/// Reads a chart.
pub fn run(context: &mut Context<'_>) -> Outcome<Exit> {
    let chart = context.text("chart").unwrap_or_default();
    let mut practice = context.writing()?;
    let face = find(&practice, &chart)?;
    let entries = practice.chart(&face.tag)?;
    record_opening(context, &mut practice, &face, &entries)?;
    let (pages, fhir) = ([context.path("html"), context.path("pdf")], context.path("fhir"));
    let wants_page = pages.iter().any(Option::is_some);
    if let Some(file) = &fhir {
        write_fhir(context, &practice, &face, file)?;
    }
    if wants_page {
        write_pages(context, &practice, &face, pages)?;
    }
    if wants_page || fhir.is_some() {
        return Ok(Exit::Done);
    }
    if let Some(wanted) = context.text("summary").and_then(|word| Wanted::from_word(&word)) {
        return say_summary(context, &practice, &face, wanted);
    }
    let reading = ChartReading::new(&practice, &entries);
    let wanted = context.number("entry");
    let chosen: Vec<&Entry> = entries.iter().filter(|e| wanted.is_none_or(|n| e.leaf.seq == n)).collect();
    if let (true, Some(number)) = (chosen.is_empty(), wanted) {
        return Err(Trouble::new(
            Kind::NotFound,
            format!("Entry {number} is not in this chart."),
            "Nothing was changed.",
            "Look the number up without --entry.",
        ));
    }
    if context.json() {
        let held_back = |e: &Entry| wanted.is_none() && reading.is_misfiled(e.leaf.seq);
        let one =
            |e: &&Entry| EntryOutput { record: e.record.clone().filter(|_| !held_back(e)), ..output(e) };
        let out: Vec<EntryOutput> = chosen.iter().map(one).collect();
        context.say_json(&out)?;
        return Ok(Exit::Done);
    }
    say_joined(context, &face);
    let head =
        format!("Chart {}: {}, {} entries", face.chart_no, shown(&face.identity.legal_name), face.entries);
    context.say(&head)?;
    for entry in chosen {
        context.say(&entry_words(entry, &reading, wanted.is_some()))?;
    }
    Ok(Exit::Done)
}

/// An entry for scripts.
pub fn output(entry: &Entry) -> EntryOutput {
    EntryOutput {
        seq: entry.leaf.seq,
        chart_seq: entry.leaf.chart_seq,
        kind: entry.leaf.kind.clone(),
        written: entry.leaf.written.to_string(),
        author: entry.leaf.author.clone(),
        leaf: entry.digest.clone(),
        record: entry.record.clone(),
    }
}

/// One entry for reading on the screen. What belongs to another person is shown only when it is `asked_for` by
/// its number.
pub fn entry_words(entry: &Entry, reading: &ChartReading, asked_for: bool) -> String {
    let (width, seq) = (width(), entry.leaf.seq);
    let number = entry.leaf.chart_seq.map_or(String::new(), |n| format!(" ({n} in this chart)"));
    let mut out = vec![String::new(), format!("No. {seq}{number}  {}", title(&entry.leaf.kind))];
    out.extend(reading.beside(seq).iter().map(|mark| indented(&format!("[{mark}]"), width, 4)));
    match &entry.record {
        _ if reading.is_misfiled(seq) && !asked_for => out.push(indented(
            &format!("Not shown: it {ELSEWHERE}. `--entry {seq}` shows it, for whoever must see it."),
            width,
            4,
        )),
        None => out.push(indented("Sealed: your role does not open this entry.", width, 4)),
        Some(record) => {
            for line in head_lines(record).iter().filter(|l| l.label != "Entry") {
                out.push(indented(&line_words(line), width, 4));
            }
            let read = reading.lines(seq, record);
            out.extend(read.lines.iter().map(|laid| laid_words(laid, width)));
            out.extend(
                read.remarks.iter().map(|remark| indented(&format!("Remark: {}", shown(remark)), width, 4)),
            );
        }
    }
    out.join("\n")
}

fn line_words(line: &Line) -> String {
    let value = shown(&line.value);
    if value.is_empty() { format!("{}:", line.label) } else { format!("{}: {value}", line.label) }
}

/// A line with what became of it. Black on white must do: a struck line says so in words.
fn laid_words(laid: &Laid<Line>, width: usize) -> String {
    let mut text = line_words(&laid.line);
    if let Some(mark) = &laid.struck_by {
        let nothing = if laid.nothing_beneath { "; nothing stands in its place" } else { "" };
        text = format!("--- {text} --- [struck by {}{nothing}]", mark.words());
    }
    if let Some(mark) = &laid.added_by {
        text.push_str(&format!(" [new words, {}]", mark.words()));
    }
    indented(&text, width, 4 + 2 * usize::from(laid.line.depth))
}

/// For whom a summary is.
#[derive(Clone, Copy)]
enum Wanted {
    Patient,
    Clinician,
}

impl Wanted {
    fn from_word(word: &str) -> Option<Wanted> {
        match word {
            "patient" => Some(Wanted::Patient),
            "clinician" => Some(Wanted::Clinician),
            _ => None,
        }
    }
}

/// What a copy is made from that is printed here: for the practice itself, or for the patient.
fn working_copy(practice: &Practice, face: &ChartFace, for_patient: bool) -> Outcome<PrintedSet> {
    let entries = practice.chart(&face.tag)?;
    let untold = untold(practice, &entries, practice.now().local_date())?;
    let (checkpoint, _) = practice
        .scan()
        .checkpoint
        .as_ref()
        .ok_or_else(|| Trouble::damaged("The ledger has no checkpoint."))?;
    let purpose = match (for_patient, untold.is_empty()) {
        (true, _) => "a printed copy",
        (false, true) => "working copy",
        (false, false) => {
            "working copy; NOT FOR THE PATIENT: it tells of disclosures that an agency has left out of accountings \
             for a time (print one with --for patient)"
        }
    };
    let withheld = held_back(&entries, for_patient.then_some(&untold));
    let purpose = Purpose {
        for_whom: if for_patient { "the patient" } else { "the practice itself" },
        purpose,
        basis: if for_patient { "patient" } else { "treatment" },
        with_attachments: false,
        part: None,
    };
    printed_set(practice, face, &entries, &withheld, checkpoint, &purpose)
}

/// Writes the page, for a browser and for paper, as far as a file is named for each.
fn write_pages(
    context: &mut Context<'_>,
    practice: &Practice,
    face: &ChartFace,
    [html, pdf]: [Option<PathBuf>; 2],
) -> Outcome<()> {
    let wanted = context.text("summary").and_then(|word| Wanted::from_word(&word));
    let set =
        working_copy(practice, face, is_for_patient(context) || matches!(wanted, Some(Wanted::Patient)))?;
    let page = match wanted {
        None => page(&set),
        Some(Wanted::Patient) => summary_patient::page(&set),
        Some(Wanted::Clinician) => summary_clinician::page(&set),
    };
    let mut files = Vec::new();
    if let Some(file) = pdf {
        let letter = context.text("paper").is_some_and(|word| word == "letter");
        let paper = if letter { Paper::Letter } else { Paper::A4 };
        let made = for_paper(&set, &page, paper)?;
        if made.lacking > 0 {
            let told = "letters stand in the PDF as their numbers, as in [U+4E2D]: its fonts lack them. --html has them.";
            context.say(&format!("{} {told}", made.lacking))?;
        }
        files.push((file, made.bytes, "Open it in any PDF reader"));
    }
    if let Some(file) = html {
        files.push((file, page.into_bytes(), "Open it in a browser"));
    }
    for (file, bytes, how) in files {
        std::fs::write(&file, bytes).map_err(|e| Trouble::disk("write", &file, &e))?;
        let named = file.display();
        context.say(&format!("Written to {named}. {how}, or print it. It is not sealed: keep it safe."))?;
    }
    Ok(())
}

/// True where the copy is for the patient.
fn is_for_patient(context: &Context<'_>) -> bool {
    context.text("for").as_deref() == Some("patient")
}

/// What belongs to another person, and in a copy for the patient what is not to be told yet, each with the reason why
/// it is held back.
fn held_back(entries: &[Entry], untold: Option<&BTreeSet<u64>>) -> Vec<(u64, String)> {
    let elsewhere = misfiled(entries).into_iter().map(|seq| (seq, ELSEWHERE.to_string()));
    let untold = untold.into_iter().flatten();
    elsewhere.chain(untold.map(|seq| (*seq, WithholdReason::HeldBack.title().to_string()))).collect()
}

/// A summary on the screen.
fn say_summary(
    context: &mut Context<'_>,
    practice: &Practice,
    face: &ChartFace,
    wanted: Wanted,
) -> Outcome<Exit> {
    let set = working_copy(practice, face, matches!(wanted, Wanted::Patient))?;
    let summary = match wanted {
        Wanted::Patient => summary_patient::summary(&set),
        Wanted::Clinician => summary_clinician::summary(&set),
    };
    say_joined(context, face);
    for line in text(&summary) {
        context.say(&indented(&shown(&line), width(), 0))?;
    }
    Ok(Exit::Done)
}

fn write_fhir(
    context: &mut Context<'_>,
    practice: &Practice,
    face: &ChartFace,
    file: &PathBuf,
) -> Outcome<()> {
    let entries = practice.chart(&face.tag)?;
    let untold = match is_for_patient(context) {
        true => Some(untold(practice, &entries, practice.now().local_date())?),
        false => None,
    };
    let bytes = fhir_document(practice, &entries, &held_back(&entries, untold.as_ref()), None)?;
    std::fs::write(file, bytes).map_err(|e| Trouble::disk("write", file, &e))?;
    context
        .say(&format!("Written to {} as a FHIR R4 document. It is not sealed: keep it safe.", file.display()))
}

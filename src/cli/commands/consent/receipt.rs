//! `consent receipt`: a page for the patient to take away, by which anybody can ask later whether the practice
//! still holds exactly this entry.

use crate::cli::commands::reason::{add_why_args, opening_as};
use crate::cli::context::{Context, add_who_args};
use crate::cli::exit::Exit;
use crate::practice::chart::{ChartFace, find};
use crate::practice::open::{Entry, Practice};
use crate::record::kinds::Data;
use crate::record::kinds::consent::Consent;
use crate::render::{Agreed, PinParts, receipt_page};
use crate::seal::sheet::qr_svg;
use crate::trouble::{Kind, Outcome, Trouble};
use crate::verify::pin::{Pin, What};
use clap::{Arg, ArgAction, Command};
use serde::Serialize;
use std::path::PathBuf;

/// A receipt in `--json` output.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct ReceiptOutput {
    /// Number of the entry in the ledger.
    pub number: u64,
    /// Its number in the chart.
    pub chart_seq: Option<u64>,
    /// Its code: five groups of four letters or digits and two check letters.
    #[schemars(regex(pattern = "^([A-Z2-7]{4}-){5}[0-9A-Z*]{2}$"))]
    pub code: String,
    /// The same as twelve words, the last two of which are check words.
    #[schemars(length(equal = 12))]
    pub words: Vec<&'static str>,
    /// The text of its QR code.
    pub qr: String,
    /// Origin of the ledger.
    pub ledger: String,
    /// BLAKE3 of the entry's leaf, hex.
    pub leaf: String,
}

/// Options of `consent receipt`.
pub fn command() -> Command {
    let cmd = add_who_args(
        Command::new("receipt")
            .about("A page for the patient: what was agreed, and how to check later that it still stands"),
    )
    .arg(Arg::new("chart").value_name("CHART").required(true).help("Chart number"))
    .arg(
        Arg::new("entry")
            .value_name("ENTRY")
            .value_parser(clap::value_parser!(u64))
            .help("Number of the consent [default: the newest in the chart]"),
    )
    .arg(
        Arg::new("page")
            .long("page")
            .value_name("FILE")
            .value_parser(clap::value_parser!(PathBuf))
            .help("Write it as a page to print"),
    )
    .arg(Arg::new("nothing-readable").long("nothing-readable").action(ArgAction::SetTrue).help(
        "Leave out name, date and what was agreed: only the digest, for a patient who wants nothing readable",
    ));
    add_why_args(cmd)
}

/// Writes the receipt.
pub fn run(context: &mut Context<'_>) -> Outcome<Exit> {
    let mut practice = context.writing()?;
    let face = find(&practice, &context.text("chart").unwrap_or_default())?;
    let entries = practice.chart(&face.tag)?;
    let (entry, consent) = chosen(&entries, context.number("entry"))?;
    let page = context.path("page");
    opening_as(context, &mut practice, &face, &entries, |opening| opening.printed = page.is_some())?;
    let seq = entry.leaf.seq;
    let pin = Pin::new(What::Receipt, seq, &entry.at.tree_hash);
    let ledger = practice.place.key.name().to_string();
    let receipt = ReceiptOutput {
        number: seq,
        chart_seq: entry.leaf.chart_seq,
        code: pin.code(),
        words: pin.words(),
        qr: pin.qr(&ledger),
        ledger,
        leaf: entry.digest.clone(),
    };
    if let Some(file) = &page {
        let readable = (!context.flag("nothing-readable")).then_some(&consent);
        let written = page_of(&practice, &face, (entry, readable), &receipt)?;
        std::fs::write(file, written).map_err(|e| Trouble::disk("write", file, &e))?;
        context.asker.say(&format!("Written: {}. Give it to the patient.", file.display()));
    }
    if context.json() {
        context.say_json(&receipt)?;
    } else {
        let rows: Vec<String> = receipt.words.chunks(4).map(|row| row.join(" ")).collect();
        context.say(&format!(
            "Receipt for no. {} ({})\nWords  {}\nCode   {}",
            receipt.number,
            receipt.chart_seq.map_or(String::new(), |n| format!("entry {n} of the chart")),
            rows.join("\n       "),
            receipt.code
        ))?;
    }
    Ok(Exit::Done)
}

/// The consent asked for, or the newest.
fn chosen(entries: &[Entry], wanted: Option<u64>) -> Outcome<(&Entry, Consent)> {
    let found = entries.iter().rev().find_map(|entry| match entry.data() {
        Some(Data::Consent(consent)) if wanted.is_none_or(|n| n == entry.leaf.seq) => Some((entry, *consent)),
        _ => None,
    });
    found.ok_or_else(|| {
        Trouble::new(
            Kind::NotFound,
            match wanted {
                Some(number) => format!("Entry {number} is no consent in this chart."),
                None => "There is no consent in this chart.".to_string(),
            },
            "Nothing was written.",
            "Look the number up with `inkfast print`.",
        )
    })
}

fn page_of(
    practice: &Practice,
    face: &ChartFace,
    (entry, readable): (&Entry, Option<&Consent>),
    receipt: &ReceiptOutput,
) -> Outcome<String> {
    let at = practice.now().plain();
    let parts = PinParts {
        number: receipt.number,
        code: &receipt.code,
        words: &receipt.words,
        ledger: &receipt.ledger,
        at: &at,
    };
    let register = practice.register_of(&["register-opened"])?;
    let place = register.iter().find_map(|e| match e.data() {
        Some(Data::RegisterOpened(opened)) => Some(format!("{}, {}", opened.practice, opened.address)),
        _ => None,
    });
    let given = entry.record.as_ref().map(|record| record.happened.start.plain()).unwrap_or_default();
    let agreed = readable.map(|consent| Agreed {
        consent,
        name: &face.identity.legal_name,
        chart: &face.chart_no,
        given: &given,
        practice: place.as_deref().unwrap_or_default(),
    });
    Ok(receipt_page(
        &parts,
        receipt.chart_seq,
        &receipt.leaf,
        agreed.as_ref(),
        &qr_svg(receipt.qr.as_bytes())?,
    ))
}

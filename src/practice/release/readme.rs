//! READ-ME-FIRST.txt: how to read the package and how to check it.

use super::withhold::Selection;
use crate::practice::chart::ChartFace;
use crate::practice::open::Practice;
use crate::record::kinds::release::{Release, SealedHow};
use crate::record::moment::Moment;
use crate::verify::manifest::Differences;

/// Everything the page is made from.
pub(super) struct Told<'a> {
    pub view: &'a Practice,
    pub face: &'a ChartFace,
    pub release: &'a Release,
    pub happened: Moment,
    pub chosen: &'a Selection,
    pub differences: Option<&'a Differences>,
    /// Whether the page that checks the package is in it.
    pub check_page: bool,
}

pub(super) fn read_me(told: &Told<'_>) -> String {
    let by = told.view.me();
    format!(
        "READ ME FIRST\n\
         =============\n\n\
         This package holds {extent} of one patient, as released to:\n  {to}\n\
         Released on {when} by {name} ({role}), basis: {basis}.\n{sealed}\n\
         To read it\n\
         ----------\n\
         Open record.html in any web browser, or print it. Nothing in it needs the internet.\n\
         record.pdf says the same, laid out for A4 paper and for keeping (made to PDF/A-2b).\n\
         A letter that its fonts lack stands there as its number, [U+4E2D]; record.html has the letter.\n\
         summary-for-the-patient.html and half-page-for-a-clinician.html are summaries, not the record.\n\
         attachments/ holds the papers and pictures of the chart; record.html says which is which.\n\
         entries/ holds each entry as it was sealed: NNNNNN.record.json is the entry itself.\n\
         fhir/bundle.json holds the chart for another program to read (FHIR R4).\n{more}\n\
         To check it\n\
         -----------\n\
         Every entry was signed when it was made and sealed to the one before it. Anybody can check that\n\
         nothing in this copy was changed, moved or left out up to the day of its release:\n\
         {browser}{first}. with the checker:  inkfast-check THIS-FOLDER  (or with the whole program: inkfast verify THIS-FOLDER)\n\
         {second}. without it: schema/CHECK.md of the program has ten steps, schema/FORMAT.md every byte. The formats are\n\
            open ones: age (sealing), Ed25519 signed notes, SHA-256 trees as in RFC 6962, BLAKE3.\n\
            manifest.json lists every file with its digests; manifest.note is signed by the practice.\n\n\
         What the check does not prove\n\
         -----------------------------\n\
         It does not prove that what was written is true, that the practice's clock was right, or that nothing\n\
         was left unwritten. Compare with anything you were given earlier (slips, receipts, other copies).\n\n\
         Where contents were withheld, the entry's place is still here and still counted, with the reason.\n\
         Questions about this record go to the practice named in it.\n",
        extent = extent(told),
        to = told.release.to,
        when = told.happened.plain(),
        name = by.name,
        role = by.role,
        basis = told.release.basis,
        sealed = sealed(told.release),
        more = more(told),
        browser = if told.check_page { BROWSER } else { "" },
        first = 1 + u8::from(told.check_page),
        second = 2 + u8::from(told.check_page),
    )
}

/// What packages of earlier programs do not say, so that they come out as they did.
const BROWSER: &str = "\
1. in a web browser: open check.html, and choose this folder there. It works without the internet. It came\n   \
   with this copy, so where much hangs on the result, use 2.\n";

fn extent(told: &Told<'_>) -> String {
    let span = &told.chosen.span;
    if !span.is_limited() {
        return format!("the chart {}", told.face.chart_no);
    }
    format!("a part of the chart {}: {}, with what these entries rest on,", told.face.chart_no, span.words())
}

fn sealed(release: &Release) -> String {
    match release.sealed {
        SealedHow::ToPassphrase => format!(
            "Sealed with a passphrase, told by: {}\n",
            release
                .passphrase_by
                .as_deref()
                .unwrap_or("________________ on ____________ (not yet told when this was made)")
        ),
        SealedHow::NotSealed => format!(
            "NOT sealed, as confirmed by {}.\n",
            release.unsealed.as_ref().map_or("nobody", |u| u.confirmed_by.as_str())
        ),
        SealedHow::ToRecipientKey | SealedHow::PaperInSealedEnvelope => String::new(),
    }
}

fn more(told: &Told<'_>) -> String {
    let mut out = String::new();
    if !told.chosen.held.is_empty() {
        out.push_str(
            "slips/ holds a slip in the place of what is not given: why, and what you can do about it.\n",
        );
    }
    if let Some(differences) = told.differences {
        out.push_str(&format!(
            "differences.txt lists what differs from the package of release {}.\n",
            differences.since
        ));
    }
    out
}

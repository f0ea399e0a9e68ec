//! The printed record: one page of HTML that stands alone, prints on paper in black and white, and
//! can be read without this program.
//!
//! Plain data in, text out: no clock, no file, nothing fetched, no script. The same set gives the
//! same bytes. Corrections are laid over what they correct, and the old words stay readable
//! ([`corrected`]).

mod accounting;
mod agreed;
mod back;
pub mod check_page;
mod copies;
pub mod corrected;
mod course;
mod day;
mod entry;
pub mod fhir;
mod front;
mod html;
mod legend;
mod letter;
pub mod lost;
mod measures;
mod moments;
mod note;
mod others;
pub mod over_time;
mod papers;
pub mod pdf;
mod picture;
mod pin;
mod places;
mod rows;
pub mod set;
mod standing;
mod statement;
mod style;
pub mod succession;
pub mod summary;
pub mod summary_clinician;
pub mod summary_patient;
mod timeline;
mod visits;
mod words;

#[cfg(test)]
mod tests;
#[cfg(test)]
mod xml;

pub use accounting::{AccountingPage, accounting_page};
pub use day::{DaySheet, SheetLine, SheetPart, day_sheet};
pub use letter::letter_page;
pub use picture::picture as course_picture;
pub use pin::{Agreed, PinParts, receipt_page, slip_page};
pub use set::{
    CheckpointWords, EntryState, LAYOUT_EDITION, Patient, PrintedAttachment, PrintedEntry, PrintedSet,
    Thresholds,
};

use entry::Desk;
use html::{esc, said};
use places::Heading;

/// Heading of the measures.
const MEASURES: &str = "Measures over time";

/// The printed record as one HTML page.
pub fn page(set: &PrintedSet) -> String {
    let desk = Desk::new(set);
    let consents = others::under(&desk, Heading::Consents);
    let consents = if consents.is_empty() {
        timeline::section(&desk)
    } else {
        format!("{}<h3>{}</h3>\n{consents}", timeline::section(&desk), Heading::Consents.word())
    };
    let record = [
        ("Consents and withdrawals", consents),
        ("Visits, oldest first", visits::section(&desk)),
        (MEASURES, measures::section(&desk)),
        ("Other entries", others::section(&desk)),
        ("Who received copies", copies::section(&desk)),
        ("Who opened this chart", others::openings(&desk)),
        ("Attachments", others::attachments(&desk)),
    ];
    let words: String = record.iter().map(|(_, html)| html.as_str()).collect();
    // The table of published thresholds names its authors; these are no words of an entry.
    let typed = record.iter().filter(|(heading, _)| *heading != MEASURES);
    let typed: String = typed.map(|(_, html)| html.as_str()).collect();
    let mut parts = vec![
        ("", front::cover(&desk)),
        ("", statement::section(&desk)),
        ("Table of entries", front::index(&desk)),
    ];
    parts.extend(record);
    parts.extend([
        ("Legend", legend::legend(&words, &typed, &back::codes(set))),
        ("Signature list", back::signatures(&desk)),
        ("Texts that were signed or given", back::wordings(&desk)),
        ("How to check this copy", back::how_to_check()),
        ("Digests of the entries", back::digests(&desk)),
    ]);
    // Short parts share a page; the cover, the statement and the long parts begin one.
    let apart = [
        "",
        "Who received copies",
        "Who opened this chart",
        "Attachments",
        "Signature list",
        "Texts that were signed or given",
        "Digests of the entries",
    ];
    let mut out = start(set, "Record of treatment", "");
    for (index, (heading, html)) in parts.iter().enumerate() {
        let new = index == 1 || !apart.contains(heading);
        out.push_str(if new { "<tr class=\"new\"><td>\n" } else { "<tr><td>\n" });
        if !heading.is_empty() {
            out.push_str(&format!("<h2>{}</h2>\n", esc(heading)));
        }
        out.push_str(html);
        out.push_str("</td></tr>\n");
    }
    out.push_str(END);
    out
}

/// Lays out any page that is made from this set, for paper and for keeping.
///
/// # Errors
/// When the page holds what can't be laid out, or the file can't be made.
pub fn for_paper(set: &PrintedSet, html: &str, paper: pdf::Paper) -> Result<pdf::Made, pdf::Fault> {
    let marks = pdf::Marks { foot: foot(set), id: set.digest(), printed: set.printed_at };
    pdf::make(html, &marks, paper)
}

/// The end of a page that [`start`] began.
const END: &str = "</tbody></table>\n</body>\n</html>\n";

/// Everything up to the first part. The head of the outer table is repeated by the printer on
/// every page, so that a page that got lost says whose it is; the foot is in the margin of every page.
/// `remark` is HTML.
fn start(set: &PrintedSet, title: &str, remark: &str) -> String {
    let patient = &set.patient;
    let printed = format!("printed {} by {}", set.printed_at.plain(), set.printed_by.name);
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\" />\n\
         <title>{title}, chart no. {chart}</title>\n<style>\n{style}</style>\n</head>\n<body>\n\
         <table class=\"sheet\"><thead><tr><td><table class=\"head\"><tbody><tr>\
         <td><strong>{name}</strong>, born {birth}, chart no. {chart_said}</td>\
         <td class=\"r\">{remark}{printed}</td>\
         </tr></tbody></table></td></tr></thead><tbody>\n",
        title = esc(title),
        chart = esc(&patient.chart_no),
        style = style::sheet(&foot(set)),
        name = said(&patient.name),
        birth = said(&patient.birth),
        chart_said = said(&patient.chart_no),
        printed = said(&printed),
    )
}

/// What stands at the foot of every printed page, beside its number: which copy, and of what.
fn foot(set: &PrintedSet) -> String {
    format!(
        "check words {} - digest of this set {} ... - layout edition {LAYOUT_EDITION}",
        set.checkpoint.check_words,
        set.short_digest()
    )
}

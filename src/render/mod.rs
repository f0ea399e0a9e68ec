//! The printed record: one page of HTML that stands alone, prints on paper in black and white, and
//! can be read without this program.
//!
//! Plain data in, text out: no clock, no file, nothing fetched, no script. The same set gives the
//! same bytes. Corrections are laid over what they correct, and the old words stay readable
//! ([`corrected`]).

mod agreed;
mod back;
pub mod corrected;
mod day;
mod entry;
mod front;
mod html;
mod measures;
mod moments;
mod note;
mod others;
mod papers;
mod picture;
mod places;
mod rows;
pub mod set;
mod style;
mod timeline;
mod visits;
mod words;

#[cfg(test)]
mod tests;
#[cfg(test)]
mod xml;

pub use day::{DaySheet, SheetLine, SheetPart, day_sheet};
pub use set::{
    CheckpointWords, EntryState, LAYOUT_EDITION, Patient, PrintedAttachment, PrintedEntry, PrintedSet,
};

use entry::Desk;
use html::{esc, said};
use places::Heading;

/// The printed record as one HTML page.
pub fn page(set: &PrintedSet) -> String {
    let desk = Desk::new(set);
    let consents = others::under(&desk, Heading::Consents);
    let consents = if consents.is_empty() {
        timeline::section(&desk)
    } else {
        format!("{}<h3>{}</h3>\n{consents}", timeline::section(&desk), Heading::Consents.word())
    };
    let parts = [
        ("", front::cover(&desk)),
        ("", front::statement(&desk)),
        ("Table of entries", front::index(&desk)),
        ("Consents and withdrawals", consents),
        ("Visits, oldest first", visits::section(&desk)),
        ("Measures over time", measures::section(&desk)),
        ("Other entries", others::section(&desk)),
        ("Who opened this chart", others::openings(&desk)),
        ("Attachments", others::attachments(&desk)),
        ("Legend", back::legend()),
        ("Signature list", back::signatures(&desk)),
        ("Texts that were signed or given", back::wordings(&desk)),
        ("How to check this copy", back::how_to_check()),
        ("Digests of the entries", back::digests(&desk)),
    ];
    let mut out = start(set);
    for (index, (heading, html)) in parts.iter().enumerate() {
        // Short parts share a page; the cover, the statement and the long parts begin one.
        let new = matches!(index, 1..=6 | 9 | 12);
        out.push_str(if new { "<tr class=\"new\"><td>\n" } else { "<tr><td>\n" });
        if !heading.is_empty() {
            out.push_str(&format!("<h2>{}</h2>\n", esc(heading)));
        }
        out.push_str(html);
        out.push_str("</td></tr>\n");
    }
    out.push_str("</tbody></table>\n</body>\n</html>\n");
    out
}

/// Everything up to the first part. The head of the outer table is repeated by the printer on
/// every page, so that a page that got lost says whose it is.
fn start(set: &PrintedSet) -> String {
    let patient = &set.patient;
    let printed = format!("printed {} by {}", set.printed_at.plain(), set.printed_by.name);
    let foot = format!("register {} - check words: {}", set.ledger, set.checkpoint.check_words);
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\" />\n\
         <title>Record of treatment, chart no. {chart}</title>\n<style>\n{style}</style>\n</head>\n<body>\n\
         <table class=\"sheet\"><thead><tr><td><table class=\"head\"><tbody><tr>\
         <td><strong>{name}</strong>, born {birth}, chart no. {chart_said}</td>\
         <td class=\"r\">{printed}</td>\
         </tr></tbody></table></td></tr></thead><tbody>\n",
        chart = esc(&patient.chart_no),
        style = style::sheet(&foot),
        name = said(&patient.name),
        birth = said(&patient.birth),
        chart_said = said(&patient.chart_no),
        printed = said(&printed),
    )
}

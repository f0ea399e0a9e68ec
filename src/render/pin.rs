//! A number with its code, words and QR code on a page: the day slip, and the receipt for a consent.

use super::html::{esc, said};
use super::{agreed, style};
use crate::record::kinds::consent::{Consent, ConsentStatus};

/// A number and what stands for it, as a page shows them.
#[derive(Debug, Clone, Copy)]
pub struct PinParts<'a> {
    /// Number of the entry.
    pub number: u64,
    /// The code.
    pub code: &'a str,
    /// The twelve words.
    pub words: &'a [&'static str],
    /// Label of the ledger.
    pub ledger: &'a str,
    /// When it was made, in words.
    pub at: &'a str,
}

/// Rules for the block with words and QR code.
const RULES: &str = "
.pin { display: flex; gap: 7mm; align-items: flex-start; border: 1.2pt solid #000; padding: 3mm; margin: 3mm 0; \
break-inside: avoid; }
.pin .qr { flex: none; width: 33mm; } .pin svg { width: 33mm; height: 33mm; display: block; }
.pin table { width: auto; } .pin td, .pin th { padding: .5mm 5mm .5mm 0; }
.pin th { font-style: italic; } .pin .words td { padding: .2mm 5mm .2mm 0; white-space: nowrap; }
.pin .words em { font-size: 8pt; font-style: normal; }
.code { font-family: \"Courier New\", \"DejaVu Sans Mono\", monospace; } .pin .code { white-space: nowrap; }
";

/// The head of a page that stands alone, up to its heading.
pub(super) fn page_start(title: &str, foot: &str) -> String {
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\" />\n<title>{}</title>\n\
         <style>\n{}{RULES}</style>\n</head>\n<body>\n",
        esc(title),
        style::sheet(foot)
    )
}

/// The block with number, words, code and QR code. `qr` is an SVG picture.
pub(super) fn block(parts: &PinParts<'_>, number_is: &str, qr: &str) -> String {
    let mut words = String::from("<table class=\"words\"><tbody>\n");
    for (row, four) in parts.words.chunks(4).enumerate() {
        words.push_str("<tr>");
        for (at, word) in four.iter().enumerate() {
            words.push_str(&format!("<td><em>{}</em> {}</td>", row * 4 + at + 1, esc(word)));
        }
        words.push_str("</tr>\n");
    }
    words.push_str("</tbody></table>");
    let row = |what: &str, cell: &str| format!("<tr><th>{}</th><td>{cell}</td></tr>\n", esc(what));
    format!(
        "<div class=\"pin\">\n<div class=\"qr\">{qr}</div>\n<table><tbody>\n{}{}{}{}</tbody></table>\n</div>\n",
        row(number_is, &format!("<strong>{}</strong>", parts.number)),
        row("Words", &words),
        row("Code", &format!("<span class=\"code\">{}</span>", esc(parts.code))),
        row("Book", &format!("<span class=\"code\">{}</span>", said(parts.ledger))),
    )
}

/// The day slip as a page to print. `qr` is the SVG picture of its QR code.
pub fn slip_page(parts: &PinParts<'_>, qr: &str) -> String {
    let mut out = page_start("Day slip", "day slip");
    out.push_str(&format!("<h1>Day slip</h1>\n<p class=\"meta\">{}</p>\n", said(parts.at)));
    out.push_str(&block(parts, "Last number", qr));
    out.push_str(&format!(
        "<p>Paste this into the bound day book, or write the number and the words into it in ink. It pins down every \
         entry up to number {0}: none of them can be changed, moved or removed from now on without this slip \
         showing it. The last two words notice a word or number that was copied wrong.</p>\n\
         <p>To check: <span class=\"code\">inkfast verify --slip \"{0} WORDS\"</span>, or the number and the code, or what \
         the QR code says.</p>\n</body>\n</html>\n",
        parts.number
    ));
    out
}

/// What was agreed, for a receipt that can be read.
#[derive(Debug, Clone, Copy)]
pub struct Agreed<'a> {
    /// The consent.
    pub consent: &'a Consent,
    /// The patient's name.
    pub name: &'a str,
    /// Chart number.
    pub chart: &'a str,
    /// When it was given or declined, in words.
    pub given: &'a str,
    /// Name and address of the practice.
    pub practice: &'a str,
}

/// The receipt for a consent as a page to take away. Without `agreed` nothing on it can be read by whoever
/// finds it: only the digest. `leaf` is the BLAKE3 of the entry's leaf (hex), `qr` the SVG picture of the QR code.
pub fn receipt_page(
    parts: &PinParts<'_>,
    chart_seq: Option<u64>,
    leaf: &str,
    agreed: Option<&Agreed<'_>>,
    qr: &str,
) -> String {
    let mut out = page_start("Receipt", "receipt for one entry");
    let declined = agreed.is_some_and(|a| a.consent.status == ConsentStatus::Declined);
    out.push_str(match (agreed, declined) {
        (None, _) => "<h1>Receipt</h1>\n",
        (Some(_), false) => "<h1>Receipt for your consent</h1>\n",
        (Some(_), true) => "<h1>Receipt for what you declined</h1>\n",
    });
    let row = |label: &str, text: &str, depth: u8| {
        format!("<tr><td class=\"l d{depth}\">{}</td><td>{}</td></tr>\n", esc(label), said(text))
    };
    out.push_str("<table class=\"rows\"><tbody>\n");
    if let Some(agreed) = agreed {
        let what = if declined { "Declined on" } else { "Given on" };
        out.push_str(&row("Practice", agreed.practice, 0));
        out.push_str(&row("Patient", &format!("{}, chart {}", agreed.name, agreed.chart), 0));
        out.push_str(&row(what, agreed.given, 0));
        for line in agreed::rows(agreed.consent) {
            out.push_str(&row(&line.label, &line.text, line.depth.min(3)));
        }
    }
    if let Some(number) = chart_seq {
        out.push_str(&row(
            "Entry",
            &format!("{number} of the chart, number {} of the ledger", parts.number),
            0,
        ));
    }
    out.push_str(&row("Digest", leaf, 0));
    out.push_str("</tbody></table>\n");
    out.push_str(&block(parts, "Number", qr));
    out.push_str(&format!(
        "<p>This entry can't be changed, moved or removed without this page showing it. At any time, ask the practice to run \
         <span class=\"code\">inkfast verify --receipt \"{0} WORDS\"</span> in your sight, with the twelve words above or what the \
         QR code says. It answers whether the record still holds exactly this entry at number {0}. With a copy of your record, \
         anybody can do the same without the practice: <span class=\"code\">inkfast-check COPY --receipt \"{0} WORDS\"</span>.</p>\n\
         <p>It doesn't show what was added later.{2} The words and the code tell nobody what the entry says.</p>\n<p class=\"meta\">Printed {1}</p>\n</body>\n</html>\n",
        parts.number,
        said(parts.at),
        if agreed.is_some() { " A consent can be withdrawn or narrowed at any time, by saying so." } else { "" }
    ));
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_page_is_well_formed_and_holds_every_word() {
        let words = [
            "acorn", "banjo", "cedar", "diagram", "east", "falcon", "gazebo", "hammer", "igloo", "jigsaw",
            "kiln", "lamb",
        ];
        let parts = PinParts { number: 12, code: "ABCD-<", words: &words, ledger: "ledger-1", at: "today" };
        let page = slip_page(&parts, "<svg></svg>");
        crate::render::xml::parsed(&page);
        assert!(words.iter().all(|word| page.contains(word)) && page.contains("ABCD-&lt;"));
        let receipt = receipt_page(&parts, Some(3), "00ff", None, "<svg></svg>");
        crate::render::xml::parsed(&receipt);
        assert!(receipt.contains("00ff") && receipt.contains("3 of the chart"));
        for outside in ["http", "<script", "<img", "url("] {
            assert!(!page.contains(outside) && !receipt.contains(outside), "{outside}");
        }
    }
}

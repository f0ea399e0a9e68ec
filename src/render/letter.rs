//! A letter about a request on paper: one page that stands alone, in black and white. What is not filled in
//! is said in words, at its place and once more at the end.

use super::html::{esc, said};
use super::style;
use crate::record::moment::plain_date;
use crate::record::request::letter::{Letter, NOT_FILLED_IN};

/// The letter as one page of HTML.
pub fn letter_page(letter: &Letter) -> String {
    let foot = format!("our number {}", letter.request);
    let block = |lines: &[String]| lines.iter().map(|line| said(line)).collect::<Vec<_>>().join("<br />");
    let mut out = format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\" />\n<title>{title}</title>\n\
         <style>\n{style}</style>\n</head>\n<body>\n<p>{from}</p>\n<p>{to}</p>\n<p>{dated}</p>\n<h2>{title}</h2>\n",
        title = esc(letter.title),
        style = style::sheet(&foot),
        from = block(&letter.from),
        to = block(&letter.to),
        dated = esc(&plain_date(letter.dated.0)),
    );
    for part in &letter.parts {
        out.push_str(&format!("<h3>{}</h3>\n", esc(part.heading)));
        for line in &part.lines {
            out.push_str(&format!("<p>{}</p>\n", said(line)));
        }
    }
    out.push_str(&format!(
        "<p class=\"sign\"><span class=\"blank wide\"></span><br />{}</p>\n",
        said(&letter.signed_by)
    ));
    if !letter.is_ready() {
        out.push_str(&format!(
            "<p class=\"mark\">NOT READY TO BE SENT. {NOT_FILLED_IN}: {}.</p>\n",
            esc(&letter.not_filled_in.join("; "))
        ));
    }
    out.push_str("</body>\n</html>\n");
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::kinds::common::Day;
    use crate::record::moment::parse_date;
    use crate::record::request::letter::{About, LetterKind, Sender};
    use crate::record::request::letter_parts::extension;

    #[test]
    fn the_letter_stands_alone_and_names_what_is_not_filled_in() {
        let day = |text: &str| Day(parse_date(text).unwrap());
        let about = About {
            to: "<b>B. C.</b>".to_string(),
            address: None,
            dated: day("2025-02-20"),
            request: 31,
            received_on: day("2025-01-31"),
        };
        let sender = Sender { practice: "P".into(), address: "A".into(), ..Sender::default() };
        let letter =
            extension(LetterKind::Extension, &sender, &about, "Films are away.", Some(day("2025-04-01")));
        let page = letter_page(&letter);
        assert!(page.contains("&lt;b&gt;B. C.&lt;/b&gt;") && !page.contains("<b>"));
        assert!(page.contains("We will answer by Tue 01 Apr 2025."));
        assert!(
            page.contains("NOT READY TO BE SENT")
                && page.contains("[Not filled in: telephone of the contact]")
        );
        for outside in ["http", "<script", "<img", "url("] {
            assert!(!page.contains(outside), "{outside}");
        }
    }
}

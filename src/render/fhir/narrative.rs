//! Words for a reader, as the limited XHTML that FHIR allows (R4, "Narrative": the parts of HTML 4.0
//! named there, no scripts, no forms).

use super::types::Narrative;
use crate::record::show::Line;
use crate::render::html::esc;

/// The name space of XHTML.
const XHTML: &str = "http://www.w3.org/1999/xhtml";

/// Gathers the words of one narrative.
#[derive(Debug, Default)]
pub(super) struct Words(String);

impl Words {
    /// A heading above what follows.
    pub(super) fn heading(&mut self, text: &str) {
        self.0.push_str(&format!("<p><b>{}</b></p>", esc(text)));
    }

    /// A line by itself.
    pub(super) fn line(&mut self, text: &str) {
        self.0.push_str(&format!("<p>{}</p>", esc(text)));
    }

    /// Things by name, as a table of two columns.
    pub(super) fn rows<'r>(&mut self, rows: impl Iterator<Item = (String, &'r str)>) {
        let rows: Vec<String> = rows
            .map(|(name, value)| format!("<tr><td>{}</td><td>{}</td></tr>", esc(&name), esc(value)))
            .collect();
        if !rows.is_empty() {
            self.0.push_str(&format!("<table>{}</table>", rows.concat()));
        }
    }

    /// Lines of a record; deeper ones are set in by dots, since there are no styles to rely on.
    pub(super) fn lines(&mut self, lines: &[Line]) {
        let depth = |line: &Line| format!("{}{}", ". ".repeat(usize::from(line.depth)), line.label);
        self.rows(lines.iter().map(|line| (depth(line), line.value.as_str())));
    }

    /// As a narrative. It must say something (invariant txt-2).
    pub(super) fn done(self) -> Narrative {
        let inner = if self.0.is_empty() { "<p>Nothing is recorded here.</p>".to_string() } else { self.0 };
        Narrative { status: "generated".to_string(), div: format!("<div xmlns=\"{XHTML}\">{inner}</div>") }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_record_says_can_not_become_markup() {
        let mut words = Words::default();
        words.heading("<b>");
        words.rows([("a&b".to_string(), "\"<script>\"\u{202e}")].into_iter());
        let div = words.done().div;
        assert!(!div.contains("<script") && div.contains("&lt;script&gt;") && div.contains("a&amp;b"));
        assert!(div.contains("[U+202E]"), "{div}");
    }

    #[test]
    fn nothing_is_said_as_nothing() {
        assert!(Words::default().done().div.contains("Nothing is recorded here."));
    }
}

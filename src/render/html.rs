//! Writing HTML: everything from a record is escaped, and kept from changing the direction or
//! the look of the words around it.

use crate::text::escaped;
use std::fmt::Write;

/// Escapes text the program itself wrote.
pub fn esc(text: &str) -> String {
    let mut out = String::with_capacity(text.len() + 8);
    for c in text.chars() {
        put(&mut out, c);
    }
    out
}

/// Escapes text from a record and isolates its direction of writing. A line end stays a line end.
pub fn said(text: &str) -> String {
    format!("<bdi>{}</bdi>", esc(text))
}

fn put(out: &mut String, c: char) {
    if let Some(written) = escaped(c) {
        return out.push_str(written);
    }
    match c {
        '\n' => out.push_str("<br />"),
        '\t' => out.push(' '),
        c if unseen(c) => {
            let _ = write!(out, "[U+{:04X}]", u32::from(c));
        }
        c => out.push(c),
    }
}

/// Characters that leave no mark of their own but change what is seen: controls, marks of
/// direction, and fillers of no width. The joiners U+200C and U+200D belong to the spelling of
/// several languages and stay. (Unicode Bidirectional Algorithm, UAX 9, section 2, for the marks
/// of direction.)
fn unseen(c: char) -> bool {
    let code = u32::from(c);
    c.is_control()
        || matches!(code, 0x061C | 0x200B | 0x200E | 0x200F | 0x2028..=0x202E | 0x2060..=0x206F | 0xFEFF)
        || matches!(code, 0x00AD | 0x115F | 0x1160 | 0x3164 | 0xFFF9..=0xFFFB | 0xE0000..=0xE007F)
        || (code & 0xFFFE) == 0xFFFE
}

/// Text as a CSS string, quotes included.
pub fn css_string(text: &str) -> String {
    let mut out = String::from("\"");
    for c in text.chars() {
        if c.is_ascii_alphanumeric() || matches!(c, ' ' | '.' | ',' | '-' | ':' | '(' | ')') {
            out.push(c);
        } else if unseen(c) || c == '\n' || c == '\t' {
            out.push(' ');
        } else {
            // Six digits need no space behind them (CSS Syntax Level 3, section 4.3.7).
            let _ = write!(out, "\\{:06x}", u32::from(c));
        }
    }
    out.push('"');
    out
}

/// One row of a table.
pub fn tr(cells: &[String]) -> String {
    let mut out = String::from("<tr>");
    for cell in cells {
        out.push_str("<td>");
        out.push_str(cell);
        out.push_str("</td>");
    }
    out.push_str("</tr>\n");
    out
}

/// The opening of a table with its head row; close it with [`TABLE_END`].
pub fn table_start(class: &str, heads: &[&str]) -> String {
    let mut out = format!("<table class=\"{class}\"><thead><tr>");
    for head in heads {
        let _ = write!(out, "<th>{}</th>", esc(head));
    }
    out.push_str("</tr></thead><tbody>\n");
    out
}

/// The end of a table.
pub const TABLE_END: &str = "</tbody></table>\n";

/// A pointer to an entry on this page, by its number.
pub fn entry_link(seq: u64) -> String {
    format!("<a href=\"#e{seq}\">no. {seq}</a>")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn markup_in_a_record_stays_text() {
        let text = said("<script>alert('x')</script> & \"y\"");
        assert_eq!(text, "<bdi>&lt;script&gt;alert(&#39;x&#39;)&lt;/script&gt; &amp; &quot;y&quot;</bdi>");
    }

    #[test]
    fn what_cannot_be_seen_is_made_visible() {
        assert_eq!(esc("left\u{202E}thgir"), "left[U+202E]thgir");
        assert_eq!(
            esc("a\u{0}b\u{7f}c\u{2066}d\u{FEFF}\u{feff}"),
            "a[U+0000]b[U+007F]c[U+2066]d[U+FEFF][U+FEFF]"
        );
        assert_eq!(esc("two\nlines"), "two<br />lines");
        assert_eq!(esc("\u{645}\u{6CC}\u{200C}\u{62E}"), "\u{645}\u{6CC}\u{200C}\u{62E}");
    }

    #[test]
    fn a_name_cannot_leave_its_css_string() {
        assert_eq!(css_string("O\"; } x\\"), "\"O\\000022\\00003b \\00007d x\\00005c\"");
    }
}

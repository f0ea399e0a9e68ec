//! Every printed page read as XML, as a program that makes another form of it reads it.
//!
//! HTML forgives an unclosed row, a wrong nesting or a stray `&`, and each reader repairs it in its own
//! way. A page that is well-formed XML has one reading only, on every computer.

use roxmltree::{Document, ParsingOptions};

/// Elements the printed pages are made of. Whoever reads the pages to make another form of them may
/// rely on it; a new one has to be told to them.
const ELEMENTS: &[&str] = &[
    "html", "head", "meta", "title", "style", "body", "section", "article", "header", "footer", "div",
    "span", "bdi", "h1", "h2", "h3", "h4", "p", "ul", "ol", "li", "dl", "dt", "dd", "table", "thead",
    "tbody", "tr", "th", "td", "strong", "em", "del", "ins", "a", "br", "hr", "img", "figure",
];

/// Elements that never hold anything (WHATWG HTML, 13.1.2, "void elements"). Only these may be closed
/// within their own tag: a browser takes `<td />` for an opening tag.
const VOID: &[&str] = &["meta", "br", "hr", "img"];

/// Parses a page strictly; panics with what is wrong.
pub fn parsed(html: &str) -> Document<'_> {
    let options = ParsingOptions { allow_dtd: true, ..ParsingOptions::default() };
    let page = Document::parse_with_options(html, options).unwrap_or_else(|e| panic!("{e}"));
    for node in page.descendants().filter(|node| node.is_element()) {
        if node.ancestors().any(|above| above.has_tag_name("svg")) {
            continue;
        }
        let name = node.tag_name().name();
        assert!(ELEMENTS.contains(&name), "<{name}>");
        if !VOID.contains(&name) {
            let source = &html[node.range()];
            assert!(!source.ends_with("/>"), "a browser would leave this open: {source}");
        }
    }
    page
}

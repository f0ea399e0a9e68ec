//! A summary as plain blocks, and its two forms: a page like that of the record, and lines for a screen.
//! A summary is never the record, and every form says so, on every page.

use super::html::{TABLE_END, esc, said, table_start, tr};
use super::set::PrintedSet;

/// What every summary says of itself.
pub const NOT_THE_RECORD: &str = "A summary, not the record.";

/// A part of a summary. All texts are plain.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Block {
    /// A heading.
    Heading(String),
    /// A paragraph.
    Words(String),
    /// A line that must not be missed.
    Strong(String),
    /// A list.
    List(Vec<String>),
    /// A list of lines that must not be missed.
    StrongList(Vec<String>),
    /// A numbered list.
    Steps(Vec<String>),
    /// A table: heads and rows.
    Table(Vec<String>, Vec<Vec<String>>),
}

/// A summary.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Summary {
    /// Its title.
    pub title: String,
    /// Set small, to be short.
    pub small: bool,
    /// Its parts, in the order read.
    pub blocks: Vec<Block>,
}

impl Summary {
    /// A heading with a list, or with the words for an empty one.
    pub fn list(&mut self, heading: &str, lines: Vec<String>, none: &str) {
        self.blocks.push(Block::Heading(heading.to_string()));
        self.blocks.push(if lines.is_empty() { Block::Words(none.to_string()) } else { Block::List(lines) });
    }

    /// The same, with no more than `most` lines: the newest, which stand last; and how many others there are.
    pub fn newest(&mut self, heading: &str, mut lines: Vec<String>, most: usize, none: &str) {
        let more = lines.len().saturating_sub(most);
        lines.drain(..more);
        if more > 0 {
            lines.insert(0, left_out(more));
        }
        self.list(heading, lines, none);
    }

    /// A heading with a table, or with the words for an empty one.
    pub fn table(&mut self, heading: &str, heads: &[&str], rows: Vec<Vec<String>>, none: &str) {
        self.blocks.push(Block::Heading(heading.to_string()));
        let heads = heads.iter().map(|head| (*head).to_string()).collect();
        let empty = rows.is_empty();
        self.blocks.push(if empty { Block::Words(none.to_string()) } else { Block::Table(heads, rows) });
    }
}

/// Says how many lines are left out for want of room. They are the older ones.
pub fn left_out(more: usize) -> String {
    let stand = if more == 1 { "earlier one stands" } else { "earlier ones stand" };
    format!("{more} {stand} in the record; left out here for want of room")
}

/// The summary as one HTML page.
pub fn html(set: &PrintedSet, summary: &Summary) -> String {
    let mut out = super::start(set, &summary.title, "<strong>A SUMMARY, not the record</strong>; ");
    let class = if summary.small { "summary short" } else { "summary" };
    out.push_str(&format!("<tr><td>\n<div class=\"{class}\">\n"));
    out.push_str(&format!("<h1>{}</h1>\n", esc(&summary.title)));
    let mut blocks = summary.blocks.iter().peekable();
    while let Some(block) = blocks.next() {
        let run = match (block, blocks.peek()) {
            (Block::Heading(heading), Some(next)) if summary.small => run_in(heading, next),
            (Block::Strong(first), Some(Block::Words(words))) if summary.small => {
                Some(format!("<p><strong>{}</strong> {}</p>\n", said(first), said(words)))
            }
            _ => None,
        };
        match run {
            Some(html) => {
                out.push_str(&html);
                blocks.next();
            }
            None => out.push_str(&block_html(block)),
        }
    }
    out.push_str("</div>\n</td></tr>\n");
    out.push_str(super::END);
    out
}

/// A heading with what stands under it in one paragraph, where room is short; none for a table.
fn run_in(heading: &str, block: &Block) -> Option<String> {
    let (lines, strong) = match block {
        Block::Words(words) => (std::slice::from_ref(words), false),
        Block::List(lines) => (lines.as_slice(), false),
        Block::StrongList(lines) => (lines.as_slice(), true),
        _ => return None,
    };
    let say = |line: &String| if strong { format!("<strong>{}</strong>", said(line)) } else { said(line) };
    let lines: Vec<String> = lines.iter().map(say).collect();
    Some(format!("<p><strong>{}:</strong> {}</p>\n", esc(heading), lines.join(" &#8226; ")))
}

fn block_html(block: &Block) -> String {
    let items = |lines: &[String]| -> String {
        lines.iter().map(|line| format!("<li>{}</li>\n", said(line))).collect()
    };
    match block {
        Block::Heading(words) => format!("<h3>{}</h3>\n", esc(words)),
        Block::Words(words) => format!("<p>{}</p>\n", said(words)),
        Block::Strong(words) => format!("<p><strong>{}</strong></p>\n", said(words)),
        Block::List(lines) => format!("<ul class=\"tight\">\n{}</ul>\n", items(lines)),
        Block::StrongList(lines) => {
            let items = lines.iter().map(|line| format!("<li><strong>{}</strong></li>\n", said(line)));
            format!("<ul class=\"tight\">\n{}</ul>\n", items.collect::<String>())
        }
        Block::Steps(lines) => format!("<ol class=\"tight\">\n{}</ol>\n", items(lines)),
        Block::Table(heads, rows) => {
            let heads: Vec<&str> = heads.iter().map(String::as_str).collect();
            let mut out = table_start("grid", &heads);
            for row in rows {
                out.push_str(&tr(&row.iter().map(|cell| said(cell)).collect::<Vec<_>>()));
            }
            out + TABLE_END
        }
    }
}

/// The summary as lines for a screen.
pub fn text(summary: &Summary) -> Vec<String> {
    let mut out = vec![summary.title.to_uppercase()];
    for block in &summary.blocks {
        match block {
            Block::Heading(words) => out.extend([String::new(), words.clone()]),
            Block::Words(words) | Block::Strong(words) => out.push(words.clone()),
            Block::List(lines) | Block::StrongList(lines) => {
                out.extend(lines.iter().map(|line| format!("- {line}")));
            }
            Block::Steps(lines) => {
                out.extend(lines.iter().enumerate().map(|(n, line)| format!("{}. {line}", n + 1)));
            }
            Block::Table(heads, rows) => out.extend(rows.iter().map(|row| {
                let cells = heads.iter().zip(row).filter(|(_, cell)| !cell.is_empty() && *cell != "-");
                let told: Vec<String> = cells.map(|(head, cell)| format!("{head}: {cell}")).collect();
                format!("- {}", told.join("; "))
            })),
        }
    }
    out
}

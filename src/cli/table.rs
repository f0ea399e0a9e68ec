//! Plain text for a screen or a printer: label and value, tables. Black and white.

pub use crate::text::{fitted, indented, shown, wrap};
use std::io::{IsTerminal, Stdout, Write};
use std::sync::OnceLock;

/// The width taken where none is known, in characters.
pub const USUAL_WIDTH: usize = 80;

/// The width of the screen, once it is known that there is one.
static SCREEN: OnceLock<usize> = OnceLock::new();

/// The width to write at: what the shell says in `COLUMNS`, else that of the screen, within reason, else
/// [`USUAL_WIDTH`].
pub fn width() -> usize {
    let said = std::env::var("COLUMNS").ok().and_then(|text| text.trim().parse().ok());
    let within_reason = |width: &usize| (20..=400).contains(width);
    let known = said.filter(within_reason).or_else(|| SCREEN.get().copied().filter(within_reason));
    known.unwrap_or(USUAL_WIDTH)
}

/// Standard output, fitted to the screen when it is one: long lines break between words there, and nowhere
/// when they go to a file or another program.
pub struct Screen {
    out: Stdout,
    is_one: bool,
    begun: Vec<u8>,
}

impl Screen {
    /// What is written to; `as_it_is` leaves every line whole, as data must be.
    pub fn new(as_it_is: bool) -> Screen {
        let out = std::io::stdout();
        if let Ok(size) = rustix::termios::tcgetwinsize(&out) {
            let _ = SCREEN.set(size.ws_col.into());
        }
        let is_one = out.is_terminal() && !as_it_is;
        Screen { out, is_one, begun: Vec::new() }
    }
}

impl Write for Screen {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        if !self.is_one {
            return self.out.write(bytes);
        }
        self.begun.extend_from_slice(bytes);
        if let Some(end) = self.begun.iter().rposition(|byte| *byte == b'\n') {
            let rest = self.begun.split_off(end + 1);
            let whole = String::from_utf8_lossy(&self.begun).into_owned();
            self.begun = rest;
            self.out.write_all(fitted(&whole, width()).as_bytes())?;
        }
        Ok(bytes.len())
    }

    fn flush(&mut self) -> std::io::Result<()> {
        let begun = std::mem::take(&mut self.begun);
        self.out.write_all(&begun)?;
        self.out.flush()
    }
}

/// Labels on the left, values wrapped on the right. Ends without a line break.
pub fn labelled(pairs: &[(&str, &str)], width: usize) -> String {
    let widest = pairs.iter().map(|(label, _)| length(label)).max().unwrap_or(0).min(width / 2);
    let mut lines = Vec::new();
    for (label, value) in pairs {
        let values = wrap(value, width.saturating_sub(widest + 2).max(1));
        let mut label = shown(label);
        if length(&label) > widest {
            // A label too long for its column has a line to itself.
            lines.push(std::mem::take(&mut label));
        }
        for value in values {
            lines.push(
                format!("{}  {value}", padded(&std::mem::take(&mut label), widest)).trim_end().to_owned(),
            );
        }
    }
    lines.join("\n")
}

/// A table with a line of headings.
#[derive(Debug, Clone, Default)]
pub struct Table {
    headings: Vec<String>,
    rows: Vec<Vec<String>>,
}

impl Table {
    /// A table with these headings and no rows.
    pub fn new<S: Into<String>>(headings: impl IntoIterator<Item = S>) -> Table {
        Table { headings: headings.into_iter().map(Into::into).collect(), rows: Vec::new() }
    }

    /// Adds a row. Cells beyond the headings are left out; missing ones are empty.
    pub fn row<S: Into<String>>(&mut self, cells: impl IntoIterator<Item = S>) {
        let mut cells: Vec<String> = cells.into_iter().map(Into::into).collect();
        cells.resize(self.headings.len(), String::new());
        self.rows.push(cells);
    }

    /// True when there is no row.
    pub fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }

    /// The table at this width. Where its columns do not fit, the widest are wrapped. Ends
    /// without a line break.
    pub fn render(&self, width: usize) -> String {
        if self.headings.is_empty() {
            return String::new();
        }
        let widths = self.widths(width);
        let rule: Vec<String> = widths.iter().map(|width| "-".repeat(*width)).collect();
        let mut lines = Vec::new();
        write_row(&self.headings, &widths, &mut lines);
        lines.push(rule.join("  "));
        for row in &self.rows {
            write_row(row, &widths, &mut lines);
        }
        lines.join("\n")
    }

    fn widths(&self, width: usize) -> Vec<usize> {
        let all = || std::iter::once(&self.headings).chain(&self.rows);
        let most = |column: usize, of: fn(&str) -> usize| {
            all().filter_map(|row| row.get(column)).map(|cell| of(cell)).max().unwrap_or(0).max(1)
        };
        let columns = 0..self.headings.len();
        let mut widths: Vec<usize> = columns.clone().map(|column| most(column, longest_line)).collect();
        let least: Vec<usize> = columns.map(|column| most(column, longest_word)).collect();
        let room = width.saturating_sub(2 * (self.headings.len() - 1));
        while widths.iter().sum::<usize>() > room {
            // The widest column that still has words to break gives way; none left, the table
            // runs over: whole words come before the edge of the screen.
            let widest = (0..widths.len()).filter(|at| widths[*at] > least[*at]).max_by_key(|at| widths[*at]);
            match widest {
                Some(at) => widths[at] -= 1,
                None => break,
            }
        }
        widths
    }
}

fn write_row(cells: &[String], widths: &[usize], lines: &mut Vec<String>) {
    let cells: Vec<Vec<String>> = cells.iter().zip(widths).map(|(cell, width)| wrap(cell, *width)).collect();
    let height = cells.iter().map(Vec::len).max().unwrap_or(0);
    for at in 0..height {
        let parts: Vec<String> = cells
            .iter()
            .zip(widths)
            .map(|(cell, width)| padded(cell.get(at).map_or("", String::as_str), *width))
            .collect();
        lines.push(parts.join("  ").trim_end().to_owned());
    }
}

fn length(text: &str) -> usize {
    text.chars().count()
}

fn longest_line(text: &str) -> usize {
    shown(text).lines().map(length).max().unwrap_or(0)
}

fn longest_word(text: &str) -> usize {
    shown(text).split_whitespace().map(length).max().unwrap_or(0)
}

fn padded(text: &str, width: usize) -> String {
    let missing = width.saturating_sub(length(text));
    format!("{text}{}", " ".repeat(missing))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn labels_and_values_line_up() {
        let text = labelled(&[("Side", "left"), ("Region", "the neck and the shoulder girdle")], 24);
        assert_eq!(text, "Side    left\nRegion  the neck and the\n        shoulder girdle");
    }

    #[test]
    fn a_table_gives_way_where_it_is_widest() {
        let mut table = Table::new(["No.", "What"]);
        table.row(["1", "soft tissue of the jaw, outside"]);
        table.row(["2"]);
        assert_eq!(
            table.render(20),
            "No.  What\n---  ---------------\n1    soft tissue of\n     the jaw,\n     outside\n2"
        );
        assert!(table.render(1).contains("outside"));
        assert_eq!(Table::new(Vec::<String>::new()).render(80), "");
    }
}

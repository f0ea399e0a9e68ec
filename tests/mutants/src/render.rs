//! The new text of a file: the old one, with the outermost places replaced, and the places within them in turn.

use std::ops::Range;

use crate::{Lies, Rewritten};

/// A piece of the text that stands in a place's stead.
#[derive(Debug, Clone)]
pub enum Piece {
    /// As it stands here.
    Text(String),
    /// As it stands here, and there for this mutant alone.
    Own(u32, String),
    /// What stood in the source, with the mutants in it.
    Inner(Range<usize>),
    /// What stood in the source, without them.
    Plain(Range<usize>),
}

/// A place that is rewritten. An empty range is an insertion.
#[derive(Debug, Clone)]
pub struct Site {
    pub range: Range<usize>,
    pub pieces: Vec<Piece>,
}

/// Renders `source` with `sites`, which are in the order in which the tree is walked: an outer one comes first.
pub fn render(source: &str, sites: &[Site]) -> (String, Rewritten) {
    let mut writer = Writer { source, sites, out: String::new(), lies: Rewritten::default() };
    writer.inner(0..source.len(), 0);
    (writer.out, writer.lies)
}

struct Writer<'a> {
    source: &'a str,
    sites: &'a [Site],
    out: String,
    lies: Rewritten,
}

impl Writer<'_> {
    /// Writes a range of the source with the sites in it, of those from `from` on.
    fn inner(&mut self, range: Range<usize>, from: usize) {
        let mut here: Vec<usize> = (from..self.sites.len())
            .filter(|&i| range.start <= self.sites[i].range.start && self.sites[i].range.end <= range.end)
            .collect();
        // At one place: what is inserted before it, then the outermost.
        here.sort_by_key(|&i| {
            let at = &self.sites[i].range;
            (at.start, !at.is_empty(), usize::MAX - at.end, i)
        });
        let mut at = range.start;
        for i in here {
            let site = self.sites[i].range.clone();
            if site.start < at {
                continue;
            }
            self.out.push_str(&self.source[at..site.start]);
            self.site(i);
            at = site.end;
        }
        self.out.push_str(&self.source[at..range.end]);
    }

    fn site(&mut self, i: usize) {
        let start = self.out.len();
        let mut mutants = Vec::new();
        for piece in self.sites[i].pieces.clone() {
            match piece {
                Piece::Text(text) => self.out.push_str(&text),
                Piece::Own(number, text) => {
                    let start = self.out.len();
                    self.out.push_str(&text);
                    mutants.push(number);
                    self.lies.own.push(Lies { start, end: self.out.len(), mutants: vec![number] });
                }
                Piece::Inner(range) => self.inner(range, i + 1),
                Piece::Plain(range) => self.out.push_str(&self.source[range]),
            }
        }
        self.lies.places.push(Lies { start, end: self.out.len(), mutants });
    }
}

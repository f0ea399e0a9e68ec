//! Cutting the column into pages.

use super::lay::{Break, Head, Strip};

/// A strip on its page.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Placed {
    /// A strip, by its number, this far down; `joined` where the strip above is on the page too.
    Strip { strip: usize, y: f32, above: f32 },
    /// Head rows once more.
    Head { head: usize, y: f32 },
}

/// The strips of each page; `room` is the height that a page has for them.
pub fn pages(strips: &[Strip], heads: &[Head], room: f32) -> Vec<Vec<Placed>> {
    let mut cut = Cut { strips, heads, room, done: Vec::new(), page: Vec::new(), y: 0.0, fresh: true };
    let mut at = 0;
    while at < strips.len() {
        let end = unit_end(strips, at);
        if strips.get(at).is_some_and(|strip| strip.may_break == Break::Must) {
            cut.turn();
        }
        if !cut.fits(at, end) {
            cut.turn();
        }
        if cut.fits(at, end) {
            (at..end).for_each(|strip| cut.place(strip));
        } else {
            // No page holds it in one: it is cut where it is full.
            for strip in at..end {
                if !cut.fits(strip, strip + 1) {
                    cut.turn();
                }
                cut.place(strip);
            }
        }
        at = end;
    }
    cut.turn();
    cut.done
}

/// Up to where strips ask to stay with the one at `at`.
fn unit_end(strips: &[Strip], at: usize) -> usize {
    let rest = strips.iter().skip(at + 1);
    at + 1 + rest.take_while(|strip| strip.may_break == Break::Avoid).count()
}

struct Cut<'a> {
    strips: &'a [Strip],
    heads: &'a [Head],
    room: f32,
    done: Vec<Vec<Placed>>,
    page: Vec<Placed>,
    y: f32,
    /// Nothing but head rows is on the page.
    fresh: bool,
}

impl Cut<'_> {
    /// Begins a page, unless the page is empty.
    fn turn(&mut self) {
        if !self.fresh {
            self.done.push(std::mem::take(&mut self.page));
            (self.y, self.fresh) = (0.0, true);
        }
    }

    /// The head rows that a page has to begin with when it begins with this strip.
    fn head(&self, strip: usize) -> Option<(usize, f32)> {
        let number = self.strips.get(strip)?.head.filter(|_| self.fresh)?;
        self.heads.get(number).map(|head| (number, head.height))
    }

    fn fits(&self, from: usize, to: usize) -> bool {
        let strips = self.strips.get(from..to).unwrap_or_default();
        let height: f32 = strips.iter().map(|strip| strip.above + strip.height).sum();
        let spared = if self.fresh { strips.first().map_or(0.0, |strip| strip.above) } else { 0.0 };
        let head = self.head(from).map_or(0.0, |(_, height)| height);
        // Sums of many small heights are off by a hair.
        self.y + head + height - spared <= self.room + 0.01
    }

    fn place(&mut self, number: usize) {
        let Some(strip) = self.strips.get(number) else { return };
        if let Some((head, height)) = self.head(number) {
            self.page.push(Placed::Head { head, y: self.y });
            self.y += height;
        }
        let above = if self.fresh { 0.0 } else { strip.above };
        self.page.push(Placed::Strip { strip: number, y: self.y + above, above });
        self.y += above + strip.height;
        self.fresh = false;
    }
}

//! Laying out: pieces become strips of one long column, each with the room above it and whether a page may
//! begin with it.

use super::looks::Frame;
use super::picture::Picture;
use super::read::{Block, Piece};
use super::text::Para;

/// Whether a page may begin with a strip. In the order of strength.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Break {
    /// It may.
    May,
    /// Only where no page could hold it together with what stands above.
    Avoid,
    /// It does.
    Must,
}

/// What is drawn in a strip; distances in points from its left upper corner.
#[derive(Debug, Clone)]
pub enum Item {
    /// A line of words: the paragraph's number, the line's number.
    Line { x: f32, y: f32, para: usize, line: usize },
    /// A level line.
    Rule { x: f32, y: f32, width: f32, strength: f32 },
    /// An upright line along the strip, and up to the strip above if `joined`.
    Bar { x: f32, strength: f32, joined: bool },
    /// An upright line of a length of its own.
    Upright { x: f32, y: f32, height: f32, strength: f32 },
    /// A picture, by its number, and how many points its unit is.
    Picture { x: f32, y: f32, picture: usize, scale: f32 },
    /// A place that pointers lead to.
    Place { y: f32, id: String },
    /// A heading for the list of contents.
    Heading { y: f32, level: u16, words: String },
}

impl Item {
    /// The same, moved.
    pub fn moved(mut self, by_x: f32, by_y: f32) -> Item {
        match &mut self {
            Item::Line { x, y, .. }
            | Item::Rule { x, y, .. }
            | Item::Upright { x, y, .. }
            | Item::Picture { x, y, .. } => {
                (*x, *y) = (*x + by_x, *y + by_y);
            }
            Item::Bar { x, .. } => *x += by_x,
            Item::Place { y, .. } | Item::Heading { y, .. } => *y += by_y,
        }
        self
    }
}

/// A piece of the column that is never cut.
#[derive(Debug, Clone)]
pub struct Strip {
    /// Room above, unless it begins a page.
    pub above: f32,
    /// Its height.
    pub height: f32,
    /// Whether a page may begin with it.
    pub may_break: Break,
    /// What is drawn in it.
    pub items: Vec<Item>,
    /// The head rows to be repeated above it when it begins a page, by their number.
    pub head: Option<usize>,
}

/// The rows that a table repeats.
#[derive(Debug, Clone)]
pub struct Head {
    /// What is drawn.
    pub items: Vec<Item>,
    /// How high.
    pub height: f32,
}

/// A column being filled.
#[derive(Debug, Default)]
pub struct Column {
    /// What is in it.
    pub strips: Vec<Strip>,
    /// Room to be left above the next strip.
    room: f32,
    /// What comes next stays with what stands above.
    keep: bool,
}

impl Column {
    /// Leaves at least this room: two distances become the larger of both, as on the page.
    pub fn leave(&mut self, room: f32) {
        self.room = self.room.max(room);
    }

    /// What comes next stays on the page of what is there.
    pub fn keep(&mut self) {
        self.keep = true;
    }

    /// Adds a strip.
    pub fn push(&mut self, height: f32, may_break: Break, items: Vec<Item>) {
        let kept = std::mem::take(&mut self.keep) && may_break == Break::May;
        self.strips.push(Strip {
            above: std::mem::take(&mut self.room),
            height,
            may_break: if kept { Break::Avoid } else { may_break },
            items,
            head: None,
        });
    }

    /// Its whole height, with the room above the first strip but none beneath the last.
    pub fn height(&self) -> f32 {
        self.strips.iter().map(|strip| strip.above + strip.height).sum()
    }

    /// The room that is still to be left.
    pub fn rest(&self) -> f32 {
        self.room
    }
}

/// Lays out pieces.
pub struct Layer<'a> {
    /// All words.
    pub paras: &'a mut [Para],
    /// All pictures.
    pub pictures: &'a [Picture],
    /// Room for the text of one page, in points.
    pub page: f32,
    /// The head rows of all tables.
    pub heads: Vec<Head>,
}

impl Layer<'_> {
    /// Lays out pieces one beneath the other.
    pub fn pieces(&mut self, pieces: &[Piece], x: f32, width: f32, right: bool, column: &mut Column) {
        for piece in pieces {
            match piece {
                Piece::Words(number, frame) => self.words(*number, frame, (x, width, right), column),
                Piece::Block(block) => self.block(block, x, width, right, column),
                Piece::Table(table) => self.table(table, x, width, column),
                Piece::Picture(number) => self.picture(*number, x, width, column),
            }
        }
    }

    fn words(
        &mut self,
        number: usize,
        frame: &Frame,
        (x, width, right): (f32, f32, bool),
        column: &mut Column,
    ) {
        let Some(para) = self.paras.get_mut(number) else { return };
        para.break_lines(width, right);
        let lines = para.layout.len();
        for (index, line) in para.layout.lines().enumerate() {
            let height = line.metrics().line_height;
            let near_start = index > 0 && index < frame.orphans;
            let near_end = index > 0 && index + frame.orphans > lines;
            let may_break = if near_start || near_end { Break::Avoid } else { Break::May };
            column.push(height, may_break, vec![Item::Line { x, y: 0.0, para: number, line: index }]);
        }
    }

    fn block(&mut self, block: &Block, x: f32, width: f32, right: bool, column: &mut Column) {
        let frame = &block.frame;
        column.leave(frame.above);
        let first = column.strips.len();
        if frame.rule_above > 0.0 {
            column.push(
                frame.rule_above,
                Break::May,
                vec![Item::Rule { x, y: frame.rule_above / 2.0, width, strength: frame.rule_above }],
            );
            column.keep();
        }
        let inner = width - frame.left - frame.right;
        self.pieces(&block.pieces, x + frame.left, inner, right || frame.to_the_right, column);
        if column.strips.len() == first {
            return;
        }
        self.label(block, x + frame.left, first, column);
        if let Some(strip) = column.strips.get_mut(first) {
            let y = 0.0;
            strip.items.extend(block.id.iter().map(|id| Item::Place { y, id: id.clone() }));
            let heading = block.heading.iter();
            strip.items.extend(heading.map(|(level, words)| Item::Heading {
                y,
                level: *level,
                words: words.clone(),
            }));
        }
        if frame.bottom > 0.0 || frame.rule_below > 0.0 {
            let rest = column.rest() + frame.bottom;
            column.room = 0.0;
            if let Some(last) = column.strips.last_mut() {
                last.height += rest + frame.rule_below;
                if frame.rule_below > 0.0 {
                    let y = last.height - frame.rule_below / 2.0;
                    last.items.push(Item::Rule { x, y, width, strength: frame.rule_below });
                }
            }
        }
        let strips = column.strips.get_mut(first..).unwrap_or_default();
        if frame.bar > 0.0 {
            for (index, strip) in strips.iter_mut().enumerate() {
                // Where the room for it was made: between the margin and the words.
                let bar = x + frame.left - 4.0 * super::MM - frame.bar;
                strip.items.push(Item::Bar { x: bar, strength: frame.bar, joined: index > 0 });
            }
        }
        if frame.keep_whole {
            keep_whole(strips, self.page);
        }
        column.leave(frame.below);
        if frame.keep_next {
            column.keep();
        }
    }

    /// Puts the number or bullet of an item beside its first line.
    fn label(&mut self, block: &Block, x: f32, first: usize, column: &mut Column) {
        let Some(number) = block.label else { return };
        let Some(para) = self.paras.get_mut(number) else { return };
        para.break_lines(f32::MAX, false);
        let width = para.layout.full_width();
        if let Some(strip) = column.strips.get_mut(first) {
            let item = Item::Line { x: x - 1.8 * super::MM - width, y: 0.0, para: number, line: 0 };
            strip.items.insert(0, item);
        }
    }

    fn picture(&mut self, number: usize, x: f32, width: f32, column: &mut Column) {
        let Some(picture) = self.pictures.get(number) else { return };
        // A picture is never cut, so one that is too high becomes smaller.
        let scale = (width / picture.width).min(self.page / picture.height);
        let item = Item::Picture { x, y: 0.0, picture: number, scale };
        column.push(picture.height * scale, Break::May, vec![item]);
    }

    /// How narrow and how wide pieces can sensibly be.
    pub fn widths(&self, pieces: &[Piece]) -> (f32, f32) {
        let mut widest = (0.0_f32, 0.0_f32);
        for piece in pieces {
            let (min, max) = match piece {
                Piece::Words(number, _) => self.paras.get(*number).map_or((0.0, 0.0), Para::widths),
                Piece::Block(block) => {
                    let (min, max) = self.widths(&block.pieces);
                    let room = block.frame.left + block.frame.right;
                    (min + room, max + room)
                }
                Piece::Table(table) => self.table_widths(table),
                Piece::Picture(number) => {
                    (0.0, self.pictures.get(*number).map_or(0.0, |picture| picture.width))
                }
            };
            widest = (widest.0.max(min), widest.1.max(max));
        }
        widest
    }
}

/// Keeps strips on one page if one page can hold them.
pub fn keep_whole(strips: &mut [Strip], page: f32) {
    let height: f32 = strips.iter().skip(1).map(|strip| strip.above + strip.height).sum();
    if strips.first().is_none_or(|first| first.height + height > page) {
        return;
    }
    for strip in strips.iter_mut().skip(1).filter(|strip| strip.may_break == Break::May) {
        strip.may_break = Break::Avoid;
    }
}

//! Tables: how wide each column is, rows that are not cut if a page can hold them, and head rows that every
//! page of a table begins with.

use super::lay::{Break, Column, Head, Item, Layer, Strip};
use super::looks::Frame;
use super::read::{Cell, Row, Table};

/// A row that is higher than this part of a page is cut; every other one stays whole.
const WHOLE_ROW: f32 = 0.96;
/// A row that must be cut is cut about this often: into bands of this height, in points.
const BAND: f32 = 48.0;

/// What the cells of a column ask for, in points with the room around them.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Asked {
    /// Narrowest without a word broken.
    pub min: f32,
    /// Widest: nothing broken into lines.
    pub max: f32,
    /// Width that the page gives it.
    pub given: Option<f32>,
}

/// How wide each column becomes, when `room` is to be filled.
///
/// As a browser does it (CSS 2.2, 17.5.2.2): what the page gives a column it gets, if that leaves the others
/// room for their longest words; the others share the rest, nearer to their widest where there is enough.
pub fn share(asked: &[Asked], room: f32) -> Vec<f32> {
    let given = |column: &Asked| column.given.map(|width| width.max(column.min));
    let sum = |of: &dyn Fn(&Asked) -> f32| asked.iter().map(of).sum::<f32>();
    let (fixed, min) = (sum(&|a| given(a).unwrap_or(0.0)), sum(&|a| a.min));
    let free_min = sum(&|a| if a.given.is_some() { 0.0 } else { a.min });
    let free_max = sum(&|a| if a.given.is_some() { 0.0 } else { a.max });
    let left = room - fixed;
    let part = |low: f32, high: f32, spare: f32, of: f32| low + spare * (high - low) / of.max(0.01);
    let width = |column: &Asked| {
        let wished = given(column);
        if min > room {
            // Not even the longest words have room: everything in proportion, and words are broken.
            column.min * room / min
        } else if left < free_min {
            part(column.min, wished.unwrap_or(column.min), room - min, fixed + free_min - min)
        } else if free_max == 0.0 {
            wished.unwrap_or(column.min) * room / (fixed + free_min).max(1.0)
        } else if free_max <= left {
            wished.unwrap_or(column.max * left / free_max)
        } else {
            wished.unwrap_or_else(|| part(column.min, column.max, left - free_min, free_max - free_min))
        }
    };
    asked.iter().map(width).collect()
}

impl Layer<'_> {
    fn asked(&self, table: &Table) -> Vec<Asked> {
        let rows = || table.head.iter().chain(&table.body);
        let columns = rows().map(|row| row.cells.iter().map(|cell| cell.columns).sum::<usize>()).max();
        let mut asked = vec![Asked::default(); columns.unwrap_or(0)];
        for row in rows() {
            let mut at = 0;
            for cell in &row.cells {
                // What goes over several columns takes what they have.
                if let (1, Some(column)) = (cell.columns, asked.get_mut(at)) {
                    let (min, max) = self.widths(&cell.pieces);
                    let room = cell.frame.left + cell.frame.right;
                    column.min = column.min.max(min.max(cell.frame.least) + room);
                    column.max = column.max.max(max.max(cell.frame.least) + room);
                    let given = cell.frame.width.map(|width| width + room);
                    column.given = column.given.into_iter().chain(given).reduce(f32::max);
                }
                at += cell.columns;
            }
        }
        asked
    }

    /// How narrow and how wide a table can sensibly be.
    pub fn table_widths(&self, table: &Table) -> (f32, f32) {
        let asked = self.asked(table);
        let sum = |of: fn(&Asked) -> f32| asked.iter().map(of).sum::<f32>();
        (sum(|a| a.given.unwrap_or(a.min)), sum(|a| a.given.unwrap_or(a.max)))
    }

    /// Lays out a table.
    pub fn table(&mut self, table: &Table, x: f32, width: f32, column: &mut Column) {
        column.leave(table.frame.above);
        let widths = share(&self.asked(table), width);
        let mut inner = Column::default();
        for row in &table.head {
            self.row(row, x, &widths, &mut inner);
            inner.keep();
        }
        let head = (!inner.strips.is_empty()).then(|| {
            self.heads.push(self.head_of(&inner.strips));
            self.heads.len() - 1
        });
        let first = inner.strips.len();
        for row in &table.body {
            self.row(row, x, &widths, &mut inner);
        }
        for strip in inner.strips.iter_mut().skip(first) {
            strip.head = head;
        }
        if let (Some(last), true) = (inner.strips.last_mut(), table.frame.rule_below > 0.0) {
            let (strength, y) = (table.frame.rule_below, last.height + table.frame.rule_below / 2.0);
            last.height += strength;
            last.items.push(Item::Rule { x, y, width, strength });
        }
        for (index, strip) in inner.strips.into_iter().enumerate() {
            if index > 0 {
                column.leave(strip.above);
            }
            column.push(strip.height, strip.may_break, strip.items);
            if let Some(last) = column.strips.last_mut() {
                last.head = strip.head;
            }
        }
        column.leave(table.frame.below);
    }

    fn head_of(&self, strips: &[Strip]) -> Head {
        let (mut items, mut height) = (Vec::new(), 0.0);
        for strip in strips {
            height += strip.above;
            items.extend(strip.items.iter().cloned().map(|item| item.moved(0.0, height)));
            height += strip.height;
        }
        Head { items, height }
    }

    fn row(&mut self, row: &Row, x: f32, widths: &[f32], column: &mut Column) {
        let (mut at, mut left) = (0, x);
        let mut cells = Vec::new();
        for cell in &row.cells {
            let over = widths.iter().skip(at).take(cell.columns).sum::<f32>();
            cells.push((left, over, cell, self.cell(cell, left, over)));
            at += cell.columns;
            left += over;
        }
        let height =
            cells.iter().map(|(_, _, cell, inner)| cell_height(&cell.frame, inner)).fold(0.0, f32::max);
        let bands = if height <= self.page * WHOLE_ROW { 1 } else { (height / BAND).ceil() as usize };
        let limit = if bands == 1 { f32::INFINITY } else { BAND };
        let first = column.strips.len();
        let mut taken = vec![0; cells.len()];
        loop {
            let begins = column.strips.len() == first;
            let (mut items, mut height) = (Vec::new(), 0.0_f32);
            for ((_, _, cell, inner), taken) in cells.iter().zip(&mut taken) {
                let mut y = if begins { cell.frame.top } else { 0.0 };
                while let Some(strip) = inner.strips.get(*taken).filter(|strip| {
                    y == 0.0 || y + strip.above + strip.height <= limit || (begins && *taken == 0)
                }) {
                    y += strip.above;
                    items.extend(strip.items.iter().cloned().map(|item| item.moved_in(y, strip)));
                    y += strip.height;
                    *taken += 1;
                }
                height = height.max(y);
            }
            let ends = cells.iter().zip(&taken).all(|((_, _, _, inner), taken)| *taken == inner.strips.len());
            if ends {
                let bottom =
                    |(_, _, cell, inner): &(f32, f32, &Cell, Column)| cell.frame.bottom + inner.rest();
                height += cells.iter().map(bottom).fold(0.0, f32::max);
            }
            if begins {
                items.extend(row.id.iter().map(|id| Item::Place { y: 0.0, id: id.clone() }));
            }
            rules(&cells, (begins, ends), &mut items, &mut height);
            column.push(height, Break::May, items);
            if ends {
                break;
            }
        }
        if row.cells.iter().any(|cell| cell.frame.keep_next) {
            column.keep();
        }
    }

    fn cell(&mut self, cell: &Cell, x: f32, width: f32) -> Column {
        let frame = &cell.frame;
        let mut inner = Column::default();
        let room = (width - frame.left - frame.right).max(4.0);
        self.pieces(&cell.pieces, x + frame.left, room, frame.to_the_right, &mut inner);
        inner
    }
}

fn cell_height(frame: &Frame, inner: &Column) -> f32 {
    frame.top + inner.height() + inner.rest() + frame.bottom
}

/// The lines above and beneath the cells of a row.
fn rules(
    cells: &[(f32, f32, &Cell, Column)],
    (begins, ends): (bool, bool),
    items: &mut Vec<Item>,
    height: &mut f32,
) {
    let above = cells.iter().map(|(_, _, cell, _)| cell.frame.rule_above).fold(0.0, f32::max);
    let below = cells.iter().map(|(_, _, cell, _)| cell.frame.rule_below).fold(0.0, f32::max);
    if begins && above > 0.0 {
        *items = items.drain(..).map(|item| item.moved(0.0, above)).collect();
        *height += above;
    }
    if ends {
        *height += below;
    }
    for (x, width, cell, _) in cells {
        let rule = |y: f32, strength: f32| Item::Rule { x: *x, y, width: *width, strength };
        if begins && cell.frame.rule_above > 0.0 {
            items.push(rule(above / 2.0, cell.frame.rule_above));
        }
        if ends && cell.frame.rule_below > 0.0 {
            items.push(rule(*height - below / 2.0, cell.frame.rule_below));
        }
    }
}

impl Item {
    /// Moved into a row that holds the strip it stood in. Upright lines become as long as that strip.
    fn moved_in(self, y: f32, strip: &Strip) -> Item {
        match self {
            Item::Bar { x, strength, joined } => {
                let above = if joined { strip.above } else { 0.0 };
                Item::Upright { x, y: y - above, height: strip.height + above, strength }
            }
            other => other.moved(0.0, y),
        }
    }
}

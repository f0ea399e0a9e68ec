//! The printed set as one file for paper and for keeping: the page of `render/mod.rs`, laid out here and made
//! to PDF/A-2b (ISO 19005-2, level B).
//!
//! The page's markup is read as XML; nothing is made from the record a second time, so the file says what the
//! page says. Fonts are embedded, nothing is fetched, no time of making is kept: the same page gives the same
//! bytes. The structure beside the looks (headings, tables, lists, pictures in words) is written too.

mod fonts;
mod lay;
mod looks;
mod pages;
mod paint;
mod picture;
mod read;
mod structure;
mod table;
mod text;

#[cfg(test)]
mod tests;

use crate::record::moment::Moment;
use krilla::configure::{Archival, ConfigurationBuilder};
use krilla::metadata::{DateTime, Metadata};
use krilla::{Document, SerializeSettings};
use lay::{Break, Column, Head, Layer};
use read::{Sheet, read};
use std::collections::HashMap;
use text::{Para, Sense, Setter, Words};

/// A millimetre in points.
const MM: f32 = 72.0 / 25.4;
/// Margins of the paper, as in the page's own style: room for a punch at the left.
const TOP: f32 = 16.0 * MM;
const RIGHT: f32 = 15.0 * MM;
const BOTTOM: f32 = 18.0 * MM;
const LEFT: f32 = 27.0 * MM;
/// How far above the lower edge the foot begins.
const FOOT: f32 = 12.5 * MM;

/// The paper to print on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Paper {
    /// 210 by 297 mm (ISO 216).
    #[default]
    A4,
    /// 8.5 by 11 inches.
    Letter,
}

impl Paper {
    /// Width and height in points.
    fn size(self) -> (f32, f32) {
        match self {
            Paper::A4 => (210.0 * MM, 297.0 * MM),
            Paper::Letter => (612.0, 792.0),
        }
    }
}

/// Why a file could not be made of a page. Never holds words of a record.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Fault {
    /// The page is not well-formed.
    #[error("the page is not well-formed: {0}")]
    Form(String),
    /// The page holds something that is not known here, which could be words of the record.
    #[error("the page holds what can't be laid out: {0}")]
    Unknown(String),
    /// What was laid out could not be written.
    #[error("the file can't be made: {0}")]
    Making(String),
}

/// A file made of a page, and what could not be shown in it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Made {
    /// The file.
    pub bytes: Vec<u8>,
    /// Number of pages of paper.
    pub pages: usize,
    /// Number of letters that stand as `[U+4E2D]`, because the fonts have none for them.
    pub lacking: usize,
}

/// What the file says of itself. Every one is data, so that the same page gives the same bytes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Marks {
    /// Stands at the foot of every page of paper.
    pub foot: String,
    /// Names the document for good: the same for the same contents.
    pub id: String,
    /// When the page was printed. PDF/A asks for a date; the clock of this computer is not asked.
    pub printed: Moment,
}

/// Makes the file of a page.
///
/// # Errors
/// When the page is not well-formed, holds anything that is not known, or the file can't be made.
pub fn make(html: &str, marks: &Marks, paper: Paper) -> Result<Made, Fault> {
    let mut setter = Setter::new();
    let Sheet { head, parts, title, language, mut paras, pictures, structure } = read(html, &mut setter)?;
    let (width, height) = paper.size();
    let (room, body) = (width - LEFT - RIGHT, height - TOP - BOTTOM);
    let mut layer = Layer { paras: &mut paras, pictures: &pictures, page: body, heads: Vec::new() };
    let mut column = Column::default();
    layer.pieces(&head, 0.0, room, false, &mut column);
    let page_head = head_of(&column);
    let body = body - page_head.height;
    layer.page = body;
    let mut column = Column::default();
    for (index, (new_page, pieces)) in parts.iter().enumerate() {
        let first = column.strips.len();
        column.leave(if index == 0 { 0.0 } else { 3.0 * MM });
        layer.pieces(pieces, 0.0, room, false, &mut column);
        if let (true, Some(strip)) = (*new_page, column.strips.get_mut(first)) {
            strip.may_break = Break::Must;
        }
    }
    let heads = layer.heads;
    let placed = pages::pages(&column.strips, &heads, body);
    let feet = feet(&mut paras, &marks.foot, placed.len(), room, (&mut setter, structure.root()));
    let painting = paint::Painting {
        fonts: &setter.fonts,
        paras: &paras,
        pictures: &pictures,
        strips: &column.strips,
        heads: &heads,
        pages: &placed,
        page_head: &page_head,
        feet: &feet,
        paper,
        structure,
        found: HashMap::new(),
    };
    let configuration = ConfigurationBuilder::new()
        .with_archival_validator(Archival::A2_B)
        .finish()
        .map_err(|e| Fault::Making(format!("{e:?}")))?;
    let settings = SerializeSettings { configuration, enable_tagging: true, ..SerializeSettings::default() };
    let mut document = Document::new_with(settings);
    let structure = painting.paint(&mut document)?;
    document.set_metadata(
        Metadata::new()
            .title(title)
            .language(language.clone())
            .creator("Inkfast".into())
            .document_id(marks.id.clone())
            .creation_date(date_of(marks.printed)),
    );
    document.set_tag_tree(structure.tree(&language));
    let bytes = document.finish().map_err(|e| Fault::Making(format!("{e:?}")))?;
    Ok(Made { bytes, pages: placed.len(), lacking: setter.lacking })
}

/// A moment as the file holds it.
fn date_of(moment: Moment) -> DateTime {
    let (date, (hour, minute)) = (moment.local_date(), moment.local_time());
    let offset = moment.offset_seconds() / 60;
    let part = |number: i8| u8::try_from(number).unwrap_or(1);
    DateTime::new(u16::try_from(date.year()).unwrap_or(1))
        .month(part(date.month()))
        .day(part(date.day()))
        .hour(hour)
        .minute(minute)
        .second(u8::try_from(moment.unix().rem_euclid(60)).unwrap_or(0))
        .utc_offset_hour(i8::try_from(offset / 60).unwrap_or(0))
        .utc_offset_minute(u8::try_from(offset.abs() % 60).unwrap_or(0))
}

fn head_of(column: &Column) -> Head {
    let (mut items, mut height) = (Vec::new(), 0.0);
    for strip in &column.strips {
        height += strip.above;
        items.extend(strip.items.iter().cloned().map(|item| item.moved(0.0, height)));
        height += strip.height;
    }
    Head { items, height }
}

/// The words at the foot of each page: left and right, by their numbers.
fn feet(
    paras: &mut Vec<Para>,
    foot: &str,
    pages: usize,
    room: f32,
    (setter, node): (&mut Setter, structure::Node),
) -> Vec<(usize, usize)> {
    let mut set = |words: &str, size: f32, width: f32| {
        let look = text::Type { size: looks::pt(size), leading: 1.2, ..looks::base() };
        let mut line = Words::default();
        line.add(words, look, &Sense::Plain);
        let mut para = line.set(look, node, setter);
        para.break_lines(width, false);
        paras.push(para);
        paras.len() - 1
    };
    let left = set(foot, 8.0, room - 24.0 * MM);
    (1..=pages).map(|page| (left, set(&format!("page {page} of {pages}"), 9.0, room))).collect()
}

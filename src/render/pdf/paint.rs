//! Drawing: the pages as a file, every word and line marked as what it is.

use super::fonts::Fonts;
use super::lay::{Head, Item, Strip};
use super::pages::Placed;
use super::picture::{Ink, Picture, Shape, Side, Step};
use super::structure::{Node, Role, Structure};
use super::text::{Para, Sense};
use super::{Fault, Paper};
use krilla::Document;
use krilla::annotation::{Annotation, LinkAnnotation, Target};
use krilla::color::luma;
use krilla::destination::XyzDestination;
use krilla::geom::{PathBuilder, Point, Rect, Transform};
use krilla::num::NormalizedF32;
use krilla::outline::{Outline, OutlineNode};
use krilla::page::PageSettings;
use krilla::paint::{Fill, Stroke, StrokeDash};
use krilla::surface::Surface;
use krilla::tagging::{Artifact, ArtifactType, ContentTag, SpanTag};
use krilla::text::{GlyphId, KrillaGlyph};
use parley::PositionedLayoutItem;
use std::collections::HashMap;

/// Everything that is drawn.
pub struct Painting<'a> {
    /// The fonts.
    pub fonts: &'a Fonts,
    /// All words.
    pub paras: &'a [Para],
    /// All pictures.
    pub pictures: &'a [Picture],
    /// The column.
    pub strips: &'a [Strip],
    /// Head rows to be repeated.
    pub heads: &'a [Head],
    /// What stands on each page.
    pub pages: &'a [Vec<Placed>],
    /// What stands at the head of every page, and how high it is.
    pub page_head: &'a Head,
    /// The feet of the pages, one after the other: at the left, at the right.
    pub feet: &'a [(usize, usize)],
    /// The paper.
    pub paper: Paper,
    /// What everything is.
    pub structure: Structure,
    /// The pieces of the structure that are found only while drawing.
    pub found: HashMap<(usize, usize), Node>,
}

/// A pointer drawn on the page at hand: where, to which place, and the piece of the structure.
struct Pointer {
    rect: Rect,
    place: String,
    node: Node,
}

/// Where on the paper something stands.
type Spot = (usize, f32, f32);

impl Painting<'_> {
    /// Draws all pages.
    ///
    /// # Errors
    /// When the file can't be made as it must be.
    pub fn paint(mut self, document: &mut Document) -> Result<Structure, Fault> {
        let places = self.places();
        for (number, placed) in self.pages.iter().enumerate() {
            let (width, height) = self.paper.size();
            let settings = PageSettings::from_wh(width, height)
                .ok_or_else(|| Fault::Making("the paper has no size".to_string()))?;
            let mut page = document.start_page_with(settings);
            let mut surface = page.surface();
            let mut pointers = Vec::new();
            let top = super::TOP + self.page_head.height;
            self.furniture(&mut surface, ArtifactType::Header, &self.page_head.items, super::TOP);
            for placed in placed {
                match placed {
                    Placed::Head { head, y } => {
                        let Some(head) = self.heads.get(*head) else { continue };
                        self.furniture(&mut surface, ArtifactType::PaginationOther, &head.items, top + y);
                    }
                    Placed::Strip { strip, y, above } => {
                        let Some(strip) = self.strips.get(*strip) else { continue };
                        for item in &strip.items {
                            self.item(&mut surface, item, (top + y, *above, strip.height), &mut pointers);
                        }
                    }
                }
            }
            if let Some((left, right)) = self.feet.get(number) {
                self.foot(&mut surface, *left, super::LEFT);
                let wide = self.paras.get(*right).map_or(0.0, |para| para.layout.full_width());
                self.foot(&mut surface, *right, width - super::RIGHT - wide);
            }
            surface.finish();
            for pointer in pointers {
                let Some((page_number, x, y)) = places.get(pointer.place.as_str()) else { continue };
                let target = XyzDestination::new(*page_number, Point::from_xy(*x, *y));
                let link = LinkAnnotation::new(pointer.rect, Target::Destination(target.into()));
                let told = format!("to {}", pointer.place);
                let mark = page.add_tagged_annotation(Annotation::new_link(link, Some(told)));
                self.structure.mark(pointer.node, mark);
            }
            page.finish();
        }
        document.set_outline(self.outline());
        Ok(self.structure)
    }

    /// Everything on the pages, with its page and how far down it is.
    fn drawn(&self) -> impl Iterator<Item = (usize, f32, &Item)> {
        let top = super::TOP + self.page_head.height;
        self.pages.iter().enumerate().flat_map(move |(page, placed)| {
            placed.iter().flat_map(move |placed| {
                let (strip, y) = match placed {
                    Placed::Strip { strip, y, .. } => (self.strips.get(*strip), *y),
                    Placed::Head { .. } => (None, 0.0),
                };
                strip.into_iter().flat_map(|strip| &strip.items).map(move |item| (page, top + y, item))
            })
        })
    }

    fn places(&self) -> HashMap<String, Spot> {
        let place = |(page, top, item): (usize, f32, &Item)| match item {
            Item::Place { y, id } => Some((id.clone(), (page, super::LEFT, top + y))),
            _ => None,
        };
        self.drawn().filter_map(place).collect()
    }

    /// The list of contents that a reader's program shows: headings of the second and third level.
    fn outline(&self) -> Outline {
        let mut outline = Outline::new();
        let mut open: Option<OutlineNode> = None;
        for (page, top, item) in self.drawn() {
            let Item::Heading { y, level: level @ (2 | 3), words } = item else { continue };
            let node = OutlineNode::new(
                words.clone(),
                XyzDestination::new(page, Point::from_xy(super::LEFT, top + y)),
            );
            match (level, &mut open) {
                (3, Some(above)) => above.push_child(node),
                (3, None) => outline.push_child(node),
                _ => {
                    outline_push(&mut outline, open.replace(node));
                }
            }
        }
        outline_push(&mut outline, open);
        outline
    }

    /// What is on every page, and no words of the document.
    fn furniture(&self, surface: &mut Surface<'_>, kind: ArtifactType, items: &[Item], top: f32) {
        surface.start_tagged(ContentTag::Artifact(Artifact::with_kind(kind)));
        for item in items {
            match item {
                Item::Line { x, y, para, line } => {
                    for run in self.runs(*para, *line) {
                        self.run(surface, &run, *para, (super::LEFT + x, top + y));
                    }
                }
                Item::Rule { x, y, width, strength } => {
                    level(surface, (super::LEFT + x, top + y), *width, *strength);
                }
                _ => {}
            }
        }
        surface.end_tagged();
    }

    fn foot(&self, surface: &mut Surface<'_>, para: usize, x: f32) {
        let (_, height) = self.paper.size();
        surface.start_tagged(ContentTag::Artifact(Artifact::with_kind(ArtifactType::Footer)));
        for line in 0..self.paras.get(para).map_or(0, |para| para.layout.len()) {
            for run in self.runs(para, line) {
                self.run(surface, &run, para, (x, height - super::FOOT + run.top));
            }
        }
        surface.end_tagged();
    }

    fn item(
        &mut self,
        surface: &mut Surface<'_>,
        item: &Item,
        (top, above, height): (f32, f32, f32),
        pointers: &mut Vec<Pointer>,
    ) {
        match item {
            Item::Line { x, y, para, line } => {
                self.line(surface, (super::LEFT + x, top + y), (*para, *line), pointers);
            }
            Item::Rule { x, y, width, strength } => {
                beside(surface, |surface| level(surface, (super::LEFT + x, top + y), *width, *strength));
            }
            Item::Bar { x, strength, joined } => {
                let above = if *joined { above } else { 0.0 };
                let rect = (super::LEFT + x, top - above, *strength, height + above);
                beside(surface, |surface| block(surface, rect));
            }
            Item::Upright { x, y, height, strength } => {
                let rect = (super::LEFT + x, top + y, *strength, *height);
                beside(surface, |surface| block(surface, rect));
            }
            Item::Picture { x, y, picture, scale } => {
                let Some(picture) = self.pictures.get(*picture) else { return };
                let mark = surface.start_tagged(ContentTag::Other);
                surface.push_transform(&Transform::from_row(
                    *scale,
                    0.0,
                    0.0,
                    *scale,
                    super::LEFT + x,
                    top + y,
                ));
                for shape in &picture.shapes {
                    self.shape(surface, shape);
                }
                surface.pop();
                surface.end_tagged();
                self.structure.mark(picture.node, mark);
            }
            Item::Place { .. } | Item::Heading { .. } => {}
        }
    }

    /// A line of words. Words of one sense become one mark.
    fn line(
        &mut self,
        surface: &mut Surface<'_>,
        at: (f32, f32),
        (number, line): (usize, usize),
        pointers: &mut Vec<Pointer>,
    ) {
        let runs = self.runs(number, line);
        let Some(para) = self.paras.get(number) else { return };
        for same in runs.chunk_by(|a, b| a.sense == b.sense) {
            let node = match &same[0].sense {
                Sense::Plain => para.node,
                Sense::Struck(count) => self.below(number, *count, para.node, Role::Struck),
                Sense::Pointer(count, _) => self.below(number, *count, para.node, Role::Pointer),
            };
            let mark = surface.start_tagged(ContentTag::Span(SpanTag::empty()));
            for run in same {
                self.run(surface, run, number, at);
            }
            surface.end_tagged();
            self.structure.mark(node, mark);
            if let (Sense::Pointer(_, place), Some(first), Some(last)) =
                (&same[0].sense, same.first(), same.last())
            {
                let (left, right) = (at.0 + first.x, at.0 + last.x + last.width);
                let bottom = at.1 + first.baseline + first.size * 0.25;
                if let Some(rect) = Rect::from_ltrb(left, bottom - first.size * 1.1, right, bottom) {
                    pointers.push(Pointer { rect, place: place.clone(), node });
                }
            }
        }
    }

    fn below(&mut self, para: usize, count: usize, above: Node, role: Role) -> Node {
        let structure = &mut self.structure;
        *self.found.entry((para, count)).or_insert_with(|| structure.add(above, role))
    }

    /// The runs of glyphs of a line, from left to right; `y` from the top of the line.
    fn runs(&self, number: usize, line: usize) -> Vec<Run> {
        self.paras.get(number).map_or_else(Vec::new, |para| runs(para, line))
    }

    fn run(&self, surface: &mut Surface<'_>, run: &Run, para: usize, (x, y): (f32, f32)) {
        let Some(para) = self.paras.get(para) else { return };
        draw_run(surface, run, para, self.fonts, (x, y));
    }

    fn shape(&self, surface: &mut Surface<'_>, shape: &Shape) {
        match shape {
            Shape::Words { para, x, y, side } => {
                let width = para.layout.full_width();
                let left = match side {
                    Side::Start => *x,
                    Side::Middle => x - width / 2.0,
                    Side::End => x - width,
                };
                for run in runs(para, 0) {
                    draw_run(surface, &run, para, self.fonts, (left, y - run.baseline));
                }
            }
            Shape::Figure { steps, filled, line } => {
                let mut path = PathBuilder::new();
                for step in steps {
                    match *step {
                        Step::Move(x, y) => path.move_to(x, y),
                        Step::Line(x, y) => path.line_to(x, y),
                        Step::Curve([a, b, c, d, x, y]) => path.cubic_to(a, b, c, d, x, y),
                        Step::Close => path.close(),
                    }
                }
                let Some(path) = path.finish() else { return };
                surface.set_fill(filled.map(|ink| match ink {
                    Ink::Black => black(),
                    Ink::White => Fill { paint: luma::Color::white().into(), ..black() },
                }));
                surface.set_stroke(line.as_ref().map(|line| {
                    let dash = (!line.dashes.is_empty())
                        .then(|| StrokeDash { array: line.dashes.clone(), offset: 0.0 });
                    Stroke { width: line.width, dash, ..Stroke::default() }
                }));
                surface.draw_path(&path);
                surface.set_stroke(None);
            }
        }
    }
}

fn outline_push(outline: &mut Outline, node: Option<OutlineNode>) {
    if let Some(node) = node {
        outline.push_child(node);
    }
}

/// Glyphs of one font, size and sense.
struct Run {
    x: f32,
    width: f32,
    baseline: f32,
    /// How far the line stands beneath the first one of its paragraph.
    top: f32,
    size: f32,
    font: u64,
    glyphs: Vec<KrillaGlyph>,
    sense: Sense,
    /// A blank to be filled in: a line of this width and no glyphs.
    blank: bool,
}

fn runs(para: &Para, line: usize) -> Vec<Run> {
    let Some(line) = para.layout.get(line) else { return Vec::new() };
    let metrics = line.metrics();
    let (top, baseline) = (metrics.block_min_coord, metrics.baseline - metrics.block_min_coord);
    let mut out: Vec<Run> = Vec::new();
    let mut last = None;
    for item in line.items() {
        match item {
            PositionedLayoutItem::InlineBox(blank) => out.push(Run {
                x: blank.x,
                width: blank.width,
                baseline,
                top,
                size: blank.height,
                font: 0,
                glyphs: Vec::new(),
                sense: Sense::Plain,
                blank: true,
            }),
            PositionedLayoutItem::GlyphRun(glyphs) => {
                let run = glyphs.run();
                // The pieces of a run follow each other; its clusters are read once, with the first.
                let key = (run.index(), run.text_range().start);
                if last.replace(key) == Some(key) {
                    continue;
                }
                let mut x = glyphs.offset();
                let size = run.font_size();
                for cluster in run.visual_clusters() {
                    let range = cluster.text_range();
                    if cluster.is_ligature_continuation() {
                        if let Some(glyph) = out.last_mut().and_then(|run| run.glyphs.last_mut()) {
                            glyph.text_range.end = glyph.text_range.end.max(range.end);
                            glyph.text_range.start = glyph.text_range.start.min(range.start);
                        }
                        continue;
                    }
                    let letters = para.text.get(range.clone()).unwrap_or_default();
                    if matches!(letters, "\n" | "\u{2068}" | "\u{2069}") {
                        x += cluster.advance();
                        continue;
                    }
                    let sense = para.senses.get(cluster.style().brush).cloned().unwrap_or(Sense::Plain);
                    let font = run.font().data.id();
                    let fits = out.last().is_some_and(|run| {
                        !run.blank
                            && run.sense == sense
                            && run.font == font
                            && run.size == size
                            && (run.x + run.width - x).abs() < 0.01
                    });
                    if !fits {
                        let glyphs = Vec::new();
                        out.push(Run {
                            x,
                            width: 0.0,
                            baseline,
                            top,
                            size,
                            font,
                            glyphs,
                            sense,
                            blank: false,
                        });
                    }
                    for glyph in cluster.glyphs() {
                        if let Some(run) = out.last_mut() {
                            run.width += glyph.advance;
                            run.glyphs.push(KrillaGlyph::new(
                                GlyphId::new(glyph.id),
                                glyph.advance / size,
                                glyph.x / size,
                                -glyph.y / size,
                                0.0,
                                range.clone(),
                                None,
                            ));
                        }
                        x += glyph.advance;
                    }
                }
            }
        }
    }
    out
}

fn black() -> Fill {
    Fill { paint: luma::Color::black().into(), opacity: NormalizedF32::ONE, rule: Default::default() }
}

fn draw_run(surface: &mut Surface<'_>, run: &Run, para: &Para, fonts: &Fonts, (x, y): (f32, f32)) {
    let baseline = y + run.baseline;
    if run.blank {
        level(surface, (x + run.x, baseline + run.size * 0.12), run.width, 0.75);
        return;
    }
    let Some(font) = fonts.face(run.font) else { return };
    surface.set_fill(Some(black()));
    surface.draw_glyphs(Point::from_xy(x + run.x, baseline), &run.glyphs, font, &para.text, run.size, false);
    if matches!(run.sense, Sense::Struck(_)) {
        level(surface, (x + run.x, baseline - run.size * 0.27), run.width, 1.0);
    }
}

/// A line drawn beside the words: no part of them.
fn beside(surface: &mut Surface<'_>, draw: impl FnOnce(&mut Surface<'_>)) {
    surface.start_tagged(ContentTag::Artifact(Artifact::with_kind(ArtifactType::Layout)));
    draw(surface);
    surface.end_tagged();
}

fn level(surface: &mut Surface<'_>, (x, y): (f32, f32), width: f32, strength: f32) {
    block(surface, (x, y - strength / 2.0, width, strength));
}

fn block(surface: &mut Surface<'_>, (x, y, width, height): (f32, f32, f32, f32)) {
    let Some(rect) = Rect::from_xywh(x, y, width, height) else { return };
    let mut path = PathBuilder::new();
    path.push_rect(rect);
    if let Some(path) = path.finish() {
        surface.set_fill(Some(black()));
        surface.draw_path(&path);
    }
}

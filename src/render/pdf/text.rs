//! Words set in lines: what stands in one paragraph, heading or cell, shaped once and broken as often as a
//! width is tried.

use super::fonts::{Face, Fonts};
use super::structure::Node;
use parley::{
    Alignment, AlignmentOptions, FontStyle, FontWeight, InlineBox, InlineBoxKind, Layout, LayoutContext,
    LineHeight, OverflowWrap, StyleProperty, TextWrapMode, VerticalAlign,
};
use std::ops::Range;

/// How words look.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Type {
    /// Size in points.
    pub size: f32,
    /// Height of a line, in sizes.
    pub leading: f32,
    /// Bold letters.
    pub bold: bool,
    /// Slanted letters.
    pub italic: bool,
    /// Which letters.
    pub face: Face,
    /// Never broken into lines.
    pub nowrap: bool,
    /// May be broken within a word, and counts as narrow for it.
    pub anywhere: bool,
}

/// What some words of a paragraph are, beside their looks.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Sense {
    /// Nothing else.
    Plain,
    /// Struck by a correction; the number tells two neighbours apart.
    Struck(usize),
    /// A pointer to another place of the page, by its name; the number as above.
    Pointer(usize, String),
}

/// Words of one look and sense.
#[derive(Debug, Clone)]
struct Span {
    range: Range<usize>,
    look: Type,
    sense: Sense,
}

/// Words as they are read, before they are set.
#[derive(Debug, Default)]
pub struct Words {
    text: String,
    spans: Vec<Span>,
    /// Blanks to be filled in by hand: place in the text, width, height.
    blanks: Vec<(usize, f32, f32)>,
    space: bool,
}

/// A paragraph: words that can be set to any width.
pub struct Para {
    /// The words.
    pub text: String,
    /// What each range of words is, by the number that the layout bears as its brush.
    pub senses: Vec<Sense>,
    /// Set in lines.
    pub layout: Layout<usize>,
    /// Where it belongs in the structure of the document.
    pub node: Node,
}

impl Words {
    /// Whether there is anything to set.
    pub fn is_empty(&self) -> bool {
        self.text.is_empty() && self.blanks.is_empty()
    }

    /// Adds words; white space becomes one space, as in HTML.
    pub fn add(&mut self, words: &str, look: Type, sense: &Sense) {
        let start = self.text.len();
        for c in words.chars() {
            if matches!(c, ' ' | '\t' | '\n' | '\r') {
                self.space = true;
                continue;
            }
            self.close_gap();
            self.text.push(c);
        }
        self.mark(start, look, sense);
    }

    fn close_gap(&mut self) {
        let begins = self.text.is_empty() && self.blanks.is_empty();
        if std::mem::take(&mut self.space) && !begins && !self.text.ends_with('\n') {
            self.text.push(' ');
        }
    }

    fn mark(&mut self, start: usize, look: Type, sense: &Sense) {
        let range = start..self.text.len();
        if !range.is_empty() {
            self.spans.push(Span { range, look, sense: sense.clone() });
        }
    }

    /// A line end that the words themselves have.
    pub fn line_end(&mut self, look: Type, sense: &Sense) {
        let start = self.text.len();
        self.space = false;
        self.text.push('\n');
        self.mark(start, look, sense);
    }

    /// A blank of this width, in points, to be filled in by hand.
    pub fn blank(&mut self, width: f32, look: Type) {
        let start = self.text.len();
        self.close_gap();
        self.mark(start, look, &Sense::Plain);
        self.blanks.push((self.text.len(), width, look.size));
    }

    /// Signs that write from right to left need to know where a name begins and ends, or they take the
    /// words around them along. Left out where there are none, so that most texts stay free of it.
    pub fn isolate(&mut self, begins: bool, look: Type, sense: &Sense) {
        let start = self.text.len();
        if begins {
            self.close_gap();
        }
        self.text.push(if begins { '\u{2068}' } else { '\u{2069}' });
        self.mark(start, look, sense);
    }

    /// Sets the words: shapes them, not yet broken into lines. `look` is that of the paragraph.
    pub fn set(mut self, look: Type, node: Node, setter: &mut Setter) -> Para {
        while self.text.ends_with('\n') {
            self.text.pop();
        }
        let mut layout = setter.shape(&self, look);
        // A letter that none of the fonts has is written out; more than one round where a mark and its
        // letter were in different fonts.
        for _ in 0..4 {
            let lacking = lacking(&layout, &self.text);
            if lacking.is_empty() {
                break;
            }
            setter.lacking += lacking.len();
            self.write_out(&lacking);
            layout = setter.shape(&self, look);
        }
        Para {
            text: self.text,
            senses: self.spans.into_iter().map(|span| span.sense).collect(),
            layout,
            node,
        }
    }

    /// Writes these letters as `[U+4E2D]`.
    fn write_out(&mut self, lacking: &[usize]) {
        let mut text = String::with_capacity(self.text.len() + 8 * lacking.len());
        let mut moved = Vec::new();
        for (at, c) in self.text.char_indices() {
            moved.push((at, text.len()));
            if lacking.binary_search(&at).is_ok() {
                text.push_str(&format!("[U+{:04X}]", u32::from(c)));
            } else {
                text.push(c);
            }
        }
        moved.push((self.text.len(), text.len()));
        let new = |old: usize| match moved.binary_search_by_key(&old, |(at, _)| *at) {
            Ok(found) => moved[found].1,
            Err(_) => text.len(),
        };
        for span in &mut self.spans {
            span.range = new(span.range.start)..new(span.range.end);
        }
        for blank in &mut self.blanks {
            blank.0 = new(blank.0);
        }
        self.text = text;
    }
}

/// Where the letters stand that no font has.
fn lacking(layout: &Layout<usize>, text: &str) -> Vec<usize> {
    let mut layout = layout.clone();
    layout.break_all_lines(None);
    let mut found = Vec::new();
    for run in layout.lines().flat_map(|line| line.runs()) {
        for cluster in run.clusters().filter(|c| c.glyphs().any(|glyph| glyph.id == 0)) {
            let range = cluster.text_range();
            let letters = text.get(range.clone()).unwrap_or_default();
            let plain = |c: char| c.is_ascii() || matches!(c, '\u{2068}' | '\u{2069}');
            found.extend(letters.char_indices().filter(|(_, c)| !plain(*c)).map(|(at, _)| range.start + at));
        }
    }
    found.sort_unstable();
    found.dedup();
    found
}

/// Sets words with the program's own fonts.
pub struct Setter {
    /// The fonts.
    pub fonts: Fonts,
    context: LayoutContext<usize>,
    /// How many letters had to be written out.
    pub lacking: usize,
}

impl Setter {
    /// A setter with the fonts that the program carries.
    pub fn new() -> Setter {
        Setter { fonts: Fonts::new(), context: LayoutContext::new(), lacking: 0 }
    }

    fn shape(&mut self, words: &Words, look: Type) -> Layout<usize> {
        let mut builder = self.context.ranged_builder(&mut self.fonts.context, &words.text, 1.0, false);
        for property in properties(look) {
            builder.push_default(property);
        }
        for (number, span) in words.spans.iter().enumerate() {
            for property in properties(span.look) {
                builder.push(property, span.range.clone());
            }
            builder.push(StyleProperty::Brush(number), span.range.clone());
        }
        for (id, (index, width, height)) in words.blanks.iter().enumerate() {
            builder.push_inline_box(InlineBox {
                id: id as u64,
                kind: InlineBoxKind::InFlow,
                index: *index,
                width: *width,
                height: *height,
                baseline: None,
                vertical_align: VerticalAlign::default(),
            });
        }
        builder.build(&words.text)
    }
}

fn properties(look: Type) -> [StyleProperty<'static, usize>; 7] {
    [
        StyleProperty::FontFamily(look.face.families()),
        StyleProperty::FontSize(look.size),
        StyleProperty::LineHeight(LineHeight::FontSizeRelative(look.leading)),
        StyleProperty::FontWeight(if look.bold { FontWeight::BOLD } else { FontWeight::NORMAL }),
        StyleProperty::FontStyle(if look.italic { FontStyle::Italic } else { FontStyle::Normal }),
        StyleProperty::TextWrapMode(if look.nowrap { TextWrapMode::NoWrap } else { TextWrapMode::Wrap }),
        StyleProperty::OverflowWrap(if look.anywhere {
            OverflowWrap::Anywhere
        } else {
            OverflowWrap::BreakWord
        }),
    ]
}

impl Para {
    /// Breaks the words into lines of this width, in points.
    pub fn break_lines(&mut self, width: f32, right: bool) {
        // A hair more, so that what was measured to fit does fit.
        self.layout.break_all_lines(Some(width + 0.05));
        let side = if right { Alignment::Right } else { Alignment::Start };
        self.layout.align(side, AlignmentOptions::default());
    }

    /// The narrowest and the widest it can sensibly be, in points.
    pub fn widths(&self) -> (f32, f32) {
        let widths = self.layout.calculate_content_widths();
        (widths.min, widths.max)
    }
}

//! How each element of the page looks in print: what `render/style.rs` says to a browser, in points.
//!
//! Only what the page is made of is known here. An element or a class that is not known stops the making of
//! the file, and a test with it, because what is not understood could be a word of the record left out.

use super::fonts::Face;
use super::text::Type;
use super::{Fault, MM};
use roxmltree::Node;

/// The letters are wider than those the page names first; this brings their size to the same look.
const SCALE: f32 = 0.92;

/// Classes that say how something looks here.
const CLASSES: &[&str] = &[
    "beneath",
    "blank",
    "d0",
    "d1",
    "d2",
    "d3",
    "d4",
    "digest",
    "entries",
    "entry",
    "grid",
    "head",
    "index",
    "kind",
    "l",
    "mark",
    "measured",
    "meta",
    "moments",
    "new",
    "note",
    "part",
    "picture",
    "r",
    "rows",
    "sheet",
    "short",
    "sign",
    "signature",
    "slip",
    "sub",
    "summary",
    "t",
    "tight",
    "time",
    "visit",
    "what",
    "wide",
    "wording",
];
/// Classes that say nothing about looks.
const NAMES: &[&str] = &["g"];

/// The place of a block among the others, in points.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Frame {
    /// Least distance to what stands above.
    pub above: f32,
    /// Least distance to what stands beneath.
    pub below: f32,
    /// Room at the left.
    pub left: f32,
    /// Room at the right.
    pub right: f32,
    /// Room within, above the contents.
    pub top: f32,
    /// Room within, beneath the contents.
    pub bottom: f32,
    /// Strength of a line above; 0 for none.
    pub rule_above: f32,
    /// Strength of a line beneath.
    pub rule_below: f32,
    /// Strength of a line along the left.
    pub bar: f32,
    /// Stays on the page of what follows.
    pub keep_next: bool,
    /// Stands on one page if one page can hold it.
    pub keep_whole: bool,
    /// Begins a page.
    pub new_page: bool,
    /// Lines that stay together at the foot and at the head of a page.
    pub orphans: usize,
    /// Set to the right.
    pub to_the_right: bool,
    /// Width of the contents, where it is given.
    pub width: Option<f32>,
    /// Width of the contents at least.
    pub least: f32,
}

/// The classes of an element.
pub fn classes<'a>(node: Node<'a, '_>) -> impl Iterator<Item = &'a str> {
    node.attribute("class").unwrap_or_default().split(' ').filter(|class| !class.is_empty())
}

/// Whether an element has a class.
pub fn is(node: Node<'_, '_>, class: &str) -> bool {
    classes(node).any(|one| one == class)
}

fn within(node: Node<'_, '_>, class: &str) -> bool {
    node.ancestors().skip(1).any(|above| is(above, class))
}

fn name<'a>(node: Node<'a, '_>) -> &'a str {
    node.tag_name().name()
}

fn before<'a, 'i>(node: Node<'a, 'i>) -> Option<Node<'a, 'i>> {
    node.prev_sibling_element()
}

/// What the page begins with.
pub fn base() -> Type {
    Type {
        size: pt(11.0),
        leading: 1.36,
        bold: false,
        italic: false,
        face: Face::Words,
        nowrap: false,
        anywhere: false,
    }
}

/// A size of letters as the page names it, in points on paper.
pub fn pt(size: f32) -> f32 {
    size * SCALE
}

/// How an element looks within one that looks like `above`.
///
/// # Errors
/// When the element or one of its classes is not known.
pub fn look(node: Node<'_, '_>, above: Type) -> Result<(Type, Frame), Fault> {
    if let Some(class) = classes(node).find(|class| !CLASSES.contains(class) && !NAMES.contains(class)) {
        return Err(Fault::Unknown(format!("the class \"{class}\" of <{}>", name(node))));
    }
    let (mut kind, mut frame) = (above, Frame { orphans: 2, ..Frame::default() });
    match name(node) {
        "h1" | "h2" | "h3" | "h4" => heading(node, &mut kind, &mut frame),
        "p" => paragraph(node, &mut kind, &mut frame),
        "ul" | "ol" => {
            frame.left = 7.0 * MM;
            frame.below = if within(node, "short") { 0.8 * MM } else { 2.2 * MM };
        }
        "li" => {
            let tight = node.parent().is_some_and(|list| is(list, "tight"));
            frame.below = if tight { 0.2 * MM } else { 0.7 * MM };
        }
        "table" => table(node, &mut kind, &mut frame),
        "tr" => frame.new_page = is(node, "new"),
        "td" | "th" => cell(node, &mut kind, &mut frame),
        "section" | "article" | "div" | "figure" => block(node, &mut kind, &mut frame),
        "strong" => kind.bold = true,
        "em" => kind.italic = true,
        "span" => {}
        "a" | "bdi" | "del" | "ins" | "br" | "thead" | "tbody" => {}
        other => return Err(Fault::Unknown(format!("the element <{other}>"))),
    }
    words(node, &mut kind);
    let last = node.next_sibling_element().is_none();
    let part = node.parent().is_some_and(|p| name(p) == "td" && !within(p, "head") && is_part(p));
    if last && (part || node.parent().is_some_and(|p| name(p) == "li")) {
        frame.below = 0.0;
    }
    Ok((kind, frame))
}

/// Whether this cell holds a part of the page: it stands in the outer table itself.
fn is_part(cell: Node<'_, '_>) -> bool {
    cell.ancestors().find(|above| name(*above) == "table").is_some_and(|table| is(table, "sheet"))
}

fn heading(node: Node<'_, '_>, kind: &mut Type, frame: &mut Frame) {
    let (summary, short) = (within(node, "summary"), within(node, "short"));
    frame.keep_next = true;
    let (size, above, below) = match name(node) {
        "h1" if short => (15.0, 0.0, 2.0),
        "h1" if summary => (21.0, 2.0, 3.0),
        "h1" => (21.0, 2.0, 5.0),
        "h2" => (15.0, 0.0, 3.0),
        "h3" if short => (10.5, 2.0, 0.6),
        "h3" if summary => (12.5, 3.0, 1.2),
        "h3" => (12.5, 4.5, 1.2),
        _ if is(node, "sub") => (11.0, 4.0, 1.0),
        _ => (11.0, 0.0, 0.6),
    };
    kind.size = pt(size);
    kind.bold = matches!(name(node), "h3" | "h4") && !is(node, "sub");
    kind.italic = is(node, "sub");
    (frame.above, frame.below) = (above * MM, below * MM);
    if name(node) == "h2" {
        (frame.bottom, frame.rule_below) = (1.2 * MM, 1.5);
    }
    if let Some(visit) = node.parent().filter(|parent| is(*parent, "visit") && name(node) == "h3") {
        frame.above = if before(visit).is_some_and(|b| name(b) == "h2") { 0.0 } else { 2.5 * MM };
    }
}

fn paragraph(node: Node<'_, '_>, kind: &mut Type, frame: &mut Frame) {
    frame.below = if within(node, "summary") { 1.2 * MM } else { 2.2 * MM };
    frame.orphans = 3;
    frame.keep_next = before(node).is_some_and(|before| matches!(name(before), "h2" | "h3"));
    if is(node, "meta") {
        frame.below = 1.2 * MM;
        frame.keep_next |= node.parent().is_some_and(|parent| is(parent, "entry"));
    }
    if is(node, "sign") {
        frame.above = 4.0 * MM;
        kind.leading = 1.8;
    }
}

fn table(node: Node<'_, '_>, kind: &mut Type, frame: &mut Frame) {
    let short = within(node, "short");
    if is(node, "grid") {
        (kind.size, kind.leading) = if short { (pt(8.5), 1.2) } else { (pt(9.5), 1.3) };
        frame.below = if short { 1.0 * MM } else { 3.0 * MM };
    }
    if is(node, "index") {
        kind.size = pt(9.0);
    }
    if is(node, "head") {
        frame.rule_below = 0.75;
    }
    if is(node, "rows") && within(node, "moments") {
        (kind.size, kind.leading) = (pt(10.0), 1.3);
    }
}

fn cell(node: Node<'_, '_>, kind: &mut Type, frame: &mut Frame) {
    (frame.top, frame.right, frame.bottom) = (0.7 * MM, 2.0 * MM, 0.7 * MM);
    let Some(table) = node.ancestors().find(|above| name(*above) == "table") else { return };
    let (head, first) = (name(node) == "th", before(node).is_none());
    let number = 1 + node.prev_siblings().filter(|n| n.is_element()).count().saturating_sub(1);
    if is(table, "sheet") {
        (frame.top, frame.right, frame.bottom) = (0.0, 0.0, 0.0);
        if node.ancestors().any(|above| name(above) == "thead") {
            frame.bottom = 3.5 * MM;
            kind.size = pt(9.0);
        }
    } else if is(table, "head") {
        (frame.top, frame.right, frame.bottom) = (0.0, 0.0, 1.0 * MM);
        frame.to_the_right = is(node, "r");
    } else if is(table, "slip") {
        (frame.top, frame.bottom, frame.rule_below) = (1.0 * MM, 1.0 * MM, 0.4);
        kind.italic |= head;
        frame.width = head.then_some(38.0 * MM);
    } else if is(table, "grid") {
        frame.rule_below = if head { 1.0 } else { 0.4 };
        kind.italic |= head;
        if within(table, "short") && !head {
            (frame.top, frame.bottom) = (0.3 * MM, 0.3 * MM);
        }
        if first && !head {
            frame.least = 9.0 * MM;
            frame.width = is(table, "measured").then_some(34.0 * MM);
        }
        if is(table, "index") {
            frame.right = 3.5 * MM;
        }
        if is(table, "entries") && !head {
            frame.width = match number {
                3 => Some(40.0 * MM),
                7 => Some(18.0 * MM),
                8 => Some(34.0 * MM),
                _ => None,
            };
        }
    } else if is(table, "rows") {
        (frame.top, frame.bottom, kind.anywhere) = (0.35 * MM, 0.35 * MM, true);
        if is(node, "l") {
            frame.width = Some(if within(table, "moments") { 30.0 * MM } else { 38.0 * MM });
            (kind.italic, kind.anywhere) = (true, false);
        }
        for depth in 1..=4_u8 {
            if is(node, &format!("d{depth}")) {
                frame.left = 4.0 * MM * f32::from(depth);
            }
        }
        if is(node, "part") {
            (kind.bold, frame.top, frame.rule_below, frame.keep_next) = (true, 2.6 * MM, 0.4, true);
        }
    } else if is(table, "moments") {
        (frame.top, frame.bottom, frame.rule_above) = (1.0 * MM, 1.0 * MM, 0.4);
        frame.width = is(node, "time").then_some(20.0 * MM);
    }
}

fn block(node: Node<'_, '_>, kind: &mut Type, frame: &mut Frame) {
    if is(node, "visit") {
        frame.keep_whole = true;
        if before(node).is_none_or(|before| name(before) != "h2") {
            (frame.above, frame.rule_above) = (7.0 * MM, 1.0);
        }
    }
    if is(node, "entry") {
        (frame.above, frame.below) = (4.0 * MM, 5.0 * MM);
    }
    if is(node, "beneath") {
        (frame.keep_whole, frame.left, frame.bar) = (true, 9.0 * MM, 1.5);
    }
    if is(node, "signature") {
        frame.keep_whole = true;
    }
    if is(node, "picture") {
        (frame.keep_whole, frame.below) = (true, 4.0 * MM);
    }
    if is(node, "what") {
        frame.keep_next = true;
    }
    if is(node, "short") {
        (kind.size, kind.leading) = (pt(9.5), 1.25);
    } else if is(node, "summary") {
        kind.leading = 1.28;
    }
}

/// What the classes say of the words alone.
fn words(node: Node<'_, '_>, kind: &mut Type) {
    if is(node, "kind") {
        let in_h4 = node.ancestors().any(|above| name(above) == "h4");
        (kind.bold, kind.italic) = (in_h4, !in_h4);
        if within(node, "moments") {
            kind.size = pt(9.0);
        }
    }
    if is(node, "meta") {
        kind.size = pt(9.0);
    }
    if is(node, "mark") {
        (kind.size, kind.bold, kind.nowrap) = (pt(9.0), true, false);
    }
    if is(node, "t") {
        kind.nowrap = true;
    }
    if is(node, "note") {
        (kind.italic, kind.size) = (true, pt(10.0));
    }
    if is(node, "wording") {
        kind.size = pt(10.0);
    }
    if is(node, "digest") {
        *kind = Type {
            size: pt(7.5),
            leading: 1.3,
            bold: false,
            italic: false,
            face: Face::Digests,
            nowrap: kind.nowrap,
            anywhere: true,
        };
    }
}

/// Width of a blank to be filled in by hand.
pub fn blank(node: Node<'_, '_>) -> f32 {
    match (is(node, "short"), is(node, "wide")) {
        (true, _) => 22.0 * MM,
        (_, true) => 100.0 * MM,
        _ => 55.0 * MM,
    }
}

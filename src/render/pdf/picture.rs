//! The picture of the measures: the few shapes that `render/picture.rs` draws, taken over as shapes.
//!
//! Scalable Vector Graphics 1.1, as far as the page uses it. Anything else stops the making of the file.

use super::Fault;
use super::fonts::Face;
use super::read::all_words;
use super::structure::{Node, Role, Structure};
use super::text::{Para, Sense, Setter, Type, Words};
use roxmltree::Node as Element;

/// A drawing, in its own units.
pub struct Picture {
    /// Its width.
    pub width: f32,
    /// Its height.
    pub height: f32,
    /// What is drawn, in the order of drawing.
    pub shapes: Vec<Shape>,
    /// Where it belongs in the structure.
    pub node: Node,
}

/// Something drawn.
pub enum Shape {
    /// A line or a figure.
    Figure { steps: Vec<Step>, filled: Option<Ink>, line: Option<Line> },
    /// Words, with the point of their base line and the side that is there.
    Words { para: Box<Para>, x: f32, y: f32, side: Side },
}

/// A step of a figure, to points in units of the picture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Step {
    /// Begins here.
    Move(f32, f32),
    /// A straight line to here.
    Line(f32, f32),
    /// A curve to the last point, by way of the first two.
    Curve([f32; 6]),
    /// Back to where it began.
    Close,
}

/// Black or white: the page has no other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ink {
    /// Black.
    Black,
    /// White.
    White,
}

/// How a line is drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// Its strength.
    pub width: f32,
    /// Lengths of dash and gap in turn; empty for a line without gaps.
    pub dashes: Vec<f32>,
}

/// The part of the words that stands at their point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// Their beginning.
    Start,
    /// Their middle.
    Middle,
    /// Their end.
    End,
}

/// Control points of a quarter of a circle stand this far along (the usual approximation by a cubic curve;
/// wrong by less than 0.03 per cent of the radius).
const QUARTER: f32 = 0.552_284_8;

/// Reads a drawing.
///
/// # Errors
/// When it holds anything that is not known here.
pub fn read_picture(
    svg: Element<'_, '_>,
    structure: &mut Structure,
    parent: Node,
    setter: &mut Setter,
) -> Result<Picture, Fault> {
    let name = |wanted: &str| svg.children().find(|child| child.has_tag_name(wanted)).map(all_words);
    let alt: Vec<String> = [name("title"), name("desc")].into_iter().flatten().collect();
    let node = structure.add(parent, Role::Figure(alt.join(". ")));
    let size = numbers(svg.attribute("viewBox").unwrap_or_default())?;
    let [_, _, width, height] = size[..] else { return Err(unknown(svg, "without its size")) };
    let mut picture = Picture { width, height, shapes: Vec::new(), node };
    let size = svg.attribute("font-size").map_or(Ok(10.0), number)?;
    for child in svg.children() {
        shape(child, size, &mut picture, setter)?;
    }
    Ok(picture)
}

fn unknown(element: Element<'_, '_>, why: &str) -> Fault {
    Fault::Unknown(format!("the element <{}> of a picture {why}", element.tag_name().name()))
}

fn number(text: &str) -> Result<f32, Fault> {
    text.trim().parse().map_err(|_| Fault::Unknown(format!("\"{text}\" for a number in a picture")))
}

fn numbers(text: &str) -> Result<Vec<f32>, Fault> {
    text.split([' ', ',']).filter(|part| !part.is_empty()).map(number).collect()
}

fn shape(
    element: Element<'_, '_>,
    size: f32,
    picture: &mut Picture,
    setter: &mut Setter,
) -> Result<(), Fault> {
    if !element.is_element() {
        return match element.text().unwrap_or_default().trim() {
            "" => Ok(()),
            _ => Err(Fault::Unknown("words in a picture, outside of any element".to_string())),
        };
    }
    let known: &[&str] = match element.tag_name().name() {
        "title" | "desc" => return Ok(()),
        "g" => {
            known_only(element, &["class"])?;
            return element.children().try_for_each(|child| shape(child, size, picture, setter));
        }
        "path" => &["d", "fill", "stroke", "stroke-width", "stroke-dasharray"],
        "circle" => &["cx", "cy", "r", "fill", "stroke", "stroke-width"],
        "rect" => &["x", "y", "width", "height", "fill", "stroke", "stroke-width"],
        "text" => &["x", "y", "text-anchor", "font-size", "font-weight"],
        _ => return Err(unknown(element, "that is not known")),
    };
    known_only(element, known)?;
    let at = |name: &str| element.attribute(name).map_or(Ok(0.0), number);
    let steps = match element.tag_name().name() {
        "path" => path(element.attribute("d").unwrap_or_default())?,
        "circle" => circle(at("cx")?, at("cy")?, at("r")?),
        "rect" => {
            let (x, y, width, height) = (at("x")?, at("y")?, at("width")?, at("height")?);
            vec![
                Step::Move(x, y),
                Step::Line(x + width, y),
                Step::Line(x + width, y + height),
                Step::Line(x, y + height),
                Step::Close,
            ]
        }
        _ => {
            let side = match element.attribute("text-anchor") {
                None => Side::Start,
                Some("middle") => Side::Middle,
                Some("end") => Side::End,
                Some(other) => return Err(unknown(element, &format!("set to \"{other}\""))),
            };
            let size = element.attribute("font-size").map_or(Ok(size), number)?;
            let bold = element.attribute("font-weight").is_some();
            let words = all_words(element);
            if !words.is_empty() {
                let para = Box::new(label(&words, size, bold, picture.node, setter));
                picture.shapes.push(Shape::Words { para, x: at("x")?, y: at("y")?, side });
            }
            return Ok(());
        }
    };
    let filled = match element.attribute("fill") {
        None | Some("#000") => Some(Ink::Black),
        Some("#fff") => Some(Ink::White),
        Some("none") => None,
        Some(other) => return Err(unknown(element, &format!("filled with \"{other}\""))),
    };
    let line = match element.attribute("stroke") {
        None => None,
        Some("#000") => Some(Line {
            width: element.attribute("stroke-width").map_or(Ok(1.0), number)?,
            dashes: match element.attribute("stroke-dasharray") {
                None | Some("none") => Vec::new(),
                Some(dashes) => numbers(dashes)?,
            },
        }),
        Some(other) => return Err(unknown(element, &format!("drawn with \"{other}\""))),
    };
    picture.shapes.push(Shape::Figure { steps, filled, line });
    Ok(())
}

fn known_only(element: Element<'_, '_>, known: &[&str]) -> Result<(), Fault> {
    match element.attributes().find(|attribute| !known.contains(&attribute.name())) {
        Some(other) => Err(unknown(element, &format!("with \"{}\"", other.name()))),
        None => Ok(()),
    }
}

fn label(words: &str, size: f32, bold: bool, node: Node, setter: &mut Setter) -> Para {
    // Of the sans there is no bold: a title stands out by the serif's.
    let face = if bold { Face::Words } else { Face::Pictures };
    let look = Type { size, leading: 1.2, bold, italic: false, face, nowrap: true, anywhere: false };
    let mut set = Words::default();
    set.add(words, look, &Sense::Plain);
    let mut para = set.set(look, node, setter);
    para.break_lines(f32::MAX, false);
    para
}

fn circle(x: f32, y: f32, r: f32) -> Vec<Step> {
    let c = r * QUARTER;
    vec![
        Step::Move(x + r, y),
        Step::Curve([x + r, y + c, x + c, y + r, x, y + r]),
        Step::Curve([x - c, y + r, x - r, y + c, x - r, y]),
        Step::Curve([x - r, y - c, x - c, y - r, x, y - r]),
        Step::Curve([x + c, y - r, x + r, y - c, x + r, y]),
        Step::Close,
    ]
}

/// The steps of a path: `M`, `L`, `H`, `V` and `Z`, absolute and relative (SVG 1.1, 8.3).
fn path(d: &str) -> Result<Vec<Step>, Fault> {
    let mut steps = Vec::new();
    let (mut x, mut y, mut start) = (0.0_f32, 0.0_f32, (0.0_f32, 0.0_f32));
    let mut rest = d.trim();
    while let Some(letter) = rest.chars().next() {
        let after = &rest[letter.len_utf8()..];
        let end = after.find(|c: char| c.is_ascii_alphabetic()).unwrap_or(after.len());
        let given = numbers(&after[..end].replace('-', " -"))?;
        rest = after[end..].trim_start();
        let relative = letter.is_ascii_lowercase();
        let (dx, dy) = if relative { (x, y) } else { (0.0, 0.0) };
        match (letter.to_ascii_uppercase(), &given[..]) {
            ('M', [a, b]) => {
                (x, y) = (a + dx, b + dy);
                start = (x, y);
                steps.push(Step::Move(x, y));
            }
            ('L', pairs) if !pairs.is_empty() && pairs.len() % 2 == 0 => {
                for pair in pairs.chunks(2) {
                    let (dx, dy) = if relative { (x, y) } else { (0.0, 0.0) };
                    (x, y) = (pair[0] + dx, pair[1] + dy);
                    steps.push(Step::Line(x, y));
                }
            }
            ('L' | 'M', _) => return Err(Fault::Unknown(format!("the path \"{d}\" of a picture"))),
            ('H', [a]) => {
                x = a + dx;
                steps.push(Step::Line(x, y));
            }
            ('V', [a]) => {
                y = a + dy;
                steps.push(Step::Line(x, y));
            }
            ('Z', []) => {
                (x, y) = start;
                steps.push(Step::Close);
            }
            _ => return Err(Fault::Unknown(format!("the path \"{d}\" of a picture"))),
        }
    }
    Ok(steps)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_path_is_followed_step_by_step() {
        let steps = path("M10 5l4 8h-8z").unwrap();
        assert_eq!(
            steps,
            [Step::Move(10.0, 5.0), Step::Line(14.0, 13.0), Step::Line(6.0, 13.0), Step::Close]
        );
        // Signs that follow one another, as the crosses have them; back to the start after `z`.
        let steps = path("M4 4l12 12m0 -12l-12 12l3-3 4-4").unwrap();
        assert_eq!(steps[2], Step::Move(16.0, 4.0));
        assert_eq!(steps[5], Step::Line(11.0, 9.0));
        assert_eq!(path("M1 2V7H3").unwrap()[2], Step::Line(3.0, 7.0));
    }

    #[test]
    fn a_path_that_is_not_known_is_refused() {
        for odd in ["M1 2C1 2 3 4 5 6", "M1", "L1", "M1 2A3 3 0 0 1 4 4", "M1 2Lx y", "5 5"] {
            assert!(path(odd).is_err(), "{odd}");
        }
    }
}

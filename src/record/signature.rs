//! A signature given on a screen: what the hand drew, kept as strokes, and the picture made from them. Whoever
//! can't draw types a name and says that it is meant as a signature. The strokes are the original; the picture
//! follows from them and from nothing else, so that anybody can draw it again.

use crate::record::moment::Moment;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::fmt::Write;

/// The newest edition of the file.
pub const EDITION: u8 = 1;
/// Most bytes of a file. A long name drawn slowly takes some 40,000.
pub const MOST_BYTES: u64 = 1 << 20;
/// Most strokes.
const MOST_STROKES: usize = 400;
/// Most points in all strokes together.
const MOST_POINTS: usize = 20_000;
/// Longest time from the first touch to the last, in milliseconds: nobody draws longer than a quarter of an hour.
const LONGEST: u32 = 15 * 60 * 1000;
/// Smallest and largest width and height of the canvas, in its own units.
const CANVAS: std::ops::RangeInclusive<u32> = 100..=40_000;
/// The line drawn must be at least this part of the canvas's width, or it is a touch by mistake.
const LEAST_PART: u32 = 10;
/// Most letters of a name or statement.
const MOST_LETTERS: usize = 400;
/// Most lines of what was shown, and most letters of one.
const MOST_LINES: usize = 200;

/// The strokes of a signature, or the name typed in their place.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SignatureFile {
    /// Edition of this layout: 1.
    #[schemars(range(min = 1, max = 1))]
    pub signature: u8,
    /// Name of whoever signed, in print.
    pub name: String,
    /// What the screen showed to whoever signed; absent where it was not a page of this program.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub shown: Option<Shown>,
    /// What the hand drew.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub drawn: Option<Drawn>,
    /// What was typed in the place of a drawing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub typed: Option<Typed>,
}

/// What stood on the screen when it was signed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Shown {
    /// Code of the wording's edition; absent where no wording was used.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wording: Option<String>,
    /// Number of the entry that adopted the wording.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wording_entry: Option<u64>,
    /// BLAKE3 of the wording's text (UTF-8), hex.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(regex(pattern = "^[0-9a-f]{64}$"))]
    pub text_blake3: Option<String>,
    /// Language of the page around the wording (BCP 47).
    pub language: String,
    /// What was agreed to or declined, line by line, as the page said it.
    pub lines: Vec<String>,
}

/// What was drawn, in the units of the canvas. Rightwards and downwards from its upper left corner.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Drawn {
    /// Width of the canvas.
    pub width: u32,
    /// Height of the canvas.
    pub height: u32,
    /// With what: touch, pen or mouse; absent where the browser did not say.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub with: Option<String>,
    /// The strokes, in the order drawn. Each point is `[x, y, t]` or `[x, y, t, pressure]`: `t` in milliseconds
    /// since the first touch, the pressure in thousandths of the most that the pen tells.
    pub strokes: Vec<Vec<Vec<u32>>>,
}

/// A name typed and meant as a signature.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Typed {
    /// As typed.
    pub text: String,
    /// The statement that was ticked beside it, in full.
    pub statement: String,
}

/// Why a file is no signature. Never repeats what is in it.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum SignatureError {
    /// Not the layout.
    #[error("it is not laid out as a signature: {0}")]
    Layout(String),
    /// A later edition.
    #[error("it is of edition {0}, which this program does not know")]
    Edition(u8),
    /// Nothing was drawn or typed.
    #[error("nothing was drawn: a touch is no signature")]
    Empty,
    /// Drawn and typed at once.
    #[error("it is drawn and typed as well: one of the two")]
    Both,
    /// Beyond what a hand does.
    #[error("{0}")]
    Beyond(&'static str),
}

impl SignatureFile {
    /// Reads a file and looks through it.
    ///
    /// # Errors
    /// When it is not laid out so, says nothing, or says more than a hand can do.
    pub fn read(bytes: &[u8]) -> Result<SignatureFile, SignatureError> {
        if bytes.len() as u64 > MOST_BYTES {
            return Err(SignatureError::Beyond("it is larger than a megabyte"));
        }
        let file: SignatureFile =
            serde_json::from_slice(bytes).map_err(|e| SignatureError::Layout(place_of(&e)))?;
        file.check()?;
        Ok(file)
    }

    /// As it is kept: JSON on one line, with a line end.
    ///
    /// # Errors
    /// As [`SignatureFile::read`].
    pub fn to_bytes(&self) -> Result<Vec<u8>, SignatureError> {
        self.check()?;
        let mut bytes = serde_json::to_vec(self).map_err(|e| SignatureError::Layout(place_of(&e)))?;
        bytes.push(b'\n');
        match bytes.len() as u64 > MOST_BYTES {
            true => Err(SignatureError::Beyond("it is larger than a megabyte")),
            false => Ok(bytes),
        }
    }

    fn check(&self) -> Result<(), SignatureError> {
        use SignatureError::{Beyond, Both, Edition, Empty};
        if self.signature != EDITION {
            return Err(Edition(self.signature));
        }
        said(&self.name, "the name in print is missing, or longer than a name")?;
        if let Some(shown) = &self.shown {
            shown.check()?;
        }
        match (&self.drawn, &self.typed) {
            (Some(_), Some(_)) => Err(Both),
            (None, None) => Err(Empty),
            (Some(drawn), None) => drawn.check(),
            (None, Some(typed)) => {
                said(&typed.text, "the typed name is missing, or longer than a name")?;
                said(&typed.statement, "it does not say that the typed name is meant as a signature")?;
                match typed.text.chars().any(char::is_alphabetic) {
                    true => Ok(()),
                    false => Err(Beyond("the typed name has no letter")),
                }
            }
        }
    }

    /// The picture: black on white, an SVG that any browser shows. `strokes` is the BLAKE3 (hex) of the file with
    /// the strokes, `at` when it was signed. The same file and moment make the same bytes.
    ///
    /// Words are a twelfth of the canvas's height tall, or a 48th of its width if that is more. A rule runs under the
    /// canvas, a letter in from both edges; beneath it, on four letters' height, stand the name (1.5 down) and the
    /// moment (3 down). A name in type stands half-way down the canvas, half as large again, and its statement three
    /// quarters down. The pen is a 220th of the width wide, or of three times the height if that is less; the rule a
    /// third of it.
    pub fn picture(&self, strokes: &str, at: Moment) -> String {
        let (width, height) = self.drawn.as_ref().map_or((8000, 2400), |drawn| (drawn.width, drawn.height));
        // The words beneath grow with the canvas, whatever its units are.
        let size = (height / 12).max(width / 48).max(6);
        let below = size * 4;
        let line = (width.min(height * 3) / 220).max(1);
        let mut out = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width} {}\" role=\"img\" \
             font-family=\"DejaVu Sans, Liberation Sans, Arial, sans-serif\" font-size=\"{size}\">\n\
             <title>Signature</title>\n<desc>Made from the file with the BLAKE3 {strokes}</desc>\n\
             <rect width=\"{width}\" height=\"{}\" fill=\"#fff\" />\n",
            height + below,
            height + below,
        );
        match (&self.drawn, &self.typed) {
            (Some(drawn), _) => drawn.lines(line, &mut out),
            (None, Some(typed)) => {
                let _ = writeln!(
                    out,
                    "<text x=\"{}\" y=\"{}\" font-size=\"{}\">{}</text>\n<text x=\"{}\" y=\"{}\">{}</text>",
                    size,
                    height / 2,
                    size * 3 / 2,
                    escaped(&typed.text),
                    size,
                    height * 3 / 4,
                    escaped(&typed.statement),
                );
            }
            (None, None) => {}
        }
        let wording = self.shown.as_ref().and_then(|shown| shown.wording.as_ref());
        let wording = wording.map(|code| format!(", wording {code}")).unwrap_or_default();
        let _ = writeln!(
            out,
            "<path d=\"M{size} {height}H{}\" stroke=\"#000\" stroke-width=\"{}\" />\n\
             <text x=\"{size}\" y=\"{}\">{}</text>\n<text x=\"{size}\" y=\"{}\">{}</text>\n</svg>",
            width.saturating_sub(size),
            (line / 3).max(1),
            height + size * 3 / 2,
            escaped(&self.name),
            height + size * 3,
            escaped(&format!("on the screen, {}{wording}", at.plain())),
        );
        out
    }
}

impl Shown {
    fn check(&self) -> Result<(), SignatureError> {
        use SignatureError::Beyond;
        if self.lines.len() > MOST_LINES || self.lines.iter().any(|line| line.len() > 20 * MOST_LETTERS) {
            return Err(Beyond("what was shown is longer than a page"));
        }
        let whole = self.wording.is_some() == self.wording_entry.is_some()
            && self.wording.is_some() == self.text_blake3.is_some();
        match whole {
            true => Ok(()),
            false => Err(Beyond("it names a wording without its entry and digest, or the reverse")),
        }
    }
}

impl Drawn {
    fn check(&self) -> Result<(), SignatureError> {
        use SignatureError::{Beyond, Empty};
        if !CANVAS.contains(&self.width) || !CANVAS.contains(&self.height) {
            return Err(Beyond("the canvas is too small or too large"));
        }
        if self.with.as_ref().is_some_and(|with| with.len() > 20) {
            return Err(Beyond("it does not say with what it was drawn"));
        }
        if self.strokes.len() > MOST_STROKES || self.strokes.iter().map(Vec::len).sum::<usize>() > MOST_POINTS
        {
            return Err(Beyond("it has more strokes or points than a hand draws"));
        }
        let (mut before, mut length) = (0, 0u64);
        for stroke in &self.strokes {
            let mut last: Option<(u32, u32)> = None;
            for point in stroke {
                let (x, y, t, pressure) = match point.as_slice() {
                    [x, y, t] => (*x, *y, *t, 0),
                    [x, y, t, pressure] => (*x, *y, *t, *pressure),
                    _ => return Err(Beyond("a point has other than three or four numbers")),
                };
                if x > self.width || y > self.height || pressure > 1000 {
                    return Err(Beyond("a point lies outside the canvas"));
                }
                if t < before || t > LONGEST {
                    return Err(Beyond("the times run backwards, or for too long"));
                }
                before = t;
                if let Some((x0, y0)) = last {
                    length += u64::from(x.abs_diff(x0)) + u64::from(y.abs_diff(y0));
                }
                last = Some((x, y));
            }
        }
        if length < u64::from(self.width / LEAST_PART) { Err(Empty) } else { Ok(()) }
    }

    /// Each stroke as one line; a touch as a dot.
    fn lines(&self, width: u32, out: &mut String) {
        let _ = writeln!(
            out,
            "<g fill=\"none\" stroke=\"#000\" stroke-width=\"{width}\" stroke-linecap=\"round\" stroke-linejoin=\"round\">"
        );
        for stroke in self.strokes.iter().filter(|stroke| !stroke.is_empty()) {
            let mut path = String::new();
            for (index, point) in stroke.iter().enumerate() {
                if let [x, y, ..] = point.as_slice() {
                    let _ = write!(path, "{}{x} {y}", if index == 0 { "M" } else { "L" });
                }
            }
            if stroke.len() == 1 {
                path.push_str("h0");
            }
            let _ = writeln!(out, "<path d=\"{path}\" />");
        }
        out.push_str("</g>\n");
    }
}

/// Words that are there, and no more of them than such words have.
fn said(words: &str, why: &'static str) -> Result<(), SignatureError> {
    let letters = words.chars().count();
    match words.trim().is_empty() || letters > MOST_LETTERS || words.chars().any(char::is_control) {
        true => Err(SignatureError::Beyond(why)),
        false => Ok(()),
    }
}

/// Where the reading stopped, without what stands there.
fn place_of(error: &serde_json::Error) -> String {
    format!("line {}, column {}", error.line(), error.column())
}

/// As text between the tags of XML, which has no place for the two last letters of the first plane.
fn escaped(text: &str) -> String {
    let text = text.replace(['\u{fffe}', '\u{ffff}'], "\u{fffd}");
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}

#[cfg(test)]
mod tests;

//! The letters of the printed set: one family, carried in the program, so that the same set gives the same
//! bytes on every computer.
//!
//! DejaVu 2.37; its licence lies beside the files. Serif for the words, sans for the pictures and for letters
//! that the serif lacks (Hebrew, Arabic, signs), mono for digests.

use krilla::text::Font;
use parley::fontique::{Blob, FontInfoOverride, FontWidth};
use parley::{FontContext, FontFamily, FontFamilyName};
use std::borrow::Cow;
use std::collections::HashMap;
use std::sync::Arc;

/// Family of the words.
const WORDS: &str = "Record";
/// Family of the pictures.
const PICTURES: &str = "Record pictures";
/// Family of digests.
const DIGESTS: &str = "Record digests";

const FILES: [(&str, &[u8]); 6] = [
    (WORDS, include_bytes!("fonts/DejaVuSerifCondensed.ttf")),
    (WORDS, include_bytes!("fonts/DejaVuSerifCondensed-Bold.ttf")),
    (WORDS, include_bytes!("fonts/DejaVuSerifCondensed-Italic.ttf")),
    (WORDS, include_bytes!("fonts/DejaVuSerifCondensed-BoldItalic.ttf")),
    (PICTURES, include_bytes!("fonts/DejaVuSans.ttf")),
    (DIGESTS, include_bytes!("fonts/DejaVuSansMono.ttf")),
];

/// Which letters.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Face {
    /// The words of the record.
    Words,
    /// The words in a picture.
    Pictures,
    /// Digests.
    Digests,
}

impl Face {
    /// The families to look in, in this order.
    pub fn families(self) -> FontFamily<'static> {
        let list: &'static [FontFamilyName<'static>] = match self {
            Face::Words => {
                const {
                    &[
                        FontFamilyName::named(WORDS),
                        FontFamilyName::named(PICTURES),
                        FontFamilyName::named(DIGESTS),
                    ]
                }
            }
            Face::Pictures => {
                const {
                    &[
                        FontFamilyName::named(PICTURES),
                        FontFamilyName::named(WORDS),
                        FontFamilyName::named(DIGESTS),
                    ]
                }
            }
            Face::Digests => {
                const {
                    &[
                        FontFamilyName::named(DIGESTS),
                        FontFamilyName::named(PICTURES),
                        FontFamilyName::named(WORDS),
                    ]
                }
            }
        };
        FontFamily::List(Cow::Borrowed(list))
    }
}

/// The letters, ready to be measured and to be put into a file.
pub struct Fonts {
    /// For measuring and breaking lines.
    pub context: FontContext,
    /// The same fonts for the file, by the number that a run of glyphs names.
    faces: HashMap<u64, Font>,
}

impl Fonts {
    /// Reads the fonts that the program carries; the computer's own are never looked at.
    pub fn new() -> Fonts {
        let mut context = FontContext::new();
        let mut faces = HashMap::new();
        for (family, bytes) in FILES {
            let blob = Blob::new(Arc::new(bytes));
            let told = FontInfoOverride {
                family_name: Some(family),
                width: Some(FontWidth::NORMAL),
                ..FontInfoOverride::default()
            };
            if let Some(font) = Font::new(bytes.into(), 0) {
                faces.insert(blob.id(), font);
            }
            context.collection.register_fonts(blob, Some(told));
        }
        Fonts { context, faces }
    }

    /// The font of a run of glyphs.
    pub fn face(&self, id: u64) -> Option<Font> {
        self.faces.get(&id).cloned()
    }
}

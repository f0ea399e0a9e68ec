//! The page's own files: styles and scripts, built into the program.

use super::{Call, Door, Reply, Route};
use crate::trouble::{Kind, Outcome, Trouble};

/// Their addresses.
pub const ROUTES: &[Route] = &[Route::get("/own/{name}", file).door(Door::Open).by_itself()];

const CSS: &str = "text/css; charset=utf-8";
const JS: &str = "text/javascript; charset=utf-8";

/// Every file: its name, its type, its text.
const FILES: &[(&str, &str, &str)] = &[
    ("inkfast.css", CSS, include_str!("page/inkfast.css")),
    ("desk.css", CSS, include_str!("page/desk.css")),
    ("audit.css", CSS, include_str!("page/audit.css")),
    ("inkfast.js", JS, include_str!("page/inkfast.js")),
    ("room.css", CSS, include_str!("page/room.css")),
    ("room.js", JS, include_str!("page/room.js")),
    ("consent.css", CSS, include_str!("page/consent.css")),
    ("consent.js", JS, include_str!("page/consent.js")),
    ("mark.svg", "image/svg+xml", include_str!("page/mark.svg")),
];

/// Names of the style sheets, in the order they are laid over each other.
pub fn styles() -> impl Iterator<Item = &'static str> {
    FILES.iter().filter(|(_, mime, _)| *mime == CSS).map(|(name, ..)| *name)
}

/// Names of the scripts.
pub fn scripts() -> impl Iterator<Item = &'static str> {
    FILES.iter().filter(|(_, mime, _)| *mime == JS).map(|(name, ..)| *name)
}

fn file(call: &Call<'_>) -> Outcome<Reply> {
    let found = FILES.iter().find(|(name, ..)| *name == call.param("name"));
    found.map(|(_, mime, text)| Reply::bytes(mime, *text)).ok_or_else(|| {
        Trouble::new(Kind::NotFound, "There is no such file.", "Nothing was changed.", "Go back to the page.")
    })
}

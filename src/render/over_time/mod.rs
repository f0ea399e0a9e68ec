//! What was written when, as a picture and as tables: an audit sees at a glance whether a book was written day by day,
//! and which entries are about days long past.
//!
//! Sorts of entries stand in strips of their own, one above the other over the same days, so that nothing rests on
//! colour. Beneath them hang the entries about earlier days, in hatched bars, and from the top of that strip a thread
//! runs to each from the day that it is about: short and few where a slip of the pen was put right, a fan where many were
//! written long afterwards.

mod draw;
mod tables;

pub use draw::picture;
pub use tables::tables;

use super::html::esc;
use super::style;
use crate::record::over_time::Course;

/// The words of the picture, by their keys; a number may stand in them.
pub type Say<'a> = dyn Fn(&str, &[(&str, String)]) -> String + 'a;

/// Rules of the page that stands alone.
const RULES: &str = "
.grid { font-size: 8pt; }
svg { width: 100%; height: auto; display: block; }
.number { text-align: right; white-space: nowrap; } tbody th { white-space: nowrap; }
";

/// The picture and its tables as one page of HTML that stands alone. `about` is what it is of and when it was made.
pub fn over_time_page(course: &Course, about: &str, say: &Say<'_>) -> String {
    let title = say("title", &[]);
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\" />\n<title>{0}</title>\n<style>\n{1}{RULES}</style>\n\
         </head>\n<body>\n<h1>{0}</h1>\n<p class=\"meta\">{2}</p>\n{3}{4}</body>\n</html>\n",
        esc(&title),
        style::sheet(&title),
        esc(about),
        picture(course, say),
        tables(course, say)
    )
}

#[cfg(test)]
mod tests;

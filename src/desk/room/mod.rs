//! The room: one patient, hands busy. Today's list, who the patient is and what is to be minded, what may be done,
//! five targets a knuckle hits, the note in lines, the list before signing.

mod act;
mod body;
mod list;
mod measures;
mod note;
mod page;
mod question;
mod seen;

use super::call::Call;
use super::{Reply, Route};
use crate::practice::chart::ChartFace;
use crate::practice::open::Practice;
use crate::trouble::Outcome;

pub use question::Question;

/// Their addresses.
pub const ROUTES: &[Route] = &[
    Route::get("/room", list::list),
    Route::post("/room", list::list),
    Route::get("/room/{slot}", show),
    Route::post("/room/{slot}/open", act::open),
    Route::post("/room/{slot}/choose", act::choose),
    Route::post("/room/{slot}/now", act::now),
    Route::post("/room/{slot}/after-stop", act::after_stop),
    Route::post("/room/{slot}/withdrawn", act::withdrawn),
    Route::post("/room/{slot}/line", act::line),
    Route::post("/room/{slot}/reads", act::reads).in_background(),
    Route::post("/room/{slot}/keep", act::keep).in_background(),
    Route::post("/room/{slot}/drop", act::drop),
    Route::post("/room/{slot}/mark-words", act::mark_words),
    Route::post("/room/{slot}/screen", act::screen),
    Route::post("/room/{slot}/own-answer", act::own_answer),
    Route::post("/room/{slot}/sign", act::sign),
    Route::post("/room/{slot}/keys", act::keys),
    Route::get("/room/{slot}/course", act::course),
];

/// The page of a patient: the room while a visit is open here, else who it is.
fn show(call: &Call<'_>) -> Outcome<Reply> {
    let chart = call.chart()?;
    let practice = call.practice()?;
    let seen = seen::seen(call, &practice, chart)?;
    let Some(visit) = &seen.visit else { return Ok(list::before_visit(call, &seen)) };
    let remarks = call.run(&["missing", chart])?.json;
    Ok(Reply::page(call, "room-title", page::in_room(call, &seen, visit, &remarks)))
}

/// The question on the table of a patient.
///
/// # Errors
/// When what is kept half typed can't be read.
pub fn question_of(practice: &Practice, face: &ChartFace) -> Outcome<Option<Question>> {
    Ok(practice.typing(&face.tag)?.get("question").and_then(Question::read))
}

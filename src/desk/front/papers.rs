//! A scan, letter or picture is put into a chart: what it is, then the file itself.

use super::about;
use super::guided::{Guided, when, when_line};
use crate::cli::commands::attach::media_type;
use crate::desk::{Call, Reply, Route, pipe};
use crate::trouble::{Outcome, Trouble};
use maud::html;
use std::path::Path;

/// Their addresses.
pub const ROUTES: &[Route] =
    &[Route::get("/chart/{slot}/attach", show), Route::post("/chart/{slot}/attach", attach)];

/// The questions; the file is asked for once they are answered, since a browser forgets it with each turn of the page.
fn guided(call: &Call<'_>) -> Outcome<(Guided, bool, String)> {
    let (_, face) = call.face()?;
    let slot = call.param("slot");
    let (action, back) = (format!("/chart/{slot}/attach"), format!("/chart/{slot}"));
    let guided = Guided::new("attach", "desk-attach", action, back)?;
    let answered = guided.is_whole(call);
    let guided = Guided {
        above: html! {
            (about(call, &face))
            p { (call.t("desk-attach-why")) }
        },
        more: html! {
            (when_line(call))
            @if answered {
                p.field {
                    label for="file" { (call.t("desk-attach-file")) }
                    span.hint #file-hint { (call.t("desk-attach-file-hint")) }
                    input #file type="file" name="file" required aria-describedby="file-hint";
                }
            }
        },
        with_file: true,
        ..guided
    };
    Ok((guided, answered, face.chart_no))
}

fn show(call: &Call<'_>) -> Outcome<Reply> {
    Ok(guided(call)?.0.page(call, None))
}

fn attach(call: &Call<'_>) -> Outcome<Reply> {
    let (guided, answered, chart) = guided(call)?;
    let Some(file) = call.upload("file").filter(|_| answered) else {
        let asked = answered && call.given.uploads.iter().any(|(name, _)| name == "file");
        let trouble = asked.then(|| {
            Trouble::input("No file was chosen, or it is empty.", "Choose the file and send the page again.")
        });
        return Ok(guided.page(call, trouble.as_ref()));
    };
    // The name it had is not kept: it often bears that of a patient.
    let mut more = vec![format!("--media-type={}", media_type(Path::new(&file.name)))];
    more.extend(when(call));
    pipe::handed(call, &file.bytes, |path| guided.answer(call, &["attach", &chart, path], &more))
}

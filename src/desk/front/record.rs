//! The chart as the printed record, shown within a page. Every reading has a reason and leaves an entry.

use super::about;
use super::why::Shows;
use crate::desk::{Call, Reply, Route, pipe};
use crate::trouble::{Kind, Outcome, Trouble};
use maud::html;

/// Their addresses.
pub const ROUTES: &[Route] = &[
    Route::get("/chart/{slot}/record", show),
    Route::post("/chart/{slot}/record", open),
    Route::get("/chart/{slot}/record/page", page),
];

const RECORD: Shows =
    Shows { title: "desk-record-title", address: "record", button: "desk-record-open", command: &["print"] };

fn kept_name(call: &Call<'_>) -> String {
    format!("desk-record {}", call.param("slot"))
}

fn show(call: &Call<'_>) -> Outcome<Reply> {
    if call.kept(&kept_name(call)).is_none() {
        return RECORD.ask(call, None);
    }
    let (_, face) = call.face()?;
    let address = format!("/chart/{}/record/page", call.param("slot"));
    let main = html! {
        h1 { (call.t("desk-record-title")) }
        (about(call, &face))
        p.actions.no-print {
            a.button href=(address) target="_blank" rel="noopener" { (call.t("desk-record-alone")) }
            a href=(format!("/chart/{}", call.param("slot"))) { (call.t("desk-back-to-chart")) }
        }
        iframe.leaf src=(address) title=(call.t("desk-record-title")) {}
    };
    Ok(Reply::page(call, "desk-record-title", main))
}

fn open(call: &Call<'_>) -> Outcome<Reply> {
    match RECORD.shown(call, |words| pipe::written(call, words, "html"))? {
        Err(asks) => Ok(asks),
        Ok((_, page)) => {
            call.keep(&kept_name(call), String::from_utf8_lossy(&page).into_owned());
            Ok(Reply::to(format!("/chart/{}/record", call.param("slot"))))
        }
    }
}

fn page(call: &Call<'_>) -> Outcome<Reply> {
    call.kept(&kept_name(call)).map(Reply::printed).ok_or_else(|| {
        Trouble::new(
            Kind::NotFound,
            "The record is not held here any more.",
            "Nothing was shown.",
            "Open it from the chart again.",
        )
    })
}

//! The chart as the printed record, shown within a page. Every reading has a reason and leaves an entry.

use super::{about, back_to_chart, face_of, piped};
use crate::desk::asks::plain;
use crate::desk::{Call, Reply, Route, frame};
use crate::record::kinds::release::AccessWhy;
use crate::trouble::{Kind, Outcome, Trouble};
use maud::{Markup, html};

/// Their addresses.
pub const ROUTES: &[Route] = &[
    Route::get("/chart/{slot}/record", show),
    Route::post("/chart/{slot}/record", open),
    Route::get("/chart/{slot}/record/page", page),
];

/// The fields that ask why a chart is opened: the command's own words.
pub(super) fn why_fields(call: &Call<'_>) -> Markup {
    let chosen = call.field("why").unwrap_or_default();
    html! {
        fieldset.choose {
            legend { (call.t("desk-why")) }
            span.hint { (call.t("desk-why-hint")) }
            div.choices {
                @for word in AccessWhy::WORDS {
                    span.choice {
                        input type="radio" id=(format!("why-{word}")) name="why" value=(word) checked[chosen == *word];
                        label for=(format!("why-{word}")) lang="en" { (plain(word)) }
                    }
                }
            }
        }
        p.field {
            label for="why-words" { (call.t("desk-why-words")) }
            input #why-words name="words" value=(call.field("words").unwrap_or_default()) autocomplete="off";
        }
    }
}

/// The words that tell a command why.
pub(super) fn why_words(call: &Call<'_>) -> Vec<String> {
    let flags = [("why", "why"), ("words", "words")];
    flags.into_iter().filter_map(|(name, flag)| Some(format!("--{flag}={}", call.field(name)?))).collect()
}

fn ask(call: &Call<'_>, trouble: Option<&Trouble>) -> Outcome<Reply> {
    let (_, face) = face_of(call)?;
    let inside = html! {
        (why_fields(call))
        div.actions { button.main type="submit" { (call.t("desk-record-open")) } }
    };
    let main = html! {
        h1 { (call.t("desk-record-title")) }
        (about(call, &face))
        p { (call.t("desk-record-why")) }
        @if let Some(trouble) = trouble { (frame::trouble_box(call, trouble)) }
        (call.form(&format!("/chart/{}/record", call.param("slot")), &inside))
        (back_to_chart(call))
    };
    let reply = Reply::page(call, "desk-record-title", main);
    Ok(if trouble.is_some() { reply.status(409) } else { reply })
}

fn kept_name(call: &Call<'_>) -> String {
    format!("desk-record {}", call.param("slot"))
}

fn show(call: &Call<'_>) -> Outcome<Reply> {
    if call.kept(&kept_name(call)).is_none() {
        return ask(call, None);
    }
    let (_, face) = face_of(call)?;
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
    let chart = call.chart()?.to_string();
    let why = why_words(call);
    let words: Vec<&str> = ["print", &chart].into_iter().chain(why.iter().map(String::as_str)).collect();
    match piped::page(call, &words, "html") {
        Err(trouble) if trouble.kind == Kind::Refused => ask(call, Some(&trouble)),
        Err(trouble) => Err(trouble),
        Ok((_, page)) => {
            call.keep(&kept_name(call), page);
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

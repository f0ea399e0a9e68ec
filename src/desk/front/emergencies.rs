//! Charts that were opened in an emergency, and the review of each by somebody else.

use super::guided::done;
use super::openings::{judged, judgement};
use crate::desk::{Call, Reply, Route, frame};
use crate::practice::emergency::{EmergencyOpening, openings, waiting};
use crate::record::kinds::register::SeenAs;
use crate::trouble::{Outcome, Trouble};
use maud::{Markup, html};

/// Their addresses.
pub const ROUTES: &[Route] =
    &[Route::get("/office/emergencies", show), Route::post("/office/emergencies", review)];

fn show(call: &Call<'_>) -> Outcome<Reply> {
    page(call, None)
}

fn page(call: &Call<'_>, trouble: Option<&Trouble>) -> Outcome<Reply> {
    let practice = call.practice()?;
    let (all, waits) = (openings(&practice)?, waiting(&practice)?);
    let main = html! {
        h1 { (call.t("desk-emergencies-title")) }
        p { (call.t("desk-emergencies-why")) }
        @if let Some(trouble) = trouble { (frame::trouble_box(call, trouble)) }
        h2 { (call.t("desk-emergencies-waiting")) }
        @if waits.is_empty() { p { (call.t("desk-emergencies-none-waiting")) } }
        @for one in &waits { (asked(call, one)) }
        h2 { (call.t_with("desk-emergencies-count", &[("count", &all.len().to_string())])) }
        ul.ledger {
            @for one in &all {
                li {
                    (told(one)) " – "
                    @match (one.seen, one.review) {
                        (Some(seen), Some(entry)) => {
                            strong { (call.t(seen_as(seen))) }
                            " " (call.t_with("desk-emergency-entry", &[("number", &entry.to_string())]))
                        }
                        _ => strong { (call.t("desk-emergency-open")) },
                    }
                }
            }
        }
    };
    Ok(Reply::page(call, "desk-emergencies-title", main).conflicts(trouble))
}

fn told(one: &EmergencyOpening) -> Markup {
    html! {
        span.number { (one.entry) } " " (one.at.plain()) ", " (one.by) ": "
        span lang="en" { bdi { (one.words) } }
    }
}

fn seen_as(seen: SeenAs) -> &'static str {
    match seen {
        SeenAs::Fine => "desk-emergency-fine",
        SeenAs::FollowUp => "desk-emergency-follow-up",
    }
}

fn asked(call: &Call<'_>, one: &EmergencyOpening) -> Markup {
    let number = one.entry.to_string();
    let inside = html! {
        input type="hidden" name="entry" value=(number);
        fieldset.judged {
            legend { (told(one)) }
            (judged(call, &number))
        }
        div.actions { button.main type="submit" { (call.t("desk-record")) } }
    };
    call.form("/office/emergencies", &inside)
}

fn review(call: &Call<'_>) -> Outcome<Reply> {
    let entry = call.field("entry").unwrap_or_default();
    let Some((seen, words)) = judgement(call, entry) else {
        let trouble = Trouble::input(
            "How it is judged is missing, or the words with it.",
            "Choose one, say why, and send it again.",
        );
        return page(call, Some(&trouble));
    };
    match done(call.run(&["openings", "emergency", entry, &format!("--{seen}={words}")])) {
        Ok(_) => {
            call.notice(call.t("desk-recorded"));
            Ok(Reply::to("/office/emergencies"))
        }
        Err(trouble) => page(call, Some(&trouble)),
    }
}

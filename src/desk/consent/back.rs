//! The screen comes back to the practitioner.

use super::back_form;
use crate::desk::Reply;
use crate::desk::call::Call;
use crate::desk::enter::is_the_number;
use crate::desk::frame::trouble_box;
use crate::trouble::{Outcome, Trouble};
use maud::html;

/// What the patient reads at the end.
pub fn done(call: &Call<'_>) -> Outcome<Reply> {
    Ok(page(call, None))
}

fn page(call: &Call<'_>, trouble: Option<&Trouble>) -> Reply {
    use crate::desk::catalogue::Lang;
    let lang = call.kept("patients-language").and_then(|tag| Lang::from_tag(&tag)).unwrap_or(call.lang);
    let key = match call.kept("consent-answer").as_deref() {
        Some("yes") => "consent-thanks-yes",
        Some("no") => "consent-thanks-no",
        _ => "consent-hand-back",
    };
    let main = html! {
        div.consent-page.end lang=(lang.tag()) {
            h1 { (lang.text(key, &[])) }
            @if key != "consent-hand-back" { p.big { (lang.text("consent-hand-back", &[])) } }
        }
        @if let Some(trouble) = trouble { (trouble_box(call, trouble)) }
        (back_form(call))
    };
    Reply::bare(call, "consent-page-title", main)
}

/// The short number, where one is set, gives the screen back.
pub fn back(call: &Call<'_>) -> Outcome<Reply> {
    if call.asks_pin() {
        let number = call.field("pin").unwrap_or_default();
        if let Err(trouble) = is_the_number(call, number, "Type it again.") {
            return Ok(page(call, Some(&trouble)).status(403));
        }
    }
    call.with_visitor(|visitor| visitor.patients_page = None)?;
    call.take_kept("patients-language");
    call.take_kept("consent-answer");
    let slot = call.param("slot");
    Ok(match call.take_kept("consent-signed") {
        Some(entry) => Reply::to(format!("/consent/{slot}/receipt/{entry}")),
        None => Reply::to(format!("/consent/{slot}")),
    })
}

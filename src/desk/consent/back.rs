//! The screen comes back to the practitioner.

use crate::cli::keeper::{PinAnswer, try_pin};
use crate::desk::call::Call;
use crate::desk::frame::trouble_box;
use crate::desk::{Reply, back_form};
use crate::trouble::{Kind, Outcome, Trouble};
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
        let place = call.place()?;
        let wrong = match try_pin(&place, call.field("pin").unwrap_or_default()) {
            PinAnswer::Right => None,
            PinAnswer::Wrong(left) => Some(format!("That is not the short number. Tries left: {left}.")),
            PinAnswer::Locked => {
                Some("The short number was wrong too often; everything is locked.".to_string())
            }
        };
        if let Some(what) = wrong {
            let trouble = Trouble::new(Kind::Locked, what, "Nothing was shown or changed.", "Type it again.");
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

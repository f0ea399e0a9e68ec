//! A consent on the screen: the practitioner sets up what is asked, turns the screen, and the patient reads the whole
//! wording and says yes or no with a signature. From the patient's page nothing else can be reached.

mod back;
mod lines;
mod patient;
mod receipt;
mod setup;

use super::Route;
use super::call::Call;
use crate::cli::forms::{Asks, named};
use crate::practice::chart::ChartFace;
use crate::practice::drafts::Kept;
use crate::practice::open::Practice;
use crate::record::kinds::consent::Consent;
use crate::trouble::{Outcome, Trouble};
use maud::{Markup, html};
use serde_json::{Map, Value, json};

/// Their addresses.
pub const ROUTES: &[Route] = &[
    Route::get("/consent/{slot}", setup::first),
    Route::post("/consent/{slot}", setup::set_up),
    Route::get("/consent/{slot}/show", patient::show).for_patient(),
    Route::post("/consent/{slot}/sign", patient::sign).for_patient(),
    Route::get("/consent/{slot}/done", back::done).for_patient(),
    Route::post("/consent/{slot}/back", back::back).for_patient(),
    Route::get("/consent/{slot}/receipt/{entry}", receipt::receipt),
    Route::get("/consent/{slot}/receipt/{entry}/page", receipt::page),
];

/// Kind of the draft in which the set-up waits for the signature; also what the command goes on with.
const KIND: &str = "consent";

/// The questions of the command.
fn form() -> Outcome<Asks> {
    named("consent").ok_or_else(|| Trouble::damaged("The form of a consent is missing."))
}

/// The way back for a screen that was turned to the patient: with the short number, where one is set.
fn back_form(call: &Call<'_>) -> Markup {
    html! {
        details.hand-back {
            summary { (call.t("consent-back-title")) }
            (call.form(&format!("/consent/{}/back", call.param("slot")), &html! {
                (call.pin_field())
                button type="submit" { (call.t("consent-back")) }
            }))
        }
    }
}

/// What was set up and waits for its signature.
fn waiting(practice: &Practice, face: &ChartFace) -> Outcome<Option<Kept>> {
    practice.draft(KIND, Some(&face.tag))
}

/// What was set up, as the consent it will be when it is signed.
fn consent_of(data: &Value) -> Outcome<Consent> {
    let mut fields: Map<String, Value> = data.as_object().cloned().unwrap_or_default();
    for (field, value) in [
        ("status", json!("signed")),
        ("form", json!("written-on-screen")),
        ("wording", json!({ "not_done_because": "none was chosen" })),
        ("practitioners_allowed", json!({ "kind": "any" })),
        ("given_by", json!({ "role": "self" })),
        ("rest_of_earlier", json!("not-applicable")),
    ] {
        fields.entry(field).or_insert(value);
    }
    serde_json::from_value(Value::Object(fields))
        .map_err(|e| Trouble::input(format!("What was set up is no whole consent: {e}."), "Set it up again."))
}

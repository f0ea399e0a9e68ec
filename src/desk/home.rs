//! What matters today.

use super::call::Call;
use super::{Reply, Route};
use crate::trouble::Outcome;
use maud::html;
use serde_json::Value;

/// Their addresses.
pub const ROUTES: &[Route] = &[Route::get("/", today)];

fn today(call: &Call<'_>) -> Outcome<Reply> {
    let list = call.run(&["today"])?.json;
    let rows = |name: &str| list[name].as_array().cloned().unwrap_or_default();
    let word = |value: &Value| value.as_str().unwrap_or_default().to_string();
    let main = html! {
        h1 { (call.t("today-title")) }
        @if rows("items").is_empty() { p { (call.t("today-nothing")) } }
        ul.ledger {
            @for item in rows("items") {
                li {
                    span.number { (word(&item["chart"])) }
                    " " (word(&item["name"])) ": " span lang="en" { (word(&item["words"])) }
                }
            }
        }
    };
    Ok(Reply::page(call, "today-title", main))
}

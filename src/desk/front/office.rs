//! Looking after the records: safe copies, how long charts are kept, and who opened them.

use crate::desk::{Call, Reply, Route};
use crate::practice::staff::is_custodian;
use crate::trouble::Outcome;
use maud::html;

/// Their addresses.
pub const ROUTES: &[Route] = &[Route::get("/office", show)];

fn show(call: &Call<'_>) -> Outcome<Reply> {
    let keeper = is_custodian(&call.practice()?);
    let main = html! {
        h1 { (call.t("desk-office-title")) }
        ul.doors.tall {
            li {
                a.button href="/office/copies" { (call.t("desk-copies-title")) }
                p { (call.t("desk-copies-about")) }
            }
            li {
                a.button href="/office/keeping" { (call.t("desk-keeping-title")) }
                p { (call.t("desk-keeping-about")) }
            }
            li {
                a.button href="/office/emergencies" { (call.t("desk-emergencies-title")) }
                p { (call.t("desk-emergencies-about")) }
            }
            @if keeper {
                li {
                    a.button href="/office/openings" { (call.t("desk-openings-title")) }
                    p { (call.t("desk-openings-about")) }
                }
            }
        }
    };
    Ok(Reply::page(call, "desk-office-title", main))
}

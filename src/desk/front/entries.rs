//! Entries of one form each, in a chart: who the patient is and who decides, contacts, notices, requests, holds.

use super::about;
use super::guided::{Guided, when, when_line};
use crate::desk::{Call, Reply, Route};
use crate::trouble::{Kind, Outcome, Trouble};

/// Their addresses.
pub const ROUTES: &[Route] =
    &[Route::get("/chart/{slot}/do/{what}", show), Route::post("/chart/{slot}/do/{what}", done)];

/// What can be recorded here.
struct Entry {
    /// Its word in the address.
    what: &'static str,
    /// Key of its title.
    title: &'static str,
    /// The command, in front of the chart's number.
    command: &'static [&'static str],
    /// Name of its form.
    form: &'static str,
}

const fn entry(
    what: &'static str,
    title: &'static str,
    command: &'static [&'static str],
    form: &'static str,
) -> Entry {
    Entry { what, title, command, form }
}

const ENTRIES: &[Entry] = &[
    entry("identity", "desk-do-identity", &["patient", "identity"], "identity"),
    entry("guardian", "desk-do-guardian", &["guardian"], "guardian"),
    entry("allergies", "desk-do-allergies", &["patient", "allergies"], "allergies"),
    entry("alert", "desk-do-alert", &["patient", "alert"], "alert"),
    entry("state", "desk-do-state", &["patient", "state"], "chart-state"),
    entry("contact", "desk-do-contact", &["contact"], "contact"),
    entry("document", "desk-do-document", &["document"], "document"),
    entry("handout", "desk-do-handout", &["handout"], "handout"),
    entry("request", "desk-do-request", &["request", "take"], "request"),
    entry("hold", "desk-do-hold", &["hold", "place"], "hold"),
    entry("notice", "desk-do-notice", &["notice", "received"], "notice"),
];

fn guided(call: &Call<'_>) -> Outcome<(Guided, &'static Entry, String)> {
    let entry = ENTRIES.iter().find(|entry| entry.what == call.param("what")).ok_or_else(|| {
        Trouble::new(
            Kind::NotFound,
            "There is no such page.",
            "Nothing was changed.",
            "Go back to the chart.",
        )
    })?;
    let (_, face) = call.face()?;
    let slot = call.param("slot");
    let action = format!("/chart/{slot}/do/{}", entry.what);
    let guided = Guided::new(entry.form, entry.title, action, format!("/chart/{slot}"))?;
    let guided = Guided { above: about(call, &face), more: when_line(call), ..guided };
    Ok((guided, entry, face.chart_no))
}

fn show(call: &Call<'_>) -> Outcome<Reply> {
    let (guided, ..) = guided(call)?;
    Ok(guided.page(call, None))
}

fn done(call: &Call<'_>) -> Outcome<Reply> {
    let (guided, entry, chart) = guided(call)?;
    let mut begin = entry.command.to_vec();
    begin.push(&chart);
    guided.answer(call, &begin, &when(call))
}

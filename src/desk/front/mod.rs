//! The desk: charts, requests, releases, openings, the end of a day, safe copies, and how long things are kept. Each
//! page asks what its command asks and hands the answers on; what a role does not open is not there.

pub mod charts;
pub mod copies;
pub mod day;
pub mod emergencies;
pub mod entries;
pub mod guided;
pub mod keeping;
pub mod office;
pub mod openings;
pub mod papers;
pub mod record;
pub mod releases;
pub mod requests;
pub mod why;

use super::{Call, Route};
use crate::practice::chart::ChartFace;
use crate::practice::open::Practice;
use crate::record::kinds::register::KeyRole;
use crate::record::moment::plain_date;
use maud::{Markup, html};
use serde_json::Value;

/// Every address of the desk.
pub fn routes() -> impl Iterator<Item = &'static Route> {
    [
        charts::ROUTES,
        copies::ROUTES,
        day::ROUTES,
        emergencies::ROUTES,
        entries::ROUTES,
        keeping::ROUTES,
        office::ROUTES,
        openings::ROUTES,
        papers::ROUTES,
        record::ROUTES,
        releases::ROUTES,
        requests::ROUTES,
    ]
    .into_iter()
    .flatten()
}

/// A member of what a command printed, as text.
pub(in crate::desk) fn text<'v>(value: &'v Value, name: &str) -> &'v str {
    value[name].as_str().unwrap_or_default()
}

/// The birth date of a patient, in words.
pub(in crate::desk) fn born(face: &ChartFace) -> String {
    let birth = &face.identity.birth_date;
    let year = || birth.estimated_year.map(|year| format!("± {year}")).unwrap_or_default();
    birth.date.map_or_else(year, |day| plain_date(day.0))
}

/// Who a page is about, at its head: two identifiers and the number, so that nobody works in the wrong chart.
pub(in crate::desk) fn about(call: &Call<'_>, face: &ChartFace) -> Markup {
    html! {
        p.about {
            strong { bdi { (face.identity.legal_name) } }
            " " span { (call.t_with("desk-born", &[("day", &born(face))])) }
            " " span.number { (face.chart_no) }
        }
    }
}

/// The way back to a chart.
pub(in crate::desk) fn back_to_chart(call: &Call<'_>) -> Markup {
    html! { p.back { a href=(format!("/chart/{}", call.param("slot"))) { (call.t("desk-back-to-chart")) } } }
}

/// True where the roles of whoever is here open notes, so that a package can be made.
pub(in crate::desk) fn opens_notes(practice: &Practice) -> bool {
    practice.session.holds(KeyRole::Clinical)
}

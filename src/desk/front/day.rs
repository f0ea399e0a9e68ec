//! The end of a day: what is left open, the closing, and its slip on paper.

use super::guided::Guided;
use crate::desk::{Call, Reply, Route};
use crate::practice::day::{Slip, slip_words};
use crate::practice::lists::{Listed, gather};
use crate::record::moment::plain_date;
use crate::seal::sheet::qr_svg;
use crate::trouble::Outcome;
use maud::{Markup, PreEscaped, html};

/// Their addresses.
pub const ROUTES: &[Route] =
    &[Route::get("/day", show), Route::post("/day", close), Route::get("/day/slip", slip)];

fn guided(call: &Call<'_>) -> Outcome<Guided> {
    let practice = call.practice()?;
    let list = gather(&practice, None, practice.now().local_date())?;
    let left = list.left_at_closing();
    let above = html! {
        p { (call.t_with("desk-day-today", &[("day", &plain_date(list.day))])) }
        h2 { (call.t("desk-left-open")) }
        @if left.is_empty() { p.clear { (call.t("desk-nothing-left")) } }
        @else { (left_open(call, &left)) p { (call.t("desk-left-why")) } }
        @if list.drafts_of_others > 0 {
            p { (call.t_with("desk-drafts-of-others", &[("count", &list.drafts_of_others.to_string())])) }
        }
        h2 { (call.t("desk-close-day")) }
        p { (call.t("desk-close-why")) }
    };
    let guided = Guided::new("day-close", "desk-day-title", "/day".to_string(), "/day/slip".to_string())?;
    Ok(Guided { above, ..guided })
}

fn left_open(call: &Call<'_>, left: &[&Listed]) -> Markup {
    html! {
        ul.stops {
            @for listed in left {
                li {
                    strong lang="en" { (listed.item.kind.heading()) } " "
                    @if let Some(chart) = &listed.item.chart { span.number { (chart) } " " }
                    @if let Some(name) = &listed.name { bdi { (name) } " " }
                    span lang="en" { bdi { (listed.item.words) } }
                    @if let Some(due) = listed.item.due { " " (call.t("desk-due")) " " (plain_date(due.0)) }
                }
            }
        }
    }
}

fn show(call: &Call<'_>) -> Outcome<Reply> {
    Ok(guided(call)?.page(call, None))
}

fn close(call: &Call<'_>) -> Outcome<Reply> {
    guided(call)?.answer(call, &["slip"], &[])
}

/// The number, its code and its words, as they are copied into the bound day book.
fn pin(call: &Call<'_>, slip: &Slip) -> Outcome<Markup> {
    Ok(html! {
        section.slip aria-labelledby="slip-head" {
            h2 #slip-head { (call.t("desk-slip-title")) }
            div.qr { (PreEscaped(qr_svg(slip.qr.as_bytes())?)) }
            dl.facts {
                dt { (call.t("desk-slip-number")) } dd.big #slip-number { (slip.number) }
                dt { (call.t("desk-slip-words")) }
                dd { ol.words #slip-words lang="en" { @for word in &slip.words { li { (word) } } } }
                dt { (call.t("desk-slip-code")) } dd.code #slip-code { (slip.code) }
                dt { (call.t("desk-slip-book")) } dd.code { (slip.ledger) }
                dt { (call.t("desk-slip-at")) } dd { (slip.at) }
            }
        }
    })
}

fn slip(call: &Call<'_>) -> Outcome<Reply> {
    let practice = call.practice()?;
    let slip = slip_words(&practice)?;
    let main = html! {
        h1 { (call.t("desk-slip-title")) }
        p.no-print { (call.t("desk-slip-how")) }
        (pin(call, &slip)?)
        p { (call.t_with("desk-slip-pins", &[("number", &slip.number.to_string())])) }
        p.actions.no-print { button type="button" data-print="" hidden { (call.t("desk-print")) } a href="/audit#slips" { (call.t("desk-slip-check")) } }
    };
    Ok(Reply::page(call, "desk-slip-title", main))
}

//! Charts: found by number, name or birth date, opened anew, and each with what can be done in it.

use super::guided::{Guided, line};
use super::{about, born, opens_notes};
use crate::cli::clock::Now;
use crate::desk::{Call, Reply, Route};
use crate::practice::chart::{ChartFace, faces};
use crate::trouble::Outcome;
use maud::{Markup, html};

/// Their addresses.
pub const ROUTES: &[Route] = &[
    Route::get("/charts", list),
    Route::post("/charts", find),
    Route::get("/charts/new", new),
    Route::post("/charts/new", open),
    Route::get("/chart/{slot}", one),
];

/// The most charts shown at once: more is no answer to a question at a desk.
const MOST: usize = 40;

/// True where what was typed is the number, a part of a name in any spelling kept, or the birth date.
fn fits(face: &ChartFace, typed: &str, now: &Now) -> bool {
    let wanted = typed.to_lowercase();
    let identity = &face.identity;
    let number = face.chart_no.to_lowercase();
    let same_number = number == wanted || number.trim_start_matches(|c: char| !c.is_ascii_digit()) == wanted;
    let day = now.read_date(typed).ok();
    let all_words = |name: &str| {
        let name = name.to_lowercase();
        wanted.split_whitespace().all(|word| name.contains(word))
    };
    same_number
        || identity.names().any(all_words)
        || day.is_some() && identity.birth_date.date.map(|d| d.0) == day
}

fn list(call: &Call<'_>) -> Outcome<Reply> {
    let typed = call.kept("desk-find").unwrap_or_default();
    let practice = call.practice()?;
    let known = faces(&practice)?;
    let mut found: Vec<&ChartFace> = known.iter().filter(|face| fits(face, &typed, &call.now())).collect();
    let more = found.len().saturating_sub(MOST);
    found.truncate(MOST);
    let search = html! {
        p.field {
            label for="find" { (call.t("desk-find")) }
            span.hint #find-hint { (call.t("desk-find-hint")) }
            input #find name="find" value=(typed) autocomplete="off" aria-describedby="find-hint";
        }
        button.main type="submit" { (call.t("desk-find-go")) }
    };
    let main = html! {
        h1 { (call.t("desk-charts-title")) }
        (call.form("/charts", &search))
        p.actions { a.button href="/charts/new" { (call.t("desk-new-chart")) } }
        h2 { (call.t_with("desk-charts-found", &[("count", &(found.len() + more).to_string())])) }
        ul.ledger.charts {
            @for face in &found {
                li {
                    a href=(format!("/chart/{}", call.slot(&face.chart_no)?)) {
                        span.number { (face.chart_no) } " " strong { bdi { (face.identity.legal_name) } }
                    }
                    " " span { (call.t_with("desk-born", &[("day", &born(face))])) }
                    @if let Some(at) = &face.continue_at {
                        " " span.mark { (call.t_with("desk-goes-on", &[("chart", at)])) }
                    }
                }
            }
        }
        @if more > 0 { p { (call.t_with("desk-charts-more", &[("count", &more.to_string())])) } }
    };
    Ok(Reply::page(call, "desk-charts-title", main))
}

/// What was typed is kept in memory and never stands in an address.
fn find(call: &Call<'_>) -> Outcome<Reply> {
    call.keep("desk-find", call.field("find").unwrap_or_default().to_string());
    Ok(Reply::to("/charts"))
}

fn new_chart(call: &Call<'_>) -> Outcome<Guided> {
    let more = html! { (line(call, "other-than", "desk-other-than", Some("desk-other-than-hint"))) };
    let guided = Guided::new("patient", "desk-new-chart", "/charts/new".to_string(), "/charts".to_string())?;
    Ok(Guided { above: html! { p { (call.t("desk-new-chart-why")) } }, more, ..guided })
}

fn new(call: &Call<'_>) -> Outcome<Reply> {
    Ok(new_chart(call)?.page(call, None))
}

fn open(call: &Call<'_>) -> Outcome<Reply> {
    let guided = new_chart(call)?;
    let others = call.field("other-than").map(|text| format!("--other-than={text}"));
    let others: Vec<String> = others.into_iter().collect();
    let number = call.field("chart-no").unwrap_or_default().to_string();
    let back = format!("/chart/{}", call.slot(&number)?);
    let guided = if guided.is_whole(call) { Guided { back, ..guided } } else { guided };
    guided.answer(call, &["patient", "open"], &others)
}

/// A heading and what can be done under it: addresses within the chart, and keys of their words.
fn part(call: &Call<'_>, heading: &str, links: &[(&str, &str)]) -> Markup {
    let slot = call.param("slot");
    html! {
        section.part {
            h2 { (call.t(heading)) }
            ul.doors {
                @for (address, key) in links {
                    li { a.button href=(format!("/chart/{slot}/{address}")) { (call.t(key)) } }
                }
            }
        }
    }
}

fn one(call: &Call<'_>) -> Outcome<Reply> {
    let (practice, face) = call.face()?;
    let mut out = vec![("do/request", "desk-do-request"), ("requests", "desk-requests-of-chart")];
    if opens_notes(&practice) {
        out.push(("release", "desk-release-title"));
    }
    let main = html! {
        h1 { (call.t("desk-chart-title")) }
        (about(call, &face))
        @if let Some(at) = &face.continue_at {
            p.notice { (call.t_with("desk-goes-on", &[("chart", at)])) }
        }
        @if opens_notes(&practice) {
            p.actions { a.button.main href=(format!("/room/{}", call.param("slot"))) { (call.t("room-title")) } }
        }
        (part(call, "desk-part-read", &[("record", "desk-record-title")]))
        (part(call, "desk-part-who", &[
            ("do/identity", "desk-do-identity"),
            ("do/guardian", "desk-do-guardian"),
            ("do/allergies", "desk-do-allergies"),
            ("do/alert", "desk-do-alert"),
            ("do/state", "desk-do-state"),
        ]))
        (part(call, "desk-part-contact", &[
            ("do/contact", "desk-do-contact"),
            ("attach", "desk-attach"),
            ("do/document", "desk-do-document"),
            ("do/handout", "desk-do-handout"),
        ]))
        (part(call, "desk-part-out", &out))
        (part(call, "desk-part-kept", &[
            ("openings", "desk-openings-of-chart"),
            ("accounting", "desk-accounting-title"),
            ("keep", "desk-keep-until-title"),
        ]))
        (part(call, "desk-part-held", &[("do/hold", "desk-do-hold"), ("do/notice", "desk-do-notice")]))
    };
    Ok(Reply::page(call, "desk-chart-title", main))
}

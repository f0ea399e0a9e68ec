//! Requests for records: who asks, by when, what stands against answering, and every step until it is over.

use super::guided::{Guided, line, when_line};
use super::text;
use crate::desk::asks::plain;
use crate::desk::{Call, Reply, Route, pipe};
use crate::practice::lists::{days_off, due_words};
use crate::practice::open::Practice;
use crate::practice::request::{Dealing, dealing};
use crate::practice::request_letters::newest;
use crate::practice::request_lists::{OfChart, all};
use crate::record::kinds::Day;
use crate::record::moment::plain_date;
use crate::record::request::clocks;
use crate::record::request::gate::{Stop, Stops};
use crate::record::request::standing::State;
use crate::trouble::{Kind, Outcome, Trouble};
use maud::{Markup, html};

/// Their addresses.
pub const ROUTES: &[Route] = &[
    Route::get("/requests", list),
    Route::get("/chart/{slot}/requests", of_chart),
    Route::get("/request/{number}", one),
    Route::get("/request/{number}/step/{what}", ask_step),
    Route::post("/request/{number}/step/{what}", take_step),
    Route::get("/request/{number}/letter", letter),
];

/// The steps that are forms of their own: the word of the command, its form, the key of its title.
const STEPS: &[(&str, &str, &str)] = &[
    ("check", "request-check", "desk-step-check"),
    ("extend", "request-extend", "desk-step-extend"),
    ("fee", "request-fee", "desk-step-fee"),
    ("return", "request-return", "desk-step-return"),
    ("answer", "request-answer", "desk-step-answer"),
    ("decline", "request-decline", "desk-step-decline"),
    ("close", "request-close", "desk-step-close"),
];

/// The number in the address.
pub(super) fn number(call: &Call<'_>) -> Outcome<u64> {
    call.param("number").parse().map_err(|_| {
        Trouble::new(
            Kind::NotFound,
            "There is no such request.",
            "Nothing was changed.",
            "Choose it from the list.",
        )
    })
}

fn list(call: &Call<'_>) -> Outcome<Reply> {
    let practice = call.practice()?;
    let mut found = all(&practice)?;
    let over = call.field("all").is_some();
    found.retain(|one| over || matches!(one.standing.state(), State::Open | State::Returned));
    found.sort_by_key(|one| (one.standing.due().is_none(), one.standing.due(), one.standing.seq));
    let main = html! {
        h1 { (call.t("desk-requests-title")) }
        p.small { (call.t("desk-requests-how")) }
        (rows(call, &practice, &found)?)
        p.actions {
            @if over { a href="/requests" { (call.t("desk-requests-open")) } }
            @else { a href="/requests?all=yes" { (call.t("desk-requests-all")) } }
        }
    };
    Ok(Reply::page(call, "desk-requests-title", main))
}

fn of_chart(call: &Call<'_>) -> Outcome<Reply> {
    let (practice, face) = call.face()?;
    let mut found = all(&practice)?;
    found.retain(|one| one.chart_no == face.chart_no);
    let main = html! {
        h1 { (call.t("desk-requests-of-chart")) }
        (super::about(call, &face))
        (rows(call, &practice, &found)?)
        (super::back_to_chart(call))
    };
    Ok(Reply::page(call, "desk-requests-of-chart", main))
}

fn rows(call: &Call<'_>, practice: &Practice, found: &[OfChart]) -> Outcome<Markup> {
    let (today, off) = (Day(practice.now().local_date()), days_off(practice));
    Ok(html! {
        @if found.is_empty() { p { (call.t("desk-requests-none")) } }
        ul.ledger.requests {
            @for one in found {
                @let standing = &one.standing;
                @let late = standing.state() == State::Open && standing.due().is_some_and(|due| due < today);
                li {
                    p.head {
                        a href=(format!("/request/{}", standing.seq)) {
                            (call.t_with("desk-request-number", &[("number", &standing.seq.to_string())]))
                        }
                        " " span.state lang="en" { (standing.state().word()) }
                        @if late { " " strong.late { (call.t("desk-overdue")) } }
                    }
                    p {
                        bdi { (standing.request.from) } " (" span lang="en" { (standing.asker().plain()) } "), "
                        span.number { (one.chart_no) } " " bdi { (one.name) }
                    }
                    p { (call.t("desk-due")) " " (due(call, standing.due(), &off)) }
                }
            }
        }
    })
}

fn due(call: &Call<'_>, due: Option<Day>, off: &crate::record::calendar::Holidays) -> Markup {
    html! {
        @match due {
            Some(due) => span lang="en" { (due_words(due.0, off)) },
            None => (call.t("desk-no-day")),
        }
    }
}

/// What stands against answering, with what to do; what refuses is told apart from what is asked first by its word.
pub(super) fn stops(call: &Call<'_>, stops: &[Stop]) -> Markup {
    html! {
        @if stops.is_empty() { p.clear { (call.t("desk-nothing-stops")) } }
        ul.stops {
            @for stop in stops {
                li {
                    strong { (call.t(if stop.stops == Stops::Refuse { "desk-refuses" } else { "desk-asks-first" })) }
                    " " span lang="en" { (stop.words) } br;
                    span.next lang="en" { (stop.next) }
                }
            }
        }
    }
}

fn one(call: &Call<'_>) -> Outcome<Reply> {
    let practice = call.practice()?;
    let dealing = dealing(&practice, number(call)?)?;
    let found = dealing.stops(&practice, practice.now())?;
    let standing = &dealing.standing;
    let request = &standing.request;
    let off = days_off(&practice);
    let slot = call.slot(&dealing.face.chart_no)?;
    let main = html! {
        h1 { (call.t_with("desk-request-number", &[("number", &standing.seq.to_string())])) }
        (super::about(call, &dealing.face))
        dl.facts {
            dt { (call.t("desk-stands")) } dd lang="en" { (standing.state().word()) }
            dt { (call.t("desk-who-asks")) } dd { bdi { (request.from) } " (" span lang="en" { (standing.asker().plain()) } ")" }
            dt { (call.t("desk-received")) } dd { (plain_date(request.received_on.0)) }
            dt { (call.t("desk-asked-for")) } dd lang="en" { bdi { (request.asked().words()) } }
            dt { (call.t("desk-in-words")) } dd { bdi { (request.text) } }
            dt { (call.t("desk-due")) }
            dd {
                (due(call, standing.due(), &off))
                @for clock in &request.clocks { br; span.small lang="en" { (clocks::words(clock)) } }
            }
            dt { (call.t("desk-rests-on")) } dd lang="en" { (standing.asker().lawful_basis()) }
        }
        @if matches!(standing.state(), State::Open | State::Returned) {
            h2 { (call.t("desk-against")) }
            (stops(call, &found))
            h2 { (call.t("desk-steps-next")) }
            @if !super::opens_notes(&practice) { p { (call.t("desk-release-clinical")) } }
            ul.doors {
                @if super::opens_notes(&practice) {
                    li { a.button.main href=(format!("/request/{}/release", standing.seq)) { (call.t("desk-answer-package")) } }
                }
                @for (word, _, title) in STEPS {
                    li { a.button href=(format!("/request/{}/step/{word}", standing.seq)) { (call.t(title)) } }
                }
            }
        }
        h2 { (call.t("desk-steps-taken")) }
        (taken(call, &dealing))
        p.actions {
            @if newest(&practice, standing.seq, None).is_ok() {
                a.button href=(format!("/request/{}/letter", standing.seq)) target="_blank" rel="noopener" { (call.t("desk-letter-newest")) }
            }
            a href=(format!("/chart/{slot}")) { (call.t("desk-back-to-chart")) }
        }
    };
    Ok(Reply::page(call, "desk-request-title", main))
}

/// What was done, in the order of the entries.
fn taken(call: &Call<'_>, dealing: &Dealing) -> Markup {
    let standing = &dealing.standing;
    let mut lines: Vec<(u64, Markup)> = standing
        .steps
        .iter()
        .map(|(entry, step)| {
            let (word, day) = (plain(step.step.word()), plain_date(step.on.0));
            (*entry, html! { span lang="en" { (word) } ", " (day) ": " bdi { (step.words) } })
        })
        .chain(standing.releases.iter().map(|entry| (*entry, html! { (call.t("desk-released")) })))
        .collect();
    lines.sort_by_key(|(entry, _)| *entry);
    html! {
        @if lines.is_empty() { p { (call.t("desk-steps-none")) } }
        ul.ledger { @for (entry, line) in &lines { li { span.number { (entry) } " " (line) } } }
    }
}

fn guided(call: &Call<'_>) -> Outcome<(Guided, &'static str, String)> {
    let (word, name, title) =
        STEPS.iter().find(|(word, ..)| *word == call.param("what")).ok_or_else(|| {
            Trouble::new(
                Kind::NotFound,
                "There is no such step.",
                "Nothing was changed.",
                "Go back to the request.",
            )
        })?;
    let practice = call.practice()?;
    let dealing = dealing(&practice, number(call)?)?;
    let found = dealing.stops(&practice, practice.now())?;
    let seq = dealing.standing.seq;
    let above = html! {
        (super::about(call, &dealing.face))
        details { summary { (call.t("desk-against")) } (stops(call, &found)) }
    };
    let more = html! {
        @if *word == "answer" { (line(call, "despite", "desk-despite", Some("desk-despite-hint"))) }
        (when_line(call))
    };
    let guided = Guided::new(name, title, format!("/request/{seq}/step/{word}"), format!("/request/{seq}"))?;
    Ok((Guided { above, more, ..guided }, word, seq.to_string()))
}

fn ask_step(call: &Call<'_>) -> Outcome<Reply> {
    let (guided, ..) = guided(call)?;
    Ok(guided.page(call, None))
}

fn take_step(call: &Call<'_>) -> Outcome<Reply> {
    let (guided, word, number) = guided(call)?;
    let flags: &[&str] = if word == "answer" { &["despite"] } else { &["happened"] };
    let more: Vec<String> =
        flags.iter().filter_map(|flag| Some(format!("--{flag}={}", call.field(flag)?))).collect();
    guided.answer(call, &["request", word, &number], &more)
}

/// The newest letter of a request, as its page.
fn letter(call: &Call<'_>) -> Outcome<Reply> {
    let number = number(call)?.to_string();
    let (ran, page) = pipe::written(call, &["request", "show", &number, "--letter=newest"], "html")?;
    if page.is_empty() {
        return Err(Trouble::new(
            Kind::NotFound,
            text(&ran.json, "what").to_string(),
            "Nothing was changed.",
            "Take a step that has a letter.",
        ));
    }
    Ok(Reply::printed(page))
}

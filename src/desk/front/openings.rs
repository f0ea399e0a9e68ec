//! Who opened which chart, when and why: the monthly look of the keeper of the records, with an answer to everything
//! that stands out, and one chart's openings.

use super::guided::done;
use super::why::Shows;
use super::{about, back_to_chart};
use crate::desk::{Call, Reply, Route, frame};
use crate::practice::openings::{Looked, Which, look, month, only_keeper, reviewed};
use crate::record::openings::{Month, Opening, Severity};
use crate::trouble::{Outcome, Trouble};
use maud::{Markup, html};

/// Their addresses.
pub const ROUTES: &[Route] = &[
    Route::get("/office/openings", review),
    Route::post("/office/openings", sign_off),
    Route::get("/chart/{slot}/openings", ask_chart),
    Route::post("/chart/{slot}/openings", of_chart),
];

/// The month that is looked at: as chosen, else the one that ended last.
fn which(call: &Call<'_>) -> Outcome<Month> {
    match call.field("month") {
        Some(text) => Month::parse(text).ok_or_else(|| {
            Trouble::input("That is not a month like 2025-02.", "Correct it and do it again.")
        }),
        None => {
            let first = call.now().today().first_of_month();
            let last = first.yesterday();
            last.map(Month::of).map_err(|_| Trouble::input("No month came before.", "Name a month."))
        }
    }
}

fn review(call: &Call<'_>) -> Outcome<Reply> {
    page(call, None)
}

fn page(call: &Call<'_>, trouble: Option<&Trouble>) -> Outcome<Reply> {
    let practice = call.practice()?;
    only_keeper(&practice)?;
    let month_asked = which(call)?;
    let looked = month(&practice, month_asked)?;
    let signed = reviewed(&practice)?.get(&month_asked).copied();
    let over = month_asked.is_over(practice.now().local_date());
    let main = html! {
        h1 { (call.t("desk-openings-title")) }
        p { (call.t("desk-openings-why")) }
        form method="get" action="/office/openings" {
            p.field {
                label for="month" { (call.t("desk-month")) }
                input #month name="month" value=(month_asked.to_string()) inputmode="numeric" autocomplete="off";
            }
            button type="submit" { (call.t("desk-show")) }
        }
        @if let Some(trouble) = trouble { (frame::trouble_box(call, trouble)) }
        @if let Some(entry) = signed {
            p.notice { (call.t_with("desk-month-signed", &[("number", &entry.to_string())])) }
        }
        h2 { (call.t("desk-stands-out")) }
        @if looked.findings.is_empty() { p { (call.t("desk-nothing-stands-out")) } }
        @if signed.is_none() && over { (answers(call, &looked, month_asked)) } @else { (findings(call, &looked)) }
        h2 { (call.t_with("desk-openings-count", &[("count", &looked.openings.len().to_string())])) }
        (table(call, &looked.openings, true))
        @if looked.charts_not_opened > 0 {
            p { (call.t_with("desk-charts-not-opened", &[("count", &looked.charts_not_opened.to_string())])) }
        }
    };
    Ok(Reply::page(call, "desk-openings-title", main).conflicts(trouble))
}

fn findings(call: &Call<'_>, looked: &Looked) -> Markup {
    html! {
        ul.stops {
            @for finding in &looked.findings {
                li {
                    @if finding.severity == Severity::First { strong { (call.t("desk-look-first")) } " " }
                    span lang="en" { bdi { (finding.words) } } br;
                    span.next lang="en" { (finding.remedy) }
                }
            }
        }
    }
}

/// An answer to each thing that stands out, and the sign-off of the month.
fn answers(call: &Call<'_>, looked: &Looked, month: Month) -> Markup {
    let inside = html! {
        input type="hidden" name="month" value=(month.to_string());
        @for (at, finding) in looked.findings.iter().enumerate() {
            fieldset.judged {
                legend {
                    @if finding.severity == Severity::First { strong { (call.t("desk-look-first")) } " " }
                    span lang="en" { bdi { (finding.words) } }
                }
                p.next lang="en" { (finding.remedy) }
                input type="hidden" name=(format!("key-{at}")) value=(finding.key);
                (judged(call, &at.to_string()))
            }
        }
        div.actions { button.main type="submit" { (call.t("desk-sign-month")) } }
    };
    call.form("/office/openings", &inside)
}

/// Asks how something that was looked at is judged, and why. `at` tells it from others on the page.
pub(super) fn judged(call: &Call<'_>, at: &str) -> Markup {
    let (seen_as, words) = (format!("seen-{at}"), format!("words-{at}"));
    let seen = call.field(&seen_as).unwrap_or_default();
    html! {
        div.choices {
            @for (word, key) in [("fine", "desk-seen-fine"), ("follow-up", "desk-seen-follow-up")] {
                span.choice {
                    input type="radio" id=(format!("{seen_as}-{word}")) name=(seen_as) value=(word) checked[seen == word];
                    label for=(format!("{seen_as}-{word}")) { (call.t(key)) }
                }
            }
        }
        p.field {
            label for=(words) { (call.t("desk-seen-words")) }
            input id=(words) name=(words) autocomplete="off" value=(call.field(&words).unwrap_or_default());
        }
    }
}

/// What [`judged`] was answered: the command's flag, and the words. None while either is missing.
pub(super) fn judgement<'c>(call: &'c Call<'_>, at: &str) -> Option<(&'c str, &'c str)> {
    let seen = call.field(&format!("seen-{at}")).filter(|word| ["fine", "follow-up"].contains(word))?;
    Some((seen, call.field(&format!("words-{at}"))?))
}

fn table(call: &Call<'_>, openings: &[Opening], with_chart: bool) -> Markup {
    html! {
        div.wide tabindex="0" role="region" aria-label=(call.t("desk-openings-title")) {
            table {
                thead {
                    tr {
                        th scope="col" { (call.t("desk-col-number")) }
                        th scope="col" { (call.t("desk-col-when")) }
                        th scope="col" { (call.t("desk-col-who")) }
                        @if with_chart { th scope="col" { (call.t("desk-col-chart")) } }
                        th scope="col" { (call.t("desk-col-why")) }
                    }
                }
                tbody {
                    @for opening in openings {
                        tr {
                            td.number { (opening.entry) }
                            td { (opening.at.plain()) }
                            td { (opening.by) }
                            @if with_chart { td.number { (opening.chart) } }
                            td { span lang="en" { bdi { (opening.reason()) } } }
                        }
                    }
                }
            }
        }
    }
}

fn sign_off(call: &Call<'_>) -> Outcome<Reply> {
    let mut words = vec!["openings".to_string(), "review".to_string(), format!("--month={}", which(call)?)];
    for at in 0.. {
        let Some(key) = call.field(&format!("key-{at}")) else { break };
        if let Some((seen, said)) = judgement(call, &at.to_string()) {
            words.push(format!("--{seen}={key}={said}"));
        }
    }
    words.push("--sign-off".to_string());
    match done(call.run(&words)) {
        Ok(_) => {
            call.notice(call.t("desk-month-is-signed"));
            Ok(Reply::to(format!("/office/openings?month={}", which(call)?)))
        }
        Err(trouble) => page(call, Some(&trouble)),
    }
}

/// Who opened one chart.
const OF_CHART: Shows = Shows {
    title: "desk-openings-of-chart",
    address: "openings",
    button: "desk-show",
    command: &["openings"],
};

fn ask_chart(call: &Call<'_>) -> Outcome<Reply> {
    OF_CHART.ask(call, None)
}

/// The command leaves the entry that it was looked at; the list is read as the command reads it.
fn of_chart(call: &Call<'_>) -> Outcome<Reply> {
    if let Err(asks) = OF_CHART.shown(call, |words| call.run(words))? {
        return Ok(asks);
    }
    let (practice, face) = call.face()?;
    let looked =
        look(&practice, &Which { chart: Some(face.tag.clone()), from: None, until: None, by: None })?;
    let main = html! {
        h1 { (call.t("desk-openings-of-chart")) }
        (about(call, &face))
        @if looked.openings.is_empty() { p { (call.t("desk-openings-none")) } }
        @else { (table(call, &looked.openings, false)) }
        (back_to_chart(call))
    };
    Ok(Reply::page(call, "desk-openings-of-chart", main))
}

//! How long charts are kept: which are due, which are blocked and why, holds, and the accounting of disclosures.

use super::guided::{Guided, when, when_line};
use super::why::Shows;
use super::{about, back_to_chart, text};
use crate::cli::commands::keep::against;
use crate::desk::{Call, Reply, Route};
use crate::practice::keeping::{Listed, holds, of_all};
use crate::record::calendar::with_weekday;
use crate::record::keep_until::KeepUntil;
use crate::record::moment::plain_date;
use crate::trouble::{Outcome, Trouble};
use maud::{Markup, html};
use serde_json::Value;

/// Their addresses.
pub const ROUTES: &[Route] = &[
    Route::get("/office/keeping", lists),
    Route::get("/office/holds/lift", ask_lift),
    Route::post("/office/holds/lift", lift),
    Route::get("/chart/{slot}/keep", ask_keep),
    Route::post("/chart/{slot}/keep", keep),
    Route::get("/chart/{slot}/accounting", ask_accounting),
    Route::post("/chart/{slot}/accounting", accounting),
];

fn lists(call: &Call<'_>) -> Outcome<Reply> {
    let practice = call.practice()?;
    let last = practice.now().local_date().last_of_month();
    let mut list = of_all(&practice, &mut |_| ())?;
    list.charts.sort_by_key(|one| (one.kept.keep_through, one.face.chart_no.clone()));
    let due: Vec<&Listed> =
        list.charts.iter().filter(|one| one.kept.may_go_on.is_some_and(|day| day.0 <= last)).collect();
    let is_blocked = |kept: &KeepUntil| {
        !kept.against.is_empty() || kept.keep_through.is_none() || kept.has_passed() && !kept.may_go()
    };
    let blocked: Vec<&Listed> = list.charts.iter().filter(|one| is_blocked(&one.kept)).collect();
    let main = html! {
        h1 { (call.t("desk-keeping-title")) }
        p { (call.t("desk-keeping-why")) }
        h2 { (call.t("desk-keep-due")) }
        (kept_rows(call, &due)?)
        h2 { (call.t("desk-keep-blocked")) }
        (kept_rows(call, &blocked)?)
        @if list.not_opened > 0 {
            p { (call.t_with("desk-charts-not-opened", &[("count", &list.not_opened.to_string())])) }
        }
        h2 { (call.t("desk-holds")) }
        @let all = holds(&practice)?;
        @if all.is_empty() { p { (call.t("desk-holds-none")) } }
        ul.ledger {
            @for hold in &all {
                li {
                    span.number { (hold.entry) } " "
                    @if let Some(chart) = &hold.chart_no { span.number { (chart) } " " }
                    (plain_date(hold.placed_on.0)) " "
                    strong { (call.t(if hold.stands { "desk-hold-stands" } else { "desk-hold-lifted" })) }
                    @if hold.stands && hold.lifted.is_none() {
                        " " a href=(format!("/office/holds/lift?hold={}", hold.entry)) { (call.t("desk-lift")) }
                    }
                }
            }
        }
    };
    Ok(Reply::page(call, "desk-keeping-title", main))
}

/// A hold is lifted. Its number is a question of the form, filled in by the link that leads here.
fn lifting(call: &Call<'_>) -> Outcome<Guided> {
    let (action, back) = ("/office/holds/lift".to_string(), "/office/keeping".to_string());
    let guided = Guided::new("hold-lifted", "desk-lift-title", action, back)?;
    Ok(Guided { above: html! { p { (call.t("desk-lift-why")) } }, more: when_line(call), ..guided })
}

fn ask_lift(call: &Call<'_>) -> Outcome<Reply> {
    Ok(lifting(call)?.page(call, None))
}

fn lift(call: &Call<'_>) -> Outcome<Reply> {
    lifting(call)?.answer(call, &["hold", "lift"], &when(call))
}

fn kept_rows(call: &Call<'_>, charts: &[&Listed]) -> Outcome<Markup> {
    Ok(html! {
        @if charts.is_empty() { p { (call.t("desk-keep-none")) } }
        ul.ledger {
            @for one in charts {
                li {
                    p.head {
                        a href=(format!("/chart/{}/keep", call.slot(&one.face.chart_no)?)) {
                            span.number { (one.face.chart_no) } " " bdi { (one.face.identity.legal_name) }
                        }
                        ": "
                        @match one.kept.keep_through {
                            Some(day) => (call.t_with("desk-keep-through", &[("day", &plain_date(day.0))])),
                            None => (call.t("desk-no-day")),
                        }
                    }
                    @let why = against(&one.kept);
                    @if !why.is_empty() { ul lang="en" { @for words in &why { li { (words) } } } }
                }
            }
        }
    })
}

/// Through which day a chart is kept.
const UNTIL: Shows = Shows {
    title: "desk-keep-until-title",
    address: "keep",
    button: "desk-show",
    command: &["keep", "until"],
};
/// To whom something of a chart was disclosed.
const ACCOUNT: Shows = Shows {
    title: "desk-accounting-title",
    address: "accounting",
    button: "desk-show",
    command: &["accounting"],
};

fn ask_keep(call: &Call<'_>) -> Outcome<Reply> {
    UNTIL.ask(call, None)
}

fn keep(call: &Call<'_>) -> Outcome<Reply> {
    let kept = match UNTIL.shown(call, |words| call.run(words))? {
        Ok(ran) => ran.json["kept"].clone(),
        Err(asks) => return Ok(asks),
    };
    let kept: KeepUntil = serde_json::from_value(kept)
        .map_err(|_| Trouble::damaged("How long the chart is kept can't be read."))?;
    let (_, face) = call.face()?;
    let why = against(&kept);
    let main = html! {
        h1 { (call.t("desk-keep-until-title")) }
        (about(call, &face))
        p.notice {
            @match kept.keep_through {
                Some(day) => (call.t_with("desk-keep-through", &[("day", &with_weekday(day.0))])),
                None => { (call.t("desk-no-day")) " " span lang="en" { (kept.problem.as_deref().unwrap_or_default()) } },
            }
        }
        h2 { (call.t("desk-keep-rules")) }
        ul.ledger lang="en" {
            @for rule in &kept.rules {
                li {
                    strong { (rule.rule) } ": "
                    (rule.keep_through.map_or("no day".to_string(), |day| plain_date(day.0)))
                    @if rule.sets { " " span.mark { "sets the day" } }
                    br; (rule.reason)
                    br; span.small { (rule.source.as_deref().unwrap_or_default()) }
                }
            }
        }
        h2 { (call.t("desk-keep-against")) }
        @if why.is_empty() { p { (call.t("desk-keep-nothing-against")) } }
        ul lang="en" { @for words in &why { li { (words) } } }
        (back_to_chart(call))
    };
    Ok(Reply::page(call, "desk-keep-until-title", main))
}

fn ask_accounting(call: &Call<'_>) -> Outcome<Reply> {
    ACCOUNT.ask(call, None)
}

fn accounting(call: &Call<'_>) -> Outcome<Reply> {
    let account = match ACCOUNT.shown(call, |words| call.run(words))? {
        Ok(ran) => ran.json["account"].clone(),
        Err(asks) => return Ok(asks),
    };
    let (_, face) = call.face()?;
    let rows = |name: &str| account[name].as_array().cloned().unwrap_or_default();
    let main = html! {
        h1 { (call.t("desk-accounting-title")) }
        (about(call, &face))
        p { (call.t_with("desk-account-span", &[("from", text(&account, "from")), ("until", text(&account, "until"))])) }
        p.small lang="en" { (text(&account, "rule")) }
        h2 { (call.t("desk-account-lines")) }
        @if rows("lines").is_empty() { p { (call.t("desk-account-none")) } }
        ul.ledger {
            @for one in rows("lines") {
                li { (account_line(&one)) }
            }
        }
        @if !rows("to_look_at").is_empty() {
            h2 { (call.t("desk-account-look")) }
            ul lang="en" { @for one in rows("to_look_at") { li { (text(&one, "words")) } } }
        }
        p { (call.t_with("desk-account-not-counted", &[("count", &rows("not_counted").len().to_string())])) }
        p { (call.t("desk-account-give")) }
        (back_to_chart(call))
    };
    Ok(Reply::page(call, "desk-accounting-title", main))
}

/// One line of the account: its days, to whom, what and why.
fn account_line(one: &Value) -> Markup {
    let (first, last) = (text(one, "first"), text(one, "last"));
    html! {
        span.number { (first) @if last != first { " – " (last) } } " "
        strong { bdi { (text(one, "to")) } }
        span lang="en" { ": " bdi { (text(one, "what")) } "; " (text(one, "basis")) }
        @if !text(one, "purpose").is_empty() { " (" bdi { (text(one, "purpose")) } ")" }
    }
}

//! What matters today: who is expected, what is overdue, what is due.

use super::call::Call;
use super::{Reply, Route};
use crate::practice::lists::{List, Listed, Section, due_words, gather};
use crate::record::calendar::with_weekday;
use crate::trouble::Outcome;
use maud::{Markup, html};

/// Their addresses.
pub const ROUTES: &[Route] = &[Route::get("/", today)];

fn today(call: &Call<'_>) -> Outcome<Reply> {
    let practice = call.practice()?;
    let list = gather(&practice, None, practice.now().local_date())?.of_the_day();
    let (overdue, rest) = list.sections();
    let main = html! {
        h1 { (call.t("today-title")) }
        p.small { (with_weekday(list.day)) }
        @if !list.expected.is_empty() {
            h2 { (call.t("today-expected")) }
            ul.ledger {
                @for one in &list.expected {
                    li { (chart(call, "room", &one.chart, Some(&one.name))?) }
                }
            }
        }
        @if list.items.is_empty() { p { (call.t("today-nothing")) } }
        @for (title, sections) in [("today-overdue", overdue), ("today-due", rest)] {
            @if !sections.is_empty() {
                h2 { (call.t(title)) }
                @for section in &sections { (part(call, &list, section)?) }
            }
        }
        @if list.drafts_of_others > 0 {
            p { (call.t_with("desk-drafts-of-others", &[("count", &list.drafts_of_others.to_string())])) }
        }
        @if list.charts_not_opened > 0 {
            p { (call.t_with("today-not-opened", &[("count", &list.charts_not_opened.to_string())])) }
        }
    };
    Ok(Reply::page(call, "today-title", main))
}

fn part(call: &Call<'_>, list: &List, section: &Section<'_>) -> Outcome<Markup> {
    Ok(html! {
        h3 lang="en" { (section.heading) }
        ul.ledger {
            @for listed in &section.items {
                li {
                    @if let Some(number) = &listed.item.chart {
                        (chart(call, "chart", number, listed.name.as_deref())?) ": "
                    }
                    span lang="en" { bdi { (listed.item.words) } }
                    @if let Some(due) = due(list, listed) {
                        br;
                        span.small { (call.t("desk-due")) " " span lang="en" { (due) } }
                    }
                }
            }
        }
    })
}

/// A chart by number and name, as the way to its page.
fn chart(call: &Call<'_>, place: &str, number: &str, name: Option<&str>) -> Outcome<Markup> {
    let slot = call.slot(number)?;
    Ok(html! {
        a href=(format!("/{place}/{slot}")) { span.number { (number) } @if let Some(name) = name { " " bdi { (name) } } }
    })
}

/// The day it is due; whoever is late anyway is not helped by the working day before.
fn due(list: &List, listed: &Listed) -> Option<String> {
    let due = listed.item.due?.0;
    Some(if due < list.day { with_weekday(due) } else { due_words(due, &list.days_off) })
}

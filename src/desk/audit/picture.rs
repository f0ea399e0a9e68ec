//! The ledger over time: years on one page, months to turn to.

use crate::desk::{Call, Reply, Route};
use crate::practice::over_time::look;
use crate::record::calendar::{days_between, days_from};
use crate::record::moment::{Date, plain_date};
use crate::record::over_time::{Span, month_word};
use crate::render::over_time::{picture, tables};
use crate::trouble::{Outcome, Trouble};
use maud::{Markup, PreEscaped, html};

/// Their addresses.
pub const ROUTES: &[Route] = &[Route::get("/audit/picture", show)];

/// A ledger of more days than this is shown year by year at first.
const DAYS_AT_FIRST: i64 = 1_900;

/// What is looked at: a month, a year, or the whole.
fn span(call: &Call<'_>, all: Span) -> Outcome<Span> {
    let wrong = || Trouble::input("That is no month or year.", "Choose one of those on the page.");
    if let Some(month) = call.field("month") {
        return Span::read_month(month).ok_or_else(wrong);
    }
    if let Some(year) = call.field("year") {
        return Span::read_year(year).ok_or_else(wrong);
    }
    let days = days_between(all.from, all.until);
    Ok(if days > DAYS_AT_FIRST { Span::year_of(all.until) } else { all })
}

fn show(call: &Call<'_>) -> Outcome<Reply> {
    let practice = call.practice()?;
    let (all, course) = look(&practice, |all| span(call, all), true)?;
    let span = course.span;
    let say = |key: &str, put_in: &[(&str, String)]| -> String {
        let put_in: Vec<(&str, &str)> = put_in.iter().map(|(name, value)| (*name, value.as_str())).collect();
        call.t_with(&format!("audit-picture-{key}"), &put_in)
    };
    let totals = course.totals;
    let main = html! {
        h1 { (call.t("audit-picture-title")) }
        p { (call.t_with("audit-picture-span", &[("from", &plain_date(span.from)), ("until", &plain_date(span.until))])) }
        (turn(call, all, span))
        p {
            (call.t_with("audit-picture-words", &[
                ("from", &plain_date(span.from)),
                ("until", &plain_date(span.until)),
                ("entries", &totals.entries.to_string()),
                ("days", &totals.days.to_string()),
                ("corrections", &totals.past[0].to_string()),
                ("addenda", &totals.past[1].to_string()),
                ("late", &totals.past[2].to_string()),
            ]))
        }
        div.picture tabindex="0" role="region" aria-label=(call.t("audit-picture-title")) {
            (PreEscaped(picture(&course, &say)))
        }
        details { summary { (call.t("audit-picture-how")) } p { (call.t("audit-picture-legend")) } }
        div.figures { (PreEscaped(tables(&course, &say))) }
        p.small { (call.t("audit-picture-not_proven")) }
        p.back.no-print { a href="/audit" { (call.t("audit-back")) } }
    };
    Ok(Reply::page(call, "audit-picture-title", main))
}

/// The whole, each year, and the months of the year that is looked at.
fn turn(call: &Call<'_>, all: Span, span: Span) -> Markup {
    let years: Vec<i16> = (all.from.year()..=all.until.year()).collect();
    let days = days_between(span.from, span.until);
    let here = (days <= 366).then(|| span.from.year());
    let months: Vec<Date> = here
        .map(|year| (1..=12).filter_map(|month| Date::new(year, month, 1).ok()).collect())
        .unwrap_or_default();
    let is_month = |month: &Date| days <= 31 && span.from == *month;
    let holds = |month: &Date| month.last_of_month() >= all.from && *month <= all.until;
    html! {
        nav.turn.no-print aria-label=(call.t("audit-picture-turn")) {
            ul {
                @if years.len() > 1 {
                    li { a href="/audit/picture" aria-current=[(days > 366).then_some("true")] { (call.t("audit-picture-whole")) } }
                }
                @for year in &years {
                    li {
                        a href=(format!("/audit/picture?year={year:04}"))
                            aria-current=[(here == Some(*year) && days > 31).then_some("true")] { (format!("{year:04}")) }
                    }
                }
            }
            @if !months.is_empty() {
                ul {
                    @for month in months.iter().filter(|month| holds(month)) {
                        @let word = month_word(*month);
                        li {
                            a href=(format!("/audit/picture?month={word}")) aria-current=[is_month(month).then_some("true")] { (word) }
                        }
                    }
                }
            }
        }
        @if days <= 31 {
            @let (before, after) = (Span::month_of(days_from(span.from, -1)), Span::month_of(days_from(span.until, 1)));
            p.actions.no-print {
                @for (one, key) in [(before, "audit-picture-earlier"), (after, "audit-picture-later")] {
                    @if holds(&one.from) {
                        a.button href=(format!("/audit/picture?month={}", month_word(one.from))) { (call.t(key)) }
                    }
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::desk::catalogue::Lang;
    use crate::record::moment::{Moment, parse_date};
    use crate::record::over_time::{Line, Read, course};
    use crate::render::over_time::over_time_page;

    /// The keys are put together from the sorts, ways and marks, so a new one of these without words is found here.
    #[test]
    fn every_word_of_the_picture_is_in_every_language() {
        let read = Some(Read { late: true, after: true, about: parse_date("2025-01-02") });
        let line = |seq: u64, kind: &str, day: &str| Line {
            seq,
            kind: kind.to_string(),
            written: Moment::parse(&format!("{day}T10:00:00Z")).unwrap(),
            read: read.filter(|_| kind == "visit"),
        };
        let kinds = [
            "visit",
            "correction",
            "notice",
            "request",
            "day-close",
            "safe-copy",
            "clock-remark",
            "chart-disposed",
        ];
        let mut all: Vec<Line> =
            kinds.iter().zip(1..).map(|(kind, seq)| line(seq, kind, "2025-01-06")).collect();
        all.push(line(9, "consent", "2025-03-03"));
        let course = course(&all, &[1], Span::year_of(all[0].written.local_date()));
        assert_eq!(course.gaps.len(), 1);
        for lang in Lang::ALL {
            let say = |key: &str, put_in: &[(&str, String)]| {
                let key = format!("audit-picture-{key}");
                let put_in: Vec<(&str, &str)> =
                    put_in.iter().map(|(name, value)| (*name, value.as_str())).collect();
                let text = lang.text(&key, &put_in);
                assert!(text != key && !text.contains('$'), "{key} in {}", lang.tag());
                text
            };
            over_time_page(&course, "", &say);
        }
    }
}

//! The same figures as tables, for whoever can't see the picture, and for whoever wants the number.

use super::super::html::{TABLE_END, esc};
use super::Say;
use crate::record::moment::{Date, plain_date};
use crate::record::over_time::{Busy, Column, Course, Group, Lane, Past, month_word};
use std::fmt::Write;

/// The tables: by month or by day, and the days on which most was written about earlier days.
pub fn tables(course: &Course, say: &Say<'_>) -> String {
    let word = |key: &str| say(key, &[]);
    let mut out = String::new();
    if !course.busiest.is_empty() {
        let _ = writeln!(out, "<h2>{}</h2>", esc(&word("busiest")));
        out.push_str(&busiest(course, say));
    }
    let _ = writeln!(out, "<h2>{}</h2>", esc(&word("figures")));
    out.push_str(&figures(course, say));
    if !course.gaps.is_empty() {
        let _ = writeln!(out, "<h2>{}</h2>\n<ul>", esc(&word("gaps_heading")));
        for gap in &course.gaps {
            let said = [
                ("from", plain_date(gap.from)),
                ("until", plain_date(gap.until)),
                ("days", gap.days().to_string()),
            ];
            let _ = writeln!(out, "<li>{}</li>", esc(&say("gap", &said)));
        }
        out.push_str("</ul>\n");
    }
    if course.totals.not_read > 0 {
        let said = [("count", course.totals.not_read.to_string())];
        let _ = writeln!(out, "<p>{}</p>", esc(&say("not_read", &said)));
    }
    out
}

fn head(heads: &[String]) -> String {
    let cells: String = heads.iter().map(|head| format!("<th scope=\"col\">{}</th>", esc(head))).collect();
    format!("<table class=\"grid\"><thead><tr>{cells}</tr></thead><tbody>\n")
}

fn row(out: &mut String, first: &str, cells: &[String]) {
    let _ = write!(out, "<tr><th scope=\"row\">{}</th>", esc(first));
    for cell in cells {
        let _ = write!(out, "<td class=\"number\">{}</td>", esc(cell));
    }
    out.push_str("</tr>\n");
}

fn busiest(course: &Course, say: &Say<'_>) -> String {
    let word = |key: &str| say(key, &[]);
    let mut out =
        head(&[word("day"), word("head_afterwards"), word("head_farthest"), word("head_until_notice")]);
    for Busy { day, entries, farthest, before_notice } in &course.busiest {
        let far = farthest.map_or_else(|| word("not_known"), |days| days.to_string());
        let notice = before_notice.map_or_else(|| word("none"), |days| days.to_string());
        row(&mut out, &plain_date(*day), &[entries.to_string(), far, notice]);
    }
    out.push_str(TABLE_END);
    out
}

/// A row for each month, or for each day where the span is no longer than two months: its name, its counts, and the
/// days it holds.
fn rows(course: &Course) -> Vec<(String, Column, (Date, Date))> {
    if !by_day(course) {
        let months = course.months.iter();
        return months.map(|(m, column)| (month_word(*m), column.clone(), (*m, m.last_of_month()))).collect();
    }
    let days = course.columns.iter().enumerate().filter(|(_, column)| column.all() > 0);
    days.map(|(at, column)| (course.first_day(at), column))
        .map(|(day, column)| (plain_date(day), column.clone(), (day, day)))
        .collect()
}

fn by_day(course: &Course) -> bool {
    course.columns.len() <= 62 && course.step == 1
}

fn figures(course: &Course, say: &Say<'_>) -> String {
    let word = |key: &str| say(key, &[]);
    let first = word(if by_day(course) { "day" } else { "month" });
    let mut heads = vec![first.clone()];
    heads.extend(Group::ALL.iter().map(|group| word(&format!("strip_{group}"))));
    heads.extend(Past::ALL.iter().map(|past| word(&format!("past_{past}"))));
    heads.push(word("head_after"));
    let mut out = head(&heads);
    let rows = rows(course);
    for (name, column, _) in &rows {
        let counts = column.groups.iter().chain(&column.past).chain([&column.after]);
        row(&mut out, name, &counts.map(u32::to_string).collect::<Vec<_>>());
    }
    out.push_str(TABLE_END);
    let lanes: Vec<Lane> = Lane::ALL.iter().filter(|lane| course.lanes.contains_key(lane)).copied().collect();
    if lanes.is_empty() {
        return out;
    }
    let _ = writeln!(out, "<h2>{}</h2>", esc(&word("marks")));
    let heads = std::iter::once(first).chain(lanes.iter().map(|lane| word(&format!("lane_{lane}"))));
    out.push_str(&head(&heads.collect::<Vec<_>>()));
    for (name, _, (from, until)) in &rows {
        let counts = lanes.iter().map(|lane| course.marks(*lane, *from, *until).to_string());
        row(&mut out, name, &counts.collect::<Vec<_>>());
    }
    out.push_str(TABLE_END);
    out
}

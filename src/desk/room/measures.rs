//! Measures of the visit, before and after, as a picture: for each measure a line with its scale, an open ring for
//! before and a full one for after, and the numbers beside them. And the numbers given in the room, in order.

use super::page::address;
use super::seen::Visit;
use crate::desk::asks::plain as plain_words;
use crate::desk::call::Call;
use crate::record::moment::Moment;
use maud::{Markup, html};
use serde_json::Value;

/// A measure before and after.
#[derive(Debug, Clone, PartialEq)]
pub struct Pair {
    /// Kind, place and side, as words.
    pub what: String,
    /// Unit as the record writes it.
    pub unit: String,
    /// Before treatment.
    pub before: Option<f64>,
    /// After it.
    pub after: Option<f64>,
}

/// The measures of a draft, put beside each other.
pub fn pairs(draft: &Value) -> Vec<Pair> {
    let mut all: Vec<Pair> = Vec::new();
    let lines = draft.get("measures").and_then(Value::as_array).map_or(&[][..], Vec::as_slice);
    for line in lines {
        let measured = &line["measured"];
        let Some(value) = measured["value"].as_f64() else { continue };
        let word = |name: &str| measured[name].as_str().map(plain_words);
        let parts = [word("kind"), word("name"), word("region"), word("structure"), word("side")];
        let what = parts.into_iter().flatten().collect::<Vec<_>>().join(", ");
        let unit = measured["unit"].as_str().unwrap_or_default().to_string();
        let at = all.iter().position(|pair| pair.what == what && pair.unit == unit);
        let at = at.unwrap_or_else(|| {
            all.push(Pair { what, unit, before: None, after: None });
            all.len() - 1
        });
        match line["phase"].as_str() {
            Some("before") => all[at].before = Some(value),
            Some("after") => all[at].after = Some(value),
            _ => {}
        }
    }
    all.retain(|pair| pair.before.is_some() || pair.after.is_some());
    all
}

/// Ends of a scale that hold both values with room at each side.
fn scale(pair: &Pair) -> (f64, f64) {
    let values: Vec<f64> = pair.before.iter().chain(&pair.after).copied().collect();
    let low = values.iter().copied().fold(f64::INFINITY, f64::min);
    let high = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let room = ((high - low) / 2.0).max(high.abs() / 10.0).max(1.0);
    ((low - room).max(if low >= 0.0 { 0.0 } else { f64::NEG_INFINITY }), high + room)
}

/// Where a value lies between 0 and 1000.
fn along(pair: &Pair, value: f64) -> i64 {
    let (low, high) = scale(pair);
    if high <= low {
        return 500;
    }
    // Bounded by the scale, so it fits.
    #[allow(clippy::cast_possible_truncation)]
    let at = ((value - low) / (high - low) * 1000.0).round() as i64;
    at.clamp(0, 1000)
}

fn number(value: f64) -> String {
    let text = format!("{value:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_string()
}

/// The part of the page.
pub fn part(call: &Call<'_>, slot: &str, visit: &Visit) -> Markup {
    let all = pairs(&visit.draft);
    let checks = numbers(&visit.draft);
    html! {
        section.measures #measures aria-labelledby="measures-title" {
            h2 #measures-title { (call.t("room-measures")) }
            @if all.is_empty() && checks.is_empty() { p.small { (call.t("room-measures-none")) } }
            @for (at, pair) in all.iter().enumerate() { (picture(call, pair, at)) }
            @if !checks.is_empty() {
                p.checks {
                    @for (time, kind, value) in &checks {
                        span.check { span.number { (time) } " " span lang="en" { (kind) } " " strong { (value) } }
                    }
                }
            }
            p { a.button href=(address(slot, "course")) { (call.t("room-course")) } }
        }
    }
}

/// Numbers given in the room: time, question, number.
fn numbers(draft: &Value) -> Vec<(String, String, u64)> {
    let all = draft.get("checks").and_then(Value::as_array).map_or(&[][..], Vec::as_slice);
    all.iter()
        .filter_map(|check| {
            let at = Moment::parse(check["at"].as_str()?).ok()?;
            Some((at.clock(), plain_words(check["question"].as_str()?), check["number"].as_u64()?))
        })
        .collect()
}

fn picture(call: &Call<'_>, pair: &Pair, at: usize) -> Markup {
    let told = |key: &str, value: Option<f64>| match value {
        Some(value) => call.t_with(key, &[("value", &format!("{} {}", number(value), pair.unit))]),
        None => String::new(),
    };
    let (before, after) = (told("room-before", pair.before), told("room-after", pair.after));
    let change = pair.before.zip(pair.after).map(|(b, a)| a - b);
    let (left, width) = (20, 560);
    let x = |value: f64| left + along(pair, value) * width / 1000;
    let (low, high) = scale(pair);
    let title = format!("before-after-{at}");
    html! {
        figure.before-after {
            figcaption {
                strong lang="en" { (pair.what) } " "
                span { (before) } " " span { (after) } " "
                @if let Some(change) = change {
                    strong { (if change > 0.0 { "+" } else { "" }) (number(change)) " " (pair.unit) }
                }
            }
            svg viewBox="0 0 600 64" role="img" aria-labelledby=(title) focusable="false" {
                title id=(title) { (pair.what) ": " (before) " " (after) }
                path d=(format!("M{left} 34H{}M{left} 28v12M{} 28v12", left + width, left + width))
                    stroke="currentColor" stroke-width="1.5" fill="none" {}
                text x=(left) y="58" font-size="14" fill="currentColor" { (number(low)) }
                text x=(left + width) y="58" font-size="14" text-anchor="end" fill="currentColor" { (number(high)) " " (pair.unit) }
                @if let (Some(b), Some(a)) = (pair.before, pair.after) {
                    path d=(format!("M{} 34H{}", x(b), x(a))) stroke="currentColor" stroke-width="5" fill="none" {}
                }
                @if let Some(b) = pair.before {
                    circle cx=(x(b)) cy="34" r="10" fill="#fff" stroke="currentColor" stroke-width="3" {}
                    text x=(x(b)) y="17" font-size="16" text-anchor="middle" fill="currentColor" { (number(b)) }
                }
                @if let Some(a) = pair.after {
                    circle cx=(x(a)) cy="34" r="10" fill="currentColor" {}
                    @if pair.before != Some(a) {
                        text x=(x(a)) y=(if close(pair, &x) { 58 } else { 17 }) font-size="16" font-weight="bold"
                            text-anchor="middle" fill="currentColor" { (number(a)) }
                    }
                }
            }
        }
    }
}

/// True where the two numbers would stand on each other.
fn close(pair: &Pair, x: &impl Fn(f64) -> i64) -> bool {
    pair.before.zip(pair.after).is_some_and(|(b, a)| (x(b) - x(a)).abs() < 44)
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn before_and_after_of_one_measure_stand_together() {
        let line = |phase: &str, kind: &str, side: Option<&str>, value: f64| {
            let mut measured = json!({ "kind": kind, "value": value, "unit": "mm" });
            if let Some(side) = side {
                measured["side"] = json!(side);
            }
            json!({ "phase": phase, "measured": measured })
        };
        let draft = json!({ "measures": [
            line("before", "mouth-opening", None, 38.0), line("before", "lateral", Some("left"), 6.0),
            line("after", "mouth-opening", None, 43.0), line("during", "other", None, 1.0),
        ] });
        let all = pairs(&draft);
        assert_eq!(all.len(), 2);
        assert_eq!((all[0].before, all[0].after), (Some(38.0), Some(43.0)));
        assert_eq!((all[1].what.as_str(), all[1].after), ("lateral, left", None));
        // More is to the right, and everything lies on the scale.
        assert!(along(&all[0], 38.0) < along(&all[0], 43.0));
        let same = Pair { before: Some(0.0), after: Some(0.0), ..all[0].clone() };
        assert!((0..=1000).contains(&along(&same, 0.0)));
        assert_eq!(number(43.0), "43");
        assert_eq!(number(2.5), "2.5");
    }
}

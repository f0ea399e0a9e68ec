use super::*;
use crate::record::calendar::days_from;
use crate::record::moment::{Date, Moment, parse_date};
use crate::record::over_time::{Lane, Line, Read, Span, course};

fn day(text: &str) -> Date {
    parse_date(text).unwrap()
}

/// Every working day of a year with visits; a correction in March, and where `burst` says so thirty late notes on one
/// evening, about days up to two years before, two days before a notice.
fn year(burst: bool) -> Course {
    let mut lines = Vec::new();
    let mut put = |kind: &str, day: Date, time: &str, read: Option<Read>| {
        let written = Moment::parse(&format!("{day}T{time}:00-05:00")).unwrap();
        lines.push(Line { seq: lines.len() as u64 + 1, kind: kind.to_string(), written, read });
    };
    for at in 0..365 {
        let today = days_from(day("2025-01-01"), at);
        if today.weekday().to_monday_zero_offset() > 4 || (200..215).contains(&at) {
            continue;
        }
        put("safe-copy", today, "07:50", None);
        for visit in 0..(4 + at % 5) {
            let hour = format!("{:02}:{:02}", 8 + visit, 11 + (at * 7 + visit * 13) % 40);
            put("access", today, &hour, None);
            put("asked", today, &hour, Some(Read::default()));
            put("visit", today, &hour, Some(Read::default()));
        }
        put("contact", today, "16:20", Some(Read::default()));
        if at == 75 {
            let about = Some(days_from(today, -1));
            put("correction", today, "08:40", Some(Read { late: false, after: false, about }));
        }
        if burst && at == 292 {
            for late in 0..30 {
                let about = Some(days_from(today, -40 - late * 9));
                put(
                    "visit",
                    today,
                    &format!("21:{:02}", late + 10),
                    Some(Read { late: true, after: false, about }),
                );
            }
        }
        if burst && at == 294 {
            put("notice", today, "09:00", Some(Read::default()));
        }
        put("day-close", today, "18:00", None);
    }
    course(&lines, &[40], Span::year_of(day("2025-03-01")))
}

fn plain(key: &str, put_in: &[(&str, String)]) -> String {
    let said: Vec<String> = put_in.iter().map(|(name, value)| format!("{name}={value}")).collect();
    format!("{key} {}", said.join(" "))
}

/// Well-formed, and nothing that a strict content policy would forbid: no style, no script, no address elsewhere.
#[test]
fn the_picture_is_plain_svg_that_a_strict_policy_allows() {
    for burst in [false, true] {
        let svg = picture(&year(burst), &plain);
        let read = roxmltree::Document::parse(&svg).unwrap();
        for node in read.descendants().filter(|node| node.is_element()) {
            assert!(!["style", "script", "a", "image", "use"].contains(&node.tag_name().name()));
            for attribute in node.attributes() {
                assert!(attribute.name() != "style" && !attribute.name().starts_with("on"));
            }
        }
        let tables = format!("<div>{}</div>", tables(&year(burst), &plain));
        roxmltree::Document::parse(&tables).unwrap();
    }
}

/// What makes a burst seen: threads as many as late entries, a bar far longer than any of an honest year.
#[test]
fn a_burst_is_drawn_as_a_fan_and_a_long_bar() {
    let (honest, burst) = (picture(&year(false), &plain), picture(&year(true), &plain));
    let threads = |svg: &str| {
        let read = roxmltree::Document::parse(svg).unwrap();
        let fan = read.descendants().find(|node| node.attribute("clip-path").is_some()).unwrap();
        fan.children().filter(|node| node.is_element()).count()
    };
    assert_eq!((threads(&honest), threads(&burst)), (1, 31));
    let longest = |svg: &str| {
        let read = roxmltree::Document::parse(svg).unwrap();
        let hatched = |node: &roxmltree::Node<'_, '_>| node.attribute("fill") == Some("url(#over-time-h)");
        let heights = read.descendants().filter(hatched).filter_map(|node| node.attribute("height"));
        heights.filter_map(|height| height.parse::<f64>().ok()).fold(0.0, f64::max)
    };
    assert!(longest(&burst) > 5.0 * longest(&honest), "{} {}", longest(&burst), longest(&honest));
    assert_eq!(year(true).lanes[&Lane::Notice].len(), 1);
}

#[test]
fn the_tables_say_what_the_picture_shows() {
    let text = tables(&year(true), &plain);
    assert!(text.contains("<th scope=\"row\">20 Oct 2025</th><td class=\"number\">30</td>"));
    let busy = &year(true).busiest[0];
    assert_eq!((busy.entries, busy.farthest, busy.before_notice), (30, Some(301), Some(2)));
}

/// Written to look at, with `INKFAST_PAGE_TO`.
#[test]
fn written_out_to_look_at() {
    let Some(folder) = std::env::var_os("INKFAST_PAGE_TO").map(std::path::PathBuf::from) else { return };
    for (name, burst) in [("over-time-honest", false), ("over-time-burst", true)] {
        let page = over_time_page(&year(burst), "example", &plain);
        std::fs::write(folder.join(format!("{name}.html")), page).unwrap();
    }
}

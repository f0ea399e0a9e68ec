//! The file made of whole charts; and what must never happen to it.

use super::lay::{Item, Strip};
use super::pages::{Placed, pages};
use super::structure::Role;
use super::table::{Asked, share};
use super::text::{Para, Type};
use super::*;
use crate::render::tests::{every_kind, set};
use crate::render::{for_paper, page, summary_clinician, summary_patient};
use proptest::prelude::*;
use std::path::Path;

/// Set INKFAST_PAGE_TO to a folder to look at the file.
fn keep(name: &str, made: &Made) {
    if let Ok(folder) = std::env::var("INKFAST_PAGE_TO") {
        std::fs::write(Path::new(&folder).join(name), &made.bytes).unwrap();
    }
}

/// A page with these contents.
fn html(body: &str) -> String {
    format!(
        "<!DOCTYPE html><html lang=\"en\"><head><title>T</title></head><body><table class=\"sheet\">\
         <thead><tr><td>head</td></tr></thead><tbody><tr class=\"new\"><td>{body}</td></tr></tbody></table>\
         </body></html>"
    )
}

fn marks() -> Marks {
    let printed = Moment::parse("2025-05-26T14:05:00-04:00").unwrap();
    Marks { foot: "foot".into(), id: "one".into(), printed }
}

fn made(body: &str) -> Result<Made, Fault> {
    make(&html(body), &marks(), Paper::A4)
}

#[test]
fn whole_charts_and_summaries_become_a_file_and_the_same_twice() {
    for (name, set) in [("chart", set()), ("kinds", every_kind())] {
        for (which, html) in [
            ("", page(&set)),
            ("-patient", summary_patient::page(&set)),
            ("-clinician", summary_clinician::page(&set)),
        ] {
            let made = for_paper(&set, &html, Paper::A4).unwrap();
            keep(&format!("{name}{which}.pdf"), &made);
            assert_eq!(made.lacking, 0);
            assert!(made.bytes.starts_with(b"%PDF-1.7"));
            assert_eq!(made, for_paper(&set, &html, Paper::A4).unwrap());
        }
        let made = |paper| for_paper(&set, &page(&set), paper);
        let (a4, letter) = (made(Paper::A4).unwrap(), made(Paper::Letter));
        assert!(letter.unwrap().pages >= a4.pages, "a lower page holds no more");
    }
}

#[test]
fn another_moment_of_printing_is_the_only_date_in_the_file() {
    let first = make(&html("<p>a</p>"), &marks(), Paper::A4).unwrap();
    let other = Marks { printed: Moment::parse("2025-05-26T14:06:00-04:00").unwrap(), ..marks() };
    let text = String::from_utf8_lossy(&first.bytes).into_owned();
    assert!(text.contains("2025-05-26T14:05:00-04:00"), "the date of the page, with its offset");
    assert_ne!(first.bytes, make(&html("<p>a</p>"), &other, Paper::A4).unwrap().bytes);
}

#[test]
fn what_is_not_known_stops_the_making() {
    for odd in [
        "<blockquote>a word</blockquote>",
        "<p>a <marquee>word</marquee></p>",
        "<p class=\"hidden\">a word</p>",
        "<span class=\"other\">a word</span>",
        "<table><tbody>a word</tbody></table>",
        "<table><tr><td>a word</td></tr></table>",
        "<table><tbody><tr>a word<td>b</td></tr></tbody></table>",
        "<ul>a word</ul>",
        "<ul><p>a word</p></ul>",
        "<figure>a word</figure>",
        "<figure><svg viewBox=\"0 0 9 9\">a word</svg></figure>",
        "<figure><svg viewBox=\"0 0 9 9\"><ellipse rx=\"2\" /></svg></figure>",
        "<figure><svg viewBox=\"0 0 9 9\"><path d=\"M1 1L2 2\" transform=\"scale(2)\" /></svg></figure>",
        "<figure><svg viewBox=\"0 0 9 9\"><path d=\"M1 1L2 2\" stroke=\"red\" /></svg></figure>",
        "<p><a href=\"https://elsewhere.example\">a word</a></p>",
        "<p><span class=\"blank\">a word</span></p>",
    ] {
        assert!(matches!(made(odd), Err(Fault::Unknown(_))), "{odd}: {:?}", made(odd).map(|made| made.pages));
    }
    assert!(matches!(made("<p>a"), Err(Fault::Form(_))));
    assert!(matches!(make("<html></html>", &marks(), Paper::A4), Err(Fault::Form(_))));
}

#[test]
fn every_rule_of_the_page_for_a_class_is_known_here() {
    let style = crate::render::style::sheet("");
    let rules = style.split("@media screen").next().unwrap();
    let mut found = 0;
    for rule in rules.split('}').filter_map(|rule| rule.split('{').next()).filter(|head| !head.contains('@'))
    {
        for class in rule.split(['.', ' ', ',', '>', ':', '+']).filter(|_| rule.contains('.')) {
            let in_rule = rule.contains(&format!(".{class}"));
            if !class.is_empty() && in_rule && class.chars().all(|c| c.is_ascii_alphanumeric()) {
                found += 1;
                let known = made(&format!("<div class=\"{class}\">a</div>"));
                assert!(known.is_ok(), "{class}: {known:?}");
            }
        }
    }
    assert!(found > 40, "{found}");
}

/// Strips of this height, each with whether a page may begin with it.
fn strips(all: &[(f32, Break)]) -> Vec<Strip> {
    let strip = |(height, may_break): &(f32, Break)| Strip {
        above: 2.0,
        height: *height,
        may_break: *may_break,
        items: Vec::new(),
        head: None,
    };
    all.iter().map(strip).collect()
}

fn numbers(pages: &[Vec<Placed>]) -> Vec<Vec<usize>> {
    let number = |placed: &Placed| match placed {
        Placed::Strip { strip, .. } => Some(*strip),
        Placed::Head { .. } => None,
    };
    pages.iter().map(|page| page.iter().filter_map(number).collect()).collect()
}

#[test]
fn pages_end_where_they_may() {
    use Break::{Avoid, May, Must};
    let cut = |all: &[(f32, Break)]| numbers(&pages(&strips(all), &[], 100.0));
    assert_eq!(cut(&[(40.0, May), (40.0, May), (40.0, May)]), [vec![0, 1], vec![2]]);
    // A heading goes along with what it is of.
    assert_eq!(cut(&[(40.0, May), (40.0, May), (10.0, May), (40.0, Avoid)]), [vec![0, 1], vec![2, 3]]);
    assert_eq!(cut(&[(10.0, May), (10.0, Must), (10.0, May)]), [vec![0], vec![1, 2]]);
    // What no page can hold is cut all the same, and nothing is lost.
    let long: Vec<(f32, Break)> = std::iter::once((30.0, May)).chain([(30.0, Avoid); 7]).collect();
    let pages = cut(&long);
    assert_eq!(pages.concat(), (0..8).collect::<Vec<_>>());
    assert!(pages.len() == 3 && pages.iter().all(|page| !page.is_empty()), "{pages:?}");
    // The room above is not kept at the head of a page: 100 fits on 100.
    assert_eq!(cut(&[(100.0, May), (100.0, May)]), [vec![0], vec![1]]);
}

#[test]
fn a_table_begins_every_page_with_its_head_rows() {
    let mut all = strips(&[(30.0, Break::May); 6]);
    for strip in all.iter_mut().skip(1) {
        strip.head = Some(0);
    }
    let head = Head { items: vec![Item::Place { y: 0.0, id: "h".into() }], height: 30.0 };
    let pages = pages(&all, &[head], 100.0);
    assert_eq!(numbers(&pages), [vec![0, 1, 2], vec![3, 4], vec![5]]);
    assert!(pages.iter().skip(1).all(|page| page[0] == Placed::Head { head: 0, y: 0.0 }));
    assert!(matches!(pages[1][1], Placed::Strip { y: 30.0, .. }), "beneath it: {:?}", pages[1]);
}

#[test]
fn columns_share_the_room() {
    let ask = |min: f32, max: f32, given: Option<f32>| Asked { min, max, given };
    let free = [ask(20.0, 60.0, None), ask(20.0, 120.0, None)];
    let near = |a: &[f32], b: &[f32]| a.iter().zip(b).all(|(a, b)| (a - b).abs() < 0.01);
    // Room for everything: in proportion to the widest.
    assert!(near(&share(&free, 360.0), &[120.0, 240.0]));
    // Less: nearer to the widest in the same measure.
    assert!(near(&share(&free, 110.0), &[40.0, 70.0]));
    // Not even for the longest words.
    assert!(near(&share(&free, 20.0), &[10.0, 10.0]));
    // A given width is kept if the other has room for its longest words, and else is the one that yields.
    let given = [ask(20.0, 60.0, Some(50.0)), ask(40.0, 120.0, None)];
    assert!(near(&share(&given, 100.0), &[50.0, 50.0]));
    assert!(near(&share(&given, 70.0), &[30.0, 40.0]));
    assert!(near(&share(&[ask(5.0, 9.0, Some(10.0)), ask(5.0, 9.0, Some(30.0))], 80.0), &[20.0, 60.0]));
    for room in [1.0, 33.0, 77.0, 500.0] {
        for asked in [&free[..], &given[..]] {
            let all: f32 = share(asked, room).iter().sum();
            assert!((all - room).abs() < 0.01, "{room}: {all}");
        }
    }
}

fn set_words(words: &str, width: f32) -> Para {
    let mut setter = Setter::new();
    let mut set = Words::default();
    let look = Type { size: 10.0, ..looks::base() };
    set.add(words, look, &Sense::Plain);
    let node = structure::Structure::new().root();
    let mut para = set.set(look, node, &mut setter);
    para.break_lines(width, false);
    para
}

fn lines(para: &Para) -> Vec<&str> {
    para.layout.lines().map(|line| para.text[line.text_range()].trim_end()).collect()
}

#[test]
fn lines_end_between_words_and_never_reach_too_far() {
    let para = set_words("the  right\n shoulder, on\tturning the head", 70.0);
    assert_eq!(para.text, "the right shoulder, on turning the head");
    let found = lines(&para);
    assert!(found.len() > 2 && found.join(" ") == para.text, "{found:?}");
    // A word with no place to break it is broken anywhere before it leaves its column.
    let long = "9b1f".repeat(16);
    let para = set_words(&long, 60.0);
    assert_eq!(lines(&para).concat(), long);
    for line in para.layout.lines() {
        assert!(line.metrics().advance - line.metrics().hanging_advance <= 60.1);
    }
}

#[test]
fn letters_that_no_font_has_are_written_out_and_counted() {
    let page = made("<p>Li \u{4E2D}\u{6587} and Zo\u{EB} \u{141}\u{F3}d\u{17A}</p>").unwrap();
    assert_eq!(page.lacking, 2);
    let mut setter = Setter::new();
    let sheet = read(&html("<p>\u{4E2D}a <del>b</del></p>"), &mut setter).unwrap();
    let para = sheet.paras.iter().find(|para| para.text.contains('b')).unwrap();
    assert_eq!(para.text, "[U+4E2D]a b");
    assert!(para.senses.iter().any(|sense| matches!(sense, Sense::Struck(_))), "the rest is what it was");
}

#[test]
fn the_structure_says_what_everything_is() {
    let mut setter = Setter::new();
    let sheet = read(&page(&set()), &mut setter).unwrap();
    let count = |of: fn(&Role) -> bool| sheet.structure.roles().filter(|role| of(role)).count();
    let html = page(&set());
    assert_eq!(
        count(|role| matches!(role, Role::Table)),
        html.matches("<table").count() - 1,
        "but the outer one"
    );
    assert_eq!(
        count(|role| matches!(role, Role::HeadCell { .. })),
        html.matches("<th>").count() + html.matches("<th ").count()
    );
    assert_eq!(count(|role| matches!(role, Role::Heading(2, _))), html.matches("<h2>").count());
    assert_eq!(count(|role| matches!(role, Role::Item)), html.matches("<li>").count());
    let figures =
        count(|role| matches!(role, Role::Figure(words) if words.contains("Panels, top to bottom")));
    assert_eq!(figures, html.matches("<figure").count());
    assert!(figures > 0);
}

#[test]
fn a_row_longer_than_a_page_is_cut_and_a_short_one_is_not() {
    let long = "word ".repeat(9000);
    let row = |words: &str| format!("<tr><td>a</td><td>{words}</td></tr>");
    let table = |rows: &str| {
        format!(
            "<table class=\"grid\"><thead><tr><th>A</th><th>B</th></tr></thead><tbody>{rows}</tbody></table>"
        )
    };
    assert!(made(&table(&row(&long))).unwrap().pages > 5);
    let nested = table(&row(&table(&row(&long))));
    assert!(made(&nested).unwrap().pages > 5, "a long row within a row");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(if std::env::var("INKFAST_LONG").is_ok() { 400 } else { 40 }))]

    /// Whatever is typed into a record, the file can be made: a release must not fail on a letter.
    #[test]
    fn any_words_can_be_laid_out(words in "\\PC{0,60}", more in any::<String>(), width in 1..4_usize) {
        let cells: String = (0..width).map(|_| format!("<td>{}</td>", crate::render::html::said(&words))).collect();
        let more = crate::render::html::said(&more);
        let body = format!("<p>{more}</p><table class=\"grid\"><tbody><tr>{cells}</tr></tbody></table>\
                            <p><del>{more}</del> <strong>{more}</strong> <span class=\"digest\">{more}</span></p>");
        prop_assert!(made(&body).is_ok(), "{:?}", made(&body).map(|made| made.pages));
    }
}

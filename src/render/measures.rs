//! Measures over time: the picture, the tables it is drawn from, and each change beside the
//! published thresholds.

use super::entry::Desk;
use super::html::{TABLE_END, entry_link, esc, said, table_start, tr};
use super::picture;
use super::set::Thresholds;
use super::words::{capital, spaced};
use crate::record::kinds::screening::Phase;
use crate::record::measures::cells::{Value, cell, struck_words, words};
use crate::record::measures::panels::{not_drawn, panels};
use crate::record::measures::thresholds::{
    Change, Met, SpanKind, ThresholdLine, Way, figure, instruments, name, thresholds,
};
use crate::record::measures::{Measures, Readable, Row, gather};
use crate::record::moment::plain_date;
use crate::record::tables::Tables;
use crate::record::tables::trade::Threshold;

/// Series in one table: more columns would not fit the width of a page.
const SERIES_IN_TABLE: usize = 4;

/// The section.
pub fn section(desk: &Desk<'_>) -> String {
    let readable: Vec<Readable<'_>> = desk
        .set
        .in_order()
        .into_iter()
        .filter_map(|entry| Some(Readable { seq: entry.seq, record: entry.shown()? }))
        .collect();
    let measures = gather(&readable);
    if measures.series.is_empty() {
        return "<p><em>No measure is in this copy.</em></p>\n".to_string();
    }
    let mut out = String::from(
        "<p>Every number measured, told or answered in this copy, put together by the program from the entries; \
         the entries themselves are the record. What was measured in another way, or with another instrument, is \
         a series of its own.</p>\n",
    );
    let drawn = picture::picture(&measures);
    if !drawn.is_empty() {
        out.push_str(&picture::legend());
        out.push_str(&drawn);
    }
    out.push_str(&series_table(&measures));
    out.push_str(&value_tables(&measures));
    out.push_str(&marks_table(&measures));
    out.push_str(&threshold_part(&measures, &desk.set.trade));
    out
}

/// What each letter stands for.
fn series_table(measures: &Measures) -> String {
    let drawn: Vec<usize> = panels(measures).into_iter().flat_map(|panel| panel.series).collect();
    let mut out = String::from("<h3>What was measured</h3>\n");
    out.push_str(&table_start("grid", &["Series", "What, where, how", "Unit", "Values", "Remark"]));
    for (index, series) in measures.series.iter().enumerate() {
        let mut remarks = Vec::new();
        if !series.other_methods.is_empty() {
            remarks.push(format!(
                "measured in another way in series {}: not compared",
                series.other_methods.join(", ")
            ));
        }
        if !drawn.contains(&index) {
            remarks.push("not drawn".to_string());
        }
        out.push_str(&tr(&[
            esc(&series.code),
            said(&series.key.words()),
            esc(&series.key.unit_words()),
            series.points.len().to_string(),
            esc(&remarks.join("; ")),
        ]));
    }
    out.push_str(TABLE_END);
    out
}

/// Visits down, series across: before > after.
fn value_tables(measures: &Measures) -> String {
    let mut out = String::from(
        "<h3>Values by visit</h3>\n<p>Before &gt; after treatment. A dash: not in this copy for that visit. Struck \
         values stay readable beside what replaced them.</p>\n",
    );
    let mut groups: Vec<Vec<usize>> = panels(measures).into_iter().map(|panel| panel.series).collect();
    groups.extend(not_drawn(measures).chunks(SERIES_IN_TABLE).map(<[usize]>::to_vec));
    for group in groups {
        let series: Vec<_> = group.iter().map(|at| &measures.series[*at]).collect();
        let heads: Vec<String> = std::iter::once("Visit".to_string())
            .chain(
                series
                    .iter()
                    .map(|one| format!("{}: {}, {}", one.code, one.key.words(), one.key.unit_words())),
            )
            .collect();
        let heads: Vec<&str> = heads.iter().map(String::as_str).collect();
        out.push_str(&table_start("grid measured", &heads));
        for (index, row) in measures.rows.iter().enumerate() {
            let cells: Vec<String> =
                series.iter().map(|one| words(&cell(measures, one, index), value_html)).collect();
            if cells.iter().all(String::is_empty) {
                continue;
            }
            let dashed = cells.into_iter().map(|cell| if cell.is_empty() { "-".to_string() } else { cell });
            out.push_str(&tr(&std::iter::once(row_html(row)).chain(dashed).collect::<Vec<_>>()));
        }
        out.push_str(TABLE_END);
    }
    out.replace(" > ", " &gt; ")
}

fn row_html(row: &Row) -> String {
    let day = format!("<span class=\"t\">{}</span>", esc(&plain_date(row.day)));
    match (row.visit, row.sort) {
        (Some(visit), Some(sort)) => format!("{day}<br />visit {visit}, {}", esc(&spaced(sort.word()))),
        (Some(visit), None) => format!("{day}<br />visit {visit}"),
        (None, _) => format!("{day}<br />no visit named"),
    }
}

fn value_html(value: &Value) -> String {
    let mut out = said(&value.text);
    if !value.remark.is_empty() {
        out.push_str(&format!(" ({})", said(&value.remark)));
    }
    if let Some(by) = value.struck {
        out = format!("<del>{out}</del> <span class=\"mark\">[{}]</span>", esc(&struck_words(by)));
    }
    if let Some(by) = value.added {
        out.push_str(&format!(" <span class=\"mark\">[by correction no. {}]</span>", by.by));
    }
    out
}

fn marks_table(measures: &Measures) -> String {
    if measures.marks.is_empty() {
        return String::new();
    }
    let mut out = String::from("<h3>What else happened</h3>\n");
    out.push_str(&table_start("grid", &["Day", "What", "In words", "Entry"]));
    for mark in &measures.marks {
        out.push_str(&tr(&[
            format!("<span class=\"t\">{}</span>", esc(&plain_date(mark.day))),
            esc(&capital(mark.kind.words())),
            said(&mark.words),
            entry_link(mark.entry),
        ]));
    }
    out.push_str(TABLE_END);
    out
}

fn threshold_part(measures: &Measures, which: &Thresholds) -> String {
    let mut out = String::from("<h3>Changes beside published thresholds</h3>\n");
    let trade = match which {
        Thresholds::Adopted(trade) => Ok(&**trade),
        Thresholds::Shipped(why) => {
            out.push_str(&format!(
                "<p><strong>NOT THE PRACTICE'S OWN TABLE:</strong> the thresholds of the rules in force at the \
                 practice could not be read ({}). Shown instead are those that the program brings along; they \
                 may differ from what the practice adopted.</p>\n",
                said(why)
            ));
            Tables::shipped().map(|tables| &tables.trade)
        }
    };
    let lines = match trade {
        Ok(trade) => thresholds(measures, trade),
        Err(_) => return out + "<p><em>The table of thresholds can't be read.</em></p>\n",
    };
    if lines.is_empty() {
        return out + "<p>The table holds no published threshold for what was measured.</p>\n";
    }
    out.push_str(
        "<p>A threshold says how large a change must be before its authors would not put it down to chance, or \
         would call it important to patients. It holds for more and for less alike. Published figures differ; each is \
         named, and none is the last word. Where a figure was found in one group of patients, that group is named: \
         this record does not decide whether the patient belongs to it.</p>\n",
    );
    let told = instruments(&lines);
    if !told.is_empty() {
        let heads = ["Threshold", "For", "Figure", "Found in", "What kind", "Published in"];
        out.push_str(&table_start("grid", &heads));
        for (number, (instrument, thresholds)) in told.iter().enumerate() {
            for (index, threshold) in thresholds.iter().enumerate() {
                out.push_str(&threshold_row(&name(number, index), instrument, threshold));
            }
        }
        out.push_str(TABLE_END);
    }
    for line in lines.iter().filter(|line| line.not_judged.is_none()) {
        let number = told.iter().position(|(instrument, _)| *instrument == line.instrument);
        out.push_str(&change_table(measures, line, number.unwrap_or(0)));
    }
    out.push_str(&not_judged(&lines));
    out
}

/// The changes of one measure, a column for each threshold.
fn change_table(measures: &Measures, line: &ThresholdLine, number: usize) -> String {
    let mut out = format!("<h4 class=\"sub\">{}: {}</h4>\n", esc(&line.codes.join(" + ")), said(&line.what));
    let mut heads = vec!["From - to".to_string(), "Values".to_string(), "Change".to_string()];
    heads.extend((0..line.thresholds.len()).map(|index| name(number, index)));
    let heads: Vec<&str> = heads.iter().map(String::as_str).collect();
    out.push_str(&table_start("grid", &heads));
    for change in &line.changes {
        out.push_str(&tr(&change_cells(measures, line, change)));
    }
    out.push_str(TABLE_END);
    out
}

/// What has thresholds and yet can't be judged, and why.
fn not_judged(lines: &[ThresholdLine]) -> String {
    let told = lines.iter().filter_map(|line| {
        let why = line.not_judged.as_ref()?;
        Some(format!("<li>{}: {}: {}</li>\n", esc(&line.codes.join(" + ")), said(&line.what), said(why)))
    });
    let told: String = told.collect();
    if told.is_empty() { told } else { format!("<h4 class=\"sub\">Not judged</h4>\n<ul>\n{told}</ul>\n") }
}

fn threshold_row(name: &str, instrument: &str, threshold: &Threshold) -> String {
    let population = threshold.population.as_deref().unwrap_or("see what kind");
    tr(&[
        esc(name),
        esc(instrument),
        esc(&figure(threshold)),
        esc(population),
        esc(&threshold.kind),
        esc(threshold.source.citation.as_deref().unwrap_or("not named")),
    ])
}

fn change_cells(measures: &Measures, line: &ThresholdLine, change: &Change) -> Vec<String> {
    let span = match change.span {
        SpanKind::FirstToLast => format!(
            "<strong>First to last</strong>: {}{} to {}{}",
            plain_date(change.from.day),
            phase(change.from.phase),
            plain_date(change.to.day),
            phase(change.to.phase)
        ),
        SpanKind::WithinVisit => {
            let visit = measures.rows.get(change.from.row).and_then(|row| row.visit);
            let visit = visit.map(|visit| format!(", visit {visit}")).unwrap_or_default();
            format!("Before to after, {}{visit}", plain_date(change.from.day))
        }
    };
    let way = match change.way {
        Way::Same => "no change".to_string(),
        way => format!("{} {} {}", change.size, line.unit, way.word()),
    };
    let mut cells =
        vec![span, format!("{} &gt; {}", esc(&change.from.text), esc(&change.to.text)), esc(&way)];
    cells.extend(change.met.iter().map(|met| match met {
        Met::Met => "<strong>met</strong>".to_string(),
        Met::NotMet => "not met".to_string(),
        Met::NotJudged(why) => format!("can't be judged: {}", esc(why)),
    }));
    cells
}

fn phase(phase: Option<Phase>) -> &'static str {
    match phase {
        Some(Phase::Before) => ", before treatment",
        Some(Phase::During) => ", during treatment",
        Some(Phase::After) => ", after treatment",
        None => "",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::measures::tests::{chart, drawn_chart, gathered};
    use crate::render::picture::picture;
    use proptest::prelude::*;
    use std::collections::BTreeSet;

    /// The tags of well-formed XML, in order; panics with what is wrong.
    fn well_formed(xml: &str) -> Vec<String> {
        let (mut open, mut tags, mut rest): (Vec<String>, Vec<String>, &str) = (vec![], vec![], xml);
        while let Some(at) = rest.find('<') {
            let text = &rest[..at];
            assert!(!text.contains('>'), "{text}");
            for entity in text.split('&').skip(1) {
                assert!(
                    ["amp;", "lt;", "gt;", "quot;", "#39;"].iter().any(|e| entity.starts_with(e)),
                    "{text}"
                );
            }
            let end = at + rest[at..].find('>').unwrap();
            let tag = &rest[at + 1..end];
            rest = &rest[end + 1..];
            if let Some(name) = tag.strip_prefix('/') {
                assert_eq!(open.pop().as_deref(), Some(name));
                continue;
            }
            let inner = tag.trim_end_matches('/').trim_end();
            let (name, attributes) = inner.split_once([' ', '\n']).unwrap_or((inner, ""));
            let quotes = attributes.matches('"').count();
            assert_eq!(quotes % 2, 0, "{tag}");
            let mut names = BTreeSet::new();
            for attribute in attributes.split('"').step_by(2).map(str::trim).filter(|a| !a.is_empty()) {
                let name = attribute.strip_suffix('=').unwrap_or_else(|| panic!("{tag}"));
                assert!(names.insert(name), "twice in {tag}");
                assert!(!name.starts_with("on") && !["href", "style", "src"].contains(&name), "{tag}");
            }
            tags.push(name.to_string());
            if !tag.ends_with('/') {
                open.push(name.to_string());
            }
        }
        assert!(open.is_empty(), "{open:?}");
        tags
    }

    fn only_drawing(svg: &str) {
        let known = ["figure", "svg", "title", "desc", "g", "path", "text", "circle", "rect"];
        for tag in well_formed(svg) {
            assert!(known.contains(&tag.as_str()), "{tag}");
        }
        assert!(!svg.contains("url(") && !svg.contains("http"));
    }

    /// What every sign says of itself.
    fn told(svg: &str) -> Vec<String> {
        let signs = svg.split("<g class=\"point\"><title>").skip(1);
        signs.map(|part| part.split("</title>").next().unwrap().to_string()).collect()
    }

    #[test]
    fn a_struck_value_is_struck_in_table_and_picture() {
        let measures = gathered(&chart());
        let table = value_tables(&measures);
        let cell = "<del><bdi>24.0</bdi></del> <span class=\"mark\">[struck by correction no. 21, 18 Oct 2022]</span>; \
                    <bdi>42.0</bdi> <span class=\"mark\">[by correction no. 21]</span> &gt; <bdi>45.0</bdi>";
        assert!(table.contains(cell), "{table}");
        let svg = picture(&measures);
        only_drawing(&svg);
        assert_eq!(
            told(&svg).iter().filter(|words| words.contains("struck by correction no. 21")).count(),
            1
        );
    }

    #[test]
    fn one_point_and_a_long_course_are_drawn() {
        use crate::record::measures::tests::{measure, note};
        use serde_json::json;
        let one = vec![(
            1,
            measure(
                "2025-03-04T10:00:00-05:00",
                json!([{ "kind": "mouth-opening", "value": 35, "unit": "mm" }]),
            ),
        )];
        let svg = picture(&gathered(&one));
        only_drawing(&svg);
        assert_eq!(told(&svg), ["A 35 mm, before, 04 Mar 2025 10:00, no. 1, measure 1"]);
        let line = |phase: &str, value: u32| json!({ "phase": phase, "measured": { "kind": "mouth-opening", "value": value, "unit": "mm" } });
        let course: Vec<_> = (0..60u32)
            .map(|n| {
                let at = crate::record::moment::Moment::from_unix(1_700_000_000 + i64::from(n) * 604_800, 0)
                    .unwrap();
                let value = 30 + n / 4;
                (
                    u64::from(n) * 2 + 2,
                    note(
                        u64::from(n) * 2 + 1,
                        &at.to_string(),
                        json!([line("before", value), line("after", value + 2)]),
                    ),
                )
            })
            .collect();
        let svg = picture(&gathered(&course));
        only_drawing(&svg);
        assert_eq!(svg.matches("<svg ").count(), 5, "60 days in strips of at most 14");
        assert_eq!(told(&svg).len(), 60 * 3);
    }

    #[test]
    fn thresholds_stand_by_name_with_their_source() {
        let adopted = Tables::shipped().unwrap().trade.clone();
        let html = threshold_part(&gathered(&chart()), &Thresholds::Adopted(Box::new(adopted)));
        assert!(!html.contains("NOT THE PRACTICE"));
        for words in [
            "Kropmans TJ et al.",
            "painful jaw",
            "juvenile arthritis",
            "at least 9 mm",
            "<strong>met</strong>",
            "not met",
            "8 mm more",
        ] {
            assert!(html.contains(words), "{words}\n{html}");
        }
        assert!(!html.to_lowercase().contains("improved"));
    }

    #[test]
    fn thresholds_that_are_not_the_practices_say_so() {
        let why = "the rules hold a word that is not known here".to_string();
        let shipped = Thresholds::Shipped(why);
        for measures in [gathered(&chart()), Measures::default()] {
            let html = threshold_part(&measures, &shipped);
            assert!(
                html.contains("NOT THE PRACTICE&#39;S OWN TABLE")
                    || html.contains("NOT THE PRACTICE'S OWN TABLE")
            );
            assert!(html.contains("a word that is not known here"));
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(48))]

        #[test]
        fn the_picture_shows_the_record_and_nothing_else(entries in drawn_chart()) {
            let measures = gathered(&entries);
            let svg = picture(&measures);
            only_drawing(&svg);
            let drawn: Vec<usize> = panels(&measures).into_iter().flat_map(|panel| panel.series).collect();
            let mut wanted: Vec<String> = Vec::new();
            for at in drawn {
                let series = &measures.series[at];
                wanted.extend(series.points.iter().map(|p| format!("{} {} {}", series.code, p.reading.text, series.key.unit_words())));
            }
            let mut got: Vec<String> = told(&svg).iter().map(|words| words.split(", ").next().unwrap().to_string()).collect();
            wanted.sort();
            got.sort();
            prop_assert_eq!(got, wanted);
            prop_assert_eq!(&svg, &picture(&measures));
        }
    }
}

//! `measures`: the measures of a chart over time, with every published threshold by name.

use super::print::{add_why_args, record_opening};
use crate::cli::context::{Context, add_who_args};
use crate::cli::exit::Exit;
use crate::cli::picture::{BOXES, PLAIN, Strokes, picture};
use crate::cli::table::{Table, indented, shown, width};
use crate::practice::chart::find;
use crate::record::measures::cells::{Value, cell, struck_words, words};
use crate::record::measures::panels::{not_drawn, panels};
use crate::record::measures::thresholds::{
    Change, Met, SpanKind, ThresholdLine, Way, figure, instruments, name, thresholds,
};
use crate::record::measures::{Measures, Mended, Readable, Row, gather};
use crate::record::moment::{Moment, plain_date};
use crate::record::tables::trade::Threshold;
use crate::trouble::{Kind, Outcome, Trouble};
use clap::{Arg, ArgAction, Command};
use serde::Serialize;

/// The measures of a chart in `--json` output.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct MeasuresOutput {
    /// Chart number.
    pub chart: String,
    /// How many entries this person's roles do not open; their measures are not here.
    pub not_opened: usize,
    /// The series.
    pub series: Vec<SeriesOutput>,
    /// What else happened.
    pub marks: Vec<MarkOutput>,
    /// Changes beside published thresholds.
    pub changes: Vec<ChangesOutput>,
}

/// Measures that can be compared.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct SeriesOutput {
    /// Letter.
    pub code: String,
    /// Word of its kind.
    pub kind: String,
    /// What was measured, where and how, in words.
    pub what: String,
    /// Which part of the record it is from.
    pub source: String,
    /// Unit in words.
    pub unit: String,
    /// Series that differ only in method, instrument or position.
    pub other_methods: Vec<String>,
    /// The measures, oldest first.
    pub points: Vec<PointOutput>,
}

/// One measure.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct PointOutput {
    /// Number of the entry.
    pub entry: u64,
    /// Where in it.
    pub place: String,
    /// Number of the visit opening.
    pub visit: Option<u64>,
    /// When.
    pub at: Moment,
    /// True when the record gives the measure its own time; else it is that of the visit.
    pub own_time: bool,
    /// before, during or after; null where not said.
    pub phase: Option<String>,
    /// The value as written.
    pub value: String,
    /// As typed, where another form was typed.
    pub typed: Option<String>,
    /// Reason given for an unusual value.
    pub unusual_because: Option<String>,
    /// The correction that put it there.
    pub added: Option<Mended>,
    /// What struck it; null when it stands.
    pub struck: Option<Mended>,
}

/// Something else that happened.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct MarkOutput {
    /// Sort of mark.
    pub kind: String,
    /// The day.
    pub day: String,
    /// Number of the entry.
    pub entry: u64,
    /// In a few words.
    pub words: String,
}

/// The changes of one measure.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct ChangesOutput {
    /// What the table of thresholds calls it.
    pub instrument: String,
    /// Codes of the series: one, or the two a whole arc is the sum of.
    pub series: Vec<String>,
    /// Why nothing is judged; null when it is.
    pub not_judged: Option<String>,
    /// The published thresholds.
    pub thresholds: Vec<ThresholdOutput>,
    /// The changes.
    pub changes: Vec<ChangeOutput>,
}

/// One published threshold.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct ThresholdOutput {
    /// Its id in the table.
    pub id: String,
    /// The figure in words: `at least 9 mm`.
    pub figure: String,
    /// The people it was found in, where the table limits it to some.
    pub population: Option<String>,
    /// What kind of threshold it is.
    pub kind: String,
    /// Where it was published.
    pub citation: Option<String>,
}

/// One change.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct ChangeOutput {
    /// first-to-last or within-visit.
    pub span: SpanKind,
    /// Number of the visit opening, for a change within a visit.
    pub visit: Option<u64>,
    /// First day.
    pub from_day: String,
    /// First value.
    pub from: String,
    /// Last day.
    pub to_day: String,
    /// Last value.
    pub to: String,
    /// How much, in the unit of the series, in decimals.
    pub size: String,
    /// more, less or same: not whether that is for the better.
    pub way: Way,
    /// One for each threshold.
    pub met: Vec<MetOutput>,
}

/// Whether a change reaches a threshold.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct MetOutput {
    /// Id of the threshold.
    pub threshold: String,
    /// True, false, or null where it can't be judged.
    pub met: Option<bool>,
    /// Why it can't be judged.
    pub because: Option<String>,
}

/// Options of `measures`.
pub fn command() -> Command {
    let cmd = add_who_args(
        Command::new("measures")
            .about("The measures of a chart over time, with published thresholds of change"),
    )
    .arg(Arg::new("chart").value_name("CHART").required(true).help("Chart number"));
    add_why_args(cmd)
        .arg(Arg::new("kind").long("kind").value_name("KIND").help("Only this kind, like mouth-opening"))
        .arg(
            Arg::new("width")
                .long("width")
                .value_name("NUMBER")
                .value_parser(clap::value_parser!(u64).range(40..=400))
                .help("Width in characters [default: that of the screen]"),
        )
        .arg(
            Arg::new("box")
                .long("box")
                .action(ArgAction::SetTrue)
                .help("Draw with box characters, where the terminal shows them"),
        )
}

/// Shows the measures of a chart.
pub fn run(context: &mut Context<'_>) -> Outcome<Exit> {
    let chart = context.text("chart").unwrap_or_default();
    let mut practice = context.writing()?;
    let face = find(&practice, &chart)?;
    let entries = practice.chart(&face.tag)?;
    record_opening(context, &mut practice, &face, &entries)?;
    let readable: Vec<Readable<'_>> = entries
        .iter()
        .filter_map(|entry| Some(Readable { seq: entry.leaf.seq, record: entry.record.as_ref()? }))
        .collect();
    let not_opened = entries.len() - readable.len();
    let measures = chosen(context, gather(&readable))?;
    let lines = thresholds(&measures, &practice.rulebook()?.tables.trade);
    if context.json() {
        context.say_json(&output(&face.chart_no, not_opened, &measures, &lines))?;
        return Ok(Exit::Done);
    }
    let width = context.number("width").and_then(|n| usize::try_from(n).ok()).unwrap_or_else(width);
    let strokes = if context.flag("box") && shows_boxes() { BOXES } else { PLAIN };
    let mut out = vec![format!("Chart {}: {}, measures", face.chart_no, shown(&face.identity.legal_name))];
    if not_opened > 0 {
        out.push(format!("{not_opened} entries are sealed to your role: their measures are not here."));
    }
    out.push(page(&measures, &lines, width, strokes));
    context.say(&out.join("\n"))?;
    Ok(Exit::Done)
}

/// Only the kind asked for, if one was.
fn chosen(context: &Context<'_>, measures: Measures) -> Outcome<Measures> {
    let Some(kind) = context.text("kind") else { return Ok(measures) };
    let mut there: Vec<String> = measures.series.iter().map(|series| series.key.what.word()).collect();
    there.sort();
    there.dedup();
    if there.contains(&kind) {
        return Ok(measures.only(&kind));
    }
    let next = match there.is_empty() {
        true => "There is no measure at all that you may read in this chart.".to_string(),
        false => format!("Ask for one of: {}.", there.join(", ")),
    };
    let what = format!("There is no measure of the kind \"{}\" in this chart.", shown(&kind));
    Err(Trouble::new(
        Kind::NotFound,
        what,
        "Nothing was changed but the entry that the chart was opened.",
        next,
    ))
}

/// Whether the terminal says that it shows more than ASCII.
fn shows_boxes() -> bool {
    let said = ["LC_ALL", "LC_CTYPE", "LANG"]
        .into_iter()
        .find_map(|name| std::env::var(name).ok().filter(|value| !value.is_empty()));
    said.is_some_and(|said| {
        let said = said.to_ascii_lowercase();
        said.contains("utf-8") || said.contains("utf8")
    })
}

/// Picture, tables and thresholds as text.
pub fn page(measures: &Measures, lines: &[ThresholdLine], width: usize, strokes: Strokes) -> String {
    if measures.series.is_empty() {
        return "No measure that you may read is in this chart.".to_string();
    }
    let mut out = vec![String::new(), picture(measures, width, strokes)];
    out.push(value_tables(measures, width));
    if !measures.marks.is_empty() {
        let mut table = Table::new(["Day", "What else happened", "In words", "No."]);
        for mark in &measures.marks {
            let entry = mark.entry.to_string();
            table.row([plain_date(mark.day), mark.kind.words().to_string(), shown(&mark.words), entry]);
        }
        out.push(table.render(width));
        out.push(String::new());
    }
    out.push(threshold_words(measures, lines, width));
    out.join("\n")
}

/// One table for each panel, and for what no panel shows.
fn value_tables(measures: &Measures, width: usize) -> String {
    let mut groups: Vec<Vec<usize>> = panels(measures).into_iter().map(|panel| panel.series).collect();
    groups.extend(not_drawn(measures).chunks(4).map(<[usize]>::to_vec));
    let mut out = vec!["Before > after treatment; - where nothing is recorded.".to_string(), String::new()];
    for group in groups {
        let series: Vec<_> = group.iter().map(|at| &measures.series[*at]).collect();
        for one in &series {
            let mut words = format!("{} = {}, {}", one.code, one.key.words(), one.key.unit_words());
            if !one.other_methods.is_empty() {
                words.push_str(&format!(
                    " (measured in another way in {}: not compared)",
                    one.other_methods.join(", ")
                ));
            }
            out.push(indented(&words, width, 0));
        }
        let heads = ["Day".to_string(), "Visit".to_string()];
        let mut table = Table::new(heads.into_iter().chain(series.iter().map(|one| one.code.clone())));
        for (index, row) in measures.rows.iter().enumerate() {
            let cells: Vec<String> =
                series.iter().map(|one| words(&cell(measures, one, index), value_text)).collect();
            if cells.iter().all(String::is_empty) {
                continue;
            }
            let dashed = cells.into_iter().map(|cell| if cell.is_empty() { "-".to_string() } else { cell });
            let head = [plain_date(row.day), visit_words(row)];
            table.row(head.into_iter().chain(dashed));
        }
        out.push(table.render(width));
        out.push(String::new());
    }
    out.join("\n")
}

fn visit_words(row: &Row) -> String {
    match (row.visit, row.sort) {
        (Some(visit), Some(sort)) => format!("{visit} {}", sort.word()),
        (Some(visit), None) => visit.to_string(),
        (None, _) => "none".to_string(),
    }
}

fn value_text(value: &Value) -> String {
    let mut out = shown(&value.text);
    if !value.remark.is_empty() {
        out.push_str(&format!(" ({})", shown(&value.remark)));
    }
    if let Some(by) = value.struck {
        out = format!("[{out} {}]", struck_words(by));
    }
    if let Some(by) = value.added {
        out.push_str(&format!(" (by correction no. {})", by.by));
    }
    out
}

fn threshold_words(measures: &Measures, lines: &[ThresholdLine], width: usize) -> String {
    let mut out = vec![indented(
        "Changes beside published thresholds. Each is named; they differ, and none is the last word. The chart does \
         not decide whether the patient belongs to the people a figure was found in.",
        width,
        0,
    )];
    if lines.is_empty() {
        out.push("No threshold is published for what was measured.".to_string());
    }
    let told = instruments(lines);
    for (number, (instrument, thresholds)) in told.iter().enumerate() {
        for (index, threshold) in thresholds.iter().enumerate() {
            let people =
                threshold.population.as_ref().map(|p| format!(" Found in: {p}.")).unwrap_or_default();
            let words = format!(
                "{} {instrument}, {}: {}.{people} {}.",
                name(number, index),
                figure(threshold),
                threshold.kind,
                threshold.source.citation.as_deref().unwrap_or_default()
            );
            out.push(indented(&words, width, 2));
        }
    }
    for line in lines.iter().filter(|line| line.not_judged.is_none()) {
        let number = told.iter().position(|(instrument, _)| *instrument == line.instrument).unwrap_or(0);
        out.push(String::new());
        out.push(indented(&format!("{}: {}", line.codes.join(" + "), line.what), width, 0));
        let heads = ["From".to_string(), "To".to_string(), "Values".to_string(), "Change".to_string()];
        let columns = (0..line.thresholds.len()).map(|index| name(number, index));
        let mut table = Table::new(heads.into_iter().chain(columns));
        for change in &line.changes {
            table.row(change_row(measures, line, change));
        }
        out.push(table.render(width));
    }
    out.push(String::new());
    for line in lines {
        if let Some(why) = &line.not_judged {
            let words = format!("Not judged: {}: {}: {why}.", line.codes.join(" + "), line.what);
            out.push(indented(&words, width, 0));
        }
    }
    out.join("\n")
}

fn change_row(measures: &Measures, line: &ThresholdLine, change: &Change) -> Vec<String> {
    let visit = measures.rows.get(change.from.row).and_then(|row| row.visit);
    let to = match (change.span, visit) {
        (SpanKind::FirstToLast, _) => format!("{} (first to last)", plain_date(change.to.day)),
        (SpanKind::WithinVisit, Some(visit)) => format!("after, visit {visit}"),
        (SpanKind::WithinVisit, None) => "after".to_string(),
    };
    let way = match change.way {
        Way::Same => "none".to_string(),
        way => format!("{} {} {}", change.size, line.unit, way.word()),
    };
    let values = format!("{} > {}", change.from.text, change.to.text);
    let met = change.met.iter().map(|met| match met {
        Met::Met => "met".to_string(),
        Met::NotMet => "not met".to_string(),
        Met::NotJudged(why) => format!("can't be judged: {why}"),
    });
    [plain_date(change.from.day), to, values, way].into_iter().chain(met).collect()
}

fn output(chart: &str, not_opened: usize, measures: &Measures, lines: &[ThresholdLine]) -> MeasuresOutput {
    let marks = measures.marks.iter().map(|mark| MarkOutput {
        kind: mark.kind.word().to_string(),
        day: mark.day.to_string(),
        entry: mark.entry,
        words: mark.words.clone(),
    });
    let series = measures.series.iter().map(|series| SeriesOutput {
        code: series.code.clone(),
        kind: series.key.what.word(),
        what: series.key.words(),
        source: series.key.source.word().to_string(),
        unit: series.key.unit_words(),
        other_methods: series.other_methods.clone(),
        points: series.points.iter().map(point_output).collect(),
    });
    let changes = lines.iter().map(|line| ChangesOutput {
        instrument: line.instrument.clone(),
        series: line.codes.clone(),
        not_judged: line.not_judged.clone(),
        thresholds: line.thresholds.iter().map(threshold_output).collect(),
        changes: line.changes.iter().map(|change| change_output(measures, line, change)).collect(),
    });
    MeasuresOutput {
        chart: chart.to_string(),
        not_opened,
        series: series.collect(),
        marks: marks.collect(),
        changes: changes.collect(),
    }
}

fn threshold_output(threshold: &Threshold) -> ThresholdOutput {
    ThresholdOutput {
        id: threshold.id.clone(),
        figure: figure(threshold),
        population: threshold.population.clone(),
        kind: threshold.kind.clone(),
        citation: threshold.source.citation.clone(),
    }
}

fn point_output(point: &crate::record::measures::Point) -> PointOutput {
    let reading = &point.reading;
    PointOutput {
        entry: point.entry,
        place: reading.place.clone(),
        visit: reading.visit,
        at: reading.at,
        own_time: reading.own_time,
        phase: reading.phase.map(|phase| phase.word().to_string()),
        value: reading.text.clone(),
        typed: reading.typed.clone(),
        unusual_because: reading.unusual_because.clone(),
        added: point.added,
        struck: point.struck,
    }
}

fn change_output(measures: &Measures, line: &ThresholdLine, change: &Change) -> ChangeOutput {
    let within = change.span == SpanKind::WithinVisit;
    let met = change.met.iter().zip(&line.thresholds).map(|(met, threshold)| MetOutput {
        threshold: threshold.id.clone(),
        met: match met {
            Met::Met => Some(true),
            Met::NotMet => Some(false),
            Met::NotJudged(_) => None,
        },
        because: match met {
            Met::NotJudged(why) => Some(why.clone()),
            _ => None,
        },
    });
    ChangeOutput {
        span: change.span,
        visit: measures.rows.get(change.from.row).and_then(|row| row.visit).filter(|_| within),
        from_day: change.from.day.to_string(),
        from: change.from.text.clone(),
        to_day: change.to.day.to_string(),
        to: change.to.text.clone(),
        size: change.size.to_string(),
        way: change.way,
        met: met.collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::measures::tests::{chart, gathered};
    use crate::record::tables::Tables;

    #[test]
    fn the_page_tells_values_marks_and_thresholds() {
        let measures = gathered(&chart());
        let lines = thresholds(&measures, &Tables::shipped().unwrap().trade);
        let text = page(&measures, &lines, 80, PLAIN);
        assert!(text.is_ascii());
        for words in
            ["34.0 > 36.0", "struck by correction", "consent withdrawn", "Kropmans", "not met", "8 mm more"]
        {
            assert!(text.contains(words), "{words}\n{text}");
        }
        let only = measures.only("pain-now");
        assert_eq!(only.series.len(), 1);
        assert!(!page(&only, &[], 80, PLAIN).contains("Mouth opening"));
    }

    #[test]
    fn what_is_printed_for_scripts_keeps_struck_values() {
        let measures = gathered(&chart());
        let lines = thresholds(&measures, &Tables::shipped().unwrap().trade);
        let value = serde_json::to_value(output("PM-0112", 0, &measures, &lines)).unwrap();
        let points = value["series"][0]["points"].as_array().unwrap();
        assert!(points.iter().any(|point| point["value"] == "24.0" && point["struck"]["by"] == 21));
        assert_eq!(value["changes"][0]["changes"][0]["met"][0]["met"], false);
    }
}

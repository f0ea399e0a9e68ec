//! The measures of a chart as a picture: black lines on white, told apart by shape and not by
//! colour. Days stand side by side at equal distance with the days between them written out;
//! panels stand one above the other over the same days. Nothing is smoothed and no value is drawn
//! that the record does not hold.

use super::html::esc;
use crate::record::kinds::screening::Phase;
use crate::record::measures::panels::{
    Column, JOINED_DAYS, Join, Panel, columns, joins, lanes, panels, shows,
};
use crate::record::measures::{Mark, MarkKind, Measures, Point, Series};
use crate::record::moment::plain_date;
use std::fmt::Write;

/// Width of the picture in its own units; the page sets how wide that is on paper.
const WIDTH: i64 = 680;
/// Room on the left for scales and names.
const LEFT: i64 = 122;
/// Days in one strip: more would stand too close to read.
const DAYS_IN_STRIP: usize = 14;
/// Panels in one strip, so that a strip fits a sheet of paper.
const PANELS_IN_STRIP: usize = 4;
/// Height of the drawn part of a panel.
const PANEL: i64 = 104;
/// Height of the title of a panel.
const TITLE: i64 = 20;
/// Height of a lane of marks.
const LANE: i64 = 15;
/// The letters of the picture.
const FONT: &str = "DejaVu Sans, Liberation Sans, Arial, sans-serif";
/// Lines: one for each series of a panel.
const DASHES: [&str; 4] = ["none", "6 3", "2 2", "9 3 2 3"];

/// The picture, strip by strip; empty when there is nothing to draw.
pub fn picture(measures: &Measures) -> String {
    let (all_columns, all_panels) = (columns(measures), panels(measures));
    if all_columns.is_empty() || all_panels.is_empty() {
        return String::new();
    }
    let strips = all_columns.len().div_ceil(DAYS_IN_STRIP);
    let days = all_columns.len().div_ceil(strips);
    let mut out = String::new();
    let mut number = 0;
    for (index, shown) in all_columns.chunks(days).enumerate() {
        let there: Vec<Panel> =
            all_panels.iter().filter(|panel| shows(measures, panel, shown)).cloned().collect();
        let sheets = there.len().div_ceil(PANELS_IN_STRIP).max(1);
        for panels in there.chunks(there.len().div_ceil(sheets).max(1)) {
            number += 1;
            let strip = Strip { measures, all: &all_columns, shown, panels, number };
            out.push_str(&strip.figure((index + 1, strips)));
        }
        if there.is_empty() {
            number += 1;
            let strip = Strip { measures, all: &all_columns, shown, panels: &[], number };
            out.push_str(&strip.figure((index + 1, strips)));
        }
    }
    out
}

/// How to read the picture, in words.
pub fn legend() -> String {
    format!(
        "<p>How to read it: each column is a day, its date beneath; the number of days since the column \
         before stands between them, because columns stand at equal distance. In a column, left is before \
         treatment, middle is during or not said, right is after. Lines join what was measured in one series: \
         thick within a day, thin from one day to the next. No line is drawn over more than {JOINED_DAYS} \
         days, nor over a day on which that was not measured. A crossed-out sign is a value struck by a \
         correction. A dotted upright line is a withdrawal, a dashed one \
         the beginning of a reaction. The letters are those of the tables. A scale need not begin at 0: its numbers stand at its \
         left. A panel without a value on the days of a strip is left out there.</p>\n"
    )
}

/// Some days, with some panels above them.
struct Strip<'a> {
    measures: &'a Measures,
    all: &'a [Column],
    shown: &'a [Column],
    panels: &'a [Panel],
    number: usize,
}

impl Strip<'_> {
    fn figure(&self, (part, parts): (usize, usize)) -> String {
        let lanes = lanes(self.measures);
        let mut y = 6;
        let mut body = String::new();
        let mut tops = Vec::new();
        for panel in self.panels {
            tops.push(y + TITLE);
            body.push_str(&self.panel(panel, y));
            y += TITLE + PANEL + self.key_height(panel) + 6;
        }
        body.push_str(&self.dates(y));
        y += 44;
        body.push_str(&self.lanes(&lanes, y));
        let height = y + LANE * i64::try_from(lanes.len()).unwrap_or(0) + 6;
        let rules = self.rules(&tops);
        let (title, words) = (self.title(part, parts), self.words());
        let id = self.number;
        format!(
            "<figure class=\"picture\"><svg viewBox=\"0 0 {WIDTH} {height}\" width=\"100%\" role=\"img\" \
             aria-labelledby=\"p{id}t p{id}d\" font-family=\"{FONT}\" font-size=\"10\" fill=\"#000\" \
             stroke=\"none\">\n<title id=\"p{id}t\">{}</title>\n<desc id=\"p{id}d\">{}</desc>\n{rules}{body}\
             </svg></figure>\n",
            esc(&title),
            esc(&words),
        )
    }

    fn title(&self, part: usize, parts: usize) -> String {
        let day = |column: Option<&Column>| column.map(|c| plain_date(c.day)).unwrap_or_default();
        let (first, last) = (day(self.shown.first()), day(self.shown.last()));
        let which = if parts > 1 { format!(", part {part} of {parts}") } else { String::new() };
        format!("Measures over time, {first} to {last}{which}")
    }

    /// What the picture shows, for whoever can't see it; the values themselves stand in the tables.
    fn words(&self) -> String {
        let titles: Vec<&str> = self.panels.iter().map(|panel| panel.title.as_str()).collect();
        format!(
            "Panels, top to bottom: {}. Every value, and every mark beneath the panels, stands in the tables \
             that follow.",
            titles.join("; ")
        )
    }

    /// Distance between columns.
    fn step(&self) -> i64 {
        let count = i64::try_from(self.shown.len().max(1)).unwrap_or(1);
        ((WIDTH - LEFT - 10) / count).min(92)
    }

    /// Middle of a column.
    fn middle(&self, at: usize) -> i64 {
        LEFT + self.step() / 2 + self.step() * i64::try_from(at).unwrap_or(0)
    }

    fn right(&self) -> i64 {
        LEFT + self.step() * i64::try_from(self.shown.len()).unwrap_or(1)
    }

    fn panel(&self, panel: &Panel, y: i64) -> String {
        let (top, bottom) = (y + TITLE, y + TITLE + PANEL);
        let mut out = format!(
            "<text x=\"0\" y=\"{}\" font-size=\"11.5\" font-weight=\"bold\">{}</text>\n",
            y + 12,
            esc(&panel.title)
        );
        let mut value = panel.low;
        while value <= panel.high {
            let at = line_y(panel, top, value);
            let width = if value == panel.low { "0.9" } else { "0.3" };
            let _ = writeln!(
                out,
                "<path d=\"M{LEFT} {at}H{}\" stroke=\"#000\" stroke-width=\"{width}\" fill=\"none\" />\
                 <text x=\"{}\" y=\"{}\" text-anchor=\"end\">{value}</text>",
                self.right(),
                LEFT - 5,
                at + 3
            );
            value += panel.step;
        }
        let _ = writeln!(
            out,
            "<path d=\"M{LEFT} {top}V{bottom}\" stroke=\"#000\" stroke-width=\"0.9\" fill=\"none\" />"
        );
        for (style, at) in panel.series.iter().enumerate() {
            let series = &self.measures.series[*at];
            out.push_str(&self.lines(panel, series, style, top));
            out.push_str(&self.signs(panel, series, style, top));
        }
        out.push_str(&self.key(panel, bottom));
        out
    }

    /// The lines of one series.
    fn lines(&self, panel: &Panel, series: &Series, style: usize, top: i64) -> String {
        let mut out = String::new();
        for Join { from, to, within } in joins(series, self.all) {
            let place = |at: usize| series.points.get(at).and_then(|p| self.place(panel, p, style, top));
            let (Some((x1, y1)), Some((x2, y2))) = (place(from), place(to)) else { continue };
            let (width, dash) = (if within { "1.8" } else { "0.8" }, DASHES[style % DASHES.len()]);
            let _ = writeln!(
                out,
                "<path d=\"M{x1} {y1}L{x2} {y2}\" stroke=\"#000\" stroke-width=\"{width}\" \
                 stroke-dasharray=\"{dash}\" fill=\"none\" />"
            );
        }
        out
    }

    /// The signs of one series, each with its value and source in words.
    fn signs(&self, panel: &Panel, series: &Series, style: usize, top: i64) -> String {
        let mut out = String::new();
        for point in &series.points {
            let Some((x, y)) = self.place(panel, point, style, top) else { continue };
            let cross = if point.stands() {
                String::new()
            } else {
                format!(
                    "<path d=\"M{} {}l12 12m0 -12l-12 12\" stroke=\"#000\" stroke-width=\"1.2\" />",
                    x - 6,
                    y - 6
                )
            };
            let _ = writeln!(
                out,
                "<g class=\"point\"><title>{}</title>{}{cross}</g>",
                esc(&point_words(series, point)),
                sign(style, x, y)
            );
        }
        out
    }

    /// Where a measure stands; none when its day is not in this strip or it has no number.
    fn place(&self, panel: &Panel, point: &Point, style: usize, top: i64) -> Option<(i64, i64)> {
        let at = self.shown.iter().position(|column| column.day == point.day())?;
        let value = point.reading.value?;
        // Series of one panel stand beside each other, so that equal values don't hide each other.
        let aside = (2 * i64::try_from(style).ok()? - 3) * self.step().min(60) / 40;
        let phase = (i64::from(point.rank()) - 1) * self.step().min(60) * 3 / 10;
        let down = PANEL - panel.along(value) * PANEL / 1000;
        Some((self.middle(at) + phase + aside, top + down))
    }

    fn key_height(&self, panel: &Panel) -> i64 {
        14 * i64::try_from(panel.series.len()).unwrap_or(1) + 4
    }

    /// Which sign is which series, in words beneath the panel.
    fn key(&self, panel: &Panel, bottom: i64) -> String {
        let mut out = String::new();
        for (style, at) in panel.series.iter().enumerate() {
            let series = &self.measures.series[*at];
            let y = bottom + 12 + 14 * i64::try_from(style).unwrap_or(0);
            let _ = writeln!(
                out,
                "<path d=\"M{} {y}h36\" stroke=\"#000\" stroke-width=\"1.2\" stroke-dasharray=\"{}\" fill=\"none\" />\
                 {}<text x=\"{}\" y=\"{}\">{}</text>",
                LEFT,
                DASHES[style % DASHES.len()],
                sign(style, LEFT + 18, y),
                LEFT + 44,
                y + 4,
                esc(&format!("{}: {}", series.code, series.key.words()))
            );
        }
        out
    }

    fn dates(&self, y: i64) -> String {
        let mut out = String::new();
        for (at, column) in self.shown.iter().enumerate() {
            let (x, day) = (self.middle(at), plain_date(column.day));
            let (date, year) = day.split_at(day.len().saturating_sub(5));
            let size = if self.step() < 44 { "9" } else { "10" };
            let _ = writeln!(
                out,
                "<text x=\"{x}\" y=\"{}\" text-anchor=\"middle\" font-size=\"{size}\">{date}</text>\
                 <text x=\"{x}\" y=\"{}\" text-anchor=\"middle\" font-size=\"{size}\">{}</text>",
                y + 10,
                y + 21,
                year.trim()
            );
            if let Some(since) = column.since {
                let edge = x - self.step() / 2;
                let _ = writeln!(
                    out,
                    "<text x=\"{edge}\" y=\"{}\" text-anchor=\"middle\" font-size=\"8\">{}</text>",
                    y + 34,
                    gap_words(since)
                );
            }
        }
        out
    }

    /// Thin upright lines: through each column with a withdrawal or the beginning of a reaction.
    fn rules(&self, tops: &[i64]) -> String {
        let mut out = String::new();
        for (at, column) in self.shown.iter().enumerate() {
            let of_day = |kind| self.measures.marks.iter().any(|m| m.day == column.day && m.kind == kind);
            let dash = match (of_day(MarkKind::Withdrawn), of_day(MarkKind::ReactionOpened)) {
                (true, _) => "1 3",
                (false, true) => "7 4",
                (false, false) => continue,
            };
            for top in tops {
                let _ = writeln!(
                    out,
                    "<path d=\"M{} {top}v{PANEL}\" stroke=\"#000\" stroke-width=\"1\" stroke-dasharray=\"{dash}\" \
                     fill=\"none\" />",
                    self.middle(at)
                );
            }
        }
        out
    }

    /// The marks, a lane for each sort with its name in words.
    fn lanes(&self, lanes: &[MarkKind], y: i64) -> String {
        let mut out = String::new();
        for (index, kind) in lanes.iter().enumerate() {
            let y = y + LANE * i64::try_from(index).unwrap_or(0) + LANE / 2;
            let _ = writeln!(
                out,
                "<text x=\"0\" y=\"{}\">{}</text><path d=\"M{LEFT} {y}H{}\" stroke=\"#000\" stroke-width=\"0.3\" />",
                y + 4,
                kind.words(),
                self.right()
            );
            for (at, column) in self.shown.iter().enumerate() {
                let of_day: Vec<&Mark> = self
                    .measures
                    .marks
                    .iter()
                    .filter(|mark| mark.kind == *kind && mark.day == column.day)
                    .collect();
                if of_day.is_empty() {
                    continue;
                }
                let told: Vec<String> =
                    of_day.iter().map(|mark| format!("no. {} {}", mark.entry, mark.words)).collect();
                let many = if of_day.len() > 1 { of_day.len().to_string() } else { String::new() };
                let _ = writeln!(
                    out,
                    "<g class=\"mark\"><title>{}</title>{}<text x=\"{}\" y=\"{}\" font-size=\"9\">{many}</text></g>",
                    esc(&format!("{}, {}: {}", kind.words(), plain_date(column.day), told.join("; "))),
                    glyph(*kind, self.middle(at), y),
                    self.middle(at) + 8,
                    y + 4,
                );
            }
        }
        out
    }
}

/// Days in words, with a break sign where no line is drawn over them.
fn gap_words(days: i64) -> String {
    let unit = if days == 1 { "day" } else { "days" };
    if days > JOINED_DAYS { format!("// {days} {unit}") } else { format!("{days} {unit}") }
}

fn line_y(panel: &Panel, top: i64, value: i64) -> i64 {
    let along = panel.along(crate::record::decimal::Decimal::from(value));
    top + PANEL - along * PANEL / 1000
}

/// `A 34 mm, before, 03 Oct 2022 10:06, no. 12, measure 1`.
fn point_words(series: &Series, point: &Point) -> String {
    let reading = &point.reading;
    let phase = match reading.phase {
        Some(Phase::Before) => "before",
        Some(Phase::During) => "during",
        Some(Phase::After) => "after",
        None => "when in the visit is not said",
    };
    let when = if reading.own_time { reading.at.plain() } else { plain_date(point.day()) };
    let struck = match point.struck {
        Some(by) if by.misfiled => format!(", belongs to another chart (no. {})", by.by),
        Some(by) => format!(", struck by correction no. {}", by.by),
        None => String::new(),
    };
    format!(
        "{} {} {}, {phase}, {when}, no. {}, {}{struck}",
        series.code,
        reading.text,
        series.key.unit_words(),
        point.entry,
        reading.place
    )
}

/// The sign of a series: filled circle, open square, filled triangle, open diamond.
fn sign(style: usize, x: i64, y: i64) -> String {
    match style % 4 {
        0 => format!("<circle cx=\"{x}\" cy=\"{y}\" r=\"3.6\" />"),
        1 => format!(
            "<rect x=\"{}\" y=\"{}\" width=\"7\" height=\"7\" fill=\"#fff\" stroke=\"#000\" stroke-width=\"1.3\" />",
            tenths(x * 10 - 35),
            tenths(y * 10 - 35)
        ),
        2 => format!("<path d=\"M{x} {}l4 8h-8z\" />", y - 5),
        _ => format!(
            "<path d=\"M{x} {}l5 5l-5 5l-5 -5z\" fill=\"#fff\" stroke=\"#000\" stroke-width=\"1.3\" />",
            y - 5
        ),
    }
}

/// A number of tenths as a decimal.
fn tenths(number: i64) -> String {
    format!("{}{}.{}", if number < 0 { "-" } else { "" }, number.abs() / 10, number.abs() % 10)
}

/// The sign of a mark.
fn glyph(kind: MarkKind, x: i64, y: i64) -> String {
    let line = |d: String| format!("<path d=\"{d}\" stroke=\"#000\" stroke-width=\"1.6\" fill=\"none\" />");
    match kind {
        MarkKind::ConsentGiven => line(format!("M{} {y}l3 4l6 -8", x - 4)),
        MarkKind::ConsentNarrowed => line(format!("M{} {}l4 4l4 -4", x - 4, y - 2)),
        MarkKind::ConsentEnded => line(format!("M{x} {}v10", y - 5)),
        MarkKind::Refused => line(format!("M{} {y}h8", x - 4)),
        MarkKind::Withdrawn => line(format!("M{} {}l8 8m0 -8l-8 8", x - 4, y - 4)),
        MarkKind::Paused => line(format!("M{} {}v8m4 -8v8", x - 2, y - 4)),
        MarkKind::ReactionOpened => format!("<path d=\"M{x} {}l5 9h-10z\" />", y - 5),
        MarkKind::ReactionClosed => line(format!("M{x} {}l4 8h-8z", y - 5)),
        MarkKind::Corrected => line(format!("M{} {}l-3 3l3 3m6 -6l3 3l-3 3", x - 2, y - 3)),
        MarkKind::ReExamined => format!(
            "<circle cx=\"{x}\" cy=\"{y}\" r=\"4\" fill=\"none\" stroke=\"#000\" stroke-width=\"1.4\" />\
             <circle cx=\"{x}\" cy=\"{y}\" r=\"1.4\" />"
        ),
    }
}

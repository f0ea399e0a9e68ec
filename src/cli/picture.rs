//! The measures of a chart as a picture of plain characters, the same panels and marks as the
//! printed one. Each sign is the letter of its series.

use super::table::indented;
use crate::record::measures::panels::{Column, JOINED_DAYS, Panel, columns, joins, lanes, panels, shows};
use crate::record::measures::{MarkKind, Measures, Point, Series};
use crate::record::moment::plain_date;

/// Characters on the left for scales and names.
const LEFT: usize = 20;
/// Characters of one day.
const DAY: usize = 9;

/// The characters lines are made of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Strokes {
    /// A line of the scale.
    pub level: char,
    /// The left edge.
    pub edge: char,
    /// From before to after, level.
    pub across: char,
    /// From before to after, rising or falling.
    pub upright: char,
}

/// What every screen and printer has.
pub const PLAIN: Strokes = Strokes { level: '.', edge: '|', across: '-', upright: ':' };

/// Box characters, for a terminal that shows them.
pub const BOXES: Strokes =
    Strokes { level: '\u{b7}', edge: '\u{2502}', across: '\u{2500}', upright: '\u{250a}' };

/// The picture, strip by strip; empty when there is nothing to draw.
pub fn picture(measures: &Measures, width: usize, strokes: Strokes) -> String {
    let (all_columns, all_panels) = (columns(measures), panels(measures));
    if all_columns.is_empty() || all_panels.is_empty() {
        return String::new();
    }
    let most = (width.saturating_sub(LEFT + 1) / DAY).max(1);
    let strips = all_columns.len().div_ceil(most);
    let mut lines: Vec<String> = Vec::new();
    for shown in all_columns.chunks(all_columns.len().div_ceil(strips)) {
        let strip = Strip { measures, all: &all_columns, shown, strokes };
        for panel in all_panels.iter().filter(|panel| shows(measures, panel, shown)) {
            lines.extend(strip.panel(panel));
        }
        lines.extend(strip.dates());
        lines.extend(strip.lanes(&lanes(measures)));
        lines.push(String::new());
    }
    lines.push(indented(&legend(), width, 0));
    lines.join("\n")
}

fn legend() -> String {
    format!(
        "Each column is a day; columns stand at equal distance, and the days since the column before are written \
         out (// more than {JOINED_DAYS}). Left in a column: before treatment; middle: during, or not said; right: \
         after. A small letter: struck by a correction. * more than one value at this place: see the table. A value \
         stands at the nearest line of its scale; a scale need not begin at 0. A \
         panel without a value on the days of a strip is left out there."
    )
}

struct Strip<'a> {
    measures: &'a Measures,
    all: &'a [Column],
    shown: &'a [Column],
    strokes: Strokes,
}

impl Strip<'_> {
    fn wide(&self) -> usize {
        self.shown.len() * DAY
    }

    fn panel(&self, panel: &Panel) -> Vec<String> {
        let steps = usize::try_from((panel.high - panel.low) / panel.step.max(1)).unwrap_or(1).max(1);
        let rows = steps * 2 + 1;
        let mut canvas = Canvas::new(rows, self.wide());
        for level in (0..rows).step_by(2) {
            for at in (0..self.wide()).step_by(3) {
                canvas.put(level, at, self.strokes.level);
            }
        }
        for at in &panel.series {
            self.lines(&mut canvas, panel, &self.measures.series[*at]);
        }
        for at in &panel.series {
            let series = &self.measures.series[*at];
            for point in &series.points {
                if let Some((row, column)) = self.place(&canvas, panel, point) {
                    canvas.sign(row, column, letter(series, point));
                }
            }
        }
        let mut lines = vec![panel.title.clone()];
        for at in &panel.series {
            let series = &self.measures.series[*at];
            lines.push(format!("  {} = {}", series.code, super::table::shown(&series.key.words())));
        }
        for (row, drawn) in canvas.rows.iter().enumerate().rev() {
            let value = panel.low + panel.step * i64::try_from(row / 2).unwrap_or(0);
            let label = if row % 2 == 0 { value.to_string() } else { String::new() };
            let drawn: String = drawn.iter().collect();
            lines.push(
                format!("{label:>width$} {}{drawn}", self.strokes.edge, width = LEFT - 2)
                    .trim_end()
                    .to_string(),
            );
        }
        lines
    }

    /// From before to after within a day: level, or by upright strokes between the two.
    fn lines(&self, canvas: &mut Canvas, panel: &Panel, series: &Series) {
        for join in joins(series, self.all).into_iter().filter(|join| join.within) {
            let place = |at: usize| series.points.get(at).and_then(|p| self.place(canvas, panel, p));
            let (Some((row, from)), Some((other, to))) = (place(join.from), place(join.to)) else { continue };
            if row == other {
                for at in from + 1..to {
                    canvas.put(row, at, self.strokes.across);
                }
            }
            for between in row.min(other) + 1..row.max(other) {
                canvas.put(between, usize::midpoint(from, to), self.strokes.upright);
            }
        }
    }

    fn place(&self, canvas: &Canvas, panel: &Panel, point: &Point) -> Option<(usize, usize)> {
        let day = self.shown.iter().position(|column| column.day == point.day())?;
        let value = point.reading.value?;
        let along = usize::try_from(panel.along(value)).ok()?;
        let row = (along * (canvas.rows.len() - 1) + 500) / 1000;
        Some((row, day * DAY + 1 + 3 * usize::from(point.rank())))
    }

    fn dates(&self) -> Vec<String> {
        let (mut dates, mut years, mut gaps) = (left(""), left(""), left("days between"));
        for column in self.shown {
            let day = plain_date(column.day);
            let (date, year) = day.split_at(day.len().saturating_sub(5));
            dates.push_str(&format!("{date:^DAY$}"));
            years.push_str(&format!("{:^DAY$}", year.trim()));
            let gap = column
                .since
                .map(|days| if days > JOINED_DAYS { format!("//{days}") } else { days.to_string() });
            gaps.push_str(&format!("{:<DAY$}", gap.unwrap_or_default()));
        }
        [dates, years, gaps].into_iter().map(|line| line.trim_end().to_string()).collect()
    }

    fn lanes(&self, lanes: &[MarkKind]) -> Vec<String> {
        let mut lines = Vec::new();
        for kind in lanes {
            let mut line = left(kind.words());
            for column in self.shown {
                let marks = &self.measures.marks;
                let many = marks.iter().filter(|m| m.kind == *kind && m.day == column.day).count();
                let said = match many {
                    0 => ".".to_string(),
                    1 => "X".to_string(),
                    more => format!("X {more}"),
                };
                line.push_str(&format!("{said:^DAY$}"));
            }
            lines.push(line.trim_end().to_string());
        }
        lines
    }
}

fn left(words: &str) -> String {
    format!("{words:<LEFT$}")
}

/// The letter of the series; small where the value is struck.
fn letter(series: &Series, point: &Point) -> char {
    let letter = series.code.chars().next().unwrap_or('?');
    if point.stands() { letter } else { letter.to_ascii_lowercase() }
}

/// Characters by row, lowest first.
struct Canvas {
    rows: Vec<Vec<char>>,
}

impl Canvas {
    fn new(rows: usize, wide: usize) -> Canvas {
        Canvas { rows: vec![vec![' '; wide]; rows] }
    }

    fn put(&mut self, row: usize, at: usize, stroke: char) {
        if let Some(place) = self.rows.get_mut(row).and_then(|row| row.get_mut(at)) {
            *place = stroke;
        }
    }

    /// A sign; two of different series at one place become `*`.
    fn sign(&mut self, row: usize, at: usize, letter: char) {
        if let Some(place) = self.rows.get_mut(row).and_then(|row| row.get_mut(at)) {
            let taken = (place.is_ascii_alphabetic() || *place == '*') && *place != letter;
            *place = if taken { '*' } else { letter };
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::measures::tests::{chart, gathered};

    #[test]
    fn the_picture_is_plain_and_keeps_its_width() {
        let text = picture(&gathered(&chart()), 80, PLAIN);
        assert!(text.is_ascii());
        assert!(text.lines().all(|line| line.len() <= 80), "{text}");
        for words in
            ["Mouth opening, mm", "A = mouth opening unassisted", "03 Oct", "2022", "consent withdrawn"]
        {
            assert!(text.contains(words), "{words}\n{text}");
        }
        assert!(text.lines().any(|line| line.contains('|') && line.contains('a')), "the struck 24\n{text}");
        assert_eq!(text, picture(&gathered(&chart()), 80, PLAIN));
    }

    #[test]
    fn a_narrow_screen_gets_more_strips() {
        let days = |width| picture(&gathered(&chart()), width, PLAIN).matches("Mouth opening, mm").count();
        // The third strip holds the day of the correction alone, and so no panel.
        assert_eq!((days(80), days(34)), (1, 2));
    }
}

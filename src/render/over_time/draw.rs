//! The drawing.

use super::super::html::esc;
use super::Say;
use crate::record::calendar::{days_between, days_from};
use crate::record::moment::{Date, plain_date};
use crate::record::over_time::{Column, Course, Group, Lane, month_word};
use std::fmt::Write;

/// Width of the picture in its own units; the page sets how wide that is.
const WIDTH: i64 = 1000;
/// Room on the left for names and scales.
const LEFT: i64 = 204;
/// Room on the right.
const RIGHT: i64 = 14;
/// Height of the drawn part of a strip.
const STRIP: i64 = 52;
/// Space between strips.
const SPACE: i64 = 16;
/// Height of the strip of what was written afterwards: threads above, bars below.
const THREADS: i64 = 64;
/// Height of the bars in it.
const BARS: i64 = 84;
/// Height of an hour.
const HOUR: i64 = 4;
/// Height of a lane of marks.
const LANE: i64 = 19;
/// The letters of the picture.
const FONT: &str = "DejaVu Sans, Liberation Sans, Arial, sans-serif";

/// The picture as SVG. Presentation attributes only, so that it may stand in a page whose policy forbids styles.
pub fn picture(course: &Course, say: &Say<'_>) -> String {
    let sheet = Sheet { course, say };
    let mut y = 24;
    let mut body = String::new();
    let top = y;
    for (at, group) in Group::ALL.iter().enumerate() {
        body.push_str(&sheet.strip(at, *group, y));
        y += STRIP + SPACE;
    }
    body.push_str(&sheet.gaps(y));
    y += LANE + 6;
    let fan = y;
    body.push_str(&sheet.afterwards(y));
    y += THREADS + BARS + SPACE + 6;
    body.push_str(&sheet.hours(y));
    y += 24 * HOUR + SPACE;
    for lane in Lane::ALL {
        body.push_str(&sheet.lane(*lane, y));
        y += LANE;
    }
    let notices = sheet.notices((top, y));
    let axis = sheet.axis((top, y));
    y += 30;
    let title = say("title", &[]);
    let words = sheet.words();
    format!(
        "<svg viewBox=\"0 0 {WIDTH} {y}\" role=\"img\" aria-labelledby=\"over-time-t over-time-d\" font-family=\"{FONT}\" \
         font-size=\"13\" fill=\"#000\" stroke=\"none\">\n<title id=\"over-time-t\">{}</title>\n\
         <desc id=\"over-time-d\">{}</desc>\n<defs><pattern id=\"over-time-h\" width=\"5\" height=\"5\" \
         patternUnits=\"userSpaceOnUse\" patternTransform=\"rotate(45)\"><path d=\"M0 0V5\" stroke=\"#000\" \
         stroke-width=\"3.4\" /></pattern><clipPath id=\"over-time-c\"><path d=\"M{LEFT} {fan}H{}V{}H{LEFT}z\" />\
         </clipPath></defs>\n{axis}{notices}{body}</svg>\n",
        esc(&title),
        esc(&words),
        WIDTH - RIGHT,
        fan + THREADS,
    )
}

struct Sheet<'a> {
    course: &'a Course,
    say: &'a Say<'a>,
}

/// A number of hundredths as a decimal with as few digits as it needs.
fn hundredths(number: i64) -> String {
    let text =
        format!("{}{}.{:02}", if number < 0 { "-" } else { "" }, number.abs() / 100, number.abs() % 100);
    text.trim_end_matches('0').trim_end_matches('.').to_string()
}

/// The next round number: 1, 2, 5, 10, 20 and so on.
fn round_up(most: u32) -> i64 {
    let most = i64::from(most.max(1));
    let mut ten = 1;
    loop {
        if let Some(round) = [1, 2, 5].map(|one| one * ten).into_iter().find(|round| *round >= most) {
            return round;
        }
        ten *= 10;
    }
}

impl Sheet<'_> {
    fn say(&self, key: &str) -> String {
        (self.say)(key, &[])
    }

    /// Width of a column in hundredths of a unit.
    fn wide(&self) -> i64 {
        let count = i64::try_from(self.course.columns.len().max(1)).unwrap_or(1);
        (WIDTH - LEFT - RIGHT) * 100 / count
    }

    /// Left edge of a column in hundredths.
    fn left(&self, column: usize) -> i64 {
        LEFT * 100 + self.wide() * i64::try_from(column).unwrap_or(0)
    }

    fn middle(&self, day: Date) -> i64 {
        self.left(self.course.column_of(day)) + self.wide() / 2
    }

    fn right(&self) -> i64 {
        self.left(self.course.columns.len()) / 100
    }

    /// How much of a column is left white between bars.
    fn between(&self) -> i64 {
        if self.wide() > 600 { self.wide() / 6 } else { 20 }
    }

    fn name(&self, key: &str, y: i64) -> String {
        format!("<text x=\"0\" y=\"{y}\">{}</text>\n", esc(&self.say(key)))
    }

    /// A bar of a column, its top and height in hundredths.
    fn bar(&self, column: usize, (y, height): (i64, i64)) -> String {
        let (x, wide) = (self.left(column) + self.between() / 2, (self.wide() - self.between()).max(60));
        format!(
            "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" />",
            hundredths(x),
            hundredths(y),
            hundredths(wide),
            hundredths(height)
        )
    }

    /// One sort of entries, upwards from its line.
    fn strip(&self, at: usize, group: Group, y: i64) -> String {
        let most = self.course.columns.iter().map(|column| column.groups[at]).max().unwrap_or(0);
        let (scale, foot) = (round_up(most), y + STRIP);
        let mut out = self.name(&format!("strip_{group}"), y + STRIP / 2 + 4);
        let _ = writeln!(
            out,
            "<path d=\"M{LEFT} {y}H{right}\" stroke=\"#000\" stroke-width=\"0.3\" /><path d=\"M{LEFT} {foot}H{right}\" \
             stroke=\"#000\" stroke-width=\"0.9\" /><text x=\"{tick}\" y=\"{}\" text-anchor=\"end\" font-size=\"11\">{scale}\
             </text><text x=\"{tick}\" y=\"{}\" text-anchor=\"end\" font-size=\"11\">0</text>",
            y + 9,
            foot + 1,
            right = self.right(),
            tick = LEFT - 6,
        );
        for (column, counted) in self.course.columns.iter().enumerate() {
            let count = i64::from(counted.groups[at]);
            if count == 0 {
                continue;
            }
            let height = (count * STRIP * 100 / scale).max(150);
            out.push_str(&self.bar(column, (foot * 100 - height, height)));
        }
        out.push('\n');
        out
    }

    /// Days in a row without an entry.
    fn gaps(&self, y: i64) -> String {
        let mut out = self.name("gaps", y + 9);
        // A number has room only above a bracket as wide as itself.
        for gap in &self.course.gaps {
            let (one, other) = (
                self.left(self.course.column_of(gap.from)),
                self.left(self.course.column_of(gap.until)) + self.wide(),
            );
            let _ = writeln!(
                out,
                "<path d=\"M{} {}v6H{}v-6\" stroke=\"#000\" stroke-width=\"1.1\" fill=\"none\" />",
                hundredths(one),
                y - 4,
                hundredths(other)
            );
            if other - one > 1_800 {
                let _ = writeln!(
                    out,
                    "<text x=\"{}\" y=\"{}\" text-anchor=\"middle\" font-size=\"11\">{}</text>",
                    hundredths((one + other) / 2),
                    y + 14,
                    gap.days()
                );
            }
        }
        out
    }

    /// What is about earlier days: threads from the day it is about, bars hanging on the day it was written.
    fn afterwards(&self, y: i64) -> String {
        let course = self.course;
        // The same scale as what was written on its own day, so that a few corrections look like a few.
        let most = |of: fn(&Column) -> u32| course.columns.iter().map(of).max().unwrap_or(0);
        let usual = most(|column| column.groups[..3].iter().copied().max().unwrap_or(0));
        let scale = round_up(usual.max(most(Column::afterwards)).max(5));
        let line = y + THREADS;
        let mut out = self.name("afterwards", y + 14);
        for (row, key) in ["afterwards_about", "afterwards_written"].iter().enumerate() {
            let at = y + if row == 0 { 32 } else { THREADS + 20 };
            let _ = writeln!(out, "<text x=\"0\" y=\"{at}\" font-size=\"11\">{}</text>", esc(&self.say(key)));
        }
        let _ = writeln!(
            out,
            "<path d=\"M{LEFT} {y}H{right}\" stroke=\"#000\" stroke-width=\"0.5\" stroke-dasharray=\"2 3\" />\
             <path d=\"M{LEFT} {line}H{right}\" stroke=\"#000\" stroke-width=\"0.9\" />\
             <path d=\"M{LEFT} {foot}H{right}\" stroke=\"#000\" stroke-width=\"0.3\" />\
             <text x=\"{tick}\" y=\"{}\" text-anchor=\"end\" font-size=\"11\">{scale}</text>",
            line + BARS + 4,
            right = self.right(),
            foot = line + BARS,
            tick = LEFT - 6,
        );
        for (column, counted) in course.columns.iter().enumerate() {
            let count = i64::from(counted.afterwards());
            if count > 0 {
                let height = (count * BARS * 100 / scale).max(300);
                let (x, wide) =
                    (self.left(column) + self.wide() / 2, (self.wide() - self.between()).max(500));
                let _ = write!(
                    out,
                    "<rect x=\"{}\" y=\"{line}\" width=\"{}\" height=\"{}\" fill=\"url(#over-time-h)\" stroke=\"#000\" \
                     stroke-width=\"0.9\" />",
                    hundredths(x - wide / 2),
                    hundredths(wide),
                    hundredths(height)
                );
            }
        }
        out.push_str(
            "\n<g clip-path=\"url(#over-time-c)\" stroke=\"#000\" stroke-width=\"0.9\" fill=\"none\">\n",
        );
        let mut stubs = String::new();
        for thread in &course.threads {
            let x = self.middle(thread.written);
            match thread.about {
                Some(about) => {
                    // A day before the first column lies to the left of the sheet; the thread is cut at its edge.
                    let days = days_between(course.span.from, about);
                    let from = LEFT * 100 + (days * self.wide()).div_euclid(course.step) + self.wide() / 2;
                    let _ = write!(out, "<path d=\"M{} {y}L{} {line}\" />", hundredths(from), hundredths(x));
                }
                None => {
                    let _ = write!(
                        stubs,
                        "<circle cx=\"{}\" cy=\"{}\" r=\"2.6\" fill=\"#fff\" stroke=\"#000\" />",
                        hundredths(x),
                        line - 7
                    );
                }
            }
        }
        out.push_str("</g>\n");
        out.push_str(&stubs);
        out.push('\n');
        out
    }

    /// In which hours of the day something was written.
    fn hours(&self, y: i64) -> String {
        let mut out = self.name("hours", y + 14);
        for (at, words) in [(0, "0:00"), (8, "8:00"), (18, "18:00"), (24, "24:00")] {
            let place = y + at * HOUR;
            let _ = writeln!(
                out,
                "<path d=\"M{LEFT} {place}H{}\" stroke=\"#000\" stroke-width=\"0.3\" /><text x=\"{}\" y=\"{}\" \
                 text-anchor=\"end\" font-size=\"10\">{words}</text>",
                self.right(),
                LEFT - 6,
                place + 4
            );
        }
        let (mut own, mut past) = (String::new(), String::new());
        for (column, counted) in self.course.columns.iter().enumerate() {
            let middle = self.left(column) + self.wide() / 2;
            for hour in 0..24 {
                let top = y + i64::from(hour) * HOUR;
                let half = (self.wide() - self.between()).clamp(120, 900) / 2;
                if counted.hours_past & 1 << hour != 0 {
                    let _ = write!(
                        past,
                        "M{} {}h{}v{HOUR}h-{}z",
                        hundredths(middle - half),
                        top,
                        hundredths(2 * half),
                        hundredths(2 * half)
                    );
                }
                if counted.hours & 1 << hour != 0 {
                    let _ = write!(
                        own,
                        "M{} {}h{}",
                        hundredths(middle - half),
                        hundredths(top * 100 + HOUR * 50),
                        hundredths(2 * half)
                    );
                }
            }
        }
        let _ = writeln!(out, "<path d=\"{own}\" stroke=\"#000\" stroke-width=\"2.4\" fill=\"none\" />");
        if !past.is_empty() {
            let _ = writeln!(out, "<path d=\"{past}\" stroke=\"#000\" stroke-width=\"1\" fill=\"#fff\" />");
        }
        out
    }

    /// A lane of marks.
    fn lane(&self, lane: Lane, y: i64) -> String {
        let middle = y + LANE / 2;
        let mut out = self.name(&format!("lane_{lane}"), middle + 4);
        let _ = writeln!(
            out,
            "<path d=\"M{LEFT} {middle}H{}\" stroke=\"#000\" stroke-width=\"0.3\" />",
            self.right()
        );
        let mut columns: Vec<usize> = self
            .course
            .lanes
            .get(&lane)
            .into_iter()
            .flatten()
            .map(|(day, _)| self.course.column_of(*day))
            .collect();
        columns.dedup();
        for column in columns {
            out.push_str(&glyph(lane, self.left(column) + self.wide() / 2, middle));
        }
        out.push('\n');
        out
    }

    /// Upright lines through everything on the days of notices and requests.
    fn notices(&self, (top, bottom): (i64, i64)) -> String {
        let mut out = String::new();
        for (lane, dash) in [(Lane::Notice, "7 4"), (Lane::Request, "1 4")] {
            for day in self.course.lanes.get(&lane).into_iter().flatten().map(|(day, _)| *day) {
                let _ = writeln!(
                    out,
                    "<path d=\"M{} {top}V{bottom}\" stroke=\"#000\" stroke-width=\"0.9\" stroke-dasharray=\"{dash}\" />",
                    hundredths(self.middle(day))
                );
            }
        }
        out
    }

    /// The days: each in a month, else the months, else the years.
    fn axis(&self, (top, bottom): (i64, i64)) -> String {
        let course = self.course;
        let mut out = String::new();
        let (days, last) = (days_between(course.span.from, course.span.until) + 1, course.columns.len());
        let mut put = |column: usize, words: String, heavy: bool| {
            let x = self.left(column);
            let _ = writeln!(
                out,
                "<path d=\"M{x} {top}V{}\" stroke=\"#000\" stroke-width=\"{}\" /><text x=\"{}\" y=\"{}\" \
                 font-size=\"12\">{words}</text>",
                bottom + 18,
                if heavy { "0.6" } else { "0.2" },
                hundredths(x + 300),
                bottom + 16,
                x = hundredths(x),
            );
        };
        let mut day = course.span.from;
        for _ in 0..days {
            let column = course.column_of(day);
            if days <= 62 {
                put(column, format!("{}", day.day()), matches!(day.weekday(), jiff::civil::Weekday::Monday));
            } else if days <= 800 {
                if day.day() == 1 {
                    put(column, month_word(day), day.month() == 1);
                }
            } else if day.day() == 1 && day.month() == 1 {
                put(column, format!("{:04}", day.year()), true);
            } else if day.day() == 1 && days <= 1_500 && day.month() == 7 {
                put(column, format!("{:04}-07", day.year()), false);
            }
            day = days_from(day, 1);
        }
        put(last, String::new(), false);
        out
    }

    /// What the picture shows, for whoever can't see it; the figures stand in the tables.
    fn words(&self) -> String {
        let totals = &self.course.totals;
        let number = |n: u64| n.to_string();
        (self.say)(
            "words",
            &[
                ("from", plain_date(self.course.span.from)),
                ("until", plain_date(self.course.span.until)),
                ("entries", number(totals.entries)),
                ("days", number(totals.days)),
                ("corrections", number(totals.past[0])),
                ("addenda", number(totals.past[1])),
                ("late", number(totals.past[2])),
            ],
        )
    }
}

/// The sign of a lane, `x` in hundredths.
fn glyph(lane: Lane, x: i64, y: i64) -> String {
    let at = |off: i64| hundredths(x + off * 100);
    let line = |d: String| format!("<path d=\"{d}\" stroke=\"#000\" stroke-width=\"1.5\" fill=\"none\" />");
    match lane {
        Lane::Notice => format!("<path d=\"M{} {}l6 -10h-12z\" />", at(0), y + 5),
        Lane::Request => format!(
            "<path d=\"M{} {}l5 5l-5 5l-5 -5z\" fill=\"#fff\" stroke=\"#000\" stroke-width=\"1.4\" />",
            at(0),
            y - 5
        ),
        Lane::Closed => format!("<path d=\"M{} {}v8\" stroke=\"#000\" stroke-width=\"1\" />", at(0), y - 4),
        Lane::Outside => line(format!("M{} {y}h10M{} {}v10", at(-5), at(0), y - 5)),
        Lane::Copy => format!(
            "<rect x=\"{}\" y=\"{}\" width=\"4\" height=\"4\" fill=\"#fff\" stroke=\"#000\" stroke-width=\"1\" />",
            at(-2),
            y - 2
        ),
        Lane::Clock => line(format!("M{} {}l-6 5l6 5", at(3), y - 5)),
        Lane::Destroyed => line(format!("M{} {}l8 8m0 -8l-8 8", at(-4), y - 4)),
    }
}

//! The appointment book: who is free when, given what the scenario has on that day.

use super::people::Course;
use super::{Dice, at};
use crate::demo::{on_roster, scripted};
use crate::record::moment::Date;
use std::collections::HashMap;

/// First minute at which an ordinary visit begins, and the last.
const FIRST: i64 = 8 * 60 + 30;
const LAST: i64 = 17 * 60 + 15;

/// Which stretches of a day are taken, by person and by room.
pub(super) struct Diary {
    taken: HashMap<(Date, String), Vec<(i64, i64)>>,
    busy_charts: Vec<(String, Date)>,
}

/// The room a practitioner works in.
pub(super) fn room(by: &str) -> &'static str {
    if by == "IV" { "room 1" } else { "room 2" }
}

/// Days without ordinary visits: the turn of the year, the evening without power, the morning
/// of the wrong clock, and the day of the note in the wrong chart.
fn closed(day: Date) -> bool {
    let turn = (day.month() == 12 && day.day() > 22) || (day.month() == 1 && day.day() < 3);
    let special = [(2023, 11, 20), (2024, 3, 11), (2024, 5, 6)];
    let weekend = matches!(day.weekday(), jiff::civil::Weekday::Saturday | jiff::civil::Weekday::Sunday);
    turn || weekend || special.contains(&(day.year(), day.month(), day.day()))
}

impl Diary {
    /// A diary in which the scenario's own events stand already.
    pub fn of_scenario() -> Diary {
        let mut diary = Diary { taken: HashMap::new(), busy_charts: Vec::new() };
        for event in scripted().unwrap_or_default() {
            let day = event.at.local_date();
            let (hour, minute) = event.at.local_time();
            let minute = i64::from(hour) * 60 + i64::from(minute);
            diary.take(day, &event.by, minute - 10, minute + 6);
            if let Some(chart) = &event.chart {
                diary.busy_charts.push((chart.clone(), day));
            }
            if event.kind == "visit-opened" {
                for code in event.data["practitioners"].as_array().into_iter().flatten() {
                    diary.take(day, code.as_str().unwrap_or_default(), minute - 5, minute + 80);
                }
                diary.take(day, event.data["room"].as_str().unwrap_or_default(), minute - 5, minute + 80);
            }
        }
        diary
    }

    fn take(&mut self, day: Date, who: &str, from: i64, until: i64) {
        self.taken.entry((day, who.to_string())).or_default().push((from, until));
    }

    fn free(&self, day: Date, who: &str, from: i64, until: i64) -> bool {
        let taken = self.taken.get(&(day, who.to_string()));
        taken.is_none_or(|all| all.iter().all(|(start, end)| until <= *start || from >= *end))
    }

    /// The next day from `day` to `last` with room for a visit of this course: day, minute at
    /// which it begins, and its length. The time is taken.
    pub fn slot(
        &mut self,
        course: &Course,
        day: Date,
        last: Date,
        dice: &mut Dice,
    ) -> Option<(Date, i64, i64)> {
        let mut on = day;
        while on <= last {
            let usable = !closed(on)
                && on_roster(course.by, on)
                && !self.busy_charts.contains(&(course.chart.to_string(), on));
            if usable && let Some((start, length)) = self.time_on(on, course.by, dice) {
                self.take(on, course.by, start - 5, start + length + 5);
                self.take(on, room(course.by), start - 5, start + length + 5);
                self.take(on, "HL", start - 15, start - 2);
                self.busy_charts.push((course.chart.to_string(), on));
                return Some((on, start, length));
            }
            on = on.tomorrow().ok()?;
        }
        None
    }

    fn time_on(&self, day: Date, by: &str, dice: &mut Dice) -> Option<(i64, i64)> {
        for _ in 0..12 {
            let start = dice.between(FIRST / 5, LAST / 5) * 5 + dice.between(0, 3);
            let length = dice.between(26, 41);
            let all_free = self.free(day, by, start - 5, start + length + 5)
                && self.free(day, room(by), start - 5, start + length + 5)
                && self.free(day, "HL", start - 15, start - 2);
            if all_free && at(day, start).local_date() == day {
                return Some((start, length));
            }
        }
        None
    }
}

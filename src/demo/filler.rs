//! Ordinary visits between the scripted ones, so that lists and searches have something to
//! list. Drawn from a seed: the same seed gives the same events.

mod diary;
mod note;
mod people;
mod words;

use super::{Act, Event};
use crate::record::moment::{Date, Moment};
use diary::Diary;
use people::{COURSES, Course, PATIENTS, Patient};
use serde_json::{Value, json};
use words::words;

/// The seed the demonstration is made with.
pub const SEED: u64 = 0x0052_6f70_6577_616c;

/// A small deterministic generator (splitmix64: Steele, Lea and Flood 2014, from memory).
/// For invented visits only, never for secrets.
struct Dice(u64);

impl Dice {
    fn roll(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// A number from `low` to `high`, both included.
    fn between(&mut self, low: i64, high: i64) -> i64 {
        low + (self.roll() % (high - low + 1).max(1) as u64) as i64
    }

    /// One of several.
    fn pick<'a, T>(&mut self, from: &'a [T]) -> &'a T {
        &from[(self.roll() % from.len().max(1) as u64) as usize]
    }
}

/// The moment of a local day and minute, with the practice's offset: UTC-5, and UTC-4 from the
/// second Sunday of March to the first Sunday of November.
fn at(day: Date, minute: i64) -> Moment {
    let offset = if summer_time(day) { -4 } else { -5 };
    let text = format!("{day}T{:02}:{:02}:00-0{}:00", minute / 60, minute % 60, -offset);
    Moment::parse(&text).unwrap_or(Moment::EPOCH)
}

fn summer_time(day: Date) -> bool {
    let sunday = |month: i8, nth: i8| {
        jiff::civil::date(day.year(), month, 1).nth_weekday_of_month(nth, jiff::civil::Weekday::Sunday)
    };
    match (sunday(3, 2), sunday(11, 1)) {
        (Ok(first), Ok(last)) => day >= first && day < last,
        _ => false,
    }
}

/// An event with what most have.
fn event(at: Moment, by: &str, station: &str, chart: &str, kind: &str, data: Value) -> Event {
    Event {
        at,
        by: by.to_string(),
        station: station.to_string(),
        chart: Some(chart.to_string()),
        name: None,
        act: if kind == "chart-opened" { Act::OpenChart } else { Act::Record },
        kind: kind.to_string(),
        happened: None,
        entered_by: None,
        labels: Vec::new(),
        refers: Vec::new(),
        document: None,
        roles: Vec::new(),
        data,
    }
}

/// One ordinary visit that is to be written.
struct Plan<'a> {
    pub course: &'a Course,
    pub day: Date,
    /// Minute of the day at which the practitioner begins.
    pub start: i64,
    /// Minutes it takes.
    pub length: i64,
    /// Number of the visit within the filler, for names.
    pub no: usize,
    /// Number of the visit within its course, from 0.
    pub nth: usize,
    /// Name of the consent it rests on.
    pub consent: String,
    /// True when that consent is signed in this visit.
    pub sign: bool,
    pub room: &'static str,
}

impl Plan<'_> {
    pub fn visit(&self) -> String {
        format!("fv-{}", self.no)
    }
    pub fn at(&self, minutes: i64) -> Moment {
        at(self.day, self.start + minutes)
    }
}

/// All ordinary visits for a seed, in the order in which they are written.
pub fn events(seed: u64) -> Vec<Event> {
    let mut dice = Dice(seed);
    let mut diary = Diary::of_scenario();
    let mut all = Vec::new();
    let mut no = 0;
    for course in COURSES {
        let mut signed: Option<(String, Date)> = None;
        let mut state = note::State::new(course);
        let mut day = jiff::civil::date(course.from.0, course.from.1, course.from.2);
        let last = jiff::civil::date(course.until.0, course.until.1, course.until.2);
        let mut nth = 0;
        while let Some((on, start, length)) = diary.slot(course, day, last, &mut dice) {
            let (consent, sign) = consent_for(course, on, no, &mut signed);
            let room = diary::room(course.by);
            let plan = Plan { course, day: on, start, length, no, nth, consent, sign, room };
            if nth == 0
                && let Some(patient) = PATIENTS.iter().find(|p| p.chart == course.chart)
            {
                all.extend(opening(patient, &plan));
            }
            all.extend(note::visit(&plan, &mut state, &mut dice));
            no += 1;
            nth += 1;
            let gap = course.every as i64 + dice.between(-3, 5);
            day = on.checked_add(jiff::Span::new().days(gap)).unwrap_or(last);
        }
    }
    all.sort_by_key(|e| e.at);
    all
}

/// The consent a visit rests on, and whether it is signed in it: the scripted one, or one that
/// the filler has signed at the first visit and again when twelve months are over.
fn consent_for(course: &Course, on: Date, no: usize, signed: &mut Option<(String, Date)>) -> (String, bool) {
    if let Some(name) = course.consent {
        return (name.to_string(), false);
    }
    if let Some((name, until)) = signed
        && on <= *until
    {
        return (name.clone(), false);
    }
    let name = format!("fc-{no}");
    *signed = Some((name.clone(), note::valid_until(on)));
    (name, true)
}

/// Chart and allergy review of a patient whom the scenario does not know.
fn opening(patient: &Patient, plan: &Plan<'_>) -> [Event; 2] {
    let day = plan.day.to_string();
    let identity = json!({
        "legal_name": patient.name,
        "birth_date": { "date": patient.born },
        "second_identifier": { "kind": "telephone", "value": patient.telephone },
        "address": patient.address,
        "telephones": [patient.telephone],
        "language": "en",
        "emergency_contact": {
            "name": patient.emergency.0, "relation": patient.emergency.1, "telephone": patient.emergency.2,
        },
        "privacy_notice": { "status": "given", "on": day, "wording": "N1" },
        "decision_maker": "self",
        "occupation": patient.occupation,
    });
    let opened = json!({
        "chart_no": patient.chart,
        "identity": identity,
        "identifiers_seen": ["licence-card", "birth-date"],
        "same_name_looked_for": true,
        "opened_because": patient.because,
    });
    let substances = json!({
        "latex": "not-allergic", "other-glove-material": "not-allergic", "tape-adhesive": "not-allergic",
        "lotions-oils-nuts": "not-allergic", "nickel": "not-allergic", "heat-cold": "not-allergic",
        "medicines": "not-allergic",
    });
    let review = json!({ "reviewed_on": day, "substances": substances });
    [
        event(plan.at(-14), "HL", "desk", patient.chart, "chart-opened", opened),
        event(plan.at(-10), "HL", "desk", patient.chart, "allergy-review", review),
    ]
}

/// The words a course draws from.
fn course_words(course: &Course) -> &'static words::Words {
    words(course.topic)
}

/// A moment of this day, for checks of the offset.
#[cfg(test)]
pub fn at_for_tests(day: Date) -> Moment {
    at(day, 12 * 60)
}

//! What a review looks at: the note as drafted, and what the chart and the register hold around it. Plain
//! data; where a chart has nothing of a sort, the list is empty.

use crate::record::calendar::{LeapDay, age_on};
use crate::record::envelope::Happened;
use crate::record::kinds::consent::Consent;
use crate::record::kinds::identity::{Alert, DecisionMaker};
use crate::record::kinds::reaction::Reaction;
use crate::record::kinds::register::{OpeningHours, Staff};
use crate::record::kinds::screening::{Change, Measure, Measured, Screen};
use crate::record::kinds::visit::Visit;
use crate::record::kinds::withdrawal::{Asked, Withdrawal};
use crate::record::kinds::{ReadError, read_with_path};
use crate::record::moment::{Date, Moment};
use serde_json::{Map, Value, json};
use std::collections::BTreeMap;

/// An entry's data with its number and times.
#[derive(Debug, Clone, PartialEq)]
pub struct Dated<T> {
    /// Number in the ledger.
    pub seq: u64,
    /// When it happened.
    pub at: Moment,
    /// When it was written.
    pub written: Moment,
    /// What it says.
    pub data: T,
}

/// Everything a review looks at.
#[derive(Debug, Clone)]
pub struct VisitSheet {
    /// The station's clock.
    pub now: Moment,
    /// Staff code of whoever signs.
    pub signer: String,
    /// The signer's roster line that holds on the day of the visit, or else the newest; none where there is none.
    pub roster: Option<Staff>,
    /// When the visit happened.
    pub happened: Happened,
    /// The note as drafted; see [`draft`].
    pub note: Visit,
    /// How the visit was opened.
    pub opening: Opening,
    /// The patient.
    pub patient: Patient,
    /// Consents of the chart, declined ones among them.
    pub consents: Vec<Dated<Consent>>,
    /// Withdrawals of the chart.
    pub withdrawals: Vec<Dated<Withdrawal>>,
    /// What was asked in this visit.
    pub asked: Vec<Dated<Asked>>,
    /// Screens of this visit, and those the note rests on.
    pub screens: Vec<Dated<Screen>>,
    /// Measures of this visit, outside the note.
    pub measures: Vec<Dated<Measure>>,
    /// Changes told in this visit.
    pub changes: Vec<Dated<Change>>,
    /// Kinds of condition met in this visit: chaperone-present, ...
    pub conditions_met: Vec<String>,
    /// Numbers of the alerts against which a reason was written in this visit.
    pub reasons_against: Vec<u64>,
    /// Adverse reactions that no entry has closed.
    pub open_reactions: Vec<Dated<Reaction>>,
    /// Earlier visits with a note, oldest first.
    pub earlier: Vec<EarlierVisit>,
    /// Days on which X-rays among the attachments were made.
    pub x_rays: Vec<Date>,
    /// The day the course of treatment started, as an earlier note has it.
    pub course_start: Option<Date>,
    /// Other visits of the practitioners that day, in other charts or here.
    pub others: Vec<OtherVisit>,
    /// The practice's opening hours by day of the week.
    pub hours: Vec<OpeningHours>,
    /// Numbers of the notices of claim or complaint.
    pub notices: Vec<u64>,
    /// When requests for records came in that are not answered.
    pub requests: Vec<Moment>,
    /// When the signer opened this chart for reading.
    pub openings_for_reading: Vec<Moment>,
}

/// How a visit was opened.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Opening {
    /// The room or other place; none where it was left out.
    pub place: Option<String>,
    /// True when a reason stands in the place's stead.
    pub no_place_because: bool,
    /// True when identity was confirmed.
    pub identity_confirmed: bool,
    /// The parts of those who were in the room: chaperone, guardian, ...
    pub present: Vec<String>,
}

/// The patient, as known on the day of the visit.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Patient {
    /// Legal name.
    pub name: String,
    /// Birth date.
    pub born: Option<Date>,
    /// True when the chart asks for an interpreter.
    pub interpreter_needed: bool,
    /// Who may decide for the patient.
    pub decision_makers: Vec<DecisionMaker>,
    /// Substances the patient is allergic to.
    pub allergic_to: Vec<String>,
    /// True when a review of allergies is on file.
    pub allergies_reviewed: bool,
    /// True when the reviews say yes or no about latex.
    pub latex_answered: bool,
    /// Alerts in force, with their numbers.
    pub alerts: Vec<(u64, Alert)>,
}

/// An earlier visit with its note.
#[derive(Debug, Clone, PartialEq)]
pub struct EarlierVisit {
    /// Number of the note.
    pub seq: u64,
    /// When the visit began.
    pub at: Moment,
    /// The note.
    pub note: Visit,
    /// Measures of that visit outside the note.
    pub measures: Vec<Measured>,
}

/// Another visit of a practitioner on the same day.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OtherVisit {
    /// Staff code.
    pub practitioner: String,
    /// Room, where it was given.
    pub room: Option<String>,
    /// When it began.
    pub from: Moment,
    /// When it ended.
    pub until: Moment,
}

impl VisitSheet {
    /// The day of the visit, as written.
    pub fn day(&self) -> Date {
        self.happened.start.local_date()
    }

    /// When the visit ended; where that is not said, when it began.
    pub fn ended(&self) -> Moment {
        self.happened.end.unwrap_or(self.happened.start)
    }

    /// The patient's age in whole years on the day of the visit. Born on 29 February: a year older on 1 March.
    pub fn age(&self) -> Option<i32> {
        self.patient.born.map(|born| age_on(born, self.day(), LeapDay::Mar1))
    }

    /// A sheet with nothing around the note: what a chart without other entries gives.
    pub fn bare(now: Moment, signer: &str, happened: Happened, note: Visit) -> VisitSheet {
        VisitSheet {
            now,
            signer: signer.to_string(),
            roster: None,
            happened,
            note,
            opening: Opening::default(),
            patient: Patient::default(),
            consents: Vec::new(),
            withdrawals: Vec::new(),
            asked: Vec::new(),
            screens: Vec::new(),
            measures: Vec::new(),
            changes: Vec::new(),
            conditions_met: Vec::new(),
            reasons_against: Vec::new(),
            open_reactions: Vec::new(),
            earlier: Vec::new(),
            x_rays: Vec::new(),
            course_start: None,
            others: Vec::new(),
            hours: Vec::new(),
            notices: Vec::new(),
            requests: Vec::new(),
            openings_for_reading: Vec::new(),
        }
    }
}

/// Reads a note that is not finished. Where the layout wants an answer and none is there yet, a blank
/// stands in its place, which a review counts as missing and the layout's own check refuses.
///
/// # Errors
/// When something in it is not what the layout holds there: where, and what was expected.
pub fn draft(data: &Value) -> Result<Visit, ReadError> {
    let mut data = data.clone();
    if let Some(fields) = data.as_object_mut() {
        fields.entry("visit").or_insert(json!(0));
        fields.entry("sort").or_insert(json!("later"));
        fields.entry("agreed").or_insert(json!({}));
    }
    fill_gaps(&mut data, "");
    read_with_path(&data)
}

/// Puts a reason wherever the layout wants an answer and the note has none.
pub fn fill_gaps(data: &mut Value, because: &str) {
    let Some(fields) = data.as_object_mut() else { return };
    for part in ["changed_since_last", "findings", "assessment", "advice", "plan"] {
        gap(fields, part, because);
    }
    if let Some(advice) = fields.get_mut("advice").and_then(Value::as_object_mut)
        && !advice.contains_key(NOT_DONE)
    {
        gap(advice, "watch_for", because);
    }
    if let Some(plan) = fields.get_mut("plan").and_then(Value::as_object_mut)
        && !plan.contains_key(NOT_DONE)
    {
        // The next step is words, and nothing but words.
        plan.entry("next_step").or_insert(json!(because));
    }
    number(fields, "complaints", "pain_now", because);
    number(fields, "procedures", "response", because);
    number(fields, "findings", "", because);
}

const NOT_DONE: &str = "not_done_because";

fn gap(fields: &mut Map<String, Value>, part: &str, because: &str) {
    let empty = match fields.get(part) {
        None | Some(Value::Null) => true,
        // What holds nothing says nothing.
        Some(Value::Array(list)) => list.is_empty(),
        Some(Value::Object(map)) => map.is_empty(),
        Some(_) => false,
    };
    if empty {
        fields.insert(part.to_string(), json!({ NOT_DONE: because }));
    }
}

/// Numbers the lines of a list and puts a reason where a line lacks the answer it must have.
fn number(fields: &mut Map<String, Value>, list: &str, answer: &str, because: &str) {
    let lines = fields.get_mut(list).and_then(Value::as_array_mut).into_iter().flatten();
    for (index, line) in lines.filter_map(Value::as_object_mut).enumerate() {
        line.entry("no").or_insert(json!(index + 1));
        if answer.is_empty() {
            continue;
        }
        gap(line, answer, because);
        // A response with numbers only says that its word is still to come.
        let wordless = |r: &Map<String, Value>| !r.contains_key(NOT_DONE) && !r.contains_key("word");
        if answer == "response" && line.get(answer).and_then(Value::as_object).is_some_and(wordless) {
            line.insert(answer.to_string(), json!({ NOT_DONE: because }));
        }
    }
}

/// Kinds of alert by their word, for looking several up at once.
pub(super) fn alert_numbers(patient: &Patient) -> BTreeMap<&str, u64> {
    patient.alerts.iter().map(|(seq, alert)| (alert.kind.as_str(), *seq)).collect()
}

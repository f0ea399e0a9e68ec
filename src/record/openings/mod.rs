//! Who opened which chart, when and why, and what stands out among it (the regular review of who looked at what,
//! 45 CFR 164.308(a)(1)(ii)(D)). It asks; it judges nobody: whoever keeps the records answers each.

#[cfg(test)]
mod tests;

use super::kinds::common::Day;
use super::kinds::release::{AccessWhy, Opened};
use super::moment::{Date, Moment};
use super::rulebook::QuestionRules;
use super::vocab::words;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};

/// What the one who opened a chart is to the patient, as far as the names tell.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Near {
    /// The chart is their own.
    Own,
    /// The chart is of somebody else who works here.
    Colleague,
    /// The patient may be a relative: why that may be.
    Relative(String),
}

/// One opening of a chart.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Opening {
    /// Number of the entry.
    pub entry: u64,
    /// When.
    pub at: Moment,
    /// Code of who opened it.
    pub by: String,
    /// Number of the chart.
    pub chart: String,
    /// Why; null where the role of whoever asks does not open the entry.
    pub why: Option<AccessWhy>,
    /// The reason in words.
    pub words: Option<String>,
    /// What was opened.
    pub opened: Option<Opened>,
    /// True when something was printed.
    pub printed: bool,
    /// True when something was taken out of the store.
    pub exported: bool,
    /// True when this person had a visit or a contact in this chart that day.
    pub with_visit: bool,
    /// True when a notice of a claim or complaint, or a legal hold, stood over the chart.
    pub after_notice: bool,
    /// What the person is to the patient, where the names tell.
    pub near: Option<Near>,
}

impl Opening {
    /// The reason, in words.
    pub fn reason(&self) -> String {
        let why = self.why.map_or("not opened to you", AccessWhy::word);
        match &self.words {
            Some(words) => format!("{why}: {words}"),
            None => why.to_string(),
        }
    }
}

words! {
    /// What stands out. The words never change.
    FindingId {
        /// Opened without a visit or contact in the chart that day.
        OpenedWithoutVisit = "opened-without-visit",
        /// The same, on many days of the month.
        OpenedOften = "opened-often",
        /// Opened while the practice is closed.
        OpenedOutsideHours = "opened-outside-hours",
        /// The chart of whoever opened it.
        OwnChart = "own-chart",
        /// The chart of somebody else who works here, without a visit that day.
        ColleaguesChart = "colleagues-chart",
        /// The chart of somebody who may be a relative.
        RelativesChart = "relatives-chart",
        /// Many charts in few minutes.
        ManyCharts = "many-charts",
        /// Opened after a notice of a claim or complaint, or under a legal hold, without a visit that day.
        OpenedAfterNotice = "opened-after-notice",
    }
}

words! {
    /// How much it matters.
    Severity {
        /// To be looked at.
        Look = "look",
        /// To be looked at first.
        First = "look-first",
    }
}

impl FindingId {
    /// How much it matters.
    pub fn severity(self) -> Severity {
        use FindingId::{ManyCharts, OpenedAfterNotice, OpenedOften, OwnChart, RelativesChart};
        match self {
            OpenedOften | ManyCharts | OpenedAfterNotice | OwnChart | RelativesChart => Severity::First,
            _ => Severity::Look,
        }
    }

    /// What to do about it.
    pub fn remedy(self) -> &'static str {
        match self {
            FindingId::OpenedWithoutVisit => {
                "Does the reason given explain it? Look for the bill, call or request."
            }
            FindingId::OpenedOften => "Ask the person what it was for, and write down what they say.",
            FindingId::OpenedOutsideHours => "Was there work to be done at that hour?",
            FindingId::OwnChart => "Own charts are read by asking for a copy, like every patient.",
            FindingId::ColleaguesChart => "Was it part of the work? The colleague may be asked too.",
            FindingId::RelativesChart => "Are they related, and was it part of the work?",
            FindingId::ManyCharts => "Was it one task, like billing? Name it.",
            FindingId::OpenedAfterNotice => {
                "Who needed it to answer the notice? Compare with what was written in the chart afterwards."
            }
        }
    }
}

/// Something that stands out.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Finding {
    /// What.
    pub id: FindingId,
    /// The name it is answered by, the same whenever the same month is looked at.
    pub key: String,
    /// How much it matters.
    pub severity: Severity,
    /// Code of who opened.
    pub by: String,
    /// Numbers of the charts.
    pub charts: Vec<String>,
    /// Numbers of the entries.
    pub entries: Vec<u64>,
    /// In plain words, with the reasons given.
    pub words: String,
    /// What to do about it.
    pub remedy: String,
}

/// What an opening is measured by.
#[derive(Debug, Clone, Copy)]
pub struct Measure<'a> {
    /// Values worth a question.
    pub questions: &'a QuestionRules,
    /// Days of the week on which the practice is open, Monday first; none where the register does not say.
    pub open_days: Option<[bool; 7]>,
}

/// Everything that stands out among these openings, what matters most first.
pub fn findings(openings: &[Opening], measure: Measure<'_>) -> Vec<Finding> {
    let mut found = Vec::new();
    without_visit(openings, measure, &mut found);
    let closed = |o: &Opening| is_closed(o.at, measure);
    each(openings, FindingId::OpenedOutsideHours, closed, &mut found);
    each(openings, FindingId::OwnChart, |o| o.near == Some(Near::Own), &mut found);
    each(
        openings,
        FindingId::ColleaguesChart,
        |o| o.near == Some(Near::Colleague) && !o.with_visit,
        &mut found,
    );
    each(openings, FindingId::RelativesChart, |o| matches!(o.near, Some(Near::Relative(_))), &mut found);
    each(openings, FindingId::OpenedAfterNotice, |o| o.after_notice && !o.with_visit, &mut found);
    many_charts(openings, measure, &mut found);
    found.sort_by(|a, b| (b.severity, a.id, &a.by, &a.charts).cmp(&(a.severity, b.id, &b.by, &b.charts)));
    found
}

/// Openings of one person in one chart are one thing to ask about.
fn grouped(
    openings: &[Opening],
    stands_out: impl Fn(&Opening) -> bool,
) -> BTreeMap<(&str, &str), Vec<&Opening>> {
    let mut groups: BTreeMap<(&str, &str), Vec<&Opening>> = BTreeMap::new();
    for opening in openings.iter().filter(|o| stands_out(o)) {
        groups.entry((&opening.by, &opening.chart)).or_default().push(opening);
    }
    groups
}

fn each(
    openings: &[Opening],
    id: FindingId,
    stands_out: impl Fn(&Opening) -> bool,
    found: &mut Vec<Finding>,
) {
    for group in grouped(openings, stands_out).into_values() {
        found.push(finding(id, &group));
    }
}

fn without_visit(openings: &[Opening], measure: Measure<'_>, found: &mut Vec<Finding>) {
    for group in grouped(openings, |o| !o.with_visit).into_values() {
        let days: BTreeSet<Date> = group.iter().map(|o| o.at.local_date()).collect();
        let often = measure.questions.opened_often_days.is_some_and(|most| days.len() >= most);
        let id = if often { FindingId::OpenedOften } else { FindingId::OpenedWithoutVisit };
        found.push(finding(id, &group));
    }
}

fn finding(id: FindingId, group: &[&Opening]) -> Finding {
    let by = group.first().map(|o| o.by.clone()).unwrap_or_default();
    let charts: BTreeSet<String> = group.iter().map(|o| o.chart.clone()).collect();
    let charts: Vec<String> = charts.into_iter().collect();
    let first = group.first().map(|o| o.entry).unwrap_or_default();
    let place = if charts.len() == 1 { charts.join("") } else { first.to_string() };
    Finding {
        id,
        key: format!("{}/{by}/{place}", id.word()),
        severity: id.severity(),
        words: said(id, &by, &charts, group),
        by,
        charts,
        entries: group.iter().map(|o| o.entry).collect(),
        remedy: id.remedy().to_string(),
    }
}

fn said(id: FindingId, by: &str, charts: &[String], group: &[&Opening]) -> String {
    let times = match group.len() {
        1 => String::new(),
        n => format!(" {n} times"),
    };
    let chart = charts.join(", ");
    let head = match id {
        FindingId::OpenedWithoutVisit | FindingId::OpenedOften => {
            format!("{by} opened {chart}{times} with no visit or contact of theirs that day")
        }
        FindingId::OpenedOutsideHours => format!("{by} opened {chart}{times} while the practice is closed"),
        FindingId::OwnChart => format!("{by} opened {chart}{times}, which is their own chart"),
        FindingId::ColleaguesChart => {
            format!("{by} opened {chart}{times}, the chart of somebody who works here")
        }
        FindingId::RelativesChart => {
            let near = group.iter().find_map(|o| match &o.near {
                Some(Near::Relative(why)) => Some(why.as_str()),
                _ => None,
            });
            format!("{by} opened {chart}{times}, perhaps of a relative: {}", near.unwrap_or_default())
        }
        FindingId::ManyCharts => {
            let (from, until) = (group.first().map(|o| o.at), group.last().map(|o| o.at));
            let span = from
                .zip(until)
                .map_or(String::new(), |(from, until)| format!(", {} to {}", from.plain(), until.clock()));
            format!("{by} opened {} charts one after the other{span}: {chart}", charts.len())
        }
        FindingId::OpenedAfterNotice => {
            format!("{by} opened {chart}{times} after a notice or hold, with no visit that day")
        }
    };
    let mut when: Vec<String> = Vec::new();
    for opening in group {
        let mut one = format!("{} ({})", opening.at.plain(), opening.reason());
        if opening.printed || opening.exported {
            one.push_str(if opening.printed { ", printed" } else { ", taken out" });
        }
        when.push(one);
    }
    format!("{head}. {}", when.join("; "))
}

/// Minutes of the day of HH:MM.
fn minutes(text: &str) -> Option<i64> {
    let (hours, minutes) = text.split_once(':')?;
    Some(hours.parse::<i64>().ok()? * 60 + minutes.parse::<i64>().ok()?)
}

fn is_closed(at: Moment, measure: Measure<'_>) -> bool {
    let (hour, minute) = at.local_time();
    let now = i64::from(hour) * 60 + i64::from(minute);
    let (from, until) = (minutes(&measure.questions.open_from), minutes(&measure.questions.open_until));
    let outside = from.is_some_and(|from| now < from) || until.is_some_and(|until| now > until);
    let weekday = usize::try_from(at.local_date().weekday().to_monday_zero_offset()).unwrap_or_default();
    outside || measure.open_days.is_some_and(|days| days.get(weekday) == Some(&false))
}

/// Runs of openings of one person, without visits, in which the number of charts within the minutes is reached.
fn many_charts(openings: &[Opening], measure: Measure<'_>, found: &mut Vec<Finding>) {
    let questions = measure.questions;
    let Some((most, minutes)) = questions.many_charts.zip(questions.many_charts_minutes) else { return };
    let people: BTreeSet<&str> = openings.iter().map(|o| o.by.as_str()).collect();
    for person in people {
        let mut theirs: Vec<&Opening> = openings.iter().filter(|o| o.by == person && !o.with_visit).collect();
        theirs.sort_by_key(|o| (o.at, o.entry));
        // A run is what overlapping windows share: one task is one thing to ask about.
        let mut in_run = vec![false; theirs.len()];
        for start in 0..theirs.len() {
            let near = |o: &&&Opening| o.at.unix() - theirs[start].at.unix() <= minutes * 60;
            let window: Vec<&Opening> = theirs[start..].iter().take_while(near).copied().collect();
            let charts: BTreeSet<&str> = window.iter().map(|o| o.chart.as_str()).collect();
            if charts.len() >= most {
                in_run[start..start + window.len()].fill(true);
            }
        }
        let mut run: Vec<&Opening> = Vec::new();
        for (place, opening) in theirs.iter().enumerate() {
            let gap = run.last().is_some_and(|last| opening.at.unix() - last.at.unix() > minutes * 60);
            if (!in_run[place] || gap) && !run.is_empty() {
                found.push(finding(FindingId::ManyCharts, &run));
                run.clear();
            }
            if in_run[place] {
                run.push(opening);
            }
        }
        if !run.is_empty() {
            found.push(finding(FindingId::ManyCharts, &run));
        }
    }
}

/// What a person may be to a patient, by names alone: their own chart, a colleague's, or one of the same family
/// name or with the person as whom to call or who decides.
pub fn near(by_name: &str, patient_names: &[String], others: &[String], staff: &[String]) -> Option<Near> {
    let plain = |name: &str| name.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase();
    let family =
        |name: &str| plain(name).split(' ').next_back().map(str::to_string).filter(|n| !n.is_empty());
    let me = plain(by_name);
    if patient_names.iter().any(|name| plain(name) == me) {
        return Some(Near::Own);
    }
    if others.iter().any(|name| plain(name) == me) {
        return Some(Near::Relative("named in the chart as somebody close to the patient".to_string()));
    }
    if patient_names.iter().any(|name| family(name).is_some() && family(name) == family(by_name)) {
        return Some(Near::Relative("the same family name".to_string()));
    }
    let works_here = |name: &String| staff.iter().any(|one| plain(one) == plain(name));
    patient_names.iter().any(works_here).then_some(Near::Colleague)
}

/// A calendar month.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Month {
    /// Its first day.
    first: Date,
}

impl Month {
    /// The month of a day.
    pub fn of(day: Date) -> Month {
        Month { first: day.first_of_month() }
    }

    /// Reads `2025-02`.
    pub fn parse(text: &str) -> Option<Month> {
        super::moment::parse_date(&format!("{}-01", text.trim())).map(Month::of)
    }

    /// Its first and last day.
    pub fn days(self) -> (Day, Day) {
        (Day(self.first), Day(self.first.last_of_month()))
    }

    /// True when it is over on this day.
    pub fn is_over(self, today: Date) -> bool {
        self.first.last_of_month() < today
    }
}

impl std::fmt::Display for Month {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{:04}-{:02}", self.first.year(), self.first.month())
    }
}

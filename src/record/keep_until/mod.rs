//! Through which day a chart is kept, worked out from its own entries by every adopted rule, and what
//! stands against destroying it. The latest day wins. What people typed as a keep-until day is never used.
//!
//! The counting itself is the topic retention of [`super::reckon`]; here the entries become its dates, and
//! every day comes with what it was counted from, the rule's source and the reason in words.

pub mod against;
pub mod dates;
#[cfg(test)]
mod tests;

use super::calendar::{days_from, with_weekday};
use super::kinds::Data;
use super::kinds::common::Day;
use super::moment::{Date, plain_date};
use super::reckon::retention::{
    Counted, Kept, NoDay, counted, is_about_charts, is_about_papers, keep_document_through, refusals,
};
use super::tables::retention::{Combine, RetentionDefaults, RetentionRule, Trigger};
use against::Against;
use dates::Inputs;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;

/// An entry as far as keeping looks at it.
#[derive(Debug, Clone)]
pub struct Seen {
    /// Its number.
    pub seq: u64,
    /// Its kind.
    pub kind: String,
    /// Code of its author.
    pub author: String,
    /// Day it was made.
    pub made: Date,
    /// Day on which what it tells happened; the day it was made where the role does not open it.
    pub at: Date,
    /// What it says, corrections made; none where the role does not open it.
    pub data: Option<Data>,
    /// True when it belongs to another person's chart.
    pub misfiled: bool,
    /// True when it stands in another chart of the same person that was joined with this one.
    pub of_joined: bool,
}

/// What one adopted rule says.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ByRule {
    /// Name of the rule.
    pub rule: String,
    /// The last day the chart must exist by it; null where it gives none.
    pub keep_through: Option<Day>,
    /// True when its day is the latest of all.
    pub sets: bool,
    /// How it comes to that day, or why it gives none.
    pub reason: String,
    /// The publication.
    pub source: Option<String>,
    /// Day the text was read.
    pub read_on: Option<Day>,
    /// True when a person has to look at the text before anything is destroyed under it.
    pub unsettled: bool,
    /// What to look at.
    pub check_first: Option<String>,
}

/// How a chart stands on a day.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct KeepUntil {
    /// The day it is worked out for.
    pub on: Day,
    /// The last day the chart must exist; null where it can't be said.
    pub keep_through: Option<Day>,
    /// The first day it may be destroyed; null where it can't be said.
    pub may_go_on: Option<Day>,
    /// Why no day can be said.
    pub problem: Option<String>,
    /// The adopted rules, one by one.
    pub rules: Vec<ByRule>,
    /// What the days are counted from.
    pub inputs: Inputs,
    /// What stands against destroying it, whatever the day.
    pub against: Vec<Against>,
    /// Every reason against it today, by the words of the topic retention; empty: it may be destroyed.
    pub refusals: Vec<String>,
}

impl KeepUntil {
    /// True when the day has passed and nothing stands against destroying it. A rule that a person has to look
    /// at first stands against it.
    pub fn may_go(&self) -> bool {
        self.keep_through.is_some() && self.refusals.is_empty()
    }

    /// True when its day has passed, whatever else stands against it.
    pub fn has_passed(&self) -> bool {
        self.keep_through.is_some_and(|day| day < self.on)
    }

    /// The rules that set the day, with commas.
    pub fn set_by(&self) -> String {
        let names = self.rules.iter().filter(|rule| rule.sets).map(|rule| rule.rule.as_str());
        names.collect::<Vec<_>>().join(", ")
    }
}

/// What it is worked out by.
#[derive(Debug, Clone, Copy)]
pub struct Rules<'a> {
    /// The adopted rules.
    pub adopted: &'a [&'a RetentionRule],
    /// What they leave open.
    pub defaults: RetentionDefaults,
    /// Days in which a refusal can be challenged; none: the adopted rules name no time.
    pub challenged_days: Option<u32>,
    /// The day.
    pub today: Date,
}

/// Works it out. `register` holds what stands outside every chart and may bear on this one: holds and their
/// lifting, notices, papers of the office file. `settled` is the written reason of whoever looked at the rules
/// that ask for it; it lifts that and nothing else.
pub fn keep_until(
    chart_no: &str,
    entries: &[Seen],
    register: &[Seen],
    rules: &Rules<'_>,
    settled: Option<&str>,
) -> KeepUntil {
    let inputs = Inputs::of(entries);
    let mut by_rule: Vec<ByRule> = Vec::new();
    let mut problem = rules.adopted.is_empty().then_some(NoDay::NoRule);
    for rule in rules.adopted {
        let (day, reason) = match one(rule, &inputs, rules.defaults) {
            Ok(None) => (None, "there is no such paper in the chart".to_string()),
            Ok(Some((day, reason))) => (Some(Day(day)), reason),
            Err(why) => {
                problem = Some(why);
                (None, why.to_string())
            }
        };
        by_rule.push(ByRule {
            rule: rule.id.clone(),
            keep_through: day,
            sets: false,
            reason,
            source: rule.citation.clone(),
            read_on: rule.read_on,
            unsettled: rule.is_unsettled(),
            check_first: rule.check_first.clone(),
        });
    }
    let latest = by_rule.iter().filter_map(|rule| rule.keep_through).max();
    if latest.is_none() && problem.is_none() {
        problem = Some(NoDay::NoRule);
    }
    // One rule that can't answer may be the longest: then no day is said.
    let keep_through = latest.filter(|_| problem.is_none());
    for rule in &mut by_rule {
        rule.sets = keep_through.is_some() && rule.keep_through == keep_through;
    }
    let against = against::against(chart_no, entries, register, rules);
    let open: BTreeSet<String> = against.iter().map(|one| one.block.clone()).collect();
    let codes = |kept: &Kept| -> Vec<String> {
        refusals(kept, rules.today, &open, rules.adopted, settled)
            .iter()
            .map(|one| one.code().to_string())
            .collect()
    };
    let refusals = match keep_through {
        Some(day) => codes(&Kept { keep_through: day, set_by: BTreeSet::new() }),
        None => open.into_iter().chain(["no_day".to_string()]).collect(),
    };
    KeepUntil {
        on: Day(rules.today),
        keep_through,
        may_go_on: keep_through.map(|day| Day(days_from(day.0, 1))),
        problem: problem.map(|why| why.to_string()),
        rules: by_rule,
        inputs,
        against,
        refusals,
    }
}

/// The day of one rule, and how it comes to it; none where it is about papers that the chart does not hold.
fn one(
    rule: &RetentionRule,
    inputs: &Inputs,
    defaults: RetentionDefaults,
) -> Result<Option<(Date, String)>, NoDay> {
    let mut said: Option<(Date, String)> = None;
    if is_about_charts(rule) {
        let counted = counted(&inputs.chart_dates(), rule, defaults)?;
        said = Some((counted.day, reason(rule, &counted, inputs)));
    }
    if is_about_papers(rule)
        && let Some(paper) = inputs.last_paper
    {
        let kept = keep_document_through(paper.day.0, None, &[rule], defaults)?;
        let words = format!(
            "{} after the newest paper about the patient's rights: {} (entry {})",
            years(rule.years),
            with_weekday(paper.day.0),
            paper.entry
        );
        said = Some((kept.keep_through.0, words));
    }
    Ok(said)
}

fn years(years: u32) -> String {
    if years == 1 { "1 year".to_string() } else { format!("{years} years") }
}

fn reason(rule: &RetentionRule, counted: &Counted, inputs: &Inputs) -> String {
    let entry = |seq: Option<u64>| seq.map_or(String::new(), |seq| format!(" (entry {seq})"));
    let treated = inputs.entry_of_service(counted.from);
    let from = match (counted.trigger, treated) {
        (Trigger::RecordMade, _) => "the entry made on",
        (Trigger::EachService, Some(_)) => "the latest treatment that counts, on",
        (Trigger::Completion, Some(_)) => {
            "the last treatment, since no later end of the course is recorded, on"
        }
        (_, Some(_)) => "the last treatment, on",
        (_, None) => "the last entry of a chart without a treatment, made on",
    };
    let mut words =
        format!("{} after {from} {}{}", years(rule.years), with_weekday(counted.from), entry(treated));
    if let Some((looked, birthday)) = counted.minor {
        let which = match rule.minor.as_ref().map(|minor| minor.combine) {
            Some(Combine::Earlier) => "earlier",
            _ => "later",
        };
        words.push_str(&format!(
            ", which is {}; a minor on {} by this rule, so also to the birthday on {}: the {which} of the two",
            plain_date(counted.years_end),
            plain_date(looked),
            plain_date(birthday)
        ));
    }
    words
}

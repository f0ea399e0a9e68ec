//! The topic retention: through which day a record must be kept, by which rule, and what stops its disposal.
//!
//! Whole local calendar days. Of several rules the latest day wins, and every rule that gives it is named.
//! A record must exist on the whole of the day named; the day after it is the first it may be destroyed.

use super::ReckonError;
use super::ask::{is_blank, null_is_absent, question};
use crate::record::calendar::{LeapDay, age_on, days_from, with_weekday, years_after};
use crate::record::kinds::common::Day;
use crate::record::moment::{Date, parse_date};
use crate::record::tables::Tables;
use crate::record::tables::retention::{
    Combine, Covers, MinorClause, RetentionDefaults, RetentionRule, RetentionRules, TestedAt, Trigger,
};
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use std::collections::BTreeSet;

/// The dates of a chart that a rule looks at.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct ChartDates {
    /// Birth date; None where it is not known.
    pub born: Option<Date>,
    /// Dates of treatment.
    pub services: BTreeSet<Date>,
    /// Dates on which something was entered. Services need not be repeated here.
    pub entries: BTreeSet<Date>,
    /// The day the course of treatment was recorded as ended.
    pub completed: Option<Date>,
    /// The day the person was emancipated.
    pub emancipated: Option<Date>,
}

/// A keep-through day and where it is from.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Kept {
    /// The last day the record must exist.
    pub keep_through: Day,
    /// The rules that give that day.
    pub set_by: BTreeSet<String>,
}

/// How one rule comes to its day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Counted {
    /// The last day the record must exist, by this rule.
    pub day: Date,
    /// What the years are counted from.
    pub trigger: Trigger,
    /// The day they are counted from.
    pub from: Date,
    /// The end of the years.
    pub years_end: Date,
    /// Where the person counts as a minor: the day the age was looked at, and the birthday to keep to.
    pub minor: Option<(Date, Date)>,
}

/// Why there is no keep-through day.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum NoDay {
    /// A rule asks for the person's age and the birth date is not known.
    #[error("The birth date is needed: an adopted rule asks for the person's age.")]
    BirthDateNeeded,
    /// Nothing was ever entered.
    #[error("There is no date of a treatment or an entry to count from.")]
    NothingEntered,
    /// No rule was named that is about these papers.
    #[error("No rule is named that is about this kind of paper, so there is no day to keep it to.")]
    NoRule,
}

/// A rule with what it leaves to the defaults filled in.
#[derive(Debug, Clone, Copy)]
struct Ready<'a> {
    rule: &'a RetentionRule,
    majority_age: u32,
    leap_day: LeapDay,
}

impl ChartDates {
    /// Every date on which something was entered: services are entries too.
    fn all(&self) -> BTreeSet<Date> {
        self.services.union(&self.entries).copied().collect()
    }

    /// The last service; of a chart without any, its last entry.
    pub fn last_service(&self) -> Option<Date> {
        self.services.last().or(self.entries.last()).copied()
    }
}

/// True where a rule speaks of the chart, or of papers that are kept with it.
pub fn is_about_charts(rule: &RetentionRule) -> bool {
    rule.trigger != Trigger::LastInEffect && rule.covers != Some(Covers::PrivacyPapers)
}

/// True where a rule speaks of policies, requests, notices, authorizations and the like.
pub fn is_about_papers(rule: &RetentionRule) -> bool {
    rule.trigger == Trigger::LastInEffect || rule.covers == Some(Covers::PrivacyPapers)
}

/// The day a whole chart must be kept through.
///
/// # Errors
/// [`NoDay`].
pub fn keep_through(
    chart: &ChartDates,
    rules: &[&RetentionRule],
    defaults: RetentionDefaults,
) -> Result<Kept, NoDay> {
    latest(rules, is_about_charts, |rule| counted(chart, rule, defaults).map(|counted| counted.day))
}

/// How one rule about charts comes to its day.
///
/// # Errors
/// [`NoDay`].
pub fn counted(
    chart: &ChartDates,
    rule: &RetentionRule,
    defaults: RetentionDefaults,
) -> Result<Counted, NoDay> {
    Ready::new(rule, defaults).chart(chart)
}

/// The day must be kept what was done or entered on one date. That date counts as an entry of the chart.
///
/// # Errors
/// [`NoDay`].
pub fn keep_item_through(
    chart: &ChartDates,
    item: Date,
    rules: &[&RetentionRule],
    defaults: RetentionDefaults,
) -> Result<Kept, NoDay> {
    let mut chart = chart.clone();
    chart.entries.insert(item);
    latest(rules, is_about_charts, |rule| {
        Ready::new(rule, defaults).item(&chart, item).map(|counted| counted.day)
    })
}

/// The day a paper outside the chart must be kept through.
///
/// # Errors
/// [`NoDay::NoRule`].
pub fn keep_document_through(
    created: Date,
    last_in_effect: Option<Date>,
    rules: &[&RetentionRule],
    defaults: RetentionDefaults,
) -> Result<Kept, NoDay> {
    latest(rules, is_about_papers, |rule| {
        let start = match rule.trigger {
            Trigger::RecordMade => created,
            _ => last_in_effect.map_or(created, |last| last.max(created)),
        };
        Ok(Ready::new(rule, defaults).after(start))
    })
}

/// The latest day that any of the rules gives, and every rule that gives it.
fn latest(
    rules: &[&RetentionRule],
    applies: fn(&RetentionRule) -> bool,
    day: impl Fn(&RetentionRule) -> Result<Date, NoDay>,
) -> Result<Kept, NoDay> {
    let mut kept: Option<Kept> = None;
    let mut missing = None;
    for rule in rules.iter().filter(|rule| applies(rule)) {
        let day = match day(rule) {
            Ok(day) => Day(day),
            // Nothing entered is the plainer reason, so it is not hidden by the other.
            Err(NoDay::NothingEntered) => return Err(NoDay::NothingEntered),
            Err(why) => {
                missing = Some(why);
                continue;
            }
        };
        match &mut kept {
            Some(kept) if day < kept.keep_through => {}
            Some(kept) if day == kept.keep_through => {
                kept.set_by.insert(rule.id.clone());
            }
            _ => kept = Some(Kept { keep_through: day, set_by: BTreeSet::from([rule.id.clone()]) }),
        }
    }
    match missing {
        Some(why) => Err(why),
        None => kept.ok_or(NoDay::NoRule),
    }
}

impl<'a> Ready<'a> {
    fn new(rule: &'a RetentionRule, defaults: RetentionDefaults) -> Ready<'a> {
        Ready {
            rule,
            majority_age: rule.majority_age.unwrap_or(defaults.majority_age),
            leap_day: rule.leap_day.unwrap_or(defaults.leap_day),
        }
    }

    /// The rule's years after a starting day.
    fn after(&self, start: Date) -> Date {
        years_after(start, self.rule.years, self.leap_day)
    }

    /// The chart's day: where items have days of their own, the latest of them.
    fn chart(&self, chart: &ChartDates) -> Result<Counted, NoDay> {
        let last = chart.last_service().ok_or(NoDay::NothingEntered)?;
        let minor = self.rule.minor.as_ref();
        let each_item = minor.is_some_and(|minor| minor.tested_at == TestedAt::EachItem);
        let counts = [Some(self.rule.trigger), minor.and_then(|minor| minor.count_from)];
        let items = if each_item && self.rule.trigger != Trigger::EachService
            || counts.contains(&Some(Trigger::RecordMade))
        {
            chart.all()
        } else if counts.contains(&Some(Trigger::EachService)) {
            chart.services.clone()
        } else {
            BTreeSet::new()
        };
        let mut latest = self.own_day(chart, last)?;
        for item in items {
            let own = self.own_day(chart, item)?;
            // Only a treatment starts a count of its own where each treatment does.
            let counts = own.trigger != Trigger::EachService || chart.services.contains(&item);
            // Of several that give the same day the latest is told.
            if counts && own.day >= latest.day {
                latest = own;
            }
        }
        Ok(latest)
    }

    /// The day of what was done or entered on one date; the chart's, where the count is not its own.
    fn item(&self, chart: &ChartDates, item: Date) -> Result<Counted, NoDay> {
        let own = self.own_day(chart, item)?;
        if own.trigger.is_per_item() { Ok(own) } else { self.chart(chart) }
    }

    /// The day counted for one date.
    fn own_day(&self, chart: &ChartDates, item: Date) -> Result<Counted, NoDay> {
        let last = chart.last_service().ok_or(NoDay::NothingEntered)?;
        let trigger = self.rule.trigger;
        let from = start_day(trigger, chart, last, item);
        let years_end = self.after(from);
        let adult = Counted { day: years_end, trigger, from, years_end, minor: None };
        let Some(minor) = &self.rule.minor else { return Ok(adult) };
        let born = chart.born.ok_or(NoDay::BirthDateNeeded)?;
        let tested = match minor.tested_at {
            TestedAt::LastService => last,
            // The earliest entry is the day the person was youngest.
            TestedAt::AnyEntry => chart.all().first().copied().unwrap_or(item),
            TestedAt::EachItem => item,
        };
        if !self.is_minor(minor, born, chart.emancipated, tested) {
            return Ok(adult);
        }
        let trigger = minor.count_from.unwrap_or(trigger);
        let from = start_day(trigger, chart, last, item);
        let years_end = self.after(from);
        let age = minor.keep_to(self.majority_age, age_on(born, last, self.leap_day));
        let mut birthday = years_after(born, age, self.leap_day);
        if let Some(day) = chart.emancipated.filter(|_| minor.emancipation_ends_minority) {
            birthday = birthday.min(day);
        }
        let day = match minor.combine {
            Combine::Later => years_end.max(birthday),
            Combine::Earlier => years_end.min(birthday),
        };
        Ok(Counted { day, trigger, from, years_end, minor: Some((tested, birthday)) })
    }

    fn is_minor(&self, minor: &MinorClause, born: Date, emancipated: Option<Date>, day: Date) -> bool {
        let of_age = years_after(born, minor.under_age.unwrap_or(self.majority_age), self.leap_day);
        let emancipated = emancipated.filter(|_| minor.emancipation_ends_minority);
        day < of_age && emancipated.is_none_or(|emancipated| day < emancipated)
    }
}

/// The day a count starts from.
fn start_day(trigger: Trigger, chart: &ChartDates, last: Date, item: Date) -> Date {
    match trigger {
        Trigger::EachService | Trigger::RecordMade => item,
        Trigger::Completion => chart.completed.map_or(last, |completed| completed.max(last)),
        Trigger::LastService | Trigger::LastInEffect => last,
    }
}

/// A reason against disposal.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Refusal {
    /// Today is not after the keep-through day.
    NotYet,
    /// A block is open: its name.
    Block(String),
    /// A person must look at the text of a rule first. This one may be lifted with a written reason.
    UnsettledRule,
}

impl Refusal {
    /// Its code.
    pub fn code(&self) -> &str {
        match self {
            Refusal::NotYet => "not_yet",
            Refusal::Block(id) => id,
            Refusal::UnsettledRule => "unsettled_rule",
        }
    }
}

/// Every reason against disposal today, in the order of the codes; none, and disposal may go ahead.
/// A written reason lifts [`Refusal::UnsettledRule`] and nothing else.
pub fn refusals(
    kept: &Kept,
    today: Date,
    open_blocks: &BTreeSet<String>,
    rules: &[&RetentionRule],
    written_reason: Option<&str>,
) -> Vec<Refusal> {
    let mut against: Vec<Refusal> = open_blocks.iter().cloned().map(Refusal::Block).collect();
    if today <= kept.keep_through.0 {
        against.push(Refusal::NotYet);
    }
    let lifted = written_reason.is_some_and(|reason| !is_blank(reason));
    if !lifted && rules.iter().any(|rule| rule.is_unsettled()) {
        against.push(Refusal::UnsettledRule);
    }
    against.sort_by(|a, b| a.code().cmp(b.code()));
    against
}

/// Every field of a question.
const FIELDS: &[&str] = &[
    "rules",
    "rules_inline",
    "born",
    "services",
    "entries",
    "completed",
    "emancipated",
    "item",
    "created",
    "last_in_effect",
    "as_of",
    "open",
    "override",
];

#[derive(Debug, Deserialize)]
#[serde(tag = "ask", rename_all = "snake_case")]
enum Question {
    Chart(ChartInput),
    Item(ItemInput),
    Document(DocumentInput),
    Dispose(DisposeInput),
}

#[derive(Debug, Deserialize)]
struct Adopted {
    #[serde(default, deserialize_with = "null_is_absent")]
    rules: Vec<String>,
    #[serde(default, deserialize_with = "null_is_absent")]
    rules_inline: Vec<RetentionRule>,
}

#[derive(Debug, Deserialize)]
struct ChartInput {
    #[serde(flatten)]
    adopted: Adopted,
    born: Option<Day>,
    #[serde(default, deserialize_with = "null_is_absent")]
    services: Vec<Day>,
    #[serde(default, deserialize_with = "null_is_absent")]
    entries: Vec<Day>,
    completed: Option<Day>,
    emancipated: Option<Day>,
}

#[derive(Debug, Deserialize)]
struct ItemInput {
    #[serde(flatten)]
    chart: ChartInput,
    item: Day,
}

#[derive(Debug, Deserialize)]
struct DocumentInput {
    #[serde(flatten)]
    adopted: Adopted,
    created: Day,
    last_in_effect: Option<Day>,
}

#[derive(Debug, Deserialize)]
struct DisposeInput {
    #[serde(flatten)]
    chart: ChartInput,
    as_of: Day,
    #[serde(default, deserialize_with = "null_is_absent")]
    open: BTreeSet<String>,
    r#override: Option<String>,
}

impl Adopted {
    fn rules<'a>(&'a self, tables: &'a RetentionRules) -> Result<Vec<&'a RetentionRule>, ReckonError> {
        let named = self.rules.iter().map(|id| {
            tables.rule(id).ok_or_else(|| {
                ReckonError(format!("There is no retention rule {id:?}. Look at the names in the tables."))
            })
        });
        let mut rules = named.collect::<Result<Vec<_>, _>>()?;
        rules.extend(&self.rules_inline);
        Ok(rules)
    }
}

impl ChartInput {
    fn dates(&self) -> ChartDates {
        let day = |day: &Option<Day>| day.map(|day| day.0);
        ChartDates {
            born: day(&self.born),
            services: self.services.iter().map(|day| day.0).collect(),
            entries: self.entries.iter().map(|day| day.0).collect(),
            completed: day(&self.completed),
            emancipated: day(&self.emancipated),
        }
    }
}

/// Works it out. Asks: chart, item, document, dispose.
///
/// # Errors
/// The input is not a question of this topic, or names a rule or a block that is not in the tables.
pub fn answer(input: &Value, tables: &Tables) -> Result<Value, ReckonError> {
    let (table, defaults) = (&tables.retention, tables.retention.defaults);
    match question::<Question>(input, FIELDS)? {
        Question::Chart(ask) => told(keep_through(&ask.dates(), &ask.adopted.rules(table)?, defaults), None),
        Question::Item(ask) => {
            let rules = ask.chart.adopted.rules(table)?;
            told(keep_item_through(&ask.chart.dates(), ask.item.0, &rules, defaults), None)
        }
        Question::Document(ask) => {
            let (rules, last) = (ask.adopted.rules(table)?, ask.last_in_effect.map(|day| day.0));
            told(keep_document_through(ask.created.0, last, &rules, defaults), None)
        }
        Question::Dispose(ask) => {
            let rules = ask.chart.adopted.rules(table)?;
            if let Some(word) = ask.open.iter().find(|word| table.block(word).is_none()) {
                return Err(ReckonError(format!(
                    "There is no block {word:?}. Look at the names in the tables."
                )));
            }
            let kept = keep_through(&ask.chart.dates(), &rules, defaults);
            let against = kept
                .as_ref()
                .ok()
                .map(|kept| refusals(kept, ask.as_of.0, &ask.open, &rules, ask.r#override.as_deref()));
            told(kept, against)
        }
    }
}

/// The answer as JSON. Without a birth date there is no list of refusals either: an empty one would say
/// that disposal may go ahead.
fn told(kept: Result<Kept, NoDay>, against: Option<Vec<Refusal>>) -> Result<Value, ReckonError> {
    match kept {
        Ok(kept) => {
            let mut answer = json!({ "keep_through": kept.keep_through, "set_by": kept.set_by });
            if let Some(against) = against {
                answer["refusals"] = against.iter().map(Refusal::code).collect();
            }
            Ok(answer)
        }
        Err(NoDay::BirthDateNeeded) => Ok(json!({ "problem": "birth_date_needed" })),
        Err(why) => Err(ReckonError(why.to_string())),
    }
}

/// An answer in words.
pub fn words(answer: &Value) -> Vec<String> {
    if answer["problem"] == "birth_date_needed" {
        return vec![NoDay::BirthDateNeeded.to_string() + " Find it before a day is named."];
    }
    let mut lines = Vec::new();
    if let Some(day) = answer["keep_through"].as_str().and_then(parse_date) {
        let rules: Vec<_> =
            answer["set_by"].as_array().into_iter().flatten().filter_map(Value::as_str).collect();
        lines.push(format!("Keep through {} (by {}).", with_weekday(day), rules.join(", ")));
        lines.push(format!("First day it may be destroyed: {}.", with_weekday(days_from(day, 1))));
    }
    if let Some(against) = answer["refusals"].as_array() {
        if against.is_empty() {
            lines.push("Nothing stands against disposal.".to_owned());
        }
        lines.extend(
            against
                .iter()
                .filter_map(Value::as_str)
                .map(|code| format!("Disposal refused: {}.", refusal_words(code))),
        );
    }
    lines
}

/// A code of a refusal in plain words.
pub fn refusal_words(code: &str) -> String {
    match code {
        "not_yet" => "the last day to keep it is not over".to_owned(),
        "unsettled_rule" => {
            "the text of a rule must be read by a person first, who may then give a written reason".to_owned()
        }
        "hold" => "it is on hold".to_owned(),
        block => block.replace('_', " "),
    }
}

#[cfg(test)]
#[path = "retention_tests.rs"]
mod tests;

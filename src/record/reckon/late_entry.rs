//! The topic late_entry: is an entry late, what is it to be called, and would a reviewer take it?

use super::instant::Instant;
use super::{ReckonError, input, output};
use crate::record::decimal::Decimal;
use crate::record::kinds::common::Day;
use crate::record::tables::Tables;
use crate::record::tables::clocks::LateEntryRule;
use jiff::ToSpan;
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};

/// A question about an entry made later.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(tag = "ask", rename_all = "snake_case")]
pub enum Question {
    /// Is it late?
    Timing(Timing),
    /// What is it to be called?
    Kind(Sort),
    /// Would a reviewer consider it?
    Stands(Marks),
    /// Would Alabama Medicaid accept it?
    AlMedicaid(Claimed),
}

/// When something happened and when it was written.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct Timing {
    /// When it happened.
    pub event_at: Instant,
    /// When it was written.
    pub written_at: Instant,
    /// The practice's own limit in hours.
    pub limit_hours: Decimal,
    /// When notice of a claim or complaint was received.
    pub notice_at: Option<Instant>,
    /// When a legal hold was placed.
    pub hold_at: Option<Instant>,
}

/// How late an entry is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Label {
    /// Written on the local date it happened.
    SameDay,
    /// Written within the practice's limit.
    WithinLimit,
    /// Written after the limit.
    Late,
    /// Written before it happened, which cannot be.
    Refuse,
}

/// The label, and what else marks an entry.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Timed {
    /// How late.
    pub label: Label,
    /// after_hold, after_notice.
    pub also: Vec<&'static str>,
}

/// What makes an entry written later differ from the first one.
#[derive(Debug, Clone, Default, PartialEq, Eq, Deserialize)]
pub struct Sort {
    /// The words were wrong.
    pub words_were_wrong: Option<bool>,
    /// Facts came later.
    pub new_information: Option<bool>,
    /// Something was left out.
    pub left_out: Option<bool>,
    /// It stood in another chart.
    pub from_other_chart: Option<bool>,
}

/// What an entry written later is called.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// The words were wrong.
    Correction,
    /// New information.
    Addendum,
    /// Left out at the time.
    LateEntry,
    /// Written again in the right chart.
    ReEntered,
}

/// What a reviewer looks for in an entry written later.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
pub struct Marks {
    /// On paper or in a computer.
    pub medium: Medium,
    /// Labeled as what it is.
    pub labeled: Option<bool>,
    /// Dated.
    pub dated: Option<bool>,
    /// Its author named.
    pub author_named: Option<bool>,
    /// The original still readable.
    pub original_readable: Option<bool>,
    /// The change set apart from the original; looked at in electronic records.
    pub change_distinct: Option<bool>,
}

/// What a record is kept on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Medium {
    /// Paper.
    Paper,
    /// A computer.
    Electronic,
}

/// Dates of a service billed to Medicaid.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
pub struct Claimed {
    /// Date of the service.
    pub service: Day,
    /// Date of the entry.
    pub entry: Day,
    /// Date of the claim.
    pub claim: Option<Day>,
    /// Date records were asked for.
    pub request: Option<Day>,
}

/// Labels an entry. Instants are compared, not clock faces.
pub fn timing(timing: &Timing) -> Timed {
    let after = timing.written_at.nanoseconds() - timing.event_at.nanoseconds();
    let limit = timing.limit_hours.times(Decimal::from(3_600_000_000_000));
    let label = if after < 0 {
        Label::Refuse
    } else if limit.is_some_and(|limit| Decimal::new(after, 0) > limit) {
        Label::Late
    } else if timing.event_at.local_date() == timing.written_at.local_date() {
        Label::SameDay
    } else {
        Label::WithinLimit
    };
    let later = |than: &Option<Instant>| than.is_some_and(|than| timing.written_at > than);
    let marks = [("after_hold", &timing.hold_at), ("after_notice", &timing.notice_at)];
    Timed { label, also: marks.iter().filter(|(_, t)| later(t)).map(|(word, _)| *word).collect() }
}

/// Names an entry written later.
///
/// # Errors
/// None or several of the reasons are true.
pub fn kind(sort: &Sort) -> Result<Kind, ReckonError> {
    let reasons = [
        (sort.words_were_wrong, Kind::Correction),
        (sort.new_information, Kind::Addendum),
        (sort.left_out, Kind::LateEntry),
        (sort.from_other_chart, Kind::ReEntered),
    ];
    let mut named = reasons.iter().filter(|(given, _)| *given == Some(true)).map(|(_, kind)| *kind);
    match (named.next(), named.next()) {
        (Some(kind), None) => Ok(kind),
        _ => Err(ReckonError(
            "just one of words_were_wrong, new_information, left_out, from_other_chart must be true"
                .to_string(),
        )),
    }
}

/// What is missing for a reviewer to consider an entry written later; alphabetical.
pub fn missing(marks: &Marks) -> Vec<&'static str> {
    let electronic = marks.medium == Medium::Electronic;
    let looked_for = [
        ("author", marks.author_named, true),
        ("change", marks.change_distinct, electronic),
        ("date", marks.dated, true),
        ("label", marks.labeled, true),
        ("original", marks.original_readable, true),
    ];
    looked_for.iter().filter(|(_, given, asked)| *asked && *given != Some(true)).map(|l| l.0).collect()
}

/// Whether an entry comes in time: not before the service, no later than the rule's days after it, and
/// before each thing the rule names.
pub fn in_time(claimed: &Claimed, rule: &LateEntryRule) -> bool {
    let Ok(last) = claimed.service.0.checked_add(rule.limit_days.days()) else { return false };
    let entry = claimed.entry.0;
    let before = |day: &Option<Day>| day.as_ref().is_none_or(|day| entry < day.0);
    let named = |word: &str| rule.before.iter().any(|b| b == word);
    (claimed.service.0..=last).contains(&entry)
        && (!named("claim") || before(&claimed.claim))
        && (!named("records_request") || before(&claimed.request))
}

fn al_medicaid(tables: &Tables) -> Result<LateEntryRule, ReckonError> {
    tables
        .clocks
        .late_entry("us_al_medicaid")
        .ok_or_else(|| ReckonError("the tables hold no rule late_entry.us_al_medicaid".to_string()))
}

/// Answers.
///
/// # Errors
/// The input is not a question about an entry made later.
pub fn answer(value: &Value, tables: &Tables) -> Result<Value, ReckonError> {
    match input::<Question>(value)? {
        Question::Timing(asked) => output(&timing(&asked)),
        Question::Kind(sort) => Ok(json!({ "kind": kind(&sort)? })),
        Question::Stands(marks) => {
            let missing = missing(&marks);
            Ok(json!({ "considered": missing.is_empty(), "missing": missing }))
        }
        Question::AlMedicaid(claimed) => Ok(json!({ "accepted": in_time(&claimed, &al_medicaid(tables)?) })),
    }
}

/// The answer for a person.
///
/// # Errors
/// As [`answer`].
pub fn plain(value: &Value, tables: &Tables) -> Result<Vec<String>, ReckonError> {
    Ok(match input::<Question>(value)? {
        Question::Timing(asked) => {
            let timed = timing(&asked);
            let mut lines = vec![match timed.label {
                Label::SameDay => "Written on the day it happened.".to_string(),
                Label::WithinLimit => {
                    format!("Written on a later day, within the limit of {} hours.", asked.limit_hours)
                }
                Label::Late => {
                    format!("Late entry: written more than {} hours after it happened.", asked.limit_hours)
                }
                Label::Refuse => "It can't be written before it happened.".to_string(),
            }];
            let marks = timed.also.iter().map(|mark| match *mark {
                "after_hold" => "Marked: written after a legal hold was placed.".to_string(),
                _ => "Marked: written after notice of a claim or complaint.".to_string(),
            });
            lines.extend(marks);
            lines
        }
        Question::Kind(sort) => vec![match kind(&sort)? {
            Kind::Correction => "A correction: the words were wrong.".to_string(),
            Kind::Addendum => "An addendum: the facts came later.".to_string(),
            Kind::LateEntry => "A late entry: something was left out.".to_string(),
            Kind::ReEntered => "Written again in the right chart; mark it as re-entered.".to_string(),
        }],
        Question::Stands(marks) => match missing(&marks).as_slice() {
            [] => vec!["A reviewer would consider it.".to_string()],
            lacking => vec![format!("A reviewer would not consider it; missing: {}.", lacking.join(", "))],
        },
        Question::AlMedicaid(claimed) => {
            let rule = al_medicaid(tables)?;
            let word = if in_time(&claimed, &rule) { "Accepted" } else { "Not accepted" };
            vec![format!("{word} (within {} days, before any claim or records request).", rule.limit_days)]
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn said(input: Value) -> Value {
        answer(&input, Tables::shipped().unwrap()).unwrap()
    }

    #[test]
    fn instants_read_as_rfc_3339_writes_them() {
        let at = |text| Instant::parse(text).map(Instant::nanoseconds);
        assert_eq!(at("2024-05-06T09:00:00-04:00"), at("2024-05-06T13:00:00Z"));
        assert_eq!(at("2024-05-06t13:00:00.000z"), at("2024-05-06T13:00:00Z"));
        assert_eq!(at("2024-05-06T13:00:00.25Z").unwrap() - at("2024-05-06T13:00:00Z").unwrap(), 250_000_000);
        for wrong in
            ["2024-05-06T09:00:00", "2024-05-06", "2024-02-30T09:00:00Z", "2024-05-06T09:00:00.Z", ""]
        {
            assert_eq!(Instant::parse(wrong), None, "{wrong}");
        }
    }

    #[test]
    fn instants_are_compared_and_dates_are_each_in_their_own_offset() {
        let asked = |event: &str, written: &str, hours: Value| {
            said(json!({ "ask": "timing", "event_at": event, "written_at": written, "limit_hours": hours }))["label"]
                .clone()
        };
        // The clock face reads earlier; the instant is half an hour later.
        assert_eq!(asked("2024-11-03T01:45:00-04:00", "2024-11-03T01:15:00-05:00", json!(24)), "same_day");
        // The clock face reads later; the instant is earlier.
        assert_eq!(asked("2024-05-06T09:00:00-04:00", "2024-05-06T12:00:00Z", json!(24)), "refuse");
        // One minute later, and by its own offset another date.
        assert_eq!(asked("2024-05-06T23:30:00-04:00", "2024-05-07T03:31:00Z", json!(24)), "within_limit");
        assert_eq!(asked("2024-05-06T09:00:00-04:00", "2024-05-06T12:00:01-04:00", json!(3)), "late");
        assert_eq!(asked("2024-05-06T09:00:00-04:00", "2024-05-06T09:30:00-04:00", json!(0.5)), "same_day");
        assert_eq!(asked("2024-05-06T09:00:00-04:00", "2024-05-06T09:00:00-04:00", json!(0)), "same_day");
        assert_eq!(asked("2024-05-06T09:00:00-04:00", "2024-05-07T09:00:00.001-04:00", json!(24)), "late");
    }

    #[test]
    fn marks_stand_whatever_the_label_and_only_for_later_instants() {
        let asked = |written: &str| {
            said(json!({ "ask": "timing", "event_at": "2024-05-06T09:00:00-04:00", "written_at": written,
                "limit_hours": 24, "notice_at": "2024-05-06T12:00:00-04:00",
                "hold_at": "2024-05-06T15:00:00Z" }))["also"]
                .clone()
        };
        assert_eq!(asked("2024-05-06T12:00:00-04:00"), json!(["after_hold"]));
        assert_eq!(asked("2024-05-06T12:00:01-04:00"), json!(["after_hold", "after_notice"]));
        assert_eq!(asked("2024-05-06T11:00:00-04:00"), json!([]));
    }

    #[test]
    fn several_reasons_or_none_have_no_name() {
        assert!(kind(&Sort::default()).is_err());
        let both = Sort { left_out: Some(true), new_information: Some(true), ..Sort::default() };
        assert!(kind(&both).is_err());
        let denied = Sort { left_out: Some(false), new_information: Some(false), ..Sort::default() };
        assert!(kind(&denied).is_err());
    }

    /// Correction: it was wrong; addendum: not known then; late entry: left out then (CMS Pub. 100-08 ch. 3, 3.3.2.5).
    /// What stood in another chart is written again under a name of its own (common practice).
    #[test]
    fn an_entry_made_later_is_called_by_its_reason() {
        for (reason, word, told) in [
            ("words_were_wrong", "correction", "A correction: "),
            ("new_information", "addendum", "An addendum: "),
            ("left_out", "late_entry", "A late entry: "),
            ("from_other_chart", "re_entered", "Written again in the right chart"),
        ] {
            let asked = json!({ "ask": "kind", reason: true });
            assert_eq!(said(asked.clone())["kind"], word, "{reason}");
            let lines = plain(&asked, Tables::shipped().unwrap()).unwrap();
            assert!(lines.len() == 1 && lines[0].starts_with(told), "{reason}: {lines:?}");
        }
    }

    #[test]
    fn paper_needs_no_distinct_change_and_what_is_not_said_is_missing() {
        let stands = |medium: &str| said(json!({ "ask": "stands", "medium": medium, "labeled": true }));
        assert_eq!(stands("paper")["missing"], json!(["author", "date", "original"]));
        assert_eq!(stands("electronic")["missing"], json!(["author", "change", "date", "original"]));
    }

    #[test]
    fn an_entry_on_the_day_of_the_claim_is_not_before_it() {
        let taken = |entry: &str, claim: Value, request: Value| {
            said(json!({ "ask": "al_medicaid", "service": "2024-01-10", "entry": entry,
                "claim": claim, "request": request }))["accepted"]
                == true
        };
        assert!(taken("2024-01-10", json!("2024-01-11"), json!("2024-01-11")));
        assert!(!taken("2024-01-20", json!("2024-01-20"), json!(null)));
        assert!(!taken("2024-01-20", json!(null), json!("2024-01-20")));
        assert!(!taken("2024-01-09", json!(null), json!(null)));
        // 45 days after 10 January 2024 is 24 February.
        assert!(
            taken("2024-02-24", json!(null), json!(null)) && !taken("2024-02-25", json!(null), json!(null))
        );
    }

    /// An entry must come before what the rule names, and before nothing else.
    #[test]
    fn a_rule_looks_at_what_it_names_alone() {
        let day = |text: &str| Day(crate::record::moment::parse_date(text).unwrap());
        let taken = |before: &[&str], claim: bool, request: bool| {
            let rule = LateEntryRule {
                limit_days: 45,
                before: before.iter().map(|word| (*word).to_string()).collect(),
            };
            let on = |there: bool| there.then(|| day("2024-01-11"));
            let claimed = Claimed {
                service: day("2024-01-10"),
                entry: day("2024-01-12"),
                claim: on(claim),
                request: on(request),
            };
            in_time(&claimed, &rule)
        };
        for (before, after_claim, after_request) in [
            (&["claim", "records_request"][..], false, false),
            (&["claim"], false, true),
            (&["records_request"], true, false),
            (&[], true, true),
        ] {
            assert_eq!(taken(before, true, false), after_claim, "{before:?}, after the claim");
            assert_eq!(taken(before, false, true), after_request, "{before:?}, after the request");
            assert!(taken(before, false, false), "{before:?}");
        }
    }
}

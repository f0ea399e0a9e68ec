//! Notices that a change of the keeper of the records asks for: to patients, the board, a newspaper, each with the
//! day by which it is due. Which ones there are is for the practice's rules to say, each with its source.

use super::calendar::{ShortMonth, days_from, months_from};
use super::kinds::common::Day;
use super::moment::Date;
use super::vocab::words;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

words! {
    /// Why the records pass to somebody else.
    ClosingEvent {
        Sale = "sale", Retirement = "retirement", Leaving = "leaving", Illness = "illness", Death = "death",
        Closing = "closing",
    }
}

words! {
    /// Who is told.
    Told {
        Patients = "patients", Board = "board", Newspaper = "newspaper", Other = "other",
    }
}

words! {
    /// What a time is counted in.
    ClosingUnit {
        Days = "days", Months = "months",
    }
}

words! {
    /// On which side of the hand-over it lies.
    ClosingSide {
        Before = "before", After = "after",
    }
}

/// One notice that a rule asks for.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ClosingRule {
    /// Name of the rule, for example lm-board.
    pub id: String,
    /// The state or country it holds in.
    pub place: String,
    /// For which events.
    pub events: Vec<ClosingEvent>,
    /// Who is told.
    pub whom: Told,
    /// What they are told, and how.
    pub says: String,
    /// How many days or months.
    pub count: u32,
    /// Days or months.
    pub unit: ClosingUnit,
    /// Before the hand-over, or after it.
    pub side: ClosingSide,
    /// Patients treated within so many months before are told; absent: the rule names no such limit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub patients_of_months: Option<u32>,
    /// Where it is published.
    pub source: String,
    /// Day that was read.
    pub read_on: Day,
    /// What is not certain about it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub check_first: Option<String>,
}

impl ClosingRule {
    /// The time it leaves, in words.
    pub fn time(&self) -> String {
        match (self.count, self.unit) {
            (1, ClosingUnit::Days) => "1 day".to_string(),
            (1, ClosingUnit::Months) => "1 month".to_string(),
            (count, unit) => format!("{count} {}", unit.word()),
        }
    }

    /// The last day for it, where the records pass on `day`. Months end on the same day of the month, in a shorter
    /// one on its last day.
    pub fn due(&self, day: Date) -> Date {
        let count = match self.side {
            ClosingSide::Before => -i64::from(self.count),
            ClosingSide::After => i64::from(self.count),
        };
        match self.unit {
            ClosingUnit::Days => days_from(day, count),
            ClosingUnit::Months => months_from(day, count, ShortMonth::LastDay),
        }
    }
}

/// A notice with its day.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct NoticeDue {
    /// The rule.
    pub rule: ClosingRule,
    /// The last day for it.
    pub due: Day,
    /// Number of the entry that says it was done; null while none does.
    pub done: Option<u64>,
}

/// The notices that these rules ask for on an event, the earliest first.
pub fn notices(rules: &[ClosingRule], event: ClosingEvent, day: Date) -> Vec<NoticeDue> {
    let mine = rules.iter().filter(|rule| rule.events.contains(&event));
    let mut due: Vec<NoticeDue> =
        mine.map(|rule| NoticeDue { rule: rule.clone(), due: Day(rule.due(day)), done: None }).collect();
    due.sort_by(|a, b| (a.due, &a.rule.id).cmp(&(b.due, &b.rule.id)));
    due
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::moment::parse_date;

    fn rule(count: u32, unit: ClosingUnit, side: ClosingSide) -> ClosingRule {
        ClosingRule {
            id: "x".into(),
            place: "x".into(),
            events: vec![ClosingEvent::Death],
            whom: Told::Board,
            says: "x".into(),
            count,
            unit,
            side,
            patients_of_months: None,
            source: "x".into(),
            read_on: Day(parse_date("2026-11-30").unwrap()),
            check_first: None,
        }
    }

    #[test]
    fn days_are_counted_as_the_rules_say() {
        let day = |text: &str| parse_date(text).unwrap();
        let due = |count, unit, side, on: &str| rule(count, unit, side).due(day(on));
        // "Within one (1) month from the date of termination of practice, or the chiropractor's death" and "at the
        // conclusion of a twenty-three month period", Fla. Admin. Code 64B2-17.006(2), (3).
        assert_eq!(due(1, ClosingUnit::Months, ClosingSide::After, "2025-01-31"), day("2025-02-28"));
        assert_eq!(due(23, ClosingUnit::Months, ClosingSide::After, "2025-01-31"), day("2026-12-31"));
        // "No later than thirty days prior to the last date", Ohio Admin. Code 4734-8-07(A).
        assert_eq!(due(30, ClosingUnit::Days, ClosingSide::Before, "2025-03-31"), day("2025-03-01"));
        assert_eq!(due(30, ClosingUnit::Days, ClosingSide::After, "2025-03-01"), day("2025-03-31"));
        assert_eq!(due(2, ClosingUnit::Months, ClosingSide::Before, "2025-04-30"), day("2025-02-28"));
        let rules =
            [rule(30, ClosingUnit::Days, ClosingSide::After), rule(5, ClosingUnit::Days, ClosingSide::After)];
        let listed = notices(&rules, ClosingEvent::Death, day("2025-03-31"));
        assert_eq!(listed.iter().map(|one| one.rule.count).collect::<Vec<_>>(), [5, 30]);
        assert!(notices(&rules, ClosingEvent::Sale, day("2025-03-31")).is_empty());
    }

    #[test]
    fn a_time_is_said_in_words() {
        let time = |count, unit| rule(count, unit, ClosingSide::After).time();
        assert_eq!(time(1, ClosingUnit::Days), "1 day");
        assert_eq!(time(1, ClosingUnit::Months), "1 month");
        assert_eq!(time(30, ClosingUnit::Days), "30 days");
        assert_eq!(time(23, ClosingUnit::Months), "23 months");
    }
}

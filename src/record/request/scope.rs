//! Which part of a chart is asked for, and which part a paper names.

use crate::record::kinds::common::Day;
use crate::record::kinds::release::{Request, Span};
use crate::record::kinds::request::Scope;
use crate::record::moment::plain_date;
use std::collections::BTreeSet;

impl Request {
    /// What is asked: single days, span and kinds together. Nothing given: the whole chart.
    pub fn asked(&self) -> Scope {
        let mut scope = self.scope.clone().unwrap_or_default();
        scope.dates.extend(self.dates.iter().copied());
        scope.dates.sort_unstable();
        scope.dates.dedup();
        scope
    }
}

impl Scope {
    /// The same as a part of a chart to be released.
    pub fn into_span(self) -> Span {
        Span { from: self.first, until: self.last, days: self.dates, kinds: self.kinds }
    }

    /// True where nothing is limited: the whole chart.
    pub fn is_whole(&self) -> bool {
        !self.limits_days() && self.kinds.is_empty()
    }

    fn limits_days(&self) -> bool {
        self.first.is_some() || self.last.is_some() || !self.dates.is_empty()
    }

    fn has_span(&self) -> bool {
        self.first.is_some() || self.last.is_some()
    }

    fn in_span(&self, day: Day) -> bool {
        self.has_span()
            && self.first.is_none_or(|first| first <= day)
            && self.last.is_none_or(|last| day <= last)
    }

    /// True where this day is inside: in the span, or one of the single days.
    pub fn has_day(&self, day: Day) -> bool {
        !self.limits_days() || self.in_span(day) || self.dates.contains(&day)
    }

    /// True where entries of this kind are inside.
    pub fn has_kind(&self, kind: &str) -> bool {
        self.kinds.is_empty() || self.kinds.iter().any(|one| one == kind)
    }

    /// True where an entry of this kind that happened on this day is inside.
    pub fn has(&self, day: Day, kind: &str) -> bool {
        self.has_day(day) && self.has_kind(kind)
    }

    /// True where everything in it is also in the other one.
    pub fn is_within(&self, other: &Scope) -> bool {
        self.days_within(other)
            && (other.kinds.is_empty()
                || !self.kinds.is_empty() && self.kinds.iter().all(|kind| other.has_kind(kind)))
    }

    fn days_within(&self, other: &Scope) -> bool {
        if !other.limits_days() {
            return true;
        }
        if !self.limits_days() {
            return false;
        }
        let dates = self.dates.iter().all(|day| other.has_day(*day));
        let starts = other.first.is_none_or(|theirs| self.first.is_some_and(|mine| theirs <= mine));
        let ends = other.last.is_none_or(|theirs| self.last.is_some_and(|mine| mine <= theirs));
        let span = !self.has_span() || other.has_span() && starts && ends;
        dates && span
    }

    /// What is in both; none where nothing can be.
    pub fn both(&self, other: &Scope) -> Option<Scope> {
        if self.is_within(other) {
            return Some(self.clone());
        }
        if other.is_within(self) {
            return Some(other.clone());
        }
        let kinds: Vec<String> = match (self.kinds.is_empty(), other.kinds.is_empty()) {
            (true, _) => other.kinds.clone(),
            (_, true) => self.kinds.clone(),
            _ => self.kinds.iter().filter(|kind| other.kinds.contains(kind)).cloned().collect(),
        };
        let no_kind_left = kinds.is_empty() && !self.kinds.is_empty();
        let (first, last, dates) = self.both_days(other)?;
        (!no_kind_left).then_some(Scope { first, last, dates, kinds })
    }

    fn both_days(&self, other: &Scope) -> Option<(Option<Day>, Option<Day>, Vec<Day>)> {
        if !self.limits_days() {
            return Some((other.first, other.last, other.dates.clone()));
        }
        if !other.limits_days() {
            return Some((self.first, self.last, self.dates.clone()));
        }
        let mut dates: BTreeSet<Day> = self.dates.iter().copied().filter(|day| other.has_day(*day)).collect();
        dates.extend(other.dates.iter().copied().filter(|day| self.has_day(*day)));
        let (mut first, mut last) = (None, None);
        if self.has_span() && other.has_span() {
            first = self.first.max(other.first);
            last = match (self.last, other.last) {
                (Some(a), Some(b)) => Some(a.min(b)),
                (a, b) => a.or(b),
            };
            if first.zip(last).is_some_and(|(first, last)| last < first) {
                (first, last) = (None, None);
            }
        }
        let some = first.is_some() || last.is_some() || !dates.is_empty();
        some.then(|| (first, last, dates.into_iter().collect()))
    }

    /// In words: `11 Mar 2025 to 20 Mar 2025; visit, consent`.
    pub fn words(&self) -> String {
        if self.is_whole() {
            return "the whole chart".to_string();
        }
        let day = |day: &Day| plain_date(day.0);
        let mut days: Vec<String> = match (&self.first, &self.last) {
            (Some(first), Some(last)) => vec![format!("{} to {}", day(first), day(last))],
            (Some(first), None) => vec![format!("from {}", day(first))],
            (None, Some(last)) => vec![format!("until {}", day(last))],
            (None, None) => Vec::new(),
        };
        days.extend(self.dates.iter().map(day));
        let days = if days.is_empty() { "all days".to_string() } else { days.join(", ") };
        match self.kinds.is_empty() {
            true => days,
            false => format!("{days}; only {}", self.kinds.join(", ")),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::moment::parse_date;

    fn day(text: &str) -> Day {
        Day(parse_date(text).unwrap())
    }

    fn span(first: &str, last: &str) -> Scope {
        Scope { first: Some(day(first)), last: Some(day(last)), ..Scope::default() }
    }

    fn dates(days: &[&str]) -> Scope {
        Scope { dates: days.iter().map(|text| day(text)).collect(), ..Scope::default() }
    }

    fn kinds(mut scope: Scope, kinds: &[&str]) -> Scope {
        scope.kinds = kinds.iter().map(|kind| (*kind).to_string()).collect();
        scope
    }

    #[test]
    fn a_last_day_is_inside_and_single_days_stand_beside_the_span() {
        let mut scope = span("2025-03-01", "2025-03-10");
        scope.dates.push(day("2025-04-02"));
        for (text, inside) in [
            ("2025-02-28", false),
            ("2025-03-01", true),
            ("2025-03-10", true),
            ("2025-03-11", false),
            ("2025-04-02", true),
        ] {
            assert_eq!(scope.has_day(day(text)), inside, "{text}");
        }
        let only = kinds(dates(&["2025-04-02"]), &["visit"]);
        assert!(only.has(day("2025-04-02"), "visit") && !only.has(day("2025-04-02"), "consent"));
        assert!(!only.has(day("2025-04-03"), "visit"));
        assert!(Scope::default().has(day("1999-01-01"), "visit"));
    }

    #[test]
    fn within_means_that_nothing_is_more() {
        let whole = Scope::default();
        let march = span("2025-03-01", "2025-03-31");
        assert!(march.is_within(&whole) && !whole.is_within(&march) && whole.is_within(&whole));
        assert!(dates(&["2025-03-02", "2025-03-31"]).is_within(&march));
        assert!(!dates(&["2025-03-02", "2025-04-01"]).is_within(&march));
        assert!(span("2025-03-05", "2025-03-06").is_within(&march));
        assert!(!span("2025-02-28", "2025-03-06").is_within(&march));
        let from = Scope { first: Some(day("2025-03-05")), ..Scope::default() };
        assert!(!from.is_within(&march), "it has no end");
        assert!(kinds(march.clone(), &["visit"]).is_within(&march));
        assert!(!march.is_within(&kinds(march.clone(), &["visit"])));
        assert!(!march.is_within(&dates(&["2025-03-01"])));
    }

    #[test]
    fn what_is_in_both() {
        let march = span("2025-03-01", "2025-03-31");
        assert_eq!(Scope::default().both(&march), Some(march.clone()));
        assert_eq!(march.both(&span("2025-03-20", "2025-04-20")), Some(span("2025-03-20", "2025-03-31")));
        assert_eq!(march.both(&span("2025-05-01", "2025-05-02")), None);
        assert_eq!(march.both(&dates(&["2025-03-03", "2025-06-01"])), Some(dates(&["2025-03-03"])));
        let notes = kinds(Scope::default(), &["visit"]);
        assert_eq!(march.both(&notes), Some(kinds(march.clone(), &["visit"])));
        assert_eq!(kinds(march.clone(), &["consent"]).both(&notes), None);
    }

    /// A first day or a last day alone is a limit, and what two open spans share may be open as well.
    #[test]
    fn a_span_may_be_open_at_one_end() {
        let from = |first: &str| Scope { first: Some(day(first)), ..Scope::default() };
        let until = |last: &str| Scope { last: Some(day(last)), ..Scope::default() };
        for (scope, inside, words) in [
            (from("2025-03-05"), [false, true, true], "from 05 Mar 2025"),
            (until("2025-03-05"), [true, true, false], "until 05 Mar 2025"),
            (dates(&["2025-03-05"]), [false, true, false], "05 Mar 2025"),
        ] {
            let has = ["2025-03-04", "2025-03-05", "2025-03-06"].map(|text| scope.has_day(day(text)));
            assert_eq!((has, scope.is_whole(), scope.words().as_str()), (inside, false, words));
        }
        assert_eq!(from("2025-03-05").both(&until("2025-03-20")), Some(span("2025-03-05", "2025-03-20")));
        let beside = |mut scope: Scope, single: &str| {
            scope.dates.push(day(single));
            scope
        };
        let (a, b) = (from("2025-03-05"), from("2025-03-10"));
        assert_eq!(beside(a.clone(), "2025-02-01").both(&beside(b.clone(), "2025-02-02")), Some(b));
        let (a, b) = (until("2025-03-05"), until("2025-03-10"));
        assert_eq!(beside(a.clone(), "2025-04-01").both(&beside(b, "2025-04-02")), Some(a));
        // The last day of one is the first of the other: that day is in both.
        let shared = span("2025-03-01", "2025-03-20").both(&span("2025-03-20", "2025-03-31"));
        assert_eq!(shared, Some(span("2025-03-20", "2025-03-20")));
    }

    #[test]
    fn kinds_that_one_of_two_names_are_those_of_both() {
        let (march, late) = (span("2025-03-01", "2025-03-31"), span("2025-03-20", "2025-04-20"));
        let shared = span("2025-03-20", "2025-03-31");
        let named = |scope: &Scope, words: &[&str]| kinds(scope.clone(), words);
        for (mine, theirs, both) in [
            (&["visit"][..], &[][..], Some(&["visit"][..])),
            (&[], &["visit"], Some(&["visit"])),
            (&[], &[], Some(&[])),
            (&["visit", "consent"], &["consent", "measure"], Some(&["consent"])),
            (&["visit"], &["consent"], None),
        ] {
            let found = named(&march, mine).both(&named(&late, theirs));
            assert_eq!(found, both.map(|words| named(&shared, words)), "{mine:?} and {theirs:?}");
        }
    }

    #[test]
    fn in_words() {
        assert_eq!(Scope::default().words(), "the whole chart");
        assert_eq!(kinds(Scope::default(), &["visit"]).words(), "all days; only visit");
        assert_eq!(
            kinds(span("2025-03-01", "2025-03-31"), &["visit", "consent"]).words(),
            "01 Mar 2025 to 31 Mar 2025; only visit, consent"
        );
    }
}

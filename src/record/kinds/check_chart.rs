//! What can't be in entries about the register, the patient's identity and those who decide.

use super::common::{Check, Day, Given, Problems, blank, day_order};
use super::identity::{
    Alert, AllergyReview, Capacity, CapacityState, ChartOpened, ChartState, ChartStatus, DecisionMaker,
    Identity, IdentityChanged, Joined, Misfiled,
};
use super::register::{
    BehindOutsideCopy, CheckMade, ClockRemark, ClockState, DayClose, HandOver, Keys, OfficeFile,
    RegisterOpened, Rules, Staff, Wording,
};
use crate::record::envelope::Record;
use serde_json::Value;

impl Check for RegisterOpened {
    fn check(&self, _head: &Record, problems: &mut Problems) {
        blank(&self.practice, "/practice", problems);
        blank(&self.custodian, "/custodian", problems);
    }
}

impl Check for Keys {
    fn check(&self, _head: &Record, problems: &mut Problems) {
        for (index, key) in self.staff.iter().enumerate() {
            day_order(Some(key.from), key.until, &format!("/staff/{index}/until"), problems);
            if !key.recipient.starts_with("age1") {
                let field = format!("/staff/{index}/recipient");
                problems.refuse("not-a-recipient", field, "this is not a public key to seal to");
            }
        }
        for (index, key) in self.roles.iter().enumerate() {
            day_order(Some(key.from), key.until, &format!("/roles/{index}/until"), problems);
            if !key.recipient.starts_with("age1") {
                let field = format!("/roles/{index}/recipient");
                problems.refuse("not-a-recipient", field, "this is not a public key to seal to");
            }
        }
    }
}

impl Check for Staff {
    fn check(&self, _head: &Record, problems: &mut Problems) {
        blank(&self.code, "/code", problems);
        blank(&self.name, "/name", problems);
        day_order(Some(self.on_roster_from), self.on_roster_last_day, "/on_roster_last_day", problems);
        if !self.techniques_permitted.is_empty() && self.licence_last_day.is_none() {
            problems.refuse(
                "licence-missing",
                "/licence_last_day",
                "techniques are permitted, but no licence is stated",
            );
        }
        if self.supervisor.as_deref() == Some(self.code.as_str()) {
            problems.refuse("own-supervisor", "/supervisor", "nobody supervises themselves");
        }
    }
}

impl Check for Rules {
    fn check(&self, _head: &Record, problems: &mut Problems) {
        blank(&self.edition, "/edition", problems);
        if !self.document.get("coverage").is_some_and(Value::is_object) {
            problems.refuse(
                "rules-incomplete",
                "/document",
                "the rules hold no part for the coverage question",
            );
        }
    }
}

impl Check for Wording {
    fn check(&self, _head: &Record, problems: &mut Problems) {
        blank(&self.code, "/code", problems);
        blank(&self.text, "/text", problems);
    }
}

impl Check for ClockRemark {
    fn check(&self, head: &Record, problems: &mut Problems) {
        blank(&self.words, "/words", problems);
        if self.state == ClockState::Closed && self.of.is_none() {
            problems.refuse("nothing-to-close", "/of", "say which remark this settles");
        }
        if let (Some(from), Some(until)) = (self.wrong_from, self.wrong_until)
            && until < from
        {
            problems.refuse("dates-order", "/wrong_until", "it ends before it starts");
        }
        if self.wrong_until.is_some_and(|until| until > head.written) {
            problems.refuse("in-future", "/wrong_until", "this lies after the time of writing");
        }
    }
}

impl Check for DayClose {
    fn check(&self, head: &Record, problems: &mut Problems) {
        future_day(self.day, "/day", head, problems);
        if self.first.is_some_and(|first| first > self.last) {
            problems.refuse("numbers-order", "/first", "the first number is above the last");
        }
        let counted: u64 = self.by_kind.iter().map(|row| row.count).sum();
        if counted != self.entries {
            problems.refuse("count-mismatch", "/by_kind", "the kinds do not add up to the number of entries");
        }
    }
}

impl Check for BehindOutsideCopy {
    fn check(&self, _head: &Record, problems: &mut Problems) {
        blank(&self.because, "/because", problems);
        if self.store_entries >= self.outside_entries {
            problems.refuse("not-behind", "/store_entries", "the store is not behind its outside copy");
        }
    }
}

impl Check for OfficeFile {
    fn check(&self, _head: &Record, problems: &mut Problems) {
        blank(&self.title, "/title", problems);
        day_order(self.received_on, self.due, "/due", problems);
    }
}

impl Check for HandOver {
    fn check(&self, _head: &Record, problems: &mut Problems) {
        blank(&self.to_name, "/to_name", problems);
    }
}

impl Check for CheckMade {
    fn check(&self, _head: &Record, problems: &mut Problems) {
        blank(&self.found, "/found", problems);
    }
}

/// Refuses a day after the day of writing.
pub(super) fn future_day(day: Day, field: &str, head: &Record, problems: &mut Problems) {
    if day.0 > head.written.local_date() {
        problems.refuse("in-future", field, "this day lies after the day of writing");
    }
}

fn identity(identity: &Identity, at: &str, head: &Record, problems: &mut Problems) {
    blank(&identity.legal_name, &format!("{at}/legal_name"), problems);
    blank(&identity.second_identifier.value, &format!("{at}/second_identifier/value"), problems);
    let field = format!("{at}/birth_date");
    let today = head.written.local_date();
    let (year, month_day) = match (identity.birth_date.date, identity.birth_date.estimated_year) {
        (Some(day), None) => {
            future_day(day, &field, head, problems);
            (day.0.year(), (day.0.month(), day.0.day()))
        }
        (None, Some(year)) if year > today.year() => {
            problems.refuse("in-future", field, "this year lies after the year of writing");
            return;
        }
        (None, Some(year)) => (year, (1, 1)),
        _ => {
            problems.refuse("birth-date", field, "state the birth date, or an estimated year, and not both");
            return;
        }
    };
    let had_birthday = (today.month(), today.day()) >= month_day;
    let age = i32::from(today.year()) - i32::from(year) - i32::from(!had_birthday);
    if age > 120 {
        problems.refuse("age-over-120", field, "the patient would be over 120 years old");
    } else if age > 105 {
        problems.ask("age-over-105", field, "the patient would be over 105 years old");
    }
}

impl Check for ChartOpened {
    fn check(&self, head: &Record, problems: &mut Problems) {
        blank(&self.chart_no, "/chart_no", problems);
        identity(&self.identity, "/identity", head, problems);
        if !self.same_name_looked_for {
            problems.refuse(
                "not-looked-for",
                "/same_name_looked_for",
                "look for charts of the same person first",
            );
        }
    }
}

impl Check for IdentityChanged {
    fn check(&self, head: &Record, problems: &mut Problems) {
        identity(&self.identity, "/identity", head, problems);
        blank(&self.because, "/because", problems);
    }
}

impl Check for DecisionMaker {
    fn check(&self, head: &Record, problems: &mut Problems) {
        blank(&self.person_id, "/person_id", problems);
        blank(&self.name, "/name", problems);
        if self.relation.trim().eq_ignore_ascii_case("self") {
            problems.refuse(
                "guardian-is-patient",
                "/relation",
                "the patient can't be their own guardian or agent",
            );
        }
        if let Some(born) = self.birth_date {
            future_day(born, "/birth_date", head, problems);
        }
        let starts = self.authority_starts_at.map(|start| Day(start.local_date()));
        day_order(starts, self.authority_last_day, "/authority_last_day", problems);
        if let (Some(start), Some(end)) = (self.authority_starts_at, self.superseded_at)
            && end < start
        {
            problems.refuse("dates-order", "/superseded_at", "the authority ends before it starts");
        }
    }
}

impl Check for Capacity {
    fn check(&self, head: &Record, problems: &mut Problems) {
        blank(&self.words, "/words", problems);
        if self.state == CapacityState::DoubtResolved && self.of.is_none() {
            problems.refuse("nothing-to-close", "/of", "say which doubt this resolves");
        }
        if self.until.is_some_and(|until| until < head.happened.start) {
            problems.refuse("dates-order", "/until", "it ends before it starts");
        }
    }
}

impl Check for AllergyReview {
    fn check(&self, head: &Record, problems: &mut Problems) {
        match &self.reviewed_on {
            Given::Value(day) => future_day(*day, "/reviewed_on", head, problems),
            Given::Absent(absent) => blank(&absent.because, "/reviewed_on", problems),
        }
        for (index, detail) in self.details.iter().enumerate() {
            if !self.substances.contains_key(&detail.substance) {
                let field = format!("/details/{index}/substance");
                problems.refuse("substance-not-listed", field, "this substance is not among those reviewed");
            }
        }
    }
}

impl Check for Alert {
    fn check(&self, _head: &Record, problems: &mut Problems) {
        blank(&self.kind, "/kind", problems);
        day_order(Some(self.from), self.until, "/until", problems);
        if self.ends.is_some() && self.until.is_none() {
            problems.refuse("end-missing", "/until", "state the last day of the alert that ends");
        }
    }
}

impl Check for ChartState {
    fn check(&self, head: &Record, problems: &mut Problems) {
        if self.status == ChartStatus::ClosedContinueAt && self.continue_at.is_none() {
            problems.refuse("continue-at-missing", "/continue_at", "state the chart where it goes on");
        }
        if self.status == ChartStatus::Deceased && self.died_on.is_none() {
            problems.refuse("died-on-missing", "/died_on", "state the day of death");
        }
        if let Some(day) = self.died_on {
            future_day(day, "/died_on", head, problems);
        }
        if self.status == ChartStatus::Disposed {
            let text = "a chart is disposed of by two people, with a command of its own";
            problems.refuse("disposed-by-hand", "/status", text);
        }
    }
}

impl Check for Joined {
    fn check(&self, _head: &Record, problems: &mut Problems) {
        blank(&self.other_chart_no, "/other_chart_no", problems);
        blank(&self.because, "/because", problems);
    }
}

impl Check for Misfiled {
    fn check(&self, head: &Record, problems: &mut Problems) {
        blank(&self.because, "/because", problems);
        if self.found_at > head.written {
            problems.refuse("in-future", "/found_at", "this lies after the time of writing");
        }
    }
}

impl Check for super::register::EarlierLedger {
    fn check(&self, head: &Record, problems: &mut Problems) {
        blank(&self.checkpoint, "/checkpoint", problems);
        if self.origin == head.ledger {
            problems.refuse("same-ledger", "/origin", "a ledger does not go on from itself");
        }
        if self.entries == 0 {
            problems.refuse("empty", "/entries", "the earlier ledger holds nothing");
        }
    }
}

impl Check for super::register::FileKept {
    fn check(&self, _head: &Record, problems: &mut Problems) {
        digest(&self.sealed_digest, problems);
    }
}

impl Check for super::register::FileRemoved {
    fn check(&self, _head: &Record, problems: &mut Problems) {
        digest(&self.sealed_digest, problems);
    }
}

/// A file of the store is named by 64 hex digits.
fn digest(text: &str, problems: &mut Problems) {
    if text.len() != 64 || !text.bytes().all(|b| b.is_ascii_digit() || (b'a'..=b'f').contains(&b)) {
        problems.refuse("digest-form", "/sealed_digest", "a digest has 64 hex digits");
    }
}

//! What was written when: how many entries on each day, of which sort, and which of them are about an earlier day.
//!
//! Kinds, days and authors stand open in the ledger, so most of this needs no reading key. That an entry is late, and
//! which day a correction is about, lies sealed: where it is not known, it is said to be unknown and never guessed.
//! Facts only: nothing here judges.

mod count;

pub use count::{Busy, Column, Course, Gap, Thread, Totals, course, may_be_late};

use super::moment::{Date, Moment, parse_date};
use super::vocab::words;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

words! {
    /// Sorts of entries, told apart by their kind.
    Group {
        /// Visits, notes, screens, measures, reactions, attachments.
        Care = "care",
        /// Consents, asking, refusals, withdrawals, pauses.
        Agreed = "agreed",
        /// Who the patient is, contacts, requests, releases, holds.
        Desk = "desk",
        /// Charts opened for reading.
        Openings = "openings",
        /// The register itself: days closed, keys, roster, rules, safe copies, sealed files.
        Register = "register",
    }
}

words! {
    /// In which way an entry is about an earlier day.
    Past {
        /// It says that something was wrong.
        Correction = "correction",
        /// It adds what was not known then.
        Addendum = "addendum",
        /// It says what was left out then, or was written later than the rules allow.
        Late = "late",
    }
}

words! {
    /// What is marked on a day, besides entries being counted.
    Lane {
        /// Notice of a claim or complaint, and holds.
        Notice = "notice",
        /// Somebody asked for records, or for an amendment.
        Request = "request",
        /// The day was closed, and its slip printed.
        Closed = "closed",
        /// A witness or time stamp pins down everything up to an entry of this day.
        Outside = "outside",
        /// A safe copy was made.
        Copy = "copy",
        /// The clock ran backwards, or was remarked on as wrong.
        Clock = "clock",
        /// A chart was destroyed.
        Destroyed = "destroyed",
    }
}

/// One entry, as far as it is told here.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Line {
    /// Its number in the ledger.
    pub seq: u64,
    /// Its kind.
    pub kind: String,
    /// When its header says that it was written.
    pub written: Moment,
    /// What lies sealed in it and was read; none where it was not.
    pub read: Option<Read>,
}

/// What lies sealed in an entry and counts here.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Read {
    /// Whether it bears the label of a late entry.
    pub late: bool,
    /// Whether it bears the label of having been written after a notice, under a hold or after a request.
    pub after: bool,
    /// The day that it is about, where that is an earlier entry's or its own event's.
    pub about: Option<Date>,
}

impl Line {
    /// Its sort.
    pub fn group(&self) -> Group {
        group_of(&self.kind)
    }

    /// In which way it is about an earlier day, as far as that is known.
    pub fn past(&self) -> Option<Past> {
        match self.kind.as_str() {
            "correction" | "misfiled" => Some(Past::Correction),
            "addendum" => Some(Past::Addendum),
            "late-entry" => Some(Past::Late),
            _ => self.read.filter(|read| read.late).map(|_| Past::Late),
        }
    }

    /// What it marks on its day.
    pub fn lane(&self) -> Option<Lane> {
        Some(match self.kind.as_str() {
            "notice" | "hold" | "hold-lifted" => Lane::Notice,
            "request" | "amendment-request" => Lane::Request,
            "day-close" => Lane::Closed,
            "safe-copy" => Lane::Copy,
            "clock-remark" => Lane::Clock,
            "chart-disposed" => Lane::Destroyed,
            _ => return None,
        })
    }
}

/// The sort of a kind. A kind that this program does not know belongs to a chart's care as far as anybody can tell.
pub fn group_of(kind: &str) -> Group {
    match kind {
        "consent" | "rest-of-earlier" | "end-event" | "withdrawal" | "pause" | "standing-refusal"
        | "asked" | "own-answer" | "condition-met" | "coverage-answer" => Group::Agreed,
        "chart-opened"
        | "identity-changed"
        | "decision-maker"
        | "capacity"
        | "allergy-review"
        | "alert"
        | "chart-state"
        | "joined"
        | "misfiled"
        | "contact"
        | "handout"
        | "referral"
        | "referral-answer"
        | "request"
        | "request-step"
        | "release"
        | "accounting-given"
        | "accounting-suspended"
        | "package-made"
        | "amendment-request"
        | "amendment-decision"
        | "disagreement"
        | "rebuttal"
        | "hold"
        | "hold-lifted"
        | "notice"
        | "disposal"
        | "refused-disposal"
        | "paper-chart"
        | "paper-original"
        | "document" => Group::Desk,
        "access" => Group::Openings,
        "register-opened"
        | "keys"
        | "staff"
        | "rules"
        | "wording"
        | "clock-remark"
        | "day-close"
        | "behind-outside-copy"
        | "office-file"
        | "hand-over"
        | "earlier-ledger"
        | "file-kept"
        | "file-removed"
        | "chart-disposed"
        | "disposal-certificate"
        | "copy-gone"
        | "check-made"
        | "safe-copy" => Group::Register,
        _ => Group::Care,
    }
}

/// A stretch of days, the first and the last included.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Span {
    /// First day.
    pub from: Date,
    /// Last day.
    pub until: Date,
}

impl Span {
    /// True when the day lies in it.
    pub fn holds(self, day: Date) -> bool {
        self.from <= day && day <= self.until
    }

    /// Reads a month, `2025-03`.
    pub fn read_month(text: &str) -> Option<Span> {
        parse_date(&format!("{}-01", text.trim())).map(Span::month_of)
    }

    /// Reads a year, `2025`.
    pub fn read_year(text: &str) -> Option<Span> {
        parse_date(&format!("{}-01-01", text.trim())).map(Span::year_of)
    }

    /// The month that a day lies in.
    pub fn month_of(day: Date) -> Span {
        Span { from: day.first_of_month(), until: day.last_of_month() }
    }

    /// The year that a day lies in.
    pub fn year_of(day: Date) -> Span {
        Span { from: day.first_of_year(), until: day.last_of_year() }
    }
}

/// The month that a day lies in, as it is written: `2025-03`.
pub fn month_word(day: Date) -> String {
    format!("{:04}-{:02}", day.year(), day.month())
}

#[cfg(test)]
mod tests;

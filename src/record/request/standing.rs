//! A request with its steps: where it stands, when it is due now, and what has been checked.

use super::asker_of;
use crate::record::kinds::common::Day;
use crate::record::kinds::release::{Request, RequestStep, Step};
use crate::record::kinds::request::{Asker, AuthorizationRead, Checked, FeeTold, Scope};
use crate::record::vocab::words;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

words! {
    /// Where a request stands.
    State {
        /// To be answered.
        Open = "open",
        /// Sent back to whoever asked, to be mended.
        Returned = "returned",
        /// Answered.
        Answered = "answered",
        /// Refused.
        Declined = "declined",
        /// Taken back by whoever asked.
        Withdrawn = "withdrawn",
        /// Closed.
        Closed = "closed",
    }
}

/// A step and its number.
pub type Numbered = (u64, RequestStep);

/// A request and everything that followed.
#[derive(Debug, Clone, PartialEq)]
pub struct Standing {
    /// Number of the request.
    pub seq: u64,
    /// The request.
    pub request: Request,
    /// Its steps, in the order recorded.
    pub steps: Vec<Numbered>,
    /// Numbers of the releases that name it, and of the accountings given for it.
    pub releases: Vec<u64>,
}

/// Where a request stands after these steps, in order. What was sent back is open again as soon as a paper
/// that holds is checked.
pub fn state_after<'a>(steps: impl Iterator<Item = &'a RequestStep>, released: bool) -> State {
    let start = if released { State::Answered } else { State::Open };
    steps.fold(start, |state, step| match step.step {
        Step::Answered => State::Answered,
        Step::Declined => State::Declined,
        Step::Withdrawn => State::Withdrawn,
        Step::Closed => State::Closed,
        Step::Returned => State::Returned,
        Step::AuthorityChecked | Step::AssuranceReceived
            if state == State::Returned && step.holds == Some(true) =>
        {
            State::Open
        }
        _ => state,
    })
}

impl Standing {
    /// Where it stands.
    pub fn state(&self) -> State {
        state_after(self.steps.iter().map(|(_, step)| step), !self.releases.is_empty())
    }

    /// Who asks.
    pub fn asker(&self) -> Asker {
        self.request.asker.unwrap_or_else(|| asker_of(self.request.kind, &self.request.relation))
    }

    /// The day the answer is due now: as reckoned when it was taken, or as extended.
    pub fn due(&self) -> Option<Day> {
        let moved = self.steps.iter().rev().find_map(|(_, step)| step.new_due);
        moved.or(self.request.due)
    }

    /// Number of the step that extended it and is not void.
    pub fn extended_by(&self) -> Option<u64> {
        let extends = |step: &RequestStep| step.step == Step::Extended && step.void_because.is_empty();
        self.steps.iter().find(|(_, step)| extends(step)).map(|(seq, _)| *seq)
    }

    /// The newest check of this sort, with its number.
    pub fn check(&self, what: Checked) -> Option<&Numbered> {
        self.steps.iter().rev().find(|(_, step)| step.checked == Some(what))
    }

    /// True where the newest check of this sort held.
    pub fn holds(&self, what: Checked) -> bool {
        self.check(what).is_some_and(|(_, step)| step.holds == Some(true))
    }

    /// True where it was checked who asks: when it was taken, or since.
    pub fn identity_checked(&self) -> bool {
        match self.check(Checked::Identity) {
            Some((_, step)) => step.holds == Some(true),
            None => self.request.identity_checked.value().is_some_and(|how| !how.trim().is_empty()),
        }
    }

    /// True where the right to receive was checked: when it was taken, or since.
    pub fn authority_checked(&self) -> bool {
        match self.check(Checked::Authority) {
            Some((_, step)) => step.holds == Some(true),
            None => self.request.authority_checked.as_ref().is_some_and(|how| !how.trim().is_empty()),
        }
    }

    /// The authorization as it was read last, with the number of the step.
    pub fn authorization(&self) -> Option<(u64, &AuthorizationRead)> {
        let (seq, step) = self.check(Checked::Authorization)?;
        Some((*seq, step.authorization.as_ref()?))
    }

    /// What the papers name: of the newest check that names anything.
    pub fn named(&self) -> Option<(u64, &Scope)> {
        self.steps.iter().rev().find_map(|(seq, step)| Some((*seq, step.names.as_ref()?)))
    }

    /// What may go out: what is asked, and of that what the papers name. None where nothing is in both.
    pub fn may_go_out(&self) -> Option<Scope> {
        let asked = self.request.asked();
        match self.named() {
            Some((_, named)) => asked.both(named),
            None => Some(asked),
        }
    }

    /// True where more is asked than the papers name.
    pub fn asks_for_more(&self) -> bool {
        self.named().is_some_and(|(_, named)| !self.request.asked().is_within(named))
    }

    /// The fee that was told last.
    pub fn fee(&self) -> Option<&FeeTold> {
        self.steps.iter().rev().find_map(|(_, step)| step.fee.as_ref())
    }

    /// Who is to receive it.
    pub fn recipient(&self) -> &str {
        self.request.recipient.as_deref().unwrap_or(&self.request.from)
    }
}

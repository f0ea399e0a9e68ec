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

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::{Value, json};

    fn standing(request: Value, steps: &[Value]) -> Standing {
        let more = |mut data: Value, more: &Value| {
            data.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
            data
        };
        let data = json!({ "kind": "copy", "from": "Bettony Craske", "relation": "self", "received_on": "2025-03-03",
            "text": "x", "identity_checked": "seen" });
        let request = serde_json::from_value(more(data, &request)).unwrap();
        let step = json!({ "request": 10, "step": "outcome", "on": "2025-03-04", "words": "x" });
        let steps = (20..)
            .zip(steps)
            .map(|(seq, change)| (seq, serde_json::from_value(more(step.clone(), change)).unwrap()));
        Standing { seq: 10, request, steps: steps.collect(), releases: Vec::new() }
    }

    /// What was sent back is open again once a paper that holds is checked; no check opens what is over.
    #[test]
    fn only_a_paper_that_holds_opens_what_was_sent_back() {
        let after = |steps: &[Value]| standing(json!({}), steps).state();
        let (returned, declined) = (json!({ "step": "returned" }), json!({ "step": "declined" }));
        for paper in ["authority-checked", "assurance-received"] {
            let held = |holds: bool| json!({ "step": paper, "holds": holds });
            assert_eq!(after(&[returned.clone(), held(true)]), State::Open);
            assert_eq!(after(&[returned.clone(), held(false)]), State::Returned);
            assert_eq!(after(&[declined.clone(), held(true)]), State::Declined);
            assert_eq!(after(&[held(false)]), State::Open);
        }
        // Who asks is another question than whether the paper was mended.
        let identity = json!({ "step": "identity-checked", "holds": true });
        assert_eq!(after(&[returned, identity]), State::Returned);
    }

    /// A letter that came too late takes no time (45 CFR 164.524(b)(2)(ii)), so that it is no extension.
    #[test]
    fn the_letter_that_took_more_time_is_the_one_that_is_not_void() {
        let void = json!({ "step": "extended", "void_because": ["us-hipaa-access: sent_too_late"] });
        let good = json!({ "step": "extended", "new_due": "2025-04-30" });
        assert_eq!(standing(json!({}), &[json!({ "step": "letter-sent" })]).extended_by(), None);
        assert_eq!(standing(json!({}), std::slice::from_ref(&void)).extended_by(), None);
        assert_eq!(standing(json!({}), &[json!({}), void, good]).extended_by(), Some(22));
    }

    #[test]
    fn the_newest_check_counts_and_without_one_what_was_written_when_it_came() {
        let said =
            |words: Option<&str>| standing(json!({ "authority_checked": words }), &[]).authority_checked();
        assert_eq!([said(None), said(Some(" ")), said(Some("order of custody"))], [false, false, true]);
        let check =
            |holds: bool| json!({ "step": "authority-checked", "checked": "authority", "holds": holds });
        let after = |steps: &[Value]| {
            standing(json!({ "authority_checked": "order of custody" }), steps).authority_checked()
        };
        assert_eq!([after(&[check(true), check(false)]), after(&[check(false), check(true)])], [false, true]);
        let read = |purpose: &str| {
            json!({ "step": "authority-checked", "checked": "authorization", "holds": true,
            "authorization": { "purpose": purpose } })
        };
        let twice = standing(json!({}), &[read("a claim"), read("another claim"), check(true)]);
        let (seq, newest) = twice.authorization().unwrap();
        assert_eq!((seq, newest.purpose.as_deref()), (21, Some("another claim")));
        assert!(standing(json!({}), &[check(true)]).authorization().is_none());
    }

    #[test]
    fn the_fee_told_last_and_whoever_is_to_receive_it() {
        let told = |total: &str| json!({ "step": "fee-told", "fee": { "method": "flat", "total": total, "worked_out": "x" } });
        let asked = standing(json!({}), &[told("6.50"), told("5.25"), json!({})]);
        assert_eq!(asked.fee().map(|fee| fee.total.as_str()), Some("5.25"));
        assert!(standing(json!({}), &[json!({})]).fee().is_none());
        assert_eq!(asked.recipient(), "Bettony Craske");
        // 45 CFR 164.524(c)(3)(ii): a copy to a person whom the patient names.
        assert_eq!(standing(json!({ "recipient": "Orsolya Tamm" }), &[]).recipient(), "Orsolya Tamm");
    }
}

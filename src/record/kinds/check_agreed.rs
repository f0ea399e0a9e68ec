//! What can't be in consents, withdrawals, answers, and around a visit.

use super::attendance::{
    Contact, CoverageAnswer, Handout, IdentityChecked, IdentityConfirmed, VisitClosed, VisitOpened,
};
use super::common::{Check, Given, Problems, blank, day_order, sided};
use super::consent::{
    AllowedKind, Consent, ConsentForm, ConsentKind, ConsentStatus, EndEvent, GivenBy, GiverRole, RestAnswer,
};
use super::withdrawal::{
    Asked, AskedAnswer, ConditionMet, Emergency, EmergencyState, OwnAnswer, Pause, PauseKind,
    StandingRefusal, Withdrawal,
};
use crate::record::envelope::Record;
use crate::record::vocab::{Region, Side, Technique};

fn giver(by: &GivenBy, field: &str, problems: &mut Problems) {
    if by.role == GiverRole::DecisionMaker && by.person_id.is_none() {
        problems.refuse("giver-missing", field, "say which decision-maker");
    }
    if by.role == GiverRole::Oneself && by.person_id.is_some() {
        problems.refuse("giver-unclear", field, "it was either the patient or a decision-maker");
    }
}

/// Refuses a list that is there but empty: it would read as "none", where absent means "all".
fn empty_lists(techniques: Option<&Vec<Technique>>, regions: Option<&Vec<Region>>, problems: &mut Problems) {
    if techniques.is_some_and(Vec::is_empty) {
        problems.refuse("empty-list", "/techniques", "leave the list out for all techniques, or name some");
    }
    if regions.is_some_and(Vec::is_empty) {
        problems.refuse("empty-list", "/regions", "leave the list out for everywhere, or name some");
    }
}

impl Consent {
    /// True for consent to care, as against pictures, observers, messages or papers.
    pub fn is_for_care(&self) -> bool {
        use ConsentKind::{Examination, InsideMouth, SensitiveArea, Treatment};
        matches!(self.kind, Examination | Treatment | InsideMouth | SensitiveArea)
    }

    fn check_care(&self, problems: &mut Problems) {
        if self.techniques.is_empty() {
            problems.refuse("techniques-missing", "/techniques", "name every technique agreed to");
        }
        if self.regions.is_empty() {
            problems.refuse("regions-missing", "/regions", "name the regions agreed to");
        }
        if self.side.is_none() {
            problems.refuse("side-missing", "/side", "state the side agreed to");
        }
        if self.side == Some(Side::Midline) && !self.regions.iter().any(|region| region.spans_midline()) {
            problems.refuse("no-midline", "/side", "none of these regions has a midline");
        }
        if self.regions.iter().any(|region| self.excluded_regions.contains(region)) {
            problems.refuse(
                "agreed-and-excluded",
                "/excluded_regions",
                "a region is both agreed to and left out",
            );
        }
        for (index, limit) in self.segment_limits.iter().enumerate() {
            let field = format!("/segment_limits/{index}");
            let ends = (limit.highest_segment, limit.lowest_segment);
            let orders = (ends.0.map(|end| end.order()), ends.1.map(|end| end.order()));
            if orders.0 == Some(None) || orders.1 == Some(None) {
                problems.refuse("limit-not-ordered", &field, "a limit must be a segment of the spine");
            } else if let (Some(high), Some(low)) = orders
                && high > low
            {
                problems.refuse("limit-order", &field, "the limit nearest the head lies below the other");
            }
            if limit.techniques.as_ref().is_some_and(Vec::is_empty) || ends == (None, None) {
                problems.refuse("empty-limit", &field, "this limit limits nothing");
            }
        }
    }

    fn check_people(&self, head: &Record, problems: &mut Problems) {
        giver(&self.given_by, "/given_by", problems);
        if self.form == ConsentForm::VerbalRecorded
            && self.heard_by.is_none()
            && self.status == ConsentStatus::Signed
        {
            problems.refuse("heard-by-missing", "/heard_by", "say who heard the verbal consent");
        }
        let any = self.practitioners_allowed.kind == AllowedKind::Any;
        if any != self.practitioners_allowed.values.is_empty() {
            problems.refuse(
                "allowed-unclear",
                "/practitioners_allowed",
                "name people or roles, or allow any",
            );
        }
        if let Some(witness) = &self.witness {
            blank(&witness.name, "/witness/name", problems);
            if self.given_by.name.as_ref() == Some(&witness.name) {
                problems.refuse(
                    "witness-is-giver",
                    "/witness",
                    "the witness must be another person than the giver",
                );
            }
        }
        if let Some(explained) = &self.explained
            && explained.at > head.written
        {
            problems.refuse("in-future", "/explained/at", "this lies after the time of writing");
        }
    }
}

impl Check for Consent {
    fn check(&self, head: &Record, problems: &mut Problems) {
        day_order(Some(self.valid_from), self.valid_until, "/valid_until", problems);
        if self.is_for_care() {
            self.check_care(problems);
        } else if self.matter.as_deref().is_none_or(|words| words.trim().is_empty()) {
            problems.refuse("matter-missing", "/matter", "say what exactly is agreed to");
        }
        if self.kind == ConsentKind::InsideMouth && !self.techniques.contains(&Technique::Intraoral) {
            problems.refuse(
                "techniques-missing",
                "/techniques",
                "work inside the mouth must name its technique",
            );
        }
        self.check_people(head, problems);
        if let Given::Absent(absent) = &self.wording {
            blank(&absent.because, "/wording", problems);
        }
    }
}

impl Check for RestAnswer {
    fn check(&self, _head: &Record, problems: &mut Problems) {
        giver(&self.said_by, "/said_by", problems);
    }
}

impl Check for EndEvent {
    fn check(&self, _head: &Record, problems: &mut Problems) {
        blank(&self.event, "/event", problems);
        if self.consents.is_empty() {
            problems.refuse("consents-missing", "/consents", "say which consents the event ends");
        }
    }
}

impl Check for Withdrawal {
    fn check(&self, head: &Record, problems: &mut Problems) {
        giver(&self.said_by, "/said_by", problems);
        empty_lists(self.techniques.as_ref(), self.regions.as_ref(), problems);
        if let Given::Absent(absent) = &self.patient_words {
            blank(&absent.because, "/patient_words", problems);
        }
        if self.stopped.as_ref().is_some_and(|stopped| stopped.at > head.written) {
            problems.refuse("in-future", "/stopped/at", "this lies after the time of writing");
        }
    }
}

impl Check for StandingRefusal {
    fn check(&self, _head: &Record, problems: &mut Problems) {
        giver(&self.said_by, "/said_by", problems);
        empty_lists(self.techniques.as_ref(), self.regions.as_ref(), problems);
    }
}

impl Check for Pause {
    fn check(&self, head: &Record, problems: &mut Problems) {
        if self.kind == PauseKind::Resumed && self.of.is_none() {
            problems.refuse("nothing-to-close", "/of", "say which pause this ends");
        }
        if self.resumed_yes_at.is_some_and(|yes| yes < head.happened.start || yes > head.written) {
            problems.refuse(
                "dates-order",
                "/resumed_yes_at",
                "the yes lies before the pause or after writing",
            );
        }
        if let Given::Absent(absent) = &self.reason {
            blank(&absent.because, "/reason", problems);
        }
    }
}

impl Check for Asked {
    fn check(&self, _head: &Record, problems: &mut Problems) {
        sided(self.region, &self.segments, Some(self.side), "/side", problems);
        let limited = self.limit_words.as_deref().is_some_and(|words| !words.trim().is_empty());
        if (self.answer == AskedAnswer::YesWithLimit) != limited {
            problems.refuse(
                "limit-unclear",
                "/limit_words",
                "a yes with a limit needs the limit in words, and only that",
            );
        }
    }
}

impl Check for OwnAnswer {}

impl Check for ConditionMet {
    fn check(&self, _head: &Record, problems: &mut Problems) {
        blank(&self.kind, "/kind", problems);
        if self.until.is_some_and(|until| until < self.from) {
            problems.refuse("dates-order", "/until", "it ends before it starts");
        }
        if self.ends.is_some() && self.until.is_none() {
            problems.refuse("end-missing", "/until", "state when it ended");
        }
    }
}

impl Check for Emergency {
    fn check(&self, _head: &Record, problems: &mut Problems) {
        blank(&self.words, "/words", problems);
        if self.state == EmergencyState::Ended && self.of.is_none() {
            problems.refuse("nothing-to-close", "/of", "say which emergency this ends");
        }
    }
}

fn confirmed(confirmed: &IdentityConfirmed, head: &Record, problems: &mut Problems) {
    if confirmed.at > head.written {
        problems.refuse("in-future", "/identity_confirmed/at", "this lies after the time of writing");
    }
    if confirmed.identifiers.iter().all(|identifier| identifier.trim().is_empty()) {
        problems.refuse(
            "identifiers-missing",
            "/identity_confirmed/identifiers",
            "say how identity was confirmed",
        );
    }
}

impl Check for VisitOpened {
    fn check(&self, head: &Record, problems: &mut Problems) {
        if self.practitioners.is_empty() {
            problems.refuse("practitioner-missing", "/practitioners", "say who sees the patient");
        }
        if let Some(how) = &self.identity_confirmed {
            confirmed(how, head, problems);
        }
    }
}

impl Check for IdentityChecked {
    fn check(&self, head: &Record, problems: &mut Problems) {
        confirmed(&self.identity_confirmed, head, problems);
    }
}

impl Check for VisitClosed {}

impl Check for CoverageAnswer {
    fn check(&self, _head: &Record, problems: &mut Problems) {
        let worst = self.agreed.max(self.checked);
        if self.answer != worst {
            problems.refuse("answer-mismatch", "/answer", "the answer must be the worse of its two lines");
        }
    }
}

impl Check for Contact {
    fn check(&self, _head: &Record, problems: &mut Problems) {
        blank(&self.said, "/said", problems);
    }
}

impl Check for Handout {
    fn check(&self, _head: &Record, problems: &mut Problems) {
        blank(&self.title, "/title", problems);
    }
}

//! What can't be in corrections, amendments, requests, releases, holds, disposals and papers.

use super::amend::{
    Addendum, AmendmentDecision, AmendmentRequest, Correction, Decision, Disagreement, LateEntry, Rebuttal,
};
use super::check_chart::future_day;
use super::common::{Check, Given, Problems, blank, day_order};
use super::disclosing::{AccountingGiven, AccountingSuspended, StatementHow};
use super::keeping::{Disposal, Hold, HoldKind, HoldLifted, Notice, NoticeState, RefusedDisposal};
use super::papers::{Attachment, Document, PaperChart, PaperOriginal, PaperState};
use super::release::{
    Access, AccessWhy, AnswerOutcome, PackageMade, Referral, ReferralAnswer, Release, Request, RequestStep,
    SealedHow, Step, WithholdReason,
};
use super::request::Scope;
use crate::record::envelope::Record;

/// Refuses what is not 64 small hex digits.
fn digest(text: &str, field: &str, problems: &mut Problems) {
    let hex = text.bytes().all(|b| b.is_ascii_digit() || (b'a'..=b'f').contains(&b));
    if text.len() != 64 || !hex {
        problems.refuse("not-a-digest", field, "a digest is 64 hex digits");
    }
}

impl Check for Correction {
    fn check(&self, head: &Record, problems: &mut Problems) {
        blank(&self.reason, "/reason", problems);
        if !self.field.starts_with('/') {
            problems.refuse("not-a-pointer", "/field", "name the field with a pointer like /side");
        }
        if self.was == self.is {
            problems.refuse("nothing-corrected", "/is", "it says the same as before");
        }
        match &self.patient_told {
            Given::Value(told) if *told > head.written => {
                problems.refuse("in-future", "/patient_told", "this lies after the time of writing");
            }
            Given::Absent(absent) => blank(&absent.because, "/patient_told", problems),
            Given::Value(_) => {}
        }
    }
}

impl Check for Addendum {
    fn check(&self, _head: &Record, problems: &mut Problems) {
        blank(&self.text, "/text", problems);
    }
}

impl Check for LateEntry {
    fn check(&self, _head: &Record, problems: &mut Problems) {
        blank(&self.text, "/text", problems);
        blank(&self.because, "/because", problems);
        blank(&self.source, "/source", problems);
    }
}

impl Check for AmendmentRequest {
    fn check(&self, head: &Record, problems: &mut Problems) {
        future_day(self.received_on, "/received_on", head, problems);
        day_order(Some(self.received_on), Some(self.due), "/due", problems);
        if self.points.is_empty() {
            problems.refuse("points-missing", "/points", "state what is asked, point by point");
        }
    }
}

impl Check for AmendmentDecision {
    fn check(&self, _head: &Record, problems: &mut Problems) {
        for (index, point) in self.points.iter().enumerate() {
            let field = format!("/points/{index}");
            blank(&point.reason, &format!("{field}/reason"), problems);
            if (point.decision == Decision::Accepted) == point.ground.is_some() {
                problems.refuse(
                    "ground-unclear",
                    format!("{field}/ground"),
                    "a refusal needs its ground, an acceptance has none",
                );
            }
        }
        let refuses = self.points.iter().any(|point| point.decision != Decision::Accepted);
        let letter = &self.letter;
        let complete = letter.says_ground
            && letter.says_right_to_disagree
            && letter.says_right_to_travel
            && letter.says_complaint_route;
        if refuses && !complete {
            problems.refuse(
                "letter-incomplete",
                "/letter",
                "a refusal's letter must state the ground and every right",
            );
        }
    }
}

impl Check for Disagreement {
    fn check(&self, head: &Record, problems: &mut Problems) {
        blank(&self.text, "/text", problems);
        future_day(self.received_on, "/received_on", head, problems);
    }
}

impl Check for Rebuttal {
    fn check(&self, _head: &Record, problems: &mut Problems) {
        blank(&self.text, "/text", problems);
    }
}

impl Check for Referral {
    fn check(&self, _head: &Record, problems: &mut Problems) {
        blank(&self.to, "/to", problems);
        blank(&self.why, "/why", problems);
    }
}

impl Check for ReferralAnswer {
    fn check(&self, _head: &Record, problems: &mut Problems) {
        let received = self.outcome == AnswerOutcome::Received;
        if received != self.received_on.is_some() {
            problems.refuse(
                "received-unclear",
                "/received_on",
                "state the day an answer came, and only then",
            );
        }
    }
}

impl Check for Access {
    fn check(&self, _head: &Record, problems: &mut Problems) {
        if [AccessWhy::Other, AccessWhy::Emergency].contains(&self.why) {
            blank(self.words.as_deref().unwrap_or_default(), "/words", problems);
        }
    }

    fn edition(&self) -> u32 {
        // The first edition has no word for an emergency.
        if self.why == AccessWhy::Emergency { 2 } else { 1 }
    }
}

impl Check for Request {
    fn check(&self, head: &Record, problems: &mut Problems) {
        blank(&self.from, "/from", problems);
        future_day(self.received_on, "/received_on", head, problems);
        // A clock that counts from the date on the request may have run out before the request arrived.
        if let Some(day) = self.requested_on {
            future_day(day, "/requested_on", head, problems);
        }
        if let Some(scope) = &self.scope {
            scope_fits(scope, "/scope", problems);
        }
    }
}

/// Refuses a span that ends before it begins, and kinds of entries that do not exist.
fn scope_fits(scope: &Scope, field: &str, problems: &mut Problems) {
    day_order(scope.first, scope.last, &format!("{field}/last"), problems);
    if scope.kinds.iter().any(|kind| super::info(kind).is_none()) {
        let text = "a kind of entry is not known: visit, consent, measure, attachment, ...";
        problems.refuse("kind-unknown", format!("{field}/kinds"), text);
    }
}

impl Check for RequestStep {
    fn check(&self, head: &Record, problems: &mut Problems) {
        blank(&self.words, "/words", problems);
        future_day(self.on, "/on", head, problems);
        if self.step == Step::Extended && (self.new_due.is_none() || self.letter_dated.is_none()) {
            problems.refuse(
                "extension-incomplete",
                "/new_due",
                "an extension needs the new date and the letter's date",
            );
        }
        if let Some(names) = &self.names {
            scope_fits(names, "/names", problems);
        }
        if let Some(text) = &self.digest {
            digest(text, "/digest", problems);
        }
        if let Some(denial) = &self.denial {
            blank(&denial.reason, "/denial/reason", problems);
            if denial.ground.is_reviewable() && denial.judged_by.is_none() {
                let text = "say which licensed person judged it";
                problems.refuse("judge-missing", "/denial/judged_by", text);
            }
        }
    }
}

impl Check for Release {
    fn check(&self, head: &Record, problems: &mut Problems) {
        blank(&self.to, "/to", problems);
        day_order(self.what.from, self.what.until, "/what/until", problems);
        if let Some(day) = self.asked_on {
            future_day(day, "/asked_on", head, problems);
        }
        if self.sealed == SealedHow::ToRecipientKey && self.sealed_to.is_none() {
            problems.refuse("recipient-missing", "/sealed_to", "state the key it was sealed to");
        }
        for (text, field) in
            [(&self.what.digest, "/what/digest"), (&self.what.plain_digest, "/what/plain_digest")]
        {
            if let Some(text) = text {
                digest(text, field, problems);
            }
        }
        // A letter or a call is no package: that it was not sealed is said, and nobody was shown a warning.
        let open_package = self.sealed == SealedHow::NotSealed && self.what.up_to.is_some();
        let sealed_and_not = self.sealed != SealedHow::NotSealed && self.unsealed.is_some();
        if open_package && self.unsealed.is_none() || sealed_and_not {
            problems.refuse(
                "unsealed-unclear",
                "/unsealed",
                "a package that leaves unsealed needs who confirmed it and what they were shown, and nothing else does",
            );
        }
        for (index, held) in self.withheld.iter().enumerate() {
            let field = format!("/withheld/{index}/determination");
            let harm = held.reason == Some(WithholdReason::LikelyHarm);
            match &held.determination {
                None if harm => problems.refuse(
                    "determination-missing",
                    field,
                    "likely harm needs a licensed professional's determination: who, licence, day",
                ),
                Some(made) => {
                    blank(&made.by, &format!("{field}/by"), problems);
                    blank(&made.licence, &format!("{field}/licence"), problems);
                    future_day(made.on, &format!("{field}/on"), head, problems);
                }
                None => {}
            }
        }
        if self.checked_by.value().is_some_and(|code| *code == head.author.code) {
            problems.ask("checked-by-oneself", "/checked_by", "checked by the one who released it");
        }
    }
}

impl Check for AccountingGiven {
    fn check(&self, head: &Record, problems: &mut Problems) {
        blank(&self.given_to, "/given_to", problems);
        future_day(self.asked_on, "/asked_on", head, problems);
        day_order(Some(self.from), Some(self.until), "/until", problems);
        day_order(Some(self.until), Some(self.asked_on), "/until", problems);
        digest(&self.digest, "/digest", problems);
        if self.free && self.fee.is_some() {
            // 45 CFR 164.528(c)(2): the first accounting in any 12 months is without charge.
            problems.refuse("fee-for-a-free-one", "/fee", "no fee may be asked for this one");
        }
        if self.fee.is_some() && self.fee_told_on.is_none() {
            problems.refuse("fee-not-told", "/fee_told_on", "state the day the person was told of the fee");
        }
    }
}

impl Check for AccountingSuspended {
    fn check(&self, head: &Record, problems: &mut Problems) {
        blank(&self.agency, "/agency", problems);
        blank(&self.words, "/words", problems);
        future_day(self.stated_on, "/stated_on", head, problems);
        day_order(Some(self.stated_on), self.until, "/until", problems);
        if self.disclosures.is_empty() {
            problems.refuse("disclosures-missing", "/disclosures", "name the disclosures to be left out");
        }
        if self.how == StatementHow::Written && self.until.is_none() {
            // 45 CFR 164.528(a)(2)(i): the written statement specifies the time.
            problems.refuse("time-missing", "/until", "a written statement must name the time it asks for");
        }
    }
}

impl Check for PackageMade {
    fn check(&self, _head: &Record, problems: &mut Problems) {
        digest(&self.file_digest, "/file_digest", problems);
        digest(&self.plain_digest, "/plain_digest", problems);
        digest(&self.plain_sha256, "/plain_sha256", problems);
        blank(&self.list_note, "/list_note", problems);
        for (index, page) in self.pages.iter().enumerate() {
            digest(&page.digest, &format!("/pages/{index}/digest"), problems);
        }
    }
}

impl Check for Hold {
    fn check(&self, _head: &Record, problems: &mut Problems) {
        blank(&self.reason, "/reason", problems);
        day_order(self.scope.from, self.scope.until, "/scope/until", problems);
        if self.scope.kind == HoldKind::Dates && self.scope.from.is_none() && self.scope.until.is_none() {
            problems.refuse("scope-missing", "/scope", "state the dates the hold covers");
        }
        if self.scope.kind == HoldKind::Practitioner && self.scope.practitioner.is_none() {
            problems.refuse("scope-missing", "/scope", "state the practitioner the hold covers");
        }
    }
}

impl Check for HoldLifted {
    fn check(&self, _head: &Record, problems: &mut Problems) {
        blank(&self.by, "/by", problems);
    }
}

impl Check for Notice {
    fn check(&self, _head: &Record, problems: &mut Problems) {
        blank(&self.from, "/from", problems);
        if self.state != NoticeState::Received && self.of.is_none() {
            problems.refuse("nothing-to-close", "/of", "say which notice this answers or closes");
        }
    }
}

impl Check for Disposal {
    fn check(&self, head: &Record, problems: &mut Problems) {
        if self.keep_until.0 >= head.written.local_date() {
            problems.refuse("keep-until", "/keep_until", "the keep-until date has not passed");
        }
        if self.checks.is_empty() || self.checks.iter().any(|check| !check.passed) {
            problems.refuse("checks-not-passed", "/checks", "every check must be made and passed");
        }
    }
}

impl Check for RefusedDisposal {
    fn check(&self, _head: &Record, problems: &mut Problems) {
        if self.blocked_by.is_empty() {
            problems.refuse("block-missing", "/blocked_by", "say what stands against it");
        }
    }
}

impl Check for Attachment {
    fn check(&self, head: &Record, problems: &mut Problems) {
        blank(&self.title, "/title", problems);
        digest(&self.plain_digest, "/plain_digest", problems);
        digest(&self.sealed_digest, "/sealed_digest", problems);
        if let Some(made) = self.made_on.value() {
            future_day(*made, "/made_on", head, problems);
            day_order(Some(*made), self.received_on, "/received_on", problems);
        }
        if self.not_made_here && self.received_on.is_none() {
            problems.refuse("received-missing", "/received_on", "state the day it was received");
        }
    }
}

impl Check for Document {
    fn check(&self, head: &Record, problems: &mut Problems) {
        blank(&self.title, "/title", problems);
        if let Some(day) = self.given_on.value() {
            future_day(*day, "/given_on", head, problems);
        }
    }
}

impl Check for PaperChart {
    fn check(&self, _head: &Record, problems: &mut Problems) {
        blank(&self.kept_at, "/kept_at", problems);
        day_order(self.birth_date, self.last_treated, "/last_treated", problems);
        day_order(self.last_treated, self.keep_until, "/keep_until", problems);
    }
}

impl Check for PaperOriginal {
    fn check(&self, head: &Record, problems: &mut Problems) {
        future_day(self.on, "/on", head, problems);
        blank(&self.by, "/by", problems);
        match self.state {
            PaperState::Checked if self.pages.is_none() => {
                problems.refuse("pages-missing", "/pages", "state how many pages of the scan were looked at");
            }
            PaperState::Destroyed => {
                blank(self.because.as_deref().unwrap_or_default(), "/because", problems);
                blank(self.method.as_deref().unwrap_or_default(), "/method", problems);
            }
            PaperState::Kept | PaperState::Moved => {
                blank(self.at.as_deref().unwrap_or_default(), "/at", problems);
            }
            _ => {}
        }
    }
}

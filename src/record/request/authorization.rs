//! An authorization as it was read: what it lacks, and whether it may be used now. The rule itself is
//! [`crate::record::reckon::authorization`].

use crate::record::calendar::days_between;
use crate::record::kinds::request::AuthorizationRead;
use crate::record::moment::{Date, Moment};
use crate::record::reckon::authorization::{
    ConditionedOn, Defect, Element, Expiry, Form, Revoke, Signer, Use, defects, missing,
};
use crate::record::reckon::instant::Instant;
use crate::record::tables::Tables;
use crate::record::tables::disclosure::AuthorizationTable;
use std::collections::BTreeSet;

/// What is wrong with an authorization.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Verdict {
    /// Elements and statements that are missing.
    pub missing: BTreeSet<Element>,
    /// What makes it unusable.
    pub defects: BTreeSet<Defect>,
}

impl Verdict {
    /// True where it may be used.
    pub fn is_usable(&self) -> bool {
        self.defects.is_empty()
    }

    /// What is missing, by the codes of the table.
    pub fn missing_codes(&self) -> Vec<String> {
        self.missing.iter().map(|element| element_code(*element).to_string()).collect()
    }

    /// What makes it unusable, by the codes of the table.
    pub fn defect_codes(&self) -> Vec<String> {
        self.defects.iter().map(|defect| defect_code(*defect).to_string()).collect()
    }

    /// One line for each fault: what is wrong, and what would mend it.
    pub fn faults(&self) -> Vec<(&'static str, &'static str)> {
        let missing = self.missing.iter().map(|element| element_fault(*element));
        // Incomplete says no more than the elements above it.
        let rest = self.defects.iter().filter(|defect| **defect != Defect::Incomplete);
        missing.chain(rest.map(|defect| defect_fault(*defect))).collect()
    }
}

/// Judges an authorization for a disclosure at this moment.
///
/// # Errors
/// When the tables lack what it needs.
pub fn judge(read: &AuthorizationRead, tables: &Tables, at: Moment) -> Result<Verdict, String> {
    let table = AuthorizationTable::of(tables)?;
    let form = form(read);
    let missing = missing(&form, &table.purpose_when_person_asked);
    let used = Use {
        disclosed_at: Instant::from(at),
        expiry: form.expiry,
        event_happened_on: read.ended_on,
        // The hour of a revocation is not kept: from the beginning of its day nothing goes out on it.
        revoked_at: read.revoked_on.and_then(|day| start_of(day.0, at.offset_seconds())).map(Instant::from),
        conditioned_on: read.conditioned.then_some(ConditionedOn::Treatment),
        exception: None,
        improperly_combined: read.combined,
        known_false: read.known_false,
        missing: missing.clone(),
    };
    Ok(Verdict { missing, defects: defects(&used) })
}

fn form(read: &AuthorizationRead) -> Form {
    let text = |field: &Option<String>| field.clone().unwrap_or_default();
    Form {
        information: text(&read.information),
        discloser: text(&read.discloser),
        recipient: text(&read.recipient),
        purpose: text(&read.purpose),
        initiated_by_person: read.person_asked,
        expiry: Expiry { date: read.ends_on, event: text(&read.ends_with), none: false },
        signed_by: text(&read.signed_by),
        signed_on: read.signed_on,
        signer: if read.by_representative { Signer::Representative } else { Signer::Person },
        authority: text(&read.representative_authority),
        revoke: Revoke {
            right: read.says_right_to_revoke,
            how_and_exceptions: read.says_how_to_revoke,
            points_to_notice: false,
        },
        conditioning: read.says_conditioning,
        redisclosure: read.says_redisclosure,
        ..Form::default()
    }
}

/// The first second of a day, on a clock with this offset.
fn start_of(day: Date, offset: i32) -> Option<Moment> {
    let since_1970 = days_between(Date::new(1970, 1, 1).ok()?, day);
    Moment::from_unix(since_1970 * 86_400 - i64::from(offset), offset)
}

fn element_code(element: Element) -> &'static str {
    match element {
        Element::Conditioning => "conditioning",
        Element::Discloser => "discloser",
        Element::Expiry => "expiry",
        Element::Information => "information",
        Element::Purpose => "purpose",
        Element::Recipient => "recipient",
        Element::Redisclosure => "redisclosure",
        Element::RightToRevoke => "right_to_revoke",
        Element::Signature => "signature",
    }
}

fn defect_code(defect: Defect) -> &'static str {
    match defect {
        Defect::Expired => "expired",
        Defect::ImproperCombination => "improper_combination",
        Defect::ImproperConditioning => "improper_conditioning",
        Defect::Incomplete => "incomplete",
        Defect::KnownFalse => "known_false",
        Defect::Revoked => "revoked",
    }
}

/// What is missing, and what would mend it: 45 CFR 164.508(c)(1) and (c)(2).
fn element_fault(element: Element) -> (&'static str, &'static str) {
    match element {
        Element::Information => (
            "It does not describe the information in a specific and meaningful way (c)(1)(i).",
            "Say which records are meant: which dates, which kinds.",
        ),
        Element::Discloser => {
            ("It does not say who may disclose (c)(1)(ii).", "Name this practice, or a class it belongs to.")
        }
        Element::Recipient => (
            "It does not say to whom (c)(1)(iii).",
            "Name the person or the class of persons who may receive it.",
        ),
        Element::Purpose => (
            "It names no purpose (c)(1)(iv).",
            "Name each purpose. \"At the request of the individual\" is enough only where the patient started it.",
        ),
        Element::Expiry => (
            "It does not say when it ends (c)(1)(v).",
            "Name a day, or an event that has to do with the patient or the purpose.",
        ),
        Element::Signature => (
            "The signature, its date, or a representative's authority is missing (c)(1)(vi).",
            "Have it signed and dated by the patient, or by a representative who says on what authority.",
        ),
        Element::RightToRevoke => (
            "It does not say that it can be revoked in writing, and how (c)(2)(i).",
            "Add the right to revoke, the exceptions and how; or say where the privacy notice tells them.",
        ),
        Element::Conditioning => (
            "It does not say whether treatment or payment depends on signing (c)(2)(ii).",
            "Add whether anything depends on signing, and what a refusal to sign would mean.",
        ),
        Element::Redisclosure => (
            "It does not say that whoever receives the information might pass it on (c)(2)(iii).",
            "Add that it might be passed on and then no longer be protected.",
        ),
    }
}

/// What makes it unusable, and what would mend it: 45 CFR 164.508(b)(2).
fn defect_fault(defect: Defect) -> (&'static str, &'static str) {
    match defect {
        Defect::Expired => (
            "It has ended: its day is over, or its event has happened (b)(2)(i).",
            "Send a new authorization.",
        ),
        Defect::Incomplete => ("It is not filled in completely (b)(2)(ii).", "Complete it."),
        Defect::Revoked => (
            "It was revoked in writing (b)(2)(iii). What went out before stands.",
            "Send a new authorization, if the patient signs one.",
        ),
        Defect::ImproperCombination => (
            "It is one paper with another that it must stand apart from (b)(2)(iv), (b)(3).",
            "Send an authorization that stands alone.",
        ),
        Defect::ImproperConditioning => (
            "Treatment or payment was made to depend on signing it (b)(2)(iv), (b)(4).",
            "Send an authorization on which nothing depends.",
        ),
        Defect::KnownFalse => (
            "Something material in it is known here to be false (b)(2)(v).",
            "Send an authorization that is right in every point.",
        ),
    }
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use crate::record::kinds::common::Day;
    use crate::record::moment::parse_date;

    fn day(text: &str) -> Day {
        Day(parse_date(text).unwrap())
    }

    /// An authorization with nothing missing.
    pub fn complete() -> AuthorizationRead {
        let text = |words: &str| Some(words.to_string());
        AuthorizationRead {
            information: text("notes from March to June 2025"),
            discloser: text("The Ropewalk Rooms"),
            recipient: text("Orsolya Tamm, attorney"),
            purpose: text("a claim after an accident"),
            ends_on: Some(day("2025-12-31")),
            signed_by: text("the patient"),
            signed_on: Some(day("2025-06-02")),
            says_right_to_revoke: true,
            says_how_to_revoke: true,
            says_conditioning: true,
            says_redisclosure: true,
            ..AuthorizationRead::default()
        }
    }

    fn at(read: &AuthorizationRead, when: &str) -> Verdict {
        judge(read, Tables::shipped().unwrap(), Moment::parse(when).unwrap()).unwrap()
    }

    type Change = fn(&mut AuthorizationRead);

    // 45 CFR 164.508(c)(1) and (2): six elements and three statements.
    #[test]
    fn each_of_the_nine_is_missed_by_name() {
        let noon = "2025-07-01T12:00:00-04:00";
        assert!(at(&complete(), noon).is_usable());
        let bare = at(&AuthorizationRead::default(), noon);
        assert_eq!(bare.missing.len(), 9);
        assert_eq!(bare.defect_codes(), ["incomplete"]);
        assert_eq!(bare.faults().len(), 9);
        let take: [(Change, &str); 9] = [
            (|a| a.information = None, "information"),
            (|a| a.discloser = Some(" ".into()), "discloser"),
            (|a| a.recipient = None, "recipient"),
            (|a| a.purpose = Some("At the request of the individual.".into()), "purpose"),
            (|a| a.ends_on = None, "expiry"),
            (|a| a.signed_on = None, "signature"),
            (|a| a.says_how_to_revoke = false, "right_to_revoke"),
            (|a| a.says_conditioning = false, "conditioning"),
            (|a| a.says_redisclosure = false, "redisclosure"),
        ];
        for (take, code) in take {
            let mut read = complete();
            take(&mut read);
            assert_eq!(at(&read, noon).missing_codes(), [code]);
        }
        let mut by_mother = complete();
        by_mother.by_representative = true;
        assert_eq!(at(&by_mother, noon).missing_codes(), ["signature"]);
        by_mother.representative_authority = Some("mother, custody order".into());
        assert!(at(&by_mother, noon).is_usable());
    }

    // 164.508(c)(1)(iv): "at the request of the individual" suffices where the person initiates it.
    #[test]
    fn whoever_started_it_need_give_no_purpose() {
        let mut read = complete();
        read.purpose = Some("At the request of the individual.".into());
        let noon = "2025-07-01T12:00:00-04:00";
        assert_eq!(at(&read, noon).missing_codes(), ["purpose"]);
        read.person_asked = true;
        assert!(at(&read, noon).is_usable());
    }

    // 164.508(c)(1)(i) to (vi) and (c)(2)(i) to (iii); (b)(2)(i) to (v).
    #[test]
    fn each_fault_names_its_paragraph_and_what_would_mend_it() {
        let elements = [
            (Element::Information, "(c)(1)(i)"),
            (Element::Discloser, "(c)(1)(ii)"),
            (Element::Recipient, "(c)(1)(iii)"),
            (Element::Purpose, "(c)(1)(iv)"),
            (Element::Expiry, "(c)(1)(v)"),
            (Element::Signature, "(c)(1)(vi)"),
            (Element::RightToRevoke, "(c)(2)(i)"),
            (Element::Conditioning, "(c)(2)(ii)"),
            (Element::Redisclosure, "(c)(2)(iii)"),
        ];
        let defects = [
            (Defect::Expired, "(b)(2)(i)"),
            (Defect::Incomplete, "(b)(2)(ii)"),
            (Defect::Revoked, "(b)(2)(iii)"),
            (Defect::ImproperCombination, "(b)(2)(iv)"),
            (Defect::ImproperConditioning, "(b)(2)(iv)"),
            (Defect::KnownFalse, "(b)(2)(v)"),
        ];
        let elements = elements.map(|(element, cited)| (element_fault(element), cited));
        let defects = defects.map(|(defect, cited)| (defect_fault(defect), cited));
        let mut mends = std::collections::BTreeSet::new();
        for ((fault, mend), cited) in elements.into_iter().chain(defects) {
            assert!(fault.contains(cited), "{cited}: {fault}");
            assert!(mend.ends_with('.') && mends.insert(mend), "said twice: {mend}");
        }
    }

    // 164.508(b)(2), (b)(5).
    #[test]
    fn ended_revoked_compound_conditioned_or_false() {
        assert!(at(&complete(), "2025-12-31T23:59:00-05:00").is_usable(), "its last day is whole");
        assert_eq!(at(&complete(), "2026-01-01T00:00:00-05:00").defect_codes(), ["expired"]);
        let mut settled = complete();
        settled.ends_with = Some("the claim is settled".into());
        assert!(at(&settled, "2025-07-01T12:00:00-04:00").is_usable());
        settled.ended_on = Some(day("2025-07-01"));
        assert_eq!(at(&settled, "2025-07-01T12:00:00-04:00").defect_codes(), ["expired"]);
        let mut revoked = complete();
        revoked.revoked_on = Some(day("2025-07-02"));
        revoked.relied_on = Some(day("2025-07-01"));
        assert!(at(&revoked, "2025-07-01T23:00:00-04:00").is_usable(), "what went out before stands");
        assert_eq!(at(&revoked, "2025-07-02T08:00:00-04:00").defect_codes(), ["revoked"]);
        let more: [(Change, &str); 3] = [
            (|a| a.combined = true, "improper_combination"),
            (|a| a.conditioned = true, "improper_conditioning"),
            (|a| a.known_false = true, "known_false"),
        ];
        for (spoil, code) in more {
            let mut read = complete();
            spoil(&mut read);
            let verdict = at(&read, "2025-07-01T12:00:00-04:00");
            assert_eq!((verdict.defect_codes(), verdict.faults().len()), (vec![code.to_string()], 1));
        }
    }
}

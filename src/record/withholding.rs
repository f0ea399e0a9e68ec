//! Why an entry may be withheld from a copy, as data: the law behind each reason, what the slip in the
//! entry's place says, and whether and how the reason can be looked at again.
//!
//! Read in 45 CFR 164.524 (access), 164.522(a) (restrictions), 164.502(b) (minimum necessary). An unpaid bill
//! is no reason at all, so there is none for it here.

use super::kinds::release::WithholdReason;

/// How a reason can be reviewed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Review {
    /// Another licensed professional decides anew, when asked.
    ByProfessional,
    /// Not by a professional; a complaint can be made.
    ComplaintOnly,
    /// It was simply not asked for; asking is enough.
    Ask,
}

impl WithholdReason {
    /// The reason in a few plain words.
    pub fn title(self) -> &'static str {
        match self {
            WithholdReason::AnotherPerson => "another person's",
            WithholdReason::PsychotherapyNotes => "psychotherapy notes",
            WithholdReason::ForProceeding => "compiled for a proceeding",
            WithholdReason::LikelyHarm => "likely harm, as a licensed professional determined",
            WithholdReason::RestrictionAgreed => "a restriction agreed with the patient",
            WithholdReason::OutsideRequest => "outside what was asked",
            WithholdReason::Misfiled => "belongs to another person's chart",
            WithholdReason::HeldBack => "held back; the practice's record says why",
        }
    }

    /// The law it rests on.
    pub fn source(self) -> &'static str {
        match self {
            WithholdReason::AnotherPerson | WithholdReason::Misfiled => {
                "45 CFR 164.524(a)(1): the right is to what is about the person; 45 CFR 164.502(a) for the other"
            }
            WithholdReason::PsychotherapyNotes => "45 CFR 164.524(a)(1)(i)",
            WithholdReason::ForProceeding => "45 CFR 164.524(a)(1)(ii)",
            WithholdReason::LikelyHarm => "45 CFR 164.524(a)(3)",
            WithholdReason::RestrictionAgreed => "45 CFR 164.522(a)(1)(iii)",
            WithholdReason::HeldBack => {
                "45 CFR 164.524(a)(1), with 164.501: the right is to the record that care and decisions rest on"
            }
            WithholdReason::OutsideRequest => "45 CFR 164.502(b) and 164.514(d): no more than was asked for",
        }
    }

    /// What the slip says, in sentences.
    pub fn slip_words(self) -> &'static str {
        match self {
            WithholdReason::AnotherPerson => {
                "What stands here is about another person, so it is no part of this copy."
            }
            WithholdReason::PsychotherapyNotes => {
                "What stands here are psychotherapy notes, kept apart from the rest. The right to a copy does \
                 not reach them."
            }
            WithholdReason::ForProceeding => {
                "What stands here was compiled for a civil, criminal or administrative action or proceeding. \
                 The right to a copy does not reach it."
            }
            WithholdReason::LikelyHarm => {
                "A licensed health care professional has determined that giving it is reasonably likely to \
                 endanger the life or physical safety of a person, or to do another person named in it \
                 substantial harm."
            }
            WithholdReason::RestrictionAgreed => {
                "The practice has agreed with the patient not to give it to others, and keeps to that."
            }
            WithholdReason::HeldBack => {
                "It is a paper of the practice's dealings with others, and no part of the record of care. The practice \
                 holds it back, and its own record says why."
            }
            WithholdReason::OutsideRequest => "It lies outside the dates or kinds that were asked for.",
            WithholdReason::Misfiled => {
                "It was written into this chart by mistake and belongs to another person's; the entry that says \
                 so is in this copy."
            }
        }
    }

    /// How it can be reviewed (45 CFR 164.524(a)(2) to (a)(4)).
    pub fn review(self) -> Review {
        match self {
            WithholdReason::LikelyHarm => Review::ByProfessional,
            WithholdReason::OutsideRequest => Review::Ask,
            _ => Review::ComplaintOnly,
        }
    }
}

impl Review {
    /// What the slip says about it (45 CFR 164.524(d)(2)).
    pub fn words(self) -> &'static str {
        match self {
            Review::ByProfessional => {
                "You may have this reviewed: ask the practice, and another licensed health care professional, \
                 who had no part in the decision, decides anew. The practice must keep to that decision and tell \
                 you of it in writing. You may also complain, as said below."
            }
            Review::ComplaintOnly => {
                "The law gives no review by another professional for this reason. If you believe that it does \
                 not apply, tell the practice; you may also complain, as said below."
            }
            Review::Ask => "If you want it after all, ask the practice for it.",
        }
    }
}

/// How to complain: said on every slip but those of what was not asked for (45 CFR 164.524(d)(2)(iii)).
pub const COMPLAINT: &str = "To complain, write to the practice named above, or to the Secretary of the U.S. \
                             Department of Health and Human Services, Office for Civil Rights. Nobody may treat \
                             you worse for it.";

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_reason_has_words_of_its_own_and_a_source() {
        let mut titles: Vec<_> = WithholdReason::ALL.iter().map(|r| r.title()).collect();
        titles.sort_unstable();
        titles.dedup();
        assert_eq!(titles.len(), WithholdReason::ALL.len());
        for reason in WithholdReason::ALL {
            assert!(reason.source().starts_with("45 CFR 164."), "{reason}");
            assert!(reason.slip_words().ends_with('.') && reason.review().words().ends_with('.'), "{reason}");
        }
    }

    /// 45 CFR 164.524(a)(2)(i): what (a)(1) leaves out is denied without review; (a)(3): likely harm with.
    #[test]
    fn only_likely_harm_is_reviewed_by_a_professional() {
        let reviewed: Vec<_> =
            WithholdReason::ALL.iter().filter(|r| r.review() == Review::ByProfessional).collect();
        assert_eq!(reviewed, [&WithholdReason::LikelyHarm]);
        let asked: Vec<_> = WithholdReason::ALL.iter().filter(|r| r.review() == Review::Ask).collect();
        assert_eq!(asked, [&WithholdReason::OutsideRequest], "what nobody asked for needs asking, no review");
        let mut words =
            [Review::ByProfessional, Review::ComplaintOnly, Review::Ask].map(Review::words).to_vec();
        words.dedup();
        assert_eq!(words.len(), 3);
    }
}

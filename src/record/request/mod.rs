//! Requests for records, worked out from their entries: who asks and on what basis, which clocks run, what
//! stands against answering, what a fee comes to, what a letter must say. Pure: no clock, no file.

pub mod authorization;
pub mod clocks;
pub mod fee;
pub mod gate;
pub mod letter;
pub mod letter_parts;
pub mod scope;
pub mod standing;

use super::kinds::release::{ReleaseBasis, RequestKind};
use super::kinds::request::Asker;

impl Asker {
    /// The sort of request this asker makes where nothing else is said.
    pub fn usual_kind(self) -> RequestKind {
        match self {
            Asker::Patient | Asker::Guardian => RequestKind::Copy,
            Asker::Clinician => RequestKind::Treatment,
            Asker::Attorney => RequestKind::Authorisation,
            Asker::Subpoena => RequestKind::Subpoena,
            Asker::CourtOrder => RequestKind::Order,
            Asker::Oversight => RequestKind::Oversight,
            Asker::Insurer => RequestKind::Audit,
            Asker::PersonalRepresentative => RequestKind::DeceasedRepresentative,
            Asker::Other => RequestKind::Other,
        }
    }

    /// What a release to this asker rests on.
    pub fn basis(self) -> ReleaseBasis {
        match self {
            Asker::Patient => ReleaseBasis::Patient,
            Asker::Guardian => ReleaseBasis::Guardian,
            Asker::Clinician => ReleaseBasis::Treatment,
            Asker::Attorney | Asker::Other => ReleaseBasis::Authorisation,
            Asker::Subpoena => ReleaseBasis::SubpoenaWithAssurance,
            Asker::CourtOrder => ReleaseBasis::Order,
            Asker::Oversight => ReleaseBasis::Oversight,
            Asker::Insurer => ReleaseBasis::Payment,
            Asker::PersonalRepresentative => ReleaseBasis::DeceasedRepresentative,
        }
    }

    /// True for the patient, and for whoever acts for the patient: the right of access is theirs, and so are
    /// its clocks, its letters and its limit on fees (45 CFR 164.502(g), 164.524).
    pub fn has_right_of_access(self) -> bool {
        matches!(self, Asker::Patient | Asker::Guardian | Asker::PersonalRepresentative)
    }

    /// The rule that lets something be disclosed to this asker, in words. The sections on orders, subpoenas,
    /// oversight and treatment (164.506, 164.512) are from memory; the others were read.
    pub fn lawful_basis(self) -> &'static str {
        match self {
            Asker::Patient => "the patient's own right of access, 45 CFR 164.524",
            Asker::Guardian => {
                "whoever decides for the patient stands in the patient's place, 45 CFR 164.502(g)(3)"
            }
            Asker::Clinician => "treatment, 45 CFR 164.506(c)(2)",
            Asker::Attorney | Asker::Other => "an authorization of the patient, 45 CFR 164.508",
            Asker::Subpoena => {
                "a subpoena with satisfactory assurance, 45 CFR 164.512(e)(1)(ii); without it, nothing"
            }
            Asker::CourtOrder => {
                "the order of a court or tribunal, 45 CFR 164.512(e)(1)(i): only what the order names"
            }
            Asker::Oversight => "health oversight that the law provides for, 45 CFR 164.512(d)",
            Asker::Insurer => "payment, 45 CFR 164.506(c)(3): the least that is needed",
            Asker::PersonalRepresentative => {
                "the representative of a patient who has died, 45 CFR 164.502(g)(4)"
            }
        }
    }

    /// In plain words.
    pub fn plain(self) -> &'static str {
        match self {
            Asker::Patient => "the patient",
            Asker::Guardian => "a parent or guardian",
            Asker::Clinician => "a clinician who treats the patient",
            Asker::Attorney => "an attorney with an authorization",
            Asker::Subpoena => "a subpoena",
            Asker::CourtOrder => "a court order",
            Asker::Oversight => "a board or agency of health oversight",
            Asker::Insurer => "an insurer's audit",
            Asker::PersonalRepresentative => "the representative of a patient who has died",
            Asker::Other => "somebody else, with an authorization",
        }
    }
}

/// A sort of request says who asks where no asker was recorded.
pub fn asker_of(kind: RequestKind, relation: &str) -> Asker {
    match kind {
        RequestKind::Audit => Asker::Insurer,
        RequestKind::Authorisation => Asker::Attorney,
        RequestKind::Subpoena => Asker::Subpoena,
        RequestKind::Order => Asker::CourtOrder,
        RequestKind::Oversight | RequestKind::RequiredByLaw => Asker::Oversight,
        RequestKind::DeceasedRepresentative => Asker::PersonalRepresentative,
        RequestKind::Treatment => Asker::Clinician,
        _ if relation == "self" => Asker::Patient,
        _ => Asker::Other,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Where no asker was recorded, the sort of request says who asks, and the same sort is usual for that asker.
    #[test]
    fn the_sort_of_a_request_says_who_asks() {
        for asker in Asker::ALL.iter().copied() {
            let kind = asker.usual_kind();
            let back = asker_of(kind, "employer");
            match asker {
                Asker::Patient | Asker::Guardian => assert_eq!(asker_of(kind, "self"), Asker::Patient),
                _ => assert_eq!(back, asker, "{kind}"),
            }
        }
        assert_eq!(asker_of(RequestKind::RequiredByLaw, "self"), Asker::Oversight);
        for kind in [RequestKind::Look, RequestKind::Accounting, RequestKind::Other] {
            assert_eq!(asker_of(kind, "self"), Asker::Patient);
            assert_eq!(asker_of(kind, "mother"), Asker::Other);
        }
    }

    /// 45 CFR 164.524 for the patient, 164.502(g)(3) and (4) for who stands in the patient's place, 164.508 for an
    /// authorization; 164.506 and 164.512 from memory.
    #[test]
    fn what_lets_something_go_out_names_its_rule() {
        for (asker, rule) in [
            (Asker::Patient, "45 CFR 164.524"),
            (Asker::Guardian, "45 CFR 164.502(g)(3)"),
            (Asker::PersonalRepresentative, "45 CFR 164.502(g)(4)"),
            (Asker::Attorney, "45 CFR 164.508"),
            (Asker::Other, "45 CFR 164.508"),
            (Asker::Clinician, "45 CFR 164.506(c)(2)"),
            (Asker::Insurer, "45 CFR 164.506(c)(3)"),
            (Asker::Oversight, "45 CFR 164.512(d)"),
            (Asker::CourtOrder, "45 CFR 164.512(e)(1)(i)"),
            (Asker::Subpoena, "45 CFR 164.512(e)(1)(ii)"),
        ] {
            let words = asker.lawful_basis();
            let cited = words.split_once("45 CFR ").map(|(_, cited)| cited.split([';', ':']).next().unwrap());
            assert_eq!(cited, rule.strip_prefix("45 CFR "), "{words}");
        }
    }

    #[test]
    fn whoever_asks_is_told_apart_in_plain_words() {
        let words: std::collections::BTreeSet<&str> = Asker::ALL.iter().map(|asker| asker.plain()).collect();
        assert_eq!(words.len(), Asker::ALL.len());
        for (asker, part) in
            [(Asker::Patient, "patient"), (Asker::CourtOrder, "court"), (Asker::Insurer, "insurer")]
        {
            assert!(asker.plain().contains(part), "{}", asker.plain());
        }
    }
}

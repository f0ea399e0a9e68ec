//! What the basis of a disclosure means for an accounting: the kind the published table knows it as, and what
//! is said of it in plain words.

use crate::record::kinds::release::ReleaseBasis;
use crate::record::tables::disclosure::{AccountingTable, KindClass};

/// The word of the table for a basis (45 CFR 164.528(a)(1) and the uses of 164.512).
pub fn table_word(basis: ReleaseBasis) -> &'static str {
    use ReleaseBasis::*;
    match basis {
        // Whoever stands in the person's place is treated as the person: 45 CFR 164.502(g)(1), (3) for parents
        // and guardians, (4) for executors.
        Patient | Guardian | DeceasedRepresentative => "to_the_person",
        Authorisation => "authorization",
        Treatment => "treatment",
        Payment => "payment",
        Operations => "operations",
        InvolvedInCare => "directory_or_involved_in_care",
        // 45 CFR 164.512(e): in the course of a proceeding, on an order, or on a subpoena with assurance.
        SubpoenaWithAssurance | Order => "court_or_tribunal",
        Oversight => "health_oversight",
        RequiredByLaw => "required_by_law",
        PublicHealth => "public_health",
        AbuseOrNeglect => "abuse_or_neglect",
        LawEnforcement => "law_enforcement",
        CoronerOrFuneral => "coroner_or_funeral",
        SeriousThreat => "serious_threat",
        WorkersCompensation => "workers_compensation",
        ComplianceReview => "compliance_review",
        ResearchWaiver => "research_waiver",
        OrganDonation => "organ_donation",
        MilitaryCommand => "military_command",
        NationalSecurity => "national_security",
        Custody => "custody",
        LimitedDataSet => "limited_data_set",
        SentInError => "sent_in_error",
    }
}

/// The basis in plain words.
pub fn plain(basis: ReleaseBasis) -> &'static str {
    use ReleaseBasis::*;
    match basis {
        Patient => "to you, or where you asked it to go",
        Guardian => "to somebody who decides for you",
        DeceasedRepresentative => "to the representative of somebody who died",
        Authorisation => "you had signed for it",
        Treatment => "for treatment by somebody else",
        Payment => "for payment",
        Operations => "for the running of the practice",
        InvolvedInCare => "to somebody who helps with your care",
        SubpoenaWithAssurance => "a subpoena, with proof that you had been told",
        Order => "an order of a court or tribunal",
        Oversight => "an authority that supervises health care",
        RequiredByLaw => "a law required it",
        PublicHealth => "public health",
        AbuseOrNeglect => "a report of abuse or neglect",
        LawEnforcement => "law enforcement",
        CoronerOrFuneral => "a coroner or funeral director",
        SeriousThreat => "a serious threat to somebody's health or safety",
        WorkersCompensation => "workers' compensation",
        ComplianceReview => "a review of how the practice keeps the privacy rules",
        ResearchWaiver => "research, as approved without your signature",
        OrganDonation => "organ or tissue donation",
        MilitaryCommand => "a military command",
        NationalSecurity => "national security",
        Custody => "a place of custody",
        LimitedDataSet => "data without names, under an agreement",
        SentInError => "it was sent in error",
    }
}

/// Why an accounting leaves this basis out, in plain words. Empty for those it tells.
pub fn why_not_counted(basis: ReleaseBasis) -> &'static str {
    match table_word(basis) {
        "to_the_person" => "What goes to you, or to somebody who stands in your place, is not told again.",
        "authorization" => "You signed for it, so you know of it.",
        "treatment" => "Sent so that somebody else can treat you.",
        "payment" => "Sent so that care is paid for.",
        "operations" => "Needed to run the practice.",
        "directory_or_involved_in_care" => "Told to somebody who takes part in your care.",
        "national_security" | "custody" => "The law leaves it out.",
        "limited_data_set" => "Data without names, under an agreement.",
        _ => "",
    }
}

/// The paragraph of the regulation that leaves it out.
pub fn citation_not_counted(basis: ReleaseBasis) -> &'static str {
    match table_word(basis) {
        "treatment" | "payment" | "operations" => "45 CFR 164.528(a)(1)(i)",
        "to_the_person" => "45 CFR 164.528(a)(1)(ii)",
        "authorization" => "45 CFR 164.528(a)(1)(iv)",
        "directory_or_involved_in_care" => "45 CFR 164.528(a)(1)(v)",
        "national_security" => "45 CFR 164.528(a)(1)(vi)",
        "custody" => "45 CFR 164.528(a)(1)(vii)",
        "limited_data_set" => "45 CFR 164.528(a)(1)(viii)",
        _ => "",
    }
}

/// True where an agency may have its disclosures left out for a time: health oversight and law enforcement
/// (45 CFR 164.528(a)(2)(i), naming 164.512(d) and (f)).
pub fn may_be_left_out(basis: ReleaseBasis) -> bool {
    matches!(table_word(basis), "health_oversight" | "law_enforcement")
}

/// True where it is left out of what the person is shown altogether: to name it beside the accounting would
/// tell what the law keeps out of it.
pub fn is_never_shown(basis: ReleaseBasis) -> bool {
    matches!(table_word(basis), "national_security" | "custody")
}

/// True when a disclosure on this basis belongs in an accounting. A word the table does not know counts: telling
/// too much of one's own disclosures harms nobody, leaving one out does.
pub fn counts(basis: ReleaseBasis, table: &AccountingTable) -> bool {
    table.class(table_word(basis)) != Some(KindClass::NotCounted)
}

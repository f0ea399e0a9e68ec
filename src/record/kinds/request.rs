//! The parts of a request for records and of its steps: who asks, what is asked, which clocks run, what the
//! papers were checked for, what a fee is made of, and why something is refused.

use super::common::Day;
use crate::record::vocab::words;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

words! {
    /// Who asks. The papers that must be on file follow from it.
    Asker {
        /// The patient.
        Patient = "patient",
        /// A parent or guardian who decides for the patient.
        Guardian = "guardian",
        /// Somebody who treats the patient elsewhere.
        Clinician = "clinician",
        /// An attorney, or anybody else, with an authorization of the patient.
        Attorney = "attorney",
        /// Whoever served a subpoena that no court signed.
        Subpoena = "subpoena",
        /// A court or tribunal, by an order.
        CourtOrder = "court-order",
        /// A licensing board or another agency of health oversight.
        Oversight = "oversight",
        /// An insurer or payer that audits what was paid.
        Insurer = "insurer",
        /// The executor or another personal representative of a patient who has died.
        PersonalRepresentative = "personal-representative",
        /// Anybody else.
        Other = "other",
    }
}

/// A part of a chart: days and kinds of entries. What is left out is not limited. What a release covers is kept under
/// other names ([`super::release::Span`]), so the two stay apart; `into_span` is the one bridge.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Scope {
    /// First day.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub first: Option<Day>,
    /// Last day, included.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub last: Option<Day>,
    /// Single days.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub dates: Vec<Day>,
    /// Kinds of entries, as in the list of entries: visit, consent, measure.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub kinds: Vec<String>,
}

/// One clock that runs for a request, as reckoned when it was taken.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RequestClock {
    /// Name of the clock in the table of deadlines, or `paper`: the day the paper itself names.
    pub id: String,
    /// What it is for: access, copies, inspect, accounting, board_demand, fee_notice, paper.
    pub of: String,
    /// The day it sets.
    pub due: Day,
    /// The last working day on or before it.
    pub work_by: Day,
    /// The latest day one extension can reach; none where it has none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub limit: Option<Day>,
    /// Where the rule holds.
    pub place: String,
    /// The publication, or which paper.
    pub source: String,
}

words! {
    /// What was checked of a request.
    Checked {
        /// Who asks.
        Identity = "identity",
        /// That they may receive: a guardian's order, an executor's letters, an agency's letter.
        Authority = "authority",
        /// The authorization, element by element.
        Authorization = "authorization",
        /// Satisfactory assurance with a subpoena: notice to the patient, or a protective order.
        Assurance = "assurance",
        /// The order of a court or tribunal.
        Order = "order",
        /// What is missing in the notes of the days asked for.
        MissingList = "missing-list",
    }
}

/// An authorization as it was read, and what is wrong with it (45 CFR 164.508).
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct AuthorizationRead {
    /// What may be disclosed, as it says.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub information: Option<String>,
    /// Who may disclose it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub discloser: Option<String>,
    /// To whom.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub recipient: Option<String>,
    /// What for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub purpose: Option<String>,
    /// True when the patient started it.
    #[serde(default)]
    pub person_asked: bool,
    /// Last day.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ends_on: Option<Day>,
    /// The event that ends it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ends_with: Option<String>,
    /// Day on which that event is known to have happened.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ended_on: Option<Day>,
    /// Who signed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub signed_by: Option<String>,
    /// Day of the signature.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub signed_on: Option<Day>,
    /// True when a representative signed.
    #[serde(default)]
    pub by_representative: bool,
    /// The representative's authority, as it says.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub representative_authority: Option<String>,
    /// It says that it can be revoked in writing.
    #[serde(default)]
    pub says_right_to_revoke: bool,
    /// It says how, and the exceptions, or where the privacy notice tells them.
    #[serde(default)]
    pub says_how_to_revoke: bool,
    /// It says whether treatment or payment depends on signing.
    #[serde(default)]
    pub says_conditioning: bool,
    /// It says that the recipient might pass it on.
    #[serde(default)]
    pub says_redisclosure: bool,
    /// Day on which a written revocation was received.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub revoked_on: Option<Day>,
    /// Day on which it was acted on before. What went out then stands; a revocation does not undo it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub relied_on: Option<Day>,
    /// True when it is one paper with another that it must stand apart from.
    #[serde(default)]
    pub combined: bool,
    /// True when treatment or payment was made to depend on it without an exception that allows it.
    #[serde(default)]
    pub conditioned: bool,
    /// True when something material in it is known to be false.
    #[serde(default)]
    pub known_false: bool,
    /// Elements and statements that are missing, by the codes of the table; computed.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub missing: Vec<String>,
    /// What makes it unusable on the day it was read, by the codes of the table; computed.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub defects: Vec<String>,
}

/// What the notes of the days asked for lack. Days and numbers only: the step is open to the desk.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Lacking {
    /// Number of the visit opening.
    pub visit: u64,
    /// Its day.
    pub day: Day,
    /// True when no signed note belongs to it.
    pub unsigned: bool,
    /// How many things the list before signing names in its note. Which ones belongs to the care itself.
    pub items: u32,
}

/// A fee as the asker was told it, worked out from its parts.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FeeTold {
    /// How it was worked out: actual, average, flat, none.
    pub method: String,
    /// Its parts.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub parts: Vec<FeePart>,
    /// The sum, as written: 5.25.
    pub total: String,
    /// Currency.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub currency: Option<String>,
    /// The sum in words, as worked out.
    pub worked_out: String,
    /// The place whose ceiling was looked at, and the ceiling.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ceiling: Option<String>,
    /// True for a copy on paper.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub on_paper: Option<bool>,
    /// Pages.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pages: Option<u64>,
    /// True where a stick or a disc was asked for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub media_asked: Option<bool>,
    /// True where it is mailed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mailed: Option<bool>,
    /// True where a summary and its fee were agreed beforehand.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub summary_agreed: Option<bool>,
    /// True where the asker was told before the copy is made.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub told_beforehand: Option<bool>,
}

/// A part of a fee.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FeePart {
    /// What it is for: copying_labor, paper_supplies, portable_media, postage, summary.
    pub name: String,
    /// The amount, as written: 4.00.
    pub amount: String,
}

words! {
    /// Why access is refused (45 CFR 164.524(a)(2), (a)(3)), or why nothing is disclosed to somebody else.
    DenialGround {
        /// Gathered in expectation of a lawsuit or a proceeding.
        ForProceeding = "for-proceeding",
        /// Notes of psychotherapy kept apart.
        PsychotherapyNotes = "psychotherapy-notes",
        /// The patient is an inmate, and safety forbids a copy.
        Inmate = "inmate",
        /// Research is going on, and the patient agreed to wait.
        Research = "research",
        /// A federal law on agencies' records refuses it.
        PrivacyAct = "privacy-act",
        /// Told in confidence by somebody who does not treat, and it would show who.
        ConfidentialSource = "confidential-source",
        /// A licensed person judges that it would endanger somebody's life or physical safety.
        EndangersSafety = "endangers-safety",
        /// It mentions another person, and would do that person substantial harm.
        HarmsAnother = "harms-another",
        /// Given to this representative, it would do substantial harm.
        HarmByRepresentative = "harm-by-representative",
        /// It is not kept here.
        NotKeptHere = "not-kept-here",
        /// Whoever asks has not shown that they may receive it.
        NoAuthority = "no-authority",
    }
}

impl DenialGround {
    /// True where the refusal is to be looked at again by another licensed person, if the patient asks for
    /// it (45 CFR 164.524(a)(3), (d)(4)).
    pub fn is_reviewable(self) -> bool {
        matches!(
            self,
            DenialGround::EndangersSafety | DenialGround::HarmsAnother | DenialGround::HarmByRepresentative
        )
    }

    /// The ground in plain words, as a letter says it.
    pub fn plain(self) -> &'static str {
        match self {
            DenialGround::ForProceeding => {
                "It was put together because a lawsuit or a proceeding was expected."
            }
            DenialGround::PsychotherapyNotes => "They are notes of psychotherapy that are kept apart.",
            DenialGround::Inmate => "A copy would endanger health or safety where you are held.",
            DenialGround::Research => {
                "It belongs to research that is still going on, and you agreed to wait until it ends."
            }
            DenialGround::PrivacyAct => "A federal law on the records of agencies refuses it.",
            DenialGround::ConfidentialSource => {
                "Somebody who does not treat you told it in confidence, and it would show who that was."
            }
            DenialGround::EndangersSafety => {
                "A licensed person here judges that it would endanger somebody's life or physical safety."
            }
            DenialGround::HarmsAnother => {
                "It speaks of another person, and a licensed person here judges that it would do that person \
                 substantial harm."
            }
            DenialGround::HarmByRepresentative => {
                "A licensed person here judges that giving it to the person who asks would do substantial harm."
            }
            DenialGround::NotKeptHere => "It is not kept here.",
            DenialGround::NoAuthority => "It was not shown that the person who asks may receive it.",
        }
    }
}

/// What is refused, and why.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Denial {
    /// The ground.
    pub ground: DenialGround,
    /// The reason in plain words, as the letter says it.
    pub reason: String,
    /// What is refused, where not all of it is.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub part: Option<String>,
    /// Staff code of the licensed person whose judgement it is; needed where it can be reviewed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub judged_by: Option<String>,
    /// Where it is kept, where that is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub held_at: Option<String>,
}

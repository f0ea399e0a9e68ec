//! Coming and going: a visit's opening and closing, identity, what was asked of the record,
//! contacts outside a visit, and sheets given.

use super::common::{Day, Given};
use super::screening::ScreenAnswer;
use crate::record::moment::Moment;
use crate::record::vocab::{Glove, Region, Segment, Technique, words};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A visit is opened. Its number is what every entry of the visit refers to.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct VisitOpened {
    /// Room, or other place.
    pub room: Given<String>,
    /// Codes of the practitioners.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub practitioners: Vec<String>,
    /// How identity was confirmed; absent: not yet.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub identity_confirmed: Option<IdentityConfirmed>,
    /// Who else was in the room.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub present: Vec<Present>,
    /// Reason for coming, in the patient's words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
    /// True on the first visit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub first_visit: Option<bool>,
    /// Why the note could not be finished at once.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub draft_kept_because: Option<String>,
}

/// How identity was confirmed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct IdentityConfirmed {
    /// When.
    pub at: Moment,
    /// Which identifiers were asked: full-name, birth-date, address, ...
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub identifiers: Vec<String>,
}

/// Somebody in the room.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Present {
    /// Name, if known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
    /// In which part: guardian, chaperone, interpreter, son, observer, ...
    pub part: String,
    /// From when.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from: Option<Moment>,
    /// Until when.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub until: Option<Moment>,
}

/// Identity confirmed after the visit was opened.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct IdentityChecked {
    /// Number of the visit opening.
    pub visit: u64,
    /// How identity was confirmed.
    pub identity_confirmed: IdentityConfirmed,
}

/// A visit is closed at the time it happened.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct VisitClosed {
    /// Number of the visit opening.
    pub visit: u64,
    /// How it ended.
    pub ended: VisitEnd,
    /// With whom the patient left.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub left_with: Option<String>,
    /// Remarks.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub words: Option<String>,
    /// Day of the next visit, if made.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub next_visit: Option<Day>,
}

words! {
    /// How a visit ended.
    VisitEnd {
        AsPlanned = "as-planned", CutShort = "cut-short", NotTreated = "not-treated", NotSeen = "not-seen",
        Interrupted = "interrupted",
    }
}

/// A kept answer to the coverage question. Never rewritten.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CoverageAnswer {
    /// Number of the visit opening.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub visit: Option<u64>,
    /// The moment asked about.
    pub now: Moment,
    /// What was asked.
    pub request: CoverageRequest,
    /// The answer.
    pub answer: Answer,
    /// The line for what was agreed.
    pub agreed: Answer,
    /// The line for what was checked.
    pub checked: Answer,
    /// Every failing reason.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub reasons: Vec<CoverageReason>,
    /// Cautions.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub cautions: Vec<CoverageCaution>,
    /// Numbers of the consents relied on.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub governing_consents: Vec<String>,
    /// Number of the nearest consent, where none covers.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub nearest_consent: Option<String>,
    /// What would help.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub cures: Vec<String>,
    /// Edition of the rules.
    pub rules_edition: String,
    /// BLAKE3 of the facts document answered on, hex.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub facts_digest: Option<String>,
}

/// The request of a coverage question.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CoverageRequest {
    /// Technique.
    pub technique: Technique,
    /// Region.
    pub region: Region,
    /// Side.
    pub side: RequestedSide,
    /// Segments named.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub segments: Vec<Segment>,
    /// Code of who would do it.
    pub practitioner_id: String,
    /// Glove material; absent: not stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub glove_material: Option<Glove>,
    /// Position: face-down, face-up, seated, side-lying, ...; absent: not stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub position: Option<String>,
    /// Lotions, tapes and the like.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub products: Vec<String>,
}

words! {
    /// Side asked about.
    RequestedSide {
        Left = "left", Right = "right", Both = "both", Midline = "midline", NotStated = "not-stated",
    }
}

words! {
    /// An answer.
    Answer {
        Yes = "yes", AskFirst = "ask-first", No = "no",
    }
}

/// One failing reason.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CoverageReason {
    /// Id of the rule.
    pub rule: String,
    /// Which line.
    pub line: CoverageLine,
    /// ask-first or no.
    pub level: Answer,
    /// In plain words.
    pub text: String,
}

words! {
    /// Line of an answer.
    CoverageLine {
        Agreed = "agreed", Checked = "checked",
    }
}

/// One caution.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CoverageCaution {
    /// Code.
    pub code: String,
    /// In plain words.
    pub text: String,
}

/// A contact outside a visit: call, message, letter, no-show.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Contact {
    /// How.
    pub channel: Channel,
    /// Who sought whom.
    pub direction: Direction,
    /// With whom, or why nobody.
    pub with: Given<ContactWith>,
    /// Length in minutes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub length_minutes: Option<u32>,
    /// What was said, written or left as a message.
    pub said: String,
    /// True when a message was left.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub message_left: Option<bool>,
    /// Which screen was asked through, if one was.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub screen: Option<String>,
    /// Answers to the screen.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub answers: Vec<ScreenAnswer>,
    /// Advice given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub advice: Option<String>,
    /// What the caller asked for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub asked_for: Option<String>,
    /// What came of it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub outcome: Option<String>,
    /// To be called back by.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub call_back_by: Option<Moment>,
    /// True when nothing is left to do.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub done: Option<bool>,
    /// Number of the visit opening it belongs to.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub visit: Option<u64>,
    /// Numbers of the entries it is about.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub about: Vec<u64>,
}

words! {
    /// Channel of a contact.
    Channel {
        Telephone = "telephone", InPerson = "in-person", Letter = "letter", EMail = "e-mail",
        Message = "message", Video = "video", Portal = "portal", NoShow = "no-show", Other = "other",
    }
}

words! {
    /// Direction of a contact.
    Direction {
        Incoming = "incoming", Outgoing = "outgoing", None = "none",
    }
}

/// With whom.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ContactWith {
    /// Name.
    pub name: String,
    /// Relation to the patient; self for the patient.
    pub relation: String,
    /// How identity was checked.
    pub identity_checked: Given<String>,
}

/// A sheet given to take home.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Handout {
    /// Title.
    pub title: String,
    /// Code of the sheet.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sheet: Option<String>,
    /// Its edition.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sheet_edition: Option<String>,
    /// Language (BCP 47 tag).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub language: Option<String>,
    /// To whom, if not the patient.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub given_to: Option<String>,
    /// Number of the visit opening.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub visit: Option<u64>,
}

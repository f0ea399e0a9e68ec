//! Papers: attachments, notices given, and old paper charts.

use super::common::{Day, Given};
use crate::record::vocab::{Region, Side, words};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A paper, picture or other file kept with the chart.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Attachment {
    /// What it is.
    pub kind: AttachmentKind,
    /// Title.
    pub title: String,
    /// Day it was made.
    pub made_on: Given<Day>,
    /// Who made it, and where.
    pub made_by: Given<String>,
    /// True when it was not made here.
    pub not_made_here: bool,
    /// Day it was received.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub received_on: Option<Day>,
    /// Pages.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pages: Option<u32>,
    /// Length in seconds, for sound or film.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub seconds: Option<u32>,
    /// Region shown.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub region: Option<Region>,
    /// Side shown.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub side: Option<Side>,
    /// BLAKE3 of the file as it was, hex.
    pub plain_digest: String,
    /// BLAKE3 of the sealed file, hex.
    pub sealed_digest: String,
    /// Bytes of the file as it was.
    pub size: u64,
    /// Media type.
    pub media_type: String,
    /// What became of the original.
    pub original: Original,
    /// Where the original is kept.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub original_at: Option<String>,
    /// True when it can be read.
    pub legible: bool,
    /// True when the desk may open it.
    pub for_desk: bool,
    /// Number of the consent it rests on.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub consent: Option<u64>,
    /// Numbers of the entries it belongs to.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub about: Vec<u64>,
    /// Number of the visit opening.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub visit: Option<u64>,
}

words! {
    /// What an attachment is.
    AttachmentKind {
        ConsentPaper = "consent-paper", IntakeSheet = "intake-sheet", Photograph = "photograph",
        Film = "film", Sound = "sound", XRay = "x-ray", ImagingReport = "imaging-report", Letter = "letter",
        LetterReceived = "letter-received", Order = "order", AuthorityPaper = "authority-paper",
        IdentityPaper = "identity-paper", Authorisation = "authorisation", Certificate = "certificate",
        RecordFromElsewhere = "record-from-elsewhere", Drawing = "drawing", Questionnaire = "questionnaire",
        Other = "other",
    }
}

words! {
    /// What became of an original.
    Original {
        Kept = "kept", Destroyed = "destroyed", Returned = "returned", None = "none", NotSeen = "not-seen",
    }
}

/// A notice or form given to the patient outside consent to care.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Document {
    /// What it is.
    pub kind: DocumentKind,
    /// Title.
    pub title: String,
    /// Code of the edition.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wording: Option<String>,
    /// Day it was given.
    pub given_on: Given<Day>,
    /// To whom.
    pub given_to: String,
    /// Answer.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub answer: Option<DocumentAnswer>,
    /// Remarks.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub words: Option<String>,
    /// Number of the attachment.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub attachment: Option<u64>,
}

words! {
    /// What a document is.
    DocumentKind {
        FinancialNotice = "financial-notice", PrivacyNotice = "privacy-notice",
        RightsLetter = "rights-letter", PracticeRules = "practice-rules", Other = "other",
    }
}

words! {
    /// Answer to a document.
    DocumentAnswer {
        Signed = "signed", Accepted = "accepted", Refused = "refused", NoAnswer = "no-answer",
    }
}

/// Index entry of an old paper chart.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PaperChart {
    /// Name on the paper.
    pub patient_name: String,
    /// Birth date on the paper.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub birth_date: Option<Day>,
    /// Pages counted.
    pub pages: u32,
    /// Where the paper is kept.
    pub kept_at: String,
    /// Last treatment.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub last_treated: Option<Day>,
    /// Keep-until date.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub keep_until: Option<Day>,
    /// Code of who counted.
    pub counted_by: String,
    /// State of the paper, gaps.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub words: Option<String>,
}

/// What became of the originals of an old paper chart: looked through against the scan, kept, moved, given back, destroyed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PaperOriginal {
    /// Number of the index entry of the paper chart.
    pub paper: u64,
    /// What was done.
    pub state: PaperState,
    /// Pages counted in the scan, when it was checked page by page.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pages: Option<u32>,
    /// Day it was done.
    pub on: Day,
    /// Code or name of who did it.
    pub by: String,
    /// Where the paper is now.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at: Option<String>,
    /// How it was destroyed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub method: Option<String>,
    /// Why.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub because: Option<String>,
    /// Why the scan had not been checked, where the paper was destroyed all the same.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unchecked_because: Option<String>,
}

words! {
    /// What was done with the originals.
    PaperState {
        Checked = "checked", Kept = "kept", Moved = "moved", Returned = "returned", Destroyed = "destroyed",
    }
}

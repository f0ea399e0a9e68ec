//! How long and why a chart must stay: holds, notices, disposal, and disposal refused.

use super::common::Day;
use crate::record::vocab::words;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A legal hold, placed at the time it happened.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Hold {
    /// Why.
    pub reason: String,
    /// Who asked for it.
    pub from_whom: String,
    /// What it covers.
    pub scope: HoldScope,
    /// Code of who placed it.
    pub placed_by: String,
    /// Number of the attachment.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub letter: Option<u64>,
}

/// What a hold covers.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct HoldScope {
    /// Chart, dates or practitioner.
    pub kind: HoldKind,
    /// First date.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from: Option<Day>,
    /// Last date.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub until: Option<Day>,
    /// Code of the practitioner.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub practitioner: Option<String>,
}

words! {
    /// What a hold covers.
    HoldKind {
        Chart = "chart", Dates = "dates", Practitioner = "practitioner",
    }
}

/// A hold is lifted at the time it happened.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct HoldLifted {
    /// Number of the hold.
    pub hold: u64,
    /// Who lifted it.
    pub by: String,
    /// Why.
    pub words: String,
    /// Number of the attachment.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub letter: Option<u64>,
}

/// Notice of a claim or complaint, received at the time it happened. What is written later is labelled. The papers go to the office file.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Notice {
    /// What sort.
    pub kind: NoticeKind,
    /// From whom.
    pub from: String,
    /// Dates it is about.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub about: Vec<Day>,
    /// Reply due.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reply_due: Option<Day>,
    /// Number of the office-file entry.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub office_file: Option<u64>,
    /// Open, answered or closed.
    pub state: NoticeState,
    /// Number of the notice this one answers or closes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub of: Option<u64>,
    /// In short.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub words: Option<String>,
}

words! {
    /// Sort of notice.
    NoticeKind {
        Claim = "claim", Complaint = "complaint", BoardLetter = "board-letter", Audit = "audit",
        Subpoena = "subpoena", Preservation = "preservation", Other = "other",
    }
}

words! {
    /// State of a notice.
    NoticeState {
        Received = "received", Answered = "answered", Closed = "closed",
    }
}

/// Something is disposed of after its keep-until date. Two people sign.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Disposal {
    /// What.
    pub what: Disposed,
    /// Numbers of the entries, where not the whole chart.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub entries: Vec<u64>,
    /// How many entries.
    pub entries_count: u64,
    /// The computed date.
    pub keep_until: Day,
    /// The rule it rests on.
    pub rule: String,
    /// Edition of the rules.
    pub rules_edition: String,
    /// Checks passed.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub checks: Vec<DisposalCheck>,
    /// How.
    pub method: String,
    /// Day done.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub done_on: Option<Day>,
    /// Who did it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub done_by: Option<String>,
    /// True when the chart's contents key was destroyed.
    pub keys_destroyed: bool,
    /// What copies may still hold, and until when.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub copies_left: Option<String>,
    /// Number of the attachment.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub certificate: Option<u64>,
}

words! {
    /// What is disposed of.
    Disposed {
        Chart = "chart", PaperChart = "paper-chart", Attachment = "attachment", Entries = "entries",
    }
}

/// One check before disposal.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct DisposalCheck {
    /// What was looked at: hold, open request, amendment, audit, complaint, minor, adverse reaction.
    pub check: String,
    /// True when nothing stands against it.
    pub passed: bool,
    /// Remarks.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub words: Option<String>,
}

/// Disposal was asked for and refused.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RefusedDisposal {
    /// What was to be disposed of.
    pub what: Disposed,
    /// Numbers of the entries or attachments.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub entries: Vec<u64>,
    /// Code of who asked.
    pub asked_by: String,
    /// The computed date.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub keep_until: Option<Day>,
    /// What stands against it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub blocked_by: Vec<DisposalBlock>,
}

/// What stands against a disposal.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct DisposalBlock {
    /// What.
    pub because: Block,
    /// Number of the entry.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub entry: Option<u64>,
    /// Remarks.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub words: Option<String>,
}

words! {
    /// What stands against a disposal.
    Block {
        KeepUntil = "keep-until", Hold = "hold", OpenRequest = "open-request", Amendment = "amendment",
        Audit = "audit", Complaint = "complaint", Proceeding = "proceeding",
        AdverseReaction = "adverse-reaction", SecondSigner = "second-signer", Other = "other",
    }
}

//! What is left of a chart that was destroyed: in the open that it was, so that a check of the store knows; and
//! sealed, apart from the chart, its certificate.

use super::check_chart::future_day;
use super::common::{Check, Day, Problems, blank, day_order};
use crate::record::envelope::Record;
use crate::record::vocab::words;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A chart's keys and files are to be destroyed, or were. Never sealed itself, so that anybody who checks the
/// store can tell that what is gone is gone by order; it names the chart by its random tag alone. The order is
/// signed by two people.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ChartDisposed {
    /// Random tag of the chart.
    pub chart: String,
    /// Ordered, or done.
    pub state: DisposalState,
    /// Number of the order, where it is done.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ordered_by: Option<u64>,
    /// Key files that were destroyed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub keys: Option<u64>,
    /// Sealed files that were destroyed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub files: Option<u64>,
    /// Drafts that were destroyed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub drafts: Option<u64>,
}

words! {
    /// How far a disposal is.
    DisposalState {
        Ordered = "ordered", Done = "done",
    }
}

/// The certificate of a chart that was destroyed: whose it was, which time it covered, by which rule, how and by
/// whom. It stands outside every chart and holds nothing of what the chart said.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct DisposalCertificate {
    /// Random tag of the chart.
    pub chart: String,
    /// The practice's number of the chart.
    pub chart_no: String,
    /// Name of the patient.
    pub name: String,
    /// First day it covered.
    pub period_from: Day,
    /// Last day it covered.
    pub period_until: Day,
    /// How many entries it had, its disposal not counted.
    pub entries_count: u64,
    /// How many attachments it had.
    pub attachments_count: u64,
    /// The last day it had to be kept.
    pub keep_through: Day,
    /// What every adopted rule gave.
    pub rules: Vec<RuleKept>,
    /// Edition of the adopted rules.
    pub rules_edition: String,
    /// Why it was destroyed although a person had to look at a rule first.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub settled_because: Option<String>,
    /// Code of the second signer.
    pub second: String,
    /// How it was destroyed.
    pub method: String,
    /// The conditions for calling that a cryptographic erase, and which of them hold.
    pub conditions: Vec<Condition>,
    /// True when all of them hold.
    pub cryptographic_erase: bool,
    /// Where it still was when this was signed, outside the store.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub copies: Vec<CopyLeft>,
}

/// What one rule gave.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RuleKept {
    /// Name of the rule.
    pub rule: String,
    /// The last day by it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub keep_through: Option<Day>,
    /// The publication.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub source: Option<String>,
}

/// One condition of NIST SP 800-88 Rev. 1, 2.6, for relying on cryptographic erase.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Condition {
    /// Which one.
    pub what: ConditionKind,
    /// Whether it holds.
    pub holds: Holds,
    /// How that is known.
    pub words: String,
}

words! {
    /// A condition for cryptographic erase.
    ConditionKind {
        /// Everything was sealed before it was stored, and none of it was stored unsealed before that.
        SealedBeforeStored = "sealed-before-stored",
        /// Every place where a key lies is known.
        PlacesKnown = "places-known",
        /// All copies of the keys are destroyed.
        CopiesDestroyed = "copies-destroyed",
        /// What the keys themselves are sealed with can be destroyed.
        WrappingKeys = "wrapping-keys",
        /// The place on the disk where the keys lay can be destroyed.
        MediumSanitized = "medium-sanitized",
    }
}

words! {
    /// Whether a condition holds.
    Holds {
        /// It does; the program saw to it.
        Yes = "yes",
        /// It does not.
        No = "no",
        /// Somebody says so, and the program can't tell.
        Stated = "stated",
        /// Nobody says, and the program can't tell.
        NotKnown = "not-known",
    }
}

/// A place outside the store where a destroyed chart still was.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CopyLeft {
    /// What and where: safe copy on which medium, paper in which cabinet. No name of a patient.
    pub place: String,
    /// Last day it is there.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub until: Option<Day>,
    /// Number of the entry that tells of it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub entry: Option<u64>,
}

/// A copy that a certificate of disposal names was destroyed at the time it happened.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CopyGone {
    /// Number of the certificate.
    pub certificate: u64,
    /// Which of its copies, counted from 1.
    pub copy: u64,
    /// Day it was destroyed.
    pub on: Day,
    /// How: shredded, overwritten by newer copies, disk destroyed.
    pub how: String,
    /// Who did it.
    pub by: String,
    /// Number of the office-file entry with the proof.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub letter: Option<u64>,
}

/// A chart's tag: what a leaf has, 32 hex digits.
fn tag(text: &str, problems: &mut Problems) {
    let hex = text.bytes().all(|b| b.is_ascii_digit() || (b'a'..=b'f').contains(&b));
    if text.len() != 32 || !hex {
        problems.refuse("not-a-tag", "/chart", "a chart is named by its tag");
    }
}

impl Check for ChartDisposed {
    fn check(&self, _head: &Record, problems: &mut Problems) {
        tag(&self.chart, problems);
        if (self.state == DisposalState::Done) != self.ordered_by.is_some() {
            problems.refuse(
                "order-unclear",
                "/ordered_by",
                "name the order where it is done, and only there",
            );
        }
    }
}

impl Check for DisposalCertificate {
    fn check(&self, head: &Record, problems: &mut Problems) {
        tag(&self.chart, problems);
        blank(&self.name, "/name", problems);
        blank(&self.method, "/method", problems);
        day_order(Some(self.period_from), Some(self.period_until), "/period_until", problems);
        if self.keep_through.0 >= head.written.local_date() {
            problems.refuse("keep-until", "/keep_through", "the keep-until date has not passed");
        }
        if self.rules.is_empty() {
            problems.refuse("rules-missing", "/rules", "name the rules it was kept by");
        }
        let holds = |one: &Condition| matches!(one.holds, Holds::Yes | Holds::Stated);
        let all = !self.conditions.is_empty() && self.conditions.iter().all(holds);
        if self.cryptographic_erase != all {
            let text = "it is a cryptographic erase where every condition holds, and only there";
            problems.refuse("erase-unclear", "/cryptographic_erase", text);
        }
    }
}

impl Check for CopyGone {
    fn check(&self, head: &Record, problems: &mut Problems) {
        future_day(self.on, "/on", head, problems);
        blank(&self.how, "/how", problems);
        blank(&self.by, "/by", problems);
        if self.copy == 0 {
            problems.refuse("copy-missing", "/copy", "copies are counted from 1");
        }
    }
}

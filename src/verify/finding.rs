//! What a check found, as data: an id that stays the same for ever, how bad it is, where, what can
//! still be proven, and what to do next.

use super::package_report::PackageReport;
use super::remedies::row;
use super::words::{self, fill};
use crate::seal::keybook::SignerProblem;
use schemars::JsonSchema;
use serde::Serialize;

/// How bad it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Severity {
    /// Worth knowing; nothing is wrong with the record.
    Notice,
    /// The record is not what it was, or not what it says it is.
    Wrong,
}

/// Everything that a check can find.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[non_exhaustive]
pub enum FindingId {
    /// A segment file is missing.
    SegmentMissing,
    /// A segment does not begin with its own head.
    SegmentHead,
    /// A segment is not as long as its head says.
    SegmentLength,
    /// A file lies in a folder of the store where it does not belong.
    StrangerFile,
    /// Bytes between entries are no entry.
    BytesUnreadable,
    /// Bytes behind the last entry of a segment are not zero.
    BytesBehindEnd,
    /// An entry's header line does not read as one.
    LeafUnreadable,
    /// An entry's header is of a later edition.
    LeafOfLaterEdition,
    /// An entry belongs to another ledger.
    LeafOfOtherLedger,
    /// An entry's number does not follow.
    NumberBroken,
    /// An entry does not link to the one before it.
    LinkBroken,
    /// An entry's number in its chart does not follow.
    ChartNumberBroken,
    /// An entry does not link to the one before it in its chart.
    ChartLinkBroken,
    /// A sealed body is not the one that its header names.
    BodyChanged,
    /// An entry ends in zeros.
    CutShort,
    /// A checkpoint's form or signature is wrong.
    CheckpointBroken,
    /// A signed checkpoint does not fit the entries before it.
    CheckpointDisagrees,
    /// No listed key of the author signed the entry.
    SignerNotListed,
    /// The author's signature is wrong.
    SignatureWrong,
    /// The author's key was not in force on that day.
    SignerNotThatDay,
    /// The entry changes keys, and its author may not.
    SignerMayNot,
    /// An entry of public keys can't be read.
    KeysUnreadable,
    /// The link to the ledger that this one goes on from does not hold in itself.
    EarlierLedgerBroken,
    /// The earlier store shown is not the one that this ledger goes on from.
    EarlierLedgerDiffers,
    /// The ledger is shorter than the checkpoint kept outside.
    BehindOutside,
    /// The ledger's entries are not the ones the checkpoint kept outside vouches for.
    RewrittenOutside,
    /// The entry of a receipt's number is not the one that the receipt was given for.
    ReceiptDisagrees,
    /// What was typed in pins down an entry that was not read again.
    NotReadAgain,
    /// There is no checkpoint outside to compare with.
    OutsideMissing,
    /// The checkpoint kept outside can't be read.
    OutsideUnreadable,
    /// Unfinished bytes of a write that was never confirmed.
    UnfinishedWrite,
    /// An entry says it was written before the one in front of it.
    ClockWentBack,
    /// A sealed file is not what its name says.
    FileChanged,
    /// A sealed file that the ledger lists is not there.
    FileMissing,
    /// A sealed file that the ledger does not list.
    FileNotListed,
    /// A chart was to be destroyed, and something of it is still there.
    DisposalUnfinished,
    /// store.json does not fit the ledger.
    StoreFile,
    /// The store has no entries.
    Empty,
    /// The package's list does not read as one.
    ManifestUnreadable,
    /// The package's list is not signed by somebody who might.
    ManifestSignature,
    /// A part of the package is not what the list says.
    MemberChanged,
    /// A part of the package is missing.
    MemberMissing,
    /// A part of the package is not on the list.
    MemberNotListed,
    /// A proof does not hold.
    ProofBroken,
    /// An entry of another chart is in the package.
    OtherChart,
    /// The record is not the one that was sealed.
    RecordChanged,
    /// The record's head does not fit its header.
    RecordHead,
    /// The package does not end with its own release entry.
    ReleaseMissing,
    /// An attachment is not the one its record names.
    AttachmentChanged,
    /// An attachment that a record names is not in the package.
    AttachmentMissing,
    /// What is withheld, its slips and the release entry do not fit each other.
    WithheldUnclear,
    /// What is given and what is left out do not fit what the list says was asked for.
    SpanBroken,
    /// The list of differences since an earlier package is not as it must be.
    DifferencesBroken,
    /// An entry is of a kind or edition that this program can't show.
    CannotShow,
    /// A part of the package has a name that no part may have.
    MemberName,
    /// What was kept outside belongs to another ledger, or to another key.
    OutsideOther,
    /// What was kept outside can't be compared with this package.
    OutsideNotComparable,
    /// The witnesses that the reader's policy asks for did not all sign.
    PolicyNotMet,
}

use FindingId as F;

impl FindingId {
    /// Every finding, for the table in the documentation.
    pub const ALL: &'static [FindingId] = &[
        F::SegmentMissing,
        F::SegmentHead,
        F::SegmentLength,
        F::StrangerFile,
        F::BytesUnreadable,
        F::BytesBehindEnd,
        F::LeafUnreadable,
        F::LeafOfLaterEdition,
        F::LeafOfOtherLedger,
        F::NumberBroken,
        F::LinkBroken,
        F::ChartNumberBroken,
        F::ChartLinkBroken,
        F::BodyChanged,
        F::CutShort,
        F::CheckpointBroken,
        F::CheckpointDisagrees,
        F::SignerNotListed,
        F::SignatureWrong,
        F::SignerNotThatDay,
        F::SignerMayNot,
        F::KeysUnreadable,
        F::EarlierLedgerBroken,
        F::EarlierLedgerDiffers,
        F::BehindOutside,
        F::RewrittenOutside,
        F::ReceiptDisagrees,
        F::NotReadAgain,
        F::OutsideMissing,
        F::OutsideUnreadable,
        F::UnfinishedWrite,
        F::ClockWentBack,
        F::FileChanged,
        F::FileMissing,
        F::FileNotListed,
        F::DisposalUnfinished,
        F::StoreFile,
        F::Empty,
        F::ManifestUnreadable,
        F::ManifestSignature,
        F::MemberChanged,
        F::MemberMissing,
        F::MemberNotListed,
        F::ProofBroken,
        F::OtherChart,
        F::RecordChanged,
        F::RecordHead,
        F::ReleaseMissing,
        F::AttachmentChanged,
        F::AttachmentMissing,
        F::WithheldUnclear,
        F::SpanBroken,
        F::DifferencesBroken,
        F::CannotShow,
        F::MemberName,
        F::OutsideOther,
        F::OutsideNotComparable,
        F::PolicyNotMet,
    ];

    /// The id: the same in every edition of the program.
    pub fn id(self) -> &'static str {
        row(self).0
    }
    /// How bad it is.
    pub fn severity(self) -> Severity {
        row(self).1
    }
    /// What happened, in plain words.
    pub fn what(self) -> &'static str {
        row(self).2
    }
    /// What can still be proven.
    pub fn still_provable(self) -> &'static str {
        row(self).3
    }
    /// What to do next.
    pub fn next(self) -> &'static str {
        row(self).4
    }
}

impl From<SignerProblem> for FindingId {
    fn from(problem: SignerProblem) -> FindingId {
        match problem {
            SignerProblem::NotListed => F::SignerNotListed,
            SignerProblem::BadSignature => F::SignatureWrong,
            SignerProblem::NotThatDay => F::SignerNotThatDay,
            SignerProblem::NotCustodian => F::SignerMayNot,
        }
    }
}

/// Where something was found, as far as it is known.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Where {
    /// Number of the segment file.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub segment: Option<u32>,
    /// Offset in that file, in bytes.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub offset: Option<u64>,
    /// A file or member of a package.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub file: Option<String>,
    /// Number of the entry in the ledger.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub seq: Option<u64>,
    /// Kind of record.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub kind: Option<String>,
    /// Tag of the chart.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub chart: Option<String>,
}

impl std::fmt::Display for Where {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let mut parts = Vec::new();
        if let Some(segment) = self.segment {
            parts.push(format!("file ledger/{segment:06}.seg"));
        }
        if let Some(offset) = self.offset {
            parts.push(format!("byte {offset}"));
        }
        parts.extend(self.file.as_ref().map(|name| fill(words::AT_FILE, &[("name", name)])));
        parts.extend(self.seq.map(|seq| fill(words::AT_ENTRY, &[("seq", &seq)])));
        parts.extend(self.kind.as_ref().map(|kind| fill(words::AT_KIND, &[("kind", kind)])));
        parts.extend(self.chart.as_ref().map(|chart| format!("chart tag {chart}")));
        f.write_str(&if parts.is_empty() { words::THE_WHOLE.to_string() } else { parts.join(", ") })
    }
}

/// One finding.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Finding {
    /// What.
    pub id: FindingId,
    /// Where.
    pub place: Where,
}

impl Finding {
    /// A finding at a place.
    pub fn new(id: FindingId, place: Where) -> Finding {
        Finding { id, place }
    }
    /// As it stands in `--json` output.
    pub fn to_output(&self) -> FindingOutput {
        FindingOutput {
            id: self.id.id().to_string(),
            severity: self.id.severity(),
            place: self.place.clone(),
            what: self.id.what().to_string(),
            still_provable: self.id.still_provable().to_string(),
            next: self.id.next().to_string(),
        }
    }
}

/// A finding in `--json` output.
#[derive(Debug, Clone, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct FindingOutput {
    /// Stable id.
    pub id: String,
    /// How bad it is.
    pub severity: Severity,
    /// Where.
    #[serde(rename = "where")]
    pub place: Where,
    /// What, in words.
    pub what: String,
    /// What can still be proven.
    pub still_provable: String,
    /// What to do next.
    pub next: String,
}

/// The verdict of a check, in `--json` output and in words.
#[derive(Debug, Clone, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Report {
    /// `store` or `package`.
    pub checked: String,
    /// True when nothing is wrong.
    pub sound: bool,
    /// Origin of the ledger.
    pub ledger: String,
    /// Entries looked at.
    pub entries: u64,
    /// Number of the first of them, where those before it were not read again.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub read_from: Option<u64>,
    /// Charts met.
    pub charts: u64,
    /// For a store: how many of them were destroyed by an order that two people signed. Their entries stand and are
    /// checked like all others.
    #[serde(skip_serializing_if = "is_zero")]
    pub charts_destroyed: u64,
    /// Sealed files or attachments looked at.
    pub files: u64,
    /// Size and root (hex) of the newest checkpoint.
    pub checkpoint: Option<CheckpointOutput>,
    /// What outside the thing itself it was compared with, and agreed.
    pub witnesses: Vec<String>,
    /// For a package: whether it holds the whole chart up to its own release.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub complete: Option<String>,
    /// For a package: what was proven, statement by statement.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub package: Option<Box<PackageReport>>,
    /// Everything found, up to the first thousand.
    pub findings: Vec<FindingOutput>,
    /// How many more were found.
    #[serde(skip_serializing_if = "is_zero")]
    pub more_findings: u64,
    /// What this does not prove.
    pub limits: Vec<String>,
}

fn is_zero(number: &u64) -> bool {
    *number == 0
}

/// A checkpoint in `--json` output.
#[derive(Debug, Clone, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct CheckpointOutput {
    /// Entries it vouches for.
    pub size: u64,
    /// Root hash, hex.
    pub root: String,
}

/// What no check of this kind can prove; printed with every verdict.
pub fn limits(witnessed: bool) -> Vec<String> {
    let mut limits = common_limits();
    limits.push(if witnessed {
        "Entries newer than what was kept outside the store could have been rewritten by the keeper of the keys.".to_string()
    } else {
        "Nothing kept outside was compared, so the keeper of the keys could have rewritten or shortened the whole.".to_string()
    });
    limits
}

fn common_limits() -> Vec<String> {
    vec![words::LIMIT_TRUE.to_string(), words::LIMIT_CLOCK.to_string(), words::LIMIT_UNWRITTEN.to_string()]
}

/// As [`limits`], for a package: `reached` is the last number that something outside vouches for, and
/// `key_known` says whether the checkpoint key is known from elsewhere than the package.
pub fn package_limits(reached: Option<u64>, key_known: bool) -> Vec<String> {
    let mut limits = common_limits();
    limits.push(match reached {
        Some(number) => fill(words::LIMIT_AFTER, &[("number", &number)]),
        None => words::LIMIT_REBUILT.to_string(),
    });
    if !key_known {
        limits.push(words::LIMIT_KEY.to_string());
    }
    limits.push(words::LIMIT_LATER.to_string());
    limits
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_finding_has_an_id_of_its_own_and_words() {
        let mut ids: Vec<_> = FindingId::ALL.iter().map(|f| f.id()).collect();
        ids.sort_unstable();
        ids.dedup();
        assert_eq!(ids.len(), FindingId::ALL.len());
        for f in FindingId::ALL {
            assert!(
                f.what().ends_with('.') && !f.still_provable().is_empty() && f.next().ends_with('.'),
                "{}",
                f.id()
            );
        }
    }

    #[test]
    fn a_place_is_told_from_the_whole_down() {
        assert_eq!(Where::default().to_string(), "the whole");
        let all = Where {
            segment: Some(3),
            offset: Some(40),
            file: Some("a.age".into()),
            seq: Some(7),
            kind: Some("visit".into()),
            chart: Some("c0".into()),
        };
        let told = "file ledger/000003.seg, byte 40, file a.age, entry 7, kind visit, chart tag c0";
        assert_eq!(all.to_string(), told);
    }

    /// What a check does not prove is said with every verdict, and said the stronger the less was compared.
    #[test]
    fn every_verdict_says_what_it_does_not_prove() {
        let common = [words::LIMIT_TRUE, words::LIMIT_CLOCK, words::LIMIT_UNWRITTEN];
        for witnessed in [false, true] {
            let said = limits(witnessed);
            assert_eq!((said.len(), &said[..3]), (4, &common.map(str::to_string)[..]));
            assert_eq!(said[3].starts_with("Nothing kept outside was compared"), !witnessed);
        }
        for (reached, known) in [(None, false), (None, true), (Some(9), false), (Some(9), true)] {
            let said = package_limits(reached, known);
            assert_eq!(said[..3], common.map(str::to_string));
            assert_eq!(said.contains(&words::LIMIT_REBUILT.to_string()), reached.is_none());
            assert_eq!(said.iter().any(|line| line.contains("after number 9 ")), reached.is_some());
            assert_eq!(said.contains(&words::LIMIT_KEY.to_string()), !known);
            assert_eq!(said.last().unwrap(), words::LIMIT_LATER);
        }
    }

    #[test]
    fn numbers_that_are_none_are_left_out_of_the_output() {
        let report = |number: u64| {
            let report = Report {
                checked: "store".into(),
                sound: true,
                ledger: "ledger-x".into(),
                entries: 0,
                read_from: None,
                charts: 0,
                charts_destroyed: number,
                files: 0,
                checkpoint: None,
                witnesses: vec![],
                complete: None,
                package: None,
                findings: vec![],
                more_findings: number,
                limits: vec![],
            };
            serde_json::to_value(report).unwrap()
        };
        let (none, some) = (report(0), report(2));
        assert!(none.get("charts_destroyed").is_none() && none.get("more_findings").is_none());
        assert!(some["charts_destroyed"] == 2 && some["more_findings"] == 2 && none["entries"] == 0);
    }
}

//! The manifest of a package: what is in it, and why anything is not.

use super::words::{self, fill};
use crate::record::kinds::release::{Span, WithholdReason};
use crate::record::vocab::words;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// `manifest.json` of a package.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Manifest {
    /// Edition of the package: 1.
    #[schemars(range(min = 1, max = 1))]
    pub inkfast_package: u32,
    /// Origin of the ledger.
    pub ledger: String,
    /// The checkpoint key as a C2SP vkey.
    pub checkpoint_key: String,
    /// Tag of the chart.
    #[schemars(regex(pattern = "^[0-9a-f]{32}$"))]
    pub chart: String,
    /// Number of the release entry in the ledger.
    pub release: u64,
    /// When the package was made: the release entry's `written`.
    pub made: String,
    /// Staff code of who released it.
    pub made_by: String,
    /// The chart's entries, in order, from 1 to the release.
    pub entries: Vec<ManifestEntry>,
    /// Numbers in the ledger of the `keys` entries in the package.
    pub keys: Vec<u64>,
    /// Every member of the package but the manifest and its note.
    pub files: Vec<ManifestFile>,
    /// What was asked for, where that was not the whole chart.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub span: Option<Span>,
    /// What differs since an earlier package, where this one lists it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub differences: Option<Differences>,
}

/// One entry of the chart.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ManifestEntry {
    /// Number in the chart.
    pub chart_seq: u64,
    /// Number in the ledger.
    pub seq: u64,
    /// Kind of record.
    pub kind: String,
    /// Why its contents are withheld; absent when they are given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub withheld: Option<String>,
    /// The reason as a word: present exactly where the contents are withheld.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<WithholdReason>,
    /// The member with the slip that stands in its place, or in which it is listed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub slip: Option<String>,
    /// Where it was not asked for itself: number in the ledger of the entry it travels with.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub supports: Option<u64>,
}

/// One member.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ManifestFile {
    /// Name in the package.
    pub name: String,
    /// Length in bytes.
    pub bytes: u64,
    /// BLAKE3, hex.
    #[schemars(regex(pattern = "^[0-9a-f]{64}$"))]
    pub blake3: String,
    /// SHA-256, hex.
    #[schemars(regex(pattern = "^[0-9a-f]{64}$"))]
    pub sha256: String,
    /// Media type, for attachments.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub media_type: Option<String>,
}

/// What differs since an earlier package of the same chart.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Differences {
    /// Number of the earlier release in the ledger.
    pub since: u64,
    /// Every difference; empty: nothing differs but this release itself.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub list: Vec<Difference>,
}

/// One difference.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Difference {
    /// Which sort.
    pub what: DifferenceKind,
    /// Number of the entry in the ledger.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub entry: Option<u64>,
    /// Number of the entry that made the difference.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<u64>,
    /// Name of the member.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub file: Option<String>,
}

words! {
    /// A sort of difference between two packages.
    DifferenceKind {
        AddedAfter = "added-after", CorrectedSince = "corrected-since", SpanChanged = "span-changed",
        WithheldNow = "withheld-now", GivenNow = "given-now", ReasonChanged = "reason-changed",
        FileChanged = "file-changed", FileAdded = "file-added", FileGone = "file-gone",
        LayoutChanged = "layout-changed",
    }
}

impl DifferenceKind {
    /// What it means, in plain words.
    pub fn words(self) -> &'static str {
        match self {
            DifferenceKind::AddedAfter => "written after the earlier package",
            DifferenceKind::CorrectedSince => {
                "corrected or added to since; the earlier words are still there"
            }
            DifferenceKind::SpanChanged => "other dates or kinds were asked for",
            DifferenceKind::WithheldNow => "given then, withheld now",
            DifferenceKind::GivenNow => "withheld then, given now",
            DifferenceKind::ReasonChanged => "withheld then and now, for another reason",
            DifferenceKind::FileChanged => "another content than then",
            DifferenceKind::FileAdded => "not in the earlier package",
            DifferenceKind::FileGone => "in the earlier package only",
            DifferenceKind::LayoutChanged => "from the same entries the program now makes another page",
        }
    }
}

impl Differences {
    /// The text of `differences.txt`: the same list for people.
    pub fn to_text(&self, release: u64) -> String {
        let mut out = fill(words::DIFFERS_HEAD, &[("release", &release), ("since", &self.since)]) + "\n\n";
        if self.list.is_empty() {
            out.push_str(words::DIFFERS_NOTHING);
            out.push('\n');
        }
        for one in &self.list {
            out.push_str("- ");
            if let Some(entry) = one.entry {
                out.push_str(&fill(words::DIFFERS_ENTRY, &[("entry", &entry)]));
            }
            if let Some(file) = &one.file {
                out.push_str(&fill(words::DIFFERS_FILE, &[("file", file)]));
            }
            out.push_str(one.what.words());
            if let Some(by) = one.by {
                out.push_str(&fill(words::DIFFERS_BY, &[("by", &by)]));
            }
            out.push('\n');
        }
        out.push('\n');
        out.push_str(words::DIFFERS_FOOT);
        out.push('\n');
        out
    }
}

/// The member that lists what differs.
pub const DIFFERENCES: &str = "differences.txt";

/// The slip that lists what was not asked for.
pub const OUTSIDE_SLIP: &str = "slips/outside-what-was-asked.txt";

/// Name of the slip in the place of an entry.
pub fn slip_name(chart_seq: u64) -> String {
    format!("slips/{chart_seq:06}.txt")
}

/// The text of `manifest.note`.
pub fn note_text(origin: &str, release: u64, blake3: &str, sha256: &str) -> String {
    format!("inkfast-package/v1\n{origin}\nrelease {release}\nblake3 {blake3}\nsha256 {sha256}\n")
}

/// Name of a chart entry's member, without its ending.
pub fn entry_name(chart_seq: u64) -> String {
    format!("entries/{chart_seq:06}")
}

//! The manifest of a package: what is in it, and why anything is not.

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

/// The text of `manifest.note`.
pub fn note_text(origin: &str, release: u64, blake3: &str, sha256: &str) -> String {
    format!("inkfast-package/v1\n{origin}\nrelease {release}\nblake3 {blake3}\nsha256 {sha256}\n")
}

/// Name of a chart entry's member, without its ending.
pub fn entry_name(chart_seq: u64) -> String {
    format!("entries/{chart_seq:06}")
}

//! What the page `check.html` inside a package takes over from this program instead of saying it a second time:
//! sentences, findings, check words, limits. Written to `src/render/check_page/said.json`, which a test compares.

use super::certificate::{MOST_FINDINGS, MOST_WITHHELD};
use super::check_words;
use super::finding::FindingId;
use super::manifest::{DIFFERENCES, DifferenceKind, OUTSIDE_SLIP};
use super::members::{MAX_KEPT, MAX_MEMBERS, MAX_PART, MAX_STRAYS};
use super::package::{MAX_FINDINGS, PACKAGE_EDITION};
use super::words::ALL;
use crate::ledger::leaf::MAX_LEAF;
use crate::ledger::proof::MAX_PROOF_BYTES;
use crate::record::kinds::KINDS;
use crate::record::kinds::release::WithholdReason;
use crate::seal::note::{MAX_NOTE_BYTES, MAX_SIGNATURES};
use serde_json::{Map, Value, json};

/// All of it, as JSON.
pub fn page_words() -> Value {
    let sentences: Map<String, Value> =
        ALL.iter().map(|(name, text)| (name.to_string(), json!(text))).collect();
    let findings: Map<String, Value> = FindingId::ALL
        .iter()
        .map(|f| {
            let told = json!({
                "severity": f.severity(), "what": f.what(), "still_provable": f.still_provable(), "next": f.next(),
            });
            (f.id().to_string(), told)
        })
        .collect();
    let differences: Map<String, Value> =
        DifferenceKind::ALL.iter().map(|d| (d.word().to_string(), json!(d.words()))).collect();
    let kinds: Map<String, Value> =
        KINDS.iter().map(|kind| (kind.word.to_string(), json!(kind.edition))).collect();
    json!({
        "sentences": sentences,
        "findings": findings,
        "differences": differences,
        "kinds": kinds,
        "outside_request": WithholdReason::OutsideRequest.word(),
        "differences_file": DIFFERENCES,
        "outside_slip": OUTSIDE_SLIP,
        "package_edition": PACKAGE_EDITION,
        "most": {
            "findings": MAX_FINDINGS, "findings_shown": MOST_FINDINGS, "withheld_shown": MOST_WITHHELD,
            "part": MAX_PART, "kept": MAX_KEPT, "members": MAX_MEMBERS, "strays": MAX_STRAYS,
            "leaf": MAX_LEAF, "note": MAX_NOTE_BYTES, "signatures": MAX_SIGNATURES, "proof": MAX_PROOF_BYTES,
        },
        "check_words": check_words::LIST.lines().collect::<Vec<_>>(),
    })
}

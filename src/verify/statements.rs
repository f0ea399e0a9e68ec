//! What was proven of a package, statement by statement: each holds only if nothing was found that speaks
//! against it.

use super::finding::FindingId as F;
use super::manifest::Manifest;
use super::package_report::{Statement, StatementId};
use std::collections::BTreeSet;

/// The statements, and whether the chart is complete.
pub(super) struct Statements {
    pub list: Vec<Statement>,
    pub complete: bool,
}

/// What speaks against every statement about entries.
const ENTRIES: &[F] = &[
    F::ManifestUnreadable,
    F::MemberMissing,
    F::LeafUnreadable,
    F::LeafOfLaterEdition,
    F::LeafOfOtherLedger,
    F::OtherChart,
    F::KeysUnreadable,
];
const LIST: &[F] = &[
    F::ManifestUnreadable,
    F::ManifestSignature,
    F::MemberChanged,
    F::MemberMissing,
    F::MemberNotListed,
    F::MemberName,
];
const SIGNERS: &[F] = &[F::SignerNotListed, F::SignatureWrong, F::SignerNotThatDay, F::SignerMayNot];
const PLACE: &[F] = &[F::ProofBroken, F::CheckpointBroken];
const CHAIN: &[F] = &[F::ChartNumberBroken, F::ChartLinkBroken, F::ReleaseMissing];

/// Works out the statements from what was found. `whole` says that the chart's numbers and links hold up to the
/// release entry; `given` counts the records whose contents are given and right.
pub(super) fn statements(
    manifest: Option<&Manifest>,
    found: &BTreeSet<F>,
    whole: bool,
    given: u64,
    attachments: usize,
) -> Statements {
    let none = |lists: &[&[F]]| !lists.iter().any(|list| list.iter().any(|id| found.contains(id)));
    let Some(manifest) = manifest.filter(|_| !found.contains(&F::ManifestUnreadable)) else {
        return Statements { list: Vec::new(), complete: false };
    };
    let (n, keys) = (manifest.entries.len(), manifest.keys.len());
    let withheld = match manifest.entries.iter().filter(|e| e.withheld.is_some()).count() {
        0 => String::new(),
        count => format!(" The contents of {count} of them are withheld."),
    };
    let by = &manifest.made_by;
    let (first, last) = (manifest.entries.first(), manifest.entries.last());
    let span = match (first, last) {
        (Some(first), Some(last)) => format!("numbers {} to {} of the ledger", first.seq, last.seq),
        _ => "no entry".to_string(),
    };
    let complete = whole
        && none(&[
            ENTRIES,
            SIGNERS,
            PLACE,
            CHAIN,
            &[F::ManifestSignature, F::WithheldUnclear, F::SpanBroken],
        ]);
    let say = |id, holds, yes: String, no: &str| Statement {
        id,
        holds,
        words: if holds { yes } else { no.to_string() },
    };
    let list = vec![
        say(
            StatementId::ListSigned,
            none(&[LIST]),
            format!(
                "The package's list is signed by {by}, who made it, and every part is exactly as listed; nothing was added or taken out."
            ),
            "The package's parts are not what a signed list of the practice says.",
        ),
        say(
            StatementId::Unchanged,
            none(&[ENTRIES, &[F::RecordChanged, F::RecordHead]]),
            format!(
                "Each of the {given} records given is, byte for byte, the one that was sealed when its entry was made."
            ),
            "Not every record given is the one that was sealed.",
        ),
        say(
            StatementId::Signatures,
            none(&[ENTRIES, SIGNERS]),
            format!(
                "Each of the {n} entries is signed by a key on the practice's list of staff (lists of keys in the package: {keys}), on a day on which that key counted."
            ),
            "Not every entry is signed by a listed key on a day on which it counted.",
        ),
        say(
            StatementId::Attachments,
            none(&[ENTRIES, &[F::AttachmentChanged, F::AttachmentMissing, F::RecordChanged]]),
            match attachments {
                0 => "No record given names an attachment.".to_string(),
                count => format!(
                    "Each of the {count} attachments that the records given name is here and is the same."
                ),
            },
            "It can't be said that every attachment that a record names is here and the same.",
        ),
        say(
            StatementId::InLedger,
            none(&[ENTRIES, PLACE]),
            format!(
                "Each of the {n} entries stands in the ledger at its own number ({span}), under one signed checkpoint."
            ),
            "Not every entry is shown to stand in the ledger at its number.",
        ),
        say(
            StatementId::ChartComplete,
            complete,
            format!(
                "Entries 1 to {n} of the chart are present, unbroken and in order; the last is the entry of this very release, so nothing of the chart up to it is missing.{withheld}"
            ),
            "It can't be said that the chart is complete up to its release.",
        ),
    ];
    Statements { list, complete }
}

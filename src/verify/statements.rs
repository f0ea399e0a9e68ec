//! What was proven of a package, statement by statement: each holds only if nothing was found that speaks
//! against it.

use super::finding::FindingId as F;
use super::manifest::Manifest;
use super::package_report::{Statement, StatementId};
use super::words::{self, fill};
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
        count => fill(words::CHART_WITHHELD, &[("count", &count)]),
    };
    let by = &manifest.made_by;
    let (first, last) = (manifest.entries.first(), manifest.entries.last());
    let span = match (first, last) {
        (Some(first), Some(last)) => fill(words::NUMBERS, &[("first", &first.seq), ("last", &last.seq)]),
        _ => words::NO_ENTRY.to_string(),
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
            fill(words::LIST_SIGNED, &[("by", by)]),
            words::LIST_SIGNED_NOT,
        ),
        say(
            StatementId::Unchanged,
            none(&[ENTRIES, &[F::RecordChanged, F::RecordHead]]),
            fill(words::UNCHANGED, &[("given", &given)]),
            words::UNCHANGED_NOT,
        ),
        say(
            StatementId::Signatures,
            none(&[ENTRIES, SIGNERS]),
            fill(words::SIGNATURES, &[("n", &n), ("keys", &keys)]),
            words::SIGNATURES_NOT,
        ),
        say(
            StatementId::Attachments,
            none(&[ENTRIES, &[F::AttachmentChanged, F::AttachmentMissing, F::RecordChanged]]),
            match attachments {
                0 => words::ATTACHMENTS_NONE.to_string(),
                count => fill(words::ATTACHMENTS, &[("count", &count)]),
            },
            words::ATTACHMENTS_NOT,
        ),
        say(
            StatementId::InLedger,
            none(&[ENTRIES, PLACE]),
            fill(words::IN_LEDGER, &[("n", &n), ("span", &span)]),
            words::IN_LEDGER_NOT,
        ),
        say(
            StatementId::ChartComplete,
            complete,
            fill(words::CHART_COMPLETE, &[("n", &n)]) + &withheld,
            words::CHART_COMPLETE_NOT,
        ),
    ];
    Statements { list, complete }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_chart_is_complete_where_its_chain_holds_and_nothing_speaks_against_it() {
        let list = serde_json::json!({
            "inkfast_package": 1, "ledger": "ledger-x", "checkpoint_key": "", "chart": "", "release": 9, "made": "",
            "made_by": "TR", "entries": [{ "chart_seq": 1, "seq": 9, "kind": "release" }], "keys": [], "files": [],
        });
        let list: Manifest = serde_json::from_value(list).unwrap();
        let complete = |found: &[F], whole: bool| {
            statements(Some(&list), &found.iter().copied().collect(), whole, 1, 0).complete
        };
        assert!(complete(&[], true));
        // A clock that went back, or a file more, takes no entry away.
        assert!(complete(&[F::ClockWentBack, F::MemberNotListed], true));
        assert!(!complete(&[], false));
        for against in [
            F::MemberMissing,
            F::SignerNotListed,
            F::ProofBroken,
            F::ChartLinkBroken,
            F::ManifestSignature,
            F::WithheldUnclear,
            F::SpanBroken,
        ] {
            assert!(!complete(&[against], true), "{against:?}");
        }
    }
}

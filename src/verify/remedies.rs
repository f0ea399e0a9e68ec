//! For each finding: its id, how bad it is, what happened, what can still be proven, what to do next.

use super::finding::FindingId as F;
use super::finding::{FindingId, Severity};

/// Id, severity, what happened, what is still provable, next step.
pub(super) fn row(id: FindingId) -> (&'static str, Severity, &'static str, &'static str, &'static str) {
    use Severity::{Notice, Wrong};
    const OTHERS: &str = "Every other entry still has its own signature and its link to the one before it.";
    const BEFORE: &str = "Everything before this place is as it was sealed.";
    const COPY: &str = "Copy the whole store folder before doing anything else; then fetch this part from the newest safe copy and verify that.";
    const KEEP: &str = "Keep this copy as it is, and ask for another one from whoever gave it.";
    match id {
        F::SegmentMissing => ("segment-missing", Wrong, "A file of the ledger is missing.", BEFORE, COPY),
        F::SegmentHead => {
            ("segment-head", Wrong, "A file of the ledger does not begin as it must.", OTHERS, COPY)
        }
        F::SegmentLength => {
            ("segment-length", Wrong, "A file of the ledger is not as long as it says.", OTHERS, COPY)
        }
        F::StrangerFile => (
            "stranger-file",
            Wrong,
            "A file lies here that does not belong to the store.",
            OTHERS,
            "Find out who put it there, then move it out of the store folder.",
        ),
        F::BytesUnreadable => (
            "bytes-unreadable",
            Wrong,
            "Bytes between two entries are no entry: one was destroyed here.",
            OTHERS,
            COPY,
        ),
        F::BytesBehindEnd => (
            "bytes-behind-end",
            Wrong,
            "Bytes stand where nothing was written: a torn write after a power cut, or damage.",
            BEFORE,
            "If the power failed just now, write the next entry: the bytes are moved aside and kept. Otherwise copy the store folder and compare with a safe copy.",
        ),
        F::LeafUnreadable => (
            "leaf-unreadable",
            Wrong,
            "An entry's header was changed so that it can't be read.",
            OTHERS,
            COPY,
        ),
        F::LeafOfLaterEdition => (
            "leaf-of-later-edition",
            Wrong,
            "An entry was written by a later program.",
            OTHERS,
            "Verify with the newer program.",
        ),
        F::LeafOfOtherLedger => {
            ("leaf-of-other-ledger", Wrong, "An entry belongs to another ledger.", OTHERS, COPY)
        }
        F::NumberBroken => (
            "number-broken",
            Wrong,
            "An entry's number is not the one that follows: entries were removed, added or moved.",
            OTHERS,
            COPY,
        ),
        F::LinkBroken => (
            "link-broken",
            Wrong,
            "An entry is not sealed to the one before it: that one was changed, or entries were removed, added or moved.",
            OTHERS,
            COPY,
        ),
        F::ChartNumberBroken => (
            "chart-number-broken",
            Wrong,
            "An entry's number in its chart is not the one that follows.",
            OTHERS,
            COPY,
        ),
        F::ChartLinkBroken => (
            "chart-link-broken",
            Wrong,
            "An entry is not sealed to the one before it in its chart.",
            OTHERS,
            COPY,
        ),
        F::BodyChanged => (
            "body-changed",
            Wrong,
            "The sealed contents of an entry were changed.",
            "That it was written, when, by whom and for which chart still stands; its contents do not.",
            COPY,
        ),
        F::CutShort => (
            "cut-short",
            Wrong,
            "An entry ends in zeros: its write stopped half way, or it was wiped.",
            OTHERS,
            COPY,
        ),
        F::CheckpointBroken => (
            "checkpoint-broken",
            Wrong,
            "A checkpoint was changed, or was signed with another key.",
            "The entries before it are linked and signed one by one.",
            COPY,
        ),
        F::CheckpointDisagrees => (
            "checkpoint-disagrees",
            Wrong,
            "A signed checkpoint does not fit the entries before it.",
            "Entries up to the checkpoint before this one are as they were vouched for.",
            COPY,
        ),
        F::SignerNotListed => (
            "signer-not-listed",
            Wrong,
            "No key of staff listed at that time signed this entry.",
            OTHERS,
            "Ask the keeper of the records who wrote it; do not rely on it.",
        ),
        F::SignatureWrong => (
            "signature-wrong",
            Wrong,
            "The author's signature does not fit the entry: it was changed after signing.",
            OTHERS,
            COPY,
        ),
        F::SignerNotThatDay => (
            "signer-not-that-day",
            Wrong,
            "The author's key was not in force on the day the entry says it was written.",
            OTHERS,
            "Ask the keeper of the records for the roster of that day; do not rely on the entry before that.",
        ),
        F::SignerMayNot => (
            "signer-may-not",
            Wrong,
            "Keys were changed by somebody who may not change them.",
            OTHERS,
            "Treat every signature by the changed keys as unproven.",
        ),
        F::KeysUnreadable => ("keys-unreadable", Wrong, "A list of public keys can't be read.", OTHERS, COPY),
        F::EarlierLedgerBroken => (
            "earlier-ledger-broken",
            Wrong,
            "The entry that says which earlier ledger this one goes on from does not hold: its checkpoint is not signed by the key it names.",
            "This ledger by itself still stands; which earlier one belongs to it is not proven.",
            COPY,
        ),
        F::EarlierLedgerDiffers => (
            "earlier-ledger-differs",
            Wrong,
            "The earlier store is not as it was when this ledger was begun from it, or it is another one.",
            "This ledger by itself still stands, and so does whatever of the earlier one still verifies.",
            "Look for an older copy of the earlier store, and verify that.",
        ),
        F::BehindOutside => (
            "behind-outside-copy",
            Wrong,
            "The ledger is shorter than the checkpoint kept outside says: its end was cut off, or this is an older copy.",
            "All entries that are here are as they were sealed.",
            "Look for the newer copy. If it is lost, the owner records why with `inkfast slip behind`.",
        ),
        F::RewrittenOutside => (
            "rewritten-outside-copy",
            Wrong,
            "The entries are not the ones that the checkpoint kept outside vouches for: the ledger was rewritten.",
            "Nothing in this copy can be relied on beyond what other copies confirm.",
            "Keep both, and compare with slips and copies handed out earlier.",
        ),
        F::ReceiptDisagrees => (
            "receipt-disagrees",
            Wrong,
            "The entry of this number is not the one that the receipt was given for: the ledger was rewritten.",
            "Nothing in this copy can be relied on beyond what other copies confirm.",
            "Keep the receipt and this copy, and compare with slips and copies handed out earlier.",
        ),
        F::NotReadAgain => (
            "not-read-again",
            Notice,
            "What was typed in pins down an entry that was not read again in this check, so it was not compared.",
            "Everything from the kept checkpoint on, as far as it was read.",
            "To compare it, run `inkfast verify` without --only-new.",
        ),
        F::OutsideMissing => (
            "outside-missing",
            Notice,
            "No checkpoint kept outside the store was found here, so a cut-off end would not show.",
            "Everything up to the newest checkpoint in the store.",
            "Compare with a day slip, or name the folder with --outside.",
        ),
        F::OutsideUnreadable => (
            "outside-unreadable",
            Notice,
            "The checkpoint kept outside can't be read, so a cut-off end would not show.",
            "Everything up to the newest checkpoint in the store.",
            "Compare with a day slip.",
        ),
        F::UnfinishedWrite => (
            "unfinished-write",
            Notice,
            "A write was interrupted here. It was never confirmed to anybody.",
            "Everything that was confirmed.",
            "Nothing to do: with the next entry these bytes are moved aside and kept.",
        ),
        F::ClockWentBack => (
            "clock-went-back",
            Notice,
            "An entry says it was written before the one in front of it. Order goes by number, not by clock.",
            "The order of the entries.",
            "See whether a clock remark explains it.",
        ),
        F::FileChanged => (
            "file-changed",
            Wrong,
            "An attachment's sealed file was changed.",
            "The record of what it was, and its digest.",
            COPY,
        ),
        F::FileMissing => (
            "file-missing",
            Wrong,
            "An attachment's sealed file is missing.",
            "The record of what it was, and its digest.",
            COPY,
        ),
        F::FileNotListed => (
            "file-not-listed",
            Notice,
            "A sealed file is not listed in the ledger: an attachment that was interrupted before it was recorded.",
            "Everything that was recorded.",
            "Attach the document again if it is still wanted.",
        ),
        F::DisposalUnfinished => (
            "disposal-unfinished",
            Notice,
            "A chart was to be destroyed, and that is not finished: something of it is in the store, or is here again.",
            "Every entry of it, and that its destruction was ordered by two people.",
            "Run `inkfast dispose finish`.",
        ),
        F::StoreFile => (
            "store-file",
            Wrong,
            "store.json does not fit the ledger.",
            "Each entry's own signature and links.",
            COPY,
        ),
        F::Empty => ("empty", Wrong, "The ledger holds no entry that was ever confirmed.", "Nothing.", COPY),
        F::ManifestUnreadable => (
            "manifest-unreadable",
            Wrong,
            "The list of what is in the package can't be read.",
            "Each entry can still be checked by itself.",
            KEEP,
        ),
        F::ManifestSignature => (
            "manifest-signature",
            Wrong,
            "The list of what is in the package is not signed by staff of the practice.",
            "Each entry can still be checked by itself.",
            KEEP,
        ),
        F::MemberChanged => (
            "member-changed",
            Wrong,
            "A part of the package is not what the list says.",
            "The parts not named here.",
            KEEP,
        ),
        F::MemberMissing => {
            ("member-missing", Wrong, "A part of the package is missing.", "The parts that are there.", KEEP)
        }
        F::MemberNotListed => (
            "member-not-listed",
            Wrong,
            "Something is in the package that is not on its list.",
            "The parts that are listed.",
            KEEP,
        ),
        F::ProofBroken => (
            "proof-broken",
            Wrong,
            "An entry's proof of its place in the ledger does not hold.",
            "The entries whose proofs hold.",
            KEEP,
        ),
        F::OtherChart => (
            "other-chart",
            Wrong,
            "An entry in the package belongs to another chart or ledger.",
            "The other entries.",
            KEEP,
        ),
        F::RecordChanged => (
            "record-changed",
            Wrong,
            "A record is not the one that was sealed.",
            "That an entry was made, when and by whom.",
            KEEP,
        ),
        F::RecordHead => (
            "record-head",
            Wrong,
            "A record says another kind or time than its header in the ledger.",
            "What the header says.",
            KEEP,
        ),
        F::ReleaseMissing => (
            "release-missing",
            Wrong,
            "The package does not end with the entry of its own release, so later entries of the chart may be missing.",
            "The entries that are there.",
            KEEP,
        ),
        F::AttachmentChanged => (
            "attachment-changed",
            Wrong,
            "An attachment is not the one that its record names.",
            "The record of what it was, and its digest.",
            KEEP,
        ),
        F::AttachmentMissing => (
            "attachment-missing",
            Wrong,
            "An attachment that a record names is not in the package.",
            "The record of what it was, and its digest.",
            KEEP,
        ),
        F::WithheldUnclear => (
            "withheld-unclear",
            Wrong,
            "What is withheld is not said the same way by the list, the slips and the release entry.",
            "The entry's place in the chart still stands, and so does every entry that is given.",
            KEEP,
        ),
        F::SpanBroken => (
            "span-broken",
            Wrong,
            "What is given or left out does not fit what the list says was asked for.",
            "Every entry that is given still stands; whether all that was asked for is here does not.",
            KEEP,
        ),
        F::DifferencesBroken => (
            "differences-broken",
            Wrong,
            "The list of differences since an earlier package is not as it must be.",
            "Every entry that is given still stands; compare with the earlier package itself.",
            KEEP,
        ),
        F::CannotShow => (
            "cannot-show",
            Notice,
            "An entry was written by a later program; it verifies, but can't be shown here.",
            "That it was made, when and by whom, and that it is unchanged.",
            "Use the newer program to read it.",
        ),
        F::MemberName => (
            "member-name",
            Wrong,
            "A part of the package has a name that no part may have; opened, it could land outside its folder.",
            "The other parts.",
            "Do not unpack this copy with any program, and ask for another one.",
        ),
        F::OutsideOther => (
            "other-ledger-than-kept",
            Wrong,
            "What you gave to compare with names another ledger, or another key, than the one that signed this package.",
            "What the package shows of itself.",
            "See that both come from the same practice. If they do, do not rely on this package before the practice has explained it.",
        ),
        F::OutsideNotComparable => (
            "outside-not-comparable",
            Notice,
            "What you gave to compare with is of another number than any this package can be compared at. It shows nothing for or against it.",
            "What the package shows of itself.",
            "Compare with a slip of the release's own number, or with a checkpoint kept on that day or from another package.",
        ),
        F::PolicyNotMet => (
            "policy-not-met",
            Wrong,
            "The witnesses that your policy asks for have not all signed the state of the ledger in this package or store.",
            "What the package or store shows of itself.",
            "For a package, ask the practice for a checkpoint of the same number signed by those witnesses, and give it with \
             --checkpoint; for a store, run `inkfast slip witness`.",
        ),
    }
}

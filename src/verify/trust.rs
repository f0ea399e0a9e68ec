//! What the reader brings along to compare a package with: slips, kept checkpoints, and a policy that names
//! the ledger's key and the witnesses to be asked for.

use super::finding::{Finding, FindingId, Where};
use super::package_report::{Compared, Comparison, OutsideReport, PolicyReport, PolicyWitness};
use super::pin::What;
use super::slip::Witness;
use crate::ledger::checkpoint::{Checkpoint, CheckpointError};
use crate::ledger::earlier::KnownParts;
use crate::ledger::policy::{MAX_POLICY_BYTES, Policy};
use crate::ledger::tree;
use crate::record::moment::Moment;
use crate::seal::note::{Cosigner, MAX_NOTE_BYTES, Note, NoteError, Verifier};
use crate::trouble::{Outcome, Trouble};
use std::collections::BTreeMap;
use std::io::Read;
use std::path::Path;

/// Everything the reader compares with.
#[derive(Default)]
pub struct Trust {
    slips: Vec<Witness>,
    kept: Vec<Kept>,
    policy: Option<Policy>,
}

/// A checkpoint the reader kept.
struct Kept {
    note: Note,
    size: u64,
    origin: String,
}

impl Trust {
    /// Adds a slip, typed as it is printed.
    ///
    /// # Errors
    /// When it was mistyped.
    pub fn add_slip(&mut self, typed: &str) -> Outcome<()> {
        self.slips.push(super::slip::read_typed(What::Slip, typed)?);
        Ok(())
    }

    /// Adds a receipt for one entry, typed as it is printed.
    ///
    /// # Errors
    /// When it was mistyped.
    pub fn add_receipt(&mut self, typed: &str) -> Outcome<()> {
        self.slips.push(super::slip::read_typed(What::Receipt, typed)?);
        Ok(())
    }

    /// Adds a checkpoint from a file that the reader kept: of an earlier package, or handed out.
    ///
    /// # Errors
    /// When the file can't be read or holds no checkpoint.
    pub fn add_checkpoint(&mut self, path: &Path) -> Outcome<()> {
        let bytes = read_at_most(path, MAX_NOTE_BYTES)?;
        let no_checkpoint = || {
            Trouble::input(
                format!("{} holds no checkpoint.", path.display()),
                "Name the file ledger/checkpoint of an earlier package, or one that the practice handed out.",
            )
        };
        let note = Note::parse(&bytes).map_err(|_| no_checkpoint())?;
        let text = Checkpoint::parse_text(&note.text).map_err(|_| no_checkpoint())?;
        self.kept.push(Kept { note, size: text.size, origin: text.origin });
        Ok(())
    }

    /// Takes a policy from a file (C2SP tlog-policy).
    ///
    /// # Errors
    /// When the file can't be read or is no policy.
    pub fn set_policy(&mut self, path: &Path) -> Outcome<()> {
        let bytes = read_at_most(path, MAX_POLICY_BYTES)?;
        let policy = Policy::parse(&bytes).map_err(|e| {
            Trouble::input(
                format!("{} is no policy that can be used: {e}.", path.display()),
                "Correct the file; its form is that of C2SP tlog-policy, and schema/CHECK.md has an example.",
            )
        })?;
        self.policy = Some(policy);
        Ok(())
    }

    /// Compares a package with all of it; what was found, and what it means.
    ///
    /// # Errors
    /// When a kept checkpoint is damaged in itself: then it says nothing about the package.
    pub(super) fn compare(&self, seen: &Seen<'_>) -> Outcome<(OutsideReport, Vec<Finding>)> {
        let mut report = OutsideReport::default();
        for slip in &self.slips {
            let hash = match slip.what {
                What::Slip => seen.known.root_of(slip.size),
                What::Receipt => slip.size.checked_sub(1).and_then(|index| seen.known.leaf(index)),
            };
            let agrees = |hash: [u8; 32]| tree::code(&hash).starts_with(&slip.code);
            let result = match &slip.ledger {
                Some(said) if said != seen.key.name() => Comparison::OtherLedger,
                _ => judge(hash.map(agrees)),
            };
            report.add(&slip.name, slip.size, result);
        }
        for kept in &self.kept {
            let result = kept.judge(seen)?;
            report.key_known |= !matches!(result, Comparison::OtherLedger);
            report.add(&format!("kept checkpoint {}", kept.size), kept.size, result);
        }
        report.policy = self.policy.as_ref().map(|policy| self.judge_policy(policy, seen));
        if let Some(policy) = &report.policy {
            report.key_known |= policy.names_this_ledger;
            if policy.met && !policy.asks_for_none {
                report.reached = report.reached.max(Some(seen.checkpoint.size));
            }
        }
        let findings = report.findings();
        Ok((report, findings))
    }

    /// Whether the policy names this ledger, and which of its witnesses signed the package's checkpoint, or a copy
    /// of it that the reader kept.
    fn judge_policy(&self, policy: &Policy, seen: &Seen<'_>) -> PolicyReport {
        let names_this_ledger = policy.verifiers().contains(seen.key);
        let text = seen.checkpoint.to_text();
        let same = self.kept.iter().map(|k| &k.note).filter(|n| n.text == text);
        let notes: Vec<&Note> = std::iter::once(seen.note).chain(same).collect();
        let witnesses: Vec<PolicyWitness> = policy
            .witnesses()
            .iter()
            .map(|witness| {
                let cosigner = Cosigner::try_from(&witness.key);
                let looked: Vec<Result<Option<u64>, NoteError>> =
                    cosigner.iter().flat_map(|c| notes.iter().map(|n| c.check(n))).collect();
                let wrong = looked.iter().any(Result::is_err);
                let time = looked.into_iter().flatten().flatten().max();
                PolicyWitness {
                    name: witness.name.clone(),
                    // A wrong line beside a right one: the note was bent, so neither is relied on.
                    saw: time.filter(|_| !wrong).map(in_words),
                    wrong,
                    unknown_kind: cosigner.is_err(),
                }
            })
            .collect();
        let saw: BTreeMap<&str, bool> =
            witnesses.iter().map(|w| (w.name.as_str(), w.saw.is_some())).collect();
        let met = names_this_ledger && policy.is_met(|name| saw.get(name) == Some(&true));
        PolicyReport { names_this_ledger, met, asks_for_none: policy.quorum().is_none(), witnesses }
    }
}

/// What of a package is compared.
pub(super) struct Seen<'a> {
    /// The checkpoint key that came with it.
    pub key: &'a Verifier,
    /// Its checkpoint, whose signature was checked.
    pub checkpoint: &'a Checkpoint,
    /// The note that the checkpoint stands in.
    pub note: &'a Note,
    /// What its proofs, all of them checked, say of the tree.
    pub known: &'a KnownParts,
}

fn judge(agrees: Option<bool>) -> Comparison {
    match agrees {
        Some(true) => Comparison::Agrees,
        Some(false) => Comparison::Disagrees,
        None => Comparison::NotComparable,
    }
}

impl Kept {
    fn judge(&self, seen: &Seen<'_>) -> Outcome<Comparison> {
        if self.origin != seen.key.name() {
            return Ok(Comparison::OtherLedger);
        }
        match Checkpoint::from_note(&self.note, seen.key) {
            Err(CheckpointError::Note(NoteError::NoKnownKey)) => Ok(Comparison::OtherLedger),
            Err(error) => Err(Trouble::input(
                format!("The kept checkpoint of number {} is damaged: {error}.", self.size),
                "Leave it out, or find another copy of it.",
            )),
            Ok(kept) => Ok(judge(seen.known.root_of(kept.size).map(|root| root == kept.root))),
        }
    }
}

impl OutsideReport {
    fn add(&mut self, what: &str, number: u64, result: Comparison) {
        if result == Comparison::Agrees {
            self.reached = self.reached.max(Some(number));
        }
        self.compared.push(Compared { what: what.to_string(), number, result });
    }

    fn findings(&self) -> Vec<Finding> {
        let mut findings = Vec::new();
        for compared in &self.compared {
            let id = match compared.result {
                Comparison::Agrees => continue,
                Comparison::Disagrees => FindingId::RewrittenOutside,
                Comparison::NotComparable => FindingId::OutsideNotComparable,
                Comparison::OtherLedger => FindingId::OutsideOther,
            };
            findings.push(Finding::new(id, Where { seq: Some(compared.number), ..Where::default() }));
        }
        if let Some(policy) = &self.policy {
            if !policy.names_this_ledger {
                findings.push(Finding::new(FindingId::OutsideOther, Where::default()));
            } else if !policy.met {
                findings.push(Finding::new(FindingId::PolicyNotMet, Where::default()));
            }
        }
        findings
    }
}

/// POSIX seconds in words, in universal time: the witness has a time zone of its own.
pub fn in_words(seconds: u64) -> String {
    let moment = i64::try_from(seconds).ok().and_then(|s| Moment::from_unix(s, 0));
    moment.map_or_else(|| format!("second {seconds} since 1970"), |m| format!("{} UTC", m.plain()))
}

/// A small file, whole.
fn read_at_most(path: &Path, most: usize) -> Outcome<Vec<u8>> {
    let trouble = |e: std::io::Error| {
        Trouble::input(
            format!("Could not read {}: {e}.", path.display()),
            "Check the path, then do it again.",
        )
    };
    let mut bytes = Vec::new();
    let file = std::fs::File::open(path).map_err(trouble)?;
    file.take(most as u64 + 1).read_to_end(&mut bytes).map_err(trouble)?;
    Ok(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Cut off where reading ends, a policy or a checkpoint could say something else than the whole.
    #[test]
    fn a_file_longer_than_it_may_be_is_not_read_as_its_beginning() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("policy");
        let taken = |bytes: usize| {
            let mut text = b"quorum none\n".to_vec();
            text.resize(bytes, b'\n');
            std::fs::write(&path, text).unwrap();
            Trust::default().set_policy(&path).is_ok()
        };
        assert!(taken(MAX_POLICY_BYTES));
        assert!(!taken(MAX_POLICY_BYTES + 1));
    }

    #[test]
    fn what_disagrees_is_named_with_the_number_it_is_of() {
        let mut report = OutsideReport::default();
        report.add("one", 7, Comparison::Disagrees);
        report.add("two", 8, Comparison::Agrees);
        let found: Vec<_> = report.findings().into_iter().map(|f| (f.id, f.place)).collect();
        assert_eq!(found, [(FindingId::RewrittenOutside, Where { seq: Some(7), ..Where::default() })]);
        assert_eq!(report.reached, Some(8));
    }
}

//! Whose signature counts on which day: the public keys that entries of kind `keys` list.

use super::note::{Claim, Note, OwnedClaim, Verifier, distinct_lines};
use crate::record::kinds::register::{KeyRole, Keys};
use crate::record::moment::Date;
use crate::seal::age_file::Recipient;
use std::collections::BTreeSet;

/// One person's key and the days on which its signatures count.
#[derive(Debug, Clone)]
pub struct StaffKeyLine {
    /// Staff code.
    pub code: String,
    /// What the person may open.
    pub roles: Vec<KeyRole>,
    /// Opens what is sealed to the person.
    pub recipient: String,
    /// Checks what the person signed.
    pub verifier: Verifier,
    /// First day.
    pub from: Date,
    /// Last day; none while it is open.
    pub until: Option<Date>,
}

/// All keys listed so far, in the order of the ledger.
#[derive(Debug, Clone, Default)]
pub struct KeyBook {
    staff: Vec<StaffKeyLine>,
    roles: Vec<(KeyRole, String)>,
}

/// Why a signature on an entry does not count.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum SignerProblem {
    /// No listed key of the author made a signature on it.
    NotListed,
    /// A listed key's signature is wrong.
    BadSignature,
    /// The key was not in force on the day the entry was written.
    NotThatDay,
    /// The entry changes keys, and its author may not.
    NotCustodian,
}

/// What is left to be worked out about the signatures on a leaf.
#[derive(Debug, Clone)]
pub struct Owed {
    /// The signatures to be checked.
    pub claims: Vec<OwnedClaim>,
    /// The verdict if all of them are right.
    pub then: Result<(), SignerProblem>,
}

impl Owed {
    /// Checks every signature, and gives the verdict.
    ///
    /// # Errors
    /// The first reason for which the signatures do not count.
    pub fn verdict(&self) -> Result<(), SignerProblem> {
        match self.claims.iter().all(|claim| claim.check().is_ok()) {
            true => self.then,
            false => Err(SignerProblem::BadSignature),
        }
    }
}

impl KeyBook {
    /// Takes over what a `keys` entry lists. A vkey listed before is replaced.
    /// None when the data do not hold usable keys.
    pub fn take(&mut self, keys: &Keys) -> Option<()> {
        for line in &keys.staff {
            let verifier = Verifier::parse(&line.vkey).ok()?;
            if verifier.name() != line.code {
                return None;
            }
            self.staff.retain(|l| l.verifier.key() != verifier.key() || l.code != line.code);
            self.staff.push(StaffKeyLine {
                code: line.code.clone(),
                roles: line.roles.clone(),
                recipient: line.recipient.clone(),
                verifier,
                from: line.from.0,
                until: line.until.map(|d| d.0),
            });
        }
        for line in &keys.roles {
            Recipient::parse(&line.recipient)?;
            self.roles.retain(|(role, _)| *role != line.role);
            self.roles.push((line.role, line.recipient.clone()));
        }
        Some(())
    }

    /// Takes over what entry `seq` lists if whoever listed it might: otherwise anybody who can add an entry could have
    /// what comes after sealed to a key of their own. The first entry lists the key that signs it. None when the data
    /// do not hold usable keys.
    pub fn take_signed(&mut self, seq: u64, note: &Note, author: &str, day: Date, keys: &Keys) -> Option<()> {
        if seq == 1 {
            self.take(keys)?;
        }
        match self.check(note, author, day, true) {
            Ok(()) => self.take(keys),
            Err(_) => Some(()),
        }
    }

    /// Codes of the listed people whose signatures on a leaf hold.
    pub fn hands(&self, note: &Note) -> BTreeSet<String> {
        let verifiers: Vec<&Verifier> = self.staff.iter().map(|line| &line.verifier).collect();
        let lines = note.verify(&verifiers).unwrap_or_default();
        lines.into_iter().map(|line| note.signatures[line].name.clone()).collect()
    }

    /// The lines of all staff keys.
    pub fn staff(&self) -> &[StaffKeyLine] {
        &self.staff
    }

    /// The newest key of a staff code.
    pub fn newest(&self, code: &str) -> Option<&StaffKeyLine> {
        self.staff.iter().rev().find(|l| l.code == code)
    }

    /// The recipient of a role.
    pub fn role(&self, role: KeyRole) -> Option<Recipient> {
        self.roles.iter().find(|(r, _)| *r == role).and_then(|(_, text)| Recipient::parse(text))
    }

    /// Checks the author's signature on a leaf, and any second signer's.
    ///
    /// # Errors
    /// The first reason for which the signatures do not count.
    pub fn check(
        &self,
        note: &Note,
        author: &str,
        day: Date,
        changes_keys: bool,
    ) -> Result<(), SignerProblem> {
        self.owed(note, author, day, changes_keys)?.verdict()
    }

    /// What a check of the signatures on a leaf comes down to: claims to be worked out, and the verdict if
    /// they are right.
    ///
    /// # Errors
    /// The reason for which the signatures do not count whatever the arithmetic says.
    pub fn owed(
        &self,
        note: &Note,
        author: &str,
        day: Date,
        changes_keys: bool,
    ) -> Result<Owed, SignerProblem> {
        let verifiers: Vec<&Verifier> = self.staff.iter().map(|l| &l.verifier).collect();
        let claims = note.claims(&verifiers).map_err(|_| {
            let known = note
                .signatures
                .iter()
                .any(|s| verifiers.iter().any(|v| v.name() == s.name && v.key_id() == s.key_id));
            if known { SignerProblem::BadSignature } else { SignerProblem::NotListed }
        })?;
        let then = self.judge(note, &distinct_lines(&claims), author, day, changes_keys);
        Ok(Owed { claims: claims.iter().map(Claim::to_owned).collect(), then })
    }

    /// The verdict on a leaf whose signatures on these lines are right.
    fn judge(
        &self,
        note: &Note,
        lines: &[usize],
        author: &str,
        day: Date,
        changes_keys: bool,
    ) -> Result<(), SignerProblem> {
        let mut by_author = None;
        for line in lines {
            let signature = &note.signatures[*line];
            let Some(key) = self
                .staff
                .iter()
                .find(|l| l.verifier.name() == signature.name && l.verifier.key_id() == signature.key_id)
            else {
                continue;
            };
            if day < key.from || key.until.is_some_and(|last| day > last) {
                return Err(SignerProblem::NotThatDay);
            }
            if *line == 0 && key.code == author {
                by_author = Some(key);
            }
        }
        let key = by_author.ok_or(SignerProblem::NotListed)?;
        if changes_keys && !key.roles.contains(&KeyRole::Custodian) {
            return Err(SignerProblem::NotCustodian);
        }
        Ok(())
    }
}

//! The sections `accounting` and `authorization` of `trade.toml`: what an accounting of disclosures tells,
//! and what an authorization must hold.

use super::Tables;
use super::source::Confidence;
use serde::{Deserialize, Serialize};
use serde_json::Value;

/// The section `accounting`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AccountingTable {
    /// Kinds of disclosure an accounting leaves out.
    pub not_counted: Vec<String>,
    /// Kinds it tells, several to one recipient for one purpose in one line.
    pub counted_may_be_grouped: Vec<String>,
    /// Kinds it tells one by one.
    pub counted_never_grouped: Vec<String>,
    /// What a line must hold.
    pub line_fields: Vec<String>,
    /// Remarks on a line.
    pub line_notes: String,
    /// What may be grouped, in words.
    pub grouping: String,
    /// When an accounting is free, in words.
    pub free: String,
    /// One accounting is free in so many months.
    pub free_every_months: u32,
    /// When an agency's disclosures are left out, in words.
    pub suspension: String,
    /// Days an oral statement of an agency reaches at most.
    pub oral_suspension_days: u32,
    /// The publication.
    pub citation: String,
    /// How well it is known.
    pub confidence: Confidence,
}

/// How an accounting treats a kind of disclosure.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum KindClass {
    /// It is left out.
    NotCounted,
    /// It is told, and may share a line.
    MayBeGrouped,
    /// It is told in a line of its own.
    NeverGrouped,
}

/// The section `authorization`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AuthorizationTable {
    /// Elements it must hold.
    pub core: Vec<String>,
    /// Statements it must make.
    pub statements: Vec<String>,
    /// The purpose that is enough where the person asked for it, and only then.
    pub purpose_when_person_asked: String,
    /// What makes it unusable.
    pub defects: Vec<String>,
    /// The publication.
    pub citation: String,
    /// How well it is known.
    pub confidence: Confidence,
}

impl AccountingTable {
    /// Reads the section.
    ///
    /// # Errors
    /// What is wrong with it.
    pub fn read(section: &Value) -> Result<AccountingTable, String> {
        AccountingTable::deserialize(section).map_err(|e| format!("accounting: {e}"))
    }

    /// The section of these tables.
    ///
    /// # Errors
    /// What is wrong with it.
    pub fn of(tables: &Tables) -> Result<AccountingTable, String> {
        AccountingTable::read(&tables.trade.accounting)
    }

    /// How this kind of disclosure is treated. None where the word is not known.
    pub fn class(&self, kind: &str) -> Option<KindClass> {
        let among = |words: &[String]| words.iter().any(|word| word == kind);
        if among(&self.not_counted) {
            Some(KindClass::NotCounted)
        } else if among(&self.counted_may_be_grouped) {
            Some(KindClass::MayBeGrouped)
        } else {
            among(&self.counted_never_grouped).then_some(KindClass::NeverGrouped)
        }
    }
}

impl AuthorizationTable {
    /// Reads the section.
    ///
    /// # Errors
    /// What is wrong with it.
    pub fn read(section: &Value) -> Result<AuthorizationTable, String> {
        AuthorizationTable::deserialize(section).map_err(|e| format!("authorization: {e}"))
    }

    /// The section of these tables.
    ///
    /// # Errors
    /// What is wrong with it.
    pub fn of(tables: &Tables) -> Result<AuthorizationTable, String> {
        AuthorizationTable::read(&tables.trade.authorization)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_shipped_sections_read_and_a_bent_one_does_not() {
        let shipped = Tables::shipped_document().unwrap()["trade"].clone();
        let accounting = AccountingTable::read(&shipped["accounting"]).unwrap();
        assert_eq!(serde_json::to_value(&accounting).unwrap(), shipped["accounting"]);
        assert_eq!(accounting.class("payment"), Some(KindClass::NotCounted));
        assert_eq!(accounting.class("public_health"), Some(KindClass::MayBeGrouped));
        assert_eq!(accounting.class("sent_in_error"), Some(KindClass::NeverGrouped));
        assert_eq!(accounting.class("gossip"), None);
        let form = AuthorizationTable::read(&shipped["authorization"]).unwrap();
        assert_eq!((form.core.len(), form.statements.len()), (6, 3));
        let mut bent = shipped["accounting"].clone();
        bent["free_every_month"] = 12.into();
        assert!(AccountingTable::read(&bent).unwrap_err().contains("free_every_month"));
    }
}

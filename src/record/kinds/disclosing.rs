//! The accounting of disclosures (45 CFR 164.528): that one was given, and that an agency had its own left out.

use super::common::Day;
use super::release::Fee;
use crate::record::vocab::words;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// An accounting of disclosures was given. What it said is kept with it (45 CFR 164.528(d)(2)), and from it the
/// next one knows whether it is the first in twelve months (164.528(c)(2)).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct AccountingGiven {
    /// Number of the request it answers.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub request: Option<u64>,
    /// Day it was asked for.
    pub asked_on: Day,
    /// First day it covers.
    pub from: Day,
    /// Last day it covers.
    pub until: Day,
    /// To whom it was given.
    pub given_to: String,
    /// What it told, line by line.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub lines: Vec<AccountingLine>,
    /// Numbers of the other charts of the same person that it covers.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub other_charts: Vec<String>,
    /// True when no fee may be asked for it.
    pub free: bool,
    /// Fee.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fee: Option<Fee>,
    /// Day the person was told of the fee, and could withdraw or change the request.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fee_told_on: Option<Day>,
    /// BLAKE3 of the page as it was made, hex.
    pub digest: String,
}

/// One line of an accounting as it was given.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct AccountingLine {
    /// Day of the first disclosure.
    pub first: Day,
    /// How many.
    pub count: u32,
    /// Day of the last one.
    pub last: Day,
    /// To whom.
    pub to: String,
    /// Numbers of the entries.
    pub entries: Vec<u64>,
}

/// A health oversight agency or a law officer asked that disclosures to them be left out of an accounting for a
/// time (45 CFR 164.528(a)(2)).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct AccountingSuspended {
    /// Numbers of the disclosures to be left out.
    pub disclosures: Vec<u64>,
    /// The agency, and the official who asked.
    pub agency: String,
    /// How it was asked.
    pub how: StatementHow,
    /// Date of the statement.
    pub stated_on: Day,
    /// Last day it names.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub until: Option<Day>,
    /// Date of a written statement that followed an oral one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub written_on: Option<Day>,
    /// What was said: that an accounting would be likely to impede the agency's work, and how.
    pub words: String,
    /// Number of the attachment with the statement.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub letter: Option<u64>,
}

words! {
    /// How an agency's statement was made.
    StatementHow {
        Oral = "oral", Written = "written",
    }
}

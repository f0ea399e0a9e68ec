//! What the check of a package has to say, statement by statement, as data.

use schemars::JsonSchema;
use serde::Serialize;

/// The part of a report that only a package has.
#[derive(Debug, Clone, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct PackageReport {
    /// The file as it arrived; absent for an unpacked folder.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub file: Option<FileReport>,
    /// Tag of the chart.
    pub chart: String,
    /// Number of the release entry in the ledger.
    pub release: u64,
    /// When the package says it was made.
    pub made: String,
    /// Staff code of who it says released it.
    pub made_by: String,
    /// The checkpoint key that came with the package, as a C2SP vkey.
    pub checkpoint_key: String,
    /// What was looked into, one statement each.
    pub statements: Vec<Statement>,
    /// Whose signatures stand under the chart's entries.
    pub signers: Vec<SignerReport>,
    /// Entries whose contents are withheld.
    pub withheld: Vec<WithheldReport>,
    /// What was compared with the outside.
    pub outside: OutsideReport,
}

/// A file, and how to recognise it again.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct FileReport {
    /// Length in bytes.
    pub bytes: u64,
    /// BLAKE3, hex.
    pub blake3: String,
    /// SHA-256, hex.
    pub sha256: String,
}

/// What a statement is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum StatementId {
    /// The list of the package is signed, and every part is as listed.
    ListSigned,
    /// The records given are the ones that were sealed.
    Unchanged,
    /// The entries are signed by listed keys, each on a day on which it counted.
    Signatures,
    /// Attachments are the ones their records name.
    Attachments,
    /// The entries are in the ledger, at their places.
    InLedger,
    /// The chart is whole up to the release entry.
    ChartComplete,
}

/// One statement, and whether it holds.
#[derive(Debug, Clone, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Statement {
    /// What it is about.
    pub id: StatementId,
    /// True when it was shown.
    pub holds: bool,
    /// In words.
    pub words: String,
}

/// A signer of entries.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct SignerReport {
    /// Staff code.
    pub code: String,
    /// How many entries of the chart.
    pub entries: u64,
}

/// An entry whose contents are withheld.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct WithheldReport {
    /// Number in the chart.
    pub number: u64,
    /// Number in the ledger.
    pub seq: u64,
    /// Kind of record.
    pub kind: String,
    /// Why, as the practice says.
    pub reason: String,
}

/// What was compared with the outside.
#[derive(Debug, Clone, Default, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct OutsideReport {
    /// The last number up to which something outside vouches for the entries; null when nothing does.
    pub reached: Option<u64>,
    /// Each slip and kept checkpoint, and how it compares.
    pub compared: Vec<Compared>,
    /// The reader's policy, where one was given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub policy: Option<PolicyReport>,
    /// True when the checkpoint key is known from elsewhere than the package: the reader's policy, or a checkpoint
    /// the reader had kept.
    pub key_known: bool,
}

impl OutsideReport {
    /// What agrees, in words.
    pub fn agreed(&self) -> Vec<String> {
        let compared = self.compared.iter().filter(|c| c.result == Comparison::Agrees);
        let mut agreed: Vec<String> = compared.map(|c| format!("{}, entry {}", c.what, c.number)).collect();
        if let Some(policy) = self.policy.as_ref().filter(|p| p.met) {
            let signed = policy.witnesses.iter().filter_map(|w| Some((w, w.saw.as_ref()?)));
            agreed.extend(signed.map(|(w, at)| format!("witness {}, who saw it on {at}", w.name)));
        }
        agreed
    }
}

/// How something compares.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Comparison {
    /// It agrees.
    Agrees,
    /// It says otherwise.
    Disagrees,
    /// It is of a number that this package can't be compared at.
    NotComparable,
    /// It is of another ledger, or by another key.
    OtherLedger,
}

/// A slip or kept checkpoint.
#[derive(Debug, Clone, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Compared {
    /// What it is.
    pub what: String,
    /// The number it is of.
    pub number: u64,
    /// How it compares.
    pub result: Comparison,
}

/// What became of the reader's policy.
#[derive(Debug, Clone, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct PolicyReport {
    /// True when the policy names the ledger and key of this package.
    pub names_this_ledger: bool,
    /// True when the witnesses that it asks for have signed this state of the ledger.
    pub met: bool,
    /// True when it asks for no witness.
    pub asks_for_none: bool,
    /// Its witnesses, in its order.
    pub witnesses: Vec<PolicyWitness>,
}

/// One witness of a policy.
#[derive(Debug, Clone, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct PolicyWitness {
    /// Its name in the policy.
    pub name: String,
    /// When it says it saw this state of the ledger; null when it did not sign it.
    pub saw: Option<String>,
    /// True when a line by its key is there and is wrong.
    pub wrong: bool,
    /// True when its key is of a kind that this program can't check.
    pub unknown_kind: bool,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_agrees_and_who_saw_it_vouches() {
        let compared = |what: &str, number, result| Compared { what: what.to_string(), number, result };
        let witness = |name: &str, saw: Option<&str>| PolicyWitness {
            name: name.to_string(),
            saw: saw.map(str::to_string),
            wrong: false,
            unknown_kind: false,
        };
        let mut report = OutsideReport {
            compared: vec![
                compared("slip 7", 7, Comparison::Agrees),
                compared("slip 8", 8, Comparison::Disagrees),
                compared("slip 9", 9, Comparison::NotComparable),
                compared("slip 10", 10, Comparison::OtherLedger),
            ],
            ..OutsideReport::default()
        };
        assert_eq!(report.agreed(), ["slip 7, entry 7"]);
        let policy = |met| PolicyReport {
            names_this_ledger: true,
            met,
            asks_for_none: false,
            witnesses: vec![witness("one", Some("Monday")), witness("two", None)],
        };
        report.policy = Some(policy(true));
        assert_eq!(report.agreed(), ["slip 7, entry 7", "witness one, who saw it on Monday"]);
        report.policy = Some(policy(false));
        assert_eq!(report.agreed(), ["slip 7, entry 7"]);
    }
}

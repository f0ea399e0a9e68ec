//! The sections `fees` and `deidentification` of `trade.toml`: what a copy may cost, and what may stay in
//! data that no longer identify anybody.

use super::Tables;
use super::source::Confidence;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use std::collections::BTreeMap;

/// The section `fees`. All amounts are whole cents.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FeeTables {
    /// The federal limit.
    pub federal: FederalFees,
    /// Ceilings of states, by name.
    #[serde(flatten)]
    pub places: BTreeMap<String, StateFees>,
}

/// The federal limit on a fee for a copy.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FederalFees {
    /// Ways of working it out.
    pub methods: Vec<String>,
    /// Most that a flat fee may be, in cents.
    pub flat_limit_cents: u64,
    /// Parts of cost that may be asked for.
    pub parts_allowed: Vec<String>,
    /// The publication.
    pub citation: String,
    /// How well it is known.
    pub confidence: Confidence,
    /// Remarks.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub notes: Option<String>,
}

/// A state's ceiling, in cents: one price for the whole, one for each page, or one for the first page and
/// another for every further one.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StateFees {
    /// A digital copy, whole.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub digital_cents: Option<u64>,
    /// Each page of paper.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub paper_page_cents: Option<u64>,
    /// First page of paper.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub paper_first_page_cents: Option<u64>,
    /// Every further page of paper.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub paper_more_page_cents: Option<u64>,
    /// Each page of film.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub film_page_cents: Option<u64>,
    /// First page of film.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub film_first_page_cents: Option<u64>,
    /// Every further page of film.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub film_more_page_cents: Option<u64>,
    /// The publication.
    pub citation: String,
    /// How well it is known.
    pub confidence: Confidence,
    /// Remarks.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub notes: Option<String>,
}

/// What a copy is made on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum CopyFormat {
    /// A file.
    Digital,
    /// Paper.
    Paper,
    /// Film.
    Film,
}

/// The section `deidentification`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DeidentificationTable {
    /// First three digits of postal codes that become 000.
    pub zip3_to_000: Vec<String>,
    /// Where that list is from.
    pub zip3_basis: String,
    /// The three digits stay where more people than this live.
    pub zip3_keep_when_population_over: u64,
    /// Ages from this one on are one class, in years.
    pub age_top: u32,
    /// The publication.
    pub citation: String,
    /// How well it is known.
    pub confidence: Confidence,
}

impl FeeTables {
    /// Reads the section.
    ///
    /// # Errors
    /// What is wrong with it.
    pub fn read(section: &Value) -> Result<FeeTables, String> {
        FeeTables::deserialize(section).map_err(|e| format!("fees: {e}"))
    }

    /// The section of these tables.
    ///
    /// # Errors
    /// What is wrong with it.
    pub fn of(tables: &Tables) -> Result<FeeTables, String> {
        FeeTables::read(&tables.trade.fees)
    }
}

impl StateFees {
    /// The most that may be asked for so many pages, in cents. None where the table has no price for it.
    pub fn ceiling(&self, format: CopyFormat, pages: u64) -> Option<u64> {
        let by_page = |each: Option<u64>, first: Option<u64>, more: Option<u64>| match (each, first, more) {
            (Some(each), _, _) => Some(each.saturating_mul(pages)),
            (None, Some(_), Some(_)) if pages == 0 => Some(0),
            (None, Some(first), Some(more)) => Some(more.saturating_mul(pages - 1).saturating_add(first)),
            _ => None,
        };
        match format {
            CopyFormat::Digital => self.digital_cents,
            CopyFormat::Paper => {
                by_page(self.paper_page_cents, self.paper_first_page_cents, self.paper_more_page_cents)
            }
            CopyFormat::Film => {
                by_page(self.film_page_cents, self.film_first_page_cents, self.film_more_page_cents)
            }
        }
    }
}

impl DeidentificationTable {
    /// Reads the section.
    ///
    /// # Errors
    /// What is wrong with it.
    pub fn read(section: &Value) -> Result<DeidentificationTable, String> {
        DeidentificationTable::deserialize(section).map_err(|e| format!("deidentification: {e}"))
    }

    /// The section of these tables.
    ///
    /// # Errors
    /// What is wrong with it.
    pub fn of(tables: &Tables) -> Result<DeidentificationTable, String> {
        DeidentificationTable::read(&tables.trade.deidentification)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_shipped_sections_read_and_a_bent_one_does_not() {
        let shipped = Tables::shipped_document().unwrap()["trade"].clone();
        let fees = FeeTables::read(&shipped["fees"]).unwrap();
        assert_eq!(serde_json::to_value(&fees).unwrap(), shipped["fees"]);
        let table = DeidentificationTable::read(&shipped["deidentification"]).unwrap();
        assert_eq!(table.zip3_to_000.len(), 17);
        let mut bent = shipped["fees"].clone();
        bent["us-tx-76-3"]["digital_cent"] = 5000.into();
        assert!(FeeTables::read(&bent).unwrap_err().contains("digital_cent"));
    }

    // 22 Tex. Admin. Code 76.3(a)-(c); Cal. Health & Safety Code 123110(b).
    #[test]
    fn ceilings() {
        let fees = FeeTables::of(Tables::shipped().unwrap()).unwrap();
        let (texas, california) = (&fees.places["us-tx-76-3"], &fees.places["us-ca-123110"]);
        assert_eq!(texas.ceiling(CopyFormat::Digital, 300), Some(5000));
        assert_eq!(texas.ceiling(CopyFormat::Paper, 0), Some(0));
        assert_eq!(texas.ceiling(CopyFormat::Paper, 1), Some(2500));
        assert_eq!(texas.ceiling(CopyFormat::Paper, 41), Some(3500));
        assert_eq!(texas.ceiling(CopyFormat::Film, 3), Some(5200));
        assert_eq!(california.ceiling(CopyFormat::Paper, 40), Some(1000));
        assert_eq!(california.ceiling(CopyFormat::Film, 2), Some(100));
        assert_eq!(california.ceiling(CopyFormat::Digital, 1), None);
    }
}

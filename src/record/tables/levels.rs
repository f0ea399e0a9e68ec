//! The levels of the spine and the regions used for counting, typed from `trade.toml`.

use super::Tables;
use super::trade::TradeTables;
use serde::Deserialize;
use serde::de::DeserializeOwned;
use std::collections::BTreeMap;
use std::sync::OnceLock;

/// The section `levels`: which vertebrae there are, and by which other names they go.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
pub struct Levels {
    /// The neck, head to foot.
    pub cervical: Vec<String>,
    /// The upper and middle back, head to foot.
    pub thoracic: Vec<String>,
    /// The low back, head to foot, without a sixth.
    pub lumbar: Vec<String>,
    /// The part of the sacrum that takes part in a joint above it.
    pub sacral: Vec<String>,
    /// The skull, as the uppermost level.
    pub occiput: String,
    /// How many joints two neighbors make. For checking.
    pub joints: usize,
    /// How many of these have a disc. For checking.
    pub discs: usize,
    /// Other names of a level, or of a region's letter. A remark may follow in round brackets.
    pub other_names: BTreeMap<String, Vec<String>>,
}

/// The section `regions`: what a treated structure counts to.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
pub struct Regions {
    /// Regions of the spine, in the order they are answered.
    pub spinal: Vec<String>,
    /// The other regions, in the order they are answered.
    pub extraspinal: Vec<String>,
    /// Names for numbers of spinal regions.
    pub bands: Vec<Band>,
    /// Which structure counts where.
    pub structure: Vec<StructureRow>,
}

/// A name for a number of spinal regions.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
pub struct Band {
    /// The least.
    pub from: usize,
    /// The most.
    pub to: usize,
    /// The name.
    pub band: String,
}

/// Structures that count alike.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
pub struct StructureRow {
    /// The structures, as [`crate::record::notation::counting`] reads them.
    pub pattern: String,
    /// A region, or `ask`.
    pub counts_to: String,
}

impl Levels {
    /// The levels of these tables.
    ///
    /// # Errors
    /// What is wrong with the section.
    pub fn of(trade: &TradeTables) -> Result<Levels, String> {
        section(&trade.levels, "levels")
    }

    /// The levels as they are shipped.
    ///
    /// # Errors
    /// Only if the shipped text is damaged, which a test rules out.
    pub fn shipped() -> Result<&'static Levels, String> {
        static SHIPPED: OnceLock<Result<Levels, String>> = OnceLock::new();
        SHIPPED.get_or_init(|| Levels::of(&Tables::shipped()?.trade)).as_ref().map_err(String::clone)
    }
}

impl Regions {
    /// The regions of these tables.
    ///
    /// # Errors
    /// What is wrong with the section.
    pub fn of(trade: &TradeTables) -> Result<Regions, String> {
        section(&trade.regions, "regions")
    }
}

fn section<T: DeserializeOwned>(section: &serde_json::Value, name: &str) -> Result<T, String> {
    serde_json::from_value(section.clone()).map_err(|e| format!("trade, section {name}: {e}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// CMS Pub. 100-02 ch. 15, 240.1.4: 7 neck, 12 thoracic and 5 lumbar vertebrae.
    #[test]
    fn the_shipped_sections_read() {
        let levels = Levels::shipped().unwrap();
        let counts = (levels.cervical.len(), levels.thoracic.len(), levels.lumbar.len());
        assert_eq!(counts, (7, 12, 5));
        let regions = Regions::of(&Tables::shipped().unwrap().trade).unwrap();
        assert_eq!((regions.spinal.len(), regions.extraspinal.len()), (5, 5));
    }
}

//! From a chart to the printed record: what `render/` needs, gathered.

use super::chart::ChartFace;
use super::open::{Entry, Practice};
use crate::ledger::checkpoint::Checkpoint;
use crate::record::kinds::release::Release;
use crate::trouble::Outcome;

/// x
pub fn record_page(
    _practice: &Practice,
    _face: &ChartFace,
    _entries: &[Entry],
    _withheld: &[(u64, String)],
    _checkpoint: &Checkpoint,
    _last: &Entry,
    _release: &Release,
) -> Outcome<String> {
    Ok(String::new())
}

//! A check that goes on from a checkpoint kept outside: what it needs to know of the entries before.

use super::open::mark;
use super::place::Place;
use crate::index::earlier::begin_at;
use crate::index::layer::StrandKey;
use crate::ledger::checkpoint::Checkpoint;
use crate::ledger::write::read_entry;
use crate::trouble::Outcome;
use crate::verify::store::Resume;
use crate::world::World;

/// What is known up to a kept checkpoint, from the signed bookmark; none where that does not lead there.
///
/// # Errors
/// When the ledger can't be read.
pub fn resume(world: &World, place: &Place, kept: &Checkpoint) -> Outcome<Option<Resume>> {
    let Some((mark, _)) = mark(world, place) else { return Ok(None) };
    let Some(begin) = begin_at(&mark, kept)? else { return Ok(None) };
    let (from, dir) = (begin.frontier.size(), place.root.join("ledger"));
    let mut keys = Vec::new();
    for at in mark.strand(&StrandKey::outside("keys"))?.into_iter().filter(|at| at.seq <= from) {
        let (leaf, body) = read_entry(world, &dir, &at)?;
        if crate::ledger::tree::leaf_hash(&leaf) != at.tree_hash {
            return Ok(None);
        }
        keys.push((at, leaf, body));
    }
    Ok(Some(Resume { begin, keys }))
}

//! The signatures of a whole ledger. What they are checked with is settled while the ledger is read, entry by
//! entry; only the arithmetic waits, to be done for many at a time.

use super::finding::{Finding, Where};
use crate::seal::keybook::Owed;
use crate::seal::note::all_right;
use crate::seal::together::Together;

/// Entries whose signatures are still to be checked, with the place of each.
pub(super) type Signatures = Together<(Owed, Where), Finding>;

/// Nothing to be checked yet.
pub(super) fn signatures() -> Signatures {
    Together::new(check)
}

/// Checks entries together; if anything is wrong with them, each by itself.
fn check(together: &[(Owed, Where)]) -> Vec<Finding> {
    let all: Vec<_> = together.iter().flat_map(|(owed, _)| &owed.claims).collect();
    let right = all_right(&all);
    let named = |(owed, place): &(Owed, Where)| {
        let verdict = if right { owed.then } else { owed.verdict() };
        verdict.err().map(|problem| Finding::new(problem.into(), place.clone()))
    };
    together.iter().filter_map(named).collect()
}

//! The signatures of a whole ledger, checked many at a time on every core. What they are checked with is
//! settled while the ledger is read, entry by entry; only the arithmetic waits.

use super::finding::{Finding, Where};
use crate::seal::keybook::Owed;
use crate::seal::note::all_right;
use std::collections::VecDeque;
use std::thread::JoinHandle;

/// How many entries are checked together. More gains little and waits longer.
const TOGETHER: usize = 1024;

/// Entries whose signatures are still to be checked.
pub(super) struct Signatures {
    waiting: Vec<(Owed, Where)>,
    checking: VecDeque<JoinHandle<Vec<Finding>>>,
    found: Vec<Finding>,
    cores: usize,
}

impl Default for Signatures {
    fn default() -> Signatures {
        let cores = std::thread::available_parallelism().map_or(1, usize::from);
        Signatures { waiting: Vec::new(), checking: VecDeque::new(), found: Vec::new(), cores }
    }
}

impl Signatures {
    /// Takes an entry in; it is checked with others, before [`Signatures::end`] returns.
    pub(super) fn add(&mut self, owed: Owed, place: Where) {
        self.waiting.push((owed, place));
        if self.waiting.len() >= TOGETHER {
            let together = std::mem::take(&mut self.waiting);
            if self.checking.len() >= self.cores {
                self.take_oldest();
            }
            self.checking.push_back(std::thread::spawn(move || check(&together)));
        }
    }

    /// Everything that was found.
    pub(super) fn end(mut self) -> Vec<Finding> {
        let last = std::mem::take(&mut self.waiting);
        let last = check(&last);
        while !self.checking.is_empty() {
            self.take_oldest();
        }
        self.found.extend(last);
        self.found
    }

    fn take_oldest(&mut self) {
        if let Some(oldest) = self.checking.pop_front() {
            self.found.extend(oldest.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic)));
        }
    }
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

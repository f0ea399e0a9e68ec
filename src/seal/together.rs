//! Work on signatures that is done many at a time on every core, while what needs it is still being read.

use std::collections::VecDeque;
use std::thread::JoinHandle;

/// How many things are checked together. More gains little and waits longer.
const TOGETHER: usize = 1024;

/// Things to be checked, and what was found in those that were.
pub struct Together<T, F> {
    judge: fn(&[T]) -> Vec<F>,
    waiting: Vec<T>,
    checking: VecDeque<JoinHandle<Vec<F>>>,
    found: Vec<F>,
    cores: usize,
}

impl<T: Send + 'static, F: Send + 'static> Together<T, F> {
    /// Nothing to be checked yet; `judge` says what is wrong with things that are checked together.
    pub fn new(judge: fn(&[T]) -> Vec<F>) -> Together<T, F> {
        let cores = std::thread::available_parallelism().map_or(1, usize::from);
        Together { judge, waiting: Vec::new(), checking: VecDeque::new(), found: Vec::new(), cores }
    }

    /// Takes a thing in; it is checked with others, before [`Together::end`] returns.
    pub fn add(&mut self, thing: T) {
        self.waiting.push(thing);
        if self.waiting.len() >= TOGETHER {
            let (together, judge) = (std::mem::take(&mut self.waiting), self.judge);
            if self.checking.len() >= self.cores {
                self.take_oldest();
            }
            self.checking.push_back(std::thread::spawn(move || judge(&together)));
        }
    }

    /// Everything that was found.
    pub fn end(mut self) -> Vec<F> {
        let last = (self.judge)(&std::mem::take(&mut self.waiting));
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_thing_is_judged_once_and_what_is_found_keeps_its_order() {
        let mut together: Together<usize, usize> = Together::new(|things| {
            assert!(things.len() <= TOGETHER);
            things.iter().copied().filter(|thing| thing % 100 == 7).collect()
        });
        (0..10 * TOGETHER + 8).for_each(|thing| together.add(thing));
        let expected: Vec<usize> = (0..10 * TOGETHER + 8).filter(|thing| thing % 100 == 7).collect();
        assert_eq!(together.end(), expected);
        assert!(Together::new(<[u8]>::to_vec).end().is_empty());
    }
}

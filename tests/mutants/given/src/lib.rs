//! Every kind of place that is rewritten, and what must not be. Comes with its own tests below.

pub struct Sheet {
    pub pages: u32,
    pub signed: bool,
}

impl Default for Sheet {
    fn default() -> Self {
        Sheet { pages: 3, signed: false }
    }
}

/// Mutants of a whole function.
pub fn count(of: &[u32]) -> usize {
    of.len()
}

/// An `é` before an operator: columns count characters, not bytes.
pub fn both(a: bool, b: bool) -> bool {
    let _ = "é"; a && b
}

pub fn either(a: bool, b: bool) -> bool {
    a || !b
}

/// Nested: arithmetic in a comparison in a lazy operator.
pub fn due(day: i64, since: i64) -> bool {
    day - since >= 30 && day != 99
}

pub fn turned(n: i64) -> i64 {
    -n
}

/// A gap on purpose: `n` is 1 where it is compared, so only a test for what is never true could tell `>` from `>=`.
pub fn kind(n: u32, strict: bool) -> &'static str {
    match n {
        0 => "none",
        1 if strict || n > 7 => "one",
        _ => "more",
    }
}

pub fn sheet() -> Sheet {
    Sheet { pages: 5, ..Default::default() }
}

pub fn sum(of: &[u32]) -> u32 {
    let mut all = 0;
    for n in of {
        all += n;
    }
    all
}

/// An `&&` that joins a `let` stays.
pub fn first(of: &[u32], wanted: bool) -> bool {
    if let Some(n) = of.first() && wanted {
        return *n == 1;
    }
    false
}

pub const fn doubled(n: u32) -> u32 {
    n + n
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn mutants_of_values() {
        assert_eq!(count(&[4, 5, 6]), 3);
        assert_eq!(turned(4), -4);
        assert_eq!(sum(&[3, 4]), 7);
        assert_eq!(sheet().pages, 5);
        assert!(!sheet().signed);
        assert_eq!(doubled(2), 4);
    }

    #[test]
    fn mutants_of_conditions() {
        assert_eq!([both(true, true), both(true, false), both(false, true), both(false, false)], [true, false, false, false]);
        assert_eq!([either(true, true), either(false, false), either(false, true)], [true, true, false]);
        assert!(first(&[1], true) && !first(&[1], false) && !first(&[2], true) && !first(&[], true));
        assert_eq!([kind(0, true), kind(1, true), kind(1, false), kind(8, true)], ["none", "one", "more", "more"]);
    }

    #[test]
    fn mutants_of_days() {
        assert!(due(131, 100) && due(130, 100) && !due(129, 100) && !due(99, 0) && !due(100, 99) && due(98, 20));
    }
}

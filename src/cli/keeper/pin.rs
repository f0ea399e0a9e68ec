//! The short number: only a salted slow hash of it is kept, and wrong ones are counted.
//!
//! It guards an unlocked desk against whoever sits down at it. It is no passphrase: its few digits
//! can all be tried by a program that reads the keeper's memory.

use serde::{Deserialize, Serialize};
use subtle::ConstantTimeEq;
use zeroize::{Zeroize, ZeroizeOnDrop};

/// Cost of one try: scrypt with N = 2^14, r = 8, p = 1 (16 MiB, some tens of milliseconds).
const COST: (u8, u32, u32) = (14, 8, 1);

/// What the keeper remembers of a short number.
#[derive(Clone, Serialize, Deserialize, Zeroize, ZeroizeOnDrop)]
pub struct Pin {
    salt: [u8; 32],
    hash: [u8; 32],
    tries: u32,
    wrong: u32,
}

/// What came of trying a number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tried {
    /// It is the one.
    Right,
    /// It is not; so many tries are left.
    Wrong(u32),
}

impl Pin {
    /// Remembers a number; after `tries` wrong ones running none are left.
    ///
    /// # Errors
    /// When the system can't do the hashing.
    pub fn new(number: &str, salt: [u8; 32], tries: u32) -> std::io::Result<Pin> {
        Ok(Pin { hash: hash(number, &salt)?, salt, tries: tries.max(1), wrong: 0 })
    }

    /// Compares a number with it, in a time that does not depend on where they differ.
    pub fn try_number(&mut self, number: &str) -> Tried {
        let Ok(mut given) = hash(number, &self.salt) else { return Tried::Wrong(self.left()) };
        let same = bool::from(given.ct_eq(&self.hash));
        given.zeroize();
        if same {
            self.wrong = 0;
            return Tried::Right;
        }
        self.wrong = self.wrong.saturating_add(1);
        Tried::Wrong(self.left())
    }

    fn left(&self) -> u32 {
        self.tries.saturating_sub(self.wrong)
    }
}

fn hash(number: &str, salt: &[u8; 32]) -> std::io::Result<[u8; 32]> {
    let mut out = [0u8; 32];
    let (log_n, r, p) = COST;
    let params =
        scrypt::Params::new(log_n, r, p, out.len()).map_err(|e| std::io::Error::other(e.to_string()))?;
    scrypt::scrypt(number.as_bytes(), salt, &params, &mut out)
        .map_err(|e| std::io::Error::other(e.to_string()))?;
    Ok(out)
}

/// Why a text can't be the new short number; none when it can.
pub fn unfit(number: &str, digits: u32) -> Option<String> {
    let right = number.len() == digits as usize && number.bytes().all(|b| b.is_ascii_digit());
    (!right).then(|| format!("The short number has exactly {digits} digits and nothing else."))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn wrong_numbers_are_counted_and_a_right_one_forgives_them() {
        let mut pin = Pin::new("4711", [7; 32], 3).unwrap();
        assert_eq!(pin.try_number("4712"), Tried::Wrong(2));
        assert_eq!(pin.try_number("47110"), Tried::Wrong(1));
        assert_eq!(pin.try_number("4711"), Tried::Right);
        assert_eq!(
            ["", "0000", "471"].map(|n| pin.try_number(n)),
            [Tried::Wrong(2), Tried::Wrong(1), Tried::Wrong(0)]
        );
        assert_ne!(Pin::new("4711", [8; 32], 3).unwrap().hash, pin.hash, "the salt counts");
    }

    #[test]
    fn a_short_number_has_its_digits_and_nothing_else() {
        assert_eq!(unfit("0042", 4), None);
        for bad in ["", "042", "00042", "00a2", " 042", "\u{661}042"] {
            assert!(unfit(bad, 4).is_some(), "{bad:?}");
        }
    }
}

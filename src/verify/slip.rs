//! Slips: a number and a code on paper that pin down every entry up to that number.
//!
//! The code is the first 100 bits of the tree's root in base32, in groups of four, with one check
//! character at the end against slips of the hand. Making another ledger with the same number and
//! code would take some 2^100 tries.

use crate::ledger::checkpoint::Checkpoint;
use crate::ledger::tree::Hash;
use crate::seal::note::Verifier;
use crate::trouble::{Outcome, Trouble};

/// A checkpoint from elsewhere to compare with: a slip, a handed-out copy.
pub struct Witness {
    /// What it is, in words.
    pub name: String,
    /// The tree size it vouches for.
    pub size: u64,
    /// The root it vouches for in base32 (RFC 4648, no padding), or the beginning of that.
    pub code: String,
}

/// Letters of the code, without the check letter.
const LETTERS: usize = 20;

/// The code of a root: `ABCD-EFGH-...-X`.
pub fn code(root: &Hash) -> String {
    let letters: String = data_encoding::BASE32_NOPAD.encode(root).chars().take(LETTERS).collect();
    let groups: Vec<&str> = (0..LETTERS).step_by(4).map(|i| &letters[i..i + 4]).collect();
    format!("{}-{}", groups.join("-"), check_letter(&letters))
}

/// The check character of ISO/IEC 7064 MOD 37-2, which notices every single mistyped letter and
/// every pair of neighbours swapped.
fn check_letter(letters: &str) -> char {
    const ALPHABET: &str = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ*";
    let value = |c: char| ALPHABET.find(c).unwrap_or_default();
    let sum = letters.chars().fold(0, |p, c| (p + value(c)) * 2 % 37);
    ALPHABET.chars().nth((38 - sum) % 37).unwrap_or('*')
}

/// Reads a slip: `NUMBER:CODE` as printed, or the path of a file with a checkpoint of this ledger.
///
/// # Errors
/// When the code was mistyped, or the file holds no checkpoint of this ledger.
pub fn read_slip(text: &str, key: &Verifier) -> Outcome<Witness> {
    if let Some((number, typed)) = text.split_once(':').filter(|(n, _)| n.trim().parse::<u64>().is_ok()) {
        return typed_slip(number, typed);
    }
    let path = std::path::Path::new(text);
    let bytes = std::fs::read(path).map_err(|e| Trouble::disk("read", path, &e))?;
    let checkpoint = Checkpoint::open(&bytes, key).map_err(|_| {
        Trouble::input(
            "This file holds no checkpoint of this ledger.",
            "Name the right file, or type NUMBER:CODE from the slip.",
        )
    })?;
    let code = data_encoding::BASE32_NOPAD.encode(&checkpoint.root);
    Ok(Witness { name: format!("checkpoint {}", checkpoint.size), size: checkpoint.size, code })
}

/// Reads a slip typed as `NUMBER:CODE` or `NUMBER CODE`; spaces and dashes in the code do not matter.
///
/// # Errors
/// When it is not of that form, or was mistyped.
pub fn read_typed(text: &str) -> Outcome<Witness> {
    let parts = text.trim().split_once([':', ' ']);
    let Some((number, typed)) = parts.filter(|(n, _)| n.trim().parse::<u64>().is_ok()) else {
        return Err(Trouble::input(
            "A slip is a number and a code, like 214:ABCD-EFGH-IJKL-MNOP-QRST-U.",
            "Type both as they are printed, the number first.",
        ));
    };
    typed_slip(number, typed)
}

fn typed_slip(number: &str, typed: &str) -> Outcome<Witness> {
    let number: u64 = number.trim().parse().unwrap_or_default();
    let letters: String = typed
        .chars()
        .filter(|c| c.is_ascii_alphanumeric() || *c == '*')
        .map(|c| c.to_ascii_uppercase())
        .collect();
    let (code, check) = letters.split_at(letters.len().min(LETTERS));
    let right = code.len() == LETTERS
        && code.chars().all(|c| c.is_ascii_uppercase() || ('2'..='7').contains(&c))
        && check.chars().eq([check_letter(code)]);
    if !right {
        return Err(Trouble::input(
            "The slip's code was mistyped.",
            "Type it again, letter by letter: five groups of four and one check letter.",
        ));
    }
    Ok(Witness { name: format!("slip {number}"), size: number, code: code.to_string() })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::seal::note::Signer;

    /// ISO/IEC 7064 MOD 37-2: the example of ISO 7064 as used for donation numbers, `G123 489 654 321`
    /// has check character `Y` (from memory).
    #[test]
    fn the_check_letter_is_that_of_the_standard() {
        assert_eq!(check_letter("G123489654321"), 'Y');
    }

    #[test]
    fn a_slip_is_read_back_and_every_single_slip_of_the_hand_is_noticed() {
        let key = Signer::from_seed("ledger-x", &[1; 32]).unwrap().verifier().clone();
        let printed = code(&[0xA7; 32]);
        assert_eq!(read_slip(&format!("12:{}", printed.to_lowercase()), &key).unwrap().size, 12);
        let letters: Vec<char> = printed.chars().collect();
        for at in 0..letters.len() {
            if letters[at] == '-' {
                continue;
            }
            for other in "ABCDEFGHIJKLMNOPQRSTUVWXYZ234567".chars().filter(|c| *c != letters[at]) {
                let mut bent = letters.clone();
                bent[at] = other;
                let bent: String = bent.into_iter().collect();
                assert!(read_slip(&format!("12:{bent}"), &key).is_err(), "{bent}");
            }
        }
    }
}

//! Slips: a number and a code on paper that pin down every entry up to that number; and other things
//! from outside to compare with.

use super::pin::{Pin, What, check_letter, grouped, letters};
use crate::ledger::checkpoint::Checkpoint;
use crate::ledger::tree::{self, Hash};
use crate::seal::note::Verifier;
use crate::trouble::{Outcome, Trouble};

/// A checkpoint from elsewhere to compare with: a slip, a handed-out copy.
pub struct Witness {
    /// Whether it pins down all entries up to a number, or one entry.
    pub what: What,
    /// What it is, in words.
    pub name: String,
    /// The tree size it vouches for; of a receipt, the number of its entry.
    pub size: u64,
    /// The root it vouches for, or of a receipt the leaf's hash, in base32 (RFC 4648, no padding), or the beginning of that.
    pub code: String,
    /// The ledger it says that it is of, where it says so.
    pub ledger: Option<String>,
}

impl Witness {
    /// What pins down all entries up to number `size` by the whole root over them.
    pub fn of_all(name: String, size: u64, root: &Hash) -> Witness {
        let code = tree::code(root);
        Witness { what: What::Slip, name, size, code, ledger: None }
    }
}

/// The code of a root with one check letter, as the printed record and slips before there were check
/// words have it: `ABCD-EFGH-...-X`.
pub fn code(root: &Hash) -> String {
    let letters = letters(root);
    format!("{}-{}", grouped(&letters), check_letter(&letters))
}

/// Reads a slip as typed, or the path of a file with a checkpoint of this ledger.
///
/// # Errors
/// When it was mistyped or is of another ledger, or the file holds no checkpoint of this ledger.
pub fn read_slip(text: &str, key: &Verifier) -> Outcome<Witness> {
    let path = std::path::Path::new(text);
    if !path.is_file() {
        return of_this_ledger(read_typed(What::Slip, text)?, key);
    }
    let bytes = std::fs::read(path).map_err(|e| Trouble::disk("read", path, &e))?;
    let checkpoint = Checkpoint::open(&bytes, key).map_err(|_| {
        Trouble::input(
            "This file holds no checkpoint of this ledger.",
            "Name the right file, or type NUMBER:CODE or the words from the slip.",
        )
    })?;
    Ok(Witness::of_all(format!("checkpoint {}", checkpoint.size), checkpoint.size, &checkpoint.root))
}

/// Reads a receipt as typed.
///
/// # Errors
/// When it was mistyped or is of another ledger.
pub fn read_receipt(text: &str, key: &Verifier) -> Outcome<Witness> {
    of_this_ledger(read_typed(What::Receipt, text)?, key)
}

fn of_this_ledger(read: Witness, key: &Verifier) -> Outcome<Witness> {
    match read.ledger.as_ref().is_some_and(|said| said != key.name()) {
        true => Err(Trouble::input(
            "What was typed names another ledger.",
            "Compare the ledger's label with the paper; leave the label out to compare all the same.",
        )),
        false => Ok(read),
    }
}

/// Reads a slip or a receipt as typed: `NUMBER:CODE`, the number and twelve words, or the text of its QR code.
///
/// # Errors
/// When it is not of that form, or was mistyped.
pub fn read_typed(what: What, text: &str) -> Outcome<Witness> {
    let Pin { number, letters, ledger, .. } = Pin::read(what, text)?;
    Ok(Witness { what, name: format!("{} {number}", what.name()), size: number, code: letters, ledger })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::seal::note::Signer;

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

//! What a slip or a receipt pins down: a number and the first 100 bits of a hash, as a code, as words,
//! and as the text of a QR code. Each form can be typed back in.
//!
//! Whoever wants another past to fit a slip that is already on paper needs some 2^100 tries. Whoever
//! prepares two pasts before the slip is written needs some 2^50: such a pair must exist before the day is over.

use super::check_words::{self, CARRYING, Mistyped};
use super::words::{self, fill};
use crate::ledger::tree::{self, Hash};
use crate::trouble::{Outcome, Trouble};

/// Letters of the code, without its check letters.
pub const LETTERS: usize = 20;

/// Base32 letters by value (RFC 4648).
const BASE32: &[u8; 32] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZ234567";

/// What a number and code are for. A receipt typed as a slip is noticed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum What {
    /// All entries up to a number; the hash is the tree's root.
    Slip,
    /// One entry; the hash is that of its leaf.
    Receipt,
}

impl What {
    /// What is reckoned into the check words.
    pub fn symbol(self) -> u16 {
        match self {
            What::Slip => 1,
            What::Receipt => 2,
        }
    }

    /// What it is called.
    pub fn name(self) -> &'static str {
        match self {
            What::Slip => words::SLIP,
            What::Receipt => words::RECEIPT,
        }
    }

    fn other(self) -> What {
        match self {
            What::Slip => What::Receipt,
            What::Receipt => What::Slip,
        }
    }
}

/// A number and the beginning of a hash.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Pin {
    /// What it is for.
    pub what: What,
    /// Number of the entry: the last one of a slip, the one of a receipt.
    pub number: u64,
    /// The first 100 bits of the hash in base32.
    pub letters: String,
    /// The ledger that it says it is of, where it was typed in a form that says it.
    pub ledger: Option<String>,
}

/// The first 100 bits of a hash in base32.
pub fn letters(hash: &Hash) -> String {
    tree::code(hash).chars().take(LETTERS).collect()
}

/// Letters in groups of four.
pub fn grouped(letters: &str) -> String {
    let groups: Vec<&str> = (0..letters.len()).step_by(4).filter_map(|i| letters.get(i..i + 4)).collect();
    groups.join("-")
}

impl Pin {
    /// Pins down a hash.
    pub fn new(what: What, number: u64, hash: &Hash) -> Pin {
        Pin { what, number, letters: letters(hash), ledger: None }
    }

    /// The code: five groups of four letters and two check letters. The first check letter is over the
    /// code alone; the second is over what it is for, the number and the code.
    pub fn code(&self) -> String {
        format!("{}-{}{}", grouped(&self.letters), check_letter(&self.letters), self.second_letter())
    }

    fn second_letter(&self) -> char {
        let what = match self.what {
            What::Slip => 'S',
            What::Receipt => 'R',
        };
        check_letter(&format!("{what}{}{}", self.number, self.letters))
    }

    /// The check words, without the number.
    pub fn words(&self) -> Vec<&'static str> {
        check_words::words(self.what, self.number, &self.bits()).to_vec()
    }

    /// The text of the QR code: only characters that QR codes hold most tightly.
    pub fn qr(&self, ledger: &str) -> String {
        format!(
            "INKFAST {} {}:{} {}",
            self.what.name().to_uppercase(),
            self.number,
            self.code(),
            ledger.to_uppercase()
        )
    }

    fn bits(&self) -> [u16; CARRYING] {
        let value = |b: u8| BASE32.iter().position(|l| *l == b).unwrap_or_default() as u16;
        let mut bits = [0; CARRYING];
        for (place, pair) in bits.iter_mut().zip(self.letters.as_bytes().as_chunks::<2>().0) {
            *place = value(pair[0]) << 5 | value(pair[1]);
        }
        bits
    }

    /// Whether it may be of this ledger: it says so, or says nothing.
    pub fn may_be_of(&self, ledger: &str) -> bool {
        self.ledger.as_ref().is_none_or(|said| said == ledger)
    }

    /// Reads what was typed: `NUMBER:CODE`, the number and its twelve words, or the text of the QR code.
    ///
    /// # Errors
    /// When it is not of these forms, or was mistyped; then it says what is likely wrong.
    pub fn read(what: What, typed: &str) -> Outcome<Pin> {
        let mut parts: Vec<String> = typed
            .split(|c: char| c.is_whitespace() || ":,;.".contains(c))
            .filter(|p| !p.is_empty())
            .map(str::to_string)
            .collect();
        if parts.first().is_some_and(|p| p.eq_ignore_ascii_case("inkfast")) {
            parts.remove(0);
        }
        for said in [What::Slip, What::Receipt] {
            if parts.first().is_some_and(|p| p.eq_ignore_ascii_case(said.name())) {
                parts.remove(0);
                if said != what {
                    return Err(other_kind(what));
                }
            }
        }
        let is_ledger = |p: &String| p.get(..7).is_some_and(|begin| begin.eq_ignore_ascii_case("ledger-"));
        let ledger = parts.pop_if(|p| is_ledger(p)).map(|p| p.to_ascii_lowercase());
        let Some((number, rest)) = parts
            .split_first()
            .and_then(|(n, rest)| Some((n.parse::<u64>().ok()?, rest)))
            .filter(|(_, r)| !r.is_empty())
        else {
            return Err(Trouble::input(
                fill(words::PIN_FORM, &[("what", &what.name())]),
                words::PIN_FORM_NEXT,
            ));
        };
        let words: Vec<&str> = rest.iter().flat_map(|p| p.split('-')).filter(|p| !p.is_empty()).collect();
        let signs: usize = words.iter().map(|w| w.chars().count()).sum();
        let letters = if signs > LETTERS + 4 || words.iter().filter(|w| w.len() > 4).count() > 1 {
            from_words(what, number, &words)?
        } else {
            from_code(what, number, &words.concat())?
        };
        Ok(Pin { what, number, letters, ledger })
    }
}

/// The check character of ISO/IEC 7064 MOD 37-2, which notices every single mistyped letter and
/// every pair of neighbours swapped.
pub fn check_letter(letters: &str) -> char {
    const ALPHABET: &str = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ*";
    let value = |c: char| ALPHABET.find(c).unwrap_or_default();
    let sum = letters.chars().fold(0, |p, c| (p + value(c)) * 2 % 37);
    ALPHABET.chars().nth((38 - sum) % 37).unwrap_or('*')
}

fn other_kind(what: What) -> Trouble {
    let other = what.other().name();
    Trouble::input(
        fill(words::PIN_OTHER_KIND, &[("other", &other), ("what", &what.name())]),
        fill(words::PIN_OTHER_KIND_NEXT, &[("other", &other)]),
    )
}

/// Reads a code: 20 letters and one check letter, as slips had before check words, or two.
fn from_code(what: What, number: u64, typed: &str) -> Outcome<String> {
    let typed: Vec<char> = typed.chars().map(|c| c.to_ascii_uppercase()).collect();
    let (code, checks) = typed.split_at(typed.len().min(LETTERS));
    let letters: String = code.iter().collect();
    let right = code.len() == LETTERS
        && letters.bytes().all(|b| BASE32.contains(&b))
        && checks.first() == Some(&check_letter(&letters))
        && checks.len() <= 2;
    if !right {
        return Err(Trouble::input(fill(words::PIN_CODE, &[("what", &what.name())]), words::PIN_CODE_NEXT));
    }
    let pin = Pin { what, number, letters, ledger: None };
    let Some(second) = checks.get(1) else {
        return match what {
            What::Slip => Ok(pin.letters),
            What::Receipt => Err(Trouble::input(words::PIN_LAST, words::PIN_LAST_NEXT)),
        };
    };
    let other = Pin { what: what.other(), ..pin.clone() };
    match *second {
        c if c == pin.second_letter() => Ok(pin.letters),
        c if c == other.second_letter() => Err(other_kind(what)),
        _ => Err(Trouble::input(fill(words::PIN_SECOND, &[("number", &number)]), words::PIN_SECOND_NEXT)),
    }
}

/// Reads twelve words.
fn from_words(what: What, number: u64, typed: &[&str]) -> Outcome<String> {
    let bits = check_words::read(what, number, typed).map_err(|mistake| {
        if check_words::read(what.other(), number, typed).is_ok() {
            other_kind(what)
        } else {
            in_words(mistake, number)
        }
    })?;
    let letter = |v: u16| char::from(BASE32[usize::from(v & 31)]);
    Ok(bits.iter().flat_map(|b| [letter(b >> 5), letter(*b)]).collect())
}

/// What is likely wrong, for the person with the paper.
fn in_words(mistake: Mistyped, number: u64) -> Trouble {
    let likely = |word: &str| fill(words::PIN_LIKELY_NEXT, &[("likely", &word)]);
    let (said, next) = match mistake {
        Mistyped::Count(count) => (
            fill(words::PIN_COUNT, &[("count", &count), ("number", &number)]),
            words::PIN_COUNT_NEXT.to_string(),
        ),
        Mistyped::Unknown { place, typed, likely: Some(word) } => (
            fill(
                words::PIN_UNKNOWN_LIKELY,
                &[("place", &place), ("typed", &format!("{typed:?}")), ("likely", &word)],
            ),
            likely(word),
        ),
        Mistyped::Unknown { place, typed, likely: None } => (
            fill(words::PIN_UNKNOWN, &[("place", &place), ("typed", &format!("{typed:?}"))]),
            words::PIN_UNKNOWN_NEXT.to_string(),
        ),
        Mistyped::Wrong { place, likely: word } => {
            (fill(words::PIN_WRONG, &[("place", &place), ("likely", &word)]), likely(word))
        }
        Mistyped::Swapped(place) => (
            fill(words::PIN_SWAPPED, &[("place", &place), ("after", &(place + 1))]),
            words::PIN_SWAPPED_NEXT.to_string(),
        ),
        Mistyped::Number(Some(right)) => (
            fill(words::PIN_NUMBER, &[("number", &number), ("likely", &right)]),
            fill(words::PIN_NUMBER_NEXT, &[("likely", &right)]),
        ),
        Mistyped::Number(None) | Mistyped::Several => {
            (words::PIN_SEVERAL.to_string(), words::PIN_SEVERAL_NEXT.to_string())
        }
    };
    Trouble::input(said, next)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn pin(what: What) -> Pin {
        Pin::new(what, 1204, &crate::ledger::tree::leaf_hash(b"an entry"))
    }

    /// ISO/IEC 7064 MOD 37-2: the example of ISO 7064 as used for donation numbers, `G123 489 654 321`
    /// has check character `Y` (from memory).
    #[test]
    fn the_check_letter_is_that_of_the_standard() {
        assert_eq!(check_letter("G123489654321"), 'Y');
    }

    #[test]
    fn every_form_reads_back() {
        for what in [What::Slip, What::Receipt] {
            let pin = pin(what);
            let (code, words) = (pin.code(), pin.words());
            for typed in [
                format!("1204:{code}"),
                format!("1204 {}", code.to_lowercase().replace('-', " ")),
                format!("{} 01204: {}", what.name(), code.replace('-', "")),
                format!("1204 {}", words.join(" ")),
                format!(" 1204: {}, ", words.join(", ").to_uppercase()),
                format!("1204-{}", words.join("-")).replacen('-', " ", 1),
            ] {
                assert_eq!(Pin::read(what, &typed), Ok(pin.clone()), "{typed}");
            }
            let read = Pin::read(what, &pin.qr("ledger-00ff")).unwrap();
            assert_eq!(read.ledger.as_deref(), Some("ledger-00ff"));
            assert!(read.may_be_of("ledger-00ff") && !read.may_be_of("ledger-00fe") && pin.may_be_of("x"));
            assert_eq!(read.letters, pin.letters);
        }
        // The form of slips before there were check words.
        let slip = pin(What::Slip);
        let old = &slip.code()[..26];
        assert_eq!(Pin::read(What::Slip, &format!("1204:{old}")), Ok(slip));
        assert!(Pin::read(What::Receipt, &format!("1204:{}", &pin(What::Receipt).code()[..26])).is_err());
    }

    #[test]
    fn one_is_not_taken_for_the_other() {
        for what in [What::Slip, What::Receipt] {
            let other = pin(what.other());
            for typed in [
                format!("1204:{}", other.code()),
                format!("1204 {}", other.words().join(" ")),
                other.qr("ledger-1"),
            ] {
                let trouble = Pin::read(what, &typed).unwrap_err();
                assert!(trouble.what.starts_with(&format!("This is a {}", other.what.name())), "{trouble:?}");
            }
        }
    }

    #[test]
    fn every_wrong_sign_and_every_swap_of_a_code_is_noticed() {
        for what in [What::Slip, What::Receipt] {
            let typed: Vec<char> = format!("1204:{}", pin(what).code()).chars().collect();
            for at in (0..typed.len()).filter(|at| !":-".contains(typed[*at])) {
                for other in "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ*".chars().filter(|c| *c != typed[at]) {
                    let mut bent = typed.clone();
                    bent[at] = other;
                    let bent: String = bent.into_iter().collect();
                    assert!(Pin::read(what, &bent).is_err(), "{bent}");
                }
                let next = (at + 1..typed.len()).find(|n| !":-".contains(typed[*n]));
                if let Some(next) = next.filter(|n| typed[*n] != typed[at]) {
                    let mut bent = typed.clone();
                    bent.swap(at, next);
                    let bent: String = bent.into_iter().collect();
                    assert!(Pin::read(what, &bent).is_err(), "{bent}");
                }
            }
        }
    }

    #[test]
    fn what_is_likely_wrong_is_said() {
        let pin = pin(What::Slip);
        let mut words = pin.words();
        let said = |words: &[&str], number: u64| {
            Pin::read(What::Slip, &format!("{number} {}", words.join(" "))).unwrap_err().what
        };
        assert_eq!(said(&words, 1205), "The number 1205 is likely mistyped: 1204 would fit the words.");
        assert_eq!(said(&words[..9], 1204), "There are 9 words after the number 1204; twelve are needed.");
        let third = words[2];
        words[2] = "acorn";
        assert_eq!(said(&words, 1204), format!("Word 3 is likely mistyped: {third:?} would fit."));
        words[2] = "akorrn";
        assert_eq!(
            said(&words, 1204),
            format!("Word 3, \"akorrn\", is none of the check words; {third:?} would fit.")
        );
        words[2] = third;
        words.swap(4, 5);
        assert_eq!(said(&words, 1204), "Words 5 and 6 are likely swapped.");
        for nothing in ["", "1204", "1204:", "slip", "ABCD", "-1 x", "1204 ledger-1"] {
            assert!(Pin::read(What::Slip, nothing).is_err(), "{nothing}");
        }
    }

    proptest! {
        #[test]
        fn whatever_is_typed_reads_or_is_refused(noise: String, near in "[0-9]{1,22}[: ]([A-Z2-7 -]{18,30}|[a-z ]{0,99})") {
            for typed in [noise, near] {
                if let Ok(pin) = Pin::read(What::Slip, &typed) {
                    prop_assert_eq!(pin.letters.len(), LETTERS);
                }
            }
        }

        #[test]
        fn any_number_and_hash_come_back_from_words(number: u64, hash: [u8; 32]) {
            let pin = Pin::new(What::Receipt, number, &hash);
            let typed = format!("{number} {}", pin.words().join(" "));
            prop_assert_eq!(Pin::read(What::Receipt, &typed), Ok(pin));
        }
    }

    /// The second letter tells which of the two it is; one that fits neither is mistyped.
    #[test]
    fn a_wrong_last_letter_is_told_from_the_other_sort_of_paper() {
        let (slip, receipt) = (pin(What::Slip), pin(What::Receipt));
        let code = slip.code();
        let begin = &code[..code.len() - 1];
        let said = |last: char| {
            Pin::read(What::Slip, &format!("1204:{begin}{last}")).map_err(|trouble| trouble.what)
        };
        assert!(said(slip.second_letter()).is_ok());
        let other = said(receipt.second_letter()).unwrap_err();
        assert_eq!(other, "This is a receipt, not a slip.");
        let neither: Vec<char> = ('A'..='Z')
            .filter(|letter| ![slip.second_letter(), receipt.second_letter()].contains(letter))
            .collect();
        assert!(neither.len() >= 24);
        for letter in neither {
            assert!(said(letter).unwrap_err().starts_with("The number 1204, or the last letter"), "{letter}");
        }
    }

    /// They are told from a code by how many signs there are, also where hardly any is longer than a group of a code.
    #[test]
    fn twelve_short_words_are_not_taken_for_a_code() {
        let short: Vec<usize> =
            check_words::LIST.lines().enumerate().filter(|(_, w)| w.len() == 4).map(|(at, _)| at).collect();
        let letter = |v: usize| char::from(BASE32[v & 31]);
        let letters: String = short[..CARRYING].iter().flat_map(|b| [letter(b >> 5), letter(*b)]).collect();
        let of = |number| Pin { what: What::Slip, number, letters: letters.clone(), ledger: None };
        let long = |pin: &Pin| pin.words().iter().filter(|w| w.len() > 4).count();
        let pin = (1..).map(of).find(|pin| long(pin) < 2).unwrap();
        let typed = format!("{} {}", pin.number, pin.words().join(" "));
        assert_eq!(Pin::read(What::Slip, &typed), Ok(pin));
        // And as soon as there are two of more than four letters, words are counted.
        let few = Pin::read(What::Slip, "1204 acorn acorn").unwrap_err();
        assert_eq!(few.what, "There are 2 words after the number 1204; twelve are needed.");
    }

    /// In the form of before, with one check letter, as much is noticed as that letter notices; and a code with signs
    /// too many or too few is said to be a code.
    #[test]
    fn a_code_that_is_not_whole_is_none_in_either_form() {
        let code = pin(What::Slip).code();
        let refused = |typed: &str| {
            let said = Pin::read(What::Slip, &format!("1204:{typed}")).unwrap_err().what;
            assert_eq!(said, fill(words::PIN_CODE, &[("what", &"slip")]), "{typed}");
        };
        let old = &code[..26];
        for wrong in ('A'..='Z').filter(|letter| !old.ends_with(*letter)) {
            refused(&format!("{}{wrong}", &old[..25]));
        }
        (4..=25).for_each(|length| refused(&code[..length]));
        // 0, 1, 8 and 9 are no letters of base32 (RFC 4648), whatever the check letter says.
        let foreign = format!("1{}", &pin(What::Slip).letters[1..]);
        refused(&format!("{foreign}{}", check_letter(&foreign)));
        refused(&format!("{code}A"));
        refused(&format!("{code}AB"));
    }
}

//! Check words: a number and 100 bits as twelve words that can be read out over a telephone.
//!
//! Each word stands for ten bits. The first ten words are the bits, the last two are reckoned from them
//! and from the number, so that a wrong word, two words swapped, or a wrong digit of the number is
//! noticed, and one wrong word is found. The check is a Reed-Solomon code over GF(2^10) with two check
//! symbols (field polynomial x^10 + x^3 + 1, roots 1 and x): any two wrong symbols are noticed for
//! certain, more with a chance of about one in a million to slip through.
//!
//! No word of the list becomes another by fewer than three changes of a letter, none begins with the
//! same four letters as another, and no two sound alike when vowels are slurred and p and b, t and d,
//! k and g, s and z, m and n can't be told apart.

use super::pin::What;

/// The list, one word a line, sorted.
pub(super) const LIST: &str = include_str!("check-words.txt");

/// Words that carry bits.
pub const CARRYING: usize = 10;

/// Words in all.
pub const WORDS: usize = CARRYING + 2;

/// Bits in a word.
const BITS: u32 = 10;

/// x^10 + x^3 + 1.
const POLYNOMIAL: u32 = 0x409;

/// Digits of the number that are reckoned with, leading zeros included: as many as a u64 can have.
const DIGITS: usize = 20;

/// What is reckoned with: what the words are for, the number's digits, the words.
const SYMBOLS: usize = 1 + DIGITS + WORDS;

/// The list in its order.
fn list() -> impl Iterator<Item = &'static str> {
    LIST.lines()
}

/// The word of ten bits.
fn word(value: u16) -> &'static str {
    list().nth(usize::from(value)).unwrap_or_default()
}

/// The ten bits of a word; none when it is not in the list.
pub fn value_of(word: &str) -> Option<u16> {
    let at = list().position(|w| w.eq_ignore_ascii_case(word))?;
    u16::try_from(at).ok()
}

/// The twelve words of a number and its 100 bits.
pub fn words(what: What, number: u64, bits: &[u16; CARRYING]) -> [&'static str; WORDS] {
    let mut symbols = symbols(what, number, bits);
    add_check(&mut symbols);
    let mut out = [""; WORDS];
    for (place, value) in out.iter_mut().zip(&symbols[SYMBOLS - WORDS..]) {
        *place = word(*value);
    }
    out
}

/// Works out the last two symbols, which are 0 so far.
fn add_check(symbols: &mut [u16; SYMBOLS]) {
    let (sum, weighted) = syndromes(symbols);
    let [first, second] = [SYMBOLS - 2, SYMBOLS - 1].map(power);
    let check = times(weighted ^ times(second, sum), inverse(first ^ second));
    symbols[SYMBOLS - 2] = check;
    symbols[SYMBOLS - 1] = sum ^ check;
}

/// What is wrong with words as typed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Mistyped {
    /// Not twelve words; how many there are.
    Count(usize),
    /// This word, counted from 1, is not in the list; the word that would fit, if one is likely.
    Unknown {
        /// Place from 1.
        place: usize,
        /// As it was typed.
        typed: String,
        /// What it most likely is.
        likely: Option<&'static str>,
    },
    /// This word, counted from 1, is likely another one.
    Wrong {
        /// Place from 1.
        place: usize,
        /// The word that would fit.
        likely: &'static str,
    },
    /// This word and the next are likely swapped.
    Swapped(usize),
    /// The number is likely mistyped; what it would have to be, where one digit can settle it.
    Number(Option<u64>),
    /// More than one thing is wrong.
    Several,
}

/// Reads twelve words typed with their number; the 100 bits.
///
/// # Errors
/// [`Mistyped`], with the likeliest mistake.
pub fn read(what: What, number: u64, typed: &[&str]) -> Result<[u16; CARRYING], Mistyped> {
    if typed.len() != WORDS {
        return Err(Mistyped::Count(typed.len()));
    }
    let values: Vec<Option<u16>> = typed.iter().map(|w| value_of(w)).collect();
    let mut symbols = symbols(what, number, &[0; CARRYING]);
    for (place, value) in symbols[SYMBOLS - WORDS..].iter_mut().zip(&values) {
        *place = value.unwrap_or(0);
    }
    if let Some(at) = values.iter().position(Option::is_none) {
        let alone = values.iter().filter(|v| v.is_none()).count() == 1;
        let likely = if alone { missing(&symbols, at) } else { None };
        let likely = likely.map(word).or_else(|| nearest(typed[at]));
        return Err(Mistyped::Unknown { place: at + 1, typed: typed[at].to_string(), likely });
    }
    if syndromes(&symbols) != (0, 0) {
        return Err(diagnose(&symbols));
    }
    let mut bits = [0; CARRYING];
    bits.copy_from_slice(&symbols[1 + DIGITS..1 + DIGITS + CARRYING]);
    Ok(bits)
}

fn symbols(what: What, number: u64, bits: &[u16; CARRYING]) -> [u16; SYMBOLS] {
    let mut symbols = [0; SYMBOLS];
    symbols[0] = what.symbol();
    let mut rest = number;
    for place in symbols[1..=DIGITS].iter_mut().rev() {
        *place = (rest % 10) as u16;
        rest /= 10;
    }
    symbols[1 + DIGITS..1 + DIGITS + CARRYING].copy_from_slice(bits);
    symbols
}

/// The plain sum of all symbols, and the sum weighted with x to the power of each place.
fn syndromes(symbols: &[u16; SYMBOLS]) -> (u16, u16) {
    let plain = symbols.iter().fold(0, |sum, s| sum ^ s);
    let weighted = symbols.iter().enumerate().fold(0, |sum, (at, s)| sum ^ times(power(at), *s));
    (plain, weighted)
}

/// The value that the word at `at`, unread, must have for all others to be right.
fn missing(symbols: &[u16; SYMBOLS], at: usize) -> Option<u16> {
    let (sum, weighted) = syndromes(symbols);
    (weighted == times(power(SYMBOLS - WORDS + at), sum)).then_some(sum)
}

/// The likeliest mistake where the check does not hold: two neighbours swapped, or one wrong symbol.
fn diagnose(symbols: &[u16; SYMBOLS]) -> Mistyped {
    for at in 1..SYMBOLS - 1 {
        let mut swapped = *symbols;
        swapped.swap(at, at + 1);
        if at == DIGITS || syndromes(&swapped) != (0, 0) {
            continue;
        }
        return match at.checked_sub(DIGITS) {
            Some(place) if place > 0 => Mistyped::Swapped(place),
            _ => Mistyped::Number(number_of(&swapped)),
        };
    }
    let (sum, weighted) = syndromes(symbols);
    let Some(at) = (0..SYMBOLS).find(|at| sum != 0 && times(power(*at), sum) == weighted) else {
        return Mistyped::Several;
    };
    let mut right = *symbols;
    right[at] ^= sum;
    match at {
        0 => Mistyped::Several,
        1..=DIGITS if right[at] > 9 => Mistyped::Several,
        1..=DIGITS => Mistyped::Number(number_of(&right)),
        _ => Mistyped::Wrong { place: at - DIGITS, likely: word(right[at]) },
    }
}

fn number_of(symbols: &[u16; SYMBOLS]) -> Option<u64> {
    symbols[1..=DIGITS].iter().try_fold(0u64, |sum, d| sum.checked_mul(10)?.checked_add(u64::from(*d)))
}

/// The word of the list that fewer than three changes of a letter make of what was typed.
fn nearest(typed: &str) -> Option<&'static str> {
    let typed = typed.to_ascii_lowercase();
    let best = list().map(|w| (changes(&typed, w), w)).min()?;
    (best.0 < 3).then_some(best.1)
}

/// How many changes make one word of the other: a letter more, less or another, or two neighbours swapped
/// (the optimal string alignment distance).
fn changes(a: &str, b: &str) -> usize {
    let (a, b): (Vec<char>, Vec<char>) = (a.chars().take(40).collect(), b.chars().collect());
    let mut rows = vec![vec![0; b.len() + 1]; a.len() + 1];
    for (i, row) in rows.iter_mut().enumerate() {
        row[0] = i;
    }
    rows[0] = (0..=b.len()).collect();
    for i in 1..=a.len() {
        for j in 1..=b.len() {
            let same = usize::from(a[i - 1] != b[j - 1]);
            let mut least = (rows[i - 1][j] + 1).min(rows[i][j - 1] + 1).min(rows[i - 1][j - 1] + same);
            if i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1] {
                least = least.min(rows[i - 2][j - 2] + 1);
            }
            rows[i][j] = least;
        }
    }
    rows[a.len()][b.len()]
}

/// The product in GF(2^10).
fn times(a: u16, b: u16) -> u16 {
    let (mut a, mut b, mut product) = (u32::from(a), b, 0u32);
    while b > 0 {
        if b & 1 == 1 {
            product ^= a;
        }
        a <<= 1;
        if a >> BITS == 1 {
            a ^= POLYNOMIAL;
        }
        b >>= 1;
    }
    product as u16
}

/// x to this power.
fn power(exponent: usize) -> u16 {
    (0..exponent).fold(1, |product, _| times(product, 2))
}

/// The inverse: the element to the power 2^10 - 2.
fn inverse(a: u16) -> u16 {
    (0..(1 << BITS) - 2).fold(1, |product, _| times(product, a))
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::HashSet;

    const BITS: [u16; CARRYING] = [0, 1023, 512, 7, 77, 300, 1, 2, 640, 1000];

    fn typed(words: &[&str]) -> Result<[u16; CARRYING], Mistyped> {
        read(What::Slip, 1204, words)
    }

    #[test]
    fn the_list_is_as_promised() {
        let all: Vec<&str> = list().collect();
        assert_eq!(all.len(), 1024);
        assert!(all.is_sorted() && all.iter().all(|w| w.bytes().all(|b| b.is_ascii_lowercase())));
        assert!(all.iter().all(|w| (4..=9).contains(&w.len())));
        let beginnings: HashSet<&str> = all.iter().map(|w| &w[..4]).collect();
        assert_eq!(beginnings.len(), all.len());
        for (at, word) in all.iter().enumerate() {
            for other in &all[at + 1..] {
                assert!(word.len().abs_diff(other.len()) >= 3 || changes(word, other) >= 3, "{word} {other}");
            }
        }
    }

    /// The field is one: x has order 1023, so every power differs and every element has an inverse.
    #[test]
    fn the_polynomial_is_primitive() {
        let powers: HashSet<u16> = (0..1023).map(power).collect();
        assert_eq!(powers.len(), 1023);
        for a in 1..1024 {
            assert_eq!(times(a, inverse(a)), 1, "{a}");
        }
    }

    #[test]
    fn every_wrong_word_and_every_swap_is_noticed_and_named() {
        let right = words(What::Slip, 1204, &BITS);
        assert_eq!(typed(&right), Ok(BITS));
        assert_eq!(typed(&right.map(str::to_uppercase).each_ref().map(String::as_str)), Ok(BITS));
        for at in 0..WORDS {
            for other in list().filter(|w| *w != right[at]) {
                let mut bent = right;
                bent[at] = other;
                match typed(&bent) {
                    Err(Mistyped::Wrong { place, likely }) => {
                        assert_eq!((place, likely), (at + 1, right[at]));
                    }
                    // A wrong word can look like two swapped ones; it is noticed all the same.
                    Err(Mistyped::Swapped(_)) => {}
                    said => panic!("{bent:?}: {said:?}"),
                }
            }
        }
        for at in 0..WORDS - 1 {
            let mut bent = right;
            bent.swap(at, at + 1);
            assert_eq!(typed(&bent), Err(Mistyped::Swapped(at + 1)));
        }
    }

    #[test]
    fn every_wrong_letter_is_noticed_and_the_word_is_named() {
        let right = words(What::Slip, 1204, &BITS);
        for at in 0..WORDS {
            for letter in 0..right[at].len() {
                let mut bytes = right[at].as_bytes().to_vec();
                bytes[letter] = if bytes[letter] == b'q' { b'z' } else { b'q' };
                let bent = String::from_utf8(bytes).unwrap();
                let mut words = right.to_vec();
                words[at] = &bent;
                let said = typed(&words);
                let likely = Some(right[at]);
                assert_eq!(said, Err(Mistyped::Unknown { place: at + 1, typed: bent.clone(), likely }));
                // Two such words: each is named by what it is nearest to.
                words[(at + 1) % WORDS] = "qqqqqqq";
                match typed(&words) {
                    Err(Mistyped::Unknown { place, likely, .. }) if place == at + 1 => {
                        assert_eq!(likely, Some(right[at]));
                    }
                    Err(Mistyped::Unknown { place: 1, likely: None, .. }) if at + 1 == WORDS => {}
                    said => panic!("{said:?}"),
                }
            }
        }
    }

    #[test]
    fn a_wrong_number_is_noticed_and_named() {
        let right = words(What::Slip, 1204, &BITS);
        let said = |number| read(What::Slip, number, &right);
        for wrong in [1205, 1214, 1004, 9204, 1024, 2104, 1240] {
            assert_eq!(said(wrong), Err(Mistyped::Number(Some(1204))), "{wrong}");
        }
        for wrong in [0, 120, 12_040, 11_204, u64::MAX] {
            assert!(said(wrong).is_err(), "{wrong}");
        }
        assert_eq!(read(What::Receipt, 1204, &right), Err(Mistyped::Several));
        assert_eq!(typed(&right[..11]), Err(Mistyped::Count(11)));
    }

    /// Worked out by hand of the definition: without bits, for the number 0, a slip has one symbol, 1, at
    /// place 0. Then c31 + c32 = 1 and x^31 c31 + x^32 c32 = 1, so c31 x^31 (1 + x) = 1 + x^32.
    #[test]
    fn the_check_words_follow_from_the_definition() {
        let words = words(What::Slip, 0, &[0; CARRYING]);
        let [c31, c32] = [words[10], words[11]].map(|w| value_of(w).unwrap());
        assert_eq!(c31 ^ c32, 1);
        assert_eq!(times(c31, times(power(31), 3)), 1 ^ power(32));
    }

    /// What would have to be a digit beyond 9 is no digit mistyped.
    #[test]
    fn a_digit_is_named_only_where_it_is_one() {
        for (digit, said) in
            [(9, Mistyped::Number(Some(1209))), (10, Mistyped::Several), (20, Mistyped::Several)]
        {
            let mut symbols = symbols(What::Slip, 1204, &BITS);
            symbols[DIGITS] = digit;
            add_check(&mut symbols);
            assert_eq!(syndromes(&symbols), (0, 0));
            symbols[DIGITS] = 4;
            assert_eq!(diagnose(&symbols), said, "{digit}");
        }
    }

    /// Worked out by hand; "ca" and "abc" are the textbook case in which this distance is 3 and the free one 2.
    #[test]
    fn changes_are_letters_more_less_other_or_swapped() {
        for (a, b, count) in [
            ("", "", 0),
            ("", "abc", 3),
            ("abc", "", 3),
            ("abc", "abc", 0),
            ("abc", "abd", 1),
            ("abc", "xabc", 1),
            ("abc", "bc", 1),
            ("ab", "ba", 1),
            ("xab", "xba", 1),
            ("abx", "bax", 1),
            ("abcd", "badc", 2),
            ("abcd", "acbd", 1),
            ("ca", "abc", 3),
            ("kitten", "sitting", 3),
            ("abcdef", "abdcfe", 2),
            ("aab", "aba", 1),
            ("abab", "baba", 2),
            ("abc", "cba", 2),
            ("abcde", "bcdea", 2),
            ("xyab", "xyba", 1),
        ] {
            assert_eq!(changes(a, b), count, "{a} {b}");
        }
        // Fewer than three: then it is likely that word.
        let word = list().next().unwrap();
        for (more, likely) in [("", Some(word)), ("q", Some(word)), ("qq", Some(word)), ("qqq", None)] {
            assert_eq!(nearest(&format!("{word}{more}")), likely, "{more}");
        }
    }
}

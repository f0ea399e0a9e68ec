//! Levels of the spine as they are typed: `C5-6`, `c56`, `C7T1`, `occ/C1`. Nobody's level is guessed: a text
//! that could mean two things is asked about, and one that means none is refused.

use crate::record::tables::levels::Levels;
use crate::record::vocab::Segment;
use std::fmt;

/// What a level is named for; two levels make a joint, a disc, or the ends of a stretch.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Use {
    /// A thrust or joint mobilization, or what is found in a joint: two levels must be neighbors.
    Adjust,
    /// Soft tissue, which may go over several levels.
    Span,
    /// A disc: two neighbors, and a disc must be there.
    Disc,
}

impl Use {
    /// The use of this word: `adjust`, `span` or `disc`.
    pub fn from_word(word: &str) -> Option<Use> {
        match word {
            "adjust" => Some(Use::Adjust),
            "span" => Some(Use::Span),
            "disc" => Some(Use::Disc),
            _ => None,
        }
    }
}

/// One level, or two from head to foot. Displayed as `C5` or `C5-C6`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Place {
    /// The level, or the upper one of two.
    pub upper: String,
    /// The lower one of two.
    pub lower: Option<String>,
}

impl Place {
    fn one(level: &str) -> Place {
        Place { upper: level.to_owned(), lower: None }
    }

    fn two(upper: &str, lower: &str) -> Place {
        Place { upper: upper.to_owned(), lower: Some(lower.to_owned()) }
    }

    /// The motion segment between the two levels; none for one level, for levels that are not neighbors, and
    /// for the joints of a sixth lumbar vertebra, which records have no word for.
    pub fn segment(&self) -> Option<Segment> {
        self.lower.as_ref()?;
        Segment::from_word(&self.to_string())
    }
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.upper)?;
        self.lower.as_ref().map_or(Ok(()), |lower| write!(f, "-{lower}"))
    }
}

/// Why a text names no place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fault {
    /// There is no such vertebra: C8, T13, L6 where the chart does not flag one.
    NoSuchLevel,
    /// A joint lies between two neighbors.
    NotAdjacent,
    /// There is no disc above C2.
    NoDisc,
    /// It is no level at all.
    Unreadable,
}

impl Fault {
    /// The word the rule uses.
    pub fn word(self) -> &'static str {
        match self {
            Fault::NoSuchLevel => "no_such_level",
            Fault::NotAdjacent => "not_adjacent",
            Fault::NoDisc => "no_disc",
            Fault::Unreadable => "unreadable",
        }
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Fault::NoSuchLevel => {
                "there is no such level: the spine has C0 (occiput), C1 to C7, T1 to T12, L1 to L5 and S1"
            }
            Fault::NotAdjacent => "a joint lies between two neighbors, like C5-C6",
            Fault::NoDisc => "there is no disc at C0-C1 and C1-C2; the first lies between C2 and C3",
            Fault::Unreadable => "this is no level of the spine; write one like C5 or two like C5-6",
        })
    }
}

/// What a text means.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Reading {
    /// This place.
    Reads(Place),
    /// One of these, single levels first: the person who wrote it must say.
    Ask(Vec<Place>),
    /// None.
    Refused(Fault),
}

/// The levels from head to foot, with a sixth lumbar vertebra where the chart flags it.
#[derive(Debug, Clone)]
pub struct Spine<'a> {
    order: Vec<&'a str>,
    levels: &'a Levels,
}

/// Written as the tables write the levels of the low back.
const SIXTH: &str = "L6";

impl<'a> Spine<'a> {
    /// The spine of the tables.
    pub fn new(levels: &'a Levels, transitional: bool) -> Spine<'a> {
        let named = |list: &'a [String]| list.iter().map(String::as_str);
        let mut order = vec![levels.occiput.as_str()];
        order.extend(named(&levels.cervical));
        order.extend(named(&levels.thoracic));
        order.extend(named(&levels.lumbar));
        order.extend(transitional.then_some(SIXTH));
        order.extend(named(&levels.sacral));
        Spine { order, levels }
    }

    /// Every level, head to foot.
    pub fn order(&self) -> &[&'a str] {
        &self.order
    }

    /// Every pair of neighbors, head to foot.
    pub fn joints(&self) -> Vec<Place> {
        self.order.windows(2).map(|pair| Place::two(pair[0], pair[1])).collect()
    }

    /// True where a disc lies between two neighbors: everywhere but above the second neck vertebra.
    pub fn has_disc(&self, place: &Place) -> bool {
        let first = self.levels.cervical.get(1).map(String::as_str);
        let (upper, lower) =
            (self.position(&place.upper), place.lower.as_deref().and_then(|l| self.position(l)));
        upper.zip(lower).is_some_and(|(u, l)| u + 1 == l) && upper >= first.and_then(|l| self.position(l))
    }

    /// Place from the head down of a level as the tables write it.
    pub fn position(&self, level: &str) -> Option<usize> {
        self.order.iter().position(|known| *known == level)
    }

    fn is_letter(&self, letter: char) -> bool {
        self.order.iter().any(|level| level.starts_with(letter))
    }

    /// Reads a text as one level or two.
    pub fn read(&self, text: &str, used_for: Use) -> Reading {
        match self.parts(text).as_deref() {
            Some([Part::Level(letter, digits)]) => self.read_run(*letter, digits, used_for),
            Some(
                [Part::Level(upper, first), Part::Break, Part::Level(lower, second)]
                | [Part::Level(upper, first), Part::Level(lower, second)],
            ) => self.read_two(&format!("{upper}{first}"), &format!("{lower}{second}"), used_for),
            Some([Part::Level(letter, first), Part::Break, Part::Number(second)]) => {
                self.read_two(&format!("{letter}{first}"), &format!("{letter}{second}"), used_for)
            }
            _ => Reading::Refused(Fault::Unreadable),
        }
    }

    /// One letter and digits: every reading that exists.
    fn read_run(&self, letter: char, digits: &str, used_for: Use) -> Reading {
        let known = |number: &str| self.position(&format!("{letter}{number}"));
        let mut readings: Vec<Place> = Vec::new();
        readings.extend(known(digits).map(|at| Place::one(self.order[at])));
        for cut in 1..digits.len() {
            let (first, second) = digits.split_at(cut);
            if let (Some(upper), Some(lower)) = (known(first), known(second))
                && upper + 1 == lower
            {
                readings.push(Place::two(self.order[upper], self.order[lower]));
            }
        }
        match readings.len() {
            0 => Reading::Refused(Fault::NoSuchLevel),
            1 => {
                readings.pop().map_or(Reading::Refused(Fault::NoSuchLevel), |one| self.usable(one, used_for))
            }
            _ => Reading::Ask(readings),
        }
    }

    fn read_two(&self, first: &str, second: &str, used_for: Use) -> Reading {
        let (Some(first), Some(second)) = (self.position(first), self.position(second)) else {
            return Reading::Refused(Fault::NoSuchLevel);
        };
        let (upper, lower) = (first.min(second), first.max(second));
        if upper == lower || (used_for != Use::Span && upper + 1 != lower) {
            return Reading::Refused(Fault::NotAdjacent);
        }
        self.usable(Place::two(self.order[upper], self.order[lower]), used_for)
    }

    fn usable(&self, place: Place, used_for: Use) -> Reading {
        if used_for == Use::Disc && place.lower.is_some() && !self.has_disc(&place) {
            return Reading::Refused(Fault::NoDisc);
        }
        Reading::Reads(place)
    }

    /// The text in letters with digits, breaks and bare numbers; none where anything else is in it.
    fn parts(&self, text: &str) -> Option<Vec<Part>> {
        let flat: String = text.chars().filter(|c| !c.is_whitespace()).collect();
        let mut rest = flat.to_ascii_uppercase();
        let mut parts = Vec::new();
        while let Some(first) = rest.chars().next() {
            if matches!(first, '-' | '/' | '\u{2013}') {
                rest = rest.split_off(first.len_utf8());
                parts.push(Part::Break);
                continue;
            }
            let letter = match self.spelled(&rest) {
                Some((name, known)) => {
                    rest = format!("{known}{}", rest.split_off(name));
                    rest.chars().next()
                }
                None => first.is_ascii_alphabetic().then_some(first),
            };
            if let Some(letter) = letter {
                if !self.is_letter(letter) {
                    return None;
                }
                rest = rest.split_off(letter.len_utf8());
            }
            let end = rest.find(|c: char| !c.is_ascii_digit()).unwrap_or(rest.len());
            let after = rest.split_off(end);
            if rest.is_empty() {
                return None;
            }
            parts.push(letter.map_or(Part::Number(rest.clone()), |letter| Part::Level(letter, rest)));
            rest = after;
        }
        Some(parts)
    }

    /// The longest other name the text begins with: its length, and what it stands for.
    fn spelled(&self, text: &str) -> Option<(usize, &str)> {
        let names = self.levels.other_names.iter().flat_map(|(known, names)| {
            names.iter().map(move |name| (known.as_str(), name.split('(').next().unwrap_or_default().trim()))
        });
        names
            .filter(|(_, name)| {
                let begin = text.get(..name.len());
                !name.is_empty() && begin.is_some_and(|begin| begin.eq_ignore_ascii_case(name))
            })
            .max_by_key(|(_, name)| name.len())
            .map(|(known, name)| (name.len(), known))
    }
}

#[derive(Debug, Clone, PartialEq, Eq)]
enum Part {
    Level(char, String),
    Number(String),
    Break,
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn read(text: &str, used_for: Use, transitional: bool) -> String {
        match Spine::new(Levels::shipped().unwrap(), transitional).read(text, used_for) {
            Reading::Reads(place) => place.to_string(),
            Reading::Ask(places) => {
                format!("ask {}", places.iter().map(Place::to_string).collect::<Vec<_>>().join(" or "))
            }
            Reading::Refused(fault) => fault.word().to_owned(),
        }
    }

    fn all(rows: &[(&str, &str)], used_for: Use, transitional: bool) {
        for (text, meaning) in rows {
            assert_eq!(read(text, used_for, transitional), *meaning, "{text}");
        }
    }

    /// Common practice of the trade for the run-together forms; CMS Pub. 100-02 ch. 15, 240.1.4 for the
    /// levels and for Occ, CO and D.
    #[test]
    fn the_shorthand_of_the_trade() {
        let rows = [
            ("C5-6", "C5-C6"),
            ("C5/6", "C5-C6"),
            ("c5\u{2013}c6", "C5-C6"),
            (" c 5 - 6 ", "C5-C6"),
            ("C5C6", "C5-C6"),
            ("C6-5", "C5-C6"),
            ("c56", "C5-C6"),
            ("C12", "C1-C2"),
            ("T910", "T9-T10"),
            ("T1112", "T11-T12"),
            ("T12", "ask T12 or T1-T2"),
            ("D12", "ask T12 or T1-T2"),
            ("D11", "T11"),
            ("T1/D2", "T1-T2"),
            ("T12-L1", "T12-L1"),
            ("L1T12", "T12-L1"),
            ("C01", "C0-C1"),
            ("C0", "C0"),
            ("occ", "C0"),
            ("occiput", "C0"),
            ("CO", "C0"),
            ("occC1", "C0-C1"),
            ("OCC-1", "C0-C1"),
            ("occiput/C1", "C0-C1"),
            ("S1", "S1"),
            ("L5/S1", "L5-S1"),
        ];
        all(&rows, Use::Adjust, false);
    }

    /// The project's own rule, read strictly: a level nobody wrote is never guessed.
    #[test]
    fn what_is_no_level_is_refused() {
        let rows = [
            ("C8", "no_such_level"),
            ("L6", "no_such_level"),
            ("T13", "no_such_level"),
            ("T0", "no_such_level"),
            ("S2", "no_such_level"),
            ("L56", "no_such_level"),
            ("C05", "no_such_level"),
            ("C05-6", "no_such_level"),
            ("C012", "no_such_level"),
            ("C7-8", "no_such_level"),
            ("C56-7", "no_such_level"),
            ("T99999999999999999999999", "no_such_level"),
            ("C5-C5", "not_adjacent"),
            ("C3-C5", "not_adjacent"),
            ("T12-1", "not_adjacent"),
            ("C5-T6", "not_adjacent"),
            ("", "unreadable"),
            (" ", "unreadable"),
            ("-", "unreadable"),
            ("C", "unreadable"),
            ("C-5", "unreadable"),
            ("C5-", "unreadable"),
            ("-C5", "unreadable"),
            ("C5--6", "unreadable"),
            ("C5-6-7", "unreadable"),
            ("C5C6C7", "unreadable"),
            ("5-6", "unreadable"),
            ("5-C6", "unreadable"),
            ("X5", "unreadable"),
            ("C8-X5", "unreadable"),
            ("CC5", "unreadable"),
            ("C5 neck", "unreadable"),
            ("C\u{0665}", "unreadable"),
        ];
        all(&rows, Use::Adjust, false);
    }

    #[test]
    fn a_sixth_lumbar_vertebra_only_where_the_chart_flags_it() {
        let rows = [
            ("L6", "L6"),
            ("L56", "L5-L6"),
            ("L6S1", "L6-S1"),
            ("L5S1", "not_adjacent"),
            ("L7", "no_such_level"),
        ];
        all(&rows, Use::Adjust, true);
    }

    #[test]
    fn stretches_and_discs() {
        all(
            &[("C3-5", "C3-C5"), ("occ-C2", "C0-C2"), ("L2-T12", "T12-L2"), ("C5-5", "not_adjacent")],
            Use::Span,
            false,
        );
        let discs = [("C12", "no_disc"), ("occ-C1", "no_disc"), ("C0-2", "not_adjacent"), ("C23", "C2-C3")];
        all(&discs, Use::Disc, false);
    }

    #[test]
    fn joints_and_discs_are_as_many_as_the_tables_say_and_each_has_its_word() {
        let levels = Levels::shipped().unwrap();
        let spine = Spine::new(levels, false);
        let joints = spine.joints();
        assert_eq!(joints.len(), levels.joints);
        assert_eq!(joints.iter().filter(|joint| spine.has_disc(joint)).count(), levels.discs);
        let segments: Vec<Segment> = joints.iter().filter_map(Place::segment).collect();
        let ordered: Vec<Segment> = Segment::ALL.iter().copied().filter(|s| s.order().is_some()).collect();
        assert_eq!(segments, ordered);
    }

    proptest! {
        #[test]
        fn no_text_is_too_odd(text in ".{0,24}", near in "[CcTtDdLlSsOo0-9/ \u{2013}-]{0,9}") {
            let spine = Spine::new(Levels::shipped().unwrap(), true);
            for used_for in [Use::Adjust, Use::Span, Use::Disc] {
                for text in [&text, &near] {
                    // What is read, written out, is read as the same again.
                    if let Reading::Reads(place) = spine.read(text, used_for)
                        && place.lower.is_some()
                    {
                        prop_assert_eq!(spine.read(&place.to_string(), used_for), Reading::Reads(place));
                    }
                }
            }
        }
    }

    /// A disc lies between two neighbors from C2-C3 down (the tables: 23 of them).
    #[test]
    fn a_single_level_and_a_stretch_have_no_disc() {
        let spine = Spine::new(Levels::shipped().unwrap(), false);
        assert!(spine.has_disc(&Place::two("C2", "C3")) && spine.has_disc(&Place::two("L5", "S1")));
        for none in [
            Place::two("C0", "C1"),
            Place::two("C1", "C2"),
            Place::two("C2", "C4"),
            Place::two("C4", "C3"),
            Place::two("C3", "C3"),
            Place::two("C3", "X4"),
            Place::two("X3", "C4"),
            Place::one("C5"),
        ] {
            assert!(!spine.has_disc(&none), "{none}");
        }
    }

    /// The words of the rule (the given checks of levels), and what a person is told.
    #[test]
    fn each_use_has_its_word_and_each_fault_says_what_is_wrong() {
        let uses = [("adjust", Use::Adjust), ("span", Use::Span), ("disc", Use::Disc)];
        for (word, used_for) in uses {
            assert_eq!(Use::from_word(word), Some(used_for));
        }
        assert_eq!(Use::from_word("thrust"), None);
        for (fault, word, says) in [
            (Fault::NoSuchLevel, "no_such_level", "C1 to C7, T1 to T12, L1 to L5 and S1"),
            (Fault::NotAdjacent, "not_adjacent", "two neighbors"),
            (Fault::NoDisc, "no_disc", "the first lies between C2 and C3"),
            (Fault::Unreadable, "unreadable", "write one like C5 or two like C5-6"),
        ] {
            assert_eq!(fault.word(), word);
            assert!(fault.to_string().contains(says), "{fault}");
        }
    }

    /// Records have a word for each joint of the usual spine and for no other pair (the project's fixed table).
    #[test]
    fn only_two_neighbors_are_a_segment() {
        assert_eq!(Place::two("C5", "C6").segment(), Some(Segment::C5C6));
        for none in [Place::one("C5"), Place::two("C5", "C7"), Place::two("L5", "L6"), Place::two("L6", "S1")]
        {
            assert_eq!(none.segment(), None, "{none}");
        }
    }
}

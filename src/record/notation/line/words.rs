//! The words of the line form and what each can mean. Case, hyphens and spaces within a word do not matter:
//! `soft tissue`, `soft-tissue` and `SOFTTISSUE` are one word.

use crate::record::kinds::finding::{FindingKind, TestResult};
use crate::record::kinds::procedure::ResponseWord;
use crate::record::kinds::screening::{MeasureKind, Phase};
use crate::record::kinds::visit::CheckQuestion;
use crate::record::notation::structure::{RibPart, STRUCTURES, Structure};
use crate::record::vocab::{Glove, Region, Side, Technique};
use std::collections::BTreeMap;
use std::sync::OnceLock;

/// One thing a word can mean. Which of several is meant follows from the sort of line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Meaning {
    Structure(&'static Structure),
    Rib(RibPart),
    Si,
    Region(Region),
    Side(Side),
    Technique(Technique),
    /// "adjust": by hand or with an instrument?
    Adjust,
    /// A kind of finding, with the words that say more of it.
    Kind(FindingKind, Option<&'static str>),
    Direction(&'static str),
    Result(TestResult),
    Response(ResponseWord),
    Position(&'static str),
    Glove(Glove),
    FreshPair(bool),
    Product(&'static str),
    Sound(bool),
    Phase(Phase),
    Measure(MeasureKind),
    /// A questionnaire by its name.
    Score(&'static str),
    Question(CheckQuestion),
    Check,
    Deferred,
    Grade,
    Vertebra,
    Active(bool),
}

/// What a phrase can mean, by its letters alone.
pub(super) type Dictionary = BTreeMap<String, (String, Vec<Meaning>)>;

/// The most words one phrase has.
pub(super) const LONGEST: usize = 4;

/// A phrase without what does not matter.
pub(super) fn key(phrase: &str) -> String {
    phrase.chars().filter(|c| !matches!(c, '-' | ' ' | '/' | ':')).flat_map(char::to_lowercase).collect()
}

/// The dictionary.
pub(super) fn dictionary() -> &'static Dictionary {
    static WORDS: OnceLock<Dictionary> = OnceLock::new();
    WORDS.get_or_init(|| {
        let mut all = Dictionary::new();
        let mut put = |phrase: &str, meaning: Meaning| {
            let entry = all.entry(key(phrase)).or_insert_with(|| (phrase.to_owned(), Vec::new()));
            if !entry.1.contains(&meaning) {
                entry.1.push(meaning);
            }
        };
        closed(&mut put);
        places(&mut put);
        for (phrase, meaning) in found().into_iter().chain(done()).chain(measured()) {
            put(phrase, meaning);
        }
        all
    })
}

/// The words records use themselves.
fn closed(put: &mut impl FnMut(&str, Meaning)) {
    Technique::ALL.iter().for_each(|t| put(t.word(), Meaning::Technique(*t)));
    Region::ALL.iter().for_each(|r| put(r.word(), Meaning::Region(*r)));
    Side::ALL.iter().for_each(|s| put(s.word(), Meaning::Side(*s)));
    Glove::ALL.iter().for_each(|g| put(g.word(), Meaning::Glove(*g)));
    FindingKind::ALL.iter().for_each(|k| put(k.word(), Meaning::Kind(*k, None)));
    TestResult::ALL.iter().for_each(|r| put(r.word(), Meaning::Result(*r)));
    ResponseWord::ALL.iter().for_each(|r| put(r.word(), Meaning::Response(*r)));
    Phase::ALL.iter().for_each(|p| put(p.word(), Meaning::Phase(*p)));
    MeasureKind::ALL.iter().for_each(|k| put(k.word(), Meaning::Measure(*k)));
    CheckQuestion::ALL.iter().for_each(|q| put(q.word(), Meaning::Question(*q)));
}

fn places(put: &mut impl FnMut(&str, Meaning)) {
    for structure in STRUCTURES {
        structure.words.iter().for_each(|word| put(word, Meaning::Structure(structure)));
    }
    for part in RibPart::ALL {
        put(part.word(), Meaning::Rib(*part));
    }
    for word in ["SI", "SIJ", "SI joint", "sacroiliac joint"] {
        put(word, Meaning::Si);
    }
    let regions = [
        ("neck", Region::Cervical),
        ("low back", Region::Lumbar),
        ("lower back", Region::Lumbar),
        ("mid back", Region::Thoracic),
        ("upper back", Region::Thoracic),
        ("glutes", Region::Gluteal),
        ("floor of mouth", Region::MouthFloor),
        ("floor of the mouth", Region::MouthFloor),
        ("cheek", Region::InsideCheek),
    ];
    regions.into_iter().for_each(|(word, region)| put(word, Meaning::Region(region)));
    let sides = [("L", Side::Left), ("R", Side::Right), ("bilateral", Side::Both), ("mid", Side::Midline)];
    sides.into_iter().for_each(|(word, side)| put(word, Meaning::Side(side)));
    put("vertebra", Meaning::Vertebra);
}

/// Words for what is found. Those with words of their own say more than the kind.
fn found() -> Vec<(&'static str, Meaning)> {
    use FindingKind::*;
    let plain = |kind| Meaning::Kind(kind, None);
    let more = |kind, words| Meaning::Kind(kind, Some(words));
    let mut all = vec![
        ("tender", plain(Tenderness)),
        ("restricted", plain(MotionRestriction)),
        ("restriction", plain(MotionRestriction)),
        ("hypomobile", plain(MotionRestriction)),
        ("hypermobile", more(Other, "hypermobile")),
        ("tight", more(Tone, "tight")),
        ("hypertonic", more(Tone, "hypertonic")),
        ("spasm", more(Tone, "spasm")),
        ("guarding", more(Tone, "guarding")),
        ("TrP", plain(TriggerPoint)),
        ("swollen", plain(Swelling)),
        ("warm", more(Temperature, "warm")),
        ("cold", more(Temperature, "cold")),
        ("asymmetric", plain(Asymmetry)),
        ("ROM", plain(RangeOfMotion)),
        ("numb", more(Sensation, "numb")),
        ("tingling", more(Sensation, "tingling")),
        ("ortho", plain(OrthoTest)),
        ("neuro", plain(NeuroTest)),
        ("sound", plain(JointSound)),
        ("click", more(JointSound, "click")),
        ("pop", more(JointSound, "pop")),
        ("crepitus", more(JointSound, "crepitus")),
        ("opening", plain(MouthOpening)),
        ("lateral", plain(LateralMovement)),
        ("pos", Meaning::Result(TestResult::Positive)),
        ("neg", Meaning::Result(TestResult::Negative)),
    ];
    for word in DIRECTIONS {
        all.push((word, Meaning::Direction(word)));
    }
    all.push(("lateral flexion", Meaning::Direction("side-bending")));
    all.push(("PA", Meaning::Direction("P-A")));
    all
}

/// Directions of movement and of force.
pub(super) const DIRECTIONS: &[&str] = &[
    "flexion",
    "extension",
    "rotation",
    "side-bending",
    "glide",
    "lateral",
    "medial",
    "P-A",
    "A-P",
    "anterior",
    "posterior",
    "superior",
    "inferior",
    "distraction",
];

/// Words for what is done, and how it is borne.
fn done() -> Vec<(&'static str, Meaning)> {
    use Meaning::{Position, Product, Response};
    let technique = Meaning::Technique;
    vec![
        ("exam", technique(Technique::Examination)),
        ("soft", technique(Technique::SoftTissue)),
        ("mob", technique(Technique::Mobilization)),
        ("mobilisation", technique(Technique::Mobilization)),
        ("HVLA", technique(Technique::Thrust)),
        ("instrument", technique(Technique::InstrumentAdjust)),
        ("intra oral", technique(Technique::Intraoral)),
        ("inside mouth", technique(Technique::Intraoral)),
        ("needle", technique(Technique::Needling)),
        ("tape", technique(Technique::Taping)),
        ("adjust", Meaning::Adjust),
        ("adj", Meaning::Adjust),
        ("adjustment", Meaning::Adjust),
        ("manipulation", Meaning::Adjust),
        ("seated", Position("seated")),
        ("sitting", Position("seated")),
        ("supine", Position("face-up")),
        ("face up", Position("face-up")),
        ("prone", Position("face-down")),
        ("face down", Position("face-down")),
        ("side lying", Position("side-lying")),
        ("standing", Position("standing")),
        ("fresh", Meaning::FreshPair(true)),
        ("fresh pair", Meaning::FreshPair(true)),
        ("same pair", Meaning::FreshPair(false)),
        ("lotion", Product("lotion")),
        ("oil", Product("oil")),
        ("cream", Product("cream")),
        ("cav", Meaning::Sound(true)),
        ("cavitation", Meaning::Sound(true)),
        ("no cav", Meaning::Sound(false)),
        ("no cavitation", Meaning::Sound(false)),
        ("ok", Response(ResponseWord::Tolerated)),
        ("tolerated well", Response(ResponseWord::Tolerated)),
        ("better", Response(ResponseWord::Relieved)),
        ("eased", Response(ResponseWord::Relieved)),
        ("same", Response(ResponseWord::NoChange)),
        ("deferred", Meaning::Deferred),
        ("not done", Meaning::Deferred),
        ("check", Meaning::Check),
        ("grade", Meaning::Grade),
        ("gr", Meaning::Grade),
    ]
}

/// Words for what is measured.
fn measured() -> Vec<(&'static str, Meaning)> {
    use MeasureKind as M;
    let kinds = [
        ("pain", M::PainNow),
        ("worst pain", M::PainWorst),
        ("best pain", M::PainBest),
        ("opening", M::MouthOpening),
        ("opening pain free", M::MouthOpeningPainFree),
        ("pain free opening", M::MouthOpeningPainFree),
        ("opening unassisted", M::MouthOpeningUnassisted),
        ("unassisted opening", M::MouthOpeningUnassisted),
        ("opening assisted", M::MouthOpeningAssisted),
        ("assisted opening", M::MouthOpeningAssisted),
        ("lateral", M::JawLateral),
        ("lateral movement", M::JawLateral),
        ("protrusion", M::JawProtrusion),
        ("deviation", M::JawDeviation),
        ("deflection", M::JawDeflection),
        ("SLR", M::StraightLegRaise),
        ("BP", M::BloodPressure),
        ("resp", M::Respiration),
        ("temp", M::Temperature),
        ("SpO2", M::OxygenSaturation),
    ];
    let mut all: Vec<(&str, Meaning)> = kinds.into_iter().map(|(w, k)| (w, Meaning::Measure(k))).collect();
    all.push(("NDI", Meaning::Score("NDI")));
    all.push(("active", Meaning::Active(true)));
    all.push(("passive", Meaning::Active(false)));
    all
}

/// The known words nearest to one that is not, at most three, nearest first.
pub(super) fn near(word: &str) -> Vec<&'static str> {
    let word = key(word);
    let most = if word.chars().count() > 5 { 2 } else { 1 };
    let mut found: Vec<(usize, &str)> = dictionary()
        .iter()
        .filter(|(known, _)| known.chars().count() > 2)
        .map(|(known, (shown, _))| (distance(known, &word), shown.as_str()))
        .filter(|(far, _)| *far <= most)
        .collect();
    found.sort();
    found.into_iter().map(|(_, shown)| shown).take(3).collect()
}

/// How many letters must be changed, put in or taken out to make one word of the other.
fn distance(one: &str, other: &str) -> usize {
    let other: Vec<char> = other.chars().collect();
    let mut row: Vec<usize> = (0..=other.len()).collect();
    for (i, a) in one.chars().enumerate() {
        let mut diagonal = row[0];
        row[0] = i + 1;
        for (j, b) in other.iter().enumerate() {
            let changed = diagonal + usize::from(a != *b);
            diagonal = row[j + 1];
            row[j + 1] = changed.min(diagonal + 1).min(row[j] + 1);
        }
    }
    row[other.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_phrase_is_never_longer_than_is_looked_for_and_never_two_structures() {
        for (phrase, meanings) in dictionary().values() {
            assert!(phrase.split([' ', '-']).count() <= LONGEST, "{phrase}");
            let structures = meanings.iter().filter(|m| matches!(m, Meaning::Structure(_))).count();
            let regions = meanings.iter().filter(|m| matches!(m, Meaning::Region(_))).count();
            assert!(structures + regions <= 1, "{phrase}");
            let techniques = meanings.iter().filter(|m| matches!(m, Meaning::Technique(_) | Meaning::Adjust));
            assert!(techniques.count() <= 1, "{phrase}");
        }
    }

    #[test]
    fn near_words_are_offered() {
        assert_eq!(near("maseter"), ["masseter"]);
        assert_eq!(near("tendr"), ["tender"]);
        assert!(near("umberlow").is_empty());
    }

    /// Of a word of five letters one may be wrong, and a word of two is too short to be guessed.
    #[test]
    fn what_is_not_near_enough_is_not_offered() {
        assert_eq!(near("clidk"), ["click"]);
        assert_eq!(near("tendxx"), ["tender"]);
        assert!(near("texxxx").is_empty() && near("soff") == ["soft"]);
        assert!(near("cledk").is_empty());
        assert!(near("bx").is_empty(), "{:?}", near("bx"));
    }

    /// Levenshtein's distance, with the usual examples (common practice).
    #[test]
    fn letters_changed_put_in_and_taken_out_are_counted() {
        for (one, other, far) in [
            ("kitten", "sitting", 3),
            ("saturday", "sunday", 3),
            ("flaw", "lawn", 2),
            ("tender", "tender", 0),
            ("click", "", 5),
            ("", "click", 5),
        ] {
            assert_eq!(distance(one, other), far, "{one}, {other}");
        }
    }
}

//! What a single word of a short line can mean.

use crate::record::kinds::visit::CheckQuestion;
use crate::record::kinds::withdrawal::{AskedAnswer, How, PauseKind};
use crate::record::notation::segment::{NoSegment, read_segment};
use crate::record::vocab::{Region, Segment, Side, Technique};

/// Which line is read: it decides which words are understood.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Grammar {
    /// Asked just now, and the answer.
    Asked,
    /// A pause, a stop, or going on.
    Pause,
    /// A consent is taken back.
    Withdraw,
    /// A number given in the visit.
    Number,
}

/// One meaning of one word.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Reading {
    /// Every technique, everywhere.
    All,
    /// A technique.
    Technique(Technique),
    /// A region.
    Region(Region),
    /// A side.
    Side(Side),
    /// A segment of the spine, the SI joint or a rib.
    Segment(Segment),
    /// An answer.
    Answer(AskedAnswer),
    /// How it was expressed.
    How(How),
    /// Pause, stop or going on.
    Pause(PauseKind),
    /// What a number answers.
    Question(CheckQuestion),
    /// A number from 0 to 10.
    Number(u8),
    /// A decision-maker of the chart.
    By(String),
    /// What was said.
    Said(String),
}

impl Reading {
    /// The word as it is written in a record.
    pub fn word(&self) -> String {
        match self {
            Reading::All => "all".to_string(),
            Reading::Technique(word) => word.word().to_string(),
            Reading::Region(word) => word.word().to_string(),
            Reading::Side(word) => word.word().to_string(),
            Reading::Segment(word) => word.word().to_string(),
            Reading::Answer(word) => word.word().to_string(),
            Reading::How(word) => word.word().to_string(),
            Reading::Pause(word) => word.word().to_string(),
            Reading::Question(word) => word.word().to_string(),
            Reading::Number(number) => number.to_string(),
            Reading::By(by) => by.clone(),
            Reading::Said(said) => said.clone(),
        }
    }
}

/// Other ways in which the trade writes a region; several where it leaves open which.
const REGION_NAMES: &[(&str, &[Region])] = &[
    ("neck", &[Region::Cervical, Region::NeckJoints, Region::NeckBack, Region::NeckFront]),
    ("back", &[Region::Thoracic, Region::Lumbar, Region::Spine]),
    ("low-back", &[Region::Lumbar]),
    ("mid-back", &[Region::Thoracic]),
    ("tmj", &[Region::JawJoint]),
    ("cheek", &[Region::InsideCheek, Region::JawMuscles]),
    ("arm", &[Region::UpperLimb]),
    ("leg", &[Region::LowerLimb]),
];

/// Shorter ways of writing a technique.
const TECHNIQUE_NAMES: &[(&str, &[Technique])] = &[
    ("mob", &[Technique::Mobilization]),
    ("mobilisation", &[Technique::Mobilization]),
    ("exam", &[Technique::Examination]),
    ("adjust", &[Technique::Thrust, Technique::InstrumentAdjust]),
    ("adjustment", &[Technique::Thrust, Technique::InstrumentAdjust]),
    ("mouth-work", &[Technique::Intraoral]),
];

const SIDE_NAMES: &[(&str, Side)] = &[
    ("l", Side::Left),
    ("lt", Side::Left),
    ("r", Side::Right),
    ("rt", Side::Right),
    ("b", Side::Both),
    ("bilateral", Side::Both),
    ("mid", Side::Midline),
    ("centre", Side::Midline),
    ("center", Side::Midline),
];

const HOW_NAMES: &[(&str, How)] = &[
    ("hand", How::RaisedHand),
    ("hand-raised", How::RaisedHand),
    ("signal", How::StopSignal),
    ("phone", How::Telephone),
];

/// The fewest letters a word is completed from.
const COMPLETED_FROM: usize = 3;

/// Everything a word can mean in this line: as it is written in records, else by another name, else
/// as the beginning of a word. None: it is not known.
pub fn readings(grammar: Grammar, word: &str) -> Vec<Reading> {
    let lower = word.to_ascii_lowercase();
    let exact = exact(grammar, word, &lower);
    if !exact.is_empty() {
        return exact;
    }
    let named = named(grammar, &lower);
    if !named.is_empty() {
        return named;
    }
    if lower.chars().count() < COMPLETED_FROM { Vec::new() } else { beginning(grammar, &lower) }
}

fn places_named(grammar: Grammar) -> bool {
    matches!(grammar, Grammar::Asked | Grammar::Withdraw)
}

fn exact(grammar: Grammar, word: &str, lower: &str) -> Vec<Reading> {
    let mut found = Vec::new();
    if places_named(grammar) {
        found.extend(Technique::from_word(lower).map(Reading::Technique));
        found.extend(Region::from_word(lower).map(Reading::Region));
        found.extend(Side::from_word(lower).map(Reading::Side));
        found.extend(segment(word).map(Reading::Segment));
    }
    match grammar {
        Grammar::Asked => found.extend(AskedAnswer::from_word(lower).map(Reading::Answer)),
        Grammar::Withdraw => {
            found.extend(How::from_word(lower).map(Reading::How));
            if lower == "all" {
                found.push(Reading::All);
            }
            // The word most often said, which a shell hands over without its quotation marks.
            if lower == "stop" {
                found.push(Reading::Said("stop".to_string()));
            }
        }
        Grammar::Pause => {
            found.extend(PauseKind::from_word(lower).map(Reading::Pause));
            found.extend(How::from_word(lower).map(Reading::How));
            found.extend(AskedAnswer::from_word(lower).filter(whole_yes).map(Reading::Answer));
        }
        Grammar::Number => {
            found.extend(CheckQuestion::from_word(lower).map(Reading::Question));
            found.extend(number(lower).map(Reading::Number));
        }
    }
    if grammar != Grammar::Number && is_decision_maker(lower) {
        found.push(Reading::By(lower.to_string()));
    }
    found
}

/// A limit has no place behind a pause.
fn whole_yes(answer: &AskedAnswer) -> bool {
    *answer != AskedAnswer::YesWithLimit
}

/// A number from 0 to 10, alone or as `4/10`.
fn number(word: &str) -> Option<u8> {
    let digits = word.strip_suffix("/10").unwrap_or(word);
    let plain = !digits.is_empty() && digits.len() <= 2 && digits.bytes().all(|b| b.is_ascii_digit());
    plain.then(|| digits.parse().ok()).flatten().filter(|n| *n <= 10)
}

fn is_decision_maker(lower: &str) -> bool {
    lower
        .strip_prefix("dm-")
        .is_some_and(|rest| (1..=12).contains(&rest.len()) && rest.bytes().all(|b| b.is_ascii_alphanumeric()))
}

fn named(grammar: Grammar, lower: &str) -> Vec<Reading> {
    let mut found = Vec::new();
    if places_named(grammar) {
        for (_, regions) in REGION_NAMES.iter().filter(|(name, _)| *name == lower) {
            found.extend(regions.iter().map(|region| Reading::Region(*region)));
        }
        for (_, techniques) in TECHNIQUE_NAMES.iter().filter(|(name, _)| *name == lower) {
            found.extend(techniques.iter().map(|technique| Reading::Technique(*technique)));
        }
        found.extend(pick(SIDE_NAMES, lower).map(Reading::Side));
    }
    match grammar {
        Grammar::Asked | Grammar::Pause => {
            let answer = match lower {
                "y" => Some(AskedAnswer::Yes),
                "n" => Some(AskedAnswer::No),
                "limit" | "yes-but" if grammar == Grammar::Asked => Some(AskedAnswer::YesWithLimit),
                _ => None,
            };
            found.extend(answer.map(Reading::Answer));
            if grammar == Grammar::Pause && ["resume", "go-on", "going-on"].contains(&lower) {
                found.push(Reading::Pause(PauseKind::Resumed));
            }
        }
        Grammar::Withdraw if ["everything", "everywhere"].contains(&lower) => found.push(Reading::All),
        _ => {}
    }
    if matches!(grammar, Grammar::Withdraw | Grammar::Pause) {
        found.extend(pick(HOW_NAMES, lower).map(Reading::How));
    }
    found
}

fn pick<T: Copy>(names: &[(&str, T)], lower: &str) -> Option<T> {
    names.iter().find(|(name, _)| *name == lower).map(|(_, value)| *value)
}

/// Words that begin so. An answer is never completed: it is said in full.
fn beginning(grammar: Grammar, lower: &str) -> Vec<Reading> {
    fn begin<'a, T: Copy>(
        all: &'a [T],
        word: fn(T) -> &'static str,
        lower: &'a str,
    ) -> impl Iterator<Item = T> {
        all.iter().copied().filter(move |one| word(*one).starts_with(lower))
    }
    let mut found = Vec::new();
    if places_named(grammar) {
        found.extend(begin(Technique::ALL, Technique::word, lower).map(Reading::Technique));
        found.extend(begin(Region::ALL, Region::word, lower).map(Reading::Region));
        found.extend(begin(Side::ALL, Side::word, lower).map(Reading::Side));
    }
    match grammar {
        Grammar::Withdraw => found.extend(begin(How::ALL, How::word, lower).map(Reading::How)),
        Grammar::Pause => {
            found.extend(begin(PauseKind::ALL, PauseKind::word, lower).map(Reading::Pause));
            found.extend(begin(How::ALL, How::word, lower).map(Reading::How));
        }
        Grammar::Number => {
            found.extend(begin(CheckQuestion::ALL, CheckQuestion::word, lower).map(Reading::Question));
        }
        Grammar::Asked => {}
    }
    found
}

/// The segment a word names.
fn segment(word: &str) -> Option<Segment> {
    // A word of letters alone is never a segment here, but for the joint of sacrum and ilium.
    let written = word.chars().any(|c| c.is_ascii_digit()) || word.eq_ignore_ascii_case("si");
    written.then(|| read_segment(word).ok()).flatten()
}

/// The level and the segment that a word could be, where it could be both: T12 is a vertebra, and T1-T2. No
/// line keeps a single vertebra, so that there is nothing to choose: it has to be written out.
pub fn level_or_segment(grammar: Grammar, word: &str) -> Option<Vec<String>> {
    match read_segment(word) {
        Err(NoSegment::Several(places)) if places_named(grammar) => {
            Some(places.iter().map(ToString::to_string).collect())
        }
        _ => None,
    }
}

/// The regions a segment can be named for when no region was named. Neighbours share the segment
/// between them, so there may be two.
pub fn regions_of(segment: Segment) -> Vec<Region> {
    use Region::{Cervical, Lumbar, RibSpineJoints, Ribs, Sacral, Sacroiliac, Thoracic};
    match segment {
        Segment::Si => vec![Sacroiliac],
        ordered if ordered.order().is_some() => {
            [Cervical, Thoracic, Lumbar, Sacral].into_iter().filter(|region| region.holds(ordered)).collect()
        }
        _ => vec![Ribs, RibSpineJoints],
    }
}

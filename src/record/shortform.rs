//! The short lines of a visit: `thrust cervical right yes`, `C5-6 R thrust yes`, `intraoral left "says stop"`.
//!
//! The order of the words does not matter. A word that could mean several things is never decided here:
//! it comes back with its readings. What was said stands in one word with a space in it, or behind
//! `says`. Printing a line that was understood and reading it again gives the same.

mod reading;
#[cfg(test)]
mod tests;

pub use reading::{Grammar, Reading};

use super::kinds::visit::CheckQuestion;
use super::kinds::withdrawal::{AskedAnswer, How, PauseKind};
use super::vocab::{Region, Segment, Side, Technique};

/// What a short line says, as far as it was understood.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Short {
    /// Techniques named.
    pub techniques: Vec<Technique>,
    /// Regions named, or told by what else was named.
    pub regions: Vec<Region>,
    /// Segments named.
    pub segments: Vec<Segment>,
    /// True when the line says `all`.
    pub all: bool,
    /// Side named.
    pub side: Option<Side>,
    /// The answer.
    pub answer: Option<AskedAnswer>,
    /// How it was expressed.
    pub how: Option<How>,
    /// Pause, stop or going on.
    pub pause: Option<PauseKind>,
    /// What a number answers.
    pub question: Option<CheckQuestion>,
    /// The number, 0 to 10.
    pub number: Option<u8>,
    /// Short name of a decision-maker who spoke: `dm-1`.
    pub by: Option<String>,
    /// What was said.
    pub said: Option<String>,
}

/// Why a word of a line does not count yet.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Doubt {
    /// Nothing known here is written so.
    NotUnderstood(String),
    /// It could mean any of these.
    Several {
        /// The word, or the segment a region has to be found for.
        word: String,
        /// What it could mean.
        readings: Vec<Reading>,
    },
    /// It could be a single vertebra or a segment, and has to be written out.
    LevelOrSegment {
        /// The word.
        word: String,
        /// The level, and the segment.
        readings: Vec<String>,
    },
    /// One thing was named twice, differently.
    Twice {
        /// The reading that counts so far.
        first: Reading,
        /// The other one.
        second: Reading,
    },
}

/// A line read: what was understood, and what was not.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Parsed {
    /// What was understood.
    pub short: Short,
    /// What was not, in the order of the words.
    pub doubts: Vec<Doubt>,
}

/// Reads the words of a line. It never fails: what is not understood is among the doubts.
pub fn parse<S: AsRef<str>>(grammar: Grammar, words: &[S]) -> Parsed {
    let mut parsed = Parsed::default();
    for (index, word) in words.iter().enumerate() {
        let word = word.as_ref().trim();
        if word.is_empty() {
            continue;
        }
        if is_says(word) {
            let rest: Vec<&str> = words[index + 1..].iter().map(|w| w.as_ref().trim()).collect();
            let rest = rest.join(" ").trim().to_string();
            match rest.is_empty() {
                true => parsed.doubts.push(Doubt::NotUnderstood(word.to_string())),
                false => parsed.said(&rest),
            }
            break;
        }
        if word.contains(char::is_whitespace) {
            parsed.said(without_says(word));
            continue;
        }
        let mut readings = reading::readings(grammar, word);
        match (readings.len(), readings.pop()) {
            (1, Some(only)) => parsed.take(grammar, only),
            (0, _) => parsed.doubts.push(match reading::level_or_segment(grammar, word) {
                Some(readings) => Doubt::LevelOrSegment { word: word.to_string(), readings },
                None => Doubt::NotUnderstood(word.to_string()),
            }),
            (_, last) => {
                readings.extend(last);
                parsed.doubts.push(Doubt::Several { word: word.to_string(), readings });
            }
        }
    }
    parsed.infer(grammar);
    parsed
}

fn is_says(word: &str) -> bool {
    ["says", "said"].iter().any(|says| word.eq_ignore_ascii_case(says))
}

/// `says stop` is `stop`.
fn without_says(text: &str) -> &str {
    match text.split_once(char::is_whitespace) {
        Some((first, rest)) if is_says(first) => rest.trim(),
        _ => text,
    }
}

/// Splits a line typed in one piece into its words; what stands between quotation marks is one word.
/// A quotation mark that is not closed reaches to the end of the line.
pub fn split(line: &str) -> Vec<String> {
    let mut words = Vec::new();
    let (mut word, mut quoted, mut begun) = (String::new(), false, false);
    for letter in line.chars() {
        match letter {
            '"' => {
                // A single quoted word is said as well: it goes behind `says`.
                if quoted && !word.contains(char::is_whitespace) && !word.is_empty() {
                    word = format!("says {word}");
                }
                quoted = !quoted;
                begun = true;
            }
            c if c.is_whitespace() && !quoted => {
                if begun {
                    words.push(std::mem::take(&mut word));
                }
                begun = false;
            }
            c => {
                word.push(c);
                begun = true;
            }
        }
    }
    if begun {
        words.push(word);
    }
    words
}

impl Parsed {
    /// True when every word was understood.
    pub fn is_clear(&self) -> bool {
        self.doubts.is_empty()
    }

    /// Takes one reading of a doubt that somebody settled.
    pub fn take(&mut self, grammar: Grammar, reading: Reading) {
        let short = &mut self.short;
        let clash = match reading.clone() {
            Reading::All => {
                short.all = true;
                None
            }
            Reading::Technique(technique) => {
                // One line is asked about one technique; a withdrawal may name several.
                let other = short.techniques.first().copied().filter(|first| *first != technique);
                match other.filter(|_| grammar == Grammar::Asked) {
                    Some(first) => Some(Reading::Technique(first)),
                    None => {
                        put(&mut short.techniques, technique);
                        None
                    }
                }
            }
            Reading::Region(region) => {
                let other = short.regions.first().copied().filter(|first| *first != region);
                match other.filter(|_| grammar == Grammar::Asked) {
                    Some(first) => Some(Reading::Region(first)),
                    None => {
                        put(&mut short.regions, region);
                        None
                    }
                }
            }
            Reading::Segment(segment) => {
                put(&mut short.segments, segment);
                None
            }
            Reading::Side(side) => once(&mut short.side, side).map(Reading::Side),
            Reading::Answer(answer) => once(&mut short.answer, answer).map(Reading::Answer),
            Reading::How(how) => once(&mut short.how, how).map(Reading::How),
            Reading::Pause(kind) => once(&mut short.pause, kind).map(Reading::Pause),
            Reading::Question(question) => once(&mut short.question, question).map(Reading::Question),
            Reading::Number(number) => once(&mut short.number, number).map(Reading::Number),
            Reading::By(by) => once(&mut short.by, by).map(Reading::By),
            Reading::Said(said) => {
                self.said(&said);
                None
            }
        };
        if let Some(first) = clash {
            self.doubts.push(Doubt::Twice { first, second: reading });
        }
    }

    fn said(&mut self, words: &str) {
        let words = words.trim();
        if words.is_empty() {
            return;
        }
        self.short.said = Some(match self.short.said.take() {
            Some(before) => format!("{before}; {words}"),
            None => words.to_string(),
        });
    }

    /// What one word tells about another: C5-C6 lies in the neck, intraoral work in the mouth. Only where
    /// it can be nothing else, and never for a withdrawal, where it would make less of what was said.
    pub fn infer(&mut self, grammar: Grammar) {
        match grammar {
            Grammar::Asked => self.infer_region(),
            Grammar::Withdraw => {
                // A withdrawal is kept by region, so that a segment widens to every region it lies in.
                for segment in std::mem::take(&mut self.short.segments) {
                    for region in reading::regions_of(segment) {
                        put(&mut self.short.regions, region);
                    }
                }
            }
            Grammar::Pause | Grammar::Number => {}
        }
    }

    fn infer_region(&mut self) {
        let waits = |doubt: &Doubt| matches!(doubt, Doubt::Several { readings, .. } if readings.iter().any(|r| matches!(r, Reading::Region(_))));
        if !self.short.regions.is_empty() || self.doubts.iter().any(waits) {
            return;
        }
        if let Some(first) = self.short.segments.first() {
            let mut shared = reading::regions_of(*first);
            for segment in &self.short.segments {
                shared.retain(|region| region.holds(*segment));
            }
            match shared.as_slice() {
                [one] => self.short.regions.push(*one),
                [] => {}
                several => self.doubts.push(Doubt::Several {
                    word: first.word().to_string(),
                    readings: several.iter().map(|region| Reading::Region(*region)).collect(),
                }),
            }
        } else if self.short.techniques == [Technique::Intraoral] {
            self.short.regions.push(Region::Mouth);
        }
    }
}

fn put<T: PartialEq>(list: &mut Vec<T>, one: T) {
    if !list.contains(&one) {
        list.push(one);
    }
}

/// Puts a value where there is none; gives back the other one that is there already.
fn once<T: PartialEq + Clone>(place: &mut Option<T>, value: T) -> Option<T> {
    match place {
        Some(other) if *other != value => Some(other.clone()),
        _ => {
            *place = Some(value);
            None
        }
    }
}

impl Short {
    /// The line as words that read back as the same.
    pub fn words(&self) -> Vec<String> {
        let mut words: Vec<String> = Vec::new();
        let mut add = |word: &str| words.push(word.to_string());
        self.pause.iter().for_each(|w| add(w.word()));
        self.techniques.iter().for_each(|w| add(w.word()));
        self.regions.iter().for_each(|w| add(w.word()));
        self.segments.iter().for_each(|w| add(w.word()));
        if self.all {
            add("all");
        }
        self.side.iter().for_each(|w| add(w.word()));
        self.how.iter().for_each(|w| add(w.word()));
        self.question.iter().for_each(|w| add(w.word()));
        self.number.iter().for_each(|n| add(&n.to_string()));
        self.answer.iter().for_each(|w| add(w.word()));
        self.by.iter().for_each(|by| add(by));
        self.said.iter().for_each(|said| add(&format!("says {said}")));
        words
    }
}

impl Doubt {
    /// What is wrong, in one line.
    pub fn words(&self) -> String {
        match self {
            Doubt::NotUnderstood(word) => format!("\"{word}\" is no word that is known here."),
            Doubt::Several { word, readings } => {
                let list: Vec<String> = readings.iter().map(Reading::word).collect();
                format!("\"{word}\" could be: {}.", list.join(", "))
            }
            Doubt::LevelOrSegment { word, readings } => format!(
                "\"{word}\" could be: {}. Write the two neighbours of the joint that is meant, like T1-T2.",
                readings.join(", ")
            ),
            Doubt::Twice { first, second } => {
                format!("Both \"{}\" and \"{}\" were given; only one can be.", first.word(), second.word())
            }
        }
    }
}

/// What is taken back, at its widest reading: nobody is kept waiting by a question, and a word that was
/// not understood must not make it less than what was said.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Taken {
    /// Techniques; none: all.
    pub techniques: Option<Vec<Technique>>,
    /// Regions; none: everywhere.
    pub regions: Option<Vec<Region>>,
    /// Side; none: every side.
    pub side: Option<Side>,
    /// Words that were not understood.
    pub not_understood: Vec<String>,
}

/// The scope of a withdrawal from its line.
pub fn taken(parsed: &Parsed) -> Taken {
    let short = &parsed.short;
    let (mut techniques, mut regions) = (short.techniques.clone(), short.regions.clone());
    let mut not_understood = Vec::new();
    let (mut wide, mut any_side) = (short.all, false);
    for doubt in &parsed.doubts {
        match doubt {
            Doubt::NotUnderstood(word) | Doubt::LevelOrSegment { word, .. } => {
                not_understood.push(word.clone());
                wide = true;
            }
            Doubt::Several { readings, .. } => {
                for reading in readings {
                    match reading {
                        Reading::Technique(technique) => put(&mut techniques, *technique),
                        Reading::Region(region) => put(&mut regions, *region),
                        Reading::Segment(segment) => {
                            reading::regions_of(*segment).into_iter().for_each(|r| put(&mut regions, r));
                        }
                        Reading::Side(_) => any_side = true,
                        _ => {}
                    }
                }
            }
            Doubt::Twice { first: Reading::Side(_), .. } => any_side = true,
            Doubt::Twice { .. } => {}
        }
    }
    // `all` beside a technique or a region widens only what was not named.
    let wide_by_word = wide && not_understood.is_empty();
    let keep = |empty: bool| !empty && (!wide || wide_by_word);
    Taken {
        techniques: keep(techniques.is_empty()).then_some(techniques),
        regions: keep(regions.is_empty()).then_some(regions),
        side: short.side.filter(|_| !any_side),
        not_understood,
    }
}

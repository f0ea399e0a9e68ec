//! The question on the table: a technique, a place and a side. It is asked of the record, then of the patient.

use crate::desk::catalogue::Lang;
use crate::desk::terms;
use crate::record::kinds::visit::Visit;
use crate::record::vocab::{Region, Segment, Side, Technique};

/// A technique, a place and a side.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Question {
    /// What hands would do.
    pub technique: Technique,
    /// Where.
    pub region: Region,
    /// On which side.
    pub side: Side,
    /// The segments, where named.
    pub segments: Vec<Segment>,
}

impl Question {
    /// Reads it from the words it is kept as; none where they are no question.
    pub fn read(words: &str) -> Option<Question> {
        let mut parts = words.split_whitespace();
        let technique = Technique::from_word(parts.next()?)?;
        let region = Region::from_word(parts.next()?)?;
        let side = Side::from_word(parts.next()?)?;
        let segments = parts.map(Segment::from_word).collect::<Option<Vec<_>>>()?;
        Some(Question { technique, region, side, segments })
    }

    /// The words it is kept as, and given to commands as.
    pub fn words(&self) -> String {
        self.parts().join(" ")
    }

    /// The same, one by one.
    pub fn parts(&self) -> Vec<&'static str> {
        let mut parts = vec![self.technique.word(), self.region.word(), self.side.word()];
        parts.extend(self.segments.iter().map(|segment| segment.word()));
        parts
    }

    /// In words.
    pub fn plain(&self, lang: Lang) -> String {
        let segments: Vec<&str> = self.segments.iter().map(|s| s.word()).collect();
        let place = match segments.as_slice() {
            [] => terms::region(lang, self.region),
            some => format!("{} {}", terms::region(lang, self.region), some.join(", ")),
        };
        format!("{} · {place} · {}", terms::technique(lang, self.technique), terms::side(lang, self.side))
    }
}

/// What a note says was done, as questions to be asked again: each once, in the order done.
pub fn of_last_time(note: &Visit) -> Vec<Question> {
    let mut all: Vec<Question> = Vec::new();
    for done in &note.procedures {
        let side = done.side.or(done.region.spans_midline().then_some(Side::Midline));
        let Some(side) = side else { continue };
        let (technique, region) = (done.technique, done.region);
        let one = Question { technique, region, side, segments: done.segments.clone() };
        if !all.contains(&one) {
            all.push(one);
        }
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_question_is_read_as_it_is_written() {
        for words in ["thrust lumbar right L4-L5", "intraoral mouth left", "soft-tissue thoracic midline"] {
            assert_eq!(Question::read(words).unwrap().words(), words);
        }
        for words in [
            "",
            "thrust",
            "thrust lumbar",
            "thrust lumbar up",
            "thrust lumbar right L9",
            "lumbar thrust right",
        ] {
            assert_eq!(Question::read(words), None, "{words}");
        }
        let read = Question::read("thrust lumbar right L4-L5").unwrap();
        assert_eq!(read.plain(Lang::En), "Thrust · low back L4-L5 · right");
    }
}

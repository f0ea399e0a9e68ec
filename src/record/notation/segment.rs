//! One motion segment, the SI joint or a rib, as it is typed at a question.

use super::level::{Place, Reading, Spine, Use};
use super::structure::RibPart;
use crate::record::tables::levels::Levels;
use crate::record::vocab::Segment;
use std::fmt;

const ACCEPTED: &str = "a segment is two neighbours like C5-C6 or L5-S1, or SI, or a rib like rib-6";

/// Why a text is no segment.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum NoSegment {
    /// It could be any of these, single levels first: the person who wrote it must say.
    Several(Vec<Place>),
    /// It is none; what is accepted.
    Refused(String),
}

impl fmt::Display for NoSegment {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            NoSegment::Several(places) => {
                let all: Vec<String> = places.iter().map(Place::to_string).collect();
                let segment = places.iter().find(|place| place.lower.is_some()).map(Place::to_string);
                let segment = segment.unwrap_or_else(|| "two neighbours".to_owned());
                write!(f, "that could be {}; write {segment} for the segment", all.join(" or "))
            }
            NoSegment::Refused(why) => f.write_str(why),
        }
    }
}

/// Reads a segment as it is spoken and written: `C5-C6`, `c5/6`, `C56`, `SI`, `rib 6`.
///
/// # Errors
/// [`NoSegment`]; where the text could be a single vertebra or a segment, both are named.
pub fn read_segment(text: &str) -> Result<Segment, NoSegment> {
    let refused = |why: &str| NoSegment::Refused(why.to_owned());
    let flat: String = text.chars().filter(|c| !c.is_whitespace()).collect::<String>().to_ascii_lowercase();
    if matches!(flat.as_str(), "si" | "sij" | "si-joint" | "sijoint") {
        return Ok(Segment::Si);
    }
    if let Some(rib) = flat.strip_prefix("rib") {
        let number = rib.strip_prefix(['-', '/']).unwrap_or(rib);
        return RibPart::Rib.segment(number).ok_or_else(|| refused("ribs are rib-1 to rib-12"));
    }
    match Spine::new(Levels::shipped().map_err(NoSegment::Refused)?, false).read(text, Use::Adjust) {
        Reading::Reads(place) => place.segment().ok_or_else(|| refused(ACCEPTED)),
        Reading::Ask(places) => Err(NoSegment::Several(places)),
        Reading::Refused(_) => Err(refused(ACCEPTED)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shorthand_is_understood_and_two_meanings_are_asked() {
        for (text, segment) in [
            ("C56", Segment::C5C6),
            ("c5/6", Segment::C5C6),
            ("L5S1", Segment::L5S1),
            ("si", Segment::Si),
            ("rib 6", Segment::Rib6),
            ("T11/12", Segment::T11T12),
        ] {
            assert_eq!(read_segment(text), Ok(segment), "{text}");
        }
        let why = read_segment("T12").unwrap_err().to_string();
        assert!(why.contains("T12 or T1-T2"), "{why}");
        for wrong in ["C5", "T4-T8", "C8-T1", "rib-13", "rib", "", "Umberlow"] {
            assert!(!read_segment(wrong).unwrap_err().to_string().contains("Umberlow"), "{wrong}");
        }
    }

    #[test]
    fn what_is_refused_says_what_is_accepted() {
        for (typed, says) in [
            ("C5", "two neighbours like C5-C6 or L5-S1, or SI, or a rib like rib-6"),
            ("C3-C5", "two neighbours like C5-C6"),
            ("rib-13", "rib-1 to rib-12"),
            ("T12", "that could be T12 or T1-T2; write T1-T2 for the segment"),
        ] {
            let why = read_segment(typed).unwrap_err().to_string();
            assert!(why.contains(says), "{typed}: {why}");
        }
        for (typed, segment) in [
            ("S I", Segment::Si),
            ("SI joint", Segment::Si),
            ("rib/6", Segment::Rib6),
            ("Rib-12", Segment::Rib12),
        ] {
            assert_eq!(read_segment(typed), Ok(segment), "{typed}");
        }
    }
}

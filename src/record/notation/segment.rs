//! One motion segment, the SI joint or a rib, as it is typed at a question.

use super::level::{Place, Reading, Spine, Use};
use super::structure::RibPart;
use crate::record::tables::levels::Levels;
use crate::record::vocab::Segment;

const ACCEPTED: &str = "a segment is two neighbours like C5-C6 or L5-S1, or SI, or a rib like rib-6";

/// Reads a segment as it is spoken and written: `C5-C6`, `c5/6`, `C56`, `SI`, `rib 6`.
///
/// # Errors
/// What is accepted; where the text could be a single vertebra or a segment, both are named.
pub fn read_segment(text: &str) -> Result<Segment, String> {
    let flat: String = text.chars().filter(|c| !c.is_whitespace()).collect::<String>().to_ascii_lowercase();
    if matches!(flat.as_str(), "si" | "sij" | "si-joint" | "sijoint") {
        return Ok(Segment::Si);
    }
    if let Some(rib) = flat.strip_prefix("rib") {
        let number = rib.strip_prefix(['-', '/']).unwrap_or(rib);
        return RibPart::Rib.segment(number).ok_or_else(|| "ribs are rib-1 to rib-12".to_owned());
    }
    match Spine::new(Levels::shipped()?, false).read(text, Use::Adjust) {
        Reading::Reads(place) => place.segment().ok_or_else(|| ACCEPTED.to_owned()),
        Reading::Ask(places) => {
            let all: Vec<String> = places.iter().map(Place::to_string).collect();
            let segment = places.iter().find(|place| place.lower.is_some()).map(Place::to_string);
            Err(format!(
                "that could be {}; write {} for the segment",
                all.join(" or "),
                segment.unwrap_or_else(|| "two neighbours".to_owned())
            ))
        }
        Reading::Refused(_) => Err(ACCEPTED.to_owned()),
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
        let why = read_segment("T12").unwrap_err();
        assert!(why.contains("T12 or T1-T2"), "{why}");
        for wrong in ["C5", "T4-T8", "C8-T1", "rib-13", "rib", "", "Umberlow"] {
            assert!(!read_segment(wrong).unwrap_err().contains("Umberlow"), "{wrong}");
        }
    }
}

//! The closed vocabularies of the trade that rules compare: techniques, regions, sides,
//! segments and glove materials. The region tree and the segment order are fixed here
//! and nowhere else.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Declares an enum whose variants are written in records as fixed words.
macro_rules! words {
    ($(#[$meta:meta])* $name:ident { $($(#[$vmeta:meta])* $variant:ident = $word:literal),+ $(,)? }) => {
        $(#[$meta])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema)]
        pub enum $name {
            $($(#[$vmeta])* #[doc = concat!("Written `", $word, "`.")] #[serde(rename = $word)] $variant),+
        }
        impl $name {
            /// Every value, in the order it is declared.
            pub const ALL: &'static [$name] = &[$($name::$variant),+];
            /// Every word, in the same order as `ALL`.
            pub const WORDS: &'static [&'static str] = &[$($word),+];
            /// The word as it is written in a record.
            pub fn word(self) -> &'static str {
                match self { $($name::$variant => $word),+ }
            }
            /// The value for a word as written in a record; none for any other text.
            pub fn from_word(word: &str) -> Option<Self> {
                match word { $($word => Some($name::$variant),)+ _ => None }
            }
        }
        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result { f.write_str(self.word()) }
        }
    };
}
#[allow(unused_imports)]
pub(crate) use words;

words! {
    /// What hands do. No technique implies another.
    Technique {
        Examination = "examination", SoftTissue = "soft-tissue", Mobilization = "mobilization",
        Thrust = "thrust", InstrumentAdjust = "instrument-adjust", Intraoral = "intraoral",
        Traction = "traction", Needling = "needling", Taping = "taping",
    }
}

words! {
    /// Where on the body. Regions nest: see [`Region::parent`].
    Region {
        Spine = "spine", Cervical = "cervical", Thoracic = "thoracic", Lumbar = "lumbar",
        Sacral = "sacral", Pelvic = "pelvic", NeckJoints = "neck-joints", NeckBack = "neck-back",
        NeckFront = "neck-front", Suboccipital = "suboccipital", RibSpineJoints = "rib-spine-joints",
        Coccyx = "coccyx", Sacroiliac = "sacroiliac", Gluteal = "gluteal", RibCage = "rib-cage",
        Ribs = "ribs", Sternum = "sternum", ChestWallFront = "chest-wall-front",
        ShoulderGirdle = "shoulder-girdle", Head = "head", Scalp = "scalp", Jaw = "jaw",
        JawJoint = "jaw-joint", JawMuscles = "jaw-muscles", Mouth = "mouth",
        InsideCheek = "inside-cheek", MouthFloor = "mouth-floor", UpperLimb = "upper-limb",
        Shoulder = "shoulder", Elbow = "elbow", Wrist = "wrist", Hand = "hand",
        LowerLimb = "lower-limb", Hip = "hip", Knee = "knee", Ankle = "ankle", Foot = "foot",
        Groin = "groin", Abdomen = "abdomen",
    }
}

impl Region {
    /// The region that directly contains this one. `mouth` and `groin` are nobody's child.
    pub fn parent(self) -> Option<Region> {
        use Region::*;
        match self {
            Cervical | Thoracic | Lumbar | Sacral | Pelvic => Some(Spine),
            NeckJoints | NeckBack | NeckFront => Some(Cervical),
            Suboccipital => Some(NeckBack),
            RibSpineJoints => Some(Thoracic),
            Coccyx => Some(Sacral),
            Sacroiliac | Gluteal => Some(Pelvic),
            Ribs | Sternum | ChestWallFront => Some(RibCage),
            Scalp | Jaw => Some(Head),
            JawJoint | JawMuscles => Some(Jaw),
            InsideCheek | MouthFloor => Some(Mouth),
            Shoulder | Elbow | Wrist | Hand => Some(UpperLimb),
            Hip | Knee | Ankle | Foot => Some(LowerLimb),
            Spine | RibCage | ShoulderGirdle | Head | Mouth | UpperLimb | LowerLimb | Groin | Abdomen => None,
        }
    }

    /// True when this region is `other` or lies anywhere inside it.
    pub fn is_within(self, other: Region) -> bool {
        let mut at = Some(self);
        while let Some(region) = at {
            if region == other {
                return true;
            }
            at = region.parent();
        }
        false
    }

    /// True when the two share ground: equal, or one inside the other.
    pub fn overlaps(self, other: Region) -> bool {
        self.is_within(other) || other.is_within(self)
    }

    /// True when the region crosses the midline of the body.
    pub fn spans_midline(self) -> bool {
        use Region::*;
        matches!(
            self,
            Spine
                | Cervical
                | Thoracic
                | Lumbar
                | Sacral
                | NeckJoints
                | NeckBack
                | NeckFront
                | Suboccipital
                | Coccyx
                | Sternum
                | Head
                | Scalp
                | Mouth
                | MouthFloor
                | Abdomen
        )
    }

    /// How many regions contain this one; 0 for a region that is nobody's child.
    pub fn depth(self) -> usize {
        std::iter::successors(self.parent(), |region| region.parent()).count()
    }

    /// The first and last ordered segment of the region, from the head down; none where it has none.
    pub fn segment_range(self) -> Option<(Segment, Segment)> {
        use Region::*;
        match self {
            Spine => Some((Segment::C0C1, Segment::L5S1)),
            Cervical | NeckJoints | NeckBack | NeckFront => Some((Segment::C0C1, Segment::C7T1)),
            Suboccipital => Some((Segment::C0C1, Segment::C1C2)),
            Thoracic => Some((Segment::C7T1, Segment::T12L1)),
            Lumbar => Some((Segment::T12L1, Segment::L5S1)),
            Sacral => Some((Segment::L5S1, Segment::L5S1)),
            _ => None,
        }
    }

    /// True when the segment (or the SI joint, or the rib) can be named for this region.
    pub fn holds(self, segment: Segment) -> bool {
        use Region::*;
        match segment {
            Segment::Si => matches!(self, Pelvic | Sacroiliac | Spine),
            ordered if ordered.order().is_some() => {
                self.segment_range().is_some_and(|(first, last)| (first..=last).contains(&segment))
            }
            _ => matches!(self, RibCage | Ribs | RibSpineJoints | Thoracic | Spine),
        }
    }

    /// True for the mouth and everything in it.
    pub fn is_in_mouth(self) -> bool {
        self.is_within(Region::Mouth)
    }
}

words! {
    /// A side of the body, as agreed, treated or found.
    Side { Left = "left", Right = "right", Both = "both", Midline = "midline" }
}

words! {
    /// Glove material.
    Glove { Nitrile = "nitrile", Vinyl = "vinyl", Latex = "latex", Neoprene = "neoprene" }
}

words! {
    /// A motion segment of the spine (25, top to bottom), the SI joint, or a rib.
    Segment {
        C0C1 = "C0-C1", C1C2 = "C1-C2", C2C3 = "C2-C3", C3C4 = "C3-C4", C4C5 = "C4-C5",
        C5C6 = "C5-C6", C6C7 = "C6-C7", C7T1 = "C7-T1", T1T2 = "T1-T2", T2T3 = "T2-T3",
        T3T4 = "T3-T4", T4T5 = "T4-T5", T5T6 = "T5-T6", T6T7 = "T6-T7", T7T8 = "T7-T8",
        T8T9 = "T8-T9", T9T10 = "T9-T10", T10T11 = "T10-T11", T11T12 = "T11-T12",
        T12L1 = "T12-L1", L1L2 = "L1-L2", L2L3 = "L2-L3", L3L4 = "L3-L4", L4L5 = "L4-L5",
        L5S1 = "L5-S1", Si = "SI", Rib1 = "rib-1", Rib2 = "rib-2", Rib3 = "rib-3", Rib4 = "rib-4",
        Rib5 = "rib-5", Rib6 = "rib-6", Rib7 = "rib-7", Rib8 = "rib-8", Rib9 = "rib-9",
        Rib10 = "rib-10", Rib11 = "rib-11", Rib12 = "rib-12",
    }
}

impl Segment {
    /// Position from the head down, 0 to 24; none for SI and ribs, which are not ordered.
    pub fn order(self) -> Option<usize> {
        let index = self as usize;
        (index <= Segment::L5S1 as usize).then_some(index)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The project's fixed table of regions: what lies in what, and which span the midline (a star).
    const TREE: [&str; 15] = [
        "spine*: cervical*, thoracic*, lumbar*, sacral*, pelvic",
        "cervical*: neck-joints*, neck-back*, neck-front*",
        "neck-back*: suboccipital*",
        "thoracic*: rib-spine-joints",
        "sacral*: coccyx*",
        "pelvic: sacroiliac, gluteal",
        "rib-cage: ribs, sternum*, chest-wall-front",
        "shoulder-girdle:",
        "head*: scalp*, jaw",
        "jaw: jaw-joint, jaw-muscles",
        "mouth*: inside-cheek, mouth-floor*",
        "upper-limb: shoulder, elbow, wrist, hand",
        "lower-limb: hip, knee, ankle, foot",
        "abdomen*:",
        "groin:",
    ];

    /// Every region of the table: the one it lies in, and whether it spans the midline.
    fn tree() -> Vec<(Region, Option<Region>, bool)> {
        let read = |word: &str| {
            let bare = word.trim().trim_end_matches('*');
            (Region::from_word(bare).unwrap_or_else(|| panic!("{word}")), word.trim().ends_with('*'))
        };
        let mut rows: Vec<(Region, Option<Region>, bool)> = Vec::new();
        for line in TREE {
            let (outer, inner) = line.split_once(':').unwrap();
            let (outer, spans) = read(outer);
            if !rows.iter().any(|(known, ..)| *known == outer) {
                rows.push((outer, None, spans));
            }
            for word in inner.split(',').filter(|word| !word.is_empty()) {
                let (inner, spans) = read(word);
                rows.push((inner, Some(outer), spans));
            }
        }
        rows
    }

    #[test]
    fn regions_lie_in_each_other_and_span_the_midline_as_the_table_has_it() {
        let rows = tree();
        assert_eq!(rows.len(), Region::ALL.len());
        for (region, parent, spans) in &rows {
            assert_eq!((region.parent(), region.spans_midline()), (*parent, *spans), "{region}");
            // What contains it, by the table alone.
            let mut around = vec![*region];
            while let Some((_, Some(outer), _)) = rows.iter().find(|row| Some(&row.0) == around.last()) {
                around.push(*outer);
            }
            assert_eq!(region.depth(), around.len() - 1, "{region}");
            for (other, ..) in &rows {
                let within = around.contains(other);
                assert_eq!(region.is_within(*other), within, "{region} in {other}");
                assert!(!within || (region.overlaps(*other) && other.overlaps(*region)), "{region} {other}");
                let apart = !within && !other.is_within(*region);
                assert_eq!(region.overlaps(*other), !apart, "{region} and {other}");
            }
        }
    }

    /// The project's fixed table: 25 segments in order, of which each region has a stretch; SI and ribs.
    #[test]
    fn a_region_holds_its_stretch_of_segments_as_the_table_has_it() {
        let stretches = [
            ("spine", "C0-C1", "L5-S1"),
            ("cervical", "C0-C1", "C7-T1"),
            ("neck-joints", "C0-C1", "C7-T1"),
            ("neck-back", "C0-C1", "C7-T1"),
            ("neck-front", "C0-C1", "C7-T1"),
            ("suboccipital", "C0-C1", "C1-C2"),
            ("thoracic", "C7-T1", "T12-L1"),
            ("lumbar", "T12-L1", "L5-S1"),
            ("sacral", "L5-S1", "L5-S1"),
        ];
        let with_si = ["pelvic", "sacroiliac", "spine"];
        let with_ribs = ["rib-cage", "ribs", "rib-spine-joints", "thoracic", "spine"];
        let (ordered, others) = Segment::ALL.split_at(25);
        assert_eq!(others.len(), 1 + 12, "the SI joint and twelve ribs");
        for (place, segment) in ordered.iter().enumerate() {
            assert_eq!(segment.order(), Some(place), "{segment}");
        }
        for segment in others {
            assert_eq!(segment.order(), None, "{segment}");
        }
        for region in Region::ALL {
            let stretch = stretches.iter().find(|(word, ..)| *word == region.word());
            let place = |word: &str| ordered.iter().position(|segment| segment.word() == word).unwrap();
            let ends = stretch.map(|(_, first, last)| (place(first), place(last)));
            for (at, segment) in ordered.iter().enumerate() {
                let held = ends.is_some_and(|(first, last)| first <= at && at <= last);
                assert_eq!(region.holds(*segment), held, "{segment} in {region}");
            }
            assert_eq!(region.holds(Segment::Si), with_si.contains(&region.word()), "SI in {region}");
            for rib in others.iter().filter(|other| **other != Segment::Si) {
                assert_eq!(region.holds(*rib), with_ribs.contains(&region.word()), "{rib} in {region}");
            }
        }
    }

    /// Mouth work is a region in the tree of the mouth (the project's fixed table): the jaw is none.
    #[test]
    fn the_mouth_is_the_mouth_and_what_lies_in_it() {
        for region in Region::ALL {
            let in_mouth = ["mouth", "inside-cheek", "mouth-floor"].contains(&region.word());
            assert_eq!(region.is_in_mouth(), in_mouth, "{region}");
        }
    }

    /// Records are read by the words they are written with, and by no others.
    #[test]
    fn a_word_means_what_it_is_written_for_and_no_other_word_means_anything() {
        fn each<T: Copy + PartialEq + std::fmt::Debug>(
            all: &[T],
            words: &[&str],
            word: fn(T) -> &'static str,
            read: fn(&str) -> Option<T>,
        ) {
            assert_eq!(all.len(), words.len());
            for (value, text) in all.iter().zip(words) {
                assert_eq!((word(*value), read(text)), (*text, Some(*value)), "{text}");
                assert_eq!(read(&text.to_uppercase()).filter(|_| text.to_uppercase() != *text), None);
            }
            assert_eq!(read(""), None);
        }
        each(Technique::ALL, Technique::WORDS, Technique::word, Technique::from_word);
        each(Region::ALL, Region::WORDS, Region::word, Region::from_word);
        each(Side::ALL, Side::WORDS, Side::word, Side::from_word);
        each(Glove::ALL, Glove::WORDS, Glove::word, Glove::from_word);
        each(Segment::ALL, Segment::WORDS, Segment::word, Segment::from_word);
        assert_eq!(Side::Midline.to_string(), "midline");
    }

    #[test]
    fn regions_nest() {
        assert!(Region::Suboccipital.is_within(Region::Spine));
        assert!(!Region::Spine.is_within(Region::Suboccipital));
        assert!(Region::Cervical.overlaps(Region::Suboccipital));
        assert!(!Region::Ribs.overlaps(Region::Thoracic));
        assert_eq!(Region::Mouth.parent(), None);
        assert_eq!((Region::Spine.depth(), Region::Suboccipital.depth()), (0, 3));
    }

    #[test]
    fn neighbours_share_the_segment_between_them() {
        assert!(Region::Cervical.holds(Segment::C7T1) && Region::Thoracic.holds(Segment::C7T1));
        assert!(Region::Lumbar.holds(Segment::L5S1) && Region::Sacral.holds(Segment::L5S1));
        assert!(!Region::Suboccipital.holds(Segment::C2C3));
        assert!(!Region::RibSpineJoints.holds(Segment::T1T2) && Region::RibSpineJoints.holds(Segment::Rib1));
        assert!(Region::Sacroiliac.holds(Segment::Si) && !Region::Gluteal.holds(Segment::Si));
        assert!(!Region::Sacral.holds(Segment::Si) && Region::Spine.holds(Segment::Si));
    }
}

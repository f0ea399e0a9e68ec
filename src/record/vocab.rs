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

//! Structures that hands work on: by which words they go, where they lie, and whether they have sides.
//! Names and places are common practice of the trade.

use crate::record::vocab::{Region, Segment};

/// A muscle, joint or bone with a name of its own.
#[derive(Debug, PartialEq, Eq)]
pub struct Structure {
    /// As it is written in a record.
    pub name: &'static str,
    /// As it is typed; the first is how it is printed in a line.
    pub words: &'static [&'static str],
    /// Where it lies; none where a region or level has to be said with it.
    pub region: Option<Region>,
    /// Where it is reached from inside the mouth, if it can be.
    pub inside: Option<Region>,
    /// True where it lies to the left and to the right: it has no midline, and its side must be said.
    pub sided: bool,
    /// True for muscle and fascia, which can't be thrust.
    pub soft: bool,
}

/// A joint of a rib.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RibPart {
    /// The rib itself.
    Rib,
    /// With the body of a vertebra.
    Costovertebral,
    /// With the transverse process.
    Costotransverse,
    /// With the sternum; ribs 1 to 7.
    Sternocostal,
}

impl RibPart {
    /// Every part.
    pub const ALL: &'static [RibPart] =
        &[RibPart::Rib, RibPart::Costovertebral, RibPart::Costotransverse, RibPart::Sternocostal];

    /// As it is typed, before the number of the rib.
    pub fn word(self) -> &'static str {
        match self {
            RibPart::Rib => "rib",
            RibPart::Costovertebral => "costovertebral",
            RibPart::Costotransverse => "costotransverse",
            RibPart::Sternocostal => "sternocostal",
        }
    }

    /// As it is written in a record; none for the rib itself, which the segment names.
    pub fn structure(self) -> Option<&'static str> {
        match self {
            RibPart::Rib => None,
            RibPart::Costovertebral => Some("costovertebral joint"),
            RibPart::Costotransverse => Some("costotransverse joint"),
            RibPart::Sternocostal => Some("sternocostal joint"),
        }
    }

    /// Where it lies. The joints of ribs with the spine belong to the spine, the rest to the rib cage.
    pub fn region(self) -> Region {
        match self {
            RibPart::Rib | RibPart::Sternocostal => Region::Ribs,
            RibPart::Costovertebral | RibPart::Costotransverse => Region::RibSpineJoints,
        }
    }

    /// The rib of this number, if this part of it exists.
    pub fn segment(self, number: &str) -> Option<Segment> {
        let rib = Segment::from_word(&format!("rib-{number}"))?;
        // Only the first seven ribs reach the sternum by a joint of their own.
        (self != RibPart::Sternocostal || rib <= Segment::Rib7).then_some(rib)
    }
}

const fn muscle(name: &'static str, words: &'static [&'static str], region: Region) -> Structure {
    Structure { name, words, region: Some(region), inside: None, sided: true, soft: true }
}

const fn of_mouth(
    name: &'static str,
    words: &'static [&'static str],
    from: Region,
    inside: Region,
) -> Structure {
    Structure { name, words, region: Some(from), inside: Some(inside), sided: true, soft: true }
}

const fn joint(name: &'static str, words: &'static [&'static str], region: Region) -> Structure {
    Structure { name, words, region: Some(region), inside: None, sided: true, soft: false }
}

impl Structure {
    const fn middle(mut self) -> Structure {
        self.sided = false;
        self
    }

    const fn anywhere(mut self) -> Structure {
        self.region = None;
        self.sided = false;
        self
    }

    /// The structure written in a record by this name.
    pub fn named(name: &str) -> Option<&'static Structure> {
        STRUCTURES.iter().find(|structure| structure.name.eq_ignore_ascii_case(name))
    }

    /// The structure typed by any of its words, SCM for the sternocleidomastoid.
    pub fn typed(word: &str) -> Option<&'static Structure> {
        let word = word.trim();
        STRUCTURES.iter().find(|structure| structure.words.iter().any(|own| own.eq_ignore_ascii_case(word)))
    }
}

use Region::{
    Abdomen, ChestWallFront, Coccyx, Foot, Gluteal, Hip, InsideCheek, JawJoint, JawMuscles, LowerLimb,
    Lumbar, Mouth, MouthFloor, NeckBack, NeckFront, RibCage, Ribs, Sacral, Shoulder, ShoulderGirdle, Sternum,
    Suboccipital, Thoracic, UpperLimb,
};

/// Every structure with a name of its own. TMJ, cheek and jaw muscles, scalenes and SCM have no midline;
/// tongue, floor of the mouth, hyoid, sternum, sacrum and coccyx have one (the project's table of sides).
pub const STRUCTURES: &[Structure] = &[
    Structure {
        name: "temporomandibular joint",
        words: &["TMJ", "temporomandibular joint", "temporomandibular"],
        region: Some(JawJoint),
        inside: Some(Mouth),
        sided: true,
        soft: false,
    },
    of_mouth("masseter", &["masseter"], JawMuscles, InsideCheek),
    of_mouth("temporalis", &["temporalis"], JawMuscles, InsideCheek),
    of_mouth("medial pterygoid", &["medial pterygoid"], JawMuscles, InsideCheek),
    of_mouth("lateral pterygoid", &["lateral pterygoid"], JawMuscles, InsideCheek),
    of_mouth("buccinator", &["buccinator"], JawMuscles, InsideCheek),
    of_mouth("digastric", &["digastric"], JawMuscles, MouthFloor),
    of_mouth("mylohyoid", &["mylohyoid"], MouthFloor, MouthFloor).middle(),
    of_mouth("tongue", &["tongue"], Mouth, Mouth).middle(),
    joint("hyoid", &["hyoid"], NeckFront).middle(),
    muscle("suprahyoid muscles", &["suprahyoids", "suprahyoid", "suprahyoid muscles"], NeckFront).middle(),
    muscle("infrahyoid muscles", &["infrahyoids", "infrahyoid", "infrahyoid muscles"], NeckFront).middle(),
    muscle("sternocleidomastoid", &["SCM", "sternocleidomastoid"], NeckFront),
    muscle("scalenes", &["scalenes", "scalene"], NeckFront),
    muscle("longus colli", &["longus colli"], NeckFront),
    muscle("suboccipital muscles", &["suboccipitals", "suboccipital muscles"], Suboccipital).middle(),
    muscle("upper trapezius", &["upper trap", "upper trapezius", "UT"], ShoulderGirdle),
    muscle("middle trapezius", &["middle trap", "middle trapezius"], ShoulderGirdle),
    muscle("lower trapezius", &["lower trap", "lower trapezius"], ShoulderGirdle),
    muscle("levator scapulae", &["levator", "levator scapulae", "lev scap"], NeckBack),
    muscle("splenius", &["splenius"], NeckBack),
    muscle("semispinalis", &["semispinalis"], NeckBack),
    muscle("rhomboids", &["rhomboids", "rhomboid"], ShoulderGirdle),
    muscle("paraspinal muscles", &["paraspinals", "paraspinal", "paraspinal muscles"], Thoracic).anywhere(),
    muscle("erector spinae", &["erector spinae", "erectors"], Thoracic).anywhere(),
    muscle("multifidus", &["multifidus", "multifidi"], Lumbar).anywhere(),
    muscle("latissimus dorsi", &["lats", "latissimus", "latissimus dorsi"], ShoulderGirdle),
    muscle("serratus anterior", &["serratus anterior", "serratus"], Ribs),
    muscle("intercostals", &["intercostals", "intercostal"], Ribs),
    muscle("pectoralis major", &["pec major", "pectoralis major"], ChestWallFront),
    muscle("pectoralis minor", &["pec minor", "pectoralis minor"], ChestWallFront),
    muscle("diaphragm", &["diaphragm"], RibCage),
    muscle("quadratus lumborum", &["QL", "quadratus lumborum"], Lumbar),
    muscle("psoas", &["psoas"], Abdomen),
    muscle("piriformis", &["piriformis"], Gluteal),
    muscle("gluteus maximus", &["glute max", "gluteus maximus"], Gluteal),
    muscle("gluteus medius", &["glute med", "gluteus medius"], Gluteal),
    muscle("gluteus minimus", &["glute min", "gluteus minimus"], Gluteal),
    muscle("hip flexors", &["hip flexors"], Hip),
    muscle("hamstrings", &["hamstrings", "hamstring"], LowerLimb),
    muscle("quadriceps", &["quads", "quadriceps"], LowerLimb),
    muscle("adductors", &["adductors", "adductor"], LowerLimb),
    muscle("iliotibial band", &["ITB", "IT band", "iliotibial band"], LowerLimb),
    muscle("tensor fasciae latae", &["TFL", "tensor fasciae latae"], LowerLimb),
    muscle("calf muscles", &["calf", "calf muscles"], LowerLimb),
    muscle("plantar fascia", &["plantar fascia"], Foot),
    muscle("deltoid", &["deltoid"], Shoulder),
    muscle("supraspinatus", &["supraspinatus"], Shoulder),
    muscle("infraspinatus", &["infraspinatus"], Shoulder),
    muscle("subscapularis", &["subscapularis", "subscap"], Shoulder),
    muscle("biceps", &["biceps"], UpperLimb),
    muscle("triceps", &["triceps"], UpperLimb),
    muscle("wrist extensors", &["wrist extensors"], UpperLimb),
    muscle("wrist flexors", &["wrist flexors"], UpperLimb),
    joint("acromioclavicular joint", &["AC joint", "acromioclavicular", "acromioclavicular joint"], Shoulder),
    joint("glenohumeral joint", &["GH joint", "glenohumeral", "glenohumeral joint"], Shoulder),
    joint(
        "sternoclavicular joint",
        &["SC joint", "sternoclavicular", "sternoclavicular joint"],
        ShoulderGirdle,
    ),
    joint("manubrium", &["manubrium"], Sternum).middle(),
    joint("sacrum", &["sacrum"], Sacral).middle(),
    joint("sacrococcygeal joint", &["sacrococcygeal", "sacrococcygeal joint"], Coccyx).middle(),
];

/// True where a side must be said, and the midline can't be: by the structure, the region or the segments.
pub fn is_sided(region: Region, structure: Option<&str>, segments: &[Segment]) -> bool {
    structure.and_then(Structure::named).is_some_and(|known| known.sided)
        || !region.spans_midline()
        || segments.iter().any(|segment| segment.order().is_none())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The project's table: which structures never have a midline, and which do.
    #[test]
    fn sides_are_those_of_the_table() {
        for word in ["temporomandibular joint", "masseter", "buccinator", "scalenes", "sternocleidomastoid"] {
            let known = Structure::named(word).unwrap();
            assert!(is_sided(known.region.unwrap(), Some(word), &[]), "{word}");
            assert!(is_sided(known.inside.or(known.region).unwrap(), Some(word), &[]), "{word}");
        }
        for word in ["tongue", "mylohyoid", "hyoid", "manubrium", "sacrum", "sacrococcygeal joint"] {
            assert!(!is_sided(Structure::named(word).unwrap().region.unwrap(), Some(word), &[]), "{word}");
        }
        for limb in [Region::Shoulder, Region::Knee, Region::UpperLimb, Region::LowerLimb, Region::Ribs] {
            assert!(is_sided(limb, None, &[]), "{limb}");
        }
        assert!(
            is_sided(Region::Spine, None, &[Segment::Si]) && !is_sided(Region::Spine, None, &[Segment::C5C6])
        );
        assert!(!is_sided(Region::Sternum, None, &[]) && !is_sided(Region::Coccyx, None, &[]));
    }

    #[test]
    fn ribs_are_twelve_and_seven_reach_the_sternum() {
        assert_eq!(RibPart::Costovertebral.segment("12"), Some(Segment::Rib12));
        assert_eq!(RibPart::Sternocostal.segment("7"), Some(Segment::Rib7));
        for wrong in ["8", "12", "0", "x", ""] {
            assert_eq!(RibPart::Sternocostal.segment(wrong), None, "{wrong}");
        }
    }

    /// The joints of a rib by name; those with the spine are the spine's (the tables of regions for counting:
    /// everything about a rib except its two joints with the spine is the rib cage).
    #[test]
    fn each_joint_of_a_rib_has_its_word_its_name_and_its_region() {
        for (part, word, name, region) in [
            (RibPart::Rib, "rib", None, Region::Ribs),
            (RibPart::Costovertebral, "costovertebral", Some("costovertebral joint"), Region::RibSpineJoints),
            (
                RibPart::Costotransverse,
                "costotransverse",
                Some("costotransverse joint"),
                Region::RibSpineJoints,
            ),
            (RibPart::Sternocostal, "sternocostal", Some("sternocostal joint"), Region::Ribs),
        ] {
            assert_eq!((part.word(), part.structure(), part.region()), (word, name, region));
            assert_eq!(part.segment("1"), Some(Segment::Rib1), "{word}");
            assert_eq!(part.segment("8").is_some(), part != RibPart::Sternocostal, "{word}");
            assert_eq!(part.segment("13"), None, "{word}");
        }
        assert_eq!(RibPart::ALL.len(), 4);
    }

    /// Any one of the three is enough: the structure, the region, the joint.
    #[test]
    fn a_side_is_needed_for_the_structure_the_region_or_the_joint() {
        assert!(is_sided(Region::NeckFront, Some("Scalenes"), &[]));
        assert!(is_sided(Region::Knee, Some("something else"), &[]));
        assert!(is_sided(Region::Spine, Some("disc"), &[Segment::C5C6, Segment::Si]));
        assert!(is_sided(Region::Thoracic, None, &[Segment::Rib4]));
        assert!(!is_sided(Region::NeckFront, Some("hyoid"), &[Segment::C5C6]));
        assert!(!is_sided(Region::Abdomen, None, &[]) && is_sided(Region::Abdomen, Some("psoas"), &[]));
    }
}

//! The letters of P.A.R.T. that the findings of a note give, and the regions a payer counts.

use super::Review;
use super::missing_care::findings;
use crate::record::kinds::finding::{Finding, FindingKind, TestResult};
use crate::record::kinds::screening::MeasureKind;
use crate::record::vocab::Region;
use std::collections::BTreeSet;

/// The letters a finding gives. P: pain or tenderness; A: asymmetry or misalignment; R: range of motion;
/// T: tissue or tone; S: special tests, which only Oregon's rule counts. A normal finding gives none.
pub(super) fn letters(finding: &Finding) -> Vec<&'static str> {
    use FindingKind as K;
    match finding.kind {
        K::Tenderness if finding.grade == Some(0) => vec![],
        K::Tenderness => vec!["P"],
        K::TriggerPoint => vec!["P", "T"],
        K::Asymmetry | K::Deviation | K::Deflection => vec!["A"],
        K::MotionRestriction | K::EndFeel => vec!["R"],
        // A number alone may be the usual one: the words or the result must say that it is abnormal.
        K::RangeOfMotion | K::MouthOpening | K::LateralMovement | K::Protrusion => match finding.result {
            Some(TestResult::Negative) => vec![],
            Some(_) => vec!["R"],
            None if finding.words.is_some() => vec!["R"],
            None => vec![],
        },
        K::Tone | K::Swelling | K::Temperature | K::Skin => vec!["T"],
        K::OrthoTest | K::NeuroTest if finding.result == Some(TestResult::Positive) => vec!["S"],
        _ => vec![],
    }
}

/// The letters of a note: of its findings, of what was ticked for the payer, and of the pain told.
pub(super) fn found(review: &Review<'_>) -> BTreeSet<String> {
    let note = &review.sheet.note;
    let mut found: BTreeSet<String> = findings(review).flat_map(letters).map(str::to_string).collect();
    let pain = |p: u8| p > 0;
    let told = note.complaints.iter().filter_map(|c| c.pain_now.value().copied()).any(pain);
    let measured = review.measures().any(|(_, m)| m.kind == MeasureKind::PainNow && m.value.get() > 0.0);
    if told || measured {
        found.insert("P".to_string());
    }
    if let Some(payer) = &note.payer {
        for (letter, ticked) in [
            ("P", payer.pain_or_tenderness),
            ("A", payer.asymmetry),
            ("R", payer.range_of_motion),
            ("T", payer.tissue_tone),
        ] {
            found.extend((ticked == Some(true)).then(|| letter.to_string()));
        }
    }
    found
}

/// The region that a payer counts: the spinal five and the other five (AMA definitions, as two insurers'
/// policies restate them). None where no source says which one it counts to.
pub(super) fn counting_region(region: Region) -> Option<&'static str> {
    let within = [
        (Region::RibSpineJoints, "thoracic"),
        (Region::Cervical, "cervical"),
        (Region::Thoracic, "thoracic"),
        (Region::Lumbar, "lumbar"),
        (Region::Sacral, "sacral"),
        (Region::Pelvic, "pelvic"),
        (Region::Head, "head"),
        (Region::Mouth, "head"),
        (Region::LowerLimb, "lower extremity"),
        (Region::UpperLimb, "upper extremity"),
        (Region::ShoulderGirdle, "upper extremity"),
        (Region::RibCage, "rib cage"),
        (Region::Abdomen, "abdomen"),
    ];
    within.into_iter().find(|(whole, _)| region.is_within(*whole)).map(|(_, name)| name)
}

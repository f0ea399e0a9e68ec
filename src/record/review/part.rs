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

#[cfg(test)]
mod tests {
    use super::super::sheet::draft;
    use super::super::tests::{note_with, of, whole};
    use super::*;
    use serde_json::{Value, json};

    /// The letters as Medicare's manual names them (CMS Pub. 100-02 ch. 15, 240.1.2), from memory; S is Oregon's.
    #[test]
    fn a_finding_gives_the_letters_of_what_was_found() {
        let of_kind = |kind: &str, change: Value| {
            let mut finding = json!({ "no": 1, "region": "neck-joints", "kind": kind });
            for (name, is) in change.as_object().unwrap() {
                finding[name] = is.clone();
            }
            letters(&of::<Finding>(finding)).concat()
        };
        for (kind, expected) in [
            ("tenderness", "P"),
            ("trigger-point", "PT"),
            ("asymmetry", "A"),
            ("deviation", "A"),
            ("deflection", "A"),
            ("motion-restriction", "R"),
            ("end-feel", "R"),
            ("tone", "T"),
            ("swelling", "T"),
            ("temperature", "T"),
            ("skin", "T"),
            ("range-of-motion", ""),
            ("mouth-opening", ""),
            ("lateral-movement", ""),
            ("protrusion", ""),
            ("ortho-test", ""),
            ("neuro-test", ""),
            ("normal", ""),
            ("gait", ""),
            ("other", ""),
            ("disc", ""),
            ("strength", ""),
            ("reflex", ""),
            ("sensation", ""),
            ("joint-sound", ""),
        ] {
            assert_eq!(of_kind(kind, json!({})), expected, "{kind}");
        }
        assert_eq!(of_kind("tenderness", json!({ "grade": 0 })), "");
        assert_eq!(of_kind("tenderness", json!({ "grade": 1 })), "P");
        for kind in ["range-of-motion", "mouth-opening", "lateral-movement", "protrusion"] {
            assert_eq!(of_kind(kind, json!({ "words": "stiff at the end" })), "R", "{kind}");
            assert_eq!(of_kind(kind, json!({ "words": "free", "result": "negative" })), "", "{kind}");
            assert_eq!(of_kind(kind, json!({ "result": "positive" })), "R", "{kind}");
        }
        for kind in ["ortho-test", "neuro-test"] {
            assert_eq!(of_kind(kind, json!({ "result": "positive" })), "S", "{kind}");
            assert_eq!(of_kind(kind, json!({ "result": "negative" })), "", "{kind}");
        }
    }

    /// Pain told or measured gives P, and what is ticked for the payer gives its letter; nothing else does.
    #[test]
    fn the_letters_of_a_note_come_from_pain_and_ticks_too() {
        let letters = |changes: Value| {
            let (mut sheet, rules) = whole();
            sheet.note = draft(&note_with(&changes)).unwrap();
            sheet.note.findings = crate::record::kinds::Given::absent("none made");
            let review =
                Review { sheet: &sheet, rules: &rules, classes: BTreeSet::new(), remarks: Vec::new() };
            found(&review).into_iter().collect::<String>()
        };
        let (none, some) = (json!({ "/complaints/0/pain_now": 0 }), json!({ "/complaints/0/pain_now": 1 }));
        assert_eq!([letters(none.clone()), letters(some)], ["", "P"]);
        let with = |place: &str, value: Value| {
            let mut changes = none.clone();
            changes[place] = value;
            letters(changes)
        };
        let pain = |kind: &str, value: u8| {
            let measured = json!({ "kind": kind, "value": value, "unit": "of-10" });
            with("/measures/3", json!({ "phase": "after", "measured": measured }))
        };
        assert_eq!([pain("pain-now", 0), pain("pain-now", 1), pain("pain-worst", 5)], ["", "P", ""]);
        for (item, letter) in
            [("pain_or_tenderness", "P"), ("asymmetry", "A"), ("range_of_motion", "R"), ("tissue_tone", "T")]
        {
            let ticked = |on: bool| with(&format!("/payer/{item}"), json!(on));
            assert_eq!([ticked(true).as_str(), &ticked(false)], [letter, ""], "{item}");
        }
    }

    #[test]
    fn a_region_counts_to_one_of_the_ten() {
        for (region, counts_to) in [
            (Region::Suboccipital, Some("cervical")),
            (Region::RibSpineJoints, Some("thoracic")),
            (Region::Thoracic, Some("thoracic")),
            (Region::Lumbar, Some("lumbar")),
            (Region::Coccyx, Some("sacral")),
            (Region::Sacroiliac, Some("pelvic")),
            (Region::JawJoint, Some("head")),
            (Region::InsideCheek, Some("head")),
            (Region::Knee, Some("lower extremity")),
            (Region::Elbow, Some("upper extremity")),
            (Region::ShoulderGirdle, Some("upper extremity")),
            (Region::Sternum, Some("rib cage")),
            (Region::Abdomen, Some("abdomen")),
            (Region::Spine, None),
            (Region::Groin, None),
        ] {
            assert_eq!(counting_region(region), counts_to, "{region}");
        }
    }
}

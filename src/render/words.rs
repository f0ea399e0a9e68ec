//! The trade's fixed words in full, as a patient can follow them.

use crate::record::envelope::Happened;
use crate::record::kinds::common::{Amount, Day, Given};
use crate::record::kinds::consent::GivenBy;
use crate::record::kinds::screening::{Measured, PlusMinus, Unit};
use crate::record::moment::plain_date;
use crate::record::vocab::{Region, Segment, Side, Technique};

/// What a label on an entry means.
pub use crate::record::labels::meaning as label;
/// What stands where a required part is empty.
pub use crate::record::show::NOT_RECORDED;

/// A fixed word with its hyphens as spaces.
pub fn spaced(word: &str) -> String {
    word.replace(['-', '_'], " ")
}

/// With a capital first letter.
pub fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// A technique in full words.
pub fn technique(technique: Technique) -> String {
    match technique {
        Technique::Mobilization => "joint mobilization".to_string(),
        Technique::InstrumentAdjust => "adjustment with an instrument".to_string(),
        Technique::SoftTissue => "soft-tissue work".to_string(),
        Technique::Intraoral => "work inside the mouth".to_string(),
        other => spaced(other.word()),
    }
}

/// A region in full words.
pub fn region(region: Region) -> String {
    match region {
        Region::Cervical => "neck (cervical spine)".to_string(),
        Region::Thoracic => "upper and middle back (thoracic spine)".to_string(),
        Region::Lumbar => "low back (lumbar spine)".to_string(),
        Region::Pelvic => "pelvis".to_string(),
        Region::Sacral => "sacrum".to_string(),
        Region::NeckJoints => "joints of the neck".to_string(),
        Region::NeckBack => "back of the neck".to_string(),
        Region::NeckFront => "front of the neck".to_string(),
        Region::Suboccipital => "just below the skull (suboccipital)".to_string(),
        Region::RibSpineJoints => "joints of ribs and spine".to_string(),
        Region::Sacroiliac => "sacroiliac joint".to_string(),
        Region::ChestWallFront => "front of the chest wall".to_string(),
        Region::InsideCheek => "inside of the cheek".to_string(),
        Region::MouthFloor => "floor of the mouth".to_string(),
        Region::JawMuscles => "muscles of the jaw".to_string(),
        other => spaced(other.word()),
    }
}

/// A side in full words.
pub fn side(side: Side) -> &'static str {
    match side {
        Side::Left => "left side",
        Side::Right => "right side",
        Side::Both => "both sides (left and right)",
        Side::Midline => "midline",
    }
}

/// A motion segment, rib or joint in full words.
pub fn segment(segment: Segment) -> String {
    match segment {
        Segment::Si => "SI joint".to_string(),
        Segment::C0C1 => "occiput to C1 (C0-C1)".to_string(),
        other if other.order().is_some() => {
            format!("{} ({})", other.word().replace('-', " to "), other.word())
        }
        other => spaced(other.word()),
    }
}

/// Several, joined.
pub fn list<T: Copy>(items: &[T], word: impl Fn(T) -> String) -> String {
    items.iter().map(|item| word(*item)).collect::<Vec<_>>().join(", ")
}

/// Entry numbers: `no. 17, no. 20`.
pub fn numbers(seqs: &[u64]) -> String {
    seqs.iter().map(|seq| format!("no. {seq}")).collect::<Vec<_>>().join(", ")
}

/// A day in words.
pub fn day(day: Day) -> String {
    plain_date(day.0)
}

/// When something happened.
pub fn happened(happened: &Happened) -> String {
    let about = if happened.about { "about " } else { "" };
    match happened.end {
        Some(end) if end.local_date() == happened.start.local_date() => {
            format!("{about}{} to {}", happened.start.plain(), end.clock())
        }
        Some(end) => format!("{about}{} to {}", happened.start.plain(), end.plain()),
        None => format!("{about}{}", happened.start.plain()),
    }
}

/// A text, or why there is none; a blank reads as not recorded.
pub fn given(text: &Given<String>) -> String {
    match text {
        Given::Value(text) => or_not_recorded(text),
        Given::Absent(absent) => because(&absent.because),
    }
}

/// Why there is nothing.
pub fn because(reason: &str) -> String {
    if reason.trim().is_empty() {
        NOT_RECORDED.to_string()
    } else {
        format!("not done or not asked, because: {reason}")
    }
}

/// A text, or that it was not recorded.
pub fn or_not_recorded(text: &str) -> String {
    if text.trim().is_empty() { NOT_RECORDED.to_string() } else { text.to_string() }
}

/// Who spoke.
pub fn giver(by: &GivenBy) -> String {
    let role = match by.role.word() {
        "self" => "the patient".to_string(),
        other => format!("the {}", spaced(other).replace("decision maker", "decision-maker")),
    };
    match (&by.name, &by.person_id) {
        (Some(name), _) => format!("{role} ({name})"),
        (None, Some(id)) => format!("{role} ({id})"),
        (None, None) => role,
    }
}

/// A number as it was written.
pub fn amount(amount: &Amount) -> String {
    serde_json::to_string(amount).unwrap_or_else(|_| NOT_RECORDED.to_string())
}

/// What was measured, without the value: `mouth opening unassisted, right side`.
pub fn measured_what(measured: &Measured) -> String {
    let mut parts = vec![match &measured.name {
        Some(name) => format!("{} ({name})", spaced(measured.kind.word())),
        None => spaced(measured.kind.word()),
    }];
    parts.extend(measured.region.map(region));
    parts.extend(measured.segment.map(segment));
    parts.extend(measured.side.map(|s| side(s).to_string()));
    parts.extend(measured.active.map(|active| if active { "active" } else { "passive" }.to_string()));
    parts.extend(measured.method.clone());
    parts.extend(measured.instrument.clone());
    parts.extend(measured.position.as_deref().map(spaced));
    parts.join(", ")
}

/// The value with its unit: `34 mm`, `148/86 mmHg`.
pub fn measured_value(measured: &Measured) -> String {
    let mut value = amount(&measured.value);
    match measured.plus_minus {
        Some(PlusMinus::Plus) => value.push('+'),
        Some(PlusMinus::Minus) => value.push('-'),
        None => {}
    }
    let unit = match measured.unit {
        Unit::Of10 => "of 10",
        Unit::Deg => "degrees",
        Unit::PerMinute => "a minute",
        Unit::Celsius => "degrees C",
        Unit::Percent => "%",
        Unit::Grade => "(grade)",
        Unit::Count => "times",
        other => other.word(),
    };
    let second = measured.second_value.as_ref().map(amount);
    let mut out = match second {
        Some(second) if measured.unit == Unit::Score => format!("{value} of {second} points"),
        Some(second) => format!("{value}/{second} {unit}"),
        None => format!("{value} {unit}"),
    };
    if let Some(typed) = &measured.typed {
        out.push_str(&format!(" (typed: {typed})"));
    }
    if measured.retyped == Some(true) {
        out.push_str(" (typed twice)");
    }
    if let Some(reason) = &measured.unusual_because {
        out.push_str(&format!(" (unusual, because: {reason})"));
    }
    out
}

/// `1 entry`, `3 entries`.
pub fn count(number: usize, one: &str, many: &str) -> String {
    if number == 1 { format!("1 {one}") } else { format!("{number} {many}") }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn places_are_said_in_full() {
        assert_eq!(segment(Segment::C5C6), "C5 to C6 (C5-C6)");
        assert_eq!(segment(Segment::Rib5), "rib 5");
        assert_eq!(side(Side::Both), "both sides (left and right)");
    }

    #[test]
    fn a_measure_keeps_its_form() {
        let read = |value| -> Measured { serde_json::from_value(value).unwrap() };
        let pressure =
            read(json!({"kind": "blood-pressure", "value": 148, "second_value": 86, "unit": "mmHg"}));
        assert_eq!(measured_value(&pressure), "148/86 mmHg");
        let score = read(
            json!({"kind": "questionnaire", "name": "jaw", "value": 4.5, "second_value": 20, "unit": "score"}),
        );
        assert_eq!(measured_value(&score), "4.5 of 20 points");
        assert_eq!(measured_what(&score), "questionnaire (jaw)");
    }

    #[test]
    fn a_blank_is_never_silent() {
        assert_eq!(given(&Given::Value(" ".to_string())), NOT_RECORDED);
        assert_eq!(given(&Given::absent("first visit")), "not done or not asked, because: first visit");
    }
}

//! How much of a note is the same as the last one of the same patient. Notes taken over word for
//! word are what an auditor looks for first, so the figure is kept with the note.

use super::kinds::visit::Visit;
use super::moment::Moment;
use serde_json::Value;
use std::collections::HashMap;

/// Fields that differ from visit to visit whatever was written: numbers of entries, who, and when.
const LEFT_OUT: [&str; 20] = [
    "visit",
    "practitioners",
    "screens",
    "agreed",
    "missing_acknowledged",
    "not_done",
    "answered",
    "sort",
    "codes",
    "carried_forward",
    "same_as_last_percent",
    "finished_later_because",
    "no",
    "at",
    "done_by",
    "consent",
    "asked",
    "sources",
    "reaction",
    "referral",
];

/// The share of a note's words and figures that stand in the same field of an earlier note, in
/// percent, rounded down: 100 when nothing is new. None when one of them says nothing.
///
/// Order does not matter: lines of the same note in another order are the same lines.
pub fn percent(note: &Visit, earlier: &Visit) -> Option<u8> {
    let (new, old) = (words_of(note)?, words_of(earlier)?);
    let total: usize = new.values().sum();
    if total == 0 || old.is_empty() {
        return None;
    }
    let same: usize =
        new.iter().map(|(word, count)| old.get(word).map_or(0, |before| (*before).min(*count))).sum();
    u8::try_from(same.saturating_mul(100) / total).ok()
}

/// Each word or figure with the field it stands in, and how often.
fn words_of(note: &Visit) -> Option<HashMap<String, usize>> {
    let value = serde_json::to_value(note).ok()?;
    let mut found = HashMap::new();
    gather(&value, "", &mut found);
    Some(found)
}

fn gather(value: &Value, field: &str, found: &mut HashMap<String, usize>) {
    let mut put = |word: String| *found.entry(format!("{field} {word}")).or_default() += 1;
    match value {
        Value::Object(members) => {
            let kept = members.iter().filter(|(name, _)| !LEFT_OUT.contains(&name.as_str()));
            kept.for_each(|(name, member)| gather(member, &format!("{field}/{name}"), found));
        }
        Value::Array(items) => items.iter().for_each(|item| gather(item, field, found)),
        Value::String(text) if Moment::parse(text).is_ok() => {}
        Value::String(text) => text
            .split(|letter: char| !letter.is_alphanumeric())
            .filter(|word| !word.is_empty())
            .for_each(|word| put(word.to_lowercase())),
        Value::Null => {}
        other => put(other.to_string()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::kinds::common::Given;
    use serde_json::json;

    fn note(changed: &str, findings: Value, procedures: Value) -> Visit {
        serde_json::from_value(json!({
            "visit": 7, "sort": "later", "changed_since_last": changed, "findings": findings,
            "assessment": {"not_done_because": "as last time"}, "agreed": {"consents": [3]},
            "procedures": procedures, "advice": {"not_done_because": "none needed"},
            "plan": {"next_step": "once more"}
        }))
        .unwrap()
    }

    fn treated(at: &str, side: &str) -> Value {
        json!([{"no": 1, "at": at, "technique": "thrust", "region": "lumbar", "side": side, "done_by": "IV",
                "response": {"word": "tolerated"}}])
    }

    fn plain(changed: &str) -> Visit {
        let found = json!([{"no": 1, "region": "lumbar", "kind": "tenderness", "grade": 2}]);
        note(changed, found, treated("2025-03-11T09:40:00-04:00", "left"))
    }

    #[test]
    fn a_note_taken_over_whole_is_the_same_whatever_its_times_and_numbers() {
        let last = plain("easier in the morning");
        let mut copied = plain("easier in the morning");
        copied.visit = 9;
        copied.agreed.consents = vec![3, 8];
        copied.procedures[0].at = Moment::parse("2025-03-18T10:02:00-04:00").unwrap();
        assert_eq!(percent(&copied, &last), Some(100));
    }

    /// Counted by hand: eighteen words and figures, of which "worse", "since" and "weekend" are new.
    #[test]
    fn new_words_lower_the_figure_by_their_share() {
        let last = plain("easier in the morning");
        let next = plain("worse since the weekend");
        assert_eq!(percent(&next, &last), Some(83), "fifteen of eighteen, rounded down");
        // A note with everything new in it shares only what the layout says each time.
        let found = json!([{"no": 1, "region": "ribs", "side": "right", "kind": "swelling", "words": "warm and full"}]);
        let other = note("fell from a ladder on Sunday", found, json!([]));
        assert_eq!(
            percent(&other, &last),
            Some(36),
            "seven of nineteen: what is said of assessment, advice and plan"
        );
    }

    #[test]
    fn when_a_thing_was_is_no_word_of_the_note() {
        let (mut last, mut next) = (plain("easier"), plain("easier"));
        last.procedures[0].stopped_at = Moment::parse("2025-03-11T09:44:00-04:00").ok();
        next.procedures[0].stopped_at = Moment::parse("2025-03-18T10:05:00-04:00").ok();
        assert_eq!(percent(&next, &last), Some(100));
        assert_eq!(percent(&next, &plain("easier")), Some(100));
    }

    #[test]
    fn a_note_that_says_nothing_is_like_none() {
        let mut empty = note("", json!([]), json!([]));
        empty.assessment = Given::absent("");
        empty.advice = Given::absent("");
        empty.plan = Given::absent("-");
        assert_eq!(percent(&empty, &plain("easier")), None);
        assert_eq!(percent(&plain("easier"), &empty), None);
        assert_eq!(percent(&empty, &empty), None);
    }

    #[test]
    fn the_same_word_in_another_field_is_not_the_same() {
        let (left, right) = (plain("left"), plain("right"));
        assert!(percent(&left, &right).unwrap() < 100);
    }

    #[test]
    fn twice_the_same_line_is_not_covered_by_one() {
        let last = plain("easier");
        let mut doubled = last.clone();
        let again = doubled.procedures[0].clone();
        doubled.procedures.push(again);
        assert!(percent(&doubled, &last).unwrap() < 100);
        assert_eq!(percent(&last, &doubled), Some(100), "all of it stood there before");
    }
}

//! How much of a note is the same as in another: words and values in their places, whatever the times and
//! numbers of entries, which differ always and say nothing.

use crate::record::kinds::visit::Visit;
use serde_json::Value;
use std::collections::BTreeMap;

/// Parts that every note has of its own, or that say how it was made.
const LEFT_OUT: [&str; 13] = [
    "visit",
    "sort",
    "practitioners",
    "screens",
    "agreed",
    "no",
    "at",
    "done_by",
    "consent",
    "asked",
    "carried_forward",
    "missing_acknowledged",
    "codes",
];

/// Likeness in whole percent, rounded down: twice what both have, over what each has. Two empty notes are
/// not alike.
pub(super) fn percent(one: &Visit, other: &Visit) -> u32 {
    let (one, other) = (bag(one), bag(other));
    let size = |bag: &BTreeMap<String, u32>| bag.values().sum::<u32>();
    let both: u32 = one.iter().map(|(word, n)| (*n).min(other.get(word).copied().unwrap_or(0))).sum();
    let all = size(&one) + size(&other);
    (200 * both).checked_div(all).unwrap_or(0)
}

fn bag(note: &Visit) -> BTreeMap<String, u32> {
    let mut bag = BTreeMap::new();
    if let Ok(value) = serde_json::to_value(note) {
        gather(&value, "", &mut bag);
    }
    bag
}

fn gather(value: &Value, place: &str, bag: &mut BTreeMap<String, u32>) {
    match value {
        Value::Object(fields) => {
            for (name, value) in fields.iter().filter(|(name, _)| !LEFT_OUT.contains(&name.as_str())) {
                gather(value, name, bag);
            }
        }
        Value::Array(items) => items.iter().for_each(|item| gather(item, place, bag)),
        Value::String(text) => {
            for word in text.split_whitespace() {
                *bag.entry(format!("{place} {}", word.to_lowercase())).or_default() += 1;
            }
        }
        Value::Null => {}
        other => *bag.entry(format!("{place} {other}")).or_default() += 1,
    }
}

//! What is typed or chosen in the room and not yet part of anything: half a line, the question on the table. Kept
//! sealed like a draft, so that a closed lid or a stopped program loses nothing, and gone when it is used.

use super::drafts::Kept;
use super::open::Practice;
use crate::trouble::{Outcome, Trouble};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// The kind under which it is kept beside the drafts.
pub const KIND: &str = "half-typed";
/// Most fields, and most letters of one: a page has fewer, and nobody types more into one.
const MOST_FIELDS: usize = 60;
const MOST_LETTERS: usize = 8_000;

/// Fields of a page with what stands in them.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Typing {
    fields: BTreeMap<String, String>,
}

impl Typing {
    /// What stands in a field.
    pub fn get(&self, field: &str) -> Option<&str> {
        self.fields.get(field).map(String::as_str)
    }

    /// Puts words into a field; blank words empty it. What is longer than anybody types is cut.
    pub fn put(&mut self, field: &str, words: &str) {
        if words.trim().is_empty() {
            self.fields.remove(field);
        } else if self.fields.len() < MOST_FIELDS || self.fields.contains_key(field) {
            self.fields.insert(field.to_string(), words.chars().take(MOST_LETTERS).collect());
        }
    }

    /// Takes what stands in a field out of it.
    pub fn take(&mut self, field: &str) -> Option<String> {
        self.fields.remove(field)
    }
}

impl Practice {
    /// What whoever is here left half typed about a chart.
    ///
    /// # Errors
    /// When it can't be read.
    pub fn typing(&self, tag: &str) -> Outcome<Typing> {
        let Some(kept) = self.draft(KIND, Some(tag))? else { return Ok(Typing::default()) };
        serde_json::from_value(kept.data)
            .map_err(|_| Trouble::damaged("What was left half typed can't be read."))
    }

    /// Keeps it, in the place of what was kept before; nothing is kept of nothing.
    ///
    /// # Errors
    /// When it can't be written.
    pub fn keep_typing(&self, tag: &str, typing: &Typing) -> Outcome<()> {
        if typing.fields.is_empty() {
            return self.drop_draft(KIND, Some(tag));
        }
        let data =
            serde_json::to_value(typing).map_err(|_| Trouble::damaged("What was typed can't be kept."))?;
        let (by, begun) = (self.session.me.code.clone(), self.now());
        self.keep_draft(&Kept { kind: KIND.to_string(), chart: Some(tag.to_string()), by, begun, data })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn blank_words_empty_a_field_and_nobody_fills_it_without_end() {
        let mut typing = Typing::default();
        typing.put("line", "C5-6 R mo");
        assert_eq!(typing.get("line"), Some("C5-6 R mo"));
        typing.put("line", " ");
        assert_eq!(typing.get("line"), None);
        typing.put("line", &"x".repeat(20_000));
        assert_eq!(typing.get("line").map(str::len), Some(MOST_LETTERS));
        (0..200).for_each(|n| typing.put(&format!("f{n}"), "x"));
        assert_eq!(typing.fields.len(), MOST_FIELDS);
        assert_eq!(typing.take("line").map(|words| words.len()), Some(MOST_LETTERS));
    }
}

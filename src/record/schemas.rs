//! The published JSON Schemas (2020-12), one for each kind and one for the record around it.

use super::envelope::Record;
use super::kinds::KINDS;
use serde_json::Value;

/// Every schema with its file name, in the order of the table of kinds, the envelope first.
pub fn all() -> Vec<(String, Value)> {
    let envelope = ("record.schema.json".to_string(), schemars::schema_for!(Record).to_value());
    std::iter::once(envelope)
        .chain(KINDS.iter().flat_map(|row| (1..=row.edition).map(move |edition| (row, edition))).map(
            |(row, edition)| {
                let mut schema = (row.schema)();
                if let Some(members) = schema.as_object_mut() {
                    members.insert("title".to_string(), Value::from(row.title));
                }
                for (_, _, word) in
                    LATER.iter().filter(|(kind, from, _)| *kind == row.word && edition < *from)
                {
                    take_out(&mut schema, word);
                }
                (format!("record-{}-{edition}.schema.json", row.word), schema)
            },
        ))
        .collect()
}

/// Words that came with a later edition of a kind: kind, edition, word.
const LATER: [(&str, u32, &str); 1] = [("access", 2, "emergency")];

/// Takes a word out of every list of words in a schema.
fn take_out(schema: &mut Value, word: &str) {
    match schema {
        Value::Array(items) => {
            items.retain(|item| item != word && item.get("const").is_none_or(|is| is != word));
            items.iter_mut().for_each(|item| take_out(item, word));
        }
        Value::Object(members) => members.values_mut().for_each(|member| take_out(member, word)),
        _ => {}
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The first edition of an opening has no word for an emergency; no other kind loses the word by that.
    #[test]
    fn an_edition_has_the_words_it_was_published_with() {
        let all = all();
        let text =
            |name: &str| all.iter().find(|(of, _)| of == name).map(|(_, schema)| schema.to_string()).unwrap();
        let has = |name: &str, word: &str| text(name).contains(&format!("\"{word}\""));
        assert_eq!(all[0].0, "record.schema.json");
        assert!(
            !has("record-access-1.schema.json", "emergency")
                && has("record-access-2.schema.json", "emergency")
        );
        for word in ["visit", "call", "billing", "request", "review", "other", "whole-chart"] {
            assert!(has("record-access-1.schema.json", word), "{word}");
        }
        assert!(has("record-referral-1.schema.json", "emergency"), "how urgent a referral is");
        assert_eq!(
            text("record-access-1.schema.json").matches("\"title\":\"Opened for reading\"").count(),
            1
        );
        assert_eq!(
            all.len(),
            2 + KINDS.len(),
            "one of each kind, two of an opening, and the record around them"
        );
    }
}

//! The published JSON Schemas (2020-12), one for each kind and one for the record around it.

use super::envelope::Record;
use super::kinds::KINDS;
use serde_json::Value;

/// Every schema with its file name, in the order of the table of kinds, the envelope first.
pub fn all() -> Vec<(String, Value)> {
    let envelope = ("record.schema.json".to_string(), schemars::schema_for!(Record).to_value());
    std::iter::once(envelope)
        .chain(KINDS.iter().map(|row| {
            let mut schema = (row.schema)();
            if let Some(members) = schema.as_object_mut() {
                members.insert("title".to_string(), Value::from(row.title));
            }
            (format!("record-{}-{}.schema.json", row.word, row.edition), schema)
        }))
        .collect()
}

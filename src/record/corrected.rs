//! Making a correction in a record: the one place that says what a correction's pointer reaches.

use super::envelope::Record;
use super::kinds::amend::Correction;
use serde_json::Value;
use std::collections::BTreeMap;

/// The record with one field (JSON Pointer, RFC 6901) set to `is`, or taken out where `is` is null.
/// None when the field is not there to be set, or the result no longer fits the layout of its kind.
pub fn with(record: &Record, field: &str, is: &Value) -> Option<Record> {
    let mut next = record.clone();
    super::fields::set(&mut next.data, field, is)?;
    (record.read_data().is_err() || next.read_data().is_ok()).then_some(next)
}

/// Follows corrections of corrections: one of what an earlier one put in place counts for the entry
/// first meant.
#[derive(Debug, Default)]
pub struct Meant(BTreeMap<u64, (u64, String)>);

impl Meant {
    /// The entry and the field that correction number `seq` reaches. Corrections come in the order
    /// written.
    pub fn reached(&mut self, seq: u64, correction: &Correction) -> (u64, String) {
        let (mut target, mut field) = (correction.target, correction.field.clone());
        if let (Some((first, place)), Some(rest)) = (self.0.get(&target), field.strip_prefix("/is"))
            && (rest.is_empty() || rest.starts_with('/'))
        {
            (target, field) = (*first, format!("{place}{rest}"));
        }
        self.0.insert(seq, (target, field.clone()));
        (target, field)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::examples::example;
    use serde_json::json;

    #[test]
    fn a_correction_is_made_where_its_layout_holds_it() {
        let visit = example("visit");
        let side = |record: &Record| record.data.pointer("/procedures/0/side").cloned();
        assert_eq!(side(&with(&visit, "/procedures/0/side", &json!("left")).unwrap()), Some(json!("left")));
        assert_eq!(side(&with(&visit, "/procedures/0/side", &Value::Null).unwrap()), None);
        assert_eq!(with(&visit, "/procedures/0/side", &json!("upwards")), None);
        assert_eq!(with(&visit, "/procedures/9/side", &json!("left")), None);
        // What could not be read before is not held to a layout it never had.
        let mut odd = visit;
        odd.data["sort"] = json!("seventh");
        assert_eq!(side(&with(&odd, "/procedures/0/side", &json!("left")).unwrap()), Some(json!("left")));
        odd.edition = 9;
        assert_eq!(side(&with(&odd, "/procedures/0/side", &json!("left")).unwrap()), Some(json!("left")));
    }

    #[test]
    fn a_correction_of_a_correction_reaches_the_entry_first_meant() {
        let mut meant = Meant::default();
        let mut reached = |seq: u64, target: u64, field: &str| {
            let mut data = example("correction").data;
            (data["target"], data["field"]) = (json!(target), json!(field));
            let correction: Correction = serde_json::from_value(data).unwrap();
            let (entry, field) = meant.reached(seq, &correction);
            format!("{entry} {field}")
        };
        assert_eq!(reached(20, 7, "/procedures/0"), "7 /procedures/0");
        assert_eq!(reached(21, 20, "/is"), "7 /procedures/0", "what it put in place");
        assert_eq!(reached(22, 20, "/is/side"), "7 /procedures/0/side", "a part of that");
        assert_eq!(reached(23, 22, "/is"), "7 /procedures/0/side", "a correction of that one");
        assert_eq!(reached(24, 20, "/reason"), "20 /reason", "what the correction itself says");
        assert_eq!(reached(25, 20, "/issued"), "20 /issued");
        assert_eq!(reached(26, 8, "/is"), "8 /is", "no correction, so its own field");
    }
}

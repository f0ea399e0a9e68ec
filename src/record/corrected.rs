//! Making a correction in a record: the one place that says what a correction's pointer reaches.

use super::envelope::Record;
use super::kinds::amend::Correction;
use serde_json::Value;
use std::collections::BTreeMap;

/// The record with one field (JSON Pointer, RFC 6901) set to `is`, or taken out where `is` is null.
/// None when the field is not there to be set, or the result no longer fits the layout of its kind.
pub fn with(record: &Record, field: &str, is: &Value) -> Option<Record> {
    let mut next = record.clone();
    let (parent, name) = field.rsplit_once('/')?;
    let name = name.replace("~1", "/").replace("~0", "~");
    match next.data.pointer_mut(parent)? {
        Value::Object(members) if is.is_null() => {
            members.shift_remove(&name)?;
        }
        Value::Object(members) => {
            members.insert(name, is.clone());
        }
        Value::Array(items) if name == "-" && !is.is_null() => items.push(is.clone()),
        Value::Array(items) => {
            let at: usize = name.parse().ok()?;
            if is.is_null() && at < items.len() {
                items.remove(at);
            } else {
                *items.get_mut(at)? = is.clone();
            }
        }
        _ => return None,
    }
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

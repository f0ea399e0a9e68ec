//! TOML as JSON: one reading for both, so that an adopted rules document and a rules file are the same to
//! every rule. Dates become their text.

use serde_json::{Map, Number, Value};

/// Reads a TOML text as a JSON value.
///
/// # Errors
/// What is wrong, with its line, in the words of the TOML reader.
pub fn read(text: &str) -> Result<Value, String> {
    let table: toml::Table = text.parse().map_err(|e: toml::de::Error| e.to_string())?;
    Ok(convert(toml::Value::Table(table)))
}

fn convert(value: toml::Value) -> Value {
    match value {
        toml::Value::String(text) => Value::String(text),
        toml::Value::Integer(number) => Value::Number(number.into()),
        toml::Value::Float(number) => Number::from_f64(number).map_or(Value::Null, Value::Number),
        toml::Value::Boolean(flag) => Value::Bool(flag),
        toml::Value::Datetime(moment) => Value::String(moment.to_string()),
        toml::Value::Array(list) => Value::Array(list.into_iter().map(convert).collect()),
        toml::Value::Table(table) => {
            Value::Object(table.into_iter().map(|(k, v)| (k, convert(v))).collect::<Map<_, _>>())
        }
    }
}

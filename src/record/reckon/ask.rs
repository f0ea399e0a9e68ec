//! How the topics of the desk read their input: a field that is null counts as not given, and a field
//! nobody asks for is refused, so that a slip of the pen is not taken for an answer left open.

use super::ReckonError;
use serde::de::DeserializeOwned;
use serde::{Deserialize, Deserializer};
use serde_json::Value;

/// Reads an input, of which these are all the fields any question of the topic has.
pub(super) fn question<T: DeserializeOwned>(input: &Value, fields: &[&str]) -> Result<T, ReckonError> {
    let Some(given) = input.as_object() else {
        return Err(ReckonError(
            "The input is not a JSON object with the fields of the question.".to_owned(),
        ));
    };
    if let Some(name) = given.keys().find(|name| name.as_str() != "ask" && !fields.contains(&name.as_str())) {
        return Err(ReckonError(format!(
            "There is no field {name:?} in this topic. Its fields are: ask, {}.",
            fields.join(", ")
        )));
    }
    T::deserialize(input).map_err(|e| ReckonError(format!("The input can't be read: {e}.")))
}

/// For a field that may be null where it may be absent.
pub(super) fn null_is_absent<'de, D: Deserializer<'de>, T: Default + Deserialize<'de>>(
    deserializer: D,
) -> Result<T, D::Error> {
    Ok(Option::<T>::deserialize(deserializer)?.unwrap_or_default())
}

/// True where nothing was written.
pub(super) fn is_blank(text: &str) -> bool {
    text.trim().is_empty()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[derive(Debug, Deserialize, PartialEq)]
    struct Asked {
        #[serde(default, deserialize_with = "null_is_absent")]
        days: Vec<u8>,
    }

    #[test]
    fn null_is_absent_and_a_slip_is_told() {
        let read = |text: &str| question::<Asked>(&serde_json::from_str(text).unwrap(), &["days", "more"]);
        assert_eq!(read("{}").unwrap(), read(r#"{"days":null,"more":1,"ask":"x"}"#).unwrap());
        assert!(read(r#"{"dyas":[1]}"#).unwrap_err().to_string().contains("dyas"));
        assert!(read("[1]").unwrap_err().to_string().contains("not a JSON object"));
        assert!(is_blank(" \t\n") && !is_blank("x"));
    }
}

//! Reading a facts document strictly: a key that is missing, unknown or written twice is an
//! error, and an error says where in the document it lies.

use crate::record::moment::{Date, parse_date};
use serde::de::{DeserializeOwned, Error, MapAccess, Visitor};
use serde::{Deserialize, Deserializer, Serializer};
use std::collections::BTreeMap;
use std::fmt;
use std::marker::PhantomData;

/// Reads a value that may be `null` but whose key must be there.
pub fn present<'de, T: Deserialize<'de>, D: Deserializer<'de>>(from: D) -> Result<Option<T>, D::Error> {
    Option::deserialize(from)
}

/// Reads a map and refuses a key written twice.
pub fn map_once<'de, V, D>(from: D) -> Result<BTreeMap<String, V>, D::Error>
where
    V: Deserialize<'de>,
    D: Deserializer<'de>,
{
    struct Once<V>(PhantomData<V>);
    impl<'de, V: Deserialize<'de>> Visitor<'de> for Once<V> {
        type Value = BTreeMap<String, V>;
        fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
            f.write_str("an object")
        }
        fn visit_map<A: MapAccess<'de>>(self, mut from: A) -> Result<Self::Value, A::Error> {
            let mut map = BTreeMap::new();
            while let Some(key) = from.next_key::<String>()? {
                if map.contains_key(&key) {
                    return Err(A::Error::custom(format_args!("duplicate key `{key}`")));
                }
                let value = from.next_value()?;
                map.insert(key, value);
            }
            Ok(map)
        }
    }
    from.deserialize_map(Once(PhantomData))
}

/// A map of maps, each read with [`map_once`].
pub fn maps_once<'de, D: Deserializer<'de>, V: Deserialize<'de>>(
    from: D,
) -> Result<BTreeMap<String, BTreeMap<String, V>>, D::Error> {
    #[derive(Deserialize)]
    #[serde(transparent)]
    struct Inner<V>(
        #[serde(deserialize_with = "map_once", bound(deserialize = "V: Deserialize<'de>"))]
        BTreeMap<String, V>,
    );
    Ok(map_once::<Inner<V>, D>(from)?.into_iter().map(|(key, inner)| (key, inner.0)).collect())
}

fn to_date<E: Error>(text: &str) -> Result<Date, E> {
    let shown: String = text.chars().take(40).collect();
    parse_date(text).ok_or_else(|| {
        E::custom(format_args!("\"{shown}\" is not a date: write YYYY-MM-DD and a day that exists"))
    })
}

/// Dates as `YYYY-MM-DD`.
pub mod day {
    use super::*;
    /// Writes `YYYY-MM-DD`.
    pub fn serialize<S: Serializer>(date: &Date, to: S) -> Result<S::Ok, S::Error> {
        to.collect_str(date)
    }
    /// Reads `YYYY-MM-DD`.
    pub fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Date, D::Error> {
        to_date(&String::deserialize(from)?)
    }
}

/// Dates as `YYYY-MM-DD`, or `null`; the key must be there.
pub mod day_or_null {
    use super::*;
    /// Writes `YYYY-MM-DD` or `null`.
    pub fn serialize<S: Serializer>(date: &Option<Date>, to: S) -> Result<S::Ok, S::Error> {
        match date {
            Some(date) => to.collect_str(date),
            None => to.serialize_none(),
        }
    }
    /// Reads `YYYY-MM-DD` or `null`.
    pub fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Option<Date>, D::Error> {
        Option::<String>::deserialize(from)?.map(|text| to_date(&text)).transpose()
    }
}

/// Reads a whole document; the error is (JSON pointer, what is wrong).
pub fn read<T: DeserializeOwned>(text: &str) -> Result<T, (String, String)> {
    serde_json::from_str(text).map_err(|error| {
        let what = error.to_string();
        (pointer_at(text, error.line(), error.column()), what)
    })
}

/// The JSON pointer of what stands at a line and column, as a reader reports them.
fn pointer_at(text: &str, line: usize, column: usize) -> String {
    let bytes = text.as_bytes();
    let mut start = 0;
    for _ in 1..line {
        match bytes[start..].iter().position(|b| *b == b'\n') {
            Some(at) => start += at + 1,
            None => break,
        }
    }
    let end = (start + column).min(bytes.len());
    let mut path: Vec<Step> = Vec::new();
    let mut at = 0;
    while at < end {
        match bytes[at] {
            b'"' => {
                let close = string_end(bytes, at);
                if let Some(Step::Key(key @ None)) = path.last_mut() {
                    *key = Some(text.get(at + 1..close).unwrap_or_default().to_owned());
                }
                at = close;
            }
            b'{' => path.push(Step::Key(None)),
            b'[' => path.push(Step::Index(0)),
            b'}' | b']' => drop(path.pop()),
            b',' => match path.last_mut() {
                Some(Step::Key(key)) => *key = None,
                Some(Step::Index(index)) => *index += 1,
                None => {}
            },
            _ => {}
        }
        at += 1;
    }
    path.iter().map(Step::to_string).collect()
}

enum Step {
    Key(Option<String>),
    Index(usize),
}

impl fmt::Display for Step {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Step::Key(Some(key)) => write!(f, "/{}", key.replace('~', "~0").replace('/', "~1")),
            Step::Key(None) => Ok(()),
            Step::Index(index) => write!(f, "/{index}"),
        }
    }
}

/// Index of the closing quote of the string that opens at `open`.
fn string_end(bytes: &[u8], open: usize) -> usize {
    let mut at = open + 1;
    while at < bytes.len() && bytes[at] != b'"' {
        at += if bytes[at] == b'\\' { 2 } else { 1 };
    }
    at.min(bytes.len())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[derive(Debug, Deserialize)]
    #[serde(deny_unknown_fields)]
    #[allow(dead_code)]
    struct Doc {
        #[serde(deserialize_with = "present")]
        note: Option<String>,
        list: Vec<Item>,
    }

    #[derive(Debug, Deserialize)]
    #[serde(deny_unknown_fields)]
    #[allow(dead_code)]
    struct Item {
        #[serde(with = "day_or_null")]
        on: Option<Date>,
        #[serde(deserialize_with = "map_once")]
        by: BTreeMap<String, u32>,
    }

    fn error(text: &str) -> (String, String) {
        read::<Doc>(text).unwrap_err()
    }

    #[test]
    fn null_is_read_and_a_missing_key_is_not() {
        assert!(read::<Doc>(r#"{"note":null,"list":[{"on":null,"by":{}}]}"#).is_ok());
        let (path, what) = error(r#"{"note":null,"list":[{"on":null,"by":{}},{"by":{}}]}"#);
        assert_eq!(path, "/list/1");
        assert!(what.contains("missing field `on`"), "{what}");
        assert!(error(r#"{"list":[]}"#).1.contains("missing field `note`"));
    }

    #[test]
    fn twice_unknown_and_impossible_are_refused_where_they_stand() {
        let (path, what) = error("{\"note\":null,\n\"list\":[{\"on\":\"2025-02-30\",\"by\":{}}]}");
        assert_eq!(path, "/list/0/on");
        assert!(what.contains("not a date"), "{what}");
        let (path, what) = error(r#"{"note":"}\"","list":[{"on":null,"by":{"a":1,"a":2}}]}"#);
        assert_eq!(path, "/list/0/by/a");
        assert!(what.contains("duplicate key"), "{what}");
        let (path, what) = error(r#"{"note":null,"list":[{"on":null,"by":[]}]}"#);
        assert_eq!(path, "/list/0/by");
        assert!(what.contains("expected an object"), "{what}");
        assert_eq!(error(r#"{"note":null,"list":[],"more":1}"#).0, "/more");
        assert!(error(r#"{"note":null,"note":null,"list":[]}"#).1.contains("duplicate field"));
    }

    /// The place is a pointer of RFC 6901 (`~` and `/` in a key are written ~0 and ~1), through lines, nested
    /// lists and strings with quotes, backslashes and brackets of their own.
    #[test]
    fn an_error_is_pointed_at_wherever_it_lies() {
        for (text, place) in [
            (r#"{"note":null,"list":[{"on":null,"by":{"a/b~c":"x"}}]}"#, "/list/0/by/a~1b~0c"),
            (r#"{"note":"a\\","list":[{"on":null,"by":{"k":"x"}}]}"#, "/list/0/by/k"),
            (r#"{"note":"[{,","list":[{"on":null,"by":{"\"":0}},{"on":0,"by":{}}]}"#, "/list/1/on"),
            (
                r#"{"note":null,"list":[{"on":null,"by":{"a":1}},{"on":null,"by":{}},{"on":"x","by":{}}]}"#,
                "/list/2/on",
            ),
            (
                "{\n\"note\": \"]\",\n\"list\": [\n{\"on\": null, \"by\": {}},\n{\"on\": null, \"by\": {\"k\": 1, \"l\": \"x\"}}\n]}",
                "/list/1/by/l",
            ),
            (r#"{"note":null,"list":{}}"#, "/list"),
            (r#"{"note":null,"list":[{"on":"#, "/list/0/on"),
            (r#"{"note":"never ended"#, "/note"),
            (r#"{"list":[]}"#, ""),
            ("", ""),
        ] {
            assert_eq!(error(text).0, place, "{text}");
        }
    }

    /// Of a long text in a date's place only the beginning is shown.
    #[test]
    fn a_date_that_is_none_is_shown_shortened() {
        let (_, what) =
            error(&format!(r#"{{"note":null,"list":[{{"on":"{}","by":{{}}}}]}}"#, "9".repeat(60)));
        assert!(what.contains(&format!("\"{}\" is not a date", "9".repeat(40))), "{what}");
    }
}

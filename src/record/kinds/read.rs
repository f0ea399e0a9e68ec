//! Reading data into its layout, with an error that says where, and never what stood there:
//! a body may hold what must not appear in an error text.

use serde::de::DeserializeOwned;
use serde_json::Value;

/// Why data does not fit the layout of its kind.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("the data of this entry does not fit its kind, at \"{path}\": {text}")]
pub struct ReadError {
    /// Where (JSON Pointer, RFC 6901; empty for the whole).
    pub path: String,
    /// What was expected, without what stood there.
    pub text: String,
}

impl ReadError {
    /// The edition is none.
    pub(crate) fn edition() -> ReadError {
        ReadError { path: String::new(), text: "editions are numbered from 1".to_string() }
    }

    /// The text with the place, for an error inside another.
    pub(crate) fn inner(&self) -> String {
        if self.path.is_empty() { self.text.clone() } else { format!("{} (at {})", self.text, self.path) }
    }
}

/// Reads a value, and on failure finds the place by reading its text again.
pub(crate) fn read_with_path<T: DeserializeOwned>(value: &Value) -> Result<T, ReadError> {
    let text = value.to_string();
    serde_json::from_str(&text).map_err(|error| {
        let raw = error.to_string();
        // A missing field is noticed when the closing brace is seen, one byte further on.
        let ahead = usize::from(raw.starts_with("missing field"));
        let path = path_at(&text, (error.column() + ahead).saturating_sub(1));
        ReadError { path, text: without_values(&raw) }
    })
}

/// Takes what stood in the data out of a message of the JSON reader.
fn without_values(raw: &str) -> String {
    let text = raw.rsplit_once(" at line ").map_or(raw, |(text, _)| text);
    if text.starts_with("missing field") {
        return text.replace("missing field", "missing:").replace('`', "");
    }
    if text.starts_with("unknown field") {
        return "a field this edition does not have".to_string();
    }
    if text.starts_with("unknown variant") {
        return "not one of the words allowed here".to_string();
    }
    if text.starts_with("invalid") {
        let expected = text.rsplit_once(", expected ").map_or("another form", |(_, expected)| expected);
        return format!("not of the right form; expected {expected}");
    }
    if text.contains("is not a moment") {
        return "not a moment: write date, time and offset, like 2025-03-11T09:40:00-04:00".to_string();
    }
    text.to_string()
}

/// One open object or array while scanning.
enum Step {
    Key(String),
    Index(usize),
}

/// The pointer to whatever the byte at `offset` of this compact JSON belongs to.
fn path_at(text: &str, offset: usize) -> String {
    let bytes = text.as_bytes();
    let mut steps: Vec<Step> = Vec::new();
    let mut at = 0;
    while at < bytes.len() && at <= offset {
        match bytes[at] {
            b'{' => steps.push(Step::Key(String::new())),
            b'[' => steps.push(Step::Index(0)),
            b',' => match steps.last_mut() {
                Some(Step::Index(index)) => *index += 1,
                Some(Step::Key(key)) => key.clear(),
                None => {}
            },
            b'}' | b']' if at < offset => {
                steps.pop();
            }
            b'}' | b']' => {
                // The closing byte itself belongs to the object or array, not to its last member.
                steps.pop();
                return pointer(&steps);
            }
            b'"' => {
                let end = string_end(bytes, at);
                if bytes.get(end) == Some(&b':')
                    && let Some(Step::Key(key)) = steps.last_mut()
                {
                    *key = serde_json::from_str(&text[at..end]).unwrap_or_default();
                }
                at = end;
                continue;
            }
            _ => {}
        }
        at += 1;
    }
    pointer(&steps)
}

/// The byte after the string that starts at `start`.
fn string_end(bytes: &[u8], start: usize) -> usize {
    let mut at = start + 1;
    while at < bytes.len() && bytes[at] != b'"' {
        at += if bytes[at] == b'\\' { 2 } else { 1 };
    }
    (at + 1).min(bytes.len())
}

fn pointer(steps: &[Step]) -> String {
    let mut path = String::new();
    for step in steps {
        match step {
            Step::Key(key) if key.is_empty() => {}
            Step::Key(key) => {
                path.push('/');
                path.push_str(&key.replace('~', "~0").replace('/', "~1"));
            }
            Step::Index(index) => path.push_str(&format!("/{index}")),
        }
    }
    path
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::kinds::Data;
    use serde_json::json;

    fn fault(kind: &str, value: Value) -> (String, String) {
        let error = Data::read(kind, 1, &value).unwrap_err();
        (error.path, error.text)
    }

    #[test]
    fn says_where_and_not_what() {
        let (path, text) = fault("written-reason", json!({"visit": 3, "alert": "x-secret", "words": "w"}));
        assert_eq!(path, "/alert");
        assert!(!text.contains("secret"), "{text}");
        let (path, text) = fault("written-reason", json!({"visit": 3, "alert": 4}));
        assert_eq!((path.as_str(), text.as_str()), ("", "missing: words"));
        let (path, _) =
            fault("written-reason", json!({"visit": 3, "alert": 4, "words": "w", "more": "secret"}));
        assert_eq!(path, "/more");
    }

    #[test]
    fn finds_a_place_deep_inside() {
        let answers = json!([{"item": "a", "answer": "no"}, {"item": "b", "answer": "perhaps"}]);
        let (path, text) = fault("screen", json!({"screen": "neck", "done_by": "IV", "answers": answers}));
        assert_eq!(path, "/answers/1/answer");
        assert_eq!(text, "not one of the words allowed here");
        let answers = json!([{"item": "a,\"}", "answer": "no"}, {"item": "b"}]);
        let (path, text) = fault("screen", json!({"answers": answers, "screen": "neck", "done_by": "IV"}));
        assert_eq!((path.as_str(), text.as_str()), ("/answers/1", "missing: answer"));
    }

    #[test]
    fn an_explicit_absence_is_read_and_a_wrong_value_is_named() {
        let (path, text) =
            fault("pause", json!({"visit": 3, "kind": "pause", "reason": {"not_done_because": 5}}));
        assert_eq!(path, "/reason");
        assert!(text.contains("expected a string"), "{text}");
    }

    #[test]
    fn later_kinds_and_editions_are_carried() {
        for (kind, edition) in [("consent", 2), ("telepathy", 1)] {
            assert!(matches!(Data::read(kind, edition, &json!({"a": 1})), Ok(Data::Unknown { .. })));
        }
        assert!(Data::read("consent", 0, &json!({})).is_err());
    }
}

//! Reading data into its layout, with an error that says where, and never what stood there:
//! a body may hold what must not appear in an error text.

use super::layout::Layout;
use schemars::JsonSchema;
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
}

impl ReadError {
    /// What stands in it came with a later edition than the one it names.
    pub(crate) fn of_later_edition() -> ReadError {
        ReadError { path: String::new(), text: "it holds what its edition does not have".to_string() }
    }
}

/// Reads a value; on failure the place is found by walking it along the schema.
pub(crate) fn read_with_path<T: DeserializeOwned + JsonSchema>(value: &Value) -> Result<T, ReadError> {
    T::deserialize(value).map_err(|_| {
        let schema = schemars::schema_for!(T).to_value();
        // The reader's own message is not passed on: it quotes what stood there.
        Layout::of(&schema).misfit(value).unwrap_or_else(|| ReadError {
            path: String::new(),
            text: "it does not fit its layout".to_string(),
        })
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::examples::example;
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
        assert_eq!(path, "/reason/not_done_because");
        assert!(text.contains("expected a text"), "{text}");
        let (path, _) = fault("pause", json!({"visit": 3, "kind": "pause", "reason": ["x"]}));
        assert_eq!(path, "/reason");
        let resumed = |at: Value| {
            fault("pause", json!({"visit": 3, "kind": "pause", "reason": "dizzy", "resumed_yes_at": at}))
        };
        let (path, text) = resumed(json!("2025-03-11 09:40"));
        assert_eq!(path, "/resumed_yes_at");
        assert!(text.contains("not a moment"), "{text}");
        assert!(resumed(json!(true)).1.contains("expected a text"));
        let affected = json!({"target": 3, "field": "/side", "was": "left", "is": "right", "reason": "misheard",
            "care_affected": "no", "patient_told": {"not_done_because": "next visit"}});
        assert_eq!(
            fault("correction", affected),
            ("/care_affected".to_string(), "not of the right form; expected true or false".to_string())
        );
    }

    /// A valid note of a visit with one place changed: the fault is named there, with what was expected.
    fn note_fault(pointer: &str, value: Value) -> (String, String) {
        let mut note = example("visit").data;
        *note.pointer_mut(pointer).unwrap() = value;
        fault("visit", note)
    }

    #[test]
    fn each_form_is_named_in_plain_words() {
        let whole = "not of the right form; expected a whole number in its range";
        for value in [json!(256), json!(-1), json!(4.5), json!("5")] {
            assert_eq!(note_fault("/complaints/0/pain_worst", value.clone()).1, whole, "{value}");
        }
        for (pointer, value, expected) in [
            ("/measures/0/measured/value", json!("5"), "a number"),
            ("/procedures", json!("none"), "a list"),
            ("/agreed", json!(17), "a group of fields"),
            ("/procedures/0/done_by", json!(4), "a text"),
            ("/procedures/0/technique", json!(4), "a text"),
        ] {
            let said = (pointer.to_string(), format!("not of the right form; expected {expected}"));
            assert_eq!(note_fault(pointer, value), said);
        }
        for day in ["2025-02-29", "2022-11-31", "14 Nov 2022", "2022-11-14T10:00:00-05:00"] {
            let (path, text) = note_fault("/plan/re_examine_on", json!(day));
            assert_eq!(
                (path.as_str(), text.as_str()),
                ("/plan/re_examine_on", "not a day that exists, written like 2025-03-11")
            );
        }
    }

    /// Below zero where that is allowed, an explicit null, and a part that nobody lays out: the fault is the one behind them.
    #[test]
    fn what_fits_is_not_taken_for_the_fault() {
        let remark = json!({"state": "opened", "at_station": "desk", "words": "w", "seconds_wrong": -3600, "covers": ["x"]});
        assert_eq!(fault("clock-remark", remark).0, "/covers/0");
        let screen = json!({"visit": null, "screen": "neck", "done_by": 5});
        assert_eq!(fault("screen", screen).0, "/done_by");
        let rules = json!({"document": {"coverage": {"a": [1]}, "b": "c"}, "name": "n", "edition": "1",
            "effective": "2022-10-03", "adopted_by": 4});
        assert_eq!(fault("rules", rules).0, "/adopted_by");
        let born = |year: i64| {
            let mut chart = example("chart-opened").data;
            chart["identity"]["birth_date"] = json!({ "estimated_year": year });
            fault("chart-opened", chart).0
        };
        assert_eq!(born(32_768), "/identity/birth_date/estimated_year");
        assert_eq!(born(-32_769), "/identity/birth_date/estimated_year");
    }

    #[test]
    fn later_kinds_and_editions_are_carried() {
        for (kind, edition) in [("consent", 2), ("telepathy", 1)] {
            assert!(matches!(Data::read(kind, edition, &json!({"a": 1})), Ok(Data::Unknown { .. })));
        }
        assert!(Data::read("consent", 0, &json!({})).is_err());
    }
}

//! Walking a value along its schema: which part of the schema a member belongs to, and where
//! a value first leaves it.

use super::ReadError;
use super::common::Day;
use crate::record::moment::{Moment, parse_date};
use schemars::JsonSchema;
use serde_json::{Map, Value};
use std::sync::OnceLock;

/// The pattern in a type's own schema.
fn pattern_of<T: JsonSchema>() -> Option<Value> {
    T::json_schema(&mut schemars::SchemaGenerator::default()).get("pattern").cloned()
}

/// A place in a schema, with the whole schema for following references.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Layout<'a> {
    root: &'a Value,
    here: &'a Value,
}

impl<'a> Layout<'a> {
    /// The layout a whole schema describes.
    pub(crate) fn of(root: &'a Value) -> Layout<'a> {
        Layout { root, here: root }
    }

    fn at(self, here: &'a Value) -> Layout<'a> {
        Layout { root: self.root, here }
    }

    /// The part that describes this very value: references followed, the branch chosen.
    pub(crate) fn settle(self, value: &Value) -> Layout<'a> {
        let mut layout = self;
        // References and branches in these schemas are few; the bound only guards against a loop.
        for _ in 0..16 {
            if let Some(name) = layout.reference() {
                match layout.root.get("$defs").and_then(|defs| defs.get(name)) {
                    Some(here) => layout = layout.at(here),
                    None => return layout,
                }
            } else if let Some(branches) = layout.here.get("anyOf").and_then(Value::as_array) {
                match branches.iter().find(|branch| layout.at(branch).takes(value)) {
                    Some(here) => layout = layout.at(here),
                    None => return layout,
                }
            } else {
                return layout;
            }
        }
        layout
    }

    fn reference(self) -> Option<&'a str> {
        self.here.get("$ref").and_then(Value::as_str)?.strip_prefix("#/$defs/")
    }

    /// True when a branch is the one meant: null for null, a reason for a reason.
    fn takes(self, value: &Value) -> bool {
        let is_reason = self.reference() == Some("Absent");
        let is_null = self.here.get("type").and_then(Value::as_str) == Some("null");
        let has_reason = value.as_object().is_some_and(|members| members.contains_key("not_done_because"));
        if value.is_null() { is_null } else { !is_null && is_reason == has_reason }
    }

    /// The layout of a member of an object.
    pub(crate) fn member(self, name: &str) -> Option<Layout<'a>> {
        let known = self.here.get("properties").and_then(|members| members.get(name));
        let rest = || self.here.get("additionalProperties").filter(|rest| **rest != Value::Bool(false));
        known.or_else(rest).map(|here| self.at(here))
    }

    /// The layout of the items of an array.
    pub(crate) fn items(self) -> Option<Layout<'a>> {
        self.here.get("items").map(|here| self.at(here))
    }

    /// The names of the members an object must have.
    pub(crate) fn required(self) -> impl Iterator<Item = &'a str> {
        self.here.get("required").and_then(Value::as_array).into_iter().flatten().filter_map(Value::as_str)
    }

    /// True when the member is one the object must have.
    pub(crate) fn requires(self, name: &str) -> bool {
        self.required().any(|required| required == name)
    }

    /// The fixed words allowed here, if only fixed words are.
    pub(crate) fn words(self) -> Option<Vec<&'a str>> {
        let one_of = self.here.get("oneOf").and_then(Value::as_array);
        let listed = self.here.get("enum").and_then(Value::as_array);
        one_of
            .map(|branches| branches.iter().filter_map(|branch| branch.get("const")?.as_str()).collect())
            .or_else(|| listed.map(|words| words.iter().filter_map(Value::as_str).collect()))
    }

    /// True when this word is one of the fixed words allowed here.
    pub(crate) fn is_word(self, word: &str) -> bool {
        self.words().is_some_and(|words| words.contains(&word))
    }

    /// True when a text here is a moment.
    pub(crate) fn is_moment(self) -> bool {
        static PATTERN: OnceLock<Option<Value>> = OnceLock::new();
        self.here.get("pattern") == PATTERN.get_or_init(pattern_of::<Moment>).as_ref()
    }

    /// True when a text here is a day.
    pub(crate) fn is_day(self) -> bool {
        static PATTERN: OnceLock<Option<Value>> = OnceLock::new();
        self.here.get("pattern") == PATTERN.get_or_init(pattern_of::<Day>).as_ref()
    }

    /// Where a value first leaves the layout, and what was expected there.
    pub(crate) fn misfit(self, value: &Value) -> Option<ReadError> {
        self.settle(value).misfit_at(value, "")
    }

    fn misfit_at(self, value: &Value, path: &str) -> Option<ReadError> {
        let fault = |text: String| Some(ReadError { path: path.to_string(), text });
        if !self.type_fits(value) {
            return fault(format!("not of the right form; expected {}", self.expected()));
        }
        match value {
            Value::Object(members) => self.object_misfit(members, path),
            Value::Array(items) => {
                let layout = self.items()?;
                items
                    .iter()
                    .enumerate()
                    .find_map(|(index, item)| layout.settle(item).misfit_at(item, &format!("{path}/{index}")))
            }
            Value::String(text) if self.words().is_some() && !self.is_word(text) => {
                fault("not one of the words allowed here".to_string())
            }
            Value::String(text) if self.is_moment() && Moment::parse(text).is_err() => {
                fault("not a moment: write date, time and offset, like 2025-03-11T09:40:00-04:00".to_string())
            }
            Value::String(text) if self.is_day() && parse_date(text).is_none() => {
                fault("not a day that exists, written like 2025-03-11".to_string())
            }
            _ => None,
        }
    }

    fn object_misfit(self, members: &Map<String, Value>, path: &str) -> Option<ReadError> {
        if let Some(missing) = self.required().find(|name| !members.contains_key(*name)) {
            return Some(ReadError { path: path.to_string(), text: format!("missing: {missing}") });
        }
        members.iter().find_map(|(name, value)| {
            let inner = format!("{path}/{}", name.replace('~', "~0").replace('/', "~1"));
            match self.member(name) {
                Some(layout) => layout.settle(value).misfit_at(value, &inner),
                None if self.here.get("additionalProperties") == Some(&Value::Bool(false)) => {
                    Some(ReadError { path: inner, text: "a field this edition does not have".to_string() })
                }
                None => None,
            }
        })
    }

    /// The part that describes a value here, references followed: neither null nor a reason for absence.
    pub(crate) fn of_value(self) -> Layout<'a> {
        self.settle(&Value::Bool(true))
    }

    /// True when a reason may stand here in the place of a value.
    pub(crate) fn takes_reason(self) -> bool {
        let branches = self.here.get("anyOf").and_then(Value::as_array);
        let direct =
            branches.into_iter().flatten().any(|branch| self.at(branch).reference() == Some("Absent"));
        let named = || {
            let name = self.reference()?;
            self.root.get("$defs")?.get(name).map(|here| self.at(here).takes_reason())
        };
        direct || named().unwrap_or(false)
    }

    /// The names of the members an object may have.
    pub(crate) fn names(self) -> impl Iterator<Item = &'a str> {
        self.here
            .get("properties")
            .and_then(Value::as_object)
            .into_iter()
            .flatten()
            .map(|(name, _)| name.as_str())
    }

    /// The JSON types allowed here; empty where anything is.
    pub(crate) fn types(self) -> Vec<&'a str> {
        match self.here.get("type") {
            Some(Value::String(one)) => vec![one],
            Some(Value::Array(several)) => several.iter().filter_map(Value::as_str).collect(),
            _ if self.words().is_some() => vec!["string"],
            _ => Vec::new(),
        }
    }

    fn type_fits(self, value: &Value) -> bool {
        let types = self.types();
        types.is_empty() || types.iter().any(|wanted| self.is_of_type(value, wanted))
    }

    fn is_of_type(self, value: &Value, wanted: &str) -> bool {
        let bound = |name: &str| self.here.get(name).and_then(Value::as_f64);
        let whole = (value.is_u64() || value.is_i64())
            && value.as_f64().is_some_and(|number| {
                bound("minimum").is_none_or(|low| number >= low)
                    && bound("maximum").is_none_or(|high| number <= high)
            });
        match wanted {
            "object" => value.is_object(),
            "array" => value.is_array(),
            "string" => value.is_string(),
            "boolean" => value.is_boolean(),
            "null" => value.is_null(),
            "integer" => whole,
            _ => value.is_number(),
        }
    }

    fn expected(self) -> String {
        let plain = self.types().into_iter().filter(|wanted| *wanted != "null").map(|wanted| match wanted {
            "integer" => "a whole number in its range",
            "number" => "a number",
            "boolean" => "true or false",
            "array" => "a list",
            "object" => "a group of fields",
            _ => "a text",
        });
        plain.collect::<Vec<_>>().join(" or ")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_layout_tells_what_must_be_there_and_what_may_be_left_out_with_a_reason() {
        let schema = schemars::schema_for!(crate::record::kinds::consent::Consent).to_value();
        let consent = Layout::of(&schema);
        assert!(consent.requires("kind") && consent.requires("wording"));
        assert!(!consent.requires("side") && !consent.requires("x_later"));
        let reason = |name: &str| consent.member(name).unwrap().takes_reason();
        assert!(reason("wording"), "the wording used, or why none was");
        assert!(!reason("explained") && !reason("side") && !reason("kind") && !reason("techniques"));
        let words = consent.member("status").unwrap().of_value();
        assert!(words.is_word("signed") && !words.is_word("asked"));
        assert_eq!(words.types(), ["string"]);
    }

    #[test]
    fn a_part_that_is_not_laid_out_takes_anything() {
        let schema = schemars::schema_for!(crate::record::kinds::register::Rules).to_value();
        let document = Layout::of(&schema).member("document").unwrap();
        assert!(document.types().is_empty() && document.words().is_none());
        for value in [Value::Null, Value::from(1), serde_json::json!({ "coverage": [1, "a"] })] {
            assert!(document.misfit(&value).is_none(), "{value}");
        }
    }
}

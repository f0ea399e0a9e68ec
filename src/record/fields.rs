//! The fields of a record as a person names them: numbered, with their words, so that the one that is wrong
//! can be picked without knowing how records are written. And the other way: a new value as typed, put in
//! its place, with the whole read again by the layout of its kind.

use super::envelope::Record;
use super::kinds::layout::Layout;
use super::kinds::{Level, info};
use super::moment::Moment;
use serde_json::{Map, Value, json};

/// One field of a record.
#[derive(Debug, Clone, PartialEq)]
pub struct Field {
    /// Where it is (JSON Pointer into the data, RFC 6901).
    pub pointer: String,
    /// What it is called: `procedures 1, side`.
    pub words: String,
    /// What it says, in words.
    pub says: String,
    /// False when nothing is recorded there.
    pub recorded: bool,
}

/// The fields of a record: first those that say something, in the order of the layout, then those that
/// are empty and may be set.
pub fn fields(record: &Record) -> Vec<Field> {
    let Some(row) = info(&record.kind) else { return Vec::new() };
    let schema = (row.schema)();
    let (mut full, mut empty) = (Vec::new(), Vec::new());
    walk(Layout::of(&schema), &record.data, "", &mut full, &mut empty);
    full.extend(empty);
    full
}

fn walk(layout: Layout<'_>, value: &Value, pointer: &str, full: &mut Vec<Field>, empty: &mut Vec<Field>) {
    let field = |pointer: &str, says: String, recorded: bool| Field {
        pointer: pointer.to_string(),
        words: pointer_words(pointer),
        says,
        recorded,
    };
    match value {
        Value::Object(members) if !members.contains_key("not_done_because") => {
            for (name, member) in members {
                let inner = format!("{pointer}/{}", escaped(name));
                let at = layout.member(name).map_or(layout, |layout| layout.settle(member));
                walk(at, member, &inner, full, empty);
            }
            let absent = layout.names().filter(|name| !members.contains_key(*name));
            let settable = absent.filter(|name| {
                let types = layout.member(name).map(|layout| layout.of_value().types()).unwrap_or_default();
                !types.contains(&"object")
            });
            empty.extend(settable.map(|name| {
                field(&format!("{pointer}/{}", escaped(name)), "nothing is recorded".to_string(), false)
            }));
        }
        Value::Array(items) if items.iter().any(|item| item.is_object() || item.is_array()) => {
            for (index, item) in items.iter().enumerate() {
                let at = layout.items().map_or(layout, |layout| layout.settle(item));
                walk(at, item, &format!("{pointer}/{index}"), full, empty);
            }
        }
        _ => full.push(field(pointer, value_words(value), true)),
    }
}

fn escaped(name: &str) -> String {
    name.replace('~', "~0").replace('/', "~1")
}

/// The field meant by a number of the list, by its words, or by its pointer.
///
/// # Errors
/// What is accepted, where none or more than one is meant.
pub fn pick<'f>(fields: &'f [Field], typed: &str) -> Result<&'f Field, String> {
    let typed = typed.trim();
    if let Some(number) = typed.parse::<usize>().ok().filter(|number| *number > 0) {
        return fields
            .get(number - 1)
            .ok_or(format!("there is no field {number}; the last is {}", fields.len()));
    }
    let plain = |text: &str| {
        text.to_lowercase().replace(['_', '-', ','], " ").split_whitespace().collect::<Vec<_>>().join(" ")
    };
    let wanted = plain(typed);
    let same: Vec<&Field> =
        fields.iter().filter(|field| field.pointer == typed || plain(&field.words) == wanted).collect();
    let like: Vec<&Field> =
        fields.iter().filter(|field| field.recorded && plain(&field.words).contains(&wanted)).collect();
    match (same.as_slice(), like.as_slice()) {
        ([one, ..], _) | ([], [one]) if !wanted.is_empty() => Ok(one),
        ([], []) => Err("no field of this entry is called so".to_string()),
        _ => Err(format!(
            "more than one field is called so: {}",
            like.iter().take(6).map(|field| field.words.as_str()).collect::<Vec<_>>().join("; ")
        )),
    }
}

/// Reads a new value as typed for the field at `pointer`. `moment` and `day` read times as people write them.
///
/// # Errors
/// What is accepted there. The text never repeats what was typed.
pub fn read_value(
    record: &Record,
    pointer: &str,
    typed: &str,
    moment: &dyn Fn(&str) -> Result<Moment, String>,
    day: &dyn Fn(&str) -> Result<super::moment::Date, String>,
) -> Result<Value, String> {
    let row = info(&record.kind).ok_or("this kind of entry is of a later program")?;
    let schema = (row.schema)();
    let layout = at(Layout::of(&schema), &record.data, pointer).ok_or("this entry has no such field")?;
    let typed = typed.trim();
    if typed.is_empty() {
        return Err("nothing is written".to_string());
    }
    if let Some(reason) = typed.strip_prefix("because:").filter(|_| layout.takes_reason()) {
        return Ok(json!({ "not_done_because": reason.trim() }));
    }
    read_as(layout.of_value(), typed, moment, day)
}

fn read_as(
    layout: Layout<'_>,
    typed: &str,
    moment: &dyn Fn(&str) -> Result<Moment, String>,
    day: &dyn Fn(&str) -> Result<super::moment::Date, String>,
) -> Result<Value, String> {
    if let Some(words) = layout.words() {
        let wanted = typed.to_lowercase().replace([' ', '_'], "-");
        let word = words.iter().find(|word| word.to_lowercase() == wanted);
        return word.map(|word| json!(word)).ok_or(format!("accepted is one of: {}", words.join(", ")));
    }
    if layout.is_moment() {
        return moment(typed).map(|moment| json!(moment));
    }
    if layout.is_day() {
        return day(typed).map(|day| json!(day.to_string()));
    }
    let types = layout.types();
    if types.contains(&"boolean") {
        return match typed.to_lowercase().as_str() {
            "yes" | "y" | "true" => Ok(json!(true)),
            "no" | "n" | "false" => Ok(json!(false)),
            _ => Err("accepted is: yes or no".to_string()),
        };
    }
    if types.contains(&"integer") || types.contains(&"number") {
        let number = serde_json::from_str::<Value>(typed).ok().filter(Value::is_number);
        return number.ok_or("accepted is: a number".to_string());
    }
    if types.contains(&"array") {
        let inner = layout.items().map(Layout::of_value).ok_or("a list can't be typed here")?;
        if inner.types().contains(&"object") {
            return Err("this is a list of several things each: pick one of its parts".to_string());
        }
        let separator = if typed.contains(';') { ';' } else { ',' };
        let items = typed.split(separator).map(str::trim).filter(|item| !item.is_empty());
        return items
            .map(|item| read_as(inner, item, moment, day))
            .collect::<Result<_, _>>()
            .map(Value::Array);
    }
    if types.contains(&"object") {
        return Err("this is a group of fields: pick one of its parts".to_string());
    }
    Ok(json!(typed))
}

/// The layout of what a pointer names, whether or not something stands there.
fn at<'s>(root: Layout<'s>, data: &Value, pointer: &str) -> Option<Layout<'s>> {
    let (mut layout, mut here) = (root.settle(data), Some(data));
    let mut steps = pointer.split('/').skip(1).peekable();
    steps.peek()?;
    while let Some(step) = steps.next() {
        let name = step.replace("~1", "/").replace("~0", "~");
        let item = here.filter(|value| value.is_array());
        let inner = match item {
            Some(_) => layout.items()?,
            None => layout.member(&name)?,
        };
        here = here.and_then(|value| match value {
            Value::Array(items) => items.get(name.parse::<usize>().ok()?),
            Value::Object(members) => members.get(&name),
            _ => None,
        });
        if steps.peek().is_none() {
            return Some(inner);
        }
        layout = here.map_or(inner.of_value(), |value| inner.settle(value));
    }
    None
}

/// The record with one field set to `is`; `null` takes the field away. The result is read again by the layout
/// of its kind and checked as if it were about to be signed.
///
/// # Errors
/// Why the result cannot be: no such field, another form than the layout has, or something that
/// can't be so.
pub fn corrected(record: &Record, pointer: &str, is: &Value) -> Result<Record, String> {
    let mut next = record.clone();
    set(&mut next.data, pointer, is).ok_or("this entry has no such field")?;
    let refused = |record: &Record| -> Result<Vec<String>, String> {
        let data = record.read_data().map_err(|error| error.to_string())?;
        let problems = data.validate(record).into_iter().filter(|problem| problem.level == Level::Refuse);
        Ok(problems.map(|problem| format!("{}: {}", pointer_words(&problem.field), problem.text)).collect())
    };
    // What stood there before and could not be is no fault of this correction.
    let before = refused(record).unwrap_or_default();
    let new: Vec<String> = refused(&next)?.into_iter().filter(|text| !before.contains(text)).collect();
    match new.is_empty() {
        true => Ok(next),
        false => Err(new.join("; ")),
    }
}

/// Sets what a pointer names. None when there is no place for it: a member that is absent may be set, and
/// an item put behind the last of a list.
pub(crate) fn set(data: &mut Value, pointer: &str, is: &Value) -> Option<()> {
    let (parent, name) = pointer.rsplit_once('/')?;
    let name = name.replace("~1", "/").replace("~0", "~");
    match data.pointer_mut(parent)? {
        Value::Object(members) if is.is_null() => members.shift_remove(&name).map(|_| ()),
        Value::Object(members) => {
            members.insert(name, is.clone());
            Some(())
        }
        Value::Array(items) if name == "-" && !is.is_null() => {
            items.push(is.clone());
            Some(())
        }
        Value::Array(items) => {
            let index: usize = name.parse().ok().filter(|index| *index < items.len())?;
            match is.is_null() {
                true => drop(items.remove(index)),
                false => items[index] = is.clone(),
            }
            Some(())
        }
        _ => None,
    }
}

/// A pointer in plain words: `/procedures/0/side` is `procedures 1, side`.
pub fn pointer_words(pointer: &str) -> String {
    let mut out = String::new();
    for part in pointer.split('/').skip(1) {
        let part = part.replace("~1", "/").replace("~0", "~").replace(['_', '-'], " ");
        match part.parse::<u64>() {
            Ok(index) => out.push_str(&format!(" {}", index.saturating_add(1))),
            Err(_) if out.is_empty() => out.push_str(&part),
            Err(_) => out.push_str(&format!(", {part}")),
        }
    }
    out
}

/// A value of a field for reading.
pub fn value_words(value: &Value) -> String {
    let named = |members: &Map<String, Value>| {
        let parts = members
            .iter()
            .map(|(name, value)| format!("{}: {}", name.replace(['_', '-'], " "), value_words(value)));
        parts.collect::<Vec<_>>().join("; ")
    };
    match value {
        Value::Null => "nothing".to_string(),
        Value::String(text) => match Moment::parse(text) {
            Ok(moment) => moment.plain(),
            Err(_) => text.clone(),
        },
        Value::Bool(true) => "yes".to_string(),
        Value::Bool(false) => "no".to_string(),
        Value::Array(items) => items.iter().map(value_words).collect::<Vec<_>>().join("; "),
        Value::Object(members) => match members.get("not_done_because").and_then(Value::as_str) {
            Some(reason) if members.len() == 1 => format!("not done or not asked, because: {reason}"),
            _ => named(members),
        },
        Value::Number(number) => number.to_string(),
    }
}

#[cfg(test)]
mod tests;

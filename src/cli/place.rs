//! Places inside a JSON value, written as JSON Pointers (RFC 6901), and what is done there.

use serde_json::{Map, Value};

/// The place cannot be written to: something on the way to it is neither an object nor a list
/// long enough. The text is the pointer.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("there is no room for {0}: what is written above it is not a group of answers")]
pub struct NoRoom(pub String);

fn steps(path: &str) -> impl Iterator<Item = String> + '_ {
    // RFC 6901 section 4: "~1" first, then "~0", so that "~01" becomes "~1".
    path.split('/').skip(1).map(|step| step.replace("~1", "/").replace("~0", "~"))
}

/// What stands at `path`. A null counts as standing there; see [`answered`].
pub fn get<'a>(root: &'a Value, path: &str) -> Option<&'a Value> {
    root.pointer(path)
}

/// True when something stands at `path`, and it is not null unless `null_counts`.
pub fn answered(root: &Value, path: &str, null_counts: bool) -> bool {
    get(root, path).is_some_and(|value| null_counts || !value.is_null())
}

/// Writes `value` at `path`, making the objects on the way. Nothing that is already there and
/// is not an object is overwritten to make way; a null is.
pub fn set(root: &mut Value, path: &str, value: Value) -> Result<(), NoRoom> {
    let mut at = root;
    for step in steps(path) {
        if at.is_null() {
            *at = Value::Object(Map::new());
        }
        at = match at {
            Value::Object(map) => map.entry(step).or_insert(Value::Null),
            Value::Array(list) => step
                .parse::<usize>()
                .ok()
                .and_then(|index| list.get_mut(index))
                .ok_or_else(|| NoRoom(path.to_owned()))?,
            _ => return Err(NoRoom(path.to_owned())),
        };
    }
    *at = value;
    Ok(())
}

/// Takes out what stands at `path`, and every object on the way that is left empty by it.
pub fn take(root: &mut Value, path: &str) -> Option<Value> {
    let steps: Vec<String> = steps(path).collect();
    take_steps(root, &steps)
}

fn take_steps(at: &mut Value, steps: &[String]) -> Option<Value> {
    let (first, rest) = steps.split_first()?;
    if let Value::Array(list) = at {
        // An item stays in its list, or the items behind it would change places.
        let item = list.get_mut(first.parse::<usize>().ok()?)?;
        return if rest.is_empty() { None } else { take_steps(item, rest) };
    }
    let map = at.as_object_mut()?;
    if rest.is_empty() {
        return map.shift_remove(first);
    }
    let below = map.get_mut(first)?;
    let taken = take_steps(below, rest);
    let emptied = taken.is_some() && below.as_object().is_some_and(Map::is_empty);
    if emptied {
        map.shift_remove(first);
    }
    taken
}

/// Lays `over` upon `under`: objects are joined name by name, anything else is replaced.
pub fn lay_over(under: &mut Value, over: Value) {
    match (under, over) {
        (Value::Object(under), Value::Object(over)) => {
            for (name, value) in over {
                match under.get_mut(&name) {
                    Some(present) => lay_over(present, value),
                    None => {
                        under.insert(name, value);
                    }
                }
            }
        }
        (under, over) => *under = over,
    }
}

/// Every leaf of `root` with its pointer: what is not an object holding something.
pub fn leaves(root: &Value) -> Vec<(String, &Value)> {
    let mut found = Vec::new();
    gather(root, String::new(), &mut found);
    found
}

fn gather<'a>(at: &'a Value, path: String, found: &mut Vec<(String, &'a Value)>) {
    match at.as_object() {
        Some(map) if !map.is_empty() => {
            for (name, value) in map {
                let step = name.replace('~', "~0").replace('/', "~1");
                gather(value, format!("{path}/{step}"), found);
            }
        }
        _ => found.push((path, at)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn writes_and_takes_with_the_objects_on_the_way() {
        let mut root = json!({});
        set(&mut root, "/given_by/role", json!("guardian")).unwrap();
        set(&mut root, "/side", json!("left")).unwrap();
        assert_eq!(root, json!({"given_by": {"role": "guardian"}, "side": "left"}));
        assert_eq!(take(&mut root, "/given_by/role"), Some(json!("guardian")));
        assert_eq!(root, json!({"side": "left"}));
        assert_eq!(take(&mut root, "/given_by/role"), None);
    }

    #[test]
    fn does_not_overwrite_an_answer_to_make_way() {
        let mut root = json!({"given_by": "patient"});
        assert!(set(&mut root, "/given_by/role", json!("x")).is_err());
        assert_eq!(root, json!({"given_by": "patient"}));
    }

    #[test]
    fn takes_from_within_a_list_and_leaves_its_items_where_they_are() {
        let mut root = json!({"answers": [{"item": "a"}, {"words": "w"}]});
        assert_eq!(take(&mut root, "/answers/1/words"), Some(json!("w")));
        assert_eq!(take(&mut root, "/answers/0"), None);
        assert_eq!(root, json!({"answers": [{"item": "a"}, {}]}));
    }

    #[test]
    fn pointers_follow_rfc_6901() {
        // RFC 6901 section 4: "~01" is the text "~1", not "/".
        let mut root = json!({});
        set(&mut root, "/a~1b/m~01n", json!(1)).unwrap();
        assert_eq!(root, json!({"a/b": {"m~1n": 1}}));
        assert_eq!(leaves(&root)[0].0, "/a~1b/m~01n");
    }

    #[test]
    fn laying_over_joins_objects_and_replaces_the_rest() {
        let mut under = json!({"a": {"b": 1, "c": [1, 2]}, "d": 4});
        lay_over(&mut under, json!({"a": {"c": [3]}, "e": null}));
        assert_eq!(under, json!({"a": {"b": 1, "c": [3]}, "d": 4, "e": null}));
    }
}

//! A note read back before it is signed: every line of it in full words, side and segment above all.

use super::commands::entries::form;
use super::form::Form;
use serde_json::Value;

/// The lists whose lines have a form of their own, and what one line is called.
const LINES: [(&str, &str, &str); 3] = [
    ("findings", "finding", "Finding"),
    ("procedures", "procedure", "Procedure"),
    ("measures", "recheck", "Measure"),
];

/// The note in words: what was found and done line by line, then the rest in the order of the questions.
pub fn read_back(note_form: &Form, note: &Value) -> Vec<String> {
    let mut rest = note.clone();
    let mut lines = Vec::new();
    for (list, name, title) in LINES {
        let Some(Value::Array(items)) = rest.as_object_mut().and_then(|note| note.shift_remove(list)) else {
            continue;
        };
        let Ok(asks) = form(name) else { continue };
        for (index, mut item) in items.into_iter().enumerate() {
            if let Some(item) = item.as_object_mut() {
                item.shift_remove("no");
            }
            lines.push(format!("{title} {}: {}", index + 1, asks.form.read_back(&item).join("; ")));
        }
    }
    // A reason in the place of the findings is read back with the other answers.
    if note.get("findings").is_some_and(Value::is_object)
        && let Some(rest) = rest.as_object_mut()
    {
        rest.insert("findings".to_string(), note["findings"].clone());
    }
    let tail = tail(&mut rest);
    lines.extend(note_form.read_back(&rest));
    lines.extend(tail);
    lines
}

/// What was worked out or answered beside the questions, taken out of the rest and put in words.
fn tail(rest: &mut Value) -> Vec<String> {
    let mut lines = Vec::new();
    let Some(fields) = rest.as_object_mut() else { return lines };
    fields.shift_remove("visit");
    if let Some(agreed) = fields.get_mut("agreed").and_then(Value::as_object_mut) {
        for (list, title) in [
            ("consents", "Rests on the consents"),
            ("asked", "Rests on what was asked"),
            ("coverage", "Rests on the answers kept"),
        ] {
            let Some(Value::Array(numbers)) = agreed.shift_remove(list) else { continue };
            let numbers: Vec<String> = numbers.iter().map(Value::to_string).collect();
            if !numbers.is_empty() {
                lines.push(format!("{title}: number {}", numbers.join(", ")));
            }
        }
    }
    if fields.get("agreed").and_then(Value::as_object).is_some_and(serde_json::Map::is_empty) {
        fields.shift_remove("agreed");
    }
    if let Some(Value::Array(items)) = fields.shift_remove("carried_forward") {
        for item in items {
            let field = item.get("field").and_then(Value::as_str).unwrap_or_default();
            let from = item.get("from_entry").map(Value::to_string).unwrap_or_default();
            let field = crate::render::corrected::field_words(field);
            lines.push(format!("Carried forward from number {from}, right today as well: {field}"));
        }
    }
    for (list, value, title) in
        [("not_done", "because", "Not done"), ("answered", "answer", "Asked before signing")]
    {
        let Some(Value::Array(items)) = fields.shift_remove(list) else { continue };
        for item in items {
            let word = |name: &str| item.get(name).and_then(Value::as_str).unwrap_or_default().to_string();
            lines.push(format!("{title}, {}: {}", word("item").replace('-', " "), word(value)));
        }
    }
    if let Some(Value::Array(items)) = fields.shift_remove("missing_acknowledged") {
        let items: Vec<&str> = items.iter().filter_map(Value::as_str).collect();
        lines.push(format!("Known to be missing: {}", items.join(", ").replace('-', " ")));
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn side_and_segment_are_in_words_and_nothing_is_left_out() {
        let note = json!({
            "visit": 18, "sort": "later",
            "findings": { "not_done_because": "as last time" },
            "procedures": [{ "no": 1, "at": "2025-03-11T09:40:00-04:00", "technique": "mobilization",
                "region": "neck-joints", "segments": ["C5-C6"], "side": "right", "done_by": "IV",
                "response": { "word": "tolerated" } }],
            "agreed": { "consents": [16], "asked": [] },
            "not_done": [{ "item": "stop-signal", "because": "mouth free" }]
        });
        let lines = read_back(&form("note").unwrap().form, &note);
        assert!(lines[0].starts_with("Procedure 1: "), "{lines:?}");
        for words in ["between C5 and C6", "right", "neck joints", "tolerated"] {
            assert!(lines[0].contains(words), "{words}: {lines:?}");
        }
        for words in ["as last time", "Rests on the consents: number 16", "Not done, stop signal: mouth free"]
        {
            assert!(lines.iter().any(|line| line.contains(words)), "{words}: {lines:?}");
        }
        assert!(lines.iter().all(|line| !line.contains('{') && !line.contains('[')), "{lines:?}");
    }
}

//! Promise: the page `check.html` inside a package says the same words as the program. What it takes over is written
//! down in `said.json`, of which the page is built; `tests/browser/check_page.test.mjs` runs the page itself.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // In a test a panic is the report.

use inkfast::record::envelope::Record;
use inkfast::record::kinds::Data;
use inkfast::verify::page_words::page_words;
use serde_json::{Value, json};
use std::path::Path;

/// Rewritten by `INKFAST_WRITE_SCHEMAS=1 cargo test --test check_page`, and then `scripts/build-check-page`.
#[test]
fn the_page_is_built_of_the_words_that_the_program_says() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/render/check_page/said.json");
    let wanted = serde_json::to_string_pretty(&page_words()).unwrap() + "\n";
    if std::env::var_os("INKFAST_WRITE_SCHEMAS").is_some() {
        std::fs::write(&path, &wanted).unwrap();
    }
    let kept = std::fs::read_to_string(&path).unwrap();
    assert_eq!(kept, wanted, "said.json is not current: see the comment at this test");
}

/// Every example of a record, bent at every place in every simple way, with what the program says of each form. Written
/// where `INKFAST_BENT_TO` names a folder, so that the page's own reader of layouts can be held against it.
#[test]
fn forms_of_records_are_kept_for_the_page() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/records");
    let mut names: Vec<_> = std::fs::read_dir(&folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    names.sort();
    let mut forms = Vec::new();
    for name in names {
        let whole: Value = serde_json::from_slice(&std::fs::read(&name).unwrap()).unwrap();
        forms.push(whole.clone());
        bent_at_every_place(&whole, "", &mut |form| forms.push(form));
    }
    // All of them take half a minute, since a record that does not fit is walked along its schema.
    let to = std::env::var_os("INKFAST_BENT_TO");
    let step = if to.is_some() { 1 } else { 10 };
    let judged = forms.iter().step_by(step).map(|form| json!([form.to_string(), said_of(&form.to_string())]));
    let judged: Vec<Value> = judged.collect();
    let count = |wanted: &str| judged.iter().filter(|one| one[1] == wanted).count();
    for verdict in ["fits", "no-record", "no-data", "unknown"] {
        assert!(count(verdict) > 10, "{verdict}: {}", count(verdict));
    }
    if let Some(to) = to {
        std::fs::write(Path::new(&to).join("forms.list"), serde_json::to_vec(&judged).unwrap()).unwrap();
    }
}

fn said_of(text: &str) -> &'static str {
    match Record::from_bytes(text.as_bytes()).map(|record| record.read_data()) {
        Err(_) => "no-record",
        Ok(Err(_)) => "no-data",
        Ok(Ok(Data::Unknown { .. })) => "unknown",
        Ok(Ok(_)) => "fits",
    }
}

fn bent_at_every_place(whole: &Value, at: &str, keep: &mut dyn FnMut(Value)) {
    let here = whole.pointer(at).unwrap().clone();
    let set = |value: Value| {
        let mut form = whole.clone();
        *form.pointer_mut(at).unwrap() = value;
        form
    };
    let instead =
        [json!(null), json!(1.5), json!(-1), json!(256), json!(4_294_967_296_u64), json!("x"), json!(true)];
    for value in instead.into_iter().chain([json!([]), json!({}), json!({"not_done_because": "asleep"})]) {
        if value != here {
            keep(set(value));
        }
    }
    match &here {
        Value::String(text) => {
            keep(set(json!(format!("{text}X"))));
            keep(set(json!("2025-02-30")));
        }
        Value::Array(items) => {
            keep(set(items.iter().cloned().chain([Value::Null]).collect()));
            for index in 0..items.len().min(2) {
                bent_at_every_place(whole, &format!("{at}/{index}"), keep);
            }
        }
        Value::Object(fields) => {
            for (name, value) in fields {
                let mut less = fields.clone();
                less.remove(name);
                keep(set(less.clone().into()));
                less.insert(format!("{name}_"), value.clone());
                keep(set(less.into()));
                let name = name.replace('~', "~0").replace('/', "~1");
                bent_at_every_place(whole, &format!("{at}/{name}"), keep);
            }
        }
        _ => {}
    }
}

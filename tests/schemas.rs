//! The schemas in `schema/` are those of the layouts in the code. A layout that is kept for
//! ever must not change unseen: a difference here is a new edition, or a mistake.
//!
//! `INKFAST_WRITE_SCHEMAS=1 cargo test --test schemas` writes them anew.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // In a test a panic is the report.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

const FACTS: &str = "coverage-facts.schema.json";

#[test]
fn committed_schemas_are_those_of_the_code() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("schema");
    let write = std::env::var("INKFAST_WRITE_SCHEMAS").is_ok_and(|value| value == "1");
    fs::create_dir_all(&folder).unwrap();
    let mut names = BTreeSet::new();
    let mut all = inkfast::record::schemas::all();
    all.extend(inkfast::cli::schemas::files());
    all.extend(inkfast::cli::schemas::outputs());
    for (name, schema) in all {
        let text = serde_json::to_string_pretty(&schema).unwrap() + "\n";
        let path = folder.join(&name);
        if write {
            fs::write(&path, &text).unwrap();
        }
        let committed = fs::read_to_string(&path).unwrap_or_default();
        assert!(committed == text, "{name} differs from the layout in the code; see the head of this test");
        assert!(names.insert(name), "two schemas of one name");
    }
    for entry in fs::read_dir(&folder).unwrap() {
        let name = entry.unwrap().file_name().into_string().unwrap();
        let ours = name.ends_with(".schema.json") && name != FACTS;
        assert!(!ours || names.contains(&name), "{name} belongs to no layout");
    }
}

/// The facts document is described by hand, and what is handed out is what the examples are
/// checked against.
#[test]
fn the_schema_of_coverage_facts_is_the_one_the_examples_are_checked_against() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let tested = fs::read(root.join("tests/data/coverage/facts.schema.json")).unwrap();
    if std::env::var("INKFAST_WRITE_SCHEMAS").is_ok_and(|value| value == "1") {
        fs::write(root.join("schema").join(FACTS), &tested).unwrap();
    }
    assert!(fs::read(root.join("schema").join(FACTS)).unwrap_or_default() == tested, "{FACTS} differs");
}

//! The schemas in `schema/` are those of the layouts in the code. A layout that is kept for
//! ever must not change unseen: a difference here is a new edition, or a mistake.
//!
//! `INKFAST_WRITE_SCHEMAS=1 cargo test --test schemas` writes them anew.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // In a test a panic is the report.

use inkfast::verify::finding::{FindingId, Severity};
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

/// What to do next stands in the code, beside each finding; the page repeats it for whoever has no program at hand.
#[test]
fn the_page_on_recovery_names_every_finding_with_its_next_step() {
    const BEGIN: &str = "see tests/schemas.rs -->\n";
    const END: &str = "<!-- end -->";
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("schema/RECOVERY.md");
    let page = fs::read_to_string(&path).unwrap();
    let (before, rest) = page.split_once(BEGIN).unwrap();
    let (_, after) = rest.split_once(END).unwrap();
    let row = |found: &FindingId| {
        let how_bad = if found.severity() == Severity::Wrong { "wrong" } else { "notice" };
        let cells = [found.id(), how_bad, found.what(), found.still_provable(), found.next()];
        format!("| {} |\n", cells.map(|cell| cell.replace('|', "\\|")).join(" | "))
    };
    let rows: String = FindingId::ALL.iter().map(row).collect();
    let head = "| id | | what happened | what can still be proven | what to do |\n|---|---|---|---|---|\n";
    let wanted = format!("{before}{BEGIN}{head}{rows}{END}{after}");
    if std::env::var("INKFAST_WRITE_SCHEMAS").is_ok_and(|value| value == "1") {
        fs::write(&path, &wanted).unwrap();
    }
    assert!(fs::read_to_string(&path).unwrap() == wanted, "the table differs; see the head of this file");
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

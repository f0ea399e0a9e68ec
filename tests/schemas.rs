//! The schemas in `schema/` are those of the layouts in the code. A layout that is kept for
//! ever must not change unseen: a difference here is a new edition, or a mistake.
//!
//! `INKFAST_WRITE_SCHEMAS=1 cargo test --test schemas` writes them anew.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

#[test]
fn committed_schemas_are_those_of_the_code() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("schema");
    let write = std::env::var("INKFAST_WRITE_SCHEMAS").is_ok_and(|value| value == "1");
    fs::create_dir_all(&folder).unwrap();
    let mut names = BTreeSet::new();
    for (name, schema) in inkfast::record::schemas::all() {
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
        let ours = name.starts_with("record") && name.ends_with(".schema.json");
        assert!(!ours || names.contains(&name), "{name} belongs to no layout");
    }
}

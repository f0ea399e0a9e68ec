//! Promise: the page `check.html` inside a package says the same words as the program. What it takes over is written
//! down in `said.json`, of which the page is built; `tests/browser/check_page.mjs` runs the page itself.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // In a test a panic is the report.

use inkfast::verify::page_words::page_words;
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

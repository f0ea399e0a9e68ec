//! Promises (S50, and lost sticks, fires and new computers): a safe copy is made and checked by one word; nothing
//! that stood in one is ever lost or written over, wherever it is cut off; a rehearsal changes nothing; an older
//! copy is recognised and not written to before the owner says why; and on the day of a theft it can be said what
//! was on the computer, without a name.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // In a test a panic is the report.

mod bucket;
#[path = "../common/mod.rs"]
mod common;
mod cut_off;
#[path = "../common/desk.rs"]
mod desk;
mod destroyed;
mod lost;
mod made;

use desk::Desk;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

const CHART: &str = "PM-0112";
const NAME: &str = "Bettony Craske";

/// A desk with one chart that has a contact and a sealed paper in it, and the recovery sheet's line in `sheet`.
fn practice() -> Desk {
    let desk = Desk::set_up();
    desk.patient(CHART, NAME, "1988-07-23");
    call(&desk, "will be ten minutes late");
    std::fs::write(desk.path("letter.txt"), "the letter of a physician").unwrap();
    attach(&desk, "letter.txt");
    let page = std::fs::read_to_string(desk.path("recovery-sheet.html")).unwrap();
    let (_, from) = page.split_once("class=\"key\">").unwrap();
    desk.secret("sheet", from.split_once('<').unwrap().0);
    desk
}

/// Seals a paper into the chart.
fn attach(desk: &Desk, file: &str) -> String {
    #[rustfmt::skip]
    let entry = desk.entry(&[
        "attach", CHART, file, "--kind", "letter-received", "--title", "a letter", "--made", "2025-01-10",
        "--made-by", "Pellmere Imaging", "--not-made-here", "yes", "--original", "returned", "--legible", "yes",
    ]);
    entry
}

/// Somebody called.
fn call(desk: &Desk, said: &str) -> String {
    #[rustfmt::skip]
    let entry = desk.entry(&[
        "contact", CHART, "--channel", "telephone", "--direction", "incoming", "--with", "the patient",
        "--checked", "birth date", "--said", said, "--outcome", "noted", "--done", "yes",
    ]);
    entry
}

/// Every file below a folder, with its bytes; of the store without what comes and goes.
fn snapshot(root: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let mut found = BTreeMap::new();
    let mut todo = vec![root.to_path_buf()];
    while let Some(dir) = todo.pop() {
        for item in std::fs::read_dir(dir).unwrap() {
            let path = item.unwrap().path();
            let name = path.strip_prefix(root).unwrap().to_path_buf();
            if path.is_dir() {
                todo.push(path);
            } else if !name.starts_with("index") && name != Path::new("lock") {
                found.insert(name, std::fs::read(path).unwrap());
            }
        }
    }
    found
}

/// The segment that holds the beginning of the ledger.
const FIRST: &str = "ledger/000001.seg";

//! Keeps every package that a test checks, bent or not, in the folder that `INKFAST_BENT_TO` names: the page
//! `check.html` is then tried on the same ones (`tests/browser/check_page.test.mjs`).

use std::collections::HashSet;
use std::path::PathBuf;
use std::sync::Mutex;

static KEPT: Mutex<Option<HashSet<[u8; 32]>>> = Mutex::new(None);

fn folder() -> Option<PathBuf> {
    std::env::var_os("INKFAST_BENT_TO").map(PathBuf::from)
}

/// Whether packages are to be kept.
pub fn is_asked_for() -> bool {
    folder().is_some()
}

/// Keeps an archive and the slips and receipts it is compared with; the test's name is that of the file. What the page
/// can't be given (checkpoints, policies) is left out, and the same thing is kept once.
pub fn keep(archive: &[u8], more: &[&str]) {
    let Some(folder) = folder() else { return };
    let mut typed = Vec::new();
    let more: Vec<&str> = more.iter().copied().filter(|word| *word != "--json").collect();
    for pair in more.chunks(2) {
        match pair {
            ["--slip" | "--receipt", _] => typed.extend_from_slice(pair),
            ["--open-to", _] => {}
            _ => return,
        }
    }
    let mut hasher = blake3::Hasher::new();
    hasher.update(archive).update(typed.join("\n").as_bytes());
    let mut kept = KEPT.lock().unwrap();
    let kept = kept.get_or_insert_default();
    if !kept.insert(*hasher.finalize().as_bytes()) {
        return;
    }
    // Thousands of these are one bit in some part of one package; a tenth fills the disk less.
    if env!("CARGO_CRATE_NAME") == "packages" && !kept.len().is_multiple_of(10) {
        return;
    }
    let test = std::thread::current().name().unwrap_or("main").replace("::", "-");
    let name = format!("{}-{:04}-{test}", env!("CARGO_CRATE_NAME"), kept.len());
    std::fs::write(folder.join(format!("{name}.tar")), archive).unwrap();
    std::fs::write(folder.join(format!("{name}.json")), serde_json::to_string(&typed).unwrap()).unwrap();
}

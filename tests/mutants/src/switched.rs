//! Which mutant is switched on, and which were asked for: only in the copy that `scripts/mutants` makes.

use std::fs::OpenOptions;
use std::io::Write;
use std::sync::OnceLock;
use std::sync::atomic::{AtomicBool, Ordering};

struct Switch {
    /// The number of the one that is on; 0: none.
    on: u32,
    /// The file that is told, once a process, of each number asked for.
    told: Option<String>,
}

const MOST: usize = 1 << 16;

static SWITCH: OnceLock<Switch> = OnceLock::new();
static ASKED: [AtomicBool; MOST] = [const { AtomicBool::new(false) }; MOST];

fn switch() -> &'static Switch {
    SWITCH.get_or_init(|| Switch {
        on: std::env::var("INKFAST_MUTANT").ok().and_then(|text| text.parse().ok()).unwrap_or(0),
        told: std::env::var("INKFAST_MUTANT_ASKED").ok(),
    })
}

/// Whether this mutant is switched on.
#[inline]
pub fn on(number: u32) -> bool {
    let switch = switch();
    if let Some(told) = &switch.told {
        tell(number, told);
    }
    switch.on == number
}

fn tell(number: u32, told: &str) {
    if ASKED.get(number as usize).is_some_and(|asked| !asked.swap(true, Ordering::Relaxed))
        && let Ok(mut file) = OpenOptions::new().create(true).append(true).open(told)
    {
        let _ = file.write_all(format!("{number}\n").as_bytes());
    }
}

//! A check under way: it runs on a thread of its own, so that the desk goes on working and the page may be left. It
//! opens nothing and holds no key.

use crate::practice::copies;
use crate::practice::place::Place;
use crate::practice::witness::policy_of;
use crate::trouble::{Outcome, Trouble};
use crate::verify::finding::Report;
use crate::verify::slip::{Witness, read_slip};
use crate::verify::store::{StorePaths, verify};
use crate::verify::witnessed;
use crate::world::World;
use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, OnceLock, PoisonError};

/// The most checks that are remembered: one for each browser that may be in.
const MOST: usize = 16;

/// What is checked.
pub struct What {
    /// The folder: the store, another one, or a safe copy.
    pub root: PathBuf,
    /// Where the newest checkpoint is kept outside; none for a folder that has no such place here.
    pub outside: Option<PathBuf>,
    /// Slips as they were typed, or checkpoints as they are kept.
    pub slips: Vec<String>,
}

/// A check, under way or over.
pub struct Job {
    /// What is checked.
    pub what: What,
    /// When it began, in words.
    pub begun: String,
    done: AtomicU64,
    of: u64,
    result: Mutex<Option<Outcome<Report>>>,
}

impl Job {
    /// How many bytes of the ledger and of sealed files it has looked at, and of how many.
    pub fn done(&self) -> (u64, u64) {
        (self.done.load(Ordering::Relaxed), self.of)
    }

    /// What came of it; none while it is under way.
    pub fn result(&self) -> MutexGuard<'_, Option<Outcome<Report>>> {
        self.result.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn run(&self, world: &World) {
        let found = check(world, &self.what, &mut |n| {
            self.done.fetch_add(n, Ordering::Relaxed);
        });
        *self.result() = Some(found);
    }
}

fn jobs() -> MutexGuard<'static, HashMap<String, Arc<Job>>> {
    static JOBS: OnceLock<Mutex<HashMap<String, Arc<Job>>>> = OnceLock::new();
    JOBS.get_or_init(Mutex::default).lock().unwrap_or_else(PoisonError::into_inner)
}

/// The check that this browser began last.
pub fn of(browser: &str) -> Option<Arc<Job>> {
    jobs().get(browser).cloned()
}

/// Begins a check for this browser, unless one of the same is under way.
///
/// # Errors
/// When no thread can be had.
pub fn begin(browser: &str, world: &World, what: What, now: String) -> Outcome<()> {
    let same = |job: &Arc<Job>| job.result().is_none() && job.what.root == what.root;
    if of(browser).is_some_and(|job| same(&job)) {
        return Ok(());
    }
    let of = length(&what.root.join("ledger")) + length(&what.root.join("files"));
    let job = Arc::new(Job { what, begun: now, done: AtomicU64::new(0), of, result: Mutex::new(None) });
    let (mine, world) = (job.clone(), world.clone());
    let begun = std::thread::Builder::new().name("check".to_string()).spawn(move || {
        // Should it end in the middle, the page must not say for ever that it is under way.
        let ended = std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| mine.run(&world)));
        if ended.is_err() {
            *mine.result() = Some(Err(Trouble::damaged("The check ended in the middle.")));
        }
    });
    begun.map_err(|e| Trouble::disk("begin a check of", &job.what.root, &e))?;
    let mut jobs = jobs();
    if jobs.len() >= MOST {
        jobs.retain(|_, job| job.result().is_none());
    }
    jobs.insert(browser.to_string(), job);
    Ok(())
}

/// How long everything in a folder is, in bytes; only to say how far a check is.
fn length(folder: &Path) -> u64 {
    let entries = std::fs::read_dir(folder).into_iter().flatten().flatten();
    let of = |entry: std::fs::DirEntry| match entry.metadata() {
        Ok(about) if about.is_dir() => length(&entry.path()),
        Ok(about) => about.len(),
        Err(_) => 0,
    };
    entries.map(of).sum()
}

/// Checks a store or a safe copy, without any reading key.
fn check(world: &World, what: &What, progress: &mut dyn FnMut(u64)) -> Outcome<Report> {
    let place = Place::open(world, &what.root, what.outside.as_deref())?;
    let disk = &*world.disk;
    if copies::is_copy(disk, &what.root)? {
        return copies::check_copy(world, &place, &what.slips, progress);
    }
    let mut witnesses: Vec<Witness> =
        what.slips.iter().map(|slip| read_slip(slip, &place.key)).collect::<Outcome<_>>()?;
    witnesses.extend(kept(world, &place));
    let outside = outside_of(&place, what.outside.as_deref());
    let paths = StorePaths { root: &what.root, outside: &outside, key: &place.key };
    verify(disk, &paths, &witnesses, progress)
}

/// Where the checkpoint outside is looked for. A folder that was only named has none of its own here: that of this
/// computer belongs to the store that is worked in, and would call any older copy wrong.
fn outside_of(place: &Place, given: Option<&Path>) -> PathBuf {
    given.map_or_else(|| place.root.join("nothing-outside"), Path::to_path_buf)
}

/// What the witnesses that were last asked have seen.
fn kept(world: &World, place: &Place) -> Vec<Witness> {
    let disk = &*world.disk;
    let (kept, _) = witnessed::read(disk, &place.root, &place.key);
    let policy = witnessed::kept_policy(disk, &place.root).and_then(|bytes| policy_of(&bytes, place).ok());
    policy.iter().flat_map(|policy| witnessed::to_compare(&kept, policy)).collect()
}

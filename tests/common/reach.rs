//! What somebody gets out of a store folder with nothing but their own identity: every sealed file and every sealed
//! entry is tried with everything found so far, and what opens is searched for further identities, until nothing new
//! comes out. No rule of the program is asked.

use inkfast::ledger::scan::scan_to_newest;
use inkfast::ledger::write::read_entry;
use inkfast::practice::place::Place;
use inkfast::seal::age_file::{Identity, With, open};
use inkfast::world::World;
use std::collections::BTreeSet;
use std::path::Path;

/// A sealed thing and its bytes.
struct Sealed {
    name: String,
    bytes: Vec<u8>,
}

/// Names of everything sealed in a store, and of what opens of it.
pub struct Reach {
    pub all: BTreeSet<String>,
    pub opened: BTreeSet<String>,
}

fn is_sealed(bytes: &[u8]) -> bool {
    bytes.starts_with(b"age-encryption.org/v1")
}

fn files(root: &Path, dir: &Path, found: &mut Vec<Sealed>) {
    for item in std::fs::read_dir(dir).unwrap() {
        let path = item.unwrap().path();
        if path.is_dir() {
            files(root, &path, found);
            continue;
        }
        let bytes = std::fs::read(&path).unwrap();
        if is_sealed(&bytes) {
            let name = path.strip_prefix(root).unwrap().to_str().unwrap().to_string();
            found.push(Sealed { name, bytes });
        }
    }
}

/// Everything sealed in the store: its files, and its entries as `entry N KIND`.
fn sealed(world: &World, root: &Path) -> Vec<Sealed> {
    let mut found = Vec::new();
    files(root, root, &mut found);
    let place = Place::open(world, root, None).unwrap();
    let dir = root.join("ledger");
    let scan = scan_to_newest(&*world.disk, &dir, &place.key).unwrap();
    for at in &scan.entries {
        let (_, bytes) = read_entry(world, &dir, at).unwrap();
        if is_sealed(&bytes) {
            found.push(Sealed { name: format!("entry {:04} {}", at.seq, at.kind), bytes });
        }
    }
    found
}

/// Tries everything in the store folder, on the real disk.
pub fn reach(world: &World, root: &Path, start: &[Identity]) -> Reach {
    let mut left = sealed(world, root);
    let all = left.iter().map(|one| one.name.clone()).collect();
    let mut held: Vec<Identity> = start.to_vec();
    let mut opened = BTreeSet::new();
    loop {
        let before = opened.len();
        let mut still = Vec::new();
        for one in left {
            let Ok(plain) = open(&With::Identities(&held), &one.bytes) else {
                still.push(one);
                continue;
            };
            let text = String::from_utf8_lossy(&plain);
            held.extend(text.lines().filter_map(Identity::parse));
            opened.insert(one.name);
        }
        left = still;
        if opened.len() == before {
            return Reach { all, opened };
        }
    }
}

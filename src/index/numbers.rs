//! Which chart has which number, so that one chart is found without opening the first entry of every chart.
//!
//! A number is kept as a digest under a key that only those hold who may read who the patients are. What is found
//! here is a hint: the chart's own first entry says whether it has the number. What is not found is looked for in
//! the ledger.

use crate::world::Disk;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

const NAME: &str = "numbers";
const HALF: usize = 16;

/// The key of the digests, from a secret that only readers of identities hold.
pub fn key(secret: &str) -> [u8; 32] {
    blake3::derive_key("inkfast 2026-11-30 chart numbers in the index", secret.as_bytes())
}

fn digest(key: &[u8; 32], number: &str) -> [u8; HALF] {
    let mut digest = [0; HALF];
    let number = number.trim().to_ascii_lowercase();
    digest.copy_from_slice(&blake3::keyed_hash(key, number.as_bytes()).as_bytes()[..HALF]);
    digest
}

/// The tag of the chart that probably has this number.
pub fn find(disk: &dyn Disk, index: &Path, key: &[u8; 32], number: &str) -> Option<[u8; HALF]> {
    let bytes = disk.read(&path(index)).ok()?;
    let (pairs, _) = bytes.as_chunks::<{ 2 * HALF }>();
    let wanted = digest(key, number);
    let at = pairs.binary_search_by(|pair| pair[..HALF].cmp(&wanted)).ok()?;
    pairs[at][HALF..].try_into().ok()
}

/// Adds numbers with their charts. Nothing is lost when they can't be kept.
pub fn add<'n>(
    disk: &dyn Disk,
    index: &Path,
    key: &[u8; 32],
    numbers: impl IntoIterator<Item = (&'n str, [u8; HALF])>,
) {
    let bytes = disk.read(&path(index)).unwrap_or_default();
    let (pairs, _) = bytes.as_chunks::<{ 2 * HALF }>();
    let halves = |pair: &[u8; 2 * HALF]| {
        let (mut number, mut tag) = ([0; HALF], [0; HALF]);
        number.copy_from_slice(&pair[..HALF]);
        tag.copy_from_slice(&pair[HALF..]);
        (number, tag)
    };
    let mut known: BTreeMap<[u8; HALF], [u8; HALF]> = pairs.iter().map(halves).collect();
    known.extend(numbers.into_iter().map(|(number, tag)| (digest(key, number), tag)));
    let bytes: Vec<u8> = known.into_iter().flat_map(|(number, tag)| [number, tag].concat()).collect();
    let _ = disk.create_dirs(index).and_then(|()| disk.put_unsynced(&path(index), &bytes));
}

fn path(index: &Path) -> PathBuf {
    index.join(NAME)
}

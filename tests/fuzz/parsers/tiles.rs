//! Names of tiles, and hashes in them: what is read is written back letter for letter.

use inkfast::ledger::tiles::{Tile, parent_hash, split};

/// Tries one input.
pub fn try_one(bytes: &[u8]) {
    if let Ok(path) = std::str::from_utf8(bytes)
        && let Ok(tile) = Tile::parse(path)
    {
        assert_eq!(tile.to_string(), path);
    }
    let whole = bytes.len().is_multiple_of(32).then(|| bytes.to_vec());
    assert_eq!(split(bytes).map(|hashes| hashes.concat()), whole);
    let _ = parent_hash(bytes);
}

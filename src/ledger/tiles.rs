//! The tree's hashes in tiles, as C2SP tlog-tiles lays them out (<https://c2sp.org/tlog-tiles>).
//!
//! Tile `n` of level `l` holds up to 256 hashes side by side, each the root of a complete subtree
//! of 256^l leaves. Nothing is read or written here: tiles come in and go out as bytes. A tile is
//! not proof of anything; a root made from tiles is compared with a signed one.

use super::tree::{Hash, HashReader, MAX_SIZE, root};
use std::fmt;

/// Hashes in a full tile.
pub const WIDTH: u16 = 256;

/// Bytes of one hash.
const HASH_BYTES: usize = 32;

/// Levels of the tree between one tile level and the next: 2^8 = 256.
const HEIGHT: u8 = 8;

/// The highest tile level any tree of [`MAX_SIZE`] leaves has.
const TOP_LEVEL: u8 = 7;

/// Why tiles can't be used, or a tile path is refused.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum TileError {
    /// There is no such tile.
    #[error("tile {index} of level {level} is missing")]
    Missing {
        /// Tile level.
        level: u8,
        /// Number of the tile in its level.
        index: u64,
    },
    /// The tile ends before the hash asked for, or is not a whole number of hashes, or too long.
    #[error("tile {index} of level {level} has a wrong length ({bytes} bytes)")]
    Length {
        /// Tile level.
        level: u8,
        /// Number of the tile in its level.
        index: u64,
        /// Its length in bytes.
        bytes: usize,
    },
    /// No tree has a hash at this place.
    #[error("no tree has a subtree {index} of level {level}")]
    Outside {
        /// Tree level (not tile level).
        level: u8,
        /// Number of the subtree in its level.
        index: u64,
    },
    /// The text is not the path of a hash tile.
    #[error("this is not the path of a tile of hashes")]
    Path,
}

/// Which tile, and how many hashes it holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Tile {
    /// Tile level, from 0 for leaf hashes.
    pub level: u8,
    /// Number of the tile in its level, from 0.
    pub index: u64,
    /// Hashes in it, 1 to 256.
    pub width: u16,
}

impl Tile {
    /// Whether the tile holds all 256 hashes and will never change again.
    pub fn is_full(self) -> bool {
        self.width == WIDTH
    }

    /// Reads a path like `tile/0/x001/234.p/56`, and only in the one spelling [`Tile`] displays.
    pub fn parse(path: &str) -> Result<Tile, TileError> {
        let tile = parse_path(path).ok_or(TileError::Path)?;
        if tile.to_string() == path { Ok(tile) } else { Err(TileError::Path) }
    }
}

/// The path below a log's prefix: `tile/<level>/<index>`, and `.p/<width>` behind a partial tile.
/// The index goes in groups of three digits, all but the last marked with an `x`.
impl fmt::Display for Tile {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "tile/{}/", self.level)?;
        let mut groups = vec![self.index % 1000];
        let mut rest = self.index / 1000;
        while rest > 0 {
            groups.push(rest % 1000);
            rest /= 1000;
        }
        for group in groups[1..].iter().rev() {
            write!(f, "x{group:03}/")?;
        }
        write!(f, "{:03}", groups[0])?;
        if self.is_full() { Ok(()) } else { write!(f, ".p/{}", self.width) }
    }
}

fn parse_path(path: &str) -> Option<Tile> {
    let (level, rest) = path.strip_prefix("tile/")?.split_once('/')?;
    let (index, width) = match rest.split_once(".p/") {
        Some((index, width)) => (index, width.parse().ok().filter(|w| (1..WIDTH).contains(w))?),
        None => (rest, WIDTH),
    };
    // How each group must look is settled by comparing with the one right spelling.
    let index = index.split('/').try_fold(0u64, |sum, group| {
        let group: u64 = group.trim_start_matches('x').parse().ok()?;
        sum.checked_mul(1000)?.checked_add(group)
    })?;
    let level = level.parse().ok().filter(|level| *level <= 63)?;
    Some(Tile { level, index, width })
}

/// How many hashes a tile level has in a tree of `size` leaves.
fn hashes_in_level(level: u8, size: u64) -> u64 {
    size.checked_shr(u32::from(HEIGHT) * u32::from(level)).unwrap_or(0)
}

/// The tiles that differ between a tree of `before` leaves and the same tree grown to `after`: new
/// ones and grown ones, as they stand at `after`, from the leaves up. For one new leaf, `after` is
/// `before + 1`. Empty when the tree did not grow.
pub fn changed_tiles(before: u64, after: u64) -> Vec<Tile> {
    let mut tiles = Vec::new();
    for level in 0..=TOP_LEVEL {
        let (old, new) = (hashes_in_level(level, before), hashes_in_level(level, after));
        if new <= old {
            break;
        }
        let width = u64::from(WIDTH);
        for index in old / width..new.div_ceil(width) {
            let held = (new - index * width).min(width);
            tiles.push(Tile { level, index, width: held as u16 });
        }
    }
    tiles
}

/// The hash a full tile stands for in the level above. None for a partial tile, which must not be
/// hashed into a higher one.
pub fn parent_hash(tile: &[u8]) -> Option<Hash> {
    if tile.len() != usize::from(WIDTH) * HASH_BYTES { None } else { Some(root(&split(tile)?)) }
}

/// The hashes of the tile level above one whose hashes these are: one for each full tile.
pub fn level_above(hashes: &[Hash]) -> Vec<Hash> {
    hashes.chunks_exact(usize::from(WIDTH)).map(root).collect()
}

/// Every tile over these leaf hashes with its bytes, from the leaves up.
pub fn build(leaf_hashes: &[Hash]) -> Vec<(Tile, Vec<u8>)> {
    let mut tiles = Vec::new();
    let mut hashes = leaf_hashes.to_vec();
    for level in 0..=TOP_LEVEL {
        for (index, chunk) in (0u64..).zip(hashes.chunks(usize::from(WIDTH))) {
            tiles.push((Tile { level, index, width: chunk.len() as u16 }, chunk.concat()));
        }
        hashes = level_above(&hashes);
    }
    tiles
}

/// The hashes of a tile, or None if its bytes are not a whole number of hashes.
pub fn split(tile: &[u8]) -> Option<Vec<Hash>> {
    let (hashes, rest) = tile.as_chunks::<HASH_BYTES>();
    rest.is_empty().then(|| hashes.to_vec())
}

/// Reads the hash of any complete subtree from tiles.
///
/// `fetch(level, index)` gives the bytes of a tile, None if there is none. A tile longer than
/// needed is fine: tiles only ever grow.
#[derive(Debug, Clone, Copy)]
pub struct TileReader<F> {
    fetch: F,
}

impl<F: Fn(u8, u64) -> Option<Vec<u8>>> TileReader<F> {
    /// A reader of the tiles `fetch` gives.
    pub fn new(fetch: F) -> TileReader<F> {
        TileReader { fetch }
    }
}

impl<F: Fn(u8, u64) -> Option<Vec<u8>>> HashReader for TileReader<F> {
    type Error = TileError;

    fn read(&self, level: u8, index: u64) -> Result<Hash, TileError> {
        let outside = TileError::Outside { level, index };
        if level > 63 || index > MAX_SIZE >> level {
            return Err(outside);
        }
        // A subtree between two tile levels is hashed from the 2^(level % 8) hashes below it, and
        // these always lie in one tile.
        let (tile_level, count) = (level / HEIGHT, 1usize << (level % HEIGHT));
        let first = index << (level % HEIGHT);
        let tile_index = first / u64::from(WIDTH);
        let start = (first % u64::from(WIDTH)) as usize * HASH_BYTES;
        let bytes = (self.fetch)(tile_level, tile_index)
            .ok_or(TileError::Missing { level: tile_level, index: tile_index })?;
        let length = TileError::Length { level: tile_level, index: tile_index, bytes: bytes.len() };
        if bytes.len() > usize::from(WIDTH) * HASH_BYTES || bytes.len() % HASH_BYTES != 0 {
            return Err(length);
        }
        let part = bytes.get(start..start + count * HASH_BYTES).ok_or_else(|| length.clone())?;
        Ok(root(&split(part).ok_or(length)?))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ledger::tree::{
        Frontier, LeafHashes, consistency_proof, inclusion_proof, leaf_hash, read_root,
    };
    use proptest::prelude::*;
    use std::collections::{BTreeMap, HashMap};

    fn leaves(count: u32) -> Vec<Hash> {
        (0..count).map(|i| leaf_hash(&i.to_be_bytes())).collect()
    }

    fn reader(tiles: &HashMap<(u8, u64), Vec<u8>>) -> TileReader<impl Fn(u8, u64) -> Option<Vec<u8>> + '_> {
        TileReader::new(|level, index| tiles.get(&(level, index)).cloned())
    }

    fn built(leaf_hashes: &[Hash]) -> HashMap<(u8, u64), Vec<u8>> {
        build(leaf_hashes).into_iter().map(|(tile, bytes)| ((tile.level, tile.index), bytes)).collect()
    }

    /// The examples of C2SP tlog-tiles, "Merkle Tree" and "Partial Tiles".
    #[test]
    fn paths_as_in_the_specification() {
        let tile = Tile { level: 0, index: 1_234_067, width: 256 };
        assert_eq!(tile.to_string(), "tile/0/x001/x234/067");
        assert_eq!(Tile { width: 7, ..tile }.to_string(), "tile/0/x001/x234/067.p/7");
        assert_eq!(Tile { level: 63, index: 0, width: 256 }.to_string(), "tile/63/000");
        assert_eq!(Tile::parse("tile/0/x001/x234/067.p/7"), Ok(Tile { width: 7, ..tile }));
        for wrong in [
            "",
            "tile/0",
            "tile/0/",
            "tile/00/000",
            "tile/64/000",
            "tile/0/1",
            "tile/0/0000",
            "tile/0/x000/001",
            "tile/0/001/002",
            "tile/0/xx01/002",
            "tile/0/x01/002",
            "tile/0/+01",
            "tile/0/000.p/0",
            "tile/0/000.p/256",
            "tile/0/000.p/01",
            "tile/0/000.p/",
            "tile/0/000/",
            "/tile/0/000",
            "tile/0/x018/x446/x744/x073/x709/x551/616",
            "tile/entries/000",
        ] {
            assert_eq!(Tile::parse(wrong), Err(TileError::Path), "{wrong}");
        }
    }

    /// "A tree of size 70,000 will be represented by 273 full level 0 tiles, one partial level 0
    /// tile of width 112, one full level 1 tile, one partial level 1 tile of width 17, and one
    /// partial level 2 tile of width 1", and the one of size 256 (C2SP tlog-tiles).
    #[test]
    fn tiles_of_the_sizes_in_the_specification() {
        let tiles = changed_tiles(0, 70_000);
        let count = |level, full| tiles.iter().filter(|t| t.level == level && t.is_full() == full).count();
        assert_eq!([count(0, true), count(0, false), count(1, true), count(1, false)], [273, 1, 1, 1]);
        let partial: Vec<Tile> = tiles.iter().copied().filter(|t| !t.is_full()).collect();
        let tile = |level, index, width| Tile { level, index, width };
        assert_eq!(partial, [tile(0, 273, 112), tile(1, 1, 17), tile(2, 0, 1)]);
        assert_eq!(tiles.len(), 277);
        assert_eq!(changed_tiles(0, 256), [tile(0, 0, 256), tile(1, 0, 1)]);
        assert_eq!(changed_tiles(255, 256), [tile(0, 0, 256), tile(1, 0, 1)]);
        assert_eq!(changed_tiles(256, 257), [tile(0, 1, 1)]);
        assert_eq!(changed_tiles(65_535, 65_536), [tile(0, 255, 256), tile(1, 0, 256), tile(2, 0, 1)]);
        assert_eq!(changed_tiles(9, 9), []);
        assert_eq!(changed_tiles(9, 8), []);
        assert_eq!(changed_tiles(MAX_SIZE - 1, MAX_SIZE).len(), 1);
    }

    #[test]
    fn the_changed_tiles_are_just_those_whose_bytes_change() {
        let all = leaves(1100);
        let tiles = |size: usize| build(&all[..size]).into_iter().collect::<BTreeMap<_, _>>();
        for (before, after) in [(0, 1), (1, 255), (255, 256), (256, 257), (500, 513), (511, 1024), (0, 1100)]
        {
            let (old, new) = (tiles(before), tiles(after));
            let mut differ: Vec<Tile> = new.keys().filter(|tile| !old.contains_key(tile)).copied().collect();
            differ.sort();
            assert_eq!(changed_tiles(before as u64, after as u64), differ, "{before} to {after}");
        }
    }

    #[test]
    fn a_full_tile_is_one_hash_of_the_level_above() {
        let all = leaves(513);
        let tiles = built(&all);
        assert_eq!(parent_hash(&tiles[&(0, 1)]), Some(root(&all[256..512])));
        assert_eq!(parent_hash(&tiles[&(0, 2)]), None);
        assert_eq!(level_above(&all), [root(&all[..256]), root(&all[256..512])]);
        assert_eq!(tiles[&(1, 0)], level_above(&all).concat());
        assert_eq!(tiles.len(), 4);
    }

    #[test]
    fn proofs_from_tiles_are_those_from_leaves() {
        let all = leaves(70_000);
        let tiles = built(&all);
        let from_tiles = reader(&tiles);
        let mut edge = Frontier::new();
        all.iter().for_each(|leaf| edge.push(*leaf));
        assert_eq!(read_root(70_000, &from_tiles).unwrap(), edge.root());
        assert_eq!(Frontier::read(70_000, &from_tiles).unwrap(), edge);
        let from_leaves = LeafHashes(&all[..1000]);
        for (index, size) in [(0, 1), (0, 1000), (255, 256), (256, 257), (511, 600), (999, 1000)] {
            assert_eq!(
                inclusion_proof(index, size, &from_tiles).unwrap(),
                inclusion_proof(index, size, &from_leaves).unwrap()
            );
        }
        for (first, second) in [(1, 1000), (256, 512), (255, 257), (700, 1000)] {
            assert_eq!(
                consistency_proof(first, second, &from_tiles).unwrap(),
                consistency_proof(first, second, &from_leaves).unwrap()
            );
        }
    }

    #[test]
    fn missing_and_misshapen_tiles_are_named() {
        let all = leaves(300);
        let mut tiles = built(&all);
        assert_eq!(reader(&tiles).read(0, 600), Err(TileError::Missing { level: 0, index: 2 }));
        let short = TileError::Length { level: 0, index: 1, bytes: 44 * 32 };
        assert_eq!(reader(&tiles).read(0, 300), Err(short.clone()));
        assert_eq!(reader(&tiles).read(6, 4), Err(short));
        tiles.insert((0, 1), vec![0; 33]);
        assert_eq!(reader(&tiles).read(0, 256), Err(TileError::Length { level: 0, index: 1, bytes: 33 }));
        tiles.insert((0, 0), vec![0; 257 * 32]);
        assert_eq!(reader(&tiles).read(0, 0), Err(TileError::Length { level: 0, index: 0, bytes: 8224 }));
        for (level, index) in [(64, 0), (255, 0), (0, u64::MAX), (8, MAX_SIZE)] {
            assert_eq!(reader(&tiles).read(level, index), Err(TileError::Outside { level, index }));
        }
    }

    proptest! {
        #[test]
        fn a_path_reads_back(level in 0u8..=63, index: u64, width in 1u16..=256) {
            let tile = Tile { level, index, width };
            prop_assert_eq!(Tile::parse(&tile.to_string()), Ok(tile));
        }

        #[test]
        fn reading_a_path_never_panics(noise: String, near in "tile/[0-9x/.p]{0,30}") {
            let _ = Tile::parse(&noise);
            if let Ok(tile) = Tile::parse(&near) {
                prop_assert_eq!(tile.to_string(), near);
            }
        }

        #[test]
        fn reading_tiles_never_panics(level: u8, index: u64, bytes in proptest::collection::vec(any::<u8>(), 0..9000)) {
            let reader = TileReader::new(|_, _| Some(bytes.clone()));
            let _ = reader.read(level, index);
            let _ = reader.read(level % 64, index % 300);
        }
    }
}

//! How far the ledger was read, and what was found: signed, so that the next opening goes on from there.
//!
//! The bookmark says what a reading of everything up to its entry found: the tree, the newest entry of every chart,
//! and where every entry lies. It is signed with the checkpoint key by whoever did that reading; what it does not
//! vouch for is not taken from it. It is derived like the rest of the index: whatever about it is odd, the ledger is
//! read from its first byte, and throwing it away loses nothing.

use super::layer::{Layer, Part, StrandKey, lay_out};
use crate::ledger::begin::{Begin, Heads};
use crate::ledger::checkpoint::Checkpoint;
use crate::ledger::leaf::leaf_digest;
use crate::ledger::scan::{ChartHead, EntryAt, Scan, Unfinished, scan};
use crate::ledger::segment::{Head, Place};
use crate::ledger::tree::Frontier;
use crate::record::moment::Moment;
use crate::seal::body::{hex, unhex32};
use crate::seal::note::{Note, Signer, Verifier, sign};
use crate::trouble::{Outcome, Trouble};
use crate::world::Disk;
use serde::{Deserialize, Serialize};
use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::sync::{Arc, OnceLock};

/// First line of what is signed. A checkpoint's first line is the ledger's origin, so neither passes for the other.
const EDITION: &str = "inkfast-bookmark/v1";
const NOTE: &str = "bookmark.note";

/// From which size on a bookmark is worth its file, and how often it moves on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Pace {
    /// A ledger of fewer entries is read whole each time.
    pub from: u64,
    /// So many entries are read behind a bookmark before it is set anew.
    pub step: u64,
    /// A stretch of so many entries is written once; only the last one grows.
    pub stretch: u64,
}

impl Default for Pace {
    fn default() -> Pace {
        Pace { from: 4_096, step: 1_024, stretch: 65_536 }
    }
}

/// What is signed, one line of JSON.
#[derive(Debug, Clone, Serialize, Deserialize)]
struct Stand {
    ledger: String,
    size: u64,
    tree: Vec<String>,
    last_leaf: String,
    last_written: Moment,
    /// The latest that an entry outside any chart says it was written.
    outside_written: Option<Moment>,
    segment: u32,
    end: u64,
    head: String,
    checkpoint: String,
    read_at: Moment,
    stretch: u64,
    layers: Vec<Listed>,
}

#[derive(Debug, Clone, Serialize, Deserialize)]
struct Listed {
    file: String,
    upto: u64,
    /// The tree up to there.
    tree: Vec<String>,
    offset: u64,
    len: u32,
    digest: String,
}

impl Listed {
    fn part(&self) -> Option<Part> {
        Some(Part { offset: self.offset, len: self.len, digest: unhex32(&self.digest)? })
    }
}

/// What a reading of the whole finds, where a part of the bookmark can't be used.
struct Whole {
    entries: Vec<EntryAt>,
    heads: HashMap<[u8; 16], ChartHead>,
}

/// A bookmark whose signature was checked.
pub struct Bookmark {
    disk: Arc<dyn Disk>,
    dir: PathBuf,
    ledger: PathBuf,
    key: Verifier,
    stand: Stand,
    frontier: Frontier,
    layers: Vec<(u64, Layer)>,
    whole: OnceLock<Outcome<Whole>>,
}

/// Where the bookmark lies in an index.
pub fn folder(index: &Path) -> PathBuf {
    index.join("read")
}

impl Bookmark {
    /// The bookmark of this ledger; none when there is none that can be used.
    pub fn open(disk: &Arc<dyn Disk>, dir: &Path, ledger: &Path, key: &Verifier) -> Option<Arc<Bookmark>> {
        let bytes = disk.read(&dir.join(NOTE)).ok()?;
        let note = Note::parse(&bytes).ok()?;
        note.verify(&[key]).ok()?;
        let (first, line) = note.text.split_once('\n')?;
        let stand: Stand = serde_json::from_str(line).ok()?;
        if first != EDITION || stand.ledger != key.name() {
            return None;
        }
        let frontier = edge(stand.size, &stand.tree)?;
        let mut layers = Vec::with_capacity(stand.layers.len());
        let mut from = 0;
        for listed in &stand.layers {
            if listed.upto <= from {
                return None;
            }
            from = listed.upto;
            let plain = listed.file.bytes().all(|b| b.is_ascii_hexdigit() || b == b'-');
            let layer = Layer::open(&**disk, &dir.join(&listed.file), &listed.part()?);
            layers.push((listed.upto, layer.filter(|_| plain)?));
        }
        if from != stand.size {
            return None;
        }
        Some(Arc::new(Bookmark {
            disk: disk.clone(),
            dir: dir.to_path_buf(),
            ledger: ledger.to_path_buf(),
            key: key.clone(),
            stand,
            frontier,
            layers,
            whole: OnceLock::new(),
        }))
    }

    /// How many entries it vouches for.
    pub fn size(&self) -> u64 {
        self.stand.size
    }

    /// When that reading was.
    pub fn read_at(&self) -> Moment {
        self.stand.read_at
    }

    /// The latest that an entry outside any chart says it was written.
    pub fn outside_written(&self) -> Option<Moment> {
        self.stand.outside_written
    }

    /// Where reading goes on; none when the bookmark says it in no usable form.
    pub fn begin(self: &Arc<Bookmark>) -> Option<Begin> {
        let stand = &self.stand;
        let note = stand.checkpoint.clone().into_bytes();
        Some(Begin {
            frontier: self.frontier.clone(),
            last_leaf: unhex32(&stand.last_leaf)?,
            last_written: stand.last_written,
            end: Place { segment: stand.segment, offset: stand.end },
            head: Head::from_text(stand.head.as_bytes())?,
            checkpoint: (Checkpoint::open(&note, &self.key).ok()?, note),
            heads: self.clone(),
        })
    }

    /// The entries of a strand, in order.
    ///
    /// # Errors
    /// When the ledger itself can't be read.
    pub fn strand(&self, key: &StrandKey) -> Outcome<Vec<EntryAt>> {
        let rows = || {
            let mut rows = Vec::new();
            for (_, layer) in &self.layers {
                rows.extend(layer.rows(key)?);
            }
            Some(rows)
        };
        self.or_whole(rows, |whole| {
            whole.entries.iter().filter(|at| StrandKey::of(at) == *key).cloned().collect()
        })
    }

    /// What the stretches say; where a part of them is not what it was, what a reading of the whole finds.
    fn or_whole<T>(&self, said: impl FnOnce() -> Option<T>, found: impl FnOnce(&Whole) -> T) -> Outcome<T> {
        let usable = self.whole.get().is_none();
        match usable.then(said).flatten() {
            Some(said) => Ok(said),
            None => self.whole().map(found),
        }
    }

    /// In how many stretches its entries lie.
    pub fn stretches(&self) -> usize {
        self.layers.len()
    }

    /// The entries of a stretch, in order.
    ///
    /// # Errors
    /// When the ledger itself can't be read.
    pub fn stretch(&self, number: usize) -> Outcome<Vec<EntryAt>> {
        let Some((upto, layer)) = self.layers.get(number) else { return Ok(Vec::new()) };
        let from = number.checked_sub(1).and_then(|n| self.layers.get(n)).map_or(0, |(upto, _)| *upto);
        let whole = |rows: &Vec<EntryAt>| {
            rows.len() as u64 == upto - from && rows.iter().zip(from + 1..).all(|(at, n)| at.seq == n)
        };
        self.or_whole(
            || layer.all().filter(whole),
            |whole| whole.entries.get(from as usize..*upto as usize).unwrap_or_default().to_vec(),
        )
    }

    /// The tree over the first `size` entries; none when there are fewer.
    ///
    /// # Errors
    /// When the ledger itself can't be read.
    pub fn tree_at(&self, size: u64) -> Outcome<Option<Frontier>> {
        let number = self.layers.partition_point(|(upto, _)| *upto < size);
        let before = number.checked_sub(1).and_then(|n| self.stand.layers.get(n));
        let tree = before.map_or_else(|| Some(Frontier::new()), |before| edge(before.upto, &before.tree));
        let Some(mut tree) = tree else { return Ok(None) };
        self.stretch(number)?.iter().take_while(|at| at.seq <= size).for_each(|at| tree.push(at.tree_hash));
        Ok((tree.size() == size).then_some(tree))
    }

    /// The disk, the ledger's folder and its key.
    pub(super) fn ledger(&self) -> (&dyn Disk, &Path, &Verifier) {
        (&*self.disk, &self.ledger, &self.key)
    }

    /// The entry with this number.
    ///
    /// # Errors
    /// When the ledger itself can't be read.
    pub fn numbered(&self, seq: u64) -> Outcome<Option<EntryAt>> {
        let number = self.layers.partition_point(|(upto, _)| *upto < seq);
        let rows = self.stretch(number)?;
        Ok(rows.binary_search_by_key(&seq, |at| at.seq).ok().and_then(|at| rows.get(at).cloned()))
    }

    /// What a reading of the whole ledger up to here finds: a part of this bookmark is not what it was, so it is
    /// thrown away.
    fn whole(&self) -> Outcome<&Whole> {
        let read = self.whole.get_or_init(|| {
            throw_away(&*self.disk, &self.dir);
            let mut found = Whole { entries: Vec::new(), heads: HashMap::new() };
            scan(&*self.disk, &self.ledger, &self.key, &mut |_| (), &mut |at, leaf, bytes, _| {
                if at.seq <= self.stand.size {
                    if let (Some(tag), Some(count)) = (at.chart, leaf.chart_seq) {
                        found.heads.insert(tag, ChartHead { count, leaf: leaf_digest(bytes) });
                    }
                    found.entries.push(at.clone());
                }
                Ok(())
            })?;
            match found.entries.len() as u64 == self.stand.size {
                true => Ok(found),
                false => Err(Trouble::damaged("The ledger has fewer entries than it had.")),
            }
        });
        read.as_ref().map_err(Clone::clone)
    }

    /// Sets a bookmark at the end of what was read, if that is worth it. Nothing is lost when it can't be set.
    pub fn set(
        disk: &dyn Disk,
        dir: &Path,
        read: &Scan,
        old: Option<&Bookmark>,
        vouch: &Signer,
        now: Moment,
        pace: Pace,
    ) {
        let old = old.filter(|old| old.size() == read.before && old.stand.stretch == pace.stretch);
        let in_order = read.damage.is_empty() && read.unfinished == Unfinished::default();
        let begun = read.before == 0 || old.is_some();
        if in_order && begun && read.size() >= pace.from && read.entries.len() as u64 >= pace.step {
            let _ = write(disk, dir, read, old, vouch, now, pace);
        }
    }
}

impl Heads for Bookmark {
    fn head(&self, tag: &[u8; 16]) -> Outcome<Option<ChartHead>> {
        let said = || {
            // The last stretch that has the chart knows its newest entry.
            for (_, layer) in self.layers.iter().rev() {
                if let Some(head) = layer.head(tag)? {
                    return Some(Some(head));
                }
            }
            Some(None)
        };
        self.or_whole(said, |whole| whole.heads.get(tag).copied())
    }
}

fn write(
    disk: &dyn Disk,
    dir: &Path,
    read: &Scan,
    old: Option<&Bookmark>,
    vouch: &Signer,
    now: Moment,
    pace: Pace,
) -> Option<()> {
    let (checkpoint, end) = (read.checkpoint.as_ref()?, read.end?);
    let head = read.head.as_ref().filter(|head| head.number == end.segment)?;
    let mut layers: Vec<Listed> = old.map_or(Vec::new(), |old| old.stand.layers.clone());
    // The last stretch is written anew with what was added to it.
    let mut entries = match layers.last() {
        Some(last) if last.upto % pace.stretch != 0 => {
            layers.pop();
            old?.layers.last()?.1.all()?
        }
        _ => Vec::new(),
    };
    entries.extend_from_slice(&read.entries);
    disk.create_dirs(dir).ok()?;
    let mut from = layers.last().map_or(0, |last| last.upto);
    let mut tree = layers.last().map_or_else(|| Some(Frontier::new()), |last| edge(last.upto, &last.tree))?;
    let newest = |tag: &[u8; 16]| read.head_of(tag).ok().flatten();
    let mut rest = entries.as_slice();
    while !rest.is_empty() {
        let fits = (pace.stretch - from % pace.stretch).min(rest.len() as u64) as usize;
        let (now, then) = rest.split_at(fits);
        let upto = from + fits as u64;
        let (bytes, spine) = lay_out(now, &newest)?;
        now.iter().for_each(|at| tree.push(at.tree_hash));
        let file = format!("{from}-{}", &hex(&spine.digest)[..16]);
        // What a power cut leaves of a file is known by its digest or signature.
        disk.put_unsynced(&dir.join(&file), &bytes).ok()?;
        let digest = hex(&spine.digest);
        let tree = tree.hashes().iter().map(|hash| hex(hash)).collect();
        layers.push(Listed { file, upto, tree, offset: spine.offset, len: spine.len, digest });
        (rest, from) = (then, upto);
    }
    let outside = read.entries.iter().filter(|at| at.chart.is_none()).map(|at| at.written);
    let stand = Stand {
        ledger: checkpoint.0.origin.clone(),
        size: read.size(),
        tree: read.frontier.hashes().iter().map(|hash| hex(hash)).collect(),
        last_leaf: hex(&read.last_leaf?),
        last_written: read.last_written?,
        outside_written: outside.chain(old.and_then(Bookmark::outside_written)).max(),
        segment: end.segment,
        end: end.offset,
        head: head.to_text(),
        checkpoint: String::from_utf8(checkpoint.1.clone()).ok()?,
        read_at: now,
        stretch: pace.stretch,
        layers,
    };
    let line = serde_json::to_string(&stand).ok()?;
    let note = sign(&format!("{EDITION}\n{line}\n"), &[vouch]).ok()?;
    disk.put_unsynced(&dir.join(NOTE), note.as_bytes()).ok()?;
    let kept = |name: &String| name == NOTE || stand.layers.iter().any(|listed| listed.file == *name);
    for name in disk.list(dir).ok()?.iter().filter(|name| !kept(name)) {
        let _ = disk.remove(&dir.join(name));
    }
    Some(())
}

/// The growing edge of a tree of this size.
fn edge(size: u64, hashes: &[String]) -> Option<Frontier> {
    let hashes: Option<Vec<_>> = hashes.iter().map(|hash| unhex32(hash)).collect();
    Frontier::from_parts(size, hashes?).ok()
}

/// Removes a bookmark. Losing it loses nothing.
pub fn throw_away(disk: &dyn Disk, dir: &Path) {
    for name in disk.list(dir).unwrap_or_default() {
        let _ = disk.remove(&dir.join(name));
    }
}

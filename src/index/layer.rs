//! A stretch of the ledger, its entries laid out by what they belong to: each chart, and each kind of entry
//! outside any chart, is a strand.
//!
//! A file holds the rows of every strand, pages that say where the strands lie, and a spine that says where the
//! pages lie. Each part is named by its BLAKE3 in the part behind it, and the spine in the signed bookmark, so that
//! a strand is found by reading one page and its rows, and nothing bent is taken for what was read.

use super::{decode_long, encode_long};
use crate::ledger::leaf::Digest;
use crate::ledger::scan::{ChartHead, EntryAt};
use crate::ledger::segment::Place;
use crate::record::moment::Moment;
use crate::world::{Disk, DiskFile};
use std::collections::{BTreeMap, HashMap};
use std::path::Path;
use std::sync::{Arc, Mutex, PoisonError};

/// So many strands share a page.
const PAGE: usize = 64;

/// A chart's tag, or for entries outside any chart the first 16 bytes of the BLAKE3 of their kind.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, bincode::Encode, bincode::Decode)]
pub struct StrandKey {
    /// True for a chart.
    pub chart: bool,
    /// Tag or digest.
    pub key: [u8; 16],
}

impl StrandKey {
    /// A chart's strand.
    pub fn chart(tag: [u8; 16]) -> StrandKey {
        StrandKey { chart: true, key: tag }
    }

    /// The strand of one kind outside any chart.
    pub fn outside(kind: &str) -> StrandKey {
        let mut key = [0; 16];
        key.copy_from_slice(&blake3::hash(kind.as_bytes()).as_bytes()[..16]);
        StrandKey { chart: false, key }
    }

    /// The strand of an entry.
    pub fn of(at: &EntryAt) -> StrandKey {
        at.chart.map_or_else(|| StrandKey::outside(&at.kind), StrandKey::chart)
    }
}

/// An entry, as it is kept here.
#[derive(Debug, Clone, PartialEq, Eq, bincode::Encode, bincode::Decode)]
struct Row {
    seq: u64,
    segment: u32,
    offset: u64,
    leaf_len: u32,
    body_len: u32,
    kind: u16,
    second: i64,
    east: i32,
    tree_hash: [u8; 32],
}

/// Bytes in the file, and what they hash to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, bincode::Encode, bincode::Decode)]
pub struct Part {
    /// Where they begin.
    pub offset: u64,
    /// How many.
    pub len: u32,
    /// Their BLAKE3.
    pub digest: [u8; 32],
}

#[derive(Debug, Clone, bincode::Encode, bincode::Decode)]
struct Strand {
    key: StrandKey,
    rows: Part,
    /// Of a chart: how many entries it has up to the end of this stretch, and its newest leaf.
    count: u64,
    leaf: Digest,
}

#[derive(Debug, Clone, bincode::Encode, bincode::Decode)]
struct Spine {
    kinds: Vec<String>,
    /// The first strand of each page, and where the page lies.
    pages: Vec<(StrandKey, Part)>,
}

/// An open stretch.
pub struct Layer {
    file: Box<dyn DiskFile>,
    spine: Spine,
    pages: Mutex<HashMap<usize, Arc<Vec<Strand>>>>,
}

/// The bytes of a stretch with these entries, and its spine. `head` gives the newest entry of a chart at its end.
/// None where something is too much for the form.
pub fn lay_out(
    entries: &[EntryAt],
    head: &dyn Fn(&[u8; 16]) -> Option<ChartHead>,
) -> Option<(Vec<u8>, Part)> {
    let mut kinds: Vec<String> = Vec::new();
    let mut strands: BTreeMap<StrandKey, Vec<Row>> = BTreeMap::new();
    for at in entries {
        let known = kinds.iter().position(|kind| **kind == *at.kind);
        let kind = known.unwrap_or_else(|| {
            kinds.push(at.kind.to_string());
            kinds.len() - 1
        });
        strands.entry(StrandKey::of(at)).or_default().push(Row {
            seq: at.seq,
            segment: at.at.segment,
            offset: at.at.offset,
            leaf_len: at.leaf_len,
            body_len: at.body_len,
            kind: u16::try_from(kind).ok()?,
            second: at.written.unix(),
            east: at.written.offset_seconds(),
            tree_hash: at.tree_hash,
        });
    }
    let mut bytes = Vec::new();
    let mut listed = Vec::with_capacity(strands.len());
    for (key, rows) in strands {
        let newest = if key.chart { head(&key.key)? } else { ChartHead { count: 0, leaf: [0; 32] } };
        let rows = add(&mut bytes, &encode_long(&rows)?)?;
        listed.push(Strand { key, rows, count: newest.count, leaf: newest.leaf });
    }
    let mut pages = Vec::new();
    for page in listed.chunks(PAGE) {
        pages.push((page.first()?.key, add(&mut bytes, &encode_long(&page.to_vec())?)?));
    }
    let spine = add(&mut bytes, &encode_long(&Spine { kinds, pages })?)?;
    Some((bytes, spine))
}

fn add(bytes: &mut Vec<u8>, part: &[u8]) -> Option<Part> {
    let offset = bytes.len() as u64;
    bytes.extend_from_slice(part);
    Some(Part { offset, len: u32::try_from(part.len()).ok()?, digest: *blake3::hash(part).as_bytes() })
}

impl Layer {
    /// Opens a stretch; none when its spine is not what the bookmark says.
    pub fn open(disk: &dyn Disk, path: &Path, spine: &Part) -> Option<Layer> {
        let file = disk.open(path, false).ok()?;
        let spine = decode_long(&read(&*file, spine)?)?;
        Some(Layer { file, spine, pages: Mutex::default() })
    }

    fn page(&self, number: usize) -> Option<Arc<Vec<Strand>>> {
        let known = || self.pages.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(page) = known().get(&number) {
            return Some(page.clone());
        }
        let page: Arc<Vec<Strand>> =
            Arc::new(decode_long(&read(&*self.file, &self.spine.pages.get(number)?.1)?)?);
        known().insert(number, page.clone());
        Some(page)
    }

    /// The strand, if it has any entries here. The outer none says that the bytes are not what they were.
    fn strand(&self, key: &StrandKey) -> Option<Option<Strand>> {
        let Some(number) = self.spine.pages.partition_point(|(first, _)| first <= key).checked_sub(1) else {
            return Some(None);
        };
        let page = self.page(number)?;
        let found = page.binary_search_by(|strand| strand.key.cmp(key)).ok();
        Some(found.and_then(|at| page.get(at)).cloned())
    }

    /// The newest entry of a chart up to the end of this stretch, if it has any here. The outer none says that
    /// the bytes are not what they were.
    pub fn head(&self, tag: &[u8; 16]) -> Option<Option<ChartHead>> {
        let strand = self.strand(&StrandKey::chart(*tag))?;
        Some(strand.map(|strand| ChartHead { count: strand.count, leaf: strand.leaf }))
    }

    /// The entries of a strand in this stretch, in order. None when the bytes are not what they were.
    pub fn rows(&self, key: &StrandKey) -> Option<Vec<EntryAt>> {
        match self.strand(key)? {
            Some(strand) => self.rows_of(&strand),
            None => Some(Vec::new()),
        }
    }

    /// All entries of this stretch, in order. None when the bytes are not what they were.
    pub fn all(&self) -> Option<Vec<EntryAt>> {
        let mut all = Vec::new();
        for number in 0..self.spine.pages.len() {
            for strand in self.page(number)?.iter() {
                all.extend(self.rows_of(strand)?);
            }
        }
        all.sort_unstable_by_key(|at| at.seq);
        Some(all)
    }

    fn rows_of(&self, strand: &Strand) -> Option<Vec<EntryAt>> {
        let rows: Vec<Row> = decode_long(&read(&*self.file, &strand.rows)?)?;
        let entry = |row: Row| {
            Some(EntryAt {
                seq: row.seq,
                at: Place { segment: row.segment, offset: row.offset },
                leaf_len: row.leaf_len,
                body_len: row.body_len,
                chart: strand.key.chart.then_some(strand.key.key),
                kind: self.spine.kinds.get(usize::from(row.kind))?.as_str().into(),
                written: Moment::from_unix(row.second, row.east)?,
                tree_hash: row.tree_hash,
            })
        };
        rows.into_iter().map(entry).collect()
    }
}

/// Bytes of the file, if they are still what they were.
fn read(file: &dyn DiskFile, part: &Part) -> Option<Vec<u8>> {
    let end = part.offset.checked_add(u64::from(part.len))?;
    if end > file.len().ok()? {
        return None;
    }
    let mut bytes = vec![0; part.len as usize];
    file.read_at(&mut bytes, part.offset).ok()?;
    (*blake3::hash(&bytes).as_bytes() == part.digest).then_some(bytes)
}

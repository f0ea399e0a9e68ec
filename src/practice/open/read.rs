//! Reading entries: each is checked against its leaf and opened as far as the roles allow.

use super::{Entry, Practice};
use crate::ledger::leaf::{Leaf, leaf_digest_hex};
use crate::ledger::scan::{ChartHead, EntryAt};
use crate::ledger::write::{read_entry, read_leaf};
use crate::record::envelope::Record;
use crate::record::kinds::register::KeyRole;
use crate::record::kinds::{Class, info};
use crate::seal::age_file::{self, OpenError, With};
use crate::seal::body::{Body, hex, unhex32};
use crate::trouble::{Outcome, Trouble};
use std::collections::BTreeMap;

/// Fewer entries than this for each core are opened sooner than a thread begins.
const WORTH_A_THREAD: usize = 4;

impl Practice {
    /// Opens entries as [`Practice::entry`] does, in this order, on as many cores as there are.
    pub(in crate::practice) fn open_all(&self, all: &[EntryAt]) -> Outcome<Vec<Entry>> {
        // Asking how many cores there are takes as long as opening an entry.
        let cores = match all.len() < 2 * WORTH_A_THREAD {
            true => 1,
            false => std::thread::available_parallelism().map_or(1, usize::from),
        };
        let share = all.len().div_ceil(cores);
        if cores == 1 || share < WORTH_A_THREAD {
            return all.iter().map(|at| self.entry(at)).collect();
        }
        let open = |part: &[EntryAt]| part.iter().map(|at| self.entry(at)).collect::<Outcome<Vec<_>>>();
        let parts: Vec<_> = std::thread::scope(|scope| {
            let begun: Vec<_> = all.chunks(share).map(|part| scope.spawn(move || open(part))).collect();
            begun.into_iter().map(|thread| thread.join()).collect()
        });
        let mut entries = Vec::with_capacity(all.len());
        for part in parts {
            entries.extend(part.unwrap_or_else(|panic| std::panic::resume_unwind(panic))?);
        }
        Ok(entries)
    }

    /// Reads one entry, checks it against its leaf, and opens it as far as the roles allow.
    pub fn entry(&self, at: &EntryAt) -> Outcome<Entry> {
        let (leaf_bytes, stored) = read_entry(&self.world, &self.place.root.join("ledger"), at)?;
        let damaged =
            || Trouble::damaged(format!("Entry {} is not what its number in the ledger says.", at.seq));
        let (leaf, _) = Leaf::read(&leaf_bytes).map_err(|_| damaged())?;
        if crate::ledger::tree::leaf_hash(&leaf_bytes) != at.tree_hash
            || unhex32(&leaf.body) != Some(*blake3::hash(&stored).as_bytes())
        {
            return Err(damaged());
        }
        let body = self.open_body(&leaf, &stored)?;
        let record = match &body {
            Some(body) if unhex32(&leaf.commit) != Some(body.commitment()) => return Err(damaged()),
            Some(body) => Some(Record::from_bytes(&body.record).map_err(|_| damaged())?),
            None => None,
        };
        let digest = leaf_digest_hex(&leaf_bytes);
        Ok(Entry { at: at.clone(), leaf, leaf_bytes, digest, body, record })
    }

    fn open_body(&self, leaf: &Leaf, stored: &[u8]) -> Outcome<Option<Body>> {
        if stored.starts_with(crate::seal::body::MARKER) {
            return Ok(Body::from_bytes(stored));
        }
        let keys = &*self.session.file_keys;
        let held = match &leaf.chart {
            Some(tag) => {
                // The key that most likely fits is tried alone first: trying one costs as much as opening.
                let desk_first = info(&leaf.kind).is_some_and(|row| row.class == Class::Desk);
                let (first, then) = match desk_first {
                    true => (KeyRole::Desk, KeyRole::Clinical),
                    false => (KeyRole::Clinical, KeyRole::Desk),
                };
                let key = |role| self.session.chart_key(&self.world, &self.place, tag, role);
                let likely = key(first)?;
                let opened = likely.map(|key| age_file::open(&With::Remembering(&[key], keys), stored));
                match opened {
                    Some(Ok(plain)) => return whole(leaf.seq, &plain).map(Some),
                    None | Some(Err(OpenError::NoKey)) => {}
                    Some(Err(e)) => return Err(e.about(&format!("Entry {}", leaf.seq))),
                }
                key(then)?.into_iter().collect()
            }
            None => self.session.role_identities(),
        };
        match age_file::open(&With::Remembering(&held, keys), stored) {
            Ok(plain) => whole(leaf.seq, &plain).map(Some),
            Err(OpenError::NoKey) => Ok(None),
            Err(e) => Err(e.about(&format!("Entry {}", leaf.seq))),
        }
    }

    /// An entry's leaf alone: what it is, not what it says.
    pub fn leaf(&self, at: &EntryAt) -> Outcome<Leaf> {
        self.leaf_of(at).map(|(leaf, _)| leaf)
    }

    /// An entry's leaf and its digest in hex, checked to be the one that was read with the ledger.
    pub(super) fn leaf_of(&self, at: &EntryAt) -> Outcome<(Leaf, String)> {
        let bytes = read_leaf(&self.world, &self.place.root.join("ledger"), at)?;
        let same = crate::ledger::tree::leaf_hash(&bytes) == at.tree_hash;
        let read = Leaf::read(&bytes).ok().filter(|_| same);
        read.map(|(leaf, _)| (leaf, leaf_digest_hex(&bytes))).ok_or_else(|| {
            Trouble::damaged(format!("Entry {} is not what its number in the ledger says.", at.seq))
        })
    }

    /// The kind of an entry, known from its leaf alone.
    pub fn kind_of(&self, at: &EntryAt) -> Outcome<String> {
        match at.kind.is_empty() {
            true => self.leaf(at).map(|leaf| leaf.kind),
            false => Ok(at.kind.to_string()),
        }
    }

    /// The entry with this number.
    pub fn entry_by_seq(&self, seq: u64) -> Outcome<Entry> {
        self.entry(&self.at_seq(seq)?)
    }

    /// All entries of a chart, in order, found by reading the ledger itself and checked to be
    /// gapless up to the chart's newest: what is not among them was not recorded.
    pub fn chart(&self, tag: &str) -> Outcome<Vec<Entry>> {
        let entries = self.open_all(&self.of_chart(tag, 0)?)?;
        let gapless = entries.iter().zip(1..).all(|(e, n)| e.leaf.chart_seq == Some(n));
        let head = self.head_of(tag)?;
        let whole = gapless && head.is_none_or(|h| h.count == entries.len() as u64);
        // Where all was read now, links that do not hold are damage that was found then.
        if !whole || (self.mark().is_some() && !is_linked(&entries, head)) {
            return Err(Trouble::damaged(
                "This chart's entries do not hold together, so it can't be said what is missing.",
            ));
        }
        self.memory().keep(self, tag, &entries);
        Ok(entries)
    }

    /// The entries of these kinds of a chart, from the first behind number `after` on, in order. No other is opened.
    ///
    /// # Errors
    /// When the ledger or an entry can't be read.
    pub fn chart_of(&self, tag: &str, kinds: &[&str], after: u64) -> Outcome<Vec<Entry>> {
        let mut picked = Vec::new();
        for at in self.of_chart(tag, after)? {
            if kinds.contains(&self.kind_of(&at)?.as_str()) {
                picked.push(at);
            }
        }
        self.open_all(&picked)
    }

    /// All entries outside any chart.
    pub fn register(&self) -> Outcome<Vec<Entry>> {
        self.open_all(&self.all_where(|at| at.chart.is_none())?)
    }

    /// The entries of these kinds outside any chart. No other is opened.
    pub fn register_of(&self, kinds: &[&str]) -> Outcome<Vec<Entry>> {
        self.open_all(&self.outside(kinds, 0)?)
    }

    /// Opens entries of any number of charts, and gives those of each chart by its tag, in order.
    pub(in crate::practice) fn by_chart(
        &self,
        picked: &[EntryAt],
    ) -> Outcome<BTreeMap<[u8; 16], Vec<Entry>>> {
        let mut charts: BTreeMap<[u8; 16], Vec<Entry>> = BTreeMap::new();
        for entry in self.open_all(picked)? {
            if let Some(tag) = entry.at.chart {
                charts.entry(tag).or_default().push(entry);
            }
        }
        Ok(charts)
    }

    /// The tags of all charts, in the order in which they were opened.
    ///
    /// # Errors
    /// When the ledger can't be read.
    pub fn chart_tags(&self) -> Outcome<Vec<String>> {
        let first = self.first_entries()?;
        Ok(first.iter().filter_map(|e| e.chart).map(|t| data_encoding::HEXLOWER.encode(&t)).collect())
    }

    /// The first entry of each chart, in the order in which they were opened.
    ///
    /// # Errors
    /// When the ledger can't be read.
    pub fn first_entries(&self) -> Outcome<Vec<EntryAt>> {
        let mut seen = std::collections::HashSet::new();
        self.all_where(|at| at.chart.is_some_and(|tag| seen.insert(tag)))
    }
}

/// An opened body taken apart.
fn whole(seq: u64, plain: &[u8]) -> Outcome<Body> {
    Body::from_bytes(plain)
        .ok_or_else(|| Trouble::damaged(format!("Entry {seq} opens to something that is no record.")))
}

/// True when each entry of a chart names the one before, and the last is the chart's newest.
fn is_linked(entries: &[Entry], head: Option<ChartHead>) -> bool {
    let before = std::iter::once(None).chain(entries.iter().map(|e| Some(&e.digest)));
    let linked = entries.iter().zip(before).all(|(entry, before)| entry.leaf.chart_prev.as_ref() == before);
    linked && entries.last().map(|e| e.digest.clone()) == head.map(|h| hex(&h.leaf))
}

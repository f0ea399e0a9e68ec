//! Where entries lie: of a chart, outside any chart, by number. What an earlier reading found stands in the signed
//! bookmark; what was added since was read just now.

use super::{Ledger, Practice};
use crate::index;
use crate::index::bookmark::{self, Bookmark};
use crate::index::layer::StrandKey;
use crate::ledger::begin::{Begin, scan_on};
use crate::ledger::leaf::chart_tag;
use crate::ledger::scan::{ChartHead, EntryAt, Scan, scan_to_newest};
use crate::ledger::tree::Hash;
use crate::ledger::write::Writer;
use crate::practice::place::Place;
use crate::record::kinds::register::KeyRole;
use crate::record::moment::Moment;
use crate::trouble::{Kind, Outcome, Trouble};
use crate::world::World;
use std::path::PathBuf;
use std::sync::Arc;

/// An earlier reading, and where to go on from it.
pub(in crate::practice) type Mark = Option<(Arc<Bookmark>, Begin)>;

/// The bookmark of a store, where it has one that can be used.
pub(in crate::practice) fn mark(world: &World, place: &Place) -> Mark {
    let dir = bookmark::folder(&index::folder(&place.root));
    let mark = Bookmark::open(&world.disk, &dir, &place.root.join("ledger"), &place.key)?;
    let begin = mark.begin()?;
    Some((mark, begin))
}

/// Reads a ledger for daily work: from the bookmark on, or from its first byte.
pub(super) fn read(world: &World, place: &Place, mark: &Mark) -> Outcome<Scan> {
    let dir = place.root.join("ledger");
    let on = match mark {
        Some((_, begin)) => scan_on(&*world.disk, &dir, &place.key, begin)?,
        None => None,
    };
    match on {
        Some(scan) => Ok(scan),
        None => scan_to_newest(&*world.disk, &dir, &place.key),
    }
}

/// Opens a ledger for writing, reading it as [`read`] does.
pub(super) fn write(world: &World, place: &Place, even_if_behind: bool, mark: &Mark) -> Outcome<Writer> {
    let begin = mark.as_ref().map(|(_, begin)| begin);
    Writer::open_from(world, &place.location(), even_if_behind, begin)
}

impl Practice {
    /// How many entries the ledger has.
    pub fn size(&self) -> u64 {
        self.scan().size()
    }

    /// The bookmark that the reading went on from; none when everything was read now.
    pub(in crate::practice) fn mark(&self) -> Option<&Arc<Bookmark>> {
        self.mark.as_ref().filter(|mark| mark.size() == self.scan().before && self.scan().before > 0)
    }

    /// Sets the bookmark at what was read, if that is worth it and the person may vouch for the ledger.
    pub(super) fn set_mark(&self) {
        let Ok(vouch) = self.session.vouch() else { return };
        let dir = bookmark::folder(&index::folder(&self.place.root));
        let old = self.mark().map(|mark| &**mark);
        Bookmark::set(&*self.world.disk, &dir, self.scan(), old, vouch, self.now(), self.place.pace);
    }

    /// The newest entry of a chart.
    ///
    /// # Errors
    /// When the ledger can't be read.
    pub fn head_of(&self, tag: &str) -> Outcome<Option<ChartHead>> {
        chart_tag(tag).map_or(Ok(None), |tag| self.scan().head_of(&tag))
    }

    /// What the bookmark has of these strands, then what was read since.
    fn strands(
        &self,
        keys: impl Iterator<Item = StrandKey>,
        after: u64,
        mine: impl Fn(&EntryAt) -> bool,
    ) -> Outcome<Vec<EntryAt>> {
        let mut found = Vec::new();
        if let Some(mark) = self.mark().filter(|mark| after < mark.size()) {
            for key in keys {
                found.extend(mark.strand(&key)?);
            }
            found.sort_unstable_by_key(|at: &EntryAt| at.seq);
            found.retain(|at| at.seq > after);
        }
        let entries = &self.scan().entries;
        let from = if after == 0 { 0 } else { entries.partition_point(|at| at.seq <= after) };
        found.extend(entries[from..].iter().filter(|at| mine(at)).cloned());
        Ok(found)
    }

    /// Where the entries of a chart lie, from the first behind number `after` on, in order.
    ///
    /// # Errors
    /// When the ledger can't be read.
    pub fn of_chart(&self, tag: &str, after: u64) -> Outcome<Vec<EntryAt>> {
        let Some(tag) = chart_tag(tag) else { return Ok(Vec::new()) };
        self.strands(std::iter::once(StrandKey::chart(tag)), after, |at| at.chart == Some(tag))
    }

    /// Where the entries of these kinds outside any chart lie, from the first behind number `after` on, in order.
    ///
    /// # Errors
    /// When the ledger can't be read.
    pub fn outside(&self, kinds: &[&str], after: u64) -> Outcome<Vec<EntryAt>> {
        let mine = |at: &EntryAt| at.chart.is_none() && kinds.contains(&&*at.kind);
        self.strands(kinds.iter().map(|kind| StrandKey::outside(kind)), after, mine)
    }

    /// The latest that an entry outside any chart, or the very last one, says it was written.
    pub(in crate::practice) fn latest_outside(&self) -> Option<Moment> {
        let before = self.mark().and_then(|mark| mark.outside_written());
        let outside = self.scan().entries.iter().filter(|at| at.chart.is_none()).map(|at| at.written);
        outside.chain(before).chain(self.scan().last_written).max()
    }

    /// Where every entry lies, in order. This takes as long as the ledger is: ask for a chart or a kind instead
    /// where that will do.
    pub fn all(&self) -> impl Iterator<Item = Outcome<EntryAt>> {
        let stretches = 0..self.mark().map_or(0, |mark| mark.stretches());
        let before = stretches.flat_map(|number| self.stretch(number));
        before.chain(self.scan().entries.iter().cloned().map(Ok))
    }

    /// Where every entry lies, the newest first. What lies far back is only looked for when it is reached.
    pub fn newest_first(&self) -> impl Iterator<Item = Outcome<EntryAt>> {
        let stretches = 0..self.mark().map_or(0, |mark| mark.stretches());
        let before = stretches.rev().flat_map(|number| self.stretch(number).into_iter().rev());
        self.scan().entries.iter().rev().cloned().map(Ok).chain(before)
    }

    /// Where the entries of this sort lie, in order. As [`Practice::all`], this takes as long as the ledger is.
    ///
    /// # Errors
    /// When the ledger can't be read.
    pub fn all_where(&self, mut wanted: impl FnMut(&EntryAt) -> bool) -> Outcome<Vec<EntryAt>> {
        self.all().filter(|at| at.as_ref().map_or(true, &mut wanted)).collect()
    }

    fn stretch(&self, number: usize) -> Vec<Outcome<EntryAt>> {
        match self.mark().map_or(Ok(Vec::new()), |mark| mark.stretch(number)) {
            Ok(entries) => entries.into_iter().map(Ok).collect(),
            Err(trouble) => vec![Err(trouble)],
        }
    }

    /// The hashes of the leaves of all entries, in order.
    ///
    /// # Errors
    /// When the ledger can't be read.
    pub fn leaf_hashes(&self) -> Outcome<Vec<Hash>> {
        self.all().map(|at| Ok(at?.tree_hash)).collect()
    }

    /// Where the entry with this number lies.
    ///
    /// # Errors
    /// When there is none.
    pub fn at_seq(&self, seq: u64) -> Outcome<EntryAt> {
        let scan = self.scan();
        let listed = scan.entries.binary_search_by_key(&seq, |e| e.seq).ok();
        let found = match (listed, self.mark()) {
            (Some(index), _) => scan.entries.get(index).cloned(),
            (None, Some(mark)) if seq <= mark.size() => mark.numbered(seq)?,
            (None, _) => None,
        };
        found.ok_or_else(|| {
            Trouble::new(
                Kind::NotFound,
                format!("There is no entry number {seq}; the ledger ends at {}.", scan.size()),
                "Nothing was changed.",
                "Look the number up with `inkfast print`.",
            )
        })
    }

    /// The key under which chart numbers are kept in the index; none for whoever may not read identities, and in
    /// a store in which looking into every chart takes no time.
    fn numbers_key(&self) -> Option<([u8; 32], PathBuf)> {
        let desk = self.session.roles.iter().find(|(role, _)| *role == KeyRole::Desk);
        let (_, identity) = desk.filter(|_| self.size() >= self.place.pace.from)?;
        Some((index::numbers::key(&identity.to_text()), index::folder(&self.place.root)))
    }

    /// The tag of the chart that probably has this number.
    pub(in crate::practice) fn probable_chart(&self, number: &str) -> Option<String> {
        let (key, index) = self.numbers_key()?;
        let tag = index::numbers::find(&*self.world.disk, &index, &key, number)?;
        Some(data_encoding::HEXLOWER.encode(&tag))
    }

    /// Keeps which charts have which numbers.
    pub(in crate::practice) fn keep_numbers(&self, numbers: &[(String, String)]) {
        let Some((key, index)) = self.numbers_key() else { return };
        let pairs = numbers.iter().filter_map(|(number, tag)| Some((number.as_str(), chart_tag(tag)?)));
        index::numbers::add(&*self.world.disk, &index, &key, pairs);
    }

    /// True while nothing can be added: only what was read is here.
    pub(super) fn is_reading(&self) -> bool {
        matches!(self.ledger, Ledger::Reading(_))
    }
}

//! The practice as it was when one entry was the newest: for making again what was made then.

use super::found::Mark;
use super::{Ledger, Practice};
use crate::ledger::begin::Heads;
use crate::ledger::checkpoint::Checkpoint;
use crate::ledger::leaf::Digest;
use crate::ledger::scan::{ChartHead, EntryAt, Scan, Unfinished};
use crate::ledger::tree::Frontier;
use crate::seal::body::unhex32;
use crate::trouble::{Outcome, Trouble};
use crate::world::{SetClock, World};
use std::collections::HashMap;
use std::sync::Arc;

impl Practice {
    /// A view for reading in which the ledger ends at entry `seq`, the time is when that was written, and
    /// who is here is its author. What is made from it comes out the same whenever it is made. The
    /// checkpoint is signed anew over the same tree; an Ed25519 signature over the same bytes is the same
    /// (RFC 8032, 5.1.6).
    ///
    /// # Errors
    /// When there is no such entry, or the person may not vouch for the ledger.
    pub fn as_of(&self, seq: u64) -> Outcome<Practice> {
        let newest = self.leaf(&self.at_seq(seq)?)?;
        let (scan, mark) = self.cut(seq)?;
        let clock = Arc::new(SetClock::new(newest.written));
        let world = World { clock, ..self.world.clone() };
        let ledger = Ledger::Reading(Box::new(scan));
        let mut then =
            Practice::with(&world, &self.place, self.session.reader()?, &self.station, ledger, mark)?;
        then.as_whom = Some(newest.author);
        Ok(then)
    }

    /// What was read of the ledger, up to entry `seq` only, and the bookmark it goes on from. What lies before
    /// the bookmark is listed in full.
    fn cut(&self, seq: u64) -> Outcome<(Scan, Mark)> {
        let whole = self.scan();
        let mark = self.mark().filter(|mark| mark.size() < seq).cloned();
        let mark = mark.and_then(|mark| mark.begin().map(|begin| (mark, begin)));
        let before = mark.as_ref().map_or(0, |(mark, _)| mark.size());
        let upto = seq.saturating_sub(before) as usize;
        let entries: Vec<EntryAt> = match &mark {
            Some(_) => whole.entries.iter().take(upto).cloned().collect(),
            None => self.all().take(upto).collect::<Outcome<_>>()?,
        };
        let last = entries.last().ok_or_else(|| Trouble::damaged("The ledger has no entries."))?;
        let (last_leaf, last_written) = (Some(self.digest_of(last)?), Some(last.written));
        let (frontier, checkpoint) = match &whole.checkpoint {
            Some(newest) if newest.0.size == seq => (whole.frontier.clone(), Some(newest.clone())),
            _ => {
                let mut frontier =
                    mark.as_ref().map_or_else(Frontier::new, |(_, begin)| begin.frontier.clone());
                entries.iter().for_each(|e| frontier.push(e.tree_hash));
                let origin = self.place.key.name().to_string();
                let then = Checkpoint { origin, size: frontier.size(), root: frontier.root() };
                let note = then
                    .sign(self.session.vouch()?)
                    .map_err(|e| Trouble::damaged(e.to_string()))?
                    .into_bytes();
                (frontier, Some((then, note)))
            }
        };
        let heads_before = mark.as_ref().map(|(_, begin)| begin.heads.clone());
        let charts = self.heads(&entries, heads_before.as_deref())?;
        let scan = Scan {
            before,
            frontier_before: mark.as_ref().map_or_else(Frontier::new, |(_, begin)| begin.frontier.clone()),
            heads_before,
            entries,
            hashes: Vec::new(),
            last_seq: seq,
            frontier,
            charts,
            last_leaf,
            last_written,
            checkpoint,
            end: whole.end,
            head: whole.head.clone(),
            damage: Vec::new(),
            unfinished: Unfinished::default(),
        };
        Ok((scan, mark))
    }

    /// The newest entry of each chart among these.
    fn heads(
        &self,
        entries: &[EntryAt],
        before: Option<&dyn Heads>,
    ) -> Outcome<HashMap<[u8; 16], ChartHead>> {
        let mut last: HashMap<[u8; 16], (u64, &EntryAt)> = HashMap::new();
        for at in entries {
            let Some(tag) = at.chart else { continue };
            let count = match (last.get(&tag), before) {
                (Some((count, _)), _) => *count,
                (None, Some(before)) => before.head(&tag)?.map_or(0, |head| head.count),
                (None, None) => 0,
            };
            last.insert(tag, (count + 1, at));
        }
        let mut heads = HashMap::with_capacity(last.len());
        for (tag, (count, at)) in last {
            let known = self.scan().charts.get(&tag).copied().filter(|head| head.count == count);
            let head = match known {
                Some(head) => head,
                None => ChartHead { count, leaf: self.digest_of(at)? },
            };
            heads.insert(tag, head);
        }
        Ok(heads)
    }

    fn digest_of(&self, at: &EntryAt) -> Outcome<Digest> {
        let (_, digest) = self.leaf_of(at)?;
        unhex32(&digest).ok_or_else(|| Trouble::damaged("A digest can't be read."))
    }
}

//! Drafts: unsigned work, sealed to whoever is writing it, never in the ledger. A power cut or a
//! wrong answer loses nothing that was typed.

use super::open::Practice;
use crate::record::kinds::KINDS;
use crate::record::moment::Moment;
use crate::seal::age_file::{self, To, With};
use crate::trouble::{Outcome, Trouble};
use crate::world::is_there;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

/// One draft.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Kept {
    /// Kind of record it will be.
    pub kind: String,
    /// Chart tag, if in one.
    pub chart: Option<String>,
    /// Staff code of whoever writes it.
    pub by: String,
    /// When it was begun.
    pub begun: Moment,
    /// What was typed so far.
    pub data: Value,
}

impl Practice {
    fn draft_path(&self, kind: &str, chart: Option<&str>) -> PathBuf {
        self.draft_path_of(&self.session.me.code, kind, chart)
    }

    /// The file says neither what it is nor whose: its name is a digest of both.
    fn draft_path_of(&self, code: &str, kind: &str, chart: Option<&str>) -> PathBuf {
        let what = format!("{code}\n{kind}\n{}", chart.unwrap_or("-"));
        let name =
            blake3::keyed_hash(blake3::hash(self.place.key.name().as_bytes()).as_bytes(), what.as_bytes());
        self.place.root.join("drafts").join(format!("{}.age", &name.to_hex()[..32]))
    }

    /// Keeps a draft, replacing the one before.
    pub fn keep_draft(&self, draft: &Kept) -> Outcome<()> {
        let path = self.draft_path(&draft.kind, draft.chart.as_deref());
        let trouble = |e: std::io::Error| Trouble::disk("keep a draft in", &path, &e);
        let json = zeroize::Zeroizing::new(serde_json::to_vec(draft).map_err(|e| trouble(e.into()))?);
        let to = [self.session.me.identity.recipient()];
        let sealed = age_file::seal(&To::Recipients(&to), &json).map_err(trouble)?;
        self.world.disk.put(&path, &sealed).map_err(trouble)
    }

    /// The draft of this kind for this chart, if there is one.
    pub fn draft(&self, kind: &str, chart: Option<&str>) -> Outcome<Option<Kept>> {
        let path = self.draft_path(kind, chart);
        // One that can't be looked at is there: taken for none, the next one would be written over it.
        match is_there(&*self.world.disk, &path)? {
            true => self.read_draft(&path).map(Some),
            false => Ok(None),
        }
    }

    fn read_draft(&self, path: &std::path::Path) -> Outcome<Kept> {
        let sealed = self.world.disk.read(path).map_err(|e| Trouble::disk("read", path, &e))?;
        let held = std::slice::from_ref(&self.session.me.identity);
        let with = With::Remembering(held, &self.session.file_keys);
        let plain = age_file::open(&with, &sealed).map_err(|e| e.about("This draft"))?;
        serde_json::from_slice(&plain).map_err(|_| Trouble::damaged("A draft can't be read."))
    }

    /// Removes a draft, once it was signed or is not wanted.
    pub fn drop_draft(&self, kind: &str, chart: Option<&str>) -> Outcome<()> {
        let path = self.draft_path(kind, chart);
        self.world.disk.clear(&path).map_err(|e| Trouble::disk("remove", &path, &e))
    }

    /// The drafts that lie in this store for one chart, whoever keeps them. Others' drafts do not open, but their
    /// names follow from who, which kind and which chart.
    ///
    /// # Errors
    /// When the folder can't be read.
    pub(super) fn drafts_of_chart(&self, tag: &str) -> Outcome<Vec<PathBuf>> {
        let dir = self.place.root.join("drafts");
        let names = self.world.disk.list(&dir).map_err(|e| Trouble::disk("read the folder", &dir, &e))?;
        let codes: BTreeSet<&str> = self.keys().staff().iter().map(|line| line.code.as_str()).collect();
        let kinds: Vec<&str> =
            KINDS.iter().map(|row| row.word).chain([super::held::KIND, super::typing::KIND]).collect();
        let of_chart: BTreeSet<PathBuf> = codes
            .iter()
            .flat_map(|code| kinds.iter().map(|kind| self.draft_path_of(code, kind, Some(tag))))
            .collect();
        // One that is being written or destroyed has another ending.
        let whole = |path: &Path| match path.to_str().and_then(|text| text.split_once(".age")) {
            Some((begin, _)) => PathBuf::from(format!("{begin}.age")),
            None => path.to_path_buf(),
        };
        let there = names.iter().map(|name| dir.join(name));
        Ok(there.filter(|path| of_chart.contains(&whole(path))).collect())
    }

    /// How many drafts lie in this store, whoever keeps them.
    pub fn count_drafts(&self) -> Outcome<usize> {
        let dir = self.place.root.join("drafts");
        let names = self.world.disk.list(&dir).map_err(|e| Trouble::disk("read the folder", &dir, &e))?;
        Ok(names.iter().filter(|name| name.ends_with(".age")).count())
    }

    /// True when a person keeps a draft of this kind for this chart. What it says opens to them alone.
    pub fn keeps_draft(&self, code: &str, kind: &str, chart: Option<&str>) -> Outcome<bool> {
        is_there(&*self.world.disk, &self.draft_path_of(code, kind, chart))
    }

    /// Every draft of the person who is here. Other people's drafts do not open and are left out.
    pub fn drafts(&self) -> Outcome<Vec<Kept>> {
        let dir = self.place.root.join("drafts");
        let names = self.world.disk.list(&dir).map_err(|e| Trouble::disk("read the folder", &dir, &e))?;
        let mut drafts: Vec<Kept> = names
            .iter()
            .filter(|n| n.ends_with(".age"))
            .filter_map(|n| self.read_draft(&dir.join(n)).ok())
            .collect();
        drafts.sort_by_key(|d| d.begun);
        Ok(drafts)
    }
}

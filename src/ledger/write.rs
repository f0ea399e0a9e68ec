//! Appending: one writer, one sync for a group of entries, and no second try after a failure.
//!
//! The order of a commit is fixed (DURABLE END in schema/FORMAT.md): the entry frames are written,
//! read back from where they lie and hashed again, the checkpoint over what was read back is signed
//! and its frame written behind them, one sync covers both, and only then is anything acknowledged.
//! Then the outside copy of the checkpoint is replaced.

use super::begin::{Begin, scan_on};
use super::checkpoint::Checkpoint;
use super::frame::{self, FrameKind, HEADER, MAX_BODY};
use super::leaf::{Leaf, chart_tag, leaf_digest};
use super::lock::Lock;
use super::outside::{self, Outside};
use super::scan::{ChartHead, EntryAt, Scan, scan_to_newest};
use super::segment::{self, Head, Place, SEGMENT_BYTES};
use super::tree::{self, Hash, leaf_hash};
use crate::record::moment::Moment;
use crate::seal::body::hex;
use crate::seal::note::{Signer, Verifier};
use crate::trouble::{Kind, Outcome, Trouble};
use crate::world::{DiskFile, World, beside};
use std::path::{Path, PathBuf};

/// Where a ledger lives and whose key vouches for it.
#[derive(Clone)]
pub struct Location {
    /// Folder of the segments.
    pub dir: PathBuf,
    /// Folder for bytes that were never acknowledged, moved there and reported.
    pub set_aside: PathBuf,
    /// Folder outside the store for the newest checkpoint.
    pub outside: PathBuf,
    /// Path of the lock file.
    pub lock: PathBuf,
    /// The checkpoint key; its name is the origin.
    pub key: Verifier,
}

/// An entry to append.
pub struct NewEntry<'a> {
    /// Chart tag (32 hex digits), or none outside any chart.
    pub chart: Option<String>,
    /// Kind of record.
    pub kind: String,
    /// When it is sealed.
    pub written: Moment,
    /// The author, then a second signer where a rule asks for one.
    pub signers: Vec<&'a Signer>,
    /// The body as it will be stored.
    pub body: Vec<u8>,
    /// BLAKE3 of the plain record keyed with its opening.
    pub commit: [u8; 32],
}

/// What was acknowledged.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Receipt {
    /// Number in the ledger.
    pub seq: u64,
    /// BLAKE3 (hex) of the leaf.
    pub leaf: String,
    /// Number in the chart, if in one.
    pub chart_seq: Option<u64>,
}

/// What opening for writing found and did.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub enum Remark {
    /// Bytes that were never acknowledged were moved into this file.
    SetAside {
        /// The file they are kept in.
        file: PathBuf,
        /// How many whole entries were among them.
        entries: u64,
    },
    /// There was no outside copy; it begins anew with this ledger's newest checkpoint.
    OutsideMissing,
    /// The outside copy could not be read; it begins anew.
    OutsideUnreadable,
    /// The entries are kept, but the outside copy could not be replaced.
    OutsideNotReplaced(Trouble),
}

/// The segment that is written to.
struct Open {
    segment: u32,
    file: Box<dyn DiskFile>,
    /// What was written is read back by this one.
    again: Box<dyn DiskFile>,
}

/// A ledger open for writing.
pub struct Writer {
    world: World,
    place: Location,
    scan: Scan,
    file: Option<Open>,
    segment_bytes: u64,
    poisoned: bool,
    /// How many entries a ledger had that was behind the outside copy, until the first commit.
    behind: Option<u64>,
    remarks: Vec<Remark>,
    _lock: Lock,
}

impl Writer {
    /// Opens an existing ledger. Refuses when it is damaged, or behind the outside copy unless
    /// `even_if_behind` (the caller then writes down why, as the very next entry).
    pub fn open(world: &World, place: &Location, even_if_behind: bool) -> Outcome<Writer> {
        Writer::open_from(world, place, even_if_behind, None)
    }

    /// As [`Writer::open`], reading only what lies behind an earlier reading where that can be gone on from.
    pub fn open_from(
        world: &World,
        place: &Location,
        even_if_behind: bool,
        begin: Option<&Begin>,
    ) -> Outcome<Writer> {
        let lock = Lock::take(&place.lock)?;
        let read_on = match begin {
            Some(begin) => scan_on(&*world.disk, &place.dir, &place.key, begin)?,
            None => None,
        };
        let scan = match read_on {
            Some(scan) => scan,
            None => scan_to_newest(&*world.disk, &place.dir, &place.key)?,
        };
        refuse_damage(&scan)?;
        let mut writer = Writer {
            world: world.clone(),
            place: place.clone(),
            scan,
            file: None,
            segment_bytes: SEGMENT_BYTES,
            poisoned: false,
            behind: None,
            remarks: Vec::new(),
            _lock: lock,
        };
        writer.refuse_if_behind(even_if_behind)?;
        writer.set_aside_unfinished()?;
        Ok(writer)
    }

    /// Begins a new ledger in an empty folder.
    pub fn create(world: &World, place: &Location, segment_bytes: u64) -> Outcome<Writer> {
        for dir in [&place.dir, &place.outside] {
            world.disk.create_dirs(dir).map_err(|e| Trouble::disk("create", dir, &e))?;
        }
        let lock = Lock::take(&place.lock)?;
        let scan = scan_to_newest(&*world.disk, &place.dir, &place.key)?;
        if !scan.entries.is_empty() || scan.head.is_some() {
            return Err(Trouble::new(
                Kind::Refused,
                "There is a ledger in this folder already.",
                "It was not touched.",
                "Choose another folder for a new store.",
            ));
        }
        let mut writer = Writer {
            world: world.clone(),
            place: place.clone(),
            scan,
            file: None,
            segment_bytes,
            poisoned: false,
            behind: None,
            remarks: Vec::new(),
            _lock: lock,
        };
        writer.new_segment(0)?;
        Ok(writer)
    }

    /// What was read when the ledger was opened, kept up to date by each commit.
    pub fn scan(&self) -> &Scan {
        &self.scan
    }

    /// What opening and committing had to remark, each once.
    pub fn take_remarks(&mut self) -> Vec<Remark> {
        std::mem::take(&mut self.remarks)
    }

    fn refuse_if_behind(&mut self, but_go_on: bool) -> Outcome<()> {
        match outside::read(&*self.world.disk, &self.place.outside, &self.place.key) {
            Outside::Missing if self.scan.size() == 0 => Ok(()),
            Outside::Missing => {
                self.remarks.push(Remark::OutsideMissing);
                Ok(())
            }
            Outside::Unreadable => {
                self.remarks.push(Remark::OutsideUnreadable);
                Ok(())
            }
            Outside::Newest(kept, _) => {
                let mine = self.scan.size();
                if kept.size <= mine && self.root_at(kept.size)? == kept.root {
                    return Ok(());
                }
                if let Some(from) = self.explained(&kept)? {
                    self.behind = Some(from);
                    return Ok(());
                }
                if kept.size > mine {
                    self.behind = Some(mine);
                    return if but_go_on { Ok(()) } else { Err(behind(mine, kept.size)) };
                }
                Err(Trouble::damaged(format!(
                    "The first {} entries are not the ones that the checkpoint kept outside vouches for: this \
                     ledger was rewritten, or it is another one.",
                    kept.size
                )))
            }
        }
    }

    /// From how many entries the ledger went on, where this copy is noted as lost and the owner's words why are kept.
    fn explained(&mut self, kept: &Checkpoint) -> Outcome<Option<u64>> {
        let (disk, dir, origin) = (&*self.world.disk, &self.place.outside, self.place.key.name());
        let code = tree::code(&kept.root);
        let noted = outside::lost_from(disk, dir, origin, kept.size, &code);
        let Some(from) = noted.filter(|from| *from < self.scan.size()) else { return Ok(None) };
        if from < self.scan.before {
            self.read_anew()?;
        }
        let why = self.scan.entries.iter().find(|at| at.seq == from + 1);
        Ok(why.filter(|at| &*at.kind == outside::EXPLAINS).map(|_| from))
    }

    fn read_anew(&mut self) -> Outcome<()> {
        self.scan = scan_to_newest(&*self.world.disk, &self.place.dir, &self.place.key)?;
        refuse_damage(&self.scan)
    }

    /// The root over the first `size` entries.
    fn root_at(&mut self, size: u64) -> Outcome<Hash> {
        if size == self.scan.size() {
            return Ok(self.scan.frontier.root());
        }
        if self.scan.before > 0 {
            // An older copy than is usual: what it vouches for is read anew.
            self.read_anew()?;
        }
        self.scan
            .root_at(size)
            .ok_or_else(|| Trouble::damaged("The ledger became shorter while it was read."))
    }

    /// Moves what lies behind the durable end into a named file and leaves zeros there.
    fn set_aside_unfinished(&mut self) -> Outcome<()> {
        let (Some(end), Some(from)) = (self.scan.end, self.scan.unfinished.at) else { return Ok(()) };
        let last = self.scan.head.as_ref().map_or(end.segment, |h| h.number);
        let start = if from.segment == end.segment { end.offset } else { from.offset };
        for segment in from.segment..=last {
            let at = if segment == from.segment { start } else { self.head_len(segment)? };
            self.set_aside(Place { segment, offset: at })?;
        }
        self.scan.unfinished = Default::default();
        Ok(())
    }

    fn head_len(&self, segment: u32) -> Outcome<u64> {
        let path = segment::path(&self.place.dir, segment);
        let bytes = self.world.disk.read(&path).map_err(|e| Trouble::disk("read", &path, &e))?;
        Ok(frame::Header::read(&bytes).map_or(0, |h| h.frame_len() as u64))
    }

    fn set_aside(&mut self, at: Place) -> Outcome<()> {
        let disk = &self.world.disk;
        let path = segment::path(&self.place.dir, at.segment);
        let trouble = |e: std::io::Error| Trouble::disk("move unfinished bytes out of", &path, &e);
        let bytes = disk.read(&path).map_err(trouble)?;
        let tail = bytes.get(at.offset as usize..).unwrap_or_default();
        let Some(last) = tail.iter().rposition(|b| *b != 0) else { return Ok(()) };
        disk.create_dirs(&self.place.set_aside).map_err(trouble)?;
        let named = |n: u32| {
            self.place.set_aside.join(format!("segment-{:06}-byte-{}-{n}.bin", at.segment, at.offset))
        };
        let mut file = named(0);
        for n in 1.. {
            if !disk.there(&file).map_err(trouble)? {
                break;
            }
            file = named(n);
        }
        disk.put(&file, &tail[..=last]).map_err(trouble)?;
        let handle = disk.open(&path, true).map_err(trouble)?;
        handle.write_at(&vec![0; last + 1], at.offset).map_err(trouble)?;
        handle.sync().map_err(trouble)?;
        self.remarks.push(Remark::SetAside { file, entries: self.scan.unfinished.entries });
        Ok(())
    }

    /// Appends a group of entries, all or none, and returns once they are durable.
    ///
    /// # Errors
    /// After any failed write or sync this writer refuses everything: whether those bytes are on
    /// the disk can't be known before the ledger is opened again.
    pub fn commit(&mut self, entries: Vec<NewEntry<'_>>, vouch: &Signer) -> Outcome<Vec<Receipt>> {
        if self.poisoned {
            return Err(Trouble::new(
                Kind::Disk,
                "An earlier write failed, so this program adds nothing more.",
                "Everything that was confirmed before is still kept.",
                "Check the disk, start the command again, and run `inkfast verify`.",
            ));
        }
        if let Some(from) = self.behind.filter(|from| *from == self.scan.size()) {
            let place = &self.place;
            outside::note_lost(&*self.world.disk, &place.outside, &place.key, from)?;
        }
        let (frames, added, receipts) = self.build(entries)?;
        let room = frames.len() + HEADER + frame::MAX_NOTE;
        self.poisoned = true;
        self.roll_if_needed(room as u64)?;
        let at = self.scan.end.ok_or_else(|| Trouble::damaged("The ledger has no segment to write to."))?;
        let durable = self.write_group(at, &frames, added, vouch)?;
        self.poisoned = false;
        if let Err(trouble) = self.replace_outside(durable.0, &durable.1) {
            self.remarks.push(Remark::OutsideNotReplaced(trouble));
        }
        Ok(receipts)
    }

    fn replace_outside(&mut self, size: u64, note: &[u8]) -> Outcome<()> {
        let (disk, dir) = (&*self.world.disk, &self.place.outside);
        if let Some(from) = self.behind {
            // Otherwise the copy that is ahead would keep the next command from writing.
            outside::supersede(disk, dir, &self.place.key, from)?;
            self.behind = None;
        }
        outside::write(disk, dir, self.place.key.name(), size, note)
    }

    /// Builds leaves and frames in memory; nothing is written yet.
    fn build(&self, entries: Vec<NewEntry<'_>>) -> Outcome<(Vec<u8>, Vec<Added>, Vec<Receipt>)> {
        let (mut frames, mut added, mut receipts) = (Vec::new(), Vec::new(), Vec::new());
        let mut prev = self.scan.last_leaf;
        let mut heads: std::collections::HashMap<[u8; 16], ChartHead> = Default::default();
        for entry in entries {
            if entry.body.len() > MAX_BODY {
                return Err(Trouble::input(
                    "This entry is longer than one entry may be (4 MiB).",
                    "Attach long documents as files with `inkfast attach`.",
                ));
            }
            let seq = self.scan.size() + added.len() as u64 + 1;
            let tag = entry.chart.as_deref().and_then(chart_tag);
            let head = match tag {
                Some(tag) if heads.contains_key(&tag) => heads.get(&tag).copied(),
                Some(tag) => self.scan.head_of(&tag)?,
                None => None,
            };
            let author = entry.signers.first().map(|s| s.name().to_string()).unwrap_or_default();
            let chart_seq = tag.map(|_| head.map_or(0, |h| h.count) + 1);
            let leaf = Leaf {
                v: 1,
                ledger: self.place.key.name().to_string(),
                seq,
                prev: prev.map(|d| hex(&d)),
                chart: entry.chart,
                chart_seq,
                chart_prev: head.map(|h| hex(&h.leaf)),
                kind: entry.kind,
                written: entry.written,
                author,
                body: hex(blake3::hash(&entry.body).as_bytes()),
                size: entry.body.len() as u64,
                commit: hex(&entry.commit),
            };
            let note = leaf.to_note(&entry.signers).map_err(|e| {
                Trouble::input(format!("This entry can't be written: {e}."), "Shorten its kind or code.")
            })?;
            let digest = leaf_digest(&note);
            if let (Some(tag), Some(count)) = (tag, chart_seq) {
                heads.insert(tag, ChartHead { count, leaf: digest });
            }
            prev = Some(digest);
            receipts.push(Receipt { seq, leaf: hex(&digest), chart_seq });
            added.push(Added {
                seq,
                start: frames.len(),
                leaf,
                note_len: note.len(),
                body_len: entry.body.len(),
            });
            frame::write(&mut frames, FrameKind::Entry, &note, &entry.body);
        }
        Ok((frames, added, receipts))
    }

    fn write_group(
        &mut self,
        at: Place,
        frames: &[u8],
        added: Vec<Added>,
        vouch: &Signer,
    ) -> Outcome<(u64, Vec<u8>)> {
        let path = segment::path(&self.place.dir, at.segment);
        let trouble = |e: std::io::Error| Trouble::disk("write to", &path, &e);
        if self.file.as_ref().is_none_or(|open| open.segment != at.segment) {
            let open = |write| self.world.disk.open(&path, write).map_err(trouble);
            self.file = Some(Open { segment: at.segment, file: open(true)?, again: open(false)? });
        }
        let Some(Open { file, again, .. }) = &self.file else {
            return Err(Trouble::damaged("No segment is open."));
        };
        file.write_at(frames, at.offset).map_err(trouble)?;

        // Read back and hash again: what is vouched for is what lies there, not what was meant.
        let mut lies = vec![0; frames.len()];
        again.read_at(&mut lies, at.offset).map_err(trouble)?;
        if lies != frames {
            return Err(Trouble::damaged("The disk gave back other bytes than were written."));
        }
        let mut frontier = self.scan.frontier.clone();
        let mut entries = Vec::with_capacity(added.len());
        for one in &added {
            let leaf = &lies[one.start + HEADER..one.start + HEADER + one.note_len];
            let body = &lies[one.start + HEADER + one.note_len..][..one.body_len];
            if hex(blake3::hash(body).as_bytes()) != one.leaf.body {
                return Err(Trouble::damaged("A body read back is not the one that its leaf names."));
            }
            let tree_hash = leaf_hash(leaf);
            frontier.push(tree_hash);
            entries.push((
                EntryAt {
                    seq: one.seq,
                    at: Place { segment: at.segment, offset: at.offset + one.start as u64 },
                    leaf_len: one.note_len as u32,
                    body_len: one.body_len as u32,
                    chart: one.leaf.chart.as_deref().and_then(chart_tag),
                    kind: one.leaf.kind.as_str().into(),
                    written: one.leaf.written,
                    tree_hash,
                },
                leaf_digest(leaf),
                one.leaf.chart_seq,
                one.leaf.written,
            ));
        }
        let checkpoint = Checkpoint {
            origin: self.place.key.name().to_string(),
            size: frontier.size(),
            root: frontier.root(),
        };
        let note = checkpoint.sign(vouch).map_err(|e| Trouble::damaged(e.to_string()))?.into_bytes();
        let mut behind = Vec::new();
        frame::write(&mut behind, FrameKind::Checkpoint, &note, &[]);
        file.write_at(&behind, at.offset + frames.len() as u64).map_err(trouble)?;
        file.sync().map_err(|e| not_synced(trouble(e)))?;

        for (entry, digest, chart_seq, written) in entries {
            if let (Some(tag), Some(count)) = (entry.chart, chart_seq) {
                self.scan.charts.insert(tag, ChartHead { count, leaf: digest });
            }
            self.scan.last_leaf = Some(digest);
            self.scan.last_written = Some(written);
            self.scan.entries.push(entry);
        }
        self.scan.frontier = frontier;
        self.scan.end =
            Some(Place { segment: at.segment, offset: at.offset + (frames.len() + behind.len()) as u64 });
        let size = checkpoint.size;
        self.scan.checkpoint = Some((checkpoint, note.clone()));
        Ok((size, note))
    }

    /// Begins the next segment when the group does not fit into this one. A group never spans two.
    fn roll_if_needed(&mut self, room: u64) -> Outcome<()> {
        let fits = match (&self.scan.head, self.scan.end) {
            (Some(head), Some(end)) if head.number == end.segment => end.offset + room <= head.bytes,
            // The last segment is prepared but empty: its head was written before a stop.
            (Some(head), Some(_)) => {
                let len = self.head_len(head.number)?;
                self.scan.end = Some(Place { segment: head.number, offset: len });
                len + room <= head.bytes
            }
            _ => false,
        };
        if fits { Ok(()) } else { self.new_segment(room) }
    }

    /// Prepares a segment of zeros beside the others and gives it its name once it is on the disk.
    fn new_segment(&mut self, room: u64) -> Outcome<()> {
        let number = self.scan.head.as_ref().map_or(0, |h| h.number) + 1;
        let bytes = self.segment_bytes.max((room + 4096).next_multiple_of(4096));
        let head = Head {
            origin: self.place.key.name().to_string(),
            number,
            bytes,
            first_seq: self.scan.size() + 1,
            prev: self.scan.last_leaf,
        };
        let path = segment::path(&self.place.dir, number);
        let trouble = |e: std::io::Error| Trouble::disk("prepare the segment", &path, &e);
        let part = beside(&path);
        let disk = &self.world.disk;
        disk.clear(&part).map_err(trouble)?;
        let mut start = Vec::new();
        frame::write(&mut start, FrameKind::Segment, head.to_text().as_bytes(), &[]);
        let offset = start.len() as u64;
        start.resize(bytes as usize, 0);
        let file = disk.create(&part).map_err(trouble)?;
        file.write_at(&start, 0).map_err(trouble)?;
        file.sync().map_err(trouble)?;
        disk.rename(&part, &path).map_err(trouble)?;
        disk.sync_dir(&self.place.dir).map_err(trouble)?;
        self.file = None;
        self.scan.head = Some(head);
        self.scan.end = Some(Place { segment: number, offset });
        Ok(())
    }
}

fn refuse_damage(scan: &Scan) -> Outcome<()> {
    match scan.damage.first() {
        Some(first) => Err(Trouble::damaged(format!(
            "The ledger is damaged at segment {}, byte {} ({} places in all), so nothing is added to it.",
            first.at.segment,
            first.at.offset,
            scan.damage.len()
        ))),
        None => Ok(()),
    }
}

/// A leaf on its way in.
struct Added {
    seq: u64,
    start: usize,
    leaf: Leaf,
    note_len: usize,
    body_len: usize,
}

/// After a failed sync the entries may be on the disk or not; writing them again could double them.
fn not_synced(trouble: Trouble) -> Trouble {
    Trouble {
        safe:
            "Everything that was confirmed before this is still kept. Whether this entry was kept will show \
               when the store is opened again."
                .to_string(),
        next:
            "Check the disk, run `inkfast verify`, and look whether the entry is there before you write it \
               again."
                .to_string(),
        ..trouble
    }
}

fn behind(mine: u64, kept: u64) -> Trouble {
    Trouble::new(
        Kind::Behind,
        format!(
            "This ledger ends at number {mine}, but the copy of its newest checkpoint kept outside says that \
             there were {kept} entries."
        ),
        "Nothing was written. Everything that is here can still be read.",
        "If this is a restored older copy, look for the newer one first. If it is lost, the owner records why \
         with `inkfast slip behind`, and work goes on from there.",
    )
}

/// Reads an entry's leaf and body from where they lie.
pub fn read_entry(world: &World, dir: &Path, entry: &EntryAt) -> Outcome<(Vec<u8>, Vec<u8>)> {
    let mut leaf = read_at(world, dir, entry, entry.leaf_len as usize + entry.body_len as usize)?;
    let body = leaf.split_off(entry.leaf_len as usize);
    Ok((leaf, body))
}

/// Reads an entry's leaf alone.
pub fn read_leaf(world: &World, dir: &Path, entry: &EntryAt) -> Outcome<Vec<u8>> {
    read_at(world, dir, entry, entry.leaf_len as usize)
}

fn read_at(world: &World, dir: &Path, entry: &EntryAt, len: usize) -> Outcome<Vec<u8>> {
    let path = segment::path(dir, entry.at.segment);
    let trouble = |e: std::io::Error| Trouble::disk("read", &path, &e);
    let file = world.disk.open(&path, false).map_err(trouble)?;
    let mut bytes = vec![0; len];
    file.read_at(&mut bytes, entry.at.offset + HEADER as u64).map_err(trouble)?;
    Ok(bytes)
}

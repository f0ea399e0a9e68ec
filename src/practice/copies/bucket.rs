//! A safe copy in a store of objects. A file grows there by new pieces, each an object of its own that is named by
//! what it holds; nothing is ever replaced. What was put is read again before the list that names it is put.

use super::extent::{Extent, extent};
use super::files::{self, BESIDE, failed};
use super::folder::{Copied, Resealed, Travelled, durable, not_resealed, store_damaged};
use super::manifest::{self, Held, MOST_IN_A_ROW, Manifest, Piece, Whole, broken};
use super::mark::{self, EDITION, SafeCopyFile};
use super::rehearse::check_store;
use crate::ledger::segment;
use crate::practice::objects::{Objects, Put};
use crate::practice::place::Place;
use crate::trouble::{Kind, Outcome, Trouble};
use crate::verify::pin::{Pin, What};
use crate::world::{Disk, World, beside, folder_of};
use jiff::Timestamp;
use std::collections::BTreeMap;
use std::path::Path;

/// The longest piece.
const PIECE: usize = 8 << 20;

/// What is to be copied to a store of objects.
pub struct BucketOrder<'a> {
    /// The store of objects.
    pub objects: &'a dyn Objects,
    /// Whether unsigned drafts travel too.
    pub drafts: bool,
    /// Until when nobody may remove what is put now, where the store keeps to such locks.
    pub locked_until: Option<Timestamp>,
    /// Judges key files that differ.
    pub resealed: &'a Resealed<'a>,
}

/// Makes a safe copy in a store of objects, or brings one up to date.
///
/// # Errors
/// When the store is damaged, what is in the copy is not what is in the store, or the store of objects can't be
/// reached or refuses. Nothing that is in the copy is lost by any of these.
pub fn copy_to_bucket(
    world: &World,
    place: &Place,
    order: &BucketOrder<'_>,
    progress: &mut dyn FnMut(u64),
) -> Outcome<Copied> {
    let disk = &*world.disk;
    let extent = extent(disk, place, progress).map_err(store_damaged)?;
    let report = check_store(disk, place, &extent.checkpoint, progress)?;
    if !report.sound {
        return Err(store_damaged(Trouble::damaged("The store is not sound.")));
    }
    let ledger = place.key.name();
    let before = manifest::read(order.objects, ledger)?;
    let label = match &before {
        Some(whole) if whole.newest.entries > extent.checkpoint.size => {
            return Err(ahead(&whole.newest, &extent));
        }
        Some(whole) => whole.newest.label.clone(),
        None => {
            prove_create_only(world, order.objects, ledger)?;
            mark::new_label(world)?
        }
    };
    let mut sending =
        Sending { disk, place, order, extent: &extent, travelled: Travelled::default(), progress };
    let empty = BTreeMap::new();
    let there = before.as_ref().map_or(&empty, |whole| &whole.files);
    let mut new: BTreeMap<String, Held> = BTreeMap::new();
    let paths = paths(disk, place, &extent, order.drafts)?;
    for path in &paths {
        new.extend(sending.file(path, there.get(path))?.map(|held| (path.clone(), held)));
    }
    let mut gone = Vec::new();
    let mut only_here = Vec::new();
    for path in there.keys().filter(|path| !paths.contains(*path)) {
        match extent.says_gone(path) {
            true => gone.push(path.clone()),
            // Drafts come and go; what is left out now stays as it was.
            false if path.starts_with("drafts/") && order.drafts => gone.push(path.clone()),
            false if path.starts_with("drafts/") => {}
            false => only_here.push(path.clone()),
        }
    }
    let travelled = sending.travelled;
    put_list(world, order, before.as_ref(), &label, &extent, place, new, &gone)?;
    Ok(Copied {
        label,
        before: before.map_or(0, |whole| whole.newest.entries),
        entries: extent.checkpoint.size,
        code: Pin::new(What::Slip, extent.checkpoint.size, &extent.checkpoint.root).code(),
        travelled,
        taken_out: gone,
        only_here,
        damaged: Vec::new(),
        drafts_left: if order.drafts {
            0
        } else {
            files::names(disk, &place.root.join("drafts"))?.len() as u64
        },
        report,
    })
}

/// Label of the newest copy of a ledger; none where there is none yet.
///
/// # Errors
/// When the store of objects fails, or a list can't be used.
pub fn label_in_bucket(objects: &dyn Objects, ledger: &str) -> Outcome<Option<String>> {
    Ok(manifest::read(objects, ledger)?.map(|whole| whole.newest.label))
}

fn ahead(newest: &Manifest, extent: &Extent) -> Trouble {
    Trouble::new(
        Kind::Behind,
        format!(
            "The copy has {} entries, more than the store, which ends at {}.",
            newest.entries, extent.checkpoint.size
        ),
        "Nothing was copied. The store is an older one, or its end was cut off; the copy may be the newest there is.",
        "Run `inkfast verify` on the store; `inkfast restore` brings the copy back into a new folder.",
    )
}

/// A store of objects that replaces what is there is none to keep a record in.
fn prove_create_only(world: &World, objects: &dyn Objects, ledger: &str) -> Outcome<()> {
    let name = format!("{ledger}/probe/{}", mark::new_label(world)?);
    let twice = (objects.put_new(&name, b"first", None)?, objects.put_new(&name, b"second", None)?);
    let kept = objects.get(&name)?;
    if twice == (Put::Created, Put::Exists) && kept.as_deref() == Some(b"first") {
        return Ok(());
    }
    Err(Trouble::new(
        Kind::Refused,
        "This store of objects replaces what is there when it is told to create only (If-None-Match).",
        "Nothing of the record was sent.",
        "Use one that keeps to conditional writes.",
    ))
}

/// Everything that travels, as paths in the store.
fn paths(disk: &dyn Disk, place: &Place, extent: &Extent, drafts: bool) -> Outcome<Vec<String>> {
    let mut paths = vec!["store.json".to_string()];
    let folders = ["keys"].into_iter().chain(BESIDE).chain(drafts.then_some("drafts"));
    for folder in folders {
        let names = files::names(disk, &place.root.join(folder))?;
        paths.extend(names.into_iter().map(|name| format!("{folder}/{name}")));
    }
    paths.extend(files::sealed(disk, &place.root)?.into_iter().map(|(path, _)| path.display().to_string()));
    // The ledger last, in order: what it needs is there before it.
    paths.extend((1..=extent.end.segment).map(|number| format!("ledger/{}", segment::file_name(number))));
    Ok(paths)
}

/// Sending what is new.
struct Sending<'a> {
    disk: &'a dyn Disk,
    place: &'a Place,
    order: &'a BucketOrder<'a>,
    extent: &'a Extent,
    travelled: Travelled,
    progress: &'a mut dyn FnMut(u64),
}

impl Sending<'_> {
    /// Sends what is new of a file; none where nothing is.
    fn file(&mut self, path: &str, there: Option<&Held>) -> Outcome<Option<Held>> {
        let (len, content) = self.length(path)?;
        let grows = path.starts_with("ledger/");
        let mut from = 0;
        if let Some(there) = there {
            match self.first_other(path, there)? {
                None => from = there.pieces.last().map_or(0, |piece| piece.offset + piece.len),
                Some(at) if grows || path.starts_with("files/") || path == "store.json" => {
                    return Err(differs(path, at));
                }
                Some(_) if path.starts_with("keys/") => {
                    let bytes = self.read(path, 0, content)?;
                    let name = path.trim_start_matches("keys/");
                    if !(self.order.resealed)(name, &bytes) {
                        return Err(not_resealed(name));
                    }
                }
                Some(_) => {}
            }
            if from == content && there.len == len {
                return Ok(None);
            }
            // What others signed and what is sealed anew is sent whole; only the ledger's files grow.
            from = if grows { from } else { 0 };
        }
        let mut held = Held { len, pieces: Vec::new() };
        while from < content {
            let bytes = self.read(path, from, (content - from).min(PIECE as u64))?;
            let piece = Piece::of(from, &bytes);
            self.send(&piece.object(path), &bytes)?;
            from += bytes.len() as u64;
            held.pieces.push(piece);
        }
        self.count(path);
        Ok(Some(held))
    }

    /// Length of the file, and how much of it is content: a segment is zeros from the durable end on.
    fn length(&self, path: &str) -> Outcome<(u64, u64)> {
        let len = files::length(self.disk, &self.place.root.join(path))?;
        match segment_of(path) {
            Some(number) => {
                let bytes = durable(self.disk, self.place, self.extent, number)?;
                let content = bytes.iter().rposition(|b| *b != 0).map_or(0, |last| last as u64 + 1);
                // Frames may end in a zero: the durable end itself is known for the last segment.
                let end = if number == self.extent.end.segment { self.extent.end.offset } else { content };
                Ok((len, end.max(content)))
            }
            None => Ok((len, len)),
        }
    }

    fn read(&self, path: &str, offset: u64, len: u64) -> Outcome<Vec<u8>> {
        let from = self.place.root.join(path);
        let mut bytes = vec![0; len as usize];
        let file = self.disk.open(&from, false).and_then(|file| file.read_at(&mut bytes, offset));
        file.map_err(|e| failed(&from, &e))?;
        Ok(bytes)
    }

    /// Where the first piece begins that does not hold what the store has there.
    fn first_other(&self, path: &str, there: &Held) -> Outcome<Option<u64>> {
        let (len, content) = self.length(path)?;
        for piece in &there.pieces {
            let fits = piece.offset + piece.len <= content;
            if !fits || Piece::of(piece.offset, &self.read(path, piece.offset, piece.len)?) != *piece {
                return Ok(Some(piece.offset));
            }
        }
        Ok((there.len != len).then_some(0))
    }

    /// Puts an object, and reads it again: what is on the list is what lies there.
    fn send(&mut self, object: &str, bytes: &[u8]) -> Outcome<()> {
        let name = format!("{}/{object}", self.place.key.name());
        self.order.objects.put_new(&name, bytes, self.order.locked_until)?;
        let lies = self.order.objects.get(&name)?;
        if lies.as_deref() != Some(bytes) {
            return Err(Trouble::new(
                Kind::Damaged,
                format!(
                    "The store of objects gives back other bytes than were sent, or than the name says: {object}."
                ),
                "The copy is as it was. Nothing there was replaced.",
                "Make the copy elsewhere, or under another prefix, and ask whoever keeps that store of objects.",
            ));
        }
        self.travelled.bytes += bytes.len() as u64;
        (self.progress)(bytes.len() as u64);
        Ok(())
    }

    fn count(&mut self, path: &str) {
        let counted = match path.split('/').next() {
            Some("ledger") => &mut self.travelled.segments,
            Some("keys") => &mut self.travelled.keys,
            Some("files") => &mut self.travelled.files,
            _ => &mut self.travelled.others,
        };
        *counted += 1;
    }
}

fn segment_of(path: &str) -> Option<u32> {
    segment::number_of(path.strip_prefix("ledger/")?)
}

fn differs(path: &str, at: u64) -> Trouble {
    Trouble::new(
        Kind::Refused,
        format!(
            "{path} in the copy is not the store's from byte {at} on: one of the two was damaged, or they are two ledgers."
        ),
        "Nothing there was replaced; the copy is as it was.",
        "Run `inkfast verify` on the store and `inkfast rehearse` on the copy. Make a new copy under another prefix meanwhile.",
    )
}

/// The list comes last: with it the new copy is there, without it the old one is.
#[allow(clippy::too_many_arguments)] // They are what the list says.
fn put_list(
    world: &World,
    order: &BucketOrder<'_>,
    before: Option<&Whole>,
    label: &str,
    extent: &Extent,
    place: &Place,
    new: BTreeMap<String, Held>,
    gone: &[String],
) -> Outcome<()> {
    let unchanged = before.is_some_and(|whole| whole.newest.entries == extent.checkpoint.size);
    if unchanged && new.is_empty() && gone.is_empty() {
        return Ok(());
    }
    let mut list = Manifest {
        ledger: place.key.name().to_string(),
        label: label.to_string(),
        entries: extent.checkpoint.size,
        root: crate::seal::body::hex(&extent.checkpoint.root),
        made: world.clock.now(),
        depth: 0,
        since: None,
        files: new,
        gone: gone.to_vec(),
    };
    if let Some(whole) = before {
        if whole.newest.depth < MOST_IN_A_ROW {
            list.depth = whole.newest.depth + 1;
            list.since = Some(whole.newest.object());
        } else {
            list.files = joined(&whole.files, list.files, gone);
            list.gone = Vec::new();
        }
    }
    let name = format!("{}/{}", list.ledger, list.object());
    order.objects.put_new(&name, list.to_text().as_bytes(), order.locked_until)?;
    match order.objects.get(&name)?.as_deref() == Some(list.to_text().as_bytes()) {
        true => Ok(()),
        false => Err(broken("the one just put is not there")),
    }
}

fn joined(
    before: &BTreeMap<String, Held>,
    new: BTreeMap<String, Held>,
    gone: &[String],
) -> BTreeMap<String, Held> {
    let mut files = before.clone();
    for (path, held) in new {
        let grown = held.pieces.first().is_none_or(|piece| piece.offset > 0);
        let mut pieces = files.remove(&path).filter(|_| grown).map_or_else(Vec::new, |held| held.pieces);
        pieces.extend(held.pieces);
        files.insert(path, Held { len: held.len, pieces });
    }
    gone.iter().for_each(|path| drop(files.remove(path)));
    files
}

/// Brings the newest copy of a ledger from a store of objects into a folder. `ledger` may be left out where the
/// prefix holds one ledger only.
///
/// # Errors
/// When there is none, an object is missing or not what its name says, or the disk fails.
pub fn bring_bucket(
    disk: &dyn Disk,
    objects: &dyn Objects,
    ledger: Option<&str>,
    into: &Path,
    progress: &mut dyn FnMut(u64),
) -> Outcome<()> {
    let ledger = match ledger {
        Some(ledger) => ledger.to_string(),
        None => only_ledger(objects)?,
    };
    let whole = manifest::read(objects, &ledger)?.ok_or_else(no_copy)?;
    let stop = |path: &Path, e: std::io::Error| failed(path, &e);
    for (path, held) in whole.files.iter().filter(|(path, _)| *path != "store.json") {
        bring_file(disk, objects, &ledger, path, held, &into.join(path))?;
        progress(held.len);
    }
    let said = SafeCopyFile {
        inkfast_safecopy: EDITION,
        ledger: ledger.clone(),
        label: whole.newest.label.clone(),
        entries: whole.newest.entries,
        root: Some(whole.newest.root.clone()),
        made: whole.newest.made,
        drafts: whole.files.keys().any(|path| path.starts_with("drafts/")),
    };
    mark::write(disk, into, &said).map_err(|e| stop(&into.join(mark::FILE), e))?;
    let store = whole.files.get("store.json").ok_or_else(|| broken("store.json is not in them"))?;
    bring_file(disk, objects, &ledger, "store.json", store, &into.join("store.json"))
}

fn no_copy() -> Trouble {
    Trouble::new(
        Kind::NotFound,
        "There is no safe copy under this prefix.",
        "Nothing was changed.",
        "Name the bucket and prefix of the copy: s3://BUCKET/PREFIX.",
    )
}

fn only_ledger(objects: &dyn Objects) -> Outcome<String> {
    let names = objects.list("ledger-")?;
    let mut ledgers: Vec<&str> = names
        .iter()
        .filter(|name| name.contains(&format!("/{}", manifest::LISTS)))
        .filter_map(|name| name.split('/').next())
        .collect();
    ledgers.dedup();
    match ledgers[..] {
        [one] => Ok(one.to_string()),
        [] => Err(no_copy()),
        _ => Err(Trouble::input(
            format!("There are copies of several ledgers here: {}.", ledgers.join(", ")),
            "Say which with --ledger.",
        )),
    }
}

fn bring_file(
    disk: &dyn Disk,
    objects: &dyn Objects,
    ledger: &str,
    path: &str,
    held: &Held,
    to: &Path,
) -> Outcome<()> {
    let stop = |e: std::io::Error| failed(to, &e);
    let (part, folder) = (beside(to), folder_of(to));
    disk.create_dirs(folder).map_err(stop)?;
    disk.clear(&part).map_err(stop)?;
    let file = disk.create(&part).map_err(stop)?;
    let mut end = 0;
    for piece in &held.pieces {
        let bytes = objects.get(&format!("{ledger}/{}", piece.object(path)))?;
        let bytes = bytes.filter(|bytes| Piece::of(piece.offset, bytes) == *piece).ok_or_else(|| {
            broken(&format!(
                "bytes {} to {} of {path} are missing or were changed",
                piece.offset,
                piece.offset + piece.len
            ))
        })?;
        file.write_at(&bytes, piece.offset).map_err(stop)?;
        end = piece.offset + piece.len;
    }
    let zeros = vec![0u8; 1 << 20];
    while end < held.len {
        let some = (held.len - end).min(zeros.len() as u64) as usize;
        file.write_at(&zeros[..some], end).map_err(stop)?;
        end += some as u64;
    }
    file.sync().and_then(|()| disk.rename(&part, to)).and_then(|()| disk.sync_dir(folder)).map_err(stop)
}

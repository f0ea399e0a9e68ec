//! Restoring: a copy brought into an empty folder becomes a store to work in. Until it is checked, the folder says
//! that it is not finished, and no command works in it.

use super::rehearse::{behind, by_its_own_word, check};
use super::{files, mark};
use crate::ledger::outside::{self, Outside};
use crate::ledger::scan::scan_to_newest;
use crate::ledger::segment;
use crate::ledger::tree;
use crate::practice::place::Place;
use crate::trouble::{Kind, Outcome, Trouble};
use crate::verify::finding::{FindingId, Report};
use crate::verify::slip::read_slip;
use crate::world::{Disk, World};
use std::path::Path;

/// Stands in a folder while it is being restored into.
pub const UNFINISHED: &str = "unfinished-restore";

/// Brings a copy, file by file, into a folder.
pub type Bring<'a> = dyn FnMut(&Path) -> Outcome<()> + 'a;

/// What was restored.
pub struct Restored {
    /// The new store.
    pub place: Place,
    /// The check of it.
    pub report: Report,
    /// True when it can be worked in, or will be once its owner has said why it is behind.
    pub finished: bool,
    /// The highest number that a slip or the copy outside vouches for, where the store does not reach it.
    pub behind: Option<u64>,
    /// True when the newest checkpoint is now kept outside it, because nothing was there.
    pub outside_begun: bool,
}

/// Brings a folder's copy into another folder: what a store consists of, and nothing else that lies there.
///
/// # Errors
/// When the disk fails.
pub fn bring_folder(disk: &dyn Disk, from: &Path, into: &Path, progress: &mut dyn FnMut(u64)) -> Outcome<()> {
    let mut names = Vec::new();
    for folder in ["keys", "drafts"].into_iter().chain(files::BESIDE) {
        let here = files::names(disk, &from.join(folder))?;
        names.extend(here.into_iter().map(|name| Path::new(folder).join(name)));
    }
    names.extend(files::sealed(disk, from)?.into_iter().map(|(path, _)| path));
    let ledger = files::segments(disk, from)?.into_iter();
    names.extend(ledger.map(|number| Path::new("ledger").join(segment::file_name(number))));
    names.extend([mark::FILE, "store.json"].map(Into::into));
    for name in names {
        let (source, target) = (from.join(&name), into.join(&name));
        if !files::there(disk, &source)? {
            continue;
        }
        // What was brought before the last try was cut off need not be brought again.
        let there =
            files::there(disk, &target)? && files::length(disk, &source)? == files::length(disk, &target)?;
        if !(there && files::same(disk, &source, &target)?) {
            progress(files::stream(disk, &source, &target, None)?.unwrap_or_default());
        }
    }
    Ok(())
}

/// Restores a copy into a new folder.
///
/// # Errors
/// When the folder is used, a slip can't be read, or copying fails. What is wrong with the copy is in the report:
/// then the folder stays unfinished, unless `although_damaged`.
pub fn restore(
    world: &World,
    bring: &mut Bring<'_>,
    into: &Path,
    outside: Option<&Path>,
    slips: &[String],
    although_damaged: bool,
    progress: &mut dyn FnMut(u64),
) -> Outcome<Restored> {
    let disk = &*world.disk;
    begin(disk, into)?;
    bring(into)?;
    let stop = |e: std::io::Error| files::failed(into, &e);
    // The place where an owner wants the newest checkpoint may be as lost as the computer.
    let place = Place::open(world, into, outside)?;
    for folder in ["keys", "files", "drafts"] {
        disk.create_dirs(&into.join(folder)).map_err(stop)?;
    }
    let report = check(world, &place, &place.outside, slips, progress)?;
    let behind = behind(&report);
    let only_behind = report.findings.iter().all(|finding| {
        finding.id == FindingId::BehindOutside.id()
            || finding.severity == crate::verify::finding::Severity::Notice
    });
    let finished = report.sound || only_behind || although_damaged;
    let mut outside_begun = false;
    if finished {
        match behind {
            Some(size) => keep_slip(disk, &place, slips, size)?,
            None => settle_slip(world, &place)?,
        }
        if report.sound
            && let Outside::Missing = outside::read(disk, &place.outside, &place.key)
            && let Some((newest, note)) = scan_to_newest(disk, &into.join("ledger"), &place.key)?.checkpoint
        {
            outside::write(disk, &place.outside, place.key.name(), newest.size, &note)?;
            outside_begun = true;
        }
        for name in [mark::FILE, UNFINISHED] {
            // Not asked for before: a look that fails would leave it there, and no command would work.
            match disk.remove(&into.join(name)) {
                Err(e) if e.kind() == std::io::ErrorKind::NotFound => {}
                removed => removed.and_then(|()| disk.sync_dir(into)).map_err(stop)?,
            }
        }
    }
    Ok(Restored { place, report, finished, behind, outside_begun })
}

/// Only into an empty folder, or one where an earlier try was cut off.
fn begin(disk: &dyn Disk, into: &Path) -> Outcome<()> {
    let stop = |e: std::io::Error| files::failed(into, &e);
    let there = disk.there(into).map_err(stop)?;
    if there && disk.there(&into.join(UNFINISHED)).map_err(stop)? {
        return Ok(());
    }
    let used = there && disk.list(into).map_err(stop)?.iter().any(|name| !name.ends_with(".part"));
    if used {
        return Err(Trouble::new(
            Kind::Refused,
            format!("{} exists and is not empty.", into.display()),
            "It was not touched.",
            "Choose a new folder to restore into. Nothing is ever restored over a store.",
        ));
    }
    disk.create_dirs(into).map_err(stop)?;
    disk.put(&into.join(UNFINISHED), b"Being restored. Not yet a store to work in.\n").map_err(stop)
}

/// Keeps the slip that vouches for more than the copy has where writing looks for it; or what the copy itself said
/// before its end was cut off.
fn keep_slip(disk: &dyn Disk, place: &Place, slips: &[String], size: u64) -> Outcome<()> {
    let mut vouching = Vec::new();
    for slip in slips {
        let witness = read_slip(slip, &place.key)?;
        vouching.push((witness.size, witness.code));
    }
    vouching.extend(by_its_own_word(disk, place)?);
    match vouching.into_iter().find(|(reaches, _)| *reaches == size) {
        Some((_, code)) => outside::keep_slip(disk, &place.outside, place.key.name(), size, &code),
        None => Ok(()),
    }
}

/// Where a kept slip vouches for entries that a store has after all (the newer copy was found), the slip has done
/// its work. Reads the ledger only where there is such a slip.
///
/// # Errors
/// When the disk fails.
pub fn settle_slip(world: &World, place: &Place) -> Outcome<()> {
    let disk = &*world.disk;
    let Some((size, code)) = outside::slip(disk, &place.outside, place.key.name()) else { return Ok(()) };
    let scan = scan_to_newest(disk, &place.root.join("ledger"), &place.key)?;
    let Some(root) = scan.root_at(size) else { return Ok(()) };
    match tree::code(&root).starts_with(&code) {
        true => outside::set_slip_aside(disk, &place.outside, place.key.name(), &format!("found-{size}")),
        false => Ok(()),
    }
}

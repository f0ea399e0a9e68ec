//! Carrying out an order. Each step may be cut off and done again: what is destroyed is known from the order
//! alone, so going on needs none of the chart's keys.

use super::standing::{Disposed, disposed, two_signed};
use crate::index;
use crate::ledger::write::Receipt;
use crate::practice::open::{Draft, Entry, Practice};
use crate::practice::session::{BEING_DESTROYED, chart_key_files};
use crate::record::kinds::Data;
use crate::record::kinds::disposing::{ChartDisposed, DisposalState};
use crate::trouble::{Kind, Outcome, Trouble};
use crate::world::{Disk, folder_of};
use std::path::{Path, PathBuf};

/// What was destroyed now. What an earlier attempt destroyed is not counted again.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Destroyed {
    /// Key files.
    pub keys: u64,
    /// Sealed files of attachments.
    pub files: u64,
    /// Drafts.
    pub drafts: u64,
}

/// Carries an order out, or goes on with it where it was cut off, and records that it is done. Keys come first, and
/// of these the note of the recipients, without which nothing is added to the chart.
///
/// The caller ends the keeper before: it may hold keys of the chart's files.
///
/// # Errors
/// When something can't be destroyed: the order stands, and this is to be called again.
pub fn finish(practice: &mut Practice, order: u64) -> Outcome<(Destroyed, Option<Receipt>)> {
    practice.begin_writing()?;
    let one = disposed(practice)?.into_iter().find(|one| one.order == order).ok_or_else(|| {
        Trouble::new(
            Kind::NotFound,
            format!("Entry {order} orders no destruction of a chart that two people signed."),
            "Nothing was destroyed.",
            "Look at `inkfast keep disposed`.",
        )
    })?;
    let destroyed = destroy(practice, &one).map_err(|trouble| not_finished(&one, trouble))?;
    practice.session.forget_chart(&one.tag);
    practice.memory().forget();
    if one.done.is_some() {
        return Ok((destroyed, None));
    }
    let done = ChartDisposed {
        chart: one.tag.clone(),
        state: DisposalState::Done,
        ordered_by: Some(one.order),
        keys: Some(destroyed.keys),
        files: Some(destroyed.files),
        drafts: Some(destroyed.drafts),
    };
    let now = practice.now();
    let receipt = practice
        .append(Draft::new(None, Data::from(done), now))
        .map_err(|trouble| not_finished(&one, trouble))?;
    Ok((destroyed, Some(receipt)))
}

fn not_finished(one: &Disposed, trouble: Trouble) -> Trouble {
    Trouble {
        safe: format!(
            "The order to destroy the chart stands in entry {}. It is not finished: some of the chart may still be \
             here. Nothing else was touched.",
            one.order
        ),
        next: format!("{} Then finish it with `inkfast dispose finish`.", trouble.next),
        ..trouble
    }
}

fn destroy(practice: &Practice, one: &Disposed) -> Outcome<Destroyed> {
    let (disk, place) = (&*practice.world.disk, &practice.place);
    let keys = chart_key_files(&practice.world, place, &one.tag)?;
    let keys: Vec<PathBuf> = keys.iter().map(|name| place.key_file(name)).collect();
    let files = files(practice, one.order)?;
    let drafts = practice.drafts_of_chart(&one.tag)?;
    let destroyed = Destroyed {
        keys: all_gone(disk, &keys)?,
        files: all_gone(disk, &files)?,
        drafts: all_gone(disk, &drafts)?,
    };
    // It holds nothing of the chart but hashes of headers; thrown away all the same, for it is derived.
    index::throw_away(&index::folder(&place.root));
    Ok(destroyed)
}

/// The sealed files that the order names.
fn files(practice: &Practice, order: u64) -> Outcome<Vec<PathBuf>> {
    let entries = practice.register_of(&["file-removed"])?;
    let path = |entry: &Entry| match entry.data() {
        // Of the group that both signed; anybody could name more files later.
        Some(Data::FileRemoved(removed))
            if removed.ordered_by == Some(order) && two_signed(practice, entry) =>
        {
            Some(practice.place.attachment(&removed.sealed_digest))
        }
        _ => None,
    };
    Ok(entries.iter().filter_map(path).collect())
}

fn all_gone(disk: &dyn Disk, paths: &[PathBuf]) -> Outcome<u64> {
    let mut gone = 0;
    for path in paths {
        let trouble = |e: std::io::Error| Trouble::disk("destroy", path, &e);
        gone += u64::from(destroy_file(disk, path).map_err(trouble)?);
    }
    Ok(gone)
}

/// Gives a file another name, so that nothing reads half of it; overwrites it as far as the disk lets that be done;
/// and removes it. True when there was one. Not claimed to reach older bytes of it on the disk.
fn destroy_file(disk: &dyn Disk, path: &Path) -> std::io::Result<bool> {
    let mut name = path.as_os_str().to_os_string();
    // A draft whose destruction was cut off is found under its second name.
    let already = path.to_string_lossy().ends_with(BEING_DESTROYED);
    if !already {
        name.push(BEING_DESTROYED);
    }
    let aside = PathBuf::from(name);
    let there = !already && disk.there(path)?;
    if there {
        disk.rename(path, &aside)?;
        disk.sync_dir(folder_of(path))?;
    }
    if !disk.there(&aside)? {
        return Ok(false);
    }
    // Where it can't be overwritten it is removed all the same; neither is called erasure.
    let _ = overwrite(disk, &aside);
    disk.remove(&aside)?;
    disk.sync_dir(folder_of(path))?;
    Ok(true)
}

fn overwrite(disk: &dyn Disk, path: &Path) -> std::io::Result<()> {
    let file = disk.open(path, true)?;
    let (len, zeros) = (file.len()?, vec![0u8; 64 << 10]);
    let mut at = 0;
    while at < len {
        let piece = (len - at).min(zeros.len() as u64) as usize;
        file.write_at(&zeros[..piece], at)?;
        at += piece as u64;
    }
    file.sync()
}

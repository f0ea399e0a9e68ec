//! The link from a ledger to the one it goes on from: the last checkpoint of the earlier ledger, signed by its key.

use super::finding::{Finding, FindingId, Report, Where};
use super::store::{StorePaths, open_data, verify};
use crate::ledger::checkpoint::Checkpoint;
use crate::ledger::scan::{scan, scan_to_newest};
use crate::record::kinds::Data;
use crate::record::kinds::register::EarlierLedger;
use crate::seal::note::Verifier;
use crate::trouble::Outcome;
use crate::world::Disk;

/// The checkpoint that a link names, if the link holds in itself: signed by the key it names, of that origin, over so
/// many entries.
pub fn checkpoint(link: &EarlierLedger) -> Option<Checkpoint> {
    let key = Verifier::parse(&link.checkpoint_key).ok().filter(|key| key.name() == link.origin)?;
    let read = Checkpoint::open(link.checkpoint.as_bytes(), &key).ok()?;
    (read.size == link.entries).then_some(read)
}

/// The links that a ledger holds, each with the number of its entry.
///
/// # Errors
/// When the disk fails.
pub fn links(disk: &dyn Disk, paths: &StorePaths<'_>) -> Outcome<Vec<(u64, EarlierLedger)>> {
    let mut found = Vec::new();
    scan(disk, &paths.root.join("ledger"), paths.key, &mut |_| (), &mut |at, leaf, _, body| {
        if leaf.kind == "earlier-ledger"
            && let Some(Data::EarlierLedger(link)) = open_data(leaf, body)
        {
            found.push((at.seq, *link));
        }
        Ok(())
    })?;
    Ok(found)
}

/// Checks a store that is said to be the earlier one: it is sound in itself, and its first entries are those that this
/// ledger was begun from. What agrees is added to what the report was compared with, what does not to its findings.
///
/// # Errors
/// When the disk fails.
pub fn compare(
    disk: &dyn Disk,
    paths: &StorePaths<'_>,
    earlier: &StorePaths<'_>,
    report: &mut Report,
    progress: &mut dyn FnMut(u64),
) -> Outcome<()> {
    let links = links(disk, paths)?;
    let link = links.iter().find(|(_, link)| link.origin == earlier.key.name());
    let sound = verify(disk, earlier, &[], progress)?.sound;
    let read = scan_to_newest(disk, &earlier.root.join("ledger"), earlier.key)?;
    let same = link.and_then(|(_, link)| {
        let known = checkpoint(link).filter(|_| link.checkpoint_key == earlier.key.to_string())?;
        (read.root_at(known.size)? == known.root).then_some(known)
    });
    match same {
        Some(known) if sound => {
            let grown = read.size() - known.size;
            let more = if grown > 0 { format!(", and {grown} written there since") } else { String::new() };
            report.witnesses.push(format!("the earlier ledger, its {} entries{more}", known.size));
        }
        _ => {
            let place = Where { seq: link.map(|(seq, _)| *seq), ..Where::default() };
            report.findings.push(Finding::new(FindingId::EarlierLedgerDiffers, place).to_output());
            report.sound = false;
        }
    }
    Ok(())
}

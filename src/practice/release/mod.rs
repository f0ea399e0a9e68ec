//! Release: one sealed package with a chart or a part of it, its proofs, and everything a stranger needs to
//! check it.
//!
//! The release is recorded first, so that the package can end with its own release entry; then
//! the archive is written twice at once: sealed into the file, and plain into the same check that the
//! reader will run. Only a package that checks gets its name. What it came out as is recorded behind it, so
//! that a second production can be shown to be the same.

mod again;
mod draft;
mod order;
mod parts;
mod readme;
mod slips;
mod span;
mod withhold;
mod write;

pub use order::{NOT_TO_BE_TOLD, Production, ReleaseOrder, SealTo, Span, UNSEALED_WARNING, Withhold};

use super::accounting::{goes_to_the_patient, untold};
use super::open::{Draft, Entry, Practice};
use super::witness::{PATIENCE, Round, last_policy, show};
use crate::record::kinds::Data;
use crate::record::kinds::release::{PackageMade, PageMade};
use crate::seal::note::sign;
use crate::trouble::{Outcome, Trouble};
use crate::verify::finding::Report;
use crate::verify::manifest::Differences;
use crate::world::must_be_new;
use again::{first_of_the_same, ordered, release_at, reproduce};
use parts::{Parts, Source};
use std::collections::BTreeSet;
use std::path::PathBuf;
pub use withhold::Undecided;
use withhold::{Ordered, Selection, all_open, held_and_open};
use write::{Written, write_package};

/// What was released.
#[derive(Debug, Clone)]
pub struct Released {
    /// Number of the release entry.
    pub seq: u64,
    /// The file.
    pub file: PathBuf,
    /// BLAKE3 of the file, hex.
    pub digest: String,
    /// Length of the file in bytes.
    pub bytes: u64,
    /// BLAKE3 of the archive inside the seal, hex.
    pub plain_digest: String,
    /// The check that the package passed.
    pub report: Report,
    /// Number of the release whose package this is once more, byte for byte inside the seal.
    pub same_as: Option<u64>,
    /// What differs since an earlier package, where it was compared with one.
    pub differences: Option<Differences>,
    /// What witnesses said, where they were asked.
    pub witnessed: Option<Round>,
}

/// Records the release and writes the package.
///
/// # Errors
/// Before the release entry is written: when the chart can't be opened in full by this person, the file
/// exists, something can't be withheld as ordered, or a passphrase would be written down. After that the
/// release is on record even if the file could not be written.
pub fn release(practice: &mut Practice, tag: &str, order: ReleaseOrder) -> Outcome<Released> {
    let untouched = "It was not touched, and nothing was recorded.";
    must_be_new(&*practice.world.disk, &order.file, untouched, "Name another file with --file.")?;
    order.keep_passphrase_out()?;
    if order.witnessed {
        last_policy(&*practice.world.disk, &practice.place)?;
    }
    practice.begin_writing()?;
    let before = practice.chart(tag)?;
    all_open(&before)?;
    if let Production::Again(first) = order.production
        && let Some(done) = once_more(practice, tag, &order, &before, first)?
    {
        return Ok(done);
    }
    of_now(practice, tag, &order, before)
}

/// What a person has to decide before this can be released: entries that are about one that is withheld, and
/// about others that are given.
///
/// # Errors
/// When the chart can't be read, or something can't be withheld as ordered.
pub fn undecided(practice: &Practice, tag: &str, order: &ReleaseOrder) -> Outcome<Vec<Undecided>> {
    if let Production::Again(_) = order.production {
        return Ok(Vec::new());
    }
    let entries = practice.chart(tag)?;
    all_open(&entries)?;
    let untold = not_to_be_told(practice, &entries, order)?;
    let ordered =
        Ordered { span: &order.span, withhold: &order.withhold, give: &order.give, untold: &untold };
    held_and_open(&entries, ordered).map(|(_, undecided)| undecided)
}

/// The entries that are held back from this copy because the patient is not to be told of them yet: none where
/// the copy is for somebody else.
///
/// # Errors
/// When an entry of the chart can't be read.
pub fn not_to_be_told(
    practice: &Practice,
    entries: &[Entry],
    order: &ReleaseOrder,
) -> Outcome<BTreeSet<u64>> {
    match goes_to_the_patient(order.data.basis) {
        true => untold(practice, entries, practice.now().local_date()),
        false => Ok(BTreeSet::new()),
    }
}

/// The package of an earlier release once more; none when it does not come out as it did.
fn once_more(
    practice: &mut Practice,
    tag: &str,
    order: &ReleaseOrder,
    before: &[Entry],
    first: u64,
) -> Outcome<Option<Released>> {
    let (data, _) = release_at(before, first)?;
    let first = data.what.again_of.unwrap_or(first);
    let (data, _) = release_at(before, first)?;
    // What the patient is not to be told of now does not leave once more either.
    let held: Vec<u64> = data.withheld.iter().filter_map(|slip| slip.entry).collect();
    if not_to_be_told(practice, before, order)?.iter().any(|seq| *seq < first && !held.contains(seq)) {
        return Ok(None);
    }
    let Some((_, parts, kept)) = reproduce(practice, tag, before, first)? else { return Ok(None) };
    let recorded = draft::of_then(order, first, &data, &kept.plain_digest);
    let receipt = practice.append(draft::entry(tag, recorded, order))?;
    let written =
        write_package(practice, &parts, &order.to, &order.file).map_err(|t| on_record(receipt.seq, t))?;
    if written.plain.0 != kept.plain_digest {
        // Every member is the same, so this is the archive's own layout; said, and not passed off as the same.
        let _ = practice.world.disk.remove(&order.file);
        return Err(on_record(
            receipt.seq,
            Trouble::damaged("The archive's members are the same, but not its bytes."),
        ));
    }
    finish(practice, tag, order, &parts, written, (receipt.seq, Some(first))).map(Some)
}

/// A package of the chart as it is now.
fn of_now(practice: &mut Practice, tag: &str, order: &ReleaseOrder, before: Vec<Entry>) -> Outcome<Released> {
    let since = match order.production {
        Production::New => first_of_the_same(&before, order),
        Production::Again(first) | Production::Since(first) => Some(first),
    };
    let (mut span, mut withhold, mut give) = (order.span.clone(), order.withhold.clone(), order.give.clone());
    let since = match since {
        // Of a package that was itself produced again, the first is meant.
        Some(first) => Some(release_at(&before, first)?.0.what.again_of.unwrap_or(first)),
        None => None,
    };
    if let Some(first) = since {
        let (data, _) = release_at(&before, first)?;
        if let Production::Again(_) = order.production {
            (span, withhold) = ordered(&data);
            // What went along then goes along again, whatever else it is about.
            let held: Vec<u64> = data.withheld.iter().filter_map(|slip| slip.entry).collect();
            let given = before.iter().map(|e| e.leaf.seq).filter(|seq| *seq < first && !held.contains(seq));
            give = given.collect();
        }
    }
    let untold = not_to_be_told(practice, &before, order)?;
    let ordered = Ordered { span: &span, withhold: &withhold, give: &give, untold: &untold };
    let chosen = Selection::choose(&before, ordered)?;
    let recorded = draft::of_now(practice, order, &before, &chosen, since);
    let receipt = practice.append(draft::entry(tag, recorded, order))?;
    let written = (|| {
        // A witness that can't be reached holds no release up: whoever checks the package sees who signed.
        let round = match order.witnessed {
            true => Some(show(
                &*practice.world.disk,
                &practice.place,
                (practice.scan(), &practice.leaf_hashes()?),
                &last_policy(&*practice.world.disk, &practice.place)?,
                PATIENCE,
            )?),
            false => None,
        };
        let mut entries = before;
        entries.push(practice.entry_by_seq(receipt.seq)?);
        let source = Source::new(practice, tag, entries, receipt.seq)?;
        let mut parts = Parts::gather(&source)?;
        let note = sign(&parts.list_text, &[&practice.session.me.signer])
            .map_err(|e| Trouble::damaged(e.to_string()))?;
        parts.note = note.into_bytes();
        let written = write_package(practice, &parts, &order.to, &order.file)?;
        Ok((parts, written, round))
    })();
    let (parts, written, witnessed) = written.map_err(|t| on_record(receipt.seq, t))?;
    let done = finish(practice, tag, order, &parts, written, (receipt.seq, None))?;
    Ok(Released { witnessed, ..done })
}

fn on_record(seq: u64, trouble: Trouble) -> Trouble {
    let safe =
        format!("The release is on record as entry {seq}, but no package was written. {}", trouble.safe);
    Trouble { safe, ..trouble }
}

/// Records what the package came out as.
fn finish(
    practice: &mut Practice,
    tag: &str,
    order: &ReleaseOrder,
    parts: &Parts,
    written: Written,
    (seq, same_as): (u64, Option<u64>),
) -> Outcome<Released> {
    let Written { digest, bytes, plain, report } = written;
    let pages = parts.members.iter().filter(|m| parts.pages.contains(&m.file.name));
    let made = PackageMade {
        release: seq,
        file_digest: digest.clone(),
        file_bytes: bytes,
        plain_digest: plain.0.clone(),
        plain_sha256: plain.1,
        plain_bytes: plain.2,
        list_note: String::from_utf8_lossy(&parts.note).into_owned(),
        pages: pages.map(|m| PageMade { name: m.file.name.clone(), digest: m.file.blake3.clone() }).collect(),
    };
    let now = practice.now();
    practice.append(Draft::new(Some(tag), Data::PackageMade(Box::new(made)), now)).map_err(|t| Trouble {
        safe: format!(
            "The release is on record as entry {seq}, and its package was written and checked: {}. Only what \
             it came out as is not on record. {}",
            order.file.display(),
            t.safe
        ),
        ..t
    })?;
    Ok(Released {
        seq,
        file: order.file.clone(),
        digest,
        bytes,
        plain_digest: plain.0,
        report,
        same_as,
        differences: parts.differences.clone(),
        witnessed: None,
    })
}

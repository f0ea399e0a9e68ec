//! Release: one sealed package with a whole chart, its proofs, and everything a stranger needs to check it.
//!
//! The release is recorded first, so that the package can end with its own release entry; then
//! the archive is written twice at once: sealed into the file, and plain into the same check that the
//! reader will run. Only a package that checks gets its name.

mod draft;
mod order;
mod parts;
mod readme;
mod withhold;
mod write;

pub use order::{ReleaseOrder, SealTo};

use super::open::Practice;
use crate::trouble::{Kind, Outcome, Trouble};
use crate::verify::finding::Report;
use draft::release_draft;
use parts::Parts;
use std::path::PathBuf;
use withhold::withheld_entries;
use write::write_package;

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
    /// The check that the package passed.
    pub report: Report,
}

/// Records the release and writes the package.
///
/// # Errors
/// Before the release entry is written: when the chart can't be opened in full by this person, or the
/// file exists. After that the release is on record even if the file could not be written.
pub fn release(practice: &mut Practice, tag: &str, order: ReleaseOrder) -> Outcome<Released> {
    if practice.world.disk.exists(&order.file) {
        return Err(Trouble::new(
            Kind::Refused,
            format!("{} exists already.", order.file.display()),
            "It was not touched, and nothing was recorded.",
            "Name another file with --file.",
        ));
    }
    practice.begin_writing()?;
    let before = practice.chart(tag)?;
    let withheld = withheld_entries(&before, &order.withhold)?;
    let receipt = practice.append(release_draft(practice, tag, &order, &before, &withheld))?;
    let written = practice.chart(tag).and_then(|entries| {
        let parts = Parts::gather(practice, tag, entries, withheld, receipt.seq, &order)?;
        write_package(practice, &parts, &order)
    });
    let (digest, bytes, report) = written.map_err(|t| Trouble {
        safe: format!(
            "The release is on record as entry {}, but no package was written. {}",
            receipt.seq, t.safe
        ),
        ..t
    })?;
    Ok(Released { seq: receipt.seq, file: order.file, digest, bytes, report })
}

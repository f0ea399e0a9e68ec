//! What is ordered: which chart's contents, for whom, sealed how, into which file.

use crate::record::kinds::release::Release;
use crate::record::moment::Moment;
use crate::seal::age_file::Recipient;
use std::path::PathBuf;
use zeroize::Zeroizing;

/// Whom a package is sealed to.
pub enum SealTo {
    /// One or more age recipients.
    Recipients(Vec<Recipient>),
    /// A passphrase, told by another way than the package.
    Passphrase(Zeroizing<String>),
}

/// What to release.
pub struct ReleaseOrder {
    /// The record of it. What was released and withheld and how it was sealed is filled in.
    pub data: Release,
    /// Whom it is sealed to.
    pub to: SealTo,
    /// The file to write; must not exist.
    pub file: PathBuf,
    /// Entries whose contents are withheld, by number in the ledger, and why.
    pub withhold: Vec<(u64, String)>,
    /// When it was released.
    pub happened: Moment,
}

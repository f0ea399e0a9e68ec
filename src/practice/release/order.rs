//! What is ordered: which part of a chart, for whom, sealed how, into which file.

use crate::record::kinds::release::{Determination, Release, Unsealed, WithholdReason};
use crate::record::moment::Moment;
use crate::seal::age_file::Recipient;
use crate::trouble::{Kind, Outcome, Trouble};
use std::path::PathBuf;
use zeroize::Zeroizing;

/// Whom a package is sealed to.
pub enum SealTo {
    /// One or more age recipients.
    Recipients(Vec<Recipient>),
    /// A passphrase, told by another way than the package.
    Passphrase(Zeroizing<String>),
    /// Nobody: whoever has the file reads it. Only as somebody confirmed who was shown what that means.
    Nobody(Unsealed),
}

/// What is shown before anything leaves unsealed, and kept with the release.
pub const UNSEALED_WARNING: &str = "This package will NOT be sealed. Whoever gets the file, by post, by e-mail or by finding it, can read \
     everything in it. It should leave unsealed only when the person it is for has asked for that and was told \
     of the risk.";

/// What whoever hands a copy to the patient is told where an agency has something left out for a time. It is
/// never recorded in the chart.
pub const NOT_TO_BE_TOLD: &str = "An agency asked that the patient not be told yet of something in this chart (45 CFR 164.528(a)(2)). It is \
     held back from this copy, and its slip does not say why. Say nothing of it either.";

/// Which part of a chart is asked for. Without any limit: the whole.
pub use crate::record::kinds::release::Span;

/// An entry whose contents stay at the practice.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Withhold {
    /// Number in the ledger.
    pub entry: u64,
    /// Why.
    pub reason: WithholdReason,
    /// What else its slip says about the reason; nothing of the contents.
    pub words: Option<String>,
    /// The professional's determination; needed for likely harm.
    pub determination: Option<Determination>,
}

impl Withhold {
    /// An entry and the reason.
    pub fn new(entry: u64, reason: WithholdReason) -> Withhold {
        Withhold { entry, reason, words: None, determination: None }
    }
}

/// Whether a package was there before.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Production {
    /// A package of what is asked for now. If the same was released before to the same, it lists what
    /// differs since.
    New,
    /// The package of this release once more, byte for byte inside the seal. Where that can't be, a new
    /// one that lists what differs.
    Again(u64),
    /// A package of now that lists what differs from that of this release.
    Since(u64),
}

/// What to release.
pub struct ReleaseOrder {
    /// The record of it. What was released and withheld and how it was sealed is filled in.
    pub data: Release,
    /// Whom it is sealed to.
    pub to: SealTo,
    /// The file to write; must not exist.
    pub file: PathBuf,
    /// Which part of the chart.
    pub span: Span,
    /// Entries whose contents are withheld.
    pub withhold: Vec<Withhold>,
    /// Entries that go along although they also quote or dispute one that is withheld.
    pub give: Vec<u64>,
    /// Whether it is a second production.
    pub production: Production,
    /// When it was released.
    pub happened: Moment,
    /// Whether the checkpoint in it is shown to the witnesses that were asked last.
    pub witnessed: bool,
}

impl ReleaseOrder {
    /// An order for the whole chart, nothing withheld but what belongs to others.
    pub fn new(data: Release, to: SealTo, file: PathBuf, happened: Moment) -> ReleaseOrder {
        ReleaseOrder {
            data,
            to,
            file,
            span: Span::default(),
            withhold: Vec::new(),
            give: Vec::new(),
            production: Production::New,
            happened,
            witnessed: false,
        }
    }

    /// Refuses an order that would write a passphrase down: in the entry, or in the file's name.
    ///
    /// # Errors
    /// When it stands in either.
    pub fn keep_passphrase_out(&self) -> Outcome<()> {
        let SealTo::Passphrase(passphrase) = &self.to else { return Ok(()) };
        let written = serde_json::to_string(&self.data).unwrap_or_default();
        let named = self.file.to_string_lossy();
        // As JSON would write it, so that quotation marks in it do not hide it.
        let quoted = serde_json::to_string(passphrase.as_str()).map(Zeroizing::new).unwrap_or_default();
        let quoted = quoted.trim_matches('"');
        let told = self.withhold.iter().filter_map(|w| w.words.as_deref());
        let stands = |text: &str| !quoted.is_empty() && text.contains(passphrase.as_str());
        if stands(&named) || (!quoted.is_empty() && written.contains(quoted)) || told.clone().any(stands) {
            return Err(Trouble::new(
                Kind::Refused,
                "The passphrase of the package stands in what would be recorded, or in the file's name.",
                "Nothing was recorded and nothing was written.",
                "Write only how it was told (by telephone, in person), never the passphrase; or choose another.",
            ));
        }
        Ok(())
    }
}

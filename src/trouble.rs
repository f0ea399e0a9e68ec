//! The one error type that reaches a person: what happened, what is safe, what to do next.
//!
//! Format modules keep small enums of their own; where an error leaves the core it becomes a
//! [`Trouble`]. No trouble text ever holds a name, a birth date, a passphrase or record contents.

use std::fmt;
use std::path::Path;

/// What kind of trouble it is; decides the exit code.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum Kind {
    /// What was typed or handed in cannot be used.
    BadInput,
    /// A passphrase is wrong, nothing is unlocked, or the role does not open this.
    Locked,
    /// Somebody else is writing to this store.
    Busy,
    /// A rule refuses this.
    Refused,
    /// The ledger is behind the copy of its newest checkpoint kept outside.
    Behind,
    /// Bytes of the record are not what they were.
    Damaged,
    /// The disk or the system refused.
    Disk,
    /// This program is older than what it reads.
    TooNew,
    /// What was asked for is not there.
    NotFound,
}

/// An error for people.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Trouble {
    /// The kind, for exit codes and for callers that can act on it.
    pub kind: Kind,
    /// What happened.
    pub what: String,
    /// What is safe: usually what was kept and what was not.
    pub safe: String,
    /// What to do next.
    pub next: String,
}

/// Shorthand for results that end at a person.
pub type Outcome<T> = Result<T, Trouble>;

impl Trouble {
    /// Builds a trouble from its three sentences.
    pub fn new(
        kind: Kind,
        what: impl Into<String>,
        safe: impl Into<String>,
        next: impl Into<String>,
    ) -> Self {
        Trouble { kind, what: what.into(), safe: safe.into(), next: next.into() }
    }

    /// Bad input: nothing was written.
    pub fn input(what: impl Into<String>, next: impl Into<String>) -> Self {
        Trouble::new(Kind::BadInput, what, "Nothing was written.", next)
    }

    /// The disk refused while `doing` something with `path`.
    pub fn disk(doing: &str, path: &Path, error: &std::io::Error) -> Self {
        let next = match error.kind() {
            std::io::ErrorKind::StorageFull | std::io::ErrorKind::QuotaExceeded => {
                "Make room on the disk, then do it again."
            }
            std::io::ErrorKind::PermissionDenied => {
                "Check who may read and write this folder, then do it again."
            }
            std::io::ErrorKind::NotFound => "Check the path, then do it again.",
            _ => "Check the disk and its cable or mount, run `inkfast verify`, then do it again.",
        };
        Trouble::new(
            Kind::Disk,
            format!("Could not {doing} {}: {error}.", path.display()),
            "Everything that was confirmed before this is still kept.",
            next,
        )
    }

    /// Damage found in a file that must not change.
    pub fn damaged(what: impl Into<String>) -> Self {
        Trouble::new(
            Kind::Damaged,
            what,
            "Nothing was written. What is whole can still be read.",
            "Make a copy of the whole store folder first, then run `inkfast verify` on the copy.",
        )
    }
}

impl fmt::Display for Trouble {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}\n  Safe: {}\n  Next: {}", self.what, self.safe, self.next)
    }
}

impl std::error::Error for Trouble {}

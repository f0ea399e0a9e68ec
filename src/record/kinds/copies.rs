//! Safe copies of the register: where each is kept, how far it reaches, until when, and when it is gone.
//! A chart is not disposed of as long as a copy holds its keys, so whoever disposes needs this list.

use super::common::{Check, Day, Problems, blank};
use crate::record::envelope::Record;
use crate::record::vocab::words;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A safe copy of the register was made and checked, or one is gone.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SafeCopy {
    /// Whether the copy was made, or is gone.
    pub state: CopyState,
    /// The copy's own label: 32 hex digits, which also stand in the copy.
    pub copy: String,
    /// The owner's name for the place where it is kept: blue stick, safe at home.
    pub place: String,
    /// On what it lies.
    pub on: CopyOn,
    /// How many entries it holds, all of them checked in the copy.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub entries: Option<u64>,
    /// The code of a slip over these entries.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub code: Option<String>,
    /// How many sealed files it holds.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub files: Option<u64>,
    /// True when unsigned drafts were copied too.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub drafts: Option<bool>,
    /// Last day on which it is kept, as far as it was said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub keep_until: Option<Day>,
    /// How and why it is gone.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub because: Option<String>,
}

words! {
    /// State of a safe copy.
    CopyState {
        Made = "made", Gone = "gone",
    }
}

words! {
    /// On what a safe copy lies.
    CopyOn {
        /// A folder: of a stick, another disk, another computer.
        Folder = "folder",
        /// A store of objects that another computer keeps.
        Objects = "objects",
    }
}

impl Check for SafeCopy {
    fn check(&self, head: &Record, problems: &mut Problems) {
        blank(&self.place, "/place", problems);
        let hex = |b: u8| b.is_ascii_digit() || (b'a'..=b'f').contains(&b);
        if self.copy.len() != 32 || !self.copy.bytes().all(hex) {
            problems.refuse("copy-label", "/copy", "the label of a copy is 32 hex digits");
        }
        match self.state {
            CopyState::Made if self.entries.is_none() || self.code.is_none() => {
                problems.refuse(
                    "copy-not-checked",
                    "/entries",
                    "say how many entries it holds, and their code",
                );
            }
            CopyState::Gone => match &self.because {
                Some(because) => blank(because, "/because", problems),
                None => blank("", "/because", problems),
            },
            CopyState::Made => {}
        }
        if self.keep_until.is_some_and(|day| day.0 < head.written.local_date()) {
            problems.refuse("copy-kept-until", "/keep_until", "this day is over already");
        }
    }
}

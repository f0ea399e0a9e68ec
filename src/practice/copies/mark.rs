//! `safecopy.json`: what makes a folder a safe copy, and how far it was checked. It is written last.

use crate::practice::place::Place;
use crate::record::moment::Moment;
use crate::trouble::{Kind, Outcome, Trouble};
use crate::world::{Disk, World, is_there};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::path::Path;

/// Name of the file in the copy.
pub const FILE: &str = "safecopy.json";

/// Edition of safe copies that this program writes and reads.
pub const EDITION: u32 = 1;

/// `safecopy.json`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SafeCopyFile {
    /// Edition of the copy: 1.
    #[schemars(range(min = 1, max = 1))]
    pub inkfast_safecopy: u32,
    /// The ledger's origin.
    pub ledger: String,
    /// Label of this copy: 32 random hex digits. The place where it is kept has its name in the ledger only.
    #[schemars(regex(pattern = "^[0-9a-f]{32}$"))]
    pub label: String,
    /// How many entries of it were checked when it was last written to the end; 0 before the first time.
    pub entries: u64,
    /// The root over these entries, hex; absent before the first time.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub root: Option<String>,
    /// When that was.
    pub made: Moment,
    /// True when unsigned drafts were copied too.
    pub drafts: bool,
}

/// A new label.
///
/// # Errors
/// When the system gives no random numbers.
pub fn new_label(world: &World) -> Outcome<String> {
    let bytes =
        world.random32().map_err(|e| Trouble::disk("get random numbers for", Path::new("the copy"), &e))?;
    Ok(data_encoding::HEXLOWER.encode(&bytes[..16]))
}

/// True when the folder is a safe copy, so that nobody works in it.
///
/// # Errors
/// When the disk fails.
pub fn is_copy(disk: &dyn Disk, root: &Path) -> Outcome<bool> {
    is_there(disk, &root.join(FILE))
}

/// Reads `safecopy.json`; none where there is none.
///
/// # Errors
/// When it is not what it must be, or the disk fails.
pub fn read(disk: &dyn Disk, root: &Path) -> Outcome<Option<SafeCopyFile>> {
    let path = root.join(FILE);
    if !is_there(disk, &path)? {
        return Ok(None);
    }
    let bytes = disk.read(&path).map_err(|e| Trouble::disk("read", &path, &e))?;
    let read: Option<SafeCopyFile> = serde_json::from_slice(&bytes).ok();
    match read {
        Some(mark) if mark.inkfast_safecopy == EDITION => Ok(Some(mark)),
        _ => Err(Trouble::damaged(format!(
            "{FILE} in the copy does not say what it must (schema/FORMAT.md, section 10)."
        ))),
    }
}

/// Reads `safecopy.json` and makes sure that it is of this ledger.
///
/// # Errors
/// When the copy is of another ledger, or its file can't be read.
pub(super) fn of_this_ledger(disk: &dyn Disk, root: &Path, place: &Place) -> Outcome<Option<SafeCopyFile>> {
    match read(disk, root)? {
        Some(mark) if mark.ledger != place.key.name() => Err(Trouble::new(
            Kind::Refused,
            format!("{} is a safe copy of another ledger ({}).", root.display(), mark.ledger),
            "Neither the store nor that copy was changed.",
            "Name another folder for this one.",
        )),
        mark => Ok(mark),
    }
}

/// Writes `safecopy.json`.
pub(super) fn write(disk: &dyn Disk, root: &Path, mark: &SafeCopyFile) -> std::io::Result<()> {
    let text = serde_json::to_string_pretty(mark)? + "\n";
    disk.put(&root.join(FILE), text.as_bytes())
}

//! The store folder: where everything lies, and `store.json`.

use crate::index::bookmark::Pace;
use crate::ledger::write::Location;
use crate::seal::note::Verifier;
use crate::trouble::{Kind, Outcome, Trouble};
use crate::world::{World, is_there};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::path::{Path, PathBuf};

/// Edition of the store folder that this program writes and reads.
pub const STORE_EDITION: u32 = 1;

/// `store.json`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct StoreFile {
    /// Edition of the folder: 1.
    #[schemars(range(min = 1, max = 1))]
    pub inkfast_store: u32,
    /// The ledger's origin: a random label.
    pub origin: String,
    /// The checkpoint key as a C2SP vkey; its name is the origin.
    pub checkpoint_key: String,
    /// Folder outside the store for the newest checkpoint, absolute or relative to the store;
    /// absent: the person's own state folder.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub outside: Option<String>,
}

/// A store folder whose `store.json` was read.
#[derive(Clone)]
pub struct Place {
    /// The folder.
    pub root: PathBuf,
    /// What `store.json` says.
    pub file: StoreFile,
    /// The checkpoint key.
    pub key: Verifier,
    /// Folder outside the store for the newest checkpoint.
    pub outside: PathBuf,
    /// When a bookmark of what was read is set.
    pub pace: Pace,
}

impl Place {
    /// Reads `store.json`. `outside` overrides where the newest checkpoint is kept.
    pub fn open(world: &World, root: &Path, outside: Option<&Path>) -> Outcome<Place> {
        let path = root.join("store.json");
        if !is_there(&*world.disk, &path)? {
            return Err(Trouble::new(
                Kind::NotFound,
                format!("There is no store in {}.", root.display()),
                "Nothing was changed.",
                "Name the store's folder with --store, or make one with `inkfast init`.",
            ));
        }
        let bytes = world.disk.read(&path).map_err(|e| Trouble::disk("read", &path, &e))?;
        let edition = serde_json::from_slice::<serde_json::Value>(&bytes)
            .ok()
            .and_then(|v| v.get("inkfast_store").and_then(serde_json::Value::as_u64));
        if let Some(edition) = edition.filter(|e| *e > u64::from(STORE_EDITION)) {
            return Err(Trouble::new(
                Kind::TooNew,
                format!("This store is of edition {edition}; this program knows edition {STORE_EDITION}."),
                "Nothing was changed.",
                "Use the newer program that wrote it, or read it with schema/FORMAT.md.",
            ));
        }
        let file: StoreFile = serde_json::from_slice(&bytes)
            .ok()
            .filter(|f: &StoreFile| f.inkfast_store == STORE_EDITION)
            .ok_or_else(|| {
                Trouble::damaged("store.json does not say what it must (schema/FORMAT.md, section 1).")
            })?;
        let key = Verifier::parse(&file.checkpoint_key)
            .ok()
            .filter(|k| k.name() == file.origin && file.inkfast_store == STORE_EDITION)
            .ok_or_else(|| Trouble::damaged("The checkpoint key in store.json is damaged."))?;
        let outside = match (outside, &file.outside) {
            (Some(path), _) => path.to_path_buf(),
            (None, Some(path)) => root.join(path),
            (None, None) => state_folder(),
        };
        Ok(Place { root: root.to_path_buf(), file, key, outside, pace: Pace::default() })
    }

    /// Where the ledger and its companions lie.
    pub fn location(&self) -> Location {
        Location {
            dir: self.root.join("ledger"),
            set_aside: self.root.join("set-aside"),
            outside: self.outside.clone(),
            lock: self.root.join("lock"),
            key: self.key.clone(),
        }
    }

    /// A file in `keys/`.
    pub fn key_file(&self, name: &str) -> PathBuf {
        self.root.join("keys").join(name)
    }

    /// The sealed file of an attachment.
    pub fn attachment(&self, sealed_digest: &str) -> PathBuf {
        let folder = sealed_digest.get(..2).unwrap_or("__");
        self.root.join("files").join(folder).join(format!("{sealed_digest}.age"))
    }
}

/// The person's own folder for what is kept outside stores.
pub fn state_folder() -> PathBuf {
    // An empty variable counts as none (XDG Base Directory Specification).
    let base = std::env::var_os("XDG_STATE_HOME")
        .filter(|v| !v.is_empty())
        .map(PathBuf::from)
        .or_else(|| std::env::var_os("HOME").map(|home| PathBuf::from(home).join(".local").join("state")));
    base.unwrap_or_else(|| PathBuf::from(".")).join("inkfast")
}

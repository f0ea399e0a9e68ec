//! The checkpoints that witnesses signed, as the store keeps them: which witness saw up to which number, and
//! when. They are somebody else's word, derived from nothing here; a lost one takes nothing from the record.

use super::slip::Witness;
pub use super::trust::in_words;
use crate::ledger::checkpoint::Checkpoint;
use crate::ledger::policy::Policy;
use crate::seal::note::{Cosigner, Note, SignatureLine, Verifier};
use crate::trouble::{Outcome, Trouble};
use crate::world::Disk;
use std::collections::HashSet;
use std::path::{Path, PathBuf};

/// Name of the policy last used, in the folder.
pub const POLICY: &str = "policy";

/// The folder in a store.
pub fn folder(root: &Path) -> PathBuf {
    root.join("witnesses")
}

fn file(root: &Path, size: u64) -> PathBuf {
    folder(root).join(format!("{size}.checkpoint"))
}

/// A kept checkpoint whose signature by the ledger is right.
pub struct Kept {
    /// The checkpoint.
    pub checkpoint: Checkpoint,
    /// With all its lines.
    pub note: Note,
}

/// Everything kept, the newest first, and the names of what can't be used.
pub fn read(disk: &dyn Disk, root: &Path, key: &Verifier) -> (Vec<Kept>, Vec<String>) {
    let (mut kept, mut useless) = (Vec::new(), Vec::new());
    for name in disk.list(&folder(root)).unwrap_or_default() {
        if name == POLICY || name.ends_with(".part") {
            continue;
        }
        let note = disk.read(&folder(root).join(&name)).ok().and_then(|bytes| Note::parse(&bytes).ok());
        let whole = note.and_then(|note| {
            let checkpoint = Checkpoint::from_note(&note, key).ok()?;
            (name == format!("{}.checkpoint", checkpoint.size)).then_some(Kept { checkpoint, note })
        });
        match whole {
            Some(whole) => kept.push(whole),
            None => useless.push(name),
        }
    }
    kept.sort_by_key(|k| std::cmp::Reverse(k.checkpoint.size));
    (kept, useless)
}

/// The largest kept checkpoint that a witness signed, and when by its clock (POSIX seconds).
pub fn seen_by<'a>(kept: &'a [Kept], key: &Cosigner) -> Option<(&'a Kept, u64)> {
    kept.iter().find_map(|k| key.check(&k.note).ok().flatten().map(|time| (k, time)))
}

/// Adds lines of witnesses to the kept copy of a checkpoint.
///
/// # Errors
/// When the disk fails.
pub fn keep(disk: &dyn Disk, root: &Path, sent: &Note, size: u64, lines: &[SignatureLine]) -> Outcome<()> {
    let (dir, path) = (folder(root), file(root, size));
    disk.create_dirs(&dir).map_err(|e| Trouble::disk("create the folder", &dir, &e))?;
    let there = disk.read(&path).ok().and_then(|bytes| Note::parse(&bytes).ok());
    let mut note = there.filter(|n| n.text == sent.text).unwrap_or_else(|| sent.clone());
    for line in lines {
        // A newer line of a witness stands in for its older one.
        note.signatures.retain(|old| (&old.name, old.key_id) != (&line.name, line.key_id));
        note.signatures.push(line.clone());
    }
    disk.put(&path, note.to_string().as_bytes()).map_err(|e| Trouble::disk("write", &path, &e))
}

/// The policy that was last used here, if there is one.
pub fn kept_policy(disk: &dyn Disk, root: &Path) -> Option<Vec<u8>> {
    disk.read(&folder(root).join(POLICY)).ok()
}

/// What the witnesses of a policy saw, to compare the ledger with.
pub fn to_compare(kept: &[Kept], policy: &Policy) -> Vec<Witness> {
    let mut out = Vec::new();
    for witness in policy.witnesses() {
        let Ok(key) = Cosigner::try_from(&witness.key) else { continue };
        let Some((seen, time)) = seen_by(kept, &key) else { continue };
        let name = format!("what witness {} saw on {}", witness.name, in_words(time));
        out.push(Witness::of_all(name, seen.checkpoint.size, &seen.checkpoint.root));
    }
    out
}

/// Up to which number the witnesses that a policy asks for have signed; none when never.
pub fn met_up_to(kept: &[Kept], policy: &Policy) -> Option<u64> {
    let keys: Vec<(&str, Cosigner)> = policy
        .witnesses()
        .iter()
        .filter_map(|w| Some((w.name.as_str(), Cosigner::try_from(&w.key).ok()?)))
        .collect();
    // Who signed a later checkpoint has also seen that it continues the earlier ones.
    let mut signed: HashSet<&str> = HashSet::new();
    for k in kept {
        let now = keys.iter().filter(|(_, key)| matches!(key.check(&k.note), Ok(Some(_))));
        signed.extend(now.map(|(name, _)| *name));
        if policy.is_met(|name| signed.contains(name)) {
            return Some(k.checkpoint.size);
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::world::RealDisk;

    fn line(name: &str, time: u8) -> SignatureLine {
        SignatureLine { name: name.to_string(), key_id: [7; 4], bytes: vec![time; 8] }
    }

    /// What one witness signed stays when another is asked later; a newer line of a witness stands in for its older
    /// one; and what lies there over another text is no copy of this checkpoint.
    #[test]
    fn the_lines_of_witnesses_add_up() {
        let root = tempfile::tempdir().unwrap();
        let sent = |text: &str| Note { text: text.to_string(), signatures: vec![line("ledger-x", 0)] };
        let lines_after = |text: &str, lines: &[SignatureLine]| {
            keep(&RealDisk, root.path(), &sent(text), 9, lines).unwrap();
            let kept = Note::parse(&std::fs::read(file(root.path(), 9)).unwrap()).unwrap();
            assert_eq!(kept.text, text);
            kept.signatures.iter().map(|line| (line.name.clone(), line.bytes[0])).collect::<Vec<_>>()
        };
        let of =
            |all: &[(&str, u8)]| all.iter().map(|(name, time)| (name.to_string(), *time)).collect::<Vec<_>>();
        assert_eq!(lines_after("a\n", &[line("one", 1)]), of(&[("ledger-x", 0), ("one", 1)]));
        assert_eq!(lines_after("a\n", &[line("two", 2)]), of(&[("ledger-x", 0), ("one", 1), ("two", 2)]));
        assert_eq!(lines_after("a\n", &[line("one", 3)]), of(&[("ledger-x", 0), ("two", 2), ("one", 3)]));
        assert_eq!(lines_after("b\n", &[line("two", 4)]), of(&[("ledger-x", 0), ("two", 4)]));
    }

    /// The policy last used and a copy on its way in lie there too, and are neither kept nor useless.
    #[test]
    fn what_is_no_checkpoint_is_useless_unless_it_belongs_there() {
        let root = tempfile::tempdir().unwrap();
        std::fs::create_dir(folder(root.path())).unwrap();
        for name in [POLICY, "9.checkpoint.part", "8.checkpoint"] {
            std::fs::write(folder(root.path()).join(name), "none\n").unwrap();
        }
        let key = crate::seal::note::Signer::from_seed("ledger-x", &[3; 32]).unwrap();
        let (kept, useless) = read(&RealDisk, root.path(), key.verifier());
        assert_eq!((kept.len(), useless), (0, vec!["8.checkpoint".to_string()]));
    }
}

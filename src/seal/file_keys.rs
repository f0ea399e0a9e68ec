//! File keys that were worked out once. Finding the key of a sealed file costs a hundred times what
//! opening it with that key costs, and a chart is read many times a day. So what one command has found may
//! be handed to the next, by whoever holds the identity anyway; it is never written down.

use super::age_file::Identity;
use age_core::format::{FileKey, Stanza};
use age_core::secrecy::ExposeSecret;
use std::collections::HashMap;
use std::sync::{Mutex, MutexGuard, PoisonError};
use zeroize::{Zeroize, ZeroizeOnDrop, Zeroizing};

/// What a file key is found under: BLAKE3 of the identity's label and of the file's line for it.
type Label = [u8; 16];

/// A file key, wiped when dropped.
#[derive(Clone, Zeroize, ZeroizeOnDrop)]
struct Kept([u8; 16]);

/// File keys found so far.
#[derive(Default)]
pub struct FileKeys {
    kept: Mutex<Both>,
}

#[derive(Default)]
struct Both {
    /// Handed over at the beginning.
    known: HashMap<Label, Kept>,
    /// Found since.
    found: HashMap<Label, Kept>,
}

impl FileKeys {
    /// Length in bytes of one line of the text form: two hex numbers, a space, a line end.
    pub const LINE: usize = 66;

    /// Takes in what an earlier command found, in the form of [`FileKeys::found`]. Lines that are no such
    /// thing are passed over: the keys are then found again.
    pub fn take(&self, text: &str) {
        let read = |line: &str| {
            let (label, key) = line.split_once(' ')?;
            let mut kept = Kept([0; 16]);
            let whole = decode(key, &mut kept.0);
            let mut at = Label::default();
            (decode(label, &mut at) && whole).then_some((at, kept))
        };
        self.kept().known.extend(text.lines().filter_map(read));
    }

    /// What was found since, a line each: label and key in hex. None when nothing was.
    pub fn found(&self) -> Option<Zeroizing<String>> {
        let kept = self.kept();
        let mut text = Zeroizing::new(String::with_capacity(kept.found.len() * Self::LINE));
        for (label, key) in &kept.found {
            data_encoding::HEXLOWER.encode_append(label, &mut text);
            text.push(' ');
            data_encoding::HEXLOWER.encode_append(&key.0, &mut text);
            text.push('\n');
        }
        (!text.is_empty()).then_some(text)
    }

    /// Forgets everything.
    pub fn forget(&self) {
        *self.kept() = Both::default();
    }

    fn kept(&self) -> MutexGuard<'_, Both> {
        self.kept.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

fn decode(hex: &str, into: &mut [u8; 16]) -> bool {
    hex.len() == 32 && data_encoding::HEXLOWER.decode_mut(hex.as_bytes(), into).is_ok()
}

/// An identity together with the file keys it has found.
pub(super) struct Remembering<'a> {
    identity: &'a Identity,
    keys: &'a FileKeys,
}

impl<'a> Remembering<'a> {
    pub(super) fn new(identity: &'a Identity, keys: &'a FileKeys) -> Remembering<'a> {
        Remembering { identity, keys }
    }

    /// The line of a file holds a fresh public key and the sealed file key, so no two files share one.
    fn label(&self, stanza: &Stanza) -> Label {
        let mut hasher = blake3::Hasher::new_keyed(self.identity.label());
        for part in std::iter::once(&stanza.tag).chain(&stanza.args).map(String::as_bytes) {
            hasher.update(&(part.len() as u64).to_le_bytes());
            hasher.update(part);
        }
        hasher.update(&stanza.body);
        let mut label = Label::default();
        hasher.finalize_xof().fill(&mut label);
        label
    }
}

impl age::Identity for Remembering<'_> {
    fn unwrap_stanza(&self, stanza: &Stanza) -> Option<Result<FileKey, age::DecryptError>> {
        let label = self.label(stanza);
        {
            let kept = self.keys.kept();
            if let Some(key) = kept.known.get(&label).or_else(|| kept.found.get(&label)) {
                return Some(Ok(FileKey::new(Box::new(key.0))));
            }
        }
        let opened = self.identity.unwrap(stanza)?;
        if let Ok(key) = &opened {
            self.keys.kept().found.insert(label, Kept(*key.expose_secret()));
        }
        Some(opened)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::seal::age_file::{OpenError, To, With, open, seal};

    #[test]
    fn a_key_found_once_opens_again_and_only_for_the_same_identity_and_the_same_bytes() {
        let (me, other) = (Identity::generate(), Identity::generate());
        let sealed = seal(&To::Recipients(&[me.recipient()]), b"left, not right").unwrap();
        let first = FileKeys::default();
        let with = |who: &Identity, keys: &FileKeys, bytes: &[u8]| {
            open(&With::Remembering(std::slice::from_ref(who), keys), bytes)
        };
        assert_eq!(&with(&me, &first, &sealed).unwrap()[..], b"left, not right");
        let text = first.found().unwrap();
        assert_eq!(text.len(), FileKeys::LINE);

        let next = FileKeys::default();
        next.take(&text);
        assert_eq!(&with(&me, &next, &sealed).unwrap()[..], b"left, not right");
        assert_eq!(next.found().as_deref(), None, "it was not worked out again");
        assert!(matches!(with(&other, &next, &sealed), Err(OpenError::NoKey)));
        for at in 0..sealed.len() {
            let mut bent = sealed.clone();
            bent[at] ^= 1;
            assert!(with(&me, &next, &bent).is_err(), "byte {at}");
            assert!(with(&me, &next, &sealed[..at]).is_err(), "cut at {at}");
        }
    }

    #[test]
    fn a_wrong_key_handed_over_opens_nothing() {
        let me = Identity::generate();
        let sealed = seal(&To::Recipients(&[me.recipient()]), b"x").unwrap();
        let keys = FileKeys::default();
        open(&With::Remembering(std::slice::from_ref(&me), &keys), &sealed).unwrap();
        let text = keys.found().unwrap();
        let (label, _) = text.split_once(' ').unwrap();
        let bent = FileKeys::default();
        bent.take(&format!("{label} {}\nnot a line\n\u{e9} \u{e9}\n", "0".repeat(32)));
        assert!(open(&With::Remembering(std::slice::from_ref(&me), &bent), &sealed).is_err());
    }
}

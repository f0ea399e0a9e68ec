//! Keys of signed notes: the public half others verify with, the secret half that signs.

use super::{BASE64, NoteError, SignatureLine};
use base64::Engine as _;
use ed25519_dalek::{Signer as _, SigningKey, VerifyingKey};
use sha2::{Digest, Sha256};
use std::fmt;

/// The signature type of plain Ed25519 in C2SP signed-note.
const ED25519: u8 = 0x01;
/// The signature type of timestamped Ed25519 witness cosignatures (C2SP tlog-cosignature).
const COSIGNATURE: u8 = 0x04;
/// The signature type of timestamped ML-DSA-44 witness cosignatures (C2SP tlog-cosignature v1.1).
const COSIGNATURE_ML_DSA: u8 = 0x06;

/// A public key with its name: what a signature line is checked against.
///
/// Written as a `vkey`: `name+id+base64`, the id in eight hexadecimal digits.
#[derive(Clone, PartialEq, Eq)]
pub struct Verifier {
    name: String,
    key_id: [u8; 4],
    key: VerifyingKey,
}

impl Verifier {
    /// A named public key. Refuses names no note may carry, and weak or non-canonical keys.
    pub fn new(name: &str, public_key: &[u8; 32]) -> Result<Verifier, NoteError> {
        if !is_key_name(name) {
            return Err(NoteError::KeyName);
        }
        let key = strong_key(public_key)?;
        Ok(Verifier { name: name.to_owned(), key_id: key_id(name, ED25519, public_key), key })
    }

    /// Reads a `vkey`, strictly: the id must be the one that belongs to name and key.
    pub fn parse(vkey: &str) -> Result<Verifier, NoteError> {
        Verifier::try_from(&Vkey::parse(vkey)?)
    }

    /// The key name.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The first four bytes of SHA-256 over name, newline, type byte and public key. It tells keys
    /// apart; it proves nothing.
    pub fn key_id(&self) -> [u8; 4] {
        self.key_id
    }

    /// The same key under another id, as a collision of ids would give it.
    #[cfg(test)]
    pub(super) fn with_key_id(&self, key_id: [u8; 4]) -> Verifier {
        Verifier { key_id, ..self.clone() }
    }

    /// The Ed25519 public key.
    pub fn key(&self) -> &VerifyingKey {
        &self.key
    }
}

impl TryFrom<&Vkey> for Verifier {
    type Error = NoteError;

    fn try_from(vkey: &Vkey) -> Result<Verifier, NoteError> {
        if vkey.kind != ED25519 {
            return Err(NoteError::KeyType(vkey.kind));
        }
        let key: &[u8; 32] = vkey.key.as_slice().try_into().map_err(|_| NoteError::KeyForm)?;
        Verifier::new(&vkey.name, key)
    }
}

/// The `vkey` text.
impl fmt::Display for Verifier {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        Vkey::from(self).fmt(f)
    }
}

impl fmt::Debug for Verifier {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Verifier({self})")
    }
}

/// A `vkey` of any signature type, as files of other programs hold them. Only its form was checked;
/// to verify with it, make it a [`Verifier`].
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Vkey {
    name: String,
    key_id: [u8; 4],
    kind: u8,
    key: Vec<u8>,
}

impl Vkey {
    /// Reads a `vkey`. The id is checked for the types whose id is made from name, type and key.
    pub fn parse(text: &str) -> Result<Vkey, NoteError> {
        // The base64 may itself hold a plus sign; name and id can't.
        let mut parts = text.splitn(3, '+');
        let (Some(name), Some(id), Some(base64)) = (parts.next(), parts.next(), parts.next()) else {
            return Err(NoteError::KeyForm);
        };
        if !is_key_name(name) {
            return Err(NoteError::KeyName);
        }
        let id = parse_id(id).ok_or(NoteError::KeyForm)?;
        let decoded = BASE64.decode(base64).map_err(|_| NoteError::KeyForm)?;
        let (kind, key) = decoded.split_first().ok_or(NoteError::KeyForm)?;
        let id_is_made_so = [ED25519, COSIGNATURE, COSIGNATURE_ML_DSA].contains(kind);
        if id_is_made_so && id != key_id(name, *kind, key) {
            return Err(NoteError::KeyId);
        }
        Ok(Vkey { name: name.to_owned(), key_id: id, kind: *kind, key: key.to_vec() })
    }

    /// The key name.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The signature type: 1 for plain Ed25519, 4 and 6 for cosignatures of witnesses.
    pub fn kind(&self) -> u8 {
        self.kind
    }

    /// The bytes of the public key, without the type.
    pub fn key(&self) -> &[u8] {
        &self.key
    }

    /// Whether witnesses cosign with keys of this type.
    pub fn is_witness_key(&self) -> bool {
        [COSIGNATURE, COSIGNATURE_ML_DSA].contains(&self.kind)
    }
}

/// What a witness's key consists of.
pub(super) struct Cosigned {
    pub(super) name: String,
    pub(super) key_id: [u8; 4],
    pub(super) key: VerifyingKey,
}

impl Vkey {
    /// The key of a witness that cosigns with Ed25519.
    pub(super) fn cosigning_key(&self) -> Result<Cosigned, NoteError> {
        if self.kind != COSIGNATURE {
            return Err(NoteError::KeyType(self.kind));
        }
        let key: &[u8; 32] = self.key.as_slice().try_into().map_err(|_| NoteError::KeyForm)?;
        Ok(Cosigned { name: self.name.clone(), key_id: self.key_id, key: strong_key(key)? })
    }
}

impl From<&Verifier> for Vkey {
    fn from(v: &Verifier) -> Vkey {
        Vkey { name: v.name.clone(), key_id: v.key_id, kind: ED25519, key: v.key.as_bytes().to_vec() }
    }
}

impl fmt::Display for Vkey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let typed = [&[self.kind], self.key.as_slice()].concat();
        write!(f, "{}+{}+{}", self.name, hex(self.key_id), BASE64.encode(typed))
    }
}

/// A secret signing key with its name. The secret is wiped from memory when this is dropped, and
/// no formatting shows it.
pub struct Signer {
    secret: SigningKey,
    verifier: Verifier,
}

impl Signer {
    /// The signer whose Ed25519 seed (RFC 8032 private key) these 32 bytes are. The caller wipes
    /// its own copy.
    pub fn from_seed(name: &str, seed: &[u8; 32]) -> Result<Signer, NoteError> {
        let secret = SigningKey::from_bytes(seed);
        let verifier = Verifier::new(name, secret.verifying_key().as_bytes())?;
        Ok(Signer { secret, verifier })
    }

    /// The key name.
    pub fn name(&self) -> &str {
        self.verifier.name()
    }

    /// The public half.
    pub fn verifier(&self) -> &Verifier {
        &self.verifier
    }

    /// The public half as text, to be handed out.
    pub fn vkey(&self) -> String {
        self.verifier.to_string()
    }

    /// The signature line over `text`.
    pub(super) fn line(&self, text: &str) -> SignatureLine {
        SignatureLine {
            name: self.verifier.name.clone(),
            key_id: self.verifier.key_id,
            bytes: self.secret.sign(text.as_bytes()).to_bytes().to_vec(),
        }
    }
}

impl fmt::Debug for Signer {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Signer({}, secret not shown)", self.verifier)
    }
}

/// Whether a note may carry this key name: not empty, no Unicode space, no plus sign, and no
/// control character, as none may stand in a note.
pub(super) fn is_key_name(name: &str) -> bool {
    !name.is_empty() && !name.chars().any(|c| c.is_whitespace() || c == '+' || c < ' ')
}

/// A public key that is not weak and is written in the one way there is.
fn strong_key(public_key: &[u8; 32]) -> Result<VerifyingKey, NoteError> {
    let key = VerifyingKey::from_bytes(public_key).map_err(|_| NoteError::WeakKey)?;
    // A second spelling of one point would give one signer two keys.
    let canonical = key.to_edwards().compress().to_bytes() == *public_key;
    if key.is_weak() || !canonical { Err(NoteError::WeakKey) } else { Ok(key) }
}

fn key_id(name: &str, kind: u8, public_key: &[u8]) -> [u8; 4] {
    let digest =
        Sha256::new().chain_update(name).chain_update([b'\n', kind]).chain_update(public_key).finalize();
    [digest[0], digest[1], digest[2], digest[3]]
}

fn parse_id(text: &str) -> Option<[u8; 4]> {
    let digits = text.len() == 8 && text.bytes().all(|b| matches!(b, b'0'..=b'9' | b'a'..=b'f'));
    digits.then(|| u32::from_str_radix(text, 16).ok()).flatten().map(u32::to_be_bytes)
}

fn hex(id: [u8; 4]) -> String {
    format!("{:08x}", u32::from_be_bytes(id))
}

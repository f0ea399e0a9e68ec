//! Signed notes: a text, an empty line, and one signature line per key.
//!
//! The format is C2SP signed-note v1.0.0 (<https://c2sp.org/signed-note>) with Ed25519 signatures
//! (type `0x01`). A note is readable by eye, and any program that knows the format can check it.
//! Nothing in a note may be relied on before [`Note::verify`] said yes.

mod cosignature;
mod key;

pub use cosignature::Cosigner;
pub use key::{Signer, Verifier, Vkey};

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD as BASE64;
use ed25519_dalek::{Signature, VerifyingKey};
use std::fmt;

/// The longest note that is read or written, in bytes. The specification asks for a limit and leaves its size open.
pub const MAX_NOTE_BYTES: usize = 1_000_000;

/// The most signature lines a note may carry. The specification asks for a limit of at least 16.
pub const MAX_SIGNATURES: usize = 100;

/// What every signature line starts with: an em dash (U+2014) and a space.
const LINE_START: &str = "\u{2014} ";

/// Why a note, a key or a signature is refused.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum NoteError {
    /// The note is longer than [`MAX_NOTE_BYTES`].
    #[error("the note is longer than {MAX_NOTE_BYTES} bytes, so it was not read")]
    TooLong,
    /// The bytes are not UTF-8.
    #[error("the note is not UTF-8 text: its bytes are damaged, or it is another kind of file")]
    NotText,
    /// A control character other than newline, at this byte.
    #[error("the note holds a control character at byte {0}, which no note may: it was changed or damaged")]
    ControlCharacter(usize),
    /// A text to be signed is empty or does not end in a newline.
    #[error("the text of a note must end in a newline")]
    TextEnd,
    /// No empty line divides text and signatures.
    #[error("the note has no empty line before its signatures: it was cut short, or is not a note")]
    NoEmptyLine,
    /// No signature line, or the last one has no newline at its end.
    #[error("the note has no whole signature line at its end: it was cut short or never signed")]
    NoSignature,
    /// More signature lines than [`MAX_SIGNATURES`].
    #[error("the note has more than {MAX_SIGNATURES} signature lines, so it was not read")]
    TooManySignatures,
    /// Signature line of this number (from 0) has the wrong form.
    #[error("signature line {0} of the note (counted from 0) is not of the form: dash, name, base64")]
    SignatureForm(usize),
    /// A key name is empty or holds a space, a plus sign or a control character.
    #[error("a key name must not be empty and must not hold a space, a plus sign or a control character")]
    KeyName,
    /// A verifier key is not `name+id+base64`.
    #[error("the verifier key is not of the form name+id+base64: copy it again from its source, whole")]
    KeyForm,
    /// A verifier key is of a signature type other than Ed25519.
    #[error("the verifier key is of signature type {0}, and only type 1 (Ed25519) is known here")]
    KeyType(u8),
    /// The id in a verifier key does not belong to its name and key.
    #[error("the id in the verifier key does not fit its name and key: it was miscopied or changed")]
    KeyId,
    /// The public key is no curve point, is of small order, or is written in a second way.
    #[error("the public key is unusable or weak: nothing signed with it proves anything")]
    WeakKey,
    /// Two different keys share a name and an id, so a signature line can't be told apart.
    #[error("two different keys share one name and id: check with one of them at a time")]
    AmbiguousKey,
    /// A note must be signed by at least one signer.
    #[error("a note needs at least one signer")]
    NoSigner,
    /// One key is asked to sign the same note twice.
    #[error("the same key was asked to sign one note twice: a second signature must be by a second key")]
    SameSigner,
    /// Signature line of this number (from 0) is by a known key and is wrong.
    #[error("signature line {0} of the note (counted from 0) is wrong: text or signature was changed")]
    BadSignature(usize),
    /// No signature is by a key the caller knows.
    #[error(
        "none of the signatures on the note is by a known key: it may be genuine, but nothing here shows it"
    )]
    NoKnownKey,
}

/// One signature line as it stands in the note: a claim, not yet a proof.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SignatureLine {
    /// The key name the line gives.
    pub name: String,
    /// The four bytes that tell keys of one name apart.
    pub key_id: [u8; 4],
    /// The signature itself, without the key id. At least one byte.
    pub bytes: Vec<u8>,
}

/// A note that has the right form. Its text is only trusted after [`Note::verify`].
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Note {
    /// The signed text, its last newline included.
    pub text: String,
    /// The signature lines, in their order.
    pub signatures: Vec<SignatureLine>,
}

/// A signature line by a known key, ready to be checked: alone with [`Claim::check`], or many
/// notes at a time by whoever gathers keys, messages and signatures into one batch.
#[derive(Debug, Clone, Copy)]
pub struct Claim<'a> {
    /// Which line of [`Note::signatures`].
    pub line: usize,
    /// The key it must verify with.
    pub verifier: &'a Verifier,
    /// The bytes that were signed.
    pub message: &'a [u8],
    /// The signature.
    pub signature: Signature,
}

impl Claim<'_> {
    /// Checks this one signature, strictly (RFC 8032 with small-order points refused).
    /// This is the reference verdict; a batch that fails is checked again one by one with it.
    pub fn check(&self) -> Result<(), NoteError> {
        strict(self.verifier.key(), self.message, &self.signature, self.line)
    }
}

/// A claim with what it needs, to be checked later or together with others.
#[derive(Debug, Clone)]
pub struct OwnedClaim {
    line: usize,
    key: VerifyingKey,
    message: Vec<u8>,
    signature: Signature,
}

impl Claim<'_> {
    /// The same claim, on its own.
    pub fn to_owned(&self) -> OwnedClaim {
        OwnedClaim {
            line: self.line,
            key: *self.verifier.key(),
            message: self.message.to_vec(),
            signature: self.signature,
        }
    }
}

impl OwnedClaim {
    /// Checks this one signature as [`Claim::check`] does.
    ///
    /// # Errors
    /// [`NoteError::BadSignature`] when it is wrong.
    pub fn check(&self) -> Result<(), NoteError> {
        strict(&self.key, &self.message, &self.signature, self.line)
    }
}

fn strict(key: &VerifyingKey, message: &[u8], signature: &Signature, line: usize) -> Result<(), NoteError> {
    key.verify_strict(message, signature).map_err(|_| NoteError::BadSignature(line))
}

/// True when all of these signatures are right, worked out together. When it is false each has to be
/// checked by itself to say which are wrong: that is the reference verdict.
pub fn all_right(claims: &[&OwnedClaim]) -> bool {
    match claims {
        [] => true,
        [one] => one.check().is_ok(),
        _ => {
            let messages: Vec<&[u8]> = claims.iter().map(|c| c.message.as_slice()).collect();
            let signatures: Vec<Signature> = claims.iter().map(|c| c.signature).collect();
            let keys: Vec<VerifyingKey> = claims.iter().map(|c| c.key).collect();
            ed25519_dalek::verify_batch(&messages, &signatures, &keys).is_ok()
        }
    }
}

/// The lines of `claims`, at most one for each key, so that the same key twice is never counted as two signers.
pub fn distinct_lines(claims: &[Claim<'_>]) -> Vec<usize> {
    let repeated = |at: usize| claims[..at].iter().any(|c| c.verifier == claims[at].verifier);
    (0..claims.len()).filter(|at| !repeated(*at)).map(|at| claims[at].line).collect()
}

impl Note {
    /// Reads a note, strictly in form. No signature is checked.
    ///
    /// The text ends at the *last* empty line, so it may hold empty lines itself.
    pub fn parse(bytes: &[u8]) -> Result<Note, NoteError> {
        if bytes.len() > MAX_NOTE_BYTES {
            return Err(NoteError::TooLong);
        }
        let whole = std::str::from_utf8(bytes).map_err(|_| NoteError::NotText)?;
        check_characters(whole)?;
        let text_end = whole.rfind("\n\n").ok_or(NoteError::NoEmptyLine)?;
        let lines = whole[text_end + 2..].strip_suffix('\n').ok_or(NoteError::NoSignature)?;
        let signatures = lines
            .split('\n')
            .take(MAX_SIGNATURES + 1)
            .enumerate()
            .map(|(number, line)| parse_line(line).ok_or(NoteError::SignatureForm(number)))
            .collect::<Result<Vec<_>, _>>()?;
        if signatures.len() > MAX_SIGNATURES {
            return Err(NoteError::TooManySignatures);
        }
        Ok(Note { text: whole[..=text_end].to_owned(), signatures })
    }

    /// The signature lines by keys among `verifiers`, unchecked. Lines by other keys are left out,
    /// also when they share a name or an id (but not both) with a known key.
    ///
    /// Errors: a known key with a signature of the wrong length, no known key at all, or two
    /// different keys that can't be told apart.
    pub fn claims<'a>(&'a self, verifiers: &[&'a Verifier]) -> Result<Vec<Claim<'a>>, NoteError> {
        let mut claims = Vec::new();
        for (line, signature) in self.signatures.iter().enumerate() {
            let Some(verifier) = find(verifiers, signature)? else { continue };
            let signature =
                Signature::from_slice(&signature.bytes).map_err(|_| NoteError::BadSignature(line))?;
            claims.push(Claim { line, verifier, message: self.text.as_bytes(), signature });
        }
        if claims.is_empty() { Err(NoteError::NoKnownKey) } else { Ok(claims) }
    }

    /// Checks the note against the keys the caller trusts, and returns which lines of
    /// [`Note::signatures`] count: the first one of each known key.
    ///
    /// Unknown keys are ignored. One wrong signature by a known key rejects the whole note, and so
    /// does having no signature by a known key.
    pub fn verify(&self, verifiers: &[&Verifier]) -> Result<Vec<usize>, NoteError> {
        let claims = self.claims(verifiers)?;
        claims.iter().try_for_each(Claim::check)?;
        Ok(distinct_lines(&claims))
    }
}

/// The note as it is stored. For a note that was parsed, exactly the bytes it was parsed from.
impl fmt::Display for Note {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "{}", self.text)?;
        self.signatures.iter().try_for_each(|line| writeln!(f, "{line}"))
    }
}

/// The line without its newline.
impl fmt::Display for SignatureLine {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let bytes = [self.key_id.as_slice(), &self.bytes].concat();
        write!(f, "{LINE_START}{} {}", self.name, BASE64.encode(bytes))
    }
}

/// Signs `text` with every signer, in the order given, and returns the whole note.
///
/// Errors: a text no note may hold, no signer, the same key twice, too long a note.
pub fn sign(text: &str, signers: &[&Signer]) -> Result<String, NoteError> {
    check_characters(text)?;
    if !text.ends_with('\n') {
        return Err(NoteError::TextEnd);
    }
    if signers.is_empty() {
        return Err(NoteError::NoSigner);
    }
    if signers.len() > MAX_SIGNATURES {
        return Err(NoteError::TooManySignatures);
    }
    let same = |at: usize| signers[..at].iter().any(|s| s.verifier() == signers[at].verifier());
    if (0..signers.len()).any(same) {
        return Err(NoteError::SameSigner);
    }
    let signatures = signers.iter().map(|signer| signer.line(text)).collect();
    let note = Note { text: text.to_owned(), signatures }.to_string();
    if note.len() > MAX_NOTE_BYTES { Err(NoteError::TooLong) } else { Ok(note) }
}

/// No ASCII control character (below U+0020) but newline.
fn check_characters(text: &str) -> Result<(), NoteError> {
    match text.bytes().position(|byte| byte < 0x20 && byte != b'\n') {
        Some(at) => Err(NoteError::ControlCharacter(at)),
        None => Ok(()),
    }
}

fn parse_line(line: &str) -> Option<SignatureLine> {
    let (name, base64) = line.strip_prefix(LINE_START)?.split_once(' ')?;
    if !key::is_key_name(name) {
        return None;
    }
    // This engine is strict: padding is required and unused bits must be zero, so that no second
    // spelling of the same signature exists.
    let decoded = BASE64.decode(base64).ok()?;
    let (key_id, bytes) = decoded.split_first_chunk::<4>()?;
    (!bytes.is_empty()).then(|| SignatureLine {
        name: name.to_owned(),
        key_id: *key_id,
        bytes: bytes.to_vec(),
    })
}

/// The known key a line claims, if any. The same key listed twice is one key.
fn find<'a>(verifiers: &[&'a Verifier], line: &SignatureLine) -> Result<Option<&'a Verifier>, NoteError> {
    let mut matching =
        verifiers.iter().copied().filter(|v| v.name() == line.name && v.key_id() == line.key_id);
    let found = matching.next();
    if matching.any(|other| Some(other) != found) {
        return Err(NoteError::AmbiguousKey);
    }
    Ok(found)
}

#[cfg(test)]
mod tests;

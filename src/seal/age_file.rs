//! age v1 files (C2SP age): sealing bytes and streams to recipients, opening them again.
//!
//! The age crate releases the beginning of a cut file before it reports the cut, so nothing
//! opened here is handed on, and no file gets its name, before the last byte was checked.

use super::file_keys::{FileKeys, Remembering};
use crate::trouble::{Kind, Trouble};
use age::secrecy::{ExposeSecret, SecretString};
use age_core::format::{FileKey, Stanza};
use std::io::{self, Read, Write};
use zeroize::Zeroizing;

/// The cost of guessing a passphrase: scrypt with N = 2^18, the factor of the reference
/// implementation. Fixed, never tuned to the machine: a file must open on a slower one too.
pub const WORK_FACTOR: u8 = 18;
/// The highest cost this program agrees to spend on a file it did not write.
pub const MAX_WORK_FACTOR: u8 = 20;

/// Why a sealed file did not open.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum OpenError {
    /// None of the keys fits, or the passphrase is wrong.
    #[error("none of the keys at hand opens it")]
    NoKey,
    /// The file asks for more passphrase work than allowed.
    #[error("it asks for more passphrase work (2^{0}) than this program agrees to")]
    TooMuchWork(u8),
    /// It is not an age file, or it was changed or cut.
    #[error("it is damaged or not a sealed file")]
    Damaged,
    /// Reading failed.
    #[error("reading failed: {0}")]
    Io(io::Error),
}

impl OpenError {
    /// As a trouble about `thing` (never a name).
    pub fn about(self, thing: &str) -> Trouble {
        match self {
            OpenError::NoKey => Trouble::new(
                Kind::Locked,
                format!("{thing} does not open: {self}."),
                "Nothing was changed.",
                "Check the passphrase, or ask somebody whose role opens it.",
            ),
            _ => Trouble::damaged(format!("{thing} does not open: {self}.")),
        }
    }
}

impl From<age::DecryptError> for OpenError {
    fn from(error: age::DecryptError) -> Self {
        match error {
            age::DecryptError::NoMatchingKeys
            | age::DecryptError::KeyDecryptionFailed
            | age::DecryptError::DecryptionFailed => OpenError::NoKey,
            age::DecryptError::ExcessiveWork { required, .. } => OpenError::TooMuchWork(required),
            age::DecryptError::Io(e) if e.kind() != io::ErrorKind::UnexpectedEof => OpenError::Io(e),
            _ => OpenError::Damaged,
        }
    }
}

/// What the text form of an identity begins with.
pub const BEGINS: &str = "AGE-SECRET-KEY-1";

/// A secret age X25519 identity, with the ones that it has replaced. Never printed by `Debug`.
#[derive(Clone)]
pub struct Identity {
    key: age::x25519::Identity,
    /// Tells what was found with this identity from what was found with another.
    label: Zeroizing<[u8; 32]>,
    /// What was sealed before opens with these; nothing is sealed to them any more. The newest first.
    earlier: Vec<Identity>,
}

/// A public age X25519 recipient, `age1...`.
#[derive(Clone, PartialEq, Eq)]
pub struct Recipient(age::x25519::Recipient);

impl std::fmt::Debug for Identity {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Identity(secret)")
    }
}
impl std::fmt::Debug for Recipient {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}", self.0)
    }
}
impl std::fmt::Display for Recipient {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}", self.0)
    }
}

impl Identity {
    /// A new identity from the system's random numbers.
    pub fn generate() -> Identity {
        Identity::of(age::x25519::Identity::generate())
    }
    /// Reads `AGE-SECRET-KEY-1...`; none when it is not one.
    pub fn parse(text: &str) -> Option<Identity> {
        text.trim().parse().ok().map(Identity::of)
    }
    fn of(key: age::x25519::Identity) -> Identity {
        let text = key.to_string();
        let label = blake3::derive_key("inkfast label of an identity", text.expose_secret().as_bytes());
        Identity { key, label: Zeroizing::new(label), earlier: Vec::new() }
    }
    /// Reads the text of an identity file: the first identity in it, and after it the ones it has replaced. None
    /// when it holds no identity, or a line that begins like one and is none.
    pub fn parse_file(text: &str) -> Option<Identity> {
        let lines = text.lines().filter(|line| line.starts_with(BEGINS));
        let mut all = lines.map(Identity::parse).collect::<Option<Vec<_>>>()?.into_iter();
        let mut newest = all.next()?;
        newest.earlier = all.collect();
        Some(newest)
    }
    /// The same one, in place of `before` and of what that one has replaced.
    #[must_use]
    pub fn in_place_of(mut self, before: &Identity) -> Identity {
        self.earlier = before.each().map(Identity::alone).collect();
        self
    }
    /// Without the ones that it has replaced.
    #[must_use]
    pub fn alone(&self) -> Identity {
        Identity { key: self.key.clone(), label: self.label.clone(), earlier: Vec::new() }
    }
    /// This one, and then the ones that it has replaced.
    pub fn each(&self) -> impl Iterator<Item = &Identity> {
        std::iter::once(self).chain(&self.earlier)
    }
    /// The text form, wiped from memory when dropped.
    pub fn to_text(&self) -> Zeroizing<String> {
        Zeroizing::new(self.key.to_string().expose_secret().to_string())
    }
    /// The recipient that this identity opens.
    pub fn recipient(&self) -> Recipient {
        Recipient(self.key.to_public())
    }
    /// What is found with this identity is labelled with this.
    pub(super) fn label(&self) -> &[u8; 32] {
        &self.label
    }
    /// The file key in one line of an age file, if that line is for this identity.
    pub(super) fn unwrap(&self, stanza: &Stanza) -> Option<Result<FileKey, age::DecryptError>> {
        age::Identity::unwrap_stanza(&self.key, stanza)
    }
}

impl Recipient {
    /// Reads `age1...`; none when it is not an X25519 recipient.
    pub fn parse(text: &str) -> Option<Recipient> {
        text.trim().parse().ok().map(Recipient)
    }
}

/// Whom a file is sealed to.
pub enum To<'a> {
    /// One or more recipients; any one of their identities opens it.
    Recipients(&'a [Recipient]),
    /// A passphrase, at the fixed cost (or a lower one, for tests only reachable in code).
    Passphrase(&'a str, u8),
}

/// A writer that seals what is written to it. `finish` must be called at the end.
pub type Sealer<W> = age::stream::StreamWriter<W>;

/// Wraps a writer so that what is written to it is sealed. Call `finish` on the result.
pub fn sealer<W: Write>(to: &To<'_>, out: W) -> io::Result<Sealer<W>> {
    match to {
        To::Recipients(recipients) => {
            age::Encryptor::with_recipients(recipients.iter().map(|r| &r.0 as &dyn age::Recipient))
                .map_err(io::Error::other)?
                .wrap_output(out)
        }
        To::Passphrase(passphrase, work) => {
            let mut recipient = age::scrypt::Recipient::new(SecretString::from((*passphrase).to_string()));
            recipient.set_work_factor(*work);
            age::Encryptor::with_recipients(std::iter::once(&recipient as &dyn age::Recipient))
                .map_err(io::Error::other)?
                .wrap_output(out)
        }
    }
}

/// Seals bytes.
pub fn seal(to: &To<'_>, plain: &[u8]) -> io::Result<Vec<u8>> {
    let mut out = Vec::with_capacity(plain.len() + 512);
    let mut writer = sealer(to, &mut out)?;
    writer.write_all(plain)?;
    writer.finish()?;
    Ok(out)
}

/// What may open a file.
pub enum With<'a> {
    /// Any of these identities.
    Identities(&'a [Identity]),
    /// Any of these identities, and the file keys that they have found before.
    Remembering(&'a [Identity], &'a FileKeys),
    /// A passphrase.
    Passphrase(&'a str),
}

/// A reader of the plain bytes. Nothing read is to be trusted before the reader has ended
/// without an error.
pub fn opener<'r, R: Read + 'r>(with: &With<'_>, sealed: R) -> Result<Box<dyn Read + 'r>, OpenError> {
    opened(with, age::Decryptor::new(sealed)?)
}

fn opened<'r, R: Read + 'r>(
    with: &With<'_>,
    decryptor: age::Decryptor<R>,
) -> Result<Box<dyn Read + 'r>, OpenError> {
    let reader = match with {
        With::Identities(_) | With::Remembering(..) if decryptor.is_scrypt() => {
            return Err(OpenError::NoKey);
        }
        With::Identities(identities) => {
            let all = identities.iter().flat_map(Identity::each);
            decryptor.decrypt(all.map(|i| &i.key as &dyn age::Identity))?
        }
        With::Remembering(identities, keys) => {
            let all = identities.iter().flat_map(Identity::each);
            let held: Vec<_> = all.map(|i| Remembering::new(i, keys)).collect();
            decryptor.decrypt(held.iter().map(|i| i as &dyn age::Identity))?
        }
        With::Passphrase(passphrase) => {
            let mut identity = age::scrypt::Identity::new(SecretString::from((*passphrase).to_string()));
            identity.set_max_work_factor(MAX_WORK_FACTOR);
            decryptor.decrypt(std::iter::once(&identity as &dyn age::Identity))?
        }
    };
    Ok(Box::new(reader))
}

/// As [`opener`], for a sealed file written as text.
pub fn armored_opener<'r, R: Read + 'r>(with: &With<'_>, sealed: R) -> Result<Box<dyn Read + 'r>, OpenError> {
    opened(with, age::Decryptor::new_buffered(age::armor::ArmoredReader::new(sealed))?)
}

/// Whether a sealed file, of which this is the beginning, asks for a passphrase.
///
/// # Errors
/// When its header does not read as one.
pub fn sealed_to_passphrase(sealed: &[u8], armored: bool) -> Result<bool, OpenError> {
    match armored {
        true => Ok(age::Decryptor::new_buffered(age::armor::ArmoredReader::new(sealed))?.is_scrypt()),
        false => Ok(age::Decryptor::new_buffered(sealed)?.is_scrypt()),
    }
}

/// To how many X25519 recipients a file is sealed: the stanzas of its header (C2SP age, "X25519 recipient stanza").
pub fn recipients(sealed: &[u8]) -> usize {
    let header = sealed.split(|byte| *byte == b'\n').take_while(|line| !line.starts_with(b"---"));
    header.filter(|line| line.starts_with(b"-> X25519 ")).count()
}

/// True when the file asks for a passphrase rather than an identity.
pub fn wants_passphrase(sealed: &[u8]) -> bool {
    age::Decryptor::new(sealed).is_ok_and(|d| d.is_scrypt())
}

/// Opens bytes, whole or not at all. The result is wiped from memory when dropped.
pub fn open(with: &With<'_>, sealed: &[u8]) -> Result<Zeroizing<Vec<u8>>, OpenError> {
    let mut plain = Zeroizing::new(Vec::with_capacity(sealed.len()));
    // Bytes at hand are read as such; a reader of unknown kind has its header read many times over.
    opened(with, age::Decryptor::new_buffered(sealed)?)?
        .read_to_end(&mut plain)
        .map_err(|_| OpenError::Damaged)?;
    Ok(plain)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_sealed_opens_and_a_cut_or_flipped_file_does_not() {
        let (one, two) = (Identity::generate(), Identity::generate());
        let sealed = seal(&To::Recipients(&[one.recipient(), two.recipient()]), b"left, not right").unwrap();
        assert_eq!(&open(&With::Identities(&[two]), &sealed).unwrap()[..], b"left, not right");
        for at in [sealed.len() - 1, sealed.len() / 2, 30] {
            assert!(open(&With::Identities(std::slice::from_ref(&one)), &sealed[..at]).is_err());
            let mut bent = sealed.clone();
            bent[at] ^= 1;
            assert!(open(&With::Identities(std::slice::from_ref(&one)), &bent).is_err());
        }
        assert!(matches!(open(&With::Identities(&[Identity::generate()]), &sealed), Err(OpenError::NoKey)));
    }

    #[test]
    fn an_identity_opens_what_was_sealed_to_the_ones_it_replaced_and_not_the_other_way_round() {
        let first = Identity::generate();
        let second = Identity::generate().in_place_of(&first);
        let third = Identity::generate().in_place_of(&second);
        let text: Vec<String> = third.each().map(|one| one.to_text().to_string()).collect();
        let read = Identity::parse_file(&format!("# a file\n{}\n# end\n", text.join("\n"))).unwrap();
        let to = |one: &Identity| seal(&To::Recipients(&[one.recipient()]), b"x").unwrap();
        for sealed in [to(&first), to(&second), to(&third)] {
            assert!(open(&With::Identities(std::slice::from_ref(&read)), &sealed).is_ok());
            let keys = FileKeys::default();
            assert!(open(&With::Remembering(std::slice::from_ref(&read), &keys), &sealed).is_ok());
        }
        assert!(open(&With::Identities(&[second, first]), &to(&third)).is_err());
        assert!(open(&With::Identities(&[read.alone()]), &to(&third)).is_ok());
        assert!(Identity::parse_file("# nothing\n").is_none());
        assert!(Identity::parse_file(&format!("{}\n{BEGINS}QQ\n", text[0])).is_none());
    }

    #[test]
    fn a_passphrase_file_opens_with_its_passphrase_only() {
        let sealed = seal(&To::Passphrase("hemp lane fourteen", 8), b"x").unwrap();
        assert!(wants_passphrase(&sealed));
        assert_eq!(&open(&With::Passphrase("hemp lane fourteen"), &sealed).unwrap()[..], b"x");
        assert!(matches!(open(&With::Passphrase("hemp lane fifteen"), &sealed), Err(OpenError::NoKey)));
    }
}

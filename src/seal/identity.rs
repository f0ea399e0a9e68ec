//! Staff identities: what one person opens with and signs with, in one passphrase-sealed file.
//!
//! The opened file is an ordinary age identity file, so a stock age program can use it; the
//! signing key stands in a comment line, which age programs skip.

use super::age_file::{self, Identity, OpenError, To, With};
use super::note::{NoteError, Signer};
use zeroize::Zeroizing;

const SIGNING: &str = "# signing key (Ed25519 seed, base64): ";

/// One person's secrets, opened.
pub struct StaffIdentity {
    /// Staff code; the name in their signature lines.
    pub code: String,
    /// Opens what is sealed to this person.
    pub identity: Identity,
    /// Signs what this person writes.
    pub signer: Signer,
    seed: Zeroizing<[u8; 32]>,
}

impl std::fmt::Debug for StaffIdentity {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "StaffIdentity({}, secret)", self.code)
    }
}

impl StaffIdentity {
    /// A new identity; `seed` is 32 random bytes for the signing key.
    pub fn new(code: &str, seed: Zeroizing<[u8; 32]>) -> Result<Self, NoteError> {
        let signer = Signer::from_seed(code, &seed)?;
        Ok(StaffIdentity { code: code.to_string(), identity: Identity::generate(), signer, seed })
    }

    /// An identity that signs and opens nothing: the identity in it is new, nothing is sealed to it, and it
    /// is kept nowhere. None when the code can't be used in a signature.
    pub fn only_signing(code: &str, seed: Zeroizing<[u8; 32]>) -> Option<Self> {
        StaffIdentity::new(code, seed).ok()
    }

    /// The seed of the signing key, base64.
    pub fn signing_seed(&self) -> Zeroizing<String> {
        Zeroizing::new(data_encoding::BASE64.encode(&self.seed[..]))
    }

    /// The plain text of the identity file.
    pub fn to_text(&self) -> Zeroizing<String> {
        let seed = self.signing_seed();
        Zeroizing::new(format!(
            "# inkfast staff identity v1, code {}\n# keep secret\n{SIGNING}{}\n{}\n",
            self.code,
            seed.as_str(),
            self.identity.to_text().as_str()
        ))
    }

    /// Reads the plain text of an identity file; none when it is not one.
    pub fn from_text(text: &str) -> Option<StaffIdentity> {
        let code = text.lines().next()?.strip_prefix("# inkfast staff identity v1, code ")?;
        let seed_text = text.lines().find_map(|l| l.strip_prefix(SIGNING))?;
        let bytes = Zeroizing::new(data_encoding::BASE64.decode(seed_text.as_bytes()).ok()?);
        let mut seed = Zeroizing::new([0u8; 32]);
        if bytes.len() != seed.len() {
            return None;
        }
        seed.copy_from_slice(&bytes);
        let identity = Identity::parse(text.lines().find(|l| l.starts_with("AGE-SECRET-KEY-1"))?)?;
        let signer = Signer::from_seed(code, &seed).ok()?;
        Some(StaffIdentity { code: code.to_string(), identity, signer, seed })
    }

    /// Seals the identity with a passphrase, and opens the result once to prove that it opens.
    pub fn seal(&self, passphrase: &str, work: u8) -> Result<Vec<u8>, OpenError> {
        let sealed = age_file::seal(&To::Passphrase(passphrase, work), self.to_text().as_bytes())
            .map_err(OpenError::Io)?;
        let again = StaffIdentity::open(&sealed, passphrase)?;
        if again.to_text() != self.to_text() {
            return Err(OpenError::Damaged);
        }
        Ok(sealed)
    }

    /// Opens a sealed identity file.
    pub fn open(sealed: &[u8], passphrase: &str) -> Result<StaffIdentity, OpenError> {
        let plain = age_file::open(&With::Passphrase(passphrase), sealed)?;
        std::str::from_utf8(&plain).ok().and_then(StaffIdentity::from_text).ok_or(OpenError::Damaged)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_identity_comes_back_as_it_was() {
        let me = StaffIdentity::new("IV", Zeroizing::new([9; 32])).unwrap();
        let sealed = me.seal("fourteen hemp lane", 6).unwrap();
        let again = StaffIdentity::open(&sealed, "fourteen hemp lane").unwrap();
        assert_eq!(again.code, "IV");
        assert_eq!(again.signer.vkey(), me.signer.vkey());
        assert!(matches!(StaffIdentity::open(&sealed, "wrong"), Err(OpenError::NoKey)));
        assert!(!format!("{me:?}").contains("AGE-SECRET"));
    }
}

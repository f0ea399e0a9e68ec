//! Cosignatures of witnesses: a line on a checkpoint by which somebody else says that they saw it, and when.
//!
//! C2SP tlog-cosignature v1.0.1 (<https://c2sp.org/tlog-cosignature>), `cosignature/v1`: Ed25519, type `0x04`.
//! The signature is eight bytes of time and then Ed25519 over two lines and the whole text of the note.

use super::key::Cosigned;
use super::{Note, NoteError, Vkey};
use ed25519_dalek::{Signature, VerifyingKey};

/// The public key of a witness.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Cosigner {
    name: String,
    key_id: [u8; 4],
    key: VerifyingKey,
}

impl TryFrom<&Vkey> for Cosigner {
    type Error = NoteError;

    /// Refuses keys of other types than `0x04`, and weak or non-canonical ones.
    fn try_from(vkey: &Vkey) -> Result<Cosigner, NoteError> {
        let Cosigned { name, key_id, key } = vkey.cosigning_key()?;
        Ok(Cosigner { name, key_id, key })
    }
}

impl Cosigner {
    /// When this witness cosigned the note, in POSIX seconds; none when no line is by its key. Where it
    /// signed more than once, the latest time.
    ///
    /// # Errors
    /// [`NoteError::BadSignature`] for the first line by its key that is wrong.
    pub fn check(&self, note: &Note) -> Result<Option<u64>, NoteError> {
        let mut latest = None;
        for (number, line) in note.signatures.iter().enumerate() {
            if line.name != self.name || line.key_id != self.key_id {
                continue;
            }
            let wrong = NoteError::BadSignature(number);
            let (time, signature) = line.bytes.split_first_chunk::<8>().ok_or(wrong.clone())?;
            let time = u64::from_be_bytes(*time);
            let signature = Signature::from_slice(signature).map_err(|_| wrong.clone())?;
            let message = format!("cosignature/v1\ntime {time}\n{}", note.text);
            self.key.verify_strict(message.as_bytes(), &signature).map_err(|_| wrong)?;
            latest = latest.max(Some(time));
        }
        Ok(latest)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use base64::Engine as _;

    /// The example of C2SP tlog-cosignature (its line break inside the second signature taken out).
    const EXAMPLE: &str = "example.com/behind-the-sofa\n20852163\nCsUYapGGPo4dkMgIAUqom/Xajj7h2fB2MPA3j2jxq2I=\n\n\
        \u{2014} example.com/behind-the-sofa Az3grlgtzPICa5OS8npVmf1Myq/5IZniMp+ZJurmRDeOoRDe4URYN7u5/Zhcyv2q1gGzGku9nTo+zyWE+xeMcTOAYQ8=\n\
        \u{2014} witness.example.com/w1 jWbPPwAAAABkGFDLEZMHwSRaJNiIDoe9DYn/zXcrtPHeolMI5OWXEhZCB9dlrDJsX3b2oyin1nPZqhf5nNo0xUe+mbIUBkBIfZ+qnA==\n";

    /// A cosignature over the example's text made by another program (python3-cryptography, OpenSSL's Ed25519)
    /// with the seed of 32 bytes `09` and the example's time; see `cosign` in tests/stranger.rs for the form.
    const KEY: &str = "witness.example.com/w1+4bdc7eaa+BP0XJDhaoMdbZPt4zWAvodmR/ev3axPFjtcC6sg16fYY";
    const LINE: &str = "\u{2014} witness.example.com/w1 S9x+qgAAAABkGFDLSEwbtADY9t5XeSzDTVuiqYN5nZfoc9NQOUgkPYm4wwjIUL68Nczz1tpzCjnpmnRXttgqVVwOg3WfE7AXqa+DAg==";

    fn cosigner() -> Cosigner {
        Cosigner::try_from(&Vkey::parse(KEY).unwrap()).unwrap()
    }

    /// The example's public key is not published; its form and its time are.
    #[test]
    fn the_example_of_the_specification_has_the_form_and_the_time() {
        let note = Note::parse(EXAMPLE.as_bytes()).unwrap();
        let line = &note.signatures[1];
        assert_eq!((line.name.as_str(), line.bytes.len()), ("witness.example.com/w1", 72));
        assert_eq!(line.bytes[..8], 1_679_315_147u64.to_be_bytes());
        assert_eq!(cosigner().check(&note), Ok(None), "another key of that name is no cosigner of it");
    }

    #[test]
    fn a_cosignature_by_another_program_counts() {
        let note = Note::parse(format!("{EXAMPLE}{LINE}\n").as_bytes()).unwrap();
        assert_eq!(cosigner().check(&note), Ok(Some(1_679_315_147)));
    }

    #[test]
    fn a_changed_cosignature_time_or_text_does_not_count() {
        let whole = format!("{EXAMPLE}{LINE}\n");
        let good = Note::parse(whole.as_bytes()).unwrap();
        for at in 0..72 {
            let mut bent = good.clone();
            bent.signatures[2].bytes[at] ^= 1;
            assert_eq!(cosigner().check(&bent), Err(NoteError::BadSignature(2)), "byte {at}");
        }
        let other = Note::parse(whole.replace("20852163", "20852164").as_bytes()).unwrap();
        assert_eq!(cosigner().check(&other), Err(NoteError::BadSignature(2)));
        for length in [0, 1, 7, 8, 71, 73] {
            let mut short = good.clone();
            short.signatures[2].bytes.resize(length, 0);
            assert_eq!(cosigner().check(&short), Err(NoteError::BadSignature(2)), "{length} bytes");
        }
    }

    #[test]
    fn only_keys_of_witnesses_are_taken() {
        let typed = [&[1u8], [7; 32].as_slice()].concat();
        let base64 = base64::engine::general_purpose::STANDARD.encode(typed);
        let other = Vkey::parse(&format!("log.example+00000000+{base64}"));
        assert_eq!(other, Err(NoteError::KeyId));
        let log = crate::seal::note::Signer::from_seed("log.example", &[3; 32]).unwrap();
        assert_eq!(Cosigner::try_from(&Vkey::from(log.verifier())), Err(NoteError::KeyType(1)));
    }
}

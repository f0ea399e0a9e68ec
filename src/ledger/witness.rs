//! Asking a witness to sign a checkpoint: the messages of C2SP tlog-witness v1.0.0
//! (<https://c2sp.org/tlog-witness>), `add-checkpoint`, as bytes. Nothing is sent here.

use super::checkpoint::Checkpoint;
use super::tree::{Hash, LeafHashes, consistency_proof};
use crate::seal::note::{Cosigner, Note, SignatureLine};
use base64::Engine as _;

/// The most hashes a request may hold, by the specification.
const MAX_HASHES: usize = 63;

/// The longest answer that is read, in bytes: sixteen signature lines take less than 4,000.
pub const MAX_ANSWER: u64 = 64 << 10;

/// What a witness answered.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Answer {
    /// It signed: its line, checked, and the time in it (POSIX seconds).
    Signed(SignatureLine, u64),
    /// It saw another size last than the request said (409).
    Saw(u64),
    /// It refuses, or what it sent is not an answer.
    Refused(Refusal),
}

/// Why nothing came of it. The words are for the person at the desk.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum Refusal {
    /// 404.
    #[error("it does not know this ledger (404); the ledger's key has to be made known to whoever keeps it")]
    Unknown,
    /// 403.
    #[error("it does not take this ledger's signature (403); it may know another key of the same name")]
    Signature,
    /// 422.
    #[error("it saw another ledger under this name: the proof does not hold with what it saw (422)")]
    Proof,
    /// 400.
    #[error("it takes the request for malformed (400)")]
    Malformed,
    /// Any other status.
    #[error("it answered with status {0}")]
    Status(u16),
    /// It says 409 and no size, or the very size that was asked from.
    #[error("it says that it saw another size, and does not say which (409)")]
    NoSize,
    /// It signed, and the line is not right.
    #[error("its signature is wrong")]
    WrongSignature,
    /// It says that it signed, and no line is by its key.
    #[error("its answer holds no signature by its key")]
    NoSignature,
    /// It saw more entries than the ledger has.
    #[error(
        "it saw {0} entries, which is more than this ledger has: this is an older copy, or the ledger was cut"
    )]
    Ahead(u64),
    /// It names another size every time it is asked.
    #[error("it names another size each time it is asked")]
    Unsteady,
    /// It could not be reached in time.
    #[error("it could not be reached, or its answer could not be read: {0}")]
    Unreachable(String),
    /// Its key is of a kind that can't be checked here.
    #[error("its key is of a kind that this program can't check")]
    UnknownKey,
    /// The policy gives no address, or one that may not be used.
    #[error("{0}")]
    Address(&'static str),
}

/// The request for a checkpoint from a size on that the witness saw last (0: none). None when there is
/// no proof from that size, or it is too long.
pub fn request(old: u64, newest: &Checkpoint, note: &[u8], leaves: &[Hash]) -> Option<Vec<u8>> {
    let proof = match old {
        0 => Vec::new(),
        _ => consistency_proof(old, newest.size, &LeafHashes(leaves)).ok()?,
    };
    if proof.len() > MAX_HASHES {
        return None;
    }
    let base64 = base64::engine::general_purpose::STANDARD;
    let lines: String = proof.iter().map(|hash| base64.encode(hash) + "\n").collect();
    Some([format!("old {old}\n{lines}\n").as_bytes(), note].concat())
}

/// Reads an answer to a request from `old` on. The signature is checked over the checkpoint as it was sent.
pub fn read(status: u16, body: &[u8], old: u64, sent: &Note, key: &Cosigner) -> Answer {
    match status {
        200 => signed(body, sent, key).unwrap_or_else(Answer::Refused),
        409 => match size(body).filter(|size| *size != old) {
            Some(size) => Answer::Saw(size),
            None => Answer::Refused(Refusal::NoSize),
        },
        400 => Answer::Refused(Refusal::Malformed),
        403 => Answer::Refused(Refusal::Signature),
        404 => Answer::Refused(Refusal::Unknown),
        422 => Answer::Refused(Refusal::Proof),
        other => Answer::Refused(Refusal::Status(other)),
    }
}

/// A size as it stands alone in an answer: digits, no leading zero, one line end.
fn size(body: &[u8]) -> Option<u64> {
    let text = std::str::from_utf8(body).ok()?.strip_suffix('\n')?;
    let size: u64 = text.parse().ok()?;
    (size.to_string() == text).then_some(size)
}

fn signed(body: &[u8], sent: &Note, key: &Cosigner) -> Result<Answer, Refusal> {
    let whole = [sent.text.as_bytes(), b"\n", body].concat();
    let answer = Note::parse(&whole).map_err(|_| Refusal::NoSignature)?;
    if answer.text != sent.text {
        return Err(Refusal::NoSignature);
    }
    let mut newest = None;
    for line in answer.signatures {
        let alone = Note { text: sent.text.clone(), signatures: vec![line.clone()] };
        match key.check(&alone) {
            Ok(None) => {}
            Ok(Some(time)) if newest.as_ref().is_none_or(|(_, best)| time > *best) => {
                newest = Some((line, time))
            }
            Ok(Some(_)) => {}
            Err(_) => return Err(Refusal::WrongSignature),
        }
    }
    newest.map(|(line, time)| Answer::Signed(line, time)).ok_or(Refusal::NoSignature)
}

/// Whether an address may be used: https anywhere, plain http only to this very computer.
///
/// # Errors
/// [`Refusal::Address`] with the reason.
pub fn allowed(url: &str) -> Result<(), Refusal> {
    if url.starts_with("https://") {
        return Ok(());
    }
    let rest =
        url.strip_prefix("http://").ok_or(Refusal::Address("its address is neither https:// nor http://"))?;
    let authority = rest.split(['/', '?', '#']).next().unwrap_or_default();
    let host = match authority.strip_prefix('[') {
        Some(v6) => v6.split(']').next().unwrap_or_default(),
        None => authority.rsplit_once(':').map_or(authority, |(host, _)| host),
    };
    let here = host == "localhost" || host.parse::<std::net::IpAddr>().is_ok_and(|ip| ip.is_loopback());
    if here && !authority.contains('@') {
        Ok(())
    } else {
        Err(Refusal::Address("plain http:// is used only to this very computer; elsewhere it takes https://"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ledger::tree::{leaf_hash, root};
    use crate::seal::note::{Signer, Vkey};

    fn leaves(count: u8) -> Vec<Hash> {
        (0..count).map(|n| leaf_hash(&[n])).collect()
    }

    fn checkpoint(size: u8) -> (Checkpoint, Vec<u8>) {
        let signer = Signer::from_seed("ledger.example", &[1; 32]).unwrap();
        let checkpoint =
            Checkpoint { origin: "ledger.example".into(), size: size.into(), root: root(&leaves(size)) };
        let note = checkpoint.sign(&signer).unwrap().into_bytes();
        (checkpoint, note)
    }

    /// "The request body MUST be a sequence of - a previous size line, - zero or more consistency proof lines, -
    /// and an empty line, - followed by a checkpoint" (C2SP tlog-witness, add-checkpoint).
    #[test]
    fn the_request_is_as_the_specification_says() {
        let (newest, note) = checkpoint(7);
        let said = |old| request(old, &newest, &note, &leaves(7)).map(|b| String::from_utf8(b).unwrap());
        let note = String::from_utf8(note.clone()).unwrap();
        assert_eq!(said(0).unwrap(), format!("old 0\n\n{note}"));
        assert_eq!(said(7).unwrap(), format!("old 7\n\n{note}"));
        let six = said(6).unwrap();
        assert_eq!(six.lines().take_while(|line| !line.is_empty()).count(), 4, "{six}");
        assert_eq!(said(8), None);
    }

    #[test]
    fn answers_without_a_right_signature_are_refused() {
        let (_, note) = checkpoint(7);
        let sent = Note::parse(&note).unwrap();
        let key = "witness.example.com/w1+4bdc7eaa+BP0XJDhaoMdbZPt4zWAvodmR/ev3axPFjtcC6sg16fYY";
        let key = Cosigner::try_from(&Vkey::parse(key).unwrap()).unwrap();
        let said = |status, body: &[u8]| read(status, body, 3, &sent, &key);
        // A line by that key over another checkpoint (see the tests of cosignatures).
        let other = "\u{2014} witness.example.com/w1 S9x+qgAAAABkGFDLSEwbtADY9t5XeSzDTVuiqYN5nZfoc9NQOUgkPYm4wwjIUL68Nczz1tpzCjnpmnRXttgqVVwOg3WfE7AXqa+DAg==\n";
        assert_eq!(said(200, other.as_bytes()), Answer::Refused(Refusal::WrongSignature));
        for none in [b"".as_slice(), b"\n", b"welcome\n", b"\xff\xfe", b"4\n", &note] {
            assert_eq!(said(200, none), Answer::Refused(Refusal::NoSignature), "{none:?}");
        }
        assert_eq!(said(409, b"5\n"), Answer::Saw(5));
        for wrong in [b"".as_slice(), b"5", b"05\n", b"-1\n", b"five\n", b"3\n", b"99999999999999999999\n"] {
            assert_eq!(said(409, wrong), Answer::Refused(Refusal::NoSize), "{wrong:?}");
        }
        let refused = [400, 403, 404, 422, 500, 301].map(|status| said(status, b""));
        assert!(refused.iter().all(|answer| matches!(answer, Answer::Refused(_))));
    }

    #[test]
    fn plain_http_goes_nowhere_but_here() {
        for good in ["https://w.example/x", "http://127.0.0.1:9/", "http://localhost", "http://[::1]:80/w"] {
            assert_eq!(allowed(good), Ok(()), "{good}");
        }
        for bad in [
            "http://w.example",
            "http://10.0.0.1",
            "http://127.0.0.1@w.example/",
            "http://localhost.w.example",
            "ftp://localhost",
            "w.example",
            "",
        ] {
            assert!(allowed(bad).is_err(), "{bad}");
        }
    }

    /// Of several lines by one witness the newest counts, wherever it stands (C2SP tlog-cosignature: the signature
    /// is over "cosignature/v1", the time and the checkpoint).
    #[test]
    fn the_newest_of_several_lines_counts() {
        use base64::Engine as _;
        use ed25519_dalek::{Signer as _, SigningKey};
        use sha2::{Digest as _, Sha256};
        let base64 = base64::engine::general_purpose::STANDARD;
        let signing = SigningKey::from_bytes(&[7; 32]);
        let typed = [&[4u8], signing.verifying_key().as_bytes().as_slice()].concat();
        let id = &Sha256::digest([b"w.example\n", typed.as_slice()].concat())[..4];
        let vkey = format!("w.example+{}+{}", data_encoding::HEXLOWER.encode(id), base64.encode(&typed));
        let key = Cosigner::try_from(&Vkey::parse(&vkey).unwrap()).unwrap();
        let (checkpoint, note) = checkpoint(7);
        let sent = Note::parse(&note).unwrap();
        let line = |time: u64| {
            let message = format!("cosignature/v1\ntime {time}\n{}", checkpoint.to_text());
            let signature = signing.sign(message.as_bytes()).to_bytes();
            let bytes = [id, &time.to_be_bytes(), &signature].concat();
            format!("\u{2014} w.example {}\n", base64.encode(bytes))
        };
        let time_of = |times: &[u64]| {
            let body: String = times.iter().map(|time| line(*time)).collect();
            match read(200, body.as_bytes(), 3, &sent, &key) {
                Answer::Signed(kept, time) => {
                    let alone = Note { text: sent.text.clone(), signatures: vec![kept] };
                    assert_eq!(key.check(&alone).unwrap(), Some(time), "the line is that time's");
                    time
                }
                other => panic!("{other:?}"),
            }
        };
        let (early, late) = (1_700_000_000, 1_700_000_100);
        for times in [vec![late], vec![early, late], vec![late, early], vec![early, late, early]] {
            assert_eq!(time_of(&times), late, "{times:?}");
        }
    }
}

//! What a body holds: a marker line, the opening, the plain record bytes.
//!
//! The opening is 32 random bytes. The leaf names the record by BLAKE3 keyed with it, so a leaf
//! alone can't be guessed at, and one record can be shown together with its opening and checked
//! against its leaf without any key. A sealed body is an age file of these bytes; an open body
//! (public keys only) is these bytes as they are.

use zeroize::Zeroizing;

/// The first line of every body.
pub const MARKER: &[u8] = b"inkfast-body/v1\n";

/// A body taken apart.
#[derive(Clone, PartialEq, Eq)]
pub struct Body {
    /// The opening that the leaf's `commit` is keyed with.
    pub opening: [u8; 32],
    /// The record, as stored.
    pub record: Zeroizing<Vec<u8>>,
}

impl Body {
    /// The bytes before sealing.
    pub fn to_bytes(&self) -> Zeroizing<Vec<u8>> {
        let mut out = Zeroizing::new(Vec::with_capacity(MARKER.len() + 65 + self.record.len()));
        out.extend_from_slice(MARKER);
        out.extend_from_slice(hex(&self.opening).as_bytes());
        out.push(b'\n');
        out.extend_from_slice(&self.record);
        out
    }

    /// Takes opened bytes apart; none when they are not a body of this edition.
    pub fn from_bytes(bytes: &[u8]) -> Option<Body> {
        let rest = bytes.strip_prefix(MARKER)?;
        if rest.len() < 65 || rest[64] != b'\n' {
            return None;
        }
        let opening = unhex32(std::str::from_utf8(&rest[..64]).ok()?)?;
        Some(Body { opening, record: Zeroizing::new(rest[65..].to_vec()) })
    }

    /// What the leaf's `commit` must say.
    pub fn commitment(&self) -> [u8; 32] {
        commitment(&self.opening, &self.record)
    }
}

/// BLAKE3 of the record bytes, keyed with the opening.
pub fn commitment(opening: &[u8; 32], record: &[u8]) -> [u8; 32] {
    *blake3::keyed_hash(opening, record).as_bytes()
}

/// Lower-case hex.
pub fn hex(bytes: &[u8]) -> String {
    data_encoding::HEXLOWER.encode(bytes)
}

/// Exactly 64 lower-case hex digits.
pub fn unhex32(text: &str) -> Option<[u8; 32]> {
    data_encoding::HEXLOWER.decode(text.as_bytes()).ok()?.try_into().ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_body_comes_apart_as_it_was_put_together() {
        let body = Body { opening: [7; 32], record: Zeroizing::new(b"{\"a\":\n\n1}".to_vec()) };
        let again = Body::from_bytes(&body.to_bytes()).unwrap();
        assert!(again == body);
        assert_ne!(body.commitment(), *blake3::hash(&body.record).as_bytes());
        for cut in [0, 15, 16, 79, 80] {
            assert!(Body::from_bytes(&body.to_bytes()[..cut]).is_none());
        }
    }
}

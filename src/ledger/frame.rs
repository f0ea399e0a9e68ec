//! Frames: how entries and checkpoints lie in a segment file.
//!
//! A frame is a 16-byte header and up to two payloads: magic (4 bytes), length of the first and
//! of the second payload (u32, little-endian), and the first 4 bytes of the BLAKE3 of those 12
//! bytes. The check makes a frame findable again behind damaged bytes; integrity does not rest on it.

use super::leaf::MAX_LEAF;

/// Length of a frame header in bytes.
pub const HEADER: usize = 16;
/// The longest body in bytes.
pub const MAX_BODY: usize = 4 << 20;
/// The longest checkpoint or segment head in bytes.
pub const MAX_NOTE: usize = 16 << 10;

/// What a frame holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FrameKind {
    /// The head of a segment: which ledger, which segment.
    Segment,
    /// A leaf and a body.
    Entry,
    /// A checkpoint over all entries before it.
    Checkpoint,
}

impl FrameKind {
    fn magic(self) -> &'static [u8; 4] {
        match self {
            FrameKind::Segment => b"IFs1",
            FrameKind::Entry => b"IFe1",
            FrameKind::Checkpoint => b"IFc1",
        }
    }
    fn from_magic(magic: &[u8]) -> Option<FrameKind> {
        [FrameKind::Segment, FrameKind::Entry, FrameKind::Checkpoint].into_iter().find(|k| k.magic() == magic)
    }
    fn limits(self) -> (usize, usize) {
        match self {
            FrameKind::Entry => (MAX_LEAF, MAX_BODY),
            FrameKind::Segment | FrameKind::Checkpoint => (MAX_NOTE, 0),
        }
    }
}

/// A frame header, checked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Header {
    /// What follows.
    pub kind: FrameKind,
    /// Length of the leaf, checkpoint or segment head.
    pub first: usize,
    /// Length of the body; 0 where there is none.
    pub second: usize,
}

impl Header {
    /// Length of the whole frame.
    pub fn frame_len(&self) -> usize {
        HEADER + self.first + self.second
    }

    /// Reads a header; none when the bytes are not one or a length is beyond its limit.
    pub fn read(bytes: &[u8]) -> Option<Header> {
        let header = bytes.get(..HEADER)?;
        let kind = FrameKind::from_magic(&header[..4])?;
        if header[12..16] != check(&header[..12]) {
            return None;
        }
        let number = |at: usize| -> Option<usize> {
            Some(u32::from_le_bytes(header.get(at..at + 4)?.try_into().ok()?) as usize)
        };
        let (first, second) = (number(4)?, number(8)?);
        let (most_first, most_second) = kind.limits();
        (first <= most_first && second <= most_second).then_some(Header { kind, first, second })
    }
}

fn check(head: &[u8]) -> [u8; 4] {
    let digest = blake3::hash(head);
    let b = digest.as_bytes();
    [b[0], b[1], b[2], b[3]]
}

/// Appends a frame to `out`.
pub fn write(out: &mut Vec<u8>, kind: FrameKind, first: &[u8], second: &[u8]) {
    let start = out.len();
    out.extend_from_slice(kind.magic());
    out.extend_from_slice(&(first.len() as u32).to_le_bytes());
    out.extend_from_slice(&(second.len() as u32).to_le_bytes());
    let check = check(&out[start..start + 12]);
    out.extend_from_slice(&check);
    out.extend_from_slice(first);
    out.extend_from_slice(second);
}

/// The first place at or after `from` where a whole frame lies within `bytes`.
pub fn find_next(bytes: &[u8], from: usize) -> Option<(usize, Header)> {
    let mut at = from;
    while at + HEADER <= bytes.len() {
        if bytes[at] == b'I'
            && bytes[at + 1] == b'F'
            && let Some(header) = Header::read(&bytes[at..])
            && header.frame_len() <= bytes.len() - at
        {
            return Some((at, header));
        }
        at += 1;
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_frame_is_read_as_written_and_any_header_bit_matters() {
        let mut out = Vec::new();
        write(&mut out, FrameKind::Entry, b"leaf", b"body!");
        let header = Header::read(&out).unwrap();
        assert_eq!((header.kind, header.first, header.second), (FrameKind::Entry, 4, 5));
        assert_eq!(header.frame_len(), out.len());
        for bit in 0..HEADER * 8 {
            let mut bent = out.clone();
            bent[bit / 8] ^= 1 << (bit % 8);
            assert_eq!(Header::read(&bent), None, "bit {bit}");
        }
    }

    #[test]
    fn a_frame_is_found_again_behind_rubbish() {
        let mut out = b"IFe1 not a header IF".to_vec();
        let at = out.len();
        write(&mut out, FrameKind::Checkpoint, b"note", b"");
        assert_eq!(find_next(&out, 0).unwrap().0, at);
        assert_eq!(find_next(&out[..out.len() - 1], 0), None);
    }

    /// A header with these lengths in it, and the right check bytes.
    fn header(kind: FrameKind, first: usize, second: usize) -> Option<Header> {
        let mut bytes = kind.magic().to_vec();
        bytes.extend((first as u32).to_le_bytes());
        bytes.extend((second as u32).to_le_bytes());
        bytes.extend(check(&bytes));
        Header::read(&bytes)
    }

    #[test]
    fn neither_length_goes_beyond_its_limit() {
        for kind in [FrameKind::Entry, FrameKind::Segment, FrameKind::Checkpoint] {
            let (first, second) = kind.limits();
            assert_eq!(header(kind, first, second), Some(Header { kind, first, second }));
            assert_eq!(header(kind, first + 1, 0), None, "{kind:?}");
            assert_eq!(header(kind, 0, second + 1), None, "{kind:?}");
        }
        assert_eq!(FrameKind::Entry.limits(), (65_535, MAX_BODY));
    }
}

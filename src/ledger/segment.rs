//! Segment files: their names, their heads, and walking through all of them in order.

use super::frame::{self, FrameKind, HEADER, Header};
use super::leaf::Digest;
use crate::seal::body::hex;
use crate::trouble::{Outcome, Trouble};
use crate::world::Disk;
use std::path::{Path, PathBuf};

/// Length of a new segment in bytes, zeros written in advance so that an append does not
/// have to change the file's length.
pub const SEGMENT_BYTES: u64 = 8 << 20;
/// The longest segment this program reads.
pub const MAX_SEGMENT_BYTES: u64 = 256 << 20;

/// File name of a segment: `000001.seg`.
pub fn file_name(number: u32) -> String {
    format!("{number:06}.seg")
}

/// Number of the segment whose file has this name; none where it is no segment's.
pub fn number_of(name: &str) -> Option<u32> {
    let number = name.strip_suffix(".seg")?.parse().ok()?;
    (number >= 1 && name == file_name(number)).then_some(number)
}

/// Path of a segment in a ledger folder.
pub fn path(dir: &Path, number: u32) -> PathBuf {
    dir.join(file_name(number))
}

/// The head of a segment: its first frame, six lines of text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Head {
    /// Origin of the ledger.
    pub origin: String,
    /// Number of the segment, from 1.
    pub number: u32,
    /// Length of the whole file in bytes.
    pub bytes: u64,
    /// Number of the first entry it may hold.
    pub first_seq: u64,
    /// BLAKE3 of the leaf before that; none in the first segment.
    pub prev: Option<Digest>,
}

impl Head {
    /// The text of the head.
    pub fn to_text(&self) -> String {
        let prev = self.prev.map_or("-".to_string(), |d| hex(&d));
        format!(
            "inkfast-segment/v1\n{}\nsegment {}\nbytes {}\nfirst {}\nprev {prev}\n",
            self.origin, self.number, self.bytes, self.first_seq
        )
    }

    /// Reads a head; none when it is not exactly what [`Head::to_text`] writes.
    pub fn from_text(text: &[u8]) -> Option<Head> {
        let text = std::str::from_utf8(text).ok()?;
        let mut lines = text.lines();
        let mut next = |word: &str| lines.next().and_then(|l| l.strip_prefix(word)).map(str::to_string);
        next("inkfast-segment/v1").filter(String::is_empty)?;
        let origin = next("")?;
        let number = next("segment ")?.parse().ok()?;
        let bytes = next("bytes ")?.parse().ok()?;
        let first_seq = next("first ")?.parse().ok()?;
        let prev = match next("prev ")?.as_str() {
            "-" => None,
            digest => Some(crate::seal::body::unhex32(digest)?),
        };
        let head = Head { origin, number, bytes, first_seq, prev };
        (head.to_text() == text).then_some(head)
    }
}

/// Something met while walking through the segments in order.
#[derive(Debug)]
pub enum Piece<'a> {
    /// A segment's head.
    Head(Head),
    /// An entry frame.
    Entry {
        /// Place of the frame.
        at: Place,
        /// The leaf as stored.
        leaf: &'a [u8],
        /// The body as stored.
        body: &'a [u8],
    },
    /// A checkpoint frame.
    Checkpoint {
        /// Place of the frame.
        at: Place,
        /// The note as stored.
        note: &'a [u8],
        /// First byte behind the frame.
        end: u64,
    },
    /// Bytes that are no frame although frames follow, or a file that is not as it must be.
    Bad {
        /// Where it begins.
        at: Place,
        /// How many bytes.
        len: u64,
        /// What is wrong.
        why: Bad,
    },
    /// Bytes behind the last whole frame of a segment that are not all zero.
    Rest {
        /// Where the frames end.
        at: Place,
        /// The bytes up to the last one that is not zero.
        bytes: &'a [u8],
    },
}

/// A place in the ledger folder.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Place {
    /// Number of the segment.
    pub segment: u32,
    /// Offset in its file, in bytes.
    pub offset: u64,
}

/// What can be wrong with a segment as a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Bad {
    /// Bytes between frames that are no frame.
    NoFrame,
    /// The segment does not begin with its head, or the head is another segment's.
    Head,
    /// The file is not as long as its head says.
    Length,
    /// The file is missing although later ones are there.
    Missing,
    /// A file in the ledger folder that does not belong there.
    Stranger,
}

/// Walks through every segment in order and hands each piece to `visit`. Only a failing disk
/// is an error; whatever the bytes are, they end up as pieces. `progress` gets the bytes read.
pub fn walk(
    disk: &dyn Disk,
    dir: &Path,
    origin: &str,
    progress: &mut dyn FnMut(u64),
    visit: &mut dyn FnMut(Piece<'_>) -> Outcome<()>,
) -> Outcome<()> {
    walk_segments(disk, dir, origin, None, progress, visit)
}

/// As [`walk`], from a place at which a frame ends: what lies before it is not read.
pub fn walk_from(
    disk: &dyn Disk,
    dir: &Path,
    origin: &str,
    from: Place,
    progress: &mut dyn FnMut(u64),
    visit: &mut dyn FnMut(Piece<'_>) -> Outcome<()>,
) -> Outcome<()> {
    walk_segments(disk, dir, origin, Some(from), progress, visit)
}

fn walk_segments(
    disk: &dyn Disk,
    dir: &Path,
    origin: &str,
    from: Option<Place>,
    progress: &mut dyn FnMut(u64),
    visit: &mut dyn FnMut(Piece<'_>) -> Outcome<()>,
) -> Outcome<()> {
    let names = disk.list(dir).map_err(|e| Trouble::disk("read the folder", dir, &e))?;
    let mut numbers: Vec<u32> = Vec::new();
    for name in &names {
        match number_of(name) {
            Some(number) => numbers.push(number),
            // A segment that was being prepared when the power went: no acknowledged byte is in it.
            _ if name.ends_with(".seg.part") => {}
            _ => visit(bad(0, 0, 0, Bad::Stranger))?,
        }
    }
    numbers.sort_unstable();
    let last = numbers.last().copied().unwrap_or(0);
    for number in 1..=last {
        if numbers.binary_search(&number).is_err() {
            visit(bad(number, 0, 0, Bad::Missing))?;
            continue;
        }
        let start = match from {
            Some(from) if number < from.segment => continue,
            Some(from) if number == from.segment => from.offset,
            _ => 0,
        };
        let bytes = read_segment(disk, &path(dir, number), start)?;
        progress(bytes.len() as u64);
        match start {
            0 => walk_segment(&bytes, number, origin, visit)?,
            _ => walk_frames(&bytes, 0, Place { segment: number, offset: start }, visit)?,
        }
    }
    Ok(())
}

fn bad<'a>(segment: u32, offset: u64, len: u64, why: Bad) -> Piece<'a> {
    Piece::Bad { at: Place { segment, offset }, len, why }
}

/// True when nothing was written there. Compared block by block: most of a segment is zeros.
pub fn all_zero(bytes: &[u8]) -> bool {
    const ZEROS: [u8; 4096] = [0; 4096];
    bytes.chunks(ZEROS.len()).all(|block| block == &ZEROS[..block.len()])
}

fn read_segment(disk: &dyn Disk, path: &Path, start: u64) -> Outcome<Vec<u8>> {
    let too_long = |e: std::io::Error| Trouble::disk("read", path, &e);
    let file = disk.open(path, false).map_err(too_long)?;
    let len = file.len().map_err(too_long)?;
    // A file longer than any segment is read as far as a segment can reach; its length is a finding.
    let mut bytes = vec![0; len.min(MAX_SEGMENT_BYTES).saturating_sub(start) as usize];
    file.read_at(&mut bytes, start).map_err(too_long)?;
    Ok(bytes)
}

fn walk_segment(
    bytes: &[u8],
    number: u32,
    origin: &str,
    visit: &mut dyn FnMut(Piece<'_>) -> Outcome<()>,
) -> Outcome<()> {
    let mut at = 0usize;
    match Header::read(bytes).filter(|h| h.kind == FrameKind::Segment && h.frame_len() <= bytes.len()) {
        Some(header) => {
            at = header.frame_len();
            match Head::from_text(&bytes[HEADER..at]).filter(|h| h.number == number && h.origin == origin) {
                Some(head) => {
                    if head.bytes != bytes.len() as u64 {
                        visit(bad(number, bytes.len() as u64, 0, Bad::Length))?;
                    }
                    visit(Piece::Head(head))?;
                }
                None => visit(bad(number, 0, at as u64, Bad::Head))?,
            }
        }
        None => visit(bad(number, 0, 0, Bad::Head))?,
    }
    walk_frames(bytes, at, Place { segment: number, offset: 0 }, visit)
}

/// Hands over the frames in `bytes` from `at` on; `first` is the place of the first of these bytes.
fn walk_frames(
    bytes: &[u8],
    mut at: usize,
    first: Place,
    visit: &mut dyn FnMut(Piece<'_>) -> Outcome<()>,
) -> Outcome<()> {
    let number = first.segment;
    while at < bytes.len() && !all_zero(&bytes[at..]) {
        let place = Place { segment: number, offset: first.offset + at as u64 };
        let here = Header::read(&bytes[at..]).filter(|h| h.frame_len() <= bytes.len() - at);
        match here {
            Some(header) if header.kind != FrameKind::Segment => {
                let part = &bytes[at + HEADER..at + HEADER + header.first];
                let end = at + header.frame_len();
                visit(match header.kind {
                    FrameKind::Entry => {
                        Piece::Entry { at: place, leaf: part, body: &bytes[at + HEADER + header.first..end] }
                    }
                    _ => Piece::Checkpoint { at: place, note: part, end: first.offset + end as u64 },
                })?;
                at = end;
            }
            _ => match frame::find_next(bytes, at + 1) {
                Some((next, _)) => {
                    visit(Piece::Bad { at: place, len: (next - at) as u64, why: Bad::NoFrame })?;
                    at = next;
                }
                None => {
                    if let Some(last) = bytes[at..].iter().rposition(|b| *b != 0) {
                        visit(Piece::Rest { at: place, bytes: &bytes[at..=at + last] })?;
                    }
                    break;
                }
            },
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_head_is_read_only_as_it_is_written() {
        let head =
            Head { origin: "ledger-x".into(), number: 2, bytes: 4096, first_seq: 9, prev: Some([3; 32]) };
        let text = head.to_text();
        assert_eq!(Head::from_text(text.as_bytes()), Some(head));
        for i in 0..text.len() {
            let mut bent = text.clone().into_bytes();
            bent[i] ^= 0x20;
            assert_ne!(Head::from_text(&bent).map(|h| h.to_text()), Some(text.clone()), "byte {i}");
        }
        assert_eq!(Head::from_text(text.replace("segment 2", "segment 02").as_bytes()), None);
    }

    const ORIGIN: &str = "ledger-x";

    fn head(number: u32, bytes: usize) -> Vec<u8> {
        let head = Head { origin: ORIGIN.into(), number, bytes: bytes as u64, first_seq: 1, prev: None };
        let mut out = Vec::new();
        frame::write(&mut out, FrameKind::Segment, head.to_text().as_bytes(), &[]);
        out
    }

    fn entry(out: &mut Vec<u8>) {
        frame::write(out, FrameKind::Entry, b"leaf", b"body!");
    }

    fn checkpoint(out: &mut Vec<u8>) {
        frame::write(out, FrameKind::Checkpoint, b"note", &[]);
    }

    /// A piece in a few words, its place and length with it.
    fn told(piece: &Piece<'_>) -> String {
        match piece {
            Piece::Head(head) => format!("head {}", head.number),
            Piece::Entry { at, leaf, body } => format!("entry {} {}+{}", at.offset, leaf.len(), body.len()),
            Piece::Checkpoint { at, note, end } => format!("checkpoint {} {} {end}", at.offset, note.len()),
            Piece::Bad { at, len, why } => format!("{why:?} {}.{} {len}", at.segment, at.offset),
            Piece::Rest { at, bytes } => format!("rest {} {}", at.offset, bytes.len()),
        }
    }

    fn walked(bytes: &[u8], number: u32, origin: &str) -> Vec<String> {
        let mut pieces = Vec::new();
        walk_segment(bytes, number, origin, &mut |piece| {
            pieces.push(told(&piece));
            Ok(())
        })
        .unwrap();
        pieces
    }

    #[test]
    fn a_segment_is_walked_frame_by_frame_and_what_is_none_is_named() {
        let first = head(1, 4096).len();
        let (long, short) = (HEADER + 9, HEADER + 4);
        let mut sound = head(1, 4096);
        entry(&mut sound);
        checkpoint(&mut sound);
        let end = sound.len();
        sound.resize(4096, 0);
        let frames = [format!("entry {first} 4+5"), format!("checkpoint {} 4 {end}", first + long)];
        assert_eq!(walked(&sound, 1, ORIGIN), [&["head 1".to_string()], &frames[..]].concat());
        for (number, origin) in [(2, ORIGIN), (1, "ledger-y")] {
            let other = [&[format!("Head {number}.0 {first}")], &frames[..]].concat();
            assert_eq!(walked(&sound, number, origin), other);
        }
        // Not as long as its head says; frames up to its last byte.
        let length = [&[format!("Length 1.{end} 0"), "head 1".to_string()], &frames[..]].concat();
        assert_eq!(walked(&sound[..end], 1, ORIGIN), length);
        // No head in front, and a head cut short.
        assert_eq!(walked(&sound[first..end], 1, ORIGIN)[..2], ["Head 1.0 0", "entry 0 4+5"]);
        let cut = ["Head 1.0 0".to_string(), format!("rest 0 {}", first - 1)];
        assert_eq!(walked(&sound[..first - 1], 1, ORIGIN), cut);
        // Rubbish, a second head and a frame that reaches beyond the end are no frames of a segment's.
        let mut spoiled = sound[..first].to_vec();
        spoiled.extend(b"IFx");
        checkpoint(&mut spoiled);
        spoiled.extend(head(1, 4096));
        checkpoint(&mut spoiled);
        spoiled.extend(&sound[first..first + long - 1]);
        spoiled.resize(4096, 0);
        spoiled.splice(first + 3 + 2 * short + first + long - 1.., []);
        let second = first + 3 + short;
        let found = walked(&spoiled, 1, ORIGIN);
        let expected = [
            format!("Length 1.{} 0", spoiled.len()),
            "head 1".to_string(),
            format!("NoFrame 1.{first} 3"),
            format!("checkpoint {} 4 {second}", first + 3),
            format!("NoFrame 1.{second} {first}"),
            format!("checkpoint {} 4 {}", second + first, second + first + short),
            format!("rest {} {}", second + first + short, long - 1),
        ];
        assert_eq!(found, expected);
    }

    #[test]
    fn a_folder_is_walked_in_order_from_where_it_is_asked() {
        let dir = tempfile::tempdir().unwrap();
        let write = |name: &str, bytes: &[u8]| std::fs::write(dir.path().join(name), bytes).unwrap();
        let segment = |number: u32| {
            let mut bytes = head(number, 1000);
            checkpoint(&mut bytes);
            bytes.resize(1000, 0);
            bytes
        };
        for number in [1, 2, 4] {
            write(&file_name(number), &segment(number));
        }
        let end = head(1, 1000).len() + HEADER + 4;
        let (mut read, disk) = (0, crate::world::RealDisk);
        let mut from = |place: Option<Place>| {
            let (mut pieces, mut progress) = (Vec::new(), |bytes| read += bytes);
            let mut visit = |piece: Piece<'_>| {
                pieces.push(told(&piece));
                Ok(())
            };
            match place {
                None => walk(&disk, dir.path(), ORIGIN, &mut progress, &mut visit),
                Some(place) => walk_from(&disk, dir.path(), ORIGIN, place, &mut progress, &mut visit),
            }
            .unwrap();
            pieces
        };
        let check = format!("checkpoint {} 4 {end}", end - HEADER - 4);
        let whole = |number: u32| vec![format!("head {number}"), check.clone()];
        let missing = vec!["Missing 3.0 0".to_string()];
        assert_eq!(from(None), [whole(1), whole(2), missing.clone(), whole(4)].concat());
        let start = (end - HEADER - 4) as u64;
        let later = from(Some(Place { segment: 2, offset: start }));
        assert_eq!(later, [vec![check.clone()], missing.clone(), whole(4)].concat());
        let behind = from(Some(Place { segment: 2, offset: end as u64 }));
        assert_eq!(behind, [missing.clone(), whole(4)].concat());
        // What is being prepared is no stranger, everything else is.
        write("000005.seg.part", b"");
        assert_eq!(from(Some(Place { segment: 4, offset: start }))[1..], std::slice::from_ref(&check)[..]);
        for stranger in ["5.seg", "000000.seg", "0000005.seg", "notes.txt", "000005.seg.old"] {
            write(stranger, b"");
            let found = from(Some(Place { segment: 4, offset: start }));
            assert_eq!(found[0], "Stranger 0.0 0", "{stranger}");
            std::fs::remove_file(dir.path().join(stranger)).unwrap();
        }
        assert!(read > 3000);
    }

    #[test]
    fn one_byte_anywhere_is_something_written() {
        let mut bytes = vec![0; 10_000];
        assert!(all_zero(&bytes) && all_zero(&[]));
        for at in [0, 4095, 4096, 8191, 9_999] {
            bytes[at] = 1;
            assert!(!all_zero(&bytes), "{at}");
            bytes[at] = 0;
        }
        assert_eq!(["000001.seg", "1000000.seg"].map(number_of), [Some(1), Some(1_000_000)]);
        assert_eq!(["000000.seg", "1.seg", "0000001.seg", "x.seg", "000001"].map(number_of), [None; 5]);
    }
}

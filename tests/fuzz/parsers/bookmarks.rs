//! How far a ledger was read, and where its entries lie: unreadable, or of use without a panic. The line that is
//! signed, a zero byte, and a stretch behind eight bytes that say where in it its spine lies.

use crate::held::Held;
use inkfast::index::bookmark::Bookmark;
use inkfast::index::layer::{Layer, Part, StrandKey};
use inkfast::seal::note::{Signer, sign};
use inkfast::world::Disk;
use std::path::Path;
use std::sync::Arc;

/// Tries one input.
pub fn try_one(bytes: &[u8]) {
    let (dir, ledger) = (Path::new("/read"), Path::new("/ledger"));
    let cut = bytes.iter().position(|byte| *byte == 0).unwrap_or(bytes.len());
    let (line, stretch) = (&bytes[..cut], bytes.get(cut + 1..).unwrap_or_default());
    let signer = Signer::from_seed("ledger-00112233445566778899aabbccddeeff", &[7; 32]).unwrap();
    let Ok(line) = std::str::from_utf8(line) else { return };
    let mut files = vec![(dir.join("00-00"), stretch.to_vec())];
    if let Ok(note) = sign(&format!("inkfast-bookmark/v1\n{}\n", line.trim_end()), &[&signer]) {
        files.push((dir.join("bookmark.note"), note.into_bytes()));
    }
    let disk: Arc<dyn Disk> = Arc::new(Held(files.into_iter().collect()));
    if let Some(mark) = Bookmark::open(&disk, dir, ledger, signer.verifier()) {
        let _ = (mark.begin(), mark.outside_written(), mark.read_at(), mark.tree_at(mark.size() / 2));
        let _ = (mark.strand(&StrandKey::chart([3; 16])), mark.numbered(1));
        for number in 0..mark.stretches() {
            let _ = mark.stretch(number);
        }
    }
    let Some((place, held)) = stretch.split_first_chunk::<8>() else { return };
    let [a, b, c, d, e, f, g, h] = *place;
    let (from, len) = (u32::from_le_bytes([a, b, c, d]), u32::from_le_bytes([e, f, g, h]));
    let spine = held.get(from as usize..).and_then(|rest| rest.get(..len as usize)).unwrap_or(held);
    let part = Part { offset: u64::from(from) + 8, len, digest: *blake3::hash(spine).as_bytes() };
    if let Some(layer) = Layer::open(&*disk, &dir.join("00-00"), &part) {
        let _ = (layer.all(), layer.head(&[3; 16]), layer.rows(&StrandKey::outside("keys")));
    }
}

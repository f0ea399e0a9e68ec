//! What lies in the folder outside the store: nothing unsigned counts as a checkpoint, and a slip or note that does not
//! belong to the ledger counts for nothing. Three files, with a zero byte between them.

use crate::held::Held;
use inkfast::ledger::outside::{Outside, lost_from, read, read_checkpoints, slip};
use inkfast::seal::note::Signer;
use std::path::Path;

const ORIGIN: &str = "ledger-00112233445566778899aabbccddeeff";

/// Tries one input.
pub fn try_one(bytes: &[u8]) {
    let dir = Path::new("/outside");
    let names = ["slip", "lost", "0.checkpoint"].map(|end| dir.join(format!("{ORIGIN}.{end}")));
    let files = names.into_iter().zip(bytes.splitn(3, |byte| *byte == 0).map(<[u8]>::to_vec));
    let disk = Held(files.collect());
    let key = Signer::from_seed(ORIGIN, &[7; 32]).unwrap().verifier().clone();
    assert!(!matches!(read_checkpoints(&disk, dir, &key), Outside::Newest(..)), "nobody signed this");
    let slip = slip(&disk, dir, ORIGIN);
    match read(&disk, dir, &key) {
        Outside::Newest(checkpoint, _) => {
            assert_eq!(Some(checkpoint.size), slip.as_ref().map(|(size, _)| *size))
        }
        Outside::Missing | Outside::Unreadable => assert_eq!(slip, None),
    }
    let (size, code) = slip.unwrap_or((7, "A".repeat(52)));
    let _ = lost_from(&disk, dir, ORIGIN, size, &code);
    assert_eq!(lost_from(&disk, dir, "ledger-of-somebody-else", size, &code), None);
}

//! A sealed file of any bytes: it does not open, and what is said of it beforehand ends.

use inkfast::seal::age_file::{
    Identity, With, armored_opener, open, recipients, sealed_to_passphrase, wants_passphrase,
};
use std::io::Read;
use std::sync::LazyLock;

static SOMEBODY: LazyLock<[Identity; 1]> = LazyLock::new(|| [Identity::generate()]);

/// Tries one input.
pub fn try_one(bytes: &[u8]) {
    let with = With::Identities(&*SOMEBODY);
    assert!(open(&with, bytes).is_err(), "nobody sealed this to them");
    if let Ok(mut plain) = armored_opener(&with, bytes) {
        assert!(plain.read_to_end(&mut Vec::new()).is_err(), "nobody sealed this to them");
    }
    let said = sealed_to_passphrase(bytes, false);
    assert_eq!(said.is_ok_and(|passphrase| passphrase), wants_passphrase(bytes));
    let _ = (sealed_to_passphrase(bytes, true), recipients(bytes));
}

//! Keys as they are typed, printed or kept: what is read is written so that it reads the same.

use inkfast::seal::age_file::{Identity, Recipient};
use inkfast::seal::identity::StaffIdentity;
use inkfast::seal::note::{Verifier, Vkey};
use inkfast::seal::sheet::read_typed;

/// Tries one input.
pub fn try_one(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    if let Some(identity) = Identity::parse(text) {
        assert_eq!(read_typed(&identity.to_text()).map(|i| i.recipient()), Some(identity.recipient()));
    }
    let _ = (Identity::parse_file(text), read_typed(text), Recipient::parse(text));
    if let Ok(vkey) = Vkey::parse(text) {
        assert_eq!(Vkey::parse(&vkey.to_string()), Ok(vkey));
    }
    let _ = Verifier::parse(text);
    if let Some(staff) = StaffIdentity::from_text(text) {
        let written = staff.to_text();
        assert_eq!(StaffIdentity::from_text(&written).unwrap().to_text(), written);
    }
}

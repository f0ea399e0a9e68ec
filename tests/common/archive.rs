//! What is in an archive, and what a release to the patient says.

use std::io::Read;

pub type Members = Vec<(String, Vec<u8>)>;

/// What a release to the patient says besides where it goes.
pub const TO_THE_PATIENT: [&str; 10] = [
    "--recipient-name",
    "Bettony Craske",
    "--no-address-because",
    "handed over",
    "--basis",
    "patient",
    "--channel",
    "by hand",
    "--not-checked-because",
    "one person practice",
];

/// The members of an archive, in their order.
pub fn members(archive: &[u8]) -> Members {
    let mut tar = tar::Archive::new(archive);
    let entries = tar.entries().unwrap();
    entries
        .map(|entry| {
            let mut entry = entry.unwrap();
            let name = String::from_utf8(entry.path_bytes().into_owned()).unwrap();
            let mut bytes = Vec::new();
            entry.read_to_end(&mut bytes).unwrap();
            (name, bytes)
        })
        .collect()
}

/// The bytes of one member.
pub fn member(archive: &[u8], wanted: &str) -> Vec<u8> {
    let found = members(archive).into_iter().find(|(name, _)| name == wanted);
    found.unwrap_or_else(|| panic!("{wanted} is not there")).1
}

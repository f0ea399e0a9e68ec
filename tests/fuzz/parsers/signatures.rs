//! Strokes of a signature: what is read is written so that it reads the same, and its picture is the same each time.

use inkfast::record::moment::Moment;
use inkfast::record::signature::SignatureFile;

/// Tries one input.
pub fn try_one(bytes: &[u8]) {
    let Ok(file) = SignatureFile::read(bytes) else { return };
    let written = file.to_bytes().unwrap();
    assert_eq!(SignatureFile::read(&written).unwrap().to_bytes().unwrap(), written);
    let at = Moment::parse("2025-03-11T09:40:00-04:00").unwrap();
    let picture = file.picture("00", at);
    assert_eq!(picture, file.picture("00", at));
    // Words in it are words, and no markup of theirs.
    assert_eq!(picture.matches("<script").count(), 0, "{picture}");
    assert!(picture.starts_with("<svg") && picture.trim_end().ends_with("</svg>"), "{picture}");
}

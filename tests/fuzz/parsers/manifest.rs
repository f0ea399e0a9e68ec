//! A package with any list, and nothing else in it.

use inkfast::verify::package::check_archive_with;
use inkfast::verify::trust::Trust;

/// Tries one input.
pub fn try_one(bytes: &[u8]) {
    let mut archive = tar::Builder::new(Vec::new());
    for (name, content) in [("manifest.json", bytes), ("manifest.json.note", b"")] {
        let mut header = tar::Header::new_ustar();
        header.set_size(content.len() as u64);
        header.set_mode(0o644);
        archive.append_data(&mut header, name, content).unwrap();
    }
    let archive = archive.into_inner().unwrap();
    if let Ok(checked) = check_archive_with(&mut &*archive, &Trust::default(), &mut |_| ()) {
        assert!(!checked.report.sound);
    }
}

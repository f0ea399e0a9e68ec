//! A package of any bytes: the check ends, and is never satisfied.

use inkfast::verify::package::check_archive_with;
use inkfast::verify::trust::Trust;

/// Tries one input.
pub fn try_one(bytes: &[u8]) {
    if let Ok(checked) = check_archive_with(&mut &*bytes, &Trust::default(), &mut |_| ()) {
        assert!(!checked.report.sound);
    }
}

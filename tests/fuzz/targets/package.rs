//! A package of any bytes: the check ends, and is never satisfied.
#![no_main]

use inkfast::verify::package::check_archive_with;
use inkfast::verify::trust::Trust;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    if let Ok(checked) = check_archive_with(&mut &*bytes, &Trust::default(), &mut |_| ()) {
        assert!(!checked.report.sound);
    }
});

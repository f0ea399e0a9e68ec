//! Promise: what was sealed is found as it was, and anything else is found and named.

mod common;

use common::{Small, check, ids};

#[test]
fn a_new_store_is_sound_and_an_older_copy_is_found_with_the_outside_copy() {
    let small = Small::new(64 << 10, 2);
    let report = check(&small.root());
    assert!(report.sound, "{:?}", ids(&report));
    assert_eq!(report.charts, 2);
    assert_eq!(report.witnesses.len(), 1);
}

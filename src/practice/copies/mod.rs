//! Safe copies: made and checked, rehearsed, restored, and kept count of.
//!
//! Everything in a store is sealed already, so a copy is the store file for file: its ledger up to the durable
//! end, its keys, its sealed files. It needs no key to be made or checked. What stands in a copy is never
//! written over with something else: a copy whose older bytes are not the store's is damage, or of another
//! ledger, and then nobody knows yet which of the two is the good one.

mod bucket;
mod extent;
mod files;
mod folder;
mod known;
mod manifest;
mod mark;
mod rehearse;
mod restore;
mod stolen;

pub use bucket::{BucketOrder, bring_bucket, copy_to_bucket, label_in_bucket};
pub use extent::{Extent, extent};
pub use files::real;
pub use folder::{Copied, CopyOrder, Resealed, Travelled, copy_to_folder};
pub use known::{Known, due, find, known, record_check, record_gone, record_made};
pub use mark::{FILE, SafeCopyFile, is_copy, new_label, read};
pub use rehearse::{Opened, Rehearsal, check_copy, rehearse};
pub use restore::{Bring, Restored, UNFINISHED, bring_folder, restore, settle_slip};
pub use stolen::{Stolen, what_was_on_it};

//! Sealing and signing: age files, identities, what a body holds, signed notes, and whose
//! signature counts when.

pub mod age_file;
pub mod body;
pub mod file_keys;
pub mod identity;
pub mod keybook;
pub mod note;
pub mod sheet;

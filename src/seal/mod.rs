//! Sealing and signing: age files, identities, what a body holds, signed notes, and whose
//! signature counts when.

pub mod age_file;
pub mod body;
pub mod file_keys;
#[cfg(feature = "practice")]
pub mod identity;
pub mod keybook;
pub mod note;
#[cfg(feature = "practice")]
pub mod sheet;
#[cfg(feature = "practice")]
pub mod together;

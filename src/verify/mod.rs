//! Checking: stores and packages, by anybody, without any key that opens a body. Reads the
//! formats of the ledger and never its writer.

pub mod certificate;
pub mod check_words;
#[cfg(feature = "practice")]
mod destroyed;
#[cfg(feature = "practice")]
pub mod earlier;
pub mod extent;
pub mod finding;
pub mod manifest;
pub mod members;
pub mod opening;
pub mod package;
pub mod package_report;
pub mod page_words;
pub mod pin;
#[cfg(feature = "practice")]
pub mod public;
mod remedies;
#[cfg(feature = "practice")]
mod signatures;
pub mod slip;
mod statements;
#[cfg(feature = "practice")]
pub mod store;
pub mod trust;
pub mod unpack;
#[cfg(feature = "practice")]
pub mod witnessed;
pub mod words;

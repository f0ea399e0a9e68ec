//! Checking: stores and packages, by anybody, without any key that opens a body. Reads the
//! formats of the ledger and never its writer.

pub mod extent;
pub mod finding;
pub mod manifest;
pub mod package;
mod remedies;
mod signatures;
pub mod slip;
pub mod store;

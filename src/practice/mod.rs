//! The use cases: open a store, record, ask, release. Callers are the command line and, later, a page.

pub mod attach;
pub mod chart;
pub mod open;
pub mod place;
pub mod session;
pub mod setup;
pub mod staff;

//! The use cases: open a store, record, ask, release. Callers are the command line and, later, a page.

pub mod adding;
pub mod amendment;
pub mod attach;
pub mod carry;
pub mod chart;
pub mod day;
pub mod document;
pub mod drafts;
pub mod facts;
pub mod held;
pub mod labels;
pub mod lists;
pub(crate) mod memory;
pub mod note;
pub mod open;
pub mod place;
pub mod printed;
pub mod reading;
pub mod release;
pub mod review;
pub mod rules;
pub mod session;
pub mod setup;
pub mod staff;
pub mod visit;

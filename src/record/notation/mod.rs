//! How the trade writes: levels of the spine, structures and their sides, regions for counting, and the
//! line form in which a visit is typed at speed. Pure and total: no text makes these functions fail
//! otherwise than by saying what is wrong with it.
//!
//! The line form is described in `schema/LINES.md`.

pub mod counting;
pub mod level;
pub mod line;
pub mod segment;
pub mod structure;

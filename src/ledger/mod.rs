//! The ledger: what was recorded, in order, and the proofs that nothing was changed or left out.

pub mod tiles;
pub mod tree;

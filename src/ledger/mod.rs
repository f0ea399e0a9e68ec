//! The ledger: what was recorded, in order, and the proofs that nothing was changed or left out.

pub mod checkpoint;
pub mod policy;
pub mod proof;
pub mod tiles;
pub mod tree;

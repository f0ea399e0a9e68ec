//! The ledger: what was recorded, in order, and the proofs that nothing was changed or left out.

pub mod checkpoint;
pub mod frame;
pub mod leaf;
pub mod lock;
pub mod outside;
pub mod policy;
pub mod proof;
pub mod scan;
pub mod segment;
pub mod tiles;
pub mod tree;
pub mod write;
